"""What a hazard found, and the verdict over all of them. Frozen dataclasses, no input, no output."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import IntEnum

import numpy as np
import pandas as pd

from envwatch.core.place import AirEvent, Fact, Point
from envwatch.core.quantities import STUDIO, Confidence
from envwatch.core.words import Word


class Level(IntEnum):
    """How much a finding matters. No data is never clear, so UNKNOWN ranks above CLEAR."""

    CLEAR = 0
    UNKNOWN = 1
    WATCH = 2
    ACT = 3
    URGENT = 4

    @property
    def word(self) -> str:
        """The word shown to a person."""
        return ("nothing against it", "not known", "watch", "act", "urgent")[self]


class Hazard(Word):
    """What a finding warns of, by the model that tells."""

    LINING = "lining"
    MOULD = "mould"
    FLUCTUATION = "fluctuation"
    CONDENSATION = "condensation"
    LIGHT = "light"
    POSITION = "position"


class Mechanism(Word):
    """By what it harms, within its hazard. What a position does is told by its `Fact`."""

    HEAT, DAMP, DRY, COLD, SWING = "heat", "damp", "dry", "cold", "swing"
    HEAT_MONTH = "heat, 30 days"
    COMPATIBILITY, BUILD_UP = "compatibility", "build-up"
    DAMP_HOURS, GROWTH_INDEX, DAMP_MONTH = "damp hours", "growth index", "30-day mean"
    CHANGE, BEYOND = "swing in a day or a week", "swing beyond what it has known"
    DRY_AIR, DAMP_AIR = "dry air", "damp air"
    CANVAS = "swing, dry, damp and cold"
    WATER_ON_IT, WATER_BEHIND, BLOOM = "water on the painting", "water on the wall behind", "bloom on fresh varnish"
    DOSE = "dose of a year"
    NEVER_HERE = "never here"


_M, _A = Mechanism, AirEvent
KINDS: Mapping[str, AirEvent] = {
    **dict.fromkeys((_M.DAMP, _M.DAMP_HOURS, _M.GROWTH_INDEX, _M.DAMP_MONTH, _M.DAMP_AIR), _A.DAMP),
    **dict.fromkeys((_M.WATER_ON_IT, _M.WATER_BEHIND, _M.BLOOM), _A.DAMP),
    **dict.fromkeys((_M.HEAT, _M.HEAT_MONTH), _A.HEAT),
    **dict.fromkeys((_M.DRY, _M.DRY_AIR), _A.DRY),
    _M.COLD: _A.COLD,
    **dict.fromkeys((_M.SWING, _M.CHANGE, _M.BEYOND), _A.SWING),
}  # what the air does that brings a mechanism about; one that is not here comes by no air


class Certainty(Word):
    """Whether the sensor can tell the value from the limit. Never changes the level."""

    CERTAIN = "certain"
    CANNOT_TELL = "cannot tell"


class State(Word):
    """What a finding is against this painting's earlier reviews."""

    NEW = "new"  # of a level it did not have
    WORSE = "worse"  # by more than the sensor can explain
    SAME = "same"
    EASED = "eased"
    OVER = "over"  # its air has ended; only a look closes it


class Ending(Word):
    """By what the air of a finding ended."""

    AIR, MOVE, TREATMENT = "air", "move", "treatment"


