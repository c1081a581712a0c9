"""Every key of ``job.toml``, declared once: the reader, its errors, the starter folder and the docs use this.

A section builds its record, or, without one, its values belong to the record of the section around it.
Defaults are the records' own; the text here is what people read, and a test holds the two equal.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from staking.book import records
from staking.book.kinds import (
    AREA,
    ARRAY_NAME,
    BAG,
    COUNT,
    COUNT_OR_AUTO,
    COUNT_OR_ZERO,
    DATE,
    DIRECTION,
    DURATION,
    EXPANSION,
    FORCE,
    FRACTION,
    HOW,
    LATITUDE,
    LENGTH,
    LONGITUDE,
    NORTH,
    NUMBER,
    ONE_OR_TWO,
    PER_100,
    PIER,
    POINT,
    REVISION,
    SD_ANGLE,
    SHARE,
    SIDE,
    SIZE,
    SIZE_OR_ZERO,
    STRESS,
    TEMPERATURE,
    TEXT,
    TILT,
    TIME,
    TIME_ZONE,
    UNITS,
    Kind,
    word,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Key:
    """One key."""

    name: str
    kind: Kind
    needed: bool
    meaning: str
    example: str
    """As typed, without quotes; list items parted by `` | ``."""
    default: str = ""
    """What is taken where the key is absent; empty where there is no default."""
    field: str = ""
    """Name of the record's field where it is not the key's with the kind's suffix."""
    several: bool = False
    """Whether it is a list of the kind."""
    at_least: int = 1
    """How many a list must have."""
    bare: bool = False
    """Whether one value may stand without the list's brackets."""
    instead: bool = False
    """Whether it stands instead of keys before it, so that an example has one or the other."""

    @property
    def attribute(self) -> str:
        """Name of the record's field."""
        return self.field or self.name + self.kind.suffix

    @property
    def typed(self) -> str:
        """The example as it stands in the file."""
        items = [self.quoted(item) for item in self.example.split(" | ")]
        return f"[{', '.join(items)}]" if self.listed(items) else items[0]

    def listed(self, items: Sequence[str]) -> bool:
        """Whether these values stand in the brackets of a list."""
        return self.several and not (self.bare and len(items) == 1)

    def quoted(self, value: str) -> str:
        """Return a value as it stands in the file: in quotes unless a bare number or date."""
        return f'"{value}"' if self.kind.quoted or any(sign.isalpha() for sign in value) else value


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """One table of the file, or one in braces within a table."""

    name: str
    meaning: str
    keys: tuple[Key | Section, ...]
    record: type[Any] | None = None
    needed: bool = False
    several: bool = False
    """Whether it is a list of tables."""
    apart: tuple[str, ...] = ()
    """Of a list: keys that are mostly told of different things; the example shows a table for each."""

    @property
    def attribute(self) -> str:
        """Name of the field in the record of the section around it."""
        return self.name


def _needed(name: str, kind: Kind, example: str, meaning: str, *, field: str = "") -> Key:
    return Key(name=name, kind=kind, needed=True, meaning=meaning, example=example, field=field)


def _may(name: str, kind: Kind, example: str, meaning: str, *, default: str = "", field: str = "") -> Key:
    return Key(
        name=name, kind=kind, needed=False, meaning=meaning, example=example, default=default, field=field
    )


def _instead(name: str, kind: Kind, example: str, meaning: str) -> Key:
    return Key(name=name, kind=kind, needed=False, meaning=meaning, example=example, instead=True)


