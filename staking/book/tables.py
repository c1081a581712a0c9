"""Every table of a survey, declared once: the reader, its errors, the starter folder and the docs use this.

A field of the record is named after its column and the kind's suffix: ``bs`` of kind length is ``bs_m``,
``from`` is ``start``. Examples are typed in feet; the starter writes them in the survey's unit.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from staking.book import records
from staking.book.kinds import (
    DATE,
    DIRECTION,
    FORCE,
    HOW,
    LATITUDE,
    LENGTH,
    LONGITUDE,
    NORTH,
    PIER,
    POINT,
    POINTS,
    SD_ANGLE,
    SD_OR_FIXED,
    SIDE,
    SIZE,
    SIZE_OR_ZERO,
    SLOPE,
    SUPPORTS,
    TEMPERATURE,
    TEXT,
    TIME,
    TURN,
    YES_NO,
    Kind,
    word,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One column of a table."""

    name: str
    kind: Kind
    needed: bool
    """Whether every row must have it."""
    meaning: str
    examples: tuple[str, ...]
    """Cells of this column in the table's example rows, top to bottom."""

    @property
    def attribute(self) -> str:
        """Name of the record's field."""
        return ("start" if self.name == "from" else self.name) + self.kind.suffix

    @property
    def example(self) -> str:
        """The first example that is not blank."""
        return next((cell for cell in self.examples if cell), "")


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """One table: a CSV file of the folder, a sheet of the workbook, a blank form."""

    name: str
    attribute: str
    """Field of the field book."""
    record: type[Any]
    meaning: str
    """What one row is."""
    readings: bool
    """Whether its rows are readings, which place points."""
    columns: tuple[Column, ...]
    unique: tuple[str, ...] = ()
    """Columns that no two rows may share."""
    planned: tuple[str, ...] = ()
    """Columns of readings that may be marked or left blank where readings are only planned."""

    @property
    def file(self) -> str:
        """Name of the file, ``levels.csv``."""
        return f"{self.name}.csv"

    def column(self, name: str) -> Column:
        """Return the column of that name; raises KeyError when there is none."""
        for one in self.columns:
            if one.name == name:
                return one
        raise KeyError(name)


def _needed(name: str, kind: Kind, meaning: str, *examples: str) -> Column:
    return Column(name=name, kind=kind, needed=True, meaning=meaning, examples=examples)


def _may(name: str, kind: Kind, meaning: str, *examples: str) -> Column:
    return Column(name=name, kind=kind, needed=False, meaning=meaning, examples=examples)


def _note(*examples: str) -> Column:
    return _may("note", TEXT, "whatever helps to understand the row later", *examples)


def _sd(kind: Kind) -> Column:
    return _may("sd", kind, "one standard deviation of this row's reading where it differs from [accuracy]")


_HOW_MEANING = "level or slope: how the tape was held; in the row, or once in [site] as tape_how"

