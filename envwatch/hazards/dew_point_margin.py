"""How far a surface is from the dew point: a painting that follows the air, or a face whose temperature is known.

A painting's temperature follows the air as a first-order lag, exact for air that is constant within a reading; single
readings are used, not hourly means, because a cold arrival is over within an hour or two.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from envwatch import air, climate
from envwatch.climate.exposure import ROOM, WHERE, Exposure
from envwatch.climate.series import Climate
from envwatch.core.arrays import Array, ArrayLike, Number
from envwatch.core.place import Placement, Point, Sensor
from envwatch.figures import Figure
from envwatch.figures import condensation as fig
from envwatch.hazards.grading import Lines, constants, what_would_change
from envwatch.hazards.hourly import RECKONED, judged_from, reckoned_u_k


def wet_hours(
    surface_c: ArrayLike, temp_air_c: ArrayLike, dew_point_c: ArrayLike, hours: ArrayLike, tau_h: ArrayLike
) -> Array:
    """How long of each step a surface that warms towards the air stays under the dew point.

    Parameters
    ----------
    surface_c : array-like, temperature of the surface at the start of each step. [°C]
    temp_air_c, dew_point_c : array-like, of the air, constant within the step. [°C]
    hours, tau_h : array-like, length of the step, time constant of the surface. [h]

    Returns
    -------
    Broadcast shape, at most `hours`; NaN for NaN. [h]

    Source: first-order warming, solved for the time of the dew point.

    >>> round(float(wet_hours(2.0, 20.0, 9.27, 1.0, 0.3)), 3)
    0.155
    """
    surface, room, dew, step, tau = np.broadcast_arrays(
        *(np.asarray(a, np.float64) for a in (surface_c, temp_air_c, dew_point_c, hours, tau_h))
    )
    with np.errstate(divide="ignore", invalid="ignore"):
        until = tau * np.log((room - surface) / (room - dew))
    # air at or under its dew point never lifts the surface over it
    wet = np.where(surface < dew, np.where(room > dew, np.minimum(until, step), step), 0.0)
    return np.where(np.isnan(surface + room + dew), np.nan, wet)


def waiting_time_h(
    temp_painting_c: ArrayLike, temp_room_c: ArrayLike, rh_room_percent: ArrayLike,
    tau_h: ArrayLike = fig.CRATED_WARMS_H, margin_k: Number = fig.NEAR_K,
) -> Array:  # fmt: skip
    """How long a cold painting must stay wrapped in a warm room before it may meet the air.

    Parameters
    ----------
    temp_painting_c : array-like, its temperature on arrival. [°C]
    temp_room_c, rh_room_percent : array-like, the room. [°C], [% RH]
    tau_h : array-like, time constant of painting and wrapping. [h]
    margin_k : how far over the room's dew point it must come. [K]

    Returns
    -------
    Broadcast shape: 0 where it need not wait, inf where the room is so damp that waiting does not help; NaN for
    NaN. [h]

    Source: first-order warming; time constants and margin are our judgement, see `figures.condensation`.

    >>> round(float(waiting_time_h(4.0, 20.0, 50.0, tau_h=8.0)), 1)
    4.8
    """
    room, painting = np.asarray(temp_room_c, np.float64), np.asarray(temp_painting_c, np.float64)
    safe = air.dew_point(room, rh_room_percent) + margin_k
    with np.errstate(divide="ignore", invalid="ignore"):
        wait = tau_h * np.log((room - painting) / (room - safe))
    wait = np.where(painting >= safe, 0.0, np.where(room > safe, wait, np.inf))
    return np.where(np.isnan(safe + painting), np.nan, wait)


def painting_temp(air_there: Climate, tau_h: ArrayLike) -> Array:
    """Temperature of a painting at the start of each reading, as it follows the air. (n,) [°C]

    It begins at the first reading's; across a gap it is held, and after one longer than `GAP_FORGETS` time constants
    it is taken to have come to the air. NaN where the temperature was not read. Source: as `climate.lagged`.

    >>> there = Climate.of(pd.date_range("2026-01-05", periods=3, freq="h", tz="UTC"), [4.0, 20.0, 20.0], [50.0] * 3)
    >>> painting_temp(there, 1.5).round(2).tolist()
    [4.0, 4.0, 11.79]
    """
    read = np.isfinite(air_there.temp_c)
    temp, step = air_there.temp_c[read], air_there.hours[read]
    tau = np.broadcast_to(np.asarray(tau_h, np.float64), air_there.temp_c.shape)[read]
    out = np.full(air_there.temp_c.shape, np.nan)
    if not len(temp):
        return out
    unread = np.diff(air_there.time[read].asi8) / 3.6e9 - step[:-1]
    cuts = np.flatnonzero(unread > fig.GAP_FORGETS * tau[1:]) + 1
    before = np.empty_like(temp)
    for first, last in zip([0, *cuts.tolist()], [*cuts.tolist(), len(temp)], strict=True):
        start = float(temp[first])
        after = climate.lagged(temp[first:last], tau[first:last], step[first:last], start=start)
        before[first], before[first + 1 : last] = start, after[:-1]
    out[read] = before
    return out


@dataclass(frozen=True, eq=False)
class Margin:
    """Distance of a surface from the dew point in the judged readings of one point."""

    point: Point
    air_there: Climate  # the judged part
    surface_c: Array  # at the start of each reading
    margin_k: Array  # least within the reading; NaN where not read, or intended
    wet_h: Array
    tau_h: Array
    coverage: float  # of the period, temperature and humidity both read
    at: int  # row of the least margin
    least: float  # NaN where none is known
    wet_before_h: float = 0.0  # of the spell that goes on at the begin, the time before it

    def wet_together_h(self, urgent_h: float) -> float:
        """Time wet in the period, and that of a spell begun before it, unless that was urgent there already. [h]"""
        before_h = self.wet_before_h if self.wet_before_h < urgent_h else 0.0
        return round(float(np.nansum(self.wet_h)) + before_h, 9)  # many short steps make up the hours of few long ones

    def doubt(self) -> tuple[Sensor, float]:
        """The trust in the logger of the least margin, and what that may be off by. [K]

        Humidity through the dew point, temperature, and the reckoning of a face.
        """
        there, at = self.air_there, self.at
        sensor = there.sensor_over(there.time[at], there.time[at] + pd.Timedelta(microseconds=1))
        temp_c, rh, off = there.temp_c[at], there.rh_percent[at], sensor.rh_bias_percent
        damper_c, dew_c, drier_c = air.dew_point(
            temp_c, np.array([min(rh + off, 100), rh, max(rh - off, 0.1)])
        ).tolist()
        by_humidity = max(damper_c - dew_c, dew_c - drier_c)
        return sensor, float(np.hypot(np.hypot(by_humidity, sensor.temp_bias_c), reckoned_u_k(self.point, there)))


def gaps_at_worst(whole: Climate, start: pd.Timestamp, end: pd.Timestamp) -> Climate | None:
    """The readings in [start, end) with a row for each gap, as cold and as damp as the hours within a week about it.

    `whole`: the air in which is looked. None where there is no gap; NaN stays in one with nothing read so near. A
    reading that only comes late, by less than half of what the one before stands for, leaves none. Source: our
    judgement, see `figures.coverage`.

    >>> times = pd.to_datetime(["2026-01-05T00:00Z", "2026-01-05T01:00Z", "2026-01-05T04:00Z"])
    >>> there = Climate.of(times, [4.0, 20.0, 20.0], [50.0, 40.0, 45.0], hours=[1.0] * 3)
    >>> filled = gaps_at_worst(there, there.start, there.end)
    >>> filled.temp_c.tolist(), filled.rh_percent.tolist(), filled.hours.tolist()
    ([4.0, 20.0, 4.0, 20.0], [50.0, 40.0, 50.0, 45.0], [1.0, 1.0, 2.0, 1.0])
    """
    read = whole.between(start, end)
    time_us, stands_us = read.time.asi8, np.round(read.hours * 3.6e9).astype(np.int64)
    ends_us = np.append(start.value // 1000, time_us + stands_us)
    open_us = np.append(time_us, end.value // 1000) - ends_us
    gaps = np.flatnonzero(open_us > np.append(0, stands_us // 2))
    made = [np.insert(row, gaps, np.nan) for row in (read.temp_c, read.rh_percent)]
    if not len(gaps) and np.isfinite(made).all():
        return None
    time_us = np.insert(time_us, gaps, ends_us[gaps])
    hours = np.insert(read.hours, gaps, open_us[gaps] / 3.6e9)
    hourly = climate.hourly(whole)
    first_us = hourly.time.asi8[0] if len(hourly.time) else 0
    last_us = time_us + np.round(hours * 3.6e9).astype(np.int64) - 1
    begin, stop = ((row_us - first_us) // 3_600_000_000 for row_us in (time_us, last_us))
    filled = []  # a gap is as cold, and as damp, as within a week about its begin and its end
    for row, values, sign in zip(made, (hourly.temp_c, hourly.rh_percent), (-1, 1), strict=True):
        about = sign * climate.worst_about(values, sign)
        worst = np.fmax(*(about[np.clip(at, 0, len(about) - 1)] for at in (begin, stop)))
        filled.append(np.where(np.isnan(row), sign * worst, row))
    return Climate.of(pd.DatetimeIndex(time_us.view("M8[us]"), tz="UTC"), *filled, start=start, end=end, hours=hours)


def margins(exposure: Exposure, point: Point, open_both: bool, start: pd.Timestamp) -> tuple[Margin, Margin | None]:
    """The distance from the dew point at one point: of the lagged painting in room air, else of the face itself.

    And the same, what was not read as cold and damp as within a week about it, for a painting may come cold out of a
    gap; None where all was read.
    """
    whole = exposure.points.get(point) or Climate.joined([], exposure.start, exposure.end)
    begin = judged_from(exposure, start)
    since = max(begin - pd.Timedelta(days=3), exposure.start)
    spans = ((since, begin), (begin, exposure.end))
    filled = [gaps_at_worst(whole, *span) for span in spans]
    read = _margin(exposure, point, open_both, start, whole.between(since, exposure.end))
    if not any(filled):
        return read, None
    parts = [part or whole.between(*span) for part, span in zip(filled, spans, strict=True)]
    near = Climate.joined(parts, since, exposure.end)
    return read, _margin(exposure, point, open_both, start, near)


def _margin(exposure: Exposure, point: Point, open_both: bool, start: pd.Timestamp, near: Climate) -> Margin:
    begin = judged_from(exposure, start)
    # a painting open front and back follows soonest; a sheltered one stays cold for longer, in a crate for longest
    tau = np.full(len(near.time), float(fig.OPEN_WARMS_H if open_both else fig.FRAMED_WARMS_H))
    for stint in exposure.stints:
        if stint.position == Placement.CRATE:
            tau[slice(*near.time.searchsorted([stint.start, stint.end]))] = float(fig.CRATED_WARMS_H)
    surface = painting_temp(near, tau) if point == ROOM else near.temp_c
    after = near.temp_c + (surface - near.temp_c) * np.exp(-near.hours / tau)
    wet = wet_hours(surface, near.temp_c, near.dew_point_c, near.hours, tau)
    if point != ROOM:  # the point is the surface: wet where it is saturated, and nowhere else
        after, wet = surface, np.zeros(len(near.time))
    wet = np.where(air.usable_rh(near.rh_percent) >= 100, near.hours, wet)
    least = np.minimum(surface, after) - near.dew_point_c
    least = np.where(np.abs(least) < _ROUNDING_K, 0.0, least)
    judged = near.time >= begin
    intended = exposure.intended_mask(near.time)
    least, wet = np.where(intended, np.nan, least)[judged], np.where(intended, 0.0, wet)
    first = int(np.argmax(judged)) if judged.any() else 0
    dry = np.flatnonzero(~(wet[:first] > 0))
    goes_on = judged.any() and wet[first] > 0  # as it was before, without a break
    before = float(wet[dry[-1] + 1 if len(dry) else 0 : first].sum()) if goes_on else 0.0
    known = np.isfinite(least).any()
    at = int(np.nanargmin(least)) if known else 0
    return Margin(
        point, near.rows(judged, begin, exposure.end), surface[judged], least, wet[judged], tau[judged],
        near.between(start, exposure.end).coverage, at, float(least[at]) if known else float("nan"), before,
    )  # fmt: skip


_ROUNDING_K = 1e-6  # the dew point of saturated air, out of the table and back


def working(seen: Margin, urgent_h: Figure) -> Lines:
    """The lines behind the least margin, at the start or the end of its reading, whichever was colder."""
    there, at = seen.air_there, seen.at
    (sensor, unsure_k), tau, start_c = seen.doubt(), seen.tau_h[at], seen.surface_c[at]
    end_c = start_c
    if seen.point == ROOM:  # a painting that follows the air
        end_c = there.temp_c[at] + (start_c - there.temp_c[at]) * np.exp(-there.hours[at] / tau)
    saturated = float(air.saturation_pressure(there.temp_c[at]))
    lines = [
        ("dew point", f"{there.rh_percent[at]:.2f} % of {saturated:.1f} Pa (saturated at {there.temp_c[at]:.2f} °C) = "
                      f"{there.vapour_pa[at]:.1f} Pa, which is saturated at {there.dew_point_c[at]:.2f} °C "
                      "(ashrae-fundamentals-2017, published)"),
        ("surface", f"{start_c:.2f} °C {WHERE[seen.point]} at the start of the reading, {end_c:.2f} °C after its "
                    f"{there.hours[at]:.2g} h; {min(start_c, end_c):.2f} - {there.dew_point_c[at]:.2f} = "
                    f"{seen.least:.2f} K, the least margin"),
        *what_would_change(seen.least, "K", (fig.NEAR_K, fig.WET_K), -1),
        ("wet", f"{np.nansum(seen.wet_h):.2f} h in the period"
                + (f", {seen.wet_before_h:.2f} h just before it" if seen.wet_before_h else "")),
        *constants(("near the dew point", fig.NEAR_K), ("urgent from h wet", urgent_h),
                    *((("reckoned face ± K", RECKONED[seen.point]),) if seen.point in RECKONED else ())),
        ("uncertainty", f"± {unsure_k:.2f} K: humidity ± {sensor.rh_bias_percent:.3g} % RH through the "
                        f"dew point, and ± {sensor.temp_bias_c:.3g} °C; both are common to all readings"),
    ]  # fmt: skip
    if seen.point == ROOM:
        follows = f"the painting follows the air with a time constant of {tau:g} h (our judgement)"
        lines.append(("lag", f"T + (T before - T) exp(-h / {tau:g}): {follows}"))
        wait = float(waiting_time_h(start_c, there.temp_c[at], there.rh_percent[at], tau))
        if 0 < wait < np.inf:
            lines.append(
                (
                    "waiting time",
                    f"{tau:g} ln(({there.temp_c[at]:.2f} - {start_c:.2f}) / "
                    f"({there.temp_c[at]:.2f} - {there.dew_point_c[at] + fig.NEAR_K:.2f})) = {wait:.2f} h",
                )
            )
    return tuple(lines)
