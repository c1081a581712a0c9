"""Logs and lists of points brought into a survey's folder."""

import json
import math

import numpy as np
import pytest

from staking.base.errors import WrongInput
from staking.book.folder import read_book
from staking.book.found_points import Asked
from staking.book.importing import imported
from staking.book.tablereader import read_table
from staking.book.tables import CONTROL, FIXES
from staking.cli import main

JOB = '[site]\nunits = "ft"\n[control]\nbenchmark = { point = "BM1", elevation = 100 }\n'
GPX = """<?xml version="1.0"?>
<gpx version="1.1" creator="hand" xmlns="http://www.topografix.com/GPX/1/1">
 <wpt lat="40.1250000" lon="-75.2500000"><ele>215.3</ele><time>2026-10-03T14:00:00Z</time>
  <name>P1</name></wpt>
 <wpt lat="40.1250010" lon="-75.2497850"><ele>216.1</ele><time>2026-10-03T14:05:00Z</time><name>P2</name>
  <cmt>rebar, flush</cmt></wpt>
 {track}
</gpx>
"""
HEADER = "point,lat,lon,height,height_kind,sd_h,sd_v,session,note"
NO_ASKED = Asked()
NO_HEIGHTS = Asked(height_kind="none")


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "yard").mkdir()
    (tmp_path / "yard" / "job.toml").write_text(JOB, encoding="utf-8")
    return tmp_path / "yard"


def saved(folder, name, text):
    path = folder.parent / name
    path.write_text(text, encoding="utf-8")
    return path


def fixes_of(folder, unit="ft"):
    read = read_table(FIXES, (folder / "fixes.csv").read_bytes(), unit=unit, defaults={})
    assert read.mistakes == ()
    return read.records


def control_of(folder, unit="ft"):
    read = read_table(CONTROL, (folder / "control.csv").read_bytes(), unit=unit, defaults={})
    assert read.mistakes == ()
    return read.records


def refused(files, folder, asked=NO_ASKED, **more):
    before = {path: path.read_bytes() for path in folder.iterdir()}
    with pytest.raises(WrongInput) as error:
        imported(files, folder, asked, **more)
    assert {path: path.read_bytes() for path in folder.iterdir()} == before
    return error.value.mistakes


def sentence(body):
    check = 0
    for sign in body:
        check ^= ord(sign)
    return f"${body}*{check:02X}"


def gga(minutes_n, minutes_w, *, quality=4, altitude="215.300", separation="-33.1", hdop="0.8", talker="GN"):
    return sentence(
        f"{talker}GGA,140000.00,40{minutes_n:010.7f},N,075{minutes_w:010.7f},W,{quality},17,{hdop},"
        f"{altitude},M,{separation},M,1.0,0001"
    )


def test_waypoints_become_fixes(folder):
    said = imported([saved(folder, "morning.gpx", GPX.format(track=""))], folder, NO_HEIGHTS)
    one, two = fixes_of(folder)
    assert (one.point, two.point) == ("P1", "P2")
    assert math.degrees(two.lon_rad) == pytest.approx(-75.2497850, abs=1e-12)
    assert one.height_m is None
    assert one.session == "morning"
    assert two.note == "rebar, flush"
    assert any("heights left out" in line for line in said)
    assert said[0].startswith("2 rows added to")


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("morning.gpx", GPX.format(track="")),
        ("list.csv", "point,lat,lon,height\nP1,40.125,-75.25,215.3 m\nP2,40.1251,-75.25,214 m\n"),
    ],
)
def test_heights_of_which_nothing_says_the_kind_are_asked_about_first(folder, name, text):
    # 2026-11-25: rows went in without heights, and the --height-kind advised then was refused or put the
    # points in twice.
    path = saved(folder, name, text)
    with pytest.raises(WrongInput, match="--height-kind none") as caught:
        imported([path], folder, NO_ASKED)
    assert len(caught.value.mistakes) == 1
    assert not (folder / "fixes.csv").exists()
    imported([path], folder, Asked(height_kind="orthometric", session="one"))
    assert fixes_of(folder)[0].height_m == pytest.approx(215.3)


