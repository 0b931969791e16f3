"""What is said about mould: what to look for and do, by when, and the health caution."""

from __future__ import annotations

from typing import Any

import pandas as pd

from envwatch.climate.drying_back import RULE
from envwatch.core.findings import Level
from envwatch.figures.canvas import LOOK_WITHIN_DAYS

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


def raised(level: Level, end: pd.Timestamp, clears: str) -> dict[str, Any]:
    """The fields of a mould finding that asks for something; nothing for one that does not."""
    if level < Level.WATCH:
        return {}
    by = end + pd.Timedelta(days=float(LOOK_WITHIN_DAYS[int(level)]))
    return {
        "look_for": LOOK_FOR, "do": ADVICE[level], "avoid": AVOID, "by": by, "clears": clears, "caution": CAUTION,
    }  # fmt: skip
