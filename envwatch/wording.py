"""How findings, figures and times are put into words, the same on the terminal, on paper and on a page."""

from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np
import pandas as pd

from envwatch.figures.coverage import CLEAR_NEEDS
from envwatch.figures.kinds import Source
from envwatch.figures.sources import SOURCES, STUDIO
from envwatch.period import day
from envwatch.records import (
    CANVAS_BACK,
    PAINT_FACE,
    ROOM,
    WALL_FACE,
    Certainty,
    Confidence,
    Finding,
    Level,
    Stint,
    Verdict,
)  # fmt: skip

WHERE = {
    ROOM: "in the room air",
    CANVAS_BACK: "at the back of the canvas",
    PAINT_FACE: "at the paint face",
    WALL_FACE: "on the wall behind the picture",
}
# spots with an air of their own, where a logger hangs right there
AT = {
    **{spot: f"in the air at the {spot}" for spot in ("outer wall", "window", "radiator", "fireplace")},
    **{spot: f"in the air of the {spot}" for spot in ("crate", "chamber")},
}


def where(point: str, stint: Stint | None) -> str:
    """The point in words; where a logger hangs at the painting's own spot, that spot.

    >>> now = pd.Timestamp("2026-11-02", tz="UTC")
    >>> where(ROOM, Stint(now, now, "h", "House", "radiator", own_logger=True)), where(ROOM, None)
    ('in the air at the radiator', 'in the room air')
    """
    if point != ROOM or stint is None or not stint.own_logger:
        return WHERE[point]
    return AT.get(stint.position, WHERE[point])


def stamp(time: pd.Timestamp | None, zone: str) -> str:
    """A time in a zone: "Mon 26 Oct 14:30"; empty where there is none."""
    if time is None:
        return ""
    local = time.tz_convert(zone)
    return f"{day(local)} {local:%H:%M}"


def date(time: pd.Timestamp | None, zone: str) -> str:
    """A day with its year in a zone; empty where there is none."""
    if time is None:
        return ""
    local = time.tz_convert(zone) if time.tz is not None else time
    return f"{day(local)} {local.year}"


def number(value: float, digits: int = 1) -> str:
    """A figure, or "not known" for NaN: never blank, never 0."""
    return "not known" if value is None or math.isnan(value) else f"{value:.{digits}f}".replace("-", "−")


def span(low: float, high: float, digits: int = 1) -> str:
    """Lowest to highest; "not known" where either is."""
    if math.isnan(low) or math.isnan(high):
        return "not known"
    return f"{number(low, digits)} to {number(high, digits)}"


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


def lasted(hours: float, unread_h: float) -> str:
    """How long a spell lasted, as far as it was read.

    >>> lasted(184, 8), lasted(20, 0)
    ('at least 184 h, up to 192 h if the 8 h not read in it were over too', '20 h')
    """
    if not unread_h:
        return f"{hours:.0f} h"
    most = f"up to {hours + unread_h:.0f} h if the {unread_h:.0f} h not read in it were over too"
    return f"at least {hours:.0f} h, {most}"


def measure(finding: Finding) -> str:
    """Value with its uncertainty, limit and how far to trust it, hours, and whether the sensor can tell."""
    parts = []
    if not np.isnan(finding.value):
        spread = f" ± {number(finding.uncertainty)}" if not np.isnan(finding.uncertainty) else ""
        parts.append(f"{number(finding.value)}{spread} {finding.unit}".strip())
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


def ours(limit: float | Finding) -> str:
    """Said beside a limit, or the limit of a finding, that no publication gives and no studio has set.

    >>> from envwatch.figures.canvas import DRY_DANGER_RH, DRY_LINED_RH
    >>> ours(DRY_LINED_RH), ours(DRY_DANGER_RH), ours(35.0)
    (' (our judgement)', '', '')
    """
    judged = getattr(limit, "confidence", None) is Confidence.OUR_JUDGEMENT and getattr(limit, "source", "") != STUDIO
    return f" ({Confidence.OUR_JUDGEMENT.value})" if judged else ""


def outside(finding: Finding) -> Level:
    """The level told on a paper that leaves the studio: a limit from memory alone decides none.

    >>> from dataclasses import replace
    >>> held = Finding("mould", "damp hours", "film", "room", Level.ACT, "2 days damp.")
    >>> outside(held).word, outside(replace(held, confidence=Confidence.FROM_MEMORY)).word
    ('act', 'not known')
    """
    remembered = finding.level >= Level.WATCH and finding.confidence is Confidence.FROM_MEMORY
    return Level.UNKNOWN if remembered else finding.level


def judgement(finding: Finding) -> str:
    """What is said behind a sentence that does not itself say that its limit is our judgement; a studio's own is not.

    >>> from dataclasses import replace
    >>> from envwatch.records import Level
    >>> held = Finding("mould", "damp hours", "film", "room", Level.CLEAR, "2 days damp.", limit=168.0)
    >>> judgement(held), judgement(replace(held, source=STUDIO))
    (' (A limit of our judgement.)', '')
    """
    said = Confidence.OUR_JUDGEMENT.value in finding.sentence
    return " (A limit of our judgement.)" if ours(finding) and not np.isnan(finding.limit) and not said else ""


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


def nowhere(holes: Iterable[tuple[pd.Timestamp, pd.Timestamp]], zone: str) -> str:
    """Times in which nobody knows where a painting was, in words; empty where there are none."""
    told = [f"from {stamp(start, zone)} to {stamp(end, zone)}" for start, end in holes]
    return f"whereabouts unknown {' and '.join(told)}" if told else ""


def first_sentence(text: str) -> str:
    """The first sentence of a longer telling."""
    head, dot, _ = text.partition(". ")
    return head + dot.strip()


def several(count: int, one: str, many: str = "") -> str:
    """`several(1, "painting")` is "one painting", `several(3, "painting")` "3 paintings"."""
    return f"one {one}" if count == 1 else f"{count} {many or one + 's'}"
