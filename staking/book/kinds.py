"""The kinds of value that a cell or a key can hold, and how each is read from what was typed.

A kind's `read` takes the text and the survey's unit and returns metres, radians or plain values; it raises
ValueError with a message that says what is wrong and what to write.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from typing import Any

from staking.base.quantities import (
    parse_area,
    parse_expansion,
    parse_force,
    parse_stress,
    parse_temperature,
    parse_volume,
)
from staking.base.units import from_unit, parse_angle, parse_length, plain_signs
from staking.book.clock import read_duration, read_time, read_zone
from staking.book.nearest import did_you_mean, plain
from staking.book.records import Supports

_LOOKS_LIKE_A_DATE = re.compile(
    r"\d{1,2}-[A-Za-z]{3,9}(-\d{2,4})?|[A-Za-z]{3,9}-\d{1,4}|\d{1,4}[-/.]\d{1,2}[-/.]\d{2,4}"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """What may stand in a column or behind a key."""

    word: str
    """For people: ``length``, ``point name``."""
    read: Callable[[str, str], Any]
    """From text and the survey's unit; raises ValueError."""
    suffix: str = ""
    """What the record's field adds to the name: ``_m``, ``_rad``."""
    unit: str = ""
    """In words: ``survey's units``, ``degrees``."""
    quoted: bool = False
    """Whether TOML examples of it stand in quotes."""
    choices: tuple[str, ...] = ()
    """The words that may stand there, where they are few."""


class UnknownWord(ValueError):
    """A word that is none of those known; tells which belong there and which is nearest."""

    def __init__(self, text: str, choices: tuple[str, ...]) -> None:
        super().__init__("unknown word")
        self.expected = " or ".join(part for part in (", ".join(choices[:-1]), choices[-1]) if part)
        self.remedy = did_you_mean(text, choices)


def _refuse(message: str) -> ValueError:
    return ValueError(message)


def length(*, above: float | None = None, least: float | None = None, zero_is_none: bool = False) -> Kind:
    """Return the kind of a length, with a bound in metres where a sign makes no sense.

    Parameters
    ----------
    above, least : float, optional
        The value must be greater than, or not less than, this many metres.
    zero_is_none : bool
        A zero is read as None: a standard deviation of zero holds its coordinate fixed, as a blank does.
    """

    def read(text: str, unit: str) -> float | None:
        try:
            value = parse_length(text, unit=unit)
        except ValueError as error:
            if _LOOKS_LIKE_A_DATE.fullmatch(text.strip()):
                message = (
                    "a date, not a length; a spreadsheet makes 12-6 or 3/8 into dates: "
                    "format the cells as text and type the reading again"
                )
                raise _refuse(message) from error
            raise
        if above is not None and not value > above:
            raise _refuse("must be greater than zero")
        if least is not None and not value >= least:
            raise _refuse("must not be negative")
        return None if zero_is_none and value == 0 else value

    return Kind(word="length", read=read, suffix="_m", unit="survey's units")


def per_100(text: str, unit: str) -> float:
    """Read a standard deviation in units per 100 units of sight; returns it per metre of sight, no unit."""
    value: float = SIZE_OR_ZERO.read(text, unit)
    return value / from_unit(100.0, unit)


def angle(*, least: float, most: float, below: bool = False, quadrant: bool = False) -> Kind:
    """Return the kind of an angle with its range in degrees; `below` leaves `most` itself out."""

    def read(text: str, unit: str) -> float:
        del unit
        if not quadrant and re.search(r"[NSEW]", re.sub(r"deg(rees?)?", "", text, flags=re.IGNORECASE), re.I):
            raise _refuse("not an angle in degrees; a bearing with N, S, E or W has no place here")
        value = parse_angle(text)
        degrees = math.degrees(value)
        if degrees < least - _ROUNDING_DEG or degrees > most + _ROUNDING_DEG:
            message = f"out of range; expected {least:g} to {most:g} degrees"
            raise _refuse(message)
        if below and degrees > most - _ROUNDING_DEG:
            message = f"out of range; expected {least:g} to less than {most:g} degrees"
            raise _refuse(message)
        return value

    return Kind(word="direction" if quadrant else "angle", read=read, suffix="_rad", unit="degrees")


def _read_sd_angle(text: str, unit: str) -> float:
    value: float = angle(least=-360, most=180).read(text, unit)
    if not value > 0:
        raise _refuse("must be greater than zero")
    return value


def _read_supports(text: str, unit: str) -> Supports:
    words = plain_signs(text).casefold()
    if words in ("throughout", "ground", "ends"):
        return Supports(way="ends" if words == "ends" else "throughout")
    if match := re.fullmatch(r"(\d{1,3}) supports?", words):
        if int(match[1]) < 2:
            raise _refuse("a tape that hangs has a support at each end: 2 supports at the least")
        return Supports(way="number", number=int(match[1]))
    if match := re.fullmatch(r"every (.+)", words):
        return Supports(way="every", every_m=SIZE.read(match[1], unit))
    raise _refuse("not how a tape was held up; expected throughout, ends, every 25 ft, or 3 supports")


