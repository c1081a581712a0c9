"""How much better shots fit with some of them changed, the ground's roughness left open.

For one covariance, let P be the inverse of Σ less what the drift takes. Moving the shots by δ along a
direction d (one shot, or all of a set-up) changes the log likelihood by ``-δ·dᵀPz - δ²·dᵀPd/2``; an amount
that is not known, normal with standard deviation w, by ``-log(1 + s)/2 + s/(1 + s)·(dᵀPz)²/dᵀPd/2`` with
``s = w²·dᵀPd``. For one shot ``dᵀPz / dᵀPd`` is its distance from what the others say and ``1 / dᵀPd`` that
distance's variance (O. Dubrule, Mathematical Geology 15 (1983) 687-699, from memory). Averaged over every
covariance tried, each with its chance: a wrong shot makes the ground look rough, and this undoes it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from staking.ground.kriging import PlaneDrift
from staking.ground.roughness import weighed_grid

Floats = NDArray[np.float64]


def log_sum(values: Floats) -> Floats:
    """Return the logarithm of the sum of exponentials down the first axis."""
    top = values.max(axis=0)
    return np.asarray(top + np.log(np.exp(values - top).sum(axis=0)))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Evidence:
    """What g covariances say of m directions in which the shots may be moved."""

    log_chance: Floats
    """(g,), of each covariance, the shots as they are; they sum to one."""
    precision: Floats
    """(g, m), ``dᵀPd``, 1/m²."""
    pull: Floats
    """(g, m), ``dᵀPz``, 1/m."""

    def moved(self, direction: int, by_m: float) -> float:
        """Return the log likelihood gained when the shots are moved by so much along a direction."""
        p, pull = self.precision[:, direction], self.pull[:, direction]
        return float(log_sum(self.log_chance - by_m * pull - 0.5 * by_m**2 * p))

    def free(self, direction: int, sd_m: float) -> float:
        """Return the log likelihood gained when the shots may have moved by an unknown, normal amount."""
        return self._spread(direction, sd_m**2 * self.precision[:, direction])

    def rougher(self, direction: int, times: float) -> float:
        """Return the log likelihood gained when the sd there is so many times what the covariance says."""
        return self._spread(direction, np.full(len(self.precision), times**2 - 1.0))

    def _spread(self, direction: int, spread: Floats) -> float:
        p, pull = self.precision[:, direction], self.pull[:, direction]
        gain = 0.5 * spread / (1.0 + spread) * pull**2 / p
        return float(log_sum(self.log_chance - 0.5 * np.log1p(spread) + gain))

    def stands_off(self, direction: int, sd_m: float) -> tuple[float, float]:
        """Return by how much the shots stand off along a direction, and that amount's sd, metres.

        The mean over the covariances, each with its chance once the amount is free as in `free`.
        """
        p, pull = self.precision[:, direction], self.pull[:, direction]
        spread = sd_m**2 * p
        log_chance = self.log_chance - 0.5 * np.log1p(spread) + 0.5 * spread / (1.0 + spread) * pull**2 / p
        chance = np.exp(log_chance - log_sum(log_chance))
        mean = float(chance @ (pull / p))
        return mean, float(np.sqrt(chance @ (1.0 / p + (pull / p - mean) ** 2)))


def evidence_of(en_m: Floats, z_m: Floats, noise_m2: Floats, directions: Floats) -> Evidence:
    """Weigh every covariance of the ground, and what each says of some directions.

    Parameters
    ----------
    en_m, z_m, noise_m2
        Plan positions (n, 2), elevations (n,) and the joint covariance (n, n) of their errors, metres.
    directions
        (n, m), columns that a plane cannot make up.
    """
    centre = en_m.mean(axis=0)
    scale_m = float(np.abs(en_m - centre).max())
    drift = PlaneDrift(centre_m=(float(centre[0]), float(centre[1])), scale_m=scale_m)
    grid = weighed_grid(en_m, z_m, noise_m2, drift=drift)
    precision, pull = [], []
    for cell in grid.cells:
        inverse = 1.0 / (1.0 + grid.variances_m2[:, None] * cell.values)
        seen = cell.basis @ directions
        precision.append(inverse @ seen**2)
        pull.append(inverse @ (seen * (cell.basis @ z_m)[:, None]))
    log_chance = np.concatenate([cell.log_chance for cell in grid.cells])
    return Evidence(
        log_chance=log_chance - log_sum(log_chance),
        precision=np.concatenate(precision),
        pull=np.concatenate(pull),
    )
