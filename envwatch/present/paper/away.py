"""The sheet for a time away, on paper: for whoever looks after the rooms. No levels, no owners, no address."""

from __future__ import annotations

from envwatch.cases.away import EACH_VISIT, GOT_HOT, NOT_ALLOWED, POWER_CUT, Away, RoomDuties
from envwatch.present.paper import page as paper_page
from envwatch.present.paper.wording import date, ours, stamp

LAYOUT = paper_page.layout("away")


def page(result: Away, paper: str = "a4") -> bytes:
    """The sheet as a PDF. Raises BadInput for another paper."""
    return paper_page.printed(content(result), LAYOUT, paper, result.made_at)


def content(result: Away) -> dict:
    """All that stands on the sheet."""
    zone = result.zone
    last = date(result.end - (result.end - result.start) / 1000, zone)
    return {
        "title": "While we are away", "about": f"{result.studio}: {date(result.start, zone)} to {last}",
        "who": result.who, "ring": "; ".join(result.ring), "visit": list(EACH_VISIT),
        "lines_note": "The narrowest lines of all that stands in the room: a figure outside them is rung about the "
                      "same day, it is no alarm for you to act on.",
        "rooms": [[room.name, _lines(room), room.last, ", ".join(room.loggers)] for room in result.rooms],
        "watched": [f"{one.title}, {one.where}: {one.look_for}" for one in result.watched],
        "dated": [f"{date(step.on, zone)}: {step.title}: {step.what} ({step.who})" for step in result.dated],
        "box": [GOT_HOT, POWER_CUT, NOT_ALLOWED],
        "adoption": result.adoption,
        "foot": f"{result.studio}, while we are away. Printed {stamp(result.made_at, zone)}. Local codes and licensed "
                "trades come first.",
    }  # fmt: skip


def _lines(room: RoomDuties) -> str:
    limits = (*(room.rh_percent or ()), *(room.temp_c or ()))
    return room.lines + max(map(ours, limits), default="")
