"""Plans built by hand: two beams of five piers on an even slope with a hump, seven modules by three."""

import datetime
import math
from dataclasses import replace

import numpy as np

from staking.base.axes import azimuth_of, plane_axes
from staking.book import records as r
from staking.control.adjustment import Adjustment, LevelSums, Misclosure, Points, Suspect
from staking.ground.elevations import Elevations
from staking.layout.frame import ArrayPlane, Beam, Conflict, Fit, PierLengths, Piers
from staking.layout.piers import called_in_full
from staking.marks.stakeout import Hub, Mark, Side, StakeOut, Tie
from staking.pipes.cutlist import CutList, CutPiece, Stick
from staking.pipes.holes import Hole
from staking.plan import ArrayPlan, Plan

FT, IN = 0.3048, 0.0254
SHOT_SD = 0.003


class Slope:
    """A stub of the ground: an even slope with a hump, known within a rectangle."""

    choice = table = tie = None

    def __init__(self, low=(-9.0, -7.0), high=(20.0, 12.0)):
        self.low, self.high = np.array(low), np.array(high)

    def z(self, en_m):
        en = np.asarray(en_m, dtype=float).reshape(-1, 2)
        hump = 0.25 * np.exp(-((en[:, 0] - 12.0) ** 2 + (en[:, 1] - 6.0) ** 2) / 8.0)
        return 30.0 + 0.04 * en[:, 0] + 0.10 * en[:, 1] + hump

    def at(self, en_m):
        z = self.z(en_m)
        return Elevations(z_m=z, cov_m2=np.eye(len(z)) * SHOT_SD**2)

    def z_at_piers(self, names, en_m):
        return self.z(en_m)

    def at_piers(self, names, en_m):
        return self.at(en_m)

    def gradient(self, en_m):
        return np.tile([0.04, 0.10], (len(en_m), 1))

    def outside(self, en_m):
        en = np.asarray(en_m).reshape(-1, 2)
        return ((en < self.low) | (en > self.high)).any(axis=1)

    def shots_en_m(self):
        return np.zeros((0, 2))


def job(show="feet-inches", units="ft", name="Miller yard, north field", arrays=("",)):
    array = r.ArrayDesign(
        azimuth_rad=math.radians(172),
        tilt_rad=math.radians(28),
        modules_along=7,
        modules_up=3,
        module_along_m=66.9 * IN,
        module_up_m=44.1 * IN,
        module_thick_m=0.03,
        gap_along_m=0.375 * IN,
        gap_up_m=0.375 * IN,
    )
    frame = r.FrameDesign(
        piers_per_beam=5,
        bay_m=8.75 * FT,
        beams_at_m=(1.9 * FT, 9.4 * FT),
        stack_m=0.13,
        takeout_m=0.055,
        post_pipe="NPS 2 sch 40",
        beam_pipe="NPS 2 sch 40",
    )
    fit = r.Limits(above_grade_min_m=20 * IN, above_grade_max_m=8 * FT, clearance_m=22 * IN)
    return r.Job(
        site=r.Site(
            name=name,
            units=units,
            tape_how="level",
            latitude_rad=math.radians(42.4),
            longitude_rad=math.radians(-72.6),
            date=datetime.date(2026, 10, 3),
            show=show,
        ),
        control=r.Control(benchmark=r.Benchmark(point="BM1", elevation_m=100 * FT)),
        arrays=tuple(
            r.ArrayJob(name=a, array=array, frame=frame, place=r.Place(line=("P1", "P2")), fit=fit)
            for a in arrays
        ),
        footing=r.Footing(
            hole_diameter_m=12 * IN,
            embedment_m=4 * FT,
            bottom_cover_m=3 * IN,
            side_cover_m=3 * IN,
            frost_depth_m=30 * IN,
        ),
        pipe=r.Pipe(stock=(r.Stock(length_m=21 * FT, price=118.0),)),
    )


