"""The fitted plane against a search by brute force, limit cases and invariances."""

import math
from dataclasses import replace

import numpy as np
import pytest
from yards import (
    FT,
    IN,
    MM,
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
    with_frame,
)

from staking.book.records import Accuracy
from staking.ground.elevations import Elevations
from staking.layout.fitting import fitted, posed_of
from staking.layout.frame import NoPlaneFits
from staking.layout.heights import Heights
from staking.layout.search import bounds_of, least_steel, searched

LIMIT_M = 0.1 * MM
"""Clearance is held to 0.1 mm on smooth ground."""
SPOTS_M = 0.2
STEP_DEG = 0.04


def random_yard(seed):
    """A job and a smooth ground, drawn."""
    rng = np.random.default_rng(seed)
    slope = rng.uniform(-0.08, 0.08), rng.uniform(-0.1, 0.2)
    waves = [
        (rng.uniform(0.01, 0.08), rng.uniform(0.3, 1.2), rng.uniform(0, math.tau), rng.uniform(0, math.tau))
        for _ in range(4)
    ]

    def z_of(x, y):
        z = 30 + slope[0] * x + slope[1] * y
        for size, number, way, phase in waves:
            z = z + size * np.sin(number * (x * math.cos(way) + y * math.sin(way)) + phase)
        return z

    job = check_job(
        max_cross_slope_deg=float(rng.uniform(1, 4)),
        least="steel" if seed % 2 else "tallest",
        highest_m=5.0 if seed % 3 else None,
    )
    job = with_array(
        job, azimuth_rad=float(rng.uniform(0, math.tau)), tilt_rad=float(rng.uniform(0, math.radians(50)))
    )
    job = with_frame(job, rail_clear_m=0.0)
    return replace(job, place=replace(job.place, pier=("A1", "B3", "A5")[seed % 3])), z_of


def brute(job, z_of, placed, spacing_m=SPOTS_M):
    """The least aim by trying every cross-slope, in plain 3-D vectors."""
    limits = job.fit
    most = limits.max_cross_slope_rad
    best = math.inf
    for cross in np.linspace(-most, most, 1 + round(math.degrees(2 * most) / STEP_DEG)):
        above, clear, high = asked_of(job, Vectors(job, cross, (2.0, -1.0), placed), z_of, spacing_m)
        h = max(limits.above_grade_min_m - above.min(), limits.clearance_m - clear)
        if h + above.max() > limits.above_grade_max_m:
            continue
        if limits.highest_m is not None and h + high > limits.highest_m:
            continue
        best = min(best, (above + h).sum() if limits.least == "steel" else (above + h).max())
    return best


@pytest.mark.parametrize("seed", range(100))
def test_nothing_better_is_found_by_brute_force(seed):
    job, z_of = random_yard(seed)
    placed = {"A1": (0, 1), "B3": (1, 3), "A5": (0, 5)}[job.place.pier]
    fit = fitted(job, placed_en_m=(2.0, -1.0), ground=FormulaGround(z_of), accuracy=Accuracy())
    aim = fit.total_above_grade_m if job.fit.least == "steel" else fit.lengths.above_grade_m.max()
    # The brute search looks at spots alone, so it may stand a little lower: 1 mm each at most here.
    slack = 1 * MM * (10 if job.fit.least == "steel" else 1)
    assert aim <= brute(job, z_of, placed) + slack

    # And what was found holds everywhere, by plain vectors on a finer look.
    vectors = Vectors(job, fit.plane.cross_slope_rad, (2.0, -1.0), placed)
    above, clear, high = asked_of(job, vectors, z_of, 0.07)
    h = fit.plane.z_a1_m
    np.testing.assert_allclose(above + h, fit.lengths.above_grade_m, atol=1e-9)
    np.testing.assert_allclose(vectors.stakes[:, :2], fit.piers.en_m, atol=1e-9)
    assert clear + h >= job.fit.clearance_m - LIMIT_M
    assert fit.clearance_m <= clear + h + 1e-9
    assert fit.clearance_m == pytest.approx(clear + h, abs=1 * MM)
    assert fit.highest_m >= high + h - 1e-9
    assert fit.highest_m == pytest.approx(high + h, abs=1 * MM)
    assert (above + h).min() >= job.fit.above_grade_min_m - 1e-9
    held = min((above + h).min() - job.fit.above_grade_min_m, fit.clearance_m - job.fit.clearance_m)
    assert held == pytest.approx(0, abs=1e-6)  # no higher than a limit asks


