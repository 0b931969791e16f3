"""One painting, found by its title, owner or number: where it is, how it is, what was said and done."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

import pandas as pd

from envwatch import climate
from envwatch.archive import Studio, reviews
from envwatch.archive.reviews import Task
from envwatch.cases import review
from envwatch.cases.review import PaintingLine, TaskLine, causes, revised
from envwatch.cases.waits import file_waits
from envwatch.core.baseline import Sign, signs
from envwatch.core.findings import Finding, Level
from envwatch.core.looks import last_own_look
from envwatch.core.painting import Layer, Observation, Painting, Role
from envwatch.core.period import Period


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
    tasks: tuple[TaskLine, ...]
    ageing: str = ""  # slow ageing over the last year, relative to 20 °C and 50 %
    signs: tuple[Sign, ...] = ()  # each look, with what it adds to those before
    own_look: Observation | None = None  # the last one
    revised: tuple[str, ...] = ()  # papers and reviews that rest on air since revised
    waits: str = ""  # files in the tray that may hold its air, of the period or since


def of(studio: Studio, words: str, now: pd.Timestamp) -> Dossier:
    """The dossier of the one painting that the words fit.

    Raises
    ------
    NotThere : no painting fits. Question : several do.
    """
    painting = studio.find_painting(words)
    span, opening = review.default_period(studio, now)
    before = reviews.previous_review(studio, span.start)
    line = review.painting_line(studio, painting, span, now, before["record"] if before else None)
    latest = {kept["label"]: kept for kept in reviews.reviews(studio)}  # a week reviewed twice is told as last reviewed
    said = tuple(
        f"{label}: {causes.with_cause(studio, painting, found)}"
        for label, kept in reversed(latest.items())
        for found in kept["record"].get("findings", ())
        if found["painting"] == painting.id
    )
    tasks = tuple(
        TaskLine(t.number, t.due, t.painting_id, painting.title, _what(studio, t, span, now), t.state, t.note)
        for t in reviews.tasks(studio, open_only=False)
        if t.painting_id == painting.id
    )
    names = {place.id: place.name for place in studio.places().values()}
    ageing = _ageing(studio, painting, span)
    return Dossier(painting, line, span.label, studio.zone, opening, names, said, tasks, ageing,
                   signs(painting, studio.zone), last_own_look(painting, now),
                   revised.of_painting(studio, painting, now),
                   file_waits(studio, painting.stays, span.start, max(span.end, now)))  # fmt: skip


def _what(studio: Studio, task: Task, span: Period, now: pd.Timestamp) -> str:
    return task.what if task.state == "closed" else review.wanted(studio, task, span, now)


def _ageing(studio: Studio, painting: Painting, span: Period) -> str:
    """Slow ageing in the air it stood in over the year up to the period's end; "" where nothing was read."""
    room = studio.exposures(painting, span.end - pd.Timedelta(days=365), span.end)[-1].room
    if not len(room.time):
        return ""
    told = climate.ageing_sentence(room.temp_c, room.rh_percent, room.hours)
    return f"Slow ageing, over the {room.coverage:.0%} of the last year that was read: {told}"


@dataclass(frozen=True)
class LayerFindings:
    """A layer of a painting with what was found about it, the worst first."""

    layer: Layer
    findings: tuple[Finding, ...]

    @property
    def level(self) -> Level | None:
        """The worst level; None where no rule speaks of this layer alone."""
        return max((f.level for f in self.findings), default=None)


def by_layer(painting: Painting, findings: Iterable[Finding]) -> tuple[tuple[LayerFindings, ...], tuple[Finding, ...]]:
    """Findings sorted to the layers they name, and those that speak of several layers at once or of the whole."""
    rest = list(findings)
    told = []
    for layer in painting.layers:
        own = [f for f in rest if _names(f, layer)]
        rest = [f for f in rest if f not in own]
        told.append(LayerFindings(layer, tuple(sorted(own, key=lambda f: -f.level))))
    return tuple(told), tuple(sorted(rest, key=lambda f: -f.level))


def _names(finding: Finding, layer: Layer) -> bool:
    """Whether a finding is about one layer: by its material, or by the layer's role alone before a bracket."""
    words = finding.layer.casefold()
    head = re.split(r"[(,]", words)[0].strip()
    if " and " in head:
        return False
    if finding.material:
        return finding.material == layer.material and (layer.role in words or layer.role == Role.FILM)
    return head == layer.role
