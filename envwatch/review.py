"""The Monday review: what came in, which paintings need me, what the rooms did, what I do this week.

Everything is read from the archive, every painting goes through `verdict.judge_either`, and what comes out
is plain data for the terminal, the printed sheet and the page. Nothing here prints or writes.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import pandas as pd

from envwatch import climate, materials, period, verdict
from envwatch.archive import Studio
from envwatch.errors import NotThere
from envwatch.figures.review import (
    DUE_SOON_DAYS,
    HISTORY_DAYS,
    INSPECTION_DAYS,
)
from envwatch.period import Period, date
from envwatch.records import CareStatus, Finding, Level, Painting, Place, Verdict

LOOKED_AFTER = ("lining", "strip-lining", "consolidation", "patch", "tear mend")
HARM_ORDER = ("heat", "damp", "mould", "condensation", "dry", "cold", "swing")


@dataclass(frozen=True, eq=False)
class Trace:
    """The painting's own air over the period, for a small drawing. NaN is a gap."""

    time: pd.DatetimeIndex
    temp_c: np.ndarray
    rh_percent: np.ndarray


@dataclass(frozen=True, eq=False)
class PaintingLine:
    """One painting in the review."""

    painting: Painting = field(repr=False)
    verdict: Verdict
    where: str  # the place and position in words, at the end of the period
    seen_until: pd.Timestamp | None
    change: str = ""  # against the review before: "new", "worse", "eased", "as before"
    put_off: str = ""  # "until 30 Nov 2026: waiting for the owner", where it was put off and has not grown worse
    trace: Trace | None = None

    @property
    def id(self) -> str:
        return self.painting.id

    @property
    def title(self) -> str:
        return self.painting.title

    @property
    def level(self) -> Level:
        return self.verdict.level

    @property
    def only_waits(self) -> bool:
        """Whether all that is unknown is a matter of waiting for a longer history, with a day to wait for."""
        return all(finding.decidable_on is not None for finding in self.verdict.unseen)

    @property
    def headline(self) -> Finding | None:
        """The finding that ranks the painting."""
        raised = self.verdict.raised
        return min(raised, key=_urgency) if raised else None

    @property
    def others(self) -> tuple[Finding, ...]:
        """What else was found against it, worst first."""
        return tuple(sorted((f for f in self.verdict.raised if f is not self.headline), key=_urgency))


@dataclass(frozen=True, eq=False)
class PlaceLine:
    """One place in the review. `summary` is None where nothing at all was read."""

    place: Place
    summary: climate.PlaceSummary | None
    seen_until: pd.Timestamp | None
    paintings: int


@dataclass(frozen=True)
class LoggerLine:
    """A logger that wants a hand. `state`: "not fetched", "stopped", "flat", "no place", "calibration due"."""

    id: str
    name: str
    place: str
    state: str
    sentence: str
    seen_until: pd.Timestamp | None = None


@dataclass(frozen=True)
class Due:
    """Something to do: from a finding, a treatment's inspection day, or put off earlier."""

    number: int | None
    on: pd.Timestamp | None
    painting_id: str
    title: str
    what: str
    state: str = "open"  # open, carried over, due next
    note: str = ""


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
    tasks: tuple[Due, ...]
    changes: tuple[str, ...]
    cautions: tuple[str, ...]
    number: int | None = None  # given when it is kept

    @property
    def judged(self) -> tuple[PaintingLine, ...]:
        """All paintings that were judged."""
        return (*self.trouble, *self.put_off, *self.not_seen, *self.waiting, *self.quiet)

    @property
    def needing(self) -> tuple[PaintingLine, ...]:
        """The paintings in trouble, at act or urgent, ranked."""
        return tuple(line for line in self.trouble if line.level >= Level.ACT)

    @property
    def watched(self) -> tuple[PaintingLine, ...]:
        """The paintings to watch, ranked."""
        return tuple(line for line in self.trouble if line.level is Level.WATCH)

    @property
    def is_quiet(self) -> bool:
        """Nothing asks for a person: no painting raised, none unseen, nothing waiting."""
        return bool(self.judged) and not (self.trouble or self.not_seen or self.tray or self.opening)


