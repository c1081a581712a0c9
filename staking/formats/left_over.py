"""Files in the results' folder that an earlier run wrote and this one did not."""

from __future__ import annotations

import re
from collections.abc import Collection
from pathlib import Path

OF_PLAN = re.compile(
    r"pack\.pdf|map(_\d+)?\.svg|results\.(json|xlsx)|sheets\.json|site\.dxf|stakes\.(csv|gpx|geojson|kml)"
    r"|(piers|ties|hubs|point_list|cuts|saw_list|order)\.csv"
)
OF_COMPARISON = re.compile(r"compare\.(pdf|csv)|compare(_\d+)?\.svg")


def left_over(out: Path, written: Collection[Path], names: re.Pattern[str]) -> tuple[str, ...]:
    """Return the names, sorted, of files that look like results and are not of this run.

    Parameters
    ----------
    out
        Where results were written.
    written
        What this run wrote.
    names
        `OF_PLAN` or `OF_COMPARISON`.
    """
    new = {path.name for path in written}
    return tuple(
        sorted(
            path.name
            for path in out.iterdir()
            if path.name not in new and names.fullmatch(path.name) and path.is_file()
        )
    )


def left_over_words(out: Path, names: Collection[str]) -> str:
    """Return what to say of them on standard error; empty for none."""
    if not names:
        return ""
    return (
        f"OF AN EARLIER RUN, not of this one, {out} still holds: {', '.join(names)}. Do not build from them."
    )
