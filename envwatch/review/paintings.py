"""One painting judged over the period: the air it stood in, what was found, and how that has changed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import islice

import numpy as np
import pandas as pd

from envwatch import climate
from envwatch.archive import Studio
from envwatch.period import Period
from envwatch.records import CareStatus, Exposure, Level, Painting, Verdict
from envwatch.review import sharing
from envwatch.review.lines import PaintingLine, Trace, urgency


def painting_line(
    studio: Studio, painting: Painting, span: Period, now: pd.Timestamp, before: dict | None = None
) -> PaintingLine:
    """Judge one painting over the period, with the history that its layers carry. No day to act by lies before now."""
    return painting_lines(studio, [painting], span, now, before)[0]


def painting_lines(
    studio: Studio,
    paintings: Sequence[Painting],
    span: Period,
    now: pd.Timestamp,
    before: dict | None = None,
    progress: Callable[[int, int, str], None] | None = None,
) -> list[PaintingLine]:
    """The same for several paintings, in their order; their findings get their numbers together."""
    drafts = sharing.each(studio, paintings, span, _draft, progress)
    findings = studio.number_findings(f for painting in paintings for f in drafts[painting.id].verdict.findings)
    numbered = iter(f if f.by is None else replace(f, by=max(f.by, now)) for f in findings)
    lines = []
    for painting in paintings:
        draft = drafts[painting.id]
        judged = replace(draft.verdict, findings=tuple(islice(numbered, len(draft.verdict.findings))))
        put_off = _put_off(studio, judged, span.end)
        lines.append(replace(draft, verdict=judged, change=_change(judged, before), put_off=put_off))
    return lines


def _draft(studio: Studio, painting: Painting, span: Period) -> PaintingLine:
    """What the air says, before numbers and earlier reviews: it needs nothing that is written."""
    exposures = sharing.exposures(studio, painting, span)
    judged = sharing.judged(studio, painting, exposures, span.start)
    room = exposures[-1].room.between(span.start, span.end)
    read = room.time[np.isfinite(room.temp_c)]
    hourly = climate.hourly(room)
    last = exposures[-1].stints[-1] if exposures[-1].stints else None
    where = "whereabouts unknown" if last is None or not last.place_id else _where(last.place_name, last.position)
    return PaintingLine(
        painting, judged, where, read[-1] if len(read) else None,
        trace=Trace(hourly.time, hourly.temp_c, hourly.rh_percent, _at_home(studio, exposures, span)),
        holes=_holes(exposures, span) if painting.stays else (),
    )  # fmt: skip


def _at_home(studio: Studio, exposures: Sequence[Exposure], span: Period) -> bool:
    """Whether it stood in an owner's house at any time of the period."""
    homes = {id for id, place in studio.places().items() if place.kind == "house"}
    stints = [stint for exposure in exposures for stint in exposure.stints]
    return any(s.place_id in homes and s.end > span.start and s.start < span.end for s in stints)


def _holes(exposures: Sequence[Exposure], span: Period) -> tuple[tuple[pd.Timestamp, pd.Timestamp], ...]:
    """Times of the period in no stint, whichever way the bare days of moves are given away."""
    found, known = [], span.start
    stints = (stint for exposure in exposures for stint in exposure.stints if stint.place_id)
    for stint in sorted(stints, key=lambda stint: stint.start):
        if known < stint.start:
            found.append((known, stint.start))
        known = max(known, stint.end)
    return (*found, (known, span.end)) if known < span.end else tuple(found)


def _where(place: str, position: str) -> str:
    return place if position in ("", "unknown", "crate", "chamber") else f"{place}, {position}"


def _change(judged: Verdict, before: dict | None) -> str:
    """Against the kept review before this one, in a word; empty where there is none."""
    if before is None:
        return ""
    held = before.get("levels", {}).get(judged.painting_id)
    if held is None:
        return "new" if judged.level >= Level.WATCH else ""
    if judged.level == held:
        return "as before"
    if Level.UNKNOWN in (judged.level, held) and max(judged.level, held) < Level.WATCH:
        return ""
    return "worse" if judged.level > held else "eased"


def _put_off(studio: Studio, judged: Verdict, moment: pd.Timestamp) -> str:
    """Why and until when the finding that leads was put off; empty once another leads, or it grew worse."""
    raised = judged.raised
    return studio.put_off_reason(min(raised, key=urgency), moment) if raised else ""


def left_out(studio: Studio, painting: Painting, span: Period) -> str:
    """Why a painting is not judged: its care is closed, or it is at home where no logger hangs."""
    if painting.care is CareStatus.CLOSED:
        return "care closed"
    stay = next((stay for stay in reversed(painting.stays) if stay.start < span.end), None)
    if stay is None or (stay.end is not None and stay.end <= span.start):
        return ""
    place = studio.places()[stay.place_id]
    if place.kind == "house" and not studio.has_logger(place.id, span.start, span.end):
        return f"at home in {place.name}, where no logger hangs: nothing is known of its air"
    return ""
