"""Light: the dose of a year on an oil painting. Judged only where the exposure has facts of its position.

For a relined painting heat and sun come first, then varnish, then pigments; the lining is on the dark side.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from envwatch.climate.exposure import PAINT_FACE, Exposure
from envwatch.core.findings import Certainty, Finding, Hazard, Level, Mechanism
from envwatch.core.painting import Painting
from envwatch.figures import hanging as fig
from envwatch.hazards.grading import grade

HAZARD, MECHANISM, LAYER = Hazard.LIGHT, Mechanism.DOSE, "paint and varnish"


def assess(exposure: Exposure, painting: Painting | None, start: pd.Timestamp | None = None) -> list[Finding]:
    """The dose of light of a year against what oil paintings are given; nothing where no position is described.

    A dose that is not known is unknown, never clear. A reckoned dose is good to a factor of two either way: the level
    is taken at the dose, and whether it can be told from the limit is said.
    """
    if exposure.position is None:
        return []
    dose, times = exposure.position.light_lux_h_year, exposure.position.light_times
    level = grade(dose, fig.DOSE_LOW, fig.DOSE_ACT_TIMES * fig.DOSE_LOW)
    limit = float(fig.DOSE_LOW * (fig.DOSE_ACT_TIMES if level >= Level.ACT else 1))
    return [
        Finding(
            HAZARD, MECHANISM, LAYER, PAINT_FACE, level, _sentence(dose, level),
            value=dose / 1000, uncertainty=dose * (times - 1) / 1000, limit=limit / 1000, unit="klx h a year",
            certainty=_certainty(dose, times), confidence=fig.DOSE_LOW.confidence, source=fig.DOSE_LOW.source,
            look_for="Yellowing or bloom of the varnish, faded reds and yellows along the edge under the frame."
            if level >= Level.WATCH else "",
            do=_do(dose) if level >= Level.WATCH else "Measure with a light meter, a bright and a dull day."
            if level is Level.UNKNOWN else "",
            clears="A year's dose under 600,000 lx h: 200 lx for 3000 h.",
            coverage=0.0 if np.isnan(dose) else 1.0,
            working=(
                ("dose", f"{dose:,.0f} lx h in a year, good to a factor of {times:g} either way"),
                ("limit", f"{fig.DOSE_LOW:,.0f} lx h for oil and tempera; a cautious one for oils is "
                          f"{fig.DOSE_CAUTIOUS:,.0f}: publications disagree"),
                ("basis", exposure.position.basis or "not said"),
            ),
        )
    ]  # fmt: skip


def _sentence(dose: float, level: Level) -> str:
    if level is Level.UNKNOWN:
        return "How much light falls on it in a year is not known."
    share = dose / fig.DOSE_LOW
    if level is Level.CLEAR:
        return f"About {share:.0%} of the light that an oil painting is given in a year."
    return f"About {share:.1f} times the light that an oil painting is given in a year (600,000 lx h)."


def _do(dose: float) -> str:
    share = f"{fig.DOSE_LOW / dose:.0%}"
    return f"Let no more than {share} of this light fall on it: a blind, farther from the window, a lamp less."


def _certainty(dose: float, times: float) -> Certainty:
    limits = (fig.DOSE_LOW, fig.DOSE_ACT_TIMES * fig.DOSE_LOW)
    near = np.isnan(dose) or any(dose / times <= limit <= dose * times for limit in limits)
    return Certainty.CANNOT_TELL if near else Certainty.CERTAIN
