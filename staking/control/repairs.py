"""What may have gone wrong with one reading by itself, and what would then have been right.

The shares are a judgement of how often people go wrong in each way (common practice, no source); they only
matter where the readings themselves leave a choice. A slip has the same share forward and back, so that
of two readings that nothing tells apart neither seems likelier to have been misread by a foot.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from itertools import pairwise

from staking.base.units import METRES_PER, format_angle, parse_angle, parse_length, write_like

SHARE_WHOLE_UNIT = 0.20
SHARE_SMALL_UNIT = 0.12
SHARE_TEN_UNITS = 0.06
SHARE_HUNDREDTH = 0.02
SHARE_DIGITS = 0.12
SHARE_UPSIDE_DOWN = 0.01
SHARE_POINT = 0.01
SHARE_WRONG_SIDE = 0.01
SHARE_INCHES_FOR_TENTHS = 0.05
SHARE_OTHER_UNIT = 0.01
SHARE_SIGN = 0.08
SHARE_MINUS = 0.02
SHARE_TURNED = 0.08
SHARE_COUNTER_CLOCKWISE = 0.06
SHARE_MINUTES = 0.05
SHARE_OTHER = 0.35
"""Any other amount; the shares of one reading add up to about one."""

GIVEN = "control"
"""Kind of what `control.csv` and ``[control]`` give."""
_SIGNS = {
    "rise": (SHARE_SIGN, "up taken for down"),
    "offset": (SHARE_SIGN, "right taken for left"),
    GIVEN: (SHARE_MINUS, "a minus left out or put in"),
}
"""Of the kinds that may be negative: share, and what a wrong sign is."""

NOTICED_SDS = 3.0
"""A change of fewer standard deviations than this could not be told from the reading's error."""

LENGTH_KINDS = frozenset({"rod", "rise", "tape", "offset", GIVEN})


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingRepair:
    """One way in which one length may have been misread or miswritten, undone."""

    by_m: float
    """To add to the reading."""
    likely: str
    """The repaired reading, as its file writes it."""
    share: float
    """Of a reading's blunders; `SHARE_OTHER` is what these leave to other amounts."""
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class AngleRepair:
    """The same for an angle or a bearing."""

    by_rad: float
    likely: str
    share: float
    why: str


def reading_repairs(
    value_m: float, read: str, *, kind: str, column: str, unit: str
) -> Iterator[ReadingRepair]:
    """Return the likely repairs of one length by itself, whatever other readings say of it.

    Parameters
    ----------
    value_m
        The reading, metres.
    read
        As typed.
    kind, column
        What was read (rod, rise, tape, offset, control) and the column it stands in.
    unit
        What a bare number of the survey is in.
    """
    signed = kind in _SIGNS and column != "station"

    def likely(meant_m: float, share: float, why: str) -> ReadingRepair:
        text = write_like(meant_m, read, unit=unit)
        return ReadingRepair(by_m=meant_m - value_m, likely=text, share=share, why=why)

    for step_m, share, words in _steps(read, unit):
        for meant_m in (value_m + step_m, value_m - step_m):
            if not signed and meant_m < 0:
                continue
            yield likely(meant_m, share / 2, f"misread by {words}")
    swaps, share_swap = _swapped_digits(read)
    turns = _upside_down(read)
    for texts, share, why in (
        (swaps, share_swap, "two digits changed places"),
        (turns, SHARE_UPSIDE_DOWN / max(len(turns), 1), "a 6 and a 9 taken for each other"),
    ):
        for text in texts:
            with suppress(ValueError):
                by_m = parse_length(text, unit=unit) - value_m
                yield ReadingRepair(by_m=by_m, likely=text, share=share, why=why)
    noughts = _noughts(read)
    for text in (*_slipped_points(read), *noughts):
        by_m = parse_length(text, unit=unit) - value_m
        why = "a nought too many or too few" if text in noughts else "the point slipped by one place"
        yield ReadingRepair(by_m=by_m, likely=text, share=SHARE_POINT / 2, why=why)
    if kind == "tape":
        mark_m = _steps(read, unit)[0][0]
        below = math.floor(value_m / mark_m)
        for k in (below, below + 1):
            if 2 * k * mark_m > value_m:
                why = "counted from the wrong side of a whole mark"
                yield likely(2 * k * mark_m - value_m, SHARE_WRONG_SIDE / 2, why)
    yield from _inches_and_tenths(value_m, read, unit)
    yield from _other_unit(value_m, read, unit)
    if signed and value_m != 0:
        share, why = _SIGNS[kind]
        yield likely(-value_m, share, f"sign: {why}")


