"""The nearest known name to one that is not known."""

from __future__ import annotations

import difflib
from collections.abc import Iterable

CLOSE_ENOUGH = 0.6
"""Share of matching letters from which a known name is offered; difflib's own default."""


def plain(name: str) -> str:
    """Return a word as it is compared: without case, with blanks and dashes as underscores."""
    return "_".join(name.replace("-", " ").replace("_", " ").split()).casefold()


def nearest(name: str, known: Iterable[str], *, cutoff: float = CLOSE_ENOUGH) -> str | None:
    """Return the known name most like `name`, None when none is like it."""
    spelled = {plain(one): one for one in known}
    close = difflib.get_close_matches(plain(name), spelled, n=1, cutoff=cutoff)
    return spelled[close[0]] if close else None


def did_you_mean(name: str, known: Iterable[str]) -> str:
    """Return a remedy: the nearest known name, or all of them when none is near."""
    names = list(known)
    close = nearest(name, names)
    return f"Did you mean {close}?" if close else f"Known are {', '.join(names)}"
