"""Plain facts of a position that no climate makes good: sun, fire, jets of air, cooking, damp walls, weak fixings.

Judged only where the exposure has facts of its position. A fact that is not known is unknown, never clear.
"""

from __future__ import annotations

import pandas as pd

from envwatch.climate.exposure import PAINT_FACE, Exposure
from envwatch.core.findings import Finding, Hazard, Level, Mechanism
from envwatch.core.painting import Painting
from envwatch.core.place import Fact
from envwatch.figures import Confidence
from envwatch.figures import hanging as fig

HAZARD = Hazard.POSITION
WHY = {
    Fact.SUN: "Sun falls on it: a dark passage grows 40 to 50 °C hotter than the room within minutes, which no "
    "logger in the room sees.",
    Fact.FIRE: "A fire or stove is used beneath or beside it: fire rules allow a surface there to rise "
    f"by {fig.STOVE_RISE_K:.0f} °C, over the heat at which linings are made.",
    Fact.FLUE: "The flue of a used fire runs behind it: the wall grows warm, even in the room above.",
    Fact.RADIATOR: "A hot radiator stands less than a metre below it: its warm air passes over the picture "
    "in every hour of heating.",
    Fact.DRAUGHT: "Air from a vent, fan or air conditioner blows on it: heat, dust and quick drying.",
    Fact.COOKING: "It would hang where food is cooked: grease, steam and bursts of damp.",
    Fact.BATHING: "It would hang where people bathe: steam that condenses on it and behind it.",
    Fact.DAMP_WALL: "The wall is damp: nothing reckoned from the room holds there.",
    Fact.FRESH_PLASTER: "Plaster, screed or paint is less than a year old: it gives off water for months.",
    Fact.FIXING: "The wall cannot hold two fixings at four times the weight.",
}
ASK = {
    Fact.SUN: "whether the sun ever falls there, in any month, if only for minutes",
    Fact.FIRE: "whether there is a fireplace or stove beneath or beside it, and whether it is used",
    Fact.FLUE: "whether a flue runs in the wall",
    Fact.RADIATOR: "whether there is a radiator below it",
    Fact.DRAUGHT: "whether a vent, fan or air conditioner blows on it",
    Fact.COOKING: "whether the room is cooked in",
    Fact.BATHING: "whether the room is bathed in",
    Fact.DAMP_WALL: "whether the wall has stains, salts, mould or a smell",
    Fact.FRESH_PLASTER: "whether anything was plastered or painted in the last year",
    Fact.FIXING: "what the wall is made of, and whether it holds two fixings",
}
CLEARS = {
    Fact.SUN: "A place the sun never reaches; a blind that is always drawn is a promise, not a fact.",
    Fact.DAMP_WALL: "The wall dried, its cause mended, and four weeks logged at its surface at or under 65 % RH.",
    Fact.FRESH_PLASTER: "Four weeks logged at the wall's surface at or under 65 % RH.",
}


def assess(exposure: Exposure, painting: Painting | None, start: pd.Timestamp | None = None) -> list[Finding]:
    """One finding for each fact that holds or is not known; one clear finding where all are known and none holds."""
    if exposure.position is None:
        return []
    facts = exposure.position.facts
    found = [_holds(name) for name, held in facts if held] + [_unknown(name) for name, held in facts if held is None]
    return found or [
        Finding(
            HAZARD, Mechanism.NEVER_HERE, "whole painting", PAINT_FACE, Level.CLEAR, "No sun, fire, vent or damp there."
        )
    ]


def _holds(name: Fact) -> Finding:
    return Finding(
        HAZARD, name, "whole painting", PAINT_FACE, Level.URGENT, WHY[name],
        confidence=Confidence.OUR_JUDGEMENT, do="Hang it elsewhere.", clears=CLEARS.get(name, "Another position."),
    )  # fmt: skip


def _unknown(name: Fact) -> Finding:
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
