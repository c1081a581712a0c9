"""The accuracies that were taken for the kinds of readings there are, in a sentence."""

from __future__ import annotations

from staking.book.records import FieldBook
from staking.sheets.notation import Notation, degrees

_HUNDRED = 100.0


def accuracies_taken(book: FieldBook, notation: Notation) -> str:
    """Return one standard deviation of each kind of reading in the book; empty where there is none."""
    accuracy, fine = book.job.accuracy, notation.fine_words
    azimuth = book.job.control.azimuth
    compass = azimuth is not None and azimuth.north == "magnetic"
    told = [
        (bool(book.levels), f"rod {fine(accuracy.rod_m)}{_growing(accuracy.rod_per_m)}"),
        (bool(book.rises), f"rise {fine(accuracy.rise_m)}"),
        (bool(book.tapes), f"tape {fine(accuracy.tape_m)}{_growing(accuracy.tape_per_m)}"),
        (bool(book.offsets), f"offset {fine(accuracy.offset_m)}"),
        (bool(book.angles), f"angle {degrees(accuracy.angle_rad, 2)}"),
        (bool(book.bearings) or compass, f"bearing {degrees(accuracy.bearing_rad, 1)}"),
        (
            bool(book.shadows),
            f"shadow {degrees(accuracy.shadow_rad, 2)} and its clock {accuracy.clock_s:g} s for all of a day",
        ),
        (bool(book.equal_shadows), f"mark of a shadow {fine(accuracy.shadow_mark_m)}"),
        (
            bool(book.fixes),
            f"fix {fine(accuracy.fix_m)}, what all fixes of a session share {fine(accuracy.session_m)}",
        ),
        (
            any(row.height_m is not None for row in book.fixes),
            f"height of a fix {fine(accuracy.fix_height_m)}, shared {fine(accuracy.session_height_m)}",
        ),
        (bool(book.job.arrays), f"cut mark {fine(accuracy.mark_m)}, saw {fine(accuracy.saw_m)}"),
    ]
    own = any(
        getattr(row, "sd_m", None) is not None
        for row in (*book.levels, *book.rises, *book.tapes, *book.offsets)
    )
    words = "; ".join(text for there, text in told if there)
    return f"{words}; rows with an sd their own" if words and own else words


def _growing(per_m: float) -> str:
    return f" and {_HUNDRED * per_m:.2g} % of the sight" if per_m else ""
