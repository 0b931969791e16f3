"""What is said about a lining: one plain sentence with its numbers, where to look, what to do and what not to do."""

from __future__ import annotations

import numpy as np
import pandas as pd

from envwatch import climate
from envwatch.climate.drying_back import BACK_A_WEEK, RULE
from envwatch.climate.exposure import ROOM, WHERE, Stint, where
from envwatch.core.findings import Level, Mechanism
from envwatch.core.painting import Area
from envwatch.core.place import Placement
from envwatch.core.quantities import STUDIO
from envwatch.core.text import day
from envwatch.figures import Confidence, handling
from envwatch.figures import lining as fig
from envwatch.figures.materials.first_weeks import OVERLYING
from envwatch.hazards.hourly import HOUR
from envwatch.hazards.lining.layer_tests import COLD, DAMP, DRY, HEAT, SWING, LayerTest, Length
from envwatch.hazards.lining.layers import LOCAL_ROLES, span_end

HELD_IN_WAX = "size and canvas held in the wax of the "  # who suffers from damp there; the layer's own name stays
NOUN = {HEAT: "Heat", DAMP: "Damp", DRY: "Dryness", COLD: "Cold", SWING: "The daily swing"}
_HOT = " ".join(handling.hot())
DO = {
    (HEAT, Level.WATCH): (
        "Find what heats it (sun, radiator, lamp, chimney); look at edges and turnovers in raking light, as it hangs."
    ),
    (HEAT, Level.ACT): f"{_HOT} Look at it before it goes back, and not to where it got hot.",
    (HEAT, Level.URGENT): f"{_HOT} All of it today; touch nothing that has slipped.",
    (DAMP, Level.WATCH): f"Bring the air down, {RULE}; look at the back in torch light.",
    (DAMP, Level.ACT): f"Dry the room, or move it to air only a step drier, {RULE}; look at front and back.",
    (DAMP, Level.URGENT): (
        "Move it out of the damp today to air only a step drier, flat and face up where paint is loose; from there "
        f"{RULE}."
    ),
    (DRY, Level.WATCH): f"Bring the air up, {BACK_A_WEEK}; look at corners and turnovers.",
    (DRY, Level.ACT): f"Turn the heating down or damp the air, {BACK_A_WEEK}; look at the corners.",
    (COLD, Level.WATCH): "Handle it as little as can be until it is warmer.",
    (COLD, Level.ACT): (
        "Leave it where it is: do not move, unframe, key out, roll or strike it. Then warm it slowly, closed up."
    ),
    (SWING, Level.WATCH): (
        "Find what drives the swing (heating hours, a window, an outer wall) and even it out; a backing board helps."
    ),
    (SWING, Level.ACT): (
        "Move it, never while it is warm, to a steadier place, or fit a backing board and glazing; look at the corners "
        "and the tension."
    ),
}
HIDDEN_AT = {
    HEAT: ((Placement.WINDOW, Placement.RADIATOR, Placement.FIREPLACE), "hotter"),
    DRY: ((Placement.WINDOW, Placement.RADIATOR, Placement.FIREPLACE), "drier"),
    DAMP: ((Placement.OUTER_WALL, Placement.FLOOR), "damper"),
    COLD: ((Placement.OUTER_WALL, Placement.WINDOW, Placement.FLOOR), "colder"),
}
AVOID = {
    HEAT: "Do not key out, do not lift or press the edge, no cold air on it, nothing leaning on it.",
    DAMP: "Do not key out, do not lift blisters or loose edges, no warm or cold air on it, do not wrap it damp.",
    DRY: "Do not key out, no wet cloth or spray near it, do not press cupped paint.",
    COLD: "Do not key out, roll, unframe or strike it; do not open the wrapping until it is as warm as the room.",
    SWING: "Do not key out to chase slack; do not seal it up while it is damp.",
}


_ALWAYS = ("added by the studio", "first weeks, days", "first weeks, after move")
OWN = {  # how what a studio has overruled begins where it bears on a mechanism; `why` tells all of it
    HEAT: ("heat", "softening", "signs, heat", "first weeks, cooler", *_ALWAYS),
    DAMP: ("damp", "water softening", "signs, damp", "first weeks, damp", *_ALWAYS),
    DRY: ("dry", "stiff", "signs, dry", "added by the studio"),
    COLD: ("cold", "signs, cold", "added by the studio"),
    SWING: ("swing", "signs, swing", "first weeks, swing", *_ALWAYS),
}


def stamp(reading: LayerTest, at: pd.Timestamp) -> str:
    """A time by the clock of the place: "Sat 31 Oct 14:00", with its year where that is not the year of the end."""
    zone = reading.air.exposure.zone_at(at)
    local, end = at.tz_convert(zone), reading.air.exposure.end.tz_convert(zone)
    return f"{day(local)}{'' if local.year == end.year else f' {local.year}'} {local:%H:%M}"


