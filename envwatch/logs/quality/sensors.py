"""How far a logger is trusted, its readings corrected by its checks, and how far two loggers have moved apart.

A check is dated and counts from then on; before the first one, readings stay as they are. Raw readings are kept
for ever: nothing here is stored.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
import pandas as pd

from envwatch import air
from envwatch.core.dates import instant
from envwatch.core.place import Sensor
from envwatch.figures import quality as q
from envwatch.figures.sensors import CHECK_HOLDS_DAYS, RH_DRIFT_PER_YEAR
from envwatch.logs.quality.calibration import one_point, two_point


def sensor_of(row: Mapping, checks: Sequence[Mapping] = ()) -> Sensor:
    """The trust in a logger: what its last check states, else what the register states, else what is assumed.

    >>> sensor_of({"temp_accuracy_c": 0.3, "rh_accuracy_percent": None}).temp_bias_c
    0.3
    """
    stated = {"temp_bias_c": row["temp_accuracy_c"], "rh_bias_percent": row["rh_accuracy_percent"]}
    basis = "the accuracy its maker states"
    for check in checks:
        newer = {"temp_bias_c": check["temp_accuracy_c"], "rh_bias_percent": check["rh_accuracy_percent"]}
        if any(value is not None for value in newer.values()):
            stated |= {name: value for name, value in newer.items() if value is not None}
            basis = f"its check of {check['on'][:10]}" + (f" ({check['basis']})" if check["basis"] else "")
    stated = {name: value for name, value in stated.items() if value is not None}
    if not stated:
        return Sensor()
    left = "" if len(stated) == 2 else "; the other quantity assumed, from memory"
    return replace(Sensor(), **stated, basis=basis + left)


def aged(sensor: Sensor, calibrated_on: pd.Timestamp | None, until: pd.Timestamp) -> Sensor:
    """A logger's trust at the end of a record: wider where its last known check is overdue.

    >>> checked = pd.Timestamp("2024-01-01", tz="UTC")
    >>> aged(Sensor(), checked, pd.Timestamp("2024-06-01", tz="UTC")) == Sensor()
    True
    >>> round(aged(Sensor(rh_bias_percent=3.0), checked, pd.Timestamp("2029-01-01", tz="UTC")).rh_bias_percent, 2)
    5.0
    """
    if calibrated_on is None:
        return sensor
    overdue_days = (until - calibrated_on) / pd.Timedelta(days=1) - CHECK_HOLDS_DAYS
    if overdue_days <= 0:
        return sensor
    drift = RH_DRIFT_PER_YEAR * overdue_days / 365.25
    due = calibrated_on + pd.Timedelta(days=float(CHECK_HOLDS_DAYS))
    basis = f"{sensor.basis}; its check was due on {due:%Y-%m-%d}, drift counted up to {until:%Y-%m-%d}"
    return replace(sensor, rh_bias_percent=float(np.hypot(sensor.rh_bias_percent, drift)), basis=basis)


def corrected(
    time_us: np.ndarray, temp_c: np.ndarray, rh_percent: np.ndarray, checks: Sequence[Mapping], channel: str, zone: str
) -> tuple[np.ndarray, np.ndarray]:
    """Readings corrected by a logger's checks, each from its day until the next.

    Parameters
    ----------
    time_us : (n,) increasing times. [µs]
    checks : rows of the register's calibrations in the order of their dates; those for another channel are left out.

    Returns
    -------
    (temp_c, rh_percent), each (n,); NaN for NaN. Humidity is not clipped. [°C], [% RH]
    """
    out_c, out_rh = temp_c, rh_percent
    for check in checks:
        if check["channel"] in ("", channel):
            since = time_us >= instant(check["on"], zone).value // 1000
            out_c = np.where(since, _temp(check, temp_c, out_c), out_c)
            out_rh = np.where(since, _humidity(check, rh_percent, out_rh), out_rh)
    return out_c, out_rh


def _temp(check: Mapping, raw: np.ndarray, before: np.ndarray) -> np.ndarray:
    if check["temp_read_c"] is None or check["temp_true_c"] is None:
        return before
    return raw + (check["temp_true_c"] - check["temp_read_c"])


def _humidity(check: Mapping, raw: np.ndarray, before: np.ndarray) -> np.ndarray:
    if check["rh_read_low"] is None:
        return before
    low, high = (check["rh_true_low"], check["rh_read_low"]), (check["rh_true_high"], check["rh_read_high"])
    return one_point(raw, low) if high[0] is None else two_point(raw, low, high)


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
