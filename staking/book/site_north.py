"""Which way the site's north axis points: to true north, or to a map grid's where control stands on one."""

from __future__ import annotations

from dataclasses import replace
from statistics import fmean

from staking.base.errors import Mistake
from staking.book.records import ArrayJob, FieldBook
from staking.book.tomltree import FILE


def axes_north_rad(book: FieldBook) -> float:
    """Return the azimuth of the site's north axis from true north: nought, or the grid's convergence.

    It is reckoned at ``[site]`` latitude and longitude; without them at the middle of the control points.

    Raises
    ------
    ValueError
        When the grid is none, or neither tells a place on it.
    """
    site = book.job.site
    if not book.on_grid:
        return 0.0
    # pyproj takes a tenth of a second to load.
    from staking.north.convergence import grid_convergence_rad, place_on_grid

    assert site.grid is not None
    if site.latitude_rad is not None and site.longitude_rad is not None:
        return grid_convergence_rad(site.grid, site.latitude_rad, site.longitude_rad)
    both = [
        (row.east_m, row.north_m)
        for row in book.control_points
        if row.east_m is not None and row.north_m is not None
    ]
    if not both:
        message = f"which way north of {site.grid} points is not known without latitude and longitude"
        raise ValueError(message)
    lat_rad, lon_rad = place_on_grid(site.grid, fmean(e for e, _ in both), fmean(n for _, n in both))
    return grid_convergence_rad(site.grid, lat_rad, lon_rad)


def arrays_on_axes(book: FieldBook) -> tuple[FieldBook, tuple[Mistake, ...]]:
    """Return the book whose arrays know which way the site's axes are turned, and what hinders that."""
    if not book.job.arrays or not book.on_grid:
        return book, ()
    try:
        north_rad = axes_north_rad(book)
    except ValueError as error:
        remedy = "An array faces from true north: give site.latitude and site.longitude, or another grid"
        mistake = Mistake(
            file=FILE, column="site.grid", read=book.job.site.grid, problem=str(error), remedy=remedy
        )
        return book, (mistake,)
    arrays: tuple[ArrayJob, ...] = tuple(replace(one, axes_north_rad=north_rad) for one in book.job.arrays)
    return replace(book, job=replace(book.job, arrays=arrays)), ()
