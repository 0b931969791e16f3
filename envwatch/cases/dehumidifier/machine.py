"""Machines: how much water a day, at which rating point, at what cost in current, and how that falls in other air.

A capacity cannot be given without its rating point, nor as a bare number: litres a day and US pints a day are types.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from envwatch.core.errors import BadInput
from envwatch.figures import dehumidifier as fig
from envwatch.logs.weather import cell_rows
from envwatch.physics.room import Drying, curve_share

FLAT = (1.0, 0.0, 0.0, 0.0, 0.0, 0.0)


@dataclass(frozen=True)
class RatingPoint:
    """The air at which a capacity is told. [°C], [% RH]"""

    temp_c: float
    rh_percent: float

    def __post_init__(self) -> None:
        if not 0 < self.temp_c < 45:
            what = f"a rating point at {self.temp_c:g} °C; labels are told between 0 and 45 °C"
            raise BadInput(what, field="rated_at")
        if not 1 < self.rh_percent <= 100:
            what = f"a rating point at {self.rh_percent:g} % RH; give percent, 20 to 100, not a fraction"
            raise BadInput(what, field="rated_at")

    @classmethod
    def parse(cls, text: str) -> RatingPoint:
        """From a label such as "27C/60%", "27 °C and 60 % RH" or "65F/60%".

        >>> RatingPoint.parse("65F/60%").words
        '18.3 °C and 60 %'
        """
        match = re.fullmatch(r"\s*([\d.,]+)\s*°?\s*([CF])\D+([\d.,]+)\s*%.*", text, re.IGNORECASE)
        if not match:
            what = "not a rating point. Write it as on the label, such as 27C/60%"
            raise BadInput(what, field="rated_at", seen=f'"{text}"')
        degrees, unit, percent = match[1].replace(",", "."), match[2].upper(), match[3].replace(",", ".")
        temp_c = float(degrees) if unit == "C" else (float(degrees) - 32) / 1.8
        return cls(temp_c, float(percent))

    @property
    def words(self) -> str:
        return f"{self.temp_c:.1f}".removesuffix(".0") + f" °C and {self.rh_percent:g} %"


@dataclass(frozen=True)
class Litres:
    """Litres a day."""

    a_day: float

    @property
    def grams_h(self) -> float:
        return self.a_day * 1000 / 24


@dataclass(frozen=True)
class USPints:
    """US pints a day, 0.473 litres each."""

    a_day: float

    @property
    def grams_h(self) -> float:
        return self.a_day * float(fig.US_PINT_L) * 1000 / 24


@dataclass(frozen=True)
class Capacity:
    """Water a day at a rating point.

    Raises
    ------
    TypeError : a bare number: neither litres nor pints. BadInput : not above 0, or without a rating point.
    """

    amount: Litres | USPints
    rated_at: RatingPoint

    def __post_init__(self) -> None:
        if not isinstance(self.amount, Litres | USPints):
            raise TypeError(f"{self.amount!r} is neither Litres nor USPints: say which")
        if not isinstance(self.rated_at, RatingPoint):
            raise BadInput("a capacity without its rating point means nothing: give ⟦rated_at⟧ as on the label",
                           field="rated_at")  # fmt: skip
        if not (math.isfinite(self.amount.a_day) and self.amount.a_day > 0):
            what = f"a capacity of {self.amount.a_day:g} a day; give what the label says, above 0"
            raise BadInput(what, field="capacity")

    @property
    def litres_day(self) -> float:
        return self.amount.grams_h * 24 / 1000

    @property
    def words(self) -> str:
        told = f"{self.litres_day:.3g} L/day"
        if isinstance(self.amount, USPints):
            told += f" ({self.amount.a_day:g} US pints)"
        return f"{told} at {self.rated_at.words}"


@dataclass(frozen=True)
class SheetPoint:
    """One line of a maker's data sheet. `litres_per_kwh`: NaN where it is not told."""

    temp_c: float
    rh_percent: float
    litres_day: float
    litres_per_kwh: float = float("nan")

    def __post_init__(self) -> None:
        """BadInput: a figure that cannot be."""
        for name, low, high in (("temp_c", -30, 60), ("rh_percent", 0, 100), ("litres_day", 0, 10_000)):
            if not low <= getattr(self, name) <= high:
                raise BadInput(f"data sheet: {name} {getattr(self, name):g}: expected {low} to {high:g}")
        if not (math.isnan(self.litres_per_kwh) or 0 < self.litres_per_kwh <= 100):
            raise BadInput(f"data sheet: litres_per_kwh {self.litres_per_kwh:g}: expected over 0, or nothing")


