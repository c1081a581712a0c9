"""Flip each sign and drop each term of the frame's geometry in turn: a named test must fail each time.

Run by hand: ``make mutants``. Works on a copy of the project; one line a mutant, the last one counts.
"""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

TOP = Path(__file__).parent.parent
LAYOUT = ("tests/layout/test_against_check_values.py", "tests/layout", "tests/base/test_axes.py")
HOLES = ("tests/pipes/test_holes.py",)
CUT = ("tests/marks/test_cut_mark.py",)

AXES, PLANE, PIERS = "staking/base/axes.py", "staking/layout/plane.py", "staking/layout/piers.py"
BEAMS, FITTING = "staking/layout/beams.py", "staking/layout/fitting.py"
HEIGHTS, HOLE = "staking/layout/heights.py", "staking/pipes/holes.py"
SPOTS = "staking/layout/spots.py"
MARK = "staking/marks/cut_mark.py"

RELIABILITY, RELIABLE = "staking/control/reliability.py", ("tests/control/test_reliability.py",)
ELLIPSES, ELLIPSE = "staking/control/ellipses.py", ("tests/control/test_ellipses.py",)
FREE, INNER = "staking/control/free.py", ("tests/control/test_free.py",)
BLOCKS, BLOCKWISE = "staking/base/supernodes.py", ("tests/base/test_supernodes.py",)
SPARSE, SPARSELY = "staking/base/sparse_lsq.py", ("tests/base/test_sparse_lsq.py",)
BENT, BENDING = "staking/control/bent.py", ("tests/control/test_bent.py",)
NETWORK, NETWORKS = "staking/control/network.py", ("tests/control/test_network.py",)

