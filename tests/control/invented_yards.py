"""Yards with a known truth, and what tape and level would read in them."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

import numpy as np

from staking.book.records import (
    Accuracy,
    AngleRow,
    Azimuth,
    BearingRow,
    Benchmark,
    Control,
    ControlRow,
    FieldBook,
    Job,
    LevelRow,
    OffsetRow,
    Origin,
    PointRow,
    RiseRow,
    Site,
    TapeRow,
)


@dataclass(kw_only=True)
class Yard:
    """Truth by name, and a book that is filled reading by reading."""

    truth: dict[str, tuple[float, float, float]]
    rng: np.random.Generator | None = None
    """None: readings without error."""
    accuracy: Accuracy = field(default_factory=Accuracy)
    levels: list[LevelRow] = field(default_factory=list)
    rises: list[RiseRow] = field(default_factory=list)
    tapes: list[TapeRow] = field(default_factory=list)
    offsets: list[OffsetRow] = field(default_factory=list)
    angles: list[AngleRow] = field(default_factory=list)
    bearings: list[BearingRow] = field(default_factory=list)

    def noise(self, sd: float) -> float:
        return 0.0 if self.rng is None else float(self.rng.normal(0, sd))

    def xy(self, name: str) -> np.ndarray:
        return np.array(self.truth[name][:2])

    def z(self, name: str) -> float:
        return self.truth[name][2]

    def azimuth(self, a: str, b: str) -> float:
        d = self.xy(b) - self.xy(a)
        return math.atan2(d[0], d[1]) % (2 * math.pi)

    def tape(self, a: str, b: str, how: str = "level", extra: float = 0.0) -> None:
        level = float(np.linalg.norm(self.xy(b) - self.xy(a)))
        length = math.hypot(level, self.z(b) - self.z(a)) if how == "slope" else level
        sd = math.hypot(self.accuracy.tape_m, self.accuracy.tape_per_m * length)
        length += self.noise(sd) + extra
        self.tapes.append(
            TapeRow(
                table="tapes.csv",
                row=len(self.tapes) + 2,
                read={"length": f"{length:.3f}"},
                start=a,
                to=b,
                length_m=length,
                how=how,  # type: ignore[arg-type]
            )
        )

    def offset(self, p: str, a: str, b: str, how: str = "level") -> None:
        line = self.xy(b) - self.xy(a)
        length = float(np.linalg.norm(line))
        u = line / length
        arm = self.xy(p) - self.xy(a)
        station, across = float(arm @ u), float(arm @ np.array([u[1], -u[0]]))
        if how == "slope":
            grade = (self.z(b) - self.z(a)) / length
            foot = self.z(a) + station * grade
            station *= math.hypot(1, grade)
            across = math.copysign(math.hypot(across, self.z(p) - foot), across)
        station += self.noise(self.accuracy.offset_m)
        across += self.noise(self.accuracy.offset_m)
        self.offsets.append(
            OffsetRow(
                table="offsets.csv",
                row=len(self.offsets) + 2,
                read={"station": f"{station:.3f}", "offset": f"{across:.3f}"},
                point=p,
                start=a,
                to=b,
                station_m=station,
                offset_m=across,
                how=how,  # type: ignore[arg-type]
            )
        )

    def angle(self, at: str, a: str, b: str) -> None:
        turn = (self.azimuth(at, b) - self.azimuth(at, a)) % (2 * math.pi)
        self.angles.append(
            AngleRow(
                table="angles.csv",
                row=len(self.angles) + 2,
                at=at,
                start=a,
                to=b,
                angle_rad=turn + self.noise(self.accuracy.angle_rad),
            )
        )

    def bearing(self, a: str, b: str) -> None:
        self.bearings.append(
            BearingRow(
                table="bearings.csv",
                row=len(self.bearings) + 2,
                start=a,
                to=b,
                bearing_rad=self.azimuth(a, b) + self.noise(self.accuracy.bearing_rad),
                north="true",
            )
        )

    def rise(self, a: str, b: str) -> None:
        value = self.z(b) - self.z(a) + self.noise(self.accuracy.rise_m)
        self.rises.append(RiseRow(table="rises.csv", row=len(self.rises) + 2, start=a, to=b, rise_m=value))

    def rod(self, hi: float, p: str) -> float:
        return hi - self.z(p) + self.noise(self.accuracy.rod_m)

    def setup(self, back: str, sights: list[str], fore: str | None = None) -> None:
        """One standing of the level; the row of `back` may have the last setup's foresight on it already."""
        hi = max(self.z(p) for p in (back, *sights, *((fore,) if fore else ()))) + 1.3
        bs = self.rod(hi, back)
        if self.levels and self.levels[-1].fs_m is not None and self.levels[-1].point == back:
            self.levels[-1] = replace(
                self.levels[-1], bs_m=bs, read={**self.levels[-1].read, "bs": f"{bs:.3f}"}
            )
        else:
            self._row(back, bs_m=bs)
        for p in sights:
            self._row(p, is_m=self.rod(hi, p))
        if fore is not None:
            self._row(fore, fs_m=self.rod(hi, fore))

    def _row(self, p: str, **readings: float) -> None:
        self.levels.append(
            LevelRow(
                table="levels.csv",
                row=len(self.levels) + 2,
                read={k.removesuffix("_m"): f"{v:.3f}" for k, v in readings.items()},
                point=p,
                **readings,
            )
        )

    def book(
        self,
        *,
        control: Control | None = None,
        points: tuple[PointRow, ...] = (),
        control_points: tuple[ControlRow, ...] = (),
        side: str | None = None,
    ) -> FieldBook:
        if control is None:
            e, n, _ = self.truth["P1"]
            control = Control(
                origin=Origin(point="P1", east_m=e, north_m=n),
                azimuth=Azimuth(start="P1", to="P2", azimuth_rad=self.azimuth("P1", "P2"), north="true"),
                benchmark=Benchmark(point="BM1", elevation_m=self.z("BM1")),
                side=side,  # type: ignore[arg-type]
            )
        return FieldBook(
            job=Job(site=Site(units="m"), control=control, accuracy=self.accuracy),
            levels=tuple(self.levels),
            rises=tuple(self.rises),
            tapes=tuple(self.tapes),
            offsets=tuple(self.offsets),
            angles=tuple(self.angles),
            bearings=tuple(self.bearings),
            points=points,
            control_points=control_points,
        )


