"""The command: a thin face over the plan. Help imports nothing heavy, so that it comes at once."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Callable, Sequence
from typing import NoReturn

from staking import __version__

UNEXPECTED_STATUS = 70
"""Exit status of a failure of the program itself (EX_SOFTWARE of sysexits.h)."""

PAPERS = ("letter", "a4", "tabloid", "a3")
PAPER_HELP = "letter for feet and inches, else a4; on tabloid or a3 the maps alone, the rest on letter or a4"

_ABOUT = (
    "From the readings of a sloped yard to stakes, post lengths and cut pipe for a pipe-framed, "
    "ground-mounted solar array. A survey is a folder of tables and a job.toml; 'staking new' writes one to "
    "fill in."
)
_LIMITS = (
    "The program gives geometry, never strength: local codes and licensed engineers and electricians decide. "
    "Exit status: 0 done; 2 the input is wrong and nothing is written; 3 no layout meets the limits."
)


class _Parser(argparse.ArgumentParser):
    """Names the nearest command or option when one is mistyped."""

    def error(self, message: str) -> NoReturn:
        import re
        from difflib import get_close_matches

        known = [
            "new",
            "changes",
            "check",
            "compare",
            "import",
            "next",
            "plan",
            "shadows",
            "--again",
            "--all-setups",
            "--date",
            "--from",
            "--height-kind",
            "--out",
            "--paper",
            "--point",
            "--session",
            "--units",
            "--workbook",
            "--x",
            "--help",
            "--version",
        ]
        typed = re.search(r"(?:invalid choice: '|arguments: )([^'\s]+)", message)
        near = get_close_matches(typed[1], known, n=1) if typed else []
        message = re.sub(r"argument COMMAND: invalid choice: ('[^']*').*", r"no such command: \1", message)
        hint = f". Did you mean {near[0]}?" if near else ""
        self.exit(2, f"{self.prog}: {message}{hint}\n{self.format_usage()}")


def _parser() -> argparse.ArgumentParser:
    parser = _Parser(prog="staking", description=_ABOUT, epilog=_LIMITS)
    parser.add_argument("--version", action="version", version=f"staking {__version__}")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", required=True, title="commands")

    def command(name: str, does: str, run: Callable[[argparse.Namespace], int]) -> argparse.ArgumentParser:
        sub = commands.add_parser(name, help=does, description=does, epilog=_LIMITS)
        sub.add_argument("folder", metavar="FOLDER", help="the survey's folder, or its workbook (.xlsx)")
        sub.set_defaults(run=run)
        return sub

    sub = command("new", "Write a commented folder to fill in.", _new)
    sub.add_argument("--units", choices=["ft", "in", "m", "mm"], default="ft", help="of bare numbers (ft)")
    sub.add_argument("--workbook", action="store_true", help="one .xlsx with a sheet a table instead")
    sub.add_argument(
        "--from", dest="source", metavar="FOLDER", help="fill the workbook with what this folder holds"
    )
    sub = commands.add_parser(
        "import",
        help="Add GPS logs and lists of points to the tables.",
        description="Add waypoints (GPX), logs (NMEA), GeoJSON points or a list of points with column names: "
        "latitudes go to fixes.csv, east and north to control.csv.",
        epilog=_LIMITS,
    )
    sub.add_argument("files", metavar="FILE", nargs="+", help="what the receiver or the surveyor gave")
    sub.add_argument("folder", metavar="FOLDER", help="the survey's folder")
    sub.add_argument("--point", metavar="NAME", help="a log's point: its positions make one fix, their mean")
    sub.add_argument("--session", metavar="NAME", help="of the fixes (the file's name)")
    sub.add_argument(
        "--height-kind",
        choices=["ellipsoidal", "orthometric", "none"],
        help="what heights are, where the file is silent; none leaves them out",
    )
    sub.add_argument("--x", choices=["east", "north"], help="where the x of a list of points runs")
    sub.add_argument("--again", action="store_true", help="the points were fixed again in the same session")
    sub.set_defaults(run=_import)
    sub = command("check", "Adjust the survey alone: what closes, what to worry about.", _check)
    sub.add_argument("--out", metavar="DIR", help="also write results.json there")
    sub.add_argument("--all-setups", action="store_true", help="what to shoot again for every set-up")
    sub.add_argument(
        "--planned", action="store_true", help="before any reading: what those marked x will prove"
    )
    sub = command("next", "What to read next, and what the readings can prove.", _next)
    sub.add_argument("--all-setups", action="store_true", help="what to shoot again for every set-up")
    sub = command("plan", "Do the whole job: sheets, tables, cut list.", _plan)
    sub.add_argument("--out", metavar="DIR", required=True, help="where the sheets and files go")
    sub.add_argument("--paper", choices=PAPERS, help=PAPER_HELP)
    sub = command("compare", "Designs of one yard side by side: heights, pipe, money, facing.", _compare)
    sub.add_argument("--out", metavar="DIR", help="also write the table, the picture and compare.csv there")
    sub.add_argument("--paper", choices=PAPERS, help=PAPER_HELP)
    sub = commands.add_parser(
        "changes",
        help="What changed from one plan to another, and which printed sheets are void.",
        description="Compare two plans pier by pier: each a folder that plan wrote, or a survey's folder or "
        "workbook, which is planned for it.",
        epilog=_LIMITS,
    )
    sub.add_argument("old", metavar="OLD", help="the earlier one")
    sub.add_argument("new", metavar="NEW", help="the later one")
    sub.set_defaults(run=_changes)
    sub = command("shadows", "Print a day's shadows of a plumb line by the clock: true north.", _shadows)
    sub.add_argument("--date", metavar="DATE", help="another day than that of the survey, as 2026-10-03")
    return parser


def main(argv: Sequence[str] | None = None) -> NoReturn:
    """Run the command and exit with its status; no traceback reaches a user."""
    asked = _parser().parse_args(argv)
    # A yard's matrices have a few dozen rows: more threads than one only wait for each other.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    try:
        status: int = asked.run(asked)
        sys.stdout.flush()
    except BrokenPipeError:
        # Whoever read the lines has gone, as `head` does; files were written before the first line.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        status = 0
    except Exception as error:
        status = _told(_by_cell(error, asked))
    sys.exit(status)


def _new(asked: argparse.Namespace) -> int:
    from pathlib import Path

    from staking.book.starter import write_starter
    from staking.book.workbook import is_workbook

    if asked.workbook or asked.source is not None or is_workbook(Path(asked.folder)):
        return _new_workbook(asked)
    written = write_starter(Path(asked.folder), units=asked.units)
    print(f"Written into {asked.folder}: {', '.join(path.name for path in written)}")
    print("Fill in job.toml and the tables you need and delete the other tables, then:")
    print(f"  staking check {asked.folder}")
    return 0


def _new_workbook(asked: argparse.Namespace) -> int:
    from pathlib import Path

    from staking.book.workbook_files import write_workbook

    source = None if asked.source is None else Path(asked.source)
    path = write_workbook(Path(asked.folder), units=asked.units, folder=source)
    print(f"Written: {path}")
    if source is None:
        print("Fill in the sheet job and the tables you need, then:")
    print(f"  staking check {path}")
    return 0


def _import(asked: argparse.Namespace) -> int:
    from pathlib import Path

    from staking.book.found_points import Asked
    from staking.book.importing import imported

    _not_a_workbook(asked)
    said = Asked(point=asked.point, session=asked.session, height_kind=asked.height_kind, x_is=asked.x)
    lines = imported([Path(file) for file in asked.files], Path(asked.folder), said, again=asked.again)
    print("\n".join(lines))
    return 0


def _check(asked: argparse.Namespace) -> int:
    from pathlib import Path

    from staking.ahead.looking import setups_of
    from staking.book.folder import read_book
    from staking.plan import surveyed
    from staking.sheets.ahead_lines import shoot_again_lines
    from staking.sheets.terminal import survey_lines, written_lines

    _keep_apart(asked)
    if asked.planned:
        return _check_planned(asked)
    plan = surveyed(read_book(Path(asked.folder), purpose="check"))
    written: tuple[Path, ...] = ()
    if asked.out is not None:
        from staking.formats.write import write_files
        from staking.results import results_text

        written = write_files(Path(asked.out), {"results.json": results_text(plan).encode()})
        _tell_left_over(asked, written)
    again = shoot_again_lines(setups_of(plan, last_alone=not asked.all_setups), every=asked.all_setups)
    print("\n".join([*survey_lines(plan), *again, *written_lines(written)]))
    return 0


def _check_planned(asked: argparse.Namespace) -> int:
    from pathlib import Path

    from staking.ahead.planned_piers import foreseen
    from staking.book.folder import read_book
    from staking.sheets.planned_lines import planned_lines
    from staking.sheets.terminal import written_lines

    seen = foreseen(read_book(Path(asked.folder), purpose="planned"))
    written: tuple[Path, ...] = ()
    if asked.out is not None:
        from staking.ahead.planned_results import planned_results_text
        from staking.formats.write import write_files

        written = write_files(Path(asked.out), {"results.json": planned_results_text(seen).encode()})
        _tell_left_over(asked, written)
    print("\n".join([*planned_lines(seen), *written_lines(written)]))
    return 0


def _next(asked: argparse.Namespace) -> int:
    from pathlib import Path

    from staking.ahead.looking import looked_ahead
    from staking.book.folder import read_book
    from staking.plan import planned, surveyed
    from staking.sheets.ahead_lines import ahead_lines

    book = read_book(Path(asked.folder), purpose="check")
    designed = book.job.arrays or book.job.footing or book.job.pipe
    plan = planned(read_book(Path(asked.folder))) if designed else surveyed(book)
    print("\n".join(ahead_lines(plan, looked_ahead(plan), every=asked.all_setups)))
    return 0


def _plan(asked: argparse.Namespace) -> int:
    from pathlib import Path

    from staking.book.folder import read_book
    from staking.formats.other_files import lacking
    from staking.formats.pack_files import pack_files
    from staking.formats.sheets_json import NAME as SHEETS_JSON
    from staking.formats.sheets_json import sheets_json
    from staking.formats.write import write_files
    from staking.plan import planned
    from staking.results import results_text
    from staking.sheets.earth_places import earth_refusal
    from staking.sheets.pack import pack
    from staking.sheets.terminal import not_written_lines, plan_lines, trouble_lines, written_lines

    _keep_apart(asked)
    plan = planned(read_book(Path(asked.folder), purpose="plan"))
    sheets = pack(plan, paper=asked.paper)
    files = {**pack_files(sheets), "results.json": results_text(plan).encode()}
    files[SHEETS_JSON] = sheets_json(sheets, plan.book.job.site.show, files)
    written = write_files(Path(asked.out), files)
    left_out = not_written_lines(earth_refusal(plan), lacking(sheets))
    print("\n".join([*plan_lines(plan), *written_lines(written), *left_out]))
    if plan.conflicts:
        print("\n".join(trouble_lines(plan)), file=sys.stderr)
    _tell_left_over(asked, written)
    return 3 if plan.conflicts else 0


def _compare(asked: argparse.Namespace) -> int:
    from pathlib import Path

    from staking.book.folder import read_book
    from staking.book.variants import marked, read_variants
    from staking.compare import compared
    from staking.sheets.compare_table import compare_lines, compare_pack
    from staking.sheets.terminal import written_lines

    _keep_apart(asked)
    folder = Path(asked.folder)
    designs = compared(marked(read_book(folder), folder), read_variants(folder))
    written: tuple[Path, ...] = ()
    if asked.out is not None:
        from staking.formats.pack_files import pack_files
        from staking.formats.write import write_files

        files = pack_files(compare_pack(designs, paper=asked.paper), pdf_name="compare.pdf")
        written = write_files(Path(asked.out), files)
        _tell_left_over(asked, written, compared=True)
    print("\n".join([*compare_lines(designs), *written_lines(written)]))
    return 0


def _changes(asked: argparse.Namespace) -> int:
    from pathlib import Path

    from staking.changes.lines import changes_lines
    from staking.changes.made import made

    print("\n".join(changes_lines(made(Path(asked.old)), made(Path(asked.new)))))
    return 0


def _tell_left_over(asked: argparse.Namespace, written: Sequence[object], *, compared: bool = False) -> None:
    """Say on standard error which results of an earlier run stay in the folder; nothing is deleted."""
    from pathlib import Path

    from staking.formats.left_over import OF_COMPARISON, OF_PLAN, left_over, left_over_words

    out, new = Path(asked.out), {str(path) for path in written}
    names = left_over(out, {Path(path) for path in new}, OF_COMPARISON if compared else OF_PLAN)
    if names:
        print(left_over_words(out, names), file=sys.stderr)


def _shadows(asked: argparse.Namespace) -> int:
    from pathlib import Path

    from staking.book.folder import read_site
    from staking.plan import surveyed
    from staking.sheets.north_table import line_of
    from staking.sheets.shadow_lines import day_asked, shadow_lines

    site, book = read_site(Path(asked.folder))
    day = day_asked(site, asked.date)
    line = None if book is None else line_of(surveyed(book))
    print("\n".join(shadow_lines(site, day, line)))
    return 0


def _not_a_workbook(asked: argparse.Namespace) -> None:
    """Refuse to add to a workbook: a spreadsheet may have it open, and formats would be lost."""
    from pathlib import Path

    from staking.book.workbook import is_workbook

    if is_workbook(Path(asked.folder)):
        from staking.base.errors import Mistake, WrongInput

        problem = "points are added to the tables of a folder, not to a workbook"
        remedy = "Import into a folder made by staking new, then copy the rows"
        raise WrongInput([Mistake(file=asked.folder, problem=problem, remedy=remedy)])


def _keep_apart(asked: argparse.Namespace) -> None:
    """Refuse to write results among the readings, where they would be taken for tables."""
    from pathlib import Path

    if asked.out is not None and Path(asked.out).resolve() == Path(asked.folder).resolve():
        from staking.base.errors import Mistake, WrongInput

        remedy = f"Choose another folder for the results, such as {Path(asked.folder).name}_sheets"
        problem = "--out is the survey's own folder; results would lie among the readings"
        raise WrongInput([Mistake(file=str(asked.out), problem=problem, remedy=remedy)])


def _by_cell(error: Exception, asked: argparse.Namespace) -> Exception:
    """Return the error with sheets and cells for files and rows where the survey is a workbook."""
    from pathlib import Path

    from staking.base.errors import WrongInput
    from staking.book.workbook import is_workbook, read_workbook, told_by_cell

    folder = getattr(asked, "folder", None)
    if not isinstance(error, WrongInput) or folder is None or not is_workbook(Path(folder)):
        return error
    try:
        return told_by_cell(error, read_workbook(Path(folder)))
    except WrongInput:
        return error


def _told(error: Exception) -> int:
    """Say what went wrong on standard error and return the exit status."""
    from staking.base.errors import StakingError, WrongInput

    if isinstance(error, WrongInput):
        number = len(error.mistakes)
        print(f"{number} {'mistake' if number == 1 else 'mistakes'}; nothing was written.", file=sys.stderr)
        print("\n".join(f"  {mistake}" for mistake in error.mistakes), file=sys.stderr)
        if error.asked:
            print("Look at this too:", file=sys.stderr)
            print("\n".join(f"  {sentence}" for sentence in error.asked), file=sys.stderr)
        return 2
    if isinstance(error, StakingError):
        print(f"{error}\nNothing was written.", file=sys.stderr)
        return 2
    if isinstance(error, FileExistsError):
        print(f"{error.filename}: a file, not a folder. Nothing was written.", file=sys.stderr)
        return 2
    if isinstance(error, OSError):
        print(f"{error.filename or 'file'}: {error.strerror or error}. Nothing was written.", file=sys.stderr)
        return 2
    print(
        f"The program failed ({type(error).__name__}: {error}). This is a fault of the program, not of your "
        "survey; nothing was written. Please report it together with the folder.",
        file=sys.stderr,
    )
    return UNEXPECTED_STATUS


if __name__ == "__main__":
    main()
