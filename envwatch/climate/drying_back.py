"""The course by which a damp canvas is brought back: how fast, by which dates, to what; and the readings held to it.

The rule (our judgement, `figures.canvas`): after long damp, which is two weeks over 70 % RH in the canvas since it was
last at its goal, it falls by at most 5 % RH in any seven days, else by at most 7. A daily step is not a rule: ten a day
would be past every weekly limit by the second day. Seven is under the fall after which size yields and half of the
weekly movement that is watched; what a week bears is inside ±10 % in 24 h by itself. Where it is not known how
long the damp lasted, it was long.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import ceil
from typing import Any, Literal

import numpy as np
import pandas as pd

from envwatch.core.arrays import Array
from envwatch.core.text import day
from envwatch.core.words import Word
from envwatch.figures import canvas as fig
from envwatch.figures.coverage import CLEAR_NEEDS

WEEK, DAY = pd.Timedelta(days=7), pd.Timedelta(days=1)
NEAR = float(fig.BACK_NEARNESS)


class Pace(Word):
    """How the canvas keeps to its course, the worst first."""

    FASTER, UNKNOWN = "faster than the course", "not known whether on course"
    SLOWER, AHEAD = "slower than the course", "ahead of the course, and held"
    ON, REACHED = "on course", "at its goal"


FASTER, UNKNOWN, SLOWER, AHEAD, ON, REACHED = WORST_FIRST = tuple(Pace)
HOLD = "Stop drying and damp nothing; hold the air as it is until the course comes to it:"
SAYS = {FASTER: HOLD, AHEAD: HOLD, SLOWER: "Not to be made up; from here:", UNKNOWN: "Course:", ON: "Course:"}
RULE = (
    f"by no more than {fig.BACK_A_WEEK_AFTER_LONG_DAMP:g} % RH a week after {fig.LONG_DAMP_DAYS / 7:g} weeks over "
    f"{fig.LONG_DAMP_RH:g} % in the canvas, else {fig.BACK_A_WEEK:g} (our judgement)"
)
BACK_A_WEEK = f"by no more than {fig.BACK_A_WEEK:g} % RH a week (our judgement)"


@dataclass(frozen=True)
class Dampness:
    """How damp a canvas is at the end of what was read of it, and what it is brought back to.

    Attributes
    ----------
    rh_percent, read_at : last known mean of a day of its own lagged humidity, and the end of that day. [% RH]
    goal_percent, goal : where the course ends, and what that is, in words. [% RH]
    long_damp : None where the record does not say; then the slower rule holds.
    """

    rh_percent: float
    read_at: pd.Timestamp
    goal_percent: float
    goal: str
    long_damp: bool | None

    @property
    def a_week_percent(self) -> float:
        """The largest fall in any seven days. [% RH]"""
        return float(fig.BACK_A_WEEK if self.long_damp is False else fig.BACK_A_WEEK_AFTER_LONG_DAMP)


@dataclass(frozen=True)
class DryingStep:
    """A humidity, and the day by which the canvas may have come down to it: not before the week that ends then."""

    by: pd.Timestamp
    rh_percent: float


@dataclass(frozen=True)
class DryingCourse:
    """Dated steps from a start down to a goal.

    `read_to`: up to when readings were held to it; `low_percent`: the lowest day's mean among them. [% RH]
    """

    start: pd.Timestamp
    damp: Dampness
    steps: tuple[DryingStep, ...]
    read_to: pd.Timestamp
    low_percent: float
    zone: str

    @property
    def sentence(self) -> str:
        """The course in words, with its dates: "73 → 68 by Mon 9 Nov, 63 by Mon 16 Nov, …"."""
        damp, told = self.damp, ", ".join(f"{s.rh_percent:g} by {_day(s.by, self.zone)}" for s in self.steps)
        read = f" (as of {_day(damp.read_at - DAY, self.zone)})" if damp.read_at < self.start else ""
        why = {
            True: "after long damp",
            None: "how long it was damp is not known, so as after long damp",
            False: "it was damp for less than two weeks",
        }[damp.long_damp]
        return (
            f"canvas {damp.rh_percent:.1f}{read} → {told} % RH: {damp.goal}; at most {damp.a_week_percent:g} % in any "
            f"week, {why} (our judgement)."
        )

    def record(self) -> dict[str, Any]:
        """As it is kept with a review."""
        return {
            "start": self.start.isoformat(), "read_to": self.read_to.isoformat(), "zone": self.zone,
            "rh_percent": self.damp.rh_percent, "read_at": self.damp.read_at.isoformat(),
            "goal_percent": self.damp.goal_percent, "goal": self.damp.goal, "long_damp": self.damp.long_damp,
            "low_percent": self.low_percent,
            "steps": [[step.by.isoformat(), step.rh_percent] for step in self.steps],
        }  # fmt: skip


@dataclass(frozen=True)
class Progress:
    """The course of one painting in a review. `state` is "" where it is new; `course` None once its goal is reached."""

    state: Pace | Literal[""]
    sentence: str
    course: DryingCourse | None


def kept(record: Mapping[str, Any]) -> DryingCourse:
    """The course that was kept with a review."""
    damp = Dampness(
        record["rh_percent"], pd.Timestamp(record["read_at"]), record["goal_percent"], record["goal"],
        record["long_damp"],
    )  # fmt: skip
    steps = tuple(DryingStep(pd.Timestamp(by), rh_percent) for by, rh_percent in record["steps"])
    return DryingCourse(pd.Timestamp(record["start"]), damp, steps, pd.Timestamp(record["read_to"]),
                        record["low_percent"], record["zone"])  # fmt: skip


def begin(damp: Dampness, start: pd.Timestamp, zone: str) -> DryingCourse:
    """The course from a day on: whole percent, a step a week, none larger than the rule has it.

    Parameters
    ----------
    start : its day counts; steps fall due at midnight in `zone`, seven days apart by the calendar.

    >>> at = pd.Timestamp("2026-11-02", tz="UTC")
    >>> [s.rh_percent for s in begin(Dampness(73.0, at, 50.0, "", True), at, "UTC").steps]
    [68, 63, 58, 53, 50.0]
    """
    first, level = start.tz_convert(zone).normalize(), damp.rh_percent
    steps: list[DryingStep] = []
    while level > damp.goal_percent:
        level = max(ceil(level - damp.a_week_percent), damp.goal_percent)
        by = (first + pd.DateOffset(days=7 * (len(steps) + 1))).tz_convert("UTC")
        steps.append(DryingStep(by, level))
    return DryingCourse(first.tz_convert("UTC"), damp, tuple(steps), start, damp.rh_percent, zone)


@dataclass(frozen=True)
class DryingProgress:
    """How a canvas kept to its course: a state, what was measured in words, and the lowest day of all so far. [% RH]"""

    state: Pace
    measured: str
    low_percent: float


def held_to(course: DryingCourse, ends: pd.DatetimeIndex, percent: Array, until: pd.Timestamp) -> DryingProgress:
    """How the canvas kept to a course since it was last held to it.

    Parameters
    ----------
    ends, percent : (n,) ends of local days and the canvas's mean of each, NaN where not known. [% RH]
    until : end of the period.

    Returns
    -------
    Faster, where a day lies under the step that holds then, or under any day of the seven before it by more than the
    rule; each by more than 1 % (our judgement), and lower than what was told before. A day that is not known makes
    it neither slower nor on course: with under four fifths of the days known, or the last two unknown, and nothing
    faster, it is not known.
    """
    since = np.asarray((ends > course.start) & (ends <= until))
    new = np.flatnonzero(since & np.asarray(ends > course.read_to))
    known = new[np.isfinite(percent[new])]
    low = min([course.low_percent, *percent[known]])
    after_start = np.where(since, percent, np.nan)
    over = (_too_low(course, ends, after_start, row) for row in known if percent[row] < course.low_percent - NEAR)
    worst = next(filter(None, over), "")
    if worst:
        return DryingProgress(FASTER, worst, low)
    if not len(new) or len(known) < CLEAR_NEEDS * len(new) or known[-1] < new[-1] - 1:
        return DryingProgress(UNKNOWN, f"{len(known)} of {len(new)} days were read well enough in the canvas", low)
    return _at_the_end(course, ends[known[-1]], float(percent[known[-1]]), low)


def _at_the_end(course: DryingCourse, end: pd.Timestamp, last: float, low: float) -> DryingProgress:
    """Where the last day stands that is known, when none was faster."""
    told, due = f"canvas {last:.1f} % RH on {_day(end - DAY, course.zone)}", _due(course, end)
    if last > due + NEAR:
        return DryingProgress(SLOWER, f"{told}, where the course had come to {due:.0f}", low)
    if last <= course.damp.goal_percent + NEAR:
        return DryingProgress(REACHED, told, low)
    ahead = last < _holds(course, end).rh_percent - NEAR
    return DryingProgress(AHEAD if ahead else ON, told, low)


def _due(course: DryingCourse, end: pd.Timestamp) -> float:
    """What the course had come to by the end of a day. [% RH]"""
    return next((step.rh_percent for step in reversed(course.steps) if step.by <= end), course.damp.rh_percent)


def _holds(course: DryingCourse, end: pd.Timestamp) -> DryingStep:
    """The step down to which a day that ends then may have come."""
    return next((step for step in course.steps if end <= step.by), course.steps[-1])


def _too_low(course: DryingCourse, ends: pd.DatetimeIndex, percent: Array, row: int) -> str:
    """What is faster than the course at one day; "" where nothing is."""
    end, here, step = ends[row], percent[row], _holds(course, ends[row])
    told = f"canvas {here:.1f} % RH on {_day(end - DAY, course.zone)}"
    if here < step.rh_percent - NEAR:
        return f"{told}, where the course comes to {step.rh_percent:g} by {_day(step.by, course.zone)}"
    before = percent[(ends >= end - WEEK) & (ends < end)].tolist()
    if end - course.start <= WEEK:
        before.append(course.damp.rh_percent)
    fell, limit = max((x for x in before if np.isfinite(x)), default=here) - here, course.damp.a_week_percent
    return f"{told}, {fell:.1f} % lower within a week; at most {limit:g}" if fell > limit + NEAR else ""


def go_on(
    course: DryingCourse,
    measured: Sequence[DryingProgress],
    damp: Dampness | None,
    until: pd.Timestamp,
    now: pd.Timestamp,
) -> Progress:
    """What a review says of a course that was given before, and the course that holds from here on.

    Parameters
    ----------
    measured : what `held_to` gave, for each way in which bare days of moves may be given away; the worst counts.
    damp : how damp the canvas is now; None where it needs no course of its own.

    Faster: the same course, and the air is held until its dates come to the canvas. Slower: a new one from here at
    the same rate, for what was lost is not made up. Not known: the same one.
    """
    held = min(measured, key=lambda one: WORST_FIRST.index(one.state))
    head = f"{held.state[0].upper()}{held.state[1:]}: {held.measured}."
    if held.state == REACHED:
        return Progress(held.state, f"{head} The course ends here.", None)
    ahead = replace(course, read_to=until, low_percent=held.low_percent)
    if held.state == SLOWER and damp is not None:
        long_damp = damp.long_damp if course.damp.long_damp is False else course.damp.long_damp
        damp = replace(damp, goal_percent=course.damp.goal_percent, goal=course.damp.goal, long_damp=long_damp)
        ahead = begin(damp, max(until, now), course.zone)
    return Progress(held.state, f"{head} {SAYS[held.state]} {ahead.sentence}", ahead)


def _day(at: pd.Timestamp, zone: str) -> str:
    return day(at.tz_convert(zone))


__all__ = [
    "AHEAD", "BACK_A_WEEK", "FASTER", "ON", "REACHED", "RULE", "SLOWER", "UNKNOWN", "DryingCourse", "Dampness",
    "DryingProgress", "Progress", "DryingStep", "begin", "go_on", "held_to", "kept",
]  # fmt: skip
