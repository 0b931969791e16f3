"""What was printed or said of a painting, that may rest on air which is known otherwise later."""

from __future__ import annotations

import re

import pandas as pd

from envwatch.archive import Studio
from envwatch.archive.reviews import sheets
from envwatch.core.painting import CALL, HANDOVER, Painting
from envwatch.core.text import day


def review_of(made_at: pd.Timestamp, zone: str) -> str:
    """A kept review by its day: "review of Mon 2 Nov"."""
    return f"review of {day(made_at.tz_convert(zone))}"


def of(studio: Studio, painting: Painting, start: pd.Timestamp, end: pd.Timestamp) -> tuple[str, ...]:
    """Handovers, calls and kept sheets of a painting from a moment to another, with their day and its number."""
    zone = studio.zone
    said = [(t.on, t.kind) for t in painting.treatments if t.kind in (HANDOVER, CALL) and start <= t.on <= end]
    own = re.compile(rf"(?<![\w]){re.escape(painting.id)}(?![\w])")
    said += [(at, f"sheet {name}") for name, at in sheets(studio) if start <= at <= end and own.search(name)]
    return tuple(f"{what} of {day(on.tz_convert(zone))} ({painting.id})" for on, what in sorted(said))