def _urgency(finding: Finding) -> tuple:
    """Worst level first; among equals the quickest harm first, then the longest standing."""
    harm = finding.hazard if finding.hazard in HARM_ORDER else finding.mechanism
    order = next((i for i, word in enumerate(HARM_ORDER) if word in harm), len(HARM_ORDER))
    since = finding.since.value if finding.since is not None else np.inf
    return -finding.level, order, since


# ------------------------------------------------------------------------------------------------ the period


def default_period(studio: Studio, now: pd.Timestamp) -> tuple[Period, tuple[str, ...]]:
    """The last full week for which there are readings, and what must be said first about it.

    A logger fetched on the last day of a week has seen that week; hence the day of grace.
    """
    last = max((seen.last for seen in studio.seen(now=now).values() if seen.last is not None), default=None)
    if last is None:
        return period.full_week_before(now, studio.zone), ("No readings yet: nothing is known of any painting.",)
    week = period.full_week_before(min(now, last + pd.Timedelta(days=1)), studio.zone)
    return week, clock_notes(week, now, studio.zone)


def clock_notes(span: Period, now: pd.Timestamp, zone: str) -> tuple[str, ...]:
    """What must be said where a review's week is not the last full one by the clock."""
    by_clock = period.full_week_before(now, zone)
    if span.end >= by_clock.end:
        return ()
    behind = round((by_clock.end - span.end) / pd.Timedelta(days=7))
    return (
        f"This review is of {span.label}, {behind} week{'s' if behind > 1 else ''} before the last full week by the "
        f"clock ({by_clock.label}). How the paintings are now is not known.",
    )


# --------------------------------------------------------------------------------------------- the paintings


def painting_line(
    studio: Studio, painting: Painting, span: Period, now: pd.Timestamp, before: dict | None = None
) -> PaintingLine:
    """Judge one painting over the period, with the history that its layers carry. No day to act by lies before now."""
    first = min((stay.start for stay in painting.stays), default=span.start)
    start = max(span.start - pd.Timedelta(days=float(HISTORY_DAYS)), min(first, span.start))
    exposures = studio.exposures(painting, start, span.end)
    with materials.using(studio.materials()):
        judged = verdict.judge_either(exposures, painting, span.start)
    findings = studio.number_findings(judged.findings)
    judged = replace(judged, findings=tuple(f if f.by is None else replace(f, by=max(f.by, now)) for f in findings))
    room = exposures[-1].room.between(span.start, span.end)
    read = room.time[np.isfinite(room.temp_c)]
    hourly = climate.hourly(room)
    last = exposures[-1].stints[-1] if exposures[-1].stints else None
    where = "whereabouts unknown" if last is None or not last.place_id else _where(last.place_name, last.position)
    return PaintingLine(
        painting, judged, where, read[-1] if len(read) else None,
        _change(judged, before), _put_off(studio, judged, span.end),
        Trace(hourly.time, hourly.temp_c, hourly.rh_percent),
    )  # fmt: skip


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
    """Why and until when all that is raised was put off; empty as soon as any of it is not, or grew worse."""
    reasons = [studio.put_off_reason(finding, moment) for finding in judged.raised]
    return reasons[0] if reasons and all(reasons) else ""


def _left_out(studio: Studio, painting: Painting, span: Period) -> str:
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


# ---------------------------------------------------------------------------------------- rooms, loggers, tasks


def place_lines(studio: Studio, span: Period, lines: Sequence[PaintingLine]) -> tuple[PlaceLine, ...]:
    """What each place did, with a month of history for its fluctuation."""
    out = []
    for place in studio.places().values():
        if not studio.has_logger(place.id, span.start, span.end):
            continue
        history = studio.climate(place.id, span.start - pd.Timedelta(days=60), span.end)
        week = history.between(span.start, span.end)
        read = history.time[np.isfinite(history.temp_c)]
        here = sum(line.where.startswith(place.name) for line in lines)
        summary = climate.describe_place(history, place.zone, span.start) if len(week.time) else None
        out.append(PlaceLine(place, summary, read[-1] if len(read) else None, here))
    return tuple(out)