def sentence(reading: LayerTest, others: list[LayerTest], meant: LayerTest | None) -> str:
    """The whole sentence of a finding that was decided."""
    parts = [_clear(reading) if reading.level == Level.CLEAR else _raised(reading)]
    if reading.trimmed:
        parts.append("One level worse, because the tacking margins are trimmed.")
    if reading.held_by_cold is not None:
        parts.append(
            f"Held at watch by the cold of that day, under {fig.COLD_CAP_TEMP_C:g} °C in the mean (our judgement); "
            f"warmer it would be {reading.held_by_cold.word}."
        )
    parts += _stricter(reading)
    named = {r.link.name: r.level.word for r in reversed(others) if r.link.name != reading.link.name}
    if named:  # worst last in `reversed`, so each layer keeps its worst word
        parts.append(f"Also past its limit: {', '.join(f'{name} ({word})' for name, word in reversed(named.items()))}.")
    if meant is not None:
        parts.append(intended(meant))
    own = [said for said in reading.link.profile.overruled if said.startswith(OWN[reading.mechanism])]
    if own:
        parts.append(f"The studio's own figures: {'; '.join(own)}.")
    return " ".join(parts)


def _stricter(r: LayerTest) -> list[str]:
    """Which stricter limits held at the worst hour, and until when; that a layer is not there yet."""
    until, said = span_end(r.link.fresh, r.at), []
    if until is not None and not r.link.as_treated:
        holds = "hold" if until > r.air.exposure.end else "held"
        said.append(f"The stricter limits of its first weeks {holds} to {_day(r, until)}.")
    if r.link.as_treated:
        how = "been there before" if r.link.born is None else "been put on at its start, its first weeks counted"
        said.append(f"It is later than this period, and judged as if it had {how}.")
    return said


def _raised(r: LayerTest) -> str:
    """A layer that passed a limit; with trimmed margins that of the step below its level."""
    waxed = r.mechanism == DAMP and r.link.profile.family == "wax" and r.link.layer.role in OVERLYING
    where_on = {"local": ", only where it was put,", "edge": ", along the edges,"}.get(r.link.layer.area, "")
    if r.link.layer.role in LOCAL_ROLES:
        where_on = f", at the {r.link.layer.role} only,"
    from_ = _from(r, Level(int(r.level) - 1) if r.trimmed else r.level)
    name = f"{HELD_IN_WAX if waxed else ''}{r.link.name}{where_on}"
    return f"The {name} {_what(r)}{_distance(r)}; {from_} {_shown(r.limit)} {r.unit} ({basis(r)})."


def _shown(limit: float) -> str:
    """A limit as it is printed; those that follow from the softening line of glue are no sharper than a tenth."""
    return f"{round(limit, 1):g}"


def _clear(r: LayerTest) -> str:
    longer = (
        ", and the means of a day and, where known, of 30 days within theirs"
        if r.mechanism == HEAT and r.test == Length.HOUR
        else ""
    )
    return (
        f"{NOUN[r.mechanism]}: nothing against it. Nearest was the {r.link.name}, which {_what(r)}{_distance(r)}; "
        f"{_from(r, Level.WATCH)} {_shown(r.limit)} {r.unit}{longer} ({basis(r)})."
    )


def _what(r: LayerTest) -> str:
    """What the layer went through, with its number, place and time."""
    at, to, there = stamp(r, r.at), stamp(r, r.at + HOUR), where(r.air.point, _own_stint(r))
    if r.mechanism in (HEAT, COLD) and r.test == Length.HOUR:
        hours, end = climate.hourly(r.air.there), "hottest" if r.mechanism == HEAT else "coldest"
        top = hours.temp_max_c[int(hours.time.searchsorted(r.at))]
        single = f" (hottest single reading {top:.1f} °C)" if r.mechanism == HEAT and top > r.value + 0.05 else ""
        return f"stood at {r.value:.1f} °C for its {end} hour, {at}, {there}{single}"
    if r.mechanism == HEAT:
        span = "the 24 hours" if r.test == Length.DAY else "the 30 days"
        judged_c = r.air.judged_temp_c
        hottest = f", {judged_c.max():.1f} °C in the hottest hour" if len(judged_c) else ""
        return f"averaged {r.value:.1f} °C over {span} to {to}, {there}{hottest}"
    if r.mechanism == SWING:
        return f"swung by {r.value:.1f} % RH within the 24 hours to {to}, {there}"
    return f"averaged {r.value:.1f} % RH over the 24 hours to {to}, {there}"


def _distance(r: LayerTest) -> str:
    """Distance of the hottest hour to the onset of softening: never to the heat at which the bond is made."""
    if r.mechanism != HEAT:
        return ""
    onset = r.link.profile.softening_c
    if onset is None:
        return ", where heat only dries it"
    judged_c = r.air.judged_temp_c
    top = r.value if r.test == Length.HOUR or not len(judged_c) else float(judged_c.max())
    side = "below" if top < onset else "over"
    return f", {abs(onset - top):.1f} °C {side} the onset of softening at {onset:g} °C"


