"""The sheet for a time away, on paper: for whoever looks after the rooms. No levels, no owners, no address."""

from __future__ import annotations

from envwatch.cases.away import EACH_VISIT, GOT_HOT, NOT_ALLOWED, POWER_CUT, Away, Room
from envwatch.present.paper import page as paper_page
from envwatch.present.paper.wording import date, ours, stamp

LAYOUT = r"""
= #content.title
#par(text(11pt, content.about))
#grid(columns: (22mm, 1fr), row-gutter: 3mm, column-gutter: 2mm,
  text(fill: soft)[looks after it], if content.who == "" { blank(100%) } else { content.who },
  text(fill: soft)[ring], if content.ring == "" { blank(100%) } else { content.ring })
== At each visit
#for line in content.visit { block(above: 2.6mm, grid(columns: (6mm, 1fr), tick, line)) }
#block(above: 5mm, stroke: 0.8pt + ink, inset: 3mm, width: 100%, for it in content.box { par(it) })
== The lines
#par(text(8.6pt, fill: soft, content.lines_note))
#table(columns: (1.1fr, 1.5fr, 1.3fr, 1fr), stroke: none, inset: (x: 1mm, y: 1.2mm),
  table.header(..("room", "ring outside", "last read", "loggers").map(h => text(8.4pt, fill: soft, h))),
  table.hline(stroke: 0.4pt + rule), ..content.rooms.flatten(), table.hline(stroke: 0.4pt + rule))
#if content.watched.len() > 0 [== Look more closely at]
#bullets(content.watched)
#if content.dated.len() > 0 [== Falls into this time]
#bullets(content.dated)
== Written down
#table(columns: (auto, 1fr, 1fr, 1fr, 1.6fr), stroke: 0.3pt + rule, inset: 3mm,
  ..("day, hour", "room", "°C", "% RH", "seen, emptied, rung").map(h => text(8.4pt, fill: soft, h)),
  ..range(5 * 12).map(n => []))
"""


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


def _lines(room: Room) -> str:
    limits = (*(room.rh_percent or ()), *(room.temp_c or ()))
    return room.lines + max(map(ours, limits), default="")
