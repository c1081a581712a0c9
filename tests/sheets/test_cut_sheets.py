"""The saw's, the carrier's and the buyer's lists: every piece once, all from the same tables, adding up."""

import csv
import io
import math
import re
from dataclasses import replace

import pytest
import synthetic_plan as synthetic

from staking.base.units import parse_length
from staking.book import records as r
from staking.formats.csv_file import csv_text
from staking.pipes.cutlist import CutList, CutPiece, Stick
from staking.results import results
from staking.sheets.cut_table import cut_ends_m
from staking.sheets.pack import pack
from staking.sheets.terminal import plan_lines

FT, IN, LB = 0.3048, 0.0254, 0.45359237
LB_PER_FT = 3.66
"""NPS 2 schedule 40, ASTM A53/A53M Table X2.2."""
BARE = {"feet-inches": "ft", "decimal feet": "ft", "metric": "mm"}


def tables(plan, sheet):
    return [b for s in pack(plan).sheets if s.name == sheet for b in s.blocks if hasattr(b, "columns")]


def table(plan, sheet, title):
    return next(one for one in tables(plan, sheet) if one.title.startswith(title))


def column(of, name):
    k = [c.name for c in of.columns].index(name)
    return [row[k] for row in of.rows], None if of.totals is None else of.totals[k]


def file(plan, name):
    (found,) = [one.table for one in pack(plan).data if one.name == name]
    return list(csv.DictReader(io.StringIO(csv_text(found))))


def with_pipe(plan, **changed):
    job = plan.book.job
    return replace(plan, book=replace(plan.book, job=replace(job, pipe=replace(job.pipe, **changed))))


@pytest.mark.parametrize("show", ["feet-inches", "decimal feet", "metric"])
def test_posts_are_carried_row_by_row_with_the_lengths_of_the_saws_list(show):
    plan = synthetic.full_plan(show=show)
    carried, saw = table(plan, "cuts", "Posts"), table(plan, "cuts", "Stick by stick")
    names, total = column(carried, "piece")
    assert names == [f"{beam}{n}" for beam in "AB" for n in range(1, 6)]
    assert total == "10 posts"
    sawn = dict(zip(column(saw, "piece")[0], column(saw, "length")[0], strict=True))
    assert column(carried, "length")[0] == [sawn[name] for name in names]
    stick = dict(zip(column(saw, "piece")[0], column(saw, "stick")[0], strict=True))
    assert column(carried, "stick")[0] == [stick[name] for name in names]
    assert column(carried, "label")[0] == [f"{name} TOP" for name in names]
    lengths, total = column(carried, "length")
    unit = BARE[show]
    added = sum(parse_length(one, unit=unit) for one in lengths)
    assert parse_length(total, unit=unit) == pytest.approx(added, abs=1e-9)


def test_a_beams_pieces_follow_each_other_from_end_to_end():
    plan = synthetic.full_plan(show="metric")
    carried = table(plan, "cuts", "Beams")
    beam = plan.arrays[0].fit.beams[0]
    joint = plan.cuts.joints_m["beam A"][0]
    starts, ends = (
        [parse_length(one, unit="mm") for one in column(carried, name)[0]] for name in ("from", "to")
    )
    assert starts[:2] == [0.0, pytest.approx(joint, abs=5.1e-4)]
    assert ends[:2] == [pytest.approx(joint, abs=5.1e-4), pytest.approx(beam.length_m, abs=5.1e-4)]
    rests = column(carried, "posts")[0]
    assert rests[0].split(", ") + rests[1].split(", ") == ["A1", "A2", "A3", "A4", "A5"]
    assert [at <= joint for at in beam.posts_m].count(True) == len(rests[0].split(", "))
    assert column(carried, "label")[0][:2] == ["A 1 of 2 LEFT", "A 2 of 2 LEFT"]


