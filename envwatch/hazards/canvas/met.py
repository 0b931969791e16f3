"""Whether air that is raised is within what this canvas, or a layer of it, has met before; arrays only.

Dryness, swings and distance from the mean, over an hour, a day, a week and a month apart, and apart again where the
window was cold. What was met is shrunk by what the loggers may be off and by a margin; which hours count as met is
decided by whoever asks (`cases/review/met`). Hours in doubt, under a mark, intended, or read by a neighbour's logger
are none of it; of the hours judged, what was not read is taken at its worst.

Source: ours. A proofed fluctuation (michalski-rh) and a historic climate (en-15757) are published; neither says this.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pandas as pd

from envwatch import climate
from envwatch.core.arrays import Array, Mask
from envwatch.core.findings import Mechanism
from envwatch.core.place import Sensor, poorest
from envwatch.figures import canvas as fig
from envwatch.hazards.hourly import HOUR, HourlyExposure, judged_from

LENGTHS_H = (1, 24, 168, 720)
NAMES = {1: "hour", 24: "day", 168: "week", 720: "month"}
DRY, SWING, BEYOND = Mechanism.DRY, Mechanism.SWING, Mechanism.BEYOND
KINDS = {
    Mechanism.DRY_AIR: DRY, Mechanism.DRY: DRY, Mechanism.CHANGE: SWING, Mechanism.SWING: SWING,
    Mechanism.BEYOND: BEYOND,
}  # fmt: skip
Spans = tuple[tuple[pd.Timestamp, pd.Timestamp], ...]
Pairs = frozenset[frozenset[str]]


@dataclass(frozen=True)
class WorstWindow:
    """The worst window of one length, in warm or in cold air, against the worst that was met. [% RH]"""

    kind: Mechanism  # DRY, SWING or BEYOND
    way: str  # "" of dryness, "fall" or "rise" of a swing, "drier" or "damper" of a distance
    hours: int
    cold: bool
    value: float  # of the period judged
    met: float  # the worst met; NaN where none was
    met_at: pd.Timestamp | None
    allowed: float  # what was met, shrunk; NaN where none was

    @property
    def within(self) -> bool:
        """Whether the period stayed within what was met."""
        gone = self.allowed - self.value if self.kind is DRY else self.value - self.allowed
        return bool(gone <= 0)

    @property
    def words(self) -> str:
        """In words for `why`: "day: 31.2 % RH against 28.4 met, shrunk to 30.1"."""
        name = " ".join(filter(None, (NAMES[self.hours], self.way, "in the cold" if self.cold else "")))
        if np.isinf(self.value):
            return f"{name}: could not be formed"
        if np.isnan(self.met):
            return f"{name}: {self.value:.1f} % RH; none met between two looks, by a logger that was compared"
        return f"{name}: {self.value:.1f} % RH against {self.met:.1f} met, shrunk to {self.allowed:.1f}"


@dataclass(frozen=True)
class History:
    """The hours that count as met, and which loggers may be held against each other.

    Attributes
    ----------
    since : nothing from before is looked at, by the level of the season either.
    spans : each from one look to the next that says the same.
    compared : pairs of loggers by id that were held against each other or against a reference.
    checks : loggers by id and when their readings were last corrected; from before it, one is as another logger.
    """

    since: pd.Timestamp
    spans: Spans
    compared: Pairs = frozenset()
    checks: tuple[tuple[str, pd.Timestamp], ...] = ()


@dataclass(frozen=True, eq=False)
class MetCourse(HourlyExposure):
    """One canvas or layer, by the lag of its build-up, in the air at one point, and the hours that count as met."""

    history: History

    @cached_property
    def since(self) -> int:
        """The first row that counts for anything."""
        return int(self.time.searchsorted(self.history.since))

    @cached_property
    def level(self) -> Array:
        """The mean of the 30 days up to each hour, of those that count. (n,)"""
        month = int(fig.SEASON_WINDOW_H)
        return climate.running_mean(_only(self.held.held, slice(self.since, None)), month, 0.5)

    @cached_property
    def read_by(self) -> tuple[list[Sensor], Array]:
        """The loggers, and which of them read each hour. (n,)"""
        sensors = list(self.there.sensors or (self.there.sensor,))
        if self.there.read_by is None or not len(self.there.time):
            return sensors, np.zeros(len(self.time), int)
        at = self.there.time.searchsorted(self.time).clip(0, len(self.there.time) - 1)
        return sensors, self.there.read_by[at].astype(int)

    @cached_property
    def counts(self) -> Mask:
        """The hours that may count as met, whichever logger read them. (n,)"""
        time = self.time
        mask = np.zeros(len(time), bool)
        until = min(judged_from(self.exposure, self.start), self.start)
        for begin, end in self.history.spans:
            mask[time.searchsorted(begin) : time.searchsorted(min(end, until))] = True
        mask &= np.isfinite(self.held.held) & (self.held.doubt <= fig.MET_DOUBT_RH)
        mask &= ~self.exposure.intended_mask(time)
        return mask & ~self.suspect

    @cached_property
    def now(self) -> list[Sensor]:
        """The loggers of the hours judged."""
        sensors, by = self.read_by
        return [sensors[n] for n in np.unique(by[self.judged_rows(1)])]

    def lots(self) -> Iterator[tuple[Mask, float, float]]:
        """The hours met by each logger that may be held against the one now; what either may be off, noise apart."""
        sensors, by = self.read_by
        now, names = poorest(self.now), {sensor.logger for sensor in self.now}
        for name in dict.fromkeys(sensor.logger for sensor in sensors):
            mine = [n for n, sensor in enumerate(sensors) if sensor.logger == name]
            then = poorest([sensors[n] for n in mine])
            alike = all(other == name or frozenset((other, name)) in self.history.compared for other in names)
            if then.stands_in or now.stands_in or not alike:
                continue
            bias = float(np.hypot(then.rh_bias_percent, now.rh_bias_percent))
            noise = float(np.hypot(then.rh_noise_percent, now.rh_noise_percent))
            read = self.counts & np.isin(by, mine)
            same = np.asarray(self.time >= self._checked(name)) & (names == {name})
            yield from ((read & rows, off, noise) for rows, off in ((same, 0.0), (~same, bias)) if (read & rows).any())

    def _checked(self, logger: str) -> pd.Timestamp:
        """When a logger's readings were last corrected; long ago where they never were."""
        return dict(self.history.checks).get(logger, self.history.since)

    def warmth(self, hours: int) -> Array:
        """The mean temperature that a window had, of a day at least; NaN where it was not read. (n,) [°C]"""
        return climate.running_mean(self.temp_c, max(hours, 24), 0.5)