def _from(r: LayerTest, level: Level) -> str:
    """A level and on which side of its limit it lies: "watch from"."""
    return f"{level.word} {'from' if r.sign > 0 else 'under'}"


def basis(r: LayerTest) -> str:
    """What the limit rests on, in the words that stand at the first line."""
    figure = r.figure
    if figure is None:
        return f"limit: {Confidence.OUR_JUDGEMENT.value}"
    return "limit: the studio's own" if figure.source == STUDIO else f"limit: {figure.confidence.value}"


def intended(r: LayerTest) -> str:
    purpose = next(
        (s.purpose for s in r.air.exposure.stints if s.intended and s.start <= r.at < s.end and s.purpose), ""
    )
    return (
        f"In the intended stay{f' ({purpose})' if purpose else ''} the {r.link.name} came to {r.value:.1f} {r.unit} "
        f"({r.level.word}): counted, not raised."
    )


def hidden(r: LayerTest) -> str:
    """What the room air may hide at the positions the painting had in the period; "" where nothing is known to hide."""
    if r.air.point != ROOM or r.mechanism not in HIDDEN_AT:
        return ""
    places, worse = HIDDEN_AT[r.mechanism]
    begun = r.air.time[int(np.argmax(r.air.in_period))]
    late = (s for s in r.air.exposure.stints if s.end > begun and s.start < r.air.exposure.end and not s.own_logger)
    stood = dict.fromkeys(s.position for s in late if s.position in places)
    if not stood:
        return ""
    return f" It stood at the {' and the '.join(stood)}: unless the logger hung there too, the picture was {worse}."


def unknown(mechanism: Mechanism, read: float, needed: float) -> str:
    """Why a mechanism could not be called clear."""
    return (
        f"{NOUN[mechanism]}: not known for the lining layers. {100 * read:.0f} % of the period was read, "
        f"{100 * needed:.0f} % is needed; what was read stayed within its limits."
    )


def look_for(r: LayerTest) -> str:
    """Signs of this material under this mechanism, and where; of a local layer with what its record says of it."""
    signs, layer, weeks = r.link.profile.sign(r.mechanism), r.link.layer, r.link.profile.first_weeks
    if not signs:
        return ""
    note, moved = layer.note.strip().rstrip("."), span_end(r.link.moved_in, r.at)
    said = f" ({note})" if note and layer.area != Area.WHOLE and not layer.note.startswith("by treatment") else ""
    place = "In raking light and at the back"
    if layer.role in LOCAL_ROLES or layer.area == Area.LOCAL:
        place = f"At the {layer.role}{said}"
    elif layer.area == Area.EDGE:
        place = f"Along the edges, front and back{said}"
    first = "" if span_end(r.link.fresh, r.at) is None else f"; first weeks: {weeks.watched}"
    after = "" if moved is None else f"; as it was moved, to {_day(r, moved)} too: {weeks.watched}, which may recede"
    return f"{place}: {signs}{first}{after}."


def _day(r: LayerTest, until: pd.Timestamp) -> str:
    return day(until.tz_convert(r.air.exposure.zone_at(until)))


def clears(r: LayerTest) -> str:
    """What would clear it."""
    watch = _shown(r.steps[0])
    side = "under" if r.sign > 0 else "at or over"
    if r.test == Length.MONTH:  # its own limit is lower than those of an hour and a day, which may be kept all along
        return f"30-day mean under {watch} °C, and none of the signs found."
    length = "hour" if r.test == Length.HOUR else "24 hours"
    what = {
        HEAT: f"no hour and no 24-hour mean at its limits ({length} {watch} °C)",
        DAMP: f"every 24-hour mean {side} {watch} % RH", DRY: f"every 24-hour mean {side} {watch} % RH",
        COLD: f"every hour {side} {watch} °C", SWING: f"daily swing {side} {watch} % RH",
    }[r.mechanism]  # fmt: skip
    return f"A full week with {what}, and none of the signs found."


def where_judged(r: LayerTest) -> str:
    """At what point the air was taken, and what that may hide."""
    if r.air.point != ROOM:
        return WHERE[r.air.point]
    stint = _own_stint(r)
    if stint is not None and stint.position != Placement.UNKNOWN:
        return (
            f"{where(r.air.point, stint)}, read by a logger at the painting's own position ({stint.position}); what "
            "meets the picture and not that logger would not show"
        )
    return f"{WHERE[ROOM]}; sun, a radiator or a cold wall at the picture itself would not show"


def _own_stint(r: LayerTest) -> Stint | None:
    """Where it stood at the worst hour, if a logger at that very position read it."""
    stint = r.air.exposure.stint_at(r.at) if r.row >= 0 else None
    return stint if stint is not None and stint.own_logger and not r.sensor.stands_in else None