LEVELS = Table(
    name="levels",
    attribute="levels",
    record=records.LevelRow,
    meaning="a line of the level book, top to bottom",
    readings=True,
    planned=("bs", "is", "fs"),
    columns=(
        _needed("point", POINT, "what the rod stood on", "BM1", "P1", "P2", "G1", "TP1", "G2", "BM1"),
        _may("bs", LENGTH, "backsight: rod reading that opens a setup", "5.12", "", "", "", "4.87"),
        _may("is", LENGTH, "intermediate sight: a reading between", "", "4.31", "3.58", "2.96", "", "6.05"),
        _may("fs", LENGTH, "foresight: reading that closes the setup", "", "", "", "", "4.02", "", "5.97"),
        _may("dist", SIZE_OR_ZERO, "length of the sight", "30", "", "", "", "32", "", "30"),
        _note("bolt in the slab", "", "", "foot of the oak"),
        _sd(SIZE),
        _may("instrument", TEXT, "name of the level, where there are two; in the row of each setup's bs"),
    ),
)
PEGS = Table(
    name="pegs",
    attribute="pegs",
    record=records.PegRow,
    meaning="one sight of a two-peg test; its points are none of the survey's",
    readings=False,
    columns=(
        _needed(
            "setup", TEXT, "a name for each standing of the level", "middle", "middle", "near A", "near A"
        ),
        _needed("point", TEXT, "the peg that the rod stood on", "A", "B", "A", "B"),
        _needed("rod", LENGTH, "rod reading", "4.62", "5.10", "4.31", "4.80"),
        _needed("dist", SIZE_OR_ZERO, "length of the sight", "100", "100", "10", "210"),
        _note(""),
        _sd(SIZE),
        _may("instrument", TEXT, "name of the level, as in levels.csv, where there are two"),
    ),
)
RISES = Table(
    name="rises",
    attribute="rises",
    record=records.RiseRow,
    meaning="one difference of height: water level, line level, string and tape",
    readings=True,
    planned=("rise",),
    columns=(
        _needed("from", POINT, "where the rise starts", "P1"),
        _needed("to", POINT, "where it ends", "P2"),
        _needed("rise", LENGTH, "elevation of `to` less elevation of `from`", "0.73"),
        _note("water level"),
        _sd(SIZE),
    ),
)
TAPES = Table(
    name="tapes",
    attribute="tapes",
    record=records.TapeRow,
    meaning="one taped distance",
    readings=True,
    planned=("length",),
    columns=(
        _needed("from", POINT, "one end of the tape", "P1", "P1", "P2"),
        _needed("to", POINT, "the other end", "P2", "G1", "G1"),
        _needed("length", SIZE, "what the tape read", "60.00", "33.42", "42.75"),
        _may("how", HOW, _HOW_MEANING, "level", "level", "level"),
        _note("both ends plumbed"),
        _sd(SIZE),
        _may("length2", SIZE, "the same, read a second time: their mean is taken"),
        _may(
            "tape_rise",
            LENGTH,
            "along a slope: how much the tape itself rises from end to end; reduces it to level",
        ),
        _may("tape_slope", SLOPE, "along a slope, instead: the angle of the tape itself against level"),
        _may("temperature", TEMPERATURE, "of the tape"),
        _may("pull", FORCE, "on the tape"),
        _may("supports", SUPPORTS, "throughout (the default), ends, every 25 ft, or 3 supports"),
    ),
)
OFFSETS = Table(
    name="offsets",
    attribute="offsets",
    record=records.OffsetRow,
    meaning="a point measured along the line from→to, then square off it",
    readings=True,
    planned=("station", "offset"),
    columns=(
        _needed("point", POINT, "the point measured to", "G2"),
        _needed("from", POINT, "where the line starts", "P1"),
        _needed("to", POINT, "where the line points to", "P2"),
        _needed("station", LENGTH, "distance along the line", "24.0"),
        _needed("offset", LENGTH, "distance square off it, positive to the right looking along it", "-12.5"),
        _may("how", HOW, _HOW_MEANING, "level"),
        _note(""),
        _sd(SIZE),
    ),
)
ANGLES = Table(
    name="angles",
    attribute="angles",
    record=records.AngleRow,
    meaning="a horizontal angle at a point, clockwise",
    readings=True,
    planned=("angle",),
    columns=(
        _needed("at", POINT, "where the instrument stood", "P1"),
        _needed("from", POINT, "first sight", "G1"),
        _needed("to", POINT, "second sight", "P2"),
        _needed("angle", TURN, "clockwise from the first sight to the second", "45°12'"),
        _note(""),
        _sd(SD_ANGLE),
    ),
)
BEARINGS = Table(
    name="bearings",
    attribute="bearings",
    record=records.BearingRow,
    meaning="the bearing of one point from another",
    readings=True,
    planned=("bearing",),
    columns=(
        _needed("from", POINT, "where the compass was", "P1"),
        _needed("to", POINT, "what was sighted", "P2"),
        _needed("bearing", DIRECTION, "clockwise from north, or a quadrant bearing", "N 88°30' E"),
        _needed("north", NORTH, "the north it counts from: true, magnetic or grid", "true"),
        _note("shadow at noon"),
        _sd(SD_ANGLE),
    ),
)
_SUN_DATE = _may("date", DATE, "of the shadow, where not that of the survey", "2026-10-03")
SHADOWS = Table(
    name="shadows",
    attribute="shadows",
    record=records.ShadowRow,
    meaning="at a clock time the shadow of a plumb line at `from` fell toward `to`: a true bearing",
    readings=True,
    columns=(
        _needed("from", POINT, "where the plumb line hung", "P1"),
        _needed("to", POINT, "a point in its shadow", "G2"),
        _needed("time", TIME, "by the clock, in [site] time_zone, else UTC", "15:50"),
        _SUN_DATE,
        _note("clock set by phone"),
        _sd(SD_ANGLE),
    ),
)
EQUAL_SHADOWS = Table(
    name="equal_shadows",
    attribute="equal_shadows",
    record=records.EqualShadowRow,
    meaning="`to` is the middle between a morning's and an afternoon's mark of equal shadows of a plumb line "
    "at `from`: true north or south of it, whatever the clock",
    readings=True,
    columns=(
        _needed("from", POINT, "where the plumb line hung", "P1"),
        _needed("to", POINT, "the middle of the straight line between the two marks", "G1"),
        _needed("morning", TIME, "when the first mark was made, to ten minutes", "14:30"),
        _needed("afternoon", TIME, "when the second mark was made, to ten minutes", "19:15"),
        _needed("length", SIZE, "from the line's foot to either mark", "4.5"),
        _SUN_DATE,
        _note("tip of a knot in the string"),
        _sd(SD_ANGLE),
    ),
)
FIXES = Table(
    name="fixes",
    attribute="fixes",
    record=records.FixRow,
    meaning="a GPS fix; fixes of one session share one unknown shift",
    readings=True,
    columns=(
        _needed("point", POINT, "where the receiver stood", "P1", "P2"),
        _needed("lat", LATITUDE, "latitude, north positive", "40.1250000", "40.1250010"),
        _needed("lon", LONGITUDE, "longitude, east positive", "-75.2500000", "-75.2497850"),
        _may("height", LENGTH, "height as the receiver gives it", "215.3", "216.1"),
        _may(
            "height_kind",
            word("ellipsoidal", "orthometric"),
            "ellipsoidal or orthometric; needed with a height",
            "ellipsoidal",
            "ellipsoidal",
        ),
        _may(
            "sd_h",
            SIZE,
            "one standard deviation, east and north each, against the other fixes of the session; blank: "
            "[accuracy] fix",
            "0.05",
            "0.05",
        ),
        _may("sd_v", SIZE, "the same in height; blank: [accuracy] fix_height", "0.10", "0.10"),
        _may(
            "session",
            TEXT,
            "a name for the time between switching on and off; blank rows are one session together",
            "morning",
            "morning",
        ),
        _note("rover on a pole"),
    ),
)
CONTROL = Table(
    name="control",
    attribute="control_points",
    record=records.ControlRow,
    meaning="a point known beforehand; a blank coordinate is unknown, a blank sd means fixed",
    readings=False,
    unique=("point",),
    columns=(
        _needed("point", POINT, "name of the point", "P1"),
        _may("east", LENGTH, "east coordinate", "0"),
        _may("north", LENGTH, "north coordinate", "0"),
        _may("elevation", LENGTH, "elevation", ""),
        _may("sd_east", SD_OR_FIXED, "one standard deviation of `east`; blank or 0: held fixed"),
        _may("sd_north", SD_OR_FIXED, "one standard deviation of `north`; blank or 0: held fixed"),
        _may("sd_elevation", SD_OR_FIXED, "one standard deviation of `elevation`; blank or 0: held fixed"),
        _note("corner pin of the plat"),
    ),
)
POINTS_TABLE = Table(
    name="points",
    attribute="points",
    record=records.PointRow,
    meaning="what a point is",
    readings=False,
    unique=("point",),
    columns=(
        _needed("point", POINT, "name of the point", "P1", "G1"),
        _may(
            "kind",
            word("ground", "pin", "benchmark", "turning", "tree", "corner", "other"),
            "ground (the default), pin, benchmark, turning, tree, corner or other; BM alone or with digits "
            "is a benchmark, TP with digits a turning point, unless said otherwise",
            "pin",
            "ground",
        ),
        _may("side", SIDE, "of the line that [control] side is named from; overrules it", "", "left"),
        _may("ground", YES_NO, "yes or no: whether the point shapes the ground; overrules its kind", "yes"),
        _may(
            "radius",
            SIZE,
            "round a tree (kind tree): nothing is dug or built within it; blank: the tree is only a mark",
        ),
        _note("rebar, flush"),
    ),
)
STAKED = Table(
    name="staked",
    attribute="staked",
    record=records.StakedRow,
    meaning="where a pier's stake was really set; copied from the stakes.csv it was set from",
    readings=False,
    unique=("pier",),
    columns=(
        _needed("pier", PIER, "name of the pier", "A1"),
        _needed("east", LENGTH, "east of the stake", "12.28"),
        _needed("north", LENGTH, "north of the stake", "-7.58"),
        _note(""),
    ),
)
LINES = Table(
    name="lines",
    attribute="lines",
    record=records.LineRow,
    meaning="points in order: a break of the ground, a boundary, a line or an area to keep clear of",
    readings=False,
    unique=("line",),
    columns=(
        _needed("line", TEXT, "name of the line", "top of bank", "service wire"),
        _needed(
            "kind",
            word("break", "boundary", "no_build", "buried", "overhead"),
            "break, boundary, no_build, buried or overhead",
            "break",
            "overhead",
        ),
        _needed("points", POINTS, "points in order, parted by spaces", "G1 G2", "P1 P2"),
        _may("setback", SIZE_OR_ZERO, "distance to keep", "", "10"),
        _may("height", SIZE, "height of an overhead line above the ground; needed for one", "", "18"),
        _note(""),
    ),
)
BUILT = Table(
    name="built",
    attribute="built",
    record=records.BuiltRow,
    meaning="what was measured after setting a post, any part of a row",
    readings=False,
    unique=("pier",),
    columns=(
        _needed("pier", PIER, "name of the pier", "A1"),
        _may("top", LENGTH, "elevation of the post's top"),
        _may("rod", LENGTH, "rod reading on the post's top", "1.84"),
        _may("hi", LENGTH, "height of instrument that goes with `rod`", "105.12"),
        _may("east", LENGTH, "east of the post", "12.30"),
        _may("north", LENGTH, "north of the post", "-7.55"),
        _may("hole_depth", SIZE, "depth of the hole at its centre", "4.5"),
        _note(""),
    ),
)
LOST = Table(
    name="lost",
    attribute="lost",
    record=records.LostRow,
    meaning="a stake or pin that is gone",
    readings=False,
    unique=("point",),
    columns=(
        _needed("point", POINT, "name of the point or pier", "G2"),
        _note("run over by the truck"),
    ),
)
SAWN = Table(
    name="sawn",
    attribute="sawn",
    record=records.SawnRow,
    meaning="a piece of the list that was sawn from, copied from its saw_list.csv, and how it fared; or, "
    "without a piece, a length of pipe that is left",
    readings=False,
    columns=(
        _may(
            "stick",
            TEXT,
            "number of the stick on that list; blank: pipe that was on none",
            "1",
            "1",
            "2",
            "2",
        ),
        _may("stock", SIZE, "length of the whole stick; needed with a piece", "21", "21", "21", ""),
        _may(
            "piece",
            TEXT,
            "a post or a beam's piece; blank in a row of what is left",
            "A1",
            "A2",
            "beam A 1",
            "",
        ),
        _may(
            "length",
            SIZE_OR_ZERO,
            "of the piece on that list, or of the pipe that is left, straight and measured",
            "6.41",
            "6.36",
            "14.69",
            "5.5",
        ),
        _may(
            "state",
            word("sawn", "spoilt", "left"),
            "sawn (and good), spoilt, left (without a piece); blank: still to be sawn",
            "sawn",
            "",
            "spoilt",
            "left",
        ),
        _may(
            "hole_depth",
            SIZE,
            "of a post's hole as dug, at its centre, where it is not as planned",
            "",
            "4.5",
        ),
        _may("pipe", TEXT, "which pipe, where posts and beams are of two", "NPS 2 sch 40", "NPS 2 sch 40"),
        _note("", "", "cut a foot short"),
    ),
)
SKETCH = Table(
    name="sketch",
    attribute="sketch",
    record=records.SketchRow,
    meaning="roughly where a point stands, paced or from a map; only `check --planned` uses it",
    readings=False,
    unique=("point",),
    columns=(
        _needed("point", POINT, "name of the point", "P1", "G1"),
        _may("east", LENGTH, "rough east; any axes will do with an origin and an azimuth", "0", "25"),
        _may("north", LENGTH, "rough north", "0", "20"),
        _may("elevation", LENGTH, "rough elevation; blank: level with the benchmark", "98", "101"),
        _note("paced"),
    ),
)

TABLES: tuple[Table, ...] = (
    LEVELS,
    PEGS,
    RISES,
    TAPES,
    OFFSETS,
    ANGLES,
    BEARINGS,
    SHADOWS,
    EQUAL_SHADOWS,
    FIXES,
    CONTROL,
    POINTS_TABLE,
    STAKED,
    LINES,
    BUILT,
    LOST,
    SAWN,
    SKETCH,
)
