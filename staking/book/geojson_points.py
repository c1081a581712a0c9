"""Points of a GeoJSON file: longitude first, heights above the ellipsoid.

H. Butler et al., The GeoJSON Format, RFC 7946 (2016), sections 3.1.1 and 4, https://www.rfc-editor.org/rfc/rfc7946.
"""

from __future__ import annotations

import json
from typing import Any

from staking.book.found_points import Asked, Found, FoundRow, degrees_text, metres_text

NAMES = ("name", "point", "id", "title", "label")
"""Properties that name a point, the first that is there."""
WGS84 = ("crs84", "4326")
"""What an old file's `crs` may say; all else is another datum or a map grid."""


def looks_like_geojson(text: str) -> bool:
    """Return whether a text is a JSON object."""
    return text.lstrip().startswith("{")


def geojson_points(file: str, text: str, asked: Asked) -> Found:
    """Return a fix for each point.

    Parameters
    ----------
    file
        Name of the file.
    text
        Its contents.
    asked
        Session, kind of heights, and a name for a file with one nameless point.
    """
    found = Found(file=file)
    try:
        data: Any = json.loads(text)
    except json.JSONDecodeError as error:
        found.wrong(f"not JSON: {error.msg}", line=error.lineno)
        return found
    except RecursionError:
        found.wrong("not GeoJSON: nested too deep")
        return found
    kind = data.get("type")
    features = data.get("features") if kind == "FeatureCollection" else [data]
    if kind not in ("FeatureCollection", "Feature", "Point") or not isinstance(features, list):
        found.wrong("not GeoJSON", read=str(kind), expected="a FeatureCollection, a Feature or a Point")
        return found
    crs = data.get("crs")
    if crs is not None and not any(name in json.dumps(crs).casefold() for name in WGS84):
        found.wrong(
            "coordinates on another datum or grid than WGS 84",
            column="crs",
            read=json.dumps(crs),
            remedy="Export it as longitude and latitude, or as a list of east and north.",
        )
        return found
    others = 0
    for number, feature in enumerate(features, start=1):
        geometry = (
            feature if kind == "Point" else feature.get("geometry") if isinstance(feature, dict) else None
        )
        if isinstance(geometry, dict) and geometry.get("type") == "Point":
            _add(found, number, feature, geometry.get("coordinates"), asked, alone=len(features) == 1)
        else:
            others += 1
    if others:
        what = "1 feature that is no point" if others == 1 else f"{others} features that are no points"
        found.said.append(f"{file}: {what} left out")
    if not found.rows and not found.mistakes:
        found.wrong("no points", expected="features whose geometry is a Point")
    return found


def _add(found: Found, number: int, feature: Any, place: Any, asked: Asked, *, alone: bool) -> None:
    numbers = isinstance(place, list) and all(
        isinstance(x, (int, float)) and not isinstance(x, bool) for x in place
    )
    if not numbers or len(place) < 2:
        found.wrong(
            f"feature {number} has no coordinates", read=json.dumps(place), expected="[longitude, latitude]"
        )
        return
    lon, lat = float(place[0]), float(place[1])
    if abs(lat) > 90:
        swapped = " Latitude seems to stand first." if abs(lon) <= 90 else ""
        found.wrong(
            f"feature {number}: no latitude",
            read=json.dumps(place),
            expected="[longitude, latitude]",
            remedy=f"GeoJSON puts longitude first.{swapped}",
        )
        return
    name = _name(feature)
    if not name and alone and asked.point is not None:
        name = asked.point
    elif name and asked.point is not None:
        found.wrong("--point is for logs, and this file names its points", remedy="Leave --point out.")
        return
    if not name:
        found.wrong(
            f"feature {number} has no name",
            read=json.dumps(place),
            expected=f"a property {', '.join(NAMES[:-1])} or {NAMES[-1]}",
        )
        return
    cells = {
        "point": name,
        "lat": degrees_text(lat),
        "lon": degrees_text(lon),
        "session": asked.session or "",
    }
    if len(place) > 2 and asked.height_kind != "none":
        height_kind = asked.height_kind or "ellipsoidal"
        cells |= {"height": metres_text(float(place[2])), "height_kind": height_kind}
        by = "as you say" if asked.height_kind else "as RFC 7946 has them; --height-kind says otherwise"
        text = f"{found.file}: heights are taken as {height_kind}, {by}"
        if text not in found.said:
            found.said.append(text)
    found.rows.append(FoundRow(line=None, cells=cells))


def _name(feature: Any) -> str:
    properties = feature.get("properties") if isinstance(feature, dict) else None
    given = {str(k).casefold(): v for k, v in properties.items()} if isinstance(properties, dict) else {}
    candidates = [
        *(given.get(key) for key in NAMES),
        feature.get("id") if isinstance(feature, dict) else None,
    ]
    for one in candidates:
        if isinstance(one, (str, int)) and not isinstance(one, bool) and str(one).strip():
            return " ".join(str(one).split())
    return ""
