"""The pieces of one array: a post for each pier, and the beams whose joints are still open."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from staking.base.units import Style
from staking.book.records import FrameDesign
from staking.layout.frame import Fit
from staking.pipes.cutlist import BeamToCut, Piece
from staking.pipes.holes import Hole
from staking.pipes.stock import pipe_name


def pieces_of(
    fit: Fit,
    holes: Sequence[Hole],
    frame: FrameDesign,
    *,
    pier_name: Callable[[str], str] = str,
    beam_name: Callable[[str], str] = "beam {}".format,
    style: Style = "metric",
) -> tuple[list[Piece], list[BeamToCut]]:
    """Return the posts and the beams to be cut.

    Parameters
    ----------
    fit : Fit
        The array laid out.
    holes : sequence of Hole
        In the order of its piers; they know the length of each post.
    frame : FrameDesign
        For the pipe of posts and beams.
    pier_name, beam_name : callable
        From a pier's name and a beam's letter to the names in the whole job: ``name-A1``, ``beam name-A``.
    style : str
        Notation of lengths, for the name of a pipe that is only measured.
    """
    posts = [
        Piece(
            name=pier_name(hole.pier),
            length_m=hole.post_length_m,
            pipe=pipe_name(frame, "post", style=style),
        )
        for hole in holes
    ]
    beams = [
        BeamToCut(
            name=beam_name(beam.letter),
            length_m=beam.length_m,
            posts_m=beam.posts_m,
            rails_m=beam.rails_m,
            pipe=pipe_name(frame, "beam", style=style),
        )
        for beam in fit.beams
    ]
    return posts, beams
