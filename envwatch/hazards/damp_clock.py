"""The damp clock and the 30-day means: how long the air at a surface has been over a humidity.

The clock leads the growth index: mould that loves dry places, on paste and size, grows where the index is still 0.
Its steps are our judgement, anchored on published latent periods; the 30-day and monthly means are building rules, the
30-day mean one that was withdrawn.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from envwatch import air, climate
from envwatch.figures import mould as fig
from envwatch.figures.coverage import SPELL_BRIDGES_H
from envwatch.hazards.grading import certainty, clear_only_if_seen, grade
from envwatch.hazards.mould_class import MOST, Susceptibility
from envwatch.hazards.mould_words import ADVICE, AVOID, CAUTION, FETCH, LOOK_FOR, by, layer_at, on_layer
from envwatch.hazards.reckoning import Lines, constants, day_means, what_would_change
from envwatch.hazards.surfaces import Surface, decidable_on, run_start
from envwatch.records import WALL_FACE, Certainty, Finding, Level

TWO_MONTHS_H = 2 * 31 * 24 + 2  # and a clock set back


def hours_over(rh_percent, hours, limits_percent=fig.DAMP_LEVELS) -> np.ndarray:
    """Time over each of some humidities.

    Parameters
    ----------
    rh_percent : (..., n), time on the last axis, NaN where not read. [% RH]
    hours : scalar or broadcast to the humidity, time each reading stands for. [h]
    limits_percent : (k,) exclusive limits.

    Returns
    -------
    (..., k) hours; missing readings add nothing. [h]

    Source: a count; the limits are anchored on publications, see `figures.mould`.

    >>> hours_over([64.0, 66.0, 81.0, float("nan")], 1.0).tolist()
    [2.0, 1.0, 1.0, 1.0]
    """
    over = np.asarray(rh_percent, float)[..., None, :] > np.array([float(x) for x in limits_percent])[:, None]
    return (over * np.broadcast_to(hours, np.shape(rh_percent))[..., None, :]).sum(-1)


def month_mean(temp_c, rh_percent) -> tuple[np.ndarray, np.ndarray]:
    """Trailing 30-day means of hourly air, and whether the 30-day rule is broken.

    Parameters
    ----------
    temp_c, rh_percent : (..., n) regular hourly means, time on the last axis; broadcast together. [°C], [% RH]

    Returns
    -------
    (..., n) mean humidity, NaN until 30 days have passed and where more than a tenth of them is missing; (..., n) true
    where the rule is broken: 80 % or more while the mean temperature is 5 to 40 °C. Nothing unknown is broken.

    Source: ASHRAE Standard 160-2009, criterion of the 30-day running mean; withdrawn by the edition of 2016.

    >>> mean, broken = month_mean([20.0] * 721, [80.0] * 721)
    >>> int(broken.sum()), bool(mean[718] == mean[718]), round(float(mean[720]), 6)
    (2, False, 80.0)
    """
    temp_c, rh_percent = np.broadcast_arrays(np.asarray(temp_c, float), air.usable_rh(rh_percent))
    mean_c = climate.running_mean(temp_c, int(fig.MONTH_H), fig.MONTH_NEEDS)
    mean_rh = climate.running_mean(rh_percent, int(fig.MONTH_H), fig.MONTH_NEEDS)
    rounding = 1e-9  # a running sum of equal readings is not quite their number times the reading
    mild = (mean_c >= fig.MONTH_MEAN_FROM_C) & (mean_c <= fig.MONTH_MEAN_TO_C)
    return np.where(np.isnan(mean_c), np.nan, mean_rh), mild & (mean_rh >= fig.MONTH_MEAN_RH - rounding)


def calendar_months(time: pd.DatetimeIndex, temp_c, rh_percent, zone: str) -> dict[str, float]:
    """Monthly humidity from the month's mean vapour pressure and mean temperature, whole months only.

    Hourly (n,) arrays, months of the place's zone -> {"2026-11": humidity [% RH]}; NaN where under nine tenths of it
    were read.

    Source: ISO 13788, clause 5.3, which allows 80 % at the surface.
    """
    local = time.tz_convert(zone)
    month = (local.year * 12 + local.month - 1).to_numpy()
    vapour = air.vapour_pressure(temp_c, rh_percent)
    read = np.isfinite(vapour)
    if not len(month):
        return {}
    which = (month - month[0])[read]
    hours_read = np.bincount(which, minlength=month[-1] - month[0] + 1)
    sum_c, sum_pa = (np.bincount(which, values[read], len(hours_read)) for values in (np.asarray(temp_c), vapour))
    found = {}
    for row, number in enumerate(range(month[0], month[-1] + 1)):
        begin = pd.Timestamp(year=number // 12, month=number % 12 + 1, day=1, tz=zone)
        end = begin + pd.DateOffset(months=1)
        if begin < time[0] or end > time[-1] + pd.Timedelta(hours=1):
            continue
        count = hours_read[row]
        enough = count >= fig.MONTH_NEEDS * ((end - begin) / pd.Timedelta(hours=1))
        mean_c, mean_pa = (sum_c[row] / count, sum_pa[row] / count) if enough else (np.nan, np.nan)
        found[f"{begin:%Y-%m}"] = float(100 * mean_pa / air.saturation_pressure(mean_c))
    return found


@dataclass(frozen=True)
class Reading:
    """What one step of the clock shows."""

    level: Level
    value: float
    limit: float
    unit: str
    since: pd.Timestamp | None = None
    worst_at: pd.Timestamp | None = None
    running: bool = False  # the spell had not ended when the record did

    @property
    def share(self) -> float:
        return self.value / self.limit


def read_clock(surface: Surface, shift_percent: float = 0.0) -> list[Reading]:
    """All steps of the clock in the judged period, on air shifted by a sensor's bias. Intended stays do not count."""
    surface = surface.whole
    rh = np.where(surface.intended, np.nan, np.clip(surface.rh_percent + shift_percent, 0, 100))
    found = [_week_reading(surface, rh)]
    mild = surface.temp_c > fig.COLD_CLOCK_C
    for rung in fig.DAMP_CLOCK:
        passed = (rh > rung.over) & mild
        found.append(_within(surface, passed, rung) if rung.within else _longest(surface, passed, rung))
    return found


