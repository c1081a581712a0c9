"""A stepped array through the whole flow: names, cut list, sheets, stakes shot afterwards, what is refused.

The yard is the sample cross_fall with level beams; the program's own answers are held against what
docs/layout.md, Stepped beams, says of every stepped array, not against copied numbers.
"""

import itertools
import json
import math
import re
import shutil
from pathlib import Path

import numpy as np
import pytest

from staking.base.errors import WrongInput
from staking.base.units import parse_length
from staking.book.folder import read_book
from staking.cli import main
from staking.compare import compared
from staking.plan import planned
from staking.results import results
from staking.sheets.compare_table import compare_pack
from staking.sheets.pack import pack
from staking.sheets.table import Table

SAMPLE = Path(__file__).parents[1] / "sample_surveys" / "cross_fall"
STEPPED = 'beams = "level"\nsections = {}\nsection_gap = "6 in"\n{}'


def yard_with(folder, sections='"auto"', more="", **replaced):
    """The sample with level beams and these keys in [fit]; `replaced`: text of job.toml to other text."""
    shutil.copytree(SAMPLE, folder)
    text = (folder / "job.toml").read_text()
    text = text.replace('beams = "sloping"', STEPPED.format(sections, more))
    for old, new in replaced.items():
        assert KEYS[old] in text
        text = text.replace(KEYS[old], new)
    (folder / "job.toml").write_text(text)
    return folder


def ended_with(arguments):
    """Run the command and return its exit status."""
    with pytest.raises(SystemExit) as ended:
        main(arguments)
    return ended.value.code


def ran(arguments):
    """Run the command; it ends with 0."""
    assert ended_with(arguments) == 0


KEYS = {
    "highest_post": 'above_grade_max = "8 ft"',
    "place": '[place]\nline = ["P1", "P2"]',
    "name": "[array]\n",
}


@pytest.fixture(scope="module")
def two(tmp_path_factory):
    return planned(read_book(yard_with(tmp_path_factory.mktemp("stepped") / "yard", "2")))


def test_piers_are_numbered_from_the_left_over_all_sections(two):
    piers = results(two)["piers"]
    for beam in "AB":
        own = [p for p in piers if p["pier"].startswith(beam)]
        assert [p["pier"] for p in own] == [f"{beam}{k}" for k in range(1, len(own) + 1)]
        assert [p["section"] for p in own] == sorted(p["section"] for p in own)
        along = [math.hypot(p["east"] - own[0]["east"], p["north"] - own[0]["north"]) for p in own]
        assert along == sorted(along)
        runs = {m.pier: m.running_m for a in two.arrays for m in a.stakeout.marks}
        assert [runs[p["pier"]] for p in own] == pytest.approx(along, abs=1e-6)


def test_every_section_has_its_own_plane_beams_and_pieces(two):
    got = results(two)
    [array] = got["arrays"]
    assert [one["section"] for one in array["sections"]] == [1, 2]
    assert sum(one["modules_along"] for one in array["sections"]) == 7
    assert array["cross_slope"] is None
    assert array["clearance"] == min(one["clearance"] for one in array["sections"])
    assert array["total_above_grade"] == pytest.approx(sum(p["above_grade"] for p in got["piers"]), abs=1e-6)
    first, second = array["sections"]
    assert (first["gap"], first["step"]) == (None, None)
    assert second["gap"] == pytest.approx(6 * 0.0254, abs=1e-6)
    # Level beams: the step is the difference of any two tops of one beam.
    tops = {p["pier"]: p["top"] for p in got["piers"]}
    last = max(p["pier"] for p in got["piers"] if p["section"] == 1 and p["pier"].startswith("A"))
    after = f"A{int(last[1:]) + 1}"
    assert tops[after] - tops[last] == pytest.approx(second["step"], abs=1e-6)
    assert [(b["beam"], b["section"]) for b in got["beams"]] == [("A", 1), ("B", 1), ("A", 2), ("B", 2)]
    pieces = [p for stick in got["cuts"]["sticks"] for p in stick["pieces"]]
    for beam in got["beams"]:
        name = f"beam {beam['beam']}.{beam['section']} "
        own = [p["length"] for p in pieces if p["piece"].startswith(name)]
        assert own
        assert sum(own) == pytest.approx(beam["length"], abs=1e-5)
    posts = {p["piece"] for p in pieces if not p["piece"].startswith("beam")}
    assert posts == {p["pier"] for p in got["piers"]}
    for left, right in itertools.pairwise(two.arrays):
        assert not set(left.fit.piers.names) & set(right.fit.piers.names)


