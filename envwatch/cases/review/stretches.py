"""Of a spell that is told by its first and last hour: the stretches in which the air itself was beyond the limit."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import pandas as pd

from envwatch import climate
from envwatch.climate.series import Climate
from envwatch.core.findings import Finding
from envwatch.core.text import stamp
from envwatch.figures.coverage import ENDED_NEEDS_H

Stretch = tuple[pd.Timestamp, pd.Timestamp]
QUANTITY = {"damp": ("rh_percent", "% RH", 1), "dry": ("rh_percent", "% RH", -1),
            "heat": ("temp_max_c", "°C", 1), "cold": ("temp_c", "°C", -1)}  # fmt: skip
HOUR, DAY = pd.Timedelta(hours=1), pd.Timedelta(days=1)


def stretches(air: Climate, kind: str, findings: Iterable[Finding], spell: Stretch) -> list[Stretch]:
    """The stretches of a spell by its mildest limit; the spell itself where they are none, or nothing tells them apart.

    A day within the limit parts two; hours that nobody read part none.
    """
    quantity, unit, sign = QUANTITY.get(kind, ("", "", 1))
    limits = [sign * f.limit for f in findings if f.unit == unit and np.isfinite(f.limit)]
    if not quantity or not limits:
        return [spell]
    hours = climate.hourly(air.between(*spell))
    values = sign * getattr(hours, quantity)
    within = np.cumsum(values < min(limits))  # hours read within the limit, up to each
    over = np.flatnonzero(values >= min(limits))
    if not len(over):
        return [spell]
    parts = np.split(over, np.flatnonzero(np.diff(within[over]) >= float(ENDED_NEEDS_H)) + 1)
    if len(parts) == 1:
        return [spell]
    found = [(hours.time[part[0]], hours.time[part[-1]] + HOUR) for part in parts]
    (first, *_), (*_, last) = found[0], found[-1]  # a mean of a day begins and ends within a day of its hours
    begin = spell[0] if first - spell[0] < DAY else first
    return [(begin, found[0][1]), *found[1:-1], (found[-1][0], spell[1] if spell[1] - last < DAY else last)]


def words(parts: Iterable[Stretch], zone: str) -> str:
    """ "Tue 6 Oct 15:00 to Thu 8 Oct 18:00, and again Thu 15 Oct 06:00 to Mon 19 Oct 09:00"."""
    return ", and again ".join(f"{stamp(start, zone)} to {stamp(end, zone)}" for start, end in parts)
