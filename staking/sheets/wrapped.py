"""Text laid out for a terminal: a label with its words, and lists."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable

WIDTH = 96
"""Columns of text: what a laptop's terminal shows without wrapping."""
LABEL = 16


def labelled(label: str, text: str) -> list[str]:
    """Return a text beside its label."""
    indent = " " * (2 + LABEL)
    return textwrap.wrap(
        text, WIDTH, initial_indent=f"  {label:<{LABEL}}", subsequent_indent=indent, break_on_hyphens=False
    )


def bullets(texts: Iterable[str]) -> list[str]:
    """Return one bullet for each text."""
    return [
        line
        for text in texts
        for line in textwrap.wrap(
            text, WIDTH, initial_indent="  - ", subsequent_indent="    ", break_on_hyphens=False
        )
    ]
