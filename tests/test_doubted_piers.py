"""A shot at a pier's stake that its neighbours doubt: told by every command, and the pier is less sure."""

import math
import re
import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from staking.book.folder import read_book
from staking.plan import planned, surveyed

SAMPLE = Path(__file__).parents[1] / "sample_surveys" / "real_hillside"


@pytest.fixture(scope="module")
def yards(tmp_path_factory):
    """Return the yard with its stakes shot, as it lies and with B2's rod read a metre too high."""
    base = planned(read_book(SAMPLE))
    [array] = base.arrays
    hi_m = 409.965 + 0.499
    found = {}
    for name, by_m in (("right", 0.0), ("wrong", 1.0)):
        folder = shutil.copytree(SAMPLE, tmp_path_factory.mktemp(name) / "yard")
        text = (folder / "levels.csv").read_text(encoding="utf-8")
        rows = "".join(
            f"{pier},,{hi_m - ground + (by_m if pier == 'B2' else 0.0):.3f},,\n"
            for pier, ground in zip(array.fit.piers.names, array.fit.lengths.ground_m, strict=True)
        )
        head, last = text.rsplit("BM1,", 1)
        (folder / "levels.csv").write_text(f"{head}{rows}BM1,{last}", encoding="utf-8")
        stakes = "".join(
            f"{pier},{east:.4f},{north:.4f}\n"
            for pier, (east, north) in zip(array.fit.piers.names, array.fit.piers.en_m, strict=True)
        )
        (folder / "staked.csv").write_text(f"pier,east,north\n{stakes}", encoding="utf-8")
        book = read_book(folder)
        found[name] = (surveyed(book), planned(book))
    return found


def doubted(plan):
    return {s.why.partition(":")[0]: s for s in plan.adjustment.suspects}


def test_check_doubts_what_plan_doubts(yards):
    """2026-11-28: plan doubted a shot at a stake with 98 %, check said there was nothing to worry about."""
    check, plan = yards["wrong"]
    [of_plan] = [s for s in plan.adjustment.suspects if "B2" in s.why]
    [of_check] = [s for s in check.adjustment.suspects if "B2" in s.why]
    assert of_check.row == of_plan.row
    assert of_check.chance == pytest.approx(of_plan.chance, abs=0.02)
    assert of_check.chance > 0.9
    check, plan = yards["right"]
    assert not check.adjustment.suspects
    assert not plan.adjustment.suspects


def test_a_doubted_shot_widens_its_own_pier_and_no_other(yards):
    """2026-11-28: the length of a pier whose shot was doubted with 98 % was known to 1/16 in, it said."""
    sds = {}
    for name in ("right", "wrong"):
        _, plan = yards[name]
        [array] = plan.arrays
        fit = array.fit
        sds[name] = dict(zip(fit.piers.names, fit.lengths.sd_above_grade_m, strict=True))
        k = fit.piers.names.index("B2")
        assert sds[name]["B2"] == pytest.approx(
            math.hypot(math.sqrt(fit.lengths.ground_cov_m2[k, k]), fit.lengths.sd_top_m)
        )
        # Covariances stay covariances.
        assert np.linalg.eigvalsh(fit.lengths.ground_cov_m2).min() > -1e-12
    # The rod read 1 m wrong: one standard deviation of a length that hangs on it must be of that size.
    assert 0.5 < sds["wrong"]["B2"] < 1.5
    assert sds["right"]["B2"] < 0.02
    for pier in set(sds["right"]) - {"B2"}:
        # The plane rises a little with the pier's ground, and with it the piers shift by some micrometres.
        assert sds["wrong"][pier] == pytest.approx(sds["right"][pier], abs=1e-6)


def test_without_a_stake_s_place_check_is_as_before(yards):
    """A shot on a pier stands nowhere that a survey alone knows: it shapes no ground there."""
    check, _ = yards["right"]
    alone = surveyed(replace(check.book, staked=()))
    assert len(alone.ground.shots.names) + 8 == len(check.ground.shots.names)
    assert not any(re.fullmatch("[ab][1-4]", name) for name in alone.ground.shots.stakes)
