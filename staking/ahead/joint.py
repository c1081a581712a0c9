"""Readings not yet taken, each as one more scalar observation of what the survey and the ground leave unsure.

Unsure are the errors ε of the adjusted unknowns, with their covariance Q, and the ground: a plane β of which
nothing is known before, and departures u with the fitted covariance. Known are the shots, ``y = F β + u + C ε
+ noise``. A reading more is ``f β + u(s) + b ε + e``, a sight of a known point ``b ε + e`` alone. Given the
shots, the covariance of any such scalars is that of universal kriging; one or two readings more are then a
conditioning of rank one or two. Nothing is lost by taking readings after the shots: an error adjusted anew is
uncorrelated with what the new reading adds, so adjusting again and kriging again gives the same variance
(the covariance of the ground and the slope at the shots held).

Source: general conditioning of normal variables; universal kriging as in `staking.ground.kriging`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from staking.base.covariance import times
from staking.control.adjusting import Worked
from staking.control.equations import Equation, evaluated, stacked
from staking.ground.kriging import NOISE_FLOOR_M
from staking.ground.shots import STAKE_SET_SD_M, known_as
from staking.ground.surface import best_plane
from staking.ground.yard import YardGround

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Scalars:
    """k scalars: shares of the errors of the unknowns and, where `on` says so, the ground at a place."""

    by: Floats
    """(k, p): b, by the unknowns of the adjustment."""
    noise_m2: Floats
    """(k,): variance of e."""
    on: Ints
    """(g,): which of them are shots of the ground."""
    en_m: Floats
    """(g, 2): where."""

    def joined(self, other: Scalars) -> Scalars:
        """Return these and others after them."""
        return Scalars(
            by=np.vstack([self.by, other.by]),
            noise_m2=np.concatenate([self.noise_m2, other.noise_m2]),
            on=np.concatenate([self.on, other.on + len(self.by)]),
            en_m=np.vstack([self.en_m, other.en_m]),
        )


def rows_of(survey: Worked, equations: list[Equation]) -> Floats:
    """Return the derivatives (k, p) of readings by the unknowns, at the adjusted coordinates."""
    if not equations:
        return np.zeros((0, len(survey.result.free.free)))
    filled = np.nan_to_num(survey.result.coordinates)
    return survey.result.free.columns(evaluated(stacked(equations), filled)[1]).dense()


def readings_of(survey: Worked, equations: list[Equation]) -> Scalars:
    """Return readings between points and setups that the survey has."""
    return Scalars(
        by=rows_of(survey, equations),
        noise_m2=np.array([e.sd**2 for e in equations]),
        on=np.zeros(0, dtype=np.intp),
        en_m=np.zeros((0, 2)),
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GroundNow:
    """The ground as the shots leave it, with what each shot owes to the survey."""

    survey: Worked
    ground: YardGround
    slope: Floats
    """(2,): rise per metre east and north that turns an error of place into one of height."""
    shots_by: Floats
    """(n, p): C, the error of each shot as a shot of the ground by the unknowns' errors."""
    levels_by: Floats
    """(n, p): the same of the elevation as levelled."""

    @property
    def stake_off_m2(self) -> float:
        """What a stake's setting adds to its shot as one of the ground, with the floor of shots."""
        return float(self.slope @ self.slope) * STAKE_SET_SD_M**2 + NOISE_FLOOR_M**2

    def cov_m2(self, scalars: Scalars) -> Floats:
        """Return the (k, k) covariance of scalars given the shots, without the noise of their own."""
        q = self.survey.result.unknowns_cov
        kriging = self.ground.statistical.kriging
        through = times(q, scalars.by.T)
        with_shots = self.shots_by @ through
        cov = scalars.by @ through
        drift = np.zeros((len(scalars.by), kriging.q.shape[1]))
        with_shots[:, scalars.on] += kriging.covariance.between(kriging.en_m, scalars.en_m)
        cov[np.ix_(scalars.on, scalars.on)] += kriging.covariance.between(scalars.en_m, scalars.en_m)
        drift[scalars.on] = kriging.drift(scalars.en_m)
        k = kriging.white @ with_shots
        left = drift @ kriging.r_inverse - k.T @ kriging.q
        cov = cov - k.T @ k + left @ left.T
        return np.asarray((cov + cov.T) / 2.0)

    def surface_at(self, en_m: Floats) -> Scalars:
        """Return the true ground at places (k, 2)."""
        return Scalars(
            by=np.zeros((len(en_m), self.shots_by.shape[1])),
            noise_m2=np.zeros(len(en_m)),
            on=np.arange(len(en_m)),
            en_m=en_m,
        )

    def stake_shots(self, instrument_by: Floats, rod_sd_m: float, en_m: Floats) -> Scalars:
        """Return shots of the ground at stakes (k, 2), set where they are to stand, from one instrument."""
        return Scalars(
            by=np.tile(instrument_by, (len(en_m), 1)),
            noise_m2=np.full(len(en_m), rod_sd_m**2 + self.stake_off_m2),
            on=np.arange(len(en_m)),
            en_m=en_m,
        )

    def placed_shots(
        self, instrument_by: Floats, rod_sd_m: float, en_m: Floats, line: tuple[int, int], offset_sd_m: float
    ) -> Scalars:
        """Return shots of the ground at places (k, 2) found by station and offset, level, from a line.

        The place errs by the two readings, square to each other, and by the ends of the line.
        """
        start, to = (self.survey.result.coordinates[3 * p : 3 * p + 2] for p in line)
        run = to - start
        length = math.hypot(*run)
        u = run / length
        right = np.array([u[1], -u[0]])
        by = np.tile(instrument_by, (len(en_m), 1))
        ends = np.zeros((4, len(self.survey.result.coordinates)))
        for row, axis in enumerate((3 * line[0], 3 * line[0] + 1, 3 * line[1], 3 * line[1] + 1)):
            ends[row, axis] = 1.0
        ends = self.survey.result.free.of_unknowns(ends)
        for i, place in enumerate(en_m):
            station, offset = float((place - start) @ u), float((place - start) @ right)
            # The line's far end moved across by t turns the line by t / length about its near end.
            turned = (station * right - offset * u) / length
            move_start = np.eye(2) - np.outer(turned, right)
            move_to = np.outer(turned, right)
            by[i] -= self.slope @ (move_start @ ends[:2] + move_to @ ends[2:])
        off_m2 = float(self.slope @ self.slope) * offset_sd_m**2
        return Scalars(
            by=by,
            noise_m2=np.full(len(en_m), rod_sd_m**2 + off_m2 + NOISE_FLOOR_M**2),
            on=np.arange(len(en_m)),
            en_m=en_m,
        )


def ground_now(survey: Worked, ground: YardGround) -> GroundNow:
    """Return what the shots of the ground owe to the survey.

    The covariance of the shots is then ``C Q Cᵀ`` with, at stakes, what their setting adds.
    """
    shots = ground.shots
    slope = best_plane(shots.en_m, shots.z_m)
    count = len(survey.result.coordinates)
    full = np.zeros((len(shots.names), count))
    level = np.zeros_like(full)
    for i, name in enumerate(shots.names):
        p = survey.observed.numbers[known_as(name)]
        level[i, 3 * p + 2] = full[i, 3 * p + 2] = 1.0
        if known_as(name) not in shots.stakes:
            full[i, 3 * p : 3 * p + 2] = -slope
    free = survey.result.free
    return GroundNow(
        survey=survey,
        ground=ground,
        slope=slope,
        shots_by=free.of_unknowns(full),
        levels_by=free.of_unknowns(level),
    )
