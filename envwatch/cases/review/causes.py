"""What an event of a room came by, as a person named it: once, and spoken of from then on. It closes no look."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pandas as pd

from envwatch.archive import Studio, reviews
from envwatch.cases.review.model import Event
from envwatch.core.errors import BadInput, NotThere
from envwatch.core.findings import KINDS, Finding, Level
from envwatch.core.painting import Painting, Stay
from envwatch.core.place import AirEvent, Cause
from envwatch.core.text import date


def name(studio: Studio, event: Event, words: str, now: pd.Timestamp, by: str = "") -> Cause:
    """Name the cause of an event; named again, it stands in place of what was named. BadInput: no words."""
    if not (words or "").strip():
        raise BadInput("say in a few words what it came by", field="words")
    if event.kind is None or event.until is None:
        raise NotThere("nobody knows when that event was")
    return studio.name_cause(event.place_id, event.kind, event.began, event.until, words.strip(), by=by, on=now)


def cause_of(studio: Studio, place_id: str, kind: AirEvent, start: pd.Timestamp, end: pd.Timestamp) -> Cause | None:
    """The cause named of an event of a place; of several the last named."""
    named = [cause for cause in studio.register().causes.get(place_id, ()) if cause.of(kind, start, end)]
    return named[-1] if named else None


def words_of(cause: Cause | None, zone: str) -> str:
    """ "cause: pipe over the rack, named Mon 16 Nov 2026"; "" for None."""
    return "" if cause is None else f"cause: {cause.words}, named {date(cause.on, zone)}"


def with_cause(studio: Studio, painting: Painting, record: Mapping[str, Any]) -> str:
    """The sentence of a kept finding, with the cause named of its event where one was."""
    times = (pd.Timestamp(record[key]) for key in ("since", "until", "ended") if record.get(key))
    known = sorted(time for time in times if time is not pd.NaT)
    told = _told(studio, painting, KINDS.get(record["mechanism"]), known[0], known[-1]) if known else ""
    return f"{record['sentence']} ({told})" if told else record["sentence"]


def of_finding(studio: Studio, painting: Painting, finding: Finding) -> str:
    """The cause named of the event by which a raised finding came, in words; "" where none was named."""
    known = sorted(t for t in (finding.since, finding.worst_at, finding.until, finding.ended) if t is not None)
    if finding.level < Level.WATCH or not known:
        return ""
    return _told(studio, painting, KINDS.get(finding.mechanism), known[0], known[-1])


def _told(studio: Studio, painting: Painting, kind: AirEvent | None, start: pd.Timestamp, end: pd.Timestamp) -> str:
    """Of the last place in which it stood then; a swing may be of an event of any kind."""
    if kind is None or not studio.register().causes:
        return ""
    kinds = (kind,) if kind is not AirEvent.SWING else tuple(AirEvent)
    places = {stay.place_id for stay in painting.stays if in_stay(stay, start, end)}
    found = [cause for place in places for one in kinds if (cause := cause_of(studio, place, one, start, end))]
    return words_of(max(found, key=lambda cause: cause.on, default=None), studio.zone)


def in_stay(stay: Stay, start: pd.Timestamp, end: pd.Timestamp) -> bool:
    """Whether a stay has an hour in [start, end]."""
    return stay.start <= end and (stay.end is None or stay.end > start)


def kept_event(studio: Studio, number: int) -> Event:
    """The event of the last kept review that explains a finding.

    Raises
    ------
    NotThere : no such number, or no kept review has an event with it.
    """
    reviews.painting_of_finding(studio, number)
    for kept in reversed(reviews.reviews(studio)):
        for one in kept["record"].get("events", ()):
            if number in one["numbers"]:
                return from_kept(one)
    raise NotThere(f"finding {number} belongs to no event of a room in a review that was kept: what one painting alone "
                   "met is written down at the painting, with envwatch observe")  # fmt: skip


def as_kept(event: Event) -> dict[str, Any]:
    """What is kept of an event with its review."""
    return {"place": event.place_id, "kind": event.kind, "began": str(event.began), "until": str(event.until),
            "numbers": list(event.numbers), "paintings": list(event.paintings), "sentence": event.sentence}  # fmt: skip


def from_kept(one: Mapping[str, Any]) -> Event:
    """The event that was kept."""
    began, until = pd.Timestamp(one["began"]), pd.Timestamp(one["until"])
    return Event(one["place"], one["place"], began, None, one["sentence"], tuple(one["paintings"]),
                 tuple(one["numbers"]), "", AirEvent(one["kind"]), until)  # fmt: skip