def test_clearance_over_a_mound_between_the_first_places_looked_at():
    def z_of(x, y):
        return 30 + 0.6 * np.exp(-((x - 5.13) ** 2 + (y - 1.37) ** 2) / 0.4**2)

    job = check_job(max_cross_slope_deg=3)
    fit = laid_out(job, z_of)
    vectors = Vectors(job, fit.plane.cross_slope_rad)
    near = vectors.face(0.01, 0.130)
    clear = (near[:, 2] + fit.plane.z_a1_m - z_of(near[:, 0], near[:, 1])).min()
    assert clear == pytest.approx(22 * IN, abs=LIMIT_M)
    assert fit.clearance_m == pytest.approx(22 * IN, abs=1e-6)


def test_a_peak_at_a_shot_is_seen():
    """A surface may peak sharply at a shot, between the places of any grid."""

    def z_of(x, y):
        return 30 + np.maximum(0, 0.8 - 40 * np.hypot(x - 5.03, y - 1.41))

    blind = laid_out(check_job(), z_of)
    seeing = laid_out(check_job(), z_of, shots=((5.03, 1.41), (100.0, 0.0)))
    assert seeing.clearance_at_en_m == pytest.approx((5.03, 1.41), abs=0.001)
    assert seeing.plane.z_a1_m > blind.plane.z_a1_m + 0.05
    assert seeing.clearance_m == pytest.approx(22 * IN, abs=LIMIT_M)


def test_a_peak_at_a_shot_is_seen_under_sloping_beams():
    def z_of(x, y):
        return sloping_ground(x, y) + np.maximum(0, 0.8 - 40 * np.hypot(x - 5.03, y - 1.41))

    fit = laid_out(check_job(max_cross_slope_deg=5), z_of, shots=((5.03, 1.41),))
    assert abs(fit.plane.cross_slope_rad) > math.radians(1)
    assert fit.clearance_m == pytest.approx(22 * IN, abs=LIMIT_M)
    vectors = Vectors(check_job(), fit.plane.cross_slope_rad)
    corner = vectors.low_middle + 0.130 * vectors.n
    d = np.array([5.03, 1.41]) - corner[:2]
    plumb = corner[2] - (vectors.n[:2] @ d) / vectors.n[2] + fit.plane.z_a1_m - z_of(5.03, 1.41)
    assert plumb >= 22 * IN - LIMIT_M


@pytest.mark.parametrize("sd", [0.0, 0.02])
def test_both_uncertainties_are_kept(sd):
    accuracy = Accuracy(rod_m=0.003, mark_m=0.001, saw_m=0.002)
    ground = FormulaGround(sloping_ground, sd_m=sd)
    lengths = fitted(check_job(), placed_en_m=(0.0, 0.0), ground=ground, accuracy=accuracy).lengths
    assert lengths.sd_top_m == pytest.approx(math.sqrt(14) * MM)
    assert lengths.sd_top_neighbour_m == pytest.approx(math.sqrt(10) * MM)
    assert lengths.sd_above_grade_m == pytest.approx([math.hypot(sd, math.sqrt(14) * MM)] * 10)
    np.testing.assert_array_equal(lengths.ground_cov_m2, np.eye(10) * sd**2)


def test_top_less_ground_is_the_above_grade_length():
    fit = laid_out(check_job(max_cross_slope_deg=3), wavy_ground)
    lengths = fit.lengths
    np.testing.assert_allclose(lengths.top_m - lengths.ground_m, lengths.above_grade_m, atol=1e-12)
    assert lengths.top_m[0] == pytest.approx(fit.plane.z_a1_m - 0.055)


