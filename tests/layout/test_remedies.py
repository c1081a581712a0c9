"""When nothing fits: what conflicts, by how much, and what would do, tried by running the fit again."""

import math
import re
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from shapely import MultiPoint
from yards import (
    FT,
    FormulaGround,
    Vectors,
    asked_of,
    check_job,
    laid_out,
    level_ground,
    sloping_ground,
    wavy_ground,
    with_array,
    with_fit,
)

from staking.base.units import parse_length, told
from staking.book.records import Accuracy, Place
from staking.layout.around import Around, Needs
from staking.layout.beside import taken_by
from staking.layout.fitting import AIMS, fitted, posed_of
from staking.layout.frame import NoPlaneFits
from staking.layout.heights import above_grade
from staking.layout.remedies import NOT_ALL_TRIED, _Asker
from staking.layout.search import bounds_of, searched
from staking.layout.shaving import PAD_M, shaved
from staking.layout.words import outward, pasted
from staking.same_ground import overlap_m

TWO_MM = 0.002


def refused(job, z_of, style="decimal feet"):
    with pytest.raises(NoPlaneFits) as caught:
        fitted(job, placed_en_m=(0.0, 0.0), ground=FormulaGround(z_of), accuracy=Accuracy(), style=style)
    return caught.value


def offered(error, key):
    """The value of a sentence, as pasted into job.toml."""
    for sentence in error.would_do:
        if match := re.match(rf'{key} = "?([^"]+?)"?( with .*)? would do$', sentence):
            return match[1]
    return None


def still_refused(job, z_of):
    """Refused again, without asking again what would do."""
    posed = posed_of(job, placed_en_m=(0.0, 0.0), ground=FormulaGround(z_of))
    assert not searched(posed.yard, bounds_of(job.fit), AIMS[job.fit.least], posed.ranges).fits


YARDS = [
    (check_job(above_grade_max_m=5 * FT), sloping_ground),
    (check_job(above_grade_max_m=4.9 * FT, max_cross_slope_deg=5), wavy_ground),
    (check_job(highest_m=2.0, above_grade_max_m=9 * FT), sloping_ground),
    (check_job(highest_m=2.0, max_cross_slope_deg=2), wavy_ground),
    (check_job(clearance_m=3.0, above_grade_max_m=7 * FT), sloping_ground),
    (check_job(above_grade_min_m=1.6, clearance_m=0.1, above_grade_max_m=2.2), sloping_ground),
]


@cache
def refusal(yard, style="decimal feet"):
    return refused(*YARDS[yard], style)


@pytest.mark.parametrize("yard", range(len(YARDS)))
def test_what_would_do_does_and_two_millimetres_less_does_not(yard):
    style = ("decimal feet", "feet-inches", "metric")[yard % 3]
    (job, z_of), error = YARDS[yard], refusal(yard, style)
    assert error.would_do
    for key, inward in (("above_grade_max", -1), ("highest", -1), ("above_grade_min", 1), ("clearance", 1)):
        if (text := offered(error, key)) is not None:
            value = parse_length(text, unit="m")
            laid_out(with_fit(job, **{f"{key}_m": value}), z_of)
            still_refused(with_fit(job, **{f"{key}_m": value + inward * TWO_MM}), z_of)
    if (text := offered(error, "max_cross_slope")) is not None:
        most = math.radians(float(text))
        laid_out(with_fit(job, beams="sloping", max_cross_slope_rad=most), z_of)
        less = math.radians(float(text) - 0.1)
        still_refused(with_fit(job, beams="sloping", max_cross_slope_rad=less), z_of)
    if (text := offered(error, "tilt")) is not None:
        laid_out(with_array(job, tilt_rad=math.radians(float(text))), z_of)
        nearer = float(text) + math.copysign(0.1, 28 - float(text))
        still_refused(with_array(job, tilt_rad=math.radians(nearer)), z_of)


def test_every_kind_of_remedy_is_offered_somewhere():
    styles = ("decimal feet", "feet-inches", "metric")
    told = [sentence for yard in range(len(YARDS)) for sentence in refusal(yard, styles[yard % 3]).would_do]
    for key in ("above_grade_max", "highest", "above_grade_min", "clearance", "max_cross_slope", "tilt"):
        assert any(sentence.startswith(key) for sentence in told), key
    assert any('with beams = "sloping" would do' in sentence for sentence in told)


