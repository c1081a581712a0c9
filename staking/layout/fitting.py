"""The plane that an array takes on its ground: see docs/layout.md.

Ground error changes how long a post is and how deep it stands, never the line of the rails; the rails are
true when the cut marks are true. Both uncertainties are kept.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from staking.base.errors import Mistake, WrongInput
from staking.book.records import Accuracy, ArrayJob
from staking.ground.elevations import Elevations, Ground
from staking.layout.around import Around
from staking.layout.beams import beams_of, clear_cross_slopes
from staking.layout.field import both_faces, plan_outline
from staking.layout.frame import ArrayPlane, Fit, NoPlaneFits, PierLengths, Piers
from staking.layout.heights import Yard, yard_of
from staking.layout.piers import a1_places, piers_at, plan_offsets
from staking.layout.plane import beam_height, rail_slope, skew, true_azimuth, true_tilt
from staking.layout.search import Aim, Found, Ranges, bounds_of, least_steel, least_tallest, searched
from staking.layout.shape import FrameShape, shape_of

MOST_PIERS = 5_000
"""Of one array: the joint covariance of so many takes 200 MB, and some copies of it are made."""
AIMS: dict[str, Aim] = {"steel": least_steel, "tallest": least_tallest}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Posed:
    """One array's question to its ground: the frame placed in the yard, and the cross-slopes open to it."""

    yard: Yard
    ranges: Ranges


def fitted(
    job: ArrayJob,
    *,
    placed_en_m: tuple[float, float],
    ground: Ground,
    accuracy: Accuracy,
    style: str = "metric",
    around: Around | None = None,
) -> Fit:
    """Return the array laid out on its ground.

    Parameters
    ----------
    job : ArrayJob
        Array, frame, place and limits.
    placed_en_m : (float, float)
        Where the pier that `job.place` names stands: see `staking.layout.place.placed_position`.
    ground : Ground
        The ground's surface and its uncertainty, as this array sees it: piers are asked for by their names
        without the array's.
    accuracy : Accuracy
        Of the rod, the mark and the saw.
    style : str
        In which messages tell lengths.
    around : Around, optional
        The line that `job.place` names and what must be kept clear of, for the shift that would do; without
        the former a place by a line is not shifted.

    Raises
    ------
    WrongInput
        When the frame cannot be built; every part that is wrong.
    NoPlaneFits
        When no plane meets the limits: which limits conflict where, by how much, and what would do.
    """
    posed = posed_of(job, placed_en_m=placed_en_m, ground=ground, style=style)
    if len(posed.yard.names) > MOST_PIERS:
        raise WrongInput([_too_many(job, len(posed.yard.names))])
    found = searched(posed.yard, bounds_of(job.fit), AIMS[job.fit.least], posed.ranges)
    if not found.fits:
        from staking.layout.remedies import conflicts_of, would_do

        raise NoPlaneFits(
            conflicts_of(posed.yard, job.fit, found, style=style),
            would_do(job, placed_en_m=placed_en_m, ground=ground, style=style, around=around),
        )
    return fit_of(posed.yard, found, accuracy)


def posed_of(
    job: ArrayJob, *, placed_en_m: tuple[float, float], ground: Ground, style: str = "metric"
) -> Posed:
    """Return the frame placed in the yard and its open cross-slopes; raises WrongInput."""
    shape = shape_of(job, style=style)
    sloping = job.fit.beams == "sloping" and job.fit.max_cross_slope_rad is not None
    most = job.fit.max_cross_slope_rad if sloping and job.fit.max_cross_slope_rad is not None else 0.0
    ranges = clear_cross_slopes(shape, most, array_name=job.name, style=style)
    try:
        yard = yard_of(shape, ground, pier=job.place.pier, placed_en_m=placed_en_m, array_name=job.name)
    except KeyError:
        raise WrongInput([_no_pier(job, shape)]) from None
    return Posed(yard=yard, ranges=ranges)


def _too_many(job: ArrayJob, piers: int) -> Mistake:
    return Mistake(
        file="job.toml",
        column="frame" + (f" of array {job.name}" if job.name else ""),
        problem=f"{piers:,} piers in one array; at most {MOST_PIERS:,}, whose joint uncertainty is kept",
        remedy="Part it into several [[arrays]]",
    )