def _only(values: Array, rows: slice | Mask) -> Array:
    """Values, NaN but in some rows. (n,)"""
    out = np.full(len(values), np.nan)
    out[rows] = values[rows]
    return out


def compare(seen: MetCourse, kind: Mechanism) -> tuple[WorstWindow, ...]:
    """The worst windows of the hours judged against those met: for each length and way, warm and cold apart.

    kind : DRY, SWING or BEYOND. Missing data: at the worst that it may have been in the period; none of it was met.
    """
    key = ("met", kind, seen.point, seen.tau_h, seen.start, seen.history)
    return seen.exposure.once(key, lambda: _compared(seen, kind))


def _compared(seen: MetCourse, kind: Mechanism) -> tuple[WorstWindow, ...]:
    low, high = (_only(end, slice(seen.since, None)) for end in (seen.held.lowest, seen.held.highest))
    period = dict(_harshness(kind, low, high, seen.level, 0.5))
    lots = []
    for mask, bias, noise in seen.lots():
        read = _only(seen.held.held, mask)
        lots.append((dict(_harshness(kind, read, read, seen.level, float(fig.MET_NEEDS))), bias, noise))
    found = []
    for (way, hours), values in period.items():
        there, temp_c = seen.judged_rows(hours), seen.warmth(hours)
        for cold in (False, True):
            mine = temp_c[there] < fig.MET_COLD_C if cold else ~(temp_c[there] < fig.MET_COLD_C)
            worst = values[there][mine | np.isnan(temp_c[there])]
            if len(worst):  # a window that could not be formed at its worst is no window met
                value = float("inf") if np.isnan(worst).any() else float(worst.max())
                met = [_worst_met(seen, lot[way, hours], cold, temp_c, bias, noise, kind, hours)
                       for lot, bias, noise in lots]  # fmt: skip
                found.append(_window(kind, way, hours, cold, value, met))
    return tuple(found)


Extreme = tuple[float, pd.Timestamp, float]  # the worst met, when, and shrunk


