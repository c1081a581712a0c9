"""How many sticks are enough before the survey is final: the ground's uncertainty carried into the order.

The ground at the piers and under the modules is drawn from its joint covariance, the plane is fitted again to
each draw, and the posts that follow are cut from the sticks ordered. A pier whose stake is shot is final.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from staking.book.records import ArrayJob, Job, Pipe
from staking.ground.yard import YardGround
from staking.layout.frame import Fit
from staking.layout.piers import whole_name
from staking.layout.redrawn import Redrawing, redrawing_of, redrawn
from staking.pipes.certainty import Certainty, certainty_of
from staking.pipes.cutlist import BeamToCut, CutList, Piece
from staking.pipes.cutting import same_pipe
from staking.pipes.enough import Sticks, stock_used
from staking.pipes.holes import Hole

Floats = NDArray[np.float64]

SEED = 20261128
"""Any fixed number: the same survey always gives the same answer."""
DRAWS = ((40, 2000), (150, 500), (500, 200))
"""So many draws up to so many piers; beyond the last nothing is reckoned."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ordered:
    """One array whose posts are ordered."""

    name: str
    job: ArrayJob
    fit: Fit
    holes: tuple[Hole, ...]
    placed_en_m: tuple[float, float]
    raised_m: float = 0.0
    """By which the plane stands above the lowest that its own limits allow, for its neighbour's sake."""


def drawn_lengths(
    job: Job, ground: YardGround, arrays: Sequence[Ordered], *, draws: int, seed: int = SEED
) -> tuple[Floats, Floats]:
    """Return the posts' lengths (N, n) of all arrays in each draw, and the draws (N,) within the limits."""
    asked = [
        redrawing_of(
            one.job,
            one.fit,
            ground.for_array(one.name),
            placed_en_m=one.placed_en_m,
            style=job.site.show,
        )
        for one in arrays
    ]
    piers, up = _draws(job, ground, arrays, asked, draws, seed)
    lengths, within = [], np.ones(draws, dtype=bool)
    pier, spot = 0, piers
    for one, question in zip(arrays, asked, strict=True):
        m, k = len(question.pier_en_m), len(question.spot_en_m)
        again = redrawn(question, up[:, pier : pier + m], up[:, spot : spot + k])
        post_m = np.array([hole.post_length_m for hole in one.holes])
        lengths.append(post_m + again.above_grade_m + one.raised_m - one.fit.lengths.above_grade_m)
        within &= again.within
        pier, spot = pier + m, spot + k
    return np.hstack(lengths), within


def _draws(
    job: Job,
    ground: YardGround,
    arrays: Sequence[Ordered],
    asked: Sequence[Redrawing],
    draws: int,
    seed: int,
) -> tuple[int, Floats]:
    """Return the number of piers, and how much higher piers then spots come out in each draw."""
    whole = ground.for_array("")
    names = _whole_names(arrays)
    pier_en_m = np.vstack([one.pier_en_m for one in asked])
    spot_en_m = np.vstack([one.spot_en_m for one in asked])
    at = whole.at_piers((*names, *[""] * len(spot_en_m)), np.vstack([pier_en_m, spot_en_m]))
    values, vectors = np.linalg.eigh(at.cov_m2)
    # Rounding can leave an eigenvalue a hair below nought.
    root = vectors * np.sqrt(np.maximum(values, 0.0))
    chance = np.random.default_rng(seed)
    up = chance.standard_normal((draws, len(values))) @ root.T
    final = whole.at_stakes(names, pier_en_m)
    # The last reading at each stake errs too; a pier whose stake is shot is not read again.
    up[:, : len(names)] += chance.standard_normal((draws, len(names))) * job.accuracy.rod_m
    up[:, : len(names)][:, final] = 0.0
    return len(names), up


def _whole_names(arrays: Sequence[Ordered]) -> tuple[str, ...]:
    return tuple(whole_name(one.name, name) for one in arrays for name in one.fit.piers.names)


def certainties(
    job: Job,
    pipe: Pipe,
    ground: YardGround,
    arrays: Sequence[Ordered],
    posts: Sequence[Piece],
    beams: Sequence[BeamToCut],
    cuts: CutList,
) -> tuple[Certainty, ...] | None:
    """Return how sure the order of each pipe is; None where every stake is shot, or of very many piers.

    Parameters
    ----------
    job, pipe
        The decisions, and the pipe as it was cut from.
    ground
        With the shots at stakes.
    arrays
        In the order of the posts.
    posts, beams
        Of all arrays, as they were cut.
    cuts
        The cut list that is ordered from.
    """
    names = _whole_names(arrays)
    draws = next((number for most, number in DRAWS if len(names) <= most), None)
    en_m = np.vstack([one.fit.piers.en_m for one in arrays])
    if draws is None or bool(ground.for_array("").at_stakes(names, en_m).all()):
        return None
    lengths_m, within = drawn_lengths(job, ground, arrays, draws=draws)
    found = []
    for name in dict.fromkeys(stick.pipe for stick in cuts.sticks):
        mine = [k for k, post in enumerate(posts) if same_pipe(post.pipe, name)]
        if not mine:
            continue
        stock = [one for one in pipe.stock if one.pipe is None or same_pipe(one.pipe, name)]
        of_post = {posts[k].name for k in mine}
        taken = [
            (stick.stock_m, stick.on_hand, any(piece.piece in of_post for piece in stick.pieces))
            for stick in cuts.sticks
            if stick.pipe == name
        ]
        found.append(
            certainty_of(
                Sticks(
                    posts=tuple(posts[k] for k in mine),
                    beams=tuple(beam for beam in beams if same_pipe(beam.pipe, name)),
                    stock=stock_used(taken, stock),
                    pipe=pipe,
                ),
                [one for one in stock if one.count is None and one.use != "beam"],
                lengths_m[:, mine],
                pipe=name,
                seed=SEED,
                trip_cost=pipe.trip_cost,
                within=float(within.mean()),
            )
        )
    return tuple(found)
