"""What the whole job comes to, for the record: modules, rails, posts, beams, joints, weight."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from staking.book.records import ArrayJob, Job
from staking.layout.frame import Fit
from staking.pipes.cutlist import CutList
from staking.pipes.holes import Hole
from staking.pipes.stock import weight_kg


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """Numbers and lengths of all parts of all arrays; metres and kilograms."""

    modules: int
    rails: int
    rails_m: float
    posts: int
    posts_m: float
    """With their cut allowance."""
    beams: int
    beams_m: float
    joints: int
    pieces_kg: float | None
    """Posts and beams as cut; None where a pipe's wall is not known."""


def record_of(job: Job, arrays: Sequence[tuple[ArrayJob, Fit, Sequence[Hole]]], cuts: CutList) -> Record:
    """Return what the arrays, each with its fit and its holes, and their cut list come to."""
    pieces = [(stick.pipe, piece.length_m) for stick in cuts.sticks for piece in stick.pieces]
    return Record(
        modules=sum(design.array.modules_along * design.array.modules_up for design, _, _ in arrays),
        rails=sum(fit.rails for _, fit, _ in arrays),
        rails_m=math.fsum(fit.rails * fit.rail_length_m for _, fit, _ in arrays),
        posts=sum(len(holes) for _, _, holes in arrays),
        posts_m=math.fsum(hole.post_length_m for _, _, holes in arrays for hole in holes),
        beams=sum(len(fit.beams) for _, fit, _ in arrays),
        beams_m=math.fsum(beam.length_m for _, fit, _ in arrays for beam in fit.beams),
        joints=cuts.joints,
        pieces_kg=weight_kg(pieces, job),
    )
