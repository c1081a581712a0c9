"""A field book adjusted: every reading in one weighted least-squares adjustment."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from staking.base.covariance import some
from staking.base.errors import Mistake, WrongInput
from staking.book.records import FieldBook
from staking.control.adjustment import AdjustedReading, Adjustment, Points, where_words
from staking.control.advice import advised
from staking.control.bent import arc_words, bent_points, bent_words
from staking.control.causes import ANY_AMOUNT
from staking.control.circuits import misclosures
from staking.control.collimation import (
    disagreements,
    proven,
    rise_places,
    said,
    sight_remarks,
    solved,
    tested,
    with_collimation,
)
from staking.control.datum import Datum, datum_of
from staking.control.directions import Norths
from staking.control.equations import ANGULAR, Kind
from staking.control.fixing import Tied, earth_tie, tied
from staking.control.grid_scale import GridScale, grid_scales
from staking.control.kinds import PointSort, key_of, sorts
from staking.control.network import NOTHING_CHECKS, Network, NetworkResult, adjusted_network, standardised
from staking.control.observing import Observed, add_known_extras, level_sums, numbered, observed_book
from staking.control.pegs import PegTest, peg_remarks, peg_tests
from staking.control.placing import Sides
from staking.control.reading_steps import rounded, rounded_fixes
from staking.control.reliability import carried_sds, detectable
from staking.control.repeats import scatter_words, scatters
from staking.control.settling import NotSettled
from staking.control.side_words import side_words
from staking.control.softened import KEYS, softened, sourced
from staking.control.sun_readings import add_sun_readings
from staking.control.suspects import DISAGREE, Suspicion, suspected, suspicious
from staking.control.variance_test import variance_passes
from staking.control.wrong_signs import SignFits, other_places, with_signs

Floats = NDArray[np.float64]

UNSETTLED = 1e-4
"""What a step may still move, in metres, before it is told: the 0.1 mm that a yard asks for."""


SURE = 0.99
"""Chance of a given value from which on the survey is not asked again with it held."""
GIVEN_CONTRADICTED = (
    "what [control] and control.csv give and hold fixed is contradicted by the readings by more than these "
    "err, though by no more than a reading or a compass would: give such values an sd, and an azimuth by "
    "compass as a bearing"
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Worked:
    """An adjustment with the equations it came from, for whoever asks what more readings would do."""

    adjustment: Adjustment
    observed: Observed
    network: Network
    result: NetworkResult


def adjusted(book: FieldBook, *, pier_names: frozenset[str] = frozenset()) -> Adjustment:
    """Adjust a survey: see `worked`, of which this is the result alone."""
    return worked(book, pier_names=pier_names).adjustment


def worked(book: FieldBook, *, pier_names: frozenset[str] = frozenset()) -> Worked:
    """Adjust a survey: levels, rises, tapes, offsets, angles and bearings together.

    Parameters
    ----------
    book
        The readings with their accuracies, and the datum.
    pier_names
        Names of piers; a shot on a point of such a name gives its elevation only, for its place in plan is
        that of the stake.

    Raises
    ------
    WrongInput
        When the datum is missing, a pin or benchmark cannot be placed, or a reading makes no sense; with
        every reason at once.
    """
    return _adjusted(book, pier_names, frozenset(), book)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Fitted:
    """A book's equations and their solution, before anything is said of it."""

    norths: Norths
    observed: Observed
    pegs: dict[str, PegTest]
    rises: dict[str, int]
    on_earth: Tied | None
    datum: Datum
    sort_of: dict[str, PointSort]
    network: Network
    result: NetworkResult


def _fitted(
    book: FieldBook, pier_names: frozenset[str], rising: frozenset[str], as_given: FieldBook
) -> _Fitted:
    """Solve a book's equations, with the line of sight of some levels free.

    Sides are named from the line of the book as it was given, whatever of it is held here.
    """
    norths = Norths(book=book)
    observed = observed_book(book, norths)
    add_sun_readings(book, observed, norths)
    pegs, peg_mistakes = peg_tests(book.pegs, book.job.accuracy)
    observed.mistakes += peg_mistakes
    rises = with_collimation(observed, pegs, book.job.accuracy.collimation, rising)
    _refuse_taped_piers(book, pier_names, observed)
    on_earth = tied(book, observed)
    datum = datum_of(book, observed, norths)
    sourced(observed)
    mistakes = [*observed.mistakes, *norths.mistakes]
    if mistakes:
        raise WrongInput(mistakes)
    sort_of = sorts(book, {key: observed.names[p] for key, p in observed.numbers.items()})
    network = network_of(book, observed, datum, sort_of, sided_by=as_given)
    try:
        result = adjusted_network(network)
    except NotSettled as error:
        raise WrongInput(
            [
                Mistake(
                    file="job.toml",
                    column="control",
                    problem=str(error),
                    remedy="Look for a point name used for two points, and for a tape or angle far off.",
                )
            ]
        ) from error
    return _Fitted(
        norths=norths,
        observed=observed,
        pegs=pegs,
        rises=rises,
        on_earth=on_earth,
        datum=datum,
        sort_of=sort_of,
        network=network,
        result=result,
    )


