"""Shots that disagree with their neighbours: spoil, a leaning rod, a stump, a misread foot."""

from __future__ import annotations

from dataclasses import dataclass
from statistics import NormalDist

import numpy as np

from staking.ground.shots import Shots
from staking.ground.surface import Surface, fitted_surface

ODD_SHOT_LEVEL = 0.01
"""Chance of naming any shot of a sound survey, shared among its shots: at 60 shots a shot is odd beyond
3.8 standard deviations."""
LEAST_SHOTS = 8
"""With fewer, what stands out from a plane is as likely the ground as the shot."""
MOST_ODD = 5
"""More odd shots than this are not odd: such ground is broken, and the surface's uncertainty says so."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OddShot:
    """One shot against what the ground round it says."""

    name: str
    above_m: float
    """The shot less what the other shots say the ground is there; negative: below."""
    sd_m: float
    """Of that difference."""

    @property
    def w(self) -> float:
        """Difference over its standard deviation."""
        return self.above_m / self.sd_m


def _against(surface: Surface, shots: Shots, one: int, others: list[int]) -> OddShot:
    """Return a shot against a surface that was fitted to other shots."""
    place = shots.en_m[one : one + 1]
    predicted = surface.at(place)
    weights = surface.kriging.weights(place)[0]
    variance = (
        predicted.cov_m2[0, 0] + shots.cov_m2[one, one] - 2.0 * float(weights @ shots.cov_m2[others, one])
    )
    return OddShot(
        name=shots.names[one],
        above_m=float(shots.z_m[one] - predicted.z_m[0]),
        sd_m=float(np.sqrt(variance)),
    )


def odd_shots(shots: Shots, surface: Surface) -> tuple[OddShot, ...]:
    """Return the shots that disagree with their neighbours, the oddest first.

    A wrong shot makes the ground look rough and so hides itself: the oddest one is judged by ground fitted
    without it, and where it is odd it is set aside and the next one is looked at. Empty where there are too
    few shots to tell, or where so many are odd that none is.
    """
    if len(shots.names) < LEAST_SHOTS:
        return ()
    bound = NormalDist().inv_cdf(1.0 - ODD_SHOT_LEVEL / (2.0 * len(shots.names)))
    kept = list(range(len(shots.names)))
    odd: list[OddShot] = []
    while len(kept) >= LEAST_SHOTS:
        w = np.nan_to_num(np.abs(surface.left_out.above_m / surface.left_out.sd_m))
        oddest = kept[int(w.argmax())]
        others = [i for i in kept if i != oddest]
        cov_m2 = shots.cov_m2[np.ix_(others, others)]
        cov_m2.flags.writeable = False
        surface = fitted_surface(shots.en_m[others], shots.z_m[others], cov_m2)
        found = _against(surface, shots, oddest, others)
        if abs(found.w) < bound:
            break
        if len(odd) == MOST_ODD:
            return ()
        odd.append(found)
        kept = others
    return tuple(sorted(odd, key=lambda shot: -abs(shot.w)))