def _inches_and_tenths(value_m: float, read: str, unit: str) -> Iterator[ReadingRepair]:
    """Return feet and inches written as a decimal, and a decimal written as feet and inches."""
    foot = float(METRES_PER["ft"])
    tenths = re.fullmatch(r"(\d+)\.(\d|0\d|1[01])(\s*ft)?", read.strip())
    if tenths is not None and (tenths[3] or unit == "ft"):
        meant_m = (int(tenths[1]) + int(tenths[2]) / 12) * foot
        why = f"inches written as decimals: {tenths[1]} ft {int(tenths[2])} in"
    else:
        inches = re.fullmatch(r"(\d+)\s*(?:'|ft)[\s-]*(\d)\s*(?:\"|in)?", read.strip().lower())
        if inches is None:
            return
        meant_m = (int(inches[1]) + int(inches[2]) / 10) * foot
        why = f"tenths of a foot written as inches: {inches[1]}.{inches[2]} ft"
    text = write_like(meant_m, read, unit=unit)
    yield ReadingRepair(by_m=meant_m - value_m, likely=text, share=SHARE_INCHES_FOR_TENTHS, why=why)


def _other_unit(value_m: float, read: str, unit: str) -> Iterator[ReadingRepair]:
    """Return a bare number read off the other side of a tape or rod, which shows feet and metres."""
    other, words = {"ft": ("m", "metres booked as feet"), "m": ("ft", "feet booked as metres")}.get(
        unit, ("", "")
    )
    if not other or value_m == 0 or re.fullmatch(r"-?(\d+(\.\d*)?|\.\d+)", read.strip()) is None:
        return
    meant = f"{read.strip()} {other}"
    meant_m = parse_length(meant, unit=unit)
    text = write_like(meant_m, read, unit=unit)
    yield ReadingRepair(by_m=meant_m - value_m, likely=text, share=SHARE_OTHER_UNIT, why=f"{words}: {meant}")


def _steps(read: str, unit: str) -> list[tuple[float, float, str]]:
    """Return the steps by which a reading in this notation is misread: metres, share, words."""
    text = read.strip().lower()
    foot, inch = float(METRES_PER["ft"]), float(METRES_PER["in"])
    if (
        "'" in text
        or ("ft" in text and "in" in text)
        or '"' in text
        or text.endswith("in")
        or (unit == "in" and re.fullmatch(r"[-+\d./ ]*", text))
    ):
        return [
            (foot, SHARE_WHOLE_UNIT, "one foot"),
            (inch, SHARE_SMALL_UNIT, "one inch"),
            (10 * foot, SHARE_TEN_UNITS / 2, "ten feet"),
            (10 * inch, SHARE_TEN_UNITS / 2, "ten inches"),
        ]
    if text.endswith("ft") or (unit == "ft" and not text.endswith("m")):
        return [
            (foot, SHARE_WHOLE_UNIT, "one foot"),
            (foot / 10, SHARE_SMALL_UNIT, "a tenth of a foot"),
            (10 * foot, SHARE_TEN_UNITS, "ten feet"),
            (foot / 100, SHARE_HUNDREDTH, "a hundredth of a foot"),
        ]
    return [
        (1.0, SHARE_WHOLE_UNIT, "one metre"),
        (0.1, SHARE_SMALL_UNIT, "one decimetre"),
        (10.0, SHARE_TEN_UNITS, "ten metres"),
        (0.01, SHARE_HUNDREDTH, "one centimetre"),
    ]


def _slipped_points(read: str) -> list[str]:
    """Return the texts with the point one place to the left and to the right, every digit kept."""
    match = re.fullmatch(r"(-?)(\d+)\.(\d+)(\s*[a-z]*)", read.strip().lower())
    if match is None:
        return []
    sign, whole, part, unit = match.groups()
    left = f"{sign}{whole[:-1] or '0'}.{whole[-1]}{part}{unit}"
    right = f"{sign}{(whole + part[0]).lstrip('0') or '0'}.{part[1:] or '0'}{unit}"
    return [left, right]


