"""How rough the ground is between the shots: its covariance, from the shots and from what ground is like.

The restricted likelihood (of the n − 3 contrasts of the shots that no plane explains) is evaluated on a grid
of smoothness, range and standard deviation, times a prior; the covariance handed on is the average over
the grid, not its best point. Best points alone held their 95 % intervals for 70 to 85 % of the places left
out on real ground with 8 to 20 shots; the average holds about 95 %, and kriging with it costs the same.

D. A. Harville, J. Amer. Statist. Assoc. 72 (1977) 320-338 (restricted likelihood); P. K. Kitanidis, Water
Resources Research 22 (1986) 499-507 (parameters' uncertainty in kriging); both from memory.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from staking.ground.covariance import (
    MATERN_12,
    MATERN_32,
    MATERN_52,
    Covariance,
    Smoothness,
    Term,
    distances_m,
    roughened,
)
from staking.ground.kriging import NOISE_FLOOR_M, Drift, PlaneDrift

Floats = NDArray[np.float64]

ROUGH_SHARES = (0.01, 0.05)
"""Shares of a Matérn 3/2 ground's variance that may be exponential. Variograms of real ground on a 1 m grid
grow as distance to the power 1.4 to 1.8, not 2: shots farther apart than that fine roughness cannot see it,
and without a share of it their 95 % intervals held for 80 to 85 % of the places of such a grid."""
SHAPES: tuple[Smoothness, ...] = (
    MATERN_12,
    *(roughened(MATERN_32, share) for share in ROUGH_SHARES),
    MATERN_52,
)

DEPARTURE = 0.0055
"""Typical rms departure of ground from its best plane over the diagonal of the patch: 0.0064, 0.0056, 0.0048
and 0.0045 in squares of 5, 10, 20 and 40 m of the 1 m lidar ground that the tests use."""
DEPARTURE_LOG_SD = 0.7
"""One standard deviation of the departure's natural logarithm, a factor of two: lawns against rough pasture
(common practice, no source). Matters below some ten shots; with three or four it is all there is."""
FLAT_BELOW = -2.0
"""Below this many of those standard deviations, a quarter of the typical departure, the prior falls as a
straight line of the logarithm only: graded pads are far flatter, and a few shots more may say so."""
RANGE = 0.4
"""Typical range over the diagonal of the patch; its logarithm has a standard deviation of `RANGE_LOG_SD`,
which leaves the shots to decide wherever they can (common practice, no source)."""
RANGE_LOG_SD = 1.0
RANGE_LIMITS = (0.06, 2.0)
"""Ranges tried, over the diagonal: beyond twice the patch a longer one gives the same surface."""
RANGE_STEP = 0.7
"""Step of the grid in the range's logarithm; along it the variance takes up what the range misses."""
SD_LIMITS = (-10.0, 5.0)
"""Standard deviations tried, as logarithms over the typical departure: down to some thousandths of a mm."""
SD_STEP = 0.15
LIKELIHOOD_SHOTS = 150
"""Shots that the likelihood uses at most: its cost grows with their cube, while 150 already tell the
covariance to a few per cent. Half are those nearest the middle, as close together as the survey has them, and
half every k-th of the others in order of distance from it; so turning the site or shuffling its shots changes
nothing. All shots shape the surface."""
NEGLIGIBLE = 0.02
"""Terms of the average with less weight than this are left out: look-ups cost one exponential a term."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Roughness:
    """What the shots and the prior say of the ground's covariance."""

    covariance: Covariance
    """Averaged over what fits."""
    smoothness: str
    """Name of the most probable smoothness."""
    range_m: float
    """Geometric mean."""
    chances: Mapping[str, float]
    """Probability of each smoothness, by its name."""


def expected_departure(shape: Smoothness, range_over_diagonal: float) -> float:
    """Return the expected rms departure from the best plane over a square, variance and diagonal one."""
    line = np.linspace(-0.5, 0.5, 5) / math.sqrt(2.0)
    places = np.array([(e, n) for e in line for n in line])
    q = np.linalg.qr(PlaneDrift(centre_m=(0.0, 0.0), scale_m=1.0)(places))[0]
    r = shape.at(distances_m(places, places) * (shape.k / range_over_diagonal))
    return math.sqrt((float(np.trace(r)) - float(np.trace(q.T @ r @ q))) / len(places))


def _half_square(normal: Floats) -> Floats:
    """Return half the square, and below `FLAT_BELOW` its tangent."""
    tangent = FLAT_BELOW * normal - 0.5 * FLAT_BELOW**2
    return np.where(normal < FLAT_BELOW, tangent, 0.5 * normal**2)


def _thinned(en_m: Floats) -> NDArray[np.intp]:
    """Return the indices of the shots that the likelihood uses."""
    order = np.argsort(distances_m(en_m, en_m.mean(axis=0)[None, :])[:, 0], kind="stable")
    if len(order) <= LIKELIHOOD_SHOTS:
        return order
    near = LIKELIHOOD_SHOTS // 2
    far = np.linspace(near, len(order) - 1, LIKELIHOOD_SHOTS - near).round().astype(np.intp)
    return np.asarray(order[np.concatenate([np.arange(near), far])])


