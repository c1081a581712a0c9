"""Invented yards for the tests of the marks: a ground that is a function, an array on it, pins round it."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from staking.book.records import Accuracy, Stakes
from staking.control.adjustment import Points
from staking.ground.elevations import Elevations
from staking.layout.frame import ArrayPlane, Fit, PierLengths, Piers
from staking.marks.yard import stake_out

SD_GROUND_M = 0.01
SHARED_VAR_M2 = 0.00004
"""Part of the ground's variance that neighbouring places share."""


class FunctionGround:
    """Ground given by a function of (east, north) arrays."""

    def __init__(self, height: Callable[[np.ndarray, np.ndarray], np.ndarray]):
        self._height = height

    def z(self, en_m):
        return np.asarray(self._height(en_m[:, 0], en_m[:, 1]), dtype=float) + np.zeros(len(en_m))

    def at(self, en_m):
        m = len(en_m)
        cov = np.full((m, m), SHARED_VAR_M2) + (SD_GROUND_M**2 - SHARED_VAR_M2) * np.eye(m)
        return Elevations(z_m=self.z(en_m), cov_m2=cov)

    def z_at_piers(self, names, en_m):
        return self.z(en_m)

    def at_piers(self, names, en_m):
        return self.at(en_m)

    def gradient(self, en_m):
        raise NotImplementedError

    def outside(self, en_m):
        return np.zeros(len(en_m), dtype=bool)

    def shots_en_m(self):
        return np.zeros((0, 2))


LEVEL = FunctionGround(lambda east, north: 0.0 * east)
SLOPING = FunctionGround(lambda east, north: 30.0 + 0.04 * east + 0.10 * north)


def array_on(
    ground,
    *,
    azimuth_deg=180.0,
    tilt_deg=28.0,
    cross_deg=0.0,
    per_beam=5,
    bay_m=2.667,
    beams_at_m=(0.58, 2.87),
    a1=(0.0, 0.0),
    turn=lambda en: en,
):
    """Return the fit of an array; piers placed by plain sines and cosines of its facing."""
    alpha, beta, gamma = (math.radians(d) for d in (azimuth_deg, tilt_deg, cross_deg))
    names, beam, number, places = [], [], [], []
    for i, q in enumerate(beams_at_m):
        for j in range(per_beam):
            s = j * bay_m * math.cos(gamma)
            t = (q - beams_at_m[0]) * math.cos(beta)
            names.append(f"{chr(65 + i)}{j + 1}")
            beam.append(i)
            number.append(j + 1)
            places.append(
                (
                    a1[0] - s * math.cos(alpha) - t * math.sin(alpha),
                    a1[1] + s * math.sin(alpha) - t * math.cos(alpha),
                )
            )
    en = np.array(places)
    elevations = ground.at(en)
    m = len(names)
    top = elevations.z_m + 0.5 + 0.3 * np.array(beam)
    return Fit(
        plane=ArrayPlane(
            azimuth_rad=alpha, tilt_rad=beta, cross_slope_rad=gamma, a1_en_m=a1, z_a1_m=float(top[0]) + 0.055
        ),
        piers=Piers(names=tuple(names), beam=np.array(beam), number=np.array(number), en_m=en),
        lengths=PierLengths(
            ground_m=elevations.z_m,
            ground_cov_m2=elevations.cov_m2,
            top_m=top,
            sd_top_m=0.002,
            sd_top_neighbour_m=0.002,
            above_grade_m=top - elevations.z_m,
            sd_above_grade_m=np.full(m, 0.01),
        ),
        beams=(),
        bay_m=bay_m,
        modules_outline_en_m=np.zeros((4, 2)),
        plan_outline_en_m=np.zeros((4, 2)),
        rail_length_m=3.4,
        rails=14,
        clearance_m=0.56,
        clearance_at_en_m=(0.0, 0.0),
        highest_m=2.0,
        highest_at_en_m=(0.0, 0.0),
        true_tilt_rad=beta,
        true_azimuth_rad=alpha,
        rail_slope_rad=beta,
        skew_m=0.0,
    )


def points_at(places, *, kinds=None, cov_m2=None):
    """Return adjusted points from ``{name: (east, north, elevation or None)}``; without covariance, fixed."""
    enz = np.array([[np.nan if c is None else c for c in place] for place in places.values()], dtype=float)
    n = len(enz)
    cov = np.zeros((3 * n, 3 * n)) if cov_m2 is None else np.array(cov_m2, dtype=float)
    unknown = np.isnan(enz.reshape(-1))
    cov[unknown, :] = np.nan
    cov[:, unknown] = np.nan
    return Points(
        names=tuple(places),
        kinds=tuple((kinds or {}).get(name, "pin") for name in places),
        shapes_ground=(False,) * n,
        enz_m=enz,
        cov_m2=cov,
    )


def joint_cov(n, *, sd_m, seed):
    """Return a full covariance (3n, 3n): every coordinate correlated with every other."""
    mix = np.random.default_rng(seed).normal(size=(3 * n, 3 * n)) / math.sqrt(3 * n)
    return sd_m**2 * (mix @ mix.T + 0.2 * np.eye(3 * n))


PINS = {
    "P1": (-3.0, -4.0, 29.5),
    "P2": (14.0, -4.2, 30.4),
    "P3": (5.0, 9.0, 31.2),
    "P4": (-4.0, 6.0, None),
}
TAPE = Accuracy(tape_m=0.003, tape_per_m=0.0002)


def marked(
    *,
    ground=SLOPING,
    places=PINS,
    cov_m2=None,
    baseline=("P1", "P2"),
    pins=None,
    accuracy=TAPE,
    stakes=None,
    **rest,
):
    keys = ("hole_diameter_m", "lost", "show")
    fit = array_on(ground, **{k: v for k, v in rest.items() if k not in keys})
    out = stake_out(
        fit,
        points=points_at(places, cov_m2=cov_m2),
        pins=tuple(places) if pins is None else pins,
        baseline=baseline,
        ground=ground,
        accuracy=accuracy,
        stakes=stakes or Stakes(offset_hub_m=0.9144),
        **{k: v for k, v in rest.items() if k in keys},
    )
    return fit, out


def where(fit, name):
    return complex(*fit.piers.en_m[fit.piers.names.index(name)])