MUTANTS: tuple[tuple[str, str, str, tuple[str, ...]], ...] = (
    # file, what stands there, what to put, tests that must fail
    (AXES, "np.array([-cos, sin, 0.0])", "np.array([cos, sin, 0.0])", LAYOUT),
    (AXES, "np.array([-cos, sin, 0.0])", "np.array([-cos, -sin, 0.0])", LAYOUT),
    (AXES, "np.array([-sin, -cos, 0.0])", "np.array([sin, -cos, 0.0])", LAYOUT),
    (AXES, "np.array([-sin, -cos, 0.0])", "np.array([-sin, cos, 0.0])", LAYOUT),
    (AXES, "* e + math.sin(cross_slope_rad) * up", "* e - math.sin(cross_slope_rad) * up", LAYOUT),
    (AXES, "square = -math.sin(cross_slope_rad) * e", "square = math.sin(cross_slope_rad) * e", LAYOUT),
    (AXES, "+ math.cos(cross_slope_rad) * up", "- math.cos(cross_slope_rad) * up", LAYOUT),
    (AXES, "* w + math.sin(tilt_rad) * square", "* w - math.sin(tilt_rad) * square", LAYOUT),
    (AXES, "np.cross(u, v)", "np.cross(v, u)", LAYOUT),
    (PLANE, "s = along * cos_g", "s = along", LAYOUT),
    (PLANE, "- up * sin_b * sin_g", "+ up * sin_b * sin_g", LAYOUT),
    (PLANE, "- up * sin_b * sin_g", "", LAYOUT),
    (PLANE, "- off * cos_b * sin_g", "+ off * cos_b * sin_g", LAYOUT),
    (PLANE, "- off * cos_b * sin_g", "", LAYOUT),
    (PLANE, "t = up * cos_b - off * sin_b", "t = up * cos_b + off * sin_b", LAYOUT),
    (PLANE, "t = up * cos_b - off * sin_b", "t = up * cos_b", LAYOUT),
    (PLANE, "z = along * sin_g + up", "z = -along * sin_g + up", LAYOUT),
    (PLANE, "+ up * sin_b * cos_g", "+ up * sin_b", LAYOUT),
    (PLANE, "+ off * cos_b * cos_g", "- off * cos_b * cos_g", LAYOUT),
    (PLANE, "+ off * cos_b * cos_g", "", LAYOUT),
    (PLANE, "np.tan(cross) * s_m +", "-np.tan(cross) * s_m +", LAYOUT),
    (PLANE, "math.tan(tilt_rad) / np.cos(cross) * t_m", "math.tan(tilt_rad) * t_m", LAYOUT),
    (PLANE, "math.sin(plane.tilt_rad) * math.cos(plane.cross_slope_rad)", "math.sin(plane.tilt_rad)", LAYOUT),
    (PLANE, "return rail_run_m * math.sin", "return -rail_run_m * math.sin", LAYOUT),
    (PLANE, "return rail_run_m * math.sin(plane.tilt_rad)", "return rail_run_m", LAYOUT),
    (PIERS, "shape.bay_m * np.cos(cross)", "shape.bay_m", LAYOUT),
    (PIERS, "up * math.cos(shape.tilt_rad)", "up", LAYOUT),
    (BEAMS, "lean = math.sin(shape.tilt_rad) * math.tan(cross_slope_rad)",
     "lean = 0.0 * cross_slope_rad", LAYOUT),
    (BEAMS, "lean = math.sin(shape.tilt_rad) * math.tan(cross_slope_rad)",
     "lean = -math.sin(shape.tilt_rad) * math.tan(cross_slope_rad)", LAYOUT),
    (HEIGHTS, "s, t) - yard.shape.takeout_m", "s, t)", LAYOUT),
    (HEIGHTS, "s, t) - yard.shape.takeout_m", "s, t) + yard.shape.takeout_m", LAYOUT),
    (SPOTS, "yard.shape.stack_m + yard.shape.thick_m", "yard.shape.stack_m", LAYOUT),
    (FITTING, "rise - yard.shape.takeout_m", "rise", LAYOUT),
    (FITTING, "above = top - grade.z_m", "above = top + grade.z_m", LAYOUT),
    (FITTING, "np.sqrt(np.diag(grade.cov_m2) + sd_top**2)", "np.sqrt(np.diag(grade.cov_m2))", LAYOUT),
    (HOLE, "footing.hole_diameter_m / 2", "footing.hole_diameter_m", HOLES),
    (HOLE, "max(footing.hole_diameter_m / 2, footing.daylight_m or 0.0)",
     "footing.hole_diameter_m / 2", HOLES),
    (HOLE, "lip = lip_reach_m(footing) * tan_slope", "lip = 0.0 * tan_slope", HOLES),
    (HOLE, "in_ground = footing.embedment_m + lip", "in_ground = footing.embedment_m - lip", HOLES),
    (HOLE, "frost + lip)", "frost)", HOLES),
    (HOLE, "in_ground + footing.bottom_cover_m", "in_ground", HOLES),
    (HOLE, "in_ground + pipe.cut_allowance_m", "in_ground", HOLES),
    (HOLE, "bottom_cover_m=depth - in_ground", "bottom_cover_m=footing.bottom_cover_m", HOLES),
    (HOLE, "(footing.hole_diameter_m - post_od_m) / 2", "(footing.hole_diameter_m + post_od_m) / 2", HOLES),
    (HOLE, "/ 2 - footing.side_cover_m", "/ 2", HOLES),
    (MARK, "amount_m=cut_m - hi_m", "amount_m=hi_m - cut_m", CUT),
    (MARK, "CutCase.DOWN, amount_m=hi_m - cut_m", "CutCase.DOWN, amount_m=uncut_top_m - cut_m", CUT),
    (MARK, "CutCase.ROD, amount_m=hi_m - cut_m", "CutCase.ROD, amount_m=hi_m - uncut_top_m", CUT),
    (RELIABILITY, "sd / np.sqrt(_checked", "sd * np.sqrt(_checked", RELIABLE),
    (RELIABILITY, "np.sqrt((1.0 - r) / r)", "np.sqrt((1.0 + r) / r)", RELIABLE),
    (ELLIPSES, "2.0 * float(cov_m2[0, 1])", "-2.0 * float(cov_m2[0, 1])", ELLIPSE),
    (ELLIPSES, "cov_m2[1, 1] - cov_m2[0, 0]", "cov_m2[0, 0] - cov_m2[1, 1]", ELLIPSE),
    (ELLIPSES, "np.hstack([-np.eye(2)", "np.hstack([np.eye(2)", ELLIPSE),
    (ELLIPSES, "-2.0 * math.log(0.05)", "-math.log(0.05)", ELLIPSE),
    (FREE, "north / reach, -east / reach", "north / reach, east / reach", INNER),
    (FREE, "moves[-1, 4] = -1.0 / reach", "moves[-1, 4] = 1.0 / reach", INNER),
    (FREE, "[c, s, 0.0], [-s, c, 0.0]", "[c, -s, 0.0], [s, c, 0.0]", INNER),
    (FREE, "np.eye(count) - free @", "np.eye(count) + free @", INNER),
    (FREE, "held.T @ (frame.near - at)", "held.T @ (at - frame.near)", INNER),
    (FREE, "kept - middle", "kept", INNER),
    (FREE, "carry = carry @ np.kron(np.eye(len(order)), turned)", "carry = carry @ np.eye(count)", INNER),
    (BLOCKS, "block[k:, :k] = -inner @ y", "block[k:, :k] = inner @ y", BLOCKWISE),
    (BLOCKS, "block[:k, :k] -= y.T @", "block[:k, :k] += y.T @", BLOCKWISE),
    (SPARSE, "(normal.weighted.T @ (observed / sd)) / normal.scale", "(normal.weighted.T @ (observed / sd))",
     SPARSELY),
    (BENT, "_total(stack, at - step) - total", "_total(stack, at + step) - total", BENDING),
    (BENT, "* SDS / around.semi_major_m", "* SDS / around.semi_minor_m", BENDING),
    (NETWORK, "np.eye(len(at)) - carried", "np.eye(len(at)) + carried", NETWORKS),
)  # fmt: skip


def first_failure(top: Path, tests: tuple[str, ...]) -> str | None:
    """Return the name of the first test that fails there, None when all pass."""
    command = [sys.executable, "-m", "pytest", "-x", "-q", "-p", "no:cacheprovider", *tests]
    done = subprocess.run(command, cwd=top, capture_output=True, text=True, check=False)
    if done.returncode == 0:
        return None
    found = re.search(r"^(?:FAILED|ERROR) (\S+)", done.stdout, re.MULTILINE)
    return found[1] if found else "the tests do not even start"


def main() -> None:
    """Try every mutant; exit with 1 when one survives."""
    survivors = 0
    with tempfile.TemporaryDirectory() as scratch:
        top = Path(scratch) / "project"
        shutil.copytree(TOP, top, ignore=shutil.ignore_patterns(".git", ".venv", "out", "__pycache__"))
        for file, old, new, tests in MUTANTS:
            path = top / file
            original = path.read_text(encoding="utf-8")
            if old not in original:
                sys.exit(f"{file} no longer holds {old!r}: mend the list of mutants")
            path.write_text(original.replace(old, new), encoding="utf-8")
            failure = first_failure(top, tests)
            path.write_text(original, encoding="utf-8")
            survivors += failure is None
            print(f"{file}: {old} -> {new or 'dropped'}: {failure or 'SURVIVES'}", flush=True)
    print(f"{len(MUTANTS) - survivors} of {len(MUTANTS)} mutants are caught by a named test")
    sys.exit(1 if survivors else 0)


if __name__ == "__main__":
    main()
