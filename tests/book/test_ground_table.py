"""Large tables of ground points: read whole, every mistake with its row, other kinds of file by libraries."""

import io
import sys

import numpy as np
import pytest

from staking.base.errors import WrongInput
from staking.book.ground_table import MOST_TOLD, ground_table, read_named_table, table_mistakes
from staking.book.jobreader import JobRead
from staking.book.records import GroundAssumed, Job, Site

THREE = "east,north,elevation\n0,0,10\n5,0,11\n0,5,12.5\n"


def read(text, file="ground.csv", **more):
    data = text if isinstance(text, bytes) else text.encode()
    return ground_table(file, data, **{"scale": 1.0, "sd_m": 0.05, **more})


def wrong(*args, **more):
    with pytest.raises(WrongInput) as told:
        read(*args, **more)
    return told.value.mistakes


@pytest.mark.parametrize(
    "text",
    [
        THREE,
        "\ufeff" + THREE,
        THREE.replace(",", ";"),
        THREE.replace(",", "\t"),
        THREE.replace("\n", "\r\n"),
        "# a remark\n\n" + THREE + "\n# another\n\n",
        "id, Elevation ,NORTH,east,class\na,10,0,0,2\nb,11,0,5,2\nc,12.5,5,0,2\n",
        'east,north,elevation\n"0","0","10"\n 5 ,0,11\n0,5,1.25e1\n',
    ],
)
def test_the_same_points_however_they_are_typed(text):
    table = read(text)
    np.testing.assert_array_equal(table.en_m, [(0, 0), (5, 0), (0, 5)])
    np.testing.assert_array_equal(table.z_m, [10, 11, 12.5])


def test_units_and_shift():
    table = read(THREE, scale=0.3048, shift_m=1.0)
    np.testing.assert_allclose(table.en_m[1], (5 * 0.3048, 0))
    np.testing.assert_allclose(table.z_m, np.array([10, 11, 12.5]) * 0.3048 + 1.0)


def test_every_wrong_cell_is_told_with_its_row():
    mistakes = wrong("# remark\neast,north,elevation\n0,0,10\n5,x,11\n0,5\n1,nan,5' 3\"\n2,2,2\n")
    assert [(m.row, m.column, m.read) for m in mistakes] == [
        (4, "north", "x"),
        (5, "elevation", ""),
        (6, "north", "nan"),
        (6, "elevation", "5' 3\""),
    ]
    assert all(m.file == "ground.csv" and m.expected for m in mistakes)


def test_of_very_many_wrong_cells_the_first_are_told_and_the_others_counted():
    mistakes = wrong("east,north,elevation\n" + "0,0,?\n" * 5000)
    assert len(mistakes) == MOST_TOLD + 1
    assert f"{5000 - MOST_TOLD:,} more" in mistakes[-1].problem


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "no column east"),
        ("\n\n", "no column east"),
        ("x,y,z\n0,0,0\n", "no column east"),
        ("east,north,height\n0,0,0\n", "no column elevation"),
        ("east,east,north,elevation\n0,0,0,0\n", "two columns east"),
        ("east,north,elevation\n", "0 points"),
        ("east,north,elevation\n1,1,1\n2,2,2\n", "2 points"),
        ("east,north,elevation\n1,1,1\n1,2,2\n1,3,2\n", "one line"),
        (b"\x00\x01\x02\xff", "not readable as text"),
    ],
)
def test_a_table_that_cannot_be_used(text, said):
    assert said in wrong(text)[0].problem


def las_bytes(points, classes, scale=0.001):
    laspy = pytest.importorskip("laspy")
    header = laspy.LasHeader(point_format=0, version="1.2")
    header.scales = [scale] * 3
    las = laspy.LasData(header)
    las.x, las.y, las.z = np.asarray(points).T
    las.classification = np.asarray(classes)
    data = io.BytesIO()
    las.write(data)
    return data.getvalue()


POINTS = np.array([(100.5, 20.25, 7.125), (103.0, 20.0, 7.5), (101.0, 24.0, 8.0), (102.0, 22.0, 15.0)])


