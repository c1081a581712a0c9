"""A large job of posts cut as several smaller ones alike, the sticks that came out worst pooled and cut anew.

Each part has posts of all lengths as the whole has them, so its linear program fills sticks nearly as well.
What would be filled last, and worst, goes back into the pool, until the pool is one part. What is lost
against the whole job's program lies in few sticks then, told by what their posts are worth there: they and
some others, by chance, are filled anew together until the bound is reached or that no longer helps.
"""

from __future__ import annotations

import math
import random
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

from staking.pipes.goal import Goal
from staking.pipes.many import ManyPosts
from staking.pipes.post_classes import Filled
from staking.pipes.rounding import SHARE, fixed_sticks
from staking.pipes.simple_bounds import up
from staking.pipes.task import Task

PART = 240
"""Posts of one part, about: its program is solved to the end within a second."""
BACK = 0.35
"""This share of a part's posts goes back into the pool."""
STEP = 0.1
"""This share of a part's sticks is filled at a time, while others are still to come."""
WASTE = 1e-3
"""A stick whose posts are worth less than it weighs by no more than this share counts as losing nothing."""
WORST, OTHERS = 40, 60
"""Sticks filled anew at a time, at most: those that lose most, and others by chance."""
TOGETHER = 300
"""Posts filled anew at a time, about: where many go into a stick, in fewer sticks."""
SOME = 0.6
"""Of all sticks no more than this share: all together have been filled before."""
MENDS = 24
"""Times that some sticks are filled anew."""
IDLE = 6
"""After so many in a row that save nothing it is left, where the bound can hardly be reached."""
SEED = 3
"""Any fixed number: the same pieces are always cut in the same way."""


class Parting:
    """A task without beams, its goal, and what each post is worth, by number of its length."""

    def __init__(self, task: Task, goal: Goal, worths: Sequence[float]) -> None:
        self.task, self.goal, self.worths = task, goal, worths

    def weight(self, sticks: Sequence[Filled]) -> float:
        """Return the sum of weights of these sticks."""
        return sum(self.goal.weights[f.kind] for f in sticks)

    def waste(self, stick: Filled) -> float:
        """Return by how much a stick weighs more than its posts are worth."""
        return self.goal.weights[stick.kind] - sum(self.worths[i] for i in stick.posts)

    def filled(
        self, posts: Sequence[int], kept: Sequence[Filled], *, leave: float = 0.0, step: float = SHARE
    ) -> list[Filled] | None:
        """Return sticks filled with these posts beside those kept; None when there is too little stock.

        `leave` and `step` are those of `fixed_sticks`.
        """
        many, taken = Counter(posts), Counter(f.kind for f in kept)
        number = sorted(many)
        lengths = self.task.post_lengths
        part = replace(
            self.task,
            kinds=self.task.less(taken),
            post_lengths=tuple(replace(lengths[i], posts=lengths[i].posts[: many[i]]) for i in number),
        )
        program = ManyPosts(part, self.goal)
        program.solve(up(sum(self.worths[i] for i in posts), self.goal.step))
        filled = fixed_sticks(program, leave=leave, step=step)
        if filled is None:
            return None
        return [replace(f, posts=tuple(number[i] for i in f.posts)) for f in filled]

    def in_parts(self) -> list[Filled] | None:
        """Return sticks for all posts; None when there is too little stock."""
        pool = self.task.each_post
        kept: list[Filled] = []
        while (parts := round(len(pool) / PART)) > 1:
            back: list[int] = []
            for n in range(parts):
                sticks = self.filled(pool[n::parts], kept, leave=BACK, step=STEP)
                if sticks is None:
                    return None
                kept += sticks
                done = Counter(i for f in sticks for i in f.posts)
                back += (Counter(pool[n::parts]) - done).elements()
            pool = sorted(back)
        rest = self.filled(pool, kept)
        return None if rest is None else [*kept, *rest]

    def mended(self, filled: Sequence[Filled], bound: float) -> list[Filled]:
        """Return sticks for the same posts, some dozens filled anew at a time where that saves any."""
        chance = random.Random(SEED)
        sticks = list(filled)
        share = min(TOGETHER * len(sticks) / sum(len(f.posts) for f in sticks) / (WORST + OTHERS), 1.0)
        most_worst = max(round(min(share * WORST, SOME * len(sticks))), 1)
        at_most = max(round(min(share * (WORST + OTHERS), SOME * len(sticks))), 2)
        idle = 0
        for _ in range(MENDS):
            if self.weight(sticks) <= bound + self.goal.step / 2 or (self.goal.fine and idle == IDLE):
                break
            sticks.sort(key=lambda f: (-self.waste(f), f.kind, f.posts))
            lossy = sum(self.waste(f) > WASTE * self.goal.weights[f.kind] for f in sticks)
            worst = min(max(lossy, 1), most_worst, len(sticks))
            others = min(at_most - worst, len(sticks) - worst)
            again = {*range(worst), *chance.sample(range(worst, len(sticks)), others)}
            part = [f for n, f in enumerate(sticks) if n in again]
            rest = [f for n, f in enumerate(sticks) if n not in again]
            anew = self.filled([i for f in part for i in f.posts], rest)
            gain = -math.inf if anew is None else self.weight(part) - self.weight(anew)
            idle = 0 if gain > self.goal.step / 2 else idle + 1
            if anew is not None and gain >= -self.goal.step / 2:
                sticks = [*rest, *anew]
        return sticks
