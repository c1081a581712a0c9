"""Lengths and angles between text and numbers: the only place that reads and prints them.

Inside the program lengths are metres and angles radians. Text is read exactly, as fractions, and turned
into a float once at the end; so a length printed to 1/16 in or to 1 mm reads back as the same float.

A foot is 0.3048 m exactly (the international foot, NIST Special Publication 811, 2008 edition, B.6); the US
survey foot, 1200/3937 m, is another unit, 2 in a million longer.
"""

from __future__ import annotations

import math
import re
import unicodedata
from decimal import Decimal
from fractions import Fraction
from typing import Literal

from staking.base.unit_names import unit_named

Unit = Literal["ft", "in", "m", "mm"]
Style = Literal["feet-inches", "decimal feet", "inches", "metric", "metres"]

METRES_PER: dict[str, Fraction] = {
    "ft": Fraction(3048, 10000),
    "usft": Fraction(1200, 3937),
    "in": Fraction(254, 10000),
    "m": Fraction(1),
    "cm": Fraction(1, 100),
    "mm": Fraction(1, 1000),
}
SIXTEENTH_M = METRES_PER["in"] / 16

LONGEST_M = 100_000_000
"""No length is more: coordinates on a map grid are a tenth of it. A longer one is a slip of the keyboard."""

LARGEST_DEGREES = 100_000
"""No angle is more, however often it was wound up; a larger one is a slip of the keyboard."""

_LABELS: dict[str, str] = {
    "feet-inches": "ft-in",
    "decimal feet": "ft",
    "inches": "in",
    "metric": "mm",
    "metres": "m",
}
_EXAMPLES = "a length such as 5.43, 5.43 ft, 5' 5-1/8\", 65 1/8 in, 1.655 m or 1655 mm"

# What keyboards, phones and word processors put in place of the plain signs.
_PLAIN_SIGNS = str.maketrans(
    {
        **dict.fromkeys("‘’‛′ʹ´`ʼ", "'"),
        **dict.fromkeys("“”‟″ʺ˝", '"'),
        **dict.fromkeys("−–—‐‑‒", "-"),
        **dict.fromkeys("\u00a0\u2007\u2009\u202f\t", " "),
        **dict.fromkeys("º˚", "°"),
        "⁄": "/",
        "∕": "/",
    }
)

_NUMBER = r"(?:\d+\.?\d*|\.\d+)"
_POWERED = re.compile(rf"({_NUMBER})[eE](-\d\d?)(?!\d)")
"""A number as programs and spreadsheets write it when it is small: 5e-05, 5.00E-05."""
_ROUNDED_OFF = re.compile(rf"{_NUMBER}[eE]\+?\d+")
"""A large one: its last digits are lost."""
_MIXED = (
    r"(?:(?P<whole>\d+)(?:\s+|\s*-\s*)(?P<num>\d+)\s*/\s*(?P<den>\d+)"
    rf"|(?P<num2>\d+)\s*/\s*(?P<den2>\d+)|(?P<dec>{_NUMBER}))"
)
_FEET_MARK = r"(?:'|(?:ft|feet|foot)(?![a-z])\.?)"
_INCH_MARK = r"(?:\"|in\b\.?|inch\b|inches\b)"
_SURVEY_FOOT_MARK = r"(?:u\.?s\.?\s*(?:survey\s*)?|survey\s*|s)(?:ft|feet|foot)\b\.?"
_FEET_INCHES = re.compile(
    rf"(?P<feet>{_NUMBER})\s*{_FEET_MARK}\s*(?:-?\s*{_MIXED}\s*(?P<mark>{_INCH_MARK})?)?", re.IGNORECASE
)
_ONE_UNIT = re.compile(
    rf"{_MIXED}\s*(?P<unit>{_INCH_MARK}|m\b|mm\b|cm\b|metres?\b|meters?\b|{_SURVEY_FOOT_MARK})?",
    re.IGNORECASE,
)


def plain_signs(text: str) -> str:
    """Return the text with curly quotes, primes, odd dashes, odd blanks and ½-like signs made plain."""
    out: list[str] = []
    for char in text.translate(_PLAIN_SIGNS):
        folded = unicodedata.normalize("NFKC", char)
        if "⁄" in folded:
            if out and out[-1].isdigit():
                out.append(" ")
            out.append(folded.replace("⁄", "/"))
        else:
            # Full-width signs are plain ones drawn wide; a raised ² is not a 2.
            out.append(folded if "\uff01" <= char <= "\uff5e" else char)
    return _POWERED.sub(_written_out, "".join(out).replace("''", '"').strip())


def _written_out(match: re.Match[str]) -> str:
    """Return a number with an exponent as a decimal number of the same digits."""
    return f"{Decimal(match[1]).scaleb(int(match[2])):f}"


