"""The cells of a workbook as a spreadsheet holds them, rows and columns where it shows them."""

from __future__ import annotations

from collections.abc import Collection
from pathlib import Path

from staking.base.errors import Mistake, WrongInput
from staking.book.sheetoutline import Outline, sheet_outlines

ENDINGS = (".xlsx", ".ods")
"""Of workbooks that are read: Office Open XML and OpenDocument, as spreadsheets save them."""
MOST_ROWS, MOST_COLUMNS = 200_000, 256
"""Of a sheet; a cell beyond was touched by mistake, and an empty sheet of that size would fill the memory."""

Values = list[list[object]]


def sheet_values(path: Path, wanted: Collection[str]) -> dict[str, Values]:
    """Return the values of the sheets by title; those whose plain name is not wanted as one cell or none.

    Raises
    ------
    WrongInput
        When the file cannot be read as a workbook, or a sheet is absurdly large.
    """
    try:
        from python_calamine import CalamineError, load_workbook
    except ImportError:
        problem = "reading a workbook needs the library python-calamine"
        raise unreadable(path, problem, "pip install python-calamine, or save each sheet as CSV") from None
    found: dict[str, Values] = {}
    outlines = sheet_outlines(path)
    for title, outline in outlines.items():
        # A sheet of one's own is read not at all from an .xlsx file; an .ods file is read whole.
        if title.strip().casefold() in wanted or path.suffix.lower() == ".ods":
            _not_beyond(path, title, outline)
    try:
        with load_workbook(str(path)) as workbook:
            for title in workbook.sheet_names:
                if title.strip().casefold() not in wanted:
                    there = title not in outlines or outlines[title].rows > 0
                    found[title] = [["something"]] if there else []
                    continue
                sheet = workbook.get_sheet_by_name(title)
                # With the empty area skipped, rows and columns would not be those that the spreadsheet shows.
                found[title] = [[*row] for row in sheet.to_python(skip_empty_area=False)]
    except (CalamineError, OSError, ValueError) as error:
        problem = f"cannot be read as a workbook: {error}"
        remedy = "Open it in a spreadsheet and save it again as .xlsx, without a password"
        raise unreadable(path, problem, remedy) from error
    for title, outline in outlines.items():
        if title.strip().casefold() in wanted and title in found:
            for (row, column), text in outline.errors.items():
                _set(found[title], row, column, text)
    return found


def unreadable(path: Path, problem: str, remedy: str, *, place: str | None = None) -> WrongInput:
    """Return the error of a workbook that cannot be read at all."""
    return WrongInput([Mistake(file=path.name, place=place, problem=problem, remedy=remedy)])


def letters(column: int) -> str:
    """Return the letters of a spreadsheet's column, from 0: A to Z, AA, AB."""
    text = ""
    number = column + 1
    while number:
        number, rest = divmod(number - 1, 26)
        text = chr(ord("A") + rest) + text
    return text


def _not_beyond(path: Path, title: str, outline: Outline) -> None:
    """Refuse a sheet that reaches farther than any survey."""
    if outline.rows > MOST_ROWS or outline.columns > MOST_COLUMNS:
        far = f"{letters(outline.columns - 1)}{outline.rows}"
        problem = f"the sheet reaches to cell {far}, farther than any survey"
        remedy = "Delete the columns and rows beyond your table, then save"
        raise unreadable(path, problem, remedy, place=f"sheet {title}")


def _set(rows: Values, row: int, column: int, text: str) -> None:
    """Put an error's text where it stands, past the end of what was read too."""
    rows.extend([] for _ in range(len(rows), row + 1))
    rows[row].extend("" for _ in range(len(rows[row]), column + 1))
    rows[row][column] = text