def _week_reading(surface: Surface, rh: np.ndarray) -> Reading:
    course = climate.running_mean(rh, int(fig.WEEK_H))
    known = np.where(np.isfinite(rh), course, np.nan)  # in a gap the week before it says nothing new
    mean = surface.told(known, fig.WEEK_H, fig.WEEK_MEAN_WATCH)
    if not np.isfinite(mean).any():
        return Reading(Level.UNKNOWN, np.nan, fig.WEEK_MEAN_WATCH, "% RH, seven-day mean")
    at = int(np.nanargmax(mean))
    over = np.nan_to_num(course) >= fig.WEEK_MEAN_WATCH
    since = surface.time[run_start(over, at)] if over[at] else None
    level = grade(float(mean[at]), fig.WEEK_MEAN_WATCH)
    return Reading(level, float(mean[at]), fig.WEEK_MEAN_WATCH, "% RH, seven-day mean", since, surface.time[at])


def _level(rung: fig.Rung, reached: bool) -> Level:
    return Level[rung.grade.upper()] if reached else Level.CLEAR


def _longest(surface: Surface, passed: np.ndarray, rung: fig.Rung) -> Reading:
    unit = f"h unbroken over {rung.over:g} % RH"
    lasted = np.nan_to_num(surface.told(climate.hours_in_spell(passed), rung.hours, rung.hours))
    passed = passed[: surface.judged_rows(rung.hours).stop]
    if not lasted.any():
        return Reading(Level.CLEAR, 0.0, rung.hours, unit)
    at, (first, last, _) = int(np.argmax(lasted)), climate.rows_of_spells(passed)
    spell = int(np.searchsorted(last, at))
    return Reading(
        _level(rung, lasted.max() >= rung.hours), float(lasted.max()), rung.hours, unit, surface.time[first[spell]],
        surface.time[at] + pd.Timedelta(hours=1), bool(last[spell] == len(passed) - 1),
    )  # fmt: skip


def _within(surface: Surface, passed: np.ndarray, rung: fig.Rung) -> Reading:
    window = int(rung.within or 0)
    unit = f"h over {rung.over:g} % RH in {window // 24} days"
    total, rows = np.cumsum(passed), surface.judged_rows(window)
    counted = (total - np.concatenate([np.zeros(min(window, len(total)), int), total[:-window]]))[rows]
    if not len(counted):
        return Reading(Level.CLEAR, 0.0, rung.hours, unit)
    top = int(np.argmax(counted))
    value, at = float(counted[top]), rows.start + top
    began = climate.rows_of_spells(passed)[0]
    began = began[began <= at]
    since = surface.time[began[-1]] if len(began) else None
    return Reading(_level(rung, value >= rung.hours), value, rung.hours, unit, since, surface.time[at])


