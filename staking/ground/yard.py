"""The ground as the layout sees it: the shot at a pier's stake where there is one, else the surface."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from staking.base.errors import WrongInput
from staking.book.ground_table import GroundTable
from staking.book.records import LineRow
from staking.control.adjustment import Points
from staking.ground.choosing import Choice, Kind, chosen
from staking.ground.elevations import Elevations, GroundSurface
from staking.ground.shots import Shots, ground_shots, known_as, places_shot
from staking.ground.surface import Surface, best_plane, fitted_surface
from staking.ground.table_ground import TableGround, Tie, table_ground
from staking.ground.triangle_surface import TriangulatedSurface, triangulated_surface

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

STAKE_MOVED_M = 0.025
"""A stake this far from its pier's place no longer marks it, an inch: what a hub can be off and still be the
pier's (common practice, no source). Its shot then is an ordinary ground point where the stake stood."""

AT_A_PIER_M = 0.15
"""A stake this near to another pier's place was set for that one: a design moves by less between shots, and
no two piers stand so near (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MovedStake:
    """A pier whose design place has moved away from the stake that was shot."""

    pier: str
    moved_m: float
    """Level distance from the stake to the pier's place now."""
    stands_at: str | None = None
    """Another pier that the stake stands at, as near as a design moves when the ground is shot better."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class YardGround:
    """Surface and stakes together; meets the `Ground` protocol."""

    statistical: Surface
    """Always there: shots are judged by it, and what to read next."""
    shots: Shots
    triangulated: TriangulatedSurface | None = None
    choice: Choice | None = None
    """Of the surfaces; None where there was none."""
    table: TableGround | None = None
    """Of the large table of ground points that the job names."""
    tie: Tie | None = None
    """Of that table to the shots."""
    array: str = ""
    """With several arrays, the one whose piers are asked for: its stakes are named ``array-A1``."""
    doubted_m2: Mapping[str, float] = field(default_factory=dict)
    """Mean square of how far the ground may lie off a doubted shot, by the shot's name in small letters."""

    @property
    def surface(self) -> GroundSurface:
        """Return the surface that the layout stands on."""
        used = None if self.choice is None else self.choice.used
        if used == "table" and self.table is not None:
            return self.table.surface
        if used == "triangulated" and self.triangulated is not None:
            return self.triangulated
        return self.statistical

    @property
    def rms_left_out_m(self) -> float | None:
        """Return the root mean square of left-out shots off the surface; None where every shot is needed."""
        if self.choice is None or self.choice.used == "statistical":
            return self.statistical.rms_left_out_m
        return self.choice.rms_used_m

    def for_array(self, name: str) -> YardGround:
        """Return the same ground as one of several arrays sees it."""
        return replace(self, array=name)

    def by_statistics(self) -> YardGround:
        """Return the same ground on its statistical surface."""
        return replace(self, choice=None)

    def z(self, en_m: Floats) -> Floats:
        """Return the surface's elevations (m,) at plan positions (m, 2)."""
        return self.surface.z(en_m)

    def at(self, en_m: Floats) -> Elevations:
        """Return the surface's elevations with joint covariance at plan positions (m, 2)."""
        return self.surface.at(en_m)

    def gradient(self, en_m: Floats) -> Floats:
        """Return the surface's (m, 2) rise per metre east and north."""
        return self.surface.gradient(en_m)

    def outside(self, en_m: Floats) -> Bools:
        """Return (m,) True where a place lies outside the shots."""
        return self.surface.outside(en_m)

    def doubting(self, off_m2: Mapping[str, float]) -> YardGround:
        """Return the same ground with some of its shots doubted: a pier that stands on one is less sure."""
        return replace(self, doubted_m2=off_m2)

    def shots_en_m(self) -> Floats:
        """Return the plan positions (n, 2) of the shots that shape the surface."""
        return self.table.table.en_m if self._on_table and self.table is not None else self.shots.en_m

    @property
    def _on_table(self) -> bool:
        return self.choice is not None and self.choice.used == "table"

    def _shot_of(self, name: str) -> int | None:
        return self.shots.stakes.get(known_as(f"{self.array}-{name}" if self.array else name))

    def _stakes_at(self, names: tuple[str, ...], en_m: Floats) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
        """Return which piers (s,) still have their stake, and the shots (s,) at those stakes.

        A pier whose name is empty has none yet: any stake that stands at its place is its own.
        """
        if not self.shots.stakes:
            return np.zeros(0, dtype=np.intp), np.zeros(0, dtype=np.intp)
        if not any(names):
            return self._any_stakes_at(en_m)
        found = [
            (i, shot)
            for i, name in enumerate(names)
            if (shot := self._shot_of(name)) is not None
            and np.hypot(*(self.shots.en_m[shot] - en_m[i])) <= STAKE_MOVED_M
        ]
        pairs = np.array(found, dtype=np.intp).reshape(-1, 2)
        return pairs[:, 0], pairs[:, 1]

    def at_stakes(self, names: tuple[str, ...], en_m: Floats) -> Bools:
        """Return which piers (m,) have a shot at their stake, which stands where the pier does."""
        shot = np.zeros(len(names), dtype=bool)
        shot[self._stakes_at(names, en_m)[0]] = True
        return shot

    def _any_stakes_at(self, en_m: Floats) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
        shots = np.array(sorted(self.shots.stakes.values()), dtype=np.intp)
        apart = np.hypot(*np.moveaxis(en_m[:, None, :] - self.shots.en_m[shots], -1, 0))
        nearest = apart.argmin(axis=1)
        there = np.flatnonzero(apart[np.arange(len(en_m)), nearest] <= STAKE_MOVED_M)
        return there, shots[nearest[there]]

    def moved_stakes(self, names: tuple[str, ...], en_m: Floats) -> tuple[MovedStake, ...]:
        """Return the piers whose stake was shot but stands more than `STAKE_MOVED_M` away from them."""
        moved = []
        for name, place in zip(names, en_m, strict=True):
            shot = self._shot_of(name)
            if shot is None:
                continue
            away_m = np.hypot(*(en_m - self.shots.en_m[shot]).T)
            distance = float(np.hypot(*(self.shots.en_m[shot] - place)))
            if distance > STAKE_MOVED_M:
                other = int(away_m.argmin())
                at = names[other] if away_m[other] <= AT_A_PIER_M and names[other] != name else None
                moved.append(MovedStake(pier=name, moved_m=distance, stands_at=at))
        return tuple(moved)

    def z_at_piers(self, names: tuple[str, ...], en_m: Floats) -> Floats:
        """Return elevations (m,) at piers: the shot at the stake where there is one, else the surface."""
        piers, shots = self._stakes_at(names, en_m)
        z = self.surface.z(en_m)
        z[piers] = self.shots.z_m[shots]
        return z

    def at_piers(self, names: tuple[str, ...], en_m: Floats) -> Elevations:
        """Return elevations with the joint covariance of their errors at piers, shots at stakes first.

        A shot at a stake is as good as its levelling, and the pier stands where the stake stands, so the
        stake's own place does not matter; what it stands off the design, times the slope, is added. The
        surface elsewhere leans on the same shots: its error is Σ w·ε, so with a shot's it shares Σ w·cov.
        A doubted shot may be off by more: that is added where the pier's length hangs on it alone. Elsewhere
        the surface has it in its roughness.
        """
        piers, shots = self._stakes_at(names, en_m)
        others = np.setdiff1d(np.arange(len(names)), piers)
        z = self.z_at_piers(names, en_m)
        cov = np.zeros((len(names), len(names)))
        off = np.einsum("ij,ij->i", self.surface.gradient(en_m[piers]), en_m[piers] - self.shots.en_m[shots])
        doubted = np.array([self.doubted_m2.get(known_as(self.shots.names[k]), 0.0) for k in shots])
        at = np.searchsorted(self.shots.staked, shots)
        cov[np.ix_(piers, piers)] = self.shots.level_cov_m2[np.ix_(at, at)] + np.diag(off**2 + doubted)
        if len(others):
            cov[np.ix_(others, others)] = self.surface.at(en_m[others]).cov_m2
            if not self._on_table:
                shared = self.shots.level_shot_cov_m2[at] @ self.surface.weights(en_m[others]).T
                cov[np.ix_(piers, others)] = shared
                cov[np.ix_(others, piers)] = shared.T
        z.flags.writeable = cov.flags.writeable = False
        return Elevations(z_m=z, cov_m2=cov)


