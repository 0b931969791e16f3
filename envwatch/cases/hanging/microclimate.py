"""The coming year at a position, hour by hour: outdoors, the room, and the faces behind the picture.

Logs of past years stand for the coming one, hour for hour; where nothing was logged the year is reckoned from a
design climate (coldest month, warmest month, a cold spell of five days), the heating and the habits of the house.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from envwatch import air, climate
from envwatch.cases.hanging.scenario import Scenario
from envwatch.climate.exposure import CANVAS_BACK, PAINT_FACE, ROOM, WALL_FACE, Exposure, Stint
from envwatch.climate.series import Climate
from envwatch.core.painting import Painting
from envwatch.core.place import Placement, Sensor
from envwatch.figures import hanging as fig
from envwatch.figures.coverage import CLEAR_NEEDS
from envwatch.figures.walls import OPEN_GAP_HEIGHT_M, OUTDOOR_MEAN_H
from envwatch.physics import wall
from envwatch.physics.heat import plume_rise_k

HOUR = pd.Timedelta(hours=1)
RECKONED = Sensor(
    float(fig.LOG_TEMP_U_C), float(fig.LOG_RH_U_PERCENT), 0.1, 0.5, "reckoned, not read: house and habits as described"
)  # fmt: skip
Air = tuple[np.ndarray, np.ndarray]


def coming_year(hang_on: pd.Timestamp) -> pd.DatetimeIndex:
    """The hours of the year from a day on. UTC -> (8760,)"""
    return pd.date_range(hang_on, periods=int(fig.YEAR_D) * 24, freq="h")


@dataclass(frozen=True, eq=False)
class Logs:
    """What was logged, already set on the coming year; NaN where it was not. (8760,) each, or None.

    Attributes
    ----------
    outside_c, outside_rh : of a logger outdoors that stands for the house's own air.
    history : the painting's own air up to the day of hanging; None where not known.
    """

    time: pd.DatetimeIndex
    zone: str
    outside_c: np.ndarray | None = None
    outside_rh: np.ndarray | None = None
    history: Climate | None = None


@dataclass(frozen=True, eq=False)
class RoomLog:
    """A logger's year at a position, or in its room."""

    temp_c: np.ndarray
    rh_percent: np.ndarray
    sensor: Sensor

    @property
    def coverage(self) -> float:
        """Share of the coming year for which it stands."""
        return float((np.isfinite(self.temp_c) & np.isfinite(self.rh_percent)).mean())

    def winter_coverage(self, time: pd.DatetimeIndex, southern: bool = False) -> float:
        """Share of the three coldest months for which it stands."""
        winter = np.isin(time.month, (6, 7, 8) if southern else (12, 1, 2))
        return float((np.isfinite(self.temp_c) & np.isfinite(self.rh_percent))[winter].mean())


def replayed(read: Climate, time: pd.DatetimeIndex) -> Air:
    """Past readings set on coming hours, each from the same hour one year before, or two, or three.

    (n,) hours -> (temp_c, rh_percent), each (n,), NaN where no year has that hour.
    """
    hours = climate.hourly(read)
    temp, rh = np.full(len(time), np.nan), np.full(len(time), np.nan)
    for years in range(1, int(fig.REPLAY_YEARS) + 1):
        at = hours.time.get_indexer(time - years * pd.Timedelta(days=365))
        open_ = (at >= 0) & ~(np.isfinite(temp) & np.isfinite(rh))
        temp[open_], rh[open_] = hours.temp_c[at[open_]], hours.rh_percent[at[open_]]
    return temp, rh


# ----------------------------------------------------------------------------------------------------- outdoors


def outdoors(case: Scenario, logs: Logs, southern: bool = False) -> Air:
    """Temperature and vapour pressure outdoors: as logged, else the design year. (n,) [°C], [Pa]"""
    temp, rh = _design_outdoors(case, logs, southern)
    if logs.outside_c is not None:
        temp = np.where(np.isfinite(logs.outside_c), logs.outside_c, temp)
        rh = np.where(np.isfinite(logs.outside_rh), logs.outside_rh, rh) if logs.outside_rh is not None else rh
    return temp, air.vapour_pressure(temp, np.clip(rh, 1, 100))


