"""What a survey folder holds once read: metres and radians, each reading with the row it stands on.

Plain records; the declarations that say how each is typed, read and explained are in
`staking.book.tables` and `staking.book.keys`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date as Date
from datetime import time as Time
from datetime import tzinfo
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from staking.book.ground_table import GroundTable

How = Literal["level", "slope"]
North = Literal["true", "magnetic", "grid"]
Side = Literal["left", "right"]
PointKind = Literal["ground", "pin", "benchmark", "turning", "tree", "corner", "other"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """What every row of a table carries."""

    table: str
    """Name of the table with its ending, ``levels.csv``."""
    row: int
    """Row as a spreadsheet shows it: the header is row 1."""
    read: Mapping[str, str] = field(default_factory=dict)
    """Each non-blank cell as typed, by column."""
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelRow(Row):
    """One row of the level book; rod readings in metres."""

    point: str
    bs_m: float | None = None
    is_m: float | None = None
    fs_m: float | None = None
    dist_m: float | None = None
    sd_m: float | None = None
    instrument: str = ""
    """Of the setup; stands in the row of its backsight."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RiseRow(Row):
    """One difference of height: elevation of `to` less elevation of `start`."""

    start: str
    to: str
    rise_m: float
    sd_m: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PegRow(Row):
    """One sight of a two-peg test; metres."""

    setup: str
    point: str
    rod_m: float
    dist_m: float
    instrument: str = ""
    sd_m: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Supports:
    """What held a tape up from below."""

    way: Literal["throughout", "ends", "every", "number"]
    every_m: float | None = None
    """Span between supports."""
    number: int | None = None
    """Supports, those under the ends included."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TapeRow(Row):
    """One taped distance, as read; what is noted of the tape corrects it later."""

    start: str
    to: str
    length_m: float
    how: How
    sd_m: float | None = None
    length2_m: float | None = None
    """Read a second time without laying the tape anew."""
    tape_rise_m: float | None = None
    """How much the tape itself rose from end to end."""
    tape_slope_rad: float | None = None
    """Angle of the tape itself against level."""
    temperature_c: float | None = None
    pull_n: float | None = None
    supports: Supports | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class OffsetRow(Row):
    """A point by station along start→to and offset square off it, positive to the right."""

    point: str
    start: str
    to: str
    station_m: float
    offset_m: float
    how: How
    sd_m: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class AngleRow(Row):
    """A horizontal angle at a point, clockwise from the sight to `start` to the sight to `to`."""

    at: str
    start: str
    to: str
    angle_rad: float
    sd_rad: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BearingRow(Row):
    """A bearing from one point to another, clockwise from the north named."""

    start: str
    to: str
    bearing_rad: float
    north: North
    sd_rad: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ShadowRow(Row):
    """At a clock time the shadow of a plumb line at `start` fell toward `to`."""

    start: str
    to: str
    time: Time
    date: Date | None = None
    """None: that of the survey."""
    sd_rad: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class EqualShadowRow(Row):
    """`to` is the middle between two marks of equal shadows of a plumb line at `start`."""

    start: str
    to: str
    morning: Time
    afternoon: Time
    length_m: float
    """Of the shadows, from the line's foot to the marks."""
    date: Date | None = None
    """None: that of the survey."""
    sd_rad: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class FixRow(Row):
    """One satellite fix; angles in radians."""

    point: str
    lat_rad: float
    lon_rad: float
    height_m: float | None = None
    height_kind: Literal["ellipsoidal", "orthometric"] | None = None
    sd_h_m: float | None = None
    sd_v_m: float | None = None
    session: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ControlRow(Row):
    """A point known beforehand; a None coordinate is unknown, a None sd means held fixed."""

    point: str
    east_m: float | None = None
    north_m: float | None = None
    elevation_m: float | None = None
    sd_east_m: float | None = None
    sd_north_m: float | None = None
    sd_elevation_m: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PointRow(Row):
    """What a point is; None where the row leaves it open."""

    point: str
    kind: PointKind | None = None
    side: Side | None = None
    ground: bool | None = None
    radius_m: float | None = None
    """Round a tree, where nothing may be dug or built; None: the tree is a mark only."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StakedRow(Row):
    """Where the stake of a pier was really set."""

    pier: str
    east_m: float
    north_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LineRow(Row):
    """Points in order: a break of the ground, a boundary, an area or a line to keep clear of."""

    line: str
    kind: Literal["break", "boundary", "no_build", "buried", "overhead"]
    points: tuple[str, ...]
    setback_m: float | None = None
    height_m: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BuiltRow(Row):
    """What was measured after setting a post; any part may be missing."""

    pier: str
    top_m: float | None = None
    rod_m: float | None = None
    hi_m: float | None = None
    east_m: float | None = None
    north_m: float | None = None
    hole_depth_m: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LostRow(Row):
    """A stake or pin that is gone."""

    point: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SawnRow(Row):
    """A piece of the saw's list and how it fared, or a length of pipe that is left."""

    stick: str | None = None
    stock_m: float | None = None
    piece: str | None = None
    length_m: float | None = None
    state: Literal["sawn", "spoilt", "left"] | None = None
    """None: still to be sawn."""
    hole_depth_m: float | None = None
    """As dug, at its centre."""
    pipe: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SketchRow(Row):
    """Roughly where a point stands; None where the sketch does not say."""

    point: str
    east_m: float | None = None
    north_m: float | None = None
    elevation_m: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Site:
    """``[site]``."""

    name: str = ""
    units: Literal["ft", "in", "m", "mm"] = "m"
    tape_how: How | None = None
    latitude_rad: float | None = None
    longitude_rad: float | None = None
    date: Date | None = None
    revision: str = ""
    """Of the plan, as its maker counts."""
    time_zone: tzinfo | None = None
    """Of the clock; None: UTC."""
    grid: str | None = None
    show: Literal["feet-inches", "decimal feet", "metric"] = "metric"
    """How the sheets print lengths; where the key is absent: feet-inches for ft and in, else metric."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Origin:
    """The point whose plan position is given."""

    point: str
    east_m: float
    north_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Azimuth:
    """The direction from one point to another that is given."""

    start: str
    to: str
    azimuth_rad: float
    north: North


@dataclass(frozen=True, slots=True, kw_only=True)
class Benchmark:
    """The point whose elevation is given."""

    point: str
    elevation_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Control:
    """``[control]``."""

    origin: Origin | None = None
    azimuth: Azimuth | None = None
    benchmark: Benchmark | None = None
    side: Side | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Accuracy:
    """``[accuracy]``: one standard deviation of one reading."""

    rod_m: float = 0.0015
    rod_per_m: float = 0.0
    """Grows with the sight, per metre of it; added root-sum-square."""
    rise_m: float = 0.003
    tape_m: float = 0.003
    tape_per_m: float = 0.0
    offset_m: float = 0.012
    angle_rad: float = 0.000349065850398866
    bearing_rad: float = 0.0174532925199433
    clock_s: float = 60.0
    """Of the clock that shadows are timed by, the same for all of a day: an unset watch, no source."""
    shadow_rad: float = 0.00174532925199433
    """The middle of a plumb line's shadow, a tenth of a degree: common practice, no source."""
    shadow_mark_m: float = 0.005
    """A mark at the tip of a shadow, which the sun's width blurs by a hundredth of the way: no source."""
    mark_m: float = 0.0015875
    """Pencil line on the post, 1/16 in: common practice, no source."""
    saw_m: float = 0.0015875
    """Saw on the line, 1/16 in: common practice, no source."""
    collimation: float | None = None
    """How far a level's line of sight may rise or fall, per unit of sight; None: not known beforehand."""
    slope_rad: float = 0.00436332312998582
    """An angle of slope by a hand clinometer, a quarter of a degree: common practice, no source."""
    session_m: float = 5.0
    """Common shift of a session's fixes, east and north each: a phone under open sky is good to 4.9 m (F. van
    Diggelen and P. Enge, The World's First GPS MOOC, ION GNSS+ 2015, from memory)."""
    session_height_m: float = 10.0
    """The same in height, about twice as much: common practice, no source."""
    fix_m: float = 2.0
    """One fix against the others of its session, east and north each: common practice, no source."""
    fix_height_m: float = 4.0
    """The same in height: common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Instruments:
    """``[instruments]``: the kind of instrument behind each kind of reading; None: not said."""

    rod: str | None = None
    rise: str | None = None
    tape: str | None = None
    bearing: str | None = None
    fix: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Tape:
    """``[tape]``: the constants of the tape, for rows that note how it lay; defaults are steel's."""

    nominal_m: float | None = None
    true_m: float | None = None
    """At the standard temperature and pull, supported throughout."""
    temperature_c: float = 20.0
    pull_n: float | None = None
    weight_n: float | None = None
    """Of its nominal length."""
    area_m2: float | None = None
    modulus_pa: float = 199947961501.88248
    """29 000 000 psi: Ghilani and Wolf, Elementary Surveying, ch. 6 (from memory)."""
    expansion_per_c: float = 1.161e-5
    """6.45e-6 per °F: Ghilani and Wolf, Elementary Surveying, ch. 6 (from memory)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ArrayDesign:
    """``[array]``: what lies on the frame and which way it faces."""

    azimuth_rad: float
    """Clockwise from true north."""
    tilt_rad: float
    max_tilt_rad: float | None = None
    """The tilt is the steepest from `tilt_rad` up to this that fits; None: it is `tilt_rad`."""
    modules_along: int
    modules_up: int
    module_along_m: float
    module_up_m: float
    module_thick_m: float = 0.0
    gap_along_m: float = 0.0
    gap_up_m: float = 0.0

    @property
    def width_m(self) -> float:
        """Width of the field of modules along the beams, in metres."""
        return self.modules_along * self.module_along_m + (self.modules_along - 1) * self.gap_along_m

    @property
    def height_m(self) -> float:
        """Height of the field of modules up the rails, in metres."""
        return self.modules_up * self.module_up_m + (self.modules_up - 1) * self.gap_up_m


@dataclass(frozen=True, slots=True, kw_only=True)
class FrameDesign:
    """``[frame]``: posts, beams and rails."""

    piers_per_beam: int | None = None
    bay_m: float | None = None
    max_bay_m: float | None = None
    max_overhang_m: float | None = None
    beams_at_m: tuple[float, ...]
    """Up the rail from the modules' low edge, low beam first."""
    stack_m: float
    takeout_m: float
    post_pipe: str | None = None
    post_od_m: float | None = None
    post_wall_m: float | None = None
    """Of a pipe of one's own: for its weight."""
    beam_pipe: str | None = None
    beam_od_m: float | None = None
    beam_wall_m: float | None = None
    rails_per_line: int = 2
    rail_inset_m: float | None = None
    """None: a quarter of the module."""
    rail_end_m: float = 0.0
    rail_clear_m: float = 0.0508
    beam_end_m: float = 0.1524
    beam_past_post_m: float = 0.1016


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """``[place]``: where a pier stands: by a line, by east and north, or in an area."""

    pier: str = "A1"
    line: tuple[str, str] | None = None
    station_m: float | None = None
    offset_m: float | None = None
    east_m: float | None = None
    north_m: float | None = None
    area: tuple[str, ...] | None = None
    """Points that ring the area in which the best place is found; None: the place itself is given."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """``[fit]``: what the plane must keep to, and what to make least."""

    beams: Literal["level", "sloping"] = "level"
    max_cross_slope_rad: float | None = None
    above_grade_min_m: float
    above_grade_max_m: float
    clearance_m: float
    highest_m: float | None = None
    low_edge_m: float | None = None
    """What the modules' low edge stands above the ground at its lowest; None: as it comes."""
    stand: Literal["low", "high"] = "low"
    """Between its limits: as low as the lower ones let it, or as high as the upper ones do."""
    least: Literal["steel", "tallest"] = "steel"
    sections: int | Literal["auto"] = 1
    """Into how many sections the array is parted along the beams; auto: the fewest that fit."""
    break_after: tuple[int, ...] | None = None
    """Lines of modules, counted from the left, after which it is parted; None: where it is best."""
    section_gap_m: float = 0.1016
    """Least level distance between the modules of neighbouring sections."""
    step_max_m: float | None = None
    """Greatest difference of height between neighbouring sections at their gap; None: any."""

    @property
    def stepped(self) -> bool:
        """Whether the array may be parted into sections."""
        return self.break_after is not None or self.sections != 1


