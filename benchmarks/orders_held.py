"""How often an order made before the stakes are shot is enough when they are: surveys of a real hillside.

``python -m benchmarks.orders_held [surveys [FROM]]``: 20 surveys of each of three kinds, some 5 s each. Every
survey lies elsewhere on the real ground of the sample ``real_hillside``, with errors and an embedment of its
own; its order is planned, then the stakes are shot, with errors again, it is planned anew, and the
proven cutter says whether the sticks ordered are enough.
"""

from __future__ import annotations

import random
import sys
import tempfile
from dataclasses import replace
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "sample_surveys"))

import invent

from staking.base.errors import StakingError
from staking.book.folder import read_book
from staking.pipes.certainty import Certainty
from staking.pipes.cutlist import CannotCut
from staking.pipes.cutting import cut, same_pipe
from staking.pipes.posts import pieces_of
from staking.plan import Plan, planned

TOP = Path(__file__).parents[1]
SURVEYS, FIRST = 20, 0
KINDS = {
    "as it is": {},
    "beams of the posts' pipe, any cross-slope": {
        'beam_pipe = "NPS 2-1/2 sch 40"': 'beam_pipe = "NPS 3 sch 40"',
        'rail_clear = "50 mm"': 'rail_clear = "0 mm"',
    },
    "daylight of 1.8 m": {"bottom_cover": "daylight = 1.8\nbottom_cover"},
}
SD_ROD_M, SD_TAPE_M, SD_OFFSET_M, SD_STAKE_M = 0.0015, 0.003, 0.012, 0.006
PINS = {"P1": (8.0, 10.0), "P2": (26.0, 10.0), "P3": (26.4, 20.7), "P4": (8.3, 20.2)}
TAPED = ("P1 P2", "P2 P3", "P3 P4", "P4 P1", "P1 P3", "P2 P4")


def first_survey(folder: Path, seed: int, changes: dict[str, str]) -> invent.Yard:
    """Write a survey without its stakes; return its yard."""
    chance = random.Random(seed)
    east, north = chance.uniform(-7, 11), chance.uniform(-0.5, 17)
    rows = [
        line for line in invent.PATCH.read_text(encoding="utf-8").splitlines() if not line.startswith("#")
    ]
    z = {(i, 40 - k): float(cell) for k, line in enumerate(rows) for i, cell in enumerate(line.split(","))}

    def ground(e: float, n: float) -> float:
        e, n = min(max(e + east, 0), 39.999), min(max(n + north, 0), 39.999)
        i, j = int(e), int(n)
        low = z[i, j] * (1 - e + i) + z[i + 1, j] * (e - i)
        high = z[i, j + 1] * (1 - e + i) + z[i + 1, j + 1] * (e - i)
        return low * (1 - n + j) + high * (n - j)

    yard = invent.Yard(
        folder.name, ground, invent.metres, invent.metres,
        sd_rod=SD_ROD_M, sd_tape=SD_TAPE_M, sd_offset=SD_OFFSET_M, seed=seed,
    )  # fmt: skip
    yard.bolt("BM1", ground(6, 11) + 0.35)
    for name, at in PINS.items():
        yard.pin(name, *at)
        yard.row("points", name, "pin", "")
    for pair in TAPED:
        yard.read_tape(*pair.split(), "slope")
    shots = [
        (f"G{i}{j}", 1.0 + 3.9 * j, off) for i, off in enumerate((-0.5, -3.5, -6.5, -9)) for j in range(5)
    ]
    for name, station, offset in shots:
        yard.set_by_offset(name, "P1", "P2", station, offset)
    sights = [*PINS, *(name for name, _, _ in shots)]
    yard.setup(max(yard.height.values()) + 0.5, "BM1", sights, "BM1", first=True)
    job = (TOP / "sample_surveys" / "real_hillside" / "job.toml").read_text(encoding="utf-8")
    wanted = {
        "elevation = 409.965": f"elevation = {yard.height['BM1']:.3f}",
        "embedment = 1.4 ": f"embedment = {chance.uniform(1.2, 2.1):.4f} ",
        "max_cross_slope = 6 ": "max_cross_slope = 12 ",
        "above_grade_max = 3.0": "above_grade_max = 5.0",
        "[ { length = 6.0 }, { length = 6.4 } ]": "[ { length = 6.0, price = 80 } ]",
    }
    for old, new in (wanted | changes).items():
        assert old in job, old
        job = job.replace(old, new, 1)
    invent.HERE = folder.parent
    yard.write(job, "", "")
    return yard


