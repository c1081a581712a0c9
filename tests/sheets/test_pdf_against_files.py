"""Every number that is set out, sawn or marked by, read back from the PDF, is that of the files beside it."""

from __future__ import annotations

import csv
import io
import math
import re
from dataclasses import dataclass, replace
from functools import cache
from itertools import pairwise
from pathlib import Path

import pdfplumber
import pytest

from benchmarks.page_boxes import runs
from staking.base.units import parse_length
from staking.book.folder import read_book
from staking.formats.csv_file import csv_text
from staking.formats.typst_pdf import pdf_bytes
from staking.plan import planned
from staking.results import results
from staking.sheets.pack import pack

YARD = Path(__file__).parents[2] / "sample_surveys" / "cross_fall"
SHEETS = (
    "stakes",
    "squareness",
    "piers",
    "pier_cards",
    "laser",
    "beams",
    "as_built",
    "cuts",
    "permit",
    "form_holes",
)
STYLES = ("feet-inches", "decimal feet", "metric")
STEP_M = {"feet-inches": 0.0254 / 16, "decimal feet": 0.003048, "metric": 0.001}
FILED_M = 2e-5
"""Half of the last place of the files, 0.0001 ft, and a little."""
ONE_LINE_PT = 4.0
"""Texts whose middles lie nearer are one row: rows are 14 pt high and more."""


@dataclass(frozen=True)
class Printed:
    """A pack in one notation: the lines of its pages by sheet, and its files."""

    style: str
    lines: dict[str, list[list[str]]]
    files: dict[str, list[dict[str, str]]]
    results: dict[str, object]

    def metres(self, text: str, *, place: bool = False) -> float:
        """Return a printed length; elevations of a metric pack are in metres."""
        bare = {"feet-inches": "ft", "decimal feet": "ft", "metric": "m" if place else "mm"}[self.style]
        return parse_length(re.sub(r"^(UP|DOWN|ROD|±) ?| (left|right)$", "", text), unit=bare)

    def same(self, text: str, filed_ft: str | float, *, place: bool = False) -> bool:
        """Whether what is printed is what is filed, rounded to the last place printed."""
        apart = self.metres(text, place=place) - float(filed_ft) * 0.3048
        return abs(apart) <= STEP_M[self.style] / 2 + FILED_M

    def rows(self, sheet: str, cells: int) -> list[list[str]]:
        """Return the lines of a sheet of so many texts."""
        return [line for line in self.lines[sheet] if len(line) == cells]


@cache
def the_plan():
    return planned(read_book(YARD))


@cache
def printed(style: str) -> Printed:
    plan = the_plan()
    book = plan.book
    site = replace(book.job.site, show=style)
    plan = replace(plan, book=replace(book, job=replace(book.job, site=site)))
    made = pack(plan)
    chosen = [sheet for sheet in made.sheets if sheet.name in SHEETS]
    lines: dict[str, list[list[str]]] = {name: [] for name in SHEETS}
    at = -1
    with pdfplumber.open(io.BytesIO(pdf_bytes(replace(made, sheets=tuple(chosen))))) as document:
        for number, page in enumerate(document.pages):
            found = lines_of(runs(page, number))
            at += not any(", continued" in text for text in found[0])
            if chosen[at].name == "pier_cards":
                # Two cards beside each other: each is read down by itself.
                texts, middle_pt = runs(page, number), float(page.width) / 2
                halves = [
                    [r for r in texts if (r.corners[0][0] < middle_pt) is left] for left in (True, False)
                ]
                found = [line for half in halves for line in lines_of(half)]
            lines[chosen[at].name] += found
    files = {file.name: list(csv.DictReader(io.StringIO(csv_text(file.table)))) for file in made.data}
    return Printed(style=style, lines=lines, files=files, results=results(plan))


def lines_of(found) -> list[list[str]]:
    """Return the texts of a page from its head down, those of one height from left to right."""
    lines: list[tuple[float, list]] = []
    for run in sorted(found, key=lambda run: -middle(run)):
        if lines and lines[-1][0] - middle(run) < ONE_LINE_PT:
            lines[-1][1].append(run)
        else:
            lines.append((middle(run), [run]))
    return [[run.text for run in sorted(row, key=lambda run: run.corners[0][0])] for _, row in lines]


def middle(run) -> float:
    return (run.corners[0][1] + run.corners[2][1]) / 2


@pytest.mark.parametrize("style", STYLES)
def test_stations_offsets_and_ties(style):
    it, piers = printed(style), [row["pier"] for row in printed(style).files["piers.csv"]]
    by_offset = {line[0]: line for line in it.rows("stakes", 7) if line[0] in piers}
    by_ties = {line[0]: line for line in it.rows("stakes", 9) if line[0] in piers and line[1] != "left"}
    assert list(by_offset) == list(by_ties) == piers
    for row in it.files["ties.csv"]:
        _, station, offset, along, *check = by_offset[row["pier"]]
        assert it.same(station, row["station_ft"])
        assert it.same(offset, abs(float(row["offset_ft"])))
        assert offset.endswith("right" if float(row["offset_ft"]) > 0 else "left")
        assert it.same(along, row["along_beam_ft"])
        _, *first, from_2, level_2, slope_2, crossing, _ = by_ties[row["pier"]]
        assert abs(float(crossing.rstrip("°")) - float(row["crossing_deg"])) <= 0.51
        for name, (point, level, slope) in (
            ("check", check),
            ("tie_1", first),
            ("tie_2", (from_2, level_2, slope_2)),
        ):
            assert point == row[f"{name}_from"]
            assert it.same(level, row[f"{name}_level_ft"])
            assert it.same(slope, row[f"{name}_slope_ft"])


