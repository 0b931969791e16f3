"""Paintings whose own air no logger reads: said first of all, a line a place, with what to do."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import pandas as pd

from envwatch.archive import Studio
from envwatch.archive.climates.deployments import ROOM_POSITIONS, Deployment, hung_in
from envwatch.archive.climates.place import speaking
from envwatch.cases.review.model import PaintingLine
from envwatch.core.painting import Painting, Stay
from envwatch.core.period import Period
from envwatch.core.place import Placement
from envwatch.core.text import several

OF_THE_ROOM = tuple(at for at in ROOM_POSITIONS if at != Placement.FLOOR)  # what reads at one of them reads at all
Whereabouts = tuple[str, str]  # place, position; "" where not known


def notes(studio: Studio, lines: Iterable[PaintingLine], span: Period) -> tuple[str, ...]:
    """One line a place (and position) whose air nobody reads, counting the paintings judged there.

    Of those that have left by now nothing is asked. A place in which a neighbour's air counts is read by that.
    """
    found: dict[Whereabouts, list[str]] = {}
    for line in lines:
        unread = None if line.left is not None and not line.left.stands else whereabouts(studio, line.painting, span)
        if unread is not None:
            found.setdefault(unread, []).append(line.id)
    return tuple(_words(studio, span, *where, ids) for where, ids in sorted(found.items()))


def whereabouts(studio: Studio, painting: Painting, span: Period) -> Whereabouts | None:
    """Where a painting stood at the end of a period, if nobody reads the air there; None where somebody does."""
    stay = _last_stay(painting, span)
    if stay is None:
        return "", ""
    start = max(stay.start, span.start)
    hung = [one for one in hung_in(studio, stay.place_id) if one.covers(start, span.end)]
    if not hung:
        return None if _stood_in(studio, stay.place_id, start, span.end) else (stay.place_id, "")
    return None if _read(stay.position, hung) else (stay.place_id, stay.position)


def _last_stay(painting: Painting, span: Period) -> Stay | None:
    here = [stay for stay in painting.stays if stay.start < span.end]
    last = here[-1] if here else None
    return last if last is not None and (last.end is None or last.end >= span.end) else None


def _stood_in(studio: Studio, place_id: str, start: pd.Timestamp, end: pd.Timestamp) -> bool:
    named = studio.register().stand_ins.get(place_id, ())
    return any(one.start < end and (one.end is None or one.end > start) for one in named)


def _read(position: Placement, hung: Sequence[Deployment]) -> bool:
    """Whether a logger reads the air of a position: at that very spot, or for the room where it is one of the room's.

    Of a painting without a position on record one that speaks for the room reads, while no other spot has a logger.
    """
    at = {one.hanging.position for one in hung}
    if position in at:
        return True
    for_room = bool(at & set(ROOM_POSITIONS))
    if position == Placement.UNKNOWN:
        return for_room and at <= set(OF_THE_ROOM)
    return position in OF_THE_ROOM and for_room


def _words(studio: Studio, span: Period, place_id: str, position: str, ids: Sequence[str]) -> str:
    who = f"{several(len(ids), 'painting')} ({', '.join(ids)})"
    they, stand = ("it", "stands") if len(ids) == 1 else ("they", "stand")
    if not place_id:
        return f"Nobody knows where {who} {stand}: say where with envwatch move, else nothing is known of their air."
    name = studio.places()[place_id].name
    if not position:
        return f"No logger hangs in {name}, where {who} {stand}: hang one there (envwatch hung LOGGER {place_id})."
    hung = [one for one in hung_in(studio, place_id) if one.covers(span.start, span.end)]
    if position == Placement.UNKNOWN:
        read = ", ".join(sorted({str(one.hanging.position) for one in hung}))
        return (f"{name} is read at: {read}; of {who} there no position is on record, so {they} may stand in other "
                "air: say where, with envwatch move.")  # fmt: skip
    read = speaking(hung, position, span.start, span.end)[0].hanging.position
    judged = f"{they} {'is' if they == 'it' else 'are'} judged by the air at the {read}"
    return (
        f"No logger reads at the {position} in {name}, where {who} {stand}; {judged}: hang a logger at the {position}."
    )
