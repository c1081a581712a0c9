"""The two readings that would shrink the worst pier's uncertainty most, proven best of all that are tried."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from staking.ahead.best_pair import Best, best_of, variances_of_pairs
from staking.ahead.candidates import LEANED_ON, Candidates, Reading, candidates
from staking.ahead.joint import GroundNow, Scalars, ground_now
from staking.base.covariance import times
from staking.book.records import FieldBook
from staking.control.adjusting import Worked
from staking.ground.shots import known_as
from staking.ground.yard import STAKE_MOVED_M, YardGround

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class BestPair:
    """What two readings more would do for one pier."""

    pier: str
    readings: tuple[Reading, ...]
    """Two, or one that takes two readings."""
    sd_before_m: float
    sd_after_m: float
    tried: int
    """How many pairs, and setups of two sights, were tried."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NextReadings:
    """What to read next."""

    line: tuple[str, str]
    """That stations and offsets of new spots run along."""
    worst: BestPair
    """For the pier whose ground is least sure."""
    moved: BestPair | None
    """The same when the last setup stands no more; None where `worst` does not use it."""
    survey: BestPair | None
    """For the pier to which the survey's own errors bring most, of that part alone, the weights of the shots
    kept; None where the readings above are the same."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Target:
    """What is to be made surer."""

    pier: str
    scalars: Scalars | None
    """The true ground at the pier, with all shots given; None when only the survey matters."""
    by: Floats
    """(p,): the share of the survey's errors in the pier's elevation, the weights of the shots kept."""
    fixed_m2: float
    """What no reading changes."""


def next_readings(
    book: FieldBook,
    survey: Worked,
    ground: YardGround,
    *,
    piers_en_m: dict[str, tuple[float, float]],
    line: tuple[str, str],
) -> NextReadings | None:
    """Return the best two readings; None where nothing can be tried.

    Parameters
    ----------
    book, survey, ground
        The survey, adjusted, and the ground that the layout stood on.
    piers_en_m
        Where piers stand, by whole name, such as ``north-A1``.
    line
        Two points that new spots are placed from.

    Notes
    -----
    The slope at the shots and the covariance of the ground are held as they were fitted; a real shot that
    falls otherwise than the surface says would change both a little.
    """
    now = ground_now(survey, ground)
    names, en_m = tuple(piers_en_m), np.array(list(piers_en_m.values()))
    # Before and after on the same surface, whichever the layout stands on.
    whole = ground.for_array("").by_statistics().at_piers(names, en_m)
    targets = [_target(now, name, place) for name, place in zip(names, en_m, strict=True)]
    q = survey.result.unknowns_cov
    own_m2 = np.array([float(t.by @ times(q, t.by)) for t in targets])
    weights = np.abs(ground.statistical.kriging.weights(en_m))
    worst, least = int(whole.sd_m.argmax()), int(own_m2.argmax())

    def found(i: int, target: _Target, *, standing: bool) -> BestPair | None:
        leaned = [ground.shots.names[k] for k in np.argsort(-weights[i], kind="stable")[: 2 * LEANED_ON]]
        if (own := known_as(names[i])) in ground.shots.stakes:
            leaned.insert(0, ground.shots.names[ground.shots.stakes[own]])
        tried = candidates(book, now, leaned_on=list(dict.fromkeys(leaned)), piers_en_m=piers_en_m, line=line)
        kept = [k for k, r in enumerate(tried.readings) if standing or r.kind != "sight" or r.start]
        return best_pair(now, target, tried.picked(kept))

    best = found(worst, targets[worst], standing=True)
    if best is None:
        return None
    uses_standing = any(r.kind == "sight" and not r.start for r in best.readings)
    moved = found(worst, targets[worst], standing=False) if uses_standing else None
    only_survey = _Target(pier=names[least], scalars=None, by=targets[least].by, fixed_m2=0.0)
    of_survey = found(least, only_survey, standing=True)
    if of_survey is not None and (of_survey.pier, of_survey.readings) == (best.pier, best.readings):
        of_survey = None
    return NextReadings(line=line, worst=best, moved=moved, survey=of_survey)


def _target(now: GroundNow, name: str, en_m: Floats) -> _Target:
    """Return what a pier's elevation hangs on: the shot at its stake, else the surface."""
    shots = now.ground.shots
    shot = shots.stakes.get(known_as(name))
    if shot is not None and np.hypot(*(shots.en_m[shot] - en_m)) <= STAKE_MOVED_M:
        off = float(now.ground.statistical.gradient(en_m[None, :])[0] @ (en_m - shots.en_m[shot]))
        return _Target(pier=name, scalars=None, by=now.levels_by[shot], fixed_m2=off**2)
    weights = now.ground.statistical.kriging.weights(en_m[None, :])[0]
    return _Target(pier=name, scalars=now.surface_at(en_m[None, :]), by=weights @ now.shots_by, fixed_m2=0.0)


