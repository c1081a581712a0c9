"""Level-book pages worked in print: sums, elevations, misclosures."""

from itertools import pairwise

import pytest

from staking.book.records import Benchmark, Control, ControlRow, FieldBook, Job, LevelRow, Site
from staking.control.adjusting import adjusted, worked

FOOT_M = 0.3048


def level_book(rows, *, to_m=1.0):
    """Rows of point, BS, IS, FS."""

    def metres(reading):
        return None if reading is None else reading * to_m

    return tuple(
        LevelRow(
            table="levels.csv",
            row=k + 2,
            read={c: str(v) for c, v in zip(("bs", "is", "fs"), readings, strict=True) if v is not None},
            point=point,
            bs_m=metres(readings[0]),
            is_m=metres(readings[1]),
            fs_m=metres(readings[2]),
        )
        for k, (point, *readings) in enumerate(rows)
    )


def survey(rows, start, close=None, to_m=1.0):
    (point, elevation) = start
    known = ()
    if close is not None:
        known = (ControlRow(table="control.csv", row=2, point=close[0], elevation_m=close[1] * to_m),)
    return FieldBook(
        job=Job(site=Site(), control=Control(benchmark=Benchmark(point=point, elevation_m=elevation * to_m))),
        levels=level_book(rows, to_m=to_m),
        control_points=known,
    )


def elevations(adjustment, to_m=1.0):
    return {name: adjustment.points.enz_m[k, 2] / to_m for k, name in enumerate(adjustment.points.names)}


def heights_of_instrument(book, to_m=1.0):
    """Return elevation + BS of each set-up, as adjusted."""
    done = worked(book)
    at = [done.network.equations[setup.readings[0]].at[0] for setup in done.observed.setups]
    return [done.result.coordinates[k] / to_m for k in at]


def test_a_line_between_two_benchmarks():
    """Worked answer page, https://askfilo.com/user-question-answers-smart-solutions/
    2-field-notes-for-a-differential-leveling-section-are-shown-3430383238313239, feet."""
    rows = [
        ("BM A", 3.10, None, None),
        ("TP1", 6.44, None, 9.82),
        ("TP2", 8.76, None, 6.96),
        ("TP3", 7.12, None, 3.27),
        ("BM B", None, None, 10.42),
    ]
    got = adjusted(survey(rows, ("BM A", 100.00), ("BM B", 94.91), to_m=FOOT_M))
    assert got.level_sums.sum_bs_m / FOOT_M == pytest.approx(25.42)
    assert got.level_sums.sum_fs_m / FOOT_M == pytest.approx(30.47)
    assert (got.level_sums.setups, got.level_sums.unclosed_setups) == (4, 0)
    (line,) = got.misclosures
    assert line.loop == "BM A - TP1 - TP2 - TP3 - BM B"
    # Observed 94.95, required 94.91.
    assert line.value_m / FOOT_M == pytest.approx(0.04)
    assert line.sd_m == pytest.approx(8**0.5 * 0.0015)
    assert line.allowed_m == pytest.approx(3 * line.sd_m)
    assert line.passes
    assert got.redundancy == 1
    # As observed 93.28, 92.76, 98.25: equal setups share the misclosure equally.
    want = {"TP1": 93.28 - 0.01, "TP2": 92.76 - 0.02, "TP3": 98.25 - 0.03}
    assert {k: v for k, v in elevations(got, FOOT_M).items() if k in want} == pytest.approx(want)

    assert heights_of_instrument(survey(rows, ("BM A", 100.00), to_m=FOOT_M), FOOT_M) == pytest.approx(
        [103.10, 99.72, 101.52, 105.37]
    )
    open_end = adjusted(survey(rows, ("BM A", 100.00), to_m=FOOT_M))
    want = {"BM A": 100.00, "TP1": 93.28, "TP2": 92.76, "TP3": 98.25, "BM B": 94.95}
    assert elevations(open_end, FOOT_M) == pytest.approx(want)
    assert open_end.redundancy == 0
    assert open_end.passes is None
    assert open_end.variance_factor is None
    assert open_end.misclosures == ()
    assert open_end.sighted_once == 8


