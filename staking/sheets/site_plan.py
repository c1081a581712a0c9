"""The site at its true coordinates from a plan: stakes, holes, posts, frame, marks, lines, contours."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from staking.base.units import in_unit
from staking.ground.yard import YardGround
from staking.plan import ArrayPlan, Plan
from staking.sheets.map_extent import control_marks
from staking.sheets.map_ground import contours
from staking.sheets.place_areas import place_areas
from staking.sheets.site_model import ENZ, Label, Layer, Ring, Run, SiteModel, Spot
from staking.sheets.stamp import Stamp

Floats = NDArray[np.float64]
Item = Spot | Run | Ring | Label

NAME_TALL_M = 0.12
"""Height of names: legible beside a 12 in hole."""
NOTE_TALL_M = 0.25
_NOTE_WIDTH = 72
"""Signs in a line of the notes."""
_CONTOUR_SCALE = 100
"""Contours are as fine as on a map at this scale, or at the one at which the site is as long as this:"""
_LONGEST_MM = 500.0
_AROUND = 0.25
"""Share of the site's length to which contours reach beyond what is on it."""

LAYERS = (
    Layer(name="PIERS", words="stakes of the piers, at the elevation of the ground"),
    Layer(name="PIER_NAMES", words="their names"),
    Layer(name="HOLES", words="edges of the holes"),
    Layer(name="POSTS", words="posts from the ground to their tops"),
    Layer(name="BEAMS", words="centrelines of the beams, end to end", dash="dashdot"),
    Layer(name="MODULES", words="edge of the modules in plan, at elevation 0", dash="dashed"),
    Layer(name="HUBS", words="offset hubs"),
    Layer(name="BASELINE", words="the line that stations run along"),
    Layer(name="MARKS", words="pins, benchmarks, trees, corners"),
    Layer(name="SHOTS", words="shots of the ground"),
    Layer(name="CONTOURS", words="contours of the ground between the shots"),
    Layer(name="BREAKS", words="breaks of the ground"),
    Layer(name="BOUNDARIES", words="boundaries, in plan", dash="dashdot"),
    Layer(name="NO_BUILD", words="areas to build nothing on, in plan", dash="dashed"),
    Layer(name="BURIED", words="buried lines, in plan: where they were marked", dash="dashed"),
    Layer(name="OVERHEAD", words="overhead lines, in plan", dash="dotted"),
    Layer(name="PLACE_AREAS", words="areas that arrays were to stand in, in plan", dash="dashdotdot"),
    Layer(name="NOTES", words="what this file says of itself"),
)
_LINE_LAYERS = {
    "break": "BREAKS",
    "boundary": "BOUNDARIES",
    "no_build": "NO_BUILD",
    "buried": "BURIED",
    "overhead": "OVERHEAD",
}


def site_model(plan: Plan, stamp: Stamp) -> SiteModel | None:
    """Return the site at its true coordinates, None when not a single point is placed in plan."""
    items = [*_marks(plan), *_lines(plan), *_areas(plan)]
    for array in plan.arrays:
        items += _array(plan, array)
    if not items:
        return None
    if plan.ground is not None:
        items += _contours(plan.ground, items, plan.book.job.site.show)
    facts = (*stamp.facts, ("Coordinates", _coordinates_words(plan)))
    items += _notes(items, facts, stamp.cautions)
    used = {item.layer for item in items}
    return SiteModel(
        unit=plan.book.job.site.units,
        layers=tuple(layer for layer in LAYERS if layer.name in used),
        items=tuple(items),
        facts=facts,
    )


def _array(plan: Plan, array: ArrayPlan) -> Iterator[Item]:
    fit, footing = array.fit, plan.book.job.footing
    places = zip(fit.piers.names, fit.piers.en_m, fit.lengths.ground_m, fit.lengths.top_m, strict=True)
    for name, en, ground, top in places:
        at = (float(en[0]), float(en[1]), float(ground))
        yield Spot(layer="PIERS", name=array.pier_name(name), enz_m=at)
        beside = NAME_TALL_M / 2
        if footing is not None:
            yield Ring(layer="HOLES", enz_m=at, radius_m=footing.hole_diameter_m / 2)
            beside += footing.hole_diameter_m / 2 * math.sqrt(0.5)
        named = (at[0] + beside, at[1] + beside, at[2])
        yield Label(layer="PIER_NAMES", enz_m=named, text=array.pier_name(name), tall_m=NAME_TALL_M)
        yield Run(layer="POSTS", enz_m=(at, (at[0], at[1], float(top))))
    for beam in fit.beams:
        yield Run(layer="BEAMS", enz_m=(_enz(beam.left_end_enz_m), _enz(beam.right_end_enz_m)))
    outline = tuple((float(e), float(n), 0.0) for e, n in fit.plan_outline_en_m)
    yield Run(layer="MODULES", enz_m=outline, closed=True, level=True)
    for mark in array.stakeout.marks:
        for hub in mark.hubs:
            yield Spot(layer="HUBS", name=hub.name, enz_m=(*hub.en_m, hub.ground_m))
    first, second = array.stakeout.baseline
    ends = _placed(plan, (first, second))
    if len(ends) == 2:
        yield Run(layer="BASELINE", enz_m=tuple(ends), level=True)


