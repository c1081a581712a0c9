"""The order of the work: what must be done, seen or bonded before the next step covers it, with its caution.

The order and the reminders are common practice, no source, but where a rule is named; what must be inspected
and bonded the local desk and a licensed electrician say.
"""

from __future__ import annotations

from staking.plan import Plan
from staking.sheets.cautions import augers, concrete, holes, laser, lifting, overhead, sparks, utilities, zinc
from staking.sheets.notation import Notation
from staking.sheets.sheet import Sheet, Words
from staking.sheets.table import Column, Table

_SIZE_PT = 10.0

Step = tuple[str, str, str]
"""What is done, what must be true before it or before it is covered, the caution."""


def work_order_sheet(plan: Plan, *, notation: Notation) -> Sheet | None:
    """Return the sheet; None where nothing is built from this pack."""
    if not any(array.holes for array in plan.arrays):
        return None
    steps = _steps(notation)
    return Sheet(
        name="work_order",
        title="Order of the work",
        blocks=(
            Words(
                lines=(
                    "Each step covers the one before. Tick it when its second column is true, not when the "
                    "work is done. What must be inspected, and when, the local building desk says; what must "
                    "be bonded and how, a licensed electrician.",
                ),
            ),
            Table(
                title="",
                columns=(
                    Column(heading="Step", name="step", align="left", strong=True),
                    Column(
                        heading="True before the next step covers it", name="before", align="left", wide=True
                    ),
                    Column(heading="Caution", name="caution", align="left", wide=True),
                    Column(heading="True", name="true", kind="tick", align="center"),
                ),
                rows=tuple((f"{n}  {what}", before, caution, "") for n, (what, before, caution) in steps),
                size_pt=_SIZE_PT,
            ),
        ),
    )


def _steps(notation: Notation) -> enumerate[Step]:
    """Return the steps with their numbers."""
    steps: list[Step] = [
        (
            "Locate",
            "Boundaries and setbacks known; dig area marked white, lines located and marked; permit on site.",
            utilities(),
        ),
        (
            "Control",
            "Benchmark and pins stand clear of work, spoil and trucks; the level loop closes.",
            laser(),
        ),
        (
            "Stake",
            "Each stake's check distance holds; sides and diagonals hold; offset hubs set before any auger "
            "takes a stake.",
            "",
        ),
        (
            "Dig",
            "Each hole measured from the ground at the stake, and seen by the inspector where one asks; "
            "spoil kept off hubs; covered until poured.",
            f"{augers()} {holes()}",
        ),
        (
            "Before concrete",
            "In place and seen, for concrete or soil covers them: conduit through or under a footing, the "
            "grounding electrode and its conductor, any bond below grade.",
            "A licensed electrician says what and where.",
        ),
        (
            "Set and pour",
            "String over the offset hubs; post off the bottom, plumb on two faces, braced two ways; plumb "
            "again after the pour; top crowned.",
            concrete(),
        ),
        (
            "Mark and cut",
            "Benchmark sighted before and after; marked round the pipe; deburred; bare steel coated "
            "(zinc-rich repair, ASTM A780) before the top fitting hides it.",
            f"{zinc()} {sparks(notation)}",
        ),
        (
            "Beams",
            "Joints where the sheet says; sleeves and set-screws tight before a rail lies over them; beams "
            "bonded across each joint where it is asked for.",
            f"{lifting(notation)} {overhead(notation)}",
        ),
        (
            "Rails",
            "Diagonals of the rails equal in the array's plane before the first clamp is tight; as-built "
            "tops written down.",
            "",
        ),
        (
            "Trench",
            "Depth, bedding and warning tape seen before it is filled.",
            "Locate again where the marks have gone; keep spoil off the edge.",
        ),
        (
            "Before modules",
            "Tight to the makers' tables and marked; rails and frame bonded and seen; cables tied up under "
            "the rails: all this the modules cover.",
            "Wiring and bonding: qualified and licensed persons, by the local code. Modules in light are "
            "live: cover them or leave them to the electrician.",
        ),
    ]
    return enumerate(steps, start=1)
