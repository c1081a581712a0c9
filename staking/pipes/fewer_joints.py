"""Fewer joints among cuttings of the same sticks, and what the fewest joints of all would take."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace

from staking.pipes.chains import chain_of, spots_by_number
from staking.pipes.choosing import choose
from staking.pipes.cutting_runs import Pieces
from staking.pipes.diving import Way, runs_tried, solved
from staking.pipes.goal import Goal
from staking.pipes.greedy import greedy_cuttings
from staking.pipes.joints import START, Part, ways_on
from staking.pipes.large import COARSE, shared_out
from staking.pipes.laying import laid_cuttings
from staking.pipes.pricing import Program
from staking.pipes.simple_bounds import up
from staking.pipes.task import Cutting, Load, Task, joints_in

PACKINGS = 24
"""Ways to share out the posts that are tried with fewer joints."""
FEW_PIECES = 40
"""Only where there are no more pieces than this is the linear program over loads asked."""
DEAR_JOINTS = (0.3, 0.1, 0.03)
"""What a joint weighs in a larger task, in dearest sticks, tried one by one."""
LISTED = 400
"""Loads in one integer program at most."""


def fewest_joints(task: Task) -> list[int]:
    """Return the fewest joints of each beam on its own, with sticks as long as need be of those in stock."""
    return [len(chain_of(task, beam) or ()) for beam in range(len(task.beams))]


def _with_joints_at_most(task: Task, most: Sequence[int]) -> Task:
    """Return the task without the parts that no way of at most so many joints (by beam) goes through."""
    kept = []
    for beam, joints in enumerate(most):
        end = len(task.spots[beam])
        parts = [p for p in task.parts if p.beam == beam]
        far = len(parts) + end + 1
        from_start, to_end = {START: 0}, {end: 0}
        for right in range(end + 1):
            before = [from_start.get(p.left, far) for p in parts if p.right == right]
            from_start[right] = min(before, default=far) + 1
        for left in range(end - 1, START - 1, -1):
            after = [to_end.get(p.right, far) for p in parts if p.left == left]
            to_end[left] = min(after, default=far) + 1
        kept += [p for p in parts if from_start[p.left] + 1 + to_end[p.right] <= joints + 1]
    return _of_parts(task, kept)


def with_fewest_joints(task: Task, fewest: Sequence[int]) -> Task:
    """Return the task with only parts that run from one joint to the next of the fewest, by their numbers.

    So no way through them has more joints. A spot in which two of the joints may stand counts for that of the
    way to join the beam that quick cuttings take, else for the first.
    """
    sticks = sorted({k.stock_m for k in task.kinds if k.for_beams})
    make_up = task.make_up_m if task.threaded else None
    turns: dict[tuple[int, int], int] = {}
    for number, (beam, spots, joints) in enumerate(zip(task.beams, task.spots, fewest, strict=True)):
        asked = task.rules.posts_per_piece
        chain = chain_of(task, number) or ()
        turns |= {(number, spot): turn for turn, (spot, _) in enumerate(chain, start=1)}
        for turn, some in enumerate(spots_by_number(beam, spots, sticks, make_up, asked, joints), start=1):
            for spot in some:
                turns.setdefault((number, spot), turn)
        turns[number, START], turns[number, len(spots)] = 0, joints + 1
    kept = [
        part
        for part in task.parts
        if turns.get((part.beam, part.right), 0) == turns.get((part.beam, part.left), -2) + 1
    ]
    return _of_parts(task, kept)


def _of_parts(task: Task, kept: Sequence[Part]) -> Task:
    return replace(
        task,
        parts=tuple(kept),
        ways=tuple(ways_on(kept, beam, spots) for beam, spots in enumerate(task.spots)),
    )


def in_task(task: Task, narrow: Task, cutting: Cutting) -> Cutting:
    """Return a cutting of a task with fewer parts as one of the whole task."""
    number = task.part_numbers()
    loads = tuple(
        Load(
            kind=load.kind,
            posts=load.posts,
            parts=tuple(
                sorted(number[p.beam, p.left, p.right] for p in (narrow.parts[i] for i in load.parts))
            ),
        )
        for load in cutting.loads
    )
    return Cutting(loads=loads, places_m=cutting.places_m)


def with_fewer_joints(task: Task, goal: Goal, cutting: Cutting, *, thorough: bool) -> Cutting:
    """Return a cutting from the same sticks with the fewest joints found, which may be the one given."""
    best, fewest = cutting, fewest_joints(task)
    kinds = sorted(load.kind for load in cutting.loads)
    for extra in range(len(task.parts)):
        now = joints_in(task, best)
        if now <= sum(fewest) + extra:
            break
        narrow = _with_joints_at_most(task, [n + extra for n in fewest])
        found = min(
            (c for c in _cuttings(narrow, goal, kinds) if joints_in(narrow, c) < now),
            key=lambda c: joints_in(narrow, c),
            default=None,
        )
        if found is not None:
            best = in_task(task, narrow, found)
        if len(narrow.parts) == len(task.parts):
            break
    if task.most_pieces > FEW_PIECES:
        best = _chosen_anew(task, goal, kinds, best, sum(fewest))
    if thorough and task.most_pieces <= FEW_PIECES:
        best = _searched(task, kinds, best, sum(fewest))
    return best


def _chosen_anew(task: Task, goal: Goal, kinds: Sequence[int], best: Cutting, least: int) -> Cutting:
    """Return a cutting of the same sticks whose joints the program over cells chose, each weighing much."""
    used = Counter(kinds)
    narrow = task.of_mix([used[kind] for kind in range(len(task.kinds))])
    for joint in DEAR_JOINTS:
        now = joints_in(task, best)
        if now <= least:
            break
        runs = next(runs_tried(solved(narrow, goal, Way(joint=joint, finer=COARSE))), None)
        if runs is None or sum(len(run.spots) for _, run in runs) >= now:
            continue
        found = shared_out(narrow, goal, None, Pieces(narrow, runs), goal.worth(best))
        if found is not None and Counter(load.kind for load in found.loads) <= used:
            return found
    return best


def _cuttings(task: Task, goal: Goal, kinds: Sequence[int]) -> Iterator[Cutting]:
    """Yield quick cuttings that use no sticks but these."""
    most = Counter(kinds)
    for shuffled in (False, True):
        for cutting in greedy_cuttings(task, goal.weights, shuffled=shuffled):
            if Counter(load.kind for load in cutting.loads) <= most:
                yield cutting
    yield from laid_cuttings(task, kinds, PACKINGS)


def _searched(task: Task, kinds: Sequence[int], cutting: Cutting, least: int) -> Cutting:
    """Return a cutting with fewer joints by linear and integer programs; their limits may leave it open."""
    on_hand = Counter(kinds)
    counts = [on_hand[kind] for kind in range(len(task.kinds))]
    goal = Goal(weights=tuple(0.0 for _ in task.kinds), step=1.0, joint_weight=1.0)
    while joints_in(task, cutting) > least:
        now = joints_in(task, cutting)
        program = Program(task, goal)
        program.limit_counts([0] * len(counts), [float(n) for n in counts])
        program.add_cutting(cutting)
        program.solve(now)
        if up(program.bound) >= now:
            break
        loads, _ = program.loads(now - 1, LISTED)
        choice = choose(task, goal, loads, now - 1, counts=counts)
        if choice.cutting is None:
            break
        cutting = choice.cutting
    return cutting
