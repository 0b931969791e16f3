"""What a log tells of its room: air change over buffering, and source over air change, with what stays open.

Output-error fit: the room is simulated from the air outdoors and laid on its log as a whole. (Regressing each step's
change on the difference indoors to outdoors is badly off on real readings, because noise stands on both sides.) A log
of humidity alone fixes only ratios: neither the air change itself nor grams an hour. Those need water that was weighed.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from envwatch.core.arrays import Array, Mask, Whole
from envwatch.core.errors import BadInput
from envwatch.figures import dehumidifier as fig
from envwatch.physics.room.balance import content, per_percent
from envwatch.physics.room.regressors import Hours, responses

RATES = np.geomspace(2e-4, 3.0, 24)
BUFFERINGS = np.array([1.0, 1.7, 3.0, 8.0, 40.0])
FINE_POINTS, FINE_BUFFERINGS = 15, 7
BOOTSTRAPS = 300
FITTED = 4  # rate, buffering, source, start
NEVER = 1e30  # squares of what cannot be
ROWS = 2_200  # of a longer log, every second, third, ... hour is laid beside the fit


@dataclass(frozen=True)
class Interval80:
    """A figure with its 80 % interval."""

    low: float
    best: float
    high: float

    @property
    def spread(self) -> float:
        """Highest over lowest; infinite where the lowest is not above 0."""
        return self.high / self.low if self.low > 0 else float("inf")


@dataclass(frozen=True, eq=False)
class RoomFit:
    """What was learnt of a room.

    Attributes
    ----------
    rate_h : air change over buffering: how fast the room's vapour follows outdoors. [1/h]
    excess_g_m3 : source over air change: how much moister than outdoors the room settles. [g/m³]
    capacity_g : what air and things hold for each % RH, where water was weighed; else None. [g/% RH]
    buffering : best buffering, seen only through what temperature does to humidity; poorly known. [1]
    reference_c : temperature at which buffering is told. [°C]
    draws : (b, 3) rate, excess and capacity (NaN) of each bootstrap.
    rms_percent : root mean square of log less fit. [% RH]
    fitted : (n,) the fitted humidity. [% RH]
    held_out : trial on the last weeks by a fit that had not seen them; None where the log is too short.
    """

    rate_h: Interval80
    excess_g_m3: Interval80
    capacity_g: Interval80 | None
    buffering: float
    reference_c: float
    draws: Array = field(repr=False)
    rms_percent: float
    days: float
    fitted: Array = field(repr=False)
    held_out: HeldOut | None = None

    @property
    def rate_known(self) -> bool:
        """Whether the log tells how fast the room follows."""
        inside = RATES[1] < self.rate_h.low and self.rate_h.high < RATES[-2]
        return inside and self.rate_h.spread <= fig.FIT_WIDE


@dataclass(frozen=True, eq=False)
class HeldOut:
    """Fit against log where the fit did not see it, started from the first reading there."""

    first_row: int
    hours: int
    rms_percent: float
    bias_percent: float  # log less forecast
    forecast: Array = field(repr=False)


def identify(hours: Hours, seed: int = 0, held_out: bool = True) -> RoomFit:
    """Fit a room to its log.

    Parameters
    ----------
    hours : hourly, at least a week.
    seed : of the bootstrap, which resamples days.

    Raises
    ------
    BadInput : too short, or the air outdoors hardly moved: the log cannot tell.
    """
    _refuse(hours)
    table, draws = _bootstrap(hours, seed)
    curve = table.curve()
    read = np.isfinite(hours.rh_percent)
    return RoomFit(
        rate_h=_interval(table.best_rate, draws[:, 0]),
        excess_g_m3=_interval(table.best[1], draws[:, 1]),
        capacity_g=None if hours.known_g_h is None else _interval(table.best[2], draws[:, 2]),
        buffering=table.best_buffering, reference_c=hours.reference_c, draws=draws,
        rms_percent=float(np.sqrt(np.mean((hours.rh_percent - curve)[read] ** 2))), days=float(read.sum() / 24),
        fitted=curve, held_out=_held_out(hours) if held_out else None,
    )  # fmt: skip


def _refuse(hours: Hours) -> None:
    days = np.isfinite(hours.rh_percent).sum() / 24
    if days < fig.FIT_LEAST_DAYS:
        raise BadInput(
            f"only {days:.1f} days were read both in the room and outdoors; the room cannot be learnt from less than "
            f"{fig.FIT_LEAST_DAYS:g}. Add logs, or give ⟦air_change⟧ and ⟦source⟧",
            field="air_change",
        )
    outdoors = float(np.std(content(hours.outside_pa, hours.temp_c)))
    if outdoors < fig.FIT_LEAST_OUT_SD:
        raise BadInput(
            f"the vapour outdoors moved by only {outdoors:.2f} g/m³ (standard deviation) in {days:.0f} days: how fast "
            "the room follows cannot be told. Take a longer log, or give ⟦air_change⟧ and ⟦source⟧",
            field="air_change",
        )


def _interval(best: float, draws: Array) -> Interval80:
    low, high = np.quantile(draws, [0.1, 0.9])
    return Interval80(float(min(low, best)), float(best), float(max(high, best)))


class _Table:
    """Least squares for every pair of a grid at once: sums of products, made once, used for every bootstrap."""

    def __init__(self, hours: Hours, rates: Array, bufferings: Array) -> None:
        self.hours, self.rates, self.bufferings = hours, rates, bufferings
        self.shape = (len(bufferings), len(rates))
        rate, buffering = (a.ravel() for a in np.meshgrid(rates, bufferings))
        self.every = thinning(hours)
        outside, source, known, start = responses(hours, rate, buffering, self.every)
        self.log = hours.rh_percent[:: self.every]
        self.driest_g_m3 = -float(np.nanmean(content(hours.outside_pa, hours.temp_c)))
        self.read = np.isfinite(self.log)
        columns = [source] + ([known] if hours.known_g_h is not None else [])
        edges = [*(-(-hours.begins // self.every)).tolist(), len(self.read)]
        for first, last in zip(edges, edges[1:], strict=False):
            part = np.zeros_like(start)
            part[first:last] = start[first:last]
            columns.append(part)
        self.forced = (outside * self.read[:, None]).T  # (m, n)
        self.design = np.ascontiguousarray(np.stack(columns, axis=2).transpose(1, 2, 0) * self.read)  # (m, p, n)
        self.gram = self.design @ self.design.transpose(0, 2, 1) + 1e-9 * np.eye(len(columns))
        self.forced_on = np.einsum("mpn,mn->mp", self.design, self.forced)
        self.forced_sq = np.einsum("mn,mn->m", self.forced, self.forced)

    def solve(self, rh: Array) -> tuple[Array, Array]:
        """Sum of squares (m, b) and coefficients (m, p, b) for humidities (n, b)."""
        rh = np.where(self.read[:, None], rh, 0.0)
        pairs, causes, rows = self.design.shape
        on = (self.design.reshape(-1, rows) @ rh).reshape(pairs, causes, -1)  # one product: many small ones are slow
        on -= self.forced_on[:, :, None]
        coefficients = np.linalg.solve(self.gram, on)
        left = (rh**2).sum(0) - 2 * self.forced @ rh + self.forced_sq[:, None]
        return left - (on * coefficients).sum(1), coefficients

    def minima(self, rh: Array) -> tuple[Whole, Array, Array]:
        """For each humidity (n, b): row of buffering, refined rate, and coefficients (b, p) between grid points."""
        squares, coefficients = self.solve(rh)
        beyond = coefficients[:, 0] < self.driest_g_m3  # no room settles drier than dry
        squares = np.where(beyond & ~beyond.all(0), NEVER, squares)
        squares = squares.reshape(*self.shape, -1)
        flat = squares.reshape(-1, squares.shape[-1]).argmin(0)
        row, at = np.unravel_index(flat, self.shape)
        inner = np.clip(at, 1, self.shape[1] - 2)
        many = np.arange(squares.shape[-1])
        below, here, above = (squares[row, inner + shift, many] for shift in (-1, 0, 1))
        bend = below - 2 * here + above
        shift = np.where(bend > 0, np.clip((below - above) / (2 * np.maximum(bend, 1e-30)), -1, 1), 0.0)
        log_rate = np.log(self.rates)
        rate = np.exp(log_rate[inner] + shift * (log_rate[1] - log_rate[0]))
        cube = coefficients.reshape(*self.shape, coefficients.shape[1], -1)
        toward = np.where(shift >= 0, 1, -1)
        near, far = cube[row, inner, :, many], cube[row, inner + toward, :, many]
        return row, rate, near + np.abs(shift)[:, None] * (far - near)

    def best_of_log(self) -> None:
        """Work out and keep what fits the log itself."""
        row, rate, coefficients = self.minima(np.nan_to_num(self.log)[:, None])
        self.best_rate, self.best_buffering = float(rate[0]), float(self.bufferings[row[0]])
        self.coefficients = coefficients[0]
        self.best = (self.best_rate, *self.told(row, coefficients)[0])

    def told(self, row: Whole, coefficients: Array) -> Array:
        """(b, 2): excess [g/m³] and capacity [g/% RH], NaN where no water was weighed."""
        if self.hours.known_g_h is None:
            return np.column_stack([coefficients[:, 0], np.full(len(row), np.nan)])
        per_volume = np.maximum(coefficients[:, 1], 1e-9)
        capacity = self.bufferings[row] * float(per_percent(self.hours.reference_c)) / per_volume
        return np.column_stack([coefficients[:, 0], capacity])

    def curve(self) -> Array:
        """The fitted humidity, all rows. (n,)"""
        return _curve(self.hours, self.best_rate, self.best_buffering, self.coefficients)


def _curve(hours: Hours, rate: float, buffering: float, coefficients: Array) -> Array:
    outside, source, known, start = responses(hours, np.array([rate]), np.array([buffering]))[:, :, 0]
    out: Array = outside + coefficients[0] * source
    if hours.known_g_h is not None:
        out = out + coefficients[1] * known
    starts = np.repeat(coefficients[-len(hours.begins) :], np.diff([*hours.begins, len(out)]))
    out += starts * start
    return out


def thinning(hours: Hours) -> int:
    """Each so many-th hour of a long log is enough: a divisor of the day."""
    wanted = len(hours.rh_percent) / ROWS
    return next(every for every in (1, 2, 3, 4, 6, 8, 12, 24) if every >= wanted or every == 24)


def _fine(hours: Hours) -> _Table:
    """A table about the best pair of a coarse one, with what fits the log."""
    coarse = _Table(hours, RATES, BUFFERINGS)
    coarse.best_of_log()
    return _about(hours, coarse.best_rate, 2.2, coarse.best_buffering / 2.2, coarse.best_buffering * 2.2)


def _about(hours: Hours, rate: float, factor: float, low: float, high: float) -> _Table:
    """A table about a rate, within a factor, and between two bufferings."""
    bufferings = np.unique(np.maximum(np.geomspace(low, high, FINE_BUFFERINGS), 1.0))
    table = _Table(hours, rate * np.geomspace(1 / factor, factor, FINE_POINTS), bufferings)
    table.best_of_log()
    return table


def _bootstrap(hours: Hours, seed: int) -> tuple[_Table, Array]:
    """Rate, excess and capacity of logs that could as well have been read.

    Twice: the second time on a grid as fine as the first one's scatter asks.
    """
    table = _fine(hours)
    _, rows, rates = _drawn(table, seed)
    factor = float(np.exp(np.clip(3.5 * np.std(np.log(rates)), 0.02, 1.5)))
    seen = table.bufferings[np.unique(rows)]
    step = (table.bufferings[-1] / table.bufferings[0]) ** (1 / max(len(table.bufferings) - 1, 1))
    table = _about(hours, table.best_rate, factor, max(seen[0] / step, 1.0), max(seen[-1] * step, 1.01))
    return table, _widened(_drawn(table, seed)[0], np.array(table.best))


def _widened(draws: Array, best: Array) -> Array:
    """Draws moved away from the best: rate and capacity by ratio, excess by difference."""
    out = best + (draws - best) * float(fig.FIT_WIDENED_EXCESS)
    for column in (0, 2):
        out[:, column] = best[column] * (draws[:, column] / best[column]) ** float(fig.FIT_WIDENED)
    return out


def _drawn(table: _Table, seed: int) -> tuple[Array, Whole, Array]:
    curve = table.curve()[:: table.every]
    again = resampled(table.log - curve, BOOTSTRAPS, np.random.default_rng(seed), 24 // table.every)
    rows, rate, coefficients = table.minima(curve[:, None] + again)
    return np.column_stack([rate, table.told(rows, coefficients)]), rows, rate


def resampled(left: Array, count: int, random: np.random.Generator, a_day: int = 24) -> Array:
    """Residuals that could as well have been: (n,), so many a day, NaN where not read -> (n, count).

    What is left over in a room forgets itself over days. Daily means are taken as a first-order process, whose daily
    kicks are resampled; what is left within the days is resampled by whole days.
    """
    days = -(-len(left) // a_day)
    padded = np.full(days * a_day, np.nan)
    padded[: len(left)] = left
    by_day = padded.reshape(days, a_day)
    seen = np.isfinite(by_day).sum(1) * 2 >= a_day
    mean = np.array([np.nanmean(day) if ok else np.nan for day, ok in zip(by_day, seen, strict=True)])
    mean = np.where(np.isfinite(mean), mean, 0.0)
    keeps = _keeps(mean, seen)
    kicks = (mean[1:] - keeps * mean[:-1])[seen[1:] & seen[:-1]]
    kicks = kicks - kicks.mean()
    kicks *= np.sqrt(len(kicks) / max(len(kicks) - FITTED, 1))  # the fit has taken some of the scatter away
    within: Array = np.nan_to_num(by_day - mean[:, None])[seen]
    slow = np.empty((days, count))
    slow[0] = random.choice(kicks, count) / np.sqrt(1 - keeps**2)
    drawn = random.choice(kicks, (days, count))
    for day in range(1, days):
        slow[day] = keeps * slow[day - 1] + drawn[day]
    quick = within[random.integers(0, len(within), (days, count))]  # (days, count, a_day)
    return (slow[:, :, None] + quick).transpose(0, 2, 1).reshape(days * a_day, count)[: len(left)]


def _keeps(mean: Array, seen: Mask) -> float:
    """Share of a day's residual that the next day keeps, corrected for the shortness of the log."""
    both = seen[1:] & seen[:-1]
    if both.sum() < 5:
        return 0.5
    keeps = float((mean[1:] * mean[:-1])[both].sum() / np.maximum((mean[:-1] ** 2)[both].sum(), 1e-12))
    return float(np.clip(keeps + (1 + 3 * keeps) / both.sum(), 0.0, 0.97))


