"""Places found without what is given of some points, or with two of them under each other's names."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from staking.control.equations import Kind, Stack
from staking.control.network import Network, NetworkResult, adjusted_network
from staking.control.robust_places import gross_rows, reweighted
from staking.control.settling import NotSettled

Floats = NDArray[np.float64]

MOST_GIVEN = 10
"""Given points without which the points are placed anew."""
MOST_PAIRS = 15
"""Pairs of them that are tried under each other's names: together they outvote the others."""
FITS = 2.0
"""Variance factor up to which one exchange of names explains all."""


def without_given(network: Network, result: NetworkResult, stack: Stack) -> Iterator[Floats]:
    """Return places found without what is given in plan of one point, and from there with falling weights.

    A coordinate wrong by kilometres is where its point starts from, and all others are dragged to it.
    """
    known = ~np.isnan(result.coordinates)
    row_of = {number: row for row, number in enumerate(result.used)}
    for point, axes in list(_given(network, (0, 1)).items())[:MOST_GIVEN]:
        numbers = set(axes.values())
        start = network.start.copy()
        start[3 * point : 3 * point + 2] = np.nan
        without = [e for k, e in enumerate(network.equations) if k not in numbers]
        try:
            anew = adjusted_network(replace(network, equations=without, start=start))
        except NotSettled:
            continue
        if np.isnan(anew.coordinates[known]).any():
            continue
        coordinates = np.where(known, np.nan_to_num(anew.coordinates), 0.0)
        yield coordinates
        if gross_rows(stack, coordinates) - {row_of[k] for k in numbers if k in row_of}:
            yield reweighted(stack, result, coordinates)


def exchanged_given(network: Network, result: NetworkResult) -> Floats | None:
    """Return the places where two given points under each other's names explain all; None where none do."""
    known = ~np.isnan(result.coordinates)
    given = _given(network, (0, 1, 2))
    for one, other in list(combinations(given, 2))[:MOST_PAIRS]:
        if given[one].keys() != given[other].keys():
            continue
        equations, start = list(network.equations), network.start.copy()
        for axis, number in given[one].items():
            twin = given[other][axis]
            first, second = network.equations[number].value, network.equations[twin].value
            equations[number] = replace(equations[number], value=second)
            equations[twin] = replace(equations[twin], value=first)
            start[3 * one + axis], start[3 * other + axis] = second, first
        try:
            anew = adjusted_network(replace(network, equations=equations, start=start))
        except NotSettled:
            continue
        if anew.vtpv < FITS * anew.redundancy and not np.isnan(anew.coordinates[known]).any():
            return np.where(known, np.nan_to_num(anew.coordinates), 0.0)
    return None


def _given(network: Network, axes: tuple[int, ...]) -> Mapping[int, dict[int, int]]:
    """Return the equations of given coordinates, by point and axis."""
    found: dict[int, dict[int, int]] = {}
    for k, equation in enumerate(network.equations):
        if equation.kind is Kind.COORDINATE and equation.at[0] < 3 * network.points:
            point, axis = divmod(equation.at[0], 3)
            if axis in axes:
                found.setdefault(point, {})[axis] = k
    return found
