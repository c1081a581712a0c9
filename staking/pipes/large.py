"""A large task: posts by one linear program, beams through what they leave, and a bound."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import islice

from staking.pipes.beam_runs import Stretches
from staking.pipes.cell_program import CellProgram, bound_by_cells
from staking.pipes.chaining import chained
from staking.pipes.cutting_runs import Pieces
from staking.pipes.diving import Runs, Way, chosen_runs, parts_of, runs_tried, solved
from staking.pipes.filling import filled_sticks
from staking.pipes.goal import Goal, total
from staking.pipes.greedy import beams_through, cheaper_kinds
from staking.pipes.held_joints import shared_anew
from staking.pipes.laying import mixes
from staking.pipes.many import CLASSES, ManyPosts
from staking.pipes.mix_proof import bound_by_mixes, lighter_mixes
from staking.pipes.parting import Parting
from staking.pipes.post_classes import Filled
from staking.pipes.rolling import rolled
from staking.pipes.simple_bounds import mix_bound, up
from staking.pipes.sliding import slid_to_posts
from staking.pipes.task import Cutting, Load, Task
from staking.pipes.threaded_ways import joined

SHARES = (0.31, 0.0, 0.38, 0.25)
"""What is left beside posts for beams is at least this share of the longest stick, tried one by one."""
SHY = 1e-3
"""What it weighs to leave something for beams, in sticks: joints come few where few sticks do."""
FEW = 60
"""With so few pieces sticks are not filled anew some at a time."""
WHOLE = 600
"""With more pieces no integer program is asked."""
LARGE = 300
"""With more pieces only the first of the shares is tried."""
PARTED = 150
"""With more pieces runs of beams are first chosen in parts of the job."""
MOST_BUTTED = 80
"""With more butted beams the proof by the program over cells takes too long."""
FINE = 300
"""With more pieces runs are not chosen once more, more lengths told apart."""
FINEST = 150
"""With more pieces they are not chosen a last time, every length told apart."""


COARSE = 1 / 3
"""The usual cells are so coarse at first; joints stand about the same places in programs of finer ones."""
FEW_JOINTS = (Way(joint=0.1, finer=COARSE), Way(joint=0.02, finer=COARSE))
FREE = Way(joint=1e-4, finer=COARSE)
"""Many joints only where few do not serve."""
IN_PARTS = (*FEW_JOINTS, FREE)
LARGE_IN_PARTS = (Way(joint=2e-3, knots=16),)
"""Where no integer program is asked: more joints are more ways to fill sticks to the end."""
USUAL = Way(joint=1e-4)
KNOTS_APART = Way(joint=1e-4, knots=2, near=0.03)
HALVES = Way(joint=1e-4, finer=2, near=0.03)
"""Where joints at the cells' edges do not do."""
ALL_APART = Way(joint=1e-4, knots=1, near=0.01)
FINER, THREADED_FINER = 3, 6
"""Into so many the cells are parted for the last proof; threaded joints may stand in fewer of them."""
CLOSE = 0.5
"""Of the heaviest stick: so near a bound that can hardly be reached only runs and mending are tried."""
MIXES = 4
"""Mixes of kinds of stick for which runs are chosen."""
HOPELESS = 0.3
"""Of the heaviest stick: a program that needs so much more than its mix is not solved with finer cells."""
OVER = 2
"""Of the heaviest sticks: no farther above the bound are sticks filled one by one."""
TURNS = 6
"""Times that joints are slid and pieces exchanged."""
TRIES = 3
"""Times that runs are chosen for a whole task."""
PROOF_KNOTS, LAST_KNOTS = 16, 4
"""Cells from one length of pieces to the next that the proof tells apart, and the last of threaded beams."""
TRIED = 3
"""Of the cuttings with beams laid through one share, the best, whose pieces are shared out anew."""


def many_cut(task: Task, goal: Goal, best: Cutting | None, bound: float) -> tuple[Cutting | None, float]:
    """Return a better cutting where one is found, else `best`, and a bound not below `bound`."""
    return _with_beams(task, goal, best, bound) if task.beams else _posts_alone(task, goal, best, bound)


def _worth(goal: Goal, cutting: Cutting | None) -> float:
    """Return the sum of weights of a cutting; infinite when there is none."""
    return math.inf if cutting is None else total(cutting, goal.weights)


def _lighter(goal: Goal, found: Cutting | None, best: Cutting | None) -> Cutting | None:
    """Return `found` where it weighs less than `best`, else `best`."""
    return found if _worth(goal, found) < _worth(goal, best) - goal.step / 2 else best


