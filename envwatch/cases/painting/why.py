"""The whole chain behind one finding: readings with file and line, the working, the limit, the sources."""

from __future__ import annotations

import re
from contextlib import suppress
from dataclasses import dataclass

import pandas as pd

from envwatch.archive import Provenance, Studio, reviews
from envwatch.cases import judging, review
from envwatch.cases.review import hit_rate
from envwatch.cases.review.hit_rate import HazardRecord
from envwatch.climate.exposure import Exposure, Stint, where
from envwatch.core.errors import NotThere
from envwatch.core.findings import Finding, Level
from envwatch.core.painting import Painting
from envwatch.core.period import Period, iso_week
from envwatch.core.text import date
from envwatch.figures import SOURCES

NAMES_LOGGERS = ("sensor", "uncertainty")  # lines in which a word may be a logger's id


@dataclass(frozen=True, eq=False)
class Chain:
    """A finding and everything it rests on."""

    finding: Finding
    painting: Painting
    period: Period
    stint: Stint | None  # where the painting stood at the worst moment
    trace: Provenance | None  # the reading at the worst moment, with its file and line
    reference: str  # the full reference behind the limit
    others: tuple[str, ...]  # and behind what else the working names
    coverage: float
    notes: tuple[str, ...]
    record: str = ""  # how often this hazard's findings were borne out when somebody looked
    reviewed: str = ""  # what the kept review said of it, where that is not what follows from the archive as it is now
    looked: HazardRecord | None = None  # and findings held against this very limit; None: nobody has noted a look yet

    @property
    def where(self) -> str:
        """The point that was judged, in words; the painting's own spot where a logger there read the worst hour."""
        return where(self.finding.point, self.stint if self.trace else None)


def chain(studio: Studio, number: int, now: pd.Timestamp, week: str | None = None) -> Chain:
    """The chain behind a finding, worked out again from the readings up to where that review had read.

    `week` is an ISO week, by default the period of the last kept review with this finding in it.

    Raises
    ------
    NotThere : no finding has that number, none of a kept review where no week is given, or the readings of that
        time do not give it (any more). BadInput: no such week.
    """
    painting = studio.paintings()[reviews.painting_of_finding(studio, number)]
    span, kept = _reviewed(studio, number, week)
    said = next((f for f in kept["record"].get("findings", ()) if f["number"] == number), None) if kept else None
    until = kept["record"].get("read_until", {}).get(painting.id) if kept else None
    read_until = None if until is None else pd.Timestamp(until)
    line = review.painting_line(studio, painting, span, now, read_until=read_until)
    finding = next((f for f in line.verdict.findings if f.number == number), None)
    if said is None and read_until is not None and (finding is None or finding.level < Level.WATCH):
        read_until = None  # raised by what came in after that review
        line = review.painting_line(studio, painting, span, now)
        finding = next((f for f in line.verdict.findings if f.number == number), None)
    if finding is None:
        told = f" ({said['sentence']})" if said else ""
        raise NotThere(
            f"finding {number}{told} does not follow from the readings of {span.label} and the limits as they are now. "
            f"Make the review of {span.label} again"
        )
    exposure = _judged_in(studio, painting, span, finding, read_until)
    stint = exposure.last_stint if finding.worst_at is None else exposure.stint_at(finding.worst_at)
    trace = None
    if stint is not None and stint.place_id and finding.worst_at is not None:
        with suppress(NotThere):  # a mean may be worst in an hour that was not read itself
            trace = studio.trace(stint.place_id, finding.worst_at, position=stint.position)
    return Chain(
        finding, painting, span, stint, trace, SOURCES.get(finding.source, finding.source), _named(finding),
        line.verdict.coverage, line.verdict.notes,
        next((r.sentence for r in hit_rate.of(studio) if r.hazard == finding.hazard), ""),
        _otherwise(finding, said, kept, studio.zone), hit_rate.beside(hit_rate.by_limit(studio), finding),
    )  # fmt: skip


def _reviewed(studio: Studio, number: int, week: str | None) -> tuple[Period, dict | None]:
    """The period, and its kept review: that with the finding in it, or the last of the week asked for."""
    if week:
        span = iso_week(week, studio.zone)
        made = (
            r
            for r in reversed(reviews.reviews(studio))
            if (r["period_start"], r["period_end"]) == (span.start, span.end)
        )
        return span, next(made, None)
    said = reviews.finding(studio, number)
    kept = next(r for r in reviews.reviews(studio) if r["number"] == said["review"])
    return Period(kept["period_start"], kept["period_end"], kept["label"], studio.zone), kept


def _otherwise(finding: Finding, said: dict | None, kept: dict | None, zone: str) -> str:
    """That the kept review said otherwise, and what; "" where it said the same, or no review was kept."""
    if kept is None:
        return ""
    head = f"The review of {kept['label']}, kept on {date(kept['made_at'], zone)}, "
    why = "Files added, or the register or limits changed, since then make it what stands here."
    if said is None:
        return f"{head}did not raise it. {why}"
    same = said["level"] == int(finding.level) and said["sentence"] == finding.sentence
    return "" if same else f"{head}said: {said['sentence']} {why}"


def _judged_in(
    studio: Studio, painting: Painting, span: Period, finding: Finding, read_until: pd.Timestamp | None
) -> Exposure:
    """The reading of its moves that gave the finding, where the day of a move belongs to two places."""
    ways = judging.exposures(studio, painting, span, read_until=read_until)

    def gives(way: Exposure) -> bool:
        return any(_same(one, finding) for one in judging.judged(studio, painting, (way,), span.start).findings)

    return next(filter(gives, ways[:-1]), ways[-1])


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
