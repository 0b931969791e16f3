"""The damp clock: how long the air at a surface has been over a humidity.

The clock leads the growth index: mould that loves dry places, on paste and size, grows where the index is still 0.
Its steps are our judgement, anchored on published latent periods.
"""

from __future__ import annotations

from dataclasses import replace

from envwatch.climate.exposure import WALL_FACE
from envwatch.climate.stretches import hours_over
from envwatch.core.findings import Certainty, Finding, Hazard, Level, Mechanism
from envwatch.figures import mould as fig
from envwatch.hazards.ending import asks_from, with_ending
from envwatch.hazards.grading import clear_only_if_seen
from envwatch.hazards.mould.damp_air import DampAir, DampnessTest, Taken
from envwatch.hazards.mould.damp_words import Ends, clock_sentence, clock_working
from envwatch.hazards.mould.messages import FETCH, layer_at, partly_read, raised
from envwatch.hazards.mould.susceptibility import MOST, Susceptibility
from envwatch.hazards.surfaces import Surface, decidable_on

STEPS = (None, *fig.DAMP_CLOCK)  # None: the seven-day mean


def read_clock(surface: Surface, shift_percent: float = 0.0, taken: Taken = Taken.HELD) -> list[DampnessTest]:
    """All steps of the clock in the judged period, on air shifted by a sensor's bias. Intended stays do not count."""
    return DampAir.of(surface, shift_percent, taken).read(STEPS)


def clock_finding(surface: Surface, weak: Susceptibility) -> Finding:
    """The damp clock at one surface: its highest step reached, or, where none is, the seven-day mean."""
    bias = surface.recent_bias_percent
    held, low, high = (
        read_clock(surface, shift, taken)
        for shift, taken in ((0.0, Taken.HELD), (-bias, Taken.DRY), (bias, Taken.DAMP))
    )
    at = max(range(len(held)), key=lambda i: (held[i].level, held[i].share if held[i].level > Level.UNKNOWN else -i))
    shown = held[at]
    levels = [_capped(max(reading.level for reading in run), surface, weak) for run in (held, low, high)]
    level = Level.CLEAR if surface.intended[surface.first :].all() else levels[0]
    ends = _ends(surface, weak, shown, at, (level, max(levels)))
    finding = Finding(
        Hazard.MOULD, Mechanism.DAMP_HOURS, layer_at(surface, weak), surface.point, level,
        clock_sentence(surface, weak, replace(shown, level=level), ends),
        value=shown.value, uncertainty=_sensor_u(surface, at, bias), limit=shown.limit, unit=shown.unit,
        value_low=ends.least.value, value_high=ends.most.value, level_high=max(levels),
        hours=float(hours_over(surface.rh_percent[surface.first :], 1.0)[0]),
        since=shown.since, worst_at=shown.worst_at,
        certainty=Certainty.CERTAIN if len(set(levels)) == 1 else Certainty.CANNOT_TELL,
        working=clock_working(surface, weak, held, ends),
        **raised(level, surface.end, "a seven-day mean under 65 %, and nothing found on looking"),
    )  # fmt: skip
    if level is Level.UNKNOWN:
        when = decidable_on(surface, fig.WEEK_H, fig.CLOCK_NEEDS)
        return replace(
            finding, decidable_on=when, coverage=surface.coverage, do=FETCH, certainty=Certainty.CANNOT_TELL,
            sentence=f"Too little was read {surface.where} for a seven-day mean; decidable from {surface.day(when)}.",
        )  # fmt: skip
    air = DampAir.of(surface)
    reached = [rung for rung, test in zip(STEPS, held, strict=True) if test.level >= asks_from(level)]
    limits = [float(fig.WEEK_MEAN_WATCH if rung is None else rung.over) for rung in reached]
    over = air.over(min(limits, default=float(fig.WEEK_MEAN_WATCH)))
    finding = with_ending(finding, air.surface.time, over, air.surface.read)
    return clear_only_if_seen(finding, surface.coverage, partly_read(surface, "the damp hours"))


def _sensor_u(surface: Surface, at: int, bias_percent: float) -> float:
    """What the sensor's bias alone leaves open of a step."""
    low, high = (DampAir.of(surface, shift).read(STEPS[at : at + 1])[0] for shift in (-bias_percent, bias_percent))
    return (high.value - low.value) / 2


def _ends(surface: Surface, weak: Susceptibility, shown: DampnessTest, at: int, levels: tuple[Level, Level]) -> Ends:
    """A step with what was not read taken as dry and as damp, and what else that leaves open of a higher level."""
    least = most = shown
    level, highest = levels
    dry, damp = (DampAir.of(surface, 0, taken, before=False) for taken in (Taken.DRY, Taken.DAMP))
    if damp.unread.any():
        least, most = (air.read(STEPS[at : at + 1])[0] for air in (dry, damp))
    for air in (damp, DampAir.of(surface, 0, Taken.DAMP)) if highest > level else ():
        worst = max(air.read(STEPS), key=lambda step: (step.level, step.share if step.level > Level.UNKNOWN else 0))
        worst = replace(worst, level=_capped(worst.level, surface, weak))
        if worst.level > level:
            return Ends(least, most, worst, begins=air.before > 0)
    return Ends(least, most)


def _capped(level: Level, surface: Surface, weak: Susceptibility) -> Level:
    """Urgent is for what feeds mould most; elsewhere the same hours ask for action."""
    most = weak.sensitivity == MOST and surface.point != WALL_FACE
    return level if most else min(level, Level.ACT)