@dataclass(frozen=True)
class Finding:
    """One thing the climate did, or may have done, to one layer of one painting.

    A CLEAR finding says what was looked at and found within its limit; an UNKNOWN one says why it
    could not be decided and, where that is a matter of waiting, `decidable_on`.
    """

    hazard: Hazard
    mechanism: Mechanism | Fact
    layer: str  # in words: "lining film (heat-seal film)", "glue size", "canvas and paint"
    point: Point
    level: Level
    sentence: str
    value: float = float("nan")
    uncertainty: float = float("nan")
    limit: float = float("nan")
    unit: str = ""
    hours: float = float("nan")
    since: pd.Timestamp | None = None
    worst_at: pd.Timestamp | None = None
    certainty: Certainty = Certainty.CERTAIN
    confidence: Confidence = Confidence.OUR_JUDGEMENT  # of the limit
    source: str = "our-judgement"  # key into SOURCES, for the limit
    look_for: str = ""
    do: str = ""
    avoid: str = ""
    by: pd.Timestamp | None = None
    clears: str = ""
    decidable_on: pd.Timestamp | None = None
    coverage: float = float("nan")
    material: str = ""  # key of the materials file, where a profile sets the limit
    working: tuple[tuple[str, str], ...] = ()  # for `why`: (what, the equation or figure with numbers put in)
    caution: str = ""  # the safety sentence that must be printed with it
    painting_id: str = ""
    number: int | None = None  # stable; given by the archive when the review is kept
    value_low: float = float("nan")  # with what was not read taken as mildest; NaN where that was not asked
    value_high: float = float("nan")  # and as harshest
    level_high: Level | None = None  # the highest level that what was not read and the sensor leave open
    until: pd.Timestamp | None = None  # end of the last hour read over its limit
    ended: pd.Timestamp | None = None  # when its air was within it again; None: still so at the end of what was read
    ended_by: Ending | None = None
    state: State | None = None  # against this painting's earlier reviews; given by the review
    place: str = ""  # place and position of the hours judged, in words; given by the review
    cause: str = ""  # named of the event of the room by which it came: "cause: …, named …"; given by the review
    now: str = ""  # and where the painting is now
    way: int = 0  # which of several readings of the same history it is of, where moves are known by their days alone
    standing: str = ""  # why it leads no list, though raised: met before, answered by a look, or told and no worse
    met: bool = False  # met before
    ordinary: str = ""  # what it is, where it is what a heated house brings each winter: told once, then by change
    assumed: bool = False  # the layer is not on record, or not as it is: assumed
    bound: str = ""  # "at least" or "at most" its value, where that rests on readings that are bounds (">95")

    @property
    def key(self) -> tuple[str, str, str, str, str]:
        """What makes it the same finding from week to week."""
        return self.painting_id, self.hazard, self.mechanism, self.layer, self.point


@dataclass(frozen=True)
class Verdict:
    """What `verdict.judge` found for one painting (or one room) over one span."""

    findings: tuple[Finding, ...]
    start: pd.Timestamp
    end: pd.Timestamp
    painting_id: str = ""
    coverage: float = float("nan")
    notes: tuple[str, ...] = ()

    @property
    def level(self) -> Level:
        """The worst level. A verdict without findings is not known."""
        return max((finding.level for finding in self.findings), default=Level.UNKNOWN)

    @property
    def unseen(self) -> tuple[Finding, ...]:
        """The hazards that were not seen: said beside the level, whatever the level."""
        return tuple(finding for finding in self.findings if finding.level is Level.UNKNOWN)

    @property
    def raised(self) -> tuple[Finding, ...]:
        """Findings over a limit, worst first."""
        found = [finding for finding in self.findings if finding.level >= Level.WATCH]
        return tuple(sorted(found, key=lambda finding: -finding.level))


def ours(limit: object) -> str:
    """Said beside a limit, or the limit of a finding, that no publication gives and no studio has set.

    >>> from envwatch.figures.canvas import DRY_DANGER_RH, DRY_LINED_RH
    >>> ours(DRY_LINED_RH), ours(DRY_DANGER_RH), ours(35.0)
    (' (our judgement)', '', '')
    """
    judged = getattr(limit, "confidence", None) is Confidence.OUR_JUDGEMENT and getattr(limit, "source", "") != STUDIO
    return f" ({Confidence.OUR_JUDGEMENT.value})" if judged else ""


def outside(finding: Finding) -> Level:
    """The level told on a paper that leaves the studio: a limit from memory alone decides none.

    >>> from dataclasses import replace
    >>> held = Finding("mould", "damp hours", "film", "room", Level.ACT, "2 days damp.")
    >>> outside(held).word, outside(replace(held, confidence=Confidence.FROM_MEMORY)).word
    ('act', 'not known')
    """
    remembered = finding.level >= Level.WATCH and finding.confidence is Confidence.FROM_MEMORY
    return Level.UNKNOWN if remembered else finding.level


def judgement(finding: Finding) -> str:
    """What is said behind a sentence that does not itself say that its limit is our judgement; a studio's own is not.

    >>> from dataclasses import replace
    >>> from envwatch.records import Level
    >>> held = Finding("mould", "damp hours", "film", "room", Level.CLEAR, "2 days damp.", limit=168.0)
    >>> judgement(held), judgement(replace(held, source=STUDIO))
    (' (A limit of our judgement.)', '')
    """
    said = Confidence.OUR_JUDGEMENT.value in finding.sentence
    return " (A limit of our judgement.)" if ours(finding) and not np.isnan(finding.limit) and not said else ""
