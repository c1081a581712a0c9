"""The frame before it meets the ground: what is known of it whatever its height and cross-slope."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

from staking.base.errors import Mistake, WrongInput
from staking.base.units import told
from staking.book.records import ArrayDesign, ArrayJob, FrameDesign
from staking.layout.bays import Bays, bays_of

ON_EDGE_M = 1e-6
"""A beam or post within a thousandth of a millimetre of an end is on it: rounding of typed lengths."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FrameShape:
    """One array's frame and modules; metres and radians."""

    azimuth_rad: float
    """Clockwise from the site's north axis."""
    tilt_rad: float
    beams_at_m: tuple[float, ...]
    """Up the rail from the modules' low edge, rising."""
    piers_per_beam: int
    bay_m: float
    rails_m: tuple[float, ...]
    """Along the beams from the middle of the field of modules, rising."""
    rail_end_m: float
    rail_clear_m: float
    beam_end_m: float
    beam_past_post_m: float
    width_m: float
    """Of the field of modules along the beams."""
    height_m: float
    """Of the field of modules up the rails."""
    stack_m: float
    thick_m: float
    takeout_m: float
    axes_north_rad: float = 0.0
    """Azimuth of the site's north axis from true north."""
    first_pier: int = 1
    """Number of the leftmost piers: more than 1 right of the first section of a stepped array."""

    @property
    def rail_run_m(self) -> float:
        """Q: from the lowest to the highest beam up the rail, metres."""
        return self.beams_at_m[-1] - self.beams_at_m[0]

    @property
    def half_line_m(self) -> float:
        """From a beam's first post to the middle between its end posts, metres."""
        return (self.piers_per_beam - 1) * self.bay_m / 2


def shape_of(job: ArrayJob, *, style: str) -> FrameShape:
    """Return the frame's shape, with the bay chosen where the job leaves it open.

    Raises
    ------
    WrongInput
        Every part that cannot be built, with the length that is missing.
    """
    array, frame = job.array, job.frame
    mistakes = [*_array_mistakes(array), *_frame_mistakes(array, frame, style)]
    if job.fit.beams == "sloping" and job.fit.max_cross_slope_rad is None:
        mistakes.append(
            Mistake(
                file="job.toml",
                column="fit.max_cross_slope",
                problem="missing",
                expected="the degrees that the top fitting allows",
                remedy='Ask the supplier of the fitting, or choose beams = "level"',
            )
        )
    if mistakes:
        raise WrongInput([_of_array(job, m) for m in mistakes])
    rails = rails_of(array, frame)
    bays = bays_of(
        frame,
        beam_m=rails[-1] - rails[0] + 2 * frame.beam_end_m,
        shift_m=_most_shift(job),
        style=style,
        # Sloping beams shift along themselves: what keeps clear then is a matter of the cross-slope.
        rails_m=rails if job.fit.beams == "level" else (),
    )
    if isinstance(bays, Mistake):
        raise WrongInput([_of_array(job, bays)])
    off_beam = _posts_off_beam(array, bays, style)
    if off_beam:
        raise WrongInput([_of_array(job, m) for m in off_beam])
    return FrameShape(
        azimuth_rad=array.azimuth_rad - job.axes_north_rad,
        axes_north_rad=job.axes_north_rad,
        tilt_rad=array.tilt_rad,
        beams_at_m=frame.beams_at_m,
        piers_per_beam=bays.piers,
        bay_m=bays.bay_m,
        rails_m=rails,
        rail_end_m=frame.rail_end_m,
        rail_clear_m=frame.rail_clear_m,
        beam_end_m=frame.beam_end_m,
        beam_past_post_m=frame.beam_past_post_m,
        width_m=array.width_m,
        height_m=array.height_m,
        stack_m=frame.stack_m,
        thick_m=array.module_thick_m,
        takeout_m=frame.takeout_m,
        first_pier=job.first_pier,
    )


def rails_of(array: ArrayDesign, frame: FrameDesign) -> tuple[float, ...]:
    """Return the rails' distances from the middle of the field of modules, left to right, metres.

    Each line of modules lies on `rails_per_line` rails, evenly between the outer two; a single one lies in
    its middle.
    """
    inset = array.module_along_m / 4 if frame.rail_inset_m is None else frame.rail_inset_m
    count = frame.rails_per_line
    if count == 1:
        within = [array.module_along_m / 2]
    else:
        step = (array.module_along_m - 2 * inset) / (count - 1)
        within = [inset + k * step for k in range(count)]
    pitch = array.module_along_m + array.gap_along_m
    left = -array.width_m / 2
    return tuple(left + line * pitch + x for line in range(array.modules_along) for x in within)