@pytest.mark.parametrize("name", ["log.csv", "log.nmea", "log.geojson"])
def test_heights_are_left_out_of_every_kind_of_file(folder, name):
    text = {
        "log.csv": "point,lat,lon,height,height_kind,sd_v\nP1,40.125,-75.25,215.3 m,orthometric,0.1 m\n",
        "log.nmea": gga(7.5, 15.0),
        "log.geojson": '{"type": "Feature", "properties": {"name": "P1"}, "geometry": {"type": "Point", '
        '"coordinates": [-75.25, 40.125, 182.2]}}',
    }[name]
    point = "P1" if name == "log.nmea" else None
    imported([saved(folder, name, text)], folder, Asked(height_kind="none", point=point))
    (one,) = fixes_of(folder)
    assert (one.height_m, one.height_kind, one.sd_v_m) == (None, None, None)


def test_heights_of_waypoints_are_taken_when_it_is_said_what_they_are(folder):
    path = saved(folder, "morning.gpx", GPX.format(track=""))
    imported([path], folder, Asked(height_kind="orthometric", session="one"))
    one, _ = fixes_of(folder)
    assert (one.height_m, one.height_kind, one.session) == (pytest.approx(215.3), "orthometric", "one")


def test_what_stands_in_the_table_stays_byte_by_byte(folder):
    old = b'\xef\xbb\xbf# my fixes\r\nlon;lat;point;note\r\n-75.25; 40.125;P9;"by; the oak"\r\n# end'
    (folder / "Fixes.CSV").write_bytes(old)
    imported([saved(folder, "morning.gpx", GPX.format(track=""))], folder, NO_HEIGHTS)
    new = (folder / "Fixes.CSV").read_bytes()
    assert new == old.replace(b"point;note\r\n", b"point;note;session\r\n", 1) + (
        b"\r\n-75.250000000;40.125000000;P1;;morning\r\n"
        b"-75.249785000;40.125001000;P2;rebar, flush;morning\r\n"
    )
    assert not (folder / "fixes.csv").exists()


def test_the_same_file_twice_is_asked_about(folder):
    path = saved(folder, "morning.gpx", GPX.format(track=""))
    imported([path], folder, NO_HEIGHTS)
    mistakes = refused([path], folder, NO_HEIGHTS)
    assert [m.read for m in mistakes] == ["P1", "P2"]
    assert "fixes.csv row 2 has the point in session morning already" in str(mistakes[0])
    imported([path], folder, NO_HEIGHTS, again=True)
    imported([path], folder, Asked(session="evening", height_kind="none"))
    assert len(fixes_of(folder)) == 6


def test_nothing_is_written_when_one_of_the_files_is_wrong(folder):
    good = saved(folder, "good.gpx", GPX.format(track=""))
    bad = saved(folder, "bad.csv", "name,easting\nP3,12\n")
    (mistake,) = refused([good, bad], folder, NO_HEIGHTS)
    assert mistake.file == "bad.csv"
    assert "east without north" in str(mistake)


def test_a_track_needs_a_name_and_becomes_one_fix(folder):
    points = "".join(
        f'<trkpt lat="{40.125 + d * 1e-6}" lon="-75.25"><ele>215</ele></trkpt>' for d in (-1, 0, 1)
    )
    track = f"<trk><trkseg>{points}</trkseg></trk>"
    path = saved(folder, "pin.gpx", GPX.format(track=track))
    said = imported([path], folder, Asked(point="P7", height_kind="none"))
    (fix,) = fixes_of(folder)
    assert (fix.point, math.degrees(fix.lat_rad), fix.sd_h_m) == ("P7", pytest.approx(40.125), None)
    assert any("says nothing of the shift" in line for line in said)
    assert any("2 waypoints left out" in line for line in said)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("<gpx><wpt lat='1' lon='2'/></gpx>", "waypoint 1 has no name"),
        ("<gpx><wpt lat='1'/></gpx>", "longitude is mandatory"),
        ("<gpx>\n<wpt lat='1' lon='2'></gpx>", "line 2"),
        ("<gpx></gpx>", "no points"),
        ("<gpx><wpt lat='91' lon='2'><name>A</name></wpt></gpx>", "lat"),
        ("<gpx><trk><trkseg><trkpt lat='1' lon='2'/></trkseg></trk></gpx>", "--point P1"),
    ],
)
def test_gpx_that_cannot_be_used(folder, text, says):
    mistakes = refused([saved(folder, "a.gpx", text)], folder)
    assert says in "\n".join(map(str, mistakes))


