"""What the terminal says: what was found, what to worry about, where the files are."""

from __future__ import annotations

from pathlib import Path

from staking.base.quantities import mass_words
from staking.base.units import format_length, from_unit, in_unit, parse_length
from staking.control.adjustment import Adjustment, Misclosure
from staking.control.turned import turned
from staking.pipes.concrete import concrete_of
from staking.pipes.cutlist import CutList
from staking.place_asked import place_words
from staking.plan import ArrayPlan, Plan
from staking.sheets.buy_table import BOUGHT_BEFORE, joint_words
from staking.sheets.concrete_table import order_words as concrete_words
from staking.sheets.concrete_table import over_dig_words
from staking.sheets.control_table import FAILS, fails_tests
from staking.sheets.doubted import doubt_words, false_alarm_words, groups_of, reading_words
from staking.sheets.ground_words import ground_words, tie_words
from staking.sheets.notation import Notation, count_words, degrees, sentence, step_words
from staking.sheets.order_table import beams_alone, order_words
from staking.sheets.trouble import remedies, remedies_heading
from staking.sheets.unchecked import shared_words, unchecked_words
from staking.sheets.wrapped import LABEL, WIDTH, bullets, labelled

_WORST_LOOPS = 6
"""Loops listed one by one; the others are counted."""
_SUSPECTS = 5
"""Readings to doubt, or groups of them, told at length."""
_MOST_NAMED = 8


def survey_lines(plan: Plan) -> list[str]:
    """Return what ``staking check`` prints."""
    return [*_heading(plan), *_survey(plan), *_worries(plan)]


def plan_lines(plan: Plan) -> list[str]:
    """Return what ``staking plan`` prints, files apart."""
    lines = [*_heading(plan), *_survey(plan)]
    for array in plan.arrays:
        lines += ["", *_array(array, plan)]
    lines += _cutting(plan)
    lines += _digging(plan)
    return [*lines, *_worries(plan)]


def trouble_lines(plan: Plan) -> list[str]:
    """Return why no layout meets the limits, for standard error."""
    lines = ["No layout meets the limits of job.toml.", ""]
    lines += bullets(sentence(conflict.text) for conflict in plan.conflicts)
    if plan.would_do:
        lines += ["", f"{remedies_heading(plan)}:", *bullets(remedies(plan))]
    return lines


def written_lines(written: tuple[Path, ...]) -> list[str]:
    """Return where the files are, those for people first."""
    if not written:
        return []
    folder = written[0].parent
    names = sorted((path.name for path in written), key=lambda name: (not name.endswith(".pdf"), name))
    return ["", f"FILES in {folder}", *labelled("", ", ".join(names))]


def not_written_lines(refusal: str, lacking: tuple[tuple[str, str], ...]) -> list[str]:
    """Return what is not in the folder and why: no latitudes, or a library that is missing."""
    lines = labelled("no latitudes", refusal) if refusal else []
    for name, library in lacking:
        text = f"{name} needs the library {library}: pip install {library}"
        lines += labelled("not written", text)
    return lines


def _count(number: int, one: str, many: str | None = None) -> str:
    return f"{number} {one if number == 1 else many or one + 's'}"


def _heading(plan: Plan) -> list[str]:
    name = plan.book.job.site.name or "Survey"
    revision = plan.book.job.site.revision
    inputs = f"inputs {plan.book.fingerprint}" + (f", revision {revision}" if revision else "")
    lines = [name, "=" * len(name), inputs]
    if fails_tests(plan.adjustment):
        lines += ["", FAILS]
    return lines


def _notation(plan: Plan) -> Notation:
    return Notation(style=plan.book.job.site.show)


def _fine(value_m: float, plan: Plan) -> str:
    """Print a misclosure: one place finer than the sheets, for it is judged and not built."""
    show = plan.book.job.site.show
    if show == "metric":
        return f"{format_length(value_m, style='metric', places=1)} mm"
    if show == "decimal feet":
        return f"{format_length(value_m, style='decimal feet', places=3)} ft"
    return f"{in_unit(value_m, 'in'):z.2f} in"