def _quantity(word: str, parse: Callable[..., float], suffix: str, unit: str) -> Kind:
    def read(text: str, survey_unit: str) -> float:
        return parse(text, unit=survey_unit)

    return Kind(word=word, read=read, suffix=suffix, unit=unit, quoted=True)


BAG_M3 = (0.001, 2.0)
"""A bag makes more than a litre and less than two cubic metres: the unit is wrong beyond (no source)."""


def _read_bag(text: str, unit: str) -> float:
    value = parse_volume(text, unit=unit)
    if not BAG_M3[0] <= value <= BAG_M3[1]:
        raise _refuse("no bag makes so much or so little; write the unit: 0.6 cu ft, 17 L or 0.017 m3")
    return value


def _read_fraction(text: str, unit: str) -> float:
    """Read a share, ``10 %`` or ``0.1``; a bare number above one is asked about."""
    del unit
    match = re.fullmatch(
        r"(?P<number>[0-9]{1,3}(?:\.[0-9]{0,9})?|\.[0-9]{1,9})\s*(?P<sign>%|percent)?", plain_signs(text)
    )
    if match is None:
        raise _refuse("not a share; expected one such as 10 % or 0.1")
    number = float(match["number"])
    if match["sign"] is not None and number > 100:
        raise _refuse("a share greater than the whole; expected one such as 10 % or 0.1")
    if match["sign"] is None and number > 1:
        message = f"a share greater than one; write {match['number']} % if percent is meant"
        raise _refuse(message)
    return number / 100 if match["sign"] else number


_ROUNDING_DEG = 1e-9
"""What a whole number of degrees may lose on its way through radians; far below any reading."""


def _globe(positive: str, negative: str, most: float) -> Kind:
    """Return the kind of a latitude or longitude: signed degrees, or with its letter."""
    lettered = re.compile(
        rf"(?P<before>[{positive}{negative}])?\s*(?P<angle>[^A-Za-z]+?)\s*(?P<after>[{positive}{negative}])?",
        re.I,
    )

    def read(text: str, unit: str) -> float:
        del unit
        match = lettered.fullmatch(plain_signs(text))
        if match is None or (match["before"] and match["after"]):
            message = f"not degrees; expected 40.125, 40°07'30\" or 40.125 {positive}, minus for {negative}"
            raise _refuse(message)
        value = parse_angle(match["angle"])
        letter = (match["before"] or match["after"] or "").upper()
        if letter and value < 0:
            message = f"a minus and the letter {letter} at once; write one of them"
            raise _refuse(message)
        value = -value if letter == negative else value
        if abs(math.degrees(value)) > most + _ROUNDING_DEG:
            message = f"out of range; expected -{most:g} to {most:g} degrees"
            raise _refuse(message)
        return value

    return Kind(word="angle", read=read, suffix="_rad", unit=f"degrees, {positive} positive")


def word(*choices: str) -> Kind:
    """Return the kind of one word out of a few, told apart without case, blanks and dashes."""
    known = {plain(choice): choice for choice in choices}

    def read(text: str, unit: str) -> str:
        del unit
        if plain(text) not in known:
            raise UnknownWord(text, choices)
        return known[plain(text)]

    return Kind(word="one of " + ", ".join(choices), read=read, quoted=True, choices=choices)


def _read_name(text: str, unit: str) -> str:
    del unit
    return " ".join(text.split())


def _read_names(text: str, unit: str) -> tuple[str, ...]:
    del unit
    return tuple(name for name in re.split(r"[\s,;]+", text) if name)


def _read_yes_no(text: str, unit: str) -> bool:
    del unit
    answers = {"yes": True, "y": True, "true": True, "no": False, "n": False, "false": False}
    if text.strip().casefold() not in answers:
        raise UnknownWord(text, ("yes", "no"))
    return answers[text.strip().casefold()]


def _read_number(text: str, unit: str) -> float:
    del unit
    plain_text = plain_signs(text)
    if "," in plain_text:
        message = f"a comma in a number; write {plain_text.replace(',', '.')} if it is a decimal sign"
        raise _refuse(message)
    if not re.fullmatch(r"[0-9]{1,15}(\.[0-9]{0,15})?|\.[0-9]{1,15}", plain_text):
        raise _refuse("not a number, zero or greater; expected one such as 118.00")
    return float(plain_text)


def _read_share(text: str, unit: str) -> float:
    del unit
    plain_text = plain_signs(text)
    if not re.fullmatch(r"[0-9](\.[0-9]{0,15})?|\.[0-9]{1,15}", plain_text) or float(plain_text) > 1:
        raise _refuse("not a share; expected a number from 0 to 1 such as 0.5")
    return float(plain_text)


