"""A minus of latitude or longitude lost or too much, where a compass or the sun shows it.

The declination and the sun's direction are those of another place then: every bearing by compass is off
alike, and shadows go round the other way. One slip of a person, which no change of a single reading explains;
and an azimuth off by just the difference of the two declinations would be blamed instead.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from staking.book.records import FieldBook, Site
from staking.book.tomltree import FILE
from staking.control.adjustment import Suspect
from staking.control.signs import SIGNS, angle_of, degrees_text, with_other_signs
from staking.control.suspects import Suspicion

CHANCE = 0.9
"""That a sign was lost, when putting it back makes the survey pass: a whole site seldom fits by accident (a
judgement, no source)."""
BOTH = 0.2
"""How much rarer both signs are lost than one (a judgement, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherPlace:
    """The book at a place whose latitude, longitude or both have the other sign."""

    book: FieldBook
    keys: tuple[str, ...]


def other_places(book: FieldBook) -> Iterator[OtherPlace]:
    """Return the book at the places that a lost sign may hide; none where no reading leans on the place."""
    site = book.job.site
    if site.latitude_rad is None or site.longitude_rad is None or book.on_grid or book.fixes:
        return
    azimuth = book.job.control.azimuth
    compass = any(row.north == "magnetic" for row in book.bearings) or (
        azimuth is not None and azimuth.north == "magnetic"
    )
    if not (compass or book.shadows or book.equal_shadows):
        return
    for keys in SIGNS:
        there = with_other_signs(site, keys)
        yield OtherPlace(book=replace(book, job=replace(book.job, site=there)), keys=keys)


@dataclass(frozen=True, slots=True, kw_only=True)
class SignFits:
    """That the survey passes once the signs of these keys are changed."""

    keys: tuple[str, ...]
    vtpv: float
    redundancy: int


def with_signs(suspicion: Suspicion, site: Site, fits: Sequence[SignFits]) -> Suspicion:
    """Return the suspects with lost signs before them: what else explains the survey shares what is left."""
    if not fits:
        return suspicion
    least = min(fit.vtpv for fit in fits)
    weights = [BOTH ** (len(fit.keys) - 1) * math.exp((least - fit.vtpv) / 2.0) for fit in fits]
    signs = []
    for key in dict.fromkeys(key for fit in fits for key in fit.keys):
        share = sum(weight for fit, weight in zip(fits, weights, strict=True) if key in fit.keys)
        best = max(
            (one for one in zip(weights, fits, strict=True) if key in one[1].keys), key=lambda one: one[0]
        )[1]
        signs.append(
            Suspect(
                table=FILE,
                row=0,
                column=f"site.{key}",
                read=degrees_text(angle_of(site, key)),
                likely=degrees_text(-angle_of(site, key)),
                why=f"[site] {key}: a minus lost or too much (south and west are minus)"
                + "".join(f"; with [site] {other} put right" for other in best.keys if other != key),
                chance=CHANCE * share / sum(weights),
                repair_chance=CHANCE * share / sum(weights),
                variance_factor_after=best.vtpv / best.redundancy,
                passes_after=True,
            )
        )
    signs.sort(key=lambda one: -one.chance)
    others = [one.rarer(1.0 - CHANCE) for one in suspicion.suspects]
    kept = tuple(text for text in suspicion.warnings if "do not explain" not in text)
    return Suspicion(suspects=(*signs, *others), warnings=kept)
