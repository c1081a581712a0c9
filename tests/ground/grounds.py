"""Grounds that the tests of this room share: real, invented, and drawn from a known covariance."""

from pathlib import Path

import numpy as np

LIDAR_EAST_M, LIDAR_NORTH_M = 429262.81, 5150544.92
"""Of the patch's north-west corner; see the head of data/lidar_patch.csv."""


def lidar_patch():
    """Return positions (1681, 2) and elevations (1681,) of real ground, row by row from the north."""
    z = np.loadtxt(Path(__file__).parent / "data" / "lidar_patch.csv", delimiter=",")
    row, column = np.mgrid[0:41, 0:41]
    en = np.column_stack([LIDAR_EAST_M + column.ravel(), LIDAR_NORTH_M - row.ravel()])
    return en, z.ravel()


def plane(en):
    return 30.0 + 0.04 * en[:, 0] + 0.10 * en[:, 1]


def waves(en):
    return plane(en) + 0.05 * np.sin(en[:, 0] / 2.0)


def field(rng, covariance, en):
    """Return one draw (n,) of a Gaussian field at places."""
    h = np.hypot(*(en[:, None, :] - en[None, :, :]).transpose(2, 0, 1))
    factor = np.linalg.cholesky(covariance.at(h) + 1e-12 * np.eye(len(en)))
    return factor @ rng.standard_normal(len(en))