def logger_lines(studio: Studio, span: Period, now: pd.Timestamp) -> tuple[LoggerLine, ...]:
    """Loggers that want a hand: those not fetched apart from those that stopped and those that are flat."""
    out = []
    places = studio.places()
    loggers = studio.loggers()
    for id, seen in studio.seen(now=now).items():
        logger = loggers[id]
        hanging = next((h for h in reversed(logger.hangings) if h.end is None or h.end > span.start), None)
        if hanging is None and logger.hangings:
            continue  # taken down before this period
        place = places[hanging.place_id].name if hanging else ""
        until = f"seen until {_local(seen.last, studio.zone)}" if seen.last is not None else "never read"

        def line(state: str, sentence: str, logger=logger, place=place, seen=seen) -> LoggerLine:
            return LoggerLine(logger.id, logger.name, place, state, sentence, seen.last)

        if hanging is None:
            out.append(line("no place", "has readings but hangs nowhere: say where with envwatch hung"))
        if seen.stopped_inside_file:
            out.append(line("stopped", f"stopped inside its file, {until}: battery or memory, go and look"))
        elif seen.stuck_since is not None:
            stuck = _local(seen.stuck_since, studio.zone)
            out.append(line("flat", f"has not moved since {stuck}: sensor or logger failed, go and look"))
        elif seen.last is None or seen.last < span.end - pd.Timedelta(days=1):
            out.append(line("not fetched", f"not fetched for this period: {until}"))
        if logger.calibrated_on is not None and logger.calibrated_on + pd.DateOffset(years=1) < span.end:
            out.append(
                line(
                    "calibration due",
                    f"last checked on {date(logger.calibrated_on, studio.zone)}: check it against salt",
                )
            )
    return tuple(out)


def _local(stamp: pd.Timestamp, zone: str) -> str:
    return f"{date(stamp, zone)} {stamp.tz_convert(zone):%H:%M}"


def tasks_of(studio: Studio, judged: Sequence[PaintingLine], span: Period, now: pd.Timestamp) -> tuple[Due, ...]:
    """What to do: carried over first, then this week's findings, one a painting, then inspections due soon."""
    titles = {painting.id: painting.title for painting in studio.paintings().values()}
    carried = [
        Due(t.number, t.due, t.painting_id, titles.get(t.painting_id, ""), t.what, "carried over", t.note)
        for t in studio.tasks(open_only=True)
        if t.raised_on < span.end and not (t.put_off_until is not None and t.put_off_until > span.end)
    ]
    known = {due.number for due in carried}
    fresh = [_task(line, now) for line in judged if not line.put_off and line.level >= Level.ACT]
    fresh = [due for due in fresh if due.number not in known]
    return (*carried, *sorted(fresh, key=lambda due: (due.on, due.title)), *inspections(judged, span, now))


def _task(line: PaintingLine, now: pd.Timestamp) -> Due:
    """The one thing to do about a painting: what its worst finding asks."""
    finding = line.headline
    assert finding is not None
    return Due(finding.number, finding.by or now, line.id, line.title, finding.do)


def inspections(lines: Sequence[PaintingLine], span: Period, now: pd.Timestamp) -> list[Due]:
    """Inspection days of recent linings and consolidations that fall into this period or soon after."""
    until = max(span.end, now) + pd.Timedelta(days=float(DUE_SOON_DAYS))
    out = []
    for line in lines:
        for treatment in line.painting.treatments:
            for days in INSPECTION_DAYS:
                on = treatment.on + pd.Timedelta(days=float(days))
                looked = any(seen.on >= on for seen in line.painting.observations)
                if treatment.kind in LOOKED_AFTER and span.start <= on < until and not looked:
                    what = f"look at the {treatment.kind} of {date(treatment.on, span.zone)}, day {int(days)}"
                    state = "due next" if on >= now else "was due; no look recorded"
                    out.append(Due(None, on, line.id, line.title, what, state))
    return sorted(out, key=lambda due: due.on)


# ------------------------------------------------------------------------------------------------- the whole


