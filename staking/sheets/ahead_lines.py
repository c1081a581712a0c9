"""What the terminal says of what comes next: readings that help most, sights to repeat, what is proved."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from staking.ahead.candidates import Reading
from staking.ahead.looking import Ahead
from staking.ahead.next_readings import BestPair, NextReadings
from staking.ahead.proof import MOST_REPEATS, Claim
from staking.ahead.shoot_again import Again, SetupAgain, Why
from staking.base.units import in_unit
from staking.book.records import FieldBook
from staking.plan import Plan
from staking.sheets.control_table import FAILS, fails_tests
from staking.sheets.notation import Notation, count_words, sentence
from staking.sheets.wrapped import bullets, labelled

WORTH_IT = 0.05
"""Readings that take off less than a twentieth of a standard deviation are not worth a walk."""
_MOST_NAMES = 12

_WHY: dict[Why, str] = {
    "doubted": "doubted",
    "odd": "fits badly",
    "mark": "pins and benchmarks sighted once",
    "turning": "turning points sighted once",
    "pier": "stakes of piers sighted once, and each carries a post",
    "shot": "ground shots sighted once",
}
_WHAT = {
    "tops": "post tops",
    "neighbours": "neighbours",
    "row": "one row",
    "diagonals": "diagonals",
    "pins": "pins",
}


def fine(show: Notation, value_m: float) -> str:
    """Return an accuracy one place finer than lengths are built to: it is weighed, not measured off."""
    return f"{in_unit(value_m, 'in'):.2f} in" if show.style == "feet-inches" else show.fine_words(value_m)


def ahead_lines(plan: Plan, ahead: Ahead, *, every: bool = False) -> list[str]:
    """Return what ``staking next`` prints."""
    name = plan.book.job.site.name or "Survey"
    show = Notation(style=plan.book.job.site.show)
    lines = [name, "=" * len(name)]
    if fails_tests(plan.adjustment):
        lines += ["", FAILS]
    if ahead.next_readings is None:
        why = (
            "Without a design in job.toml ([array], [frame], [place], [fit], [footing], [pipe]) there are no "
            "piers yet, and no reading can be said to help the least sure one most."
        )
        if plan.book.job.arrays:
            why = "No layout meets the limits, so there is no least sure pier yet; staking plan says why."
        lines += ["", "READ NEXT", *bullets([why])]
    else:
        lines += next_lines(ahead.next_readings, ahead.setups, show)
    lines += shoot_again_lines(ahead.setups, every=every)
    return [*lines, *proof_lines(ahead.claims, show, plan.book)]


def next_lines(found: NextReadings, setups: Sequence[SetupAgain], show: Notation) -> list[str]:
    """Return the two readings that shrink the worst pier's uncertainty most."""
    row = setups[-1].row if setups else None
    lines = ["", "READ NEXT"]
    lines += _pair("least sure pier", "ground", found.worst, found, row, show)
    if found.moved is not None:
        lines += _pair("", "or, once the tripod has moved,", found.moved, found, row, show)
    if found.survey is not None:
        lines += _pair("survey alone", "the survey's own errors", found.survey, found, row, show)
    return lines


def _pair(
    label: str, what: str, pair: BestPair, found: NextReadings, row: int | None, show: Notation
) -> list[str]:
    before, after = fine(show, pair.sd_before_m), fine(show, pair.sd_after_m)
    if pair.sd_after_m > (1.0 - WORTH_IT) * pair.sd_before_m:
        text = f"{pair.pier}: {what} ±{before}; of {pair.tried:,} pairs tried none helps by a twentieth"
        return labelled(label, sentence(text))
    does = _does(pair.readings, found.line, row, show)
    if not label:
        return labelled(label, sentence(f"{what} {does}: ±{after}"))
    text = f"{pair.pier}: {what} from ±{before} to ±{after}, one standard deviation: {does}"
    return labelled(label, f"{text}. Of {pair.tried:,} pairs tried none does better.")


def _does(readings: tuple[Reading, ...], line: tuple[str, str], row: int | None, show: Notation) -> str:
    """Return the readings as an order."""
    whats = [_thing(reading, line, show) for reading in readings]
    if len(readings) == 1:
        start = readings[0].start
        return f"set up anew, backsight {start} and shoot {whats[0]}"
    here = f"from the set-up of row {row}"
    if readings[0] == readings[1]:
        return f"shoot {whats[0]} twice {here}" if readings[0].kind == "sight" else f"{whats[0]} twice"
    sights = [what for what, r in zip(whats, readings, strict=True) if r.kind == "sight"]
    others = [what for what, r in zip(whats, readings, strict=True) if r.kind != "sight"]
    parts = ([f"shoot {' and '.join(sights)} {here}"] if sights else []) + others
    return " and ".join(parts)


