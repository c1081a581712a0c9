"""Points that the readings do not place: what is told of them, and a reading that would place them."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import combinations, pairwise

import numpy as np

from staking.base.errors import Mistake
from staking.book.records import FieldBook
from staking.control.adjustment import where_words
from staking.control.equations import PLAN, SLOPED, Equation, Kind, points_of
from staking.control.kinds import PointSort, key_of
from staking.control.lacks import FEW, Lack, Told, together
from staking.control.loci import XY, level_length
from staking.control.network import Network, NetworkResult
from staking.control.observing import Observed

HEIGHT = frozenset({Kind.ROD, Kind.RISE})
FIX_HEIGHT = frozenset({Kind.FIX_HEIGHT})
MEASURED = PLAN - {Kind.FIX_EAST, Kind.FIX_NORTH}
MEET_M = 0.05
"""Tapes that miss each other by less may do so by their errors."""
TURNED_RAD = 0.2
"""Fixes that say which way the site is turned to no better than this, 11°, do not say it."""
TURN_TOLD_RAD = math.radians(0.5)
"""Half a degree puts the far end of 30 m a quarter of a metre off: then it is told what the turn rests on."""
MOST_READINGS = 8
"""Readings of a point told one by one; the others are counted."""
OFF_LINE_M = 0.3
"""A tape tells two mirror images apart when its length to them differs by so much or more."""


@dataclass(slots=True, kw_only=True)
class Advice:
    """What the user is told."""

    mistakes: list[Mistake] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Survey:
    """All that advice is taken from."""

    book: FieldBook
    observed: Observed
    network: Network
    result: NetworkResult
    sort_of: Mapping[str, PointSort]
    at_point: Mapping[int, Sequence[int]]
    """Numbers of the equations that join each point."""
    anchors: Sequence[int]
    """Placed points to measure from: pins and named ones first."""

    def has_plan(self, p: int) -> bool:
        east, north = self.result.coordinates[3 * p : 3 * p + 2]
        return not (math.isnan(east) or math.isnan(north))

    def equations_at(self, p: int) -> list[Equation]:
        return [self.network.equations[k] for k in self.at_point.get(p, ())]

    def has_elevation(self, p: int) -> bool:
        return not math.isnan(self.result.coordinates[3 * p + 2])

    def place(self, p: int) -> XY:
        return float(self.result.coordinates[3 * p]), float(self.result.coordinates[3 * p + 1])

    def knows_elevation(self) -> bool:
        start = self.network.start[2 : 3 * self.network.points : 3]
        return not bool(np.isnan(start).all())

    def turn_sd_rad(self, known: Sequence[int]) -> float:
        """Return how well fixes alone say which way the site is turned."""
        held = [self.place(p) for p in known if self.network.held[3 * p]]
        return self.result.placing.fixes.turn_sd_rad(held)

    def elevations(self) -> dict[int, float]:
        return {
            p: float(self.result.coordinates[3 * p + 2])
            for p in range(self.network.points)
            if self.has_elevation(p)
        }

    def read_in(self, kinds: frozenset[Kind]) -> set[int]:
        return {p for e in self.network.equations if e.kind in kinds for p in points_of(e)}


def advised(
    *,
    book: FieldBook,
    observed: Observed,
    network: Network,
    result: NetworkResult,
    sort_of: Mapping[str, PointSort],
    piers: set[str],
) -> Advice:
    """Return mistakes for points that must be placed and are not, and warnings for the others."""
    at_point: dict[int, list[int]] = {}
    for k, equation in enumerate(network.equations):
        for p in dict.fromkeys(points_of(equation)):
            at_point.setdefault(p, []).append(k)
    survey = _Survey(
        book=book,
        observed=observed,
        network=network,
        result=result,
        sort_of=sort_of,
        at_point=at_point,
        anchors=_anchors(observed, result, sort_of),
    )
    advice = Advice()
    in_plan, in_height = survey.read_in(PLAN), survey.read_in(HEIGHT)
    fixed = in_plan - survey.read_in(MEASURED)
    if len(in_plan) == 1 and fixed:
        # One fix alone places nothing: it only says where on the earth the site lies.
        in_plan = set()
    by_fix = survey.read_in(FIX_HEIGHT)
    if by_fix and survey.knows_elevation():
        in_height |= by_fix
    elif by_fix:
        advice.warnings.append(
            "GPS heights are not used, for nothing gives an elevation to start from: give [control] benchmark"
        )
    _datum(survey, advice, bool(in_plan), in_height)
    if advice.mistakes:
        return advice
    plan_at_all = bool(in_plan) or any(survey.has_plan(p) for p in range(network.points))
    needed: list[tuple[int, Lack]] = []
    others: list[tuple[int, Lack]] = []
    for key, p in observed.numbers.items():
        sort = sort_of[key]
        lack = None
        if key in piers:
            if not survey.has_elevation(p):
                lack = _no_elevation(survey, p)
        elif not survey.has_plan(p) and (
            p in in_plan or (plan_at_all and sort.kind not in ("benchmark", "turning"))
        ):
            lack = _no_plan(survey, p)
        elif not survey.has_elevation(p) and (
            p in in_height or (bool(in_height) and sort.shapes_ground and not sort.must_place)
        ):
            lack = _no_elevation(survey, p)
        if lack is None:
            continue
        must = sort.must_place and (
            sort.kind == "benchmark" if lack.of == "elevation" else sort.kind != "benchmark"
        )
        (needed if must else others).append((p, lack))
    names = observed.names
    advice.mistakes += [_mistake(survey, told) for told in together(needed, names, few=FEW)]
    advice.warnings += [
        f"{told.subject(names)} {told.state}; left out. {told.to_place(names)}"
        for told in together(others, names)
    ]
    if not plan_at_all and in_height:
        advice.warnings.append("no reading places any point in plan: only elevations are adjusted")
    if not in_height and in_plan:
        advice.warnings.append("no rod reading and no rise: only places in plan are adjusted")
    return advice


def _datum(survey: _Survey, advice: Advice, plan: bool, in_height: set[int]) -> None:
    control, network = survey.book.job.control, survey.network
    known_plan = [
        p for p in range(network.points) if not any(math.isnan(network.start[3 * p + k]) for k in (0, 1))
    ]
    fixes = survey.result.placing.fixes
    on_grid = fixes.tie_sd_m is not None
    if plan and not known_plan and not on_grid:
        name = survey.observed.names[min(fixes.by_point)] if fixes.by_point else "P1"
        because = ": fixes may be metres off together, so that they shape it and do not place it"
        advice.mistakes.append(
            Mistake(
                file="job.toml",
                column="control.origin",
                problem="nothing says where the site lies in plan" + (because if fixes.by_point else ""),
                expected=f'origin = {{ point = "{name}", east = 0, north = 0 }}, or points in control.csv',
            )
        )
    oriented = (
        len(known_plan) > 1
        or bool(network.directions)
        or any(e.kind is Kind.BEARING for e in network.equations)
    )
    if plan and (known_plan or on_grid) and not oriented:
        turn_sd_rad = survey.turn_sd_rad(known_plan)
        if turn_sd_rad > TURNED_RAD:
            poorly = f": its fixes tell it to ±{math.degrees(turn_sd_rad):.0f}° only"
            advice.mistakes.append(
                Mistake(
                    file="job.toml",
                    column="control.azimuth",
                    problem="nothing says which way the site is turned"
                    + (poorly if turn_sd_rad < math.pi / 2 else ""),
                    expected='azimuth = { from = "P1", to = "P2", degrees = 88.0, north = "true" }, '
                    "a bearing, a second point in control.csv, or fixes of two points far apart in one "
                    "session",
                )
            )
        elif turn_sd_rad > TURN_TOLD_RAD:
            advice.warnings.append(
                f"only the fixes say which way the site is turned, to ±{math.degrees(turn_sd_rad):.1f}°: an "
                "azimuth by a shadow or a better receiver would turn it truer"
            )
    known = [p for p in range(network.points) if not math.isnan(network.start[3 * p + 2])]
    if not in_height:
        return
    if not known:
        advice.mistakes.append(
            Mistake(
                file="job.toml",
                column="control.benchmark",
                problem="nothing gives an elevation to start from",
                expected='benchmark = { point = "BM1", elevation = 100 }, or an elevation in control.csv',
            )
        )
    elif not in_height.intersection(known):
        name = control.benchmark.point if control.benchmark is not None else survey.observed.names[known[0]]
        advice.mistakes.append(
            Mistake(
                file="job.toml" if control.benchmark is not None else "control.csv",
                column="control.benchmark" if control.benchmark is not None else "point",
                read=name,
                problem="no rod reading and no rise touches a known elevation",
                remedy=f"Shoot {name}, or name a point that was shot.",
            )
        )


def _mistake(survey: _Survey, told: Told) -> Mistake:
    names, first = survey.observed.names, told.points[0]
    remedy = f"{told.to_place(names)}."
    problem = f"the point is needed and {told.state}"
    if len(told.points) > 1:
        problem = f"the points are needed and {told.subject(names)} {told.state}"
    for source, equation in zip(survey.observed.sources, survey.network.equations, strict=True):
        if source is not None and first in points_of(equation):
            return Mistake(
                file=source.table, row=source.row, read=names[first], problem=problem, remedy=remedy
            )
    return Mistake(file="job.toml", column="control", read=names[first], problem=problem, remedy=remedy)


def _no_elevation(survey: _Survey, p: int) -> Lack:
    name = survey.observed.names[p]
    for setup in survey.observed.setups:
        if any(survey.network.equations[k].at[1] == p for k in setup.readings):
            known = _nearest_elevations(survey) or "the benchmark"
            return Lack(
                of="elevation",
                state="has no elevation: nothing joins its setup to the benchmark",
                ways=(
                    f"shoot {known} from the setup of levels.csv row {setup.first_row}",
                    f"shoot {name} from a setup that sights {known}",
                ),
            )
    return Lack(of="elevation", state="has no elevation", ways=(f"shoot {name} with the rod",))


def _nearest_elevations(survey: _Survey) -> str | None:
    """Return a point with an elevation, held ones first."""
    for wanted in (survey.network.held, ~survey.network.held):
        for p in range(survey.network.points):
            if wanted[3 * p + 2] and survey.has_elevation(p):
                return survey.observed.names[p]
    return None


def _no_plan(survey: _Survey, p: int) -> Lack:
    observed, placing = survey.observed, survey.result.placing
    name = observed.names[p]
    sloped = [
        q
        for e in survey.equations_at(p)
        if e.kind in SLOPED
        for q in points_of(e)
        if not survey.has_elevation(q)
    ]
    if sloped:
        lacking = observed.names[p if p in sloped else sloped[0]]
        return Lack(
            of="plan",
            state=f"cannot be placed in plan, for a reading of it runs up the slope and {lacking} has no "
            "elevation",
            ways=(f"shoot {lacking} with the rod",),
        )
    anchors = [q for q in survey.anchors if q != p]
    images = survey.result.mirrored.get(p)
    telling = placing.telling.get(p)
    if images is not None and len(images) > 1 and telling is not None and _side_counts(survey, telling):
        # Had the side that was given suited one of the places, the point would stand there.
        return Lack(
            of="plan",
            state=f"fits at {len(images)} places, and at each some point lies on the other side of "
            f"{_side_line(survey)} than was said",
            ways=(
                "a reading is wrong, its own or one between the points that it hangs on: take again "
                f"{_readings_of(survey, p)}; only if {observed.names[telling]} really lies on the other "
                "side, write that in points.csv",
            ),
        )
    if images is not None and len(images) > 1:
        count = "either of two" if len(images) == 2 else f"any of {len(images)}"
        return Lack(
            of="plan",
            state=f"may stand at {count} places, mirror images that no reading tells apart"
            + _same_side(survey, p, images),
            ways=_tells_apart(survey, p, images, anchors),
            own_side=telling == p,
        )
    state = "cannot be placed in plan"
    apart = _tapes_apart(survey, p) if p in survey.result.weak else None
    if apart is not None:
        state, again = apart
        return Lack(of="plan", state=state, ways=(again,))
    if p in survey.result.weak:
        state = "is not fixed in plan by its readings"
    taped = {
        q
        for e in survey.equations_at(p)
        if e.kind in (Kind.LEVEL_TAPE, Kind.SLOPE_TAPE)
        for q in points_of(e)
    }
    ways = []
    fresh = [q for q in anchors if q not in taped]
    held = any(p in (direction.start, direction.to) for direction in survey.network.directions)
    if fresh and placing.loci(p, placing.placed):
        side = "" if held or _side_counts(survey, p) else " and write its side in points.csv"
        ways.append(f"tape {name} from {observed.names[fresh[0]]}{side}")
    if len(anchors) > 1:
        a, b = _line(survey, anchors)
        ways.append(f"measure the station and offset of {name} from {a}-{b}")
    if not ways and anchors:
        ways.append(f"place a second pin first, then tape {name} from both")
    return Lack(of="plan", state=state, ways=tuple(ways) or ("place two pins first, then tape it from both",))


def _side_line(survey: _Survey) -> str:
    line = survey.network.sides.line
    assert line is not None
    return f"{survey.observed.names[line[0]]}-{survey.observed.names[line[1]]}"


def _same_side(survey: _Survey, p: int, images: Sequence[XY]) -> str:
    """Return why the side that was said tells no image apart; nothing where that is not why."""
    line = survey.network.sides.line
    if line is None or not _side_counts(survey, p) or not all(survey.has_plan(q) for q in line):
        return ""
    (x, y), (to_x, to_y) = survey.place(line[0]), survey.place(line[1])
    left = [(to_x - x) * (n - y) - (to_y - y) * (e - x) > 0 for e, n in images]
    if any(left) and not all(left):
        return ""
    return f" (left and right count from {_side_line(survey)}, and every place lies on one side of it)"


def _readings_of(survey: _Survey, p: int) -> str:
    """Return the plan readings of a point, then those between points that stay open with it."""
    line = set(survey.network.sides.line or ())
    with_it = {q for q in survey.result.mirrored if q != p} | line
    own, others = [], []
    for source, e in zip(survey.observed.sources, survey.network.equations, strict=True):
        if source is None or e.kind not in PLAN:
            continue
        name = f"{source.what} ({where_words(source.table, source.row)})"
        if p in points_of(e):
            own.append(name)
        elif set(points_of(e)) <= with_it:
            others.append(name)
    found = [*own, *others]
    more = len(found) - MOST_READINGS
    return ", ".join(found[:MOST_READINGS]) + (f" and {more} more" if more > 0 else "")


def _tapes_apart(survey: _Survey, p: int) -> tuple[str, str] | None:
    """Return what is wrong with two tapes to a point that do not meet, and what to do; None when all do."""
    tapes = []
    for k in survey.at_point.get(p, ()):
        source, e = survey.observed.sources[k], survey.network.equations[k]
        if source is not None and e.kind in (Kind.LEVEL_TAPE, Kind.SLOPE_TAPE):
            other = e.at[1] if e.at[0] == p else e.at[0]
            if survey.has_plan(other):
                length_m, name = level_length(e, survey.elevations()), survey.observed.names[other]
                tapes.append((length_m, survey.place(other), source, name))
    for (a, here, first, one), (b, there, second, two) in combinations(tapes, 2):
        gap = math.dist(here, there)
        if not abs(a - b) - MEET_M <= gap <= a + b + MEET_M:
            return (
                f"cannot be placed in plan, for its tapes do not meet: {first.table} row {first.row} "
                f"({first.read}) and row {second.row} ({second.read})",
                f"find which is wrong, one of the two or what says how far {one} is from {two}, and mend it "
                "or tape it again",
            )
    return None


def _anchors(observed: Observed, result: NetworkResult, sort_of: Mapping[str, PointSort]) -> list[int]:
    """Return placed points to measure from: pins and named ones first."""
    names = observed.names
    en = result.coordinates[: 3 * len(names)].reshape(-1, 3)[:, :2]
    placed = np.flatnonzero(~np.isnan(en).any(axis=1)).tolist()
    return sorted(
        placed,
        key=lambda q: (
            not sort_of[key_of(names[q])].must_place,
            sort_of[key_of(names[q])].kind == "ground",
            q,
        ),
    )


def _line(survey: _Survey, anchors: Sequence[int]) -> tuple[str, str]:
    """Return the ends of a line to measure from: the azimuth's, else the first two anchors."""
    names, line = survey.observed.names, survey.network.sides.line
    if line is not None and set(line) <= set(anchors):
        return names[line[0]], names[line[1]]
    return names[anchors[0]], names[anchors[1]]


