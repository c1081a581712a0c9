"""Grounds given by a formula, the frame of docs/layout.md's check values, and plain 3-D vectors."""

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from staking.book.records import Accuracy, ArrayDesign, ArrayJob, FrameDesign, Limits, Place
from staking.ground.elevations import Elevations
from staking.layout.fitting import fitted
from staking.layout.frame import Fit

FT = 0.3048
IN = 0.0254
MM = 0.001


@dataclass
class FormulaGround:
    """A ground known everywhere, with one standard deviation everywhere."""

    z_of: Callable[[Any, Any], Any]
    sd_m: float = 0.0
    shots: tuple[tuple[float, float], ...] = ()
    asked: int = 0

    def z(self, en_m):
        self.asked += len(en_m)
        return np.asarray(self.z_of(en_m[:, 0], en_m[:, 1]), dtype=float)

    def at(self, en_m):
        return Elevations(z_m=self.z(en_m), cov_m2=np.eye(len(en_m)) * self.sd_m**2)

    def z_at_piers(self, names, en_m):
        assert len(names) == len(en_m)
        return self.z(en_m)

    def at_piers(self, names, en_m):
        return self.at(en_m)

    def gradient(self, en_m):
        step = 1e-5
        x, y = en_m[:, 0], en_m[:, 1]
        return np.stack(
            [
                (self.z_of(x + step, y) - self.z_of(x - step, y)) / (2 * step),
                (self.z_of(x, y + step) - self.z_of(x, y - step)) / (2 * step),
            ],
            axis=-1,
        )

    def outside(self, en_m):
        return np.zeros(len(en_m), dtype=bool)

    def shots_en_m(self):
        return np.array(self.shots, dtype=float).reshape(-1, 2)


def level_ground(x, y):
    return 30 + 0 * x


def sloping_ground(x, y):
    return 30 + 0.04 * x + 0.10 * y


def wavy_ground(x, y):
    return 30 + 0.04 * x + 0.10 * y + 0.05 * np.sin(x / 2)


def check_job(**fit: Any) -> ArrayJob:
    """The array, frame and limits of the check values in docs/layout.md."""
    limits = {"above_grade_min_m": 20 * IN, "above_grade_max_m": 20 * FT, "clearance_m": 22 * IN} | fit
    if "max_cross_slope_deg" in limits:
        limits["max_cross_slope_rad"] = math.radians(limits.pop("max_cross_slope_deg"))
        limits.setdefault("beams", "sloping")
    return ArrayJob(
        array=ArrayDesign(
            azimuth_rad=math.radians(172),
            tilt_rad=math.radians(28),
            modules_along=7,
            modules_up=3,
            module_along_m=66.9 * IN,
            module_up_m=44.1 * IN,
            module_thick_m=0.030,
            gap_along_m=3 / 8 * IN,
            gap_up_m=3 / 8 * IN,
        ),
        frame=FrameDesign(
            piers_per_beam=5,
            bay_m=8.75 * FT,
            beams_at_m=(1.9 * FT, 9.4 * FT),
            stack_m=0.130,
            takeout_m=0.055,
        ),
        place=Place(east_m=0.0, north_m=0.0),
        fit=Limits(**limits),
    )


def with_array(job: ArrayJob, **changed: Any) -> ArrayJob:
    return replace(job, array=replace(job.array, **changed))


def with_frame(job: ArrayJob, **changed: Any) -> ArrayJob:
    return replace(job, frame=replace(job.frame, **changed))


def with_fit(job: ArrayJob, **changed: Any) -> ArrayJob:
    return replace(job, fit=replace(job.fit, **changed))


def laid_out(job: ArrayJob, z_of: Callable[[Any, Any], Any], at=(0.0, 0.0), **ground: Any) -> Fit:
    return fitted(
        job, placed_en_m=at, ground=FormulaGround(z_of, **ground), accuracy=Accuracy(), style="decimal feet"
    )


class Vectors:
    """The frame by plain 3-D vectors at one cross-slope, beam A's centreline at 0 over A1."""

    def __init__(self, job: ArrayJob, cross_rad: float, placed_en=(0.0, 0.0), placed=(0, 1)) -> None:
        a, b, g = job.array.azimuth_rad, job.array.tilt_rad, cross_rad
        frame = job.frame
        e = np.array([-math.cos(a), math.sin(a), 0])
        w = np.array([-math.sin(a), -math.cos(a), 0])
        z = np.array([0, 0, 1.0])
        self.e, self.w = e, w
        self.u = math.cos(g) * e + math.sin(g) * z
        self.v = math.cos(b) * w + math.sin(b) * (-math.sin(g) * e + math.cos(g) * z)
        self.n = np.cross(self.u, self.v)
        q = np.array(frame.beams_at_m)

        def stake(i, j):
            return (j - 1) * frame.bay_m * math.cos(g) * e + (q[i] - q[0]) * math.cos(b) * w

        self.a1 = np.array([*placed_en, 0.0]) - stake(placed[0], placed[1])
        self.stakes = np.array(
            [self.a1 + stake(i, j) for i in range(len(q)) for j in range(1, frame.piers_per_beam + 1)]
        )
        self.beam_z = np.array([self.on_plane(p)[2] for p in self.stakes])
        # The modules' middle is plumb over or under the middle of the piers half-way up the rail run.
        middle = self.a1 + (frame.piers_per_beam - 1) / 2 * frame.bay_m * math.cos(g) * e
        middle = self.on_plane(middle + (q[-1] - q[0]) / 2 * math.cos(b) * w)
        self.middle = middle
        self.low_middle = middle - (q[0] + q[-1]) / 2 * self.v
        self.job = job

    def on_plane(self, p):
        """The point of the beams' plane over or under p."""
        d = p - self.a1
        return np.array([p[0], p[1], -(self.n[0] * d[0] + self.n[1] * d[1]) / self.n[2]])

    def face(self, spacing_m: float, off_m: float):
        """Points of the modules' face that lies `off` along n."""
        wide, high = self.job.array.width_m, self.job.array.height_m
        x = np.linspace(-wide / 2, wide / 2, 1 + math.ceil(wide / spacing_m))
        y = np.linspace(0, high, 1 + math.ceil(high / spacing_m))
        xx, yy = np.meshgrid(x, y)
        flat = xx.reshape(-1, 1) * self.u + yy.reshape(-1, 1) * self.v
        return self.low_middle + flat + off_m * self.n


def asked_of(job: ArrayJob, vectors: Vectors, z_of, spacing_m: float):
    """(above-grade lengths, clearance, highest) with the plane at 0 over A1."""
    frame = job.frame
    above = vectors.beam_z - frame.takeout_m - z_of(vectors.stakes[:, 0], vectors.stakes[:, 1])
    under = vectors.face(spacing_m, frame.stack_m)
    over = vectors.face(spacing_m, frame.stack_m + job.array.module_thick_m)
    return (
        above,
        (under[:, 2] - z_of(under[:, 0], under[:, 1])).min(),
        (over[:, 2] - z_of(over[:, 0], over[:, 1])).max(),
    )
