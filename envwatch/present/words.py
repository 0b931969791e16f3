"""How findings, figures and times are put into words, the same on the terminal, on paper and on a page."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from envwatch.core.findings import Certainty, Finding, Verdict  # fmt: skip
from envwatch.core.painting import Observation
from envwatch.core.quantities import STUDIO, Source
from envwatch.core.text import date, number, stamp
from envwatch.figures.coverage import CLEAR_NEEDS
from envwatch.figures.sources import SOURCES

if TYPE_CHECKING:
    from envwatch.cases.review.model import PlaceLine
    from envwatch.core.baseline import Sign

BEARS = {True: "bears out", False: "denies", None: "speaks to"}


def trust(finding: Finding) -> str:
    """How far to trust a finding's limit, and that its rule was withdrawn where it was.

    >>> from dataclasses import replace
    >>> from envwatch.records import Level
    >>> held = Finding("mould", "30-day mean", "film", "room", Level.CLEAR, "Dry.", source="ashrae-160-2009")
    >>> trust(held), trust(replace(held, source=STUDIO))
    ('our judgement, a rule withdrawn since', "the studio's own")
    """
    if finding.source == STUDIO:
        return "the studio's own"
    gone = isinstance(known := SOURCES.get(finding.source), Source) and known.withdrawn
    return finding.confidence.value + (", a rule withdrawn since" if gone else "")


def observed(seen: Observation, zone: str) -> str:
    """A look in a line: "Tue 3 Nov 2026: edge slipped, top (own look, A. Ember); bears out finding 4"."""
    what = ", ".join(part for part in (seen.sign, seen.where, seen.note) if part) + (
        f" ({seen.how})" if seen.how else ""
    )
    about = f"; {BEARS[seen.confirms]} finding {seen.finding}" if seen.finding is not None else ""
    return f"{date(seen.on, zone)}: {what}{about}{f'; photograph {seen.photo}' if seen.photo else ''}"


def noted(sign: Sign, zone: str) -> str:
    """A look in a line, with what it adds to those before."""
    return "; ".join(part for part in (observed(sign.seen, zone), sign.words(zone)) if part)


def own_look(seen: Observation | None, zone: str) -> str:
    """The last own look, or that there is none."""
    told = f": {observed(seen, zone)}" if seen is not None else " (raking light, front and back): none on record"
    return f"Last own look{told}"


def amount(finding: Finding, spread: bool = True) -> str:
    """A finding's value and unit, with its uncertainty; of one that rests on bounds, that it is at least so much."""
    unsure = "" if np.isnan(finding.uncertainty) or finding.bound else f" ± {number(finding.uncertainty)}"
    return f"{finding.bound} {number(finding.value)}{unsure if spread else ''} {finding.unit}".strip()


def measure(finding: Finding) -> str:
    """Value with its uncertainty, limit and how far to trust it, hours, and whether the sensor can tell."""
    parts = []
    if not np.isnan(finding.value):
        parts.append(amount(finding))
    if not np.isnan(finding.limit):
        limit = f"{round(finding.limit, 2):g}".replace("-", "−")
        parts.append(f"limit {limit} {finding.unit}".strip() + f" ({trust(finding)})")
    if not np.isnan(finding.hours):
        parts.append(f"{finding.hours:.0f} h")
    if parts and finding.certainty is Certainty.CANNOT_TELL:
        within = abs(finding.value - finding.limit) <= finding.uncertainty
        low, high = sorted((finding.value_low, finding.value_high))
        if low < finding.limit <= high:
            return "; ".join(
                [*parts, f"{number(low)} to {number(high)} by what was not read, on both sides of the limit"]
            )
        # else another limit, a gap, a mark or the position leaves it open; the sentence or `why` says which
        parts.append("the sensor cannot tell the two apart" if within else "the readings leave the level open")
    return "; ".join(parts)


def unseen(verdict: Verdict, zone: str) -> str:
    """Which hazards could not be decided, how much was read, and from which day the others can be; or empty."""
    by_hazard: dict[str, list[str]] = {}
    nothing = verdict.findings and len(verdict.unseen) == len(verdict.findings)
    if nothing and any(finding.decidable_on is None for finding in verdict.unseen):
        if verdict.coverage >= CLEAR_NEEDS:  # the readings are there; why they do not count stands beside this line
            return "no hazard can be called clear"
        return f"{verdict.coverage:.0%} of the time was read: no hazard can be called clear"
    for finding in verdict.unseen:
        wait = f" from {date(finding.decidable_on, zone)}" if finding.decidable_on is not None else ""
        by_hazard.setdefault(finding.hazard, []).append(finding.mechanism + wait)
    listed = "; ".join(f"{hazard} ({', '.join(dict.fromkeys(what))})" for hazard, what in by_hazard.items())
    little = bool(listed) and verdict.coverage < CLEAR_NEEDS
    read = f"{verdict.coverage:.0%} of the time was read. " if little else ""
    return read + listed


def doubts(verdict: Verdict) -> tuple[str, ...]:
    """Why readings that are there do not count: their marks, or a file that waits with a question."""
    reasons = ("marked as doubtful", "a file waits")
    return tuple(dict.fromkeys(f.sentence for f in verdict.unseen if any(why in f.sentence for why in reasons)))


def nowhere(holes: Iterable[tuple[pd.Timestamp, pd.Timestamp]], zone: str) -> str:
    """Times in which nobody knows where a painting was, in words; empty where there are none."""
    told = [f"from {stamp(start, zone)} to {stamp(end, zone)}" for start, end in holes]
    return f"whereabouts unknown {' and '.join(told)}" if told else ""


def farthest(line: PlaceLine) -> str:
    """Positions of a place that went farther than its own logger: "dampest 87 % RH at the floor"; "" for none."""
    told = (one for one in line.extremes if not one.room and one.what != "coldest")
    return ", ".join(
        f"{one.what} {number(one.value)} °C {one.where}" if one.what == "hottest"
        else f"{one.what} {number(one.value, 0)} % RH {one.where}" for one in told
    )  # fmt: skip
