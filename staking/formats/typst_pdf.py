"""A `Pack` as one PDF, set by typst (its compiler comes with the package) from `pack.typ` beside this file.

Drawings go in as SVG: they stay vector, their text stays text, and the map in the PDF cannot differ from the
file beside it. Only the typeface that is shipped is used, no date is written, and any warning is an error;
so the same pack gives the same bytes on every machine.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from staking.base.errors import StakingError
from staking.formats.columns import (
    FOLD_GUTTER_MM,
    MAIN_PT,
    STRONGER_PT,
    folded,
    heading_text,
    lay_out,
    under_each_other,
)
from staking.formats.svg import svg_text
from staking.sheets.sheet import (
    ALARM_DOWN_MM,
    FOOTER_MM,
    HEADER_MM,
    MARGIN_MM,
    PAPER_MM,
    TITLE_GUTTER_MM,
    TITLE_PT,
    Pack,
    Sheet,
    TitleBlock,
    Words,
)
from staking.sheets.table import Table

_HERE = Path(__file__).parent
FONTS = _HERE / "fonts"


class SheetsFailed(StakingError):
    """The sheets could not be set; never the fault of the survey."""


def pdf_bytes(pack: Pack) -> bytes:
    """Return the pack as the bytes of one PDF.

    Raises
    ------
    SheetsFailed
        When the typesetter reports an error or so much as a warning.
    """
    import typst

    fonts = typst.Fonts(include_system_fonts=False, include_embedded_fonts=False, font_paths=[str(FONTS)])
    compiler = typst.Compiler(
        input=(_HERE / "pack.typ").read_bytes(),
        font_paths=fonts,
        ignore_system_fonts=True,
        sys_inputs={"pack": json.dumps(_as_data(pack))},
    )
    try:
        pdf, warnings = compiler.compile_with_warnings(format="pdf", pdf_tags=False)
    except typst.TypstError as error:
        message = f"the sheets could not be set: {error.message}"
        raise SheetsFailed(message) from error
    if warnings or not isinstance(pdf, bytes):
        message = "the sheets were set with warnings: " + "; ".join(w.message for w in warnings)
        raise SheetsFailed(message)
    return pdf


def _as_data(pack: Pack) -> dict[str, Any]:
    width, height = PAPER_MM[pack.paper]
    block = pack.title_block
    return {
        "margin": MARGIN_MM,
        "header": HEADER_MM,
        "footer": FOOTER_MM,
        "title": f"{block.job}: stake-out pack" if block.job else "Stake-out pack",
        "gutter": TITLE_GUTTER_MM,
        "title_size": TITLE_PT,
        "alarm": block.alarm,
        "alarm_down": ALARM_DOWN_MM,
        "sheets": [_sheet_data(sheet, block, width, height) for sheet in pack.sheets],
    }


def _sheet_data(sheet: Sheet, block: TitleBlock, width_mm: float, height_mm: float) -> dict[str, Any]:
    if sheet.drawing is not None:
        width_mm, height_mm = sheet.drawing.width_mm, sheet.drawing.height_mm
    elif sheet.landscape:
        width_mm, height_mm = height_mm, width_mm
    return {
        "title": sheet.title,
        "width": width_mm,
        "height": height_mm,
        "block": block.fitted(width_mm - 2 * MARGIN_MM),
        "svg": None if sheet.drawing is None else svg_text(sheet.drawing),
        "blocks": [
            _words_data(part) if isinstance(part, Words) else _table_data(part, width_mm - 2 * MARGIN_MM)
            for part in sheet.blocks
        ],
    }


def _words_data(words: Words) -> dict[str, Any]:
    return {
        "kind": "words",
        "heading": words.heading,
        "lines": words.lines,
        "bullets": words.bullets,
        "alarm": words.alarm,
        "size": words.size_pt,
    }


def _table_data(table: Table, room_mm: float) -> dict[str, Any]:
    table = under_each_other(table)
    layout = lay_out(table, room_mm=room_mm)
    side_by_side = folded(table, room_mm=room_mm)
    rows = [*table.rows, *(() if table.totals is None else (table.totals,))]
    cells = [
        [[text, column.pads_mm[j]] for text, column in zip(row, layout.columns, strict=True)]
        for j, row in enumerate(rows)
    ]
    return {
        "kind": "table",
        "title": table.title,
        "size": layout.size_pt,
        "widths": [column.width_mm for column in layout.columns],
        "ways": 1 if side_by_side is None else side_by_side[0],
        "leads": [column.lead_mm for column in layout.columns],
        "gutter": FOLD_GUTTER_MM,
        "fold_widths": [] if side_by_side is None else [c.width_mm for c in side_by_side[1].columns],
        "headings": [heading_text(column) for column in table.columns],
        "aligns": [column.align for column in table.columns],
        "kinds": [column.kind for column in table.columns],
        "strong": [column.strong or column.main for column in table.columns],
        "larger": [
            MAIN_PT if column.main else STRONGER_PT if column.strong else 0.0 for column in table.columns
        ],
        "main": [column.main for column in table.columns],
        "rows": cells[: len(table.rows)],
        "totals": None if table.totals is None else cells[-1],
        "notes": table.notes,
        "rules": table.rules_above,
    }
