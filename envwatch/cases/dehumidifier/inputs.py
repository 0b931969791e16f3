"""What a person may say about a room and a machine. What is None is told as assumed."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from envwatch.cases.dehumidifier.machine import Machine
from envwatch.climate.outdoors import Outdoors
from envwatch.core.errors import BadInput, Question


@dataclass(frozen=True)
class Weighed:
    """Water weighed over a span: drawn off by a machine (tank), or given off by a tray or humidifier."""

    start: pd.Timestamp
    end: pd.Timestamp
    litres: float
    drawn_off: bool = True

    def __post_init__(self) -> None:
        if not (self.end > self.start and self.litres > 0):
            raise BadInput(f"weighed water: {self.litres:g} L from {self.start} to {self.end}; give litres above 0 "
                           "and an end after the start")  # fmt: skip

    def grams_h(self, time: pd.DatetimeIndex):
        """Grams an hour on hourly times, spread evenly; below 0 where drawn off."""
        hours = (self.end - self.start) / pd.Timedelta(hours=1)
        rate = self.litres * 1000 / hours * (-1 if self.drawn_off else 1)
        return rate * ((time >= self.start) & (time < self.end))


@dataclass(frozen=True)
class Money:
    """The user's own figures; what is None is not put into any sum."""

    tariff_kwh: float | None = None
    currency: str = ""
    service_year: float | None = None
    life_years: float | None = None
    retreatment_hours: float | None = None

    def __post_init__(self) -> None:
        for name, value in (("tariff", self.tariff_kwh), ("service", self.service_year), ("life", self.life_years),
                            ("retreatment_hours", self.retreatment_hours)):  # fmt: skip
            if value is not None and not value >= 0:
                raise BadInput("give 0 or more", field=name, seen=f"{value:g}")
        if self.life_years is not None and not self.life_years > 0:
            raise BadInput("give the years that the machine is to last", field="life", seen=0)


Range = tuple[float, float]


@dataclass(frozen=True, eq=False)
class DryingInputs:
    """All that was said. Ranges are 80 % ranges; a single figure is a range of no width.

    Attributes
    ----------
    outdoors : None: the studio's own outdoor logger.
    first, last : span of the log to be used, UTC; None: its last year.
    machines : those to try; none: common sizes.
    surface_below_k : coldest surface, so much colder than the room. [K]
    visit_days, hours_away : weekdays at which a tank is emptied, Monday 0; or the longest time nobody does.
    tank_l : None: drained through a hose.
    machine_in_log : "", "no" or "yes": whether a machine ran in the log.
    sink : "", or "keep": a room that loses water of itself is taken as it is.
    others : other things in the room that drying may harm; None: not said.
    treated_on : from when the paintings are judged as treated; None: the start of the run.
    """

    outdoors: Outdoors | None = None
    volume_m3: float | None = None
    air_change_h: Range | None = None
    source_g_h: Range | None = None
    buffer_g: float | None = None
    weighed: tuple[Weighed, ...] = ()
    first: pd.Timestamp | None = None
    last: pd.Timestamp | None = None
    machine_in_log: str = ""
    sink: str = ""
    machines: tuple[Machine, ...] = ()
    set_percent: float | None = None
    tank_l: float | None = None
    visit_days: tuple[int, ...] = ()
    hours_away: float | None = None
    surface_below_k: float | None = None
    heat_loss_w_k: float | None = None
    tighten_to: float | None = None
    hire: Range | None = None  # first and last month are found where not given
    others: tuple[str, ...] | None = None
    treated_on: pd.Timestamp | None = None
    money: Money = Money()
    draws: int | None = None
    seed: int = 1871

    def __post_init__(self) -> None:
        for name, least, most, value in (
            ("volume", 1, 1e6, self.volume_m3), ("set", 20, 90, self.set_percent),
            ("tank", 0.1, 1000, self.tank_l), ("tighten_to", 0.01, 1, self.tighten_to),
            ("heat_loss", 0.1, 1e6, self.heat_loss_w_k), ("cold_wall", 0, 30, self.surface_below_k),
            ("buffer", 0, 1e7, self.buffer_g), ("hours_away", 1, 5000, self.hours_away),
            ("draws", 10, 20_000, self.draws),
        ):  # fmt: skip
            if value is not None and not least <= value <= most:
                raise BadInput(f"expected {least:g} to {most:g}", field=name, seen=f"{value:g}")
        for name, span in (("air_change", self.air_change_h), ("source", self.source_g_h)):
            if span is not None and not 0 <= span[0] <= span[1]:
                raise BadInput("give a figure, or lowest-highest, not below 0", field=name,
                               seen=f"{span[0]:g} to {span[1]:g}")  # fmt: skip
        if self.air_change_h is not None and self.air_change_h[0] == 0:
            raise BadInput("no room is that tight; give a figure above 0", field="air_change", seen=0)
        when = bool(self.visit_days) or self.hours_away is not None
        if self.tank_l is not None and not when:
            raise Question("⟦tank⟧ says how large it is, not when somebody empties it.", "visits",
                           answer="⟦visits⟧, ⟦hours_away⟧")  # fmt: skip
        if self.tank_l is None and when:
            raise Question("The days of emptying are given, not how much the tank holds, in litres.", "tank")