def test_a_log_on_a_pin_becomes_one_fix_with_its_scatter(folder):
    rng = np.random.default_rng(1)
    spread = rng.normal(0, 0.03, size=(300, 2))
    east = 1852.0 * math.cos(math.radians(40.125))
    lines = [gga(7.5 + n / 1852.0, 15.0 - e / east) for e, n in spread]
    lines[7] = gga(7.5, 15.0, quality=1)
    path = saved(folder, "pin.nmea", "\n".join(["$GNRMC,,V*xx", *lines]))
    said = imported([path], folder, Asked(point="P1", session="morning"))
    (fix,) = fixes_of(folder)
    assert math.degrees(fix.lat_rad) == pytest.approx(40.125, abs=0.01 / 111_000)
    assert math.degrees(fix.lon_rad) == pytest.approx(-75.25, abs=0.01 / 85_000)
    assert (fix.height_m, fix.height_kind) == (pytest.approx(215.3), "orthometric")
    assert fix.sd_h_m == pytest.approx(0.03, rel=0.15)
    assert fix.sd_v_m == pytest.approx(0.02)
    assert "299 GGA" in fix.note
    assert any("1 of lesser quality left out" in line for line in said)
    assert any("says nothing of the shift" in line for line in said)


def test_a_still_receiver_is_not_believed_to_be_better_than_its_kind(folder):
    lines = [gga(7.5, 15.0, quality=1, hdop="1.5")] * 5
    imported([saved(folder, "pin.log", "\n".join(lines))], folder, Asked(point="P1"))
    (fix,) = fixes_of(folder)
    assert fix.sd_h_m == pytest.approx(2.0 * 1.5)
    assert fix.sd_v_m == pytest.approx(2 * 2.0 * 1.5)


def test_ellipsoidal_heights_of_a_log_are_altitude_plus_separation(folder):
    path = saved(folder, "pin.log", gga(7.5, 15.0))
    imported([path], folder, Asked(point="P1", height_kind="ellipsoidal"))
    (fix,) = fixes_of(folder)
    assert (fix.height_m, fix.height_kind) == (pytest.approx(215.3 - 33.1), "ellipsoidal")


@pytest.mark.parametrize(
    ("lines", "says"),
    [
        ([gga(7.5, 15.0)[:-1] + "#"] * 3, "line 1"),
        # 2026-11-28: 67.5 minutes went in as 1° 7.5', and heights in another unit as metres.
        ([gga(67.5, 15.0)] * 3, "minutes of its latitude run past 60"),
        ([sentence(gga(7.5, 15.0)[1:-3].replace(",M,", ",F,", 1))] * 3, "not in metres"),
        (["$GPGGA,140000,,,,,0,00,,,M,,M,,*66"], "no GGA sentence with a fix"),
        ([gga(7.5, 15.0), gga(7.6, 15.0)], "did not stand on one point"),
    ],
)
def test_logs_that_cannot_be_used(folder, lines, says):
    mistakes = refused([saved(folder, "a.log", "\n".join(lines))], folder, Asked(point="P1"))
    assert says.replace("line", "row") in "\n".join(map(str, mistakes))


def test_one_torn_line_of_a_log_is_left_out_and_told(folder):
    lines = [gga(7.5, 15.0)] * 20 + [gga(7.5, 15.0)[:40]]
    said = imported([saved(folder, "a.log", "\n".join(lines))], folder, Asked(point="P1"))
    assert any("1 damaged sentence left out (line 21)" in line for line in said)


@pytest.mark.parametrize("decimals", [0, 1, 4, 7])
def test_sd_h_holds_the_last_decimal_of_the_minutes(folder, decimals):
    # 2026-11-28: an RTK log to 0.0001' (185 mm) went in with 10 mm, one in whole minutes was "damaged".
    place = f"40{7.0:0{3 + decimals if decimals else 2}.{decimals}f},N,075{15.0:.{decimals}f},W"
    line = sentence(f"GNGGA,140000.00,{place},4,17,0.8,215.300,M,-33.1,M,1.0,0001")
    said = imported([saved(folder, "a.log", "\n".join([line] * 5))], folder, Asked(point="P1"))
    (fix,) = fixes_of(folder)
    assert math.degrees(fix.lat_rad) == pytest.approx(40 + 7 / 60, abs=1e-9)
    # A minute of latitude is a nautical mile, 1852 m by definition; a step errs by step / √12 (uniform law).
    assert fix.sd_h_m == pytest.approx(math.hypot(0.01, 1852.0 / 10**decimals / math.sqrt(12.0)), abs=6e-4)
    assert any("write more decimals" in line for line in said) == (decimals < 7)
    assert fix.sd_v_m == pytest.approx(0.02, abs=1e-3)


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b" \r\n", "the file is empty"),
        (b"$GPRMC,120000,A,4203.0,N,07436.0,W,0,0,031026,,,A*5C\r\n", "no GGA sentence, only RMC"),
        (gga(7.5, 15.0)[:-3].encode() + b"\n" + gga(7.5, 15.0)[:-3].encode(), "or has none"),
    ],
)
def test_what_is_no_log_says_what_it_is(folder, data, says):
    # 2026-11-28: all were "a list of points" or had a checksum, minutes or heights that were off.
    path = folder.parent / "a.log"
    path.write_bytes(data)
    assert says in "\n".join(map(str, refused([path], folder, Asked(point="P1"))))


