"""What lies between the shots, in a sentence: which surface, and how well each predicts left-out shots."""

from __future__ import annotations

from staking.ground.choosing import Choice
from staking.plan import Plan
from staking.sheets.notation import Notation

_NAMES = {"statistical": "statistical surface", "triangulated": "triangles between the shots"}


def ground_words(plan: Plan, notation: Notation) -> str | None:
    """Return the sentence; None without ground or without a choice."""
    if plan.ground is None or plan.ground.choice is None:
        return None
    choice = plan.ground.choice
    used = _NAMES[choice.used]
    why = ", as job.toml asks" if choice.asked else ""
    own, other = _figures(choice)
    if own is None or other is None:
        return f"{used}{why}; too few shots to leave any out and see how well it predicts them"
    other_name = _NAMES["triangulated" if choice.used == "statistical" else "statistical"]
    left = f"{choice.shots} shots" if choice.shots > 1 else "the one shot"
    return (
        f"{used}{why}; predicts {left} that others surround, left out in turn, to "
        f"{notation.fine_words(own)} rms; the {other_name} to {notation.fine_words(other)}"
    )


def _figures(choice: Choice) -> tuple[float | None, float | None]:
    """Return the error at left-out shots of the surface that is used, and of the other."""
    both = (choice.rms_statistical_m, choice.rms_triangulated_m)
    return both if choice.used == "statistical" else both[::-1]
