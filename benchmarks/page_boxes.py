"""Text boxes of whole packs: none may overlap, none be under 9 pt or over the edge; invented yards by seed.

Run by hand, ``python -m benchmarks.page_boxes [YARDS [FROM]]``: 50 yards of 4 to 200 piers take a while, each
prints its line when it is done, and FROM goes on at a later yard. The boxes are measured in the PDF, turned
texts too; `tests/sheets/test_page_boxes.py` does the same on a few yards.
"""

from __future__ import annotations

import io
import math
import random
import sys
import tempfile
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

SMALLEST_PT = 9.0
SET_TO_PT = 0.02
"""Sizes come back rounded."""
_INK = (-0.15, 0.7)
"""From how far below the baseline to how far above it letters have ink, of their size; g, p, y reach lower by
little, and no two lines of one text stand so close that it matters."""
_MARGIN_PT = 12.0 * 72.0 / 25.4
"""Nothing is printed nearer to the edge of the paper: the margin is 13 mm."""
_GAP = 0.4
"""Of the size: letters farther apart than this along a line belong to different texts."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """One line of text as printed."""

    page: int
    text: str
    size_pt: float
    corners: tuple[tuple[float, float], ...]
    """Of its inked box, points from the lower left of the page, however it is turned."""


def runs(page: Any, number: int) -> list[Run]:
    """Return the texts of a pdfplumber page, each letter with the next on its line."""
    found: list[Run] = []
    last: list[Any] = []  # text, direction, start, end, size
    for char in page.chars:
        a, b, _, _, e, f = char["matrix"]
        scale = math.hypot(a, b)
        cos, sin = a / scale, b / scale
        long = char["adv"] * scale
        size = _size_pt(char, abs(cos), abs(sin), long)
        if last and _goes_on(last, (cos, sin), (e, f), size):
            last[0] += char["text"]
            last[3] = (e + long * cos, f + long * sin)
            continue
        if last and last[0].strip():
            found.append(_run(number, last))
        last = [char["text"], (cos, sin), (e, f), (e + long * cos, f + long * sin), size]
    if last and last[0].strip():
        found.append(_run(number, last))
    return found


def _size_pt(char: Any, cos: float, sin: float, long: float) -> float:
    """Return the size of a letter from its level box, which a turned letter fills only corner to corner."""
    if cos >= sin:
        return float((char["y1"] - char["y0"] - long * sin) / cos)
    return float((char["x1"] - char["x0"] - long * cos) / sin)


def _goes_on(last: Sequence[Any], way: tuple[float, float], at: tuple[float, float], size: float) -> bool:
    if abs(last[1][0] - way[0]) > 1e-4 or abs(last[1][1] - way[1]) > 1e-4 or abs(last[4] - size) > 0.3:
        return False
    dx, dy = at[0] - last[3][0], at[1] - last[3][1]
    along, across = dx * way[0] + dy * way[1], dy * way[0] - dx * way[1]
    return abs(across) < 0.05 and abs(along) < _GAP * size


def _run(page: int, last: Sequence[Any]) -> Run:
    text, (cos, sin), start, end, size = last
    low, high = _INK[0] * size, _INK[1] * size
    corners = tuple(
        (at[0] - up * sin, at[1] + up * cos)
        for at, up in ((start, low), (end, low), (end, high), (start, high))
    )
    return Run(page=page, text=text, size_pt=size, corners=corners)


def troubles(pdf: bytes) -> tuple[int, list[str]]:
    """Return how many texts a PDF has, and what is wrong with their boxes, a line each."""
    import pdfplumber
    from shapely import Polygon, STRtree

    count, found = 0, []
    with pdfplumber.open(io.BytesIO(pdf)) as document:
        for number, page in enumerate(document.pages, start=1):
            texts = runs(page, number)
            count += len(texts)
            found += [f"page {number}: {run.text!r} in {run.size_pt:.2f} pt" for run in texts if _small(run)]
            found += [
                f"page {number}: {run.text!r} in the margin"
                for run in texts
                if _beyond(run, float(page.width), float(page.height))
            ]
            shapes = [Polygon(run.corners) for run in texts]
            for i, j in STRtree(shapes).query(shapes, predicate="intersects").T:
                if i < j and shapes[i].intersection(shapes[j]).area > 0.05:
                    found.append(f"page {number}: {texts[i].text!r} over {texts[j].text!r}")
            page.close()
    return count, found


def _small(run: Run) -> bool:
    return run.size_pt < SMALLEST_PT - SET_TO_PT


def _beyond(run: Run, width: float, height: float) -> bool:
    x, y = zip(*run.corners, strict=True)
    low = min(*x, *y)
    return low < _MARGIN_PT or max(x) > width - _MARGIN_PT or max(y) > height - _MARGIN_PT


UNITS = (("ft", "feet-inches"), ("ft", "decimal feet"), ("m", "metric"))


def invented(folder: Path, seed: int, *, most_piers: int = 200) -> int:
    """Write an invented yard with some number of piers into a folder; return how many piers it has."""
    draw = random.Random(seed)
    beams = draw.choice((2, 2, 2, 3, 4))
    wanted = round(math.exp(draw.uniform(math.log(4), math.log(most_piers))))
    per_beam = max(2, round(wanted / beams))
    unit, show = UNITS[seed % 3]
    metre = 1.0 if unit == "m" else 1.0 / 0.3048
    bay, up = draw.uniform(2.0, 3.0), draw.uniform(1.0, 1.6)
    module_along = draw.uniform(1.6, 1.9)
    along = max(1, round(((per_beam - 1) * bay + 1.0) / module_along))
    first, between = 0.4, draw.uniform(1.6, 2.4)
    modules_up = max(1, round((2 * first + (beams - 1) * between) / up))
    slope_e, slope_n = draw.uniform(-0.06, 0.06), draw.uniform(-0.02, 0.15)
    wide, deep = along * module_along, modules_up * up
    name = draw.choice(
        ("Yard {n} (invented)", "A long name for the north-east terrace above the pond, yard {n}")
    )

    def num(value_m: float) -> str:
        return f"{value_m * metre:.4f}"

    def ground(e: float, n: float) -> float:
        return 30.0 + slope_e * e + slope_n * n + 0.08 * math.sin(e / 4.0) * math.cos(n / 5.0)

    job = f"""# Invented for this project.