def _adjusted(
    book: FieldBook,
    pier_names: frozenset[str],
    rising: frozenset[str],
    as_given: FieldBook,
    *,
    scale_said: str | None = None,
) -> Worked:
    """Adjust with the line of sight of some levels free; once more when the readings prove it of others.

    `scale_said` is what is to be told where the control points were brought to ground scale already.
    """
    fitted = _fitted(book, pier_names, rising, as_given)
    observed, network, result = fitted.observed, fitted.network, fitted.result
    pegs, rises, datum, sort_of = fitted.pegs, fitted.rises, fitted.datum, fitted.sort_of
    on_earth = fitted.on_earth
    if scale_said is None and on_earth is not None:
        scales = tuple(grid_scales(book, on_earth.grid, on_earth.frame))
        if scales and book is as_given and variance_passes(result.vtpv, result.redundancy) is False:
            at_ground = _at_ground(book, pier_names, rising, fitted, scales)
            if at_ground is not None:
                return at_ground
        scale_said = scales[0].warning() if scales else None
    told = tested(observed, network, result, rises)
    more = proven(network, result, told)
    if more:
        return _adjusted(book, pier_names, rising | more, as_given, scale_said=scale_said)
    piers = {key_of(name) for name in pier_names}
    advice = advised(
        book=book, observed=observed, network=network, result=result, sort_of=sort_of, piers=piers
    )
    if advice.mistakes:
        raise WrongInput(list(advice.mistakes))
    readings = adjusted_readings(observed, network, result)
    lonely = [
        k
        for k, r in zip(result.used, result.redundancy_numbers, strict=True)
        if r < NOTHING_CHECKS and network.equations[k].kind is Kind.ROD
    ]
    once = dict.fromkeys(observed.names[network.equations[k].at[1]] for k in lonely)
    scaled_words = [] if scale_said is None else [scale_said]
    warnings = [*scaled_words, *observed.warnings, *datum.warnings, *advice.warnings]
    if result.last_step > UNSETTLED:
        warnings.append(
            "the readings contradict each other so much that the adjustment does not settle: its places are "
            "of no use before the suspects are looked at"
        )
    warnings += side_words(observed, network, result)
    loose, on_arc = bent_points(network, result)
    warnings += bent_words([observed.names[p] for p in loose])
    warnings += arc_words([observed.names[p] for p in on_arc])
    levels = solved(observed, result, rises, pegs, rising)
    at = rise_places(observed, rises)
    loops = misclosures(
        observed.names,
        network,
        frozenset(result.used),
        {at[one.instrument]: (one.rise, one.sd**2) for one in levels},
        {k: where_words(s.table, s.row) for k, s in enumerate(observed.sources) if s is not None},
    )
    show = book.job.site.show
    level_lines, level_warnings = said([*levels, *told], show)
    sight_lines, sight_warnings = sight_remarks(observed, book.job.accuracy.rod_per_m, rises, show)
    spread = [scatter_words(one, show) for one in scatters(observed.equations)]
    steps = tuple(rounded(book))
    spread += [one.words(show) for one in steps if not one.more_than_taken]
    warnings += [
        *disagreements(observed, levels, rises),
        *level_warnings,
        *sight_warnings,
        *peg_remarks(pegs),
        *(one.words(show) for one in steps if one.more_than_taken),
        *([fixes_said] if (fixes_said := rounded_fixes(book)) is not None else []),
    ]
    suspicion = Suspicion()
    if suspicious(result, result.sd, loops):
        suspicion = _asked_of_the_given(
            book, pier_names, rising, lambda: suspected(observed, network, result, loops, fitted.norths)
        )
        if book is as_given:
            suspicion = _asked_of_the_place(book, pier_names, rising, suspicion)
    warnings += suspicion.warnings
    adjustment = Adjustment(
        points=_points(observed, result, sort_of),
        readings=readings,
        redundancy=result.redundancy,
        variance_factor=result.vtpv / result.redundancy if result.redundancy > 0 else None,
        passes=variance_passes(result.vtpv, result.redundancy),
        level_sums=level_sums(book, observed),
        misclosures=loops,
        sighted_once=len(lonely),
        sighted_once_points=tuple(once),
        suspects=suspicion.suspects,
        warnings=tuple(warnings),
        levels=tuple(levels + told),
        instruments=(*book.job.instrument_lines, *level_lines, *sight_lines, *spread),
        earth=None
        if on_earth is None
        else earth_tie(book, on_earth, observed, result, _kept(observed, result)),
    )
    return Worked(adjustment=adjustment, observed=observed, network=network, result=result)