def test_pieces_weigh_what_the_standard_says():
    plan = synthetic.full_plan()
    for title in ("Posts", "Beams"):
        carried = table(plan, "cuts", title)
        weights, total = column(carried, "weight")
        for text, length in zip(weights, column(carried, "length")[0], strict=True):
            feet = parse_length(length, unit="ft") / FT
            assert int(text.removesuffix(" lb")) == pytest.approx(LB_PER_FT * feet, abs=0.51 + 0.002 * feet)
        assert int(total.removesuffix(" lb")) == sum(int(text.removesuffix(" lb")) for text in weights)


def test_running_sums_have_a_total_that_proves_a_copied_list():
    plan = synthetic.full_plan()
    saw = table(plan, "cuts", "Stick by stick")
    marks, total = column(saw, "cut_at")
    # 2026-11-28: it stood in the line of totals between lengths of pipe, and read as one.
    assert total == ""
    told = re.search(r"all marks “cut at” add up to (.*), which is no length of pipe", saw.notes[0])[1]
    added = sum(parse_length(one, unit="ft") for one in marks)
    assert parse_length(told, unit="ft") == pytest.approx(added, abs=1e-9)


def test_joints_are_told_to_cost_something_on_top():
    """2026-11-28: the cost is of pipe alone, and nothing said so. The synthetic beams have a joint each."""
    plan = synthetic.full_plan()
    assert plan.cuts.cost is not None
    said = "2 sleeves are to be paid on top"
    assert said in table(plan, "buy", "To buy").notes[0]
    blocks = [block for one in pack(plan).sheets if one.name == "cuts" for block in one.blocks]
    assert any(said in line for block in blocks for line in getattr(block, "lines", ()))
    screen = " ".join(" ".join(plan_lines(plan)).split())
    assert f"2 sleeves, to be paid on top of the {plan.cuts.cost:.2f}" in screen
    free = replace(plan, cuts=replace(plan.cuts, cost=None, cost_bound=None))
    assert "on top" not in " ".join([*plan_lines(free), *table(free, "buy", "To buy").notes])


def stick(*pieces, stock=6.4, **more):
    return Stick(
        stock_m=stock,
        price=None,
        pipe="NPS 2 sch 40",
        pieces=tuple(CutPiece(piece=name, length_m=length) for name, length in pieces),
        **more,
    )


def test_a_last_piece_that_keeps_the_far_thread_is_marked_at_its_near_end():
    """2026-11-28: it was marked at its running sum, so that the saw would have cut its thread off."""
    kerf = 0.003
    threaded = stick(("beam A 1", 2.0), ("A1", 1.5), ("beam B 3", 2.5), drop_m=0.391, last_from_far_end=True)
    assert cut_ends_m(threaded, kerf) == pytest.approx((2.0, 3.503, 6.4 - 2.5))
    # Between the last two marks lie the drop and both kerfs.
    ends = cut_ends_m(threaded, kerf)
    assert ends[2] - ends[1] == pytest.approx(2 * kerf + threaded.drop_m)
    plan = with_pipe(synthetic.full_plan(show="metric"), joint="threaded", kerf_m=kerf)
    cuts = replace(plan.cuts, sticks=(threaded,), count=1)
    saw = table(replace(plan, cuts=cuts), "cuts", "Stick by stick")
    assert column(saw, "cut_at")[0][-1] == "3900"
    assert column(saw, "goes_to")[0][-1].endswith("to the end")
    assert "3 saw cuts" in saw.notes[0]
    plain = stick(("A1", 2.0), ("A2", 1.5), drop_m=2.894)
    assert cut_ends_m(plain, kerf) == pytest.approx((2.0, 3.503))


