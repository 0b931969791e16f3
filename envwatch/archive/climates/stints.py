"""Where a painting was, hour by hour, from its stays.

Where only the day of a move is known, that day belongs to both places: the stints are worked out once for each
place that may have had it, and whoever judges takes the worse.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import pandas as pd

from envwatch.climate.exposure import Stint
from envwatch.core.dates import day_end, day_of
from envwatch.core.painting import Stay
from envwatch.core.place import Place

FOREVER = pd.Timestamp("2200-01-01", tz="UTC")


def variants(
    stays: Sequence[Stay], places: Mapping[str, Place], start: pd.Timestamp, end: pd.Timestamp,
    doubt_from: pd.Timestamp | None = None,
) -> list[tuple[Stint, ...]]:  # fmt: skip
    """The stints within [start, end), once for each way in which the days of moves can be given away.

    First all those days to the place left, then to the next one, and so on where a painting was in three
    places on one day. One way where no such day matters, or where all lie before `doubt_from`.
    """
    begin = start if doubt_from is None else max(start, doubt_from)
    chains = _chains(stays, places)
    deepest = max((last - first + 1 for first, last in chains if _matters(stays[first : last + 1], places, begin, end)),
                  default=1)  # fmt: skip
    ways = [_stints(stays, places, chains, turn, start, end) for turn in range(deepest)]
    return list(dict.fromkeys(ways))


def _chains(stays: Sequence[Stay], places: Mapping[str, Place]) -> list[tuple[int, int]]:
    """Runs of stays (first, last) that share one bare day."""
    chains: list[tuple[int, int]] = []
    for i in range(len(stays) - 1):
        if not _share_a_day(stays[i], stays[i + 1], places):
            continue
        if chains and chains[-1][1] == i and _first_day(stays[i], places) == _last_day(stays[i], places):
            chains[-1] = (chains[-1][0], i + 1)
        else:
            chains.append((i, i + 1))
    return chains


def _share_a_day(before: Stay, after: Stay, places: Mapping[str, Place]) -> bool:
    bare = before.end is not None and before.end_is_date and after.start_is_date
    return bare and _last_day(before, places) == _first_day(after, places)


def _first_day(stay: Stay, places: Mapping[str, Place]) -> str:
    return day_of(stay.start, places[stay.place_id].zone)


def _last_day(stay: Stay, places: Mapping[str, Place]) -> str:
    return "" if stay.end is None else day_of(stay.end, places[stay.place_id].zone)


def _matters(chain: Sequence[Stay], places: Mapping[str, Place], start: pd.Timestamp, end: pd.Timestamp) -> bool:
    """Whether the shared day lies in the span and its places are not all one and the same spot."""
    day = chain[1].start
    differ = len({(stay.place_id, stay.position, stay.intended) for stay in chain}) > 1
    return differ and day < end and day_end(day, places[chain[1].place_id].zone) > start


def _stints(
    stays: Sequence[Stay], places: Mapping[str, Place], chains: Sequence[tuple[int, int]], turn: int,
    start: pd.Timestamp, end: pd.Timestamp,
) -> tuple[Stint, ...]:  # fmt: skip
    edges = [_edges(i, stays, places) for i in range(len(stays))]
    for first, last in chains:
        owner = first + min(turn, last - first)
        day = stays[first + 1].start, day_end(stays[first + 1].start, places[stays[first + 1].place_id].zone)
        for i in range(first, last + 1):
            if i > first:
                edges[i][0] = day[0] if i <= owner else day[1]
            if i < last:
                edges[i][1] = day[1] if i >= owner else day[0]
    out: list[Stint] = []
    for stay, (a, b) in zip(stays, edges, strict=True):
        a, b = max(a, start, out[-1].end if out else start), min(b, end)
        if a < b:
            out.append(_stint(stay, places[stay.place_id], a, b))
    return tuple(out)


def _edges(i: int, stays: Sequence[Stay], places: Mapping[str, Place]) -> list[pd.Timestamp]:
    """Start and end of a stay, a bare day that no other stay claims counting as a whole."""
    stay, zone = stays[i], places[stays[i].place_id].zone
    before, after = (stays[i - 1] if i else None), (stays[i + 1] if i + 1 < len(stays) else None)
    a, b = stay.start, FOREVER if stay.end is None else stay.end
    if stay.start_is_date and before is not None and before.end is not None and not before.end_is_date:
        a = max(a, before.end)
    if stay.end is not None and stay.end_is_date:
        b = day_end(b, zone)
        if after is not None and after.start < b:
            b = after.start if not after.start_is_date else b
    return [a, b]


def _stint(stay: Stay, place: Place, start: pd.Timestamp, end: pd.Timestamp) -> Stint:
    return Stint(start, end, place.id, place.name, stay.position, place.zone, stay.intended, stay.purpose)
