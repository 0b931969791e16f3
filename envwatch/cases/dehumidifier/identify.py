"""Learning a room from its log and whatever is known outdoors, and asking where the log cannot tell."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
import pandas as pd

from envwatch import climate as describing
from envwatch.cases.dehumidifier.inputs import DryingInputs
from envwatch.climate.outdoors import BOUNDS, DATED, MONTHLY, Outdoors, bridged, on_grid
from envwatch.climate.series import Climate
from envwatch.core.errors import BadInput, Question
from envwatch.figures import dehumidifier as fig
from envwatch.physics.room import content, per_percent
from envwatch.physics.room.fit import Interval80, RoomFit, identify
from envwatch.physics.room.regressors import Hours

SHORTEST_STRETCH_H = 48


@dataclass(frozen=True, eq=False)
class RoomEstimate:
    """What is known of a room, as draws that go together.

    Attributes
    ----------
    rate_h, excess_g_m3, capacity_g : (b,) air change over buffering, source over air change, and what is held for each
        % RH (NaN where nothing was weighed). [1/h], [g/m³], [g/% RH]
    best : (rate, excess, capacity), the best of each.
    how : in words, for the page.
    open : what stays open, in sentences.
    """

    rate_h: np.ndarray = field(repr=False)
    excess_g_m3: np.ndarray = field(repr=False)
    capacity_g: np.ndarray = field(repr=False)
    best: tuple[float, float, float]
    reference_c: float
    how: str
    open: tuple[str, ...] = ()
    fit: RoomFit | None = None
    time: pd.DatetimeIndex | None = None  # of the fitted hours
    log_percent: np.ndarray | None = field(default=None, repr=False)
    bias_g_m3: tuple[float, float] = (0.0, 0.0)  # what the loggers indoors and outdoors may be off by (limits of error)

    @property
    def excess(self) -> Interval80:
        """Source over air change with its 80 % interval, the loggers' own errors within it. [g/m³]"""
        scatter = np.quantile(self.excess_g_m3, [0.1, 0.9]) - self.best[1]
        off = 1.2816 / 2 * float(np.hypot(*self.bias_g_m3))  # a limit of error is taken as two standard deviations
        below, above = (float(np.hypot(s, off)) for s in scatter)
        return Interval80(self.best[1] - below, self.best[1], self.best[1] + above)


def learn(indoor: Climate, outdoors: Outdoors, asked: DryingInputs) -> RoomEstimate:
    """What the log tells of its room.

    Raises
    ------
    Question : the log may have a machine running in it; the room seems to lose water of itself; or the air outdoors
        is of a kind that cannot be laid beside a log, and nothing else was said.
    BadInput : the log is too short, or nothing moved.
    """
    _ask_for_machine(indoor, outdoors, asked)
    if asked.air_change_h is not None and asked.source_g_h is not None and outdoors.kind != DATED:
        return _given(indoor, asked)
    if outdoors.kind == DATED:
        return _from_log(indoor, outdoors, asked)
    if outdoors.kind == MONTHLY:
        return _from_months(indoor, outdoors)
    if outdoors.kind == BOUNDS:
        return _bounds(indoor)
    raise Question(
        "A typical year cannot be laid beside a log of dated days, so the room cannot be learnt from it: give the air "
        "change and the source of moisture too, or another record of the air outdoors.", "air_change",
        answer="⟦air_change⟧, ⟦source⟧",
    )  # fmt: skip


# ------------------------------------------------------------------------------------------------ the log's hours


def hours_of(indoor: Climate, outdoors: Outdoors, asked: DryingInputs) -> tuple[Hours, pd.DatetimeIndex]:
    """The hours with the room's temperature and the vapour outdoors known, cut at gaps of over six hours."""
    hourly = describing.hourly(indoor)
    temp_c, inside = bridged(hourly.time, hourly.temp_c, hourly.time, float(fig.FIT_GAP_H))
    _, vapour, outside = on_grid(outdoors_hourly(outdoors), hourly.time, float(fig.FIT_GAP_H))
    known = inside & outside & np.isfinite(vapour)
    rows = np.flatnonzero(known)
    cuts = np.flatnonzero(np.diff(rows) > 1) + 1
    stretches = [part for part in np.split(rows, cuts) if len(part) >= SHORTEST_STRETCH_H]
    kept = np.concatenate(stretches) if stretches else np.array([], int)
    begins = np.cumsum([0, *(len(part) for part in stretches)])[:-1] if stretches else np.array([0])
    time = hourly.time[kept]
    given = sum((weighed.grams_h(time) for weighed in asked.weighed), np.zeros(len(time))) if asked.weighed else None
    return Hours(temp_c[kept], hourly.rh_percent[kept], vapour[kept], begins, given), time


