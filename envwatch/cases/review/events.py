"""What the air of a room did to several paintings at once: one line of the room, and its cause once it is named."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np
import pandas as pd

from envwatch import climate
from envwatch.archive import Studio
from envwatch.cases.review import causes
from envwatch.cases.review.model import Event, PaintingLine
from envwatch.cases.review.places import history
from envwatch.cases.review.state import words_of
from envwatch.climate.air_change import AirChange, Course, between, steepest
from envwatch.climate.hours import Hourly
from envwatch.core.findings import KINDS, Ending, Finding, Hazard, Level, Mechanism
from envwatch.core.painting import Painting, Stay
from envwatch.core.period import Period
from envwatch.core.place import AirEvent, Placement
from envwatch.core.text import Bound, number, several, stamp
from envwatch.figures import events as fig

M = Mechanism
STATES = {
    (Hazard.LINING, M.DAMP),
    (Hazard.FLUCTUATION, M.DAMP_AIR),
    (Hazard.LINING, M.DRY),
    (Hazard.FLUCTUATION, M.DRY_AIR),
    (Hazard.LINING, M.HEAT),
    (Hazard.FLUCTUATION, M.COLD),
}  # whose value is a state of the air or the canvas, and neither a difference nor a count
WARMTH = (AirEvent.HEAT, AirEvent.COLD)
SIGN = {AirEvent.DAMP: 1, AirEvent.HEAT: 1, AirEvent.DRY: -1, AirEvent.COLD: -1, AirEvent.SWING: 0}
DAY = pd.Timedelta(days=1)


@dataclass(frozen=True, eq=False)
class Raised:
    """A finding with the painting, and with where that stood at its worst hour."""

    painting: Painting
    finding: Finding
    stay: Stay
    kind: AirEvent
    start: pd.Timestamp
    end: pd.Timestamp

    @property
    def follows(self) -> bool:
        """Whether it comes by what the air did otherwise: a swing by damp or heat, water on it by warm or damp air."""
        return self.kind is AirEvent.SWING or self.finding.hazard is Hazard.CONDENSATION


def raised(painting: Painting, finding: Finding) -> Raised | None:
    """A raised finding with its time and whereabouts; None where either is not known or no air brings it about."""
    kind, at = KINDS.get(finding.mechanism), finding.worst_at or finding.until or finding.since
    if finding.level < Level.WATCH or kind is None or at is None:
        return None
    stays = [stay for stay in painting.stays if stay.start <= at and (stay.end is None or at < stay.end + DAY)]
    if not stays:
        return None
    start = at if finding.since is None else min(finding.since, at)
    return Raised(painting, finding, stays[-1], kind, start, max(finding.ended or finding.until or at, at))


def events(studio: Studio, lines: Iterable[PaintingLine], span: Period) -> tuple[Event, ...]:
    """The events of all rooms, by the begin of each: two paintings at least, or one whose room's air made a leap.

    Events of which no finding asks for somebody any more are none.
    """
    lines = list(lines)
    found = [one for line in lines for f in line.verdict.raised if (one := raised(line.painting, f)) is not None]
    asking = {f.key for line in lines for f in line.asking}
    groups = [group for group in _groups(found) if any(one.finding.key in asking for one in group)]
    there = _stays_by_place(studio)
    made = (_event(studio, group, there, span) for group in groups)
    return tuple(sorted((e for e in made if e is not None), key=lambda e: (e.began, e.place_id, e.kind)))


def _stays_by_place(studio: Studio) -> dict[str, list[tuple[str, Stay]]]:
    out: dict[str, list[tuple[str, Stay]]] = {}
    for painting in studio.paintings().values():
        for stay in painting.stays:
            out.setdefault(stay.place_id, []).append((painting.id, stay))
    return out


def _groups(found: Sequence[Raised]) -> list[list[Raised]]:
    """Findings of one place and kind whose times touch; what follows any of them goes with it."""
    groups: list[list[Raised]] = []
    last: dict[tuple[str, AirEvent], tuple[list[Raised], pd.Timestamp]] = {}
    for one in sorted(found, key=lambda r: (r.follows, r.start)):
        key = one.stay.place_id, one.kind
        with_it = [g for g in groups if _touches(g, one)] if one.follows else []
        group, until = last.get(key, ([], one.start))
        if with_it:
            min(with_it, key=lambda group: group[0].kind in WARMTH).append(one)
        elif group and one.start <= until:
            group.append(one)
            last[key] = group, max(until, one.end)
        else:
            last[key] = [one], one.end
            groups.append(last[key][0])
    return groups


def _touches(group: Sequence[Raised], one: Raised) -> bool:
    """Whether what follows is of an event of another kind in the same place."""
    own = [r for r in group if not r.follows]
    same = bool(own) and own[0].stay.place_id == one.stay.place_id
    return same and min(r.start for r in own) <= one.end and one.start <= max(r.end for r in own)


def _event(
    studio: Studio, group: Sequence[Raised], there: Mapping[str, list[tuple[str, Stay]]], span: Period
) -> Event | None:
    place, kind = studio.places()[group[0].stay.place_id], group[0].kind
    own = [one for one in group if not one.follows] or group
    first, until = min(one.start for one in own), max(one.end for one in own)
    position, hours = _air(studio, group, span)
    leap = leap_of(hours, kind, first, until, span)
    paintings = tuple(dict.fromkeys(one.painting.id for one in group))
    if len(paintings) < 2 and (leap is None or position is not Placement.UNKNOWN):
        return None  # what a spot does to one painting is that painting's
    led = leap is not None and leap.start <= first + pd.Timedelta(hours=float(fig.LEADS_H))
    began = leap.start if leap is not None and led else first
    ended = _ended(own)
    here = {id for id, stay in there[place.id] if causes.in_stay(stay, began, until)}
    last = min(until, span.end)
    air = leap if leap is not None else _course(hours, kind, first, last)
    words = _air_words(air, kind, led, place.zone) if air is not None else _stands(hours, last)
    cause = causes.cause_of(studio, place.id, kind, began, until)
    where = words_of(place.name, position)
    told = "; ".join(filter(None, (words, _reached(own, paintings, len(here), partial(_extreme, studio, span)),
                                   _over(own, ended, place.zone))))  # fmt: skip
    since = "" if leap is not None and led else "since "
    named = f" ({causes.words_of(cause, place.zone)})" if cause is not None else ""
    numbers = tuple(sorted(one.finding.number for one in group if one.finding.number is not None))
    sentence = f"{where}, {since}{stamp(began, place.zone)}: {told}{named}."
    return Event(
        place.id, where, began, ended, sentence, paintings, numbers,
        cause.words if cause is not None else "", kind, until, air, len(here),
    )  # fmt: skip


# --------------------------------------------------------------------------------------------------- what the air did


def _air(studio: Studio, group: Sequence[Raised], span: Period) -> tuple[Placement, Hourly]:
    """The air of the paintings' common position where a logger there reads it for itself; else the room's."""
    place, positions = group[0].stay.place_id, {one.stay.position for one in group}
    room = history(studio, place, span)
    position = positions.pop() if len(positions) == 1 else Placement.UNKNOWN
    at = room if position is Placement.UNKNOWN else history(studio, place, span, position)
    if at.digest == room.digest:
        return Placement.UNKNOWN, climate.hourly(room)
    return position, climate.hourly(at)


def leap_of(hours: Hourly, kind: AirEvent, first: pd.Timestamp, until: pd.Timestamp, span: Period) -> AirChange | None:
    """The leap of a room's air that an event goes with; None where it made none, or nobody read it.

    A new one of the period itself, else that with which the event began.
    """
    lead = pd.Timedelta(hours=float(fig.LEADS_H))
    begun = _leap(hours, kind, first - lead, min(first + lead, until))
    new = _leap(hours, kind, max(first + lead, span.start), until)
    return begun if new is None else new


def _leap(hours: Hourly, kind: AirEvent, start: pd.Timestamp, end: pd.Timestamp) -> AirChange | None:
    """The largest change of [start, end), if it is one for that room: over the limit, and twice its usual day."""
    quantity = "temp_c" if kind in WARMTH else "rh_percent"
    change = steepest(_part(hours, start, end), quantity, SIGN[kind])
    if change is None:
        return None
    size = abs(change.temp_change_c if kind in WARMTH else change.rh_change_percent)
    usual = _usual_day(_part(hours, hours.time[0], start), quantity)
    least = max(float(fig.LEAP_C if kind in WARMTH else fig.LEAP_RH), fig.LEAP_TIMES * usual)
    return change if size >= least else None


def _part(hours: Hourly, start: pd.Timestamp, end: pd.Timestamp) -> Hourly:
    lo, hi = hours.time.searchsorted([start, end])
    rows = slice(int(lo), int(hi))
    return Hourly(hours.time[rows], hours.temp_c[rows], hours.rh_percent[rows], hours.temp_max_c[rows])


def _usual_day(hours: Hourly, quantity: str) -> float:
    """The median of the days' highest less lowest; 0 where no day was read."""
    values = pd.Series(getattr(hours, quantity)).groupby(np.arange(len(hours.time)) // 24)
    spread = (values.max() - values.min()).median()
    return float(np.nan_to_num(spread))


def _course(hours: Hourly, kind: AirEvent, first: pd.Timestamp, until: pd.Timestamp) -> AirChange | None:
    """From the best day before it began to its worst, by their means; None where no day of either was read."""
    begin = max(first - pd.Timedelta(days=float(fig.COURSE_DAYS)), hours.time[0])
    means = [_day_mean(_part(hours, day, day + DAY)) for day in pd.date_range(begin, until - DAY, freq="D")]
    values = np.round([mean[0 if kind in WARMTH else 1] for mean in means]) * (SIGN[kind] or 1)
    before = max((first - begin) // DAY, 0)
    if not np.isfinite(values[:before]).any() or not np.isfinite(values[before:]).any():
        return None
    best = before - 1 - int(np.nanargmin(values[:before][::-1]))  # the last of the best, the first of the worst
    worst = before + int(np.nanargmax(values[before:]))
    return between(begin + (best + 1) * DAY, 24.0 * (worst - best), means[best], means[worst])


def _day_mean(hours: Hourly) -> tuple[float, float]:
    read = np.isfinite(hours.temp_c) & np.isfinite(hours.rh_percent)
    if read.sum() < 12:
        return float("nan"), float("nan")
    return float(hours.temp_c[read].mean()), float(hours.rh_percent[read].mean())


HOW_LONG = ("", "an hour", "two hours", "three hours", "four hours", "five hours", "six hours")


def _stands(hours: Hourly, until: pd.Timestamp) -> str:
    """Of what began before all that is looked back on: how the air is on the last day of it."""
    temp_c, rh_percent = _day_mean(_part(hours, until - DAY, until))
    if np.isnan(temp_c):
        return "what the air did as it began was not read"
    return f"{temp_c:.1f} °C and {rh_percent:.0f} % RH on its last day"


def _air_words(air: AirChange, kind: AirEvent, led: bool, zone: str) -> str:
    """What the air did: by how much, how fast, and by vapour or by temperature."""
    hours = round(air.hours)
    if hours <= fig.LEAP_WITHIN_H:
        fast = f"within {HOW_LONG[hours] if hours < len(HOW_LONG) else f'{hours} hours'}"
        fast += "" if led else f" on {stamp(air.start, zone)}"
    else:
        fast = f"over {several(round(hours / 24), 'day')}"
    if kind in WARMTH:
        return f"{air.temp_change_c:+.1f} °C {fast}".replace("-", "−") + (f", {air.course}" if air.course else "")
    return f"{air.rh_change_percent:+.0f} % RH {fast}, {_by(air)}".replace("-", "−")


def _by(air: AirChange) -> str:
    """By what the humidity changed: vapour, temperature, or both."""
    warmth = f"it {'warmed' if air.temp_change_c > 0 else 'cooled'} from {air.temp_c[0]:.1f} to {air.temp_c[1]:.1f} °C"
    if air.course is None:
        return "by vapour or by temperature is not known"
    if air.course is Course.STEADY:
        return f"{warmth} and {air.course}"
    if air.rh_change_percent * air.rh_by_vapour <= 0:
        return f"{warmth}, although {air.course}"
    mostly = air.rh_by_vapour / air.rh_change_percent >= fig.LEAP_MOST
    return str(air.course) if mostly else f"{air.course} and {warmth}"


COUNT = ("none", "one", "two", "three", "four", "five", "six")


def _reached(
    own: Sequence[Raised], paintings: Sequence[str], there: int, extreme: Callable[[Iterable[Raised]], float]
) -> str:
    """How many paintings it reached, of those that stood there, and how far."""
    kind = own[0].kind
    states = [one for one in own if (one.finding.hazard, one.finding.mechanism) in STATES]
    canvas = [one for one in states if one.finding.hazard is Hazard.FLUCTUATION and kind not in WARMTH]
    states = canvas or states
    if not states:
        return f"raised for {several(len(paintings), 'painting')} (of {there} there)"
    found = [one.finding for one in states]
    values = [Bound(finding.value, finding.bound) if finding.bound else finding.value for finding in found]
    worst = (max if SIGN[kind] >= 0 else min)(values) if canvas else extreme(states)
    if np.isnan(worst):
        return f"raised for {several(len(paintings), 'painting')} (of {there} there)"
    count = len({one.painting.id for one in states})
    of = f"of {there} there" if count == len(paintings) else f"{len(paintings)} raised, of {there} there"
    counted = COUNT[count] if count < len(COUNT) else str(count)
    what = f"the canvas of {counted}" if canvas else f"the air at {counted}"
    return f"{what} reached {number(worst)} {'°C' if kind in WARMTH else '% RH'} ({of})"


def _extreme(studio: Studio, span: Period, some: Iterable[Raised]) -> float:
    """The highest or lowest hour of the air itself where the paintings stood, within their times; NaN: not read."""
    some = tuple(some)
    kind, spots = some[0].kind, {(one.stay.place_id, one.stay.position) for one in some}
    sign, quantity = SIGN[kind] or 1, {AirEvent.HEAT: "temp_max_c", AirEvent.COLD: "temp_c"}.get(kind, "rh_percent")
    air = {(place, at): history(studio, place, span, at) for place, at in spots}
    found = []
    for one in some:
        read = air[one.stay.place_id, one.stay.position]
        values = sign * getattr(_part(climate.hourly(read), one.start, one.end), quantity)
        if np.isfinite(values).any():
            name = "rh_percent" if quantity == "rh_percent" else "temp_c"
            found.append(read.beyond(sign * float(np.nanmax(values)), name, one.start, one.end, sign > 0))
    return max(found, key=lambda value: (sign * value, isinstance(value, Bound)), default=float("nan"))


def _moved(own: Sequence[Raised]) -> bool:
    return all(one.finding.ended_by is Ending.MOVE and _carried_out(one) for one in own)


def _carried_out(one: Raised) -> bool:
    """Whether the painting itself left where it stood, and not a logger."""
    here, stays = one.stay, one.painting.stays
    if here.end is None:
        return False
    after = next((stay for stay in stays if stay.start >= here.end), None)
    return after is None or (after.place_id, after.position) != (here.place_id, here.position)


def _ended(own: Sequence[Raised]) -> pd.Timestamp | None:
    """When the last of it ended, or all were carried out of it; None while any goes on."""
    ends = [one.finding.ended for one in own if one.finding.ended is not None]
    if len(ends) < len(own):
        return None
    return max([one.stay.end or one.end for one in own] if _moved(own) else ends)


def _over(own: Sequence[Raised], ended: pd.Timestamp | None, zone: str) -> str:
    if ended is None:
        return ""
    return f"{'all carried out of it by' if _moved(own) else 'ended'} {stamp(ended, zone)}"
