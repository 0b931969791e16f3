"""How far two loggers have moved apart."""

from __future__ import annotations

import pandas as pd

from envwatch import air
from envwatch.figures import quality as q


def apart(first: pd.DataFrame, second: pd.DataFrame) -> pd.Series:
    """By how much the first's humidity differs from what the second's air has at its temperature, a value a day.

    Hourly `temp_c` and `rh_percent` by time -> medians of days with half their hours. [% RH]
    """
    a, b = first.align(second, join="inner")
    vapour = air.vapour_pressure(b["temp_c"].to_numpy(), b["rh_percent"].to_numpy())
    expected = 100 * vapour / air.saturation_pressure(a["temp_c"].to_numpy())
    differ = (a["rh_percent"] - expected).dropna()
    by_day = differ.groupby(pd.DatetimeIndex(differ.index).floor("D"))
    return by_day.median()[by_day.size() >= 12]


def moved(apart_percent: pd.Series) -> pd.Series:
    """How far two loggers have moved from how they first differed: daily, from the end of that first time on. [% RH]

    NaN while too few of the trailing days were read.
    """
    needed = int(q.DRIFT_DAYS)
    if len(apart_percent) < 2 * needed:
        return pd.Series(dtype=float)
    first = apart_percent.iloc[:needed]
    trailing = apart_percent.rolling(f"{needed}D", min_periods=int(q.DRIFT_LEAST_DAYS)).median()
    return trailing.iloc[needed:] - first.median()