def outdoors_hourly(outdoors: Outdoors) -> Outdoors:
    """Hourly means, where the air outdoors was read more often."""
    if outdoors.kind != DATED or not len(outdoors.time):
        return outdoors
    by_hour = outdoors.time.floor("h")
    means = pd.DataFrame({"t": outdoors.temp_c, "v": outdoors.vapour_pa}).groupby(by_hour).mean()
    time = pd.DatetimeIndex(means.index)
    return Outdoors(time, means["t"].to_numpy(), means["v"].to_numpy(), outdoors.kind, outdoors.words)


# ----------------------------------------------------------------------------------------------------- questions


def _ask_for_machine(indoor: Climate, outdoors: Outdoors, asked: DryingInputs) -> None:
    if asked.machine_in_log == "yes":
        raise Question(
            "While a machine dries or wets a room its log does not show the room itself: give the days on which it was "
            "off, or the air change and the source.", "log_from",
            answer="⟦log_from⟧ with ⟦log_to⟧",
        )  # fmt: skip
    if asked.machine_in_log == "no" or asked.weighed or outdoors.kind == BOUNDS:
        return
    rh = np.sort(describing.hourly(indoor).rh_percent)
    rh = rh[np.isfinite(rh)]
    if len(rh) < 24 * fig.HELD_LEAST_DAYS:
        return
    width = int(fig.HELD_SHARE * len(rh))
    at = int(np.argmin(rh[width:] - rh[:-width]))
    low, high = np.quantile(rh, [0.05, 0.95])
    piled = rh[at + width] - rh[at] < fig.HELD_WITHIN_PERCENT[0]
    if piled or high - low < fig.HELD_WITHIN_PERCENT[1]:
        raise Question(
            f"Nine tenths of this log lie between {low:.0f} and {high:.0f} %, nearly half between {rh[at]:.1f} and "
            f"{rh[at + width]:.1f} %: it looks as if a machine held it there. Was one running?",
            "machine_in_log", ("no", "yes"),
        )  # fmt: skip


def ask_about_sink(excess_low: float, excess_high: float, asked: DryingInputs) -> None:
    """A room that loses water of itself is never quietly taken as one without a source."""
    if excess_high < 0 and not asked.sink:
        raise Question(
            f"The room comes out {-excess_high:.1f} to {-excess_low:.1f} g/m³ drier than the air outdoors: a machine "
            "ran in it, the record outdoors belongs elsewhere, or a logger reads wrong. Check them side by side for a "
            "day; to go on with a room that loses water:", "sink", ("keep",),
        )  # fmt: skip


def _ask_about_weighed(fit: RoomFit) -> None:
    if fit.capacity_g is not None and fit.capacity_g.spread > fig.WEIGHED_WIDE:
        raise BadInput(
            "the water weighed does not show in the room's humidity, so that no scale can be learnt from it: check the "
            "days and the litres, or weigh more of it"
        )


# ------------------------------------------------------------------------------------------------ ways of learning


def _from_log(indoor: Climate, outdoors: Outdoors, asked: DryingInputs) -> RoomEstimate:
    hours, time = hours_of(indoor, outdoors, asked)
    fit = identify(hours, asked.seed)
    _ask_about_weighed(fit)
    rate, excess, capacity = fit.draws.T
    outside_c = np.nanmean(outdoors.temp_c) if np.isfinite(outdoors.temp_c).any() else fit.reference_c
    bias = (
        indoor.sensor.rh_bias_percent * float(per_percent(fit.reference_c)),
        outdoors.rh_bias_percent * float(per_percent(outside_c)),
    )
    best = (fit.rate_h.best, fit.excess_g_m3.best, fit.capacity_g.best if fit.capacity_g else float("nan"))
    learnt = RoomEstimate(
        rate, excess, capacity, best, fit.reference_c, f"fitted to {fit.days:.0f} days of its log", (), fit, time,
        hours.rh_percent, bias,
    )  # fmt: skip
    ask_about_sink(learnt.excess.low, learnt.excess.high, asked)
    return replace(learnt, open=_left_open(learnt, hours, time))