def test_a_shot_at_the_stake_rules_over_the_surface():
    class Staked(FormulaGround):
        def z_at_piers(self, names, en_m):
            return self.z(en_m) + np.array([0.2 if n == "A1" else 0.0 for n in names])

        def at_piers(self, names, en_m):
            return Elevations(z_m=self.z_at_piers(names, en_m), cov_m2=np.zeros((len(en_m),) * 2))

    job = replace(check_job(max_cross_slope_deg=1), name="South")
    fit = fitted(job, placed_en_m=(0.0, 0.0), ground=Staked(level_ground), accuracy=Accuracy())
    assert fit.piers.names[0] == "A1"
    assert fit.lengths.ground_m[0] == pytest.approx(30.2)
    assert fit.lengths.above_grade_m.min() >= 20 * IN - 1e-9


def test_mirrored_yard_gives_the_mirrored_layout():
    job = check_job(max_cross_slope_deg=5)
    fit = laid_out(job, wavy_ground)
    turned = with_array(job, azimuth_rad=math.tau - job.array.azimuth_rad)
    turned = replace(turned, place=replace(job.place, pier="A5"))
    mirror = laid_out(turned, lambda x, y: wavy_ground(-x, y))
    # The wavy optimum is flat, so the cross-slope itself is held less sharply than the total.
    assert mirror.total_above_grade_m == pytest.approx(fit.total_above_grade_m, abs=1e-7)
    assert mirror.plane.cross_slope_rad == pytest.approx(-fit.plane.cross_slope_rad, abs=1e-6)
    assert mirror.skew_m == pytest.approx(-fit.skew_m, abs=1e-6)
    assert mirror.true_azimuth_rad == pytest.approx(math.tau - fit.true_azimuth_rad, abs=1e-5)
    lengths = mirror.lengths.above_grade_m.reshape(2, 5)[:, ::-1].ravel()
    np.testing.assert_allclose(lengths, fit.lengths.above_grade_m, atol=1e-5)
    for ours, theirs in zip(fit.beams, mirror.beams, strict=True):
        assert theirs.first_post_m == pytest.approx(ours.length_m - ours.posts_m[-1], abs=1e-6)


@pytest.mark.parametrize("turn_deg", [37.0, 180.0])
def test_turning_the_site_changes_nothing(turn_deg):
    job = check_job(max_cross_slope_deg=5)
    fit = laid_out(job, wavy_ground, at=(3.0, 1.0))
    turn = math.radians(turn_deg)
    cos, sin = math.cos(turn), math.sin(turn)

    def turned(x, y):  # clockwise, as azimuths run
        return x * cos + y * sin, -x * sin + y * cos

    def back(x, y):
        return x * cos - y * sin, x * sin + y * cos

    other = laid_out(
        with_array(job, azimuth_rad=job.array.azimuth_rad + turn),
        lambda x, y: wavy_ground(*back(x, y)),
        at=turned(3.0, 1.0),
    )
    np.testing.assert_allclose(other.lengths.above_grade_m, fit.lengths.above_grade_m, atol=1e-6)
    np.testing.assert_allclose(other.piers.en_m, np.array([turned(*p) for p in fit.piers.en_m]), atol=1e-8)
    assert other.plane.cross_slope_rad == pytest.approx(fit.plane.cross_slope_rad, abs=1e-6)


def test_raising_the_datum_raises_the_tops_alone():
    job = check_job(max_cross_slope_deg=5)
    fit, raised = laid_out(job, wavy_ground), laid_out(job, lambda x, y: wavy_ground(x, y) + 100)
    np.testing.assert_allclose(raised.lengths.top_m, fit.lengths.top_m + 100, atol=1e-6)


def test_a_placed_pier_other_than_a1_stands_where_it_is_placed():
    job = check_job(max_cross_slope_deg=5)
    job = replace(job, place=replace(job.place, pier="b4"))
    fit = laid_out(job, wavy_ground, at=(7.0, 3.0))
    assert fit.plane.cross_slope_rad != 0
    np.testing.assert_allclose(fit.piers.en_m[8], (7.0, 3.0), atol=1e-12)
    np.testing.assert_allclose(fit.piers.en_m[0], fit.plane.a1_en_m, atol=1e-12)