def _noughts(read: str) -> list[str]:
    """Return a whole number with a nought more at its end, and with one fewer."""
    match = re.fullmatch(r"(-?[1-9]\d*)(\s*[a-z]*)", read.strip().lower())
    if match is None:
        return []
    digits, unit = match.groups()
    return [f"{digits}0{unit}", *([f"{digits[:-1]}{unit}"] if digits.lstrip("-")[1:].endswith("0") else [])]


def _swapped_digits(read: str) -> tuple[list[str], float]:
    """Return the texts with two neighbouring digits exchanged, a point between them aside; the share of each.

    Each pair is exchanged as often, whether or not that can be seen: else a number with two like digits would
    seem likelier to have been meant, or written, than one without.
    """
    places = [k for k, sign in enumerate(read) if sign.isdigit()]
    pairs = [(a, b) for a, b in pairwise(places) if read[a + 1 : b] in ("", ".")]
    texts = (read[:a] + read[b] + read[a + 1 : b] + read[a] + read[b + 1 :] for a, b in pairs)
    # Nobody writes 0200 for 200.
    seen = [text for text in dict.fromkeys(texts) if text != read and not re.match(r"-?0\d", text)]
    return seen, SHARE_DIGITS / max(len(pairs), 1)


def _upside_down(read: str) -> list[str]:
    """Return the texts with one 6 made a 9, or one 9 a 6: a tape or rod read from its far side."""
    other = {"6": "9", "9": "6"}
    return [read[:k] + other[sign] + read[k + 1 :] for k, sign in enumerate(read) if sign in other]


def angle_repairs(value_rad: float, read: str, *, kind: str) -> Iterator[AngleRepair]:
    """Return the likely repairs of one angle or bearing by itself.

    Parameters
    ----------
    value_rad
        As the file gives it, from the north in which it was read.
    read
        As typed.
    kind
        ``angle`` or ``bearing``.
    """

    def likely(by_rad: float, share: float, why: str, text: str | None = None) -> AngleRepair:
        by_rad = math.remainder(by_rad, 2 * math.pi)
        text = angle_written(value_rad, by_rad, read) if text is None else text
        return AngleRepair(by_rad=by_rad, likely=text, share=share, why=why)

    far = "the far end taken for the near end" if kind == "bearing" else "turned about by 180°"
    yield likely(math.pi, SHARE_TURNED, far)
    if kind == "angle":
        why = "turned counter-clockwise instead of clockwise"
        yield likely(-2 * value_rad, SHARE_COUNTER_CLOCKWISE, why)
    else:
        # N 30 E for S 30 E or N 30 W.
        for meant_rad in (math.pi - value_rad, -value_rad):
            yield likely(meant_rad - value_rad, SHARE_TURNED / 4, "booked in the wrong quadrant")
    for degrees, share, words in (
        (1, SHARE_WHOLE_UNIT, "one degree"),
        (10, SHARE_TEN_UNITS, "ten degrees"),
        (90, SHARE_TEN_UNITS / 2, "a quarter turn"),
        (100, SHARE_TEN_UNITS / 2, "a hundred degrees"),
    ):
        for sign in (1, -1):
            yield likely(math.radians(sign * degrees), share / 2, f"misread by {words}")
    swaps, share_swap = _swapped_digits(read)
    for text in swaps:
        with suppress(ValueError):
            by_rad = parse_angle(text) - value_rad
            yield likely(by_rad, share_swap, "two digits changed places", text)
    point = re.fullmatch(r"(\d+)\.(\d)(\d)", read.strip())
    if point is not None and int(point[2]) < 6:
        text = f"{point[1]}°{point[2]}{point[3]}'"
        by_rad = parse_angle(text) - value_rad
        yield likely(by_rad, SHARE_MINUTES, "minutes written as decimals of a degree", text)
    minutes = re.fullmatch(r"(\d+)\s*[°\s-]\s*(\d\d)\s*'?", read.strip())
    if minutes is not None:
        text = f"{minutes[1]}.{minutes[2]}"
        by_rad = parse_angle(text) - value_rad
        yield likely(by_rad, SHARE_MINUTES, "decimals of a degree written as minutes", text)


def angle_written(value_rad: float, by_rad: float, read: str) -> str:
    """Return a changed angle in degrees, with the decimals in which it was read."""
    decimals = re.fullmatch(r"\d+(?:\.(\d+))?", read.strip())
    places = 3 if decimals is None else len(decimals[1] or "")
    if abs(math.degrees(by_rad)) * 10**places < 1:
        places = 3
    return format_angle((value_rad + by_rad) % (2 * math.pi), places)
