"""One painting judged over the period: the air it stood in, what was found, and how that has changed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial
from itertools import islice

import numpy as np
import pandas as pd

from envwatch import climate
from envwatch.archive import Studio, reviews
from envwatch.cases import judging, leaving, waits
from envwatch.cases.leaving import Departure
from envwatch.cases.review import causes, drying, lapses, met, state
from envwatch.cases.review.model import PaintingLine, Sparkline, urgency
from envwatch.climate.exposure import Exposure
from envwatch.core.dates import day_end
from envwatch.core.findings import Level, State
from envwatch.core.painting import CareStatus, Painting
from envwatch.core.period import SEVEN_DAYS, Period, iso_label, iso_week
from envwatch.core.place import PlaceKind


def painting_line(
    studio: Studio, painting: Painting, span: Period, now: pd.Timestamp, before: dict | None = None,
    read_until: pd.Timestamp | None = None,
) -> PaintingLine:  # fmt: skip
    """Judge one painting over the period, with the history that its layers carry. No day to act by lies before now.

    `read_until`: as if no reading from then on had come in yet.
    """
    return painting_lines(studio, [painting], span, now, before, read_until=read_until)[0]


def painting_lines(
    studio: Studio,
    paintings: Sequence[Painting],
    span: Period,
    now: pd.Timestamp,
    before: dict | None = None,
    progress: Callable[[int, int, str], None] | None = None,
    read_until: pd.Timestamp | None = None,
) -> list[PaintingLine]:
    """The same for several paintings, in their order; their findings get their numbers together."""
    made = reviews.reviews(studio)
    work = partial(_draft, now=now, read_before=_read_before(made, span), read_until=read_until)
    drafts = judging.each(studio, paintings, span, work, progress)
    raised = (f for painting in paintings for f in drafts[painting.id].verdict.findings)
    findings = reviews.number_findings(studio, raised)
    kept = state.kept_of(made, span.start)
    numbered = iter(f if f.by is None else replace(f, by=max(f.by, now)) for f in findings)
    lines = []
    for painting in paintings:
        draft = drafts[painting.id]
        judged = replace(draft.verdict, findings=tuple(islice(numbered, len(draft.verdict.findings))))
        line = _with_states(studio, replace(draft, verdict=judged), kept.get(painting.id, ()), span, now)
        line = replace(line, change=_change(line, before), put_off=_put_off(studio, line, span.end))
        lines.append(drying.with_drying(studio, line, span, now, before))
    return lines


def _with_states(
    studio: Studio, line: PaintingLine, kept: Sequence[state.KeptPainting], span: Period, now: pd.Timestamp
) -> PaintingLine:
    """The line with what each finding is against earlier reviews, and with where the painting is now."""
    stay, here = state.present(studio.paintings()[line.id], studio.places(), now)
    settled = not lapses.in_first_weeks(studio, line.painting, span)
    findings = tuple(
        replace(
            state.with_state(finding, line.painting, kept, span, stay, now, settled),
            now=here,
            cause=causes.of_finding(studio, line.painting, finding),
        )  # fmt: skip
        for finding in line.verdict.findings
    )
    line = replace(line, verdict=replace(line.verdict, findings=state.with_answers(findings)), now=here)
    lead = line.headline
    standing = "; ".join(dict.fromkeys(f.standing for f in line.verdict.raised if f.standing))
    return replace(line, state=lead.state if lead else None, ended=lead.ended if lead else None, standing=standing)


def _read_before(made: Sequence[dict], span: Period) -> dict[str, str] | None:
    """Until when each painting's air had been read when the week before was reviewed; None where it was not.

    Of several reviews of that week the last counts. One that does not say it judged to the week's end.
    """
    if not span.is_week:
        return None
    before = iso_week(iso_label(span.start - SEVEN_DAYS / 2, span.zone), span.zone)
    kept = [r for r in made if (r["period_start"], r["period_end"]) == (before.start, before.end)]
    if not kept:
        return None
    record = kept[-1]["record"]
    return record.get("read_until", dict.fromkeys(record.get("levels", ()), str(span.start)))


def _draft(
    studio: Studio, painting: Painting, span: Period, now: pd.Timestamp, read_before: dict[str, str] | None,
    read_until: pd.Timestamp | None,
) -> PaintingLine:  # fmt: skip
    """What the air says, before numbers and what changed: it needs nothing that is written."""
    reviewed = None if read_before is None else pd.Timestamp(read_before.get(painting.id, span.start - SEVEN_DAYS))
    left = leaving.departure(studio, painting, span, now)
    part = leaving.until_left(painting, left, span) if left is not None else None
    if left is None or part is None:
        line = _in_air(studio, painting, span, now, reviewed, read_until)
        note = leaving.still_here(studio, painting, span, now)
        return replace(line, verdict=replace(line.verdict, notes=(*line.verdict.notes, note))) if note else line
    return _departed(painting, _in_air(studio, *part, now, read_until=read_until), left, span.zone)


def _departed(painting: Painting, line: PaintingLine, left: Departure, zone: str) -> PaintingLine:
    """A line of a painting that has left by now: what was found is to be told to its owner."""
    where = f"{line.where}; was {left.until(zone)}, then {left.why}"
    findings = tuple(leaving.recalled(finding, left, zone) for finding in line.verdict.findings)
    return replace(line, painting=painting, verdict=replace(line.verdict, findings=findings), where=where, left=left)


def _in_air(
    studio: Studio, painting: Painting, span: Period, now: pd.Timestamp, reviewed: pd.Timestamp | None = None,
    read_until: pd.Timestamp | None = None,
) -> PaintingLine:  # fmt: skip
    exposures = judging.exposures(studio, painting, span, reviewed, read_until)
    judged = waits.held_open(studio, judging.judged(studio, painting, exposures, span.start), exposures)
    judged = replace(judged, findings=tuple(state.stood(f, exposures, painting) for f in judged.findings))
    judged = state.with_met(judged, met.met_before(studio, painting, exposures, judged, span, now))
    room = exposures[-1].room.between(span.start, span.end)
    read = room.time[np.isfinite(room.temp_c)]
    leads = min(judged.raised, key=urgency, default=None)
    drawn = room if leads is None else exposures[leads.way].room.between(span.start, span.end)
    hourly = climate.hourly(drawn)
    last = exposures[-1].last_stint
    where = (
        "whereabouts unknown" if last is None or not last.place_id else state.words_of(last.place_name, last.position)
    )
    return PaintingLine(
        painting, judged, where, read[-1] if len(read) else None,
        trace=Sparkline(hourly.time, hourly.temp_c, hourly.rh_percent, _at_home(studio, exposures, span)),
        holes=_holes(exposures, span) if painting.stays else (),
        read_until=min((e.read_until for e in exposures if e.read_until is not None), default=None),
        drying=drying.draft(studio, painting, exposures, judged, span),
    )  # fmt: skip


def _at_home(studio: Studio, exposures: Sequence[Exposure], span: Period) -> bool:
    """Whether it stood in an owner's house at any time of the period."""
    homes = {id for id, place in studio.places().items() if place.kind == PlaceKind.HOUSE}
    stints = [stint for exposure in exposures for stint in exposure.stints]
    return any(s.place_id in homes and s.end > span.start and s.start < span.end for s in stints)