@pytest.mark.parametrize("style", STYLES)
def test_hubs(style):
    it = printed(style)
    filed = {(row["pier"], row["hub"]): row for row in it.files["hubs.csv"]}
    lines = [line for line in it.rows("stakes", 9) if line[1] == "left"]
    assert len(filed) == 2 * len(lines) == 20
    for pier, *cells in lines:
        for hub, ground, sd, up in (cells[:4], cells[4:]):
            row = filed.pop((pier, hub))
            assert it.same(ground, row["ground_ft"], place=True)
            assert it.same(up, abs(float(row["up_to_top_ft"])))
            assert up.startswith("UP" if float(row["up_to_top_ft"]) > 0 else "DOWN")
            # A standard deviation is rounded up.
            over_m = it.metres(sd) - float(row["sd_ground_ft"]) * 0.3048
            assert -FILED_M <= over_m <= STEP_M[style] + FILED_M
    assert not filed


@pytest.mark.parametrize("style", STYLES)
def test_sticks_pieces_and_saw_marks(style):
    it = printed(style)
    filed = it.files["cuts.csv"]
    pieces = {row["piece"] for row in filed}
    # A piece's row has its name third where a stick begins, else second; five texts at the least.
    lines = [line for line in it.lines["cuts"] if len(line) > 4 and pieces & set(line[1:3])]
    assert len(lines) == len(filed)
    before = ""
    for line, row, after in zip(lines, filed, [*filed[1:], {"stick": ""}], strict=True):
        assert line[0] == row["stick"]
        k = line.index(row["piece"])
        assert k == (1 if row["stick"] == before else 2)
        if k == 2:
            assert it.same(line[1], row["stock_ft"])
        numbers = line[k + 2 :]
        assert len(numbers) == (3 if after["stick"] != row["stick"] else 2)
        for text, name in zip(numbers, ("length_ft", "cut_at_ft", "drop_ft"), strict=False):
            assert it.same(text, row[name]), (row["piece"], name)
        before = row["stick"]
    # As they are carried: the label and the length again.
    carried = [line for line in it.lines["cuts"] if line[0] in pieces]
    assert sorted(line[0] for line in carried) == sorted(pieces)
    by_piece = {row["piece"]: row for row in filed}
    for piece, label, length, *_ in carried:
        assert label == by_piece[piece]["label"]
        assert it.same(length, by_piece[piece]["length_ft"])


@pytest.mark.parametrize("style", STYLES)
def test_laser_marks(style):
    it = printed(style)
    tops = {row["pier"]: float(row["top_ft"]) for row in it.files["piers.csv"]}
    headings = [text for line in it.lines["laser"] for text in line if "HI\u00a0" in text]
    heads = [parse_length(text.partition("HI\u00a0")[2], unit="ft") / 0.3048 for text in headings]
    spared_ft = 1 / 12  # cut_allowance of job.toml: what stands above the mark until it is sawn
    lines = it.rows("laser", 8)
    assert len(heads) == 6
    assert {line[0] for line in lines} == set(tops)
    for pier, top, *marks in lines:
        assert it.same(top, tops[pier], place=True)
        for hi, mark in zip(heads, marks, strict=True):
            above = hi - tops[pier]
            assert mark.startswith("UP" if above < 0 else "DOWN" if above <= spared_ft else "ROD"), (pier, hi)
            assert it.same(mark, abs(above))


@pytest.mark.parametrize("style", STYLES)
def test_rails_from_the_beams_end_and_from_both_end_posts(style):
    it = printed(style)
    beams = it.results["beams"]
    lines = [line for line in it.rows("beams", 7) if line[0].isdigit()]
    assert len(lines) == len(beams[0]["rails"])
    bays = the_plan().arrays[0].fit.bay_m * 4  # five posts a beam
    for n, (name, *cells) in enumerate(lines):
        assert name == str(n + 1)
        for beam, (at, first, last) in zip(beams, (cells[:3], cells[3:]), strict=True):
            rail = beam["rails"][n]
            for text, off in ((first, rail - beam["first_post"]), (last, rail - beam["first_post"] - bays)):
                assert it.same(text, abs(off) / 0.3048)
                assert text.endswith("right" if off > 0 else "left")
            assert it.same(at, rail / 0.3048)


