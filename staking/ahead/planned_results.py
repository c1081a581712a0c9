"""``results.json`` before the readings are taken: what they will prove, null what only they could say."""

from __future__ import annotations

from typing import Any

from staking.ahead.planned_piers import Foreseen
from staking.plan import Plan
from staking.results import results, text_of


def planned_results(seen: Foreseen) -> dict[str, Any]:
    """Return the contents of ``results.json`` of a planned survey.

    Places are those of the sketch and of what is read; what only readings could say is null or empty: tests,
    misclosures, residuals, suspects, the ground.
    """
    adjustment = seen.planned.survey.adjustment
    found = results(
        Plan(
            book=seen.planned.book,
            adjustment=adjustment,
            ground=None,
            arrays=(),
            cuts=None,
            worked=seen.planned.survey,
            warnings=(*seen.planned.book.warnings, *adjustment.warnings),
        )
    )
    found["survey"] |= {
        "variance_factor": None,
        "passes": None,
        "misclosures": [],
        "suspects": [],
        "readings": [{**one, "residual": None, "w": None} for one in found["survey"]["readings"]],
    }
    found["planned"] = {
        "readings": seen.planned.planned,
        "piers": [
            {"pier": pier, "sd_ground": round(float(sd_m), 7)}
            for pier, sd_m in zip(seen.piers, seen.sd_ground_m, strict=True)
        ],
    }
    return found


def planned_results_text(seen: Foreseen) -> str:
    """Return the text of ``results.json`` of a planned survey."""
    return text_of(planned_results(seen))