def _worst_met(
    seen: MetCourse, values: Array, cold: bool, temp_c: Array, bias: float, noise: float, kind: Mechanism, hours: int
) -> Extreme | None:
    """The worst met by one logger, when, and that shrunk; None where nothing was."""
    there = np.where(temp_c < fig.MET_COLD_C if cold else temp_c >= fig.MET_COLD_C, values, np.nan)
    if not np.isfinite(there).any():
        return None
    row = int(np.nanargmax(there))
    off = noise * _noise_left(seen.tau_h, kind, hours)
    margin = 0.0 if kind is SWING and hours == 1 else float(fig.MET_MARGIN_RH)  # no logger drifts within the hour
    return float(there[row]), seen.time[row], float(there[row] - np.hypot(bias, off) - margin)


def _noise_left(tau_h: float, kind: Mechanism, hours: int) -> float:
    """What the lag, and the mean of a window, leave of the noise of hourly readings, as a share.

    Source: a first-order response to independent noise; of a mean over n hours 1 / sqrt(n), where that is less.

    >>> [round(_noise_left(24, kind, hours), 2) for kind, hours in ((DRY, 1), (DRY, 720), (SWING, 1))]
    [0.14, 0.04, 0.04]
    """
    share = 1 - np.exp(-1 / tau_h)
    lagged = np.sqrt(share / (2 - share))
    if kind is SWING:
        return float(share * np.sqrt(2 / (2 - share)) if hours == 1 else lagged)
    return float(min(lagged, 1 / np.sqrt(hours)))


def _window(kind: Mechanism, way: str, hours: int, cold: bool, value: float, met: list[Extreme | None]) -> WorstWindow:
    sign = -1 if kind is DRY else 1
    best = max((one for one in met if one is not None), key=lambda one: one[2], default=None)
    if best is None:
        return WorstWindow(kind, way, hours, cold, sign * value, float("nan"), None, float("nan"))
    return WorstWindow(kind, way, hours, cold, sign * value, sign * best[0], best[1], sign * best[2])


def _harshness(
    kind: Mechanism, low: Array, high: Array, level: Array, need: float
) -> Iterator[tuple[tuple[str, int], Array]]:
    """The worst that each window may have been, its hours between two series: (way, length) and (n,), higher is worse.

    Dryness: the mean, its sign turned. A swing: how far it fell, or rose, within the window, by daily means from a week
    on. Distance: the mean of what it was drier, or damper, than `level`.
    """
    day = [climate.running_mean(end, 24, need) for end in (low, high)] if kind is SWING else []
    for hours in LENGTHS_H:
        if kind is DRY:
            yield ("", hours), -climate.running_mean(low, hours, need)
        elif kind is BEYOND:
            yield ("drier", hours), climate.running_mean(level - low, hours, need)
            yield ("damper", hours), climate.running_mean(high - level, hours, need)
        else:
            least, most = day if hours > 24 else (low, high)
            yield ("fall", hours), climate.running_extremes(most, hours + 1)[1] - least
            yield ("rise", hours), most - climate.running_extremes(least, hours + 1)[0]


def driest(seen: MetCourse) -> float:
    """The lowest that any judged hour may have been. [% RH]"""
    judged = seen.held.lowest[seen.judged_rows(1)]
    return float(judged.min()) if len(judged) else float("nan")


def last_damp(seen: MetCourse) -> tuple[pd.Timestamp, bool] | None:
    """The end of the last spell that ends what was met: of damp, or of hours of which nothing is known.

    Returns
    -------
    The end, and whether it may have been damp (else nothing is known of it); None where there was none. Hours not read
    are taken at the dampest about them; looked at are those up to the last one judged.
    """
    stop, unknown = seen.judged_rows(1).stop, np.isnan(climate.worst_in_gaps(seen.rh_percent))
    damp = (seen.held.highest >= fig.MET_DAMP_RH) & ~unknown
    ends = [_last(mask[:stop], seen.since) for mask in (damp, unknown)]
    return None if max(ends) < 0 else (seen.time[max(ends)] + HOUR, ends[0] > ends[1])


def _last(mask: Mask, since: int) -> int:
    """The last row of a spell of `MET_DAMP_HOURS` or more; -1 where there is none."""
    mask = mask & (np.arange(len(mask)) >= since)
    long = np.flatnonzero(climate.hours_in_spell(mask) >= fig.MET_DAMP_HOURS)
    return int(long[-1]) if len(long) else -1
