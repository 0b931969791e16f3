"""Many rooms through the same weather: the balance stepped in time, side by side, with what dries, warms or airs them.

A lane is one room with one arrangement; all lanes of a run share the weather and the room's own temperature, and are
computed apart from one another, so a machine of no capacity gives the same numbers, to the last bit, as none.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cache

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from envwatch import air
from envwatch.core.arrays import Array, ArrayLike, Mask, Number, Whole
from envwatch.core.errors import BadInput
from envwatch.figures import dehumidifier as fig
from envwatch.physics.room.balance import content, latent_kwh_per_kg, mean_over_step, per_percent, step_factors

TABLE_FROM_C, TABLE_TO_C, TABLE_STEP_C = -60.0, 80.0, 0.02


@dataclass(frozen=True, eq=False)
class Forcing:
    """What the rooms are driven by, on a regular grid of steps that fit into the hour.

    Attributes
    ----------
    time : (n,) UTC, begin of each step.
    step_h : 1, or an hour's half, third, quarter, ... [h]
    temp_c : (n,) the room's own temperature, without what machines and heaters add. [°C]
    outside_pa : (n,) or (n, m) vapour pressure of the air that comes in. [Pa]
    known : (n,) false in gaps of the log: bridged to carry the state on, never counted.
    outside_c : (n,) for airing; NaN where not known, and not aired then. [°C]
    surface_c : (n,) coldest surface, on which vapour condenses; None: only saturated air does. [°C]
    visits : (n,) true at steps at which somebody empties the tanks.
    """

    time: pd.DatetimeIndex
    step_h: float
    temp_c: Array
    outside_pa: Array
    known: Mask
    outside_c: Array | None = None
    surface_c: Array | None = None
    visits: Mask | None = None
    counted_from: int = 0  # step from which sums are counted; a run-in before it carries the state

    @property
    def per_hour(self) -> int:
        return round(1 / self.step_h)

    @property
    def hours(self) -> pd.DatetimeIndex:
        """Begin of each hour."""
        return self.time[:: self.per_hour]

    @property
    def known_hours(self) -> Mask:
        """True for hours of which no step lies in a gap."""
        return np.asarray(self.known.reshape(-1, self.per_hour).all(axis=1))


@dataclass(frozen=True, eq=False)
class Rooms:
    """The rooms, one a lane: scalars or (m,)."""

    volume_m3: Number
    changes_h: Number
    buffer_g: Number  # g for each % RH
    source_g_h: Number
    start_rh: Number
    heat_loss_w_k: Number = float("inf")  # through the walls; inf: nothing warms the room


@dataclass(frozen=True, eq=False)
class Drying:
    """Dehumidifiers, one a lane: scalars or (m,); curves (6,) or (6, m) as in `curve_share`."""

    rated_g_h: Number  # at the rating point, as the machine truly does it
    capacity: Array
    litres_per_kwh: Number  # at the rating point
    efficiency: Array
    set_percent: Number
    off_below_c: Number = -273.0
    off_above_c: Number = float(min(fig.OFF_ABOVE_C.values()))
    tank_l: Number = float("inf")
    from_step: Whole | int = 0
    to_step: Whole | int = np.iinfo(np.int64).max


@dataclass(frozen=True, eq=False)
class Heating:
    """Heating when it is damp, one a lane: scalars or (m,)."""

    set_percent: Number
    most_k: Number


@dataclass(frozen=True, eq=False)
class Airing:
    """Airing when it is damp and outdoors is drier, one a lane: scalars or (m,)."""

    changes_h: Number
    set_percent: Number


@dataclass(frozen=True, eq=False)
class Simulation:
    """What a run gave: hourly (hours, m), sums (m,)."""

    rh_percent: NDArray[np.float32]
    warmer_k: NDArray[np.float32] | None  # what machines or heaters add; None: nothing
    litres: Array
    kwh: Array
    running_h: Array
    visits: Array
    full_h: Array  # damp hours with the tank full
    condensed_g: Array
    ledger: dict[str, Array] = field(default_factory=dict)  # in, out, given, drawn, condensed, before, after [g]


def curve_share(curve: Array | Sequence[Number], temp_c: ArrayLike, rh_percent: ArrayLike) -> Array:
    """Value of a machine's curve: a + b T + c T² + d RH + e RH² + f T RH, never below 0.

    Parameters
    ----------
    curve : (6,) or (6, m) coefficients.
    temp_c, rh_percent : broadcast; humidity is held within 35 to 95 %. [°C], [% RH]

    Source: Winkler, Christensen & Tomerlin 2011.

    >>> from envwatch.figures.dehumidifier import CAPACITY_CURVE
    >>> float(curve_share(CAPACITY_CURVE, 26.667, 60.0).round(4))
    0.986
    """
    a, b, c, d, e, f = (np.asarray(k, np.float64) for k in curve)
    rh = np.clip(np.asarray(rh_percent, np.float64), fig.CURVE_RH[0], fig.CURVE_RH[1])
    temp = np.asarray(temp_c, np.float64)
    return np.maximum(a + temp * (b + c * temp) + rh * (d + f * temp + e * rh), 0.0)


@cache
def _table() -> Array:
    count = round((TABLE_TO_C - TABLE_FROM_C) / TABLE_STEP_C) + 1
    return per_percent(np.linspace(TABLE_FROM_C, TABLE_TO_C, count))


def _per_percent_fast(temp_c: Array) -> Array:
    """`per_percent` from an even table, within 1e-6 of it."""
    place = (temp_c - TABLE_FROM_C) / TABLE_STEP_C
    at = place.astype(np.intp)
    low = _table()[at]
    return low + (place - at) * (_table()[at + 1] - low)


def simulate(
    drive: Forcing,
    rooms: Rooms,
    drying: Drying | None = None,
    heating: Heating | None = None,
    airing: Airing | None = None,
    ledger: bool = False,
) -> Simulation:
    """All lanes through the weather, by the exact step of the balance.

    Returns
    -------
    Hourly humidity at 100 % at most, and the sums of each lane. Hours in gaps are computed, to carry the state, and
    are NaN in the result; the sums hold only known hours after the run-in.

    Raises
    ------
    ValueError : a drive with missing values, or steps that do not fill whole hours.
    BadInput : a temperature that no room has.
    """
    return _Engine(drive, rooms, drying, heating, airing, ledger).run()


def _lanes(*parts: Rooms | Drying | Heating | Airing | None) -> int:
    """Number of lanes that scalars and (m,) arrays make together; of curves, their columns."""
    values = (np.asarray(value) for part in parts if part is not None for value in vars(part).values())
    return int(np.prod(np.broadcast_shapes((1,), *(v.shape[-1:] if v.shape != (6,) else () for v in values))))


class _Engine:
    """The state of all lanes and one step of it."""

    def __init__(
        self, drive: Forcing, rooms: Rooms, drying: Drying | None, heating: Heating | None, airing: Airing | None,
        ledger: bool,
    ) -> None:  # fmt: skip
        self.drive, self.drying, self.heating, self.airing = drive, drying, heating, airing
        self._refuse()
        self.m, self.step_h = _lanes(rooms, drying, heating, airing), drive.step_h
        lane = np.zeros(self.m)
        self.volume, self.buffer, self.source = (
            np.asarray(value, np.float64) + lane for value in (rooms.volume_m3, rooms.buffer_g, rooms.source_g_h)
        )
        self.flow = np.asarray(rooms.changes_h, np.float64) * self.volume
        self.loss = np.asarray(rooms.heat_loss_w_k, np.float64) + lane
        self.warms = bool(np.isfinite(self.loss).any()) and (drying is not None or heating is not None)
        self.warmer = np.zeros(self.m)
        self.answers = -np.expm1(-self.step_h / fig.ROOM_WARMS_H)
        self.s1_of_room = per_percent(drive.temp_c)
        cold = drive.temp_c if drive.surface_c is None else np.minimum(drive.surface_c, drive.temp_c)
        self.cap_pa = air.saturation_pressure(cold)
        self.cap_of_room = 100 * self.cap_pa / air.saturation_pressure(drive.temp_c)
        self.water = (self.volume * self.s1_of_room[0] + self.buffer) * np.asarray(rooms.start_rh, np.float64)
        self.tank, self.litres, self.kwh, self.running = (np.zeros(self.m) for _ in range(4))
        self.emptied, self.full, self.condensed = (np.zeros(self.m) for _ in range(3))
        self.books = {name: np.zeros(self.m) for name in ("in", "out", "given", "drawn")} if ledger else None

    def _refuse(self) -> None:
        n = len(self.drive.time)
        if abs(self.drive.per_hour * self.drive.step_h - 1) > 1e-9 or n % self.drive.per_hour:
            raise ValueError(f"{n} steps of {self.drive.step_h:g} h do not fill whole hours")
        if not (np.isfinite(self.drive.temp_c).all() and np.isfinite(self.drive.outside_pa).all()):
            raise ValueError("the drive has missing values: bridge its gaps and mark them as not known")
        low, high = self.drive.temp_c.min(initial=0.0), self.drive.temp_c.max(initial=0.0)
        if low < fig.SIMULATED_C[0] or high > fig.SIMULATED_C[1]:
            raise BadInput(
                f"the room's log reads {low:.0f} to {high:.0f} °C; a room can be simulated from "
                f"{fig.SIMULATED_C[0]:g} to {fig.SIMULATED_C[1]:g} °C. Mark what is no room's air, or give other days"
            )

    def run(self) -> Simulation:
        n, each = len(self.drive.time), self.drive.per_hour
        rh = np.empty((n // each, self.m), np.float32)
        rise = np.zeros((n // each, self.m), np.float32) if self.warms else None
        before = self.water.copy()
        total, warm = np.zeros(self.m), np.zeros(self.m)
        known = (self.drive.known & (np.arange(n) >= self.drive.counted_from)).tolist()
        for k in range(n):
            total += self._step(k, known[k])
            if rise is not None:
                warm += self.warmer
            if (k + 1) % each == 0:
                rh[k // each] = total / each
                total[:] = 0
                if rise is not None:
                    rise[k // each] = warm / each
                    warm[:] = 0
        rh[~self.drive.known_hours] = np.nan
        books = {}
        if self.books is not None:
            books = {**self.books, "condensed": self.condensed, "before": before, "after": self.water}
        return Simulation(rh, rise, self.litres, self.kwh, self.running, self.emptied, self.full, self.condensed, books)

    def _step(self, k: int, known: bool) -> Array:
        """One step of all lanes; returns the humidity at its end. [% RH]"""
        s1, temp, cap = self._warmth(k)
        capacity = self.volume * s1 + self.buffer
        rh = self._capped(self.water / capacity, cap, capacity)
        flow = self.flow if self.airing is None else self._aired(self.airing, k, rh, s1, temp, known)
        come = flow * content(self.drive.outside_pa[k], temp)
        kept, raised = step_factors(flow, s1, capacity, self.step_h)
        after = kept * rh + (come + self.source) * raised
        drawn: Number = 0.0
        if self.drying is not None:
            drawn = self._drawn(self.drying, k, after, raised, temp, known)
            after = after - drawn * raised
        if self.heating is not None:
            self._heat(self.heating, k, after, flow, known)
        if self.books is not None:
            self._book(self.books, rh, flow, s1, capacity, come, drawn)
        after = self._capped(after, cap, capacity)
        self.water = after * capacity
        return after

    def _warmth(self, k: int) -> tuple[Number, Number, Number]:
        temp = self.drive.temp_c[k]
        if not self.warms:
            return self.s1_of_room[k], temp, self.cap_of_room[k]
        temp = temp + self.warmer
        s1 = _per_percent_fast(temp)
        if self.drive.surface_c is None:
            return s1, temp, 100.0
        return s1, temp, np.minimum(content(self.cap_pa[k], temp) / s1, 100.0)

    def _capped(self, rh: Array, cap: Number, capacity: Array) -> Array:
        over = np.maximum(rh - cap, 0.0)
        self.condensed += over * capacity
        return rh - over

    def _aired(self, airing: Airing, k: int, rh: Array, s1: Number, temp: Number, known: bool) -> Array:
        """The exchange with airing where it dries, and what it costs in heat and fan."""
        outside_c = np.nan if self.drive.outside_c is None else self.drive.outside_c[k]
        cooler = temp - outside_c
        drier = content(self.drive.outside_pa[k], temp) < fig.AIRING_DRIER * rh * s1
        on = drier & (rh > airing.set_percent) & (cooler <= fig.AIRING_COOLS_K)
        more = np.where(on, airing.changes_h, 0.0) * self.volume
        if known:
            watts = np.where(on, fig.AIRING_FAN_W + fig.AIR_HEAT_WH * more * np.maximum(cooler, 0.0), 0.0)
            self.kwh += watts * self.step_h / 1000
            self.running += np.where(on, self.step_h, 0.0)
        return self.flow + more

    def _drawn(self, drying: Drying, k: int, free: Array, raised: Array, temp: Number, known: bool) -> Array:
        """Water drawn off in the step, at the humidity it leaves behind: more capacity never leaves a damper room."""
        if self.drive.visits is not None and self.drive.visits[k]:
            self.emptied += self.tank > 0
            self.tank[:] = 0
        works = (temp >= drying.off_below_c) & (temp < drying.off_above_c)
        able = drying.rated_g_h * (works & (k >= drying.from_step) & (k < drying.to_step))
        a, b, c, d, e, f = drying.capacity
        rh = np.clip(free, fig.CURVE_RH[0], fig.CURVE_RH[1])
        slope = np.where(rh == free, d + f * temp + 2 * e * rh, 0.0)
        share = np.maximum(a + temp * (b + c * temp) + rh * (d + f * temp + e * rh), 0.0)
        most = able * share / (1 + able * np.maximum(slope, 0.0) * raised)
        wanted = np.maximum(free - drying.set_percent, 0.0) / raised
        room_left = np.maximum(1000 * drying.tank_l - self.tank, 0.0) / self.step_h
        drawn: Array = np.minimum(np.minimum(most, wanted), room_left)
        if known or self.warms:
            left = np.clip(free - drawn * raised, fig.CURVE_RH[0], fig.CURVE_RH[1])
            full = room_left < np.minimum(most, wanted)
            drawn = self._spent(drying, k, drawn, most, left, temp, known, full)
        self.tank += drawn * self.step_h
        return drawn

    def _spent(
        self, drying: Drying, k: int, drawn: Array, most: Array, rh: Array, temp: Number, known: bool, full: Mask
    ) -> Array:
        """Current and heat of what is drawn; returns what is drawn until the machine cuts out for heat. [g/h]"""
        share = np.divide(drawn, most, out=np.zeros(self.m), where=most > 0)
        a, b, c, d, e, f = drying.efficiency
        litres_per_kwh = drying.litres_per_kwh * np.maximum(
            a + temp * (b + c * temp) + rh * (d + f * temp + e * rh), 0.05
        )
        litres_per_kwh = litres_per_kwh * (fig.PART_LOAD[0] + fig.PART_LOAD[1] * share)
        kilowatts = drawn / 1000 / litres_per_kwh
        watts = 1000 * kilowatts + drawn * latent_kwh_per_kg(temp)
        if self.warms:
            runs = self._until_cut_out(drying, k, watts)
            drawn, share, kilowatts, watts = (value * runs for value in (drawn, share, kilowatts, watts))
        if known:
            self.litres += drawn * (self.step_h / 1000)
            self.kwh += kilowatts * self.step_h
            self.running += share * self.step_h
            self.full += np.where(full, self.step_h, 0.0)
        if self.warms:
            self._answer(watts, self.flow)
        return drawn

    def _until_cut_out(self, drying: Drying, k: int, watts: Array) -> Array:
        """The part of the step that a machine runs before its own heat brings the room to where it cuts out. [1]"""
        room_left_k = drying.off_above_c - self.drive.temp_c[k] - self.warmer
        most = (self.warmer + room_left_k / self.answers) * (self.loss + fig.AIR_HEAT_WH * self.flow)
        share: Array = np.divide(most, watts, out=np.ones(self.m), where=watts > 0)
        return np.clip(share, 0.0, 1.0)

    def _answer(self, watts: Array, flow: Array) -> None:
        """The room's temperature answers to heat given off in it, with a lag."""
        self.warmer = self.warmer + (watts / (self.loss + fig.AIR_HEAT_WH * flow) - self.warmer) * self.answers

    def _heat(self, heating: Heating, k: int, rh: Array, flow: Array, known: bool) -> None:
        """Heat where it is damp, up to where the vapour that comes in and is given off settles at the set point."""
        temp = self.drive.temp_c[k]
        given_pa = self.source * content(1.0, temp) ** -1 / np.maximum(flow, 1e-9)
        needs = air.dew_point_from_vapour((self.drive.outside_pa[k] + given_pa) * 100 / heating.set_percent)
        rise = np.where(rh > heating.set_percent, np.clip(needs - temp, 0.0, heating.most_k), 0.0)
        watts = rise * (self.loss + fig.AIR_HEAT_WH * flow)
        if known:
            self.kwh += watts * self.step_h / 1000
            self.running += np.where(rise > 0, self.step_h, 0.0)
        self._answer(watts, flow)

    def _book(
        self, books: dict[str, Array], rh: Array, flow: Array, s1: Number, capacity: Array, come: Array, drawn: Number
    ) -> None:
        mean = mean_over_step(rh, flow, s1, capacity, come + self.source - drawn, self.step_h)
        books["in"] = books["in"] + come * self.step_h
        books["out"] = books["out"] + flow * s1 * mean * self.step_h
        books["given"] = books["given"] + self.source * self.step_h
        books["drawn"] = books["drawn"] + drawn * self.step_h
