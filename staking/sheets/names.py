"""The names of things as the sheets print them."""

from __future__ import annotations

from staking.book.records import Site
from staking.book.site_north import axes_north_rad
from staking.plan import Plan


def job_name(site: Site) -> str:
    """Return the job's name; never nothing."""
    return site.name or "Job without a name"


def date_text(site: Site) -> str:
    """Return the job's date; the day of printing would make two prints of one job differ."""
    return "not dated" if site.date is None else site.date.isoformat()


def north_name(plan: Plan) -> str:
    """Return which north the axes are laid to."""
    return "Grid north" if plan.book.on_grid else "True north"


def axes_north(plan: Plan) -> float | None:
    """Return the azimuth of the axes' north from true north, radians; None where nothing tells it."""
    try:
        return axes_north_rad(plan.book)
    except ValueError:
        return None
