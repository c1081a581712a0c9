"""Stated 95 % intervals on real ground, every design drawn many times; by hand, some minutes on one core."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent.parent / "tests" / "ground"))

from designs import (  # type: ignore[import-not-found]
    DESIGNS,
    against_triangulation,
    choosing,
    drawn,
    triangulated,
)

from staking.ground.choosing import CLEARLY
from staking.ground.surface import fitted_surface

DRAWS = 40
FIRST_SEED = 50_000
"""Other draws than the tests': neither may be fitted to."""
PLACES = 300
"""Left-out places looked up in one draw."""
TRIANGULATIONS = 20


def main() -> None:
    """Print, by design, how often intervals hold and what the stated sd is over the error made.

    Standard errors are taken over draws: places of one draw share its shots and are not independent.
    """
    for kind, fit in (("statistical", fitted_surface), ("triangulated", triangulated)):
        _intervals(kind, fit)
    _choices()
    _against_triangulation()


def _intervals(kind: str, fit: Callable[..., object]) -> None:
    print(f"{kind:28}{'held %':>7}{'s.e.':>6}{'least':>7}{'sd/rms':>8}{'places':>8}")
    every = []
    for name, design in DESIGNS.items():
        draws = [drawn(design, FIRST_SEED + i, PLACES, fit) for i in range(DRAWS)]
        held, error, stated = np.array([result for result, _ in draws]).T
        places = sum(count for _, count in draws)
        every.append(held.mean())
        print(
            f"{name:28}{100 * held.mean():7.1f}{100 * held.std(ddof=1) / np.sqrt(DRAWS):6.1f}"
            f"{100 * held.min():7.0f}{np.sqrt(stated.mean() / error.mean()):8.2f}{places:8d}",
            flush=True,
        )
    print(f"{'mean of the designs':28}{100 * np.mean(every):7.1f}\n")


def _choices() -> None:
    print(
        f"{'rms error, mm':28}{'statistical':>12}{'triangles':>10}{'least left out':>20}{'clearly least':>20}"
    )
    for name, design in DESIGNS.items():
        share, one, other = np.array([choosing(design, FIRST_SEED + i, PLACES) for i in range(DRAWS)]).T
        cells = [f"{1000 * np.sqrt(one.mean()):12.0f}", f"{1000 * np.sqrt(other.mean()):10.0f}"]
        for limit in (1.0, CLEARLY):
            taken = share < limit
            rms = 1000 * np.sqrt(np.where(taken, other, one).mean())
            cells.append(f"{f'{rms:.0f} ({taken.sum()} of {DRAWS})':>20}")
        print(f"{name:28}" + "".join(cells), flush=True)


def _against_triangulation() -> None:
    print(f"\n{'rms error, mm':28}{'ours':>7}{'linear triangulation':>22}{'better in':>11}")
    for count in (20, 40, 80, 150):
        ours, theirs = np.array(
            [against_triangulation(count, FIRST_SEED + i) for i in range(TRIANGULATIONS)]
        ).T
        print(
            f"{f'{count} scattered shots':28}{1000 * np.sqrt(ours.mean()):7.0f}"
            f"{1000 * np.sqrt(theirs.mean()):22.0f}{(ours < theirs).sum():5d} of {TRIANGULATIONS}",
            flush=True,
        )


if __name__ == "__main__":
    main()
