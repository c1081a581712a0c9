"""Posts and beams of a large task: runs of beams are chosen, then all pieces are shared out; and a bound."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import islice

from staking.pipes.beam_runs import Stretches
from staking.pipes.cell_program import CellProgram, bound_by_cells
from staking.pipes.chaining import chained
from staking.pipes.cutting_runs import Pieces
from staking.pipes.diving import Runs, Way, chosen_runs, parts_of, runs_tried, solved
from staking.pipes.goal import Goal
from staking.pipes.greedy import beams_through, cheaper_kinds
from staking.pipes.held_joints import shared_anew
from staking.pipes.many import ManyPosts
from staking.pipes.mix_proof import bound_by_mixes, lighter_mixes
from staking.pipes.post_classes import Filled, filled_by
from staking.pipes.posts_alone import CLOSE, LARGE, posts_cut
from staking.pipes.rolling import rolled
from staking.pipes.rounding import fixed_sticks
from staking.pipes.simple_bounds import up
from staking.pipes.sliding import slid_to_posts
from staking.pipes.task import Cutting, Task
from staking.pipes.threaded_ways import joined

SHARES = (0.31, 0.0, 0.38, 0.25)
"""What is left beside posts for beams is at least this share of the longest stick, tried one by one."""
SHY = 1e-3
"""What it weighs to leave something for beams, in sticks: joints come few where few sticks do."""
FEW = 60
"""Of so few pieces runs of beams are not chosen by the program over cells where sticks weigh alike."""
MANY = 300
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
MIXES = 4
"""Mixes of kinds of stick for which runs are chosen."""
HOPELESS = 0.3
"""Of the heaviest stick: a program that needs so much more than its mix is not solved with finer cells."""
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
    return _with_beams(task, goal, best, bound) if task.beams else posts_cut(task, goal, best, bound)


def _with_beams(task: Task, goal: Goal, best: Cutting | None, bound: float) -> tuple[Cutting | None, float]:
    """Prove by the program over cells, choose the runs of beams by it, and share out all pieces.

    Of a large task until no more than the heaviest stick is left open.
    """
    near = max(goal.weights) if task.most_pieces > LARGE else 0.0

    def done() -> bool:
        return goal.meets(best, bound + near)

    quick = best
    if bounded_by_cells(task, goal):
        bound = _proven(task, goal, goal.worth(best), bound)
    if _in_cells(task, goal) and not done():
        for runs in _runs_in_parts(task, goal):
            best = shared_out(task, goal, best, Pieces(task, runs), bound)
            if done():
                break
    if _in_cells(task, goal) and task.most_pieces <= LARGE and not done():
        best, bound = _by_mixes(task, goal, best, bound)
    if _in_cells(task, goal) and task.most_pieces <= LARGE and not done():
        best, bound = _by_programs(task, goal, best, bound)
    # Where any sum of prices may be the least it is not looked for beside runs that come near.
    close = goal.fine and _in_cells(task, goal) and goal.worth(best) <= bound + CLOSE * max(goal.weights)
    if not done() and not close and task.post_lengths:
        laid = _laid_through(task, goal, quick, bound)
        best = goal.lighter(laid, best)
    if not done() and task.post_lengths:
        program = ManyPosts(task, goal)
        program.solve(bound)
        if up(program.optimum, goal.step) > bound + goal.step / 2:
            program.prove(goal.worth(best), bound)
            bound = max(bound, up(program.bound, goal.step))
    return best, min(bound, goal.worth(best))


def _in_parts(task: Task) -> bool:
    """Whether runs of beams are first chosen in parts of the task."""
    return task.most_pieces > PARTED and parts_of(task) > 1


def _runs_in_parts(task: Task, goal: Goal) -> Iterator[Runs]:
    """Yield runs of all beams chosen in parts of a larger task, where joints weigh much first."""
    large = task.most_pieces > LARGE
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
        if goal.meets(best, bound):
            return best, bound
    # Where joints at cells' edges do not do with the bound by parts of sticks, finer cells may raise it.
    if above and bounded_by_cells(task, goal):
        bound = _proven(task, goal, goal.worth(best), bound, last=True)
    if task.most_pieces <= FINE:
        for way in (HALVES if above else KNOTS_APART, *([ALL_APART] if task.most_pieces <= FINEST else [])):
            if not goal.meets(best, bound):
                best = _tried(task, goal, best, bound, solved(task, goal, way, about), often)
    return best, bound


def _by_mixes(task: Task, goal: Goal, best: Cutting | None, bound: float) -> tuple[Cutting | None, float]:
    """Return a better cutting, and bound, by mixes of kinds of stick, the lightest that may do first.

    A program told how many sticks there are of each kind does not mix the kinds by parts.
    """
    if best is None:
        return best, bound
    if bounded_by_cells(task, goal):
        bound = bound_by_mixes(task, goal, goal.worth(best), bound)
    for weight, counts in lighter_mixes(task, goal, bound, goal.worth(best))[:MIXES]:
        held = task.of_mix(counts)
        about: list[Stretches] | None = None
        for way in (FREE, USUAL, KNOTS_APART):
            program = solved(held, goal, way, about)
            about = about or program.stretches()
            if program.optimum <= weight + goal.step / 2:
                best = _tried(held, goal, best, weight, program, TRIES)
            if goal.meets(best, weight):
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
        if goal.meets(best, bound):
            break
    return best


def _in_cells(task: Task, goal: Goal) -> bool:
    """Whether runs are chosen by the program over cells: not of a few pieces.

    Of few where sticks weigh differently, as mixes of them are many.
    """
    return task.most_pieces > FEW or len(set(goal.weights)) > 1


def bounded_by_cells(task: Task, goal: Goal) -> bool:
    """Whether `many_cut` asks the program over cells for a bound: not with too many beams."""
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
    over = not goal.meets(found, bound)
    if over and (found is None or (by_cells and task.most_pieces <= LARGE)):
        found = goal.lighter(pieces.shared_out(goal), found)
    return goal.lighter(found, best)


def _in_stock(task: Task, cutting: Cutting) -> bool:
    """Whether there are as many sticks as a cutting takes."""
    taken = Counter(load.kind for load in cutting.loads)
    return all(taken[kind] <= there for kind, there in enumerate(task.on_hand))


def _laid_through(task: Task, goal: Goal, best: Cutting | None, bound: float) -> Cutting | None:
    """Fill sticks so that what some of them leave serves beams well, and lay the beams through that."""

    def done() -> bool:
        return goal.meets(best, bound)

    stick = max(task.room_m(k) for k in range(len(task.kinds)))
    for share in SHARES if task.most_pieces <= MANY and not goal.fine else SHARES[:1]:
        if done():
            break
        program = ManyPosts(task, goal, share * stick, SHY)
        if best is not None:
            program.add_loads(best)
        program.solve(bound)
        program.settle()
        filled = fixed_sticks(program)
        laid = sorted(() if filled is None else _beams_laid(task, goal, filled), key=goal.worth)
        for cutting in laid[: 1 if _in_cells(task, goal) else TRIED]:
            if not done():
                cutting = _shared_anew(task, goal, cutting, bound)
                best = goal.lighter(cutting, best)
    return best


def _shared_anew(task: Task, goal: Goal, best: Cutting, bound: float) -> Cutting:
    """Return a cutting with the joints of `best` and its pieces in better sticks, or `best`."""

    def shared(alone: Task, start: Cutting) -> Cutting | None:
        left = bound - (goal.worth(best) - goal.worth(start))
        return posts_cut(alone, goal, start, left, held=True)[0]

    found = shared_anew(task, best, shared)
    return best if found is None or goal.worth(found) > goal.worth(best) - goal.step / 2 else found


def _rolled(task: Task, goal: Goal, best: Cutting, bound: float) -> Cutting:
    """Return a large cutting with joints slid and pieces exchanged until a stick is saved, in turns."""

    def shared(alone: Task, start: Cutting) -> Cutting:
        left = bound - (goal.worth(best) - goal.worth(start))
        sticks = rolled(alone, goal, filled_by(start), left)
        return Cutting(loads=tuple(f.load for f in sticks), places_m={})

    # A turn that saves nothing leaves the pieces otherwise, and the next may save a stick.
    for _ in range(TURNS):
        if goal.meets(best, bound):
            break
        found = shared_anew(task, slid_to_posts(task, best), shared)
        if found is None:
            break
        best = found
    return best


def _beams_laid(task: Task, goal: Goal, filled: Sequence[Filled]) -> Iterator[Cutting]:
    """Yield cuttings with the beams laid through these sticks."""
    sticks = [(f.kind, f.posts) for f in filled]
    laid = joined if task.threaded else chained
    yield from (cheaper_kinds(task, c, goal.weights) for c in laid(task, goal.weights, sticks))
    yield from beams_through(task, goal.weights, sticks)
