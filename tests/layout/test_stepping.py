"""Stepped beams: the best breaks against every parting there is, by plain 3-D vectors and linear programs.

Nothing outside was found to compare a stepped array with: the independent route is written here from
docs/layout.md, Stepped beams, and shares no code with the search but the declared records.
"""

import itertools
import math
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from scipy.optimize import linprog
from yards import FT, FormulaGround, Vectors, asked_of, check_job, with_array, with_fit, with_frame

from staking.base.errors import WrongInput
from staking.book.records import Accuracy, Place
from staking.layout.field import corners_of
from staking.layout.frame import NoPlaneFits
from staking.layout.sections import Part, most_piers, parting_of
from staking.layout.shape import shape_of
from staking.layout.stepped import laid_out
from staking.layout.stepping import Cell, Stepper, best_way, least_step, nearest_way, reach, settled

LEAST_BAY_M = 0.6  # docs/layout.md: posts of a section stand no nearer
GRID_M = 0.1
GRID_MISSES_M = 0.001
"""What a grid of 0.1 m misses of the least clearance: the grounds below curve by no more than 0.25 a metre
(0.5 m of logistic step over 0.5 m: 0.0962·0.5/0.25 = 0.19; waves 0.06/1.3² + 0.06/1.7² = 0.06), so by
0.25·(0.05·√2)²/2 = 0.6 mm half-way between places."""


def stepped_job(lines=7, **fit):
    job = with_array(check_job(**{"above_grade_max_m": 7 * FT, **fit}), modules_along=lines)
    return with_frame(job, piers_per_beam=None, bay_m=None, max_bay_m=9 * FT, max_overhang_m=2.5 * FT)


def sections_of(job, z_of, accuracy=None):
    return laid_out(job, placed_en_m=(0.0, 0.0), ground=FormulaGround(z_of), accuracy=accuracy or Accuracy())


def random_ground(rng):
    """A bank that falls along the beams, with a step in it and waves."""
    fall, cross, high, at, wave, phase = rng.uniform(
        (0.0, -0.05, 0.0, 2.0, 0.02, 0.0), (0.06, 0.12, 0.5, 9.0, 0.06, 6.0)
    )

    def z_of(x, y):
        return (
            30
            + fall * x
            + cross * y
            + high / (1 + np.exp(-(x - at) / 0.5))
            + wave * np.sin(x / 1.3 + phase) * np.cos(y / 1.7)
        )

    return z_of


def undivided(job):
    """(overhang of posts to the modules' edge, rails from the modules' left edge) by docs/layout.md."""
    array, frame = job.array, job.frame
    pitch = array.module_along_m + array.gap_along_m
    inset = array.module_along_m / 4
    width = array.modules_along * pitch - array.gap_along_m
    beam = width - 2 * inset + 2 * frame.beam_end_m
    shift = 0.0
    if job.fit.beams == "sloping":
        half_run = (frame.beams_at_m[-1] - frame.beams_at_m[0]) / 2
        shift = half_run * math.sin(array.tilt_rad) * math.tan(job.fit.max_cross_slope_rad)
    most_overhang = frame.max_overhang_m - shift
    spans = math.ceil((beam - 2 * most_overhang) / frame.max_bay_m - 1e-9)
    share = beam / (spans * frame.max_bay_m + 2 * most_overhang)
    return (width - spans * share * frame.max_bay_m) / 2


def section_jobs(job, lines, overhang):
    """The section as an array of its own: fewest even bays that keep rails off posts; None: none."""
    array, frame = job.array, job.frame
    pitch, inset = array.module_along_m + array.gap_along_m, array.module_along_m / 4
    width = lines * pitch - array.gap_along_m
    line = width - 2 * overhang
    if line < LEAST_BAY_M:
        return None
    rails = [k * pitch + x for k in range(lines) for x in (inset, array.module_along_m - inset)]
    fewest = max(1, math.ceil(line / frame.max_bay_m - 1e-9))
    for bays in range(fewest, fewest + 5):
        bay = line / bays
        if bays > fewest and bay < LEAST_BAY_M:
            return None
        posts = [overhang + j * bay for j in range(bays + 1)]
        if all(abs(post - rail) >= frame.rail_clear_m - 1e-6 for post in posts for rail in rails):
            return replace(
                job,
                array=replace(array, modules_along=lines),
                frame=replace(frame, piers_per_beam=bays + 1, bay_m=bay),
            )
    return None