def ground(e: float, n: float) -> float:
    """A slope with a swell in it."""
    return 30 + 0.04 * e + 0.10 * n + 0.3 * math.sin(e / 6) * math.cos(n / 5)


def invented(
    seed: int, *, ground_points: int = 12, noisy: bool = True, how: str = "mixed", turned_rad: float = 0.0
) -> Yard:
    """A yard with four pins, a benchmark, ground points placed in every way, two rounds of levelling."""
    layout = np.random.default_rng(seed)
    spots = {"P1": (0.0, 0.0), "P2": (20.0, 0.7), "P3": (19.0, 12.0), "P4": (1.0, 11.0), "BM1": (-3.0, -2.0)}
    names = [f"G{k}" for k in range(1, ground_points + 1)]
    for name in names:
        spots[name] = (float(layout.uniform(1, 19)), float(layout.uniform(2, 11)))
    c, s = math.cos(turned_rad), math.sin(turned_rad)
    truth = {
        k: (100 + e * c + n * s, 50 + n * c - e * s, ground(e, n) + float(layout.normal(0, 0.05)))
        for k, (e, n) in spots.items()
    }
    yard = Yard(truth=truth, rng=np.random.default_rng(seed + 10_000) if noisy else None)

    def way() -> str:
        return str(layout.choice(["level", "slope"])) if how == "mixed" else how

    for a, b in (("P1", "P2"), ("P2", "P3"), ("P3", "P4"), ("P4", "P1"), ("P1", "P3"), ("P2", "P4")):
        yard.tape(a, b, way())
    yard.angle("P1", "P2", "P4")
    for k, name in enumerate(names):
        if k % 4 == 0:
            yard.offset(name, "P1", "P2", way())
        elif k % 4 == 1:
            for pin in ("P1", "P2", "P3"):
                yard.tape(pin, name, way())
        elif k % 4 == 2:
            yard.tape("P4", name, way())
            yard.bearing("P4", name)
            yard.offset(name, "P4", "P3", way())
        else:
            yard.angle("P3", "P4", name)
            yard.tape(name, "P3", way())
            yard.tape(name, names[k - 1], way())
    half = len(names) // 2
    yard.setup("BM1", ["P1", "P4", *names[: half + 1]], "P2")
    yard.setup("P2", ["P3", "P1", *names[half - 1 :]], "P4")
    yard.setup("P4", ["P3"], "BM1")
    yard.rise("P1", "P4")
    return yard
