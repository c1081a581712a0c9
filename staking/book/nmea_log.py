"""GGA sentences of an NMEA 0183 log: a receiver standing on one point.

A GGA gives the height above mean sea level (orthometric) and, in a field of its own, how far mean sea level
lies above the ellipsoid there. Its quality is 0 no fix, 1 by itself, 2 differential, 3 by the military code,
4 RTK fixed, 5 RTK float, 6 reckoned, 7 typed in, 8 simulated.
"""

from __future__ import annotations

from dataclasses import dataclass
from statistics import median
from typing import Any

from staking.base.errors import Mistake, WrongInput
from staking.book.found_points import Asked, Found, FoundRow, degrees_text, metres_text
from staking.book.standing import MOVED_M, SAYS_NOTHING, Position, stood

QUALITIES = {4: "RTK fixed", 5: "RTK float", 2: "differential", 3: "by the military code", 1: "standalone"}
"""Those that are used, the best first; only the best one of a log is."""
LEAST_SD_M = {4: 0.01, 5: 0.2, 2: 1.0, 3: 2.0, 1: 2.0}
"""What one fix of a session errs against the others at the least, east and north each, however still the
receiver seemed: common practice, no source."""
HEIGHT_FACTOR = 2.0
"""Heights are about twice as poor: common practice, no source."""
MOST_DAMAGED = 0.1
"""Share of damaged sentences from which on a log is not used."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sentence:
    quality: int
    lat: float
    lon: float
    altitude_m: float | None
    separation_m: float | None
    hdop: float | None


def looks_like_nmea(text: str) -> bool:
    """Return whether a text holds GGA sentences."""
    return any("GGA," in line and "$" in line for line in text.splitlines()[:200])


def nmea_points(file: str, text: str, asked: Asked) -> Found:
    """Return one fix: the mean of the log's best sentences.

    Parameters
    ----------
    file
        Name of the log.
    text
        Its contents.
    asked
        The point that the receiver stood on.
    """
    found = Found(file=file)
    if asked.point is None:
        found.wrong(
            "a log has no names of points",
            remedy="Say which point the receiver stood on: --point P1; one log for each point.",
        )
        return found
    sentences, damaged, useless = _sentences(text)
    total = len(sentences) + len(damaged) + useless
    if damaged and len(damaged) > max(1, MOST_DAMAGED * total):
        for line, read in damaged[:5]:
            found.wrong(DAMAGED, line=line, read=read)
        found.wrong(f"{len(damaged)} of {total} GGA sentences are damaged", remedy="Copy the log again.")
        return found
    if damaged:
        lines = ", ".join(str(line) for line, _ in damaged[:5])
        found.said.append(f"{file}: {len(damaged)} damaged sentences left out (line {lines})")
    if not sentences:
        found.wrong(
            f"no GGA sentence with a fix of a receiver ({useless} without)",
            expected="$GPGGA or $GNGGA with quality 1, 2, 3, 4 or 5",
        )
        return found
    best = next(quality for quality in QUALITIES if any(s.quality == quality for s in sentences))
    used = [s for s in sentences if s.quality == best]
    left = len(sentences) - len(used) + useless
    _add(found, asked.point, used, asked)
    how = f"{file}: {len(used)} positions {QUALITIES[best]} make one fix of {asked.point}"
    found.said.insert(0, how + (f", {left} of lesser quality left out" if left else ""))
    found.said.append(f"{file}: {SAYS_NOTHING}")
    return found


DAMAGED = "a damaged sentence: its checksum is off, or its minutes run past 60, or its heights are not in M"


def _sentences(text: str) -> tuple[list[_Sentence], list[tuple[int, str]], int]:
    """Return the sentences with a fix, the damaged ones with their lines, and how many have no fix."""
    try:
        import pynmea2
    except ImportError as error:
        remedy = "Install it: pip install 'staking[logs]'"
        problem = "reading logs needs the library pynmea2"
        raise WrongInput([Mistake(file="staking", problem=problem, remedy=remedy)]) from error
    good: list[_Sentence] = []
    damaged: list[tuple[int, str]] = []
    useless = 0
    for number, whole in enumerate(text.splitlines(), start=1):
        # Loggers put the time of day before a sentence.
        line = whole[max(whole.find("$"), 0) :].strip()
        if line[3:7] != "GGA,":
            continue
        try:
            gga = pynmea2.parse(line, check=True)
            quality = int(gga.gps_qual)
            if quality not in QUALITIES:
                useless += 1
                continue
            if not (gga.lat and gga.lat_dir and gga.lon and gga.lon_dir) or _misread(gga):
                damaged.append((number, whole))
                continue
            good.append(
                _Sentence(
                    quality=quality,
                    lat=float(gga.latitude),
                    lon=float(gga.longitude),
                    altitude_m=_number(gga.altitude),
                    separation_m=_number(gga.geo_sep),
                    hdop=_number(gga.horizontal_dil),
                )
            )
        except (ValueError, TypeError, AttributeError):
            # pynmea2's own error is a ValueError; fields that are no numbers stay text.
            damaged.append((number, whole))
    return good, damaged, useless


def _misread(gga: Any) -> bool:
    """Whether minutes run past 60, or heights are in another unit than the standard's metres."""
    past = any(float(angle) % 100 >= 60 for angle in (gga.lat, gga.lon))
    units = (gga.altitude_units, gga.geo_sep_units)
    return past or any(unit not in (None, "", "M") for unit in units)