def _held_out(hours: Hours) -> HeldOut | None:
    """The last quarter of the log, in whole weeks, forecast by a fit to what came before it."""
    n = len(hours.rh_percent)
    kept = max(int(fig.FIT_HELD_OUT * n / 168), 1) * 168
    first = n - kept
    if first < 24 * fig.FIT_LEAST_DAYS:
        return None
    before, after = hours.part(0, first), hours.part(first, n)
    read = np.isfinite(after.rh_percent)
    if not read.any() or np.std(content(before.outside_pa, before.temp_c)) < fig.FIT_LEAST_OUT_SD:
        return None
    table = _fine(before)
    starts = [after.rh_percent[b:][read[b:]][0] if read[b:].any() else 50.0 for b in after.begins]
    # buffering is told at each part's own mean temperature
    s1_before, s1_after = (float(per_percent(part.reference_c)) for part in (before, after))
    buffering = 1 + (table.best_buffering - 1) * s1_before / s1_after
    rate = table.best_rate * table.best_buffering / buffering
    parts = 2 if hours.known_g_h is not None else 1
    forecast = _curve(after, rate, buffering, np.append(table.coefficients[:parts], starts))
    off = (after.rh_percent - forecast)[read]
    return HeldOut(first, int(read.sum()), float(np.sqrt(np.mean(off**2))), float(off.mean()), forecast)