def test_sentences_between_a_receiver_s_own_bytes_are_found(folder):
    # 2026-11-28: such a log was "not readable as text; save it again as CSV UTF-8".
    path = folder.parent / "a.log"
    line = gga(7.5, 15.0).encode()
    path.write_bytes(b"\xb5b\x01\x07\x00\x00\xff$\x81" + line + b"\r\n\x00\xd3" + line + b"\r\n" + line[:9])
    said = imported([path], folder, Asked(point="P1"))
    assert said[1].startswith("a.log: 2 positions RTK fixed make one fix of P1")


def test_sentences_without_altitude_say_that_heights_are_left_out(folder):
    lines = [gga(7.5, 15.0), gga(7.5, 15.0, altitude="")]
    said = imported([saved(folder, "a.log", "\n".join(lines))], folder, Asked(point="P1"))
    assert "a.log: 1 of 2 have no altitude: heights are left out" in said
    assert fixes_of(folder)[0].height_m is None


def test_a_log_without_a_point_is_refused(folder):
    (mistake,) = refused([saved(folder, "a.log", gga(7.5, 15.0))], folder)
    assert "--point P1" in str(mistake)


def feature(place, **properties):
    return {
        "type": "Feature",
        "geometry": {"type": "Point", "coordinates": place},
        "properties": properties,
    }


def geojson(*features, **more):
    return json.dumps({"type": "FeatureCollection", "features": list(features), **more})


# 2026-11-25
def test_a_waypoint_without_its_longitude_is_told_in_plain_words(folder):
    told = "\n".join(map(str, refused([saved(folder, "a.gpx", "<gpx><wpt lat='1'/></gpx>")], folder)))
    assert "None" not in told
    assert "every point needs its lat and lon" in told


def test_geojson_has_longitude_first(folder):
    text = geojson(feature([-75.25, 40.125, 182.2], Name="P1"), feature([-75.2497, 40.1251], id=7))
    said = imported([saved(folder, "a.json", text)], folder, NO_ASKED)
    one, two = fixes_of(folder)
    assert (math.degrees(one.lat_rad), math.degrees(one.lon_rad)) == pytest.approx((40.125, -75.25))
    assert (one.height_m, one.height_kind) == (pytest.approx(182.2), "ellipsoidal")
    assert two.point == "7"
    assert any("RFC 7946" in line for line in said)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (geojson(feature([40.125, -95.25], name="P1")), "Latitude seems to stand first"),
        (geojson(feature([-75.25, 40.125])), "has no name"),
        (geojson(feature(["a", 40.125], name="P1")), "has no coordinates"),
        (geojson(feature([500.0, 40.0], name="P1")), "lon"),
        (geojson(feature([1, 2], name="P"), crs={"properties": {"name": "EPSG:2263"}}), "another datum"),
        ('{"type": "Topology"}', "not GeoJSON"),
        ('{"type": "Feature",\n oops}', "row 2"),
        (geojson(), "no points"),
    ],
)
def test_geojson_that_cannot_be_used(folder, text, says):
    mistakes = refused([saved(folder, "a.geojson", text)], folder)
    assert says in "\n".join(map(str, mistakes))


