"""Ways of shooting the patch of real ground, and how well a surface's stated uncertainty holds there."""

import numpy as np
from grounds import lidar_patch

from staking.ground.choosing import LEAST_SHOTS, chosen
from staking.ground.surface import fitted_surface
from staking.ground.triangle_surface import triangulated_surface

EN, Z = lidar_patch()
SIDE = 41
ROD_SD_M = 0.0015


def window(rng, side):
    """Return indices of a square of side + 1 lines of the patch."""
    row, column = rng.integers(0, SIDE - side, 2)
    rows, columns = np.mgrid[row : row + side + 1, column : column + side + 1]
    return rows, columns


def scattered(side, count):
    def design(rng):
        rows, columns = window(rng, side)
        inside = (rows * SIDE + columns).ravel()
        return rng.choice(inside, count, replace=False), inside

    return design


def gridded(side, step):
    def design(rng):
        rows, columns = window(rng, side)
        inside = (rows * SIDE + columns).ravel()
        start = rng.integers(0, step, 2) if side == SIDE - 1 else (0, 0)
        return (rows * SIDE + columns)[start[0] :: step, start[1] :: step].ravel(), inside

    return design


DESIGNS = {
    "40 scattered": scattered(40, 40),
    "80 scattered": scattered(40, 80),
    "150 scattered": scattered(40, 150),
    "2 m grid": gridded(40, 2),
    "3 m grid": gridded(40, 3),
    "4 m grid": gridded(40, 4),
    "5 m grid": gridded(40, 5),
    "10 m square, 2 m grid": gridded(10, 2),
    "10 m square, 10 scattered": scattered(10, 10),
    "10 m square, 20 scattered": scattered(10, 20),
    "15 m square, 3 m grid": gridded(15, 3),
    "15 m square, 20 scattered": scattered(15, 20),
    "20 m square, 2 m grid": gridded(20, 2),
    "20 m square, 4 m grid": gridded(20, 4),
    "20 m square, 20 scattered": scattered(20, 20),
    "20 m square, 40 scattered": scattered(20, 40),
    "20 m square, 6 scattered": scattered(20, 6),
}


def judged(surface, places, truth):
    """Return the share of intervals that hold, and the mean squares of error and of stated sd."""
    estimate = np.array([])
    sd = np.array([])
    for some in np.array_split(places, max(1, len(places) // 400)):
        told = surface.at(some)
        estimate, sd = np.append(estimate, told.z_m), np.append(sd, told.sd_m)
    error = estimate - truth
    return np.mean(np.abs(error) < 1.96 * sd), np.mean(error**2), np.mean(sd**2)


def triangulated(en, readings, noise_m2):
    """Return the triangulated surface of shots, with the covariance that a plan gives it."""
    covariance = fitted_surface(en, readings, noise_m2).roughness.covariance
    return triangulated_surface(en, readings, noise_m2, covariance=covariance)


def drawn(design, seed, at_most, fit=fitted_surface):
    """Shoot a design once and judge its surface at places left out, about at_most of those inside."""
    rng = np.random.default_rng(seed)
    used, inside = design(rng)
    readings = Z[used] + rng.normal(0, ROD_SD_M, len(used))
    surface = fit(EN[used], readings, np.eye(len(used)) * ROD_SD_M**2)
    left = np.setdiff1d(inside, used)
    left = left[~surface.outside(EN[left])]
    left = left[:: max(1, len(left) // at_most)]
    return judged(surface, EN[left], Z[left]), len(left)


def against_triangulation(count, seed):
    """Return mean squares of error, ours and linear triangulation's, inside scattered shots of the patch."""
    from scipy.interpolate import LinearNDInterpolator

    used = np.random.default_rng(seed).choice(len(Z), count, replace=False)
    surface = fitted_surface(EN[used], Z[used], np.eye(count) * ROD_SD_M**2)
    linear = LinearNDInterpolator(EN[used] - EN[0], Z[used])(EN - EN[0])
    inside = np.isfinite(linear)
    inside[used] = False
    return np.mean((surface.z(EN[inside]) - Z[inside]) ** 2), np.mean((linear[inside] - Z[inside]) ** 2)


def choosing(design, seed, at_most):
    """Return the shares of left-out errors and of true ones, triangles over the statistical surface."""
    rng = np.random.default_rng(seed)
    used, inside = design(rng)
    readings = Z[used] + rng.normal(0, ROD_SD_M, len(used))
    noise = np.eye(len(used)) * ROD_SD_M**2
    one = fitted_surface(EN[used], readings, noise)
    other = triangulated_surface(EN[used], readings, noise, covariance=one.roughness.covariance)
    choice = chosen(one, other)
    left = np.setdiff1d(inside, used)
    left = left[~one.outside(EN[left])]
    left = left[:: max(1, len(left) // at_most)]
    errors = [np.mean((surface.z(EN[left]) - Z[left]) ** 2) for surface in (one, other)]
    share = np.nan
    if choice.rms_statistical_m is not None and choice.shots >= LEAST_SHOTS:
        share = choice.rms_triangulated_m / choice.rms_statistical_m
    return share, *errors
