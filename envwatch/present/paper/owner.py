"""The owner's page: where the painting may hang and how, on one page, in plain words and without levels."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import replace

import pandas as pd

from envwatch.cases.hanging.fixing import fixing
from envwatch.cases.hanging.judging import GOOD, GOOD_IF, MEASURE, NEVER
from envwatch.cases.hanging.model import HangingReport, PositionResult
from envwatch.cases.hanging.ranking import chosen
from envwatch.cases.hanging.remedies import KEPT, Cure
from envwatch.core.findings import Hazard, Level
from envwatch.figures.handling import hot
from envwatch.present.paper import page as paper_page
from envwatch.present.paper.drawings import hung_picture
from envwatch.present.paper.language import Language, language
from envwatch.present.paper.limit_marks import MARK, legend
from envwatch.present.paper.wording import ours, outside

Say = Callable[[str], str]

REASONS = {
    "heat": "it gets too warm there for what holds the lining",
    "damp": "it gets too damp there",
    "mould": "mould could grow there",
    "water on the painting": "water could form on it",
    "water on the wall behind": "water could form on the wall behind it",
    "dry": "the air gets too dry there",
    "swing": "the air changes too fast there",
    "cold": "it gets too cold there",
    "dose": "it is too light there",
    "direct sun": "the sun falls there",
    "fire or stove in use": "a fire or stove is used there",
    "flue behind": "a warm flue runs in the wall",
    "radiator close below": "a radiator stands close below it",
    "warm or cold air blows on it": "air blows on it there",
    "cooking room": "food is cooked there",
    "bathing room": "people bathe there",
    "damp wall": "the wall is damp",
    "fresh plaster": "the plaster or paint is fresh",
    "unsafe fixing": "the wall does not hold it",
}
CURES = {
    "stand-off": "Keep it {value} mm off the wall with pads, open at the top and at the bottom.",
    "wall and room": "Keep it 25 mm off the wall with pads, and the room at or under {value} % humidity.",
    "board": "Let us put a board on its back first.",
    "no board": "Let us take the board off its back first.",
    "room at most": "Keep the room at or under {value} % humidity, if need be with a dehumidifier.",
    "room at least": "Keep the room at or over {value} % humidity when it is heated.",
    "radiator": "Hang it at least {value} m to the side of the radiator, never over it.",
    "light": "Use a blind or curtain that lets through no more than {value} of 100 parts of the light.",
    "winter heating": "Heat to at least {value} °C while nobody lives there, or let us keep it for that time.",
}
FIND_OUT = {
    "sun": "Look at this place on a clear day in December or January and in June: does the sun ever touch it?",
    "u_value": "Let us read the temperature of the bare wall on a cold morning before you hang it.",
    "excess_g": "Let us hang a small logger in the room for one cold month before you decide.",
    "dose_times": "Let us measure the light there, on a bright and on a dull day.",
    "fire": "Tell us whether there is a fireplace or stove below it, and whether it is used.",
    "radiator": "Tell us whether there is a radiator or a heating pipe below it.",
    "vent": "Tell us whether a vent, fan or air conditioner blows there.",
    "damp": "Tell us whether this wall has stains, salts, mould or a smell.",
    "fresh_plaster": "Tell us whether anything was plastered or painted there within a year.",
    "wall": "Tell us whether this is an inner or an outer wall.",
    "use": "Tell us what the room is used for.",
    "heating": "Tell us how the house is heated in winter.",
    "empty_months": "Tell us in which months nobody lives there.",
    "corner": "Tell us whether it is within half a metre of an outer corner.",
    "plume": "Let us hang a small logger there for a week of heating.",
}
ASK_US = "Ask us before you hang it there."
NEVERS = (
    "Never where the sun reaches it, even for minutes; over a fireplace, stove or radiator; in a kitchen or bathroom; "
    "in the draught of a vent; flat on a cold outside wall; on fresh plaster."
)
HOW = (
    "Two hooks in the wall and two fixings on the frame, never on the inner wooden stretcher.",
    "Pads of {pads} mm at the lower corners, so that air can pass behind.",
    "Each hook is rated for {each} kg or more. The picture weighs {weight} kg.",
    "Each hook is rated for four times the weight of the picture; weigh it first.",
    "Two people lift it. Carry it upright by both sides; do not press on the back.",
    "One person can lift it. Carry it upright by both sides; do not press on the back.",
    "Have an installer hang it: it is heavy.",
)
LOOK = (
    "Look at it by torchlight from the side, front and back, after one week ({week}), after four weeks ({month}), then "
    "every month until {half}, then each season, and after the first frost and the first heat.",
    "Look for ripples or bulges, blisters, an edge that lifts, new cracks, a cloudy varnish, spots or a smell, a damp "
    "wall behind, loose hooks.",
)
CALL = (
    "Ring us within a day: paint that flakes, a blister, a lining that lifts, water, mould, a fall, soft after sun.",
    "Ring us within a week: ripples that stay for two weeks, a cloudy veil, a small wooden wedge that fell out.",
    "Until then: lay it flat, face up, if paint flakes and it is cool; keep it from heat; do not touch, wipe or spray "
    "it.",
)
GOT_HOT = "If it got hot"
WATCH = "Humidity between {low} and {high} %, temperature between {cold} and {warm} °C. Look once a week."
FINE = "Advice on the day, not a guarantee. The insurer's terms and licensed trades come first."

LAYOUT = paper_page.layout("owner")
LARGEST, SMALLEST = 11.0, 7.5  # points; as large as the page holds


def page(advice: HangingReport, paper: str = "a4", code: str = "en") -> bytes:
    """The owner's page as a PDF of one page. No owner, no address, no level is on it.

    Parameters
    ----------
    paper : "a4" or "letter".
    code : language: en, pt, es, fr, it, de.

    Raises
    ------
    BadInput : another paper or language.
    """
    told = content(advice, language(code))
    sizes = [LARGEST - step / 2 for step in range(int(2 * (LARGEST - SMALLEST)) + 1)]
    for size in sizes[:-1]:
        pdf = paper_page.printed(told | {"size": size}, LAYOUT, paper, advice.made_at)
        if _pages(pdf) == 1:
            return pdf
    return paper_page.printed(told | {"size": sizes[-1]}, LAYOUT, paper, advice.made_at)


def _pages(pdf: bytes) -> int:
    """How many pages a PDF has, by its page objects."""
    return len(re.findall(rb"/Type\s*/Page[^s]", pdf))


def content(advice: HangingReport, lang: Language) -> dict:
    """All that stands on the page, in the owner's language."""
    say, advice = lang.say, _within_what_it_bears(advice)
    best = advice.positions[0]
    pads = next((int(cure.value) for cure in best.cures if cure.kind == "stand-off"), 0)
    fixed = fixing(advice.weight_kg, advice.width_cm, advice.height_cm, pads)
    unchecked = say("This translation has not yet been checked by a reader of the language.")
    return {
        "title": say("Where your painting may hang"),
        "lang": lang.code, "unchecked": "" if lang.checked else unchecked,
        "about": _about(advice, lang),
        "answer": _answer(best, say), "answer_more": _more(best, say),
        "svg": hung_picture(True, best.spot.board not in (None, "none")),
        "alt": say("The picture from the front with two hooks and two pads, and cut through with air behind it"),
        "drawn": [say("two hooks"), say("pads"), say("air behind it"), say("the room")],
        "parts": [
            {"head": say("The other places, best first"), "rows": [_other(spot, say) for spot in _others(advice)]},
            {"head": say("Never"), "rows": _nevers(advice, say)},
            {"head": say("How to hang it"), "rows": [_row(text) for text in _how(fixed, say)]},
            {"head": say("What to read off in the room"), "rows": [_row(_watch(advice, best, say))]},
            {"head": say("The first year"), "rows": [_row(text) for text in _year(advice, lang)]},
            {"head": say("When to ring"), "rows": _ring(say)},
            {"head": say("What we do not know, and took at its worst"), "rows": _assumed(advice, say)},
        ],
        "fine": say(FINE), "call_us": f"{advice.studio}, ____________________",
        "legend": legend(advice.adoption, say),
        "foot": f"{advice.studio}, {lang.day(advice.made_at.tz_convert(advice.zone).date())}. "
                + say("An assessment, not a warranty."),
    }  # fmt: skip


