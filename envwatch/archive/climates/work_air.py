"""The air in which something was done to a painting: the mean of that day where it stood, for the record."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from envwatch.archive.climates.exposure import exposures
from envwatch.core.dates import clean, day_end, instant
from envwatch.core.errors import EnvwatchError
from envwatch.core.painting import Painting

if TYPE_CHECKING:
    from envwatch.archive.store.source import ReadingSource

DAY_NEEDS = 0.25  # share of a day that must be read for its mean to be recorded
FIELDS = ("studio_temp_c", "studio_rh_percent")


@dataclass(frozen=True)
class WorkAir:
    """Mean air of a day of work, and where it was read; NaN where too little was. [°C], [% RH]"""

    temp_c: float
    rh_percent: float
    place: str

    @property
    def words(self) -> str:
        """For who records the treatment."""
        return (
            f"Air of that day recorded with it: {self.temp_c:.1f} °C, {self.rh_percent:.0f} % RH (mean read in "
            f"{self.place}); studio_temp_c= and studio_rh_percent= overrule it"
        )


def of_day(studio: ReadingSource, painting: Painting, on: str) -> WorkAir | None:
    """The air where a painting stood on a day of work, written as in the register; None where it was not read.

    A day on which it moved, or of which less than a quarter was read, has none: what is not known is not recorded.
    """
    try:
        begin = instant(clean(f"{on.strip()[:10]} 00:00"), studio.zone)
    except ValueError:
        return None  # a day that the treatment itself will refuse
    end = day_end(begin, studio.zone)
    try:
        ways = exposures(studio, painting, begin, end)
    except EnvwatchError:
        return None
    stints = {(stint.place_id, stint.place_name) for way in ways for stint in way.stints}
    if len(stints) != 1 or not next(iter(stints))[0]:
        return None
    room = ways[0].room
    read = np.isfinite(room.temp_c) & np.isfinite(room.rh_percent)
    hours = float(room.hours[read].sum())
    if hours < DAY_NEEDS * ((end - begin) / pd.Timedelta(hours=1)):
        return None
    weights = room.hours[read]
    temp, rh = (float(np.average(values[read], weights=weights)) for values in (room.temp_c, room.rh_percent))
    return WorkAir(round(temp, 1), round(rh, 1), next(iter(stints))[1])


def added(studio: ReadingSource, painting: Painting, on: str, trade: Mapping[str, Any]) -> tuple[dict[str, Any], str]:
    """The fields of a treatment with the day's air, unless the air was told; and what to say of it."""
    if any(trade.get(name) not in (None, "") for name in FIELDS):
        return dict(trade), ""
    found = of_day(studio, painting, on)
    if found is None:
        return dict(trade), ""
    return {**trade, "studio_temp_c": found.temp_c, "studio_rh_percent": found.rh_percent}, found.words
