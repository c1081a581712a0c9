"""What a permit desk asks for: questions and answers, site plan, footing and side view."""

from __future__ import annotations

from staking.plan import Plan
from staking.sheets.notation import Notation
from staking.sheets.permit_detail import permit_details
from staking.sheets.permit_plan import permit_plan
from staking.sheets.permit_table import permit_sheet
from staking.sheets.sheet import Paper, Sheet, TitleBlock


def permit_sheets(
    plan: Plan, *, paper: Paper, map_paper: Paper, block: TitleBlock, notation: Notation
) -> tuple[Sheet, ...]:
    """Return the sheets; none without arrays."""
    if not plan.arrays:
        return ()
    site = permit_plan(plan, paper=map_paper, block=block, notation=notation)
    details = [
        sheet
        for array in plan.arrays
        for sheet in permit_details(plan, array, paper=paper, block=block, notation=notation)
    ]
    return (permit_sheet(plan, notation=notation), *(() if site is None else (site,)), *details)