def test_least_steel_and_lowest_tallest_post_are_different_aims():
    steel = laid_out(check_job(max_cross_slope_deg=5), wavy_ground)
    tallest = laid_out(check_job(max_cross_slope_deg=5, least="tallest"), wavy_ground)
    assert tallest.lengths.above_grade_m.max() < steel.lengths.above_grade_m.max() - 1 * MM
    assert steel.total_above_grade_m < tallest.total_above_grade_m - 1 * MM


def test_cross_slope_keeps_to_what_the_fitting_allows():
    fit = laid_out(check_job(max_cross_slope_deg=2), sloping_ground)
    assert math.degrees(fit.plane.cross_slope_rad) == pytest.approx(2, abs=1e-9)
    steep = laid_out(check_job(max_cross_slope_deg=2), lambda x, y: 30 - 0.2 * x + 0.1 * y)
    assert math.degrees(steep.plane.cross_slope_rad) == pytest.approx(-2, abs=1e-9)


def test_level_ground_keeps_sloping_beams_level():
    fit = laid_out(check_job(max_cross_slope_deg=3), level_ground)
    assert fit.plane.cross_slope_rad == 0
    level = laid_out(check_job(), level_ground)
    assert math.copysign(1, level.plane.cross_slope_rad) == 1  # a sheet must not print -0


def test_flat_and_steep_arrays():
    flat = laid_out(with_array(check_job(), tilt_rad=0.0), level_ground)
    # Flat: the underside stands stack above the beam, so the least above-grade length rules.
    assert flat.lengths.above_grade_m == pytest.approx([20 * IN] * 10)
    assert flat.true_azimuth_rad == math.radians(172)
    assert flat.clearance_m == pytest.approx(20 * IN + 0.055 + 0.130)
    assert flat.highest_m == pytest.approx(20 * IN + 0.055 + 0.130 + 0.030)
    steep = laid_out(with_array(check_job(), tilt_rad=math.radians(89)), level_ground)
    assert steep.clearance_m == pytest.approx(22 * IN)


def test_highest_is_the_upper_face_above_the_ground_below_it():
    fit = laid_out(check_job(), level_ground)
    rise = math.sin(math.radians(28)) * (3 * 44.1 + 2 * 0.375) * IN
    assert fit.clearance_m == pytest.approx(22 * IN)
    assert fit.highest_m == pytest.approx(22 * IN + rise + 0.030 * math.cos(math.radians(28)))
    assert fit.rail_slope_rad == pytest.approx(math.radians(28))


def test_a_sliver_of_cross_slopes_is_found():
    """Only a thousandth of a degree of cross-slope meets both limits, far from level and from any step."""
    ideal = laid_out(check_job(max_cross_slope_deg=5, least="tallest"), wavy_ground)
    longest = ideal.lengths.above_grade_m.max()
    tight = check_job(max_cross_slope_deg=5, above_grade_max_m=longest + 2e-6)
    fit = laid_out(tight, wavy_ground)
    assert fit.lengths.above_grade_m.max() <= longest + 4e-6
    short = with_fit(tight, above_grade_max_m=longest - 0.1 * MM)
    posed = posed_of(short, placed_en_m=(0.0, 0.0), ground=FormulaGround(wavy_ground))
    found = searched(posed.yard, bounds_of(short.fit), least_steel, posed.ranges)
    assert not found.fits
    assert found.low_m - found.high_m == pytest.approx(0.1 * MM, abs=2e-6)


