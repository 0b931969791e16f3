"""The whole chain behind one finding: readings with file and line, the working, the limit, the sources."""

from __future__ import annotations

import re
from contextlib import suppress
from dataclasses import dataclass

import pandas as pd

from envwatch import review, track_record, verdict
from envwatch.archive import Studio, Trace
from envwatch.errors import NotThere
from envwatch.figures import SOURCES
from envwatch.period import Period, iso_week
from envwatch.records import Exposure, Finding, Painting, Stint
from envwatch.review import sharing
from envwatch.wording import where

NAMES_LOGGERS = ("sensor", "uncertainty")  # lines in which a word may be a logger's id


@dataclass(frozen=True, eq=False)
class Chain:
    """A finding and everything it rests on."""

    finding: Finding
    painting: Painting
    period: Period
    stint: Stint | None  # where the painting stood at the worst moment
    trace: Trace | None  # the reading at the worst moment, with its file and line
    reference: str  # the full reference behind the limit
    others: tuple[str, ...]  # and behind what else the working names
    coverage: float
    notes: tuple[str, ...]
    record: str = ""  # how often this hazard's findings were borne out when somebody looked

    @property
    def where(self) -> str:
        """The point that was judged, in words; the painting's own spot where a logger there read the worst hour."""
        return where(self.finding.point, self.stint if self.trace else None)


def chain(studio: Studio, number: int, now: pd.Timestamp, week: str | None = None) -> Chain:
    """The chain behind a finding, worked out again from the stored readings.

    `week` is an ISO week, by default the period of the last kept review with this finding in it.

    Raises
    ------
    NotThere : no finding has that number, none of a kept review where no week is given, or the readings of that
        time do not give it (any more). BadInput: no such week.
    """
    painting = studio.paintings()[studio.painting_of_finding(number)]
    said = ""
    if week:
        span = iso_week(week, studio.zone)
    else:
        kept = studio.finding(number)
        span = Period(kept["period_start"], kept["period_end"], kept["label"], studio.zone)
        said = f" ({kept['sentence']})"
    line = review.painting_line(studio, painting, span, now)
    finding = next((f for f in line.verdict.findings if f.number == number), None)
    if finding is None:
        raise NotThere(
            f"finding {number}{said} does not follow from the readings of {span.label} and the limits as they are now. "
            f"Make the review of {span.label} again"
        )
    exposure = _judged_in(studio, painting, span, finding)
    stint = exposure.last_stint if finding.worst_at is None else exposure.stint_at(finding.worst_at)
    trace = None
    if stint is not None and stint.place_id and finding.worst_at is not None:
        with suppress(NotThere):  # a mean may be worst in an hour that was not read itself
            trace = studio.trace(stint.place_id, finding.worst_at, position=stint.position)
    return Chain(
        finding, painting, span, stint, trace, SOURCES.get(finding.source, finding.source), _named(finding),
        line.verdict.coverage, line.verdict.notes,
        next((r.sentence for r in track_record.of(studio) if r.hazard == finding.hazard), ""),
    )  # fmt: skip


def _judged_in(studio: Studio, painting: Painting, span: Period, finding: Finding) -> Exposure:
    """The reading of its moves that gave the finding, where the day of a move belongs to two places."""
    ways = sharing.exposures(studio, painting, span)
    same = (w for w in ways[:-1] if any(_same(f, finding) for f in verdict.judge(w, painting, span.start).findings))
    return next(same, ways[-1])


def _same(one: Finding, other: Finding) -> bool:
    return (one.key, one.level, one.worst_at, one.sentence) == (other.key, other.level, other.worst_at, other.sentence)


def _named(finding: Finding) -> tuple[str, ...]:
    """The full references of the sources that the working names by their keys."""
    text = " ".join(f"{what} {figures}" for what, figures in finding.working if what not in NAMES_LOGGERS)
    return tuple(
        f"{key}: {reference}"
        for key, reference in SOURCES.items()
        if key != finding.source and re.search(rf"(?<![\w-]){re.escape(key)}(?![\w-])", text)
    )
