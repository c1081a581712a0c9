"""What is told of each suspicious reading: its repair, what it leaves, and what would decide."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from staking.base.units import told
from staking.control.adjustment import Suspect, where_words
from staking.control.causes import Cause, Change, rewritten
from staking.control.equations import Equation, Kind, evaluated, stacked
from staking.control.hypotheses import Field
from staking.control.network import NetworkResult
from staking.control.observing import Observed, Source
from staking.control.repairs import GIVEN
from staking.control.variance_test import variance_passes
from staking.control.weighing import Story

Floats = NDArray[np.float64]

SURELY_BELOW_SDS = 3.0
"""A rod that would have read so many standard deviations below its foot cannot have."""
TRUST = ((1.0, 1.0), (2.0, 0.9), (10.0, 0.5))
"""What a chance is multiplied with where the survey fails after the repair, by how many times worse than
stated all readings would have to be to explain the rest, and no less beyond (a judgement)."""
ROWS = ("fix", GIVEN, "offset")
"""Kinds that stand several in a row."""
DECIDING_SDS = 3.0
"""A further reading decides when the two repairs want it so many of its standard deviations apart."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Scene:
    """The survey that suspects are told of."""

    observed: Observed
    equations: Sequence[Equation]
    result: NetworkResult
    field: Field
    unit: str

    def source(self, number: int) -> Source:
        """Return where a checked reading comes from."""
        source = self.observed.sources[number]
        assert source is not None
        return source

    def name(self, number: int) -> str:
        """Return a reading as people call it."""
        source = self.source(number)
        return f"{source.what} ({where_words(source.table, source.row)})"


@dataclass(frozen=True, slots=True, kw_only=True)
class Blame:
    """One reading, and the likeliest way in which it is wrong."""

    number: int
    chance: float
    story: Story
    cause: int
    """Place of the cause in the story."""
    instead: int | None = None
    """Another cause by which it may be wrong."""
    weight: float = 0.0
    """Its chance before it was shared with those of one closed loop: for their order."""


def possible(scene: Scene, story: Story) -> bool:
    """Return whether the rods of a story can have read what it says: nothing below their foot."""
    for place, c in enumerate(story.causes):
        cause = scene.field.causes[c]
        for change, step in zip(cause.changes, cause.steps, strict=True):
            equation, source = scene.equations[change.equation], scene.source(change.equation)
            # A wrong name leaves the reading as it is.
            if equation.kind is not Kind.ROD or not math.isnan(change.by) or change.column != source.column:
                continue
            read = equation.value - source.shift
            meant = read + step * _amount(scene, cause, story.amounts[place])
            if meant < min(-SURELY_BELOW_SDS * equation.sd, read):
                return False
    return True


def lengths_possible(scene: Scene, story: Story) -> bool:
    """Return whether no tape of a story is less than nothing long."""
    for place, c in enumerate(story.causes):
        cause = scene.field.causes[c]
        for change, step in zip(cause.changes, cause.steps, strict=True):
            equation = scene.equations[change.equation]
            if equation.kind not in (Kind.LEVEL_TAPE, Kind.SLOPE_TAPE) or not math.isnan(change.by):
                continue
            if equation.value + step * _amount(scene, cause, story.amounts[place]) <= 0:
                return False
    return True


def passes_after(scene: Scene, story: Story) -> bool | None:
    """Return whether the survey passes its test once all that a story names is put right."""
    return variance_passes(max(float(story.least), 0.0), _left(scene, story))


def _left(scene: Scene, story: Story) -> int:
    """Return the redundancy that is left when amounts that nothing foretells are unknowns."""
    return scene.result.redundancy - sum(bool(scene.field.variance[h] != 0) for h in story.hypotheses)