def test_the_conflicts_are_those_of_the_plane_that_comes_nearest():
    job, z_of = YARDS[0]
    error = refusal(0)
    above, clear, _ = asked_of(job, Vectors(job, 0.0), z_of, 0.05)
    low = max(job.fit.above_grade_min_m - above.min(), job.fit.clearance_m - clear)
    high = job.fit.above_grade_max_m - above.max()
    h = (low + high) / 2
    names = [f"{beam}{j}" for beam in "AB" for j in range(1, 6)]
    expected = {
        f"pier {name}": max(job.fit.above_grade_min_m - a - h, a + h - job.fit.above_grade_max_m)
        for name, a in zip(names, above, strict=True)
    }
    found = {c.where: c.by_m for c in error.conflicts if c.where.startswith("pier")}
    assert found == pytest.approx({k: v for k, v in expected.items() if v > 0}, abs=1e-6)
    [clearance] = [c for c in error.conflicts if c.limit == "fit.clearance"]
    assert clearance.by_m == pytest.approx((low - high) / 2, abs=1e-6)
    assert clearance.where.startswith("under the modules at east 37.0")
    assert error.conflicts[0].by_m == pytest.approx(max(c.by_m for c in error.conflicts))


def test_the_texts_name_pier_limit_and_amount():
    error = refusal(0)
    texts = [c.text for c in error.conflicts]
    assert (
        "pier B1: at the nearest plane the post would stand 5.94 ft above grade, 0.94 ft over above_grade_max"
        in texts
    )
    assert any(t.startswith("pier A5") and t.endswith("short of above_grade_min") for t in texts)
    assert any("short of clearance" in t and "from pier A5" in t for t in texts)
    assert str(error).splitlines() == [*texts, *error.would_do]


def test_no_nearer_plane_is_found_by_brute_force_with_sloping_beams():
    job, z_of = YARDS[1]
    worst = max(c.by_m for c in refusal(1, "feet-inches").conflicts)
    best = math.inf
    for cross in np.linspace(-math.radians(5), math.radians(5), 401):
        above, clear, _ = asked_of(job, Vectors(job, cross), z_of, 0.25)
        low = max(job.fit.above_grade_min_m - above.min(), job.fit.clearance_m - clear)
        best = min(best, (low - (job.fit.above_grade_max_m - above.max())) / 2)
    assert worst == pytest.approx(best, abs=0.0005)


def test_where_no_single_value_does_a_pair_is_offered():
    def ridge(x, y):
        return 30 + 1.5 * np.exp(-((x - 5) ** 2) / 2)

    error = refused(check_job(above_grade_max_m=5 * FT, highest_m=1.5), ridge)
    [sentence] = [s for s in error.would_do if " with highest" in s]
    values = [parse_length(text, unit="m") for text in re.findall(r'"([^"]+)"', sentence)]
    laid_out(check_job(above_grade_max_m=values[0], highest_m=values[1]), ridge)


def test_named_arrays_name_their_piers():
    error = refused(replace(YARDS[0][0], name="South"), sloping_ground)
    assert error.conflicts[0].text.startswith(("pier South-B1", "under the modules"))


def test_a_pasted_length_reads_back():
    assert pasted(2.0986375, "feet-inches") == '"82 5/8 in"'
    assert pasted(0.0127, "feet-inches") == '"1/2 in"'
    assert pasted(1.655, "metric") == '"1655 mm"'
    assert pasted(1.655, "metres") == '"1.655 m"'
    assert pasted(8.415 * FT, "decimal feet") == '"8.415 ft"'
    for style in ("feet-inches", "decimal feet", "metric", "metres", "inches"):
        value = outward(1.23456, style, up=True)
        assert 0 <= value - 1.23456 < TWO_MM
        assert parse_length(pasted(value, style).strip('"'), unit="ft") == pytest.approx(value, abs=1e-9)
        assert -TWO_MM < outward(1.23456, style, up=False) - 1.23456 <= 0


