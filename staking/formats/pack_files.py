"""Every file of a `Pack`, built whole before anything is written."""

from __future__ import annotations

from staking.formats.csv_file import csv_bytes
from staking.formats.other_files import other_files
from staking.formats.svg import svg_bytes
from staking.formats.typst_pdf import pdf_bytes
from staking.sheets.sheet import Pack, TitleBlock

PDF_NAME = "pack.pdf"


def _stamp(block: TitleBlock) -> tuple[tuple[str, str], ...]:
    """Return what every row of a table for programs says of its file."""
    return (("inputs", block.fingerprint), ("revision", block.revision or "none"), ("date", block.date))


def pack_files(pack: Pack, *, pdf_name: str = PDF_NAME) -> dict[str, bytes]:
    """Return every file of a pack by name; the same pack gives the same bytes.

    Raises
    ------
    SheetsFailed
        When the typesetter reports an error or a warning.
    """
    files = {pdf_name: pdf_bytes(pack)}
    files |= {name: svg_bytes(drawing) for name, drawing in pack.drawings}
    files |= {data.name: csv_bytes(data.table, _stamp(pack.title_block)) for data in pack.data}
    return files | other_files(pack)
