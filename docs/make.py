"""Write again what is made from the code and the samples: ``make docs``, from the top of the project."""

from __future__ import annotations

import shutil
import subprocess
import tempfile
from pathlib import Path

from staking.book.describe import tables_markdown
from staking.book.folder import read_book
from staking.formats.pack_files import pack_files
from staking.plan import planned
from staking.sheets.pack import pack

DOCS = Path(__file__).parent
SAMPLES = DOCS.parent / "sample_surveys"
DOTS_PER_INCH = 100


def pictures() -> None:
    """Turn the map of every sample into a PNG, for README and the gallery."""
    if shutil.which("pdftoppm") is None:
        print("pdftoppm is not here (Debian: poppler-utils): the pictures stay as they are")
        return
    for folder in sorted(path.parent for path in SAMPLES.glob("*/job.toml")):
        made = pack(planned(read_book(folder)))
        sheet = next(i for i, s in enumerate(made.sheets) if s.drawing is not None)
        with tempfile.TemporaryDirectory() as scratch:
            pdf = Path(scratch) / "pack.pdf"
            pdf.write_bytes(pack_files(made)["pack.pdf"])
            page = _page_with("Scale 1:", pdf) or sheet + 1
            place = DOCS / "pictures" / f"{folder.name}_map"
            place.parent.mkdir(exist_ok=True)
            command = ["pdftoppm", "-r", str(DOTS_PER_INCH), "-gray", "-png", "-singlefile"]
            subprocess.run([*command, "-f", str(page), str(pdf), str(place)], check=True)
            print(f"{place}.png")


def _page_with(words: str, pdf: Path) -> int | None:
    """Return the number of the first page that holds some words."""
    text = subprocess.run(["pdftotext", str(pdf), "-"], check=True, capture_output=True, text=True).stdout
    pages = text.split("\f")
    return next((i + 1 for i, page in enumerate(pages) if words in page), None)


def main() -> None:
    """Write everything."""
    (DOCS / "tables.md").write_text(tables_markdown(), encoding="utf-8")
    print(DOCS / "tables.md")
    pictures()


if __name__ == "__main__":
    main()