def test_a_value_on_its_step_stays():
    assert outward(8.415 * FT, "decimal feet", up=True) == pytest.approx(8.415 * FT)
    assert outward(1.655, "metric", up=False) == pytest.approx(1.655)


def test_lengths_are_told_with_their_unit():
    assert told(1.524, "feet-inches") == "5' 0\""
    assert told(1.524, "decimal feet") == "5.00 ft"
    assert told(1.524, "metric") == "1524 mm"


def test_the_ground_to_shave_is_what_stands_in_the_way_cell_by_cell():
    """Level beams: the plane as high as above_grade_max allows, plain vectors, cells of 1 cm."""
    job = check_job(above_grade_min_m=-1.0, above_grade_max_m=5.5 * FT)
    posed = posed_of(job, placed_en_m=(0.0, 0.0), ground=FormulaGround(sloping_ground))
    cut = shaved(posed.yard, bounds_of(job.fit), posed.ranges)
    vectors = Vectors(job, 0.0)
    above, _, _ = asked_of(job, vectors, sloping_ground, 1.0)
    raised = job.fit.above_grade_max_m - above.max()
    face = vectors.face(0.01, job.frame.stack_m)
    slack = face[:, 2] + raised - sloping_ground(face[:, 0], face[:, 1]) - job.fit.clearance_m
    in_plan_m2 = job.array.width_m * job.array.height_m * vectors.n[2]
    assert (above + raised).min() > job.fit.above_grade_min_m  # no pads: only the clearance is missed
    assert cut.volume_m3 == pytest.approx(np.maximum(-slack, 0).mean() * in_plan_m2, rel=0.02)
    assert cut.area_m2 == pytest.approx((slack < 0).mean() * in_plan_m2, rel=0.02)
    assert cut.deepest_m == pytest.approx(-slack.min(), abs=0.02)
    assert cut.deepest_m > 0.05


def test_on_shaved_ground_the_job_fits_and_on_a_little_less_it_does_not():
    job = check_job(above_grade_max_m=5 * FT)
    posed = posed_of(job, placed_en_m=(0.0, 0.0), ground=FormulaGround(sloping_ground))
    cut = shaved(posed.yard, bounds_of(job.fit), posed.ranges)
    vectors = Vectors(job, 0.0)
    stack = job.frame.stack_m / vectors.n[2]

    def left(spare_m):
        def z_of(x, y):
            d = np.stack([x - vectors.a1[0], y - vectors.a1[1]], axis=-1)
            plane = cut.z_a1_m - d @ vectors.n[:2] / vectors.n[2]
            ground = np.minimum(sloping_ground(x, y), plane + stack - job.fit.clearance_m + spare_m)
            for i, depth in enumerate(cut.piers_m):
                pier = vectors.stakes[i, :2]
                if depth > 0:
                    pad = sloping_ground(*pier) - depth + spare_m
                    near = np.hypot(x - pier[0], y - pier[1]) <= PAD_M
                    ground = np.where(near, np.minimum(ground, pad), ground)
            return ground

        return z_of

    laid_out(job, left(0.0))
    still_refused(job, left(TWO_MM))


def test_a_pad_alone_has_the_volume_of_its_disc():
    """A post too short by 100 mm on level ground that is high at one stake only."""
    job = check_job(above_grade_min_m=0.8556, above_grade_max_m=6 * FT, clearance_m=0.0)

    class Stake(FormulaGround):
        def z_at_piers(self, names, en_m):
            return self.z(en_m)

    posed = posed_of(job, placed_en_m=(0.0, 0.0), ground=Stake(level_ground))
    above = above_grade(posed.yard, 0.0)
    top = job.fit.above_grade_max_m - above.max()
    short = job.fit.above_grade_min_m - (top + above[0])
    cut = shaved(posed.yard, bounds_of(job.fit), posed.ranges)
    assert short == pytest.approx(0.0, abs=0.2)
    pads = 5 * math.pi * PAD_M**2 * max(short, 0.0)
    assert cut.volume_m3 == pytest.approx(pads, rel=0.03)
    assert short > 0.05


def mound(x, y):
    """Level ground with a narrow mound under the high corner's post."""
    return 30 + 0.8 * np.exp(-((x - 1.0) ** 2 + (y - 0.5) ** 2) / 0.8)