def _design_outdoors(case: Scenario, logs: Logs, southern: bool) -> Air:
    """A year between its coldest and its warmest month, with a daily course and a cold spell in mid-winter."""
    local = logs.time.tz_convert(logs.zone)
    # fifteenth of January (July in the south) is the coldest day
    day = local.day_of_year.to_numpy() - (197 if southern else 15)
    season = (1 + np.cos(2 * np.pi * day / 365.25)) / 2  # 1 in midwinter
    daily = -float(fig.DAY_SWING_K) * np.cos(2 * np.pi * (local.hour.to_numpy() - 3) / 24)
    mean = case.warmest_c + (case.coldest_c - case.warmest_c) * season
    spell = np.abs((day + 182) % 365 - 182) <= float(fig.COLD_SPELL_D) / 2
    mean = np.where(spell, np.minimum(case.spell_c, mean), mean)
    damp = float(fig.OUT_RH_WARM) + (float(fig.OUT_RH_COLD) - float(fig.OUT_RH_WARM)) * season
    vapour = air.vapour_pressure(mean, damp)
    temp = mean + daily
    return temp, np.minimum(100 * vapour / air.saturation_pressure(temp), 100.0)


def excess_pa(out_c, cold_g: float, temp_c) -> np.ndarray:
    """Moisture that living adds, as vapour pressure: `cold_g` up to 5 °C outdoors, falling to 15 °C.

    (n,) [°C], [g/m³], (n,) [°C] -> (n,) [Pa]. Source: the course of Kalamees, Vinha & Kurnitski 2006.

    >>> round(float(excess_pa(0.0, 4.0, 19.0)))
    539
    """
    low, high = float(fig.EXCESS_COLD_C), float(fig.EXCESS_WARM_C)
    share = 1 - (1 - float(fig.EXCESS_WARM_SHARE)) * np.clip((np.asarray(out_c, float) - low) / (high - low), 0, 1)
    return 0.4615 * cold_g * share * (np.asarray(temp_c, float) + 273.15)


# ------------------------------------------------------------------------------------------------------ the room


def room(case: Scenario, logs: Logs, read: RoomLog | None, out: Air) -> Air:
    """Temperature and humidity of the room: as logged; reckoned for a year that was not; changed as `case` asks."""
    temp, rh = _reckoned_room(case, logs, out)
    if read is not None:
        known = np.isfinite(read.temp_c) & np.isfinite(read.rh_percent)
        fill = read.coverage < CLEAR_NEEDS  # a few lost days stay lost, a missing season is reckoned
        temp = np.where(known, read.temp_c, temp if fill else np.nan)
        rh = np.where(known, read.rh_percent, rh if fill else np.nan)
    if case.least_c is not None:
        warmer = np.maximum(temp, case.least_c)
        temp, rh = warmer, air.rh_at(temp, rh, warmer)
    rh = np.minimum(rh, 100.0 if case.rh_cap is None else case.rh_cap)
    return temp, np.maximum(rh, 0.0 if case.rh_floor is None else case.rh_floor)


def _reckoned_room(case: Scenario, logs: Logs, out: Air) -> Air:
    """The house as described; empty months drift after the outdoors, with hardly any moisture added."""
    out_c, out_pa = out
    local = logs.time.tz_convert(logs.zone)
    day_mean = climate.running_mean(out_c, 24)
    day_mean = np.where(np.isfinite(day_mean), day_mean, out_c)
    set_c = np.where(_heated_hours(case, local), case.warm_c, case.cool_c)
    set_c = climate.lagged(np.where(day_mean < fig.HEATS_UNDER_C, set_c, 0.0), 4.0)  # rooms warm and cool within hours
    temp = np.maximum(set_c, day_mean + float(fig.GAINS_K))
    empty = np.isin(local.month, case.empty_months)
    if case.heating == "none":
        empty = empty | (day_mean < fig.HEATS_UNDER_C)
    slow = climate.running_mean(out_c, int(fig.EMPTY_FOLLOWS_D) * 24)
    slow = np.where(np.isfinite(slow), slow, day_mean)
    temp = np.where(empty, slow + float(fig.EMPTY_OVER_OUT_K), temp)
    away = empty | ((case.heating == "weekend") & (local.day_of_week < 5))
    excess = np.where(away, float(fig.EXCESS_EMPTY), case.excess_g)
    mean = climate.running_mean(excess, 24)  # walls and things take up moisture and give it back within a day
    excess = np.where(np.isfinite(mean), mean, excess)
    vapour = climate.running_mean(out_pa, 24)
    vapour = np.where(np.isfinite(vapour), vapour, out_pa) + excess_pa(day_mean, 1.0, temp) * excess
    return temp, np.minimum(100 * vapour / air.saturation_pressure(temp), 100.0)


def _heated_hours(case: Scenario, local: pd.DatetimeIndex) -> np.ndarray:
    """When the heating runs at its day set-point: all day, mornings and evenings, or from Saturday to Sunday."""
    day = (local.hour >= 6) & (local.hour < 23)
    if case.heating == "continuous":
        return np.asarray(day)
    if case.heating == "weekend":
        return np.asarray(local.day_of_week >= 5)
    return np.asarray(day & ((local.hour < 9) | (local.hour >= 15)))


