"""Where each piece of cut pipe goes, and what to write on it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise

from staking.layout.frame import Beam
from staking.pipes.cutlist import CutList
from staking.plan import ArrayPlan, Plan


@dataclass(frozen=True, slots=True, kw_only=True)
class Going:
    """One piece: where it goes."""

    piece: str
    label: str
    """To be written on it: ``A3 TOP``, ``beam A 2 of 5 LEFT``; the last word is the end it stands at."""
    array: str
    beam: int
    """0 for beam A."""
    is_post: bool
    from_m: float
    """Of a beam's piece: from the beam's left end to its own."""
    to_m: float
    posts: tuple[str, ...]
    """Posts that it rests on; of a post itself."""

    @property
    def briefly(self) -> str:
        """Where it goes in a few words, for the saw's list."""
        if self.is_post:
            return f"pier {self.posts[0]}"
        return f"on {_listed(self.posts)}" if self.posts else "on no post"


def going(plan: Plan, cuts: CutList) -> tuple[Going, ...]:
    """Return every piece in the order in which it is carried: row by row, left to right, posts first."""
    every: list[Going] = []
    for array in plan.arrays:
        for letter, beam in enumerate(array.fit.beams):
            every += _posts(array, letter)
            every += _parts(array, letter, beam, cuts)
    return tuple(every)


def by_piece(every: tuple[Going, ...]) -> Mapping[str, Going]:
    """Return the pieces by their names."""
    return {one.piece: one for one in every}


def _posts(array: ArrayPlan, letter: int) -> list[Going]:
    names = [
        array.pier_name(name)
        for name, beam in zip(array.fit.piers.names, array.fit.piers.beam, strict=True)
        if beam == letter
    ]
    return [
        Going(
            piece=name,
            label=f"{name} TOP",
            array=array.name,
            beam=letter,
            is_post=True,
            from_m=0.0,
            to_m=0.0,
            posts=(name,),
        )
        for name in names
    ]


def _parts(array: ArrayPlan, letter: int, beam: Beam, cuts: CutList) -> list[Going]:
    name = array.beam_name(beam.letter)
    ends = (0.0, *cuts.joints_m.get(name, ()), beam.length_m)
    return [
        Going(
            piece=f"{name} {k}",
            label=f"{array.pier_name(array.beam_letter(beam.letter))} {k} of {len(ends) - 1} LEFT",
            array=array.name,
            beam=letter,
            is_post=False,
            from_m=left,
            to_m=right,
            posts=tuple(
                array.pier_name(f"{beam.letter}{n}")
                for n, at in enumerate(beam.posts_m, start=array.job.first_pier)
                if left <= at <= right
            ),
        )
        for k, (left, right) in enumerate(pairwise(ends), start=1)
    ]


def _listed(names: tuple[str, ...]) -> str:
    """Return neighbouring posts as a range."""
    return names[0] if len(names) == 1 else f"{names[0]} to {names[-1]}"
