"""What a case holds."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from envwatch.cases.dehumidifier.inputs import Money
from envwatch.cases.dehumidifier.sizing import DrawnEffect, Load
from envwatch.core.findings import Level
from envwatch.core.place import Place

Three = tuple[float, float, float]


@dataclass(frozen=True)
class Outcome:
    """What one alternative comes to: 10th, 50th and 90th percentile over the draws, and the verdicts on whole draws."""

    kind: str
    name: str
    damp_h: Three
    very_damp_h: Three
    dry_h: Three
    month_percent: Three
    longest_h: Three  # longest spell over the damp line, of the draws judged
    litres: Three
    kwh: Three
    running_h: Three
    visits: Three
    full_h: Three
    warmer_k: float  # mean, of the middle draw
    ageing_pace: float  # against doing nothing, middle draws; under 1 is slower
    level: Level  # worst over the paintings, middle draw
    level_nine_in_ten: Level
    changes: tuple[FindingChange, ...]
    changes_nine_in_ten: tuple[FindingChange, ...]
    price: float | None
    cost_year: float | None  # current and service
    cost_life: float | None  # price, current and service over its life
    measured: bool = False  # another room's own log, no simulation
    notes: tuple[str, ...] = ()

    @property
    def new(self) -> tuple[FindingChange, ...]:
        """Flags that it brings, or makes worse, in the middle draw or at the 90th percentile."""
        every = (*self.changes, *self.changes_nine_in_ten)
        found = {(c.painting_id, c.hazard, c.mechanism): c for c in every if c.state in ("new", "worse")}
        return tuple(found.values())


@dataclass(frozen=True, eq=False)
class Picture:
    """Before and after by days: the middle draws of doing nothing and of what is recommended, and the log itself."""

    day: pd.DatetimeIndex
    log_percent: np.ndarray
    before_percent: np.ndarray
    after_percent: np.ndarray


@dataclass(frozen=True, eq=False)
class Fitted:
    """How the room was learnt, and how well."""

    how: str
    sized: str
    rate_h: Three | None
    excess_g_m3: Three
    rms_percent: float
    held_out_rms: float
    held_out_bias: float
    held_out_days: float
    open: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class DehumidifierCase:
    """The whole case."""

    studio: str
    place: Place
    made_at: pd.Timestamp
    start: pd.Timestamp
    end: pd.Timestamp
    zone: str
    hours: int  # known, of the span
    not_known_h: int
    outdoors: str
    fitted: Fitted
    log_damp_h: int
    log_month_percent: float
    paintings: tuple[tuple[str, str, str], ...]  # id, title, position
    treated_on: pd.Timestamp
    set_percent: float
    load: Load
    outcomes: tuple[Outcome, ...]
    causes: tuple[DrawnEffect, ...]
    advice: Recommendation
    picture: Picture
    draws: int
    money: Money
    assumptions: tuple[str, ...]
    questions: tuple[str, ...]
    not_tried: tuple[str, ...] = ()
    adoption: str = ""  # what the studio says of envwatch's working limits

    @property
    def nothing(self) -> Outcome:
        """Doing nothing."""
        return self.outcomes[0]


@dataclass(frozen=True)
class Recommendation:
    """What is recommended.

    Attributes
    ----------
    kind : "not needed", "no machine", "machine", "on paper", "not helped".
    name : of the alternative.
    sentence : the one sentence.
    """

    kind: str
    name: str
    sentence: str
    will_not_fix: tuple[str, ...]
    measure_first: tuple[str, ...]


@dataclass(frozen=True)
class FindingChange:
    """What became of one flag of one painting. `state`: "cleared", "eased", "stays", "worse", "new", "unseen"."""

    painting_id: str
    hazard: str
    mechanism: str
    before: Level
    after: Level
    layer: str
    sentence: str

    @property
    def state(self) -> str:
        if self.after is Level.UNKNOWN:
            return "unseen"
        if self.before < Level.WATCH:
            return "new"
        if self.after < Level.WATCH:
            return "cleared"
        return "stays" if self.after == self.before else "eased" if self.after < self.before else "worse"