def _count(least: int, most: int = 999_999) -> Callable[[str, str], int]:
    def read(text: str, unit: str) -> int:
        del unit
        if not re.fullmatch(r"\+?[0-9]{1,6}", text.strip()) or not least <= int(text) <= most:
            message = f"not a count; expected a whole number from {least} to {most}"
            raise _refuse(message)
        return int(text)

    return read


def _read_count_or_auto(text: str, unit: str) -> int | str:
    if plain(text) == "auto":
        return "auto"
    try:
        return _count(1)(text, unit)
    except ValueError as error:
        raise _refuse('neither a count nor auto; expected a whole number such as 2, or "auto"') from error


def _read_date(text: str, unit: str) -> date:
    del unit
    try:
        if re.fullmatch(r"\d{4}-\d{2}-\d{2}", text.strip()):
            return date.fromisoformat(text.strip())
    except ValueError as error:
        raise _refuse("no such day; expected a date as 2026-10-03") from error
    raise _refuse("not a date; expected one as 2026-10-03")


MOST_OF_REVISION = 8
"""Signs that a title block and a card have room for: one that is cut off could be taken for another."""


def _read_revision(text: str, unit: str) -> str:
    name = _read_name(text, unit)
    if not name.isprintable() or len(name) > MOST_OF_REVISION:
        message = f"not a revision; expected a letter or number such as B, {MOST_OF_REVISION} signs at most"
        raise _refuse(message)
    return name


def _read_array_name(text: str, unit: str) -> str:
    name = _read_name(text, unit)
    if not re.fullmatch(r"\w[\w .-]{0,39}", name):
        raise _refuse("not a name for an array; expected letters, digits, blanks, dots, dashes, 40 at most")
    return name


LENGTH = length()
SIZE = length(above=0.0)
SIZE_OR_ZERO = length(least=0.0)
SD_OR_FIXED = length(least=0.0, zero_is_none=True)
PER_100 = Kind(word="length", read=per_100, unit="survey's units per 100 of them")
TURN = angle(least=-360, most=360)
DIRECTION = angle(least=-360, most=360, quadrant=True)
TILT = angle(least=0, most=90, below=True)
SD_ANGLE = Kind(word="angle", read=_read_sd_angle, suffix="_rad", unit="degrees")
SLOPE = angle(least=-89, most=89)
FORCE = _quantity("force", parse_force, "_n", "lb with ft and in, N with m and mm, or its own")
TEMPERATURE = _quantity(
    "temperature", parse_temperature, "_c", "F with ft and in, C with m and mm, or its own"
)
AREA = _quantity("area", parse_area, "_m2", "sq in with ft and in, mm2 with m and mm, or its own")
STRESS = _quantity("stress", parse_stress, "_pa", "psi with ft and in, MPa with m and mm, or its own")
EXPANSION = _quantity("expansion", parse_expansion, "_per_c", "per F with ft and in, per C with m and mm")
BAG = Kind(
    word="volume",
    read=_read_bag,
    suffix="_m3",
    unit="cu ft with ft and in, m3 with m and mm, or its own",
    quoted=True,
)
FRACTION = Kind(word="share", read=_read_fraction, unit="of one, or %", quoted=True)
SUPPORTS = Kind(word="how a tape was held up", read=_read_supports, quoted=True)
LATITUDE = _globe("N", "S", 90)
LONGITUDE = _globe("E", "W", 180)
TEXT = Kind(word="text", read=_read_name, quoted=True)
POINT = Kind(word="point name", read=_read_name, quoted=True)
POINTS = Kind(word="point names, parted by spaces", read=_read_names, quoted=True)
PIER = Kind(word="pier name", read=_read_name, quoted=True)
REVISION = Kind(word="letter or number", read=_read_revision, quoted=True)
ARRAY_NAME = Kind(word="name", read=_read_array_name, quoted=True)
YES_NO = Kind(word="yes or no", read=_read_yes_no, choices=("yes", "no"))
NUMBER = Kind(word="number", read=_read_number)
COUNT = Kind(word="count", read=_count(1))
COUNT_OR_ZERO = Kind(word="count", read=_count(0))
COUNT_OR_AUTO = Kind(word="count or auto", read=_read_count_or_auto)
ONE_OR_TWO = Kind(word="1 or 2", read=_count(1, 2))
SHARE = Kind(word="number from 0 to 1", read=_read_share)
DATE = Kind(word="date", read=_read_date)
TIME = Kind(word="time of day", read=read_time, quoted=True)
TIME_ZONE = Kind(word="time zone", read=read_zone, quoted=True)
DURATION = Kind(word="span of time", read=read_duration, suffix="_s", unit="seconds")
HOW = word("level", "slope")
NORTH = word("true", "magnetic", "grid")
SIDE = word("left", "right")
UNITS = word("ft", "in", "m", "mm")