def parse_length(text: str, *, unit: str) -> float:
    """Read a length; a bare number is in `unit` (ft, in, m or mm).

    Parameters
    ----------
    text : str
        ``5.43``, ``5.43 ft``, ``5' 5-1/8"``, ``5ft 5 1/8in``, ``65 1/8"``, ``1.655 m``, ``1655 mm`` …;
        a leading minus takes the whole length.
    unit : str
        What a bare number is in.

    Returns
    -------
    float
        Metres.

    Raises
    ------
    ValueError
        When it is not a length or could be meant in two ways; the message says what to write.
    """
    exact = _exact_length(text, unit=unit)
    if abs(exact) > LONGEST_M:
        message = f"longer than {LONGEST_M // 1000} km; check the reading"
        raise ValueError(message)
    return float(exact)


def _exact_length(text: str, *, unit: str) -> Fraction:
    plain = plain_signs(text)
    if not plain:
        message = f"nothing there; expected {_EXAMPLES}"
        raise ValueError(message)
    if "," in plain:
        guess = plain.replace(",", ".")
        message = (
            f"a comma in a length can be meant in two ways; write {guess} if it is a decimal sign, "
            f"{plain.replace(',', '')} if it parts thousands"
        )
        raise ValueError(message)
    sign = 1
    if plain[0] in "+-":
        sign = -1 if plain[0] == "-" else 1
        plain = plain[1:].strip()
    if match := _FEET_INCHES.fullmatch(plain):
        return sign * _feet_inches(match, plain)
    if match := _ONE_UNIT.fullmatch(plain):
        return sign * _one_unit(match, plain, unit)
    if re.fullmatch(r"\d+-(?:\d|1[01])(?:\s+\d+/\d+|-\d+/\d+)?", plain):
        feet, _, inches = plain.partition("-")
        message = f"can be meant in two ways; write {feet}' {inches}\" for feet and inches"
        raise ValueError(message)
    if _ROUNDED_OFF.fullmatch(plain):
        message = (
            "written as a power of ten, as spreadsheets write long numbers without their last digits; format "
            "the column as a number with all its decimals and save again"
        )
        raise ValueError(message)
    message = f"not a length; expected {_EXAMPLES}"
    raise ValueError(message)


def _mixed(match: re.Match[str]) -> Fraction | None:
    """Return the number that `_MIXED` caught, None when it caught none."""
    if match["dec"] is not None:
        return Fraction(match["dec"])
    num, den = (match["num"], match["den"]) if match["whole"] is not None else (match["num2"], match["den2"])
    if num is None or den is None:
        return None
    if int(den) == 0 or int(num) >= int(den):
        message = f"{num}/{den} is not a fraction below one; expected one such as 5/8"
        raise ValueError(message)
    return Fraction(int(match["whole"] or 0)) + Fraction(int(num), int(den))


def _feet_inches(match: re.Match[str], plain: str) -> Fraction:
    feet = Fraction(match["feet"])
    inches = _mixed(match)
    if inches is None:
        return feet * METRES_PER["ft"]
    if feet.denominator != 1 or "." in match["feet"]:
        message = f"decimal feet with inches behind; write {match['feet']} ft alone or whole feet and inches"
        raise ValueError(message)
    if inches >= 12:
        message = "12 inches or more behind the feet; check the reading"
        raise ValueError(message)
    return feet * METRES_PER["ft"] + inches * METRES_PER["in"]


def _one_unit(match: re.Match[str], plain: str, unit: str) -> Fraction:
    value = _mixed(match)
    assert value is not None
    word = (match["unit"] or "").lower().rstrip(".")
    if not word:
        if match["dec"] is None and unit != "in":
            message = f"a fraction without its unit; write {plain} in for inches"
            raise ValueError(message)
        return value * METRES_PER[unit]
    if word in ('"', "in", "inch", "inches"):
        return value * METRES_PER["in"]
    if match["dec"] is None:
        message = "a fraction of such a unit; write it as a decimal, 1.655 m or 1655 mm"
        raise ValueError(message)
    return value * METRES_PER[_named(word)]


def _named(word: str) -> str:
    """Return the unit of a word that `_ONE_UNIT` caught."""
    unit = unit_named(word)
    assert unit is not None, word
    return unit


def _snapped(value: float) -> Fraction:
    """Return the decimal number that a float stands for, so that halves are halves: to ten places."""
    return Fraction(round(value * 10**10), 10**10)


def _halves_away(value: Fraction) -> int:
    """Round to the nearest whole number, halves away from zero."""
    return int(math.copysign(1, value)) * math.floor(abs(value) + Fraction(1, 2))


def _fixed(value: Fraction, places: int) -> str:
    """Print with a fixed number of decimals, halves away from zero, never ``-0``."""
    steps = _halves_away(value * 10**places)
    sign, digits = ("-" if steps < 0 else ""), str(abs(steps)).rjust(places + 1, "0")
    return sign + (f"{digits[:-places]}.{digits[-places:]}" if places else digits)


