"""The order before the survey is final, from yards as typed to what is told."""

import json
import math
import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from staking.book.folder import read_book
from staking.ground.surface import fitted_surface
from staking.layout.fitting import fitted
from staking.layout.place import placed_position
from staking.ordering import Ordered, drawn, groups_of, steeper
from staking.pipes.posts import pieces_of
from staking.plan import planned
from staking.results import results
from staking.sheets.pack import pack
from staking.sheets.terminal import plan_lines

SAMPLES = Path(__file__).parent.parent / "sample_surveys"


@pytest.fixture(scope="module")
def hillside():
    return planned(read_book(SAMPLES / "real_hillside"))


def ordered(plan):
    return [
        Ordered(
            name=a.name,
            job=a.job,
            fit=a.fit,
            holes=a.holes,
            placed_en_m=placed_position(a.job.place, plan.adjustment.points),
        )
        for a in plan.arrays
    ]


class Moved:
    """The ground of a yard, higher by what one draw of its own covariance says at piers, straight between."""

    def __init__(self, ground, en_m, up_m):
        self.ground, self.en_m, self.up_m = ground, en_m, up_m

    def _up(self, en_m):
        """The draw carried on by inverse distance to the sixth: exact at the places drawn."""
        off = np.hypot(*(np.asarray(en_m)[:, None, :] - self.en_m[None]).transpose(2, 0, 1))
        weight = 1 / (off + 1e-6) ** 6
        return (weight * self.up_m).sum(axis=1) / weight.sum(axis=1)

    def z(self, en_m):
        return self.ground.z(en_m) + self._up(en_m)

    def at(self, en_m):
        return self.ground.at(en_m)

    def z_at_piers(self, names, en_m):
        return self.ground.z_at_piers(names, en_m) + self._up(en_m)

    def at_piers(self, names, en_m):
        return replace(self.ground.at_piers(names, en_m), z_m=self.z_at_piers(names, en_m))

    def gradient(self, en_m):
        return self.ground.gradient(en_m)

    def outside(self, en_m):
        return self.ground.outside(en_m)

    def shots_en_m(self):
        return self.ground.shots_en_m()


def test_posts_scatter_as_whole_plans_of_drawn_grounds_do(hillside):
    """An independent draw (Cholesky, another generator) and the whole fitting on each drawn ground."""
    plan, (array,) = hillside, hillside.arrays
    accuracy = plan.book.job.accuracy
    names, en_m = array.fit.piers.names, array.fit.piers.en_m
    placed = placed_position(array.job.place, plan.adjustment.points)
    grid = np.stack(
        np.meshgrid(*(np.linspace(en_m[:, k].min() - 2, en_m[:, k].max() + 2, 15) for k in (0, 1)))
    )
    places = np.vstack([en_m, grid.reshape(2, -1).T])
    cov = plan.ground.at_piers((*names, *[""] * (len(places) - len(names))), places).cov_m2
    root = np.linalg.cholesky(cov + 1e-12 * np.eye(len(cov)))
    chance = np.random.Generator(np.random.MT19937(11))
    rows = []
    for _ in range(100):
        up = root @ chance.standard_normal(len(cov))
        up[: len(names)] += accuracy.rod_m * chance.standard_normal(len(names))
        moved = Moved(plan.ground, places, up)
        rows.append(
            fitted(array.job, placed_en_m=placed, ground=moved, accuracy=accuracy).lengths.above_grade_m
        )
    whole = np.array(rows)
    out = drawn(plan.book.job, plan.ground, ordered(plan), draws=4000)
    lengths, within = out.lengths_m, out.within
    mine = lengths - np.array([hole.post_length_m for hole in array.holes]) + array.fit.lengths.above_grade_m
    assert within.all()
    # 100 plans know a mean to sd/10 and a standard deviation to one in fourteen: four of these are allowed.
    # (A draw known on a grid coarser than 0.6 m is too smooth between, and the posts scatter too little.)
    spread = whole.std(axis=0)
    assert mine.mean(axis=0) == pytest.approx(whole.mean(axis=0), abs=4 * float(spread.max()) / 10)
    assert mine.std(axis=0) == pytest.approx(spread, rel=4 / 14)
    totals = mine.sum(axis=1), whole.sum(axis=1)
    assert totals[0].std() == pytest.approx(totals[1].std(), rel=4 / 14)


def test_lips_follow_the_surface_fitted_again_with_the_stakes_shot(hillside):
    """The surface fitted anew, its roughness too, to the old shots and those drawn at the stakes."""
    plan, (array,) = hillside, hillside.arrays
    ground, en_m, rod_m = plan.ground, array.fit.piers.en_m, plan.book.job.accuracy.rod_m
    m, old = len(en_m), ground.shots
    cov = ground.at_piers(array.fit.piers.names, en_m).cov_m2 + rod_m**2 * np.eye(m)
    up = np.random.default_rng(3).multivariate_normal(np.zeros(m), cov, size=12)
    mine = steeper(ground, en_m, np.zeros(m, dtype=bool), up, plan.book.job)
    both = np.zeros((len(old.z_m) + m,) * 2)
    both[:-m, :-m], both[-m:, -m:] = old.cov_m2, rod_m**2 * np.eye(m)
    again = [
        fitted_surface(np.vstack([old.en_m, en_m]), np.concatenate([old.z_m, ground.z(en_m) + one]), both)
        for one in up
    ]
    anew = np.array([np.hypot(*one.gradient(en_m).T) for one in again]) - np.hypot(*ground.gradient(en_m).T)
    assert np.sqrt(((mine - anew) ** 2).mean()) < 0.25 * anew.std()
    assert mine.std() == pytest.approx(anew.std(), rel=0.1)
    shot = np.arange(m) < 3
    assert (steeper(ground, en_m, shot, up, plan.book.job)[:, shot] == 0).all()


