"""One layer, one mechanism: from hourly series and hourly limits to a level, its worst hour and its spell."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np
import pandas as pd

from envwatch import climate
from envwatch.climate.exposure import Exposure
from envwatch.climate.series import Climate
from envwatch.core.arrays import Array, ArrayLike, Mask, Whole
from envwatch.core.findings import Level, Mechanism
from envwatch.core.place import Point, Sensor
from envwatch.core.words import Word
from envwatch.figures import Figure
from envwatch.figures import lining as fig
from envwatch.figures.coverage import SPELL_BRIDGES_H, WINDOW_NEEDS
from envwatch.figures.materials import Limits
from envwatch.hazards.hourly import HOUR, HourlyExposure
from envwatch.hazards.lining.layers import BondedLayer, Steps

HEAT, DAMP, DRY, COLD, SWING = MECHANISMS = (
    Mechanism.HEAT, Mechanism.DAMP, Mechanism.DRY, Mechanism.COLD, Mechanism.SWING,
)  # fmt: skip
OF_WARMTH, LOWER_IS_WORSE = (HEAT, COLD), (DRY, COLD)
SETTLES_H = DAY_H = 24
MONTH_H = 720  # the longest window
SERIES = ("temp_c", "rh_percent", "lagged_percent", "settled_percent")
NONE = float("nan")


class Length(Word):
    """Of what a value is the mean, or the range."""

    HOUR, DAY, MONTH = "hour", "day", "month"


LIMITS = {DAMP: "damp_percent", DRY: "dry_percent", COLD: "cold_c", SWING: "swing_percent"}
TESTS: dict[Mechanism, tuple[tuple[Length, str, str, int, str | None], ...]] = {
    HEAT: (
        (Length.HOUR, "", "temp_c", 1, None),
        (Length.DAY, "mean", "temp_c", DAY_H, "intended"),
        # a few intended hours do not carry a month, and leaving them out would leave the month unformed
        (Length.MONTH, "mean", "temp_c", MONTH_H, None),
    ),
    DAMP: ((Length.DAY, "mean", "lagged_percent", DAY_H, "drying"),),
    DRY: ((Length.DAY, "mean", "lagged_percent", DAY_H, "drying"),),
    COLD: ((Length.HOUR, "", "temp_c", 1, None),),
    SWING: ((Length.DAY, "range", "settled_percent", DAY_H, "drying"),),
}  # of each mechanism: of what a value is formed, as what, of which series, over how many hours, without which hours


@dataclass(frozen=True, eq=False)
class LayerAir(HourlyExposure):
    """What a layer went through at one point: temperature, and the humidity it came to by the lag of its build-up.

    Attributes
    ----------
    lagged_percent : (n,) what the layer has come to; NaN where nothing was read.
    settled_percent : (n,) the same without the hours in which it still leans on the state it was begun with.
    """

    lagged_percent: Array
    settled_percent: Array
    cut_from: LayerAir | None = None  # all rows, where this holds the recent ones alone
    ends: tuple[Array, Array] | None = None  # between which a range is at its widest, where gaps leave it open
    _made: dict[tuple[str, str, int, int, str | None], Array] = field(default_factory=dict, repr=False)

    def window(self, how: str, values: str, hours: int, born: int, mask: str | None) -> Array:
        """A running "mean" or "range" of a series, from row `born` on; hours under `mask` do not go in. (n,)"""
        key = (how, values, hours, born, mask)
        if key not in self._made:
            unseen = np.zeros(len(self.time), bool) if mask is None else np.array(getattr(self, mask))
            unseen[:born] = True
            if how == "mean":  # kept between least and largest of its window, where rounding could carry it out
                series = np.where(unseen, np.nan, getattr(self, values))
                least, most = climate.running_extremes(series, hours)
                self._made[key] = np.clip(climate.running_mean(series, hours), least, most)
            else:
                of = self.ends or (getattr(self, values),) * 2
                low, high = (np.where(unseen, np.nan, end) for end in of)
                self._made[key] = climate.running_range(low, hours, highest=high)
        return self._made[key]

    @cached_property
    def judged_temp_c(self) -> Array:
        """Temperature in the judged hours that were read and not intended. (m,) [°C]"""
        return self.temp_c[self.judged(1) & ~self.intended & np.isfinite(self.temp_c)]

    def trusted(self) -> LayerAir:
        """The same without the hours that bear a mark of doubt."""
        kept: dict[str, Any] = {name: np.where(self.suspect, np.nan, getattr(self, name)) for name in SERIES}
        return replace(self, **kept, _made={})

    def at_worst(self, mechanism: Mechanism) -> LayerAir | None:
        """The same at the worst that gaps leave open for a mechanism; None where there are none that matter.

        Warmth is as hot (cold: as cold) as it ever was in the week about a gap. Humidity is the most (dryness: the
        least) that the layer may have come to, and a range lies between the two, but for the first hours of the record,
        which lean on its begin.
        """
        whole = self.cut_from or self
        recent = slice(len(whole.time) - len(self.time), None)
        if mechanism in OF_WARMTH:
            asked = self.judged_rows(1)
            if np.isfinite(self.temp_c[max(asked.start - MONTH_H, 0) : asked.stop]).all():
                return None
            temp_c = whole.temp_at_worst(-1 if mechanism is COLD else 1)
            return replace(self, temp_c=temp_c[recent], cut_from=None, _made={})
        asked = slice(max(self.judged_rows(DAY_H).start - DAY_H - int(10 * self.tau_h), 0), None)
        if np.isfinite([self.rh_percent[asked], self.temp_c[asked]]).all():
            return None
        begun = np.arange(len(whole.time)) >= min(3 * self.tau_h, SETTLES_H)
        low, high = (np.where(begun, end, np.nan)[recent] for end in (whole.held.lowest, whole.held.highest))
        return replace(
            self, lagged_percent=(whole.held.lowest if mechanism is DRY else whole.held.highest)[recent],
            ends=(low, high), temp_c=whole.temp_at_worst(1)[recent], cut_from=None, _made={},
        )  # fmt: skip

    def temp_at_worst(self, sign: int) -> Array:
        """Temperature with gaps as hot (-1: as cold) as it was about them, once for all layers of an air. (n,) [°C]"""
        key = ("temperature at worst", self.point, self.start, sign)
        return self.exposure.once(key, lambda: climate.worst_in_gaps(self.temp_c, sign))

    def gap_doubt(self, row: int) -> float:
        """How far gaps before a row leave the lagged humidity open, as a half-width. [% RH]"""
        recent = self.rh_percent[max(row - int(10 * self.tau_h), 0) : row + 1]
        if np.isfinite(recent).all():
            return 0.0
        low, held, high = climate.lagged_range(recent, self.tau_h)
        doubt = max(high[-1] - held[-1], held[-1] - low[-1])
        return float(doubt) if np.isfinite(doubt) else 0.0


def air_at(exposure: Exposure, start: pd.Timestamp, point: Point, there: Climate, tau_h: float) -> LayerAir:
    """The recent rows of the air at a point for layers of one lag.

    They decide what the period shows: its own rows, and those that its windows and its lag look back on.
    """
    air = HourlyExposure.at(exposure, start, point, there, tau_h)
    # the lag runs through short gaps, but an hour that was not read stays unread
    lagged = np.where(np.isfinite(air.rh_percent), air.held.held, np.nan)
    # settled: three time constants, at most a day, after the begin of the record and after a gap of a day or more
    read, rows = np.isfinite(lagged), np.arange(len(lagged))
    last_read = np.append(-SETTLES_H, np.maximum.accumulate(np.where(read, rows, -SETTLES_H))[:-1])
    begun = np.maximum.accumulate(np.where(read & (rows - last_read >= SETTLES_H), rows, -1))
    settled = np.where(read & (rows - begun >= min(3 * tau_h, SETTLES_H)), lagged, np.nan)
    whole = LayerAir.at(exposure, start, point, there, tau_h, lagged_percent=lagged, settled_percent=settled)
    first = max(min(whole.judged_rows(1).start, len(rows)) - MONTH_H - int(10 * tau_h), 0)
    kept: dict[str, Any] = {name: getattr(whole, name)[first:] for name in ("time", *SERIES)}
    return replace(whole, **kept, cut_from=whole, _made={}) if first else whole


def level_of(values: ArrayLike, watch: ArrayLike, act: ArrayLike, urgent: ArrayLike) -> Whole:
    """Level of each value that is worse the higher it is; NaN limits are not there, NaN values UNKNOWN.

    Array-like, broadcast together -> `Level` as integers. Source: as the limits given.

    >>> level_of([30.0, 36.0, 50.0, float("nan")], 35, 40, 45).tolist()
    [0, 2, 4, 1]
    """
    values = np.asarray(values, np.float64)
    level = np.where(np.isfinite(values), int(Level.CLEAR), int(Level.UNKNOWN))
    for limit, reached in ((watch, Level.WATCH), (act, Level.ACT), (urgent, Level.URGENT)):
        level = np.where(values >= limit, int(reached), level)
    return level


@dataclass(frozen=True, eq=False)
class LayerTest:
    """How one layer came through one test at one point.

    `limits`: those of the materials file, before first weeks and the glue line make them stricter. `limit` is the one
    of the level reached, or the first one where none was; `steps` are all of them at that hour; `figure` is the figure
    of the materials file that set the limit, None where a rule made it stricter. `graded` is, where it is
    raised, the level in each hour that counts, -1 in others. Without a formed value, `row` is -1.
    """

    mechanism: Mechanism
    test: Length
    window_h: int
    link: BondedLayer
    air: LayerAir
    born: int  # the first row at which the layer is there
    limits: Limits
    sign: int  # -1 where lower is worse
    unit: str
    level: Level = Level.UNKNOWN
    value: float = NONE
    limit: float = NONE
    steps: tuple[float, float, float] = (NONE, NONE, NONE)
    figure: Figure | None = None
    row: int = -1
    at: Any = None  # the worst hour; None without one
    sensor: Sensor = (
        Sensor()
    )  # the trust in the loggers that read the hours behind the value, and what its lag leans on
    graded: Whole | None = None
    over: Mask | None = None  # hours at the level reached, those after the period too
    trimmed: bool = False  # one level worse because of the tacking margins
    held_by_cold: Level | None = None  # the level its humidity would have had in warmer air
    too_new: bool = False  # the layer has not been there for the length of the window
    all_intended: bool = False

    def spell(self) -> tuple[float, pd.Timestamp | None]:
        """Hours of the period at the level reached, and since when; that may be before the period.

        Since the start of the spell that goes on at the end, else of the one with the worst hour.
        """
        if self.graded is None or self.level < Level.WATCH:
            return 0.0, None
        over, returns = self.graded >= int(self.level), self.test == Length.HOUR
        bridge_h = fig.RETURNS_WITHIN_H if returns else SPELL_BRIDGES_H
        found = climate.spells(self.air.time, over, float(bridge_h), half=not returns)
        since = next((s.start for s in found if s.start <= self.at < s.end), self.at)
        if found and found[-1].end >= self.air.exposure.end:
            since = found[-1].start
        return float((self.air.judged(self.window_h) & over).sum()), since

    @property
    def rank(self) -> tuple[int, int, bool, float, *tuple[str, ...]]:
        """Worse is greater; at equal level a layer that was put on before one that is only assumed.

        The names only make the choice the same whatever the order of layers.
        """
        layer, known = self.link.layer, 0
        if self.level >= Level.WATCH and not self.link.assumed:  # entered, and with the day it was put on
            known = 1 if layer.applied_on is None else 2
        softens = self.mechanism == HEAT and self.link.profile.softening_c is not None  # named before what only dries
        over = self.sign * (self.value - self.limit)  # how far over its limit, negative within it
        names = self.link.name, layer.area, self.test, str(layer.applied_on), str(self.link.born)
        return int(self.level), known, softens, over if np.isfinite(over) else -np.inf, *names


def readings(mechanism: Mechanism, link: BondedLayer, air: LayerAir, raise_intended: bool = False) -> list[LayerTest]:
    """All tests of one mechanism. With `raise_intended`, intended hours count like any other."""
    born = 0 if link.born is None else int(air.time.searchsorted(link.born.floor("h")))
    day_temp_c = air.window("mean", "temp_c", DAY_H, born, None) if mechanism == DAMP else None
    sign, unit = -1 if mechanism in LOWER_IS_WORSE else 1, "°C" if mechanism in OF_WARMTH else "% RH"
    made = []
    for length, how, series, hours, left_out in TESTS[mechanism]:
        values = air.window(how, series, hours, born, None if raise_intended else left_out) if how else air.temp_c
        limits: Limits = getattr(link.profile, LIMITS.get(mechanism, f"heat_{length}_c"))
        test = LayerTest(mechanism, length, hours, link, air, born, limits, sign, unit)
        made.append(_decided(test, values, day_temp_c, raise_intended))
    return made


def _decided(test: LayerTest, values: Array, day_temp_c: Array | None, raised: bool) -> LayerTest:
    """A test with its level and its worst hour: of those at the highest level, the one farthest over what it passed.

    Unformed if no hour counts. The judged hours are graded first: only what passes a limit in them is followed through
    the whole record, for its spell and for what another week tells of it.
    """
    air, link, hours, sign, seen = test.air, test.link, test.window_h, test.sign, None
    rows = air.judged_rows(hours)
    hour = _graded(test, values, day_temp_c, raised, rows)
    if (hour.level >= Level.WATCH).any():
        rows, hour = slice(0, len(values)), _graded(test, values, day_temp_c, raised, slice(0, len(values)))
        worse = np.where(hour.level >= 0, sign * values, -np.inf)
        seen = air.told_rows(hours, worse, hour.level) & (hour.level >= 0)
    at = np.flatnonzero(hour.level >= 0 if seen is None else seen)
    if not len(at):
        return replace(
            test, too_new=not hour.there.any(), all_intended=bool(hour.there.any() and not hour.counts.any())
        )
    level = int(hour.level[at].max())
    at = at[hour.level[at] == level]
    # what deep cold holds down is told by the limit of the level it is held at
    limits = np.choose(np.maximum(np.minimum(hour.plain, level) - int(Level.WATCH), 0), hour.steps)
    best = int(at[np.argmax(sign * (values[rows] - limits)[at])])
    row, limit, plain = rows.start + best, float(limits[best]), Level(int(hour.plain[best]))
    watch, act, urgent = (float(step[best]) for step in hour.steps)
    weeks = link.profile.first_weeks
    stricter = {DAMP: weeks.damp_watch_percent, SWING: weeks.swing_watch_percent}.get(test.mechanism)
    figures = (test.limits.watch, test.limits.act, test.limits.urgent, stricter)
    decided = replace(
        test, level=Level(level), value=float(values[row]), limit=limit, steps=(watch, act, urgent), row=row,
        at=air.time[row], sensor=air.sensor_at(row, hours, 0.0 if test.mechanism in OF_WARMTH else air.tau_h),
        figure=next((figure for figure in figures if figure is not None and figure == limit), None),
        trimmed=level > plain, held_by_cold=plain if level < plain else None,
    )  # fmt: skip
    if level < Level.WATCH:
        return decided
    if test.test != Length.MONTH:
        over = hour.level >= min(level, Level.ACT)
    else:  # hours whose day was as warm as the limit of 30 days: the air, not the mean that trails behind it
        over = air.window("mean", "temp_c", DAY_H, 0, None) >= (np.nanmin([limit, act]) if level > 2 else limit)
    graded = hour.level.copy()
    graded[air.judged_rows(hours).stop :] = -1
    return replace(decided, over=over, graded=graded)


class Graded(NamedTuple):
    """Some hours of a test: whether the layer is there, whether they count, its limits, its level and how it came."""

    there: Mask
    counts: Mask
    steps: Steps
    plain: Whole  # `Level` before trimmed margins and deep cold
    level: Whole  # -1 in hours that do not count


def _graded(test: LayerTest, values: Array, day_temp_c: Array | None, raised: bool, rows: slice) -> Graded:
    """The hours of some rows against the limits of each. `raised`: intended ones count too."""
    link, air, values = test.link, test.air, values[rows]
    day_temp_c = None if day_temp_c is None else day_temp_c[rows]
    first = 0 if link.born is None else test.born + int(np.ceil(WINDOW_NEEDS * test.window_h)) - 1
    counts = there = np.arange(rows.start, rows.stop) >= first
    if not raised:
        counts = there & ~(air.intended if test.mechanism in OF_WARMTH else air.drying)[rows]
    steps = link.limits(test.mechanism, test.limits, air.time[rows], day_temp_c)
    plain = level = level_of(test.sign * values, *(test.sign * step for step in steps))
    if day_temp_c is not None and link.freezes_dry:  # watch at most in deep cold, unless the air is near saturation
        cold = (day_temp_c < fig.COLD_CAP_TEMP_C) & (values < fig.COLD_CAP_PERCENT)
        level = np.where(cold, np.minimum(level, int(Level.WATCH)), level)
    if test.mechanism == HEAT and link.trimmed:
        level = np.where((level == Level.WATCH) | (level == Level.ACT), level + 1, level)
    return Graded(there, counts, steps, plain, np.where(counts & np.isfinite(values), level, -1))


__all__ = ["HOUR", "MECHANISMS", "LayerTest", "level_of", "readings"]
