"""``sheets.json``: what the printed sheets say and the hashes of all files, so that changes can be told."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping

from staking.sheets.printed import Path, printed_sheets
from staking.sheets.sheet import Pack

NAME = "sheets.json"


def sheets_json(pack: Pack, style: str, files: Mapping[str, bytes]) -> bytes:
    """Return the bytes of the file; `style` is how lengths are printed, `files` are those beside it."""
    block = pack.title_block
    record = {
        "inputs": block.fingerprint,
        "revision": block.revision or None,
        "date": block.date,
        "style": style,
        "sheets": [
            {
                "title": one.title,
                "part": one.part,
                "scale": one.scale,
                "texts": list(one.texts),
                # A line a path: a long list of its own for each number would be most of the file.
                "drawn": {layer: [_flat(path) for path in paths] for layer, paths in one.drawn.items()},
            }
            for one in printed_sheets(pack)
        ],
        "files": {name: hashlib.sha256(files[name]).hexdigest() for name in sorted(files)},
    }
    return (json.dumps(record, indent=1, ensure_ascii=False, allow_nan=False) + "\n").encode()


def _flat(path: Path) -> str:
    return " ".join(f"{x:g},{y:g}" for x, y in path)