def array_plan(
    ground, *, name="", piers_per_beam=5, shift=(0.0, 0.0), cross_slope_rad=0.0, azimuth_deg=172.0
):
    azimuth, tilt = math.radians(azimuth_deg), math.radians(28.0)
    bay, q = 8.75 * FT, (1.9 * FT, 9.4 * FT)
    _u, v, n = plane_axes(azimuth, tilt, cross_slope_rad)
    e = np.array([-math.cos(azimuth), math.sin(azimuth)])
    w = np.array([-math.sin(azimuth), -math.cos(azimuth)])
    a1 = np.array(shift, dtype=float)
    spots, names, beams, numbers = [], [], [], []
    for i, letter in enumerate("AB"):
        for j in range(piers_per_beam):
            spots.append(a1 + j * bay * math.cos(cross_slope_rad) * e + (q[i] - q[0]) * math.cos(tilt) * w)
            names.append(f"{letter}{j + 1}")
            beams.append(i)
            numbers.append(j + 1)
    en = np.array(spots)
    st = (en - a1) @ np.column_stack([e, w])
    rise = math.tan(cross_slope_rad) * st[:, 0] + math.tan(tilt) / math.cos(cross_slope_rad) * st[:, 1]
    z_ground = ground.z(en)
    z_a1 = float((z_ground - rise).max()) + 2.1 * FT + 0.055
    top = z_a1 + rise - 0.055
    lengths = PierLengths(
        ground_m=z_ground,
        ground_cov_m2=np.eye(len(en)) * SHOT_SD**2,
        top_m=top,
        sd_top_m=0.0027,
        sd_top_neighbour_m=0.0032,
        above_grade_m=top - z_ground,
        sd_above_grade_m=np.full(len(en), 0.0041),
    )
    width, height = (7 * 66.9 + 6 * 0.375) * IN, (3 * 44.1 + 2 * 0.375) * IN
    width *= (piers_per_beam - 1) / 4
    middle = a1 + 2.0 * (piers_per_beam - 1) / 4 * bay * e
    low = middle - q[0] * math.cos(tilt) * w
    outline = np.array(
        [
            low - width / 2 * e,
            low + width / 2 * e,
            low + width / 2 * e + height * math.cos(tilt) * w,
            low - width / 2 * e + height * math.cos(tilt) * w,
        ]
    )
    frame_beams = []
    length = width + 12 * IN - 2 * 14 * IN
    for i, letter in enumerate("AB"):
        first = (length - (piers_per_beam - 1) * bay) / 2
        left = en[i * piers_per_beam] - first * e
        ends = np.array([left, left + length * e])
        z = z_a1 + rise[i * piers_per_beam]
        frame_beams.append(
            Beam(
                letter=letter,
                length_m=length,
                first_post_m=first,
                posts_m=tuple(first + j * bay for j in range(piers_per_beam)),
                rails_m=tuple(0.5 + k * (length - 1.0) / 13 for k in range(14)),
                left_end_enz_m=(*ends[0], z),
                right_end_enz_m=(*ends[1], z),
            )
        )
    fit = Fit(
        plane=ArrayPlane(
            azimuth_rad=azimuth,
            tilt_rad=tilt,
            cross_slope_rad=cross_slope_rad,
            a1_en_m=tuple(a1),
            z_a1_m=z_a1,
        ),
        piers=Piers(names=tuple(names), beam=np.array(beams), number=np.array(numbers), en_m=en),
        lengths=lengths,
        beams=tuple(frame_beams),
        bay_m=bay,
        modules_outline_en_m=outline,
        plan_outline_en_m=outline,
        rail_length_m=height,
        rails=14,
        clearance_m=0.62,
        clearance_at_en_m=(0.0, 0.0),
        highest_m=3.31,
        highest_at_en_m=(0.0, 0.0),
        true_tilt_rad=math.acos(math.cos(tilt) * math.cos(cross_slope_rad)),
        true_azimuth_rad=azimuth_of(n[0], n[1]),
        rail_slope_rad=math.asin(v[2]),
        skew_m=(q[1] - q[0]) * math.sin(tilt) * math.sin(cross_slope_rad),
    )
    holes = tuple(
        Hole(
            pier=pier,
            lip_m=0.0164,
            embedment_m=4 * FT,
            bottom_cover_m=3 * IN,
            hole_depth_m=4 * FT + 3 * IN + 0.0164,
            post_length_m=float(length) + 4 * FT + 0.0164 + IN,
            hole_m3=0.0937,
            over_dig_m3=0.0,
            post_m3=0.0037,
            bags=None,
            off_mark_m=1.8 * IN,
        )
        for pier, length in zip(names, lengths.above_grade_m, strict=True)
    )
    return ArrayPlan(
        name=name,
        job=job(arrays=(name,)).arrays[0],
        fit=fit,
        holes=holes,
        stakeout=_stakeout(fit, ground, e, name),
    )