def trust(scene: Scene, story: Story) -> float:
    """Return the share of a story's weight that counts: less where the survey fails all the same.

    Then something beside it is wrong that it does not name.
    """
    if passes_after(scene, story) is not False:
        return 1.0
    worse, share = zip(*TRUST, strict=True)
    return float(np.interp(math.sqrt(story.least / _left(scene, story)), worse, share))


def suspect_of(scene: Scene, blame: Blame, alike: Sequence[Blame]) -> Suspect:
    """Return what is told of one reading.

    Parameters
    ----------
    scene
        The survey.
    blame
        The reading.
    alike
        Other suspicious readings that the survey cannot tell from it, likeliest first.
    """
    source = scene.source(blame.number)
    own = blame.story.causes[blame.cause]
    cause = scene.field.causes[own]
    change, by = change_of(scene, blame)
    likely = change.likely
    if math.isnan(change.by) and not likely:
        likely = rewritten(source, scene.equations[blame.number], by, scene.unit)
    left = _left(scene, blame.story)
    least = max(float(blame.story.least), 0.0)
    others = [
        scene.name(other.equation)
        for k, c in enumerate(blame.story.causes)
        if k != blame.cause
        for other in scene.field.causes[c].changes[:1]
    ]
    together = f"; with {' and '.join(others)} put right" if others else ""
    twins = _twins(scene, cause, change) if cause.known and change in cause.changes else []
    if len(twins) == 1:
        # One mistake in two cells: mending one of them alone mends nothing.
        (twin,) = twins
        if twin.likely:
            together = f"; mend {_cell(scene, twin)} with it: likely {twin.likely}{together}"
        alike = [
            other
            for other in alike
            if other.number != twin.equation or other.story.causes[other.cause] != own
        ]
    instead = ""
    if blame.instead is not None and blame.instead != own:
        instead = f", or {scene.field.causes[blame.instead].why}"
    return Suspect(
        table=source.table,
        row=source.row,
        column=change.column,
        read=change.read,
        likely=likely,
        why=f"{_what(source, change)}: {cause.why}{instead}{together}",
        chance=blame.chance,
        variance_factor_after=least / left if left > 0 else None,
        passes_after=passes_after(scene, blame.story),
        same_as=tuple(scene.name(other.number) for other in alike),
        would_tell=_would_tell(scene, blame, alike[0]) if alike else "",
    )


def _what(source: Source, change: Change) -> str:
    """Return a reading as people call it; of a row with several, whose name is wrong, the name."""
    return f"the point {change.read}" if change.column == "point" and source.kind in ROWS else source.what


def _cell(scene: Scene, change: Change) -> str:
    source = scene.source(change.equation)
    return f"{_what(source, change)} ({where_words(source.table, source.row)})"


def _twins(scene: Scene, cause: Cause, change: Change) -> list[Change]:
    """Return the other cells that are mended with one; a wrong name is one cell, whatever it names."""
    cells = {
        (scene.source(x.equation).table, scene.source(x.equation).row, x.column): x for x in cause.changes
    }
    own = scene.source(change.equation)
    return [x for cell, x in cells.items() if cell != (own.table, own.row, change.column)]


def change_of(scene: Scene, blame: Blame) -> tuple[Change, float]:
    """Return the change of a blamed reading, and what it adds."""
    cause = scene.field.causes[blame.story.causes[blame.cause]]
    amount = _amount(scene, cause, blame.story.amounts[blame.cause])
    for change, step in zip(cause.changes, cause.steps, strict=True):
        if change.equation == blame.number:
            return change, step * amount
    # Blamed for what moved: its own reading is put right by as much, the other way round.
    change, step = cause.changes[0], cause.steps[0]
    source = scene.source(blame.number)
    own = Change(equation=blame.number, by=math.nan, column=source.column, read=source.read, likely="")
    return own, -step * amount


def _amount(scene: Scene, cause: Cause, amount: float) -> float:
    """Return the amount of a cause in its own unit: readings by themselves are weighed in sds."""
    if len(cause.changes) > 1:
        return amount
    return amount * scene.equations[cause.changes[0].equation].sd / cause.steps[0]


