"""Where texts of a drawing stand on paper, none of them turned, and whether any two meet."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from staking.sheets.drawing import Text
from staking.sheets.letters import MM_PER_PT, text_width_mm

Box = tuple[float, float, float, float, str]
"""Left, bottom, right and top in millimetres, and what is written there."""
LEFT_OF = {"start": 0.0, "middle": 0.5, "end": 1.0}
"""Share of a text that lies left of its place, by its anchor."""
CAPITALS = 0.7
"""Height of capital letters, as a share of the size of type; common practice, no source."""
SMALLEST_PT = 9.0


def boxes_of(texts: Iterable[Text]) -> list[Box]:
    """Return the boxes of these texts, none of which is too small to read in the yard."""
    boxes = []
    for item in texts:
        assert item.size_pt >= SMALLEST_PT
        wide = text_width_mm(item.text, size_pt=item.size_pt, strong=item.strong)
        x, y = item.xy_mm[0] - wide * LEFT_OF[item.anchor], item.xy_mm[1]
        boxes.append((x, y, x + wide, y + CAPITALS * item.size_pt * MM_PER_PT, item.text))
    return boxes


def assert_apart(boxes: Sequence[Box]) -> None:
    """Check that no two boxes meet."""
    for k, (x0, y0, x1, y1, text) in enumerate(boxes):
        for a0, b0, a1, b1, other in boxes[k + 1 :]:
            assert x1 <= a0 or a1 <= x0 or y1 <= b0 or b1 <= y0, (text, other)