@dataclass(frozen=True, slots=True, kw_only=True)
class ArrayJob:
    """One array with its frame, place and limits; the name is empty when there is only one."""

    name: str = ""
    array: ArrayDesign
    frame: FrameDesign
    place: Place
    fit: Limits
    axes_north_rad: float = 0.0
    """Azimuth of the site's north axis from true north; not typed: `staking.book.site_north` works it out."""
    section: int = 1
    """Which section of a stepped array this is, from the left; `staking.layout.sections` parts arrays."""
    sections: int = 1
    """Of how many."""
    first_pier: int = 1
    """Number of its leftmost piers: they are numbered from the left over all sections."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Footing:
    """``[footing]``."""

    hole_diameter_m: float
    embedment_m: float
    bottom_cover_m: float
    side_cover_m: float | None = None
    frost_depth_m: float | None = None
    daylight_m: float | None = None
    over_dig: float = 0.0
    """What the auger digs more than its name says, and waste, as a share of the hole."""
    bag_yield_m3: float | None = None
    """Concrete that one bag makes; None: not bought in bags."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stock:
    """One kind of stick that can be bought or is on hand."""

    length_m: float
    price: float | None = None
    pipe: str | None = None
    """None: whatever pipe the piece asks for."""
    use: Literal["post", "beam", "both"] = "both"
    count: int | None = None
    """On hand; None: as many as needed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pipe:
    """``[pipe]``."""

    stock: tuple[Stock, ...]
    cut_allowance_m: float = 0.0254
    kerf_m: float = 0.003175
    joint: Literal["sleeve", "threaded"] = "sleeve"
    joint_clear_m: float = 0.1016
    make_up_m: float = 0.0
    """Threaded: how much longer the joined pipe is than its two pieces (negative: shorter)."""
    no_joint: tuple[float, ...] | None = None
    """One share of each bay, round its middle, or two from its left post: no joint between them."""
    posts_per_piece: int = 1
    """A piece of a beam with joints rests on so many posts at least."""
    useful_drop_m: float | None = None
    """A drop from this length on is worth keeping; None: not said."""
    trip_cost: float | None = None
    """Of a second trip for pipe; None: not said."""

    @property
    def no_joint_shares(self) -> tuple[float, float] | None:
        """From where to where in each bay no joint may stand, as shares from its left post."""
        if self.no_joint is None:
            return None
        if len(self.no_joint) == 1:
            return (1 - self.no_joint[0]) / 2, (1 + self.no_joint[0]) / 2
        return self.no_joint[0], self.no_joint[1]


@dataclass(frozen=True, slots=True, kw_only=True)
class Stakes:
    """``[stakes]``."""

    offset_hub_m: float = 0.9144


@dataclass(frozen=True, slots=True, kw_only=True)
class Braces:
    """``[braces]``: where the fixings of braces sit, as the engineer or the supplier gives them."""

    over_m: float | None = None
    """Posts whose above-grade length is more than this have braces; None: none has."""
    from_top_m: float | None = None
    """Given where `over_m` is, as is the next."""
    above_grade_m: float | None = None
    to: tuple[str, ...] = ("low",)


@dataclass(frozen=True, slots=True, kw_only=True)
class ShadeHours:
    """``[shade]``: when arrays must not shade one another, by the sun's own time."""

    start: Time = Time(9)
    """12:00 is when the sun stands on the meridian."""
    to: Time = Time(15)
    day: Date | None = None
    """None: the shortest day."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tolerance:
    """``[tolerance]``: what the finished frame is to keep; all defaults common practice, no source."""

    tops_m: float = 0.00635
    """Each post's top against the benchmark, 1/4 in either way."""
    neighbours_m: float = 0.003175
    """A top against its neighbour's, 1/8 in."""
    row_m: float = 0.0127
    """The tops of one row against each other, 1/2 in."""
    diagonals_m: float = 0.00635
    """One diagonal against the other, 1/4 in."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GroundAssumed:
    """``[ground]``: what lies between the shots, and what is taken of it before any is shot."""

    surface: Literal["auto", "statistical", "triangulated", "table"] = "auto"
    table: str | None = None
    """Name of a file with many bare ground points."""
    units: Literal["ft", "in", "m", "mm"] | None = None
    """Of that file; None: the survey's."""
    sd_m: float | None = None
    """One standard deviation of an elevation there."""
    shift_m: float = 0.0
    """What is added to every elevation there."""
    roughness_per_m: float = 0.0055
    """Rms departure from the best plane, per metre of the patch's diagonal: see docs/ground.md."""

    @property
    def asked_surface(self) -> Literal["statistical", "triangulated", "table"] | None:
        """Return the surface that is asked for; None where left-out shots decide."""
        return None if self.surface == "auto" else self.surface


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """``job.toml``; a survey alone has no arrays, footing or pipe."""

    site: Site
    control: Control = Control()
    accuracy: Accuracy = Accuracy()
    """As stated, else as the instruments can do, else the defaults."""
    instruments: Instruments = Instruments()
    instrument_lines: tuple[str, ...] = ()
    """What was taken from the kinds of instruments, a line each."""
    tape: Tape = Tape()
    arrays: tuple[ArrayJob, ...] = ()
    footing: Footing | None = None
    pipe: Pipe | None = None
    stakes: Stakes = Stakes()
    tolerance: Tolerance = Tolerance()
    ground: GroundAssumed = GroundAssumed()
    shade: ShadeHours = ShadeHours()
    braces: Braces = Braces()


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldBook:
    """One survey: the decisions and every reading, in the order they were typed."""

    job: Job
    levels: tuple[LevelRow, ...] = ()
    pegs: tuple[PegRow, ...] = ()
    rises: tuple[RiseRow, ...] = ()
    tapes: tuple[TapeRow, ...] = ()
    offsets: tuple[OffsetRow, ...] = ()
    angles: tuple[AngleRow, ...] = ()
    bearings: tuple[BearingRow, ...] = ()
    shadows: tuple[ShadowRow, ...] = ()
    equal_shadows: tuple[EqualShadowRow, ...] = ()
    fixes: tuple[FixRow, ...] = ()
    control_points: tuple[ControlRow, ...] = ()
    points: tuple[PointRow, ...] = ()
    staked: tuple[StakedRow, ...] = ()
    lines: tuple[LineRow, ...] = ()
    built: tuple[BuiltRow, ...] = ()
    lost: tuple[LostRow, ...] = ()
    sawn: tuple[SawnRow, ...] = ()
    sketch: tuple[SketchRow, ...] = ()
    ground_table: GroundTable | None = None
    """The large table of ground points that ``[ground]`` names."""
    warnings: tuple[str, ...] = ()
    """What the reader noticed and did not refuse."""
    fingerprint: str = ""
    """First twelve hex digits of the SHA-256 of the inputs, printed on every sheet."""

    @property
    def on_grid(self) -> bool:
        """Whether the site's axes are a map grid's: one is named, and a control point has a place on it."""
        return self.job.site.grid is not None and any(
            row.east_m is not None or row.north_m is not None for row in self.control_points
        )
