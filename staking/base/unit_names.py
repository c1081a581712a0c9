"""What people call the units of length, in a heading or behind a number, and which feet they mean."""

from __future__ import annotations

import re

_FOOT = r"(?:ft|feet|foot)"
_NAMES: tuple[tuple[str, str], ...] = (
    ("m", r"m|met(?:re|er)s?"),
    ("cm", r"cm|centimet(?:re|er)s?"),
    ("mm", r"mm|millimet(?:re|er)s?"),
    ("in", r"in|inch|inches|international inch(?:es)?"),
    ("ft", rf"{_FOOT}|(?:i|int|intl|international) ?{_FOOT}|{_FOOT} ?(?:i|int|intl|international)"),
    (
        "usft",
        rf"(?:us ?)?s(?:vy|urv|urvey)? ?{_FOOT}|us ?{_FOOT}|{_FOOT} ?us|{_FOOT} ?us ?s(?:vy|urv|urvey)?"
        rf"|{_FOOT} s(?:vy|urv|urvey)",
    ),
)
_PATTERNS = tuple((unit, re.compile(pattern)) for unit, pattern in _NAMES)


def unit_named(text: str) -> str | None:
    """Return the unit that words mean: m, cm, mm, in, ft (0.3048 m exactly) or usft (1200/3937 m).

    Without regard to case, dots and what parts the words; None where they mean none.
    """
    # int'l and U.S. are one word each; what else is no letter parts words.
    joined = re.sub(r"[.'’]", "", text.casefold())
    plain = " ".join(re.sub(r"[^a-z]+", " ", joined).split()) if not re.search(r"\d", joined) else ""
    return next((unit for unit, pattern in _PATTERNS if pattern.fullmatch(plain)), None)
