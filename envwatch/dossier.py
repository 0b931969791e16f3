"""One painting, found by its title, owner or number: where it is, how it is, what was said and done."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from envwatch import climate, review
from envwatch.archive import Studio
from envwatch.archive.reviews import Task
from envwatch.period import Period
from envwatch.records import Painting
from envwatch.review import Due, PaintingLine


@dataclass(frozen=True, eq=False)
class Dossier:
    """What the practitioner needs when the client rings."""

    painting: Painting
    line: PaintingLine | None  # None where there are no readings at all
    label: str  # the period it was judged over
    zone: str
    opening: tuple[str, ...]
    places: dict[str, str]  # id -> name, for the stays
    said: tuple[str, ...]  # findings kept in earlier reviews, newest first
    tasks: tuple[Due, ...]
    ageing: str = ""  # slow ageing over the last year, relative to 20 °C and 50 %


def of(studio: Studio, words: str, now: pd.Timestamp) -> Dossier:
    """The dossier of the one painting that the words fit.

    Raises
    ------
    NotThere : no painting fits. Question : several do.
    """
    painting = studio.find_painting(words)
    span, opening = review.default_period(studio, now)
    before = studio.previous_review(span.start)
    line = review.painting_line(studio, painting, span, now, before["record"] if before else None)
    latest = {kept["label"]: kept for kept in studio.reviews()}  # a week reviewed twice is told as last reviewed
    said = tuple(
        f"{label}: {found['sentence']}"
        for label, kept in reversed(latest.items())
        for found in kept["record"].get("findings", ())
        if found["painting"] == painting.id
    )
    tasks = tuple(
        Due(t.number, t.due, t.painting_id, painting.title, _what(studio, t, span, now), t.state, t.note)
        for t in studio.tasks(open_only=False)
        if t.painting_id == painting.id
    )
    names = {place.id: place.name for place in studio.places().values()}
    ageing = _ageing(studio, painting, span)
    return Dossier(painting, line, span.label, studio.zone, opening, names, said, tasks, ageing)


def _what(studio: Studio, task: Task, span: Period, now: pd.Timestamp) -> str:
    return task.what if task.state == "closed" else review.wanted(studio, task, span, now)


def _ageing(studio: Studio, painting: Painting, span: Period) -> str:
    """Slow ageing in the air it stood in over the year up to the period's end; "" where nothing was read."""
    room = studio.exposures(painting, span.end - pd.Timedelta(days=365), span.end)[-1].room
    if not len(room.time):
        return ""
    told = climate.ageing_sentence(room.temp_c, room.rh_percent, room.hours)
    return f"Slow ageing, over the {room.coverage:.0%} of the last year that was read: {told}"
