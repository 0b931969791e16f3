"""The damp clock: how long the air at a surface has been over a humidity, with what was not read left open.

The clock leads the growth index: mould that loves dry places, on paste and size, grows where the index is still 0.
Its steps are our judgement, anchored on published latent periods.

What was not read is taken as held, as dry or as damp. Held: a short stretch not read between two damp hours counts as
damp (`climate.held`). Dry: what was not read counts for nothing. Damp: it is at the dampest read within a week about it
(`climate.worst_in_gaps`; saturated where nothing was), and before the record as in the dampest of its first hours. So
with less read the least is never more, and the most never less unless what was worst has gone; a level that these ends
part is not certain.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from enum import Enum

import numpy as np
import pandas as pd

from envwatch import climate
from envwatch.climate.stretches import hours_over
from envwatch.core.arrays import Array, Mask, Whole
from envwatch.core.findings import Certainty, Finding, Hazard, Level, Mechanism
from envwatch.figures import mould as fig
from envwatch.figures.coverage import SPELL_BRIDGES_H, SPELL_UNREAD_H
from envwatch.hazards.grading import concluded, constants, day_means, grade
from envwatch.hazards.hourly import HOUR
from envwatch.hazards.mould.surfaces import FETCH, Surface, raised, run_start

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
        rh = np.where(surface.in_stay, np.nan, np.clip(surface.rh_percent + shift_percent, 0, 100))
        unread = ~surface.read & ~surface.in_stay
        if taken is not Taken.DAMP:
            return cls(surface, rh, surface.temp_c, unread, taken, 0)
        first = rh[np.isfinite(rh)][: int(SPELL_BRIDGES_H)]
        lead = np.full(BEFORE_H if before and len(first) else 0, first.max(initial=0))
        warmest = float(fig.MONTH_MEAN_TO_C)  # where nothing was read near enough
        rh = np.where(unread & np.isnan(rh), np.nan_to_num(climate.worst_in_gaps(rh), nan=100.0), rh)
        near_c = np.nan_to_num(climate.worst_in_gaps(surface.temp_c), nan=warmest)
        temp = np.where(surface.in_stay, surface.temp_c, near_c)
        warm = np.full(len(lead), warmest)
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
        surface = self.surface
        course = climate.running_mean(self.rh_percent, int(fig.WEEK_H))[self.before :]
        known = np.where(np.isfinite(self.rh_percent[self.before :]), course, np.nan)  # a gap says nothing new
        mean, at = surface.worst(known, fig.WEEK_H, (fig.WEEK_MEAN_WATCH,))
        if at < 0:
            return DampnessTest(Level.UNKNOWN, np.nan, fig.WEEK_MEAN_WATCH, "% RH, seven-day mean")
        over = np.nan_to_num(course) >= fig.WEEK_MEAN_WATCH
        since = surface.time[run_start(over, at)] if over[at] else None
        level = grade(mean, fig.WEEK_MEAN_WATCH)
        window = slice(self.before + max(at + 1 - int(fig.WEEK_H), 0), self.before + at + 1)
        return DampnessTest(
            level, mean, fig.WEEK_MEAN_WATCH, "% RH, seven-day mean", since, surface.time[at],
            unread_h=int(self.unread[window].sum()),
        )  # fmt: skip

    def _longest(self, rung: fig.Rung) -> DampnessTest:
        surface, unit = self.surface, f"h unbroken over {rung.over:g} % RH"
        lasted, at = surface.worst(self.lasting(rung.over), rung.hours, (rung.hours,))
        if not lasted > 0:
            return DampnessTest(Level.CLEAR, 0.0, rung.hours, unit)
        stop = surface.judged_rows(rung.hours).stop
        first = max(int(climate.rows_of_spells(self.over(rung.over)[: self.before + at + 1])[0][-1]) - self.before, 0)
        level = Level[rung.grade.upper()] if lasted >= rung.hours else Level.CLEAR
        return DampnessTest(
            level, lasted, rung.hours, unit, surface.time[first],
            surface.time[at] + HOUR, at == stop - 1, int(self.unread[self.before + first : self.before + at + 1].sum()),
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
            unread_h=int(self.unread[self.before + max(at + 1 - window, 0) : self.before + at + 1].sum()),
        )  # fmt: skip


@dataclass(frozen=True)
class Ends:
    """The step shown with what was not read taken as dry and as damp, and the step that would then be the worst."""

    least: DampnessTest
    most: DampnessTest
    worst: DampnessTest | None = None  # only where it is of a higher level than the finding
    begins: bool = False  # it needs damp air before the record began


def clock_finding(surface: Surface) -> Finding:
    """The damp clock at one surface: its highest step reached, or, where none is, the seven-day mean."""
    bias = surface.bias_percent(surface.sensor)
    held, low, high = (
        DampAir.of(surface, shift, taken).read()  # on air shifted by the sensor's bias; intended stays do not count
        for shift, taken in ((0.0, Taken.HELD), (-bias, Taken.DRY), (bias, Taken.DAMP))
    )
    ranks = [(step.level, step.value / step.limit if step.level > Level.UNKNOWN else -n) for n, step in enumerate(held)]
    at = ranks.index(max(ranks))
    shown = held[at]
    levels = [min(max(reading.level for reading in run), surface.most) for run in (held, low, high)]
    level = Level.CLEAR if surface.in_stay[surface.first :].all() else levels[0]
    ends = _ends(surface, shown, at, (level, max(levels)))
    # what the sensor's bias alone leaves open of the step
    drier, damper = (DampAir.of(surface, shift).read(STEPS[at : at + 1])[0] for shift in (-bias, bias))
    finding = Finding(
        Hazard.MOULD, Mechanism.DAMP_HOURS, surface.layer, surface.point, level,
        clock_sentence(surface, replace(shown, level=level), ends),
        value=shown.value, uncertainty=(damper.value - drier.value) / 2, limit=shown.limit, unit=shown.unit,
        value_low=ends.least.value, value_high=ends.most.value, level_high=max(levels),
        hours=float(hours_over(surface.rh_percent[surface.first :], 1.0)[0]),
        since=shown.since, worst_at=shown.worst_at,
        certainty=Certainty.CERTAIN if len(set(levels)) == 1 else Certainty.CANNOT_TELL,
        working=clock_working(surface, held, ends),
        **raised(level, surface.end, "a seven-day mean under 65 %, and nothing found on looking"),
    )  # fmt: skip
    if level is Level.UNKNOWN:
        when = surface.decidable_on(surface.read, int(fig.WEEK_H), fig.CLOCK_NEEDS, int(np.argmax(surface.read)))
        return replace(
            finding, decidable_on=when, coverage=surface.period.coverage, do=FETCH, certainty=Certainty.CANNOT_TELL,
            sentence=f"Too little was read {surface.where} for a seven-day mean; decidable from {surface.date(when)}.",
        )  # fmt: skip
    air = DampAir.of(surface)
    reached = [rung for rung, test in zip(STEPS, held, strict=True) if test.level >= min(level, Level.ACT)]
    limits = [float(fig.WEEK_MEAN_WATCH if rung is None else rung.over) for rung in reached]
    over = air.over(min(limits, default=float(fig.WEEK_MEAN_WATCH)))
    return concluded(
        finding, surface.period.coverage, surface.partly_read("the damp hours"), air.surface.time, over,
        air.surface.read,
    )  # fmt: skip


def _ends(surface: Surface, shown: DampnessTest, at: int, levels: tuple[Level, Level]) -> Ends:
    """A step with what was not read taken as dry and as damp, and what else that leaves open of a higher level."""
    least = most = shown
    level, highest = levels
    dry, damp = (DampAir.of(surface, 0, taken, before=False) for taken in (Taken.DRY, Taken.DAMP))
    if damp.unread.any():
        least, most = (air.read(STEPS[at : at + 1])[0] for air in (dry, damp))
    for air in (damp, DampAir.of(surface, 0, Taken.DAMP)) if highest > level else ():
        worst = max(air.read(), key=lambda step: (step.level, step.value / step.limit if step.level > 1 else 0))
        worst = replace(worst, level=min(worst.level, surface.most))
        if worst.level > level:
            return Ends(least, most, worst, begins=air.before > 0)
    return Ends(least, most)


def clock_sentence(surface: Surface, shown: DampnessTest, ends: Ends) -> str:
    """What the clock shows, with the range that hours not read leave open. `shown`: at the level of the finding."""
    level, head = shown.level, _range(shown, ends)
    if surface.in_stay[surface.first :].all():
        return f"Damp {surface.where} was intended throughout; no alarm is raised."
    if level is Level.CLEAR:
        said = f"Seven-day mean at most {shown.value:.0f} % RH {surface.where}, under {shown.limit:g}."
        said = f"{said.removesuffix('.')}{_left_open(ends)}."
        later = _longest_rule_from(surface)
        return said if later is None else f"{said} 30 damp days within 60 can be told from {surface.date(later)}."
    since = f" since {surface.date(shown.since)}" if shown.since is not None else ""
    if shown.worst_at is not None and "unbroken" in shown.unit and not shown.running:
        since = f" from {surface.date(shown.since or shown.worst_at)} to {surface.date(shown.worst_at)}"
    if shown.unit.startswith("%"):
        return (
            f"Seven-day mean {shown.value:.0f} % RH {surface.where}, over {shown.limit:g} (our judgement){since}: "
            f"conditions begin to favour mould {surface.on_layer}{_left_open(ends)}."
        )
    over = shown.unit.removeprefix("h ").replace(" in ", " within ")
    last = f", the last spell{since}" if since and "within" in over else since
    return (
        f"{head} {over} {surface.where}{last} (limit {_days(shown.limit)}, our judgement): "
        f"conditions favour mould {surface.on_layer}{_left_open(ends)}.{_next_step(surface, shown)}"
    )


def _days(hours: float, digits: int = 0) -> str:
    """Hours, and from two days on days: to a tenth where a range is told."""
    return f"{hours:.0f} hours" if hours < 48 else f"{hours / 24:.{digits}f}".removesuffix(".0") + " days"


def _range(shown: DampnessTest, ends: Ends) -> str:
    """Hours or days; where hours not read leave the step itself open, from the least to the most."""
    least, most = (_days(reading.value, 1) for reading in (ends.least, ends.most))
    if ends.least.level is ends.most.level or _days(ends.least.value) == _days(ends.most.value):
        return _days(shown.value)
    if least.split()[-1] == most.split()[-1]:
        most = most.split()[0]
    return f"At least {least}, up to {most} if {_not_read(ends.most.unread_h)} damp too,"


def _left_open(ends: Ends) -> str:
    """What hours not read, or the time before the record, may have come to at a higher level."""
    worst = ends.worst
    if worst is None:
        return ""
    if ends.begins:
        return f"; the record begins damp, and what was before it may make it {worst.level.word}"
    if worst.unit.startswith("%"):
        most = f"a seven-day mean of up to {worst.value:.0f} % RH"
    else:
        most = f"up to {_days(worst.value, 1)} {worst.unit.removeprefix('h ').replace(' in ', ' within ')}"
    return f"; if {_not_read(worst.unread_h)} damp it may be {most}, which is {worst.level.word}"


def _not_read(hours: int) -> str:
    return "the hour not read was" if hours == 1 else f"the {hours} hours not read were"


def _next_step(surface: Surface, shown: DampnessTest) -> str:
    """When a spell that still runs reaches the next step, if the air stays as it is."""
    ahead = [
        rung.hours for rung in fig.DAMP_CLOCK
        if rung.within is None and f"h unbroken over {rung.over:g} % RH" == shown.unit and rung.hours > shown.value
    ]  # fmt: skip
    if not shown.running or not ahead:
        return ""
    when = (shown.worst_at or surface.end) + pd.Timedelta(hours=float(min(ahead)) - shown.value)
    return f" If the air stays as it is, it comes to {_days(min(ahead))} on {surface.date(when)}."


def _longest_rule_from(surface: Surface) -> pd.Timestamp | None:
    """When the rule over 60 days can be decided, if what was not read could still break it; else None."""
    rule = next(rung for rung in fig.DAMP_CLOCK if rung.within)
    window = int(rule.within or 0)
    read = surface.read[-window:]
    open_h = window - int(read.sum()) + int((surface.rh_percent[-window:] > rule.over).sum())
    wait = open_h - rule.hours
    return surface.end + pd.Timedelta(hours=float(wait)) if wait >= 0 else None


def clock_working(surface: Surface, held: list[DampnessTest], ends: Ends) -> tuple[tuple[str, str], ...]:
    """The lines behind the finding."""
    judged = surface.rh_percent[surface.first :]
    over = hours_over(judged, 1.0)
    damp = ", ".join(f"over {limit:g} %: {h:.0f} h" for limit, h in zip(fig.DAMP_LEVELS, over, strict=True))
    steps = tuple(
        (reading.unit, f"{reading.value:.1f} against {reading.limit:g}: {reading.level.word}") for reading in held
    )
    sensor, week, least, most = surface.sensor, held[0], ends.least, ends.most
    basis = f"; {sensor.logger}, {sensor.basis}" if sensor.logger else ""
    week_row = -1 if week.worst_at is None else int(surface.time.searchsorted(week.worst_at))
    free = np.where(surface.in_stay, np.nan, surface.rh_percent)[: week_row + 1]
    open_ = f"{least.value:.1f} if dry, {most.value:.1f} if damp, on '{most.unit}' with {most.unread_h} h not read"
    apart = "; ".join(
        f"{abs(r.limit - r.value):.1f} {'more' if r.value < r.limit else 'less'} on '{r.unit}'"
        for r in held if np.isfinite(r.value)
    )  # fmt: skip
    return (
        ("layer", surface.weak.why),
        ("hours damp in the period", f"{damp}, of {int(np.isfinite(judged).sum())} h read"),
        *day_means(free, int(fig.WEEK_H) // 24, "% RH"),
        *steps,
        (
            "how it counts",
            f"hourly means over a limit and over {fig.COLD_CLOCK_C:g} °C; a spell goes on through breaks to "
            f"{SPELL_BRIDGES_H:g} h, which are not counted, while at least half of its hours count, back from its end "
            f"over any length; up to {SPELL_UNREAD_H:g} h not read between two damp hours count as damp; urgent only "
            "on what feeds mould most",
        ),
        *((("what was not read", open_),) if least.value != most.value and np.isfinite(least.value) else ()),
        *((("what would change the level", apart),) if apart else ()),
        *constants(
            ("seven-day mean", fig.WEEK_MEAN_WATCH),
            ("each step of the clock", fig.DAMP_CLOCK[0].hours),
            *((f"anchor {rh:g} % RH", rh) for rh in fig.DAMP_LEVELS),
        ),
        ("sensor", f"all readings shifted by ±{surface.bias_percent(sensor):.1f} % RH together{basis}"),
    )