@dataclass(frozen=True)
class Machine:
    """A dehumidifier. `litres_per_kwh` is at the rating point; curves are 1 there.

    Attributes
    ----------
    kind : "condensing" or "desiccant".
    price : in the user's own currency; None: not known, and no sum is made.

    Raises
    ------
    BadInput : a price under 0.
    """

    capacity: Capacity
    kind: str
    litres_per_kwh: float
    curve: tuple[float, ...]
    efficiency: tuple[float, ...]
    price: float | None = None
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if self.price is not None and not self.price >= 0:
            raise BadInput("give 0 or more", field="price", seen=f"{self.price:g}")

    @property
    def words(self) -> str:
        return f"{self.kind} machine of {self.capacity.words}"

    @property
    def off_below_c(self) -> float:
        return float(fig.CONDENSING_OFF_BELOW_C) if self.kind == "condensing" else -273.0

    @property
    def off_above_c(self) -> float:
        """Where it cuts out for heat, its own included. [°C]"""
        return float(fig.OFF_ABOVE_C[self.kind])

    def grams_h(self, temp_c, rh_percent) -> np.ndarray:
        """What its label promises in other air. Broadcast [°C], [% RH] -> [g/h]"""
        temp = np.asarray(temp_c, float)
        able = (temp >= self.off_below_c) & (temp < self.off_above_c)
        return self.capacity.amount.grams_h * curve_share(self.curve, temp_c, rh_percent) * able

    def rated_elsewhere(self, point: RatingPoint) -> float:
        """Litres a day that the same machine would be labelled with at another rating point."""
        return float(self.grams_h(point.temp_c, point.rh_percent)) * 24 / 1000

    def drying(self, set_percent, factor=1.0, efficiency_factor=1.0, **more) -> Drying:
        """As lanes of a simulation; factors scalar or (m,): what it truly does of its label."""
        return Drying(
            self.capacity.amount.grams_h * np.asarray(factor, float), np.asarray(self.curve, float),
            self.litres_per_kwh * np.asarray(efficiency_factor, float), np.asarray(self.efficiency, float),
            set_percent, self.off_below_c, self.off_above_c, **more,
        )  # fmt: skip


def _normalised(curve, at: RatingPoint) -> tuple[float, ...]:
    """The published curve, 1 at the machine's own rating point: at its nominal one it is 0.986, not 1."""
    return tuple(float(k) for k in np.asarray(curve, float) / curve_share(curve, at.temp_c, at.rh_percent))


def condensing(capacity: Capacity, litres_per_kwh: float | None = None, price: float | None = None) -> Machine:
    """A condensing machine by the published curve of its kind.

    Litres per kWh are those at the rating point; where not given, the least that has been allowed in the USA since
    2019, carried to the rating point by the curve.
    """
    at, notes = capacity.rated_at, ()
    efficiency = _normalised(fig.EFFICIENCY_CURVE, at)
    if litres_per_kwh is None:
        test = fig.RATING_POINTS["18.3 °C and 60 %"]
        litres_per_kwh = float(fig.CONDENSING_L_KWH / curve_share(efficiency, *test))
        notes = (
            f"litres per kWh not given: {fig.CONDENSING_L_KWH:g} at 18.3 °C and 60 % assumed, the least allowed in the "
            f"USA for small machines, which makes {litres_per_kwh:.2f} at {at.words}",
        )  # fmt: skip
    _refuse_efficiency(litres_per_kwh, 10.0)
    return Machine(
        capacity, "condensing", litres_per_kwh, _normalised(fig.CAPACITY_CURVE, at), efficiency, price, notes
    )


def desiccant(capacity: Capacity, litres_per_kwh: float | None = None, price: float | None = None) -> Machine:
    """A desiccant machine: taken as equally strong in any air, as no coefficients of one are published."""
    notes = ("a desiccant machine is taken as equally strong in any air: no curve of one is published",)
    if litres_per_kwh is None:
        litres_per_kwh = float(fig.DESICCANT_L_KWH)
        notes += (f"litres per kWh not given: {litres_per_kwh:g} assumed, from memory",)
    _refuse_efficiency(litres_per_kwh, float(fig.DESICCANT_MOST_L_KWH))
    return Machine(capacity, "desiccant", litres_per_kwh, FLAT, FLAT, price, notes)


def _refuse_efficiency(litres_per_kwh: float, most: float) -> None:
    if not 0 < litres_per_kwh <= most:
        what = f"a machine of this kind draws above 0 and at most {most:g}"
        raise BadInput(what, field="litres_per_kwh", place=f"{litres_per_kwh:g} litres per kWh")


