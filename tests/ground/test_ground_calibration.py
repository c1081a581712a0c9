"""Stated 95 % intervals hold for nine places in ten or more, on real ground and on invented ground.

Each design of shots is drawn several times; what is judged is the mean over the draws, because the shots of
one draw say one thing of the roughness for all its places: single draws stray far more. All designs, many
draws and standard errors: ``python -m benchmarks.calibration``.
"""

from functools import cache

import numpy as np
import pytest
from designs import DESIGNS, ROD_SD_M, against_triangulation, drawn, judged
from grounds import plane, waves

from staking.ground.surface import fitted_surface

LEAST, MOST = 0.90, 0.98
"""Of a design's mean. Ninety-five is meant; a mean over a few draws strays by about two per cent."""
DRAWS = {
    "40 scattered": 6,
    "80 scattered": 4,
    "150 scattered": 2,
    "2 m grid": 4,
    "4 m grid": 4,
    "10 m square, 2 m grid": 10,
    "10 m square, 10 scattered": 16,
    "15 m square, 20 scattered": 12,
    "20 m square, 4 m grid": 12,
    "20 m square, 20 scattered": 12,
    "20 m square, 6 scattered": 20,
}
PLACES = 400


@cache
def on_real_ground(name):
    """Return share held, mean square error and mean stated variance of one design's draws."""
    results = [drawn(DESIGNS[name], 20_000 + draw, PLACES)[0] for draw in range(DRAWS[name])]
    return tuple(np.mean(results, axis=0))


def test_intervals_hold_on_real_ground_as_often_as_stated():
    """95 %, give or take two, over all designs; of one design the draws are too few for that."""
    assert 0.93 <= np.mean([on_real_ground(name)[0] for name in DRAWS]) <= 0.97


@pytest.mark.parametrize("name", DRAWS)
def test_on_real_ground(name):
    held, error, stated = on_real_ground(name)
    assert LEAST <= held <= MOST
    # The sd stated is the size of the errors made, not a shelter.
    assert 0.8 < np.sqrt(stated / error) < 1.6


@pytest.mark.parametrize("ground", [plane, waves])
@pytest.mark.parametrize("count", [16, 30, 60])
def test_on_invented_ground(ground, count):
    # Ground smoother than any yard: the intervals may hold more often than meant, never less.
    results = []
    for draw in range(5):
        rng = np.random.default_rng(500 + draw)
        en = rng.uniform(0, 14, (count, 2))
        surface = fitted_surface(en, ground(en) + rng.normal(0, ROD_SD_M, count), np.eye(count) * ROD_SD_M**2)
        places = rng.uniform(0, 14, (300, 2))
        places = places[~surface.outside(places)]
        results.append(judged(surface, places, ground(places)))
    held, error, stated = np.mean(results, axis=0)
    assert held >= LEAST
    assert np.sqrt(stated / error) < 3.0


@pytest.mark.parametrize("count", [20, 40, 80, 150])
def test_predicts_no_worse_than_linear_triangulation(count):
    ours, theirs = np.mean([against_triangulation(count, seed) for seed in range(3)], axis=0)
    assert ours < 0.9 * theirs


def test_agrees_with_linear_triangulation_on_a_plane():
    from scipy.interpolate import LinearNDInterpolator

    en = np.random.default_rng(0).uniform(0, 12, (25, 2))
    places = np.random.default_rng(1).uniform(2, 10, (50, 2))
    linear = LinearNDInterpolator(en, plane(en))(places)
    inside = np.isfinite(linear)
    np.testing.assert_allclose(fitted_surface(en, plane(en)).z(places[inside]), linear[inside], atol=1e-9)
