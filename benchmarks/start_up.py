"""The whole command on each sample, and help, against floors measured in the same run."""

from __future__ import annotations

import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

SAMPLES = Path(__file__).parent.parent / "sample_surveys"
RUNS = 7
LIBRARIES = """
import numpy, scipy.optimize, shapely, pyproj, matplotlib.figure, typst
typst.compile(b"#set page(width: 100mm, height: 100mm)\\n")
"""
PLAN_TARGET = 1.5
"""Ratio: a script that only imports the libraries and compiles one empty page is the floor."""
HELP_TARGET = 4.0


def seconds(*arguments: str) -> float:
    """Return the median wall time of the interpreter with these arguments."""
    times = []
    for _ in range(RUNS):
        start = time.perf_counter()
        subprocess.run([sys.executable, *arguments], check=True, capture_output=True)
        times.append(time.perf_counter() - start)
    return statistics.median(times)


def main() -> None:
    """Print the ratios."""
    floor = seconds("-c", LIBRARIES)
    print(f"floor: libraries imported, one empty page     {1000 * floor:6.0f} ms")
    with tempfile.TemporaryDirectory() as out:
        for sample in sorted(path.parent for path in SAMPLES.glob("*/job.toml")):
            took = seconds("-m", "staking.cli", "plan", str(sample), "--out", out)
            print(f"plan {sample.name:<18} {took / floor:5.2f} of the floor (target {PLAN_TARGET})")
    bare = seconds("-c", "pass")
    took = seconds("-m", "staking.cli", "--help")
    print(f"help                   {took / bare:5.2f} of python -c pass (target {HELP_TARGET})")


if __name__ == "__main__":
    main()
