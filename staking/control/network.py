"""One adjustment of any mixture of readings: place, settle, and say what is not determined."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from staking.base.covariance import Covariance, Functions, carried, elements, part, times
from staking.base.lsq import RankDeficient
from staking.base.triplets import Triplets
from staking.control.alternatives import reconsidered
from staking.control.clouds import fixes_of, started
from staking.control.equations import (
    PLAN,
    SLOPED,
    Equation,
    Kind,
    coordinates_held,
    points_of,
    stacked,
)
from staking.control.floating import floated
from staking.control.heights import reached
from staking.control.loci import XY
from staking.control.mirrors import resolved
from staking.control.placing import Placing, Sides
from staking.control.refining import Refining
from staking.control.searching import searched
from staking.control.settling import Free, HeldDirection, Settled, freed, settled

Floats = NDArray[np.float64]

NOTHING_CHECKS = 1e-3
"""Redundancy number below which nothing checks a reading: an error would have to pass a hundred standard
deviations before its residual could show it."""
MOST_RECONSIDERED = 4
"""Rounds of placing and of looking for alternatives; what then stands was looked at in the last of them."""
UNSURE_SDS = 10.0
"""A coordinate in plan may be so many times as unsure as the least sure one of `control.csv`."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Network:
    """Readings, datum and hints."""

    points: int
    extras: int = 0
    equations: Sequence[Equation]
    start: Floats
    """(3·points + extras,) coordinates known beforehand, NaN elsewhere."""
    held: NDArray[np.bool_]
    """Of the same size: True where a coordinate is held fixed."""
    directions: Sequence[HeldDirection] = ()
    sides: Sides = field(default_factory=Sides)
    approximate: Mapping[int, XY] = field(default_factory=dict)
    """Places near which points are known to stand; the graph places the others."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class NetworkResult:
    """An adjusted network."""

    coordinates: Floats
    """NaN where not determined."""
    cov: Covariance
    """Joint covariance of all coordinates; NaN rows where not determined."""
    free: Free
    used: tuple[int, ...]
    """Numbers of the equations that took part."""
    design: Triplets
    """(used, unknowns) derivatives at the end."""
    unknowns_cov: Covariance
    sd: Floats
    """Standard deviations of the readings used."""
    residuals: Floats
    redundancy_numbers: Floats
    vtpv: float
    last_step: float
    """What an undamped step would still move, metres and radians."""
    redundancy: int
    mirrored: Mapping[int, tuple[XY, ...]]
    """Points that stand at several places because nothing decides."""
    weak: frozenset[int]
    """Points that were placed but whose coordinates the readings do not fix."""
    placing: Placing

    def redundancy_matrix(self, rows: Sequence[int]) -> Floats:
        """Return the (k, k) redundancy matrix between readings, in standard deviations.

        Residuals follow from the readings as ``v/sd = -R·(l/sd)``: errors ``e`` of the listed readings alone
        (in standard deviations) change their residuals by ``-R e``. Its diagonal is the redundancy numbers.

        Parameters
        ----------
        rows
            Places of the readings among those `used`.
        """
        at = np.asarray(rows, dtype=np.int64)
        weighted = self.design.rows_at(at).scaled(1.0 / self.sd[at])
        return np.eye(len(at)) - carried(self.unknowns_cov, weighted)

    def cov_of(self, coordinates: Sequence[int]) -> Floats:
        """Return the (k, k) joint covariance of some coordinates, NaN where one is not determined."""
        return part(self.cov, np.asarray(coordinates, dtype=np.int64))

    def moved_by(self, derivatives: Triplets) -> Floats:
        """Return how all coordinates (n,) vary along with one linear function of them; unknown ones by 0.

        Parameters
        ----------
        derivatives
            (1, n) of the function by the coordinates.
        """
        one = self.free.columns(derivatives).dense()[0]
        moved: Floats = np.zeros(len(self.coordinates))
        moved[self.free.free] = times(self.unknowns_cov, one)
        for target, _, terms in self.free.tied:
            moved[target] = sum(factor * moved[other] for other, factor in terms)
        return moved

    def cov_with(self, coordinate: int) -> Floats:
        """Return the covariance (n,) of one coordinate with each, NaN where one is not determined."""
        one = Triplets((1, len(self.coordinates)))
        one[0, coordinate] = 1.0
        lost = np.isnan(self.coordinates)
        return np.where(lost | lost[coordinate], np.nan, self.moved_by(one))

    def again(self, settled: Settled) -> NetworkResult:
        """Return this result with the same readings and unknowns settled anew, as with changed values."""
        return replace(
            self,
            coordinates=np.where(np.isnan(self.coordinates), np.nan, settled.coordinates),
            cov=_cov_of_all(self.free, settled.cov, ~np.isnan(self.coordinates)),
            design=settled.design,
            unknowns_cov=settled.cov,
            sd=settled.sd,
            residuals=settled.residuals,
            redundancy_numbers=settled.redundancy_numbers,
            vtpv=settled.vtpv,
            last_step=settled.last_step,
        )


def adjusted_network(network: Network) -> NetworkResult:
    """Adjust a network.

    Raises
    ------
    NotSettled
        When the readings contradict each other beyond any settling.
    """
    coordinates, placing = _placed(network)
    weak: set[int] = set()
    every = stacked(network.equations)
    inside = coordinates_held(every)
    while True:
        known = ~np.isnan(coordinates)
        # Places without a coordinate, -1, fall on the last element.
        used = np.flatnonzero(np.append(known, True)[inside].all(axis=1))
        touched = np.zeros(len(coordinates) + 1, dtype=bool)
        touched[inside[used]] = True
        touched = touched[:-1]
        for held in network.directions:
            for point in (held.start, held.to):
                touched[[3 * point, 3 * point + 1]] = True
        known &= touched | network.held
        coordinates = np.where(known, coordinates, np.nan)
        stack = every.rows_at(used)
        filled = np.where(known, coordinates, 0.0)
        directions = [h for h in network.directions if known[3 * h.start] and known[3 * h.to]]
        free = freed(network.held | ~known, directions, filled)
        try:
            result = settled(stack, filled, free)
        except RankDeficient as error:
            loose = set(error.columns) or {int(k) for k in free.free}
        else:
            cov = _cov_of_all(free, result.cov, known)
            loose = _unsure(network, result.coordinates, cov, known)
            if not loose:
                break
        weak |= {k // 3 for k in loose if k < 3 * network.points}
        for k in loose:
            coordinates[k] = np.nan
            if k < 3 * network.points and k % 3 < 2:
                # A plan position is of use only whole.
                for axis in (k - k % 3, k - k % 3 + 1):
                    if not network.held[axis]:
                        coordinates[axis] = np.nan
    return NetworkResult(
        coordinates=np.where(known, result.coordinates, np.nan),
        cov=cov,
        free=free,
        used=tuple(used.tolist()),
        design=result.design,
        unknowns_cov=result.cov,
        sd=result.sd,
        residuals=result.residuals,
        redundancy_numbers=result.redundancy_numbers,
        vtpv=result.vtpv,
        last_step=result.last_step,
        redundancy=len(used) - len(free.free),
        mirrored=placing.mirrored,
        weak=frozenset(weak),
        placing=placing,
    )


def standardised(residuals: Floats, sd: Floats, redundancy_numbers: Floats) -> Floats:
    """Return residuals over their own standard deviations, NaN where nothing checks a reading.

    Source: W. Baarda, A Testing Procedure for Use in Geodetic Networks (1968) (from memory).
    """
    checked = redundancy_numbers >= NOTHING_CHECKS
    own_sd = sd * np.sqrt(np.where(checked, redundancy_numbers, 1.0))
    return np.where(checked, residuals / own_sd, np.nan)


def coordinates_of(equation: Equation) -> list[int]:
    """Return the coordinates that an equation holds."""
    held = coordinates_held(stacked([equation]))
    return [int(k) for k in held[held >= 0]]


def _cov_of_all(free: Free, unknowns_cov: Covariance, known: NDArray[np.bool_]) -> Covariance:
    """Return the (n, n) covariance of all coordinates from that of the unknowns."""
    spread = free.spread(len(known))
    if not isinstance(unknowns_cov, np.ndarray):
        return Functions(cov=unknowns_cov, carry=spread, known=known)
    cov = carried(unknowns_cov, spread)
    cov[~known] = np.nan
    cov[:, ~known] = np.nan
    return cov


def _unsure(network: Network, coordinates: Floats, cov: Covariance, known: NDArray[np.bool_]) -> set[int]:
    """Return coordinates in plan that are less sure than the site is large: nothing but rounding holds them.

    Tapes along one line hold nothing across it; coordinates observed with a large sd may be as unsure.
    """
    last = 3 * network.points
    plan = [k for k in range(last) if k % 3 < 2 and known[k]]
    if not plan:
        return set()
    reach = max(float(np.ptp([coordinates[k] for k in plan if k % 3 == axis] or [0.0])) for axis in (0, 1))
    stated = [
        e.sd for e in network.equations if e.kind is Kind.COORDINATE and e.at[0] < last and e.at[0] % 3 < 2
    ]
    limit = max([reach, *(UNSURE_SDS * sd for sd in stated)])
    at = np.array(plan, dtype=np.int64)
    return {int(k) for k in at[elements(cov, at, at) > limit**2]}


def _placed(network: Network) -> tuple[Floats, Placing]:
    """Return approximate coordinates, NaN where the readings do not reach."""
    coordinates = network.start.copy()
    last = 3 * network.points
    heights = {k: float(coordinates[k]) for k in range(2, last, 3) if not math.isnan(coordinates[k])}
    for k, value in reached(network.equations, heights).items():
        coordinates[k] = value
    elevations = {
        p: float(coordinates[3 * p + 2])
        for p in range(network.points)
        if not math.isnan(coordinates[3 * p + 2])
    }
    plan = [
        e
        for e in network.equations
        if e.kind in PLAN and (e.kind not in SLOPED or all(p in elevations for p in points_of(e)))
    ]
    placed: dict[int, XY] = {}
    partly: dict[int, tuple[float | None, float | None]] = {}
    for p in range(network.points):
        east, north = float(coordinates[3 * p]), float(coordinates[3 * p + 1])
        if not math.isnan(east) and not math.isnan(north):
            placed[p] = east, north
        elif not math.isnan(east) or not math.isnan(north):
            partly[p] = (None if math.isnan(east) else east, None if math.isnan(north) else north)
    for p, near in network.approximate.items():
        placed.setdefault(p, near)
    placing = Placing(
        equations=plan,
        directions=network.directions,
        partly=partly,
        elevations=elevations,
        sides=network.sides,
        placed=placed,
        fixes=fixes_of(network.equations, network.points),
    )
    _place_all(placing, network)
    for p, (east, north) in placing.placed.items():
        for k, value in ((3 * p, east), (3 * p + 1, north)):
            if not network.held[k]:
                coordinates[k] = value
    known = {k: float(x) for k, x in enumerate(coordinates) if not math.isnan(x)}
    for k, value in started(network.equations, known).items():
        coordinates[k] = value
    return coordinates, placing


def _place_all(placing: Placing, network: Network) -> None:
    """Place all that can be placed, and leave out what may stand elsewhere as well."""
    if len(placing.placed) == network.points:
        placing.sure = set(placing.placed)
        return
    held_plan = {p for p in placing.placed if network.held[3 * p] and network.held[3 * p + 1]}
    refining = Refining(placing=placing, held=network.held)
    placing.grow(placing.placed, _unplaced(placing), shallow=False)
    placing.sure = set(placing.placed)
    placing.grow(placing.placed, _unplaced(placing))
    for _ in range(MOST_RECONSIDERED):
        _place_rest(placing, refining, held_plan)
        if not reconsidered(placing, refining):
            return


def _unplaced(placing: Placing) -> list[int]:
    """Return the points that stand in a reading or a held direction and have no place yet."""
    ends = {p: None for held in placing.directions for p in (held.start, held.to)}
    return [p for p in {**dict.fromkeys(placing.by_point), **ends} if p not in placing.placed]


def _place_rest(placing: Placing, refining: Refining, held_plan: set[int]) -> None:
    """Place what good crossings left: groups with mirror images, then groups that only hold each other."""
    while True:
        todo = [p for p in _unplaced(placing) if p not in placing.mirrored]
        unsure, _ = placing.grow(placing.placed, todo)
        todo = [p for p in todo if p not in placing.placed]
        if not todo:
            return
        if unsure:
            # Mirror images are told apart by small differences: let what stands settle first.
            loose = [p for p in placing.placed if p not in held_plan]
            placing.placed, _ = refining.one(placing.placed, loose)
        moved = [resolved(placing, group, refining) for group in placing.groups(todo)]
        if not any(moved):
            before = set(placing.placed)
            moved = [
                floated(placing, group, refining) or searched(placing, group, refining)
                for group in placing.groups(todo)
            ]
            placing.adrift |= placing.placed.keys() - before
        if not any(moved) and not placing.by_fix(p for p in todo if p not in placing.mirrored):
            return