@pytest.mark.parametrize(
    "header",
    [
        "Name,Northing,Easting,Elev,Code",
        "E,N,Z,Point ID,Desc",
        "pid,n,e,z,d",
        "POINT_NO,east,north,RL,code",
    ],
)
def test_columns_are_known_by_name_and_not_by_order(folder, header):
    cells = {
        **dict.fromkeys(("name", "point id", "pid", "point_no"), "P1"),
        **dict.fromkeys(("easting", "e", "east"), "120.5"),
        **dict.fromkeys(("northing", "n", "north"), "-40"),
        **dict.fromkeys(("elev", "z", "elevation", "rl"), "100.25"),
        **dict.fromkeys(("code", "desc", "d"), "rebar"),
    }
    row = ",".join(cells[name.casefold()] for name in header.split(","))
    imported([saved(folder, "list.csv", f"{header}\n{row}\n")], folder, NO_ASKED)
    (point,) = control_of(folder)
    want = (120.5 * 0.3048, -40 * 0.3048, 100.25 * 0.3048)
    assert (point.east_m, point.north_m, point.elevation_m) == pytest.approx(want)
    assert (point.point, point.note) == ("P1", "rebar")


def test_a_unit_behind_a_name_counts_for_the_column(folder):
    imported([saved(folder, "a.txt", "pt\tE (m)\tN (m)\tElev [ft]\nP1\t10\t20\t5\n")], folder, NO_ASKED)
    (point,) = control_of(folder)
    assert (point.east_m, point.north_m, point.elevation_m) == pytest.approx((10, 20, 5 * 0.3048))


@pytest.mark.parametrize(
    ("header", "foot_m"),
    [
        # The US survey foot is 1200/3937 m, the international one 0.3048 m exactly: NIST SP 811 (2008),
        # appendix B.6 (from memory).
        ("P,Northing (usft),Easting (US survey ft),Elev (sFT)", 1200 / 3937),
        ("pt,North_usft,Easting [U.S. Survey Feet],Z (ftUS)", 1200 / 3937),
        ("pt,Northing US survey ft,Easting US ft,Elev. (US-ft)", 1200 / 3937),
        ("pt,N (ift),E (int'l ft),Z (International Feet)", 0.3048),
        ("pt,Northing ft,Easting (ft),Elevation (NAVD88)", 0.3048),
        ("pt,Northing m,east (metres),rl (meter)", 1.0),
    ],
)
@pytest.mark.parametrize("unit", ["ft", "m"])
def test_feet_of_a_list_are_those_that_its_header_names(folder, header, foot_m, unit):
    """2026-11-28: US survey feet were refused."""
    (folder / "job.toml").write_text(JOB.replace('"ft"', f'"{unit}"'), encoding="utf-8")
    elevation = "512.3 ft" if "NAVD" in header else "512.3"
    imported([saved(folder, "a.csv", f"{header}\nP1,650123.45,1301234.567,{elevation}\n")], folder, NO_ASKED)
    (one,) = control_of(folder, unit)
    want = (1301234.567 * foot_m, 650123.45 * foot_m, 512.3 * foot_m)
    assert (one.east_m, one.north_m, one.elevation_m) == pytest.approx(want, abs=1e-6)


@pytest.mark.parametrize(
    ("header", "cells"),
    [("N (usft),E (usft)", "196850,984250"), ("N (m),E (m)", "60000,300000"), ("N,E (ft)", "196850,984250")],
)
def test_on_a_grid_of_survey_feet_all_lists_give_its_own_feet(folder, header, cells):
    # EPSG:2263, New York Long Island, in US survey feet; its numbers in feet are the grid's own.
    # 196850 = 60000 * 3937/1200.
    grid = '[site]\ngrid = "EPSG:2263"\n'
    (folder / "job.toml").write_text(JOB.replace("[site]\n", grid, 1), encoding="utf-8")
    imported([saved(folder, "a.csv", f"pt,{header}\nP1,{cells}\n")], folder, NO_ASKED)
    (one,) = control_of(folder)
    assert one.north_m / 0.3048 == pytest.approx(196850, abs=1e-4)
    assert one.east_m / 0.3048 == pytest.approx(984250, abs=1e-4)


@pytest.mark.parametrize(("x_is", "want"), [("east", (7, 9)), ("north", (9, 7))])
def test_where_x_runs_is_said_by_the_person(folder, x_is, want):
    """2026-11-28: x was taken for east, whatever the surveyor's country."""
    imported([saved(folder, "a.csv", "pt,X (m),Y (m)\nP1,7,9\n")], folder, Asked(x_is=x_is))
    (one,) = control_of(folder)
    assert (one.east_m, one.north_m) == pytest.approx(want)


