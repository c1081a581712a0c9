"""An `EarthModel` as KML 2.2 (OGC 07-147r2): places on the ground, without heights.

Written here: the library tried gives every element a number as its ``id``, which the schema does not allow.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Sequence

from staking.formats.gpx import DEGREE_DECIMALS
from staking.sheets.earth_model import EarthModel

NAMESPACE = "http://www.opengis.net/kml/2.2"


def kml_bytes(model: EarthModel) -> bytes:
    """Return the model as the bytes of a KML file: the outlines as closed lines, then the places."""
    kml = ET.Element("kml", xmlns=NAMESPACE)
    document = ET.SubElement(kml, "Document")
    said = [f"{name}: {text}." for name, text in model.facts]
    _named(document, model.title, " ".join([*said, *model.remarks]))
    for outline in model.outlines:
        # As a line: an area would hide what lies under it.
        mark = ET.SubElement(document, "Placemark")
        _named(mark, outline.name, "")
        _coordinates(mark, "LineString", [*outline.lat_lon_deg, outline.lat_lon_deg[0]])
    for place in model.places:
        mark = ET.SubElement(document, "Placemark")
        _named(mark, place.name, place.described)
        _coordinates(mark, "Point", [(place.lat_deg, place.lon_deg)])
    ET.indent(kml)
    head = '<?xml version="1.0" encoding="UTF-8"?>\n'
    return f"{head}{ET.tostring(kml, encoding='unicode')}\n".encode()


def _named(element: ET.Element, name: str, description: str) -> None:
    ET.SubElement(element, "name").text = name
    if description:
        ET.SubElement(element, "description").text = description


def _coordinates(element: ET.Element, kind: str, lat_lon_deg: Sequence[tuple[float, float]]) -> None:
    texts = [f"{lon:.{DEGREE_DECIMALS}f},{lat:.{DEGREE_DECIMALS}f}" for lat, lon in lat_lon_deg]
    ET.SubElement(ET.SubElement(element, kind), "coordinates").text = " ".join(texts)
