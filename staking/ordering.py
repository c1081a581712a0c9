"""How many sticks are enough before the survey is final: the ground's uncertainty carried into the order.

The ground at the piers and under the modules is drawn from its joint covariance, the plane is fitted again to
each draw, and the posts that follow are cut from the sticks ordered. A pier whose stake is shot is final.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from staking.book.records import ArrayJob, Job, Pipe
from staking.ground.elevations import GRADIENT_SPAN_M, SPAN_STEPS_M
from staking.ground.yard import YardGround
from staking.layout.beams import beams_of
from staking.layout.frame import Beam, Fit
from staking.layout.piers import whole_name
from staking.layout.redrawn import Redrawing, redrawing_of, redrawn
from staking.pipes.certainty import Certainty, certainty_of
from staking.pipes.cutlist import BeamToCut, CutList, Piece
from staking.pipes.cutting import same_pipe
from staking.pipes.enough import Group, Sticks, layout_of, stock_used
from staking.pipes.holes import Hole, lip_reach_m

Floats = NDArray[np.float64]

SEED = 20261128
"""Any fixed number: the same survey always gives the same answer."""
DRAWS = ((40, 2000), (150, 500), (500, 200))
"""So many draws up to so many piers; beyond the last nothing is reckoned."""
MOST_GROUPS = 8
"""Cross-slopes, or sets of them, whose own beams are cut."""
LEAST_SD_M = 1e-4
"""A shot at a stake is taken to err by so much at least: none is better."""


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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Drawn:
    """What comes of N draws of the ground."""

    lengths_m: Floats
    """(N, n) the posts of all arrays."""
    cross_rad: Floats
    """(N, arrays) their cross-slopes."""
    beams: tuple[dict[float, tuple[Beam, ...]], ...]
    """Of each array, by cross-slope, the beams that go with it."""
    within: NDArray[np.bool_]
    """(N,) whether some plane meets every limit."""


def drawn(job: Job, ground: YardGround, arrays: Sequence[Ordered], *, draws: int, seed: int = SEED) -> Drawn:
    """Return the posts and cross-slopes of all arrays in each draw of the ground."""
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
    piers, up, lips = _draws(job, ground, arrays, asked, draws, seed)
    lengths, crosses, beams, within = [], [], [], np.ones(draws, dtype=bool)
    pier, spot = 0, piers
    for one, question in zip(arrays, asked, strict=True):
        m, k = len(question.pier_en_m), len(question.spot_en_m)
        again = redrawn(question, up[:, pier : pier + m], up[:, spot : spot + k])
        post_m = np.array([hole.post_length_m for hole in one.holes]) + lips[:, pier : pier + m]
        lengths.append(post_m + again.above_grade_m + one.raised_m - one.fit.lengths.above_grade_m)
        crosses.append(again.cross_rad)
        beams.append(
            {
                float(cross): beams_of(question.shape, replace(one.fit.plane, cross_slope_rad=float(cross)))
                for cross in np.unique(again.cross_rad)
            }
        )
        within &= again.within
        pier, spot = pier + m, spot + k
    return Drawn(
        lengths_m=np.hstack(lengths),
        cross_rad=np.column_stack(crosses),
        beams=tuple(beams),
        within=within,
    )


def _draws(
    job: Job,
    ground: YardGround,
    arrays: Sequence[Ordered],
    asked: Sequence[Redrawing],
    draws: int,
    seed: int,
) -> tuple[int, Floats, Floats]:
    """Return the number of piers, how much higher piers then spots come out, and how much longer lips do."""
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
    lips = np.zeros((draws, len(names)))
    if job.footing is not None:
        lips = lip_reach_m(job.footing) * steeper(whole, pier_en_m, final, up[:, : len(names)], job)
    return len(names), up, lips


def steeper(
    ground: YardGround, pier_en_m: Floats, final: NDArray[np.bool_], up_m: Floats, job: Job
) -> Floats:
    """Return how much steeper (N, m) the ground at each pier is when the stakes are shot as drawn.

    The surface then leans on the new shots: its rise changes by its covariance with them over theirs. A pier
    whose stake is shot keeps its lip.
    """
    count, shot = len(pier_en_m), np.flatnonzero(~final)
    if not len(shot):
        return np.zeros_like(up_m)
    around = (pier_en_m[None, :, :] + SPAN_STEPS_M[:, None, :]).reshape(-1, 2)
    cov = ground.at(np.vstack([pier_en_m[shot], around])).cov_m2
    own = cov[: len(shot), : len(shot)] + np.eye(len(shot)) * max(job.accuracy.rod_m, LEAST_SD_M) ** 2
    four = cov[len(shot) :, : len(shot)].reshape(4, count, len(shot))
    rise = np.stack([four[0] - four[1], four[2] - four[3]]) / GRADIENT_SPAN_M
    weights = np.linalg.solve(own, rise.reshape(-1, len(shot)).T)
    now = ground.gradient(pier_en_m).T
    drawn_rise = now[:, None, :] + (up_m[:, shot] @ weights).reshape(len(up_m), 2, count).transpose(1, 0, 2)
    steeper = np.asarray(np.hypot(*drawn_rise) - np.hypot(*now))
    steeper[:, final] = 0.0
    return steeper


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
    out = drawn(job, ground, arrays, draws=draws)
    found = []
    for name in dict.fromkeys(stick.pipe for stick in cuts.sticks):
        mine = [k for k, post in enumerate(posts) if same_pipe(post.pipe, name)]
        if not mine:
            continue
        stock = [one for one in pipe.stock if one.pipe is None or same_pipe(one.pipe, name)]
        own = tuple(posts[k] for k in mine)
        sticks = [stick for stick in cuts.sticks if stick.pipe == name]
        of_post = {post.name for post in own}
        own_beams = tuple(beam for beam in beams if same_pipe(beam.pipe, name))
        taken = [
            (stick.stock_m, stick.on_hand, any(piece.piece in of_post for piece in stick.pieces))
            for stick in sticks
        ]
        found.append(
            certainty_of(
                Sticks(
                    posts=own,
                    beams=own_beams,
                    list_of=replace(cuts, sticks=tuple(sticks)),
                    list_beams=own_beams,
                    stock=stock_used(taken, stock),
                    pipe=pipe,
                    listed=layout_of(sticks, own, pipe.kerf_m),
                ),
                [one for one in stock if one.count is None and one.use != "beam"],
                out.lengths_m[:, mine],
                pipe=name,
                seed=SEED,
                trip_cost=pipe.trip_cost,
                within=float(out.within.mean()),
                groups=groups_of(arrays, beams, out, name),
            )
        )
    return tuple(found)


def groups_of(
    arrays: Sequence[Ordered], beams: Sequence[BeamToCut], out: Drawn, pipe: str
) -> tuple[Group, ...]:
    """Return the draws by the beams of this pipe that go with their cross-slopes.

    Where there are many, draws at rare cross-slopes count with the nearest that is not rare.
    """
    now = np.array([one.fit.plane.cross_slope_rad for one in arrays])
    first = np.cumsum([0, *(len(one.fit.beams) for one in arrays)])
    has_pipe = [any(same_pipe(beam.pipe, pipe) for beam in beams[a:b]) for a, b in pairwise(first)]
    cross = np.where(has_pipe, out.cross_rad, now)
    kinds, of_draw, many = np.unique(cross, axis=0, return_inverse=True, return_counts=True)
    kept = np.sort(np.argsort(-many, kind="stable")[:MOST_GROUPS])
    nearest = np.abs(kinds[:, None, :] - kinds[None, kept, :]).sum(axis=2).argmin(axis=1)[of_draw.ravel()]
    groups = []
    for number, k in enumerate(kept):
        made = [
            replace(beam, length_m=new.length_m, posts_m=new.posts_m, rails_m=new.rails_m)
            for n, (a, b) in enumerate(pairwise(first))
            for beam, new in zip(
                beams[a:b], out.beams[n].get(float(kinds[k, n]), arrays[n].fit.beams), strict=True
            )
        ]
        groups.append(
            Group(
                draws=nearest == number,
                beams=tuple(beam for beam in made if same_pipe(beam.pipe, pipe)),
                as_listed=bool((kinds[k] == now).all()),
            )
        )
    return tuple(groups)