@pytest.mark.parametrize(
    ("header", "lat", "lon"),
    [
        ("Lat,Lon", "40.125", "-75.25"),
        ("Latitude (DMS),Longitude (DMS)", "40°07'30.00\"N", "75°15'00.00\"W"),
        ("Latitude,Longitude", "N 40 07 30", "W 75 15 00"),
        ("Lat,Long", "40-07-30.0", "-75-15-00.0"),
        ("Lat N,Long W", "40.125", "75.25"),
        ("Lat (N),Long (west)", "40 07 30", "75 15 00"),
    ],
)
def test_latitudes_in_every_notation(folder, header, lat, lon):
    """2026-11-28: the W of a heading was passed over, and the point lay as far east."""
    row = f'P1,"{lat.replace(chr(34), 2 * chr(34))}","{lon.replace(chr(34), 2 * chr(34))}"'
    imported([saved(folder, "a.csv", f"pt,{header}\n{row}\n")], folder, NO_ASKED)
    (fix,) = fixes_of(folder)
    assert math.degrees(fix.lat_rad) == pytest.approx(40.125, abs=1e-12)
    assert math.degrees(fix.lon_rad) == pytest.approx(-75.25, abs=1e-12)


@pytest.mark.parametrize(("kind", "height"), [("ellipsoidal", 182.2), ("orthometric", 215.3), ("none", None)])
def test_of_several_columns_of_heights_one_is_asked_for(folder, kind, height):
    """2026-11-28: refused, whatever --height-kind said."""
    text = "pt,lat,lon,Ellip Ht (m),Ortho Ht (m)\nP1,40.125,-75.25,182.2,215.3\n"
    path = saved(folder, "a.csv", text)
    assert "--height-kind" in str(refused([path], folder)[0])
    imported([path], folder, Asked(height_kind=kind))
    (fix,) = fixes_of(folder)
    assert fix.height_m == (None if height is None else pytest.approx(height))


def test_a_list_with_latitudes_goes_to_the_fixes(folder):
    text = "id,Longitude,Latitude,Ellipsoidal Height (m),junk\nP1,-75.25,40.125,182.2,x\n"
    said = imported([saved(folder, "rtk.csv", text)], folder, NO_ASKED)
    (fix,) = fixes_of(folder)
    assert math.degrees(fix.lat_rad) == pytest.approx(40.125)
    assert (fix.height_m, fix.height_kind, fix.session) == (pytest.approx(182.2), "ellipsoidal", "rtk")
    assert "rtk.csv: not used: junk" in said


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("P1,100.0,200.0,30.0\nP2,110,200,31\n", "no column names the points"),
        ("name,e,easting,north\nP1,1,2,3\n", "e and easting both name the east"),
        ("name,x,y,z\nP1,1,2,3\n", "--x east or --x north"),
        ("name,lat,lon,east,north\nP1,1,2,3,4\n", "two kinds of coordinates"),
        ("name,lat\nP1,1\n", "latitude without longitude"),
        ("name,what\nP1,1\n", "no column holds a coordinate"),
        ("name,E (rod),N,lat\nP1,1,2,3\n", "unknown unit"),
        ("name,E (rod),N,lat\nP1,1,2,3\n", "two kinds of coordinates"),
        ("name,east,north\nP1,ten,2\n", "list.csv, row 2, column east"),
        ("name,east,north\n# remark\nP1,1,2\nP1,1,3\n", "list.csv row 3 has the point"),
        ("name,east,north\nP1,1,2,5\n", "4 cells under 3 column names"),
        ("name,east,north\n,1,2\n", "row 2, column point"),
        ("name,east,north\n", "no row below"),
        ("", "empty"),
    ],
)
def test_lists_that_cannot_be_used(folder, text, says):
    mistakes = refused([saved(folder, "list.csv", text)], folder)
    assert says in "\n".join(map(str, mistakes))


def test_a_control_point_that_is_there_already_stays(folder):
    (folder / "control.csv").write_text("point,east,north\nP1,0,0\n", encoding="utf-8")
    (mistake,) = refused([saved(folder, "list.csv", "name,e,n\np1,5,6\n")], folder, again=True)
    assert "control.csv row 2 has the point already" in str(mistake)


def test_a_table_with_mistakes_is_put_right_first(folder):
    (folder / "fixes.csv").write_text(f"{HEADER}\nP1,ninety,1,,,,,,\n", encoding="utf-8")
    (mistake,) = refused([saved(folder, "a.gpx", GPX.format(track=""))], folder, NO_HEIGHTS)
    assert (mistake.file, mistake.row, mistake.column) == ("fixes.csv", 2, "lat")