def test_the_lengths_across_the_gap_and_over_all_are_those_between_the_stakes(two):
    first, second = two.arrays
    en = {n: p for a in two.arrays for n, p in zip(a.fit.piers.names, a.fit.piers.en_m, strict=True)}
    for side in (*second.across, *second.over_all):
        a, b = side.name.split(" to ")
        assert side.level_m == pytest.approx(float(np.hypot(*(en[b] - en[a]))), abs=1e-9)
        assert side.slope_m >= side.level_m
    assert not first.across
    assert not first.over_all
    # Both rectangles: level diagonals alike.
    assert second.across[-1].level_m == pytest.approx(second.across[-2].level_m, abs=1e-9)
    assert second.over_all[-1].level_m == pytest.approx(second.over_all[-2].level_m, abs=1e-9)


def test_breaks_written_down_give_the_same_plan(two, tmp_path):
    after = two.arrays[0].job.array.modules_along
    assert any(f"write break_after = [{after}]" in text for text in two.warnings)
    held = planned(read_book(yard_with(tmp_path / "yard", "2", f"break_after = {after}")))
    mine, other = results(two), results(held)
    for key in ("arrays", "piers", "beams", "cuts"):
        assert mine[key] == other[key]
    assert not any("break_after" in text for text in held.warnings)


def test_the_sections_of_an_array_share_sheets_and_are_told_apart(two):
    # 2026-11-28: each section had sheets of its own: 44 of them, half empty, for 21 modules.
    sheets = pack(two).sheets
    marks = ("Stakes and offset hubs", "Squareness", "Piers", "Laser and cut marks")
    once = (*marks, "Beams and rails", "As built")
    assert [sheet.title for sheet in sheets if sheet.title in once] == list(once)
    by_title = {sheet.title: sheet for sheet in sheets}
    squareness = by_title["Squareness"].blocks
    assert [t.title for t in squareness[1:]] == [
        "Sides",
        "Diagonals",
        "From section 1 across the gap",
        "Over all sections",
        "What must be true, and what may be off",
        "How far each post may stand off its mark",
    ]
    piers = [name for array in two.arrays for name in array.fit.piers.names]
    for title in ("Stakes and offset hubs", "Piers", "Laser and cut marks", "As built"):
        table = next(block for block in by_title[title].blocks if isinstance(block, Table))
        assert [row[0] for row in table.rows] == piers
        count = len(two.arrays[0].fit.piers.names)
        assert count in table.rules_above
    # One zero for the whole array's story pole, and one total.
    tops = [float(top) for array in two.arrays for top in array.fit.lengths.top_m]
    pole = by_title["Laser and cut marks"].blocks[-1]
    highest = max(parse_length(row[1], unit="ft") for row in pole.rows)
    assert highest == pytest.approx(max(tops) - min(tops), abs=0.0254 / 32 + 1e-9)
    beams = by_title["Beams and rails"].blocks
    for section, array in enumerate(two.arrays, start=1):
        title = f"Posts, from the left end of the beam, section {section}"
        posts = next(t for t in beams[1:] if t.title == title)
        first = array.job.first_pier
        assert [row[0] for row in posts.rows] == [str(first + k) for k in range(len(posts.rows))]
        assert [c.heading for c in posts.columns] == ["Post", f"Beam A.{section}", f"Beam B.{section}"]
    said = " ".join(beams[0].lines)
    told = [f"Section {k}: {one.fit.rails} rails" for k, one in enumerate(two.arrays, start=1)]
    places = [said.index(words) for words in (*told, "Section 2: These beams are their own", "CAUTION")]
    assert places == sorted(places)
    cards = [sheet for sheet in sheets if sheet.title == "Pier cards"]
    assert len(cards) == math.ceil(len(piers) / 4)


