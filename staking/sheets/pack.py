"""The whole pack from a plan: sheets in the order of the work, the map's file, tables for programs."""

from __future__ import annotations

from itertools import groupby

from staking.plan import Plan
from staking.sheets.as_built import as_built_sheet
from staking.sheets.beam_table import beam_sheet
from staking.sheets.buy_table import buy_sheet
from staking.sheets.control_table import control_sheet, fails_tests
from staking.sheets.cover import cover_sheet
from staking.sheets.cut_table import cut_sheet
from staking.sheets.data_files import data_files
from staking.sheets.earth_places import earth_model
from staking.sheets.forms import form_sheets
from staking.sheets.laser_table import laser_sheet
from staking.sheets.line_table import line_sheet
from staking.sheets.names import date_text, job_name
from staking.sheets.north_table import north_sheet
from staking.sheets.notation import Notation
from staking.sheets.permit_sheets import permit_sheets
from staking.sheets.pier_cards import pier_card_sheets
from staking.sheets.pier_table import pier_sheet
from staking.sheets.section_sheet import section_sheets
from staking.sheets.shade_table import shade_sheet
from staking.sheets.sheet import HALF, Pack, Paper, Sheet, TitleBlock
from staking.sheets.site_plan import site_model
from staking.sheets.squareness import squareness_sheet
from staking.sheets.stake_table import stake_sheet
from staking.sheets.stakeout_map import stakeout_maps
from staking.sheets.stamp import stamp_of
from staking.sheets.together import together
from staking.sheets.trouble import trouble_sheet
from staking.sheets.work_order import work_order_sheet

MAP_NAME = "map.svg"

_FAILS = "SURVEY FAILS ITS TESTS: see Control"

_TOO_NEAR = "TOO NEAR A LINE OR TREE: see Lines and trees"

_OVERLAP = "ARRAYS OVERLAP: see Cover"

_LENGTHS_IN = {
    "feet-inches": "feet-inches",
    "decimal feet": "decimal feet",
    "metric": "mm; elevations m",
}


def pack(plan: Plan, *, paper: Paper | None = None) -> Pack:
    """Return the pack of a plan: of arrays laid out, of a survey alone, or of limits that cannot be met.

    Parameters
    ----------
    plan : Plan
    paper : "letter", "a4", "tabloid" or "a3", optional
        Without it letter for lengths in feet, A4 for metric ones. On tabloid or A3 stand the maps alone;
        everything else is on letter or A4.
    """
    notation = Notation(style=plan.book.job.site.show)
    if paper is None:
        paper = "a4" if notation.style == "metric" else "letter"
    map_paper, paper = paper, HALF[paper]
    block = title_block(plan, notation)
    site_maps = stakeout_maps(plan, paper=map_paper, block=block, notation=notation)
    sheets: list[Sheet] = []
    if plan.conflicts:
        sheets.append(trouble_sheet(plan, notation=notation))
    if (order := work_order_sheet(plan, notation=notation)) is not None:
        sheets.append(order)
    sheets.append(control_sheet(plan, notation=notation))
    by_sun = north_sheet(plan, notation=notation)
    if by_sun is not None:
        sheets.append(by_sun)
    sheets += site_maps
    for _, grouped in groupby(plan.arrays, lambda one: one.name):
        own = list(grouped)
        sheets += [
            together([stake_sheet(array, notation=notation) for array in own], own),
            together([squareness_sheet(plan, array, notation=notation) for array in own], own),
            pier_sheet(plan, own, notation=notation),
            *pier_card_sheets(plan, own, paper=paper, block=block, notation=notation),
            *([] if (laser := laser_sheet(plan, own, notation=notation)) is None else [laser]),
            together([beam_sheet(plan, array, notation=notation) for array in own], own),
        ]
        for array in own:
            sheets += section_sheets(plan, array, paper=paper, block=block, notation=notation)
        sheets.append(together([as_built_sheet(plan, array, notation=notation) for array in own], own))
    if plan.cuts is not None:
        sheets.append(cut_sheet(plan, plan.cuts, notation=notation))
        sheets.append(buy_sheet(plan, plan.cuts, notation=notation))
    if plan.clearances.distances or plan.clearances.unplaced:
        sheets.append(line_sheet(plan, notation=notation))
    in_shade = shade_sheet(plan, notation=notation)
    if in_shade is not None:
        sheets.append(in_shade)
    sheets += permit_sheets(plan, paper=paper, map_paper=map_paper, block=block, notation=notation)
    sheets += form_sheets(plan, notation=notation)
    cover = cover_sheet(plan, titles=list(dict.fromkeys(sheet.title for sheet in sheets)), notation=notation)
    maps = [sheet.drawing for sheet in site_maps if sheet.drawing is not None]
    names = (MAP_NAME, *(f"map_{n}.svg" for n in range(1, len(maps))))
    stamp = stamp_of(plan, alarm=block.alarm)
    return Pack(
        paper=paper,
        title_block=block,
        sheets=(cover, *sheets),
        drawings=tuple(zip(names, maps, strict=False)),
        data=data_files(plan),
        stamp=stamp,
        site=site_model(plan, stamp),
        earth=earth_model(plan, stamp),
    )


def title_block(plan: Plan, notation: Notation) -> TitleBlock:
    """Return what every sheet says of itself."""
    site, benchmark = plan.book.job.site, plan.book.job.control.benchmark
    if benchmark is None:
        told = "see control sheet"
    else:
        told = f"{benchmark.point}, elevation {notation.place_words(benchmark.elevation_m)}"
    return TitleBlock(
        job=job_name(site),
        date=date_text(site),
        revision=site.revision,
        fingerprint=plan.book.fingerprint or "–",
        benchmark=told,
        lengths_in=_LENGTHS_IN[notation.style],
        alarm=_alarm(plan),
    )


def _alarm(plan: Plan) -> str:
    alarms = [_FAILS] if fails_tests(plan.adjustment) else []
    if plan.clearances.failing:
        alarms.append(_TOO_NEAR)
    if plan.overlaps:
        alarms.append(_OVERLAP)
    return "; ".join(alarms)
