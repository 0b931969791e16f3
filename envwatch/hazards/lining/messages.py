"""What is said about a lining: one plain sentence with its numbers, where to look, what to do and what not to do.

Below that its working, for `why`: each line a figure or an equation with its numbers put in.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from envwatch import climate
from envwatch.climate.drying_back import BACK_A_WEEK, RULE
from envwatch.climate.exposure import ROOM, WHERE, Stint, where
from envwatch.core.arrays import Array
from envwatch.core.findings import Level
from envwatch.core.painting import Area
from envwatch.core.place import Placement
from envwatch.core.quantities import STUDIO
from envwatch.core.text import day
from envwatch.figures import Confidence, handling
from envwatch.figures import lining as fig
from envwatch.figures.materials.profile import LININGS, OVERLYING
from envwatch.hazards.grading import (
    Lines,
    cited,
    day_means,
    hour_of_readings,
    lag_step,
    mean_of_hours,
    range_of_hours,
    read_by,
    what_would_change,
)
from envwatch.hazards.hourly import HOUR
from envwatch.hazards.lining.layer_tests import (
    COLD,
    DAMP,
    DAY_H,
    DRY,
    HEAT,
    MONTH_H,
    OF_WARMTH,
    SWING,
    LayerTest,
    Length,
)
from envwatch.hazards.lining.layers import (
    LOCAL_ROLES,
    damp_dwell,
    equivalent_hours,
    glue_softening_rh,
    glue_tg,
    glue_water,
    span_end,
)

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


def sentence(r: LayerTest, others: list[LayerTest], meant: LayerTest | None) -> str:
    """The whole sentence of a finding that was decided."""
    name, level = r.link.name, Level.WATCH
    if r.level >= Level.WATCH:  # with trimmed margins the limit is that of the step below
        level = Level(int(r.level) - 1) if r.trimmed else r.level
        waxed = r.mechanism == DAMP and r.link.profile.family == "wax" and r.link.layer.role in OVERLYING
        on = {"local": ", only where it was put,", "edge": ", along the edges,"}.get(r.link.layer.area, "")
        on = f", at the {r.link.layer.role} only," if r.link.layer.role in LOCAL_ROLES else on
        name = f"The {HELD_IN_WAX if waxed else ''}{name}{on}"
    else:
        name = f"{NOUN[r.mechanism]}: nothing against it. Nearest was the {name}, which"
    all_lengths = r.level < Level.WATCH and r.mechanism == HEAT and r.test == Length.HOUR
    longer = ", and the means of a day and, where known, of 30 days within theirs" if all_lengths else ""
    from_ = f"{level.word} {'from' if r.sign > 0 else 'under'} {round(r.limit, 1):g} {r.unit}"
    parts = [f"{name} {_what(r)}; {from_}{longer} ({basis(r)})."]
    if r.trimmed:
        parts.append("One level worse, because the tacking margins are trimmed.")
    if r.held_by_cold is not None:
        parts.append(
            f"Held at watch by the cold of that day, under {fig.COLD_CAP_TEMP_C:g} °C in the mean (our judgement); "
            f"warmer it would be {r.held_by_cold.word}."
        )
    until = span_end(r.link.fresh, r.at)
    if r.link.as_treated:
        how = "been there before" if r.link.born is None else "been put on at its start, its first weeks counted"
        parts.append(f"It is later than this period, and judged as if it had {how}.")
    elif until is not None:
        holds = "hold" if until > r.air.exposure.end else "held"
        parts.append(f"The stricter limits of its first weeks {holds} to {_local(r, until)}.")
    named = {o.link.name: o.level.word for o in reversed(others) if o.link.name != r.link.name}
    if named:  # worst last in `reversed`, so each layer keeps its worst word
        parts.append(f"Also past its limit: {', '.join(f'{name} ({word})' for name, word in reversed(named.items()))}.")
    if meant is not None:
        parts.append(intended(meant))
    own = [said for said in r.link.profile.overruled if said.startswith(OWN[r.mechanism])]
    if own:
        parts.append(f"The studio's own figures: {'; '.join(own)}.")
    return " ".join(parts)


def _what(r: LayerTest) -> str:
    """What the layer went through, with its number, place and time; of heat also the distance of the hottest hour to
    the onset of softening: never to the heat at which the bond is made."""
    at, to, there = _local(r, r.at, True), _local(r, r.at + HOUR, True), where(r.air.point, _own_stint(r))
    if r.mechanism == SWING:
        return f"swung by {r.value:.1f} % RH within the 24 hours to {to}, {there}"
    if r.mechanism not in OF_WARMTH:
        return f"averaged {r.value:.1f} % RH over the 24 hours to {to}, {there}"
    judged_c, onset = r.air.judged_temp_c, r.link.profile.softening_c
    top = r.value if r.test == Length.HOUR or not len(judged_c) else float(judged_c.max())
    if r.test == Length.HOUR:
        hours, end = climate.hourly(r.air.there), "hottest" if r.mechanism == HEAT else "coldest"
        peak = hours.temp_max_c[int(hours.time.searchsorted(r.at))]
        single = f" (hottest single reading {peak:.1f} °C)" if r.mechanism == HEAT and peak > r.value + 0.05 else ""
        what = f"stood at {r.value:.1f} °C for its {end} hour, {at}, {there}{single}"
    else:
        span = "the 24 hours" if r.test == Length.DAY else "the 30 days"
        hottest = f", {top:.1f} °C in the hottest hour" if len(judged_c) else ""
        what = f"averaged {r.value:.1f} °C over {span} to {to}, {there}{hottest}"
    if r.mechanism == COLD:
        return what
    if onset is None:
        return f"{what}, where heat only dries it"
    side = "below" if top < onset else "over"
    return f"{what}, {abs(onset - top):.1f} °C {side} the onset of softening at {onset:g} °C"


def _local(r: LayerTest, at: pd.Timestamp, hour: bool = False) -> str:
    """A day by the clock of the place, "Sat 31 Oct"; with its hour also with its year where that is not the end's."""
    zone = r.air.exposure.zone_at(at)
    local, end = at.tz_convert(zone), r.air.exposure.end.tz_convert(zone)
    return f"{day(local)}{'' if local.year == end.year else f' {local.year}'} {local:%H:%M}" if hour else day(local)


