"""What humidity and cold see of a painting: its canvas, its lining and its paint."""

from __future__ import annotations

import re
from dataclasses import dataclass

import pandas as pd

from envwatch import climate
from envwatch.core.painting import Painting, Role, Work
from envwatch.figures import canvas as fig
from envwatch.hazards.canvas import strain


@dataclass(frozen=True)
class Canvas:
    """Two paintings that are alike in this are judged alike in the same air.

    Attributes
    ----------
    tau_h : time constant of the build-up as it is now. [h]
    lined_on : day of the last lining in UTC; None where there is none, or no date.
    lined_at_percent : humidity of the room as entered with that lining; None where it was not. [% RH]
    lining_factors : what the lining does to the strain of the size and the shrinkage of the canvas.
    acrylic, assumed : whether the paint is taken as acrylic, and whether that is a guess.
    """

    tau_h: float
    lined_on: pd.Timestamp | None
    lining_factors: tuple[float, float]
    acrylic: bool
    assumed: bool
    lined_at_percent: float | None = None


def canvas_of(painting: Painting | None) -> Canvas:
    """The canvas of a painting; None is an unlined one in oil."""
    return Canvas(
        climate.response_time_h(painting), lined_on(painting), strain.lining_factors(painting),
        *is_acrylic(painting), _lined_at_percent(painting),
    )  # fmt: skip


def _lined_at_percent(painting: Painting | None) -> float | None:
    if painting is None or painting.lined_on is None:
        return None
    entered = (t.studio_rh_percent for t in painting.treatments if t.kind == Work.LINING and t.on == painting.lined_on)
    return next((rh for rh in entered if rh is not None), None)


def lined_on(painting: Painting | None) -> pd.Timestamp | None:
    """Day of the last lining in UTC, or None."""
    day_lined = painting.lined_on if painting else None
    if day_lined is None:
        return None
    return day_lined.tz_localize("UTC") if day_lined.tz is None else day_lined.tz_convert("UTC")


def is_acrylic(painting: Painting | None) -> tuple[bool, bool]:
    """Whether the paint is to be taken as acrylic, and whether that is assumed.

    Stated layers decide. Unknown paint is taken as acrylic where the picture was made late enough, as oil where
    it was made earlier or its date is not known.
    """
    paints = [layer for layer in painting.layers if layer.role in (Role.PAINT, Role.GROUND)] if painting else []
    if any("acrylic" in f"{layer.material} {layer.note}".lower() for layer in paints):
        return True, False
    if any(layer.role == Role.PAINT and layer.material not in ("", "unknown") for layer in paints):
        return False, False
    years = [int(year) for year in re.findall(r"\b(1[4-9]\d\d|20\d\d)\b", painting.made)] if painting else []
    return bool(years) and max(years) >= fig.ACRYLIC_SOLD_FROM, True
