"""One canvas as humidity sees it, and its course: the air it had hour by hour, and what it came to by its own lag."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd

from envwatch import climate
from envwatch.climate.exposure import CANVAS_BACK, ROOM, Exposure
from envwatch.climate.series import Climate
from envwatch.core.arrays import Array, Mask
from envwatch.core.dates import utc
from envwatch.core.findings import Certainty, Finding, Hazard, Level, Mechanism
from envwatch.core.painting import Painting, Role, Work
from envwatch.core.place import Point
from envwatch.figures import Figure
from envwatch.figures import canvas as fig
from envwatch.hazards import grading
from envwatch.hazards.canvas import strain
from envwatch.hazards.grading import Lines
from envwatch.hazards.hourly import HOUR, HourlyExposure

ALL_INTENDED = "The whole period was an intended stay, which raises no alarm."


@dataclass(frozen=True)
class BuildUp:
    """Two paintings that are alike in this are judged alike in the same air.

    Attributes
    ----------
    tau_h : time constant of the build-up as it is now. [h]
    lined_on : day of the last lining in UTC; None where there is none, or no date.
    lined_at_percent : humidity of the room as entered with that lining; None where it was not. [% RH]
    lining_factors : what the lining does to the strain of the size and the shrinkage of the canvas.
    acrylic, assumed : whether the paint is taken as acrylic, and whether that is a guess.
    """

    tau_h: float
    lined_on: pd.Timestamp | None
    lining_factors: tuple[float, float]
    acrylic: bool
    assumed: bool
    lined_at_percent: float | None = None


def canvas_of(painting: Painting | None) -> BuildUp:
    """The canvas of a painting; None is an unlined one in oil."""
    lined = painting.lined_on if painting else None
    linings = (t for t in painting.treatments if t.kind == Work.LINING and t.on == lined) if painting and lined else ()
    entered = next((t.studio_rh_percent for t in linings if t.studio_rh_percent is not None), None)
    return BuildUp(
        climate.response_time_h(painting), utc(lined), strain.lining_factors(painting), *is_acrylic(painting), entered
    )


def is_acrylic(painting: Painting | None) -> tuple[bool, bool]:
    """Whether the paint is to be taken as acrylic, and whether that is assumed.

    Stated layers decide. Unknown paint is taken as acrylic where the picture was made late enough, as oil where
    it was made earlier or its date is not known.
    """
    paints = [layer for layer in painting.layers if layer.role in (Role.PAINT, Role.GROUND)] if painting else []
    if any("acrylic" in f"{layer.material} {layer.note}".lower() for layer in paints):
        return True, False
    if any(layer.role == Role.PAINT and layer.material not in ("", "unknown") for layer in paints):
        return False, False
    years = [int(year) for year in re.findall(r"\b(1[4-9]\d\d|20\d\d)\b", painting.made)] if painting else []
    return bool(years) and max(years) >= fig.ACRYLIC_SOLD_FROM, True


@dataclass(frozen=True)
class Usual:
    """What a strain is reckoned from. `temp_c` NaN: not known, and the strain is that of humidity alone."""

    percent: float
    words: str
    temp_c: float
    temp_words: str = "its mean of the 30 days before"


@dataclass(frozen=True, eq=False)
class CanvasCourse(HourlyExposure):
    """The air of a canvas, of a week with the hours after it that complete its windows, and what it made of the canvas.

    Hours that are meant, and those in which it dries after them, are left out.

    Attributes
    ----------
    canvas_percent : (n,) the humidity the canvas has come to.
    free_percent : (n,) the same but in hours that were meant, or in which it dried after them.
    lagged : the same with what gaps and the begin of the record leave open of it, in gaps too.
    ends : the lowest and the highest of that, NaN where `free_percent` is for its hour. (n,), (n,)
    season : the seasonal cycle of `free_percent` up to the period's end, and where it is provisional. (n,), (n,)
    """

    canvas: BuildUp
    canvas_percent: Array
    free_percent: Array
    lagged: climate.LaggedRange
    ends: tuple[Array, Array]
    season: tuple[Array, Mask]

    def difference_u(self, first: pd.Timestamp, until: pd.Timestamp, row: int) -> tuple[float, str]:
        """Half-width of the difference between a row and what was read in [first, until), and why. [% RH]

        The bias of a logger is in both and cancels, unless another one read the one than the other.
        """
        at = self.time[row]
        now, then = self.sensor_at(row, 1, self.tau_h), self.there.sensor_over(first, until)
        noise = float(np.hypot(now.rh_noise_percent, then.rh_noise_percent))
        moved = any(first < stint.start <= at for stint in self.exposure.stints[1:])
        same = now.logger == then.logger and " " not in now.logger if now.logger else not moved
        if same:
            return noise, f"± {noise:.1f} % RH: noise of two readings; the logger's bias is in both and cancels"
        u = float(np.hypot(noise, np.hypot(now.rh_bias_percent, then.rh_bias_percent)))
        two = f"read by {then.logger} then and by {now.logger} now"
        two = two if now.logger else "the painting moved in between, to another logger"
        return u, f"± {u:.1f} % RH: {two}, whose bias and noise do not cancel"

    def gap_u(self, row: int, hours: int = 1) -> float:
        """Half-width of what gaps leave open of a value formed over the hours up to a row. [% RH]"""
        return float(np.fmax.reduce(self.lagged.doubt[max(row - hours + 1, 0) : row + 1], initial=0.0))

    def usual(self, row: int) -> Usual:
        """What the canvas is used to at an hour: its mean of the 30 days that is known then, else of all readings."""
        level, trailing = (values[row] for values in self.season)
        words = f"its mean of the {'30 days before' if trailing else '15 days before and after'}"
        if np.isnan(level):
            level, words = np.nanmean(self.canvas_percent), "its mean of all readings"
        month = self.temp_c[max(row - 719, 0) : row + 1]
        return Usual(float(level), words, float(np.nanmean(month)) if np.isfinite(month).any() else float("nan"))

    def strain_at(self, row: int, usual: Usual | None = None, percent: float | None = None) -> Lines:
        """Lines for `why`: strain of the layers at one hour, of its humidity or another, against what is usual."""
        usual = usual or self.usual(row)
        now = float(self.canvas_percent[row]) if percent is None else percent
        warmer_k = float(self.temp_c[row] - usual.temp_c)
        bar = f"{float(strain.bar_change_mm(now, usual.percent)):+.1f} mm across the grain, if it had time to follow"
        warmth = "" if np.isnan(warmer_k) else f"; {usual.temp_words} {usual.temp_c:.1f} °C"
        return (
            ("what the strain is reckoned from", f"{usual.percent:.1f} % RH, {usual.words}{warmth}"),
            *strain.strain_lines(now, usual.percent, self.canvas.lining_factors, warmer_k),
            ("a stretcher bar 60 mm wide", bar),
        )

    def day_lines(self, row: int, mean: bool = False) -> Lines:
        """Lines for `why`: the last step of the lag at a row and, for a 24 h mean, the hours it was made of."""
        first = max(row - 5, 0)  # a gap that is bridged lies within 3 h
        air = float(climate.bridged(self.rh_percent[first : row + 5])[row - first])
        before = float(self.canvas_percent[row - 1]) if row else float("nan")
        lined = self.canvas.lined_on
        tau = self.tau_h if lined is None or lined <= self.time[row] else climate.response_time_h(None)
        step = grading.lag_step(before, air, tau, float(self.canvas_percent[row]))
        if not mean:
            return step
        day = self.free_percent[max(row - 23, 0) : row + 1]
        return (*step, *grading.mean_of_hours(day, "lagged humidity y", "% RH"))

    def finding(
        self, mechanism: Mechanism, layer: str, level: Level, sentence: str, limit: Figure, *, value: float = np.nan,
        u: float = np.nan, row: int = -1, limits: Sequence[float] = (), working: Lines = (),
    ) -> Finding:  # fmt: skip
        """A finding with the limit's own source and confidence; of a value, its half-width, its row, and whether the
        sensor can tell it from its limits."""
        return Finding(
            Hazard.FLUCTUATION, mechanism, layer, self.point, level, sentence, value, u, float(limit), limit.unit,
            worst_at=self.time[row] if row >= 0 else None,
            certainty=grading.certainty(value, u, *(float(step) for step in limits)),
            confidence=limit.confidence, source=limit.source, working=working,
        )  # fmt: skip

    def unread(self, mechanism: Mechanism, layer: str, limit: Figure, reason: str) -> Finding:
        """No judged value: nothing was read, or all of the period was intended."""
        if self.judged().any():
            return self.finding(mechanism, layer, Level.UNKNOWN, reason, limit)
        return self.finding(mechanism, layer, Level.CLEAR, ALL_INTENDED, limit)

    def left_open(
        self, finding: Finding, might: Array, limits: Sequence[float], sign: int = 1, hours: int = 1
    ) -> Finding:
        """The finding with the range that gaps leave open: where that reaches another level, it cannot be told.

        `might` is the value at each hour, read or not, if the air in the gaps was as bad as in the weeks about them,
        formed over so many hours; `sign` -1 where lower is worse. The level stays that of the state held.
        """
        worst = sign * self.worst(might, hours, limits, sign)[0]
        if finding.worst_at is None or not worst > sign * finding.value + 0.05:  # neither of them NaN
            return finding
        steps = [sign * float(limit) for limit in limits]
        reached, held = (grading.grade(value, *steps) for value in (worst, sign * finding.value))
        line = ("what gaps leave open",
                f"with the air in them at the worst about them: {sign * worst:.1f} {finding.unit} instead of "
                f"{finding.value:.1f}")  # fmt: skip
        return replace(
            finding, working=(*finding.working, line), value_high=sign * worst,
            value_low=finding.value - sign * self.gap_u(int(self.time.searchsorted(finding.worst_at)), hours),
            level_high=max(reached, finding.level),
            certainty=finding.certainty if reached is held else Certainty.CANNOT_TELL,
        )  # fmt: skip

    def finish(
        self, finding: Finding, known: Mask, passed: Mask, reason: str, hours: int = 1, later: Mask | None = None,
        advice: Mapping[str, Any] | None = None,
    ) -> Finding:  # fmt: skip
        """Set what every finding of this hazard has: coverage, hours, since, doubt, intended stays, by when.

        `passed` is formed over so many hours; it may hold in intended ones too: they are mentioned and raise nothing.
        `later`: the same with the rows after those judged, where it has none. `advice`: what to look for, do and avoid,
        and what clears it, where it is raised.
        """
        still = (passed if later is None else later) & ~self.drying
        passed = passed.copy()
        passed[self.judged_rows(hours).stop :] = False
        over = passed & self.judged(hours)
        row = None if finding.worst_at is None else int(self.time.searchsorted(finding.worst_at))
        sensor = self.there.sensor if row is None else self.sensor_at(row, hours, self.tau_h)
        followed = (
            ("what the canvas follows", f"air at the point '{self.point}', hourly means, gaps to 3 h bridged"),
            ("lag of the canvas", f"y + (1 - exp(-1 h / tau)) (x - y) each hour, tau {self.canvas.tau_h:g} h (our "
             "judgement); after a long gap it restarts at the mean of the next three tau"),
            grading.read_by(sensor),
        )  # fmt: skip
        changed: dict[str, Any] = {"hours": float(over.sum()), "working": finding.working + followed}
        if finding.level >= Level.WATCH:
            within = pd.Timedelta(days=float(fig.LOOK_WITHIN_DAYS[int(finding.level)]))
            changed |= {"by": self.end + within, "since": self.since(passed, hours) if over.any() else None}
            changed |= advice or {}
        finding = replace(finding, **changed)
        if finding.level >= Level.WATCH and over.any() and self.suspect[over].all():
            finding = _add(finding, "all readings behind this are marked as doubtful")
            finding = replace(finding, certainty=Certainty.CANNOT_TELL)
        finding = grading.with_open_level(finding)
        free, meant = self.in_period & ~self.drying, self.in_period & self.drying
        if (passed & meant).any():
            finding = _add(finding, f"{self._intended_words()} also passed the limit, was intended and raises no alarm")
        if finding.level is Level.CLEAR and (self.suspect & free).any():
            known = known & ~self.suspect  # a marked reading may pass a limit, but it clears nothing
            reason = reason.rstrip(".") + ": readings under a mark of doubt do not count for that."
        asked = np.ceil((self.end - max(self.time[0], self.start.floor("h"))) / HOUR) - meant.sum()
        read = (known & free).sum() / asked if asked > 0 else 1.0  # of no hours nothing is missed
        return grading.concluded(finding, float(min(read, 1.0)), reason, self.time, still, known, hours)

    def since(self, passed: Mask, hours: int = 1) -> pd.Timestamp | None:
        """Start of the spell going on at the end of the period, or else of its first window over."""
        begin = self.time[min(self.judged_rows(hours).start, len(self.time) - 1)]
        found = climate.spells(self.time, passed & ~self.drying, after=begin)
        if not found:
            return None
        free = self.in_period & ~self.drying
        going_on = free.any() and found[-1].end >= self.time[free][-1]
        return found[-1].start if going_on else max(found[0].start, begin)

    def _intended_words(self) -> str:
        """The intended stays of the period by purpose or place."""
        late = [s for s in self.exposure.stints if s.intended and s.end > self.start.floor("h") - HOUR * 72]
        names = dict.fromkeys(s.purpose or s.place_name for s in late)
        return "the stay (" + ", ".join(name for name in names if name) + ")" if late else "the stay"


def _add(finding: Finding, clause: str) -> Finding:
    return replace(finding, sentence=finding.sentence.rstrip(".") + f"; {clause}.")


def course(exposure: Exposure, canvas: BuildUp, start: pd.Timestamp) -> CanvasCourse:
    """The course of one canvas over a whole exposure; before its lining it followed as an unlined one."""
    at = exposure, start, *point_of(exposure, start), canvas.tau_h
    air = HourlyExposure.at(*at)
    lined_row = 0 if canvas.lined_on is None else int(air.time.searchsorted(canvas.lined_on))
    if lined_row:
        tau_h = np.where(np.arange(len(air.time)) < lined_row, climate.response_time_h(None), canvas.tau_h)
        lagged = climate.canvas_humidity_range(air.rh_percent, tau_h)
    else:  # once for all that follow as fast
        lagged = air.held
    low, free, high = (np.where(air.drying, np.nan, x) for x in (lagged.lowest, lagged.held, lagged.highest))
    return CanvasCourse.at(
        *at, canvas=canvas, canvas_percent=lagged.held, free_percent=free, lagged=lagged, ends=(low, high),
        season=season_of(free, air), left_out=air.drying,
    )  # fmt: skip


def season_of(humidity: Array, air: HourlyExposure) -> tuple[Array, Mask]:
    """Seasonal cycle of any humidity (n,), and where it is provisional; not known after the period. (n,), (n,)"""
    stop, count = int(air.time.searchsorted(air.end)), len(air.time)
    level, trailing = climate.seasonal_so_far(humidity[:stop])
    return np.pad(level, (0, count - stop), constant_values=np.nan), np.pad(trailing, (0, count - stop))


def point_of(exposure: Exposure, start: pd.Timestamp) -> tuple[Point, Climate]:
    """The back of the canvas where it is known as well as the room is; otherwise the room."""
    if CANVAS_BACK in exposure.points:
        seen, there = (exposure.part(point, start).coverage for point in (CANVAS_BACK, ROOM))
        if seen >= there - 0.01:
            return CANVAS_BACK, exposure.points[CANVAS_BACK]
    return ROOM, exposure.room
