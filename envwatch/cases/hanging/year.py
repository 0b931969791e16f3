"""The coming year at a described position, for whoever judges it under a lining that is not there yet."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from envwatch.archive import Studio
from envwatch.cases.hanging.advice import asked_of, tier_of
from envwatch.cases.hanging.judging import scenarios
from envwatch.cases.hanging.model import TIERS
from envwatch.cases.hanging.spot import HangingPosition
from envwatch.climate.exposure import Exposure
from envwatch.core.painting import Painting
from envwatch.figures import hanging as fig


@dataclass(frozen=True, eq=False)
class DescribedYear:
    """A year at a position, its blanks at their worst, damp and dry: the harsher counts."""

    name: str
    exposures: tuple[Exposure, ...]
    start: pd.Timestamp
    end: pd.Timestamp
    zone: str
    basis: str
    notes: tuple[str, ...]


def described_year(studio: Studio, painting: Painting, spot: HangingPosition, hang_on: pd.Timestamp) -> DescribedYear:
    """The coming year at a position as it is described, without the air that the painting comes from.

    Raises
    ------
    NotThere : a place or a logger that the register or the archive does not hold.
    """
    asked = asked_of(studio, painting, spot, hang_on.floor("h"), None)
    cases = dict.fromkeys(case for name, case in scenarios(asked).items() if name in ("damp", "dry"))
    start = asked.hang_on
    return DescribedYear(
        f"{asked.place[1] or 'the house'}, {spot.name}", tuple(asked.exposure(case) for case in cases), start,
        start + pd.Timedelta(days=float(fig.YEAR_D)), asked.logs.zone,
        f"reckoned for the year from {start.date()}, blanks at their worst; known by {TIERS[tier_of(asked)]}",
        asked.spot.notes,
    )  # fmt: skip
