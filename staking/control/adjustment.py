"""What the adjustment of a survey hands on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from staking.base.covariance import Covariance, elements, part, variances
from staking.base.geodesy import Frame

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Points:
    """Adjusted points with their joint covariance, order east, north, elevation.

    A coordinate that the readings do not give is NaN, and so are its rows of the covariance.
    """

    names: tuple[str, ...]
    """As first typed; looked up without regard to case and outer blanks."""
    kinds: tuple[str, ...]
    shapes_ground: tuple[bool, ...]
    """Whether the point may shape the ground."""
    enz_m: Floats
    """(n, 3), read-only."""
    cov_m2: Covariance
    """(3n, 3n): a read-only array, or for very many points what answers for its parts; ask `cov_of`."""

    def index(self, name: str) -> int:
        """Return the place of a point; raises KeyError when there is none of that name."""
        wanted = name.strip().casefold()
        for i, known in enumerate(self.names):
            if known.strip().casefold() == wanted:
                return i
        raise KeyError(name)

    def sd_m(self) -> Floats:
        """Return (n, 3) standard deviations, NaN where a coordinate is not determined."""
        return np.sqrt(variances(self.cov_m2)).reshape(-1, 3)

    def plan_cov_m2(self) -> Floats:
        """Return the (n, 2, 2) covariance of east and north of each point."""
        east = 3 * np.arange(len(self.names))
        pairs = [(east + a, east + b) for a in (0, 1) for b in (0, 1)]
        return np.stack([elements(self.cov_m2, i, j) for i, j in pairs], axis=1).reshape(-1, 2, 2)

    def cov_of(self, coordinates: Sequence[int] | Ints) -> Floats:
        """Return the (k, k) joint covariance of coordinates: 3·index for east, + 1 north, + 2 elevation."""
        return part(self.cov_m2, np.asarray(coordinates, dtype=np.int64))


@dataclass(frozen=True, slots=True, kw_only=True)
class AdjustedReading:
    """One reading after the adjustment."""

    table: str
    row: int
    column: str
    kind: str
    """rod, rise, tape, offset, angle, bearing."""
    angular: bool
    """In radians, not metres."""
    what: str
    """In words, for people: ``FS on TP1``, ``tape P1-P2``."""
    read: str
    """As typed."""
    value: float
    """Metres or radians."""
    sd: float
    residual: float
    """Adjusted less observed."""
    redundancy_number: float
    """Share of an error of this reading that shows in its residual, 0 to 1."""
    w: float | None
    """Residual over its own standard deviation; None where nothing checks the reading."""
    detectable: float | None
    """Least blunder that the survey would notice in four cases of five; None where nothing checks it."""
    carried_sds: float | None
    """Such a blunder, unseen, moves nothing by more of its own standard deviations; None likewise."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelSums:
    """The level book's own arithmetic: sum of BS less sum of FS is last less first elevation."""

    sum_bs_m: float
    sum_fs_m: float
    setups: int
    unclosed_setups: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Misclosure:
    """One closed loop or line between known points: observed less required."""

    loop: str
    value_m: float
    sd_m: float
    allowed_m: float
    """Three times the misclosure's own standard deviation; of more than three loops, more (`allowed_sds`)."""
    passes: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Collimation:
    """What is known of one level's line of sight."""

    instrument: str
    """Empty where the book names none."""
    rise: float
    """How far it rises per unit of sight; positive: the level reads high."""
    sd: float
    w: float
    """How many standard deviations it is from level."""
    why: str
    """What it rests on: pegs, readings, accuracy, or told: found and not taken out."""


def where_words(table: str, row: int) -> str:
    """Return where a reading stands: its table and row; what ``job.toml`` gives has no row."""
    return f"{table} row {row}" if row else table


@dataclass(frozen=True, slots=True, kw_only=True)
class Suspect:
    """The best repair of one suspicious reading."""

    table: str
    """Or ``job.toml``, for a value that [control] gives."""
    row: int
    """0 in ``job.toml``."""
    column: str
    read: str
    likely: str
    """The repaired reading, written as that file writes it."""
    why: str
    chance: float
    """That this reading is wrong, with no blunder and any other amount among the alternatives."""
    repair_chance: float | None = None
    """That it is wrong and was meant to be as `likely` says, to within three of its standard deviations; None
    where that was not weighed."""
    variance_factor_after: float | None = None
    """Of the whole survey once this repair, and those it goes with, are made."""
    passes_after: bool | None = None
    same_as: tuple[str, ...] = ()
    """Other readings that the survey cannot tell from this one."""
    would_tell: str = ""
    """The extra reading that would decide between it and the first of these; empty where none is needed."""

    def rarer(self, factor: float) -> Suspect:
        """Return it with its chances times a factor, where something else explains the survey as well."""
        own = self.repair_chance
        return replace(self, chance=factor * self.chance, repair_chance=None if own is None else factor * own)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class EarthTie:
    """Where the site lies on the earth, as fixes or a map grid tell."""

    frame: Frame
    """The site's axes on the earth; ``frame.geodetic(east, north)`` gives latitude and longitude."""
    east_m: float
    """The site's origin: the point of `[control] origin`, else the middle of the control points."""
    north_m: float
    lat_rad: float
    """Of the origin."""
    lon_rad: float
    height_m: float | None
    """What a GPS height of `height_kind` shows at elevation 0; None where no heights tie it."""
    height_kind: str | None
    cov_m2: Floats
    """(3, 3) of the tie, along the site's axes: of where exact site coordinates lie on the earth; NaN for a
    height that is not tied."""
    points_cov_m2: Floats
    """(3, 3n) covariance of the tie with the coordinates of the adjusted points, in their order: the
    covariance of point i on the earth is its own, plus `cov_m2`, plus this block and its transpose."""

    def cov_of(self, index: int, points: Points) -> Floats:
        """Return the (3, 3) covariance of an adjusted point's place on the earth, along the site's axes."""
        at = 3 * index + np.arange(3)
        with_point = self.points_cov_m2[:, at]
        cov: Floats = points.cov_of(at) + self.cov_m2 + with_point + with_point.T
        return cov


@dataclass(frozen=True, slots=True, kw_only=True)
class Adjustment:
    """A survey adjusted, with what can be said of its quality."""

    points: Points
    readings: tuple[AdjustedReading, ...]
    redundancy: int
    variance_factor: float | None
    """Weighted sum of squared residuals over the redundancy; None without redundancy."""
    passes: bool | None
    """The variance-factor test at 1 %; None where there is nothing to test."""
    level_sums: LevelSums | None
    misclosures: tuple[Misclosure, ...]
    sighted_once: int
    """Shots that nothing checks."""
    sighted_once_points: tuple[str, ...]
    suspects: tuple[Suspect, ...]
    warnings: tuple[str, ...]
    levels: tuple[Collimation, ...] = ()
    """What is known of each level's line of sight."""
    instruments: tuple[str, ...] = ()
    """What was found of the instruments and done about it, a sentence each."""
    earth: EarthTie | None = None
    """None when nothing says where on the earth the site lies."""
