"""Latitudes and longitudes from text and back, in the notation in which one was typed."""

from __future__ import annotations

import math
import re
from fractions import Fraction

from staking.base.units import parse_angle, plain_signs

_LETTER = re.compile(r"\s*([NSEW])\s*", re.IGNORECASE)
_NUMBER = re.compile(r"\d+(?:\.(?P<decimals>\d*))?|\.(?P<only>\d+)")
PARTS = (1, 60, 3600)
"""Degrees, minutes, seconds in a degree."""


def read_globe(text: str) -> float:
    """Return a typed latitude or longitude in radians: south and west are minus, by sign or letter.

    Raises
    ------
    ValueError
        When it is none.
    """
    plain = plain_signs(text)
    letter = _LETTER.search(plain)
    value = parse_angle(_LETTER.sub("", plain))
    return -value if letter is not None and letter[1].upper() in "SW" else value


def step_rad(read: str) -> float:
    """Return the last place to which a latitude or longitude was typed, radians; 0 where none shows."""
    numbers = list(_NUMBER.finditer(plain_signs(read)))[:3]
    if not numbers:
        return 0.0
    decimals = len(numbers[-1]["decimals"] or numbers[-1]["only"] or "")
    return math.radians(1.0 / (PARTS[len(numbers) - 1] * 10**decimals))


def write_globe_like(value_rad: float, read: str) -> str:
    """Print a latitude or longitude in the notation in which another one was typed.

    Parameters
    ----------
    value_rad : float
        South and west are minus.
    read : str
        The text whose parts, decimals, signs between them and letter are kept.
    """
    plain = plain_signs(read)
    letter = _LETTER.search(plain)
    numbers = list(_NUMBER.finditer(plain))[:3]
    if not numbers:
        return f"{math.degrees(value_rad):.7f}"
    decimals = len(numbers[-1]["decimals"] or numbers[-1]["only"] or "")
    # Rounded once, in the smallest part, so that no 60 appears.
    unit = PARTS[len(numbers) - 1] * 10**decimals
    steps = abs(round(Fraction(math.degrees(value_rad)) * unit))
    parts: list[str] = []
    for k in range(len(numbers)):
        if k == len(numbers) - 1:
            whole, rest = divmod(steps, 10**decimals)
            text = f"{whole}.{rest:0{decimals}d}" if decimals else str(whole)
        else:
            each = unit // PARTS[k]
            text, steps = str(steps // each), steps % each
        # Minutes and seconds keep their leading zero.
        width = len(numbers[k][0].split(".")[0]) if k else 1
        whole_text = text.split(".")[0]
        parts.append("0" * max(width - len(whole_text), 0) + text)
    out, at = "", 0
    for number, part in zip(numbers, parts, strict=True):
        out += plain[at : number.start()] + part
        at = number.end()
    out += plain[at:]
    if letter is None:
        return ("-" if value_rad < 0 else "") + out.lstrip("+-").strip()
    positive = "N" if letter[1].upper() in "NS" else "E"
    negative = "S" if positive == "N" else "W"
    sign = negative if value_rad < 0 else positive
    return re.sub(r"[NSEW]", sign if letter[1].isupper() else sign.lower(), out, count=1, flags=re.IGNORECASE)