def basis(r: LayerTest) -> str:
    """What the limit rests on, in the words that stand at the first line."""
    if r.figure is None:
        return f"limit: {Confidence.OUR_JUDGEMENT.value}"
    return "limit: the studio's own" if r.figure.source == STUDIO else f"limit: {r.figure.confidence.value}"


def intended(r: LayerTest) -> str:
    """What an intended stay did, which is counted and not raised."""
    stays = (s.purpose for s in r.air.exposure.stints if s.intended and s.start <= r.at < s.end and s.purpose)
    purpose = next(stays, "")
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


def advice(r: LayerTest) -> dict[str, str]:
    """What is advised about a raised layer: what to look for and where, what to do and to avoid, and what clears it."""
    signs, layer, weeks = r.link.profile.sign(r.mechanism), r.link.layer, r.link.profile.first_weeks
    note, moved = layer.note.strip().rstrip("."), span_end(r.link.moved_in, r.at)
    on_record = f" ({note})" if note and layer.area != Area.WHOLE and not layer.note.startswith("by treatment") else ""
    place = "In raking light and at the back"
    if layer.role in LOCAL_ROLES or layer.area == Area.LOCAL:
        place = f"At the {layer.role}{on_record}"
    elif layer.area == Area.EDGE:
        place = f"Along the edges, front and back{on_record}"
    first = "" if span_end(r.link.fresh, r.at) is None else f"; first weeks: {weeks.watched}"
    after = "" if moved is None else f"; as it was moved, to {_local(r, moved)} too: {weeks.watched}, which may recede"
    watch, side = f"{round(r.steps[0], 1):g}", "under" if r.sign > 0 else "at or over"
    length = "hour" if r.test == Length.HOUR else "24 hours"
    within = {
        HEAT: f"no hour and no 24-hour mean at its limits ({length} {watch} °C)",
        DAMP: f"every 24-hour mean {side} {watch} % RH", DRY: f"every 24-hour mean {side} {watch} % RH",
        COLD: f"every hour {side} {watch} °C", SWING: f"daily swing {side} {watch} % RH",
    }[r.mechanism]  # fmt: skip
    clears = f"A full week with {within}, and none of the signs found."
    if r.test == Length.MONTH:  # its own limit is lower than those of an hour and a day, which may be kept all along
        clears = f"30-day mean under {watch} °C, and none of the signs found."
    return {
        "look_for": f"{place}: {signs}{first}{after}." if signs else "",
        "do": DO.get((r.mechanism, r.level), DO[r.mechanism, Level.ACT]), "avoid": AVOID[r.mechanism], "clears": clears,
    }  # fmt: skip


