"""Where fixes say that a point stands, blurred by their errors: for placing, before anything is adjusted.

A fix tells nothing of a place by itself while the tie of the site to the earth is unknown; together with the
fixes of points already placed it does, best within one session.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from statistics import fmean

from staking.control.equations import FIXED, Equation, Kind
from staking.control.loci import EXACT_M, XY, Locus


@dataclass(frozen=True, slots=True, kw_only=True)
class Fix:
    """One fix in plan, on the site's axes up to shift and tie."""

    point: int
    session: int
    """Coordinate of the shift in east: names the session."""
    place: XY
    sd_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Fixes:
    """The fixes of a network, and what is known beforehand of their unknowns."""

    by_point: Mapping[int, Sequence[Fix]] = field(default_factory=dict)
    session_sd_m: Mapping[int, float] = field(default_factory=dict)
    tie_sd_m: float | None = None
    """None: free."""
    priors: Mapping[int, tuple[float, float]] = field(default_factory=dict)
    """Value and standard deviation of shifts and ties known beforehand, by coordinate."""

    def cloud(self, point: int, placed: Mapping[int, XY]) -> Locus | None:
        """Return where the fixes of a point say that it stands, None while nothing ties them to the site."""
        own = self.by_point.get(point)
        if not own:
            return None
        ties = self._ties(placed, but=point)
        weights, east, north = 0.0, 0.0, 0.0
        for fix in own:
            offset = self._offset(fix, ties)
            if offset is None:
                continue
            (e, n), variance = offset
            weight = 1 / (variance + fix.sd_m**2)
            weights += weight
            east += weight * (fix.place[0] - e)
            north += weight * (fix.place[1] - n)
        if weights == 0:
            return None
        return Locus("cloud", (east / weights, north / weights), 0.0, math.sqrt(1 / weights))

    def _ties(self, placed: Mapping[int, XY], *, but: int) -> dict[int, tuple[XY, float]]:
        """Return by session how far its fixes lie off the points placed, with the variance of that."""
        sums: dict[int, list[float]] = {}
        for point in sorted(self.by_point.keys() & placed.keys()):
            if point == but:
                continue
            for fix in self.by_point[point]:
                total = sums.setdefault(fix.session, [0.0, 0.0, 0.0])
                weight = 1 / fix.sd_m**2
                total[0] += weight
                for k in (0, 1):
                    total[k + 1] += weight * (fix.place[k] - placed[point][k])
        return {session: ((e / w, n / w), 1 / w) for session, (w, e, n) in sums.items()}

    def _offset(self, fix: Fix, ties: Mapping[int, tuple[XY, float]]) -> tuple[XY, float] | None:
        """Return shift and tie of a fix's session, with variance: by its own points, else by the others'."""
        found = [ties[fix.session]] if fix.session in ties else []
        others = [(tie, v + self.session_sd_m[s] ** 2) for s, (tie, v) in ties.items()]
        if self.tie_sd_m is not None:
            others.append(((0.0, 0.0), self.tie_sd_m**2))
        if others:
            weights = [1 / max(v, 1e-12) for _, v in others]
            total = sum(weights)
            mean = tuple(
                sum(w * tie[k] for w, (tie, _) in zip(weights, others, strict=True)) / total for k in (0, 1)
            )
            found.append(((mean[0], mean[1]), 1 / total + self.session_sd_m[fix.session] ** 2))
        return min(found, key=lambda item: item[1]) if found else None

    def turn(self, where: Mapping[int, XY]) -> float | None:
        """Return the clockwise turn of a group, built in any direction, that its fixes fit best.

        Least squares of fixes about the mean of their session, and of sessions about the mean of all. A start
        so near is needed: stiff tapes make an adjustment creep round a corner of a few degrees.

        Parameters
        ----------
        where
            Places as built.
        """
        sessions: dict[int, list[tuple[XY, XY, float]]] = {}
        for point, here in where.items():
            for fix in self.by_point.get(point, ()):
                sessions.setdefault(fix.session, []).append((here, fix.place, fix.sd_m**2))
        across = along = 0.0
        means: list[tuple[XY, XY, float]] = []
        for session, pairs in sessions.items():
            mean, one, other = _turned(pairs)
            across, along = across + one, along + other
            variance = 1 / sum(1 / v for _, _, v in pairs)
            means.append((*mean, variance + self.session_sd_m[session] ** 2))
        if means:
            _, one, other = _turned(means)
            across, along = across + one, along + other
        return None if across == along == 0 else math.atan2(across, along)

    def turn_sd_rad(self, held: Sequence[XY] = ()) -> float:
        """Return how well the fixes by themselves say which way the site is turned; infinite when not at all.

        A fix tells of a turn by its distance from the weighted mean of its session, a session by the distance
        of that mean from the mean of all sessions and, where the tie is known, of the held points.

        Parameters
        ----------
        held
            Places held fixed.
        """
        sessions: dict[int, list[Fix]] = {}
        for fixes in self.by_point.values():
            for fix in fixes:
                sessions.setdefault(fix.session, []).append(fix)
        told = 0.0
        means: list[tuple[XY, float]] = []
        for session, fixes in sessions.items():
            mean, variance, own = _spread((fix.place, fix.sd_m**2) for fix in fixes)
            told += own
            means.append((mean, variance + self.session_sd_m[session] ** 2))
        if held and self.tie_sd_m is not None:
            mean = fmean(e for e, _ in held), fmean(n for _, n in held)
            means.append((mean, max(self.tie_sd_m, EXACT_M) ** 2))
        told += _spread(means)[2] if means else 0.0
        return math.inf if told == 0 else 1 / math.sqrt(told)


