"""Plain facts of a position that no climate makes good: sun, fire, jets of air, cooking, damp walls, weak fixings.

Judged only where the exposure has facts of its position. A fact that is not known is unknown, never clear.
"""

from __future__ import annotations

import pandas as pd

from envwatch.climate.exposure import PAINT_FACE, Exposure
from envwatch.core.findings import Finding, Level
from envwatch.core.painting import Painting
from envwatch.figures import Confidence
from envwatch.figures import hanging as fig

HAZARD = "position"
WHY = {
    "direct sun": "Sun falls on it: a dark passage grows 40 to 50 °C hotter than the room within minutes, which no "
    "logger in the room sees.",
    "fire or stove in use": "A fire or stove is used beneath or beside it: fire rules allow a surface there to rise "
    f"by {fig.STOVE_RISE_K:.0f} °C, over the heat at which linings are made.",
    "flue behind": "The flue of a used fire runs behind it: the wall grows warm, even in the room above.",
    "radiator close below": "A hot radiator stands less than a metre below it: its warm air passes over the picture "
    "in every hour of heating.",
    "warm or cold air blows on it": "Air from a vent, fan or air conditioner blows on it: heat, dust and quick drying.",
    "cooking room": "It would hang where food is cooked: grease, steam and bursts of damp.",
    "bathing room": "It would hang where people bathe: steam that condenses on it and behind it.",
    "damp wall": "The wall is damp: nothing reckoned from the room holds there.",
    "fresh plaster": "Plaster, screed or paint is less than a year old: it gives off water for months.",
    "unsafe fixing": "The wall cannot hold two fixings at four times the weight.",
}
ASK = {
    "direct sun": "whether the sun ever falls there, in any month, if only for minutes",
    "fire or stove in use": "whether there is a fireplace or stove beneath or beside it, and whether it is used",
    "flue behind": "whether a flue runs in the wall",
    "radiator close below": "whether there is a radiator below it",
    "warm or cold air blows on it": "whether a vent, fan or air conditioner blows on it",
    "cooking room": "whether the room is cooked in",
    "bathing room": "whether the room is bathed in",
    "damp wall": "whether the wall has stains, salts, mould or a smell",
    "fresh plaster": "whether anything was plastered or painted in the last year",
    "unsafe fixing": "what the wall is made of, and whether it holds two fixings",
}
CLEARS = {
    "direct sun": "A place the sun never reaches; a blind that is always drawn is a promise, not a fact.",
    "damp wall": "The wall dried, its cause mended, and four weeks logged at its surface at or under 65 % RH.",
    "fresh plaster": "Four weeks logged at the wall's surface at or under 65 % RH.",
}


def assess(exposure: Exposure, painting: Painting | None, start: pd.Timestamp | None = None) -> list[Finding]:
    """One finding for each fact that holds or is not known; one clear finding where all are known and none holds."""
    if exposure.position is None:
        return []
    facts = exposure.position.facts
    found = [_holds(name) for name, held in facts if held] + [_unknown(name) for name, held in facts if held is None]
    return found or [
        Finding(HAZARD, "never here", "whole painting", PAINT_FACE, Level.CLEAR, "No sun, fire, vent or damp there.")
    ]


def _holds(name: str) -> Finding:
    return Finding(
        HAZARD, name, "whole painting", PAINT_FACE, Level.URGENT, WHY[name],
        confidence=Confidence.OUR_JUDGEMENT, do="Hang it elsewhere.", clears=CLEARS.get(name, "Another position."),
    )  # fmt: skip


def _unknown(name: str) -> Finding:
    return Finding(
        HAZARD,
        name,
        "whole painting",
        PAINT_FACE,
        Level.UNKNOWN,
        f"Not known {ASK[name]}.",
        do="Ask before hanging it.",
    )


__all__ = ["ASK", "WHY", "assess"]