def _posts_alone(
    task: Task, goal: Goal, best: Cutting | None, bound: float, *, held: bool = False
) -> tuple[Cutting | None, float]:
    """Fill sticks by the linear program, prove, then mend what rounding has spoilt.

    First on the sticks that would do by length alone. The program tells posts apart in classes at first, and
    all their lengths where more than a stick is left open. `held` says that posts are pieces of beams too,
    whose joints could stand elsewhere.
    """
    large = task.most_pieces > WHOLE
    bound = max(bound, up(mix_bound(task, goal.weights), goal.step))
    best = _filled_up(task, goal, best, bound)

    def within(sticks: float) -> bool:
        """Whether the best is no more above the bound than so many of the heaviest sticks."""
        return _worth(goal, best) <= bound + sticks * max(goal.weights) + goal.step / 2

    if large and not within(1):
        # Where hardly any pipe need be lost a post is worth its length.
        rate = bound / sum(p.length_m * len(p.posts) for p in task.post_lengths)
        parting = Parting(task, goal, [rate * p.length_m for p in task.post_lengths])
        sticks = parting.in_parts()
        best = _better(task, goal, best, sticks and rolled(task, goal, sticks, bound))
    for classes in (CLASSES, task.most_pieces) if not within(large) else ():
        program = ManyPosts(task, goal, classes=classes)
        if best is not None:
            program.add_loads(best)
        solved_so_far = program.solve(bound, _worth(goal, best))
        bound = max(bound, up(program.bound, goal.step))
        if solved_so_far and not within(0):
            best = _better(task, goal, best, program.fill())
        if within(0):
            break
        program.prove(_worth(goal, best), bound)
        bound = max(bound, up(program.bound, goal.step))
        if within(large):
            break
        if best is not None:
            best = _better(task, goal, best, rolled(task, goal, _filled(best), bound))
        parting = Parting(task, goal, program.worths())
        if best is not None and task.most_pieces > FEW and not within(0):
            best = _better(task, goal, best, parting.mended(_filled(best), bound))
        if best is not None and not large and not within(CLOSE if held and goal.fine else 0):
            best = _better(task, goal, best, program.chosen(_worth(goal, best) - goal.step))
        if within(1) or len(task.post_lengths) <= CLASSES:
            break
    return best, min(bound, _worth(goal, best))


def _filled_up(task: Task, goal: Goal, best: Cutting | None, bound: float) -> Cutting | None:
    """Return a better cutting on light sticks that are filled one by one, else `best`.

    Of all numbers of sticks that would do by length the lightest is tried, then further and further ones
    until one goes, and from there back by halves.
    """
    if _worth(goal, best) <= bound + goal.step / 2:
        return best
    most = min(_worth(goal, best), bound + OVER * max(goal.weights))
    listed = mixes(task, goal, bound, most)
    low, high, at = -1, len(listed), 0
    found: list[Filled] | None = None
    while low + 1 < high and at < high:
        filled = filled_sticks(task, [kind for kind, n in enumerate(listed[at]) for _ in range(n)])
        if filled is None:
            low = at
        else:
            high, found = at, filled
        at = 2 * at + 1 if found is None else (low + high) // 2
    return _better(task, goal, best, found)


def _filled(cutting: Cutting) -> list[Filled]:
    """Return the sticks of a cutting without beams."""
    return [Filled(kind=load.kind, posts=load.posts, left_m=0.0) for load in cutting.loads]


def _better(task: Task, goal: Goal, best: Cutting | None, filled: Sequence[Filled] | None) -> Cutting | None:
    """Return these sticks as a cutting where they weigh less than `best`."""
    for cutting in () if filled is None else _beams_laid(task, goal, filled):
        best = _lighter(goal, cutting, best)
    return best


def _with_beams(task: Task, goal: Goal, best: Cutting | None, bound: float) -> tuple[Cutting | None, float]:
    """Prove by the program over cells, choose the runs of beams by it, and share out all pieces.

    Of a large task until no more than the heaviest stick is left open.
    """
    near = max(goal.weights) if task.most_pieces > WHOLE else 0.0

    def done() -> bool:
        return _worth(goal, best) <= bound + near + goal.step / 2

    quick = best
    if _provable(task, goal):
        bound = _proven(task, goal, _worth(goal, best), bound)
    if _in_cells(task, goal) and not done():
        for runs in _runs_in_parts(task, goal):
            best = shared_out(task, goal, best, Pieces(task, runs), bound)
            if done():
                break
    if _in_cells(task, goal) and task.most_pieces <= WHOLE and not done():
        best, bound = _by_mixes(task, goal, best, bound)
    if _in_cells(task, goal) and task.most_pieces <= WHOLE and not done():
        best, bound = _by_programs(task, goal, best, bound)
    # Where any sum of prices may be the least it is not looked for beside runs that come near.
    close = goal.fine and _in_cells(task, goal) and _worth(goal, best) <= bound + CLOSE * max(goal.weights)
    if not done() and not close and task.post_lengths:
        laid = _laid_through(task, goal, quick, bound)
        best = _lighter(goal, laid, best)
    if not done() and task.post_lengths:
        program = ManyPosts(task, goal)
        program.solve(bound)
        if up(program.optimum, goal.step) > bound + goal.step / 2:
            program.prove(_worth(goal, best), bound)
            bound = max(bound, up(program.bound, goal.step))
    return best, min(bound, _worth(goal, best))


