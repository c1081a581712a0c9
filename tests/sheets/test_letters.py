"""The widths that labels are placed by are those of the typeface that is shipped."""

import pytest
from fontTools.ttLib import TTFont

from staking.formats.typst_pdf import FONTS
from staking.sheets.letters import _CHARS, CAP_HEIGHT, MM_PER_PT, shortened, text_width_mm


@pytest.mark.parametrize(("file", "strong"), [("Regular", False), ("Bold", True)])
def test_widths_are_those_of_the_font_file(file, strong):
    font = TTFont(FONTS / f"IBMPlexSansCondensed-{file}.ttf")
    glyphs, advances, units = font.getBestCmap(), font["hmtx"], font["head"].unitsPerEm
    for char in _CHARS:
        told = text_width_mm(char, size_pt=units / MM_PER_PT, strong=strong)
        assert told == pytest.approx(advances[glyphs[ord(char)]][0])
    assert font["OS/2"].sCapHeight / units == pytest.approx(CAP_HEIGHT, abs=0.001)


@pytest.mark.parametrize("strong", [False, True])
def test_figures_are_all_of_one_width(strong):
    assert len({text_width_mm(digit, size_pt=10.0, strong=strong) for digit in "0123456789"}) == 1


def test_a_text_as_wide_as_its_room_is_whole_whatever_the_rounding():
    """2026-11-28: "tree, corner or oth..." in the key of a map on A4, flush with the room for it."""
    text = "tree, corner or other"
    width_mm = text_width_mm(text, size_pt=9.0)
    assert shortened(text, width_mm=width_mm - 1e-13, size_pt=9.0, strong=False) == text
    assert shortened(text, width_mm=width_mm - 0.1, size_pt=9.0, strong=False).endswith("...")


def test_the_licence_is_beside_the_fonts():
    assert "SIL Open Font License, Version 1.1" in (FONTS / "OFL.txt").read_text(encoding="utf-8")