def test_two_separate_ranges_of_cross_slope():
    """The rails of a frame bar the cross-slopes between: the best lies at the edge of what is left."""
    job = with_frame(
        with_array(check_job(max_cross_slope_deg=12), modules_along=6, gap_along_m=0.0),
        piers_per_beam=3,
        bay_m=2 * 66.9 * IN,
        rail_inset_m=2.3 * IN,
    )
    fit = laid_out(job, lambda x, y: 30 + 0.10 * x + 0.1 * y)
    for beam in fit.beams:
        assert min(abs(r - p) for r in beam.rails_m for p in beam.posts_m) >= 2 * IN - 2e-6
    free = laid_out(with_frame(job, rail_clear_m=0.0), lambda x, y: 30 + 0.10 * x + 0.1 * y)
    assert fit.total_above_grade_m > free.total_above_grade_m
    assert abs(fit.plane.cross_slope_rad) > 0


def test_a_fit_looks_at_few_places_of_the_ground():
    """A kriged ground of 60 shots takes about 3 µs a place; 100 ms are 30 000 places."""
    ground = FormulaGround(wavy_ground)
    fitted(check_job(max_cross_slope_deg=5), placed_en_m=(0.0, 0.0), ground=ground, accuracy=Accuracy())
    assert ground.asked < 40_000


def test_a_ridge_across_the_modules():
    """Ground with a sharp crest: the answer is exact although the ground bends at once."""

    def z_of(x, y):
        return 30 + 0.04 * x - 0.25 * np.abs(x - 4.321) + 0.1 * y

    job = check_job(max_cross_slope_deg=4)
    fit = laid_out(job, z_of)
    vectors = Vectors(job, fit.plane.cross_slope_rad)
    _, clear, _ = asked_of(job, vectors, z_of, 0.01)
    assert fit.clearance_m <= clear + fit.plane.z_a1_m + 1e-9
    assert fit.clearance_m == pytest.approx(clear + fit.plane.z_a1_m, abs=1 * MM)


def test_a_stake_that_a_cross_slope_leaves_behind():
    """A shot at a stake counts only while the pier stands by it: the grade there is a step in the search.

    A5 leaves its stake, on a stump, at 3.2°; without the stump the best cross-slope were 3.06°.
    """
    stake = laid_out(check_job(), sloping_ground).piers.en_m[4]
    reach = 4 * 8.75 * FT * (1 - math.cos(math.radians(3.2)))

    class Staked(FormulaGround):
        def z_at_piers(self, names, en_m):
            by_it = np.hypot(*(en_m - stake).T) <= reach
            return self.z(en_m) + np.where(by_it & np.array([n == "A5" for n in names]), 0.3, 0.0)

        def at_piers(self, names, en_m):
            return Elevations(z_m=self.z_at_piers(names, en_m), cov_m2=np.zeros((len(en_m),) * 2))

    job = check_job(max_cross_slope_deg=6)
    fit = fitted(job, placed_en_m=(0.0, 0.0), ground=Staked(sloping_ground), accuracy=Accuracy())
    assert math.degrees(fit.plane.cross_slope_rad) == pytest.approx(3.2, abs=0.01)
    # On its stake A5 would stand 0.3 m too low: the fit has left it.
    assert fit.lengths.ground_m[4] == pytest.approx(sloping_ground(*fit.piers.en_m[4]))
    assert fit.lengths.above_grade_m.min() >= 20 * IN - 1e-6
    assert fit.clearance_m >= 22 * IN - 1e-6


@pytest.mark.parametrize("part", ["least_pier_m", "most_pier_m", "clearance_m", "highest_m"])
def test_heights_differ_by_their_worst_part(part):
    zero = np.zeros(1)
    same = Heights(
        cross_rad=zero,
        least_pier_m=zero,
        most_pier_m=zero,
        piers_m=zero,
        clearance_m=zero,
        highest_m=zero,
        count=1,
    )
    assert same.differs(same) == 0
    assert replace(same, **{part: zero - 0.25}).differs(same) == 0.25


def test_the_limit_on_the_highest_spot_counts_the_modules_thickness():
    free = laid_out(check_job(), level_ground)
    laid_out(check_job(highest_m=free.highest_m + 1 * MM), level_ground)
    with pytest.raises(NoPlaneFits):
        laid_out(check_job(highest_m=free.highest_m - 1 * MM), level_ground)