def _survey(plan: Plan) -> list[str]:
    adjustment = plan.adjustment
    kinds = adjustment.points.kinds
    counted = [
        _count(kinds.count(kind), word, many)
        for kind, word, many in (
            ("ground", "ground shot", None),
            ("pin", "pin", None),
            ("benchmark", "benchmark", None),
            ("turning", "turning point", None),
        )
        if kinds.count(kind)
    ]
    lines = ["", "SURVEY", *labelled("points", ", ".join(counted) or "none")]
    where = place_words(plan.book)
    if where is not None:
        lines += labelled("place", where)
    direction = turned(plan.book, adjustment.points)
    if direction is not None:
        lines += labelled("direction", f"known {direction.words()}")
    if adjustment.level_sums is not None:
        sums = adjustment.level_sums
        bs, fs = _rod(sums.sum_bs_m, plan), _rod(sums.sum_fs_m, plan)
        text = (
            f"{_count(sums.setups, 'set-up')}; sum of BS {bs} less sum of FS {fs} is "
            f"{_difference(bs, fs, plan)}"
        )
        if sums.unclosed_setups:
            text += f"; {_count(sums.unclosed_setups, 'set-up')} without a foresight"
        lines += labelled("level book", text)
    for number, text in enumerate(adjustment.instruments):
        lines += labelled("instruments" if number == 0 else "", text)
    between = ground_words(plan, _notation(plan))
    if between is not None:
        lines += labelled("ground", between)
    tied = tie_words(plan, _notation(plan))
    if tied is not None and plan.book.ground_table is not None:
        lines += labelled("", f"{plan.book.ground_table.file}: {tied}")
    lines += _loops(adjustment.misclosures, plan)
    if adjustment.passes is None:
        lines += labelled(
            "whole survey", "nothing is read twice: there is nothing to test, and nothing has passed"
        )
    else:
        factor = adjustment.variance_factor
        verdict = (
            "passes: the readings agree as well as stated"
            if adjustment.passes
            else "FAILS: the readings disagree by more than stated"
        )
        spare = count_words(adjustment.redundancy, "reading")
        figures = f"variance factor {factor:.2f}, 1 is as expected; {spare} more than needed; tested at 1 %"
        lines += labelled("whole survey", f"{verdict} ({figures})")
        lines += labelled("", false_alarm_words())
    if adjustment.sighted_once:
        once = _count(adjustment.sighted_once, "shot")
        lines += labelled("sighted once", f"{once} that nothing checks: a mistake there does not show")
    others = unchecked_words(r for r in adjustment.readings if r.kind != "rod")
    if others:
        lines += labelled("unchecked too", f"{others}: nothing shows a mistake there either")
    shared = shared_words(plan.book)
    if shared and adjustment.passes:
        lines += labelled("nor is tested", f"what would be wrong alike in {shared}: nothing else measures it")
    return lines


def _rod(value_m: float, plan: Plan) -> str:
    """Print a sum of rod readings as the level book's unit shows it."""
    show = plan.book.job.site.show
    if show == "feet-inches":
        return format_length(value_m, style="feet-inches")
    if show == "decimal feet":
        return f"{format_length(value_m, style='decimal feet')} ft"
    return f"{format_length(value_m, style='metres')} m"


def _difference(first: str, second: str, plan: Plan) -> str:
    """Print the difference of two sums as printed, so that who takes one from the other gets it."""
    show = plan.book.job.site.show
    unit = "ft" if show == "feet-inches" else "m"
    value_m = parse_length(first, unit=unit) - parse_length(second, unit=unit)
    if show == "feet-inches" and abs(value_m) < from_unit(1.0, "ft"):
        return format_length(value_m, style="inches")
    return _rod(value_m, plan)


def _loops(misclosures: tuple[Misclosure, ...], plan: Plan) -> list[str]:
    if not misclosures:
        return labelled("loops", "none: the levels come back to no known point")
    worst = sorted(misclosures, key=lambda m: (m.passes, -abs(m.value_m) / m.allowed_m if m.allowed_m else 0))
    failing = sum(not m.passes for m in misclosures)
    verdict = f"{failing} off by more than allowed" if failing else "all within what is allowed"
    lines = labelled("loops", f"{_count(len(misclosures), 'loop')}, {verdict}")
    for loop in worst[:_WORST_LOOPS]:
        mark = "" if loop.passes else "  TOO MUCH"
        lines += labelled(
            "",
            f"{loop.loop}: off {_fine(loop.value_m, plan)}, allowed {_fine(loop.allowed_m, plan)}{mark}",
        )
    if len(worst) > _WORST_LOOPS:
        lines += labelled("", f"and {len(worst) - _WORST_LOOPS} better ones")
    return lines