def _within_what_it_bears(advice: HangingReport) -> HangingReport:
    """The same, with no humidity solved for that lies outside the range told beside it."""
    low, high = advice.keep_rh

    def kinder(cure: Cure) -> Cure:
        if cure.kind in ("room at most", "wall and room"):
            return replace(cure, value=min(cure.value, high))
        return replace(cure, value=max(cure.value, low)) if cure.kind == "room at least" else cure

    spots = tuple(replace(spot, cures=tuple(map(kinder, spot.cures))) for spot in advice.positions)
    return replace(advice, positions=spots)


def _row(text: str, name: str = "") -> dict:
    return {"name": name, "text": text}


def _about(advice: HangingReport, lang: Language) -> list[str]:
    size = f", {advice.height_cm:g} × {advice.width_cm:g} cm" if advice.height_cm and advice.width_cm else ""
    hang = lang.day(advice.hang_on.tz_convert(advice.zone).date())
    rows = [f"{advice.title}{size}", lang.say("To hang from {day} on.").format(day=hang)]
    if advice.lined_on is not None:
        day = advice.lined_on.tz_convert(advice.zone).date() if advice.lined_on.tz else advice.lined_on.date()
        if advice.lined_year_only:
            rows.append(lang.say("It was lined in {year}: a second canvas holds it from behind.").format(year=day.year))
        else:
            rows.append(
                lang.say("It was lined on {day}: a second canvas holds it from behind.").format(day=lang.day(day))
            )
    return rows


