"""GGA sentences of an NMEA 0183 log: a receiver standing on one point.

A GGA gives the height above mean sea level (orthometric) and, in a field of its own, how far mean sea level
lies above the ellipsoid there. Its quality is 0 no fix, 1 by itself, 2 differential, 3 by the military code,
4 RTK fixed, 5 RTK float, 6 reckoned, 7 typed in, 8 simulated.
"""

from __future__ import annotations

import math
import re
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
ALTITUDE_AT = 8
"""Field of the altitude, as it was written."""
MINUTE_M = 1852.0
"""Of latitude, along the meridian: the international nautical mile, a minute of arc to 0.5 %."""
_GGA = re.compile(r"\$[A-Z]{2}GGA,")
_ANY = re.compile(r"^[^,;\t$]*\$[A-Z]{2}([A-Z]{3}),", re.MULTILINE)
_MINUTES = re.compile(r"(\d{0,3})(\d\d)(?:\.(\d*))?")
"""Degrees, whole minutes and decimals of minutes, as GGA writes an angle."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sentence:
    quality: int
    lat: float
    lon: float
    altitude_m: float | None
    separation_m: float | None
    hdop: float | None
    step_m: float
    """Of its place: the last decimal of its minutes, along the meridian."""
    height_step_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class _Damaged:
    line: int
    read: str
    why: str


def looks_like_nmea(text: str) -> bool:
    """Return whether a text holds sentences of a receiver, GGA or others."""
    return _GGA.search(text) is not None or _ANY.search(text) is not None


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
        for one in damaged[:5]:
            found.wrong(f"a damaged sentence: {one.why}", line=one.line, read=one.read)
        found.wrong(f"{len(damaged)} of {total} GGA sentences are damaged", remedy="Copy the log again.")
        return found
    if damaged:
        lines = ", ".join(str(one.line) for one in damaged[:5])
        what = "1 damaged sentence" if len(damaged) == 1 else f"{len(damaged)} damaged sentences"
        found.said.append(f"{file}: {what} left out (line {lines})")
    if not total:
        kinds = sorted(set(_ANY.findall(text)))
        found.wrong(
            f"no GGA sentence, only {', '.join(kinds)}",
            remedy="Let the receiver log GGA: it has the place, the height and how good the fix is.",
        )
        return found
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
    counted = "1 position" if len(used) == 1 else f"{len(used)} positions"
    makes = "makes" if len(used) == 1 else "make"
    how = f"{file}: {counted} {QUALITIES[best]} {makes} one fix of {asked.point}"
    found.said.insert(0, how + (f", {left} of lesser quality left out" if left else ""))
    found.said.append(f"{file}: {SAYS_NOTHING}")
    return found


def _sentences(text: str) -> tuple[list[_Sentence], list[_Damaged], int]:
    """Return the sentences with a fix, the damaged ones with their lines, and how many have no fix."""
    try:
        import pynmea2
    except ImportError as error:
        remedy = "Install it: pip install 'staking[logs]'"
        problem = "reading logs needs the library pynmea2"
        raise WrongInput([Mistake(file="staking", problem=problem, remedy=remedy)]) from error
    good: list[_Sentence] = []
    damaged: list[_Damaged] = []
    useless = 0
    for number, whole in enumerate(text.splitlines(), start=1):
        # Loggers put the time of day before a sentence, receivers messages of their own.
        begun = _GGA.search(whole)
        if begun is None:
            continue
        line = whole[begun.start() :].strip()
        try:
            gga = pynmea2.parse(line, check=True)
            quality = int(gga.gps_qual)
            if quality not in QUALITIES:
                useless += 1
                continue
            why = _misread(gga)
            if why is not None:
                damaged.append(_Damaged(line=number, read=line, why=why))
                continue
            good.append(
                _Sentence(
                    quality=quality,
                    lat=_degrees(gga.lat, gga.lat_dir),
                    lon=_degrees(gga.lon, gga.lon_dir),
                    altitude_m=_number(gga.altitude),
                    separation_m=_number(gga.geo_sep),
                    hdop=_number(gga.horizontal_dil),
                    step_m=MINUTE_M / 10.0 ** _decimals(gga.lat),
                    height_step_m=1.0 / 10.0 ** _decimals(gga.data[ALTITUDE_AT]),
                )
            )
        except pynmea2.ChecksumError:
            why = "its checksum is off" if "*" in line else "it is cut off before its checksum, or has none"
            damaged.append(_Damaged(line=number, read=line, why=why))
        except (ValueError, TypeError, AttributeError):
            # pynmea2's own error is a ValueError; fields that are no numbers stay text.
            damaged.append(_Damaged(line=number, read=line, why="a field of it is no number"))
    return good, damaged, useless


def _misread(gga: Any) -> str | None:
    """Return what is wrong with a place or a height; None where nothing is."""
    if not (gga.lat and gga.lat_dir and gga.lon and gga.lon_dir):
        return "it has no place"
    for name, angle in (("latitude", gga.lat), ("longitude", gga.lon)):
        match = _MINUTES.fullmatch(angle)
        if match is None:
            return f"its {name} is no degrees and minutes"
        if int(match[2]) >= 60:
            return f"the minutes of its {name} run past 60"
    if any(unit not in (None, "", "M") for unit in (gga.altitude_units, gga.geo_sep_units)):
        return "its heights are not in metres (M)"
    return None


def _degrees(angle: str, side: str) -> float:
    """Return degrees, north and east positive, of an angle as GGA writes it."""
    match = _MINUTES.fullmatch(angle)
    assert match is not None, angle
    degrees = int(match[1] or 0) + float(f"{match[2]}.{match[3] or 0}") / 60.0
    return -degrees if side in ("S", "W") else degrees


def _decimals(number: str) -> int:
    return len(number.partition(".")[2])


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
    # A receiver that stands still writes the same rounded place again and again: step / √12, uniform law.
    step_m = min(s.step_m for s in used)
    rounding_m = step_m / math.sqrt(12.0)
    sd_m = math.hypot(max(mean.spread_m, least_m), rounding_m)
    if rounding_m > max(mean.spread_m, least_m) / 2.0:
        found.said.append(
            f"{found.file}: places are written to {step_m:.{0 if step_m > 10.0 else 2}f} m, and sd_h holds "
            "that: let the receiver write more decimals"
        )
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
        sd_height_m = math.hypot(
            max(mean.spread_height_m or 0.0, HEIGHT_FACTOR * least_m),
            min(s.height_step_m for s in used) / math.sqrt(12.0),
        )
        cells |= {"height": metres_text(mean.height_m), "height_kind": kind, "sd_v": metres_text(sd_height_m)}
        found.said.append(f"{found.file}: heights are {kind}, as GGA sentences tell them")
    elif mean.height_m is None and kind != "none":
        lacking = sum(s.altitude_m is None for s in used)
        found.said.append(f"{found.file}: {lacking} of {len(used)} have no altitude: heights are left out")
    found.rows.append(FoundRow(line=None, cells=cells))
    why = f"what {QUALITIES[quality]} is good to at the best"
    if mean.spread_m > least_m:
        why = "their scatter"
    elif rounding_m > least_m:
        why = "what they are written to"
    found.said.append(f"{found.file}: sd_h {sd_m:.3f} m is {why}")
