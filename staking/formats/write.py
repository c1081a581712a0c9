"""Files written whole or not at all."""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path


def write_files(out: Path, files: Mapping[str, bytes]) -> tuple[Path, ...]:
    """Write every file into a folder, made if need be; a failure leaves none of them half-written.

    Each is written beside its place first and moved there once all are on the disk.

    Raises
    ------
    OSError
        When the folder or a file cannot be written; files that were there are then as they were.
    """
    out.mkdir(parents=True, exist_ok=True)
    waiting: dict[Path, Path] = {}
    try:
        for name, content in files.items():
            place = out / name
            beside = out / f".{name}.part"
            waiting[place] = beside
            beside.write_bytes(content)
        for place, beside in waiting.items():
            os.replace(beside, place)
    finally:
        for beside in waiting.values():
            beside.unlink(missing_ok=True)
    return tuple(waiting)