def _array(array: ArrayPlan, plan: Plan) -> list[str]:
    fit, show = array.fit, _notation(plan)
    title = f"ARRAY {array.title}" if array.title else "ARRAY"
    tallest = int(fit.lengths.above_grade_m.argmax())
    shortest, names = int(fit.lengths.above_grade_m.argmin()), array.fit_in_full.piers.names
    sd_m = float(fit.lengths.sd_above_grade_m.max())
    slope = degrees(fit.plane.cross_slope_rad, 2)
    beams = (
        "level" if fit.plane.cross_slope_rad == 0 else f"sloping {slope} along the beam, rising to the right"
    )
    if fit.plane.cross_slope_rad < 0:
        beams = f"sloping {degrees(-fit.plane.cross_slope_rad, 2)} along the beam, falling to the right"
    lines = [
        title,
        *labelled("beams", beams),
        *labelled(
            "the plane is",
            f"tilted {degrees(fit.true_tilt_rad, 2)}, facing {degrees(fit.true_azimuth_rad, 2)} true; "
            f"a level on a rail reads {degrees(fit.rail_slope_rad, 2)}; "
            f"{_square(fit.skew_m, show)}",
        ),
        *labelled(
            "above grade",
            f"{show.words(float(fit.lengths.above_grade_m[shortest]))} at {names[shortest]} to "
            f"{show.words(float(fit.lengths.above_grade_m[tallest]))} at {names[tallest]}, "
            f"{show.total_words(float(v) for v in fit.lengths.above_grade_m)} in all; each known to "
            f"{_sd(sd_m, show)} or better (one standard deviation)",
        ),
        *labelled(
            "clearance",
            f"{show.words(fit.clearance_m)} at the least, from the ground to the modules' underside",
        ),
        *(labelled("step", _step(array, show)) if array.step_m is not None else []),
    ]
    lengths = [show.length(float(length_m)) for length_m in fit.lengths.above_grade_m]
    for letter in range(int(fit.piers.beam.max()) + 1):
        cells = [
            f"{name} {length}"
            for name, length, beam in zip(names, lengths, fit.piers.beam, strict=True)
            if beam == letter
        ]
        lines += _columns(f"beam {fit.beams[letter].letter}", cells)
    return lines


def _step(array: ArrayPlan, show: Notation) -> str:
    """Return how a section of a stepped array stands beside the one to its left."""
    step, gap = array.step_m or 0.0, array.gap_m or 0.0
    return (
        f"{step_words(step, show)} section {array.job.section - 1}, {show.words(gap)} from its modules to "
        "these"
    )


def _square(skew_m: float, show: Notation) -> str:
    if abs(skew_m) < show.step_m / 2.0:
        return "the rails are square to the beams"
    return f"in plan the rails are {show.small_words(abs(skew_m))} out of square to the beams"


def _sd(sd_m: float, show: Notation) -> str:
    return f"{show.sd(sd_m)} {show.unit}".strip()