def _own_stint(r: LayerTest) -> Stint | None:
    """Where it stood at the worst hour, if a logger at that very position read it."""
    stint = r.air.exposure.stint_at(r.at) if r.row >= 0 else None
    return stint if stint is not None and stint.own_logger and not r.sensor.stands_in else None


# ---------------------------------------------------------------------------------------- the working, for `why`


def working(r: LayerTest) -> Lines:
    """Where the air was taken, lag, limits in force at the worst hour, and what belongs to the mechanism."""
    stint, limits = _own_stint(r), (r.limits.watch, r.limits.act, r.limits.urgent)
    air = WHERE[r.air.point]
    if r.air.point == ROOM:
        air += "; sun, a radiator or a cold wall at the picture itself would not show"
    if r.air.point == ROOM and stint is not None and stint.position != Placement.UNKNOWN:
        air = (
            f"{where(r.air.point, stint)}, read by a logger at the painting's own position ({stint.position}); what "
            "meets the picture and not that logger would not show"
        )
    lag = (
        f"y + (1 - exp(-1 h / {r.air.tau_h:g} h)) (x - y) each hour, as if this layer had no other before it "
        "(our judgement)"
    )
    words = ", ".join(
        f"{word} {cited(plain) if plain is not None and plain == step else f'{step:.3g}'}"
        for word, step, plain in zip(("watch", "act", "urgent"), r.steps, limits, strict=True)
        if np.isfinite(step)
    )
    first = "" if span_end(r.link.fresh, r.at) is None else "; first weeks counted in"
    changes = what_would_change(r.value, r.unit, r.steps, r.sign, worse_by=int(r.trimmed))
    if r.held_by_cold is not None:
        changes = ((
            "what would change the level",
            f"a 24-hour mean of {fig.COLD_CAP_TEMP_C:g} °C or more would be {r.held_by_cold.word}; more than "
            f"{r.value - r.steps[0]:.1f} % RH less would be {Level.CLEAR.word}",
        ),)  # fmt: skip
    return (
        ("air", air),
        *((("lag", lag),) if r.mechanism not in OF_WARMTH else ()),
        *_value(r),
        ("limits at that hour", f"{r.link.profile.label}: {words} {r.unit} ({basis(r)}){first}"),
        # where the materials file says it
        *((("why this limit", r.figure.note),) if r.figure is not None and r.figure.note else ()),
        *changes,
        *(_heat(r) if r.mechanism == HEAT else _damp(r) if r.mechanism == DAMP else ()),
        read_by(r.sensor),
        *(("the studio's own", said) for said in r.link.profile.overruled),
    )