def clock_finding(surface: Surface, weak: Susceptibility) -> Finding:
    """The damp clock at one surface: its highest step reached, or, where none is, the seven-day mean."""
    bias = surface.bias_percent
    held, low, high = (read_clock(surface, shift) for shift in (0.0, -bias, bias))
    at = max(range(len(held)), key=lambda i: (held[i].level, held[i].share if held[i].level > Level.UNKNOWN else -i))
    shown = held[at]
    levels = [_capped(max(reading.level for reading in run), surface, weak) for run in (held, low, high)]
    level = Level.CLEAR if surface.intended[surface.first :].all() else levels[0]
    finding = Finding(
        "mould", "damp hours", layer_at(surface, weak), surface.point, level,
        _clock_sentence(surface, weak, shown, level),
        value=shown.value, uncertainty=(high[at].value - low[at].value) / 2, limit=shown.limit, unit=shown.unit,
        hours=float(hours_over(surface.rh_percent[surface.first :], 1.0)[0]),
        since=shown.since, worst_at=shown.worst_at,
        certainty=Certainty.CERTAIN if len(set(levels)) == 1 else Certainty.CANNOT_TELL,
        working=_clock_working(surface, weak, held),
        **raised(level, surface.end, "a seven-day mean under 65 %, and nothing found on looking"),
    )  # fmt: skip
    if level is Level.UNKNOWN:
        when = decidable_on(surface, fig.WEEK_H, fig.CLOCK_NEEDS)
        return replace(
            finding, decidable_on=when, coverage=surface.coverage, do=FETCH, certainty=Certainty.CANNOT_TELL,
            sentence=f"Too little was read {surface.where} for a seven-day mean; decidable from {surface.day(when)}.",
        )  # fmt: skip
    return clear_only_if_seen(finding, surface.coverage, _unseen(surface, "the damp hours"))


def raised(level: Level, end: pd.Timestamp, clears: str) -> dict:
    """The fields of a mould finding that asks for something; nothing for one that does not."""
    if level < Level.WATCH:
        return {}
    return {
        "look_for": LOOK_FOR, "do": ADVICE[level], "avoid": AVOID, "by": by(level, end), "clears": clears,
        "caution": CAUTION,
    }  # fmt: skip


def _unseen(surface: Surface, what: str) -> str:
    return f"Only {surface.coverage:.0%} of the period was read {surface.where}: {what} cannot be called clear."


def _capped(level: Level, surface: Surface, weak: Susceptibility) -> Level:
    """Urgent is for what feeds mould most; elsewhere the same hours ask for action."""
    most = weak.sensitivity == MOST and surface.point != WALL_FACE
    return level if most else min(level, Level.ACT)


def _clock_sentence(surface: Surface, weak: Susceptibility, shown: Reading, level: Level) -> str:
    if surface.intended[surface.first :].all():
        return f"Damp {surface.where} was intended throughout; no alarm is raised."
    if level is Level.CLEAR:
        said = f"Seven-day mean at most {shown.value:.0f} % RH {surface.where}, under {shown.limit:g}."
        later = _longest_rule_from(surface)
        return said if later is None else f"{said} 30 damp days within 60 can be told from {surface.day(later)}."
    since = f" since {surface.day(shown.since)}" if shown.since is not None else ""
    if shown.worst_at is not None and "unbroken" in shown.unit and not shown.running:
        since = f" from {surface.day(shown.since or shown.worst_at)} to {surface.day(shown.worst_at)}"
    if shown.unit.startswith("%"):
        return (
            f"Seven-day mean {shown.value:.0f} % RH {surface.where}, over {shown.limit:g} (our judgement){since}: "
            f"conditions begin to favour mould {on_layer(surface, weak)}."
        )
    over = shown.unit.removeprefix("h ").replace(" in ", " within ")
    last = f", the last spell{since}" if since and "within" in over else since
    return (
        f"{_days(shown.value)} {over} {surface.where}{last} (limit {_days(shown.limit)}, our judgement): "
        f"conditions favour mould {on_layer(surface, weak)}.{_next_step(surface, shown)}"
    )


def _days(hours: float) -> str:
    return f"{hours:.0f} hours" if hours < 48 else f"{hours / 24:.0f} days"


