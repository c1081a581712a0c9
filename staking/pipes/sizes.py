"""Sizes of steel pipe by name.

Outside diameters and walls of ASME B36.10M, as ASTM A53 reprints them: for NPS 1-1/2 to 4 in schedule 40
read in ASTM A53/A53M Table X2.2 (as reproduced) and https://qwhub.com/utilities/pipe-dimensions; the others
and all of schedule 80 from memory of the same standard.
"""

from __future__ import annotations

import difflib
import re
from dataclasses import dataclass

from staking.base.quantities import KG_PER_POUND
from staking.base.units import from_unit, in_unit

LB_PER_FT_KG_PER_M = KG_PER_POUND / from_unit(1.0, "ft")


@dataclass(frozen=True, slots=True, kw_only=True)
class PipeSize:
    """One size of pipe; metres and kilograms a metre."""

    name: str
    """``NPS 2 sch 40``."""
    od_m: float
    wall_m: float
    kg_per_m: float
    """Plain ends: 10.69 (D − t) t lb/ft, D and t in inches, ASME B36.10M."""
    source: str
    """``ASTM A53`` or ``from memory``."""


_READ = "ASTM A53"
_RECALLED = "from memory"
_INCHES: tuple[tuple[str, int, float, float, str], ...] = (
    ("1", 40, 1.315, 0.133, _RECALLED),
    ("1", 80, 1.315, 0.179, _RECALLED),
    ("1-1/4", 40, 1.660, 0.140, _RECALLED),
    ("1-1/4", 80, 1.660, 0.191, _RECALLED),
    ("1-1/2", 40, 1.900, 0.145, _READ),
    ("1-1/2", 80, 1.900, 0.200, _RECALLED),
    ("2", 40, 2.375, 0.154, _READ),
    ("2", 80, 2.375, 0.218, _RECALLED),
    ("2-1/2", 40, 2.875, 0.203, _READ),
    ("2-1/2", 80, 2.875, 0.276, _RECALLED),
    ("3", 40, 3.500, 0.216, _READ),
    ("3", 80, 3.500, 0.300, _RECALLED),
    ("3-1/2", 40, 4.000, 0.226, _RECALLED),
    ("3-1/2", 80, 4.000, 0.318, _RECALLED),
    ("4", 40, 4.500, 0.237, _READ),
    ("4", 80, 4.500, 0.337, _RECALLED),
    ("5", 40, 5.563, 0.258, _RECALLED),
    ("5", 80, 5.563, 0.375, _RECALLED),
    ("6", 40, 6.625, 0.280, _RECALLED),
    ("6", 80, 6.625, 0.432, _RECALLED),
    ("8", 40, 8.625, 0.322, _RECALLED),
    ("8", 80, 8.625, 0.500, _RECALLED),
)


def kg_per_m_of(od_m: float, wall_m: float) -> float:
    """Return what plain steel pipe weighs: 10.69 (D − t) t lb/ft, D and t in inches, ASME B36.10M."""
    od_in, wall_in = in_unit(od_m, "in"), in_unit(wall_m, "in")
    return 10.69 * (od_in - wall_in) * wall_in * LB_PER_FT_KG_PER_M


def _size(nps: str, schedule: int, od_in: float, wall_in: float, source: str) -> PipeSize:
    return PipeSize(
        name=f"NPS {nps} sch {schedule}",
        od_m=from_unit(od_in, "in"),
        wall_m=from_unit(wall_in, "in"),
        kg_per_m=kg_per_m_of(from_unit(od_in, "in"), from_unit(wall_in, "in")),
        source=source,
    )


SIZES: dict[str, PipeSize] = {size.name: size for size in (_size(*row) for row in _INCHES)}
"""By name, small to large."""

_NAME = re.compile(
    r"(?:nps|nominal)?\s*(?P<whole>\d+)(?:(?:\s*-\s*|\s+)(?P<fraction>\d/\d)|(?P<decimal>\.\d+))?"
    r"\s*(?:\"|''|inches|inch|in\.?|nps)?\s*,?\s*"
    r"(?:(?:schedule|sched|sch|s)\.?\s*-?\s*(?P<schedule>\d+)|(?P<std>std|standard))",
    re.IGNORECASE,
)
_FRACTIONS = {"": "", ".5": "-1/2", ".50": "-1/2", ".25": "-1/4", ".0": ""}


def pipe_size(name: str) -> PipeSize:
    """Return the size of a pipe by its name, whatever its case, blanks and way of writing inches.

    Raises
    ------
    ValueError
        When no size has this name; the message tells the nearest one.
    """
    match = _NAME.fullmatch(name.strip())
    if match:
        fraction = (
            f"-{match['fraction']}" if match["fraction"] else _FRACTIONS.get(match["decimal"] or "", "?")
        )
        # Standard weight is schedule 40 up to NPS 10 (ASME B36.10M, from memory).
        wanted = f"NPS {match['whole']}{fraction} sch {match['schedule'] or 40}"
        if wanted in SIZES:
            return SIZES[wanted]
    else:
        wanted = " ".join(name.split()) or "NPS 2 sch 40"
    nearest = difflib.get_close_matches(wanted, SIZES, n=1, cutoff=0.0)[0]
    message = (
        f"no pipe size {name!r} in the table; the nearest is {nearest!r}. "
        "For a pipe of your own give its outside diameter and wall instead (post_od, post_wall)"
    )
    raise ValueError(message)