def test_the_saws_list_names_the_pipe_of_each_stick_where_there_are_two():
    """2026-11-28: posts and beams of two sizes stood in one table that named neither."""
    plan = synthetic.full_plan(show="metric")
    assert "pipe" not in [c.name for c in table(plan, "cuts", "Stick by stick").columns]
    sticks = (
        stick(("A1", 2.0), drop_m=4.0),
        replace(stick(("beam A 1", 6.0), drop_m=0.4), pipe="NPS 3 sch 40"),
    )
    saw = table(replace(plan, cuts=replace(plan.cuts, sticks=sticks)), "cuts", "Stick by stick")
    assert column(saw, "pipe")[0] == ["NPS 2 sch 40", "NPS 3 sch 40"]


def test_what_couplings_make_up_is_said_beside_pieces_that_do_not_add_up():
    plan = synthetic.full_plan(show="feet-inches")
    said = [
        " ".join(table(with_pipe(plan, joint=joint, make_up_m=0.5 * IN), "cuts", "Beams' pieces").notes)
        for joint in ("sleeve", "threaded")
    ]
    assert ['1/2" longer than its two pieces' in words for words in said] == [False, True]


@pytest.mark.parametrize("drop", [0.0, 0.2])
def test_saw_cuts_of_a_stick_cut_from_both_ends(drop):
    kerf = 0.003
    first = 6.4 - 2.5 - kerf - (drop + kerf if drop else 0.0)
    plan = with_pipe(synthetic.full_plan(show="metric"), joint="threaded", kerf_m=kerf)
    one = stick(("beam A 1", first), ("beam B 3", 2.5), drop_m=drop, last_from_far_end=True)
    saw = table(replace(plan, cuts=replace(plan.cuts, sticks=(one,), count=1)), "cuts", "Stick by stick")
    assert ("2 saw cuts" if drop else "1 saw cut ") in saw.notes[0]


def test_drops_are_kept_from_the_stated_length_on():
    plan = with_pipe(synthetic.full_plan(show="metric"), useful_drop_m=0.6)
    sticks = (
        stick(("A1", 5.0), drop_m=1.397),
        stick(("A2", 5.8), drop_m=0.597),
        stick(("A3", 6.4), drop_m=0.0),
        stick(("A4", 5.797), drop_m=0.6),
    )
    plan = replace(plan, cuts=replace(plan.cuts, sticks=sticks, count=4))
    saw = table(plan, "cuts", "Stick by stick")
    assert column(saw, "use") == (["keep", "scrap", "", "keep"], "keep 2")
    assert "2, 1997 mm together" in saw.notes[-1]
    told = results(replace(plan, ground=None))["cuts"]["sticks"]
    assert [one["useful"] for one in told] == [True, False, False, True]
    silent = with_pipe(plan, useful_drop_m=None)
    assert "use" not in [c.name for c in table(silent, "cuts", "Stick by stick").columns]
    assert results(replace(silent, ground=None))["cuts"]["sticks"][0]["useful"] is None


def hand_plan():
    plan = synthetic.full_plan()
    sticks = (
        stick(("A1", 5.0), drop_m=1.397, stock=21 * FT),
        stick(("A2", 5.0), drop_m=1.397, stock=21 * FT),
        stick(("A3", 3.0), drop_m=0.5, stock=11.5 * FT, on_hand=True),
    )
    sticks = tuple(replace(one, price=0.0 if one.on_hand else 96.0) for one in sticks)
    cuts = CutList(sticks=sticks, joints_m={}, count=3, bound=3, cost=192.0, cost_bound=192.0, proven=True)
    return replace(plan, cuts=cuts)


def test_sticks_on_hand_are_told_apart_everywhere():
    plan = hand_plan()
    saw, buy = table(plan, "cuts", "Stick by stick"), table(plan, "buy", "To buy")
    assert column(saw, "from")[0] == ["buy", "buy", "hand"]
    assert column(buy, "from")[0] == ["buy", "on hand"]
    assert column(buy, "number") == (["2", "1"], "3")
    assert column(buy, "stock")[0] == ["21' 0\"", "11' 6\""]
    assert column(buy, "cost") == (["192.00", "0.00"], "192.00")
    assert parse_length(column(buy, "all")[1], unit="ft") == pytest.approx(53.5 * FT)
    assert "2 sticks to buy" in buy.notes[-1]
    assert "1 of them on hand" in " ".join(plan_lines(plan))
    assert [row["on_hand"] for row in file(plan, "cuts.csv")] == ["no", "no", "yes"]
    told = results(replace(plan, ground=None))["cuts"]
    assert (told["on_hand"], [one["on_hand"] for one in told["sticks"]]) == (1, [False, False, True])
    assert [one["price"] for one in told["sticks"]] == [96.0, 96.0, 0.0]