def _side_counts(survey: _Survey, p: int) -> bool:
    sides = survey.network.sides
    return sides.line is not None and (p in sides.by_point or sides.default is not None)


def _tells_apart(survey: _Survey, p: int, images: Sequence[XY], anchors: Sequence[int]) -> tuple[str, ...]:
    """Return the readings or the key that would tell mirror images apart."""
    names, name = survey.observed.names, survey.observed.names[p]

    def gap(q: int) -> float:
        lengths = sorted(math.dist(image, survey.place(q)) for image in images)
        return min(b - a for a, b in pairwise(lengths)) if len(lengths) > 1 else 0.0

    ways = []
    chosen = next((q for q in anchors if gap(q) > OFF_LINE_M), None)
    if chosen is not None:
        ways.append(f"tape {name} from {names[chosen]}")
    elif len(anchors) > 1:
        a, b = _line(survey, anchors)
        ways.append(f"measure the station and offset of {name} from {a}-{b}")
    telling = survey.result.placing.telling.get(p)
    if telling is not None:
        line = survey.network.sides.line
        assert line is not None
        ways.append(
            f"write in points.csv the side of {names[telling]}, left or right looking from "
            f"{names[line[0]]} to {names[line[1]]}"
        )
    return tuple(ways) or (f"measure {name} from a point off the line of its tapes",)