def warmed(case: Scenario) -> bool:
    """Whether anything at the position warms the picture over the room."""
    return case.plume is not None or case.lamp_k > 0 or case.evening_c is not None


def at_the_spot(case: Scenario, logs: Logs, inside: Air, out: Air) -> Air:
    """The room's air where the picture hangs: warmed by a radiator below, a lamp, an evening of fire."""
    temp, rh = inside
    local = logs.time.tz_convert(logs.zone)
    heating = climate.running_mean(out[0], 24) < fig.HEATS_UNDER_C
    warmer = np.zeros(len(temp))
    if case.plume is not None:
        watts, above, factor = case.plume
        on = heating & _heated_hours(case, local) & ~np.isin(local.month, case.empty_months)
        warmer += np.where(on, factor * float(plume_rise_k(watts, above)), 0.0)
    evening = (local.hour >= 17) & (local.hour < 23)
    warmer += np.where(evening, case.lamp_k, 0.0)
    if case.evening_c is not None:
        warmer = np.maximum(warmer, np.where(evening & heating, case.evening_c - temp, 0.0))
    return temp + warmer, air.rh_at(temp, rh, temp + warmer)


# ------------------------------------------------------------------------------------------------ behind the picture


def faces(case: Scenario, inside: Air, out_mean_c: np.ndarray, height_m: float) -> tuple[Air, Air] | None:
    """Air at the wall face and at the canvas back; None before a wall without a colder side."""
    if case.wall == "inner":
        return None
    temp, rh = inside
    behind_c = (temp + out_mean_c) / 2 if case.wall == "unheated" else out_mean_c
    backed = case.board_m2kw > 0
    opened = case.standoff_mm >= fig.STANDOFF_OPEN_MM
    closed_mm = case.standoff_mm + (0.0 if backed else case.depth_mm)
    return wall.behind_picture(
        temp, rh, behind_c, u_value=case.u_value, backed=backed, board_m2kw=case.board_m2kw, height_m=height_m,
        gap_mm=case.standoff_mm if opened else closed_mm, open_gap=opened,
        glazing_m2kw=float(fig.GLAZING) if case.glazed else 0.0,
    )  # fmt: skip


def exposure(
    case: Scenario, logs: Logs, read: RoomLog | None, painting: Painting, place: tuple[str, str], *, here: bool = False,
    southern: bool = False,
) -> Exposure:  # fmt: skip
    """The coming year of a painting at a position, with its own history before it, ready to be judged.

    Parameters
    ----------
    read : the logger of the room, or, where `here`, of the very position: then nothing is added to it.
    place : (id, name) of the house.
    """
    out = outdoors(case, logs, southern)
    inside = room(case, logs, read, out)
    mean = climate.running_mean(out[0], int(OUTDOOR_MEAN_H))
    mean = np.where(np.isfinite(mean), mean, out[0])
    behind = faces(case, inside, mean, height_m(painting))
    sensor = RECKONED if read is None else read.sensor
    points = {ROOM: with_history(logs, inside, sensor, True)}
    if not here and warmed(case):
        # beside the room, not in its place: what warms a face now and then is no cure for a damp one
        points[PAINT_FACE] = with_history(logs, at_the_spot(case, logs, inside, out), sensor, True)
    if behind is not None:
        points[WALL_FACE] = with_history(logs, behind[0], sensor, False)
        points[CANVAS_BACK] = with_history(logs, behind[1], sensor, True)
    start, end = points[ROOM].start, logs.time[-1] + HOUR
    at = Placement.OUTER_WALL if case.wall != "inner" else Placement.INNER_WALL
    stints = [Stint(logs.time[0], end, place[0] or "the house", place[1], at, logs.zone)]
    if start < logs.time[0]:
        stints.insert(0, Stint(start, logs.time[0], "before", "where it was", zone=logs.zone))
    return Exposure(points, start, end, tuple(stints), (), case.position)


def height_m(painting: Painting) -> float:
    """Height of the picture; a usual one where it is not known. [m]"""
    return float(OPEN_GAP_HEIGHT_M) if painting.height_cm is None else painting.height_cm / 100


def with_history(logs: Logs, there: Air, sensor: Sensor, history: bool) -> Climate:
    """The coming year at a point; before it, where it stands to reason, the air that the painting came from."""
    now = Climate.of(logs.time, *there, sensor=sensor)
    if logs.history is None or not len(logs.history.time):
        return now
    if not history:
        return replace(now, start=logs.history.start)
    return Climate.joined([logs.history, now], logs.history.start, now.end)
