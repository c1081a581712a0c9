"""The same input gives the same bytes: in another process, folder and order of hashing, for every file."""

import json
import os
import subprocess
import sys
from pathlib import Path

TOP = Path(__file__).parent.parent
FIXES = (
    "point,lat,lon,sd_h,session\nP1,40.125000000,-75.250000000,0.01,a\nP2,40.125000000,-75.249906088,0.01,a\n"
)


def _planned(tmp_path, name, seed):
    """Plan a copy of a sample that is tied to the earth, so that every kind of file is written."""
    folder, out = tmp_path / name / "yard", tmp_path / name / "out"
    folder.mkdir(parents=True)
    for path in (TOP / "sample_surveys" / "hand_check").iterdir():
        (folder / path.name).write_bytes(path.read_bytes())
    job = folder / "job.toml"
    text = job.read_text(encoding="utf-8").replace("[site]\n", '[site]\nrevision = "B"\n', 1)
    job.write_text(text + '\n[accuracy]\nsession = "20 mm"\n', encoding="utf-8")
    (folder / "fixes.csv").write_text(FIXES, encoding="utf-8")
    subprocess.run(
        [sys.executable, "-m", "staking.cli", "plan", "yard", "--out", "out"],
        cwd=folder.parent,
        env=os.environ | {"PYTHONHASHSEED": seed, "PYTHONPATH": str(TOP), "TZ": f"UTC{seed}"},
        check=True,
        capture_output=True,
    )
    return {path.name: path.read_bytes() for path in out.iterdir()}


def test_every_file_has_the_same_bytes_in_another_process(tmp_path):
    """2026-11-28: the classes declared in site.dxf came in the order of a set, another in every process."""
    one, other = _planned(tmp_path, "one", "0"), _planned(tmp_path, "other", "7")
    kinds = {"pdf", "svg", "csv", "json", "xlsx", "dxf", "gpx", "geojson", "kml"}
    assert {name.split(".")[-1] for name in one} == kinds
    assert one.keys() == other.keys()
    assert [name for name in one if one[name] != other[name]] == []


def test_every_file_says_revision_date_and_inputs(tmp_path):
    """PDF and workbook are packed: their words are looked for by other tests."""
    files = _planned(tmp_path, "one", "0")
    inputs = json.loads(files["results.json"])["fingerprint"]
    for name, data in files.items():
        if name.endswith((".pdf", ".xlsx")):
            continue
        text = data.decode("utf-8")
        assert inputs in text, name
        assert "2026-10-03" in text, name
        told = {
            "svg": ">B<",
            "csv": "B",
            "json": '"revision": "B"',
            "dxf": "Revision",
            "geojson": '"Revision": "B"',
        }
        assert told.get(name.split(".")[-1], "Revision: B") in text, name