def _would_tell(scene: Scene, one: Blame, other: Blame) -> str:
    """Return the reading that would decide between two: of a point that stands elsewhere by each."""
    moved = _moves(scene, one) - _moves(scene, other)
    axes = moved.reshape(-1, 3)
    kind = scene.equations[one.number].kind
    sd = max(scene.equations[k.number].sd for k in (one, other))
    names = scene.observed.names
    if kind in (Kind.ROD, Kind.RISE, Kind.COORDINATE, Kind.FIX_HEIGHT):
        size = np.abs(axes[:, 2])
        seen = {n for k in scene.result.used for n in _heights(scene.equations[k])}
        sizes = [size[n] if n in seen else -1.0 for n in range(len(names))]
        far, still = int(np.argmax(sizes)), [n for n in seen if size[n] < DECIDING_SDS * sd]
        if sizes[far] < DECIDING_SDS * sd or not still:
            return f"Read {scene.source(one.number).what} again."
        near = min(still, key=lambda n: (size[n], n))
        return (
            f"A sight of {names[far]} and one of {names[near]} from one new set-up would tell: the repairs "
            f"put them {_length(size[far], scene.unit)} apart in height."
        )
    size = np.hypot(axes[:, 0], axes[:, 1])
    far = int(np.argmax(size))
    still = [n for n in range(len(names)) if n != far and size[n] < 0.1 * size[far] and _stands(scene, n)]
    if size[far] <= 0 or not still:
        return f"Take {scene.source(one.number).what} again."

    def apart(point: int) -> float:
        # Where both turn together, as when a direction is at fault, no tape between them changes.
        arm = (
            scene.result.coordinates[[3 * far, 3 * far + 1]]
            - scene.result.coordinates[[3 * point, 3 * point + 1]]
        )
        return abs(float(arm @ (axes[far, :2] - axes[point, :2]))) / max(float(np.hypot(*arm)), 1e-9)

    best = max(still, key=apart)
    tapes = [one.sd for one in scene.equations if one.kind in (Kind.LEVEL_TAPE, Kind.SLOPE_TAPE)]
    if apart(best) < DECIDING_SDS * max(tapes, default=0.0):
        return f"Take {scene.source(one.number).what} again."
    return f"A tape from {names[best]} to {names[far]} would tell."


def _length(value_m: float, unit: str) -> str:
    return told(value_m, "metres" if unit in ("m", "mm") else "decimal feet")


def _stands(scene: Scene, point: int) -> bool:
    return not math.isnan(float(scene.result.coordinates[3 * point]))


def _heights(equation: Equation) -> tuple[int, ...]:
    """Return the points that a height reading joins."""
    if equation.kind is Kind.ROD:
        return (equation.at[1],)
    return equation.at if equation.kind is Kind.RISE else ()


def _moves(scene: Scene, blame: Blame) -> Floats:
    """Return by how much the points stand elsewhere once a blamed reading is put right."""
    result = scene.result
    equation = scene.equations[blame.number]
    _, by = change_of(scene, blame)
    if math.isnan(by):
        by = 0.0
    _, jacobian = evaluated(stacked([equation]), np.nan_to_num(result.coordinates))
    moves = result.moved_by(jacobian) * by / equation.sd**2
    points = 3 * len(scene.observed.names)
    found: Floats = np.nan_to_num(moves[:points])
    return found


def alike_of(blames: Mapping[int, Blame], groups: Sequence[Sequence[int]]) -> dict[int, list[Blame]]:
    """Return for each reading the others of its group, likeliest first."""
    found: dict[int, list[Blame]] = {}
    for group in groups:
        inside = sorted((blames[k] for k in group if k in blames), key=lambda b: -b.chance)
        for blame in inside:
            found[blame.number] = [other for other in inside if other is not blame]
    return found