def _most_shift(job: ArrayJob) -> float:
    """Return the most by which a beam shifts along itself within the allowed cross-slope, metres."""
    if job.fit.beams == "level" or job.fit.max_cross_slope_rad is None:
        return 0.0
    half_run = (job.frame.beams_at_m[-1] - job.frame.beams_at_m[0]) / 2
    return half_run * math.sin(job.array.tilt_rad) * math.tan(job.fit.max_cross_slope_rad)


def _array_mistakes(array: ArrayDesign) -> list[Mistake]:
    mistakes = []
    if not 0 <= array.tilt_rad < math.pi / 2:
        mistakes.append(
            Mistake(
                file="job.toml",
                column="array.tilt",
                read=f"{math.degrees(array.tilt_rad):g}",
                problem="not between level and plumb",
                expected="0 or more and less than 90 degrees",
            )
        )
    for key, count in (("modules_along", array.modules_along), ("modules_up", array.modules_up)):
        if count < 1:
            mistakes.append(
                Mistake(
                    file="job.toml",
                    column=f"array.{key}",
                    read=str(count),
                    problem="no modules",
                    expected="1 or more",
                )
            )
    return mistakes


def _frame_mistakes(array: ArrayDesign, frame: FrameDesign, style: str) -> list[Mistake]:
    mistakes = []
    at = frame.beams_at_m
    if len(at) < 2:
        mistakes.append(
            Mistake(
                file="job.toml",
                column="frame.beams_at",
                read=f"{len(at)} beams",
                problem="a rail on fewer than two beams would turn about them",
                expected="two distances or more, low beam first",
            )
        )
    mistakes.extend(
        Mistake(
            file="job.toml",
            column="frame.beams_at",
            read=told(high, style),
            problem=f"does not lie above the beam before it, at {told(low, style)}",
            expected="distances up the rail, rising, low beam first",
        )
        for low, high in itertools.pairwise(at)
        if high <= low
    )
    mistakes.extend(_beams_beyond_rails(array, frame, style))
    if frame.rails_per_line < 1:
        mistakes.append(
            Mistake(
                file="job.toml",
                column="frame.rails_per_line",
                read=str(frame.rails_per_line),
                problem="no rails to lie on",
                expected="1 or more",
            )
        )
    inset = frame.rail_inset_m
    if inset is not None and frame.rails_per_line > 1 and inset >= array.module_along_m / 2:
        over = told(inset - array.module_along_m / 2, style)
        mistakes.append(
            Mistake(
                file="job.toml",
                column="frame.rail_inset",
                read=told(inset, style),
                problem=f"the outer rails of a line would meet or cross, {over} past the module's middle",
                expected=f"less than {told(array.module_along_m / 2, style)}, half the module",
            )
        )
    return mistakes


def _beams_beyond_rails(array: ArrayDesign, frame: FrameDesign, style: str) -> list[Mistake]:
    low_end, high_end = -frame.rail_end_m, array.height_m + frame.rail_end_m
    mistakes = []
    for number, at in enumerate(frame.beams_at_m):
        beyond = max(low_end - at, at - high_end)
        if beyond > ON_EDGE_M:
            end = "low" if at < low_end else "high"
            mistakes.append(
                Mistake(
                    file="job.toml",
                    column="frame.beams_at",
                    read=told(at, style),
                    problem=f"beam {number + 1} from below lies {told(beyond, style)} beyond the {end} end "
                    "of the rails",
                    expected=f"between {told(low_end, style)} and {told(high_end, style)}",
                    remedy="Move the beam or lengthen the rails with frame.rail_end",
                )
            )
    return mistakes


def _posts_off_beam(array: ArrayDesign, bays: Bays, style: str) -> list[Mistake]:
    """Return the end posts that stand outside the modules: no beam that carries rails would reach them."""
    off = (bays.piers - 1) * bays.bay_m / 2 - array.width_m / 2
    if off <= ON_EDGE_M:
        return []
    line = told((bays.piers - 1) * bays.bay_m, style)
    return [
        Mistake(
            file="job.toml",
            column="frame.bay",
            read=told(bays.bay_m, style),
            problem=f"the end posts, 1 and {bays.piers} of every beam, stand {told(off, style)} outside the "
            f"modules and off the beam: a line of posts of {line} under modules of "
            f"{told(array.width_m, style)}",
            remedy="Take fewer piers_per_beam or a shorter bay",
        )
    ]


def _of_array(job: ArrayJob, mistake: Mistake) -> Mistake:
    """Return the mistake with the array's name in its key, where arrays have names."""
    if not job.name:
        return mistake
    return Mistake(
        file=mistake.file,
        row=mistake.row,
        column=f"{mistake.column} of array {job.name}",
        read=mistake.read,
        problem=mistake.problem,
        expected=mistake.expected,
        remedy=mistake.remedy,
    )
