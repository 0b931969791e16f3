"""A position: its light in a year, and plain facts that no climate makes good, such as sun, fire or a damp wall.

What is not known of it is unknown, never clear. For a relined
painting heat and sun come first, then varnish, then pigments; the lining is on the dark side.
"""

from __future__ import annotations

import numpy as np

from envwatch.climate.exposure import PAINT_FACE, Position
from envwatch.core.findings import Certainty, Finding, Hazard, Level, Mechanism
from envwatch.core.place import Fact
from envwatch.figures import Confidence
from envwatch.figures import hanging as fig
from envwatch.hazards.grading import grade

WHOLE = "whole painting"
HAZARDS = (Hazard.LIGHT, Hazard.POSITION)
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


def assess(position: Position) -> list[Finding]:
    """The dose of light, and a finding for each fact that holds or is not known; a clear one where none is either."""
    facts = position.facts
    found = [_holds(name) for name, held in facts if held] + [_unknown(name) for name, held in facts if held is None]
    if not found:
        said = "No sun, fire, vent or damp there."
        found = [Finding(Hazard.POSITION, Mechanism.NEVER_HERE, WHOLE, PAINT_FACE, Level.CLEAR, said)]
    return [_light(position), *found]


def _light(position: Position) -> Finding:
    """The dose of light of a year against what oil paintings are given.

    A dose that is not known is unknown, never clear. A reckoned dose is good to a factor of two either way: the level
    is taken at the dose, and whether it can be told from the limit is said.
    """
    dose, times = position.light_lux_h_year, position.light_times
    level = grade(dose, fig.DOSE_LOW, fig.DOSE_ACT_TIMES * fig.DOSE_LOW)
    limits = (float(fig.DOSE_LOW), float(fig.DOSE_ACT_TIMES * fig.DOSE_LOW))
    near = np.isnan(dose) or any(dose / times <= limit <= dose * times for limit in limits)
    look_for = do = ""
    if level is Level.UNKNOWN:
        do = "Measure with a light meter, a bright and a dull day."
    elif level >= Level.WATCH:
        look_for = "Yellowing or bloom of the varnish, faded reds and yellows along the edge under the frame."
        share = f"{fig.DOSE_LOW / dose:.0%}"
        do = f"Let no more than {share} of this light fall on it: a blind, farther from the window, a lamp less."
    return Finding(
        Hazard.LIGHT, Mechanism.DOSE, "paint and varnish", PAINT_FACE, level, _sentence(dose, level),
        value=dose / 1000, uncertainty=dose * (times - 1) / 1000, limit=limits[level >= Level.ACT] / 1000,
        unit="klx h a year", certainty=Certainty.CANNOT_TELL if near else Certainty.CERTAIN,
        confidence=fig.DOSE_LOW.confidence, source=fig.DOSE_LOW.source, look_for=look_for, do=do,
        clears="A year's dose under 600,000 lx h: 200 lx for 3000 h.", coverage=0.0 if np.isnan(dose) else 1.0,
        working=(
            ("dose", f"{dose:,.0f} lx h in a year, good to a factor of {times:g} either way"),
            ("limit", f"{fig.DOSE_LOW:,.0f} lx h for oil and tempera; a cautious one for oils is "
                      f"{fig.DOSE_CAUTIOUS:,.0f}: publications disagree"),
            ("basis", position.basis or "not said"),
        ),
    )  # fmt: skip


def _sentence(dose: float, level: Level) -> str:
    if level is Level.UNKNOWN:
        return "How much light falls on it in a year is not known."
    share = dose / fig.DOSE_LOW
    if level is Level.CLEAR:
        return f"About {share:.0%} of the light that an oil painting is given in a year."
    return f"About {share:.1f} times the light that an oil painting is given in a year (600,000 lx h)."


def _holds(name: Fact) -> Finding:
    return Finding(
        Hazard.POSITION, name, WHOLE, PAINT_FACE, Level.URGENT, WHY[name],
        confidence=Confidence.OUR_JUDGEMENT, do="Hang it elsewhere.", clears=CLEARS.get(name, "Another position."),
    )  # fmt: skip


def _unknown(name: Fact) -> Finding:
    return Finding(
        Hazard.POSITION,
        name,
        WHOLE,
        PAINT_FACE,
        Level.UNKNOWN,
        f"Not known {ASK[name]}.",
        do="Ask before hanging it.",
    )


__all__ = ["ASK", "HAZARDS", "WHY", "assess"]