def _answer(best: PositionResult, say: Say) -> str:
    if best.kind == GOOD:
        return say("The best place: {name}.").format(name=best.name)
    if best.kind == GOOD_IF:
        return say("The best place, if you do what stands here: {name}.").format(name=best.name)
    if best.kind == MEASURE:
        return say("Perhaps here, once we have measured: {name}. Please wait until then.").format(name=best.name)
    return say("None of these places, as they are. Until there is a better one, let us keep it for you.")


def _more(best: PositionResult, say: Say) -> list[str]:
    """What to do for it, or why it was chosen."""
    rows = [_cure(cure, say) for cure in chosen(best.cures)]
    if best.kind == MEASURE:
        rows = [_find_out(best, say), *rows]
    if best.kind == GOOD_IF and not rows:
        rows = [say("Look at it as told below, above all in the first winter.")]
    if best.kind in (GOOD, GOOD_IF):
        rows.append(say("It is the calmest of the places we looked at."))
    return [row for row in rows if row]


def _cure(cure: Cure, say: Say) -> str:
    return say(CURES[cure.kind]).format(value=f"{cure.value:g}{_mark(cure.limit) if cure.kind in KEPT else ''}")


def _find_out(spot: PositionResult, say: Say) -> str:
    return say(FIND_OUT.get(spot.decider.field, ASK_US)) if spot.decider is not None else say(ASK_US)


def _others(advice: HangingReport) -> list[PositionResult]:
    return [spot for spot in advice.positions[1:] if spot.kind != NEVER]


def _other(spot: PositionResult, say: Say) -> dict:
    why = _reasons(spot, Level.WATCH, say) or say("less is known of it")
    if spot.kind == MEASURE:
        text = say("not yet: {why}, or not. {ask}").format(why=why, ask=_find_out(spot, say))
    elif spot.kind == GOOD:
        text = say("good as well.")
    else:
        todo = " ".join(_cure(cure, say) for cure in chosen(spot.cures))
        text = say("possible, though {why}. {todo}").format(why=why, todo=todo)
    if spot.apart is False:
        text += " " + say("What we know does not tell it apart from the next.")
    return _row(text.strip(), spot.name)


def _reasons(spot: PositionResult, least: Level, say: Say) -> str:
    """Why a place is less good, in the owner's words, worst first, at most three."""
    over = [i for i in spot.found if (i.low if spot.kind == NEVER else i.high) >= least]
    found = [
        i.worst.mechanism if i.worst.hazard != Hazard.MOULD else "mould" for i in over if outside(i.worst) >= least
    ]
    words = []
    for mechanism in found:
        key = mechanism if mechanism in REASONS else next((k for k in REASONS if k in mechanism), None)
        if key and REASONS[key] not in words:
            words.append(REASONS[key])
    return ", ".join(say(word) for word in words[:3])


def _nevers(advice: HangingReport, say: Say) -> list[dict]:
    named = [_row(_reasons(spot, Level.ACT, say) + ".", spot.name) for spot in advice.of(NEVER)]
    return [*named, _row(say(NEVERS))]


def _how(fixed, say: Say) -> list[str]:
    two, pads, rated, weigh, both, one, installer = HOW
    if fixed.each_kg is None:
        load = say(weigh)
    else:
        load = say(rated).format(each=f"{math.ceil(fixed.each_kg)}", weight=f"{fixed.weight_kg:g}")
    who = installer if fixed.installer else both if fixed.people == 2 else one
    return [say(two), say(pads).format(pads=fixed.pads_mm), load, say(who)]


def _watch(advice: HangingReport, best: PositionResult, say: Say) -> str:
    low, high = advice.keep_rh
    for cure in chosen(best.cures):
        if cure.kind in ("room at most", "wall and room"):
            high = min(high, cure.limit)
        if cure.kind == "room at least":
            low = max(low, cure.limit)
    cold, warm = advice.keep_c
    ends = {"low": low, "high": high, "cold": cold, "warm": warm}
    return say(WATCH).format(**{end: f"{limit:.0f}{_mark(limit)}" for end, limit in ends.items()})


def _mark(limit: float) -> str:
    return MARK if ours(limit) else ""


def _ring(say: Say) -> list[dict]:
    return [*(_row(say(text)) for text in CALL), _row(" ".join(hot(say)), say(GOT_HOT))]


def _year(advice: HangingReport, lang: Language) -> list[str]:
    hang = advice.hang_on.tz_convert(advice.zone)
    days = {
        "week": hang + pd.Timedelta(days=7),
        "month": hang + pd.Timedelta(days=28),
        "half": hang + pd.DateOffset(months=6),
    }
    told = {name: lang.day(day.date()) for name, day in days.items()}
    return [lang.say(LOOK[0]).format(**told), lang.say(LOOK[1])]


def _assumed(advice: HangingReport, say: Say) -> list[dict]:
    shown = [spot for spot in advice.positions if spot.kind != NEVER][:3]
    rows = [_row(", ".join(say(told) for told in spot.assumed), spot.name) for spot in shown if spot.assumed]
    return rows or [_row(say("Nothing: every question was answered or measured."))]
