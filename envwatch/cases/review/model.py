"""The review as plain data: one line a painting, a place, a logger, a task; and the whole."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd

from envwatch import climate
from envwatch.cases.leaving import Departure
from envwatch.climate.air_change import AirChange
from envwatch.climate.drying_back import FASTER, Progress
from envwatch.core.findings import Finding, Level, State, Verdict
from envwatch.core.painting import Observation, Painting
from envwatch.core.period import Period
from envwatch.core.place import AirEvent, Place

HARM_ORDER = ("heat", "damp", "mould", "condensation", "dry", "cold", "swing")


def urgency(finding: Finding) -> tuple:
    """Worst level first; then what goes on before what is over, what is really there before a layer assumed, the
    quickest harm, and the longest standing."""
    harm = finding.hazard if finding.hazard in HARM_ORDER else finding.mechanism
    order = next((i for i, word in enumerate(HARM_ORDER) if word in harm), len(HARM_ORDER))
    since = finding.since.value if finding.since is not None else np.inf
    return -finding.level, finding.ended is not None, finding.assumed, order, since


@dataclass(frozen=True, eq=False)
class Sparkline:
    """The painting's own air over the period, for a small drawing. NaN is a gap.

    `private`: some of it is the air of an owner's house, which shows when that stands empty; it stays on the screen of
    the studio and goes on no sheet and into no JSON.
    """

    time: pd.DatetimeIndex
    temp_c: np.ndarray
    rh_percent: np.ndarray
    private: bool = False


@dataclass(frozen=True, eq=False)
class PaintingLine:
    """One painting in the review."""

    painting: Painting = field(repr=False)
    verdict: Verdict
    where: str  # the place and position in words, at the end of the period
    seen_until: pd.Timestamp | None
    change: str = ""  # against the review before: "new", "worse", "eased", "as before"
    put_off: str = ""  # "until 30 Nov 2026: waiting for the owner", where it was put off and has not grown worse
    trace: Sparkline | None = None
    holes: tuple[tuple[pd.Timestamp, pd.Timestamp], ...] = ()  # times of the period in which nobody knows where it was
    left: Departure | None = None  # where it has left by now: it is judged until then
    read_until: pd.Timestamp | None = None  # its air, past the end of a week too: the next review goes on from there
    drying: Progress | None = None  # its course back from damp, and how it keeps to it
    now: str = ""  # the place and position in words, by the clock
    state: State | None = None  # of the finding that leads
    ended: pd.Timestamp | None = None  # of the finding that leads
    standing: str = ""  # what is raised and leads no list, and why

    @property
    def id(self) -> str:
        return self.painting.id

    @property
    def title(self) -> str:
        return self.painting.title

    @property
    def asking(self) -> tuple[Finding, ...]:
        """Findings that ask for somebody: raised, and neither answered nor met before; what leads comes first."""
        return tuple(sorted((f for f in self.verdict.raised if not f.standing), key=urgency))

    @property
    def level(self) -> Level:
        """The worst of what asks for somebody; where nothing does, of all that was found."""
        unknown = bool(self.verdict.unseen) and not self.only_waits
        rest = Level.UNKNOWN if unknown else self.verdict.level
        return max((f.level for f in self.asking), default=rest)

    @property
    def only_waits(self) -> bool:
        """Whether all that is unknown is a matter of waiting for a longer history, with a day to wait for."""
        return all(finding.decidable_on is not None for finding in self.verdict.unseen)

    @property
    def headline(self) -> Finding | None:
        """The finding that ranks the painting; None where nothing asks for somebody."""
        return next(iter(self.asking), None)

    @property
    def looked(self) -> tuple[Observation, ...]:
        """What was seen by eye in the period: told beside what is not known, which it never makes clear."""
        start, end = self.verdict.start, self.verdict.end
        return tuple(seen for seen in self.painting.observations if start <= seen.on < end)

    @property
    def only_met(self) -> bool:
        """Whether all that is raised is what it has met before."""
        return bool(self.verdict.raised) and all(finding.met for finding in self.verdict.raised)

    @property
    def urgency(self) -> tuple:
        """What ranks the painting among others; the lowest comes first. One with something that goes on is before
        those for which all is over."""
        over = all(finding.ended is not None for finding in self.asking)
        return over, *min(map(urgency, self.asking), default=(0, False, False, len(HARM_ORDER), np.inf))

    @property
    def others(self) -> tuple[Finding, ...]:
        """What else was found against it, first what asks for somebody."""
        rest = (f for f in self.verdict.raised if f is not self.headline)
        return tuple(sorted(rest, key=lambda f: (bool(f.standing), urgency(f))))


@dataclass(frozen=True)
class Extreme:
    """Which position of a place went farthest. `what`: "dampest", "driest" [% RH], "hottest", "coldest" [°C]."""

    what: str
    value: float
    where: str  # "at the floor"
    position: str
    logger: str
    room: bool  # the logger that speaks for the room


@dataclass(frozen=True, eq=False)
class PlaceLine:
    """One place in the review, by all loggers that hang in it. `summary` is None where nothing at all was read.

    `extremes`: which position is the dampest, driest, hottest, coldest; empty where one logger speaks for the place.
    """

    place: Place
    summary: climate.PlaceSummary | None
    seen_until: pd.Timestamp | None
    paintings: int
    extremes: tuple[Extreme, ...] = ()


@dataclass(frozen=True)
class LoggerLine:
    """A logger that wants a hand.

    `state`: "not fetched", "in the tray", "stopped", "flat", "no place", "calibration due", "apart".
    """

    id: str
    name: str
    place: str
    state: str
    sentence: str
    seen_until: pd.Timestamp | None = None


@dataclass(frozen=True)
class TaskLine:
    """Something to do: from a finding, a treatment's inspection day, or put off earlier."""

    number: int | None
    on: pd.Timestamp | None
    painting_id: str
    title: str
    what: str
    state: str = "open"  # open, carried over, over, looked, due next
    note: str = ""
    also: tuple[int, ...] = ()  # open tasks of the painting that the same look answers

    @property
    def words(self) -> str:
        """How it stands, in words; "" for what is newly asked."""
        told = self.state.replace("over, ", "ended, ")
        return "" if self.state == "open" else f"{told}{': ' + self.note if self.note else ''}"


