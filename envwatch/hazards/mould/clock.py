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
from functools import cached_property
from typing import Any

import numpy as np
import pandas as pd

from envwatch import climate
from envwatch.climate.hours import hours_over
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
    """What one step of the clock came to. Of its spell nothing is told before it is followed (`DampAir.followed`)."""

    rung: fig.Rung | None  # None: the seven-day mean
    level: Level
    value: float
    limit: float
    unit: str
    row: int  # its worst hour in the record; -1 where nothing passed
    since: pd.Timestamp | None = None
    worst_at: pd.Timestamp | None = None
    running: bool = False  # the spell had not ended when the record did
    unread_h: int = 0  # hours in it that were not read

    @property
    def rank(self) -> tuple[Level, float]:
        """The higher the level the worse; of one that is raised, the farther over its limit."""
        return self.level, self.value / self.limit if self.level > Level.UNKNOWN else 0.0


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

    @cached_property
    def week_mean(self) -> Array:
        """The seven-day mean that ends with each row of the record; NaN where too little was read. (n,) [% RH]"""
        return climate.running_mean(self.rh_percent, int(fig.WEEK_H))[self.before :]

    def read(self, rung: fig.Rung | None) -> DampnessTest:
        """One step of the clock in the judged period; None is the seven-day mean."""
        surface = self.surface
        if rung is None:
            known = np.where(np.isfinite(self.rh_percent[self.before :]), self.week_mean, np.nan)  # a gap says nothing
            value, row = surface.worst(known, fig.WEEK_H, (fig.WEEK_MEAN_WATCH,))
            level = grade(value, fig.WEEK_MEAN_WATCH)
            return DampnessTest(None, level, value, fig.WEEK_MEAN_WATCH, "% RH, seven-day mean", row)
        if rung.within is None:
            unit = f"h unbroken over {rung.over:g} % RH"
            value, row = surface.worst(self.lasting(rung.over), rung.hours, (rung.hours,))
            value, row = (value, row) if value > 0 else (0.0, -1)
        else:
            unit, window = f"h over {rung.over:g} % RH in {int(rung.within) // 24} days", int(rung.within)
            total, rows = np.cumsum(self.over(rung.over)), surface.judged_rows(window)
            counted = total - np.append(np.zeros(min(window, len(total)), int), total[:-window])
            counted = counted[self.before :][rows]
            row = rows.start + int(np.argmax(counted)) if len(counted) else -1
            value = float(counted.max(initial=0))
        level = Level[rung.grade.upper()] if value >= rung.hours else Level.CLEAR
        return DampnessTest(rung, level, value, rung.hours, unit, row)

    def followed(self, step: DampnessTest) -> DampnessTest:
        """A step with since when its air has been damp, its worst hour, and how much of that was not read."""
        rung, row, time = step.rung, step.row, self.surface.time
        if row < 0:
            return step
        if rung is None:
            over = np.nan_to_num(self.week_mean) >= fig.WEEK_MEAN_WATCH
            first, begun = row + 1 - int(fig.WEEK_H), run_start(over, row) if over[row] else -1
        else:
            spells = climate.rows_of_spells(self.over(rung.over)[: self.before + row + 1])[0]
            begun = max(int(spells[-1]) - self.before, 0) if len(spells) else -1
            first = begun if rung.within is None else row + 1 - int(rung.within)
        unbroken = rung is not None and rung.within is None
        return replace(
            step, since=time[begun] if begun >= 0 else None, worst_at=time[row] + HOUR if unbroken else time[row],
            running=unbroken and row == self.surface.judged_rows(step.limit).stop - 1,
            unread_h=int(self.unread[max(self.before + first, 0) : self.before + row + 1].sum()),
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
    bias, stayed = surface.bias_percent(surface.sensor), surface.in_stay[surface.first :].all()
    held = DampAir.of(surface)  # intended stays do not count
    steps, low, high = (
        [air.read(rung) for rung in STEPS]
        for air in (held, DampAir.of(surface, -bias, Taken.DRY), DampAir.of(surface, bias, Taken.DAMP))
    )
    levels = [min(max(step.level for step in run), surface.most) for run in (steps, low, high)]
    level, most = Level.CLEAR if stayed else levels[0], max(levels)
    at = steps.index(max(steps, key=lambda step: step.rank))  # of equals the first
    shown = held.followed(steps[at])
    drier, damper = (DampAir.of(surface, shift).read(shown.rung).value for shift in (-bias, bias))
    ends = _ends(surface, shown, level, most)
    if level is Level.UNKNOWN:
        when = surface.decidable_on(surface.read, int(fig.WEEK_H), fig.CLOCK_NEEDS, int(np.argmax(surface.read)))
        sentence = f"Too little was read {surface.where} for a seven-day mean; decidable from {surface.date(when)}."
        told: dict[str, Any] = {"decidable_on": when, "do": FETCH}
    else:
        sentence = clock_sentence(surface, replace(shown, level=level), ends)
        told = raised(level, surface.end, "a seven-day mean under 65 %, and nothing found on looking")
    sure = len(set(levels)) == 1 and level is not Level.UNKNOWN
    finding = Finding(
        Hazard.MOULD, Mechanism.DAMP_HOURS, surface.layer, surface.point, level, sentence,
        value=shown.value, uncertainty=(damper - drier) / 2, limit=shown.limit, unit=shown.unit,
        value_low=ends.least.value, value_high=ends.most.value, level_high=most,
        hours=float(hours_over(surface.rh_percent[surface.first :], 1.0)[0]), since=shown.since,
        worst_at=shown.worst_at, certainty=Certainty.CERTAIN if sure else Certainty.CANNOT_TELL,
        working=clock_working(surface, steps, ends), **told,
    )  # fmt: skip
    reached = [step.rung for step in steps if step.level >= min(level, Level.ACT)]
    limits = [float(fig.WEEK_MEAN_WATCH if rung is None else rung.over) for rung in reached]
    over, unseen = held.over(min(limits, default=float(fig.WEEK_MEAN_WATCH))), surface.partly_read("the damp hours")
    return concluded(finding, surface.period.coverage, unseen, held.surface.time, over, held.surface.read)


def _ends(surface: Surface, shown: DampnessTest, level: Level, most: Level) -> Ends:
    """A step with what was not read taken as dry and as damp, and what else that leaves open of a higher level."""
    dry, damp = (DampAir.of(surface, 0, taken, before=False) for taken in (Taken.DRY, Taken.DAMP))
    ends = Ends(shown, shown)
    if damp.unread.any():
        least, most_damp = (air.followed(air.read(shown.rung)) for air in (dry, damp))
        ends = Ends(least, most_damp)
    for air in (damp, DampAir.of(surface, 0, Taken.DAMP)) if most > level else ():
        worst = air.followed(max((air.read(rung) for rung in STEPS), key=lambda step: step.rank))
        if min(worst.level, surface.most) > level:
            return replace(ends, worst=replace(worst, level=min(worst.level, surface.most)), begins=air.before > 0)
    return ends


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
    sensor, week_row, least, most = surface.sensor, held[0].row, ends.least, ends.most
    basis = f"; {sensor.logger}, {sensor.basis}" if sensor.logger else ""
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
