"""What ``staking check --planned`` prints: what readings not yet taken will prove."""

from __future__ import annotations

import math

from staking.ahead.planned import smallest_blunder
from staking.ahead.planned_piers import Foreseen
from staking.control.adjustment import AdjustedReading
from staking.sheets.ahead_lines import fine, proof_lines
from staking.sheets.notation import Notation, count_words, sentence
from staking.sheets.unchecked import unchecked_rows, unchecked_words
from staking.sheets.wrapped import bullets, labelled

_MOST_READINGS = 20
_ANGULAR = ("angle", "bearing", "shadow", "equal shadows")


def planned_lines(seen: Foreseen) -> list[str]:
    """Return what a planned survey will prove."""
    job = seen.planned.book.job
    show = Notation(style=job.site.show)
    name = job.site.name or "Survey"
    adjustment = seen.planned.survey.adjustment
    readings = count_words(seen.planned.planned, "reading") if seen.planned.planned else "no reading"
    lines = [name, "=" * len(name), "", "PLANNED: what these readings will prove, before they are taken"]
    lines += labelled(
        "readings",
        f"{readings} to be taken"
        + ("" if seen.planned.planned else ": none is marked x, all are there")
        + f"; {count_words(adjustment.redundancy, 'reading')} more than unknowns, and so many checks",
    )
    lines += ["", "POINTS, one standard deviation", *_points(seen, show)]
    lines += _piers(seen, show)
    lines += _blunders(adjustment.readings, show)
    unchecked = [reading.what for reading in unchecked_rows(seen.planned.unchecked)]
    if unchecked:
        listed = ", ".join(unchecked[:_MOST_READINGS])
        more = len(unchecked) - _MOST_READINGS
        rest = f" and {more} more" if more > 0 else ""
        lines += [
            "",
            "NOTHING WILL CHECK",
            *bullets([f"{unchecked_words(seen.planned.unchecked)}: {listed}{rest}."]),
        ]
    lines += proof_lines(seen.claims, show, seen.planned.book)
    warnings = (*seen.planned.book.warnings, *adjustment.warnings)
    if warnings:
        lines += ["", "WORRY ABOUT", *bullets(sentence(text) for text in warnings)]
    return lines


def _points(seen: Foreseen, show: Notation) -> list[str]:
    points = seen.planned.survey.adjustment.points
    lines = [f"  {'':<12}{'east':>12}{'north':>12}{'elevation':>12}"]
    for name, sd in zip(points.names, points.sd_m(), strict=True):
        cells = ["-" if not math.isfinite(v) else "held" if v < 1e-9 else fine(show, float(v)) for v in sd]
        lines.append(f"  {name:<12}" + "".join(f"{cell:>12}" for cell in cells))
    return lines


def _piers(seen: Foreseen, show: Notation) -> list[str]:
    if seen.no_piers:
        return ["", "PIERS", *labelled("not known", sentence(seen.no_piers))]
    if not seen.piers:
        return []
    percent = 100.0 * seen.planned.book.job.ground.roughness_per_m
    head = f"GROUND AT THE PIERS, one standard deviation (roughness taken as {percent:.2f} in 100)"
    cells = [f"{name} {fine(show, float(sd))}" for name, sd in zip(seen.piers, seen.sd_ground_m, strict=True)]
    width = max(len(cell) for cell in cells) + 3
    across = max(1, 94 // width)
    rows = [cells[i : i + across] for i in range(0, len(cells), across)]
    return ["", head, *("  " + "".join(f"{cell:<{width}}" for cell in row).rstrip() for row in rows)]


def _blunders(readings: tuple[AdjustedReading, ...], show: Notation) -> list[str]:
    """Return, kind by kind, the range of the smallest blunder that will show."""
    lines: list[str] = []
    for kind in dict.fromkeys(reading.kind for reading in readings):
        sizes = [
            (size, reading)
            for reading in readings
            if reading.kind == kind and (size := smallest_blunder(reading)) is not None
        ]
        if not sizes:
            continue
        least, most = min(sizes, key=lambda one: one[0]), max(sizes, key=lambda one: one[0])

        def told(size: float, kind: str = kind) -> str:
            return f"{math.degrees(size):.3f}°" if kind in _ANGULAR else fine(show, size)

        text = f"{told(least[0])} on {least[1].what}"
        if most[0] > least[0]:
            text += f" to {told(most[0])} on {most[1].what}"
        lines += labelled(kind, text)
    return ["", "SMALLEST BLUNDERS that will show, four times in five", *lines] if lines else []
