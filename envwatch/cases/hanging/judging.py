"""A position judged: each way its blanks may be filled goes through the one function that judges.

What is found is held together finding by finding: the level at the mildest filling and at the harshest. Nothing is
weighed against anything else: heat is not paid for by light.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np
import pandas as pd

from envwatch import verdict
from envwatch.cases.hanging import microclimate
from envwatch.cases.hanging.microclimate import Logs, RoomLog
from envwatch.cases.hanging.questions import MissingFact, unknowns
from envwatch.cases.hanging.scenario import SCENARIOS, Scenario, case_of, pick_for
from envwatch.cases.hanging.spot import HangingPosition
from envwatch.climate.exposure import ROOM, Exposure, Position
from envwatch.core.findings import Finding, Level, Verdict
from envwatch.core.painting import Painting
from envwatch.figures import hanging as fig
from envwatch.figures.materials import Materials

Key = tuple[str, str]  # hazard, mechanism
GOOD, GOOD_IF, MEASURE, NEVER = "good place", "good place if …", "measure first", "never here"
OF_POSITION = {name for hazard in verdict.OF_POSITION for name in hazard.HAZARDS}
NOWHERE = Position()
CLASSES = (GOOD, GOOD_IF, MEASURE, NEVER)


@dataclass(frozen=True, eq=False)
class PositionAssessment:
    """What every judgement of one position shares. Judged cases are kept, so that asking again costs nothing."""

    painting: Painting
    spot: HangingPosition
    logs: Logs
    read: RoomLog | None
    place: tuple[str, str]
    materials: Materials
    _kept: dict[Scenario, Verdict] = field(default_factory=dict, repr=False)
    _air: dict[Scenario, Exposure] = field(default_factory=dict, repr=False)

    @property
    def hang_on(self) -> pd.Timestamp:
        return self.logs.time[0]

    @property
    def southern(self) -> bool:
        return (self.spot.house.latitude or 0) < 0

    def exposure(self, case: Scenario) -> Exposure:
        """The coming year in one case, made once."""
        if case not in self._air:
            self._air[case] = microclimate.exposure(
                case, self.logs, self.read, self.painting, self.place, here=self.spot.log_here, southern=self.southern
            )
        return self._air[case]

    def judged(self, case: Scenario) -> Verdict:
        """The verdict on the whole coming year: the first weeks and the settled months.

        The air of a case is judged once, whatever the light and the facts of the position, which no air changes.
        """
        bare = replace(case, position=NOWHERE)
        if bare not in self._kept:
            self._kept[bare] = verdict.judge(self.exposure(bare), self.painting, self.hang_on, self.materials)
        if case not in self._kept:
            of_air = [f for f in self._kept[bare].findings if f.hazard not in OF_POSITION]
            self._kept[case] = replace(self._kept[bare], findings=(*of_air, *self._of_position(case).findings))
        return self._kept[case]

    def _of_position(self, case: Scenario) -> Verdict:
        """The verdict on a single day: all that light and facts of the position ask for."""
        day = self.hang_on + pd.Timedelta(days=1)
        air = self.exposure(replace(case, position=NOWHERE)).room.between(self.hang_on, day)
        exposure = Exposure({ROOM: air}, self.hang_on, day, position=case.position)
        return verdict.judge(exposure, self.painting, materials=self.materials, hazards=verdict.OF_POSITION)

    def span(self, case: Scenario, start: pd.Timestamp, end: pd.Timestamp) -> Verdict:
        """The verdict on a part of the year."""
        whole = self.exposure(case)
        points = {name: there.between(whole.start, end) for name, there in whole.points.items()}
        stints = tuple(replace(s, end=min(s.end, end)) for s in whole.stints if s.start < end)
        part = replace(whole, points=points, end=end, stints=stints)
        return verdict.judge(part, self.painting, start, self.materials)


@dataclass(frozen=True)
class FindingRange:
    """One count: its level and value at the mildest and the harshest filling of the blanks."""

    low: Level
    high: Level
    values: tuple[float, float]
    worst: Finding
    under: tuple[str, ...] = ()  # the scenarios in which it is as bad as `high`

    @property
    def uncertainty(self) -> float:
        return float(np.nan_to_num(self.worst.uncertainty))

    @property
    def nearness(self) -> float:
        """How near its limit the harshest is, or how far beyond: 1 at the limit."""
        return nearness(self.worst)


def nearness(finding: Finding) -> float:
    """Value over limit, or limit over value where low is bad; 0 where there is no number. Between 0 and 9."""
    value, limit = finding.value, finding.limit
    if np.isnan(value) or np.isnan(limit):
        return 0.0
    low_is_bad = any(word in finding.mechanism for word in ("dry", "cold", "water"))
    over, under = (limit, value) if low_is_bad else (value, limit)
    return float(np.clip(over / under, 0, 9)) if under > 0 else 9.0


def intervals(verdicts: Mapping[str, Verdict]) -> dict[Key, FindingRange]:
    """Count by count, from the verdicts on the ways the blanks may be filled."""
    found: dict[Key, dict[str, Finding]] = {}
    for scenario, judged in verdicts.items():
        for finding in judged.findings:
            kept = found.setdefault((finding.hazard, finding.mechanism), {})
            if scenario not in kept or finding.level > kept[scenario].level:
                kept[scenario] = finding
    return {key: _interval(by, tuple(verdicts)) for key, by in found.items()}


def _interval(by: dict[str, Finding], scenarios: tuple[str, ...]) -> FindingRange:
    worst = max(by.values(), key=lambda f: (f.level, nearness(f)))
    levels = [by[name].level if name in by else Level.CLEAR for name in scenarios]
    values = [f.value for f in by.values() if not np.isnan(f.value)]
    at_worst = tuple(name for name in scenarios if name in by and by[name].level == worst.level)
    span = (min(values), max(values)) if values else (float("nan"), float("nan"))
    return FindingRange(min(levels), max(levels), span, worst, at_worst)


def scenarios(asked: PositionAssessment, learned: str = "") -> dict[str, Scenario]:
    """The ways to fill the blanks; `learned`: as if that one were known, and mild. Equal ones are judged once."""
    return {name: case_of(asked.spot, pick_for(name, learned)) for name in SCENARIOS}


def judged(asked: PositionAssessment, cases: Mapping[str, Scenario]) -> dict[Key, FindingRange]:
    """Count by count, over the cases."""
    return intervals({name: asked.judged(case) for name, case in cases.items()})


def lowest(found: Mapping[Key, FindingRange]) -> Level:
    """The level that is sure, however the blanks are filled."""
    return max((interval.low for interval in found.values()), default=Level.UNKNOWN)


def highest(found: Mapping[Key, FindingRange]) -> Level:
    """The level at the worst plausible filling; unknown counts stand between clear and watch."""
    return max((interval.high for interval in found.values()), default=Level.UNKNOWN)


def surely_never(found: Mapping[Key, FindingRange]) -> list[FindingRange]:
    """What forbids the position whatever else is found: urgent at the mildest filling."""
    return [interval for interval in found.values() if interval.low is Level.URGENT]


def decider(asked: PositionAssessment) -> tuple[MissingFact, Level] | None:
    """The one thing to find out that would change most, and the level at best after it; None where nothing would.

    Each blank in turn is taken as known and mild, all others at their worst. By the counts of act and worse that then
    go away, first; of equals, the one asked first.
    """
    best: tuple[tuple, MissingFact, Level] | None = None
    for unknown in unknowns(asked.spot):
        after = _harsh(asked, unknown.field)
        score = (_counts(after), -sum(i.nearness for i in after.values()))
        if best is None or score > best[0]:
            best = (score, unknown, highest(after))
    if best is None or best[0][0] <= _counts(_harsh(asked)):
        return None
    return best[1], best[2]


def _harsh(asked: PositionAssessment, learned: str = "") -> dict[Key, FindingRange]:
    return judged(asked, {name: case for name, case in scenarios(asked, learned).items() if name in ("damp", "dry")})


def _counts(found: Mapping[Key, FindingRange]) -> tuple[int, ...]:
    """Fewer urgent, then fewer at act, then fewer at watch: more is better."""
    levels = [interval.high for interval in found.values()]
    return tuple(-levels.count(level) for level in (Level.URGENT, Level.ACT, Level.WATCH))


def first_weeks_end(painting: Painting, hang_on: pd.Timestamp, materials: Materials) -> pd.Timestamp:
    """Until when its youngest layer's stricter limits hold; at least four weeks after the move."""
    until = hang_on + pd.Timedelta(days=float(fig.FIRST_WEEKS_LEAST_D))
    for layer in painting.layers:
        known = materials.get(layer.material)
        if known is not None and known.adhesive and layer.applied_on is not None:
            born = layer.applied_on.tz_localize("UTC") if layer.applied_on.tz is None else layer.applied_on
            until = max(until, born + pd.Timedelta(days=float(known.first_weeks.days)))
    return min(until, hang_on + pd.Timedelta(days=float(fig.YEAR_D)))
