"""What a planned survey will say of the piers: its shots on ground whose roughness is assumed."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from staking.ahead.planned import Planned, planned_survey
from staking.ahead.proof import Claim, claims
from staking.base.errors import Mistake, WrongInput
from staking.book.records import FieldBook
from staking.control.adjustment import Points
from staking.far_off import refuse_far
from staking.ground.covariance import MATERN_32, Covariance, Term, distances_m, roughened
from staking.ground.kriging import solved
from staking.ground.roughness import RANGE, ROUGH_SHARES, expected_departure
from staking.ground.shots import ground_shots
from staking.ground.surface import fitted_surface
from staking.ground.yard import YardGround
from staking.laying import names_of_piers, pier_places
from staking.layout.place import placed_position

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Foreseen:
    """All that can be said before any reading is taken."""

    planned: Planned
    piers: tuple[str, ...]
    """Empty without a design, or where `no_piers` says why."""
    sd_ground_m: Floats
    no_piers: str
    claims: tuple[Claim, ...]


def foreseen(book: FieldBook) -> Foreseen:
    """Return what a planned survey will prove.

    Piers stand as with level beams: the heights that would slope them are not known yet.

    Raises
    ------
    WrongInput
        When nothing is planned, a point has no rough place, or the survey could not be adjusted once read.
    """
    names = names_of_piers(book.job)[0] | {row.pier for row in book.staked}
    planned = planned_survey(book, pier_names=names)
    if not planned.planned:
        # Its ground would be assumed where that of the shots taken is known better.
        problem = "no reading is planned: none is marked x, and every cell that is needed holds one"
        raise WrongInput([Mistake(file="--planned", problem=problem, remedy="Use staking check")])
    points = planned.survey.adjustment.points
    piers: dict[str, tuple[float, float]] = {}
    sd_m, why, diagonal_m = np.zeros(0), "", None
    if book.job.arrays:
        try:
            refuse_far(book, points)
            placed = {one.name: placed_position(one.place, points) for one in book.job.arrays}
            piers = pier_places(book.job, placed)
            ground = assumed_ground(points, piers, book.job.ground.roughness_per_m)
        except WrongInput as error:
            piers, why = {}, str(error.mistakes[0])
        else:
            en_m = np.array(list(piers.values()))
            sd_m = ground.at_piers(tuple(piers), en_m).sd_m
            diagonal_m = float(distances_m(en_m, en_m).max())
    return Foreseen(
        planned=planned,
        piers=tuple(piers),
        sd_ground_m=sd_m,
        no_piers=why,
        claims=claims(
            planned.book,
            points,
            sight_length_m=0.0 if diagonal_m is None else diagonal_m / 2.0,
            diagonal_m=diagonal_m,
        ),
    )


def assumed_ground(
    points: Points, stakes_en_m: dict[str, tuple[float, float]], roughness_per_m: float
) -> YardGround:
    """Return the ground of shots whose heights say nothing of its roughness yet.

    Parameters
    ----------
    points
        Adjusted; only their places and covariance matter.
    stakes_en_m
        Where stakes of piers will stand.
    roughness_per_m
        Rms departure of the ground from its best plane over the diagonal of the patch.

    Notes
    -----
    The covariance is Matérn 3/2 with the share of fine roughness that real ground has, its range the usual
    share of the diagonal, its variance what gives that departure over a square patch: see docs/ground.md.
    """
    shots = ground_shots(points, stakes_en_m)
    shape = roughened(MATERN_32, ROUGH_SHARES[-1])
    diagonal_m = float(distances_m(shots.en_m, shots.en_m).max())
    sd_m = roughness_per_m * diagonal_m / expected_departure(shape, RANGE)
    covariance = Covariance(terms=(Term(smoothness=shape, variance_m2=sd_m**2, range_m=RANGE * diagonal_m),))
    surface = fitted_surface(shots.en_m, shots.z_m, shots.cov_m2)
    kriging = solved(shots.en_m, shots.z_m, shots.cov_m2, covariance=covariance, drift=surface.kriging.drift)
    return YardGround(statistical=replace(surface, kriging=kriging), shots=shots)