@pytest.mark.parametrize("style", STYLES)
def test_piers(style):
    it = printed(style)
    filed = it.files["piers.csv"]
    lines = [
        line for line in it.lines["piers"] if line[0] in {row["pier"] for row in filed} and len(line) > 6
    ]
    assert [line[0] for line in lines] == [row["pier"] for row in filed]
    for line, row in zip(lines, filed, strict=True):
        for k, name in ((2, "above_grade"), (4, "top"), (5, "post_length"), (6, "hole_depth")):
            assert it.same(line[k], row[f"{name}_ft"], place=name == "top")


@pytest.mark.parametrize("style", STYLES)
def test_cards_as_built_hole_log_and_schedule(style):
    it = printed(style)
    filed = {row["pier"]: row for row in it.files["piers.csv"]}
    labels = {
        "above grade": "above_grade",
        "Hole depth": "hole_depth",
        "Embedment, from the downhill lip": "embedment",
        "The lip lies below the middle by": "lip",
        "Bottom cover under the post": "bottom_cover",
        "Post as cut from the stick": "post_length",
        "Top of post, elevation": "top",
    }
    seen, pier = set(), ""
    for here, after in pairwise(text for line in it.lines["pier_cards"] for text in line):
        pier = here if here in filed else "spare" if here == "Pier" else pier
        if here in labels and pier in filed:
            value = re.sub(r" (mm|m|ft)$", "", after)
            assert it.same(value, filed[pier][f"{labels[here]}_ft"], place=here.startswith("Top")), (
                pier,
                here,
            )
            seen.add((pier, here))
    assert len(seen) == len(filed) * len(labels)
    said = " ".join(text.strip() for line in it.lines["pier_cards"] for text in line)
    names = "|".join(filed)
    checks = re.findall(
        rf"(?<= )({names}) CUT:.*?Check: (\S+) to this stake, taped level, (.*?);", f" {said}"
    )
    assert len(checks) == len(filed)
    ties = {row["pier"]: row for row in it.files["ties.csv"]}
    for pier, point, length in checks:
        assert point == ties[pier]["check_from"]
        assert it.same(re.sub(r" (mm|ft)$", "", length), ties[pier]["check_level_ft"]), pier
    for sheet, k, name in (
        ("as_built", 1, "top"),
        ("form_holes", 1, "hole_depth"),
        ("permit", 2, "hole_depth"),
    ):
        lines = [line for line in it.lines[sheet] if line[0] in filed and len(line) > k]
        assert {line[0] for line in lines} == set(filed), sheet
        for line in lines:
            assert it.same(line[k], filed[line[0]][f"{name}_ft"], place=name == "top"), (sheet, line)


@pytest.mark.parametrize("style", STYLES)
def test_sides_and_diagonals_of_stakes_and_of_tops(style):
    it = printed(style)
    at = {
        row["pier"]: [float(row[f"{n}_ft"]) for n in ("east", "north", "ground", "top")]
        for row in it.files["piers.csv"]
    }
    count = 0
    for sheet in ("squareness", "as_built"):
        for line in it.lines[sheet]:
            name, *texts = line
            if not re.fullmatch(r"[AB]\d to [AB]\d", name):
                continue
            (e, n, ground, top), (e2, n2, ground2, top2) = (at[pier] for pier in name.split(" to "))
            level = math.hypot(e2 - e, n2 - n)
            wanted = [level, math.hypot(level, ground2 - ground)]
            if sheet == "as_built":
                wanted = [math.hypot(level, top2 - top)]
            assert len(texts) == len(wanted)
            for text, length in zip(texts, wanted, strict=True):
                assert it.same(text, length), (sheet, line)
            count += 1
    assert count == 12


@pytest.mark.parametrize("style", STYLES)
def test_beams_posts_and_joints(style):
    it = printed(style)
    array = the_plan().arrays[0]
    beams = {beam["beam"]: beam for beam in it.results["beams"]}
    lengths = [
        line for line in it.rows("beams", 5) if line[0] in beams and re.search("higher|lower", line[4])
    ]
    assert [line[0] for line in lengths] == list(beams)
    for name, *texts, rise in lengths:
        beam = beams[name]
        for text, key in zip(texts, ("length", "overhang_left", "overhang_right"), strict=True):
            assert it.same(text, beam[key] / 0.3048), (name, key)
        word, amount = rise.split(" by ")
        assert word == ("higher" if beam["rise"] > 0 else "lower")
        assert it.same(amount, abs(beam["rise"]) / 0.3048)
    joints = [line for line in it.rows("beams", 5) if line[0] in beams and " and " in line[2]]
    assert [line[0] for line in joints] == [name for name in beams for _ in beams[name]["joints"]]
    for line, at in zip(joints, [at for beam in beams.values() for at in beam["joints"]], strict=True):
        assert it.same(line[1], at / 0.3048)
    posts = [line for line in it.rows("beams", 3) if line[0].isdigit()]
    assert len(posts) == 5
    for n, (number, *texts) in enumerate(posts):
        assert number == str(n + 1)
        for text, beam in zip(texts, beams.values(), strict=True):
            assert it.same(text, (beam["first_post"] + n * array.fit.bay_m) / 0.3048)