def _at_ground(
    book: FieldBook,
    pier_names: frozenset[str],
    rising: frozenset[str],
    as_typed: _Fitted,
    scales: Sequence[GridScale],
) -> Worked | None:
    """Return the survey with its control points at ground scale, where it fits only so."""
    for scale in scales:
        scaled = scale.at_ground(book)
        result = _fitted(scaled, pier_names, rising, scaled).result
        if not variance_passes(result.vtpv, result.redundancy):
            continue
        was, now = (one.vtpv / one.redundancy for one in (as_typed.result, result))
        return _adjusted(
            scaled, pier_names, rising, scaled, scale_said=scale.taken_words(book, was=was, now=now)
        )
    return None


def _asked_of_the_given(
    book: FieldBook, pier_names: frozenset[str], rising: frozenset[str], held: Callable[[], Suspicion]
) -> Suspicion:
    """Return who is suspected once what is held beyond need may be wrong as well; `held`: if it is right."""
    loose = softened(book)
    if loose is None:
        return held()
    try:
        asked = _adjusted(loose, pier_names, rising, book).adjustment
    except WrongInput:
        return held()
    if asked.suspects and not _slip(asked) and not _sure(asked):
        suspicion = held()
        if _slip(suspicion):
            # One slip of a reading explains all: likelier than a given value off by any amount.
            return suspicion
    if asked.suspects or asked.passes is False:
        kept = tuple(text for text in asked.warnings if text.startswith(DISAGREE))
        return Suspicion(suspects=asked.suspects, warnings=kept)
    return Suspicion(warnings=(GIVEN_CONTRADICTED,))


def _asked_of_the_place(
    book: FieldBook, pier_names: frozenset[str], rising: frozenset[str], suspicion: Suspicion
) -> Suspicion:
    """Return who is suspected once a minus of latitude or longitude may be lost."""
    fits: list[SignFits] = []
    for other in other_places(book):
        try:
            result = _fitted(other.book, pier_names, rising, book).result
        except WrongInput:
            continue  # The sun is down there, or the compass of no use.
        if result.redundancy > 0 and variance_passes(result.vtpv, result.redundancy):
            fits.append(SignFits(keys=other.keys, vtpv=result.vtpv, redundancy=result.redundancy))
    return with_signs(suspicion, book.job.site, fits)


def _sure(asked: Adjustment) -> bool:
    """Whether one given coordinate by itself explains the survey, slips of readings being weighed against it.

    An azimuth does as well where all bearings were brought to the wrong north.
    """
    first = asked.suspects[0]
    alone = first.chance > SURE and "put right" not in first.why
    return bool(first.passes_after) and alone and KEYS["bearing"] != first.column


def _slip(found: Suspicion | Adjustment) -> bool:
    """Whether the likeliest suspect is one slip of a known kind that by itself explains the survey."""
    if not found.suspects:
        return False
    first = found.suspects[0]
    return bool(first.passes_after) and ANY_AMOUNT not in first.why and "put right" not in first.why


def network_of(
    book: FieldBook,
    observed: Observed,
    datum: Datum,
    sort_of: dict[str, PointSort],
    *,
    sided_by: FieldBook | None = None,
) -> Network:
    """Return the network of a field book; sides are named from the line of `sided_by`, else its own."""
    add_known_extras(observed)
    equations = numbered(observed)
    sign = {"left": -1, "right": 1}
    control = book.job.control
    return Network(
        points=len(observed.names),
        extras=len(observed.extras),
        equations=equations,
        start=datum.start,
        held=datum.held,
        directions=datum.directions,
        sides=Sides(
            line=_side_line(book if sided_by is None else sided_by, observed),
            by_point={
                observed.numbers[key]: sign[sort.side]
                for key, sort in sort_of.items()
                if sort.side is not None
            },
            default=None if control.side is None else sign[control.side],
            pins=frozenset(observed.numbers[key] for key, sort in sort_of.items() if sort.kind == "pin"),
        ),
    )