def _in_parts(task: Task) -> bool:
    """Whether runs of beams are first chosen in parts of the task."""
    return task.most_pieces > PARTED and parts_of(task) > 1


def _runs_in_parts(task: Task, goal: Goal) -> Iterator[Runs]:
    """Yield runs of all beams chosen in parts of a larger task, where joints weigh much first."""
    large = task.most_pieces > WHOLE
    for way in (LARGE_IN_PARTS if large else IN_PARTS) if large or _in_parts(task) else ():
        runs = chosen_runs(task, goal, way)
        if runs is not None:
            yield runs


def _by_programs(task: Task, goal: Goal, best: Cutting | None, bound: float) -> tuple[Cutting | None, float]:
    """Return a better cutting, and bound, by runs of beams that programs for the whole task choose.

    At first a program is left where its optimum, rounded up, can no longer fall; runs rounded from there
    often lose the rest, and hold fewer sticks only when it is solved on.
    """
    # Where any sum of prices may be the least, hardly any cutting reaches the bound, however often tried.
    often = 1 if goal.fine else TRIES
    about: list[Stretches] | None = None
    above = False
    for way in (*(() if _in_parts(task) else FEW_JOINTS), FREE, USUAL):
        program = solved(task, goal, way, about)
        # Asked before runs are fixed one by one: then the program chooses none any more.
        about = program.stretches() if way is FREE else about
        above = up(program.optimum, goal.step) > bound + goal.step / 2
        best = _tried(task, goal, best, bound, program, 1 if task.most_pieces <= FINE else often)
        if _worth(goal, best) <= bound + goal.step / 2:
            return best, bound
    # Where joints at cells' edges do not do with the bound by parts of sticks, finer cells may raise it.
    if above and _provable(task, goal):
        bound = _proven(task, goal, _worth(goal, best), bound, last=True)
    if task.most_pieces <= FINE:
        for way in (HALVES if above else KNOTS_APART, *([ALL_APART] if task.most_pieces <= FINEST else [])):
            if _worth(goal, best) > bound + goal.step / 2:
                best = _tried(task, goal, best, bound, solved(task, goal, way, about), often)
    return best, bound


def _by_mixes(task: Task, goal: Goal, best: Cutting | None, bound: float) -> tuple[Cutting | None, float]:
    """Return a better cutting, and bound, by mixes of kinds of stick, the lightest that may do first.

    A program told how many sticks there are of each kind does not mix the kinds by parts.
    """
    if best is None:
        return best, bound
    if _provable(task, goal):
        bound = bound_by_mixes(task, goal, _worth(goal, best), bound)
    for weight, held in lighter_mixes(task, goal, bound, _worth(goal, best))[:MIXES]:
        about: list[Stretches] | None = None
        for way in (FREE, USUAL, KNOTS_APART):
            program = solved(held, goal, way, about)
            about = about or program.stretches()
            if program.optimum <= weight + goal.step / 2:
                best = _tried(held, goal, best, weight, program, TRIES)
            if _worth(goal, best) <= weight + goal.step / 2:
                return best, bound
            if program.optimum > weight + HOPELESS * max(goal.weights):
                break
    return best, bound


def _tried(
    task: Task, goal: Goal, best: Cutting | None, bound: float, program: CellProgram, often: int
) -> Cutting | None:
    """Return a better cutting, if there is one, with runs that a program chooses up to so many times."""
    for n, runs in enumerate(islice(runs_tried(program), often)):
        best = shared_out(task, goal, best, Pieces(task, runs), bound, by_cells=n == 0)
        if _worth(goal, best) <= bound + goal.step / 2:
            break
    return best


def _in_cells(task: Task, goal: Goal) -> bool:
    """Whether runs are chosen by the program over cells: not of a few pieces.

    Of few where sticks weigh differently, as mixes of them are many.
    """
    return task.most_pieces > FEW or len(set(goal.weights)) > 1


def _provable(task: Task, goal: Goal) -> bool:
    """Whether the program over cells is asked for a bound: not with too many beams."""
    return _in_cells(task, goal) and (task.threaded or len(task.beams) <= MOST_BUTTED)