def _inches_text(sixteenths: int, *, parted_by: str = "-", zero: bool = True) -> str:
    """Return whole inches and a fraction in lowest terms; `zero` prints the 0 before a lone fraction."""
    whole, part = divmod(sixteenths, 16)
    if not part:
        return str(whole)
    fraction = Fraction(part, 16)
    text = f"{fraction.numerator}/{fraction.denominator}"
    return f"{whole}{parted_by}{text}" if whole or zero else text


def format_length(value_m: float, *, style: str, places: int | None = None) -> str:
    """Print a length, rounded once, in one of the styles; halves go away from zero.

    Parameters
    ----------
    value_m : float
        Metres.
    style : str
        ``feet-inches`` (to 1/16 in, ``5' 5-1/8"``), ``inches`` (to 1/16 in, ``65-1/8"``), ``decimal feet``
        (0.01 ft), ``metric`` (whole millimetres) or ``metres`` (0.001 m).
    places : int, optional
        Decimals, for the decimal styles.

    Raises
    ------
    ValueError
        When the value is not finite or the style is unknown.
    """
    if not math.isfinite(value_m):
        message = f"cannot print {value_m} as a length"
        raise ValueError(message)
    exact = _snapped(value_m)
    if style in ("feet-inches", "inches"):
        sixteenths = _halves_away(exact / SIXTEENTH_M)
        sign, sixteenths = ("-" if sixteenths < 0 else ""), abs(sixteenths)
        if style == "inches":
            return f'{sign}{_inches_text(sixteenths, zero=False)}"'
        feet, rest = divmod(sixteenths, 12 * 16)
        return f"{sign}{feet}' {_inches_text(rest)}\""
    if style == "decimal feet":
        return _fixed(exact / METRES_PER["ft"], 2 if places is None else places)
    if style == "metric":
        return _fixed(exact * 1000, places or 0)
    if style == "metres":
        return _fixed(exact, 3 if places is None else places)
    message = f"unknown style {style!r}; expected one of {', '.join(_LABELS)}"
    raise ValueError(message)


def unit_label(style: str) -> str:
    """Return the unit to print in a column's heading for a style."""
    return _LABELS[style]


def told(value_m: float, style: str) -> str:
    """Return a length with its unit, for a sentence; marks of feet and inches are their own unit."""
    text = format_length(value_m, style=style)
    return text if style in ("feet-inches", "inches") else f"{text} {unit_label(style)}"


def told_small(value_m: float, style: str) -> str:
    """Return a length that may be less than a foot: in inches alone where feet would be nought."""
    short = style == "feet-inches" and abs(value_m) < from_unit(1.0, "ft")
    return told(value_m, "inches" if short else style)


def told_fine(value_m: float, style: str) -> str:
    """Return an accuracy or a misfit with its unit, in decimals: ``0.06 in``, ``0.0049 ft``, ``1.5 mm``."""
    if style == "metric":
        return f"{format_length(value_m, style='metric', places=1)} mm"
    if style == "decimal feet":
        return f"{format_length(value_m, style='decimal feet', places=4)} ft"
    return f"{in_unit(value_m, 'in'):.2f} in"


def told_far(value_m: float, style: str) -> str:
    """Return a long way with its unit, whole and to three figures: ``45 m``, ``2,510 km``, ``1,560 mi``."""
    small, large, per_large = ("m", 1000.0, "km") if style == "metric" else ("ft", 1609.344, "mi")
    value, unit = in_unit(value_m, small), small
    if value_m >= 2.0 * large:
        value, unit = value_m / large, per_large
    if value >= 1000.0:
        value = float(f"{value:.3g}")
    return f"{value:,.0f} {unit}"


def in_unit(value_m: float, unit: str) -> float:
    """Return metres as a number of `unit` (ft, in, m, cm, mm)."""
    return value_m / float(METRES_PER[unit])


def from_unit(value: float, unit: str) -> float:
    """Return a number of `unit` (ft, in, m, cm, mm) in metres."""
    return value * float(METRES_PER[unit])


