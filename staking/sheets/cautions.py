"""What every user must have read before digging; the public rule that each line rests on is named in it.

OSHA's rules: 29 CFR 1926 (construction) and 1910 (general industry). Of these 1926.1408 Table A was read at
cfr.laws-info.com/text/29/1926/1408, the others are from memory. Weights: ASTM A53, 3.66 and 7.58 lb a foot
for 2 in and 3 in pipe of schedule 40. A rule is quoted in its own feet and pounds, whatever the sheet's
notation, with the metric behind it on a metric sheet.
"""

from __future__ import annotations

from staking.base.units import format_length, from_unit
from staking.sheets.notation import Notation

GEOMETRY_ONLY = (
    "This pack gives geometry, not strength: a licensed engineer or the supplier's engineered table sets "
    "spans, pipe, embedment and the longest post. Local codes decide."
)
"""What every sheet and file rests on."""
_POUND_KG = 0.45359237


def cautions(notation: Notation) -> tuple[str, ...]:
    """Return the cautions of the cover, the first the one that counts most."""
    return (
        GEOMETRY_ONLY,
        utilities(),
        overhead(notation),
        holes(),
        lifting(notation),
        zinc(),
        sparks(notation),
        concrete(),
        f"{laser()} {augers()}",
        "Wiring and bonding: qualified and licensed persons, by the local code.",
        "OSHA's rules bind employers; they are named here as the benchmark for owners.",
    )


def here(*lines: str) -> tuple[str, ...]:
    """Return cautions as they stand where the work happens."""
    return tuple(f"CAUTION. {line}" for line in lines)


def utilities() -> str:
    """Return what comes before the first hole."""
    return (
        "Utilities: have buried lines located and marked before you dig (29 CFR 1926.651(b)); in the US "
        "call 811 and wait. Private lines are yours to find."
    )


def overhead(notation: Notation) -> str:
    """Return what long pipe is kept off."""
    return (
        f"Overhead lines: keep {_feet(10, notation)} away from lines up to 50 kV, farther from higher ones "
        "(29 CFR 1926.1408 Table A). Long pipe held upright counts, and so does a levelling rod."
    )


def holes() -> str:
    """Return what lies over an open hole."""
    return (
        "Holes: covers that hold twice the load that may come on them, secured and marked (29 CFR "
        "1926.502(i))."
    )


def lifting(notation: Notation) -> str:
    """Return what one person lifts."""
    return (
        f"Lifting: NIOSH takes {_weight(51.0, notation)} as the most for one person at best. A stick of "
        f"{_feet(21, notation)} weighs about {_weight(77.0, notation)} in 2 in schedule 40 pipe and about "
        f"{_weight(159.0, notation)} in 3 in."
    )


def zinc() -> str:
    """Return what sawing coated pipe gives off."""
    return (
        "Cutting zinc-coated pipe: the limit for its fume is 5 mg/m³ (29 CFR 1910.1000 Table Z-1); saw, "
        "don't torch. Guard eyes and wheel."
    )


def sparks(notation: Notation) -> str:
    """Return how far sparks fly."""
    return (
        f"Sparks: clear what burns for {_feet(35, notation)} round or shield it, and keep a watch (29 CFR "
        "1910.252(a))."
    )


def concrete() -> str:
    """Return what wet concrete does."""
    return "Wet concrete burns the skin, and the pain comes late: gloves, boots, water at hand."


def laser() -> str:
    """Return where no laser stands."""
    return "Laser: never at eye height, never looked into (29 CFR 1926.54)."


def augers() -> str:
    """Return how an auger is held."""
    return "Power augers kick back: two persons, no loose clothes."


def _weight(pounds: float, notation: Notation) -> str:
    metric = f" ({pounds * _POUND_KG:.0f} kg)" if notation.style == "metric" else ""
    return f"{pounds:.0f} lb{metric}"


def _feet(feet: int, notation: Notation) -> str:
    if notation.style != "metric":
        return f"{feet} ft"
    return f"{feet} ft ({format_length(from_unit(feet, 'ft'), style='metres', places=2)} m)"
