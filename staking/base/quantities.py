"""Temperatures, pulls, areas, stresses and volumes from text, masses and volumes to text.

A bare number is in what the survey's unit goes with: °F, pounds, square inches and psi with feet and inches,
°C, newtons, square millimetres and MPa with metres; volumes are bare cubic feet or cubic metres.
Inside: °C, newtons, square metres, pascals, cubic metres.
Factors: NIST Special Publication 811 (2008), appendix B.8 (from memory).
"""

from __future__ import annotations

import re
from collections.abc import Iterable

from staking.base.units import plain_signs

POUND_N = 4.4482216152605
"""One pound-force: 0.45359237 kg at standard gravity."""
GRAVITY_M_S2 = 9.80665
KG_PER_POUND = 0.45359237
INCH_M = 0.0254

_FORCES = {
    **dict.fromkeys(("lb", "lbs", "lbf"), POUND_N),
    "n": 1.0,
    **dict.fromkeys(("kg", "kgf", "kp"), GRAVITY_M_S2),
}
_AREAS = {
    **dict.fromkeys(("sq in", "in2", "in²"), INCH_M**2),
    **dict.fromkeys(("mm2", "mm²", "sq mm"), 1e-6),
    **dict.fromkeys(("cm2", "cm²", "sq cm"), 1e-4),
}
_STRESSES = {
    "psi": POUND_N / INCH_M**2,
    "mpa": 1e6,
    "gpa": 1e9,
    **dict.fromkeys(("n/mm2", "n/mm²"), 1e6),
}
FOOT3_M3 = (12 * INCH_M) ** 3
YARD3_M3 = 27 * FOOT3_M3
_VOLUMES = {
    **dict.fromkeys(("cu ft", "ft3", "ft³", "cubic feet", "cubic foot"), FOOT3_M3),
    **dict.fromkeys(("cu yd", "yd3", "yd³", "cubic yards", "cubic yard"), YARD3_M3),
    **dict.fromkeys(("m3", "m³", "cu m", "cubic metres", "cubic meters"), 1.0),
    **dict.fromkeys(("l", "litre", "litres", "liter", "liters"), 1e-3),
}
_NUMBER = re.compile(r"(?P<number>[+-]?(?:\d+\.?\d*|\.\d+)(?:e[+-]?\d{1,2})?)\s*(?P<unit>[^\d\s.].*)?", re.I)


def _is_imperial(unit: str) -> bool:
    return unit in ("ft", "in")


def _parted(text: str, example: str) -> tuple[float, str]:
    """Return the number and its unit in small letters, empty where there is none."""
    match = _NUMBER.fullmatch(plain_signs(text))
    if match is None:
        message = f"not a number with its unit; expected one such as {example}"
        raise ValueError(message)
    return float(match["number"]), " ".join((match["unit"] or "").lower().split())


def _scaled(text: str, factors: dict[str, float], bare: str, example: str) -> float:
    number, unit = _parted(text, example)
    if (unit or bare) not in factors:
        message = f"unknown unit {unit!r}; expected one such as {example}"
        raise ValueError(message)
    if not number > 0:
        message = "must be greater than zero"
        raise ValueError(message)
    return number * factors[unit or bare]


def parse_force(text: str, *, unit: str) -> float:
    """Read a pull or a weight, ``10 lb``, ``45 N``, ``5 kg``; bare pounds or newtons; returns newtons.

    Raises
    ------
    ValueError
        When it is none; the message says what to write.
    """
    return _scaled(text, _FORCES, "lb" if _is_imperial(unit) else "n", "10 lb, 45 N or 5 kg")


def parse_area(text: str, *, unit: str) -> float:
    """Read a cross-section, ``0.005 sq in``, ``3.2 mm2``; returns square metres."""
    return _scaled(text, _AREAS, "sq in" if _is_imperial(unit) else "mm2", "0.005 sq in or 3.2 mm2")


def parse_volume(text: str, *, unit: str) -> float:
    """Read a volume, ``0.6 cu ft``, ``17 L``, ``0.017 m3``; returns cubic metres."""
    return _scaled(text, _VOLUMES, "cu ft" if _is_imperial(unit) else "m3", "0.6 cu ft, 17 L or 0.017 m3")


def parse_stress(text: str, *, unit: str) -> float:
    """Read a modulus, ``29000000 psi``, ``200 GPa``; returns pascals."""
    return _scaled(text, _STRESSES, "psi" if _is_imperial(unit) else "mpa", "29000000 psi or 200 GPa")


def parse_temperature(text: str, *, unit: str) -> float:
    """Read a temperature, ``68 F``, ``20 C``; returns °C."""
    example = "68 F or 20 C"
    number, sign = _parted(text, example)
    sign = sign.replace("°", "").replace("deg", "").strip() or ("f" if _is_imperial(unit) else "c")
    if sign not in ("f", "c"):
        message = f"unknown unit {sign!r}; expected one such as {example}"
        raise ValueError(message)
    value = (number - 32) / 1.8 if sign == "f" else number
    if not -60 <= value <= 80:
        message = "not a temperature that anybody tapes in; expected one such as 68 F or 20 C"
        raise ValueError(message)
    return value


def parse_expansion(text: str, *, unit: str) -> float:
    """Read a coefficient of expansion, ``6.45e-6 per F``, ``11.6e-6 per C``; returns it per °C."""
    example = "6.45e-6 per F or 11.6e-6 per C"
    number, sign = _parted(text, example)
    for noise in ("per", "/", "°", "deg"):
        sign = sign.replace(noise, "")
    sign = sign.strip() or ("f" if _is_imperial(unit) else "c")
    if sign not in ("f", "c"):
        message = f"unknown unit; expected one such as {example}"
        raise ValueError(message)
    if not 0 <= number < 1e-3:
        message = f"out of range; expected one such as {example}"
        raise ValueError(message)
    return number * 1.8 if sign == "f" else number


def mass_words(kilograms: float, *, feet: bool) -> str:
    """Return a mass in whole pounds where lengths are in feet, else in whole kilograms."""
    return f"{_whole(kilograms, feet=feet)} {'lb' if feet else 'kg'}"


def total_mass_words(kilograms: Iterable[float], *, feet: bool) -> str:
    """Return the sum of masses as `mass_words` prints them, so that a printed column adds up."""
    return f"{sum(_whole(one, feet=feet) for one in kilograms)} {'lb' if feet else 'kg'}"


def _whole(kilograms: float, *, feet: bool) -> int:
    return round(kilograms / KG_PER_POUND if feet else kilograms)