def test_the_record_counts_rails_modules_and_joints():
    """Seven modules by three on two rails a line; the synthetic beams have one joint each."""
    plan = synthetic.full_plan()
    record = table(plan, "buy", "For the record")
    numbers = dict(zip(column(record, "part")[0], column(record, "number")[0], strict=True))
    assert numbers["Rails"] == "14"
    assert next(n for part, n in numbers.items() if part.startswith("Modules")) == "21"
    assert numbers["Sleeves of the beams"] == "2"
    assert (numbers["Beams"], numbers["Holes"]) == ("2", "10")
    lengths = dict(zip(column(record, "part")[0], column(record, "all")[0], strict=True))
    rail_in = 3 * 44.1 + 2 * 0.375
    each = parse_length(lengths["Rails"], unit="ft") / 14
    assert each == pytest.approx(rail_in * IN, abs=IN / 32)
    told = results(replace(plan, ground=None))["record"]
    assert (told["modules"], told["rails"], told["joints"]) == (21, 14, 2)
    assert told["rail_length"] == pytest.approx(14 * rail_in * IN)
    posts = sum(hole.post_length_m for hole in plan.arrays[0].holes)
    beams = sum(beam.length_m for beam in plan.arrays[0].fit.beams)
    assert told["post_length"] == pytest.approx(posts)
    assert told["beam_length"] == pytest.approx(beams)
    # A53 prints pounds a foot to two places: half a hundredth is 0.14 %.
    assert told["weight"] == pytest.approx((posts + beams) / FT * LB_PER_FT * LB, rel=2e-3)
    threaded = with_pipe(plan, joint="threaded")
    assert "Couplings of the beams" in column(table(threaded, "buy", "For the record"), "part")[0]
    assert "2 couplings" in " ".join(plan_lines(threaded))


def test_an_unknown_wall_weighs_nothing_rather_than_a_guess():
    plan = synthetic.full_plan()
    array = plan.book.job.arrays[0]
    frame = replace(array.frame, post_pipe=None, post_od_m=0.06, beam_pipe=None, beam_od_m=0.06)
    job = replace(plan.book.job, arrays=(replace(array, frame=frame),))
    plan = replace(plan, book=replace(plan.book, job=job))
    assert set(column(table(plan, "cuts", "Posts"), "weight")[0]) == {"–"}
    assert results(replace(plan, ground=None))["record"]["weight"] is None


def test_labels_of_the_csv_are_those_of_the_sheet():
    plan = synthetic.full_plan()
    sheet = {}
    for title in ("Posts", "Beams"):
        carried = table(plan, "cuts", title)
        sheet |= dict(zip(column(carried, "piece")[0], column(carried, "label")[0], strict=True))
    rows = file(plan, "cuts.csv")
    assert {row["piece"]: row["label"] for row in rows} == sheet
    assert len(rows) == 14
    assert math.fsum(float(row["length_ft"]) for row in rows) == pytest.approx(
        sum(p.length_m for s in plan.cuts.sticks for p in s.pieces) / FT, abs=1e-3
    )


def test_a_job_without_a_footing_has_no_concrete_in_the_record():
    plan = synthetic.full_plan()
    bare = replace(plan, book=replace(plan.book, job=replace(plan.book.job, footing=None)))
    assert not any("Concrete" in note for note in table(bare, "buy", "For the record").notes)
    assert isinstance(plan.book.job.footing, r.Footing)
