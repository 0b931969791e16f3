"""The grid on which a room is simulated: the log's own temperature and weather, its gaps bridged and marked."""

from __future__ import annotations

import numpy as np
import pandas as pd

from envwatch import climate as describing
from envwatch.cases.dehumidifier.identify import outdoors_hourly
from envwatch.cases.dehumidifier.inputs import DryingInputs
from envwatch.climate.outdoors import DATED, Outdoors, bridged, on_grid
from envwatch.climate.series import Climate
from envwatch.core.errors import BadInput
from envwatch.figures import dehumidifier as fig
from envwatch.physics.room import Forcing

YEAR = pd.Timedelta(days=365)


def span_of(indoor: Climate, outdoors: Outdoors, asked: DryingInputs) -> tuple[pd.Timestamp, pd.Timestamp]:
    """The span that is used: as asked, else the last year in which room and outdoors were both read.

    Raises
    ------
    BadInput : nothing was read in it, or room and outdoors never at the same time.
    """
    read = indoor.time[np.isfinite(indoor.rh_percent) & np.isfinite(indoor.temp_c)]
    if not len(read):
        raise BadInput("the room's loggers read nothing in this span: add its files, or name another span")
    first, last = read[0], read[-1]
    if outdoors.kind == DATED:
        out = outdoors.time[np.isfinite(outdoors.vapour_pa)]
        if not len(out):
            raise BadInput(f"outdoors ({outdoors.words}): no reading of temperature and moisture together")
        first, last = max(first, out[0]), min(last, out[-1])
    first, last = max(first, asked.first or first), min(last, asked.last or last)
    first, last = max(first, last - YEAR).ceil("h"), last.floor("h")
    if last - first < pd.Timedelta(days=float(fig.FIT_LEAST_DAYS)):
        raise BadInput(
            f"room and outdoors were read together from {first:%Y-%m-%d} to {last:%Y-%m-%d} only; at least "
            f"{fig.FIT_LEAST_DAYS:g} days are needed"
        )
    return first, last


def drive(
    indoor: Climate, outdoors: Outdoors, asked: DryingInputs, start: pd.Timestamp, end: pd.Timestamp, zone: str
) -> Forcing:
    """The log's temperature and the vapour outdoors hour by hour, as the room was fitted; the step of an hour is exact.

    Gaps up to six hours are bridged; longer ones are bridged to carry the state on, and marked as not known.
    """
    time = pd.date_range(start, end, freq="h", inclusive="left")
    read = describing.hourly(indoor)
    temp_c, inside = bridged(read.time, read.temp_c, time, float(fig.FIT_GAP_H))
    outside_c, vapour, outside = on_grid(outdoors_hourly(outdoors), time, float(fig.FIT_GAP_H))
    surface = None if asked.surface_below_k is None else temp_c - asked.surface_below_k
    run_in = min(float(fig.RUN_IN_DAYS) * 24, 0.25 * len(time))
    return Forcing(time, 1.0, temp_c, vapour, inside & outside, outside_c, surface, visits(time, asked, zone),
                 int(run_in))  # fmt: skip


def visits(time: pd.DatetimeIndex, asked: DryingInputs, zone: str) -> np.ndarray | None:
    """True at steps at which somebody empties the tank: at noon of the days named, or each so many hours."""
    if asked.tank_l is None:
        return None
    if asked.hours_away is not None:
        since_h = ((time - time[0]) / pd.Timedelta(hours=1)).to_numpy()
        return np.diff(np.floor(since_h / asked.hours_away), prepend=0) > 0
    local = time.tz_convert(zone)
    at_noon = (local.hour == int(fig.TANK_VISIT_HOUR)) & (local.minute == 0)
    return np.asarray(at_noon & local.weekday.isin(asked.visit_days))
