"""The order of the rooms: imports only point up the list, and help loads nothing heavy."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

import staking

PACKAGE = Path(staking.__file__).parent
ROOMS = [
    "base",
    "north",
    "book",
    "control",
    "ground",
    "lines",
    "layout",
    "pipes",
    "marks",
    "clearances",
    "shading",
    "same_ground",
    "usual",
    "place_asked",
    "remarks",
    "ordering",
    "laying",
    "far_off",
    "siting",
    "tilting",
    "step_needs",
    "plan",
    "compare",
    "results",
    "ahead",
    "sheets",
    "formats",
    "changes",
    "cli",
]
HEAVY = {
    "ezdxf",
    "laspy",
    "rasterio",
    "gpxpy",
    "python_calamine",
    "xlsxwriter",
    "pynmea2",
    "pythoncdt",
    "numpy",
    "scipy",
    "highspy",
    "shapely",
    "pyproj",
    "pygeomag",
    "contourpy",
    "ephem",
    "typst",
}
RUN_TIME = HEAVY | {"staking"}


def _room(path: Path) -> str:
    return path.relative_to(PACKAGE).with_suffix("").parts[0]


def _modules() -> list[Path]:
    return sorted(path for path in PACKAGE.rglob("*.py") if path != PACKAGE / "__init__.py")


def _imports(path: Path) -> list[str]:
    found = []
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found += [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative import"
            found.append(node.module or "")
    return found


def test_every_module_stands_in_a_room():
    assert {_room(path) for path in _modules()} <= set(ROOMS)


@pytest.mark.parametrize("path", _modules(), ids=lambda p: str(p.relative_to(PACKAGE)))
def test_imports_point_up(path):
    here = ROOMS.index(_room(path))
    for name in _imports(path):
        if name.startswith("staking."):
            assert ROOMS.index(name.split(".")[1]) <= here, f"{path.name} imports {name}"


@pytest.mark.parametrize("path", _modules(), ids=lambda p: str(p.relative_to(PACKAGE)))
def test_only_the_declared_libraries_are_imported(path):
    outside = {name.split(".")[0] for name in _imports(path)} - set(sys.stdlib_module_names) - {"__future__"}
    assert outside <= RUN_TIME


def test_help_loads_nothing_heavy():
    heavy = sorted(HEAVY | {"matplotlib", "dataclasses"})
    code = (
        "import sys\nfrom staking.cli import main\n"
        "try:\n    main(['--help'])\nexcept SystemExit:\n    pass\n"
        f"print([name for name in {heavy} if name in sys.modules], file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert "usage: staking" in done.stdout
    assert done.stderr.strip() == "[]"
