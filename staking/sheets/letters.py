"""How wide a text is on paper: the advance widths of the typeface the sheets are set in.

The numbers are those of the font files in `staking/formats/fonts`, in thousandths of the size; a test
compares them. Kerning is left out, so a text comes out as wide as told or a hair narrower.
"""

from __future__ import annotations

MM_PER_PT = 25.4 / 72.0
CAP_HEIGHT = 0.698
"""Of the size."""
DESCENT = 0.22
"""How far g, p, y reach below the baseline, of the size."""
_ROUND_MM = 1e-6
"""Sums of widths are off by less."""

_CHARS = (
    " !\"#$%&'()*+,-./0123456789:;<=>?@ABCDEFGHIJKLMNOPQRSTUVWXYZ["
    "\\]^_`abcdefghijklmnopqrstuvwxyz{|}~°±×–—−·•′″→←↑↓\u2007\u00a0"
)
_PLAIN = (
    "212 258 382 637 538 837 626 220 302 302 414 540 248 360 248 349 540 540 540 540 540 540 540 540 540 "
    "540 258 258 540 540 540 431 803 579 589 561 607 526 505 627 637 362 462 574 453 730 637 638 548 638 "
    "578 525 516 611 549 808 555 534 524 286 349 286 540 508 540 483 524 454 524 495 294 477 513 228 228 "
    "477 247 787 513 504 524 524 332 439 318 513 445 698 459 451 421 310 288 310 540 422 540 540 528 702 "
    "540 296 358 220 382 780 780 780 780 540 212 "
)
_STRONG = (
    "212 292 452 561 535 884 652 244 304 304 556 540 284 360 284 422 540 540 540 540 540 540 540 540 540 "
    "540 304 304 540 540 540 452 814 618 602 589 630 549 528 646 654 397 506 630 480 738 654 642 595 642 "
    "610 556 527 630 598 884 612 579 546 302 422 302 540 500 540 516 550 468 550 508 341 499 540 262 266 "
    "524 277 808 540 508 550 550 367 455 342 540 490 756 501 496 466 338 370 338 540 422 540 540 528 702 "
    "540 324 390 244 452 820 820 820 820 540 212 "
)
_OTHER = 600
"""Of a character that is not listed: on the wide side."""

_WIDTHS = {
    False: dict(zip(_CHARS, map(int, _PLAIN.split()), strict=True)),
    True: dict(zip(_CHARS, map(int, _STRONG.split()), strict=True)),
}


def text_width_mm(text: str, *, size_pt: float, strong: bool = False) -> float:
    """Return the width of one line of text, millimetres."""
    widths = _WIDTHS[strong]
    return sum(widths.get(char, _OTHER) for char in text) * size_pt * MM_PER_PT / 1000.0


def shortened(text: str, *, width_mm: float, size_pt: float, strong: bool) -> str:
    """Return a text cut off with dots where it is wider than its room."""
    if text_width_mm(text, size_pt=size_pt, strong=strong) <= width_mm + _ROUND_MM:
        return text
    while text and text_width_mm(text + "...", size_pt=size_pt, strong=strong) > width_mm:
        text = text[:-1]
    return text.rstrip() + "..."


def broken(text: str, *, width_mm: float, size_pt: float, strong: bool = False) -> list[str]:
    """Return a sentence in lines that fit, parted between words; a longer word has a line to itself."""
    lines, line = [], ""
    for word in text.split():
        longer = f"{line} {word}".strip()
        if line and text_width_mm(longer, size_pt=size_pt, strong=strong) > width_mm:
            lines.append(line)
            longer = word
        line = longer
    return [*lines, line]
