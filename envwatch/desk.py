"""What a person does at the desk besides reading: tick a task, put it off, keep a review, sort findings by layer."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import pandas as pd

from envwatch import review
from envwatch.archive import Studio
from envwatch.archive.reviews import Task
from envwatch.errors import BadInput, NotThere
from envwatch.period import Period, given, iso_label, iso_week
from envwatch.records import Finding, Layer, Level, Painting
from envwatch.review import Due, Review


def period_of(studio: Studio, now: pd.Timestamp, week: str | None) -> tuple[Period | None, Period]:
    """The period asked for (None: the default one), and the period that is then shown."""
    asked = iso_week(week, studio.zone) if week else None
    return asked, asked or review.default_period(studio, now)[0]


def weeks_beside(span: Period) -> tuple[str, str]:
    """The ISO weeks before and after a period."""
    before, after = span.start - pd.Timedelta(days=3), span.end + pd.Timedelta(days=3)
    return iso_label(before, span.zone), iso_label(after, span.zone)


def week_of(day: str, zone: str) -> str:
    """The ISO week a date falls into. BadInput: not a date.

    >>> week_of("2026-10-26", "Europe/Berlin")
    '2026-W44'
    """
    try:
        noon = given(day or "", "").replace(hour=12)
    except BadInput as error:
        raise BadInput(str(error).strip()) from None
    return iso_label(noon.tz_localize(zone), zone)


def tick(studio: Studio, due: Due, word: str, now: pd.Timestamp) -> Task:
    """Close a task with a word on what was done, raising it first where its review was not kept.

    Raises
    ------
    BadInput : no word. NotThere : a task without a number, which nobody raised.
    """
    if not (word or "").strip():
        raise BadInput("say in a word or two what was done")
    return studio.close_task(_raised(studio, due, now), word.strip(), now)


def put_off(studio: Studio, due: Due, until: str, reason: str, now: pd.Timestamp) -> Task:
    """Put a task off until a day, with a reason. BadInput: no reason, or a day that is not later than today."""
    if not (reason or "").strip():
        raise BadInput("reason: say why it can wait")
    day = given(until or "", "until").tz_localize(studio.zone).tz_convert("UTC")
    if day <= now:
        raise BadInput(f"until {until}: give a day after today")
    number = _raised(studio, due, now)
    return studio.put_off(number, reason.strip(), day)


def _raised(studio: Studio, due: Due, now: pd.Timestamp) -> int:
    if due.number is None:
        raise NotThere("this one is cleared by an observation on the painting")
    studio.raise_task(due.number, due.painting_id, due.what, due.on, now)
    return due.number


def settled(studio: Studio, shown: Review) -> dict[int, str]:
    """What was closed or put off since a review's period began: a sentence by the task's number."""
    out: dict[int, str] = {}
    for task in studio.tasks(open_only=False):
        if task.closed_on is not None and task.closed_on >= shown.period.start:
            out[task.number] = f"done: {task.note}"
        elif task.put_off_until is not None and task.put_off_until > shown.made_at:
            out[task.number] = f"put off until {task.put_off_until.tz_convert(studio.zone).date()}: {task.note}"
        else:
            out.pop(task.number, None)
    return out


@dataclass(frozen=True)
class Told:
    """A layer of a painting with what was found about it, the worst first."""

    layer: Layer
    findings: tuple[Finding, ...]

    @property
    def level(self) -> Level | None:
        """The worst level; None where no rule speaks of this layer alone."""
        return max((f.level for f in self.findings), default=None)


def by_layer(painting: Painting, findings: Iterable[Finding]) -> tuple[tuple[Told, ...], tuple[Finding, ...]]:
    """Findings sorted to the layers they name, and those that speak of several layers at once or of the whole."""
    rest = list(findings)
    told = []
    for layer in painting.layers:
        own = [f for f in rest if _names(f, layer)]
        rest = [f for f in rest if f not in own]
        told.append(Told(layer, tuple(sorted(own, key=lambda f: -f.level))))
    return tuple(told), tuple(sorted(rest, key=lambda f: -f.level))


def _names(finding: Finding, layer: Layer) -> bool:
    """Whether a finding is about one layer: by its material, or by the layer's role alone before a bracket."""
    words = finding.layer.casefold()
    head = re.split(r"[(,]", words)[0].strip()
    if " and " in head:
        return False
    if finding.material:
        return finding.material == layer.material and (layer.role in words or layer.role == "film")
    return head == layer.role


def fields_at_fault(message: str, given_values: Mapping[str, object]) -> dict[str, str]:
    """A refusal set beside the field it speaks of: whose value it quotes, else whose name; under "" if none.

    >>> fields_at_fault("move of 26-02: '1.2.26' could be either order", {"place": "store", "on": "1.2.26"})
    {'on': "'1.2.26' could be either order"}
    """
    said = message.partition(": ")[2] or message
    tests = (
        lambda name, value: value and repr(str(value)) in said,
        lambda name, value: re.search(rf"\b{re.escape(name)}\b", said),
        lambda name, value: value and str(value) in said,
    )
    hits = (name for fits in tests for name, value in given_values.items() if fits(name, value))
    return {next(hits, ""): said}


__all__ = [
    "Told", "by_layer", "fields_at_fault", "period_of", "put_off", "settled", "tick", "week_of", "weeks_beside",
]  # fmt: skip