def _spread(places: Iterable[tuple[XY, float]]) -> tuple[XY, float, float]:
    """Return the weighted mean of places, its variance, and the weighted sum of squared distances from it."""
    known = list(places)
    total = sum(1 / variance for _, variance in known)
    mean = tuple(sum(place[k] / variance for place, variance in known) / total for k in (0, 1))
    told = sum(math.dist(place, mean) ** 2 / variance for place, variance in known)
    return (mean[0], mean[1]), 1 / total, told


def _turned(pairs: Sequence[tuple[XY, XY, float]]) -> tuple[tuple[XY, XY], float, float]:
    """Return the weighted means of places and images, and the sums whose ratio is the turn's tangent."""
    first = _spread((a, variance) for a, _, variance in pairs)[0]
    second = _spread((b, variance) for _, b, variance in pairs)[0]
    across = along = 0.0
    for a, b, variance in pairs:
        e0, n0, e1, n1 = a[0] - first[0], a[1] - first[1], b[0] - second[0], b[1] - second[1]
        across += (e1 * n0 - n1 * e0) / variance
        along += (e0 * e1 + n0 * n1) / variance
    return (first, second), across, along


def fixes_of(equations: Sequence[Equation], points: int) -> Fixes:
    """Return the fixes in plan of a network.

    Parameters
    ----------
    equations
        Of the network; the part to the north stands right behind that to the east.
    points
        Number of points: coordinates behind theirs are shifts and ties.
    """
    priors = {
        e.at[0]: (e.value, e.sd) for e in equations if e.kind is Kind.COORDINATE and e.at[0] >= 3 * points
    }
    by_point: dict[int, list[Fix]] = {}
    session_sd: dict[int, float] = {}
    tie_sd: float | None = None
    for one, other in pairwise(equations):
        if one.kind is not Kind.FIX_EAST or other.kind is not Kind.FIX_NORTH:
            continue
        point, shift, tie = one.at
        by_point.setdefault(point, []).append(
            Fix(point=point, session=shift, place=(one.value, other.value), sd_m=one.sd)
        )
        session_sd[shift] = priors[shift][1]
        tie_sd = 0.0 if tie < 0 else priors[tie][1] if tie in priors else None
    return Fixes(by_point=by_point, session_sd_m=session_sd, tie_sd_m=tie_sd, priors=priors)


def started(equations: Sequence[Equation], coordinates: Mapping[int, float]) -> dict[int, float]:
    """Return where free ties start: the mean of what the fixes of placed points leave, by coordinate.

    Parameters
    ----------
    equations
        Of the network.
    coordinates
        Those known so far.
    """
    left: dict[int, list[tuple[float, float]]] = {}
    for e in equations:
        if e.kind not in FIXED:
            continue
        point, _, tie = e.at
        place = 3 * point + FIXED[e.kind]
        if tie >= 0 and tie not in coordinates and place in coordinates:
            left.setdefault(tie, []).append((1 / e.sd**2, e.value - coordinates[place]))
    return {tie: sum(w * x for w, x in parts) / sum(w for w, _ in parts) for tie, parts in left.items()}
