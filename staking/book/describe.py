"""The page that tells every table, column and key, made from the declarations."""

from __future__ import annotations

from collections.abc import Iterator

from staking.book.keys import ARRAYS, SECTIONS, Key, Section
from staking.book.kinds import Kind
from staking.book.tables import TABLES

_HEAD = """\
# Tables and keys of a survey

Made from the declarations in `staking/book/tables.py` and `staking/book/keys.py`: change those, not this.

A survey is one folder: `job.toml` and as many of the tables as were needed, each a CSV file.

- A bare number is in the survey's `units`. A length may always carry its own: `5.43 ft`, `5' 5-1/8"`,
  `65 1/8 in`, `1.655 m`, `1655 mm`. In `job.toml` write `in` for the inch mark. A decimal comma is an error
  that says what to write.
- Angles are degrees: `88.5`, `88°30'`, `88-30-00`; a direction may be a quadrant bearing, `N 88°30' E`.
- Point names are compared without regard to case and outer blanks.
- A line that begins with `#` is a remark; blank rows are skipped; columns come in any order.
- A file may be UTF-8, UTF-16 or in the Western code page, its cells parted by commas, semicolons or tabs.
"""


def tables_markdown() -> str:
    """Return the page in Markdown."""
    return "\n".join([_HEAD, *_job(), *_tables()])


def _job() -> Iterator[str]:
    yield "## `job.toml`\n"
    for section in SECTIONS:
        yield f"### {'`[[arrays]]`' if section is ARRAYS else f'`[{section.name}]`'}\n"
        needed = "Needed for a plan. " if section.needed and section.name != "site" else ""
        yield f"{needed}{_sentence(section.meaning)}\n"
        yield "| key | kind | default | meaning | example |\n|---|---|---|---|---|"
        yield "".join(_key_rows(section, ""))


def _key_rows(section: Section, front: str) -> Iterator[str]:
    for key in section.keys:
        name = f"`{front}{key.name}`"
        if isinstance(key, Key):
            default = "needed" if key.needed else key.default
            kind = ("one or a list of: " if key.bare else "list of: " if key.several else "") + _kind(
                key.kind
            )
            yield _row(name, kind, default, key.meaning, f"`{key.typed}`")
        elif section is ARRAYS:
            yield _row(name, f"table, as `[{key.name}]`", f"`[{key.name}]`", key.meaning, "")
        else:
            kind = "list of tables" if key.several else "table"
            yield _row(name, kind, "needed" if key.needed else "", key.meaning, "")
            yield from _key_rows(key, f"{front}{key.name}.")


def _tables() -> Iterator[str]:
    for table in TABLES:
        yield f"## `{table.file}`\n"
        yield f"One row is {table.meaning}.\n"
        yield "| column | kind | needed | meaning | example |\n|---|---|---|---|---|"
        rows = (
            _row(
                f"`{column.name}`",
                _kind(column.kind),
                "yes" if column.needed else "",
                column.meaning,
                f"`{column.example}`" if column.example else "",
            )
            for column in table.columns
        )
        yield "".join(rows)


def _kind(kind: Kind) -> str:
    return f"{kind.word} ({kind.unit})" if kind.unit else kind.word


def _sentence(text: str) -> str:
    return text[0].upper() + text[1:] + "."


def _row(*cells: str) -> str:
    return "| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |\n"