def test_a_page_reduced_by_height_of_collimation():
    """Rolita Rode, Collimation method to reduce a leveling field book page,
    https://issuu.com/landsurveyor/docs/collimationmethodeexplained, metres.

    The page spreads the misclosure equally over the setups, which is least squares for equal readings at
    turning points. To intermediate sights the page gives the whole share of their setup; least squares gives
    half of it, for their elevation hangs on the setup's backsight as much as on its foresight.
    """
    rows = [
        ("BM1", 1.216, None, None),
        ("a", None, 0.025, None),
        ("b", None, 1.555, None),
        ("CP1", 1.386, None, 2.508),
        ("IS1", None, 3.625, None),
        ("CP2", 1.235, None, 1.196),
        ("CP3", 3.655, None, 3.566),
        ("CP4", 2.126, None, 0.506),
        ("IS2", None, 2.605, None),
        ("IS3", None, 1.094, None),
        ("CP5", 1.125, None, 3.628),
        ("IS4", None, 1.394, None),
        ("BM2", None, None, 0.484),
    ]
    reduced = [
        106.366, 107.557, 106.027, 105.074, 102.835, 105.264, 102.933, 106.082, 105.603, 107.114, 104.580,
        104.311, 105.221,
    ]  # fmt: skip
    final = {"CP1": 105.081, "CP2": 105.278, "CP3": 102.954, "CP4": 106.110, "CP5": 104.615}
    half_shares = {"a": 0.5, "b": 0.5, "IS1": 1.5, "IS2": 4.5, "IS3": 4.5, "IS4": 5.5}
    got = adjusted(survey(rows, ("BM1", 106.366), ("BM2", 105.263)))
    assert got.level_sums.sum_bs_m == pytest.approx(10.743)
    assert got.level_sums.sum_fs_m == pytest.approx(11.888)
    assert got.level_sums.sum_bs_m - got.level_sums.sum_fs_m == pytest.approx(-1.145)
    (line,) = got.misclosures
    assert line.value_m == pytest.approx(-0.042)
    assert not line.passes
    heights = elevations(got)
    assert {k: heights[k] for k in final} == pytest.approx(final, abs=1e-6)
    by_name = dict(zip([row[0] for row in rows], reduced, strict=True))
    want = {k: by_name[k] + 0.007 * share for k, share in half_shares.items()}
    assert {k: heights[k] for k in want} == pytest.approx(want, abs=1e-6)

    assert heights_of_instrument(survey(rows, ("BM1", 106.366))) == pytest.approx(
        [107.582, 106.460, 106.499, 106.588, 108.208, 105.705], abs=1e-6
    )
    unadjusted = elevations(adjusted(survey(rows, ("BM1", 106.366))))
    assert [unadjusted[row[0]] for row in rows] == pytest.approx(reduced, abs=1e-6)
    # Our heights and misclosure, shared by the page's own rule, are its last column.
    shares = [0, 1, 1, 1, 2, 2, 3, 4, 5, 5, 5, 6, 6]
    printed = [
        106.366, 107.564, 106.034, 105.081, 102.849, 105.278, 102.954, 106.110, 105.638, 107.149, 104.615,
        104.353, 105.263,
    ]  # fmt: skip
    by_page = [unadjusted[row[0]] - line.value_m / 6 * k for row, k in zip(rows, shares, strict=True)]
    assert by_page == pytest.approx(printed, abs=1e-6)


def test_rise_and_fall():
    """Expertsmind, Booking and Reducing the Levels,
    https://expertsmind.com/topic/civil-engineering/booking-and-reducing-levels-91876.aspx, metres."""
    rows = [
        ("A", 1.35, None, None),
        ("E1", None, 0.80, None),
        ("CP1", 1.40, None, 1.65),
        ("E2", None, 0.70, None),
        ("CP2", 1.30, None, 1.70),
        ("B", None, None, 1.85),
    ]
    heights = list(elevations(adjusted(survey(rows, ("A", 50.0)))).values())
    rise_and_fall = [b - a for a, b in pairwise(heights)]
    assert rise_and_fall == pytest.approx([0.55, -0.85, 0.70, -1.00, -0.55])