class Brute:
    """Every parting, each section by plain vectors, heights by a linear program."""

    def __init__(self, job, z_of, cross_rad=(0.0,)):
        self.job, self.z_of, self.cross_rad = job, z_of, cross_rad
        self.overhang = undivided(job)
        self.seen = {}

    def section(self, place, first, end):
        key = (place, first, end)
        if key not in self.seen:
            self.seen[key] = self._section(*key)
        return self.seen[key]

    def _section(self, place, first, end):
        job = section_jobs(self.job, end - first, self.overhang)
        if job is None:
            return None
        array, fit = job.array, job.fit
        pitch = array.module_along_m + array.gap_along_m
        along = first * pitch + place * (fit.section_gap_m - array.gap_along_m)
        a = array.azimuth_rad
        at = (-math.cos(a) * along, math.sin(a) * along)
        best = None
        for cross in self.cross_rad:
            above, clear, _ = asked_of(job, Vectors(job, cross, at), self.z_of, GRID_M)
            low = max(fit.above_grade_min_m - above.min(), fit.clearance_m - clear)
            high = fit.above_grade_max_m - above.max()
            asked = {"low": low, "high": high, "above": above, "cross": cross}
            if low <= high and (best is None or self._cost(asked) < self._cost(best)):
                best = asked
        return best

    def _cost(self, asked):
        if self.job.fit.least == "steel":
            return asked["above"].sum() + len(asked["above"]) * asked["low"]
        return asked["above"].max() + asked["low"]

    def best(self, sections, step=None):
        """(cost, breaks, heights) of the best parting; None where none fits."""
        lines = self.job.array.modules_along
        found = []
        for breaks in itertools.combinations(range(1, lines), sections - 1):
            edges = (0, *breaks, lines)
            some = [self.section(k, edges[k], edges[k + 1]) for k in range(sections)]
            if any(one is None for one in some):
                continue
            way = heights_by_program(some, self.job.fit.least, step)
            if way is not None:
                found.append((way[0], breaks, way[1]))
        return min(found, default=None, key=lambda one: one[0])


def heights_by_program(some, least, step, offsets=None):
    """(cost, heights) of sections side by side, by a linear program; None where the limits leave none."""
    n = len(some)
    offsets = offsets or [(0.0, 0.0)] * (n - 1)
    rows, bounds = [], []
    for k in range(n - 1):
        for d in offsets[k] if step is not None else ():
            for sign in (1, -1):
                row = np.zeros(n + 1)
                row[k + 1], row[k] = sign, -sign
                rows.append(row)
                bounds.append(step - sign * d)
    if least == "steel":
        cost = np.array([*(len(one["above"]) for one in some), 0.0])
        base = sum(one["above"].sum() for one in some)
    else:
        cost, base = np.array([0.0] * n + [1.0]), 0.0
        for k, one in enumerate(some):
            row = np.zeros(n + 1)
            row[k], row[n] = 1, -1
            rows.append(row)
            bounds.append(-one["above"].max())
    spans = [(one["low"], one["high"]) for one in some] + [(None, None) if least == "tallest" else (0, 0)]
    if any(low > high for low, high in spans[:n]):
        return None
    answer = linprog(
        cost, A_ub=np.array(rows) if rows else None, b_ub=bounds or None, bounds=spans, method="highs"
    )
    return (answer.fun + base, answer.x[:n]) if answer.status == 0 else None


def cost_of(found, least):
    above = np.concatenate([one.fit.lengths.above_grade_m for one in found])
    return above.sum() if least == "steel" else above.max()


COMPARED: dict[int, int] = {}


@pytest.mark.parametrize("seed", range(12))
def test_the_best_of_every_parting_by_vectors_and_programs(seed):
    rng = np.random.default_rng(seed)
    z_of = random_ground(rng)
    least = ("steel", "tallest")[seed % 2]
    job = stepped_job(int(rng.integers(6, 9)), least=least)
    brute = Brute(job, z_of)
    stepper = Stepper(
        parting_of(job, style="metric"), placed_en_m=(0.0, 0.0), ground=FormulaGround(z_of), style="metric"
    )
    compared = 0
    for sections, step in itertools.product((2, 3), (None, 0.15, 0.05)):
        expected = brute.best(sections, step)
        found = stepper.best(sections, step)
        if found is None:
            assert expected is None or not well_within(brute, sections, step)
            continue
        assert expected is not None
        # The grid misses a little of the clearance, so its planes may be lower by as much.
        count = sum(cell.found.heights.count for cell in found.cells) if least == "steel" else 1
        cost = found.steel_m if least == "steel" else found.tallest_m
        assert cost == pytest.approx(expected[0], abs=GRID_MISSES_M * count)
        if step is not None:
            assert max(map(abs, found.steps_m)) <= step + 1e-5
        compared += 1
    COMPARED[seed] = compared


