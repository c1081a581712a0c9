"""Yards with a sharp bank, whose truth is known, and how well a surface recovers them."""

import numpy as np
from grounds import lidar_patch

from staking.ground.surface import fitted_surface

ROD_SD_M = 0.0015
TOE = np.array([(0.0, 8.0), (20.0, 8.0)])
TOP = np.array([(0.0, 11.0), (20.0, 11.0)])
BANK = (TOE, TOP)
PATCH_EN, PATCH_Z = lidar_patch()


def bank(en):
    """Gentle ground, a bank of one in two from 8 m to 11 m north, a terrace."""
    return 10 + 0.03 * en[:, 0] + np.interp(en[:, 1], [-92, 8, 11, 111], [-2.0, 0, 1.5, 5.5])


def ends_in_the_yard(en):
    """A crease along 10 m north that dies out half-way: its fold is a half at the west, none at 10 m."""
    east, north = en[:, 0], en[:, 1] - 10.0
    share = np.clip(1.0 - east / 10.0, 0.0, None)
    return 10 + 0.02 * en[:, 0] + 0.25 * share * np.abs(north)


def places(count, seed=0, side=20.0):
    return np.random.default_rng(seed).uniform(0.0, side, (count, 2))


def shot(ground, lines, count, seed):
    """Return places and readings of scattered shots and of every point of the breaks."""
    rng = np.random.default_rng(seed)
    en = np.vstack([rng.uniform(0.0, 20.0, (count, 2)), *lines])
    return en, ground(en) + rng.normal(0.0, ROD_SD_M, len(en))


def readings(n):
    return np.eye(n) * ROD_SD_M**2


def banked_patch(count, seed, *, told):
    """Return error and sd (m,) of places not shot of real ground with a bank set into it, inside the shots.

    The real ground's departures from the straight line are taken off along the two breaks, so that they are
    breaks as the program takes them.
    """
    rng = np.random.default_rng(seed)
    row, column = rng.integers(0, 41 - 20, 2)
    rows, columns = (part.ravel() for part in np.mgrid[row : row + 21, column : column + 21])
    en = np.column_stack([columns - column, rows - row]).astype(float)
    z = PATCH_Z[rows * 41 + columns].copy()
    # Two halves of different ground: the second is turned over, so nothing runs on over the break.
    north = en[:, 1]
    crest = 10.0
    on = np.flatnonzero(north == crest)
    line = np.interp(en[:, 0], [0.0, 20.0], z[on[[0, -1]]])
    off_line = z - np.interp(en[:, 0], en[on, 0], z[on]) + line
    z = np.where(north <= crest, off_line, 2.0 * line - off_line) + np.where(north > crest, 0.3, 0.0) * (
        north - crest
    )
    ends = on[[0, -1]]
    used = np.unique(np.concatenate([rng.choice(len(en), count, replace=False), ends]))
    surface = fitted_surface(
        en[used],
        z[used] + rng.normal(0.0, ROD_SD_M, len(used)),
        readings(len(used)),
        breaks_en_m=(en[ends],) if told else (),
    )
    left = np.setdiff1d(np.arange(len(en)), used)
    left = left[~surface.outside(en[left])]
    at = surface.at(en[left])
    return at.z_m - z[left], at.sd_m
