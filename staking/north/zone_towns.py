"""The towns that the world's list of time zones names: a place on the earth told so that a person knows it.

The list is the IANA time zone database's `zone.tab`, in the public domain, as the package tzdata carries it:
for each zone its country and the latitude and longitude of its principal town.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from staking.base.geodesy import great_circle_m

_ISO6709 = re.compile(r"([+-])(\d{2})(\d{2})(\d{2})?([+-])(\d{3})(\d{2})(\d{2})?")


@dataclass(frozen=True, slots=True, kw_only=True)
class Town:
    """A zone's principal town."""

    zone: str
    country: str
    place: tuple[float, float]
    """Latitude and longitude, radians; north and east positive."""

    @property
    def name(self) -> str:
        """The town alone, as the zone's name has it."""
        return self.zone.rsplit("/", 1)[-1].replace("_", " ")


def nearest_town(place: tuple[float, float]) -> tuple[Town, float]:
    """Return the town nearest to a latitude and longitude, radians, and its distance in metres."""
    town = min(_towns().values(), key=lambda one: great_circle_m(one.place, place))
    return town, great_circle_m(town.place, place)


def town_of(zone: str) -> Town | None:
    """Return the principal town of a zone's name, old names too; None for an offset or a name of no place."""
    towns = _towns()
    return towns.get(zone) or towns.get(_old_names().get(zone, ""))


@cache
def _towns() -> Mapping[str, Town]:
    folder = files("tzdata") / "zoneinfo"
    countries = {}
    for line in (folder / "iso3166.tab").read_text(encoding="utf-8").splitlines():
        if not line.startswith("#"):
            code, country = line.split("\t")[:2]
            countries[code] = country
    found = {}
    for line in (folder / "zone.tab").read_text(encoding="utf-8").splitlines():
        if line.startswith("#"):
            continue
        code, where, zone = line.split("\t")[:3]
        found[zone] = Town(zone=zone, country=countries.get(code, code), place=_place(where))
    return found


@cache
def _old_names() -> Mapping[str, str]:
    """Return the zone's present name by an old one, such as US/Eastern."""
    text = (files("tzdata") / "zoneinfo" / "tzdata.zi").read_text(encoding="utf-8")
    links = (line.split() for line in text.splitlines() if line.startswith("L "))
    return {old: present for _, present, old in links}


def _place(text: str) -> tuple[float, float]:
    """Read ``+404251-0740023``, the list's sign, degrees, minutes and seconds."""
    found = _ISO6709.fullmatch(text)
    if found is None:
        message = f"{text!r} is no place as the list of time zones writes it"
        raise ValueError(message)
    parts = found.groups(default="0")
    return _angle(parts[:4]), _angle(parts[4:])


def _angle(parts: tuple[str, ...]) -> float:
    degrees = int(parts[1]) + int(parts[2]) / 60 + int(parts[3]) / 3600
    return math.radians(-degrees if parts[0] == "-" else degrees)
