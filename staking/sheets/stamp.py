"""What every file says of itself: job, date, inputs, unit, north, benchmark, and what to heed."""

from __future__ import annotations

from dataclasses import dataclass

from staking.plan import Plan
from staking.sheets.cautions import GEOMETRY_ONLY
from staking.sheets.names import date_text, job_name, north_name
from staking.sheets.notation import Notation

UNIT_WORDS = {"ft": "feet (0.3048 m)", "in": "inches", "m": "metres", "mm": "millimetres"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Stamp:
    """Printed on sheets, written into files."""

    job: str
    date: str
    fingerprint: str
    """Of the inputs."""
    facts: tuple[tuple[str, str], ...]
    """All of it, a name and its text each."""
    cautions: tuple[str, ...]


def stamp_of(plan: Plan, *, alarm: str) -> Stamp:
    """Return the stamp of a plan; `alarm` is what every sheet must say, empty when nothing."""
    site, benchmark = plan.book.job.site, plan.book.job.control.benchmark
    facts = [
        ("Job", job_name(site)),
        ("Date", date_text(site)),
        *((("Revision", site.revision),) if site.revision else ()),
        ("Inputs", plan.book.fingerprint or "–"),
        ("Unit", UNIT_WORDS[site.units]),
        ("North", north_name(plan)),
    ]
    if plan.book.on_grid and site.grid is not None:
        facts.append(("Map grid", site.grid))
    if benchmark is not None:
        told = Notation(style=site.show).place_words(benchmark.elevation_m)
        facts.append(("Benchmark", f"{benchmark.point}, elevation {told}"))
    return Stamp(
        job=job_name(site),
        date=date_text(site),
        fingerprint=plan.book.fingerprint or "–",
        facts=tuple(facts),
        cautions=(*((alarm,) if alarm else ()), GEOMETRY_ONLY),
    )