def make(
    studio: Studio,
    now: pd.Timestamp,
    span: Period | None = None,
    progress: Callable[[int, int, str], None] | None = None,
) -> Review:
    """The review of a period; by default of the last full week for which there are readings.

    Parameters
    ----------
    now : the clock, UTC; handed in, so that a review can be made again as it was.
    progress : called with (done, of, what) as paintings are judged.

    Raises
    ------
    NotThere : a stated period in which nothing at all was read, in a studio that has readings.
    """
    span, opening = default_period(studio, now) if span is None else (span, clock_notes(span, now, studio.zone))
    _refuse_empty(studio, span, now)
    before = studio.previous_review(span.start)
    left_out, judged = [], []
    paintings = list(studio.paintings().values())
    if not paintings:
        opening = (*opening, "No paintings in the register yet: envwatch import FOLDER reads them from CSV.")
    for done, painting in enumerate(paintings):
        if progress:
            progress(done, len(paintings), painting.title)
        why = _left_out(studio, painting, span)
        if why:
            left_out.append((painting.title, why))
        else:
            judged.append(painting_line(studio, painting, span, now, before["record"] if before else None))
    raised = sorted((line for line in judged if line.headline), key=lambda line: (_urgency(line.headline), line.title))
    rest = sorted((line for line in judged if not line.headline), key=lambda line: line.title)
    arrivals = studio.arrivals(before["made_at"] if before else None)
    return Review(
        studio=studio.name, period=span, made_at=now, opening=opening,
        arrivals=arrivals.came_in, set_aside=arrivals.set_aside, marks=studio.mark_notes(span.start, span.end),
        tray=tuple(item.sentence for item in studio.tray()),
        trouble=tuple(line for line in raised if not line.put_off),
        put_off=tuple(line for line in raised if line.put_off),
        not_seen=tuple(line for line in rest if line.level is Level.UNKNOWN and not line.only_waits),
        waiting=tuple(line for line in rest if line.level is Level.UNKNOWN and line.only_waits),
        quiet=tuple(line for line in rest if line.level is Level.CLEAR),
        left_out=tuple(left_out), places=place_lines(studio, span, judged),
        loggers=logger_lines(studio, span, now), tasks=tasks_of(studio, judged, span, now),
        changes=_changes(judged, before), cautions=_cautions(raised),
    )  # fmt: skip


def _refuse_empty(studio: Studio, span: Period, now: pd.Timestamp) -> None:
    seen = [s for s in studio.seen(now=now).values() if s.last is not None]
    if not seen:
        return  # an empty studio is told so in words, not refused
    if not studio.has_readings(span.start, span.end):
        first = min(s.first for s in seen).tz_convert(studio.zone).date()
        last = max(s.last for s in seen).tz_convert(studio.zone).date()
        raise NotThere(f"{span.label}: no logger read anything then. There are readings from {first} to {last}")


def _changes(judged: Sequence[PaintingLine], before: dict | None) -> tuple[str, ...]:
    if before is None:
        return ()
    words = {"new": "is new in the list", "worse": "is worse than last time", "eased": "has eased since last time"}
    return tuple(f"{line.title} {words[line.change]}." for line in judged if line.change in words)


def _cautions(lines: Sequence[PaintingLine]) -> tuple[str, ...]:
    found = (finding.caution for line in lines for finding in line.verdict.raised if finding.caution)
    return tuple(dict.fromkeys(found))


def record_of(review: Review) -> dict:
    """What is kept of a review, so that the next one can say what changed."""
    lines = review.judged
    return {
        "label": review.period.label,
        "levels": {line.id: int(line.level) for line in lines},
        "findings": [
            {"number": f.number, "painting": line.id, "level": int(f.level), "hazard": f.hazard,
             "mechanism": f.mechanism, "value": f.value, "limit": f.limit, "sentence": f.sentence}
            for line in lines for f in line.verdict.raised
        ],
    }  # fmt: skip


def keep(studio: Studio, review: Review) -> Review:
    """Keep the review with the limits in force, and raise its tasks. Returns it with its number."""
    limits = {
        f"{f.hazard}: {f.mechanism}, {f.layer}": {"limit": f.limit, "unit": f.unit, "source": f.source,
                                                   "confidence": f.confidence.value}
        for line in review.judged
        for f in line.verdict.findings if not np.isnan(f.limit)
    }  # fmt: skip
    for due in review.tasks:
        if due.state == "open" and due.number is not None:
            studio.raise_task(due.number, due.painting_id, due.what, due.on, review.made_at)
    number = studio.keep_review(review.period.start, review.period.end, record_of(review), limits, review.made_at)
    return replace(review, number=number)