def test_most_of_those_yards_had_a_parting_to_compare():
    if len(COMPARED) < 12:
        pytest.skip("only some of the yards were run")
    assert sum(COMPARED.values()) >= 36


def well_within(brute, sections, step):
    """Whether a parting fits with more to spare than a grid misses."""
    job = brute.job
    tight = replace(
        job,
        fit=replace(
            job.fit,
            above_grade_max_m=job.fit.above_grade_max_m - GRID_MISSES_M,
            clearance_m=job.fit.clearance_m + GRID_MISSES_M,
        ),
    )
    return Brute(tight, brute.z_of).best(sections, step) is not None


@pytest.mark.parametrize("seed", [1, 4])
def test_sloping_sections_are_the_best_of_every_parting(seed):
    z_of = random_ground(np.random.default_rng(seed))
    job = stepped_job(7, max_cross_slope_deg=3.0, sections=2)
    brute = Brute(job, z_of, np.radians(np.linspace(-3, 3, 121)))
    swing = parting_of(job, style="metric").swing_m
    # With sloping beams the gap leaves room for the modules' corners to swing, told and tested by itself.
    brute.job = with_fit(job, section_gap_m=job.fit.section_gap_m + 2 * swing)
    expected = brute.best(2)
    found = sections_of(job, z_of)
    count = sum(len(one.fit.piers.names) for one in found)
    # Cross-slopes 0.05° apart: over half of it the far end of a 6 m section moves by 2.6 mm.
    assert cost_of(found, "steel") <= expected[0] + GRID_MISSES_M * count
    assert cost_of(found, "steel") == pytest.approx(expected[0], abs=0.004 * count)
    assert tuple(one.job.array.modules_along for one in found)[:1] == expected[1]


def made_up_cells(rng, lines, places):
    """Sections with limits out of the air, as the search takes them: heights do not come from any ground."""
    layers = []
    for place in range(places):
        some = []
        for first in range(lines) if place else (0,):
            for end in range(first + 1, lines + 1) if place < places - 1 else (lines,):
                if end <= first or rng.random() < 0.15:
                    continue
                low = rng.uniform(0, 1)
                above = rng.uniform(-1, 0, rng.integers(4, 12))
                some.append(made_up(place, first, end, low, low + rng.uniform(-0.1, 0.5), above, rng))
        layers.append(tuple(some))
    return tuple(layers)


def made_up(place, first, end, low, high, above, rng):
    heights = SimpleNamespace(count=len(above), piers_m=[above.sum()], most_pier_m=[above.max()])
    return Cell(
        part=Part(place=place, first=first, end=end),
        yard=SimpleNamespace(above=above),
        found=SimpleNamespace(heights=heights),
        low_m=low,
        high_m=high,
        left_m=tuple(rng.uniform(-0.05, 0.05, 2)),
        right_m=tuple(rng.uniform(-0.05, 0.05, 2)),
    )


def every_way(layers, way=()):
    if len(way) == len(layers):
        yield way
        return
    for cell in layers[len(way)]:
        if cell.part.first == (way[-1].part.end if way else 0):
            yield from every_way(layers, (*way, cell))


def program_of(way, least, step):
    some = [{"low": c.low_m, "high": c.high_m, "above": c.yard.above} for c in way]
    offsets = [
        tuple(right.left_m[i] - left.right_m[i] for i in (0, 1)) for left, right in itertools.pairwise(way)
    ]
    return heights_by_program(some, least, step, offsets)