def _next_step(surface: Surface, shown: Reading) -> str:
    """When a spell that still runs reaches the next step, if the air stays as it is."""
    ahead = [
        rung.hours for rung in fig.DAMP_CLOCK
        if rung.within is None and f"h unbroken over {rung.over:g} % RH" == shown.unit and rung.hours > shown.value
    ]  # fmt: skip
    if not shown.running or not ahead:
        return ""
    when = (shown.worst_at or surface.end) + pd.Timedelta(hours=float(min(ahead)) - shown.value)
    return f" If the air stays as it is, it comes to {_days(min(ahead))} on {surface.day(when)}."


def _longest_rule_from(surface: Surface) -> pd.Timestamp | None:
    """When the rule over 60 days can be decided, if what was not read could still break it; else None."""
    rule = next(rung for rung in fig.DAMP_CLOCK if rung.within)
    window = int(rule.within or 0)
    read = surface.read[-window:]
    open_h = window - int(read.sum()) + int((surface.rh_percent[-window:] > rule.over).sum())
    wait = open_h - rule.hours
    return surface.end + pd.Timedelta(hours=float(wait)) if wait >= 0 else None


def _clock_working(surface: Surface, weak: Susceptibility, held: list[Reading]) -> tuple[tuple[str, str], ...]:
    judged = surface.rh_percent[surface.first :]
    over = hours_over(judged, 1.0)
    damp = ", ".join(f"over {limit:g} %: {h:.0f} h" for limit, h in zip(fig.DAMP_LEVELS, over, strict=True))
    steps = tuple(
        (reading.unit, f"{reading.value:.1f} against {reading.limit:g}: {reading.level.word}") for reading in held
    )
    return (
        ("layer", weak.why),
        ("hours damp in the period", f"{damp}, of {int(np.isfinite(judged).sum())} h read"),
        *_week_line(surface, held[0]),
        *steps,
        (
            "how it counts",
            f"hourly means over a limit and over {fig.COLD_CLOCK_C:g} °C; breaks to "
            f"{SPELL_BRIDGES_H:g} h do not end a spell and are not counted; urgent only on what feeds "
            "mould most",
        ),
        *_clock_changes(held),
        *constants(
            ("seven-day mean", fig.WEEK_MEAN_WATCH),
            ("each step of the clock", fig.DAMP_CLOCK[0].hours),
            *((f"anchor {rh:g} % RH", rh) for rh in fig.DAMP_LEVELS),
        ),
        ("sensor", f"all readings shifted by ±{surface.bias_percent:.1f} % RH together"),
    )