SITE = Section(
    name="site",
    meaning="the survey as a whole",
    record=records.Site,
    needed=True,
    keys=(
        _may("name", TEXT, "Back yard", "printed on every sheet"),
        _needed("units", UNITS, "ft", "what a bare number is in: ft, in, m or mm"),
        _may(
            "show",
            word("feet-inches", "decimal feet", "metric"),
            "feet-inches",
            "how the sheets print lengths: feet-inches, decimal feet or metric",
            default="feet-inches for ft and in, metric for m and mm",
        ),
        _may("tape_how", HOW, "level", "how distances were taped where a row does not say: level or slope"),
        _may("latitude", LATITUDE, "40.125", "north positive; for magnetic north, sun and GPS"),
        _may("longitude", LONGITUDE, "-75.25", "east positive"),
        _may("date", DATE, "2026-10-03", "of the survey; magnetic north moves"),
        _may("revision", REVISION, "B", "of the plan: printed on every sheet, so that two are not mixed"),
        _may(
            "time_zone",
            TIME_ZONE,
            "America/New_York",
            "of the clock, for sun and shadows: a name, which knows of summer time, or the offset from UTC "
            "such as -4:00; without it times are UTC",
        ),
        _may("grid", TEXT, "EPSG:32618", "map grid, where north or control is on one"),
    ),
)
CONTROL = Section(
    name="control",
    meaning="what is given, so that readings become places; control.csv adds to it or replaces it",
    record=records.Control,
    keys=(
        Section(
            name="origin",
            meaning="the point whose plan position is given",
            record=records.Origin,
            keys=(
                _needed("point", POINT, "P1", "name of the point"),
                _needed("east", LENGTH, "0", "its east"),
                _needed("north", LENGTH, "0", "its north"),
            ),
        ),
        Section(
            name="azimuth",
            meaning="the direction that is given",
            record=records.Azimuth,
            keys=(
                _needed("from", POINT, "P1", "where the line starts", field="start"),
                _needed("to", POINT, "P2", "where it points to"),
                _needed("degrees", DIRECTION, "88.5", "clockwise from north", field="azimuth_rad"),
                _needed("north", NORTH, "true", "true, magnetic or grid"),
            ),
        ),
        Section(
            name="benchmark",
            meaning="the point whose elevation is given",
            record=records.Benchmark,
            keys=(
                _needed("point", POINT, "BM1", "name of the point"),
                _needed("elevation", LENGTH, "100", "its elevation"),
            ),
        ),
        _may(
            "side",
            SIDE,
            "left",
            "of the azimuth's line; without one, of the line from the first to the second point of "
            "control.csv; without those, of the first row of bearings.csv or a table of shadows: used only "
            "where nothing else decides a mirror image",
        ),
    ),
)
ACCURACY = Section(
    name="accuracy",
    meaning="one standard deviation of one reading",
    record=records.Accuracy,
    keys=(
        _may("rod", SIZE, "1.5 mm", "a rod reading", default="1.5 mm"),
        _may(
            "rod_per_100",
            PER_100,
            "0.005",
            "what a rod reading adds, root-sum-square, in units per 100 units of sight",
            default="0",
            field="rod_per_m",
        ),
        _may("rise", SIZE, "3 mm", "a difference of height", default="3 mm"),
        _may("tape", SIZE, "3 mm", "a taped distance", default="3 mm"),
        _may(
            "tape_per_100",
            PER_100,
            "0.01",
            "what a taped distance adds, root-sum-square, in units per 100 units of length",
            default="0",
            field="tape_per_m",
        ),
        _may("offset", SIZE, "12 mm", "a station, and an offset squared by eye", default="12 mm"),
        _may("angle", SD_ANGLE, "0.02", "a horizontal angle, in degrees", default="0.02"),
        _may("bearing", SD_ANGLE, "1.0", "a bearing, in degrees", default="1.0"),
        _may("clock", DURATION, "10 s", "the clock that shadows are timed by", default="1 min"),
        _may("shadow", SD_ANGLE, "0.1", "the middle of a plumb line's shadow, in degrees", default="0.1"),
        _may("shadow_mark", SIZE, "5 mm", "a mark at the tip of a shadow", default="5 mm"),
        _may("mark", SIZE_OR_ZERO, "1/16 in", "the pencil line on the post", default="1/16 in"),
        _may("saw", SIZE_OR_ZERO, "1/16 in", "the saw on the line", default="1/16 in"),
        _may(
            "collimation",
            PER_100,
            "0.005",
            "how far a level's line of sight may rise or fall, in units per 100 units of sight: solved for; "
            "without it only where pegs.csv or the readings themselves tell",
        ),
        _may("slope", SD_ANGLE, "0.25", "an angle of slope by a hand clinometer, in degrees", default="0.25"),
        _may(
            "session",
            SIZE,
            "5 m",
            "the shift that all fixes of one session share, east and north each; with RTK write its own, "
            "such as 20 mm",
            default="5 m",
        ),
        _may("session_height", SIZE, "10 m", "the same shift in height", default="10 m"),
        _may(
            "fix",
            SIZE,
            "2 m",
            "a fix against the others of its session, east and north each, where sd_h is blank",
            default="2 m",
        ),
        _may("fix_height", SIZE, "4 m", "its height against theirs, where sd_v is blank", default="4 m"),
    ),
)
INSTRUMENTS = Section(
    name="instruments",
    meaning="what was read with: gives the accuracy where [accuracy] does not, and the control sheet says so",
    record=records.Instruments,
    keys=(
        _may(
            "rod",
            word("builder's level", "rotating laser"),
            "builder's level",
            "builder's level or rotating laser",
        ),
        _may("rise", word("water level", "line level"), "water level", "water level or line level"),
        _may("tape", word("steel tape", "cloth tape"), "steel tape", "steel tape or cloth tape"),
        _may("bearing", word("compass"), "compass", "compass"),
        _may("fix", word("phone", "RTK receiver"), "RTK receiver", "phone or RTK receiver"),
    ),
)
TAPE = Section(
    name="tape",
    meaning="the tape's constants, for rows that note how it lay; without a key, steel's",
    record=records.Tape,
    keys=(
        _may("nominal", SIZE, "100 ft", "what its last mark says"),
        _may("true", SIZE, "100.02 ft", "how long that is, supported throughout, warm and pulled as below"),
        _may("temperature", TEMPERATURE, "68 F", "at which that is so", default="68 F"),
        _may("pull", FORCE, "10 lb", "at which that is so"),
        _may("weight", FORCE, "2.8 lb", "of the nominal length, without the reel"),
        _may("area", AREA, "0.005 sq in", "of its cross-section; without it, from its weight, as steel"),
        _may("modulus", STRESS, "29000000 psi", "how stiff it is", default="29000000 psi"),
        _may("expansion", EXPANSION, "6.45e-6 per F", "how it grows with heat", default="6.45e-6 per F"),
    ),
)
ARRAY = Section(
    name="array",
    meaning="what lies on the frame and the way it faces",
    record=records.ArrayDesign,
    needed=True,
    keys=(
        _needed("azimuth", DIRECTION, "172", "the way it faces, clockwise from true north"),
        _needed("tilt", TILT, "28", "angle through which it is turned about its beams"),
        _instead(
            "max_tilt",
            TILT,
            "40",
            "beside `tilt`: the steepest tilt from that up to this is taken at which every limit is met",
        ),
        _needed("modules_along", COUNT, "7", "modules along the beams"),
        _needed("modules_up", COUNT, "3", "modules up the slope"),
        Section(
            name="module",
            meaning="size of one module as it lies",
            needed=True,
            keys=(
                _needed("along", SIZE, "66.9 in", "along the beams", field="module_along_m"),
                _needed("up", SIZE, "44.1 in", "up the slope", field="module_up_m"),
                _may("thick", SIZE_OR_ZERO, "30 mm", "thickness", default="0", field="module_thick_m"),
            ),
        ),
        Section(
            name="gap",
            meaning="between neighbouring modules",
            keys=(
                _may("along", SIZE_OR_ZERO, "3/8 in", "along the beams", default="0", field="gap_along_m"),
                _may("up", SIZE_OR_ZERO, "3/8 in", "up the slope", default="0", field="gap_up_m"),
            ),
        ),
    ),
)
FRAME = Section(
    name="frame",
    meaning="posts, beams and rails",
    record=records.FrameDesign,
    needed=True,
    keys=(
        _may("piers_per_beam", COUNT, "5", "piers under each beam; needs `bay`"),
        _may("bay", SIZE, "8.75 ft", "from post to post, along the beam"),
        _instead("max_bay", SIZE, "10 ft", "longest bay, where the program chooses; needs `max_overhang`"),
        _instead("max_overhang", SIZE_OR_ZERO, "3 ft", "most that a beam may reach past its end post"),
        Key(
            name="beams_at",
            kind=LENGTH,
            needed=True,
            meaning="up the rail from the modules' low edge, low beam first; goes with [array] modules_up",
            example="1.9 ft | 9.4 ft",
            several=True,
        ),
        _needed("stack", SIZE_OR_ZERO, "130 mm", "beam's centreline to modules' underside, square to them"),
        _needed("takeout", LENGTH, "55 mm", "beam's centreline down to the top end of the post"),
        _may("post_pipe", TEXT, "NPS 2 sch 40", "pipe of the posts, from the table or your own name"),
        _instead("post_od", SIZE, "2.375 in", "outside diameter of the posts, where the pipe is your own"),
        _instead("post_wall", SIZE, "0.154 in", "its wall, for its weight as steel; goes with post_od"),
        _may("beam_pipe", TEXT, "NPS 2 sch 40", "pipe of the beams"),
        _instead("beam_od", SIZE, "2.375 in", "outside diameter of the beams, where the pipe is your own"),
        _instead("beam_wall", SIZE, "0.154 in", "its wall, for its weight as steel; goes with beam_od"),
        _may("rails_per_line", COUNT, "2", "rails under each line of modules up the slope", default="2"),
        _may(
            "rail_inset",
            SIZE_OR_ZERO,
            "14 in",
            "from a module's edge to its outer rails",
            default="a quarter of the module",
        ),
        _may("rail_end", SIZE_OR_ZERO, "0 in", "what a rail runs past the modules' edges", default="0 in"),
        _may("rail_clear", SIZE_OR_ZERO, "2 in", "least distance from a rail to a post", default="2 in"),
        _may("beam_end", SIZE_OR_ZERO, "6 in", "what a beam runs past its outer rails", default="6 in"),
        _may("beam_past_post", SIZE_OR_ZERO, "4 in", "least that it runs past its end posts", default="4 in"),
    ),
)
PLACE = Section(
    name="place",
    meaning="where a pier stands: by a line, station and offset, by east and north, or in an area",
    record=records.Place,
    needed=True,
    keys=(
        _may("pier", PIER, "A1", "the pier that is placed", default="A1"),
        Key(
            name="line",
            kind=POINT,
            needed=False,
            meaning="two points of the survey: the line runs from the first to the second",
            example="P1 | P2",
            several=True,
            at_least=2,
        ),
        _may("station", LENGTH, "12 ft", "along the line"),
        _may("offset", LENGTH, "-8 ft", "square off it, positive to the right looking along it"),
        _instead("east", LENGTH, "12.3 ft", "east of the pier, instead of a line"),
        _instead("north", LENGTH, "-7.6 ft", "north of the pier, instead of a line"),
        Key(
            name="area",
            kind=POINT,
            needed=False,
            meaning="points that ring an area, instead of a place: modules and holes stand in it "
            "where it keeps clear of everything and needs least; told along `line` where that is given",
            example="Q1 | Q2 | Q3 | Q4",
            several=True,
            at_least=3,
            instead=True,
        ),
    ),
)
FIT = Section(
    name="fit",
    meaning="what the plane must keep to, and what to make least",
    record=records.Limits,
    needed=True,
    keys=(
        _may("beams", word("level", "sloping"), "level", "level or sloping", default="level"),
        _may(
            "max_cross_slope",
            TILT,
            "3",
            "most that a beam may slope, degrees: what the fitting allows; needed for sloping",
        ),
        _needed("above_grade_min", LENGTH, "20 in", "least above-grade length of a post"),
        _needed("above_grade_max", SIZE, "8 ft", "greatest above-grade length of a post"),
        _needed("clearance", LENGTH, "22 in", "least plumb distance from the ground to the underside"),
        _may("highest", SIZE, "12 ft", "greatest plumb height of the upper face above the ground"),
        _instead(
            "low_edge",
            SIZE,
            "30 in",
            "plumb height of the modules' low edge above the ground, at its lowest place: sets the "
            "plane's height",
        ),
        _may(
            "stand",
            word("low", "high"),
            "low",
            "low: the plane as low as above_grade_min and clearance let it; high: as high as "
            "above_grade_max and highest do",
            default="low",
        ),
        _may(
            "least",
            word("steel", "tallest"),
            "steel",
            "what to make least: steel, the sum of above-grade lengths, or the tallest post",
            default="steel",
        ),
        _may(
            "sections",
            COUNT_OR_AUTO,
            "auto",
            "into how many sections the array is parted along the beams, each with its own piers and plane; "
            "auto: the fewest that fit",
            default="1",
        ),
        Key(
            name="break_after",
            kind=COUNT,
            needed=False,
            meaning="lines of modules, counted from the left, after which the array is parted; without it "
            "the best ones are found",
            example="4",
            several=True,
            bare=True,
        ),
        _may(
            "section_gap",
            SIZE,
            "4 in",
            "least level distance between the modules of neighbouring sections",
            default="4 in",
        ),
        _may(
            "step_max",
            SIZE_OR_ZERO,
            "10 in",
            "greatest difference of height between neighbouring sections at their gap",
        ),
    ),
)
ARRAY_PARTS = (ARRAY, FRAME, PLACE, FIT)
ARRAYS = Section(
    name="arrays",
    meaning="one of several arrays; it takes [array], [frame], [place], [fit] where it has none of its own",
    several=True,
    keys=(_needed("name", ARRAY_NAME, "north", "its piers are written north-A1"), *ARRAY_PARTS),
)
FOOTING = Section(
    name="footing",
    meaning="holes and concrete; depths are the engineer's or the local table's, never the program's",
    record=records.Footing,
    needed=True,
    keys=(
        _needed("hole_diameter", SIZE, "12 in", "diameter of the hole, that of the auger"),
        _needed("embedment", SIZE, "4 ft", "depth of the post below grade"),
        _needed("bottom_cover", SIZE_OR_ZERO, "3 in", "concrete under the post"),
        _may("side_cover", SIZE_OR_ZERO, "3 in", "least concrete round the post"),
        _may("frost_depth", SIZE_OR_ZERO, "30 in", "local frost depth"),
        _may(
            "daylight",
            SIZE,
            "5 ft",
            "where the engineer counts embedment from the depth at which soil lies this far away, level",
        ),
        _may(
            "over_dig",
            FRACTION,
            "10 %",
            "what the auger digs more than its name says, and waste, as a share of the hole",
            default="0",
        ),
        _may("bag_yield", BAG, "0.6 cu ft", "concrete that one bag makes, as printed on the bag"),
    ),
)
PIPE = Section(
    name="pipe",
    meaning="sticks, saw and joints",
    record=records.Pipe,
    needed=True,
    keys=(
        Section(
            name="stock",
            meaning="sticks that can be bought or are on hand",
            record=records.Stock,
            needed=True,
            several=True,
            apart=("price", "count"),
            keys=(
                _needed("length", SIZE, "21 ft", "of one stick"),
                _may("price", NUMBER, "118.00", "of one stick"),
                _may("pipe", TEXT, "NPS 2 sch 40", "which pipe", default="whatever the piece asks for"),
                _may("use", word("post", "beam", "both"), "both", "post, beam or both", default="both"),
                _may(
                    "count",
                    COUNT_OR_ZERO,
                    "4",
                    "how many are on hand, offcuts too, each with its real length; without a price they "
                    "cost nothing",
                    default="as many as needed",
                ),
            ),
        ),
        _may(
            "cut_allowance", SIZE_OR_ZERO, "1 in", "left on each post until cut to its mark", default="1 in"
        ),
        _may("kerf", SIZE_OR_ZERO, "1/8 in", "what one saw cut takes", default="1/8 in"),
        _may("joint", word("sleeve", "threaded"), "sleeve", "sleeve or threaded", default="sleeve"),
        _may("joint_clear", SIZE_OR_ZERO, "4 in", "least from a joint to a post or a rail", default="4 in"),
        Key(
            name="no_joint",
            kind=SHARE,
            needed=False,
            meaning="the part of each bay that joints keep out of: one share of the bay round its middle, "
            "or two shares, from and to, counted from its left post",
            example="0.5",
            several=True,
            bare=True,
        ),
        _may(
            "posts_per_piece",
            ONE_OR_TWO,
            "1",
            "least posts that a piece of a beam rests on",
            default="1",
        ),
        _may(
            "make_up",
            LENGTH,
            "0 in",
            "threaded: how much longer the joined pipe is than its two pieces; minus: shorter",
            default="0 in",
        ),
        _may("trip_cost", NUMBER, "60.00", "what a second trip for pipe costs, against a stick more ordered"),
        _may("useful_drop", SIZE, "2 ft", "a drop is worth keeping from this length on"),
    ),
)
STAKES = Section(
    name="stakes",
    meaning="how stakes are set",
    record=records.Stakes,
    keys=(
        _may(
            "offset_hub",
            SIZE,
            "3 ft",
            "two hubs in line with the beam, this far each side of the pier, that the auger spares",
            default="3 ft",
        ),
    ),
)
TOLERANCE = Section(
    name="tolerance",
    meaning="what the finished frame is to keep; the defaults are common practice, yours overrule them",
    record=records.Tolerance,
    keys=(
        _may("tops", SIZE, "1/4 in", "each post's top against the benchmark", default="1/4 in"),
        _may("neighbours", SIZE, "1/8 in", "a post's top against its neighbour's", default="1/8 in"),
        _may("row", SIZE, "1/2 in", "the tops of one row against each other", default="1/2 in"),
        _may("diagonals", SIZE, "1/4 in", "one diagonal against the other", default="1/4 in"),
    ),
)
BRACES = Section(
    name="braces",
    meaning="braces of tall posts, as lengths between fixing points that the engineer or supplier gives",
    record=records.Braces,
    keys=(
        _may("over", SIZE, "6 ft", "posts that stand more than this above grade have braces"),
        _may(
            "from_top",
            SIZE_OR_ZERO,
            "8 in",
            "the fixing on the tall post, down from its top end; needed with over",
        ),
        _may(
            "above_grade",
            SIZE_OR_ZERO,
            "12 in",
            "the fixing on the other post, up from grade there; needed with over",
        ),
        Key(
            name="to",
            kind=word("low", "high", "left", "right"),
            needed=False,
            meaning="to which neighbours: of the next lower or higher beam, left or right along the beam",
            example="low | left",
            default="low",
            several=True,
            bare=True,
        ),
    ),
)
SHADE = Section(
    name="shade",
    meaning="when several arrays must not shade one another, by the sun's own time: 12:00 is its noon",
    record=records.ShadeHours,
    keys=(
        _may("from", TIME, "9:00", "from then on", default="9:00", field="start"),
        _may("to", TIME, "15:00", "until then", default="15:00"),
        _may("day", DATE, "2026-12-21", "of the year; without it the shortest"),
    ),
)
GROUND = Section(
    name="ground",
    meaning="the ground between the shots, and what `check --planned` takes of it before any is shot",
    record=records.GroundAssumed,
    keys=(
        _may(
            "surface",
            word("auto", "statistical", "triangulated", "table"),
            "auto",
            "what lies between the shots: statistical, triangulated (planes between them), table (planes "
            "between the points of `table`), or auto: the one that predicts left-out shots better",
            default="auto",
        ),
        _may(
            "table",
            TEXT,
            "ground.csv",
            "a file beside this one with many bare ground points on the site's axes, columns east, north, "
            "elevation; LAS, LAZ and GeoTIFF with the extra `ground`",
        ),
        _may("units", UNITS, "ft", "what a number in that file is in", default="the survey's"),
        _may("sd", SIZE, "2 in", "of one elevation in that file, one standard deviation; needed with it"),
        _may(
            "shift",
            LENGTH,
            "0.5 ft",
            "what you decide to add to every elevation of that file, where it counts from elsewhere",
            default="0",
        ),
        _may(
            "roughness_per_100",
            PER_100,
            "0.55",
            "how far the ground departs from its best plane (rms), in units per 100 units of the diagonal of "
            "the patch that is shot",
            default="0.55",
            field="roughness_per_m",
        ),
    ),
)
SECTIONS: tuple[Section, ...] = (
    SITE,
    CONTROL,
    ACCURACY,
    INSTRUMENTS,
    TAPE,
    ARRAY,
    FRAME,
    PLACE,
    FIT,
    ARRAYS,
    FOOTING,
    PIPE,
    STAKES,
    BRACES,
    SHADE,
    TOLERANCE,
    GROUND,
)
PLAN_ONLY: tuple[Section, ...] = (*ARRAY_PARTS, FOOTING, PIPE)
"""What a plan needs and a survey alone does not."""