def test_of_las_the_points_classed_as_ground_are_taken():
    table = read(las_bytes(POINTS, [2, 2, 2, 5]), "tile.LAS")
    np.testing.assert_allclose(np.column_stack([table.en_m, table.z_m]), POINTS[:3], atol=1e-9)
    assert table.note == "1 points not classed as ground were left out"
    assert len(read(las_bytes(POINTS, [0, 0, 0, 1]), "tile.las").z_m) == 4
    assert "none of its points is classed" in read(las_bytes(POINTS, [0, 0, 0, 1]), "tile.las").note


def test_of_geotiff_the_middles_of_pixels_are_taken():
    rasterio = pytest.importorskip("rasterio")
    z = np.array([[1.0, 2.0, 3.0], [4.0, -9999.0, 6.0]], dtype=np.float32)
    with rasterio.MemoryFile() as memory:
        with memory.open(
            driver="GTiff",
            width=3,
            height=2,
            count=1,
            dtype="float32",
            nodata=-9999.0,
            transform=rasterio.Affine(2.0, 0.0, 1000.0, 0.0, -2.0, 500.0),
        ) as picture:
            picture.write(z, 1)
        data = memory.read()
    table = read(data, "dem.tif")
    # West edge 1000, north edge 500, pixels of 2: the first middle is 1001, 499.
    np.testing.assert_allclose(table.en_m, [(1001, 499), (1003, 499), (1005, 499), (1001, 497), (1005, 497)])
    np.testing.assert_allclose(table.z_m, [1, 2, 3, 4, 6])


@pytest.mark.parametrize("file", ["tile.laz", "tile.las", "dem.tiff"])
def test_files_that_are_not_what_they_are_called(file):
    (mistake,) = wrong(b"east,north,elevation\n1,2,3\n", file)
    assert "cannot be read as" in mistake.problem


@pytest.mark.parametrize(("file", "library"), [("tile.laz", "laspy"), ("dem.tif", "rasterio")])
def test_without_the_library_it_says_what_to_do(monkeypatch, file, library):
    monkeypatch.setitem(sys.modules, library, None)
    (mistake,) = wrong(b"", file)
    assert library in mistake.problem
    assert "pip install" in mistake.remedy


def job(**ground):
    return JobRead(job=Job(site=Site(units="ft"), ground=GroundAssumed(**ground)))


def test_a_named_table_is_read_in_its_units(tmp_path):
    (tmp_path / "Ground.csv").write_text(THREE)
    for units, scale in ((None, 0.3048), ("m", 1.0)):
        table, files = read_named_table(tmp_path, job(table="Ground.csv", sd_m=0.1, units=units))
        assert table.en_m[1, 0] == pytest.approx(5 * scale)
        assert files == {"Ground.csv": THREE.encode()}
    assert read_named_table(tmp_path, job()) == (None, {})


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("../ground.csv", "not the name of a file"),
        ("/etc/ground.csv", "not the name of a file"),
        ("a\\ground.csv", "not the name of a file"),
        ("grund.csv", "no such file"),
        ("ground.xyz", "no kind of file"),
        ("folder.csv", "no such file"),
    ],
)
def test_a_name_that_is_no_file_there(tmp_path, name, said):
    (tmp_path / "ground.csv").write_text(THREE)
    (tmp_path / "folder.csv").mkdir()
    with pytest.raises(WrongInput) as told:
        read_named_table(tmp_path, job(table=name, sd_m=0.1))
    (mistake,) = told.value.mistakes
    assert said in mistake.problem
    assert mistake.column == "ground.table"


def test_keys_that_do_not_go_together():
    def told(**ground):
        return [m.column for m in table_mistakes(GroundAssumed(**ground))]

    assert told() == []
    assert told(table="a.csv") == ["ground.sd"]
    assert told(table="a.csv", sd_m=0.1, surface="table") == []
    assert told(surface="table") == ["ground.surface"]
    assert told(sd_m=0.1, units="m", shift_m=0.5) == ["ground.sd", "ground.units", "ground.shift"]