def fitted_ground(
    points: Points,
    stakes_en_m: Mapping[str, tuple[float, float]] | None = None,
    lines: Sequence[LineRow] = (),
    *,
    asked: Kind | None = None,
    table: TableGround | None = None,
) -> YardGround:
    """Fit the ground to adjusted points: the surfaces, and the choice between them.

    Parameters
    ----------
    points
        From the adjustment.
    stakes_en_m
        Where the stakes of piers stand, east and north, by pier (``A1``; with several arrays ``array-A1``).
    lines
        Of ``lines.csv``; its breaks are kept sharp.
    asked
        The surface that the job names; without it left-out shots decide.
    table
        The ground of a large table, if one is named.

    Raises
    ------
    WrongInput
        With fewer than three shots, or all in one line.
    """
    shots = ground_shots(points, stakes_en_m)
    breaks = breaks_en_m(lines, points, stakes_en_m)
    statistical = fitted_surface(shots.en_m, shots.z_m, shots.cov_m2, breaks_en_m=breaks)
    triangulated = triangulated_surface(
        shots.en_m,
        shots.z_m,
        shots.cov_m2,
        covariance=statistical.roughness.covariance,
        breaks_en_m=() if statistical.breaks is None else statistical.breaks.lines_en_m,
    )
    return YardGround(
        statistical=statistical,
        shots=shots,
        triangulated=triangulated,
        choice=chosen(
            statistical, triangulated, asked, over_table_m=None if table is None else table.above_m(shots)
        ),
        table=table,
        tie=None if table is None else table.tie(shots),
    )


def spans_ground(points: Points, stakes_en_m: Mapping[str, tuple[float, float]] | None = None) -> bool:
    """Return whether the points have shots enough to model the ground."""
    *_, en_m, z_m = places_shot(points, stakes_en_m)
    try:
        best_plane(en_m, z_m)
    except WrongInput:
        return False
    return True


def ground_of_table(table: GroundTable | None, points: Points) -> TableGround | None:
    """Lay the ground of a table about the survey's shots; None without a table.

    Raises
    ------
    WrongInput
        With fewer than three shots, or all in one line: nothing would tie the table to the benchmark.
    """
    return None if table is None else table_ground(table, ground_shots(points))


def breaks_en_m(
    lines: Sequence[LineRow], points: Points, stakes_en_m: Mapping[str, tuple[float, float]] | None = None
) -> tuple[Floats, ...]:
    """Return the points (k, 2) of each break among the lines; points that have no place are left out."""
    places = {
        known_as(name): place for name, place in zip(points.names, points.enz_m[:, :2].tolist(), strict=True)
    }
    places |= {known_as(name): list(place) for name, place in (stakes_en_m or {}).items()}
    found = (
        np.array([places[known_as(name)] for name in row.points if known_as(name) in places]).reshape(-1, 2)
        for row in lines
        if row.kind == "break"
    )
    return tuple(line[np.isfinite(line).all(axis=1)] for line in found)