def _thing(reading: Reading, line: tuple[str, str], show: Notation) -> str:
    if reading.kind != "sight":
        verb = "tape" if reading.kind == "tape" else "take the rise"
        return f"{verb} {reading.start}-{reading.to}"
    if reading.spot is None:
        return reading.to
    station, offset = reading.spot
    side = "right" if offset >= 0 else "left"
    return (
        f"the ground at station {show.words(station)}, {show.words(abs(offset))} {side} of the line "
        f"{line[0]}-{line[1]}"
    )


def shoot_again_lines(setups: Sequence[SetupAgain], *, every: bool = False) -> list[str]:
    """Return what to shoot again before the tripod moves: for the last set-up, or for every one."""
    lines: list[str] = []
    for setup in setups if every else setups[-1:]:
        texts = list(_setup_texts(setup))
        if texts:
            or_anew = ", or from a new one" if setup.closed else ""
            head = f"SHOOT AGAIN before the tripod moves (set-up of row {setup.row}{or_anew})"
            lines += ["", head, *bullets(sentence(text) for text in texts)]
    return lines


def _setup_texts(setup: SetupAgain) -> Iterable[str]:
    by_why: dict[Why, list[Again]] = {}
    for one in setup.again:
        by_why.setdefault(one.why, []).append(one)
    for why in ("doubted", "odd"):
        for one in by_why.pop(why, []):
            off = "" if one.w is None else f": it misses by {abs(one.w):.1f} times its usual error"
            yield f"{one.point} (row {one.row}, {one.column}), {_WHY[why]}{off}"
    if setup.sight_too:
        had = f"only {setup.checked_on[0]}" if setup.checked_on else "nothing"
        here = {one.point for one in setup.again}
        too = [f"{name} again" if name in here else f"{name} too" for name in setup.sight_too]
        yield (
            f"sight {' and '.join(too)}: {had} here is known from elsewhere or sighted twice, and two such "
            "points would show a reading at fault"
        )
    for why, ones in by_why.items():
        names = list(dict.fromkeys(one.point for one in ones))
        rest = f" and {len(names) - _MOST_NAMES} more" if len(names) > _MOST_NAMES else ""
        yield f"{_WHY[why]}: {', '.join(names[:_MOST_NAMES])}{rest}"
    if not setup.closed:
        yield f"last, {setup.close_on} again as the foresight: nothing shows yet whether the level has moved"


def proof_lines(found: Sequence[Claim], show: Notation, book: FieldBook) -> list[str]:
    """Return what the instruments can prove against the tolerances, 19 times in 20."""
    if not found:
        return []
    lines = ["", "WHAT THESE INSTRUMENTS PROVE (19 times in 20)"]
    for claim in found:
        lines += labelled(_WHAT[claim.what], _claim(claim, show, book) + ".")
    return lines


def _claim(claim: Claim, show: Notation, book: FieldBook) -> str:
    shown = fine(show, claim.shown_m)
    asked = (
        show.small_words(claim.tolerance_m) if show.style == "feet-inches" else fine(show, claim.tolerance_m)
    )
    by_rise = bool(book.rises) and not book.levels
    instruments = book.job.instruments
    taped = claim.what in ("diagonals", "pins")
    tool = instruments.tape if taped else instruments.rise if by_rise else instruments.rod
    one = "taping each once" if taped else "one rise to each top" if by_rise else "one shot of each top"
    said = f"{one} shows ±{shown}"
    if claim.between is not None:
        said = f"{claim.between[0]}-{claim.between[1]} is known to ±{shown}"
    cannot = "" if tool is None or claim.between is not None else f", your {tool} cannot"
    verdict = "PROVED" if claim.proved else f"NOT PROVED{cannot}"
    text = f"within {asked}: {verdict}; {said}"
    if not claim.proved:
        text += f", {fine(show, claim.shown_m - claim.tolerance_m)} too much; {_would(claim, show)}"
    if claim.made_m is not None:
        made = fine(show, claim.made_m)
        text += f". Cut to its mark it lands within ±{made}" + ("" if claim.holds else ", so check it")
    return text


def _would(claim: Claim, show: Notation) -> str:
    tool = "tape" if claim.what in ("diagonals", "pins") else "shoot"
    if claim.repeats is None:
        if claim.instrument_m <= 0.0:
            return "no instrument would: the benchmark itself is not known well enough"
        good = fine(show, claim.instrument_m)
        better = "a better tape" if tool == "tape" else "a laser"
        return f"not even {MOST_REPEATS} readings would: borrow {better} good to {good} (1 sd)"
    if claim.between is not None:
        return "tape it once" if claim.repeats == 1 else f"tape it {claim.repeats} times"
    return f"{tool} each {count_words(claim.repeats, 'time')} and take the mean, or borrow better"