def from_points(machine: Machine, points: tuple[SheetPoint, ...]) -> Machine:
    """The machine by its owner's data sheet, which beats the curve.

    One point scales the curve; two or more, by least squares, scale it and tilt it with temperature.

    Raises
    ------
    BadInput : no points, or points that make the machine draw less in warmer and damper air than nothing.
    """
    if not points:
        raise BadInput("a data sheet without points: give temp_c, rh_percent, litres_day in each row")
    rated, at = machine.capacity.litres_day, machine.capacity.rated_at
    curve = _tilted(machine.curve, at, points, [point.litres_day / rated for point in points])
    told = [point for point in points if math.isfinite(point.litres_per_kwh)]
    efficiency = machine.efficiency
    if told:
        shares = [point.litres_per_kwh / machine.litres_per_kwh for point in told]
        efficiency = _tilted(machine.efficiency, at, tuple(told), shares)
    note = f"capacity by {len(points)} points of the data sheet"
    return replace(machine, curve=curve, efficiency=efficiency, notes=(*machine.notes, note))


def _tilted(curve, at: RatingPoint, points: tuple[SheetPoint, ...], shares: list[float]) -> tuple[float, ...]:
    temp_c = np.array([point.temp_c for point in points])
    base = curve_share(curve, temp_c, np.array([point.rh_percent for point in points]))
    columns = np.column_stack([base, temp_c - at.temp_c])
    if len(points) < 2 or np.ptp(temp_c) < 1:
        columns = columns[:, :1]
    scale, *tilt = np.linalg.lstsq(columns, np.array(shares), rcond=None)[0]
    tilt = tilt[0] if tilt else 0.0
    made = [float(k * scale) for k in curve]
    made[0] -= float(tilt * at.temp_c)
    made[1] += float(tilt)
    if curve_share(made, at.temp_c, at.rh_percent) <= 0:
        raise BadInput("the points of the data sheet make the machine draw nothing at its own rating point")
    return tuple(made)


def needed_litres_day(load_g_h: float, temp_c: float, rh_percent: float, rated_at: RatingPoint, kind="condensing",
                      duty: float = fig.DUTY) -> float:  # fmt: skip
    """Litres a day that the label must promise at its rating point to carry a load in the room's own air.

    Parameters
    ----------
    load_g_h : water to be drawn. [g/h]
    temp_c, rh_percent : of the room at its target. [°C], [% RH]
    duty : share of the hour the machine may run.

    >>> at = RatingPoint(80 / 1.8 - 32 / 1.8, 60)
    >>> round(needed_litres_day(370.1, 20.0, 55.0, at), 1)
    17.8
    """
    share = 1.0
    if kind == "condensing":
        share = float(curve_share(_normalised(fig.CAPACITY_CURVE, rated_at), temp_c, rh_percent))
        share *= temp_c >= fig.CONDENSING_OFF_BELOW_C
    return float("inf") if share <= 0 else 0.024 * load_g_h / (share * float(duty))


def cycling_minutes(capacity_g: float, band_percent: float, load_g_h: float, able_g_h: float) -> tuple[float, float]:
    """How long a machine stands and runs within the band of its humidistat. [min], [min]

    Parameters
    ----------
    capacity_g : what air and things hold for each % RH. [g/% RH]

    >>> [round(minutes, 2) for minutes in cycling_minutes(6.395, 4.0, 80.4, 250.0)]
    [19.09, 9.05]
    """
    stored = capacity_g * band_percent * 60
    stands = stored / load_g_h if load_g_h > 0 else float("inf")
    return stands, stored / (able_g_h - load_g_h) if able_g_h > load_g_h else float("inf")


def data_sheet(path: Path):
    """Points of a maker's data sheet: columns temp_c, rh_percent, litres_day, and litres_per_kwh where it is told."""
    if not path.is_file():
        what = "no such file. Columns: temp_c, rh_percent, litres_day, litres_per_kwh"
        raise BadInput(what, field="curve", seen=path)
    rows = cell_rows(path)
    try:
        return tuple(
            SheetPoint(float(row["temp_c"]), float(row["rh_percent"]), float(row["litres_day"]),
                  float(row.get("litres_per_kwh") or "nan"))
            for row in rows
        )  # fmt: skip
    except (KeyError, TypeError, ValueError):
        raise BadInput(
            "expected numbers under temp_c, rh_percent, litres_day, litres_per_kwh", place=path.name
        ) from None