def offered_shift(sentences):
    for sentence in sentences:
        if match := re.match(r'(\w+) = "([^"]+)" with (\w+) = "([^"]+)" in \[place\]', sentence):
            return match[1], parse_length(match[2], unit="m"), match[3], parse_length(match[4], unit="m")
    return None


MOUND_JOB = check_job(above_grade_max_m=6.7 * FT)


@cache
def shift_from_the_mound():
    """The two values offered, east and north, metres."""
    asker = _Asker(MOUND_JOB, (0.0, 0.0), FormulaGround(mound), "metric")
    first, east, second, north = offered_shift(list(asker.moving(Around())))
    assert (first, second) == ("east", "north")
    return east, north


def test_the_least_shift_would_do_and_no_shorter_one_does():
    east, north = shift_from_the_mound()
    length = math.hypot(east, north)
    assert 0.05 < length < 3
    laid_out(MOUND_JOB, mound, at=(east, north))

    def misses(at):
        posed = posed_of(MOUND_JOB, placed_en_m=at, ground=FormulaGround(mound))
        return not searched(posed.yard, bounds_of(MOUND_JOB.fit), AIMS["steel"], posed.ranges).fits

    for angle in np.linspace(0, 2 * math.pi, 25):
        for share in (0.6, 1 - TWO_MM / length):
            at = (share * length * math.cos(angle), share * length * math.sin(angle))
            assert misses(at), (at, length)
    assert misses((east * (1 - TWO_MM / length), north * (1 - TWO_MM / length)))


def outline_at(at):
    """By plain vectors: both faces of the modules, level beams, seen from above."""
    vectors = Vectors(MOUND_JOB, 0.0, placed_en=at)
    off = MOUND_JOB.frame.stack_m
    faces = [vectors.face(0.5, d) for d in (off, off + MOUND_JOB.array.module_thick_m)]
    hull = MultiPoint(np.vstack(faces)[:, :2]).convex_hull
    return np.array(hull.exterior.coords)[:-1]


def test_the_shift_keeps_clear_of_another_array():
    """2026-11-28: a shift was offered onto the modules of the array beside it."""
    east, north = shift_from_the_mound()
    now = outline_at((0.0, 0.0))
    # On the side toward which it would move, so near that it is met before the shift is done.
    reaches = (0.05 * k for k in range(1000))
    reach = next(k for k in reaches if overlap_m(now, outline_at((k * east, k * north))) < -0.02)
    other = (reach * east, reach * north)
    assert overlap_m(outline_at((east, north)), outline_at(other)) > 0.01
    taken = taken_by(MOUND_JOB, placed_en_m=other, hole_m=0.15, style="metric")
    around = Around(obstacles=taken, needs=Needs(hole_m=0.15))
    told = list(_Asker(MOUND_JOB, (0.0, 0.0), FormulaGround(mound), "metric").moving(around))
    _, east, _, north = offered_shift(told)
    laid_out(MOUND_JOB, mound, at=(east, north))
    assert overlap_m(outline_at((east, north)), outline_at(other)) <= 0.0


def test_the_shift_is_told_along_the_line_of_the_place():
    east, north = shift_from_the_mound()
    by_line = replace(MOUND_JOB, place=Place(line=("P1", "P2"), station_m=4.0, offset_m=-3.0))
    ahead = (math.sin(math.radians(30)), math.cos(math.radians(30)))
    told = list(_Asker(by_line, (0.0, 0.0), FormulaGround(mound), "metric").moving(Around(ahead=ahead)))
    first, station, second, offset = offered_shift(told)
    assert (first, second) == ("station", "offset")
    moved = np.array([station - 4.0, offset + 3.0])
    rounded = 2 * TWO_MM  # whole millimetres along other axes
    assert moved @ [ahead[0], ahead[1]] == pytest.approx(east, abs=rounded)
    assert moved @ [ahead[1], -ahead[0]] == pytest.approx(north, abs=rounded)


def test_an_absurd_array_ends_with_a_word_that_not_all_was_tried(monkeypatch):
    monkeypatch.setattr("staking.layout.remedies.MOST_ASKED", 20_000)
    assert refused(*YARDS[0]).would_do[-1] == NOT_ALL_TRIED
