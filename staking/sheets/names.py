"""The names of things as the sheets print them."""

from __future__ import annotations

from staking.book.records import Site
from staking.plan import Plan


def job_name(site: Site) -> str:
    """Return the job's name; never nothing."""
    return site.name or "Job without a name"


def date_text(site: Site) -> str:
    """Return the job's date; the day of printing would make two prints of one job differ."""
    return "not dated" if site.date is None else site.date.isoformat()


def on_grid(plan: Plan) -> bool:
    """Return whether the axes are a map grid's: control points are given and a grid is named."""
    return bool(plan.book.control_points) and plan.book.job.site.grid is not None


def north_name(plan: Plan) -> str:
    """Return which north the axes are laid to."""
    return "Grid north" if on_grid(plan) else "True north"
