"""Write again the sample surveys: invented yards, and one on real ground, with their truth beside them.

Nothing of the package is used here, so that the truth does not come from what it is to check.
Run from the top of the project: ``python sample_surveys/invent.py``.
"""

from __future__ import annotations

import csv
import math
import random
from collections.abc import Callable
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path

HERE = Path(__file__).parent
PATCH = HERE.parent / "tests" / "ground" / "data" / "lidar_patch.csv"
FOOT = 0.3048

Ground = Callable[[float, float], float]


def feet(value_m: float) -> str:
    """Decimal feet as a rod or an engineer's tape is read."""
    return f"{value_m / FOOT:.2f}"


def feet_inches(value_m: float, step: int = 8) -> str:
    """Feet, inches and eighths as a carpenter's tape is read."""
    eighths = round(abs(value_m) / FOOT * 12 * step)
    whole, part = divmod(eighths, step)
    foot, inch = divmod(whole, 12)
    fraction = Fraction(part, step)
    text = f"{foot}' {inch}" + (f"-{fraction}" if part else "") + '"'
    return ("-" if value_m < 0 and eighths else "") + text


def metres(value_m: float) -> str:
    """Metres to the millimetre."""
    return f"{value_m:.3f}"


@dataclass
class Yard:
    """An invented yard: where everything truly is, and the notebook that was filled there."""

    name: str
    ground: Ground
    rod: Callable[[float], str]
    tape: Callable[[float], str]
    sd_rod: float = 0.0
    sd_tape: float = 0.0
    sd_offset: float = 0.0
    seed: int = 1
    plan: dict[str, tuple[float, float]] = field(default_factory=dict)
    height: dict[str, float] = field(default_factory=dict)
    tables: dict[str, list[list[str]]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.random = random.Random(self.seed)

    def noise(self, sd: float) -> float:
        """One invented error; none at all in a yard without them."""
        return self.random.gauss(0, sd) if sd else 0.0

    def pin(self, name: str, east: float, north: float, stick_up: float = 0.0) -> None:
        """Set a pin in the ground."""
        self.plan[name] = (east, north)
        self.height[name] = self.ground(east, north) + stick_up

    def bolt(self, name: str, elevation: float) -> None:
        """Set a benchmark or turning point, height only."""
        self.height[name] = elevation

    def row(self, table: str, *cells: str) -> None:
        """Write one row of a table."""
        self.tables.setdefault(table, []).append(list(cells))

    def read_tape(self, start: str, to: str, how: str) -> None:
        """Tape from one point to another, level or lying on the slope."""
        (e0, n0), (e1, n1) = self.plan[start], self.plan[to]
        length = math.hypot(e1 - e0, n1 - n0)
        if how == "slope":
            length = math.hypot(length, self.height[to] - self.height[start])
        self.row("tapes", start, to, self.tape(length + self.noise(self.sd_tape)), how, "")

    def set_by_offset(self, name: str, start: str, to: str, station: float, offset: float) -> None:
        """Mark a point by station and offset; it truly stands where the tape's errors put it."""
        (e0, n0), (e1, n1) = self.plan[start], self.plan[to]
        length = math.hypot(e1 - e0, n1 - n0)
        along = ((e1 - e0) / length, (n1 - n0) / length)
        right = (along[1], -along[0])
        s, o = station + self.noise(self.sd_offset), offset + self.noise(self.sd_offset)
        self.pin(name, e0 + s * along[0] + o * right[0], n0 + s * along[1] + o * right[1])
        self.row("offsets", name, start, to, self.tape(station), self.tape(offset), "level", "")

    def setup(
        self, hi: float, backsight: str, sights: list[str], foresight: str | None, *, first: bool
    ) -> None:
        """One set-up of the level: a backsight, sights between, a foresight."""
        rod = {p: self.rod(hi - self.height[p] + self.noise(self.sd_rod)) for p in [backsight, *sights]}
        levels = self.tables.setdefault("levels", [])
        if first:
            levels.append([backsight, rod[backsight], "", "", ""])
        else:
            levels[-1][1] = rod[backsight]
        levels.extend([p, "", rod[p], "", ""] for p in sights)
        if foresight is not None:
            reading = self.rod(hi - self.height[foresight] + self.noise(self.sd_rod))
            levels.append([foresight, "", "", reading, ""])

    def write(self, job: str, readme: str, truth: str) -> None:
        """Write the folder: readings, decisions, the story and the truth."""
        folder = HERE / self.name
        folder.mkdir(exist_ok=True)
        for name, rows in self.tables.items():
            with (folder / f"{name}.csv").open("w", newline="", encoding="utf-8") as file:
                writer = csv.writer(file, lineterminator="\n")
                trees = name == "points" and len(rows[0]) == len(TREES)
                writer.writerow(TREES if trees else HEADERS[name])
                writer.writerows(rows)
        (folder / "job.toml").write_text(job.lstrip(), encoding="utf-8")
        (folder / "README.md").write_text(readme.lstrip(), encoding="utf-8")
        lines = [truth.strip(), "", "[points] # east, north, elevation in metres; nan: none"]
        for name, elevation in self.height.items():
            east, north = self.plan.get(name, (math.nan, math.nan))
            lines.append(f'"{name}" = [{east:.5f}, {north:.5f}, {elevation:.5f}]')
        (folder / "truth.toml").write_text("\n".join(lines) + "\n", encoding="utf-8")


HEADERS = {
    "levels": ["point", "bs", "is", "fs", "note"],
    "tapes": ["from", "to", "length", "how", "note"],
    "offsets": ["point", "from", "to", "station", "offset", "how", "note"],
    "rises": ["from", "to", "rise", "note"],
    "points": ["point", "kind", "note"],
    "lines": ["line", "kind", "points", "setback", "height", "note"],
    "fixes": ["point", "lat", "lon", "height", "height_kind", "sd_h", "sd_v", "session", "note"],
}
TREES = ["point", "kind", "radius", "note"]
"""Headings of points.csv where a tree has its radius."""


def formula(z0: float, east: float, north: float, waves: list[tuple[float, float, float, float]]) -> Ground:
    """Ground: a plane and some waves (height, per metre east, per metre north, phase)."""

    def elevation(e: float, n: float) -> float:
        wave = sum(a * math.sin(ke * e + kn * n + p) for a, ke, kn, p in waves)
        return z0 + east * e + north * n + wave

    return elevation


def formula_truth(
    z0: float, east: float, north: float, waves: list[tuple[float, float, float, float]]
) -> str:
    """Return the same ground as it stands in truth.toml."""
    return (
        "# The truth of an invented yard, metres.\n[ground]\n"
        f"z0 = {z0}\neast = {east}\nnorth = {north}\nwaves = {[list(w) for w in waves]}\n"
    )


def hand_check() -> None:
    """Small enough to check with a pencil: a plane, no errors, everything in whole millimetres."""
    ground = (50.2, 0.05, 0.10, [])
    yard = Yard("hand_check", formula(*ground), metres, metres)
    yard.bolt("BM1", 50.0)
    yard.pin("P1", 0, 0)
    yard.pin("P2", 8, 0)
    yard.pin("P3", 0, 6)
    for start, to in [("P1", "P2"), ("P1", "P3"), ("P2", "P3")]:
        yard.read_tape(start, to, "level")
    # Where the stakes stand: A1 at 2 m east and 1 m north, bay 1.5 m, the high beam 2.12 m up the rail.
    run = (2.82 - 0.70) * math.cos(math.radians(30))
    for beam, north in (("A", 1.0), ("B", 1.0 + run)):
        for j in range(3):
            yard.height[f"{beam}{j + 1}"] = yard.ground(2 + 1.5 * j, north)
    for name, station, offset in [("G1", 0.5, -0.5), ("G2", 6.5, -0.5), ("G3", 6.5, -4.5), ("G4", 0.5, -4.5)]:
        yard.set_by_offset(name, "P1", "P2", station, offset)
    stakes = [f"{beam}{j}" for beam in "AB" for j in (1, 2, 3)]
    yard.setup(52.0, "BM1", ["P1", "P2", "P3", "G1", "G2", "G3", "G4", *stakes], "BM1", first=True)
    yard.row("points", "P1", "pin", "")
    yard.row("points", "P2", "pin", "")
    yard.row("points", "P3", "pin", "")
    yard.write(
        """
# Invented for this project: a corner of an orchard, small enough to check with a pencil.
[site]
name = "Orchard corner (invented)"
units = "m"
date = 2026-10-03

[control]
origin    = { point = "P1", east = 0, north = 0 }
azimuth   = { from = "P1", to = "P2", degrees = 90, north = "true" }
benchmark = { point = "BM1", elevation = 50 }
side      = "left"                # P3 lies left of the line from P1 to P2

[array]
azimuth = 180
tilt = 30
modules_along = 4
modules_up = 2
module = { along = 1.10, up = 1.75, thick = "35 mm" }
gap = { along = "20 mm", up = "20 mm" }

[frame]
piers_per_beam = 3
bay = 1.5
beams_at = [0.70, 2.82]
stack = "120 mm"
takeout = "50 mm"
post_pipe = "NPS 2 sch 40"
beam_pipe = "NPS 2 sch 40"
beam_end = 0.15
rail_clear = 0.05
beam_past_post = 0.10

[place]
line = ["P1", "P2"]
station = 2.0
offset = -1.0                     # left of the line, looking from P1 to P2

[fit]
beams = "level"
above_grade_min = 0.50
above_grade_max = 2.40
clearance = 0.60

[footing]
hole_diameter = 0.30
embedment = 1.20                  # invented; yours comes from the engineer or the local table
bottom_cover = 0.075
side_cover = 0.075
frost_depth = 0.75

[pipe]
stock = [ { length = 6.0 } ]
cut_allowance = 0.025
kerf = 0.003
joint_clear = 0.10

[stakes]
offset_hub = 1.0
""",
        """
# hand_check: a corner of an orchard

Invented, as small as a yard can be: a plane that rises 5 cm in a metre to the east and 10 cm to the north,
three pins, one set-up of the level, six stakes shot, no reading errors. Every number can be checked with a
pencil: the height of instrument is 50.000 + the backsight, an elevation is that less the rod, and the
above-grade length of a post is the beam's centreline less the takeout less the ground.

Units are metres. `truth.toml` holds where everything truly is.
""",
        formula_truth(*ground),
    )


def cross_fall() -> None:
    """Write a yard that falls across the beams, taped in feet and inches."""
    ground = (30.9, -0.052, 0.085, [(0.06, 0.22, 0.13, 0.4), (0.02, -0.5, 0.6, 1.0)])
    yard = Yard(
        "cross_fall", formula(*ground), feet_inches, feet_inches,
        sd_rod=0.0015, sd_tape=0.003, sd_offset=0.012, seed=20,
    )  # fmt: skip
    azimuth = math.radians(80)
    along = (math.sin(azimuth), math.cos(azimuth))
    left = (-along[1], along[0])

    def spot(station_ft: float, left_ft: float) -> tuple[float, float]:
        s, o = station_ft * FOOT, left_ft * FOOT
        return (s * along[0] + o * left[0], s * along[1] + o * left[1])

    yard.bolt("BM1", 100 * FOOT)
    yard.pin("P1", *spot(0, 0), stick_up=0.03)
    yard.pin("P2", *spot(52.37, 0), stick_up=0.03)
    yard.pin("P3", *spot(3.21, 31.4), stick_up=0.03)
    yard.pin("P4", *spot(50.84, 30.2), stick_up=0.03)
    yard.bolt("TP1", yard.height["P3"] - 0.2)
    for start, to in [("P1", "P2"), ("P1", "P3"), ("P2", "P3"), ("P1", "P4"), ("P2", "P4"), ("P3", "P4")]:
        yard.read_tape(start, to, "slope")
    grid = []
    for i, offset in enumerate((-4, -12, -20, -26)):
        for j, station in enumerate((2, 12, 22, 32, 42, 50)):
            name = f"G{i + 1}{j + 1}"
            yard.set_by_offset(name, "P1", "P2", station * FOOT, offset * FOOT)
            grid.append(name)
    hi = yard.height["BM1"] + 5.2 * FOOT
    yard.setup(hi, "BM1", ["P1", "P2", *grid[:12]], "TP1", first=True)
    yard.setup(yard.height["TP1"] + 4.1 * FOOT, "TP1", ["P3", "P4", "P1", *grid[12:]], "BM1", first=False)
    for name in ("P1", "P2", "P3", "P4"):
        yard.row("points", name, "pin", "")
    yard.write(
        """
# Invented for this project: a terrace above a creek that falls to the east, across the beams.
[site]
name = "Creek terrace (invented)"
units = "ft"
latitude = 41.3
longitude = -75.8
time_zone = "America/New_York"
date = 2026-10-03

[control]
origin    = { point = "P1", east = 0, north = 0 }
azimuth   = { from = "P1", to = "P2", degrees = 80, north = "true" }
benchmark = { point = "BM1", elevation = 100 }
side      = "left"                # P3 and P4 lie left of the line from P1 to P2

[array]
azimuth = 170
tilt = 25
modules_along = 7
modules_up = 3
module = { along = "5' 8\\"", up = "3' 8-5/8\\"", thick = "1 3/8 in" }
gap = { along = "1/2 in", up = "1/2 in" }

[frame]
piers_per_beam = 5
bay = "8' 6\\""
beams_at = ["2' 3\\"", "9 ft"]
stack = "5 1/8 in"
takeout = "2 1/8 in"
post_pipe = "NPS 2 sch 40"
beam_pipe = "NPS 2 sch 40"

[place]
line = ["P1", "P2"]
station = "8 ft"
offset = "-8 ft"                  # left of the line, looking from P1 to P2

[fit]
beams = "sloping"
max_cross_slope = 4               # invented; yours is what the top fitting allows
above_grade_min = "20 in"
above_grade_max = "8 ft"
clearance = "24 in"

[footing]
hole_diameter = "12 in"
embedment = "4 ft"                # invented; yours comes from the engineer or the local table
bottom_cover = "3 in"
side_cover = "3 in"
frost_depth = "44 in"

[pipe]
stock = [ { length = "21 ft", price = 96.00 }, { length = "10' 6\\"", price = 51.00 } ]
cut_allowance = "1 in"
kerf = "1/8 in"
joint_clear = "4 in"

[stakes]
offset_hub = "3 ft"
""",
        """
# cross_fall: a terrace above a creek

Invented: the ground falls about 5 % to the east, across the beams, and rises 8 % to the north, with swells of
a few inches. Sloping beams follow it. Four pins taped along the slope, 24 ground shots by station and offset
from P1-P2, two set-ups of the laser; readings in feet and inches with ordinary errors (rod 1.5 mm, tape 3 mm,
offsets 12 mm, then rounded to 1/8 in as a tape is read). `truth.toml` holds where everything truly is.
""",
        formula_truth(*ground),
    )


def planted_blunder() -> None:
    """Write a yard with a rod reading misread by a foot, where every set-up re-sights two pins."""
    ground = (59.8, 0.03, 0.11, [(0.05, 0.3, 0.1, 2.0)])
    yard = Yard(
        "planted_blunder", formula(*ground), feet, feet,
        sd_rod=0.0021, sd_tape=0.003, sd_offset=0.012, seed=7,
    )  # fmt: skip
    yard.bolt("BM1", 200 * FOOT)
    yard.pin("P1", 0, 0, 0.02)
    yard.pin("P2", 14.2, 0.25, 0.02)
    yard.pin("P3", 13.7, 9.4, 0.02)
    yard.pin("P4", 0.6, 9.1, 0.02)
    pins = ["P1", "P2", "P3", "P4"]
    for start, to in [("P1", "P2"), ("P2", "P3"), ("P3", "P4"), ("P4", "P1"), ("P1", "P3"), ("P2", "P4")]:
        yard.read_tape(start, to, "level")
    grid = []
    for i, offset in enumerate((-3, -12, -21, -29)):
        for j, station in enumerate((2, 13, 24, 35, 45)):
            name = f"G{i + 1}{j + 1}"
            yard.set_by_offset(name, "P1", "P2", station * FOOT, offset * FOOT)
            grid.append(name)
    yard.setup(yard.height["BM1"] + 1.4, "BM1", ["P1", "P3", *grid[:7]], "P2", first=True)
    yard.setup(yard.height["P2"] + 2.6, "P2", ["P1", "P4", *grid[7:14]], "P3", first=False)
    yard.setup(yard.height["P3"] + 1.1, "P3", ["P1", "P2", "P4", *grid[14:]], "BM1", first=False)
    levels = yard.tables["levels"]
    planted = next(row for row in levels if row[0] == "P3" and row[3])
    row_number = levels.index(planted) + 2
    true_reading = planted[3]
    planted[3] = f"{float(true_reading) + 1:.2f}"
    for name in pins:
        yard.row("points", name, "pin", "")
    yard.write(
        """
# Invented for this project: a paddock behind a tool shed, with one rod reading a foot wrong.
[site]
name = "Tool shed paddock (invented)"
units = "ft"
show = "decimal feet"
tape_how = "level"
date = 2026-10-03

[control]
origin    = { point = "P1", east = 0, north = 0 }
azimuth   = { from = "P1", to = "P2", degrees = 88-59-28, north = "true" }
benchmark = { point = "BM1", elevation = 200 }
side      = "left"                # P3 and P4 lie left of the line from P1 to P2

[accuracy]
rod = 0.007

[array]
azimuth = 180
tilt = 30
modules_along = 6
modules_up = 3
module = { along = "5.58 ft", up = "3.70 ft", thick = "0.1 ft" }
gap = { along = "0.04 ft", up = "0.04 ft" }

[frame]
piers_per_beam = 4
bay = 9.0
beams_at = [2.2, 8.9]
stack = 0.42
takeout = 0.18
post_pipe = "NPS 2-1/2 sch 40"
beam_pipe = "NPS 2 sch 40"

[place]
line = ["P1", "P2"]
station = 10
offset = -7

[fit]
beams = "level"
above_grade_min = 1.7
above_grade_max = 8.5
clearance = 1.8

[footing]
hole_diameter = 1.0
embedment = 4.0                   # invented; yours comes from the engineer or the local table
bottom_cover = 0.25
side_cover = 0.25
frost_depth = 3.5

[pipe]
stock = [ { length = 21 } ]
cut_allowance = 0.08
kerf = 0.01
joint_clear = 0.33

[stakes]
offset_hub = 3
""".replace("88-59-28", '"88°59\'28\\""'),
        f"""
# planted_blunder: a paddock behind a tool shed

Invented. A rod good to 0.007 ft; each set-up of the level sights two pins that another has sighted. One
reading is planted a foot wrong: the foresight on P3, row {row_number} of `levels.csv`, was truly
{true_reading} and stands as {planted[3]}. `staking check` names it, says what it likely was, and changes
nothing.
`truth.toml` holds where everything truly is. Decimal feet throughout.
""",
        formula_truth(*ground) + f'\n[planted]\ntable = "levels.csv"\nrow = {row_number}\ncolumn = "fs"\n'
        f'read = "{planted[3]}"\ntruly = "{true_reading}"\n',
    )


def real_hillside() -> None:
    """Real bare ground, with an invented survey on it."""
    lines = [line for line in PATCH.read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
    # The first line is the northernmost.
    z = {(i, 40 - k): float(cell) for k, line in enumerate(lines) for i, cell in enumerate(line.split(","))}

    def ground(e: float, n: float) -> float:
        """Bilinear between the four corners of the 1 m cell; the patch's south-west corner is 0, 0."""
        i, j = min(int(e), 39), min(int(n), 39)
        a, b = e - i, n - j
        low = z[i, j] * (1 - a) + z[i + 1, j] * a
        high = z[i, j + 1] * (1 - a) + z[i + 1, j + 1] * a
        return low * (1 - b) + high * b

    yard = Yard(
        "real_hillside", ground, metres, metres,
        sd_rod=0.0015, sd_tape=0.003, sd_offset=0.012, seed=11,
    )  # fmt: skip
    yard.bolt("BM1", ground(6.0, 11.0) + 0.35)
    yard.pin("P1", 8.0, 10.0)
    yard.pin("P2", 26.0, 10.0)
    yard.pin("P3", 26.4, 20.7)
    yard.pin("P4", 8.3, 20.2)
    for start, to in [("P1", "P2"), ("P2", "P3"), ("P3", "P4"), ("P4", "P1"), ("P1", "P3"), ("P2", "P4")]:
        yard.read_tape(start, to, "slope")
    grid = []
    for i, offset in enumerate((-0.5, -2.5, -4.5, -6.5, -8.5)):
        for j in range(8):
            name = f"G{i + 1}{j + 1}"
            yard.set_by_offset(name, "P1", "P2", 1.5 + 2.2 * j, offset)
            grid.append(name)
    pins = ["P1", "P2", "P3", "P4"]
    top = max(yard.height[p] for p in ["BM1", *pins, *grid])
    yard.bolt("TP1", yard.height["P2"] + 0.6)
    yard.setup(top + 0.3, "BM1", ["P1", "P2", "P4", *grid[:16]], "TP1", first=True)
    yard.setup(top + 0.5, "TP1", ["P3", "P4", "P1", *grid[16:]], "BM1", first=False)
    for name in pins:
        yard.row("points", name, "pin", "")
    elevation = yard.height["BM1"]
    posts = "\n".join(f"[{e:.1f}, {n:.1f}, {ground(e, n):.4f}]," for e in range(9, 26) for n in range(10, 20))
    yard.write(
        f"""
# Real ground, invented survey: see README.md.
[site]
name = "Hillside (real ground, invented survey)"
units = "m"
date = 2026-10-03

[control]
origin    = {{ point = "P1", east = 8, north = 10 }}
azimuth   = {{ from = "P1", to = "P2", degrees = 90, north = "true" }}
benchmark = {{ point = "BM1", elevation = {elevation:.3f} }}
side      = "left"                # P3 and P4 lie left of the line from P1 to P2

[array]
azimuth = 180
tilt = 28
modules_along = 8
modules_up = 2
module = {{ along = "1134 mm", up = "1722 mm", thick = "30 mm" }}
gap = {{ along = "20 mm", up = "20 mm" }}

[frame]
piers_per_beam = 4
bay = "2460 mm"
beams_at = ["700 mm", "2760 mm"]
stack = "130 mm"
takeout = "55 mm"
post_pipe = "NPS 3 sch 40"
beam_pipe = "NPS 2-1/2 sch 40"
beam_end = "150 mm"
rail_clear = "50 mm"
beam_past_post = "100 mm"

[place]
line = ["P1", "P2"]
station = 4.0
offset = -3.0

[fit]
beams = "sloping"
max_cross_slope = 6               # invented; yours is what the top fitting allows
above_grade_min = "500 mm"
above_grade_max = 3.0
clearance = "600 mm"

[footing]
hole_diameter = "350 mm"
embedment = 1.4                   # invented; yours comes from the engineer or the local table
bottom_cover = "75 mm"
side_cover = "75 mm"

[pipe]
stock = [ {{ length = 6.0 }}, {{ length = 6.4 }} ]
cut_allowance = "25 mm"
kerf = "3 mm"
joint_clear = "100 mm"

[stakes]
offset_hub = "900 mm"
""",
        """
# real_hillside: real bare ground

The ground is real: 41 by 41 m of bare earth on a 1 m grid, from the elevation model carried by the PyPI
package `lidar` 0.8.4 (MIT licence), rows 340-380, columns 10-50; its south-west corner is taken as 0, 0.
The survey on it is invented: four pins taped along the slope, 40 shots by station and offset, two set-ups of
the level, ordinary errors (rod 1.5 mm, tape 3 mm, offsets 12 mm). `truth.toml` holds where the pins and
shots truly are, and the ground at whole metres where the array may stand. Metric.
""",
        f"# Real ground at whole metres: east, north, elevation, metres.\n[ground]\nspots = [\n{posts}\n]\n",
    )


WGS84_A_M, WGS84_E2 = 6378137.0, 0.00669437999014
"""Half-axis and squared eccentricity of WGS 84 (NIMA TR8350.2)."""


def latitude_longitude(
    lat_deg: float, lon_deg: float, height_m: float, east: float, north: float
) -> tuple[float, float]:
    """Return where a place some metres off lies, by the two radii of curvature there: to 0.1 mm here."""
    lat = math.radians(lat_deg)
    w2 = 1.0 - WGS84_E2 * math.sin(lat) ** 2
    across = WGS84_A_M / math.sqrt(w2)
    along = WGS84_A_M * (1.0 - WGS84_E2) / w2**1.5
    return (
        lat_deg + math.degrees(north / (along + height_m)),
        lon_deg + math.degrees(east / ((across + height_m) * math.cos(lat))),
    )


def tied_meadow() -> None:
    """Write a small yard tied to the earth by fixes, with a boundary, lines and a tree to keep off."""
    ground = (30.6, 0.018, 0.07, [(0.04, 0.25, 0.2, 1.0)])
    yard = Yard(
        "tied_meadow", formula(*ground), feet_inches, feet_inches,
        sd_rod=0.0015, sd_tape=0.003, sd_offset=0.012, seed=31,
    )  # fmt: skip
    yard.bolt("BM1", 100 * FOOT)
    places = {"P1": (0.0, 0.0), "P2": (11.4, 0.0), "P3": (11.1, 8.3), "P4": (0.3, 7.9)}
    for name, at in places.items():
        yard.pin(name, *at, stick_up=0.02)
    for start, to in [("P1", "P2"), ("P2", "P3"), ("P3", "P4"), ("P4", "P1"), ("P1", "P3"), ("P2", "P4")]:
        yard.read_tape(start, to, "slope")
    grid = []
    for i, offset in enumerate((-3, -12, -21)):
        for j, station in enumerate((2, 13, 24, 35)):
            name = f"G{i + 1}{j + 1}"
            yard.set_by_offset(name, "P1", "P2", station * FOOT, offset * FOOT)
            grid.append(name)
    things = {
        "C1": (-24, 8), "C2": (62, 8), "C3": (60, -44), "C4": (-24, -44), "W1": (0, 4), "W2": (45, 4),
        "L1": (-20, 2), "L2": (-20, -40), "T1": (48, -26),
    }  # fmt: skip
    for name, (station, offset) in things.items():
        yard.set_by_offset(name, "P1", "P2", station * FOOT, offset * FOOT)
    pins = list(places)
    yard.setup(yard.height["BM1"] + 1.5, "BM1", [*pins, *grid], "BM1", first=True)
    lat, lon, above_sea = 42.05, -74.6, 300.0
    drift = (0.011, -0.008, 0.015)  # of the whole session: east, north, up
    for name, (east, north) in places.items():
        at = latitude_longitude(
            lat, lon, above_sea, east + drift[0] + yard.noise(0.008), north + drift[1] + yard.noise(0.008)
        )
        height = above_sea + yard.height[name] - yard.height["BM1"] + drift[2] + yard.noise(0.015)
        yard.row(
            "fixes", name, f"{at[0]:.9f}", f"{at[1]:.9f}", feet(height), "orthometric", "0.03", "0.05",
            "morning", "",
        )  # fmt: skip
    for name in (*pins, *things):
        kind = "pin" if name in pins else "tree" if name == "T1" else "corner" if name[0] == "C" else "other"
        yard.row("points", name, kind, "6 ft" if kind == "tree" else "", "")
    yard.row("lines", "property line", "boundary", "C1 C2 C3 C4 C1", "10 ft", "", "")
    yard.row("lines", "water pipe", "buried", "W1 W2", "3 ft", "", "")
    yard.row("lines", "service drop", "overhead", "L1 L2", "", "22 ft", "")
    yard.write(
        """
# Invented for this project: a meadow whose pins a receiver fixed, with lines and a tree to keep off.
[site]
name = "Tied meadow (invented)"
units = "ft"
latitude = 42.05
longitude = -74.6
time_zone = "America/New_York"
date = 2026-10-03

[control]
origin    = { point = "P1", east = 0, north = 0 }
azimuth   = { from = "P1", to = "P2", degrees = 90, north = "true" }
benchmark = { point = "BM1", elevation = 100 }
side      = "left"                # P3 and P4 lie left of the line from P1 to P2

[accuracy]
session = "20 mm"                 # what a session of this receiver may be off as a whole
session_height = "30 mm"

[array]
azimuth = 180
tilt = 25
modules_along = 4
modules_up = 2
module = { along = "5' 8\\"", up = "3' 8-5/8\\"", thick = "1 3/8 in" }
gap = { along = "1/2 in", up = "1/2 in" }

[frame]
piers_per_beam = 3
bay = "8 ft"
beams_at = ["1' 8\\"", "5' 10\\""]
stack = "5 1/8 in"
takeout = "2 1/8 in"
post_pipe = "NPS 2 sch 40"
beam_pipe = "NPS 2 sch 40"

[place]
line = ["P1", "P2"]
station = "10 ft"
offset = "-9 ft"                  # left of the line, looking from P1 to P2

[fit]
beams = "level"
above_grade_min = "20 in"
above_grade_max = "8 ft"
clearance = "24 in"

[footing]
hole_diameter = "12 in"
embedment = "4 ft"                # invented; yours comes from the engineer or the local table
bottom_cover = "3 in"
side_cover = "3 in"
frost_depth = "44 in"
over_dig = "10 %"
bag_yield = "0.6 cu ft"

[pipe]
stock = [ { length = "21 ft" } ]
cut_allowance = "1 in"
kerf = "1/8 in"
joint_clear = "4 in"

[stakes]
offset_hub = "3 ft"
""",
        """
# tied_meadow: a meadow tied to the earth

Invented, and so is its place on the earth. Four pins were fixed by a receiver in one session that is off by
11 mm east and 8 mm south as a whole, each fix by some 8 mm more; so the stakes have latitudes and longitudes
in `stakes.gpx`, `stakes.geojson` and `stakes.kml`. A property line, a water pipe, a service drop and a tree
stand round the array, each farther off than it must be. Concrete is counted in bags. Readings in feet and
inches with ordinary errors (rod 1.5 mm, tape 3 mm, offsets 12 mm). `truth.toml` holds where everything is.
""",
        formula_truth(*ground) + f"[earth]\nP1 = [{lat}, {lon}] # latitude and longitude\n",
    )


def stepped_bank() -> None:
    """Invent a bank under the beams: one plane would ask for posts that are too long."""
    ground = (30.0, 0.01, 0.06, [(0.45, 0.5, 0.05, -3.5)])
    yard = Yard(
        "stepped_bank", formula(*ground), metres, metres,
        sd_rod=0.0015, sd_tape=0.003, sd_offset=0.012, seed=21,
    )  # fmt: skip
    yard.bolt("BM1", 30.5)
    yard.pin("P1", 0.0, 0.0)
    yard.pin("P2", 14.0, 0.0)
    yard.pin("P3", 0.2, 7.0)
    for start, to in [("P1", "P2"), ("P1", "P3"), ("P2", "P3")]:
        yard.read_tape(start, to, "level")
    grid = []
    for i, offset in enumerate((-0.8, -2.6, -4.4, -6.2)):
        for j in range(9):
            name = f"G{i + 1}{j + 1}"
            yard.set_by_offset(name, "P1", "P2", 1.0 + 1.5 * j, offset)
            grid.append(name)
    pins = ["P1", "P2", "P3"]
    top = max(yard.height[p] for p in ["BM1", *pins, *grid])
    yard.setup(top + 0.4, "BM1", [*pins, *grid], "BM1", first=True)
    for name in pins:
        yard.row("points", name, "pin", "")
    yard.write(
        """
# Invented for this project: a bank that the beams step over.
[site]
name = "Bank behind the barn (invented)"
units = "m"
date = 2026-10-03

[control]
origin    = { point = "P1", east = 0, north = 0 }
azimuth   = { from = "P1", to = "P2", degrees = 90, north = "true" }
benchmark = { point = "BM1", elevation = 30.5 }
side      = "left"                # P3 lies left of the line from P1 to P2

[array]
azimuth = 180
tilt = 25
modules_along = 8
modules_up = 2
module = { along = "1134 mm", up = "1722 mm", thick = "30 mm" }
gap = { along = "20 mm", up = "20 mm" }

[frame]
max_bay = "2600 mm"
max_overhang = "800 mm"
beams_at = ["700 mm", "2760 mm"]
stack = "130 mm"
takeout = "55 mm"
post_pipe = "NPS 2-1/2 sch 40"
beam_pipe = "NPS 2-1/2 sch 40"
beam_end = "100 mm"
rail_clear = "50 mm"
beam_past_post = "100 mm"

[place]
line = ["P1", "P2"]
station = 2.6
offset = -1.6                     # left of the line, looking from P1 to P2

[fit]
beams = "level"
sections = "auto"                 # the fewest in which no post is too long
section_gap = "150 mm"
step_max = "600 mm"
above_grade_min = "500 mm"
above_grade_max = "2000 mm"
clearance = "550 mm"

[footing]
hole_diameter = "300 mm"
embedment = "1200 mm"             # invented; yours comes from the engineer or the local table
bottom_cover = "75 mm"
side_cover = "75 mm"

[pipe]
stock = [ { length = 6.0, price = 71.00 } ]
cut_allowance = "25 mm"
kerf = "3 mm"
joint_clear = "100 mm"
""",
        """
# stepped_bank: beams that step over a bank

An invented yard with a bank half a metre high and more across the beams. One plane would ask for posts of
more than 2 m, so `sections = "auto"` in `[fit]` parts the array into two sections, each with its own piers
and plane, no post shared. Thirty-six shots by station and offset from a taped line, one set-up of the level
closed on its benchmark. Metric, ordinary errors (rod 1.5 mm, tape 3 mm, offsets 12 mm). `truth.toml` holds
where everything truly is.
""",
        formula_truth(*ground),
    )


if __name__ == "__main__":
    hand_check()
    stepped_bank()
    tied_meadow()
    cross_fall()
    planted_blunder()
    real_hillside()