def _number(value: object) -> float | None:
    return None if value in (None, "") else float(str(value))


def _add(found: Found, point: str, used: list[_Sentence], asked: Asked) -> None:
    ellipsoidal = asked.height_kind == "ellipsoidal"
    if ellipsoidal and any(s.separation_m is None for s in used):
        found.wrong(
            "no ellipsoidal heights: sentences lack the separation of geoid and ellipsoid",
            remedy="Leave --height-kind out, so that heights are those above mean sea level.",
        )
        return
    positions = []
    for s in used:
        height_m = s.altitude_m
        if ellipsoidal and height_m is not None:
            height_m += s.separation_m or 0.0
        positions.append(Position(lat=s.lat, lon=s.lon, height_m=height_m))
    mean = stood(positions)
    if mean.spread_m > MOVED_M:
        found.wrong(
            f"the positions scatter by {mean.spread_m:.0f} m: the receiver did not stand on one point",
            remedy="Log each point into a file of its own.",
        )
        return
    quality = used[0].quality
    dops = [s.hdop for s in used if s.hdop is not None]
    dop = median(dops) if dops else None
    # With a satellite geometry worse than 1 the same receiver errs that much more.
    least_m = LEAST_SD_M[quality] * max(dop or 1.0, 1.0)
    sd_m = max(mean.spread_m, least_m)
    cells = {
        "point": point,
        "lat": degrees_text(mean.lat),
        "lon": degrees_text(mean.lon),
        "sd_h": metres_text(sd_m),
        "session": asked.session or "",
        "note": f"mean of {mean.count} GGA; {QUALITIES[quality]}"
        + ("" if dop is None else f"; HDOP {dop:.1f}")
        + f"; scatter {mean.spread_m:.3f} m",
    }
    kind = asked.height_kind or "orthometric"
    if mean.height_m is not None and kind != "none":
        sd_height_m = max(mean.spread_height_m or 0.0, HEIGHT_FACTOR * least_m)
        cells |= {"height": metres_text(mean.height_m), "height_kind": kind, "sd_v": metres_text(sd_height_m)}
        found.said.append(f"{found.file}: heights are {kind}, as GGA sentences tell them")
    found.rows.append(FoundRow(line=None, cells=cells))
    why = "their scatter" if sd_m > least_m else f"what {QUALITIES[quality]} is good to at the best"
    found.said.append(f"{found.file}: sd_h {sd_m:.3f} m is {why}")
