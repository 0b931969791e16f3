"""The sheet for a time away, as text."""

from __future__ import annotations

from collections.abc import Iterator

from envwatch.cases.away import EACH_VISIT, GOT_HOT, NOT_ALLOWED, POWER_CUT, Away
from envwatch.core.text import date
from envwatch.present.terminal.layout import heading, wrap


def away(result: Away, width: int = 80) -> str:
    """What to see to before leaving, and the sheet that stays there."""
    return "\n".join(_away(result, width)) + "\n"


def _away(result: Away, width: int) -> Iterator[str]:
    last = date(result.end - (result.end - result.start) / 1000, result.zone)
    yield from wrap(f"Away from {result.studio}: {date(result.start, result.zone)} to {last}", width)
    yield from wrap(f"looks after it: {result.who or '……'}; ring: {'; '.join(result.ring) or '……'}", width)
    yield from heading("See to before you go", width)
    for line in result.before or ("Nothing stands open.",):
        yield from wrap(line, width, "[ ] " if result.before else "")
    yield from heading("At each visit", width)
    for line in EACH_VISIT:
        yield from wrap(line, width, "[ ] ")
    for room in result.rooms:
        yield from wrap(f"{room.name}: {room.lines}. Last: {room.last}", width, "- ")
        if room.paintings:
            yield from wrap(", ".join(room.paintings), width, "  in it    ")
        if room.loggers:
            yield from wrap(", ".join(room.loggers), width, "  loggers  ")
    if result.watched:
        yield from heading("Look more closely at", width)
        for one in result.watched:
            yield from wrap(f"{one.title} [{one.painting_id}], {one.where}: {one.look_for}", width, "- ")
    if result.dated:
        yield from heading("Falls into this time", width)
        for step in result.dated:
            yield from wrap(f"{date(step.on, result.zone)}: {step.title}: {step.what} ({step.who})", width, "- ")
    yield ""
    yield from wrap(GOT_HOT, width)
    yield from wrap(POWER_CUT, width)
    yield from wrap(NOT_ALLOWED, width)
    yield ""
    yield from wrap(f"On return: {result.catch_up}", width)
