"""The hours over a humidity that the damp clock counts, with what was not read taken as held, as dry or as damp.

Held: a short stretch not read between two damp hours counts as damp (`climate.held`). Dry: what was not read counts
for nothing. Damp: it is at the dampest read within a week about it (`climate.worst_in_gaps`; saturated where nothing
was), and before the record as in the dampest of its first hours. So with less read the least is never more, and the
most never less unless what was worst has gone; a level that these ends part is not certain.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import Enum

import numpy as np
import pandas as pd

from envwatch import climate
from envwatch.core.arrays import Array, Mask, Whole
from envwatch.core.findings import Level
from envwatch.figures import mould as fig
from envwatch.figures.coverage import SPELL_BRIDGES_H
from envwatch.hazards.grading import grade
from envwatch.hazards.mould.surfaces import Surface, run_start

HOUR = pd.Timedelta(hours=1)
STEPS = (None, *fig.DAMP_CLOCK)  # None: the seven-day mean
BEFORE_H = max(int(rung.within or rung.hours) for rung in fig.DAMP_CLOCK)  # the longest that a step looks back


class Taken(Enum):
    """What hours count as in which nothing was read."""

    HELD = "held"
    DRY = "dry"
    DAMP = "damp"


@dataclass(frozen=True)
class DampnessTest:
    """What one step of the clock shows."""

    level: Level
    value: float
    limit: float
    unit: str
    since: pd.Timestamp | None = None
    worst_at: pd.Timestamp | None = None
    running: bool = False  # the spell had not ended when the record did
    unread_h: int = 0  # hours in it that were not read

    @property
    def share(self) -> float:
        return self.value / self.limit


@dataclass(frozen=True, eq=False)
class DampAir:
    """The air of a surface, on readings shifted together. Hours of an intended stay pass nothing, read or not."""

    surface: Surface
    rh_percent: Array  # (before + n,), NaN where intended and where not read, but where taken as damp
    temp_c: Array
    unread: Mask  # true where it was not read and is no intended stay
    taken: Taken
    before: int  # rows before the record
    kept_over: dict[float, Mask] = field(default_factory=dict)
    kept_lasting: dict[float, Whole] = field(default_factory=dict)

    @classmethod
    def of(
        cls, surface: Surface, shift_percent: float = 0.0, taken: Taken = Taken.HELD, before: bool = True
    ) -> DampAir:
        """The whole record of a surface. `before` False: nothing is taken of the time before it."""
        surface = surface.whole
        rh = np.where(surface.intended, np.nan, np.clip(surface.rh_percent + shift_percent, 0, 100))
        unread = ~surface.read & ~surface.intended
        if taken is not Taken.DAMP:
            return cls(surface, rh, surface.temp_c, unread, taken, 0)
        first = rh[np.isfinite(rh)][: int(SPELL_BRIDGES_H)]
        lead = np.full(BEFORE_H if before and len(first) else 0, first.max(initial=0))
        rh = np.where(unread & np.isnan(rh), _at_worst(rh, 100.0), rh)
        temp = np.where(surface.intended, surface.temp_c, _at_worst(surface.temp_c, float(fig.MONTH_MEAN_TO_C)))
        warm = np.full(len(lead), float(fig.MONTH_MEAN_TO_C))
        unread = np.append(np.ones(len(lead), bool), unread)
        return cls(surface, np.append(lead, rh), np.append(warm, temp), unread, taken, len(lead))

    def over(self, limit: float) -> Mask:
        """Hours over a humidity, warm enough for the clock. (before + n,)"""
        key = float(limit)
        if key not in self.kept_over:
            passed = (self.rh_percent > key) & (self.temp_c > fig.COLD_CLOCK_C)
            if self.taken is Taken.HELD and self.unread.any():
                dry = (self.rh_percent <= key) | (self.temp_c <= fig.COLD_CLOCK_C)  # one of the two may tell it alone
                passed = climate.held(passed, self.unread & ~dry)
            self.kept_over[key] = passed
        return self.kept_over[key]

    def lasting(self, limit: float) -> Whole:
        """Hours of the spell over a humidity that ends with each row of the record. (n,)"""
        key = float(limit)
        if key not in self.kept_lasting:
            self.kept_lasting[key] = climate.hours_in_spell(self.over(key))[self.before :]
        return self.kept_lasting[key]

    def read(self, rungs: tuple[fig.Rung | None, ...] = STEPS) -> list[DampnessTest]:
        """Steps of the clock in the judged period; None is the seven-day mean."""
        return [
            self._week() if rung is None else self._within(rung) if rung.within else self._longest(rung)
            for rung in rungs
        ]

    def _week(self) -> DampnessTest:
        surface, n = self.surface, len(self.surface.time)
        course = climate.running_mean(self.rh_percent, int(fig.WEEK_H))[self.before :]
        known = np.where(np.isfinite(self.rh_percent[self.before :]), course, np.nan)  # a gap says nothing new
        mean = surface.told(known, fig.WEEK_H, (fig.WEEK_MEAN_WATCH,))
        if not np.isfinite(mean).any():
            return DampnessTest(Level.UNKNOWN, np.nan, fig.WEEK_MEAN_WATCH, "% RH, seven-day mean")
        at = int(np.nanargmax(mean))
        over = np.nan_to_num(course) >= fig.WEEK_MEAN_WATCH
        since = surface.time[run_start(over, at)] if over[at] else None
        level = grade(float(mean[at]), fig.WEEK_MEAN_WATCH)
        missed = self._unread_in(max(at + 1 - int(fig.WEEK_H), 0), min(at + 1, n))
        return DampnessTest(
            level, float(mean[at]), fig.WEEK_MEAN_WATCH, "% RH, seven-day mean", since, surface.time[at],
            unread_h=missed,
        )  # fmt: skip

    def _longest(self, rung: fig.Rung) -> DampnessTest:
        surface, unit = self.surface, f"h unbroken over {rung.over:g} % RH"
        lasted = np.nan_to_num(surface.told(self.lasting(rung.over), rung.hours, (rung.hours,)))
        if not lasted.any():
            return DampnessTest(Level.CLEAR, 0.0, rung.hours, unit)
        at, stop = int(np.argmax(lasted)), surface.judged_rows(rung.hours).stop
        first = max(int(climate.rows_of_spells(self.over(rung.over)[: self.before + at + 1])[0][-1]) - self.before, 0)
        level = Level[rung.grade.upper()] if lasted[at] >= rung.hours else Level.CLEAR
        return DampnessTest(
            level, float(lasted[at]), rung.hours, unit, surface.time[first],
            surface.time[at] + HOUR, at == stop - 1, self._unread_in(first, at + 1),
        )  # fmt: skip

    def _within(self, rung: fig.Rung) -> DampnessTest:
        surface, window = self.surface, int(rung.within or 0)
        unit = f"h over {rung.over:g} % RH in {window // 24} days"
        passed, rows = self.over(rung.over), surface.judged_rows(window)
        total = np.cumsum(passed)
        counted = total - np.append(np.zeros(min(window, len(total)), int), total[:-window])
        counted = counted[self.before :][rows]
        if not len(counted):
            return DampnessTest(Level.CLEAR, 0.0, rung.hours, unit)
        top = int(np.argmax(counted))
        value, at = float(counted[top]), rows.start + top
        began = climate.rows_of_spells(passed[: self.before + at + 1])[0]
        since = surface.time[max(int(began[-1]) - self.before, 0)] if len(began) else None
        level = Level[rung.grade.upper()] if value >= rung.hours else Level.CLEAR
        return DampnessTest(
            level, value, rung.hours, unit, since, surface.time[at],
            unread_h=self._unread_in(max(at + 1 - window, 0), at + 1),
        )  # fmt: skip

    def _unread_in(self, first: int, stop: int) -> int:
        return int(self.unread[self.before + first : self.before + stop].sum())


def _at_worst(values: Array, unknown: float) -> Array:
    """Gaps at the highest about them; where nothing was read so near, at a value for what nobody knows."""
    if np.isfinite(values).all():
        return values
    worst = climate.worst_in_gaps(values)
    return np.where(np.isnan(worst), unknown, worst)
