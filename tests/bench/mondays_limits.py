"""The written limits, recomputed on the hourly air without envwatch's hazards: only its figures are read.

A first-order lag step by step, plain means and ranges by pandas, and the dew point by Magnus' formula (WMO-No. 8,
annex 4.B, of the year 2008, from memory). The figure named in `mondays_dangers.csv` must be the figure in force.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from envwatch.figures import canvas, condensation, coverage, lining, response
from envwatch.figures.materials import profiles
from tests.bench.mondays_studio import FETCH_H, WEEK, Air

HOUR = pd.Timedelta(hours=1)
TAU_H = {
    "unlined": response.UNLINED_H, "fish": response.UNLINED_H, "paste": response.PASTE_LINED_H,
    "paste_new": response.PASTE_LINED_H, "film": response.FILM_LINED_H, "acrylic": response.FILM_LINED_H,
    "wax": response.WAX_LINED_H, "film_board": response.BOARD_H, "glazed_board": response.GLAZED_BOARD_H,
}  # fmt: skip
WARMS_H = {True: condensation.FRAMED_WARMS_H, False: condensation.OPEN_WARMS_H}
WINDOW_H = {"day hot": 24, "day damp": 24, "day dry": 24, "day range": 24}  # else an hour


def figure(words: str) -> float:
    """The value in force of a figure, by the words of the table: `eva_film heat_hour_c act`, `DRY_LINED_RH`."""
    if words.endswith("+ FRESH_DAMP_ACT_ABOVE"):
        return figure(words.removesuffix(" + FRESH_DAMP_ACT_ABOVE")) + float(lining.FRESH_DAMP_ACT_ABOVE)
    if " " not in words:
        home = next(room for room in (canvas, condensation, coverage) if hasattr(room, words))
        return float(getattr(home, words)) * (100 if words == "CLEAR_NEEDS" else 1)
    material, table, step = words.split()
    return float(getattr(getattr(profiles()[material], table), step))


def differs(words: str, limit: float) -> str:
    """What is to be told where the table's limit is no longer the written one; "" where it is."""
    now = figure(words) if words else limit
    now = 100 - now if words == "CLEAR_NEEDS" else now
    return "" if abs(now - limit) < 1e-9 else f"the table says {words} {limit:g}, written is {now:g}"


def hourly(air: Air) -> pd.DataFrame:
    """Means of the clock hours; the index is the end of the hour."""
    table = pd.DataFrame({"t": air.temp_c, "rh": air.rh_percent}, air.time)
    return table.resample("h", closed="left", label="right").mean()


def lagged(values: pd.Series, tau_h: float, step_h: float = 1.0) -> pd.Series:
    """First-order response, in steps; a gap is crossed at the last state."""
    share, state, out = 1 - np.exp(-step_h / tau_h), float(values.iloc[0]), []
    for value in values.ffill():
        state += share * (value - state)
        out.append(state)
    return pd.Series(out, values.index)


def dew_point_c(temp_c: pd.Series, rh_percent: pd.Series) -> pd.Series:
    """Over water. [°C]"""
    log = np.log(rh_percent.clip(lower=0.1) / 100) + 17.62 * temp_c / (243.12 + temp_c)
    return 243.12 * log / (17.62 - log)


def passed(test: str, limit: float, build: str, air: Air) -> pd.Series:
    """At which ends of hours the limit is passed. Flags by time."""
    if test == "share of week":
        raise ValueError("a share of the week is counted week by week: `silent_weeks`")
    if test in ("dew", "wet hours"):
        fine = pd.DataFrame({"t": air.temp_c, "rh": air.rh_percent}, air.time)
        step_h = (air.time[1] - air.time[0]) / HOUR
        warm = lagged(fine["t"], float(WARMS_H["glazed" in build or "board" in build]), step_h)
        over = warm - dew_point_c(fine["t"], fine["rh"])
        if test == "dew":
            return over <= limit
        return (over <= 0).cumsum() * step_h >= limit
    table, tau = hourly(air), float(TAU_H[build])
    canvas_rh = lagged(table["rh"], tau)
    quantity, sign = {
        "hour hot": (table["t"], 1), "hour cold": (table["t"], -1), "day hot": (table["t"].rolling(24).mean(), 1),
        "hour damp": (canvas_rh, 1), "hour dry": (canvas_rh, -1), "day damp": (canvas_rh.rolling(24).mean(), 1),
        "day dry": (canvas_rh.rolling(24).mean(), -1),
        "day range": (canvas_rh.rolling(24).max() - canvas_rh.rolling(24).min(), 1),
    }[test]  # fmt: skip
    return sign * quantity >= sign * limit


def monday_after(moment: pd.Timestamp, zone: str) -> pd.Timestamp:
    """Midnight of the Monday with which the week of a moment ends."""
    local = moment.tz_convert(zone)
    return local.normalize() + pd.DateOffset(days=7 - local.weekday())


def first_monday(
    test: str, limit: float, build: str, air: Air, since: pd.Timestamp, zone: str
) -> tuple[pd.Timestamp, pd.Timestamp] | None:
    """When a limit is first passed from a time on, and the Monday whose review tells; None where it never is.

    A window belongs to the week that holds most of it, of a tie to the later; one that had not been read when that
    week was reviewed, on Monday at 09:00, is told a week later.
    """
    over = passed(test, limit, build, air)
    over = over[over.index > since]
    if not over.any():
        return None
    end = over.index[int(np.argmax(over.to_numpy()))]
    monday = monday_after(end - pd.Timedelta(hours=WINDOW_H.get(test, 1)) / 2, zone)
    return end, monday if end <= monday + FETCH_H else monday + pd.DateOffset(days=7)


def silent_monday(begin: pd.Timestamp, hours: float, share_percent: float, zone: str) -> pd.Timestamp | None:
    """The first Monday behind a week of which more than a share was not read, or not to be believed."""
    end, monday = begin + pd.Timedelta(hours=hours), monday_after(begin, zone)
    while monday - WEEK < end.tz_convert(zone):
        lost = (min(end.tz_convert(zone), monday) - max(begin.tz_convert(zone), monday - pd.DateOffset(days=7))) / HOUR
        if lost > share_percent / 100 * 168:
            return monday
        monday += pd.DateOffset(days=7)
    return None


__all__ = ["differs", "figure", "first_monday", "hourly", "monday_after", "silent_monday"]
