"""What instruments of a kind can do where nobody states an accuracy: one place, each with its source.

A figure told as ± so much is taken as two standard deviations, and the wider end of a range is taken.
"""

from __future__ import annotations

import math
import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from typing import Any

from staking.base.units import parse_length, told_far, told_fine
from staking.book.records import Accuracy, Instruments

SIXTEENTH_M = 0.0015875
HUNDRED_FEET_M = 30.48
FINE_M = 0.1
"""What is shorter is an accuracy, what is longer a length of sight or tape."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ability:
    """What one kind of instrument can do."""

    accuracy: Mapping[str, float]
    """By field of `Accuracy`."""
    said: str
    """Lengths in braces: told as the survey shows its own."""


ABILITIES: Mapping[str, Mapping[str, Ability]] = {
    "rod": {
        "builder's level": Ability(
            accuracy={"rod_m": 2 * SIXTEENTH_M},
            said="{1/8 in} (± {1/4 in} at {100 ft}): common practice, no source",
        ),
        "rotating laser": Ability(
            accuracy={"rod_m": SIXTEENTH_M},
            said="{1/16 in} (± {1/8 in} at {100 ft}): common practice, no source",
        ),
    },
    "rise": {
        "water level": Ability(
            accuracy={"rise_m": SIXTEENTH_M}, said="{1/16 in} (± {1/8 in}): common practice, no source"
        ),
        "line level": Ability(
            accuracy={"rise_m": 4 * SIXTEENTH_M},
            said="{1/4 in} (± {1/2 in} in {30 ft}): common practice, no source",
        ),
    },
    "tape": {
        "steel tape": Ability(
            accuracy={"tape_m": 0.003, "tape_per_m": 2 * SIXTEENTH_M / HUNDRED_FEET_M},
            said="{3 mm} for setting and reading (common practice, no source), and {1/8 in} in {100 ft} for "
            "its marks (± {1/4 in}: NIST Handbook 44, section 5.52)",
        ),
        "cloth tape": Ability(
            accuracy={"tape_m": 4 * SIXTEENTH_M, "tape_per_m": 4 * SIXTEENTH_M / HUNDRED_FEET_M},
            said="{1/4 in}, and {1/4 in} in {100 ft}: common practice, no source",
        ),
    },
    "bearing": {
        "compass": Ability(
            accuracy={"bearing_rad": math.radians(1.0)}, said="1 degree: common practice, no source"
        ),
    },
    "fix": {
        "phone": Ability(
            accuracy={"session_m": 2.45},
            said="2.45 m for what all fixes of a session share (within 4.9 m under open sky: GPS.gov, GPS "
            "Accuracy), far more under trees; a phone never sets a stake",
        ),
        "RTK receiver": Ability(
            accuracy={"fix_m": 0.02, "fix_height_m": 0.03, "session_m": 0.02, "session_height_m": 0.03},
            said="20 mm in plan and 30 mm in height (common practice, no source), for a base on a known "
            "point; good for stakes, not for cut marks",
        ),
    },
}
"""By what is read and the word for the instrument."""

_OVERRULES = {
    "rod": ("rod", "rod_per_100"),
    "rise": ("rise",),
    "tape": ("tape", "tape_per_100"),
    "bearing": ("bearing",),
    "fix": ("fix", "fix_height", "session", "session_height"),
}
"""Keys of ``[accuracy]`` of which any one overrules the instrument's own."""


def with_instruments(
    accuracy: Accuracy, instruments: Instruments, stated: Collection[Any], show: str
) -> tuple[Accuracy, tuple[str, ...]]:
    """Return the accuracies with those of the instruments named, and a line on each.

    Parameters
    ----------
    accuracy : Accuracy
        As ``[accuracy]`` states it, or the defaults.
    instruments : Instruments
        ``[instruments]``.
    stated : collection
        Keys that stand in ``[accuracy]``: they overrule.
    show : str
        How the survey shows its lengths.
    """
    lines = []
    for what, abilities in ABILITIES.items():
        name = getattr(instruments, what)
        if name is None:
            continue
        ruling = [key for key in _OVERRULES[what] if key in stated]
        if ruling:
            lines.append(f"{what}: {name}, with [accuracy] {' and '.join(ruling)} as stated")
            continue
        accuracy = replace(accuracy, **abilities[name].accuracy)
        lines.append(f"{what}: {name}, one standard deviation of one reading {_told(abilities[name], show)}")
    return accuracy, tuple(lines)


def _told(ability: Ability, show: str) -> str:
    """Return what an instrument can do with its lengths as the survey shows them."""

    def length(match: re.Match[str]) -> str:
        value_m = parse_length(match[1], unit="m")
        own = ("in", "ft") if show == "feet-inches" else ("ft",) if show == "decimal feet" else ("mm",)
        if match[1].endswith(own):
            return match[1]
        return told_fine(value_m, show) if value_m < FINE_M else told_far(value_m, show)

    return re.sub(r"\{(.*?)\}", length, ability.said)