@pytest.mark.parametrize("held", [True, False])
def test_stakes_shot_afterwards_give_each_pier_its_own_ground(held, tmp_path):
    """With the breaks written down, and with breaks that are looked for again on the ground of the stakes."""
    folder = yard_with(tmp_path / "yard", "2")
    ran(["plan", str(folder), "--out", str(tmp_path / "first")])
    first = json.loads((tmp_path / "first" / "results.json").read_text())
    after = first["arrays"][0]["sections"][0]["modules_along"]
    text = (folder / "job.toml").read_text()
    if held:
        (folder / "job.toml").write_text(text.replace("sections = 2", f"break_after = [{after}]"))
    shutil.copy(tmp_path / "first" / "stakes.csv", folder / "staked.csv")
    head = [cell.strip() for cell in (folder / "levels.csv").read_text().splitlines()[0].split(",")]
    foot = 0.3048
    hi = 105.0  # ft over a benchmark of 100 ft: a backsight of 5 ft
    lines = [",".join({"point": "BM1", "bs": "5.00"}.get(c, "") for c in head)]
    for pier in first["piers"]:
        # Each stake an inch lower than the surface said.
        reading = hi - (pier["ground"] / foot - 1 / 12)
        lines.append(",".join({"point": pier["pier"], "is": f"{reading:.4f} ft"}.get(c, "") for c in head))
    lines.append(",".join({"point": "BM1", "fs": "5.00"}.get(c, "") for c in head))
    with (folder / "levels.csv").open("a") as book:
        book.write("\n".join(lines) + "\n")
    plan = planned(read_book(folder))
    got = results(plan)
    before = {p["pier"]: p for p in first["piers"]}
    if not held:
        # Other ground may part the array elsewhere: then every stake that was left behind is named.
        now = {p["pier"]: (p["east"], p["north"]) for p in got["piers"]}
        for name, was in before.items():
            if name in now and math.dist(now[name], (was["east"], was["north"])) > 0.026:
                assert any(f"the stake of {name} was shot" in text for text in plan.warnings), name
        return
    assert [p["pier"] for p in got["piers"]] == [p["pier"] for p in first["piers"]]
    for pier in got["piers"]:
        was = before[pier["pier"]]
        assert (pier["east"], pier["north"]) == pytest.approx((was["east"], was["north"]), abs=1e-6)
        assert pier["ground"] == pytest.approx(was["ground"] - 0.0254, abs=2e-4)
        assert pier["sd_ground"] < was["sd_ground"]


def test_auto_is_one_plane_where_one_fits_and_then_the_plan_is_that_of_one_plane(tmp_path):
    auto = results(planned(read_book(yard_with(tmp_path / "auto"))))
    one = results(planned(read_book(yard_with(tmp_path / "one", "1"))))
    for key in ("arrays", "piers", "beams", "cuts"):
        assert auto[key] == one[key]
    assert {p["section"] for p in auto["piers"]} == {1}
    assert all(not p["piece"].startswith("beam A.") for s in one["cuts"]["sticks"] for p in s["pieces"])


def test_auto_steps_where_posts_may_not_be_as_long(tmp_path):
    low = {"highest_post": 'above_grade_max = "5.4 ft"'}
    with pytest.raises(SystemExit) as stopped:
        main(["plan", str(yard_with(tmp_path / "one", "1", **low)), "--out", str(tmp_path / "o")])
    assert stopped.value.code == 3
    plan = planned(read_book(yard_with(tmp_path / "auto", **low)))
    assert len(plan.arrays) == 2
    assert max(a.fit.lengths.above_grade_m.max() for a in plan.arrays) <= 5.4 * 0.3048 + 1e-6


def test_stepping_that_would_do_is_pasted_and_two_millimetres_less_is_not_enough(tmp_path, capsys):
    low = {"highest_post": 'above_grade_max = "5.4 ft"'}
    folder = yard_with(tmp_path / "yard", "1", **low)
    assert ended_with(["plan", str(folder), "--out", str(tmp_path / "refused")]) == 3
    got = json.loads((tmp_path / "refused" / "results.json").read_text())
    [(sections, step, needs)] = [
        match.groups()
        for text in got["would_do"]
        if (match := re.fullmatch(r'sections = (\d+) with step_max = "([^"]+)" \((.+)\) would do', text))
    ]
    assert f"sections = {sections}" in capsys.readouterr().err
    text = (folder / "job.toml").read_text()
    for less_m, code in ((0.0, 0), (0.002, 3)):
        value = f"{(parse_length(step, unit='in') - less_m) / 0.0254:.5f} in"
        pasted = f'sections = {sections}\nstep_max = "{step if not less_m else value}"'
        (folder / "job.toml").write_text(text.replace("sections = 1", pasted))
        assert ended_with(["plan", str(folder), "--out", str(tmp_path / f"out{code}")]) == code
    (most,) = (text.split('"')[1] for text in got["would_do"] if text.startswith("above_grade_max"))
    (folder / "job.toml").write_text(text.replace('"5.4 ft"', f'"{most}"'))
    stepped = json.loads((tmp_path / "out0" / "results.json").read_text())
    longer = results(planned(read_book(folder)))
    piers = [len(one["piers"]) for one in (stepped, longer)]
    sticks = [one["cuts"]["count"] for one in (stepped, longer)]
    more = sticks[0] - sticks[1]
    assert needs.startswith(f"{piers[0]} piers, {piers[0] - piers[1]} more, and {sticks[0]} sticks of pipe, ")
    assert needs.endswith(f' with above_grade_max = "{most}"')
    beside = "as many as" if more == 0 else f"{abs(more)} {'more' if more > 0 else 'fewer'} than"
    assert f", {beside} with" in needs


