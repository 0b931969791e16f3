"""What is said about mould: what to look for and do, the health caution, dates in words."""

from __future__ import annotations

from typing import Any

import pandas as pd

from envwatch.climate.drying_back import RULE
from envwatch.climate.exposure import WALL_FACE
from envwatch.core.findings import Level
from envwatch.figures.canvas import LOOK_WITHIN_DAYS
from envwatch.hazards.mould.susceptibility import Susceptibility
from envwatch.hazards.surfaces import Surface

CAUTION = (
    "Mould is an allergen and an irritant, dead spores too: people with asthma or allergies stay away; look with a "
    "mask (FFP2 or FFP3) and gloves; no fan, no dry brushing in the open, no bleach on a painting. Bag or box what "
    "shows growth once it is dry; over 0.3 m² or where it may be toxic, call a specialist. No medical advice."
)
LOOK_FOR = (
    "Torch in raking light, front and back: fuzzy or dusty spots, stars on dark passages; a musty smell; the reverse, "
    "behind the stretcher bars, cracks in the paint, the wall behind."
)
AVOID = "Do not key out, do not lift or brush what is loose or grows, no fan and no warm or cold air on it."
FETCH = "Fetch the logger, or hang one where the painting is."
ADVICE = {
    Level.WATCH: f"Bring the air under 65 %, {RULE}; look once, with the torch, at the reverse as well.",
    Level.ACT: f"Bring the air under 65 %, {RULE}, or move it to air only a step drier, away from outer walls; look "
    "this week.",
    Level.URGENT: "Look now, before anyone handles it; part it from the others, not wrapped damp, in air only a step "
    f"drier; from there under 65 %, {RULE}.",
}


def by(level: Level, end: pd.Timestamp) -> pd.Timestamp | None:
    """The day by which a level asks for something; None where it asks for nothing."""
    days = LOOK_WITHIN_DAYS.get(int(level))
    return None if days is None else end + pd.Timedelta(days=float(days))


def raised(level: Level, end: pd.Timestamp, clears: str) -> dict[str, Any]:
    """The fields of a mould finding that asks for something; nothing for one that does not."""
    if level < Level.WATCH:
        return {}
    return {
        "look_for": LOOK_FOR, "do": ADVICE[level], "avoid": AVOID, "by": by(level, end), "clears": clears,
        "caution": CAUTION,
    }  # fmt: skip


def partly_read(surface: Surface, what: str) -> str:
    """Why a finding of too little air is not clear."""
    return f"Only {surface.coverage:.0%} of the period was read {surface.where}: {what} cannot be called clear."


def layer_at(surface: Surface, weak: Susceptibility) -> str:
    """The layer that a finding at this surface is about."""
    return "wall behind the picture" if surface.point == WALL_FACE else weak.layer


def on_layer(surface: Surface, weak: Susceptibility) -> str:
    """Where mould is favoured, in a sentence that has named the surface already."""
    return "there" if surface.point == WALL_FACE else f"on the {weak.layer}"


def part_of_month(stamp: pd.Timestamp) -> str:
    """A forecast date, no sharper than it deserves.

    >>> part_of_month(pd.Timestamp("2027-03-14"))
    'about mid-March 2027'
    """
    third = "early " if stamp.day <= 10 else "mid-" if stamp.day <= 20 else "late "
    return f"about {third}{stamp:%B} {stamp.year}"