[site]
name = "{name.format(n=seed)}"
units = "{unit}"
show = "{show}"
latitude = 41.3
longitude = -75.8
date = 2026-10-03
[control]
benchmark = {{ point = "BM1", elevation = {num(30.0)} }}
[array]
azimuth = {draw.choice((180, 172, 195, 150)):d}
tilt = {draw.choice((15, 20, 28)):d}
modules_along = {along}
modules_up = {modules_up}
module = {{ along = {num(module_along)}, up = {num(up)}, thick = {num(0.03)} }}
[frame]
piers_per_beam = {per_beam}
bay = {num((wide - 0.9) / (per_beam - 1) if per_beam > 2 else min(bay, wide - 0.5))}
beams_at = [{", ".join(num(first + k * (deep - 2 * first) / (beams - 1)) for k in range(beams))}]
stack = {num(0.13)}
takeout = {num(0.055)}
post_pipe = "NPS 2 sch 40"
beam_pipe = "NPS 2 sch 40"
rail_clear = 0
[place]
east = 0
north = 0
[fit]
beams = "level"
above_grade_min = {num(0.5)}
above_grade_max = {num(40.0)}
clearance = {num(0.5)}
[footing]
hole_diameter = {num(0.3048)}
embedment = {num(1.2)}
bottom_cover = {num(0.0762)}
side_cover = {num(0.0762)}
[pipe]
stock = [ {{ length = {num(60.0)} }} ]
joint_clear = {num(0.0)}
"""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "job.toml").write_text(job, encoding="utf-8")
    reach = 1.2 * math.hypot(wide, deep) + 4.0
    rows = ["point,east,north,elevation"]
    kinds = ["point,kind"]
    for k, (e, n) in enumerate(((-0.6, -0.6), (0.7, -0.6), (0.7, 0.7), (-0.6, 0.7)), start=1):
        at = (e * reach, n * reach)
        rows.append(f"P{k},{num(at[0])},{num(at[1])},{num(ground(*at))}")
        kinds.append(f"P{k},pin")
    rows.append(f"BM1,{num(-0.5 * reach)},{num(0.1 * reach)},{num(30.0)}")
    step = reach / 2.6
    for i in range(-3, 4):
        for j in range(-3, 4):
            at = (i * step + draw.uniform(-0.2, 0.2) * step, j * step + draw.uniform(-0.2, 0.2) * step)
            shot = f"G{(i + 3) * 7 + j + 4}"
            rows.append(f"{shot},{num(at[0])},{num(at[1])},{num(ground(*at))}")
            kinds.append(f"{shot},ground")
    (folder / "control.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    (folder / "points.csv").write_text("\n".join(kinds) + "\n", encoding="utf-8")
    return beams * per_beam


def packed(folder: Path) -> bytes:
    """Return the PDF of a folder's pack."""
    from staking.book.folder import read_book
    from staking.formats.typst_pdf import pdf_bytes
    from staking.plan import planned
    from staking.sheets.pack import pack

    return pdf_bytes(pack(planned(read_book(folder))))


def measured(seeds: Iterable[int], *, most_piers: int = 200) -> Iterator[tuple[int, int, int, list[str]]]:
    """Yield seed, piers, texts and troubles of each invented yard."""
    with tempfile.TemporaryDirectory() as scratch:
        for seed in seeds:
            folder = Path(scratch) / str(seed)
            piers = invented(folder, seed, most_piers=most_piers)
            count, found = troubles(packed(folder))
            yield seed, piers, count, found


def main() -> None:
    """Print what is wrong with each yard's pages, and the sum."""
    yards = int(sys.argv[1]) if len(sys.argv) > 1 else 50
    first = int(sys.argv[2]) if len(sys.argv) > 2 else 0
    texts = wrong = 0
    for seed, piers, count, found in measured(range(first, yards)):
        texts += count
        wrong += len(found)
        print(f"yard {seed:>3}, {piers:>4} piers: {count:>6} texts, {len(found)} troubles", flush=True)
        for line in found:
            print(f"    {line}", flush=True)
    print(f"yards {first} to {yards - 1}: {texts} texts measured, {wrong} troubles")


if __name__ == "__main__":
    main()
