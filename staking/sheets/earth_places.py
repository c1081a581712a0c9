"""Latitude and longitude of the stakes, where the site is tied to the earth well enough not to mislead.

A site is tied by fixes or by control points on a map grid; ``[site]`` latitude and longitude alone say only
roughly where the yard is and are no tie. Where the tie cannot tell one stake from the next, nothing is given.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from staking.control.adjustment import EarthTie
from staking.control.directions import Norths
from staking.plan import ArrayPlan, Plan
from staking.sheets.earth_model import EarthModel, EarthOutline, EarthPlace
from staking.sheets.map_extent import control_marks
from staking.sheets.notation import Notation
from staking.sheets.stamp import Stamp

Floats = NDArray[np.float64]

SURE_SDS = 2.0
"""A place is taken to lie within so many standard deviations (95 in 100 along one axis)."""


def earth_model(plan: Plan, stamp: Stamp) -> EarthModel | None:
    """Return the stakes and lasting marks on the earth, None where `earth_refusal` says why not."""
    earth = plan.adjustment.earth
    if earth is None or not plan.arrays or earth_refusal(plan):
        return None
    notation = Notation(style=plan.book.job.site.show)
    worst_m = max(_sd_m(plan, earth, en) for array in plan.arrays for en in array.fit.piers.en_m)
    if _known(worst_m) is None:
        tied = (
            "The points that tie the stakes to WGS 84 are held without a standard deviation: how exactly "
            "they lie is not known"
        )
    else:
        within = notation.small_words(_up(worst_m, notation))
        tied = f"Stakes lie on WGS 84 within {within} (one standard deviation)"
    remarks = [
        f"{tied}; against one another they are as exact as on the sheets. Set them out from the pins, not by "
        "a receiver, where that is finer.",
        *stamp.cautions,
    ]
    places = [place for array in plan.arrays for place in _stakes(plan, earth, array, notation)]
    return EarthModel(
        title=stamp.job,
        facts=stamp.facts,
        remarks=tuple(remarks),
        places=(*places, *_marks(plan, earth)),
        outlines=tuple(_outline(earth, array) for array in plan.arrays),
    )


def earth_refusal(plan: Plan) -> str:
    """Return why no latitudes are given where something asks for them; empty where they are or nobody asks.

    The site must be tied so well that a stake cannot be taken for its neighbour: twice the standard deviation
    of its place is less than half the least distance between two stakes.
    """
    earth, site = plan.adjustment.earth, plan.book.job.site
    if not plan.arrays:
        return ""
    if earth is None:
        if plan.book.on_grid:
            return f"nothing leads from {site.grid} to latitude and longitude here"
        if site.latitude_rad is not None and site.longitude_rad is not None:
            return (
                "[site] latitude and longitude say where the yard is, not where a pin stands: fixes of pins "
                "(fixes.csv) or pins on a map grid would tie it"
            )
        return ""
    if not math.isfinite(float(earth.cov_m2[:2, :2].sum())):
        return "how well the site is tied to the earth is not known"
    notation = Notation(style=site.show)
    worst_m = max(_sd_m(plan, earth, en) for array in plan.arrays for en in array.fit.piers.en_m)
    apart_m = _least_apart_m(plan)
    if SURE_SDS * worst_m < apart_m / 2:
        return ""
    return (
        f"stakes {notation.words(apart_m)} apart would be known on the earth to "
        f"{notation.small_words(_up(worst_m, notation))} only (one standard deviation), so that one could be "
        f"taken for the next. {_would_do(plan, earth)}"
    )


def _would_do(plan: Plan, earth: EarthTie) -> str:
    if _turn_sd_rad(plan) > 0.0 and SURE_SDS * _half_axis_m(earth.cov_m2[:2, :2]) < _least_apart_m(plan) / 2:
        return "The site's azimuth is magnetic: fixes of two pins, or the sun, would turn it better"
    if not plan.book.fixes:
        return f"The change of datum from {plan.book.job.site.grid} is no better: fixes of pins would be"
    return (
        'Fixes by RTK would do; say how far a session of theirs may be off: [accuracy] session = "20 mm", '
        'or [instruments] fix = "RTK receiver"'
    )


def _least_apart_m(plan: Plan) -> float:
    """Return the least level distance between two stakes of the site; infinite for a single one."""
    places = np.vstack([array.fit.piers.en_m for array in plan.arrays])
    if len(places) < 2:
        return math.inf
    from scipy.spatial import cKDTree

    # The nearest to each place is itself.
    away, _ = cKDTree(places).query(places, k=2)
    return float(np.asarray(away)[:, 1].min())


def _up(value_m: float, notation: Notation) -> float:
    """Return a standard deviation rounded up to the last place printed."""
    return max(1, math.ceil(value_m / notation.step_m)) * notation.step_m


def _sd_m(
    plan: Plan, earth: EarthTie, en_m: Floats | tuple[float, float], cov_m2: Floats | None = None
) -> float:
    """Return the longer half-axis of a place on the earth: of the tie, and of the turn of the axes.

    An azimuth by compass is held in the adjustment; its own uncertainty swings the site about the fixes.
    """
    whole = np.array(earth.cov_m2 if cov_m2 is None else cov_m2)[:2, :2]
    east, north = float(en_m[0]) - earth.frame.east_m, float(en_m[1]) - earth.frame.north_m
    swing = np.array([north, -east]) * _turn_sd_rad(plan)
    return _half_axis_m(whole + np.outer(swing, swing))


NOTHING_M = 1e-9
"""A standard deviation of less is that of points held as exact, of whose exactness nothing is said."""


def _known(sd_m: float) -> float | None:
    return None if sd_m < NOTHING_M else sd_m


def _half_axis_m(cov_m2: Floats) -> float:
    return math.sqrt(max(0.0, float(np.linalg.eigvalsh(cov_m2).max())))


def _turn_sd_rad(plan: Plan) -> float:
    """Return one standard deviation of the direction that turns the site, where it was held as exact."""
    azimuth = plan.book.job.control.azimuth
    fixed = [row for row in plan.book.control_points if row.east_m is not None and row.north_m is not None]
    if azimuth is None or azimuth.north != "magnetic" or len(fixed) > 1:
        return 0.0
    turn = Norths(book=plan.book).turn("magnetic", file="job.toml", row=None, column="control.azimuth")
    return 0.0 if turn is None else turn.sd_rad


def _heights(earth: EarthTie, elevation_m: float) -> tuple[float | None, float | None]:
    """Return the orthometric and the ellipsoidal height of an elevation: one at most is known."""
    if earth.height_m is None or not math.isfinite(elevation_m):
        return None, None
    height_m = earth.height_m + elevation_m
    return (height_m, None) if earth.height_kind == "orthometric" else (None, height_m)


def _degrees(earth: EarthTie, en_m: Floats | tuple[float, float]) -> tuple[float, float]:
    lat_rad, lon_rad = earth.frame.geodetic(float(en_m[0]), float(en_m[1]))
    return math.degrees(lat_rad), math.degrees(lon_rad)


def _stakes(plan: Plan, earth: EarthTie, array: ArrayPlan, notation: Notation) -> Iterator[EarthPlace]:
    lengths, holes = array.fit.lengths, {hole.pier: hole for hole in array.holes}
    for i, (name, en) in enumerate(zip(array.fit.piers.names, array.fit.piers.en_m, strict=True)):
        lat_deg, lon_deg = _degrees(earth, en)
        ground_m, above_m = float(lengths.ground_m[i]), float(lengths.above_grade_m[i])
        sea_m, ellipsoid_m = _heights(earth, ground_m)
        numbers = [("east_m", float(en[0])), ("north_m", float(en[1])), ("ground_m", ground_m)]
        numbers.append(("above_grade_m", above_m))
        words = f"stake of pier {array.pier_name(name)}; above grade {notation.words(above_m)}"
        if name in holes:
            numbers.append(("hole_depth_m", holes[name].hole_depth_m))
            words += f"; hole {notation.words(holes[name].hole_depth_m)} deep"
        yield EarthPlace(
            name=array.pier_name(name),
            kind="stake",
            lat_deg=lat_deg,
            lon_deg=lon_deg,
            sd_m=_known(_sd_m(plan, earth, en)),
            above_sea_m=sea_m,
            above_ellipsoid_m=ellipsoid_m,
            words=words,
            numbers=tuple(numbers),
        )


def _marks(plan: Plan, earth: EarthTie) -> Iterator[EarthPlace]:
    points = plan.adjustment.points
    for mark in control_marks(plan):
        lat_deg, lon_deg = _degrees(earth, mark.en_m)
        elevation_m = math.nan if mark.elevation_m is None else mark.elevation_m
        sea_m, ellipsoid_m = _heights(earth, elevation_m)
        numbers = [("east_m", mark.en_m[0]), ("north_m", mark.en_m[1])]
        if mark.elevation_m is not None:
            numbers.append(("elevation_m", mark.elevation_m))
        cov_m2 = earth.cov_of(points.index(mark.name), points)
        yield EarthPlace(
            name=mark.name,
            kind=mark.kind,
            lat_deg=lat_deg,
            lon_deg=lon_deg,
            sd_m=_known(_sd_m(plan, earth, mark.en_m, cov_m2)),
            above_sea_m=sea_m,
            above_ellipsoid_m=ellipsoid_m,
            words=f"{mark.kind} {mark.name}",
            numbers=tuple(numbers),
        )


def _outline(earth: EarthTie, array: ArrayPlan) -> EarthOutline:
    return EarthOutline(
        name=f"edge of the modules {array.title}".strip(),
        kind="modules",
        lat_lon_deg=tuple(_degrees(earth, en) for en in array.fit.plan_outline_en_m),
    )