def _columns(label: str, cells: list[str]) -> list[str]:
    """Lay cells out in columns of one width, none broken over two lines."""
    width = max(len(cell) for cell in cells) + 3
    across = max(1, (WIDTH - 2 - LABEL) // width)
    rows = [
        "".join(f"{cell:<{width}}" for cell in cells[i : i + across]) for i in range(0, len(cells), across)
    ]
    return [f"  {label if i == 0 else '':<{LABEL}}{row}".rstrip() for i, row in enumerate(rows)]


def _cutting(plan: Plan) -> list[str]:
    cuts = plan.cuts
    if cuts is None:
        return []
    if cuts.cost is not None:
        said = f"{_count(cuts.count, 'stick')} for {cuts.cost:.2f}"
        best = "no legal cutting costs less"
        bound = f"no legal cutting costs less than {cuts.cost_bound:.2f}"
    else:
        said = _count(cuts.count, "stick")
        best = "no legal cutting needs fewer" if cuts.again is None else "no legal cutting buys less pipe"
        bound = f"no legal cutting needs fewer than {cuts.bound}"
    verdict = f"proven best: {best}" if cuts.proven else f"NOT proven best, only that {bound}"
    if cuts.again is not None and not cuts.proven and not cuts.cost_bound:
        verdict = "NOT proven best: it is not ruled out that what is left does without buying"
    if cuts.again is not None and not cuts.sticks:
        said, verdict = "none", "every piece is sawn"
    stored = f" ({cuts.on_hand} of them on hand)" if cuts.on_hand else ""
    record = plan.record()
    assert record is not None
    again = ""
    if cuts.again is not None:
        again = (
            f"from what is left: {_count(len(cuts.again.sawn), 'piece')} sawn already, "
            f"{_count(len(cuts.again.changed), 'line')} changed, {_count(cuts.again.to_buy, 'stick')} to buy"
        )
    pieces = [piece.length_m for stick in cuts.sticks for piece in stick.pieces]
    weight = ""
    if record.pieces_kg is not None:
        weight = f", {mass_words(record.pieces_kg, feet=plan.book.job.site.show != 'metric')} as cut"
    show = _notation(plan)
    return [
        "",
        "PIPE",
        *labelled("sticks", f"{said}{stored}, {verdict}"),
        *(labelled("cut again", again) if again else []),
        *labelled(
            "pipe",
            f"{show.total_words(stick.stock_m for stick in cuts.sticks)} in sticks, "
            f"{show.total_words(pieces)} in {_count(len(pieces), 'piece')}{weight}; "
            f"{joint_words(plan.book.job, cuts.joints)}{_apart(cuts)}",
        ),
        *(line for k, text in enumerate(_order(plan, cuts)) for line in labelled("" if k else "order", text)),
        *labelled(
            "rails",
            f"{_count(record.rails, 'rail')}, {show.total_words(_rails(plan))} in all, under "
            f"{_count(record.modules, 'module')}",
        ),
    ]


def _order(plan: Plan, cuts: CutList) -> list[str]:
    if not plan.order:
        return []
    told = [order_words(one, _notation(plan)) for one in plan.order]
    return told + beams_alone(plan.order, [stick.pipe for stick in cuts.sticks])


def _apart(cuts: CutList) -> str:
    """Return that the joints are not in the cost, where there are both."""
    if cuts.again is not None and cuts.joints:
        return f" in all, {BOUGHT_BEFORE}"
    return "" if not cuts.cost or not cuts.joints else f", to be paid on top of the {cuts.cost:.2f}"


def _rails(plan: Plan) -> list[float]:
    return [array.fit.rail_length_m for array in plan.arrays for _ in range(array.fit.rails)]


def _digging(plan: Plan) -> list[str]:
    holes = [hole for array in plan.arrays for hole in array.holes]
    footing, show = plan.book.job.footing, _notation(plan)
    if footing is None or not holes:
        return []
    told = concrete_words(concrete_of(holes), footing, show)
    return [
        "",
        "HOLES",
        *labelled("concrete", f"{told} in {_count(len(holes), 'hole')}, {over_dig_words(footing)}"),
    ]


def _worries(plan: Plan) -> list[str]:
    doubted = _doubted(plan.adjustment)
    if not doubted and not plan.warnings:
        if plan.conflicts:
            return []  # That nothing fits is worry enough.
        unchecked = unchecked_words(plan.adjustment.readings)
        but = f"; {unchecked}: checked by nothing" if unchecked else ""
        return ["", f"No reading stands out as wrong{but}."]
    if plan.warnings:
        doubted += ["", "WORRY ABOUT", *bullets(sentence(text) for text in plan.warnings)]
    return doubted


def _doubted(adjustment: Adjustment) -> list[str]:
    """Return the likeliest repairs, and how many more there are."""
    groups = groups_of(adjustment.suspects)
    texts = [doubt_words(group) for group in groups[:_SUSPECTS]]
    if not texts:
        return []
    rest = [reading_words(one) for group in groups[_SUSPECTS:] for one in group]
    if rest:
        more = len(rest) - _MOST_NAMED
        counted = f" and {_count(more, 'more', 'more')}" if more > 0 else ""
        texts.append(f"also {', '.join(rest[:_MOST_NAMED])}{counted}; results.json tells of them all")
    heading = "READINGS TO DOUBT: nothing was changed; look at the book, and mend the file"
    return ["", heading, *bullets(sentence(text) for text in texts)]
