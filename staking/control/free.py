"""Nets adjusted on themselves: no point held, the datum laid through all points or some (inner constraints).

How a net may move as a whole is found from its readings: of shifts east, north and up, a turn and a change
of size in plan, those and their mixtures that change no reading. Of all places that fit alike the ones
nearest to the approximate places of the datum's points are taken; those points have the least sum of
variances, too.

Source: P. Meissl, Zusammenfassung und Ausbau der inneren Fehlertheorie eines Punkthaufens (1969); W. Baarda,
S-transformations and criterion matrices (1973); both from memory.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from staking.base.covariance import part
from staking.base.lsq import RankDeficient, Solution, solved
from staking.control.equations import Equation, Kind, coordinates_held, evaluated, misfits, stacked
from staking.control.nets import AdjustedNet, NetReading, equations_of
from staking.control.network import standardised
from staking.control.settling import MOST_STEPS, SETTLED, NotSettled
from staking.control.variance_test import variance_passes

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

MOVEMENTS = ("east", "north", "up", "turn", "size")
UNCHANGED = 1e-7
"""Share of the strongest effect of a movement on readings below which it changes none: far above rounding."""
TAPES = (Kind.LEVEL_TAPE, Kind.SLOPE_TAPE)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FreeNet:
    """A net adjusted on itself."""

    net: AdjustedNet
    """Places and covariances on the datum; redundancy counts the movements."""
    defect: int
    """Independent movements that change no reading."""
    movements: tuple[str, ...]
    """Those of `MOVEMENTS` that change none by themselves."""
    scale: float | None
    """Factor on all distances of the net to what the tapes read, where it was asked for."""
    scale_sd: float | None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Frame:
    """The unknown coordinates of a net, and how it may move as a whole."""

    names: dict[str, int]
    equations: list[Equation]
    near: Floats
    """(3n,) approximate coordinates, reduced to their middle in plan; 0 where not unknown."""
    middle: Floats
    """(3,) what was taken off."""
    unknown: Ints
    """Coordinates that a reading holds."""
    on_datum: NDArray[np.bool_]
    """(3n,) coordinates that the datum is laid through."""
    scaled: bool
    """Whether the scale of the tapes is unknown; it stands after the coordinates."""

    @property
    def columns(self) -> Ints:
        """Return the unknowns among the coordinates and the scale."""
        return np.append(self.unknown, len(self.near)) if self.scaled else self.unknown

    def with_gaps(self, at: Floats) -> Floats:
        """Return coordinates (n, 3) where a reading holds them, NaN elsewhere."""
        return np.where(self.is_unknown(), at + np.tile(self.middle, len(at) // 3), np.nan).reshape(-1, 3)

    def is_unknown(self) -> NDArray[np.bool_]:
        """Return (3n,) whether a reading holds a coordinate."""
        found = np.zeros(len(self.near), dtype=bool)
        found[self.unknown] = True
        return found


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Fit:
    """A frame adjusted."""

    at: Floats
    scale: float
    misfit: Floats
    solution: Solution
    keeping: Floats
    """(p, p - d): steps that leave the datum where it is."""
    mixing: Floats
    """(5, d) free movements."""


def free_net(
    readings: Sequence[NetReading],
    *,
    approximate: Mapping[str, tuple[float | None, float | None, float | None]],
    datum: Collection[str] | None = None,
    unknown_scale: bool = False,
) -> FreeNet:
    """Adjust a net on itself, dense: up to a few hundred points.

    Parameters
    ----------
    readings
        The readings.
    approximate
        East, north, elevation near which each point stands, None for what no reading holds. The datum stays
        where these places have it.
    datum
        Points that the datum is laid through; None for all.
    unknown_scale
        Whether all distances, level and slope, share an unknown factor: ``read = scale · distance``.

    Raises
    ------
    ValueError
        When a place or a datum point is missing, or the datum's points do not hold all movements.
    RankDeficient
        When readings leave more free than movements of the whole net; its columns are coordinates.
    NotSettled
        When the adjustment does not settle.
    """
    frame = _framed(readings, approximate, datum, scaled=unknown_scale)
    fit = _fitted(frame)
    sd = np.array([reading.sd for reading in readings])
    count = len(fit.at)
    cov = np.full((count + 1, count + 1), np.nan)
    inner = part(fit.solution.cov, np.arange(len(fit.solution.x)))
    cov[np.ix_(frame.columns, frame.columns)] = fit.keeping @ inner @ fit.keeping.T
    vtpv = float(((fit.misfit / sd) ** 2).sum())
    redundancy = len(readings) - len(fit.solution.x)
    r = np.clip(1.0 - fit.solution.leverage, 0.0, 1.0)
    # A movement is free by itself when its unit vector lies in the space of the free ones.
    own = np.diag(fit.mixing @ fit.mixing.T)
    return FreeNet(
        net=AdjustedNet(
            names=tuple(frame.names),
            enz_m=frame.with_gaps(fit.at),
            cov_m2=cov[:count, :count],
            used=tuple(range(len(readings))),
            residuals=-fit.misfit,
            redundancy_numbers=r,
            w=standardised(-fit.misfit, sd, r),
            redundancy=redundancy,
            vtpv=vtpv,
            passes=variance_passes(vtpv, redundancy),
        ),
        defect=fit.mixing.shape[1],
        movements=tuple(word for word, share in zip(MOVEMENTS, own, strict=True) if share > 1 - UNCHANGED),
        scale=fit.scale if unknown_scale else None,
        scale_sd=math.sqrt(float(cov[count, count])) if unknown_scale else None,
    )


def _fitted(frame: _Frame) -> _Fit:
    """Go by Gauss–Newton along the steps that leave the datum where it is."""
    count, columns = len(frame.near), frame.columns
    at, scale = frame.near.copy(), 1.0
    moves, mixing = _free_movements(frame, at)
    keeping = _keeping(np.where(frame.on_datum[:, None], moves[:count], 0.0), columns)
    for _ in range(MOST_STEPS):
        design, misfit, sd = _written(frame, at, scale)
        try:
            solution = solved(design[:, columns] @ keeping, misfit, sd)
        except RankDeficient as error:
            loose = np.abs(keeping[:, list(error.columns)]).max(axis=1, initial=0.0) > UNCHANGED
            raise RankDeficient(tuple(int(c) for c in columns[loose])) from None
        step = np.zeros(count + 1)
        step[columns] = keeping @ solution.x
        at, scale = at + step[:count], scale + float(step[count])
        if not np.isfinite(at).all():
            break
        if float(np.abs(step).max(initial=0.0)) < SETTLED:
            _, misfit, _ = _written(frame, at, scale)
            return _Fit(at=at, scale=scale, misfit=misfit, solution=solution, keeping=keeping, mixing=mixing)
    msg = "the readings contradict each other, or the approximate places are too far off: it does not settle"
    raise NotSettled(msg)


def transformed(
    net: AdjustedNet,
    readings: Sequence[NetReading],
    *,
    approximate: Mapping[str, tuple[float | None, float | None, float | None]],
    datum: Collection[str] | None = None,
) -> AdjustedNet:
    """Return a net brought from any least datum to that of some points (S-transformation).

    Parameters
    ----------
    net
        Adjusted with no more held than its readings leave free.
    readings
        Those that it was adjusted from.
    approximate, datum
        As for `free_net`.

    Raises
    ------
    ValueError
        As for `free_net`.
    """
    frame = _framed(readings, approximate, datum, scaled=False)
    order = np.array([net.names.index(name) for name in frame.names])
    wanted = frame.is_unknown()
    at = np.where(wanted, (net.enz_m[order] - frame.middle).ravel(), 0.0)
    count = len(at)
    held = np.where(frame.on_datum[:, None], _free_movements(frame, frame.near)[0][:count], 0.0)
    _keeping(held, frame.columns)
    turned = np.eye(3)
    for _ in range(MOST_STEPS):
        moves, mixing = _free_movements(frame, at)
        by = np.linalg.solve(held.T @ moves[:count], held.T @ (frame.near - at))
        at, matrix = _moved(frame, at, mixing @ by)
        turned = matrix @ turned
        if float(np.abs(by).max(initial=0.0)) < SETTLED:
            break
    free = moves[:count]
    carry = np.eye(count) - free @ np.linalg.solve(held.T @ free, held.T)
    carry = carry @ np.kron(np.eye(len(order)), turned)
    rows = (3 * order[:, None] + np.arange(3)).ravel()
    both = np.outer(wanted, wanted)
    cov = carry @ np.where(both, part(net.cov_m2, rows), 0.0) @ carry.T
    return replace(
        net,
        names=tuple(frame.names),
        enz_m=frame.with_gaps(at),
        cov_m2=np.where(both, cov, np.nan),
    )


def _framed(
    readings: Sequence[NetReading],
    approximate: Mapping[str, tuple[float | None, float | None, float | None]],
    datum: Collection[str] | None,
    *,
    scaled: bool,
) -> _Frame:
    """Return the unknowns of a net, reduced to its middle."""
    names: dict[str, int] = {}
    for reading in readings:
        for name in reading.points:
            names.setdefault(name, len(names))
    missing = [name for name in (datum or ()) if name not in names]
    if missing:
        msg = f"no reading holds the datum point {missing[0]}"
        raise ValueError(msg)
    equations = equations_of(readings, names)
    held = coordinates_held(stacked(equations))
    unknown = np.unique(held[held >= 0])
    near = np.full((len(names), 3), np.nan)
    for name, row in names.items():
        near[row] = [np.nan if value is None else value for value in approximate.get(name, (None,) * 3)]
    asked = np.zeros(near.size, dtype=bool)
    asked[unknown] = True
    for c in np.flatnonzero(asked & np.isnan(near.ravel())):
        msg = f"{list(names)[c // 3]} has no approximate {('east', 'north', 'elevation')[c % 3]}"
        raise ValueError(msg)
    kept = np.where(asked.reshape(-1, 3), near, 0.0)
    # Far from the origin of a grid, differences would lose digits.
    middle = kept.sum(axis=0) / np.maximum(asked.reshape(-1, 3).sum(axis=0), 1)
    reduced = np.where(asked.reshape(-1, 3), kept - middle, 0.0).ravel()
    inside = np.array([datum is None or name in datum for name in names])
    return _Frame(
        names=names,
        equations=[
            replace(e, value=e.value - middle[e.at[0] % 3]) if e.kind is Kind.COORDINATE else e
            for e in equations
        ],
        near=reduced,
        middle=middle,
        unknown=unknown,
        on_datum=asked & np.repeat(inside, 3),
        scaled=scaled,
    )


def _movements(frame: _Frame, at: Floats) -> Floats:
    """Return each of `MOVEMENTS` as a column (3n + 1, 5): a metre, or what moves the farthest point a metre.

    The last row is what it does to the scale of the tapes.
    """
    east, north = at[0::3], at[1::3]
    reach = _reach(at)
    moves = np.zeros((len(at) + 1, len(MOVEMENTS)))
    moves[0:-1:3, 0] = moves[1:-1:3, 1] = moves[2:-1:3, 2] = 1.0
    moves[0:-1:3, 3], moves[1:-1:3, 3] = north / reach, -east / reach
    moves[0:-1:3, 4], moves[1:-1:3, 4] = east / reach, north / reach
    moves[-1, 4] = -1.0 / reach
    moves[~np.append(frame.is_unknown(), frame.scaled)] = 0.0
    return moves


def _reach(at: Floats) -> float:
    return max(float(np.hypot(at[0::3], at[1::3]).max(initial=0.0)), 1.0)


def _free_movements(frame: _Frame, at: Floats) -> tuple[Floats, Floats]:
    """Return a basis (3n + 1, d) of the movements that change no reading, and its mixing (5, d)."""
    design, _, sd = _written(frame, at, 1.0)
    moves = _movements(frame, at)
    # What moves no unknown is no movement of this net.
    able = np.flatnonzero(np.abs(moves[:-1]).max(axis=0, initial=0.0) > 0)
    _, singular, turn = np.linalg.svd(design @ moves[:, able] / sd[:, None], full_matrices=True)
    strong = np.zeros(len(able))
    strong[: len(singular)] = singular
    free = strong < UNCHANGED * max(float(strong.max(initial=0.0)), 1.0 / float(sd.max()))
    mixing = np.zeros((len(MOVEMENTS), int(free.sum())))
    mixing[able] = turn[free].T
    return moves @ mixing, mixing


def _moved(frame: _Frame, at: Floats, by: Floats) -> tuple[Floats, Floats]:
    """Return the net moved as a whole by amounts of `MOVEMENTS`, and the (3, 3) matrix of turn and size."""
    turn, size = by[3] / _reach(at), math.exp(by[4] / _reach(at))
    c, s = size * math.cos(turn), size * math.sin(turn)
    matrix = np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]])
    there = (at.reshape(-1, 3) @ matrix.T + by[:3]).ravel()
    return np.where(frame.is_unknown(), there, 0.0), matrix


def _keeping(held: Floats, columns: Ints) -> Floats:
    """Return the steps (p, p - d), as columns, that leave the datum where it is.

    Parameters
    ----------
    held
        (3n, d) the free movements of the datum's points, nothing elsewhere.
    columns
        (p,) unknowns.
    """
    defect = held.shape[1]
    left, singular, _ = np.linalg.svd(np.vstack([held, np.zeros(defect)])[columns], full_matrices=True)
    if defect and float(singular.min()) < UNCHANGED * float(singular.max()):
        msg = "the datum's points do not hold every movement of the net: name more of them"
        raise ValueError(msg)
    return left[:, defect:]


def _written(frame: _Frame, at: Floats, scale: float) -> tuple[Floats, Floats, Floats]:
    """Return the design (m, 3n + 1), what was read less what is, and the sds."""
    stack = stacked(frame.equations)
    predicted, derivatives = evaluated(stack, at)
    design = np.hstack([derivatives.dense(), np.zeros((len(stack), 1))])
    if frame.scaled:
        tapes = np.isin(stack.kind, TAPES)
        design[tapes] *= scale
        design[tapes, -1] = predicted[tapes]
        predicted[tapes] *= scale
    return design, misfits(stack, predicted), stack.sd
