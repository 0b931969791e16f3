"""Steps as a calendar file (iCalendar, RFC 5545): whole days, one event each, the same one when written again."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence

import pandas as pd

from envwatch.cases.aftercare import CareStep

LINE_OCTETS = 75  # RFC 5545, 3.1: longer lines are folded
PRODUCT = "-//envwatch//what is due//EN"


def calendar(steps: Sequence[CareStep], title: str, zone: str, made_at: pd.Timestamp) -> bytes:
    r"""Steps that are not done as a calendar file.

    Parameters
    ----------
    title : what the painting is called in the events; no owner stands in them.
    zone : of the studio: a step falls on its civil day there.

    Returns
    -------
    UTF-8 with CRLF. An event keeps its UID from one writing to the next, so that a calendar renews it.

    Source: RFC 5545 (sections 3.1 folding, 3.3.11 escaping, 3.6.1 events).

    >>> step = CareStep("26-1", "t1", "look: day 1", pd.Timestamp("2026-03-03", tz="UTC"), "our judgement")
    >>> b"DTSTART;VALUE=DATE:20260303\r\n" in calendar([step], "Moor", "UTC", pd.Timestamp("2026-03-02", tz="UTC"))
    True
    """
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", f"PRODID:{PRODUCT}", "CALSCALE:GREGORIAN"]
    for step in steps:
        if not step.done:
            lines += _event(step, title, zone, made_at)
    return "".join(f"{part}\r\n" for line in (*lines, "END:VCALENDAR") for part in _folded(line)).encode("utf-8")


def _event(step: CareStep, title: str, zone: str, made_at: pd.Timestamp) -> Iterator[str]:
    day = step.on.tz_convert(zone)
    name = "|".join((step.painting_id, step.treatment_id, step.what))
    yield "BEGIN:VEVENT"
    yield f"UID:{hashlib.sha256(name.encode()).hexdigest()[:32]}@envwatch.invalid"
    yield f"DTSTAMP:{made_at.tz_convert('UTC'):%Y%m%dT%H%M%SZ}"
    yield f"DTSTART;VALUE=DATE:{day:%Y%m%d}"
    yield f"DTEND;VALUE=DATE:{day + pd.DateOffset(days=1):%Y%m%d}"
    yield f"SUMMARY:{_escaped(f'{title}: {step.what}')}"
    yield f"DESCRIPTION:{_escaped(f'{step.painting_id}. {step.why}')}"
    yield "TRANSP:TRANSPARENT"
    yield "END:VEVENT"


def _escaped(text: str) -> str:
    text = " ".join(text.split())
    return text.replace("\\", "\\\\").replace(";", "\\;").replace(",", "\\,")


def _folded(line: str) -> Iterator[str]:
    """A line in parts of at most 75 octets, each but the first behind a space; no letter is cut."""
    part, room = "", LINE_OCTETS
    for letter in line:
        if len((part + letter).encode("utf-8")) > room:
            yield part
            part = " "
        part += letter
    yield part
