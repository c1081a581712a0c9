"""The whole pack of 24 piers against typesetting an empty document, in the same run."""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable
from pathlib import Path

RUNS = 5
PIERS = 24
SAMPLE = Path(__file__).parent.parent / "sample_surveys" / "cross_fall"


def median_s(run: Callable[[], object]) -> float:
    """Return the median time of a call, after one that is not counted."""
    run()
    times = []
    for _ in range(RUNS):
        start = time.perf_counter()
        run()
        times.append(time.perf_counter() - start)
    return statistics.median(times)


def main() -> None:
    """Print the ratios of sheets and of the PDF, for 24 piers on the yard of a sample."""
    import typst

    from staking.book.folder import read_book
    from staking.formats.typst_pdf import pdf_bytes
    from staking.plan import planned
    from staking.sheets.pack import pack

    book = read_book(SAMPLE)
    array = book.job.arrays[0]
    per_beam = PIERS // len(array.frame.beams_at_m)
    widened = _with_piers(book, per_beam)
    plan = planned(widened)
    assert sum(len(one.fit.piers.names) for one in plan.arrays) == PIERS
    made = pack(plan)
    floor = median_s(lambda: typst.compile(b"#set page(width: 100mm, height: 100mm)\n"))
    print(f"floor: an empty document typeset              {1000 * floor:6.1f} ms")
    sheets = median_s(lambda: pack(plan))
    print(f"sheets of {PIERS} piers, before they are set   {sheets / floor:7.1f} of the floor")
    pdf = median_s(lambda: pdf_bytes(made))
    print(f"pack.pdf of {PIERS} piers                     {pdf / floor:7.1f} of the floor")


def _with_piers(book, per_beam):  # type: ignore[no-untyped-def]
    """Return the sample's survey with longer beams: bays as they are, modules to fill them."""
    from dataclasses import replace

    (array,) = book.job.arrays
    bays = per_beam - 1
    along = array.array.module_along_m + array.array.gap_along_m
    field = round((bays * array.frame.bay_m + 1.6) / along)
    longer = replace(
        array,
        array=replace(array.array, modules_along=field),
        frame=replace(array.frame, piers_per_beam=per_beam, rail_clear_m=0.0),
        fit=replace(array.fit, beams="level", above_grade_max_m=20.0),
    )
    return replace(book, job=replace(book.job, arrays=(longer,)))


if __name__ == "__main__":
    main()
