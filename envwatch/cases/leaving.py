"""When a painting left: until then it is judged, and what was found is its owner's to be rung about."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import pandas as pd

from envwatch.archive import Studio
from envwatch.archive.climates.deployments import has_logger
from envwatch.core.dates import day_end
from envwatch.core.findings import Finding, Level
from envwatch.core.painting import CareStatus, Painting, Stay
from envwatch.core.period import Period
from envwatch.core.place import Place, PlaceKind
from envwatch.core.text import date
from envwatch.figures.handling import hot

CLOSED = "care closed"
RING = "Ring the owner"
AVOID = "Nobody there lifts, turns, presses, wipes, warms or dries it."
CLEARS = "A look at it where it is, with none of these signs; log it as an observation."


@dataclass(frozen=True)
class Departure:
    """When and how a painting left. `on`: end of its last hour here, UTC; of the whole day where only that is known.

    `why`: in words, with what was assumed for a day that is not on record. `word`: it was "here", or only "in care",
    until then. `stays_here`: how many of its stays, from the first, lie before it. `stands`: the place of the studio in
    which it still stands by its stays though its care was closed; "" where in none.
    """

    on: pd.Timestamp
    why: str
    stays_here: int
    word: str = "here"
    stands: str = ""

    def until(self, zone: str) -> str:
        """Until which day it was here or in care, in words."""
        return f"{self.word} until {date(self.on - pd.Timedelta(microseconds=1), zone)}"


def departure(studio: Studio, painting: Painting, span: Period, now: pd.Timestamp) -> Departure | None:
    """How a painting had left by the later of `now` and the period's end; None where it had not, or nobody knows.

    It leaves for a house where no logger hangs; and for good where its care is closed: on the day that is on record
    (`care_until`), else when it went home or its last stay ended. The earliest counts. Whoever left a stay and is in no
    other while its care goes on has not left: its whereabouts are unknown.
    """
    until = max(now, span.end)
    stays = [stay for stay in painting.stays if stay.start < until]
    ways = [_home(studio, stays, span, until)]
    if painting.care is CareStatus.CLOSED:
        known = painting.care_until is not None and painting.care_until < until
        ways.append(_closed(studio, painting, stays) if known else _undated(studio, stays, until))
    return min((way for way in ways if way is not None), key=lambda way: way.on, default=None)


def _home(studio: Studio, stays: list[Stay], span: Period, until: pd.Timestamp) -> Departure | None:
    """Into the houses without a logger in which it has been since."""
    if not stays or (stays[-1].end is not None and stays[-1].end <= span.start):
        return None
    first = _since(stays, lambda stay: _in_house(studio, stay) and not _read(studio, stay, span, until))
    if first == len(stays):
        return None
    name = studio.places()[stays[-1].place_id].name
    return Departure(_left(studio, stays, first), f"at home in {name}, where no logger hangs", first)


def _read(studio: Studio, stay: Stay, span: Period, until: pd.Timestamp) -> bool:
    seen = (span.start, span.end) if stay.start < span.end else (span.end, until)
    return has_logger(studio, stay.place_id, *seen)


def _closed(studio: Studio, painting: Painting, stays: list[Stay]) -> Departure:
    assert painting.care_until is not None
    on, last = day_end(painting.care_until, studio.zone), stays[-1] if stays else None
    if last is None:
        return Departure(on, CLOSED, 0)
    if last.end is not None:
        on = min(on, _end(studio, last))
    here = sum(stay.start < on for stay in stays)
    if _in_house(studio, last):
        return Departure(on, CLOSED, here, "in care" if here == len(stays) else "here")
    if last.end is not None:
        return Departure(on, CLOSED, here)
    stands = studio.places()[last.place_id].name
    return Departure(on, f"{CLOSED}; by its stays it still stands in {stands}", here, stands=stands)


def _undated(studio: Studio, stays: list[Stay], until: pd.Timestamp) -> Departure | None:
    """By the stays, where the day of closing is not on record or still to come; None where it still stands here."""
    first = _since(stays, lambda stay: _in_house(studio, stay))
    if first < len(stays):
        return Departure(_left(studio, stays, first), f"{CLOSED}, its day not on record: taken as when it went home",
                         first)  # fmt: skip
    if stays and stays[-1].end is not None and stays[-1].end < until:
        why = f"{CLOSED}, its day not on record: taken as when its last stay ended"
        return Departure(_end(studio, stays[-1]), why, len(stays))
    return None


def _since(stays: list[Stay], fits) -> int:
    """From which stay on all fit; the number of stays where the last does not."""
    first = len(stays)
    while first and fits(stays[first - 1]):
        first -= 1
    return first


def _in_house(studio: Studio, stay: Stay) -> bool:
    return studio.places()[stay.place_id].kind == PlaceKind.HOUSE


def _left(studio: Studio, stays: list[Stay], first: int) -> pd.Timestamp:
    """When it left the place before a stay; of the very first, when that began."""
    return _end(studio, stays[first - 1]) if first else stays[0].start


def _end(studio: Studio, stay: Stay) -> pd.Timestamp:
    return end_of(stay, studio.places())


def end_of(stay: Stay, places: Mapping[str, Place]) -> pd.Timestamp:
    """When a stay that has an end was over; of a bare day at its end, by the clock of the place."""
    assert stay.end is not None, "a stay that another follows has an end"
    return day_end(stay.end, places[stay.place_id].zone) if stay.end_is_date else stay.end


def still_here(studio: Studio, painting: Painting, span: Period, now: pd.Timestamp) -> str:
    """What is said of a painting whose care is closed without a day, and which by its stays has not left."""
    closed = painting.care is CareStatus.CLOSED and bool(painting.stays)
    if not closed or departure(studio, painting, span, now) is not None:
        return ""
    return "care closed, its day not on record; by its stays it has not left and is judged on (enter either)"


def until_left(painting: Painting, left: Departure, span: Period) -> tuple[Painting, Period] | None:
    """The painting and the part of the period up to its leaving; None where it was not here in any of it."""
    stays = painting.stays[: left.stays_here]
    here = any(stay.end is None or stay.end_is_date or stay.end > span.start for stay in stays)
    if left.on <= span.start or not here:
        return None
    return replace(painting, stays=stays), replace(span, end=min(span.end, left.on))


def recalled(finding: Finding, left: Departure, zone: str) -> Finding:
    """A finding as it stands once the painting has gone: its owner is rung, and nobody moves or treats it by phone."""
    if finding.level < Level.WATCH:
        return finding
    signs = finding.look_for.rstrip(".") or "anything loose, lifted, slack, wet, furry or new"
    warm = f" If it is warm there: {' '.join(hot())}" if finding.mechanism.startswith("heat") else ""
    look = f"Have them look, front and back, and send photographs: {signs[:1].lower()}{signs[1:]}."
    do = f"{ring(left, zone)}{warm} {look} Any of it: see it the same day, there."
    return replace(finding, do=do, avoid=AVOID, clears=CLEARS)


def ring(left: Departure, zone: str) -> str:
    """Whom to ask about a painting that has gone, and what."""
    first = f" If it still stands in {left.stands}, look at it there." if left.stands else ""
    return (
        f"{RING}: it was {left.until(zone)}.{first} Ask where it hangs, how warm and how damp it is there; it stays "
        "as it is."
    )