PINS = {"P1": (-6.0, -5.0), "P2": (16.5, -4.2), "P3": (5.0, 9.5)}


def _stakeout(fit, ground, e, name):
    fit = called_in_full(fit, name)
    p1, p2 = np.array(PINS["P1"]), np.array(PINS["P2"])
    along = (p2 - p1) / np.linalg.norm(p2 - p1)
    right = np.array([along[1], -along[0]])

    def tie(point, spot):
        level = float(np.linalg.norm(spot - PINS[point]))
        z = ground.z(np.array([PINS[point], spot]))
        return Tie(point=point, level_m=level, slope_m=math.hypot(level, z[1] - z[0]), sd_m=0.004)

    marks = []
    for i, pier in enumerate(fit.piers.names):
        spot = fit.piers.en_m[i]
        start = fit.piers.en_m[int(np.flatnonzero(fit.piers.beam == fit.piers.beam[i])[0])]
        hubs = []
        for word, s in (("left", -0.9144), ("right", 0.9144)):
            at = spot + s * e
            z = float(ground.z(at)[0])
            hubs.append(
                Hub(
                    name=f"{pier} {word}",
                    en_m=(float(at[0]), float(at[1])),
                    ground_m=z,
                    sd_ground_m=0.004,
                    up_to_top_m=float(fit.lengths.top_m[i]) - z,
                )
            )
        marks.append(
            Mark(
                pier=pier,
                station_m=float((spot - p1) @ along),
                offset_m=float((spot - p1) @ right),
                ties=(tie("P1", spot), tie("P2", spot)),
                crossing_rad=math.radians(87.0),
                sd_place_m=0.006,
                check=tie("P3", spot),
                running_m=float(np.linalg.norm(spot - start)),
                hubs=tuple(hubs),
                side="left",
            )
        )
    count = len(fit.piers.names) // 2
    corners = {fit.piers.names[k]: k for k in (0, count - 1, 2 * count - 1, count)}

    def side(a, b):
        ea, eb = fit.piers.en_m[corners[a]], fit.piers.en_m[corners[b]]
        level = float(np.linalg.norm(ea - eb))
        z = ground.z(np.array([ea, eb]))
        return Side(name=f"{a} to {b}", level_m=level, slope_m=math.hypot(level, z[1] - z[0]))

    ring = list(corners)
    sides = tuple(side(ring[k], ring[(k + 1) % 4]) for k in range(4))
    diagonals = (side(ring[0], ring[2]), side(ring[1], ring[3]))
    return StakeOut(baseline=("P1", "P2"), marks=tuple(marks), sides=sides, diagonals=diagonals)


def points(ground, extra=()):
    names, kinds, enz = [], [], []
    for name, en in PINS.items():
        names.append(name)
        kinds.append("pin")
        enz.append((*en, float(ground.z(en)[0])))
    names.append("BM1")
    kinds.append("benchmark")
    enz.append((-7.5, 8.0, 100 * FT))
    k = 0
    for east in np.arange(-6.0, 17.0, 3.8):
        for north in np.arange(-4.0, 10.0, 3.4):
            k += 1
            names.append(f"G{k}")
            kinds.append("ground")
            enz.append((east, north, float(ground.z((east, north))[0])))
    for name, kind, place in extra:
        names.append(name)
        kinds.append(kind)
        enz.append(place)
    count = len(names)
    return Points(
        names=tuple(names),
        kinds=tuple(kinds),
        shapes_ground=tuple(kind == "ground" for kind in kinds),
        enz_m=np.array(enz, dtype=float),
        cov_m2=np.diag(np.tile([0.004**2, 0.004**2, 0.002**2], count)),
    )