def test_beams_follow_the_cross_slope_of_each_draw():
    """Low beam: its rails stand half the rail run times sin β · tan γ farther from its posts (the skew)."""
    plan = planned(read_book(SAMPLES / "cross_fall"))
    (array,) = plan.arrays
    posts, beams = pieces_of(array.fit, array.holes, array.job.frame)
    out = drawn(plan.book.job, plan.ground, ordered(plan), draws=200)
    groups = groups_of(ordered(plan), beams, out, posts[0].pipe)
    assert len(groups) > 3
    assert sum(group.draws.astype(int) for group in groups).tolist() == [1] * 200
    now = math.tan(array.fit.plane.cross_slope_rad)
    run = array.fit.beams[0].rails_m[0] - array.fit.beams[0].posts_m[0]
    half_m = (array.job.frame.beams_at_m[1] - array.job.frame.beams_at_m[0]) / 2
    for group in groups:
        (cross,) = set(out.cross_rad[group.draws, 0])
        low = group.beams[0]
        moved = half_m * math.sin(array.fit.plane.tilt_rad) * (math.tan(cross) - now)
        assert low.rails_m[0] - low.posts_m[0] == pytest.approx(run + moved, abs=1e-9)
        assert group.as_listed == (cross == array.fit.plane.cross_slope_rad)


def test_sheet_terminal_file_and_results_say_the_same(hillside):
    (one,) = hillside.order
    told = results(hillside)["order"]
    assert json.loads(json.dumps(told)) == told
    assert told[0]["sticks"] == 4
    assert told[0]["enough_95"] == 5
    first = told[0]["steps"][0]
    assert 0.6 < first["at_least"] <= first["at_most"] < 0.8
    made = pack(hillside)
    table = next(
        b
        for s in made.sheets
        if s.name == "buy"
        for b in s.blocks
        if getattr(b, "title", "").startswith("How sure")
    )
    assert table.rows[0][1] == "as listed, 4 sticks"
    assert float(table.rows[0][2].removesuffix(" %")) == pytest.approx(100 * first["at_least"], abs=0.1)
    assert any("95 % certainty: 1 × 6000 mm more, 5 sticks" in note for note in table.notes)
    (file,) = [f.table for f in made.data if f.name == "order.csv"]
    assert [row[5] for row in file.rows] == [f"{step.certain:.4f}" for step in one.steps]
    said = " ".join(" ".join(plan_lines(hillside)).split())
    assert "4 sticks as listed enough with" in said
    assert "for 95 %: 1 × 6000 mm more, 5 sticks" in said


def test_the_same_survey_gives_the_same_answer(hillside):
    assert planned(read_book(SAMPLES / "real_hillside")).order == hillside.order


def test_where_every_stake_is_shot_nothing_is_drawn():
    plan = planned(read_book(SAMPLES / "hand_check"))
    assert plan.order is None
    assert results(plan)["order"] is None
    assert "enough with" not in " ".join(plan_lines(plan))
    assert "order.csv" not in [file.name for file in pack(plan).data]


def test_a_stake_that_is_shot_stays_as_it_is(hillside):
    """Its ground is final; its post changes only with the plane."""
    plan, (array,) = hillside, hillside.arrays

    class Shot:
        def __init__(self, ground):
            self.ground = ground

        def __getattr__(self, name):
            return getattr(self.ground, name)

        def for_array(self, name):
            return self

        def at_stakes(self, names, en_m):
            return np.ones(len(names), dtype=bool)

    fixed = replace(array.job, fit=replace(array.job.fit, clearance_m=0.0))
    one = replace(ordered(plan)[0], job=fixed)
    lengths_m = drawn(plan.book.job, Shot(plan.ground), [one], draws=50).lengths_m
    assert np.ptp(lengths_m, axis=0) == pytest.approx(0.0, abs=1e-9)


def test_prices_and_a_trip_come_from_the_job(tmp_path):
    folder = tmp_path / "yard"
    shutil.copytree(SAMPLES / "real_hillside", folder)
    job = folder / "job.toml"
    text = job.read_text(encoding="utf-8")
    assert "{ length = 6.0 }, { length = 6.4 }" in text
    text = text.replace(
        "{ length = 6.0 }, { length = 6.4 }", "{ length = 6.0, price = 80 }, { length = 6.4, price = 90 }"
    ).replace("kerf =", "trip_cost = 500\nkerf =")
    job.write_text(text, encoding="utf-8")
    (one,) = planned(read_book(folder)).order
    assert one.cheapest is not None
    for step in one.steps[1:]:
        expected = step.extra * step.price + (1 - step.certain) * (500 + step.price)
        assert step.expected == pytest.approx(expected)
    job.write_text(text.replace("trip_cost = 500", 'trip_cost = "a lot"'), encoding="utf-8")
    from staking.base.errors import WrongInput

    with pytest.raises(WrongInput, match=r"pipe.trip_cost"):
        read_book(folder)