@pytest.mark.parametrize("seed", range(40))
def test_the_way_and_its_heights_against_every_way_by_linear_programs(seed):
    rng = np.random.default_rng(seed)
    layers = made_up_cells(rng, 6, int(rng.integers(2, 5)))
    least, step = ("steel", "tallest")[seed % 2], (None, 0.1, 0.2, 0.4)[seed // 2 % 4]
    answers = [one for way in every_way(layers) if (one := program_of(way, least, step)) is not None]
    found = best_way(layers, least, step)
    if not answers:
        assert found is None
        assert reach(layers, math.inf if step is None else step) is None
        return
    assert found is not None
    expected = min(cost for cost, _ in answers)
    assert (found.steel_m if least == "steel" else found.tallest_m) == pytest.approx(expected, abs=1e-5)
    if step is not None:
        assert max(map(abs, found.steps_m)) <= step + 1e-5


@pytest.mark.parametrize("seed", range(12))
def test_the_least_step_is_where_the_programs_begin_to_have_an_answer(seed):
    layers = made_up_cells(np.random.default_rng(100 + seed), 5, 3)
    least = least_step(layers)
    ways = list(every_way(layers))
    if least is None:
        assert all(program_of(way, "steel", 10.0) is None for way in ways)
        return
    assert any(program_of(way, "steel", least + 1e-5) for way in ways)
    assert least < 1e-5 or not any(program_of(way, "steel", least - 1e-5) for way in ways)


@pytest.mark.parametrize("seed", range(12))
def test_the_nearest_way_is_the_one_whose_worst_section_misses_least(seed):
    layers = made_up_cells(np.random.default_rng(200 + seed), 6, 3)
    ways = [max(cell.low_m - cell.high_m for cell in way) for way in every_way(layers)]
    assert max(cell.short_m for cell in nearest_way(layers)) == min(ways)


def test_two_heights_of_a_chain_by_hand():
    rng = np.random.default_rng(0)
    low = [0.0, 1.0, 0.1]
    cells = [
        replace(made_up(k, k, k + 1, low[k], 2.0, np.zeros(4), rng), left_m=(0.0, 0.0), right_m=(0.0, 0.0))
        for k in range(3)
    ]
    # The middle one stands at 1; with steps of 0.3 its neighbours come up to 0.7, and no higher.
    assert settled(cells, 0.3) == pytest.approx((0.7, 1.0, 0.7))
    assert settled(cells, None) == (0.0, 1.0, 0.1)
    assert settled([replace(cells[0], high_m=0.6), *cells[1:]], 0.3) is None


def level(x, y):
    return 30 + 0 * x


def corners(one):
    shape = shape_of(one.job, style="metric")
    return np.vstack([corners_of(shape, one.fit.plane, shape.stack_m + d) for d in (0.0, shape.thick_m)])


def test_sections_of_level_beams_keep_the_gap_and_share_nothing():
    job = stepped_job(9, break_after=(4, 6), section_gap_m=0.2)
    found = sections_of(job, level)
    a = job.array.azimuth_rad
    e = np.array([-math.cos(a), math.sin(a), 0.0])
    for left, right in itertools.pairwise(found):
        assert (corners(right) @ e).min() - (corners(left) @ e).max() == pytest.approx(0.2, abs=1e-9)
        assert right.gap_m == pytest.approx(0.2, abs=1e-9)
        ends = [np.array(b.right_end_enz_m) @ e for b in left.fit.beams]
        starts = [np.array(b.left_end_enz_m) @ e for b in right.fit.beams]
        assert min(starts) > max(ends)
    names = [name for one in found for name in one.fit.piers.names if name.startswith("A")]
    assert names == [f"A{k}" for k in range(1, len(names) + 1)]
    assert [one.job.section for one in found] == [1, 2, 3]
    assert {one.job.sections for one in found} == {3}
    assert found[0].fit.piers.en_m[0] == pytest.approx((0.0, 0.0))
    assert found[0].gap_m is None
    assert found[0].step_m is None
    # The stakes of each beam stand in one line, and the outermost ones make a rectangle.
    en = {
        n: p for one in found for n, p in zip(one.fit.piers.names, one.fit.piers.en_m.tolist(), strict=True)
    }
    last = len(names)
    assert math.dist(en["A1"], en[f"B{last}"]) == pytest.approx(math.dist(en[f"A{last}"], en["B1"]), abs=1e-9)
    assert all(
        abs((en[name][0] - en["A1"][0]) * e[1] - (en[name][1] - en["A1"][1]) * e[0]) < 1e-9 for name in names
    )


@pytest.mark.parametrize("rises", [(0.05, -0.05), (-0.05, 0.05), (0.05, 0.05)])
def test_sloping_sections_never_come_nearer_than_the_gap(rises):
    def bent(x, y):
        return 30 + np.where(x < 7.0, rises[0] * x, rises[0] * 7.0 + rises[1] * (x - 7.0)) + 0.05 * y

    job = stepped_job(8, max_cross_slope_deg=3.0, break_after=(4,), section_gap_m=0.15)
    left, right = sections_of(job, bent)
    assert right.gap_m >= 0.15 - 1e-9
    a = job.array.azimuth_rad
    e = np.array([-math.cos(a), math.sin(a), 0.0])
    assert right.gap_m == pytest.approx((corners(right) @ e).min() - (corners(left) @ e).max(), abs=1e-9)
    # Not wider than what the corners may swing asks for, and what the sections' own slope shortens them by.
    swing = parting_of(job, style="metric").swing_m
    assert right.gap_m <= 0.15 + 4 * swing + job.array.width_m * (1 - math.cos(math.radians(3)))


def test_a_plane_that_runs_on_through_the_gap_has_no_step():
    job = stepped_job(8, max_cross_slope_deg=4.0, break_after=(4,), clearance_m=0.05)

    def slope(x, y):
        a = math.radians(172)
        return 30 + 0.04 * (-math.cos(a) * x + math.sin(a) * y)

    left, right = sections_of(job, slope)
    assert left.fit.plane.cross_slope_rad == pytest.approx(right.fit.plane.cross_slope_rad, abs=1e-6)
    assert right.step_m == pytest.approx(0.0, abs=1e-5)


def test_the_step_told_is_that_of_the_beams_in_the_middle_of_the_gap():
    job = stepped_job(8, max_cross_slope_deg=3.0, break_after=(3,))
    z_of = random_ground(np.random.default_rng(7))
    left, right = sections_of(job, z_of)
    a = job.array.azimuth_rad
    e = np.array([-math.cos(a), math.sin(a)])

    def beam_at(beam, along):
        """Height of a beam's line at a distance along e, from its two ends."""
        ends = np.array([beam.left_end_enz_m, beam.right_end_enz_m])
        at = ends[:, :2] @ e
        return ends[0, 2] + (along - at[0]) / (at[1] - at[0]) * (ends[1, 2] - ends[0, 2])

    parting = parting_of(job, style="metric")
    middle = parting.gap_middle_m(Part(place=1, first=3, end=8))
    steps = [
        beam_at(r, middle) - beam_at(s, middle) for s, r in zip(left.fit.beams, right.fit.beams, strict=True)
    ]
    assert right.step_m == pytest.approx(max(steps, key=abs), abs=1e-9)


def test_auto_takes_one_plane_where_one_fits_and_else_the_fewest():
    job = stepped_job(7, sections="auto")
    [one] = sections_of(job, level)
    assert (one.job.section, one.job.sections) == (1, 1)
    assert len(one.fit.piers.names) == 10

    def stepped(x, y):
        return 30 + 1.2 * (x > 6.0)

    assert len(sections_of(job, stepped)) == 2
    with pytest.raises(NoPlaneFits):
        sections_of(with_fit(job, sections=1), stepped)


@pytest.mark.parametrize("lines", [1, 2, 3])
def test_auto_tells_what_one_plane_lacks_where_the_array_is_too_narrow_to_be_parted(lines):
    job = with_frame(
        with_array(check_job(above_grade_max_m=2.2 * FT, sections="auto"), modules_along=lines),
        piers_per_beam=2,
        bay_m=1.0,
    )
    with pytest.raises(NoPlaneFits) as caught:
        sections_of(job, level)
    assert "fit.above_grade_max" in {c.limit for c in caught.value.conflicts}
    assert any(c.where == "pier B1" for c in caught.value.conflicts)


def test_a_mirrored_yard_has_the_mirrored_steps():
    job = with_array(stepped_job(8, sections=2, above_grade_max_m=8 * FT), azimuth_rad=math.pi)
    width = 8 * job.array.module_along_m + 7 * job.array.gap_along_m + 0.1016 - job.array.gap_along_m
    oh = parting_of(job, style="metric").overhang_m
    middle = width / 2 - oh

    def fall(x, y):
        return 30 + 0.08 * x + 0.2 / (1 + np.exp(-(x - 5.0) / 0.3)) + 0.05 * y

    here = sections_of(job, fall)
    there = sections_of(job, lambda x, y: fall(2 * middle - x, y))
    assert [s.job.array.modules_along for s in here] == [s.job.array.modules_along for s in there][::-1]
    assert here[1].step_m == pytest.approx(-there[1].step_m, abs=1e-4)
    for mine, other in zip(here, there[::-1], strict=True):
        one, two = (f.fit.lengths.above_grade_m.reshape(2, -1) for f in (mine, other))
        assert one == pytest.approx(two[:, ::-1], abs=2e-4)


def test_the_names_a_survey_may_use_cover_every_parting():
    job = stepped_job(9)
    parting = parting_of(job, style="metric")
    for sections in (1, 2, 3):
        for breaks in itertools.combinations(range(1, 9), sections - 1):
            try:
                found = sections_of(with_fit(job, break_after=breaks) if breaks else job, level)
            except WrongInput:
                continue
            count = sum(one.job.frame.piers_per_beam or 0 for one in found if breaks)
            assert count <= most_piers(parting)


@pytest.mark.parametrize(
    ("fit", "key", "problem"),
    [
        ({"break_after": (1,)}, "fit.break_after", "too narrow"),
        ({"sections": 7}, "fit.sections", "too narrow"),
        ({"sections": 2, "section_gap_m": 0.005}, "fit.section_gap", "would meet in the gap"),
    ],
)
def test_sections_that_cannot_be_built_are_wrong_input(fit, key, problem):
    job = with_frame(stepped_job(7, **fit), beam_end_m=0.43)
    with pytest.raises(WrongInput) as caught:
        sections_of(job, level)
    [mistake] = caught.value.mistakes
    assert mistake.column == key
    assert problem in mistake.problem


def test_a_step_that_cannot_be_kept_is_told_with_its_gap_and_amount():
    def stepped(x, y):
        return 30 + 1.2 * (x > 6.0)

    job = stepped_job(7, sections=2, step_max_m=0.1)
    with pytest.raises(NoPlaneFits) as caught:
        sections_of(job, stepped)
    [conflict] = caught.value.conflicts
    assert conflict.limit == "fit.step_max"
    assert conflict.where.startswith("between A")
    least = 0.1 + conflict.by_m
    assert len(sections_of(with_fit(job, step_max_m=least + 1e-5), stepped)) == 2
    with pytest.raises(NoPlaneFits):
        sections_of(with_fit(job, step_max_m=least - 1e-5), stepped)


def test_the_place_of_another_beams_first_pier_moves_every_section_alike():
    job = stepped_job(8, break_after=(4,))
    here = sections_of(job, level)
    run = (job.frame.beams_at_m[1] - job.frame.beams_at_m[0]) * math.cos(job.array.tilt_rad)
    a = job.array.azimuth_rad
    back = (math.sin(a) * run, math.cos(a) * run)
    there = sections_of(replace(job, place=Place(pier="B1", east_m=0.0, north_m=0.0)), level)
    for one, two in zip(here, there, strict=True):
        assert two.fit.piers.en_m == pytest.approx(one.fit.piers.en_m + np.array(back), abs=1e-9)
        assert two.fit.piers.names == one.fit.piers.names


def bank(x, y):
    return 30 + 0.04 * x + 0.10 * y + 0.5 / (1 + np.exp(-2 * (x - 6)))


@pytest.mark.parametrize(
    ("sections", "step_ft", "after", "steps_ft", "total_ft"),
    [
        (2, None, (4,), (1.834,), 52.393),
        (3, None, (2, 4), (1.412, 1.760), 56.786),
        (3, 1.0, (3, 5), (1.000, 0.673), 64.064),
    ],
)
def test_the_check_values_of_stepped_beams(sections, step_ft, after, steps_ft, total_ft):
    """docs/layout.md, Check values, as printed there: by `Brute` above on a grid of 0.05 m."""
    step = None if step_ft is None else step_ft * FT
    found = sections_of(stepped_job(7, sections=sections, step_max_m=step), bank)
    lines = [one.job.array.modules_along for one in found]
    assert tuple(itertools.accumulate(lines[:-1])) == after
    assert [one.step_m / FT for one in found[1:]] == pytest.approx(steps_ft, abs=0.0006)
    assert cost_of(found, "steel") / FT == pytest.approx(total_ft, abs=0.0006)


def test_two_sections_a_foot_apart_do_not_do_on_the_bank_of_the_check_values():
    job = stepped_job(7, sections=2)
    stepper = Stepper(
        parting_of(job, style="metric"), placed_en_m=(0.0, 0.0), ground=FormulaGround(bank), style="metric"
    )
    assert stepper.best(2, 1.0 * FT) is None
