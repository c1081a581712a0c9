"""Write again what is made from the code and the samples: ``make docs``, from the top of the project."""

from __future__ import annotations

import shutil
import subprocess
import tempfile
from dataclasses import replace
from pathlib import Path

from staking.book.describe import tables_markdown
from staking.book.folder import read_book
from staking.formats.pack_files import pack_files
from staking.formats.typst_pdf import pdf_bytes
from staking.plan import planned
from staking.sheets.pack import pack

DOCS = Path(__file__).parent
SAMPLES = DOCS.parent / "sample_surveys"
DOTS_PER_INCH = 100


def pictures() -> None:
    """Turn the map of every sample into a PNG, for README and the gallery."""
    if shutil.which("pdftoppm") is None:
        print("pdftoppm is not here (Debian: poppler-utils): the pictures stay as they are")
        return
    for folder in sorted(path.parent for path in SAMPLES.glob("*/job.toml")):
        made = pack(planned(read_book(folder)))
        sheet = next(i for i, s in enumerate(made.sheets) if s.drawing is not None)
        with tempfile.TemporaryDirectory() as scratch:
            pdf = Path(scratch) / "pack.pdf"
            pdf.write_bytes(pack_files(made)["pack.pdf"])
            page = _page_with("Scale 1:", pdf) or sheet + 1
            place = DOCS / "pictures" / f"{folder.name}_map"
            place.parent.mkdir(exist_ok=True)
            command = ["pdftoppm", "-r", str(DOTS_PER_INCH), "-gray", "-png", "-singlefile"]
            subprocess.run([*command, "-f", str(page), str(pdf), str(place)], check=True)
            print(f"{place}.png")


DRAWN = ("stakeout_map", "pier_cards", "sections", "permit_plan", "permit_detail")
"""Sheets of which small pictures are kept, the first of each name."""
KEPT_OF = ("cross_fall", "real_hillside")
KEPT = DOCS.parent / "tests" / "sheets" / "images"
KEPT_DOTS_PER_INCH = 36


def page_pictures(sample: str, place: Path) -> list[Path]:
    """Write small grey pictures of a sample's drawn sheets into a folder; needs pdftoppm."""
    made = pack(planned(read_book(SAMPLES / sample)))
    first = {sheet.name: sheet for sheet in reversed(made.sheets) if sheet.name in DRAWN}
    written = []
    for name in DRAWN:
        pdf = place / f"{sample}_{name}.pdf"
        pdf.write_bytes(pdf_bytes(replace(made, sheets=(first[name],))))
        command = ["pdftoppm", "-r", str(KEPT_DOTS_PER_INCH), "-gray", "-png", "-singlefile"]
        subprocess.run([*command, str(pdf), str(pdf.with_suffix(""))], check=True)
        pdf.unlink()
        written.append(pdf.with_suffix(".png"))
    return written


def kept_pictures() -> None:
    """Write again the pictures that `tests/sheets/test_page_images.py` compares pages with."""
    if shutil.which("pdftoppm") is None:
        return
    KEPT.mkdir(exist_ok=True)
    for sample in KEPT_OF:
        for path in page_pictures(sample, KEPT):
            print(path)


def _page_with(words: str, pdf: Path) -> int | None:
    """Return the number of the first page that holds some words."""
    text = subprocess.run(["pdftotext", str(pdf), "-"], check=True, capture_output=True, text=True).stdout
    pages = text.split("\f")
    return next((i + 1 for i, page in enumerate(pages) if words in page), None)


def main() -> None:
    """Write everything."""
    (DOCS / "tables.md").write_text(tables_markdown(), encoding="utf-8")
    print(DOCS / "tables.md")
    pictures()
    kept_pictures()


if __name__ == "__main__":
    main()