def adjustment(ground, *, passes=True, extra=()):
    suspects = ()
    if not passes:
        suspects = (
            Suspect(
                table="levels.csv",
                row=14,
                column="fs",
                read="5.38",
                likely="4.38",
                why="one whole unit misread: the loop BM1-TP1-TP2-BM1 then closes",
                chance=0.83,
            ),
        )
    return Adjustment(
        points=points(ground, extra),
        readings=(),
        redundancy=6,
        variance_factor=1.13 if passes else 27.4,
        passes=passes,
        level_sums=LevelSums(sum_bs_m=7.1, sum_fs_m=7.098, setups=4, unclosed_setups=0),
        misclosures=(
            Misclosure(
                loop="BM1-TP1-TP2-BM1",
                value_m=0.002 if passes else 0.3068,
                sd_m=0.0037,
                allowed_m=0.011,
                passes=passes,
            ),
        ),
        sighted_once=4,
        sighted_once_points=("G3", "G4", "G9", "G17"),
        suspects=suspects,
        warnings=(),
    )


def cuts(array):
    sticks, pieces, room = [], [], 21 * FT
    for hole in array.holes:
        if room < hole.post_length_m + 0.003175:
            sticks.append(_stick(pieces, room))
            pieces, room = [], 21 * FT
        pieces.append(CutPiece(piece=array.pier_name(hole.pier), length_m=hole.post_length_m))
        room -= hole.post_length_m + 0.003175
    sticks.append(_stick(pieces, room))
    joints = {}
    for beam in array.fit.beams:
        name = array.beam_name(beam.letter)
        joint = min(20.0 * FT, beam.length_m / 2) + 0.1
        joints[name] = (joint,)
        for k, length in enumerate((joint, beam.length_m - joint), start=1):
            sticks.append(
                _stick([CutPiece(piece=f"{name} {k}", length_m=length)], 21 * FT - length - 0.003175)
            )
    count = len(sticks)
    return CutList(
        sticks=tuple(sticks),
        joints_m=joints,
        count=count,
        bound=count,
        cost=118.0 * count,
        cost_bound=118.0 * count,
        proven=True,
    )


def _stick(pieces, drop):
    return Stick(stock_m=21 * FT, price=118.0, pipe="NPS 2 sch 40", pieces=tuple(pieces), drop_m=drop)


def book(**keys):
    return r.FieldBook(job=job(**keys), fingerprint="3f9c0a77d21e", points=())


def full_plan(*, cross_slope_deg=0.0, passes=True, extra=(), azimuth_deg=172.0, **keys):
    ground = Slope()
    array = array_plan(ground, cross_slope_rad=math.radians(cross_slope_deg), azimuth_deg=azimuth_deg)
    return Plan(
        book=book(**keys),
        adjustment=adjustment(ground, passes=passes, extra=extra),
        ground=ground,
        arrays=(array,),
        cuts=cuts(array),
    )


def survey_plan(**keys):
    plan = full_plan(passes=False, **keys)
    return replace(plan, arrays=(), cuts=None, book=replace(plan.book, job=replace(plan.book.job, arrays=())))


def conflict_plan(**keys):
    plan = full_plan(**keys)
    return replace(
        plan,
        arrays=(),
        cuts=None,
        conflicts=(
            Conflict(
                limit="fit.above_grade_max",
                where="pier B1",
                by_m=0.31,
                text="Pier B1 would stand 9' 0-3/16\" above grade, 1' 0-3/16\" more than above_grade_max.",
            ),
        ),
        would_do=("Raise above_grade_max to 9' 1\".", "Let the beams slope: max_cross_slope of 2 degrees."),
    )


def long_plan(**keys):
    """Return two beams of 25 piers, and every kind of line on the ground."""
    ground = Slope(low=(-20.0, -20.0), high=(90.0, 30.0))
    plan = full_plan(**keys)
    array = array_plan(ground, piers_per_beam=25)
    lines = tuple(
        r.LineRow(table="lines.csv", row=k, line=f"line {k}", kind=kind, points=points)
        for k, (kind, points) in enumerate(
            {
                "break": ("G1", "G9", "G20"),
                "boundary": ("P1", "BM1"),
                "no_build": ("P3", "G10", "G15"),
                "buried": ("P2", "P3"),
                "overhead": ("BM1", "P2"),
            }.items(),
            start=2,
        )
    )
    return replace(
        plan, ground=ground, arrays=(array,), cuts=cuts(array), book=replace(plan.book, lines=lines)
    )