def write_like(value_m: float, read: str, *, unit: str) -> str:
    """Print a length in the notation in which another one was typed.

    Parameters
    ----------
    value_m : float
        Metres.
    read : str
        The text whose notation, decimals and smallest fraction are kept.
    unit : str
        What a bare number in `read` is in.
    """
    plain = plain_signs(read)
    bare = plain.lstrip("+-").strip()
    if (match := _FEET_INCHES.fullmatch(bare)) and _has_inches(match):
        sixteenths = _halves_away(_snapped(value_m) / SIXTEENTH_M)
        if match["dec"] is not None and "." in match["dec"]:
            feet, inches = divmod(abs(_snapped(value_m)) / METRES_PER["in"], 12)
            sign = "-" if value_m < 0 else ""
            return f"{sign}{feet}' {_fixed(inches, _decimals(match['dec']))}\""
        sign, (feet_whole, rest) = ("-" if sixteenths < 0 else ""), divmod(abs(sixteenths), 192)
        return f"{sign}{feet_whole}' {_inches_text(rest)}\""
    if match:
        return f"{_fixed(_snapped(value_m) / METRES_PER['ft'], _decimals(match['feet']))} ft"
    if match := _ONE_UNIT.fullmatch(bare):
        word = (match["unit"] or "").lower().rstrip(".")
        name = unit if not word else "in" if word == '"' else _named(word)
        if match["dec"] is None:
            sixteenths = _halves_away(_snapped(value_m) / SIXTEENTH_M)
            parted_by = "-" if re.search(r"\d\s*-\s*\d", bare) else " "
            text = _inches_text(abs(sixteenths), parted_by=parted_by, zero=False)
            mark = '"' if bare.endswith('"') else " in" if word else ""
            return f"{'-' if sixteenths < 0 else ''}{text}{mark}"
        number = _fixed(_snapped(value_m) / METRES_PER[name], _decimals(match["dec"]))
        return number + ('"' if word == '"' else f" {name}" if word else "")
    style = {"ft": "decimal feet", "in": "inches", "m": "metres", "mm": "metric"}[unit]
    return format_length(value_m, style=style)


def _has_inches(match: re.Match[str]) -> bool:
    return any(match[name] is not None for name in ("whole", "num2", "dec"))


def _decimals(number: str) -> int:
    return len(number.partition(".")[2])


_DMS = re.compile(
    rf"(?P<sign>[+-]?)\s*(?P<deg>{_NUMBER})"
    rf"(?:(?:\s*(?:°|deg(?:rees?)?\b|d\b)\s*-?\s*|\s*-\s*|\s+)(?P<min>{_NUMBER})"
    rf"(?:(?:\s*'\s*-?\s*|\s*-\s*|\s+)(?P<sec>{_NUMBER})\s*\"?|\s*'?)"
    r"|\s*(?:°|deg(?:rees?)?\b|d\b)?)",
    re.IGNORECASE,
)
_QUADRANT = re.compile(r"(?P<ns>[NS])\s*(?P<angle>.*?)\s*(?P<ew>[EW])", re.IGNORECASE)
_ANGLE_EXAMPLES = "an angle in degrees such as 88.5, 88°30', 88-30-00 or N 88°30' E"


def parse_angle(text: str) -> float:
    """Read an angle: decimal degrees, degrees-minutes-seconds, or a quadrant bearing.

    Returns
    -------
    float
        Radians; a quadrant bearing as a clockwise angle from north in [0, 2π).

    Raises
    ------
    ValueError
        When it is not an angle; the message says what to write.
    """
    plain = plain_signs(text)
    if "," in plain:
        message = f"a comma in an angle; write {plain.replace(',', '.')} if it is a decimal sign"
        raise ValueError(message)
    if match := _QUADRANT.fullmatch(plain):
        angle = _degrees(match["angle"])
        if not 0 <= angle <= 90:
            message = f"a quadrant bearing runs from 0 to 90; expected {_ANGLE_EXAMPLES}"
            raise ValueError(message)
        north, east = match["ns"].upper() == "N", match["ew"].upper() == "E"
        clockwise = angle if north == east else -angle
        return math.radians(float((clockwise if north else 180 + clockwise) % 360))
    return math.radians(float(_degrees(plain)))


def _degrees(plain: str) -> Fraction:
    match = _DMS.fullmatch(plain.strip())
    if not match:
        message = f"not an angle; expected {_ANGLE_EXAMPLES}"
        raise ValueError(message)
    degrees = Fraction(match["deg"])
    minutes, seconds = Fraction(match["min"] or 0), Fraction(match["sec"] or 0)
    if match["min"] is not None and degrees.denominator != 1:
        message = f"decimal degrees with minutes behind them; expected {_ANGLE_EXAMPLES}"
        raise ValueError(message)
    if minutes >= 60 or seconds >= 60:
        message = f"minutes and seconds run from 0 to 59; expected {_ANGLE_EXAMPLES}"
        raise ValueError(message)
    value = degrees + minutes / 60 + seconds / 3600
    if value > LARGEST_DEGREES:
        message = f"not an angle that anybody measures; expected {_ANGLE_EXAMPLES}"
        raise ValueError(message)
    return -value if match["sign"] == "-" else value


def format_angle(angle_rad: float, places: int = 1) -> str:
    """Print an angle in decimal degrees without a sign for degrees, rounded once."""
    return _fixed(_snapped(math.degrees(angle_rad)), places)