def _marks(plan: Plan) -> Iterator[Item]:
    """Yield the points that last, then the shots of the ground."""
    lasting = set()
    for mark in control_marks(plan):
        lasting.add(mark.name)
        at = (*mark.en_m, math.nan if mark.elevation_m is None else mark.elevation_m)
        yield from _named("MARKS", mark.name, at)
    points = plan.adjustment.points
    for i, name in enumerate(points.names):
        if points.kinds[i] == "ground" and name not in lasting and np.isfinite(points.enz_m[i, :2]).all():
            yield from _named("SHOTS", name, _enz(points.enz_m[i]))


def _named(layer: str, name: str, at: ENZ) -> Iterator[Item]:
    yield Spot(layer=layer, name=name, enz_m=at)
    beside = NAME_TALL_M / 2
    yield Label(layer=layer, enz_m=(at[0] + beside, at[1] + beside, at[2]), text=name, tall_m=NAME_TALL_M)


def _lines(plan: Plan) -> Iterator[Item]:
    for row in plan.book.lines:
        path = _placed(plan, row.points)
        if len(path) < 2:
            continue
        layer, level = _LINE_LAYERS[row.kind], row.kind != "break"
        yield Run(layer=layer, enz_m=tuple(path), closed=row.kind == "no_build", level=level)
        words = f"{row.kind.replace('_', '-')} {row.line}".strip()
        yield Label(layer=layer, enz_m=path[0], text=words, tall_m=NAME_TALL_M)


def _areas(plan: Plan) -> Iterator[Item]:
    for name, corners in place_areas(plan):
        path = tuple((float(east), float(north), 0.0) for east, north in corners)
        yield Run(layer="PLACE_AREAS", enz_m=path, closed=True, level=True)
        words = f"area for the array {name}".strip()
        yield Label(layer="PLACE_AREAS", enz_m=path[0], text=words, tall_m=NAME_TALL_M)


def _placed(plan: Plan, names: Sequence[str]) -> list[ENZ]:
    """Return where those of the points stand that are placed in plan."""
    points, found = plan.adjustment.points, []
    for name in names:
        try:
            at = points.enz_m[points.index(name)]
        except KeyError:
            continue
        if np.isfinite(at[:2]).all():
            found.append(_enz(at))
    return found


def _contours(ground: YardGround, items: Sequence[Item], style: str) -> Iterator[Item]:
    """Yield the contours between the shots, round what is on the site: a table may reach far beyond it."""
    shots = ground.shots_en_m()
    if not len(shots):
        return
    places = np.array([at[:2] for item in items for at in _all_places(item)])
    room = _AROUND * float(np.ptp(places, axis=0).max())
    west, south = np.maximum(shots.min(axis=0), places.min(axis=0) - room)
    east, north = np.minimum(shots.max(axis=0), places.max(axis=0) + room)
    if not (east > west and north > south):
        return
    extent = (float(west), float(south), float(east), float(north))
    longest_m = max(extent[2] - extent[0], extent[3] - extent[1])
    scale = max(_CONTOUR_SCALE, math.ceil(longest_m * 1000.0 / _LONGEST_MM))
    for line in contours(ground, extent_m=extent, scale=scale, style=style)[1]:
        path = tuple((e, n, line.elevation_m) for e, n in line.en_m)
        yield Run(layer="CONTOURS", enz_m=path)


def _coordinates_words(plan: Plan) -> str:
    """Return which axes the coordinates are in: another drawing must be in the same ones."""
    site, origin = plan.book.job.site, plan.book.job.control.origin
    z = "z is elevation above the benchmark's datum"
    if plan.book.on_grid and site.grid is not None:
        return f"x is east, y north on the map grid {site.grid}; {z}"
    at = ""
    if origin is not None:
        east, north = (f"{in_unit(value, site.units):.10g}" for value in (origin.east_m, origin.north_m))
        at = f", {origin.point} at {east}, {north}"
    return f"the site's own, no map grid: x is east, y north{at}; {z}"


def _notes(
    items: Sequence[Item], facts: Sequence[tuple[str, str]], cautions: Sequence[str]
) -> Iterator[Item]:
    """Yield what the file says of itself, a line each, below everything."""
    places = np.array([at[:2] for item in items for at in _all_places(item)])
    west, south = float(places[:, 0].min()), float(places[:, 1].min())
    texts = [f"{name}: {text}" for name, text in facts]
    texts += [line for caution in cautions for line in textwrap.wrap(caution, _NOTE_WIDTH)]
    for k, text in enumerate(texts):
        at = (west, south - 2.0 * NOTE_TALL_M * (k + 2), 0.0)
        yield Label(layer="NOTES", enz_m=at, text=text, tall_m=NOTE_TALL_M)


def _all_places(item: Item) -> tuple[ENZ, ...]:
    return item.enz_m if isinstance(item, Run) else (item.enz_m,)


def _enz(at: Floats | ENZ) -> ENZ:
    return float(at[0]), float(at[1]), float(at[2])
