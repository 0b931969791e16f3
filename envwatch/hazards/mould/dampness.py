"""The damp clock: how long the air at a surface has been over a humidity.

The clock leads the growth index: mould that loves dry places, on paste and size, grows where the index is still 0.
Its steps are our judgement, anchored on published latent periods.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from envwatch.climate.exposure import WALL_FACE
from envwatch.climate.stretches import hours_over
from envwatch.core.findings import Certainty, Finding, Hazard, Level, Mechanism
from envwatch.figures import mould as fig
from envwatch.figures.coverage import SPELL_BRIDGES_H, SPELL_UNREAD_H
from envwatch.hazards.grading import asks_from, clear_only_if_seen, with_ending
from envwatch.hazards.mould.damp_air import STEPS, DampAir, DampnessTest, Taken
from envwatch.hazards.mould.surfaces import FETCH, MOST, Surface, raised
from envwatch.hazards.working import Lines, constants, day_means


@dataclass(frozen=True)
class Ends:
    """The step shown with what was not read taken as dry and as damp, and the step that would then be the worst."""

    least: DampnessTest
    most: DampnessTest
    worst: DampnessTest | None = None  # only where it is of a higher level than the finding
    begins: bool = False  # it needs damp air before the record began


def clock_finding(surface: Surface) -> Finding:
    """The damp clock at one surface: its highest step reached, or, where none is, the seven-day mean."""
    bias = surface.bias_percent(surface.recent_sensor)
    held, low, high = (
        DampAir.of(surface, shift, taken).read()  # on air shifted by the sensor's bias; intended stays do not count
        for shift, taken in ((0.0, Taken.HELD), (-bias, Taken.DRY), (bias, Taken.DAMP))
    )
    at = max(range(len(held)), key=lambda i: (held[i].level, held[i].share if held[i].level > Level.UNKNOWN else -i))
    shown = held[at]
    levels = [_capped(max(reading.level for reading in run), surface) for run in (held, low, high)]
    level = Level.CLEAR if surface.intended[surface.first :].all() else levels[0]
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
    reached = [rung for rung, test in zip(STEPS, held, strict=True) if test.level >= asks_from(level)]
    limits = [float(fig.WEEK_MEAN_WATCH if rung is None else rung.over) for rung in reached]
    over = air.over(min(limits, default=float(fig.WEEK_MEAN_WATCH)))
    finding = with_ending(finding, air.surface.time, over, air.surface.read)
    return clear_only_if_seen(finding, surface.period.coverage, surface.partly_read("the damp hours"))


def _ends(surface: Surface, shown: DampnessTest, at: int, levels: tuple[Level, Level]) -> Ends:
    """A step with what was not read taken as dry and as damp, and what else that leaves open of a higher level."""
    least = most = shown
    level, highest = levels
    dry, damp = (DampAir.of(surface, 0, taken, before=False) for taken in (Taken.DRY, Taken.DAMP))
    if damp.unread.any():
        least, most = (air.read(STEPS[at : at + 1])[0] for air in (dry, damp))
    for air in (damp, DampAir.of(surface, 0, Taken.DAMP)) if highest > level else ():
        worst = max(air.read(), key=lambda step: (step.level, step.share if step.level > Level.UNKNOWN else 0))
        worst = replace(worst, level=_capped(worst.level, surface))
        if worst.level > level:
            return Ends(least, most, worst, begins=air.before > 0)
    return Ends(least, most)


def _capped(level: Level, surface: Surface) -> Level:
    """Urgent is for what feeds mould most; elsewhere the same hours ask for action."""
    most = surface.weak.sensitivity == MOST and surface.point != WALL_FACE
    return level if most else min(level, Level.ACT)


def clock_sentence(surface: Surface, shown: DampnessTest, ends: Ends) -> str:
    """What the clock shows, with the range that hours not read leave open. `shown`: at the level of the finding."""
    level, head = shown.level, _range(shown, ends)
    if surface.intended[surface.first :].all():
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
    sensor = surface.recent_sensor
    basis = f"; {sensor.logger}, {sensor.basis}" if sensor.logger else ""
    return (
        ("layer", surface.weak.why),
        ("hours damp in the period", f"{damp}, of {int(np.isfinite(judged).sum())} h read"),
        *_week_line(surface, held[0]),
        *steps,
        (
            "how it counts",
            f"hourly means over a limit and over {fig.COLD_CLOCK_C:g} °C; a spell goes on through breaks to "
            f"{SPELL_BRIDGES_H:g} h, which are not counted, while at least half of its hours count, back from its end "
            f"over any length; up to {SPELL_UNREAD_H:g} h not read between two damp hours count as damp; urgent only "
            "on what feeds mould most",
        ),
        *_unread_lines(ends),
        *_clock_changes(held),
        *constants(
            ("seven-day mean", fig.WEEK_MEAN_WATCH),
            ("each step of the clock", fig.DAMP_CLOCK[0].hours),
            *((f"anchor {rh:g} % RH", rh) for rh in fig.DAMP_LEVELS),
        ),
        ("sensor", f"all readings shifted by ±{surface.bias_percent(sensor):.1f} % RH together{basis}"),
    )


def _unread_lines(ends: Ends) -> Lines:
    """The step at both ends of what was not read, where that changes it."""
    least, most = ends.least, ends.most
    if least.value == most.value or not np.isfinite(least.value):
        return ()
    said = f"{least.value:.1f} if dry, {most.value:.1f} if damp, on '{most.unit}' with {most.unread_h} h not read"
    return (("what was not read", said),)


def _week_line(surface: Surface, week: DampnessTest) -> Lines:
    """The seven-day mean from its days."""
    if week.worst_at is None:
        return ()
    row = int(surface.time.searchsorted(week.worst_at))
    return day_means(np.where(surface.intended, np.nan, surface.rh_percent)[: row + 1], int(fig.WEEK_H) // 24, "% RH")


def _clock_changes(held: list[DampnessTest]) -> Lines:
    """How far each step of the clock is from its limit."""
    said = [
        f"{abs(r.limit - r.value):.1f} {'more' if r.value < r.limit else 'less'} on '{r.unit}'"
        for r in held if np.isfinite(r.value)
    ]  # fmt: skip
    return (("what would change the level", "; ".join(said)),) if said else ()
