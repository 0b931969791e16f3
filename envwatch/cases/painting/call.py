"""When the client rings: the painting, what was last known of it, what to ask, what to do until it is seen, a reply.

Triage follows the trade's practice and carries no source: lifted or wet work is seen the same day, ripples within a
week. The reply and the flood sheet carry no levels.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from difflib import get_close_matches

import pandas as pd

from envwatch.archive import Studio
from envwatch.archive.climates.exposure import record_begin
from envwatch.cases import leaving, waits
from envwatch.cases.judging import judged
from envwatch.core.errors import BadInput
from envwatch.core.findings import Verdict
from envwatch.core.painting import CALL, NO_WORK, CareStatus, Observation, Painting, Treatment
from envwatch.core.period import Period
from envwatch.core.text import date, first_sentence
from envwatch.figures import around_lining as fig
from envwatch.figures.handling import hot

TODAY, WEEK, NEXT = "the same day", "within a week", "at the next look"


@dataclass(frozen=True)
class Triage:
    """What to do about one sign. `words`: how a client may put it."""

    sign: str
    soon: str
    words: tuple[str, ...]
    ask: tuple[str, ...]
    until_seen: tuple[str, ...]


TOUCH = "Touch, press, wipe and spray nothing, knock in no wedges."
LEAVE = f"Leave it as it is. {TOUCH}"
FLAT = "If it is cool, and you can do it with two people and it is safe, lay it flat, face up, in a dry room."
PHOTO = "Send photographs, front and back, one with the light from the side, and something to show the size."
COMMON = ("Since when, and did it come at once or slowly?", "Any hot spell, new heating, leak, move, or a fall?")
DRIER = "Let the room come back slowly, over weeks and not days: no heater, no fan, no sun."
SIGNS = (
    Triage("lifting", TODAY, ("blister", "bubble", "lifted lining", "edge lifts", "delamination", "hollow"),
           ("Where: corner, edge, middle? How large?", "Is it on both sides?", *COMMON), (LEAVE, FLAT, PHOTO)),
    Triage("flaking", TODAY, ("flakes", "paint loose", "cupping", "crumbs"),
           ("Do pieces lie below it? Keep them in an envelope.", *COMMON), (LEAVE, FLAT, PHOTO)),
    Triage("soft or slipped", TODAY, ("soft", "sticky", "slipped", "sags", "tacky", "smell of wax", "hot"),
           ("Does the sun, a radiator, a stove or a lamp reach it?", "How warm is it there now?", *COMMON),
           (*hot(), TOUCH, PHOTO)),
    Triage("mould", TODAY, ("mold", "fur", "musty", "spots"),
           ("What colour, front or back? Does it smell?", "Is the wall behind it damp?", *COMMON),
           ("Do not brush it and blow no air at it; keep people with asthma or allergies away.",
            "Keep it apart from other paintings, in a room only a little drier, if it is cool and can be carried "
            "upright without touching it; it dries over weeks and not days.",
            PHOTO)),
    Triage("leak or flood", TODAY, ("wet", "water", "leak", "flood", "burst pipe", "fire water", "soaked"),
           ("Is the power off there, and is it safe to go in?", "Clean or dirty water? How long was it wet?",
            "Which side is wet, and does the lining still hold?"), ()),
    Triage("fall or knock", TODAY, ("fell", "fall", "dent", "tear", "hole", "knock"),
           ("Is the canvas torn, the frame broken, the glass?", *COMMON[:1]), (LEAVE, FLAT, PHOTO)),
    Triage("ripples or slackness", WEEK, ("ripple", "bulge", "slack", "wave", "belly", "wedge fell", "draws"),
           ("Where, and does it go and come with the weather?", *COMMON), (LEAVE, DRIER, PHOTO)),
    Triage("tight or cracked", WEEK, ("tight", "crack", "hard", "drum", "split"),
           ("Is the room heated, and how dry is it?", *COMMON), (LEAVE, DRIER, PHOTO)),
    Triage("bloom", WEEK, ("cloudy", "haze", "milky", "blue veil", "dull"),
           ("Is it on the surface everywhere or in patches?", *COMMON), (LEAVE, PHOTO)),
    Triage("something else", NEXT, ("other", "question"), (*COMMON, "What does it look like, in your words?"),
           (LEAVE, PHOTO)),
)  # fmt: skip
FLOOD = (
    "Stop. People first: no one goes in while water stands near live power, or where a ceiling hangs.",
    "Have the water and the power turned off; photograph everything before it is moved.",
    "Readings of the air are the wrong tool now: the painting is wet itself, and no logger tells how wet.",
    "Carry it out upright, or flat with four hands if it is heavy, soft or lets go; a board under it.",
    "Lay it flat, face up, on clean blotting paper or towels over plastic, out of the sun. Nothing on its face.",
    "Do not take it off its stretcher, do not press, iron, wipe, heat or blow at it, no hair dryer, no heater.",
    "A lining on paste or glue can let go in sheets within a day or two under water: hold nothing back by force.",
    "Open the room, air gently, not at the painting. Ring the conservator, then the insurer, and keep what falls off.",
    "Dirty water, or wet for more than a day: gloves and mask, and say so; mould begins within days.",
)
FOR_CLIENT = tuple(line.removeprefix("Stop. ") for line in FLOOD if not line.startswith("Readings of the air"))


@dataclass(frozen=True, eq=False)
class Call:
    """What is on the table while the client is on the line."""

    painting: Painting
    at: pd.Timestamp
    zone: str
    studio: str
    triage: Triage
    where: str
    assessment: Verdict | None  # None: nothing was read there lately
    last_visit: Observation | None
    last_treatment: Treatment | None
    advised: str
    flood: tuple[str, ...]
    reply: str
    adoption: str = ""  # what the studio says of envwatch's working limits


def triage_of(said: str) -> Triage:
    """The triage for a sign, by its name or a client's words.

    Raises
    ------
    BadInput : none fits; it names them.

    >>> triage_of("there is a bubble in it").sign, triage_of("mold").soon
    ('lifting', 'the same day')
    """
    told = said.casefold().strip()
    for one in SIGNS:
        if told == one.sign:
            return one
    fits = [one for one in SIGNS if any(_says(told, word) for word in (one.sign, *one.words))]
    if fits:
        return min(fits, key=lambda one: (one.sign != "leak or flood", SIGNS.index(one)))  # water goes before all
    near = get_close_matches(told, [word for one in SIGNS for word in (one.sign, *one.words)], 1)
    hint = f"did you mean {near[0]!r}? " if near else ""
    raise BadInput(f"{hint}There are {', '.join(one.sign for one in SIGNS)}", field="sign", seen=said)


def _says(told: str, word: str) -> bool:
    """Whether a word stands in what was said, with the ending of a plural or a verb; "hot" is not in "photograph"."""
    return re.search(rf"\b{re.escape(word)}\w{{0,3}}\b", told) is not None


def ringing(studio: Studio, painting: Painting, said: str, now: pd.Timestamp) -> Call:
    """What to say when a client rings about a painting.

    Raises
    ------
    BadInput : no triage fits what was said.
    """
    triage = triage_of(said)
    start = now - pd.Timedelta(days=float(fig.ASSESSED_OVER_D))
    ways = studio.exposures(painting, start, now)
    judged = _assessed(studio, painting, Period(start, now, "", studio.zone))
    stint = ways[-1].stints[-1] if ways[-1].stints else None
    done = [t for t in painting.treatments if t.on <= now and t.kind not in NO_WORK]
    told = next((t.limits_told for t in reversed(done) if t.limits_told), "")
    return Call(
        painting, now, studio.zone, studio.name, triage,
        f"{stint.place_name}, {stint.position}" if stint and stint.place_id else "whereabouts unknown", judged,
        max((o for o in painting.observations if o.on <= now), key=lambda o: o.on, default=None),
        done[-1] if done else None, told, FLOOD if triage.sign == "leak or flood" else (), reply(painting, triage),
        adoption=studio.adoption,
    )  # fmt: skip


def _assessed(studio: Studio, painting: Painting, span: Period) -> Verdict | None:
    """How it was over a span, with what came before it, until it left where it has; None where nothing was read."""
    left = leaving.departure(studio, painting, span, span.end)
    here, span = (left and leaving.until_left(painting, left, span)) or (painting, span)
    ways = studio.exposures(here, record_begin(studio, here, span.start), span.end)
    if not any(len(way.room.between(span.start, span.end).time) for way in ways):
        return None
    return waits.held_open(studio, judged(studio, painting, ways, span.start), ways)


def reply(painting: Painting, triage: Triage) -> str:
    """A letter to send: what to do until it is seen, when that will be, without levels or promises."""
    do = FOR_CLIENT if triage.sign == "leak or flood" else triage.until_seen
    when = {TODAY: "We will look at it today or tomorrow", WEEK: "We will look at it within a week",
            NEXT: "We will look at it on our next visit"}[triage.soon]  # fmt: skip
    steps = "\n".join(f"- {line}" for line in do)
    return (
        f"Thank you for ringing about “{painting.title}”. Until we have seen it:\n{steps}\n{when}. If it gets worse "
        "before that, ring again at once. This is advice on what you told us, not an assessment of the painting."
    )


def log(studio: Studio, call: Call, said: str, note: str = "") -> Treatment:
    """Keep that the client rang, what was said and what was advised. It counts as no look at the painting."""
    told = f"Client: {said}. Advised: {call.triage.sign}, to be seen {call.triage.soon}."
    day = str(call.at.tz_convert(call.zone).date())
    return studio.treat(call.painting.id, CALL, day, note=f"{told} {note}".strip(), adds_layer=False)


def last_known(call: Call) -> str:
    """The last days' assessment for the studio, in a sentence."""
    if call.assessment is None:
        return "Nothing was read where it is in the last 7 days: its air is not known."
    raised = call.assessment.raised
    end = call.assessment.end
    left = "" if end >= call.at else f", until it left on {date(end - pd.Timedelta(microseconds=1), call.zone)},"
    read = f"{call.assessment.coverage:.0%} of the last 7 days{left} was read"
    if not raised:
        return f"{call.assessment.level.word.capitalize()}; {read}."
    return f"{raised[0].level.word.capitalize()}: {first_sentence(raised[0].sentence)} ({read})"


def care_told(painting: Painting, zone: str) -> str:
    """Its care status and until when."""
    until = "" if painting.care_until is None else f" until {date(painting.care_until, zone)}"
    closed = "; its care is closed, so a visit is new work" if painting.care is CareStatus.CLOSED else ""
    return f"{painting.care.value}{until}{closed}"


__all__ = ["FLOOD", "SIGNS", "Call", "Triage", "care_told", "last_known", "log", "reply", "ringing", "triage_of"]