def _value(r: LayerTest) -> Lines:
    """The value with the hours it was made of, so that it can be done again by hand."""
    air, row, zone = r.air, r.row, r.air.exposure.zone_at(r.at)
    window = slice(max(row - DAY_H + 1, 0), row + 1)
    if r.mechanism in OF_WARMTH:
        if r.test == Length.HOUR:
            return hour_of_readings(air.there, r.at, "temp_c", zone)
        if r.test == Length.MONTH:
            return day_means(air.temp_c[: row + 1], MONTH_H // 24, "°C")
        return mean_of_hours(air.temp_c[window], "hourly means", "°C")
    before = float(air.lagged_percent[row - 1]) if row else np.nan
    step = lag_step(before, float(air.rh_percent[row]), air.tau_h, float(air.lagged_percent[row]))
    if r.mechanism == SWING:
        return *step, *range_of_hours(air.settled_percent[window], air.time[window], zone, "% RH")
    return *step, *mean_of_hours(air.lagged_percent[window], "lagged humidity y", "% RH")


def _heat(r: LayerTest) -> Lines:
    """Distance to softening, and what trimmed margins would make of it."""
    temp, onset, lines = r.air.judged_temp_c, r.link.profile.softening_c, list[tuple[str, str]]()
    if onset is not None and len(temp):
        near = ", ".join(f"{(onset - temp < k).sum()} h less than {k:g} °C below" for k in fig.NEAR_SOFTENING_K[:2])
        lines.append((
            "distance to softening",
            f"{onset:g} - {temp.max():.1f} = {onset - temp.max():.1f} °C; {near}, {(temp >= onset).sum()} h at or over "
            f"it (onset: {onset.source}, {onset.confidence.value})",
        ))  # fmt: skip
        lines.append(_creep(temp, float(onset)))
    if r.link.layer.role in LININGS and not r.link.trimmed:
        lines.append(("tacking margins", "if they are trimmed, watch becomes act and act urgent"))
    return tuple(lines)


def _creep(temp_c: Array, onset_c: float) -> tuple[str, str]:
    """Time-temperature creep, as a band with its doubts: it ranks rooms and days and is never a finding."""
    stop = onset_c - float(fig.CREEP_STOPS_BELOW_K)
    within = temp_c[temp_c < stop]
    days = [equivalent_hours(within, 1.0, float(ea)) / 24 for ea in fig.CREEP_ENERGIES_KJ]
    energies = " / ".join(f"{ea:g}" for ea in fig.CREEP_ENERGIES_KJ)
    return (
        "creep, to rank rooms and days only",
        f"sum of exp(Ea/R (1/293.15 - 1/T)) is {' / '.join(f'{d:.3g}' for d in days)} days at 20 °C for Ea {energies} "
        f"kJ/mol, against {len(within) / 24:.3g} days that passed; {(temp_c >= stop).sum()} h at or over {stop:g} °C "
        "are beyond it. No Ea of a lining is published and ageing stiffens what creeps: no failure and no date follow",
    )


def _damp(r: LayerTest) -> Lines:
    """Hours damp, the cap of deep cold, and for glue the line at which it softens."""
    dwell = damp_dwell(r.air.lagged_percent[r.air.judged(1) & ~r.air.drying], r.limit)
    lines = [(
        "hours damp", f"{dwell.hours:g} h at or over {r.limit:.3g} % RH, longest {dwell.longest_h:g} h, "
        f"excess {dwell.excess:.0f} % RH h",
    )]  # fmt: skip
    temp = float(r.air.window("mean", "temp_c", DAY_H, r.born, None)[r.row])  # of the 24 hours to the worst hour
    if r.link.freezes_dry and temp < fig.COLD_CAP_TEMP_C:
        lines.append((
            "cold",
            f"with a 24-hour mean under {fig.COLD_CAP_TEMP_C:g} °C and {fig.COLD_CAP_PERCENT:g} % RH, watch at most",
        ))  # fmt: skip
    if r.link.profile.water_softening != "gelatine":
        return tuple(lines)
    if not np.isfinite(temp):
        return *lines, ("glue softening line", "not tested: the temperature of that day was not read")
    softens = (
        f"{float(glue_water(r.value, temp)):.1f} g water in 100 g dry glue at {r.value:.1f} % RH, softens at "
        f"{float(glue_tg(r.value, temp)):.0f} °C (Gordon-Taylor); at {temp:.1f} °C the line lies at "
        f"{float(glue_softening_rh(temp)):.1f} % RH, 10 °C before it at {float(glue_softening_rh(temp, 10)):.1f} % RH"
    )
    return *lines, ("glue softening line, indicative", softens)