def _week_line(surface: Surface, week: Reading) -> Lines:
    """The seven-day mean from its days."""
    if week.worst_at is None:
        return ()
    row = int(surface.time.searchsorted(week.worst_at))
    return day_means(np.where(surface.intended, np.nan, surface.rh_percent)[: row + 1], int(fig.WEEK_H) // 24, "% RH")


def _clock_changes(held: list[Reading]) -> Lines:
    """How far each step of the clock is from its limit."""
    said = [
        f"{abs(r.limit - r.value):.1f} {'more' if r.value < r.limit else 'less'} on '{r.unit}'"
        for r in held if np.isfinite(r.value)
    ]  # fmt: skip
    return (("what would change the level", "; ".join(said)),) if said else ()


def month_finding(surface: Surface, weak: Susceptibility) -> Finding:
    """The 30-day rule and the calendar month at one surface."""
    mean, whole = month_mean(surface.temp_c, surface.rh_percent)
    rows = surface.judged_rows(fig.MONTH_H)
    mean = surface.told(np.where(surface.read, mean, np.nan), fig.MONTH_H, fig.MONTH_MEAN_RH)[rows]
    broken = (whole & ~surface.intended)[rows] & np.isfinite(mean)
    if not np.isfinite(mean).any():
        return _month_unknown(surface, weak)
    counts = np.where(broken, mean, -np.inf) if broken.any() else mean
    top = int(np.nanargmax(counts))
    months = calendar_months(*_late(surface), surface.zone)
    damp_months = _ended_damp(surface, months)
    level = Level.ACT if broken.any() or damp_months else Level.CLEAR
    since = surface.time[run_start(whole, rows.start + int(np.argmax(broken)))] if broken.any() else None
    bias = surface.bias_percent
    finding = Finding(
        "mould", "30-day mean", layer_at(surface, weak), surface.point, level,
        _month_sentence(surface, float(mean[top]), since, damp_months),
        value=float(mean[top]), uncertainty=bias, limit=fig.MONTH_MEAN_RH, unit="% RH, 30-day mean",
        since=since, worst_at=surface.time[rows.start + top],
        certainty=certainty(float(mean[top]), bias, fig.MONTH_MEAN_RH),
        confidence=fig.MONTH_MEAN_RH.confidence, source=fig.MONTH_MEAN_RH.source,
        working=_month_working(surface, float(mean[top]), rows.start + top, months),
        **raised(level, surface.end, "a 30-day mean under 80 %"),
    )  # fmt: skip
    return clear_only_if_seen(finding, surface.coverage, _unseen(surface, "the 30-day mean"))


def _late(surface: Surface) -> tuple[pd.DatetimeIndex, np.ndarray, np.ndarray]:
    """The hours of the judged period, and of the whole month before the one it begins in: time, air."""
    rows = slice(max(surface.first - TWO_MONTHS_H, 0), None)
    return surface.time[rows], surface.temp_c[rows], surface.rh_percent[rows]


def _ended_damp(surface: Surface, months: dict[str, float]) -> list[str]:
    """Calendar months over the limit that ended in the judged period, outside intended stays."""
    judged_from = surface.time[min(surface.first, len(surface.time) - 1)].tz_convert(surface.zone)
    if surface.intended[surface.first :].all():
        return []
    return [name for name, rh in months.items() if rh > fig.CALENDAR_MONTH_RH and name >= f"{judged_from:%Y-%m}"]


def _month_sentence(surface: Surface, value: float, since: pd.Timestamp | None, damp_months: list[str]) -> str:
    if since is None and damp_months:
        return (
            f"In {', '.join(damp_months)} the month's vapour at its mean temperature came to over 80 % RH "
            f"{surface.where}: the rule made against mould in buildings is broken."
        )
    if since is None:
        return (
            f"30-day mean at most {value:.1f} % RH {surface.where}; a building rule of 2009, withdrawn since, allows "
            "less than 80."
        )
    return (
        f"30-day mean {value:.1f} % RH {surface.where}, 80 or more since {surface.day(since or surface.end)}: the rule "
        "made in 2009 against mould in buildings, withdrawn since, is broken."
    )


def _month_unknown(surface: Surface, weak: Susceptibility) -> Finding:
    when = decidable_on(surface, fig.MONTH_H, fig.MONTH_NEEDS)
    return Finding(
        "mould", "30-day mean", layer_at(surface, weak), surface.point, Level.UNKNOWN,
        f"A 30-day mean {surface.where} can be formed from {surface.day(when)}, if nothing is missed until then.",
        limit=fig.MONTH_MEAN_RH, unit="% RH, 30-day mean", confidence=fig.MONTH_MEAN_RH.confidence,
        source=fig.MONTH_MEAN_RH.source, decidable_on=when, coverage=surface.coverage,
        certainty=Certainty.CANNOT_TELL,
    )  # fmt: skip


def _month_working(surface: Surface, value: float, at: int, months: dict[str, float]) -> tuple[tuple[str, str], ...]:
    judged_from = surface.time[min(surface.first, len(surface.time) - 1)].tz_convert(surface.zone)
    recent = {name: rh for name, rh in months.items() if name >= f"{judged_from - pd.DateOffset(months=1):%Y-%m}"}
    dampest = sorted(recent, key=lambda name: -np.nan_to_num(recent[name]))[:3]
    shown = {name: recent[name] for name in sorted(dampest)}
    return (
        *day_means(surface.rh_percent[: at + 1], int(fig.MONTH_H) // 24, "% RH"),
        ("30-day rule", f"mean of the last 720 h = {value:.2f} %, against 80 % while the mean is 5 to 40 °C"),
        (
            "a former rule",
            "its own standard withdrew it in 2016 and put an index of mould in its place; kept as a second opinion",
        ),
        *what_would_change(value, "% RH", (None, fig.MONTH_MEAN_RH)),
        *constants(
            ("30-day mean", fig.MONTH_MEAN_RH),
            ("calendar month", fig.CALENDAR_MONTH_RH),
            ("share that must be read", fig.MONTH_NEEDS),
        ),
        *((f"month {name}", f"mean vapour at mean temperature = {rh:.1f} %, 80 allowed") for name, rh in shown.items()),
    )
