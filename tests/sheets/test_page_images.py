"""Drawn pages against pictures of them that were looked at and kept; ``make docs`` writes them again."""

from __future__ import annotations

import shutil

import numpy as np
import pytest
from PIL import Image

from docs.make import DRAWN, KEPT, KEPT_OF, page_pictures

BLOCK = 9
"""Dots along a block's side, a quarter of an inch at 36 dots per inch."""
DIFFERS = 24.0
"""Greys of 255 by which a block's mean may differ: another library's edges of letters stay far below."""
MOST = 0.03
"""Share of blocks that may differ: a name or two that found another place."""


def blocks(picture):
    """Return the mean grey of each block of a picture."""
    tall, wide = (side // BLOCK * BLOCK for side in picture.shape)
    cut = picture[:tall, :wide].reshape(tall // BLOCK, BLOCK, wide // BLOCK, BLOCK)
    return cut.mean(axis=(1, 3))


def share_that_differs(one, other):
    """Return the share of blocks that differ, counting those with ink in either picture only."""
    a, b = blocks(one), blocks(other)
    inked = (a < 254.0) | (b < 254.0)
    return float((np.abs(a - b) > DIFFERS)[inked].mean())


def grey(path):
    with Image.open(path) as picture:
        return np.asarray(picture.convert("L"), dtype=float)


@pytest.mark.skipif(
    shutil.which("pdftoppm") is None,
    reason="pdftoppm is not here (Debian: poppler-utils): no pictures to compare",
)
@pytest.mark.parametrize("sample", KEPT_OF)
def test_drawn_pages_look_as_they_were_kept(sample, tmp_path):
    made = page_pictures(sample, tmp_path)
    assert [path.name for path in made] == [f"{sample}_{name}.png" for name in DRAWN]
    for path in made:
        now, kept = grey(path), grey(KEPT / path.name)
        assert now.shape == kept.shape, path.name
        differs = share_that_differs(now, kept)
        assert differs <= MOST, f"{path.name}: {differs:.1%} differ; look at it, then make docs"


@pytest.mark.parametrize("sample", KEPT_OF)
def test_the_comparison_sees_what_is_missing_or_moved(sample):
    for name in DRAWN:
        kept = grey(KEPT / f"{sample}_{name}.png")
        blank = kept.copy()
        tall = kept.shape[0]
        blank[tall // 3 : tall // 2] = 255.0
        assert share_that_differs(kept, blank) > MOST
        assert share_that_differs(kept, np.roll(kept, 12, axis=1)) > MOST
        assert share_that_differs(kept, kept) == 0.0
