"""What is said of positions: each judged, and all of them in order."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from envwatch.cases.hanging.behind_picture import ColdMoment, FaceYear
from envwatch.cases.hanging.judging import CLASSES, FindingRange
from envwatch.cases.hanging.questions import MissingFact
from envwatch.cases.hanging.remedies import Cure
from envwatch.cases.hanging.scenario import Scenario
from envwatch.cases.hanging.spot import HangingPosition
from envwatch.core.findings import Level, Verdict

TIERS = {
    1: "a logger at this very position for a year",
    2: "a logger in the room, its winter included",
    3: "described, with one thing measured there",
    4: "described in full, nothing measured",
    5: "described with blanks",
}


@dataclass(frozen=True, eq=False)
class PositionResult:
    """One position, judged.

    Attributes
    ----------
    kind : "good place", "good place if …", "measure first", "never here".
    why : what decides, in one sentence; conditions : what must be so, for "good place if …".
    found : count by count, worst first; first_weeks, settled : the verdict at the worst filling, in two parts.
    decider : what to find out first, with how; None where nothing would change the answer.
    apart : whether the data separate it from the next one in the list; None for the last.
    assumed : what was taken at its worst plausible value; questions : which of the six are open.
    """

    name: str
    spot: HangingPosition
    kind: str
    why: str
    conditions: tuple[str, ...]
    found: tuple[FindingRange, ...]
    low: Level
    high: Level
    first_weeks: Verdict
    settled: Verdict
    cures: tuple[Cure, ...]
    decider: MissingFact | None
    questions: tuple[str, ...]
    assumed: tuple[str, ...]
    tier: int
    notes: tuple[str, ...]
    faces: tuple[FaceYear, ...]
    colds: tuple[ColdMoment, ...]
    apart: bool | None = None
    case: Scenario | None = None  # the worst filling

    @property
    def rank(self) -> tuple:
        """Class first; inside it the worst count, then the second worst …; then how near all limits are."""
        order = [(-interval.high, -interval.nearness) for interval in self.found]
        near = sum(interval.nearness for interval in self.found)
        return CLASSES.index(self.kind), tuple((-a, -b) for a, b in order), near


@dataclass(frozen=True, eq=False)
class HangingReport:
    """The whole: positions in order, the answer, and the one thing that would decide."""

    painting_id: str
    title: str
    height_cm: float | None
    width_cm: float | None
    weight_kg: float | None
    lined_on: pd.Timestamp | None
    lined_year_only: bool
    linings: tuple[str, ...]  # the lining's adhesives in words
    house: str
    hang_on: pd.Timestamp
    zone: str
    made_at: pd.Timestamp
    studio: str
    first_weeks_end: pd.Timestamp
    positions: tuple[PositionResult, ...]
    answer: str
    decides: str
    notes: tuple[str, ...]
    keep_rh: tuple[float, float]  # what its layers bear without being watched: driest, dampest [% RH]
    keep_c: tuple[float, float]  # coldest, warmest mean of a day [°C]
    adoption: str = ""  # what the studio says of envwatch's working limits

    def of(self, kind: str) -> tuple[PositionResult, ...]:
        """The positions of one class, in order."""
        return tuple(spot for spot in self.positions if spot.kind == kind)
