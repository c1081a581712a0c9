"""The best cutting of one task and its proof."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from heapq import heappop, heappush

from staking.pipes.cell_program import bound_by_cells
from staking.pipes.choosing import choose
from staking.pipes.goal import Goal
from staking.pipes.large import bounded_by_cells
from staking.pipes.laying import PACKINGS, laid_cuttings, mixes
from staking.pipes.mix_proof import KNOTS, bound_by_mixes
from staking.pipes.pricing import Program, tight_loads
from staking.pipes.simple_bounds import needs_m, up
from staking.pipes.task import Cutting, Task

LISTED = 4000
"""Loads of posts alone in one integer program at most; more take too long."""
LISTED_WITH_PARTS = 1000
"""The same where beams are cut: each part's ends are variables too."""
MIX_LISTED = 600
"""The same where only one mix of kinds of stick is looked at, as there may be many mixes."""
BETWEEN_EQUALS = 200
"""The same where other sticks are sought that cost no more: with 600 of them one job took 14 s for 0.6."""
MIXES = 24
"""Mixes that are tried one after the other."""
PACKINGS_IN_ALL = 120
"""Ways to share out the posts that are tried on all mixes together, some seconds when none goes."""
PIECES = 60
"""Of larger tasks fewer ways are tried, in proportion."""
FEW_PACKINGS = PACKINGS // 8
"""Ways to share out the posts that are tried on one mix of kinds of stick among many."""
HALVING_PACKINGS = 2
"""The same while the mixes are halved."""
BRANCHES = 40
"""Linear programs with the numbers of sticks limited, at most."""
WHOLE = 1e-6
"""A number of sticks nearer than this to a whole number is whole."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """The best cutting found, None when there is none, and a proven bound of its sum of weights."""

    cutting: Cutting | None
    bound: float
    short_of_stock: bool = False
    """Not even parts of sticks would do, by the linear program."""


class _Quest:
    """The search for one task and goal."""

    def __init__(self, task: Task, goal: Goal, best: Cutting | None, bound: float, proof: bool) -> None:
        self.task, self.goal, self.best, self.bound = task, goal, best, bound
        self.proof = proof
        """Whether integer programs may be used, which can take seconds."""
        self.tried: dict[tuple[int, ...], int] = {}
        self.packings = PACKINGS_IN_ALL * PIECES // max(PIECES, task.most_pieces)
        """Those not yet tried."""
        self.listed = LISTED_WITH_PARTS if task.beams else LISTED

    @property
    def reached(self) -> float:
        """The sum of weights of the best cutting so far."""
        return self.goal.worth(self.best)

    def cannot_beat(self, bound: float) -> bool:
        """Whether no cutting bounded so is better than the best so far."""
        return up(bound, self.goal.step) >= self.reached - self.goal.step / 2

    def try_mix(self, program: Program | None, counts: tuple[int, ...], packings: int) -> bool:
        """Lay a cutting on these sticks if that would be better, unless tried before; whether it went."""
        weight = sum(n * w for n, w in zip(counts, self.goal.weights, strict=True))
        capped = self.goal.cap_weights or [0.0] * len(counts)
        over = sum(n * w for n, w in zip(counts, capped, strict=True)) > self.goal.cap
        packings = min(packings, self.packings)
        if self.tried.get(counts, 0) >= packings or over or weight > self.reached - self.goal.step / 2:
            return False
        self.tried[counts] = packings
        kinds = [kind for kind, n in enumerate(counts) for _ in range(n)]
        liked = () if program is None else program.liked()
        laid = next(laid_cuttings(self.task, kinds, packings, liked), None)
        if laid is not None:
            self.best = laid
        else:
            self.packings -= packings
        return laid is not None

    def halve_mixes(self) -> None:
        """Halve the mixes between bound and best cutting: as a rule dear ones go and cheap ones do not."""
        if self.best is None or self.cannot_beat(self.bound):
            return
        listed = mixes(self.task, self.goal, self.bound, self.reached)
        low, high = 0, len(listed)
        packings = self.packings
        while low < high:
            middle = (low + high) // 2
            self.packings = max(packings, HALVING_PACKINGS)
            if self.try_mix(None, listed[middle], HALVING_PACKINGS):
                high = middle
            else:
                low = middle + 1
        self.packings = packings

    def try_mixes(self, program: Program) -> None:
        """Try mixes from the bound up until one goes."""
        if self.best is None or self.cannot_beat(self.bound):
            return
        packings = PACKINGS if len(self.task.kinds) == 1 else FEW_PACKINGS
        for counts in mixes(self.task, self.goal, self.bound, self.reached)[:MIXES]:
            if self.try_mix(program, counts, packings):
                return

    def weigh_met(self, program: Program) -> bool:
        """Look for a better cutting among the loads met in pricing; whether there was one."""
        met = list(dict.fromkeys(c.load for c in program.columns))[-self.listed :]
        most = self.reached - self.goal.step
        choice = choose(self.task, self.goal, met, most)
        self.best = choice.cutting or self.best
        return choice.cutting is not None

    def weigh_all(self, program: Program) -> bool:
        """Look among all loads that a better cutting could hold; whether that settled anything."""
        most = self.bound if self.best is None else self.reached - self.goal.step
        loads, complete = program.loads(most, self.listed)
        if not complete and self.best is not None:
            return False
        choice = choose(self.task, self.goal, loads, most)
        self.best = choice.cutting or self.best
        if complete and choice.done:
            nothing = most + self.goal.step
            self.bound = nothing if choice.cutting is None else max(self.bound, self.reached)
            return True
        return choice.cutting is not None

    def branch(self, program: Program) -> None:
        """Split by the numbers of sticks of each kind, which the linear program takes for divisible."""
        kinds = range(len(self.task.kinds))
        on_hand = self.task.on_hand
        open_: list[tuple[float, int, list[int], list[float]]] = [
            (self.bound, 0, [0 for _ in kinds], on_hand)
        ]
        unsettled = math.inf
        pushed = solved = 0

        def push(
            bound: float, low: Sequence[int], high: Sequence[float], kind: int, a: int, b: float
        ) -> None:
            nonlocal pushed
            if a <= b:
                pushed += 1
                heappush(
                    open_,
                    (
                        bound,
                        pushed,
                        [a if k == kind else low[k] for k in kinds],
                        [b if k == kind else high[k] for k in kinds],
                    ),
                )

        while open_ and solved < BRANCHES:
            bound, _, low, high = heappop(open_)
            if self.cannot_beat(bound):
                open_.clear()
                break
            solved += 1
            program.limit_counts(low, high)
            program.solve(self.reached)
            bound = max(bound, program.bound)
            if self.cannot_beat(bound):
                continue
            if not program.exact:
                unsettled = min(unsettled, bound)
                continue
            used = program.sticks_used()
            split = max(kinds, key=lambda k: abs(used[k] - round(used[k])))
            self.try_mix(program, tuple(math.ceil(u - WHOLE) for u in used), FEW_PACKINGS)
            if abs(used[split] - round(used[split])) > WHOLE:
                n = math.floor(used[split])
                push(bound, low, high, split, low[split], n)
                push(bound, low, high, split, n + 1, high[split])
                continue
            free = [k for k in kinds if low[k] < high[k]]
            if free:
                split, n = free[0], round(used[free[0]])
                push(bound, low, high, split, low[split], n - 1)
                push(bound, low, high, split, n, n)
                push(bound, low, high, split, n + 1, high[split])
            elif not self.settle_mix(program, low):
                unsettled = min(unsettled, bound)
        program.limit_counts([0 for _ in kinds], on_hand)
        least = min([unsettled, *(bound for bound, *_ in open_)])
        self.bound = max(self.bound, min(up(least, self.goal.step), self.reached))

    def settle_mix(self, program: Program, counts: Sequence[int]) -> bool:
        """Find a cutting on these very sticks, or prove that there is none; whether it was settled."""
        if not self.proof:
            return False
        if not self.task.threaded and self.try_mix(program, tuple(counts), PACKINGS):
            return True
        room = sum(n * self.task.room_m(kind) for kind, n in enumerate(counts))
        waste = room - sum(needs_m(self.task))
        loads, complete = tight_loads(self.task, waste, MIX_LISTED)
        if not complete:
            return False
        choice = choose(self.task, self.goal, loads, self.reached - self.goal.step, counts=counts)
        self.best = choice.cutting or self.best
        return choice.done


def best_cutting(
    task: Task, goal: Goal, start: Cutting | None, bound: float, *, proof: bool = True
) -> Answer:
    """Improve on what `many_cut` found until it equals a proven bound, or as far as a limited search goes.

    First column generation for the bound. While there is a gap: mixes of sticks that might do are tried;
    with several kinds of stick their numbers are branched on, and mixes are ruled out by the program over
    cells; then an integer program over the loads met so far, and one over all loads that a better cutting
    could hold, which settles the matter. Without `proof` the integer programs are left out, but where other
    sticks are sought at no more cost (`cap`) and few loads could do that.
    """
    quest = _Quest(task, goal, start, bound, proof)
    quest.halve_mixes()
    if quest.best is not None and quest.cannot_beat(bound):
        return Answer(cutting=quest.best, bound=bound)
    start = quest.best
    program = Program(task, goal)
    if start is not None:
        program.add_cutting(start)
    program.solve(quest.reached)
    quest.bound = up(max(bound, program.bound), goal.step)
    if start is None and program.exact and program.short_of_stock():
        return Answer(cutting=None, bound=quest.bound, short_of_stock=True)
    if start is None:
        quest.weigh_met(program)
    quest.try_mixes(program)
    if len(task.kinds) > 1 and quest.best is not None and not quest.cannot_beat(quest.bound):
        quest.branch(program)
        program.solve(quest.reached)
    plain = goal.cap_weights is None and not goal.joint_weight
    if proof and plain and quest.best is not None and not quest.cannot_beat(quest.bound):
        # Where `many_cut` has asked the whole program, it would prove nothing more.
        if task.beams and not bounded_by_cells(task, goal):
            quest.bound = bound_by_cells(task, goal, quest.reached, quest.bound, knots=KNOTS)
        quest.bound = bound_by_mixes(task, goal, quest.reached, quest.bound)
    if not proof and goal.cap_weights and not quest.cannot_beat(quest.bound):
        # Between equals, in jobs of few pieces: what laying beams on mixes of sticks has not found.
        quest.listed = BETWEEN_EQUALS
        if not quest.weigh_all(program) and task.threaded:
            quest.weigh_met(program)
    # With several kinds butted beams have been laid on many mixes: loads met in pricing would not help.
    first = len(task.kinds) == 1 or quest.best is None or task.threaded
    while proof and (quest.best is None or not quest.cannot_beat(quest.bound)):
        if first and quest.weigh_met(program):
            continue
        first = False
        if not quest.weigh_all(program):
            break
    return Answer(cutting=quest.best, bound=quest.bound)


def better_mix(task: Task, goal: Goal, start: Cutting, bound: float) -> Cutting:
    """Return a better cutting on another mix of kinds of stick if one is found quickly, else `start`."""
    quest = _Quest(task, goal, start, bound, False)
    quest.halve_mixes()
    return quest.best or start