def _proven(task: Task, goal: Goal, enough: float, known: float, *, last: bool = False) -> float:
    """Return a bound by the program over cells, `known` or more.

    The `last` has finer cells.
    """
    finer, knots = 1, PROOF_KNOTS
    if last:
        finer, knots = (THREADED_FINER, LAST_KNOTS) if task.threaded else (FINER, PROOF_KNOTS)
    return bound_by_cells(task, goal, enough, known, knots=knots, finer=finer)


def shared_out(
    task: Task, goal: Goal, best: Cutting | None, pieces: Pieces, bound: float, *, by_cells: bool = True
) -> Cutting | None:
    """Return a cutting of these pieces where it is better than `best`.

    `by_cells` shares them out by the program over cells too, where the finer one does not reach the bound.
    """
    apart = pieces.apart()
    anew = _shared_anew(task, goal, apart, bound)
    # What is left as it was may take more sticks than there are.
    found = anew if anew is not apart and _in_stock(task, anew) else None
    if found is not None:
        found = _rolled(task, goal, found, bound)
    over = _worth(goal, found) > bound + goal.step / 2
    if over and (found is None or (by_cells and task.most_pieces <= WHOLE)):
        found = _lighter(goal, pieces.shared_out(goal), found)
    return _lighter(goal, found, best)


def _in_stock(task: Task, cutting: Cutting) -> bool:
    """Whether there are as many sticks as a cutting takes."""
    taken = Counter(load.kind for load in cutting.loads)
    return all(k.count is None or taken[n] <= k.count for n, k in enumerate(task.kinds))


def _laid_through(task: Task, goal: Goal, best: Cutting | None, bound: float) -> Cutting | None:
    """Fill sticks so that what some of them leave serves beams well, and lay the beams through that."""

    def done() -> bool:
        return _worth(goal, best) <= bound + goal.step / 2

    stick = max(task.room_m(k) for k in range(len(task.kinds)))
    for share in SHARES if task.most_pieces <= LARGE and not goal.fine else SHARES[:1]:
        if done():
            break
        program = ManyPosts(task, goal, share * stick, SHY)
        if best is not None:
            program.add_loads(best)
        program.solve(bound)
        program.settle()
        filled = program.fill()
        laid = sorted(
            () if filled is None else _beams_laid(task, goal, filled), key=lambda c: _worth(goal, c)
        )
        for cutting in laid[: 1 if _in_cells(task, goal) else TRIED]:
            if not done():
                cutting = _shared_anew(task, goal, cutting, bound)
                best = _lighter(goal, cutting, best)
    return best


def _shared_anew(task: Task, goal: Goal, best: Cutting, bound: float) -> Cutting:
    """Return a cutting with the joints of `best` and its pieces in better sticks, or `best`."""

    def shared(alone: Task, start: Cutting) -> Cutting | None:
        left = bound - (_worth(goal, best) - total(start, goal.weights))
        return _posts_alone(alone, goal, start, left, held=True)[0]

    found = shared_anew(task, best, shared)
    return best if found is None or _worth(goal, found) > _worth(goal, best) - goal.step / 2 else found


def _rolled(task: Task, goal: Goal, best: Cutting, bound: float) -> Cutting:
    """Return a large cutting with joints slid and pieces exchanged until a stick is saved, in turns."""

    def shared(alone: Task, start: Cutting) -> Cutting:
        left = bound - (_worth(goal, best) - total(start, goal.weights))
        loads = tuple(_load(f) for f in rolled(alone, goal, _filled(start), left))
        return Cutting(loads=loads, places_m={})

    # A turn that saves nothing leaves the pieces otherwise, and the next may save a stick.
    for _ in range(TURNS):
        if _worth(goal, best) <= bound + goal.step / 2:
            break
        found = shared_anew(task, slid_to_posts(task, best), shared)
        if found is None:
            break
        best = found
    return best


def _load(filled: Filled) -> Load:
    """Return a stick without beams as a load."""
    return Load(kind=filled.kind, posts=tuple(sorted(filled.posts)), parts=())


def _beams_laid(task: Task, goal: Goal, filled: Sequence[Filled]) -> Iterator[Cutting]:
    """Yield cuttings with the beams laid through these sticks."""
    sticks = [(f.kind, f.posts) for f in filled]
    if not task.beams:
        loads = tuple(_load(f) for f in filled)
        yield cheaper_kinds(task, Cutting(loads=loads, places_m={}), goal.weights)
        return
    if not task.threaded:
        yield from (cheaper_kinds(task, c, goal.weights) for c in chained(task, goal.weights, sticks))
    else:
        yield from (cheaper_kinds(task, c, goal.weights) for c in joined(task, goal.weights, sticks))
    yield from beams_through(task, goal.weights, sticks)