def test_no_folder_and_no_file(tmp_path, folder):
    with pytest.raises(WrongInput, match="no such file"):
        imported([tmp_path / "missing.gpx"], folder, NO_ASKED)
    with pytest.raises(WrongInput, match="the folder last"):
        imported([folder], folder, NO_ASKED)
    with pytest.raises(WrongInput, match=r"job\.toml"):
        imported([saved(folder, "a.gpx", GPX.format(track=""))], tmp_path / "elsewhere", NO_ASKED)


def test_the_command(folder, capsys):
    path = saved(folder, "morning.gpx", GPX.format(track=""))
    with pytest.raises(SystemExit) as done:
        main(["import", str(path), str(folder), "--height-kind", "orthometric"])
    assert done.value.code == 0
    assert "2 rows added to" in capsys.readouterr().out
    with pytest.raises(SystemExit) as done:
        main(["import", str(path), str(folder)])
    assert done.value.code == 2
    told = capsys.readouterr()
    assert "nothing was written" in told.err
    (folder / "rises.csv").write_text("from,to,rise\nBM1,P1,1\nBM1,P2,2\n", encoding="utf-8")
    assert len(read_book(folder, purpose="check").fixes) == 2


def test_heights_of_two_kinds_are_refused_before_they_are_written(folder):
    """2026-11-25: import took heights of two kinds, and check then refused the folder."""
    imported(
        [saved(folder, "a.csv", "point,lat,lon,height,height_kind\nP1,40.125,-75.25,215.3 m,orthometric\n")],
        folder,
        NO_ASKED,
    )
    path = saved(folder, "b.geojson", geojson(feature([-75.25, 40.125, 182], name="P3")))
    first, *_ = refused([path], folder, NO_ASKED)
    assert first.file == "b.geojson"
    assert "heights of two kinds" in first.problem
    assert "fixes.csv row 2" in first.problem


@pytest.mark.parametrize(
    ("before", "one", "two", "says"),
    [
        (True, [40.125, -75.25], [40.1251, -75.25], "exchanged"),
        (False, [-75.25, 40.125], [75.25, 40.125], "West and south are minus"),
    ],
)
def test_a_fix_on_another_site_is_refused(folder, before, one, two, says):
    """2026-11-25: latitude and longitude exchanged in a GeoJSON went into fixes.csv."""
    if before:
        imported([saved(folder, "morning.gpx", GPX.format(track=""))], folder, NO_HEIGHTS)
    else:
        job = (folder / "job.toml").read_text(encoding="utf-8")
        place = "[site]\nlatitude = 40.125\nlongitude = -75.25\n"
        (folder / "job.toml").write_text(job.replace("[site]\n", place, 1), encoding="utf-8")
    mistakes = refused(
        [saved(folder, "b.geojson", geojson(feature(one, name="P8"), feature(two, name="P9")))],
        folder,
        NO_ASKED,
    )
    assert len(mistakes) == (2 if before else 1)
    assert all("km from" in m.problem and says in m.remedy for m in mistakes)


def test_an_east_without_a_north_is_refused(folder):
    """2026-11-25: it went into control.csv, where the point then had no place."""
    path = saved(folder, "list.csv", "point,east,north,elevation\nP7,10,20,3\nP8,10,,3\n")
    (only,) = refused([path], folder, NO_ASKED)
    assert (only.row, only.column) == (3, "north")


def test_points_of_a_list_that_will_shape_the_ground_are_told(folder):
    """2026-11-25: the points of an imported list became ground shots, unsaid."""
    (folder / "points.csv").write_text("point,kind\nP7,pin\n", encoding="utf-8")
    path = saved(folder, "list.csv", "point,east,north,elevation\nP7,10,20,3\nG8,10,5,3\nBM2,,,4\nG9,4,5,\n")
    said = imported([path], folder, NO_ASKED)
    assert said[1] == "these shape the ground, unless points.csv says of them pin or ground = no: G8"


HEIGHTS = "point,lat,lon,{name}\nP1,40.125,-75.25,{height}\n"