def test_a_step_that_cannot_be_kept_ends_with_3_and_its_gap(tmp_path, capsys):
    folder = yard_with(
        tmp_path / "yard", "2", 'step_max = "1/2 in"', highest_post='above_grade_max = "5.4 ft"'
    )
    with pytest.raises(SystemExit) as stopped:
        main(["plan", str(folder), "--out", str(tmp_path / "out")])
    assert stopped.value.code == 3
    got = json.loads((tmp_path / "out" / "results.json").read_text())
    assert got["arrays"] == []
    assert got["conflicts"][0]["limit"] == "fit.step_max"
    assert "over step_max" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("sections", "more", "replaced", "told"),
    [
        ("0", "", {}, "neither a count nor auto"),
        ('"many"', "", {}, "neither a count nor auto"),
        ("8", "", {}, "more sections than the 7 lines"),
        ("2", "break_after = [2, 4]", {}, "2 breaks make 3 sections"),
        ('"auto"', "break_after = [4, 2]", {}, "does not rise"),
        ('"auto"', "break_after = [7]", {}, "no line of modules is left"),
        ('"auto"', "break_after = [3, 3]", {}, "does not rise"),
        ('"auto"', "break_after = 1", {}, "too narrow"),
        ("7", "", {}, "too narrow"),
        ("2", 'step_max = "-1 in"', {}, "step_max"),
        ("2", "break_after = []", {}, "not a list of enough values"),
        ("2", 'break_after = "x"', {}, "not a count"),
        ("2.5", "", {}, "neither a count nor auto"),
        ("2", "", {"place": '[place]\npier = "A2"\nline = ["P1", "P2"]'}, "a first pier, such as A1"),
    ],
)
def test_what_cannot_be_parted_is_wrong_input(sections, more, replaced, told, tmp_path):
    with pytest.raises(WrongInput) as caught:
        planned(read_book(yard_with(tmp_path / "yard", sections, more, **replaced)))
    assert told in str(caught.value)


def test_a_survey_alone_knows_the_piers_of_every_parting(tmp_path):
    folder = yard_with(tmp_path / "yard", "3")
    rows = (folder / "levels.csv").read_text().splitlines()
    head = [cell.strip() for cell in rows[0].split(",")]
    more = [{"point": "BM1", "bs": "5.00"}, {"point": "B8", "is": "3.00"}, {"point": "BM1", "fs": "5.00"}]
    lines = [",".join(row.get(c, "") for c in head) for row in more]
    (folder / "levels.csv").write_text("\n".join([*rows, *lines]) + "\n")
    ran(["check", str(folder)])
    plan = planned(read_book(folder))
    assert len(plan.arrays) == 3


def test_one_of_several_arrays_may_be_stepped(tmp_path):
    folder = yard_with(tmp_path / "yard", "1")
    text = (folder / "job.toml").read_text()
    text += (
        '\n[[arrays]]\nname = "front"\n[arrays.place]\nline = ["P1", "P2"]\nstation = "8 ft"\n'
        'offset = "-8 ft"\n[[arrays]]\nname = "back"\n[arrays.place]\nline = ["P1", "P2"]\n'
        'station = "8 ft"\noffset = "-22 ft"\n[arrays.fit]\nsections = 2\nabove_grade_min = "20 in"\n'
        'above_grade_max = "8 ft"\nclearance = "24 in"\n'
    )
    (folder / "job.toml").write_text(text)
    plan = planned(read_book(folder))
    assert [a.title for a in plan.arrays] == ["front", "back, section 1", "back, section 2"]
    got = results(plan)
    assert [len(a["sections"]) for a in got["arrays"]] == [1, 2]
    names = {p["piece"].rsplit(" ", 1)[0] for s in got["cuts"]["sticks"] for p in s["pieces"]}
    assert {"beam front-A", "beam back-A.1", "beam back-B.2"} <= names
    assert "back-A1" in names


def test_designs_side_by_side_tell_each_section(tmp_path):
    book = read_book(yard_with(tmp_path / "yard", "2"))
    other = read_book(yard_with(tmp_path / "other", "1"))
    made = compare_pack(compared(book, [("one plane", other)]))
    [table] = made.data
    table = table.table
    heads = [c.name for c in table.columns]
    sections = [row[heads.index("section")] for row in table.rows]
    assert sections == ["1", "2", "1"]
