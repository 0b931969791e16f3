"""Away: the sheet for who looks after the rooms while the practitioner is not there.

It says what to look at, room by room, what is due, who is rung for what. It carries no owner and no address; on
return one review of the whole time catches up.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import pandas as pd

from envwatch.archive import Studio
from envwatch.cases import aftercare, review
from envwatch.core.errors import BadInput
from envwatch.core.painting import CareStatus, Painting
from envwatch.core.period import from_to
from envwatch.core.place import Place
from envwatch.core.text import date, first_sentence, number, several
from envwatch.figures.handling import hot
from envwatch.figures.materials import comfort

STANDS_HERE = (CareStatus.IN_STUDIO, CareStatus.IN_STORE, CareStatus.CLOSED)  # the last only until it has left
NO_ROOMS = ("outdoors", "vehicle", "house")
EACH_VISIT = (
    "Stop at the door: water on the floor, a smell of burning, mould or solvent? Then touch nothing that is wet and "
    "live, keep out, and ring.",
    "Read each thermohygrometer and write it down with the hour; a figure outside the lines below: ring the same day.",
    "Dehumidifier, if there is one: running, no fault lamp; empty the tank, rinse it, put it back, see it start. The "
    "hose runs free. Plug and cable cool and dry, on no extension lead.",
    "Humidifier, if there is one: water changed, not topped up; off if its humidistat stands over the line below.",
    "Heating as it was left; windows shut; sun blinds down. Nothing put down on a radiator or in front of a picture.",
    "Look at each painting from an arm's length, with the lamp from the side: anything loose, lifted, wet, furry, "
    "new? A photograph, nothing touched, and ring.",
)
POWER_CUT = (
    "Power cut or frost: leave the rooms shut; write down from when to when. On its return see each machine and logger "
    "start again. Nothing is warmed or dried in a hurry."
)
GOT_HOT = f"A painting that got hot: {' '.join(hot())} Ring before anyone lifts it."
NOT_ALLOWED = (
    "Not asked of you: moving, wiping, pressing or turning a painting, keying out, opening a crate, spraying, ladders "
    "alone, work on electricity or gas. That waits, or a licensed trade is called."
)


@dataclass(frozen=True)
class RoomDuties:
    """One room to look after. `rh_percent`, `temp_c`: what all that is in it bears, lowest and highest. [% RH], [°C]"""

    name: str
    paintings: tuple[str, ...]
    rh_percent: tuple[float, float] | None  # None: nothing in it has limits on record
    temp_c: tuple[float, float] | None
    loggers: tuple[str, ...]
    last: str  # what was read of it last

    @property
    def lines(self) -> str:
        """The lines outside which one rings."""
        if self.rh_percent is None or self.temp_c is None:
            return "no limits on record"
        (dry, damp), (cold, warm) = self.rh_percent, self.temp_c
        if dry >= damp or cold >= warm:
            return (
                f"what is in it cannot all be kept: {number(dry, 0)} % is the driest for one, {number(damp, 0)} % the "
                "dampest for another; part them before you go"
            )
        return f"{number(dry, 0)} to {number(damp, 0)} % RH, {number(cold, 0)} to {number(warm, 0)} °C"


@dataclass(frozen=True)
class Watched:
    """A painting that is to be looked at more closely, and for what."""

    title: str
    painting_id: str
    where: str
    look_for: str


@dataclass(frozen=True)
class Dated:
    """Something that falls into the time away."""

    on: pd.Timestamp
    title: str
    what: str
    who: str  # "let it wait" where only the practitioner may do it


@dataclass(frozen=True, eq=False)
class Away:
    """The sheet. `start`, `end`: first day and end of the last, UTC."""

    studio: str
    zone: str
    made_at: pd.Timestamp
    start: pd.Timestamp
    end: pd.Timestamp
    who: str
    ring: tuple[str, ...]
    rooms: tuple[RoomDuties, ...]
    watched: tuple[Watched, ...]
    dated: tuple[Dated, ...]
    before: tuple[str, ...]  # to be seen to before leaving
    catch_up: str
    adoption: str = ""  # what the studio says of envwatch's working limits


def nameless(studio: Studio, sheet: Away) -> Away:
    """The sheet without owners' names and their houses'; who looks after the rooms and who is rung stay as given."""
    return replace(studio.names(houses=True).within(sheet), who=sheet.who, ring=sheet.ring)


def sheet_for(
    studio: Studio, now: pd.Timestamp, first: str, last: str, who: str = "", ring: tuple[str, ...] = ()
) -> Away:
    """The sheet for the days from `first` to `last`, both included, written as 2026-12-20.

    Raises
    ------
    BadInput : days that are none, or the last before the first, or already over.
    """
    span = from_to(first, last, studio.zone)
    if span.end <= now:
        what = f"is over; for a time past, envwatch review --from {first} --to {last}"
        raise BadInput(what, field="until", seen=last)
    made = review.make(studio, now)
    here = {line.id: line for line in made.judged if line.painting.care in STANDS_HERE and line.left is None}
    rooms = tuple(_rooms(studio, now, {id: line.painting for id, line in here.items()}))
    steps = tuple(_steps(studio, span.start, span.end, {id: line.painting for id, line in here.items()}))
    watched = tuple(
        Watched(line.title, line.id, line.where, line.headline.look_for)
        for line in made.trouble if line.id in here and line.headline is not None
    )  # fmt: skip
    return Away(
        studio.name, studio.zone, now, span.start, span.end, who, ring, rooms, watched, steps, tuple(_before(made)),
        f"envwatch add FOLDER, then envwatch review --from {first} --to {last}: one review of all that time",
        adoption=studio.adoption,
    )  # fmt: skip


def _rooms(studio: Studio, now: pd.Timestamp, paintings: dict[str, Painting]) -> Iterator[RoomDuties]:
    for place in studio.places().values():
        if place.kind in NO_ROOMS:
            continue
        inside = [p for p in paintings.values() if _stands(p, now) == place.id]
        hung = [
            logger.name for logger in studio.loggers().values()
            if any(h.place_id == place.id and h.end is None for h in logger.hangings)
        ]  # fmt: skip
        if not inside and not hung:
            continue
        bears = [comfort(p, studio.materials()) for p in inside]
        yield RoomDuties(
            place.name, tuple(f"{p.title} [{p.id}]" for p in inside),
            (max(rh[0] for rh, _ in bears), min(rh[1] for rh, _ in bears)) if bears else None,
            (max(c[0] for _, c in bears), min(c[1] for _, c in bears)) if bears else None, tuple(dict.fromkeys(hung)),
            _last_read(studio, place, now),
        )  # fmt: skip


def _stands(painting: Painting, now: pd.Timestamp) -> str:
    stays = [stay for stay in painting.stays if stay.start <= now and (stay.end is None or stay.end > now)]
    return stays[-1].place_id if stays else ""


def _last_read(studio: Studio, place: Place, now: pd.Timestamp) -> str:
    read = studio.climate(place.id, now - pd.Timedelta(days=14), now)
    if not len(read.time):
        return "nothing read in two weeks"
    last = read.time[-1]
    return f"{number(read.rh_percent[-1], 0)} % RH, {number(read.temp_c[-1], 0)} °C on {date(last, place.zone)}"


def _steps(studio: Studio, start: pd.Timestamp, end: pd.Timestamp, paintings: dict[str, Painting]) -> Iterator[Dated]:
    found = []
    for painting in paintings.values():
        for step in aftercare.due(painting, studio.zone, start, studio.materials()):
            if start <= step.on < end and not step.done:
                who = "look, from an arm's length" if step.what.startswith("look") else "let it wait"
                found.append(Dated(step.on, painting.title, step.what, who))
    yield from sorted(found, key=lambda one: (one.on, one.title))


def _before(made: review.Review) -> Iterator[str]:
    """What should not be left behind as it stands."""
    for line in made.needing:
        if line.headline is not None:
            rung = f" {line.headline.do}" if line.left is not None else ""
            yield f"{line.title}: {line.headline.level.word}. {first_sentence(line.headline.sentence)}{rung}"
    for logger in made.loggers:
        yield f"{logger.name}: {logger.sentence}"
    waiting = len(made.tray)
    if waiting:
        yield f"the tray: {several(waiting, 'file')} with a question"
    if made.not_seen:
        yield f"not known in the last review: {', '.join(line.title for line in made.not_seen)}"


__all__ = ["EACH_VISIT", "GOT_HOT", "NOT_ALLOWED", "POWER_CUT", "Away", "Dated", "RoomDuties", "Watched", "sheet_for"]