@pytest.mark.parametrize("name", ["Ellipsoidal height", "orthometric height", "HAE", "MSL"])
def test_a_receiver_s_heights_without_a_unit_are_asked_about_in_feet(folder, name):
    """2026-11-28: 182.2 m went into a survey in feet as 182.2 ft without a word."""
    text = HEIGHTS.format(name=name, height="182.2")
    (only,) = refused([saved(folder, "rtk.csv", text)], folder)
    assert "read as ft" in only.problem
    assert f"{name} (m)" in only.expected
    imported([saved(folder, "rtk.csv", HEIGHTS.format(name=f"{name} (m)", height="182.2"))], folder, NO_ASKED)
    (fix,) = fixes_of(folder)
    assert fix.height_m == pytest.approx(182.2)


@pytest.mark.parametrize(
    ("units", "name", "height", "asked", "metres"),
    [
        ("m", "Ellipsoidal height", "182.2", NO_ASKED, 182.2),
        ("ft", "Ellipsoidal height", "182.2 m", NO_ASKED, 182.2),
        ("ft", "Ellipsoidal height", "182.2", NO_HEIGHTS, None),
    ],
)
def test_heights_whose_unit_is_known_or_that_are_left_out_are_not_asked_about(
    folder, units, name, height, asked, metres
):
    (folder / "job.toml").write_text(JOB.replace('"ft"', f'"{units}"'), encoding="utf-8")
    imported([saved(folder, "rtk.csv", HEIGHTS.format(name=name, height=height))], folder, asked)
    (fix,) = fixes_of(folder, units)
    assert fix.height_m == (None if metres is None else pytest.approx(metres))


def test_the_unit_that_bare_heights_are_taken_in_is_told(folder):
    """2026-11-28: docs/book.md says that units are told; of heights none was."""
    text = HEIGHTS.format(name="height", height="598")
    said = imported([saved(folder, "rtk.csv", text)], folder, Asked(height_kind="orthometric"))
    assert "rtk.csv: heights without a unit are in the survey's, ft" in said


FRAME = """
[array]
azimuth = 180
tilt = 25
modules_along = 4
modules_up = 2
module = { along = "5 ft", up = "3 ft" }
[frame]
piers_per_beam = 3
bay = "8 ft"
beams_at = ["1 ft", "5 ft"]
stack = "5 in"
takeout = "2 in"
post_od = "2.375 in"
beam_od = "2.375 in"
"""


def test_a_waypoint_with_a_pier_s_name_is_refused_as_check_would(folder):
    """2026-11-28: it was added, and then check refused the survey."""
    (folder / "job.toml").write_text(JOB + FRAME, encoding="utf-8")
    path = saved(folder, "way.gpx", GPX.format(track="").replace("<name>P2</name>", "<name>b3</name>"))
    (only,) = refused([path], folder, NO_HEIGHTS)
    assert only.read == "b3"
    assert "the name of a pier" in only.problem
    other = saved(folder, "on.gpx", GPX.format(track="").replace("<name>P2</name>", "<name>B4</name>"))
    imported([other], folder, NO_HEIGHTS)


GRID = 'grid = "EPSG:32618"\nlatitude = 40.125\nlongitude = -75.25\n'
# UTM zone 18 north of 40.125, -75.25: by pyproj, to a metre.
EAST, NORTH = 478700, 4441700


@pytest.mark.parametrize("home", [True, False])
def test_east_and_north_exchanged_on_a_grid_are_named_as_such(folder, home):
    """2026-11-28: headings N, E over east, north went into control.csv, and the remedy spoke of zones."""
    site = GRID if home else GRID.split("latitude", maxsplit=1)[0]
    (folder / "job.toml").write_text(JOB.replace('"ft"\n', f'"m"\n{site}'), encoding="utf-8")
    text = f"name,N,E,elev\nP1,{EAST},{NORTH},60\nP2,{EAST + 20},{NORTH + 5},61\n"
    (only,) = refused([saved(folder, "list.csv", text)], folder)
    assert (only.file, only.row) == ("list.csv", 2)
    assert "East and north are exchanged" in only.remedy
    right = text.replace("N,E", "E,N")
    imported([saved(folder, "list.csv", right)], folder, NO_ASKED)
    assert len(control_of(folder, "m")) == 2


def test_numbers_of_the_survey_s_own_on_a_grid_are_no_exchange(folder):
    (folder / "job.toml").write_text(JOB.replace('"ft"\n', f'"m"\n{GRID}'), encoding="utf-8")
    imported([saved(folder, "list.csv", "name,N,E\nP1,0,0\nP2,3,20\n")], folder, NO_ASKED)
    assert len(control_of(folder, "m")) == 2