@dataclass(frozen=True)
class Event:
    """What the air of one place did to several paintings at the same time: one line of the room.

    `numbers`: of the paintings' findings that it explains. `cause`: named once, "" until then.
    """

    place_id: str
    place: str
    began: pd.Timestamp
    ended: pd.Timestamp | None
    sentence: str
    paintings: tuple[str, ...]
    numbers: tuple[int, ...] = ()
    cause: str = ""
    kind: AirEvent | None = None
    until: pd.Timestamp | None = None  # as far as it was read
    air: AirChange | None = None  # what the air did as it began; None: not read
    there: int = 0  # paintings that stood in the place then, reached or not


@dataclass(frozen=True)
class Revised:
    """A week reviewed before all of its air was read, judged again: what it would have said, and what rested on it."""

    label: str  # of the week
    known_since: pd.Timestamp  # when the readings came in
    began: pd.Timestamp
    ended: pd.Timestamp | None
    sentence: str
    paintings: tuple[str, ...]  # that stood there then, those that have left too
    papers: tuple[str, ...] = ()  # what was printed or said on the old air
    numbers: tuple[int, ...] = ()
    level: Level = Level.UNKNOWN  # the worst by what is known now
    weeks: tuple[str, ...] = ()  # of each number: `why NUMBER --week`
    taken_back: bool = False  # what was said of them does not follow any more


@dataclass(frozen=True, eq=False)
class Review:
    """A whole review. `trouble` is ranked; `quiet`, `not_seen` and `left_out` never crowd it."""

    studio: str
    period: Period
    made_at: pd.Timestamp
    opening: tuple[str, ...]  # said first: an older week than the clock's, an empty studio
    arrivals: tuple[str, ...]
    set_aside: tuple[str, ...]
    marks: tuple[str, ...]
    tray: tuple[str, ...]
    trouble: tuple[PaintingLine, ...]
    not_seen: tuple[PaintingLine, ...]
    quiet: tuple[PaintingLine, ...]
    waiting: tuple[PaintingLine, ...]  # seen, nothing against it, but a rule still needs a longer history
    put_off: tuple[PaintingLine, ...]
    left_out: tuple[tuple[str, str], ...]  # (title, why): closed care, at home without a logger
    places: tuple[PlaceLine, ...]
    loggers: tuple[LoggerLine, ...]
    tasks: tuple[TaskLine, ...]
    changes: tuple[str, ...]
    cautions: tuple[str, ...]
    borne_out: tuple[str, ...] = ()  # how often findings were, when somebody looked; empty where nobody did
    number: int | None = None  # given when it is kept
    adoption: str = ""  # what the studio says of envwatch's working limits
    standing: tuple[PaintingLine, ...] = ()  # raised by nothing but what it has met before
    told: tuple[PaintingLine, ...] = ()  # raised, told in an earlier review and no worse, or answered by a look
    events: tuple[Event, ...] = ()
    revised: tuple[Revised, ...] = ()
    rested: Mapping[str, Any] = field(default_factory=dict, repr=False)  # kept with it: what the verdicts rested on

    @property
    def judged(self) -> tuple[PaintingLine, ...]:
        """All paintings that were judged."""
        return (*self.trouble, *self.put_off, *self.told, *self.standing, *self.not_seen, *self.waiting, *self.quiet)

    @property
    def departed(self) -> tuple[tuple[str, str], ...]:
        """(title, why) of those that left in the period and are judged for a part of it."""
        left = ((line, line.left) for line in self.judged if line.left is not None and line.left.on < self.period.end)
        return tuple((f"{line.title} [{line.id}]", f"{way.until(self.period.zone)}, then {way.why}")
                     for line, way in left)  # fmt: skip

    @property
    def assumed(self) -> tuple[str, ...]:
        """What was assumed or stood in for something, and for which paintings."""
        whose: dict[str, list[str]] = {}
        for line in self.judged:
            for note in dict.fromkeys(line.verdict.notes):
                whose.setdefault(note, []).append(line.id)
        return tuple(f"{', '.join(ids)}: {note}" for note, ids in whose.items())

    @property
    def needing(self) -> tuple[PaintingLine, ...]:
        """The paintings in trouble, at act or urgent, ranked."""
        return tuple(line for line in self.trouble if line.level >= Level.ACT)

    @property
    def watched(self) -> tuple[PaintingLine, ...]:
        """The paintings to watch, ranked."""
        return tuple(line for line in self.trouble if line.level is Level.WATCH)

    @property
    def drying_back(self) -> tuple[PaintingLine, ...]:
        """The paintings that are dried back along a course, and stand in no list that tells it."""
        return tuple(line for line in self.judged if line.drying is not None and line not in self.trouble)

    @property
    def is_quiet(self) -> bool:
        """Nothing asks for a person: no painting raised, none unseen, nothing waiting."""
        hurried = any(line.drying is not None and line.drying.state == FASTER for line in self.drying_back)
        parted = any(line.state == "apart" for line in self.loggers)
        return bool(self.judged) and not (
            parted or self.trouble or self.not_seen or self.tray or self.opening or self.revised or hurried
        )
