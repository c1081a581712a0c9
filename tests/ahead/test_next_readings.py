"""The best two readings against adjusting and kriging again with them, for every pair that is tried."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import combinations_with_replacement
from pathlib import Path

import numpy as np
import pytest

from staking.ahead.best_pair import variances_of_pairs
from staking.ahead.candidates import Reading, candidates
from staking.ahead.joint import ground_now
from staking.ahead.next_readings import _target, best_pair, next_readings, variances
from staking.book.folder import read_book
from staking.book.records import LevelRow, OffsetRow, RiseRow, TapeRow
from staking.control.adjusting import worked
from staking.control.kinds import key_of
from staking.ground.kriging import NOISE_FLOOR_M, solved
from staking.ground.shots import ground_shots
from staking.ground.yard import YardGround
from staking.plan import planned

SAMPLES = Path(__file__).parents[2] / "sample_surveys"
SAME_M = 1e-7
"""Of standard deviations: a ten-thousandth of a millimetre, what a square root leaves of rounding in m²."""


class Case:
    """A sample planned, with all that is asked of it."""

    def __init__(self, name: str) -> None:
        book = read_book(SAMPLES / name)
        plan = planned(book)
        rise = plan.adjustment.points.enz_m[plan.adjustment.points.index("P2"), 2]
        rise -= plan.adjustment.points.enz_m[plan.adjustment.points.index("P1"), 2]
        self.book = replace(
            book, rises=(RiseRow(table="rises.csv", row=2, start="P1", to="P2", rise_m=float(rise)),)
        )
        fit = plan.arrays[0].fit
        self.piers = {
            n: (float(e), float(m)) for n, (e, m) in zip(fit.piers.names, fit.piers.en_m, strict=True)
        }
        self.survey = worked(self.book, pier_names=frozenset(self.piers))
        plan = planned(self.book)
        self.ground = plan.ground
        self.line = plan.arrays[0].stakeout.baseline
        self.now = ground_now(self.survey, self.ground)

    def best(self):
        return next_readings(self.book, self.survey, self.ground, piers_en_m=self.piers, line=self.line)

    def z(self, name: str) -> float:
        points = self.survey.adjustment.points
        try:
            return float(points.enz_m[points.index(name), 2])
        except KeyError:
            return float(self.ground.surface.z(np.array([self.piers[name]]))[0])

    def with_readings(self, readings: tuple[Reading, ...]):
        """Return the book with the readings taken, each as the adjusted survey says it must be."""
        levels, tapes = list(self.book.levels), list(self.book.tapes)
        rises, offsets = list(self.book.rises), list(self.book.offsets)
        last = next(i for i in reversed(range(len(levels))) if levels[i].bs_m is not None)
        hi = self.survey.result.coordinates[
            self.survey.network.equations[self.survey.observed.setups[-1].readings[0]].at[0]
        ]
        points = self.survey.adjustment.points
        for number, r in enumerate(readings):
            if r.kind == "tape":
                run = points.enz_m[points.index(r.to), :2] - points.enz_m[points.index(r.start), :2]
                length = math.hypot(*run)
                tapes.append(
                    TapeRow(table="tapes.csv", row=0, start=r.start, to=r.to, length_m=length, how="level")
                )
                continue
            if r.kind == "rise":
                rise = self.z(r.to) - self.z(r.start)
                rises.append(RiseRow(table="rises.csv", row=0, start=r.start, to=r.to, rise_m=rise))
                continue
            name, z = r.to, None
            if r.spot is not None:
                name = f"N{number}"
                start, to = (points.enz_m[points.index(end), :2] for end in self.line)
                u = (to - start) / math.hypot(*(to - start))
                place = start + r.spot[0] * u + r.spot[1] * np.array([u[1], -u[0]])
                z = float(self.ground.surface.z(place[None, :])[0])
                offsets.append(
                    OffsetRow(
                        table="offsets.csv",
                        row=0,
                        point=name,
                        start=self.line[0],
                        to=self.line[1],
                        station_m=r.spot[0],
                        offset_m=r.spot[1],
                        how="level",
                    )
                )
            z = self.z(name) if z is None else z
            if r.start:
                top = max(z, self.z(r.start)) + 1.0
                levels.append(LevelRow(table="levels.csv", row=0, point=r.start, bs_m=top - self.z(r.start)))
                levels.append(LevelRow(table="levels.csv", row=0, point=name, is_m=top - z))
            else:
                levels.insert(last + 1, LevelRow(table="levels.csv", row=0, point=name, is_m=hi - z))
        return replace(
            self.book, levels=tuple(levels), tapes=tuple(tapes), rises=tuple(rises), offsets=tuple(offsets)
        )

    def again(self, readings: tuple[Reading, ...], monkeypatch) -> tuple[object, YardGround]:
        """Adjust and krige again, slope and covariance of the ground held."""
        book = self.with_readings(readings)
        survey = worked(book, pier_names=frozenset(self.piers))
        monkeypatch.setattr("staking.ground.shots.best_plane", lambda en, z: self.now.slope)
        shots = ground_shots(survey.adjustment.points, self.piers)
        old = self.ground.surface
        kriging = solved(
            shots.en_m,
            shots.z_m,
            shots.cov_m2,
            covariance=old.roughness.covariance,
            drift=old.kriging.drift,
        )
        surface = replace(old, en_m=shots.en_m, z_m=shots.z_m, noise_m2=shots.cov_m2, kriging=kriging)
        return survey, YardGround(statistical=surface, shots=shots)

    def tried(self, pier: str):
        weights = np.abs(self.ground.statistical.kriging.weights(np.array([self.piers[pier]])))[0]
        leaned = [self.ground.shots.names[k] for k in np.argsort(-weights)[:12]]
        return candidates(self.book, self.now, leaned_on=leaned, piers_en_m=self.piers, line=self.line)


@pytest.fixture(scope="module")
def open_ground() -> Case:
    """No pier has a shot at its stake."""
    return Case("cross_fall")


@pytest.fixture(scope="module")
def staked() -> Case:
    """Every pier has one."""
    return Case("hand_check")


def _few(tried, seed: int, count: int) -> list[int]:
    """Return some of the candidates, of every kind."""
    rng = np.random.default_rng(seed)
    kinds: dict[tuple, list[int]] = {}
    for k, r in enumerate(tried.readings):
        kinds.setdefault(
            (r.kind, bool(r.start), r.spot is not None, tried.stake_of[k] is not None), []
        ).append(k)
    some = [int(rng.choice(group)) for group in kinds.values()]
    more = rng.choice(len(tried.readings), size=count, replace=False)
    return sorted({*some, *(int(k) for k in more)})


@pytest.mark.parametrize("name", ["open_ground", "staked"])
def test_what_the_shots_owe_to_the_survey_is_their_covariance(name, request):
    case = request.getfixturevalue(name)
    q = case.survey.result.unknowns_cov
    shots = case.ground.shots
    level = case.now.levels_by @ q @ case.now.levels_by.T
    at_stakes = level[np.ix_(shots.staked, shots.staked)]
    assert np.abs(at_stakes - shots.level_cov_m2).max(initial=0.0) < 1e-15
    cov = case.now.shots_by @ q @ case.now.shots_by.T
    for k in shots.stakes.values():
        cov[k, k] += case.now.stake_off_m2 - 1e-10
    assert np.abs(cov - shots.cov_m2).max() < 1e-15


@pytest.mark.parametrize(("name", "pier"), [("open_ground", "A1"), ("open_ground", "B3"), ("staked", "B2")])
def test_every_pair_is_what_adjusting_again_gives(name, pier, request, monkeypatch):
    """All pairs of some readings of each kind, and setups of two, by brute force; and so the best of them."""
    case = request.getfixturevalue(name)
    target = _target(case.now, pier, np.array(case.piers[pier]))
    tried = case.tried(pier)
    few = _few(tried, 5, 4)
    if target.scalars is None:
        few = [k for k in few if k not in set(tried.scalars.on.tolist())]
    ones = [k for k in few if tried.readings[k].count == 1]
    twos = [k for k in few if tried.readings[k].count == 2]
    tried = tried.picked([*ones, *twos])
    before, pairs, doubles = variances(case.now, target, tried, len(ones))
    en = np.array(list(case.piers.values()))
    i = list(case.piers).index(pier)

    def sd(readings) -> float:
        _, ground = case.again(readings, monkeypatch)
        return float(ground.at_piers(tuple(case.piers), en).sd_m[i])

    assert math.sqrt(before + target.fixed_m2) == pytest.approx(sd(()), abs=SAME_M)
    brute = {}
    for a, b in combinations_with_replacement(range(len(ones)), 2):
        brute[a, b] = sd((tried.readings[a], tried.readings[b]))
        said = math.sqrt(pairs[a, b] + target.fixed_m2)
        assert said == pytest.approx(brute[a, b], abs=SAME_M), (tried.readings[a], tried.readings[b])
    for d in range(len(twos)):
        reading = tried.readings[len(ones) + d]
        brute[len(ones) + d,] = sd((reading,))
        assert math.sqrt(doubles[d] + target.fixed_m2) == pytest.approx(brute[len(ones) + d,], abs=SAME_M)
    best = best_pair(case.now, target, tried)
    assert best.sd_after_m == pytest.approx(min(brute.values()), abs=SAME_M)
    assert len(brute) == best.tried


def test_the_surveys_own_part_is_what_adjusting_again_gives(open_ground, monkeypatch):
    found = open_ground.best().survey
    place = np.array([open_ground.piers[found.pier]])
    weights = open_ground.ground.statistical.kriging.weights(place)[0]
    for readings, told in (((), found.sd_before_m), (found.readings, found.sd_after_m)):
        survey, ground = open_ground.again(readings, monkeypatch)
        del survey
        assert math.sqrt(weights @ ground.shots.cov_m2 @ weights) == pytest.approx(told, abs=SAME_M)


def test_the_worst_pier_is_chosen_and_the_pair_beats_every_other(open_ground):
    found = open_ground.best()
    en = np.array(list(open_ground.piers.values()))
    sd = open_ground.ground.at_piers(tuple(open_ground.piers), en).sd_m
    assert found.worst.pier == list(open_ground.piers)[int(sd.argmax())]
    assert found.worst.sd_before_m == pytest.approx(sd.max(), abs=1e-12)
    assert found.worst.sd_after_m < found.moved.sd_after_m < found.worst.sd_before_m
    assert all(r.kind != "sight" or r.start for r in found.moved.readings)


def test_a_lost_point_is_not_tried(open_ground):
    from staking.book.records import LostRow

    book = replace(open_ground.book, lost=(LostRow(table="lost.csv", row=2, point="P1"),))
    case = open_ground
    tried = candidates(book, case.now, leaned_on=["G11"], piers_en_m=case.piers, line=case.line)
    assert all("P1" not in (r.start, r.to) for r in tried.readings)
    assert any(key_of(r.to) == "p2" for r in tried.readings)


def test_two_readings_of_one_thing_count_as_their_mean():
    """Variance 4 read with 2 twice: 1 / (1/4 + 2/2) = 0.8."""
    pairs = variances_of_pairs(4.0, np.array([4.0]), np.array([[4.0]]), np.array([2.0]))
    assert pairs[0, 0] == pytest.approx(1 / (1 / 4 + 2 / 2))


def test_two_readings_of_independent_parts_add_up():
    """A sum of two unknowns of variance 1 and 9, each read with 1: what is left is 1/2 + 9/10."""
    pairs = variances_of_pairs(10.0, np.array([1.0, 9.0]), np.diag([1.0, 9.0]), np.ones(2))
    assert pairs[0, 1] == pytest.approx(0.5 + 0.9)
    assert pairs[0, 1] == pairs[1, 0]


@pytest.mark.parametrize("spot", [(2.0, 3.0), (9.0, -4.0)])
def test_a_new_spot_errs_with_the_line_it_is_placed_from(open_ground, monkeypatch, spot):
    """From P2-P3, both unsure: its variance, and what it shares with every other shot, as adjusted anew."""
    case = open_ground
    monkeypatch.setattr(case, "line", ("P2", "P3"))
    points, numbers = case.survey.adjustment.points, case.survey.observed.numbers
    start, to = (points.enz_m[points.index(end), :2] for end in case.line)
    u = (to - start) / math.hypot(*(to - start))
    place = start + spot[0] * u + spot[1] * np.array([u[1], -u[0]])
    last = case.survey.network.equations[case.survey.observed.setups[-1].readings[0]]
    hi = np.zeros((1, len(case.survey.result.coordinates)))
    hi[0, last.at[0]] = 1.0
    new = case.now.placed_shots(
        case.survey.result.free.of_unknowns(hi)[0],
        case.book.job.accuracy.rod_m,
        place[None, :],
        (numbers["p2"], numbers["p3"]),
        case.book.job.accuracy.offset_m,
    )
    _, ground = case.again((Reading(kind="sight", start="", to="", spot=spot),), monkeypatch)
    shots, q = ground.shots, case.survey.result.unknowns_cov
    k = shots.names.index("N0")
    assert np.allclose(shots.en_m[k], place, rtol=0, atol=1e-9)
    own = float((new.by @ q @ new.by.T)[0, 0] + new.noise_m2[0]) - NOISE_FLOOR_M**2
    assert own == pytest.approx(shots.cov_m2[k, k], abs=1e-12)
    shared = new.by[0] @ q @ case.now.shots_by.T
    others = [shots.names.index(name) for name in case.ground.shots.names]
    assert np.abs(shared - shots.cov_m2[k, others]).max() < 1e-12
