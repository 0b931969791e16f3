"""The whole chain behind one finding: readings with file and line, the working, the limit, the sources."""

from __future__ import annotations

import re
from contextlib import suppress
from dataclasses import dataclass

import pandas as pd

from envwatch import review, track_record
from envwatch.archive import Studio, Trace
from envwatch.errors import NotThere
from envwatch.figures import SOURCES
from envwatch.period import Period, iso_week
from envwatch.records import Finding, Painting, Stint


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
    exposure = studio.exposures(painting, span.start - pd.Timedelta(days=60), span.end, None, span.is_week)[-1]
    stint = _stint_at(exposure.stints, finding.worst_at)
    trace = None
    if stint is not None and stint.place_id and finding.worst_at is not None:
        with suppress(NotThere):  # a mean may be worst in an hour that was not read itself
            trace = studio.trace(stint.place_id, finding.worst_at, position=stint.position)
    return Chain(
        finding, painting, span, stint, trace, SOURCES.get(finding.source, finding.source), _named(finding),
        line.verdict.coverage, line.verdict.notes,
        next((r.sentence for r in track_record.of(studio) if r.hazard == finding.hazard), ""),
    )  # fmt: skip


def _named(finding: Finding) -> tuple[str, ...]:
    """The full references of the sources that the working names by their keys."""
    text = " ".join(f"{what} {figures}" for what, figures in finding.working)
    return tuple(
        f"{key}: {reference}"
        for key, reference in SOURCES.items()
        if key != finding.source and re.search(rf"(?<![\w-]){re.escape(key)}(?![\w-])", text)
    )


def _stint_at(stints: tuple[Stint, ...], moment: pd.Timestamp | None) -> Stint | None:
    if moment is None:
        return stints[-1] if stints else None
    return next((stint for stint in stints if stint.start <= moment < stint.end), None)