def _holes(exposures: Sequence[Exposure], span: Period) -> tuple[tuple[pd.Timestamp, pd.Timestamp], ...]:
    """Times of the period in no stint, whichever way the bare days of moves are given away."""
    found, known = [], span.start
    stints = (stint for exposure in exposures for stint in exposure.stints if stint.place_id)
    for stint in sorted(stints, key=lambda stint: stint.start):
        if known < min(stint.start, span.end):
            found.append((known, min(stint.start, span.end)))
        known = max(known, stint.end)
    return (*found, (known, span.end)) if known < span.end else tuple(found)


def _change(line: PaintingLine, before: dict | None) -> str:
    """Against the kept review before this one, in a word; empty where there is none. Not read is never eased."""
    if before is None:
        return ""
    level, held = line.verdict.level, before.get("levels", {}).get(line.id)
    if line.state is State.OVER:
        return "over"
    if held is None:
        return "new" if level >= Level.WATCH else ""
    if level == held:
        return "as before"
    if level is Level.UNKNOWN or max(level, held) < Level.WATCH:
        return ""
    return "worse" if level > held else "eased"


def _put_off(studio: Studio, line: PaintingLine, moment: pd.Timestamp) -> str:
    """Why and until when the finding that leads was put off; empty once another leads, or it grew worse."""
    return reviews.put_off_reason(studio, line.headline, moment) if line.headline is not None else ""


def left_out(studio: Studio, painting: Painting, span: Period, now: pd.Timestamp) -> str:
    """Why a painting is not judged: it had left before the period, or was in none of it where anybody reads."""
    left = leaving.departure(studio, painting, span, now)
    if left is None or leaving.until_left(painting, left, span) is not None:
        return ""
    closed = painting.care_until is not None and day_end(painting.care_until, span.zone) <= span.start
    if painting.care is CareStatus.CLOSED and closed:
        return leaving.CLOSED
    return left.why if left.why.startswith(leaving.CLOSED) else f"{left.why}: nothing is known of its air"