def _ranges(h_m: Floats) -> tuple[float, Floats]:
    """Return the diagonal of the patch and the ranges to try, metres, from the shots' distances."""
    diagonal = float(h_m.max())
    apart = np.where(h_m > RANGE_LIMITS[0] * diagonal / 10.0, h_m, np.inf)
    spacing = float(np.median(apart.min(axis=1)))
    low = math.log(min(RANGE_LIMITS[0] * diagonal, spacing))
    high = math.log(RANGE_LIMITS[1] * diagonal)
    return diagonal, np.exp(np.linspace(low, high, math.ceil((high - low) / RANGE_STEP) + 1))


def estimated_roughness(en_m: Floats, z_m: Floats, noise_m2: Floats, *, drift: Drift) -> Roughness:
    """Estimate the ground's covariance from shots.

    Parameters
    ----------
    en_m, z_m, noise_m2
        Plan positions (n, 2), elevations (n,) and the joint covariance (n, n) of their errors, metres.
    drift
        Of the ground; with no contrast left beside it (three shots and a plane) the prior is all there is.

    Notes
    -----
    With the errors whitened and the drift projected out, one eigendecomposition for each smoothness and range
    gives the restricted likelihood of every variance at once.
    """
    used = _thinned(en_m)
    grid = weighed_grid(en_m[used], z_m[used], noise_m2[np.ix_(used, used)], drift=drift)
    log_chance = np.array([cell.log_chance for cell in grid.cells]).reshape(
        len(SHAPES), len(grid.ranges_m), -1
    )
    chance = np.exp(log_chance - log_chance.max())
    chance /= chance.sum()
    return _averaged(chance, grid.ranges_m, grid.variances_m2)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Cell:
    """One smoothness and range, every variance: what the shots and the prior say of it."""

    log_chance: Floats
    """(v,), restricted likelihood times prior, up to a constant that all cells share."""
    values: Floats
    """(k,), eigenvalues of the ground's covariance of unit variance over the contrasts' errors."""
    basis: Floats
    """(k, n): shots to contrasts that are independent, with variance ``1 + variance · value``."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Grid:
    """Every covariance that is tried, with how well it fits."""

    ranges_m: Floats
    variances_m2: Floats
    """(v,)."""
    cells: tuple[Cell, ...]
    """By smoothness, then by range."""


def weighed_grid(en_m: Floats, z_m: Floats, noise_m2: Floats, *, drift: Drift) -> Grid:
    """Weigh every covariance that is tried, by all the shots and the prior; see `estimated_roughness`."""
    n = len(z_m)
    columns = drift(en_m)
    contrasts = np.linalg.qr(columns, mode="complete")[0][:, columns.shape[1] :]
    noise = noise_m2 + np.eye(n) * NOISE_FLOOR_M**2
    factor = np.linalg.cholesky(contrasts.T @ noise @ contrasts)
    white = np.linalg.solve(factor, contrasts.T)
    y = white @ z_m
    h_m = distances_m(en_m, en_m)
    diagonal, ranges = _ranges(h_m)
    log_sd = np.arange(*SD_LIMITS, SD_STEP) + math.log(DEPARTURE * diagonal)
    variances = np.exp(2.0 * log_sd)
    cells = []
    for shape in SHAPES:
        for range_m in ranges:
            values, vectors = np.linalg.eigh(white @ shape.at(h_m * (shape.k / range_m)) @ white.T)
            values = np.maximum(values, 0.0)
            spread = 1.0 + variances[:, None] * values
            likelihood = -0.5 * (np.log(spread) + (vectors.T @ y) ** 2 / spread).sum(axis=1)
            departure = log_sd + math.log(
                expected_departure(shape, range_m / diagonal) / (DEPARTURE * diagonal)
            )
            log_range = math.log(range_m / (RANGE * diagonal))
            prior = _half_square(departure / DEPARTURE_LOG_SD) + 0.5 * (log_range / RANGE_LOG_SD) ** 2
            cells.append(Cell(log_chance=likelihood - prior, values=values, basis=vectors.T @ white))
    return Grid(ranges_m=ranges, variances_m2=variances, cells=tuple(cells))


def _together(parts: list[tuple[Smoothness, float]], range_m: float) -> Term:
    """Return shapes of one k and range, each with its variance, as one term: their sum has the same form."""
    variance = sum(v for _, v in parts)
    shape = parts[0][0]
    mixed = Smoothness(
        name=shape.name,
        k=shape.k,
        b=sum(v * part.b for part, v in parts) / variance,
        c=sum(v * part.c for part, v in parts) / variance,
    )
    return Term(smoothness=mixed, variance_m2=variance, range_m=range_m)


def _averaged(chance: Floats, ranges: Floats, variances: Floats) -> Roughness:
    """Return the average over the grid; `chance` is (shapes, ranges, variances) and sums to one."""
    weight = chance.sum(axis=2)
    chances: dict[str, float] = {}
    for shape, share in zip(SHAPES, weight.sum(axis=1), strict=True):
        chances[shape.name] = chances.get(shape.name, 0.0) + float(share)
    shares = chance @ variances
    kept = weight >= NEGLIGIBLE * weight.max()
    shares /= weight[kept].sum()
    terms = tuple(
        _together(
            [(shape, float(shares[i, j])) for i, shape in enumerate(SHAPES) if shape.k == k and kept[i, j]],
            float(range_m),
        )
        for j, range_m in enumerate(ranges)
        for k in sorted({shape.k for i, shape in enumerate(SHAPES) if kept[i, j]})
    )
    return Roughness(
        covariance=Covariance(terms=terms),
        smoothness=max(chances, key=lambda name: chances[name]),
        range_m=float(np.exp(weight.sum(axis=0) @ np.log(ranges))),
        chances=chances,
    )