def _side_line(book: FieldBook, observed: Observed) -> tuple[int, int] | None:
    """Return the two points of the line that sides are named from.

    It is the azimuth's; without one, that from the first to the second point of ``control.csv`` whose place
    in plan is known; without those, the first bearing's or shadow's; else that from the first to the second
    point of ``fixes.csv``.
    """
    azimuth = book.job.control.azimuth
    if azimuth is not None:
        ends = [azimuth.start, azimuth.to]
    else:
        ends = [r.point for r in book.control_points if r.east_m is not None and r.north_m is not None][:2]
    sighted = [(b.start, b.to) for b in book.bearings]
    sighted += [(s.start, s.to) for s in book.shadows]
    sighted += [(s.start, s.to) for s in book.equal_shadows]
    if len(ends) < 2 and sighted:
        ends = list(sighted[0])
    if len(ends) < 2:
        ends = list({key_of(row.point): row.point for row in book.fixes}.values())[:2]
    if len(ends) < 2:
        return None
    return observed.numbers[key_of(ends[0])], observed.numbers[key_of(ends[1])]


def adjusted_readings(
    observed: Observed, network: Network, result: NetworkResult
) -> tuple[AdjustedReading, ...]:
    """Return the readings that took part, in the order of the book."""
    readings = []
    sd = np.array([network.equations[k].sd for k in result.used])
    told = zip(
        result.used,
        result.residuals,
        result.redundancy_numbers,
        standardised(result.residuals, sd, result.redundancy_numbers),
        detectable(sd, result.redundancy_numbers),
        carried_sds(result.redundancy_numbers),
        strict=True,
    )
    for k, residual, r, w, least, carried in told:
        source, equation = observed.sources[k], network.equations[k]
        if source is None:
            continue
        readings.append(
            AdjustedReading(
                table=source.table,
                row=source.row,
                column=source.column,
                kind=source.kind,
                angular=equation.kind in ANGULAR,
                what=source.what,
                read=source.read,
                value=equation.value,
                sd=equation.sd,
                residual=float(residual),
                redundancy_number=float(r),
                w=None if np.isnan(w) else float(w),
                detectable=None if np.isnan(least) else float(least),
                carried_sds=None if np.isnan(carried) else float(carried),
            )
        )
    return tuple(readings)


def _kept(observed: Observed, result: NetworkResult) -> list[int]:
    """Return the points of which anything is known."""
    enz = result.coordinates[: 3 * len(observed.names)].reshape(-1, 3)
    return [p for p in range(len(enz)) if not np.isnan(enz[p]).all()]


def _points(observed: Observed, result: NetworkResult, sort_of: dict[str, PointSort]) -> Points:
    """Return the points of which anything is known, in the order in which the book names them."""
    enz = result.coordinates[: 3 * len(observed.names)].reshape(-1, 3)
    kept = _kept(observed, result)
    rows = np.array([3 * p + k for p in kept for k in range(3)], dtype=np.int64)
    enz_kept = enz[kept].copy()
    enz_kept.setflags(write=False)
    key = {p: key for key, p in observed.numbers.items()}
    return Points(
        names=tuple(observed.names[p] for p in kept),
        kinds=tuple(sort_of[key[p]].kind for p in kept),
        shapes_ground=tuple(sort_of[key[p]].shapes_ground for p in kept),
        enz_m=enz_kept,
        cov_m2=some(result.cov, rows),
    )


def _refuse_taped_piers(book: FieldBook, pier_names: frozenset[str], observed: Observed) -> None:
    piers = {key_of(name) for name in pier_names}
    if not piers:
        return
    rows = (
        *((t, (t.start, t.to)) for t in book.tapes),
        *((o, (o.point, o.start, o.to)) for o in book.offsets),
        *((a, (a.at, a.start, a.to)) for a in book.angles),
        *((b, (b.start, b.to)) for b in book.bearings),
        *((f, (f.point,)) for f in book.fixes),
        *((s, (s.start, s.to)) for s in book.shadows),
        *((s, (s.start, s.to)) for s in book.equal_shadows),
    )
    for row, names in rows:
        for name in names:
            if key_of(name) in piers:
                observed.mistakes.append(
                    Mistake(
                        file=row.table,
                        row=row.row,
                        read=name,
                        problem="a pier's name stands here as if it were another point",
                        remedy="Give the point a name of its own; where stakes stand goes to staked.csv.",
                    )
                )