def shoot_stakes(folder: Path, yard: invent.Yard, plan: Plan, seed: int) -> None:
    """Add the stakes, where they were set and how they were shot, to the survey."""
    chance, piers = random.Random(seed + 9999), plan.arrays[0].fit.piers
    rows = [f"{name},{e:.4f},{n:.4f}," for name, (e, n) in zip(piers.names, piers.en_m, strict=True)]
    (folder / "staked.csv").write_text("\n".join(["pier,east,north,note", *rows]) + "\n", encoding="utf-8")
    hi = max(yard.height.values()) + 0.5
    for name, (e, n) in zip(piers.names, piers.en_m, strict=True):
        yard.height[name] = yard.ground(e + chance.gauss(0, SD_STAKE_M), n + chance.gauss(0, SD_STAKE_M))

    def rod(name: str) -> str:
        return invent.metres(hi - yard.height[name] + chance.gauss(0, SD_ROD_M))

    levels = folder / "levels.csv"
    more = [
        f"BM1,{rod('BM1')},,,",
        *(f"{name},,{rod(name)},," for name in piers.names),
        f"BM1,,,{rod('BM1')},",
    ]
    levels.write_text(levels.read_text(encoding="utf-8") + "\n".join(more) + "\n", encoding="utf-8")


def is_enough(plan: Plan, order: Certainty, sticks: int) -> bool:
    """Return whether the proven cutter cuts the plan from so many sticks."""
    (array,), pipe = plan.arrays, plan.book.job.pipe
    assert pipe is not None
    posts, beams = pieces_of(array.fit, array.holes, array.job.frame)
    try:
        cut(
            [post for post in posts if same_pipe(post.pipe, order.pipe)],
            [beam for beam in beams if same_pipe(beam.pipe, order.pipe)],
            replace(pipe, stock=(replace(pipe.stock[0], count=sticks),)),
        )
    except CannotCut:
        return False
    return True


def main(surveys: int = SURVEYS, first: int = FIRST) -> None:
    """Print a line for each kind of survey."""
    for number, (kind, changes) in enumerate(KINDS.items()):
        told, held, held_95 = [], 0, []
        for seed in range(first + 100 * number, first + 100 * number + surveys):
            with tempfile.TemporaryDirectory() as name:
                folder = Path(name) / "yard"
                yard = first_survey(folder, seed, changes)
                try:
                    before = planned(read_book(folder))
                    if before.conflicts or not before.order:
                        continue
                    shoot_stakes(folder, yard, before, seed)
                    after = planned(read_book(folder))
                except StakingError:
                    continue  # So steep a place takes no such array.
                if after.conflicts or after.cuts is None:
                    continue
                (order,) = before.order
                told.append((order.steps[0].certain, order.steps[0].at_most))
                held += is_enough(after, order, order.sticks)
                if order.enough_95 is not None:
                    held_95.append(is_enough(after, order, order.sticks + order.enough_95.extra))
        low, high = (sum(share[k] for share in told) for k in (0, 1))
        print(
            f"{kind}: {len(told)} surveys; as listed {low:.1f} to {high:.1f} told to be enough, {held} were; "
            f"of {len(held_95)} orders for 95 % {sum(held_95)} were",
            flush=True,
        )


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