def _left_open(learnt: RoomEstimate, hours: Hours, time: pd.DatetimeIndex) -> tuple[str, ...]:
    fit, out = learnt.fit, []
    assert fit is not None
    if not fit.rate_known:
        out.append("how fast the room follows the air outdoors cannot be known from this log: a wide range is drawn")
    if learnt.excess.low <= 0 <= learnt.excess.high:
        out.append("whether the room gives off water of itself is not known: the range holds nothing as well")
    if fit.capacity_g is None:
        out.append("the log fixes ratios only, neither the air change nor grams an hour; weigh a tank for a week")
    moved = float(np.std(content(hours.outside_pa, hours.temp_c)))
    if moved < fig.FIT_GOOD_OUT_SD:
        out.append(f"the vapour outdoors moved by only {moved:.1f} g/m³ in this log, so that it tells little")
    if fit.days < 300:
        months = sorted({int(m) for m in time.month})
        names = ", ".join(f"{pd.Timestamp(2001, m, 1):%b}" for m in months)
        out.append(f"the log holds {fit.days:.0f} days ({names}): of other seasons nothing is said")
    return tuple(out)


def _spread(middle: float, gsd: float, count: int = 300) -> np.ndarray:
    """Log-normal values at even steps of probability."""
    from scipy.special import ndtri

    return middle * gsd ** ndtri((np.arange(count) + 0.5) / count)


def _shuffled(values: np.ndarray, asked: DryingInputs) -> np.ndarray:
    return np.random.default_rng(asked.seed).permutation(values)


def _given(indoor: Climate, asked: DryingInputs) -> RoomEstimate:
    """Air change and source as said; how much is held, as said or drawn."""
    assert asked.air_change_h is not None and asked.source_g_h is not None and asked.volume_m3 is not None
    reference = float(np.nanmean(indoor.temp_c))
    changes = float(np.mean(asked.air_change_h))
    source = float(np.mean(asked.source_g_h))
    air = asked.volume_m3 * float(per_percent(reference))
    open_: tuple[str, ...] = ()
    if asked.buffer_g is None:
        beta = _shuffled(_spread(float(fig.BUFFERING_PRIOR[0]), float(fig.BUFFERING_PRIOR[1])), asked)
        beta = np.maximum(beta, 1.0)
        open_ = ("how much the things in the room hold was not given: a wide range is drawn",)
    else:
        beta = np.full(300, 1 + asked.buffer_g / air)
    rate = changes / beta
    excess = np.full(300, source / (changes * asked.volume_m3))
    return RoomEstimate(
        rate, excess, air * beta, (float(np.median(rate)), float(excess[0]), air * float(np.median(beta))), reference,
        "as given, not learnt from a log", open_,
    )  # fmt: skip


def _from_months(indoor: Climate, outdoors: Outdoors) -> RoomEstimate:
    """Source over air change from the months' mean difference; how fast the room follows is drawn."""
    hourly = describing.hourly(indoor)
    _, vapour, _ = on_grid(outdoors, hourly.time, 1.0)
    inside = hourly.rh_percent * per_percent(hourly.temp_c)
    by_month = pd.Series(inside - content(vapour, hourly.temp_c)).groupby(hourly.time.strftime("%Y-%m"))
    months = by_month.mean()[by_month.count() > 360].to_numpy()
    if not len(months):
        months = np.array([float(np.nanmean(inside - content(vapour, hourly.temp_c)))])
    random = np.random.default_rng(1)
    excess = random.choice(months, (300, len(months))).mean(axis=1)
    if len(months) < 3:
        excess = excess + random.normal(0, 1.0, 300)
    return _unhurried(
        hourly, excess, float(np.mean(months)), f"source over air change from {len(months)} monthly means",
        "how fast the room follows cannot be known from monthly means: a wide range is drawn",
    )  # fmt: skip


def _bounds(indoor: Climate) -> RoomEstimate:
    """With nothing known outdoors: no source, and the room's own mean vapour as what comes in."""
    return _unhurried(
        describing.hourly(indoor), np.zeros(300), 0.0, "bounds, for want of any record of the air outdoors",
        "without a record of the air outdoors nothing is learnt of the room; borrow a machine and weigh its water",
    )  # fmt: skip


def _unhurried(hourly, excess: np.ndarray, best: float, how: str, open_: str) -> RoomEstimate:
    reference = float(np.nanmean(hourly.temp_c))
    changes = _spread(float(fig.AIR_CHANGE_PRIOR[0]), float(fig.AIR_CHANGE_PRIOR[1]))
    beta = np.maximum(_spread(float(fig.BUFFERING_PRIOR[0]), float(fig.BUFFERING_PRIOR[1])), 1.0)
    rate = np.random.default_rng(2).permutation(changes) / np.random.default_rng(3).permutation(beta)
    return RoomEstimate(rate, excess, np.full(300, np.nan), (float(np.median(rate)), best, float("nan")), reference,
                        how, (open_, "the air change itself is drawn from a wide range"))  # fmt: skip
