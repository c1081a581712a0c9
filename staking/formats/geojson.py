"""An `EarthModel` as GeoJSON (RFC 7946): longitude first, WGS 84, heights above the ellipsoid where known."""

from __future__ import annotations

import json
from typing import Any

from staking.formats.gpx import DEGREE_DECIMALS, HEIGHT_DECIMALS
from staking.sheets.earth_model import EarthModel, EarthOutline, EarthPlace

_NUMBER_DECIMALS = 4
"""Of metres: a tenth of a millimetre."""


def geojson_bytes(model: EarthModel) -> bytes:
    """Return the model as the bytes of one feature collection.

    The collection's own members besides ``type`` and ``features`` are foreign ones, which RFC 7946 (6.1)
    allows: what the file says of itself.
    """
    collection = {
        "type": "FeatureCollection",
        "name": model.title,
        "about": dict(model.facts),
        "remarks": list(model.remarks),
        "features": [*map(_place, model.places), *map(_outline, model.outlines)],
    }
    return (json.dumps(collection, indent=1, ensure_ascii=False, allow_nan=False) + "\n").encode()


def _position(lat_deg: float, lon_deg: float) -> list[float]:
    return [round(lon_deg, DEGREE_DECIMALS), round(lat_deg, DEGREE_DECIMALS)]


def _place(place: EarthPlace) -> dict[str, Any]:
    position = _position(place.lat_deg, place.lon_deg)
    properties: dict[str, Any] = {
        "name": place.name,
        "kind": place.kind,
        "words": place.words,
        "sd_m": None if place.sd_m is None else round(place.sd_m, HEIGHT_DECIMALS),
        **{name: round(value, _NUMBER_DECIMALS) for name, value in place.numbers},
    }
    if place.above_ellipsoid_m is not None:
        position.append(round(place.above_ellipsoid_m, HEIGHT_DECIMALS))
    if place.above_sea_m is not None:
        properties["above_sea_m"] = round(place.above_sea_m, HEIGHT_DECIMALS)
    return _feature("Point", position, properties)


def _outline(outline: EarthOutline) -> dict[str, Any]:
    ring = [_position(lat, lon) for lat, lon in outline.lat_lon_deg]
    return _feature("Polygon", [[*ring, ring[0]]], {"name": outline.name, "kind": outline.kind})


def _feature(kind: str, coordinates: list[Any], properties: dict[str, Any]) -> dict[str, Any]:
    return {
        "type": "Feature",
        "geometry": {"type": kind, "coordinates": coordinates},
        "properties": properties,
    }
