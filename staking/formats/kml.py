"""An `EarthModel` as KML 2.2, written by simplekml: places on the ground, without heights."""

from __future__ import annotations

from staking.formats.gpx import DEGREE_DECIMALS
from staking.sheets.earth_model import EarthModel


def kml_bytes(model: EarthModel) -> bytes:
    """Return the model as the bytes of a KML file."""
    import simplekml

    simplekml.Kml.resetidcounter()  # else every file of one run is numbered on from the one before
    said = [f"{name}: {text}." for name, text in model.facts]
    kml = simplekml.Kml(name=model.title, description=" ".join([*said, *model.remarks]))
    for outline in model.outlines:
        ring = [_lon_lat(lat, lon) for lat, lon in outline.lat_lon_deg]
        # As a line: an area would be filled, and its style would stand where the schema has none.
        kml.newlinestring(name=outline.name, coords=[*ring, ring[0]])
    for place in model.places:
        words = f"{place.words}; placed to {place.sd_m:.3f} m (one standard deviation)"
        kml.newpoint(name=place.name, description=words, coords=[_lon_lat(place.lat_deg, place.lon_deg)])
    text: str = kml.kml()
    return text.encode()


def _lon_lat(lat_deg: float, lon_deg: float) -> tuple[float, float]:
    return round(lon_deg, DEGREE_DECIMALS), round(lat_deg, DEGREE_DECIMALS)