def _no_pier(job: ArrayJob, shape: FrameShape) -> Mistake:
    last = piers_at(shape, 0.0, (0.0, 0.0)).names[-1]
    return Mistake(
        file="job.toml",
        column="place.pier" + (f" of array {job.name}" if job.name else ""),
        read=job.place.pier,
        problem="no pier of this name",
        expected=f"A1 to {last}: the beam's letter, A the low one, and the number from the left",
    )


def plane_of(yard: Yard, found: Found) -> ArrayPlane:
    """Return the plane that was found, as low as the limits allow."""
    shape = yard.shape
    a1 = a1_places(shape, found.cross_rad, yard.placed, yard.placed_en_m)
    return ArrayPlane(
        azimuth_rad=shape.azimuth_rad,
        tilt_rad=shape.tilt_rad,
        cross_slope_rad=found.cross_rad,
        a1_en_m=(float(a1[0]), float(a1[1])),
        z_a1_m=found.low_m,
        axes_north_rad=shape.axes_north_rad,
    )


def fit_of(yard: Yard, found: Found, accuracy: Accuracy) -> Fit:
    """Return the layout on the plane that was found."""
    shape = yard.shape
    plane = plane_of(yard, found)
    piers = piers_at(shape, found.cross_rad, plane.a1_en_m)
    faces = both_faces(shape, plane)
    corners, outline = faces[4:, :2], plan_outline(faces)
    for one in (corners, outline):
        one.setflags(write=False)
    return Fit(
        plane=plane,
        piers=piers,
        lengths=_lengths_of(yard, plane, piers, accuracy),
        beams=beams_of(shape, plane),
        bay_m=shape.bay_m,
        modules_outline_en_m=corners,
        plan_outline_en_m=outline,
        rail_length_m=shape.height_m + 2 * shape.rail_end_m,
        rails=len(shape.rails_m),
        clearance_m=found.low_m + found.lowest.height_m,
        clearance_at_en_m=found.lowest.en_m,
        highest_m=found.low_m + found.highest.height_m,
        highest_at_en_m=found.highest.en_m,
        true_tilt_rad=true_tilt(plane),
        true_azimuth_rad=true_azimuth(plane),
        rail_slope_rad=rail_slope(plane),
        skew_m=skew(plane, shape.rail_run_m),
    )


def _lengths_of(yard: Yard, plane: ArrayPlane, piers: Piers, accuracy: Accuracy) -> PierLengths:
    """Return tops and above-grade lengths with both uncertainties.

    The top against the benchmark carries one rod reading (the backsight), the mark and the saw; against its
    neighbour's, marked from one setup, the mark and the saw of both. The above-grade length carries the
    ground's uncertainty too.
    """
    grade = yard.ground.at_piers(yard.names, piers.en_m)
    s, t = plan_offsets(yard.shape, plane.cross_slope_rad)
    rise = beam_height(plane.tilt_rad, plane.cross_slope_rad, s, t)
    top = plane.z_a1_m + rise - yard.shape.takeout_m
    above = top - grade.z_m
    sd_top = math.sqrt(accuracy.rod_m**2 + accuracy.mark_m**2 + accuracy.saw_m**2)
    sd_above = np.sqrt(np.diag(grade.cov_m2) + sd_top**2)
    for array in (grade.z_m, grade.cov_m2, top, above, sd_above):
        array.setflags(write=False)
    return PierLengths(
        ground_m=grade.z_m,
        ground_cov_m2=grade.cov_m2,
        top_m=top,
        sd_top_m=sd_top,
        sd_top_neighbour_m=math.sqrt(2) * math.hypot(accuracy.mark_m, accuracy.saw_m),
        above_grade_m=above,
        sd_above_grade_m=sd_above,
    )


def as_sure_as(fit: Fit, grade: Elevations) -> Fit:
    """Return the same layout with the uncertainties of another look at the same ground under its piers."""
    sd_above = np.sqrt(np.diag(grade.cov_m2) + fit.lengths.sd_top_m**2)
    sd_above.setflags(write=False)
    return replace(fit, lengths=replace(fit.lengths, ground_cov_m2=grade.cov_m2, sd_above_grade_m=sd_above))