def best_pair(now: GroundNow, target: _Target, tried: Candidates) -> BestPair | None:
    """Return the best pair of single readings, or the best setup of two, over all of them."""
    if target.scalars is None:
        surveys = np.setdiff1d(np.arange(len(tried.readings)), tried.scalars.on)
        tried = tried.picked([int(k) for k in surveys])
    ones = [k for k, r in enumerate(tried.readings) if r.count == 1]
    twos = [k for k, r in enumerate(tried.readings) if r.count == 2]
    tried = tried.picked([*ones, *twos])
    before_m2, pairs_m2, doubles_m2 = variances(now, target, tried, len(ones))
    best: Best | None = best_of(pairs_m2, doubles_m2)
    if best is None:
        return None
    return BestPair(
        pier=target.pier,
        readings=tuple(tried.readings[k] for k in best.chosen),
        sd_before_m=math.sqrt(max(before_m2 + target.fixed_m2, 0.0)),
        sd_after_m=math.sqrt(max(best.variance_m2 + target.fixed_m2, 0.0)),
        tried=len(ones) * (len(ones) + 1) // 2 + len(twos),
    )


def variances(now: GroundNow, target: _Target, tried: Candidates, ones: int) -> tuple[float, Floats, Floats]:
    """Return the target's variance now, with each pair of the first `ones` (k, k), and with each other (d,).

    A shot at the pier's own stake takes the surface's place altogether: the pier is then as sure as that
    shot's levelling.
    """
    q = now.survey.result.unknowns_cov
    scalars, count = tried.scalars, len(tried.readings)
    if target.scalars is None:
        cov = scalars.by @ times(q, scalars.by.T)
        toward = times(q, target.by)
        shared = scalars.by @ toward
        before = float(target.by @ toward)
    else:
        joint = now.cov_m2(target.scalars.joined(scalars))
        cov, shared, before = joint[1:, 1:], joint[0, 1:], float(joint[0, 0])
    noise = scalars.noise_m2
    pairs = variances_of_pairs(before, shared[:ones], cov[:ones, :ones], noise[:ones])
    doubles = before - shared[ones:] ** 2 / (np.diag(cov)[ones:] + noise[ones:])
    if target.scalars is None:
        return before, pairs, doubles
    own = [k for k in range(count) if tried.stake_of[k] == target.pier]
    _stake_at_the_pier(now, tried, own, ones, pairs, doubles)
    return before, pairs, doubles


def _stake_at_the_pier(
    now: GroundNow, tried: Candidates, own: Sequence[int], ones: int, pairs: Floats, doubles: Floats
) -> None:
    """Set, in place, what becomes of the pier with a shot at its own stake."""
    q, scalars = now.survey.result.unknowns_cov, tried.scalars
    ground = set(scalars.on.tolist())
    for k in own:
        by = scalars.by[k]
        through = times(q, by)
        levelled_m2 = float(by @ through)
        noise_m2 = float(scalars.noise_m2[k]) - now.stake_off_m2
        if k >= ones:
            doubles[k - ones] = levelled_m2 + noise_m2
            continue
        for j in range(ones):
            value = levelled_m2 + noise_m2
            if j == k:
                value = levelled_m2 + noise_m2 / 2.0
            elif j not in ground:
                other = scalars.by[j]
                shared = float(through @ other)
                value -= shared**2 / (float(other @ times(q, other)) + float(scalars.noise_m2[j]))
            pairs[k, j] = pairs[j, k] = value
