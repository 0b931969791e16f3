"""May I line today: what was tried, the canvas settled, what was put on dried, the room now and in the days ahead."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from envwatch import climate
from envwatch.archive import Studio
from envwatch.archive.climates.exposure import record_begin
from envwatch.cases import judging
from envwatch.cases.aftercare import CareStep, due_after
from envwatch.cases.lining import before, working
from envwatch.cases.lining.ahead import Forecast, days_ahead
from envwatch.cases.lining.bench import Bench, BenchRoom, Lying, lying, room_of
from envwatch.cases.lining.cautions import cautions
from envwatch.cases.lining.checks import IN_ORDER, NO, NOT_KNOWN, NOT_YET, WITH_CARE, YES, Check, may_be_lined
from envwatch.cases.lining.drying import DryingState, owed
from envwatch.cases.lining.settling import Settled, settled, wait_to_settle_h
from envwatch.cases.waits import file_waits, stints_of
from envwatch.climate import response_time_h
from envwatch.climate.drying_back import RULE
from envwatch.climate.exposure import Exposure
from envwatch.core.errors import BadInput
from envwatch.core.findings import Level
from envwatch.core.painting import Painting, Treatment, Work
from envwatch.core.text import date, number
from envwatch.figures import Figure
from envwatch.figures import around_lining as fig
from envwatch.figures.canvas import BACK_A_WEEK
from envwatch.figures.materials import Materials, Profile

WORK_BEFORE = ("consolidant", "patch", "tear mend", "impregnation", "insert")
NOBODY = ("nobody", "no one", "none", "no")


@dataclass(frozen=True)
class Family:
    """One adhesive today.

    `word`: with what is asked whatever the adhesive; `own`: by the conditions that are its own, `checks`.
    """

    id: str
    short: str
    word: str
    own: str
    checks: tuple[Check, ...]


@dataclass(frozen=True, eq=False)
class Today:
    """Whether it may be lined now, condition by condition: "yes", "with care", "no" or "not known".

    Attributes
    ----------
    where : where the painting lies; room, room_basis : where it is lined and dried, and why that is taken.
    adhesive : key of what it is to be lined with; "" where not chosen: then each stands in `families`.
    temp_c, rh_percent : mean air of that room's last 24 hours. [°C], [% RH]
    ahead : what would fall due if it were lined now, unless that is "no"; cautions : the usual ones.
    """

    painting_id: str
    title: str
    at: pd.Timestamp
    zone: str
    where: str
    word: str
    checks: tuple[Check, ...]
    settled: Settled | None
    owed: tuple[DryingState, ...]
    temp_c: float
    rh_percent: float
    notes: tuple[str, ...]
    room: str
    room_basis: str
    adhesive: str
    families: tuple[Family, ...]
    ahead: tuple[CareStep, ...]
    cautions: tuple[str, ...]


def may_line(
    studio: Studio, painting: Painting, now: pd.Timestamp, adhesive: str = "", forecast: Forecast | None = None,
    bench: Bench | None = None,
) -> Today:  # fmt: skip
    """Whether a painting may be lined at a moment.

    Parameters
    ----------
    adhesive : key of what it is to be lined with; "" where not chosen yet: then each that lines is judged.
    forecast : the days ahead in the room; None: not given.
    bench : in which room, who is there while it dries, the label's film-forming temperature; None: nothing was said.

    Returns
    -------
    `Today`. What was not read, tried or given is never yes.

    Raises
    ------
    BadInput : no such adhesive. NotThere : no such room in the register.
    """
    bench, forecast = bench or Bench(), forecast or Forecast()
    begin = record_begin(studio, painting, now - pd.Timedelta(days=float(fig.LOOKS_BACK_D)))
    begin = min([begin, *(t.on for t in _work(studio, painting, now))])
    ways = studio.exposures(painting, begin, now.floor("h"))
    lies = [lying(way, response_time_h(painting)) for way in ways]
    room = room_of(studio, ways, bench, now)
    materials = studio.materials()
    chosen = adhesives(materials, adhesive)
    drying = tuple(_owed(painting, ways, now, studio))
    checks = (
        *before.trials(painting, now, studio.zone), before.lined(painting, materials), _within(lies, room),
        _steady("canvas steady", chosen, [(one.canvas.hours, one.noise) for one in lies]),
        _steady("room steady", chosen, [(room.rh_percent.hours, room.noise)]),
        *(_dried(one, now, studio.zone) for one in drying), *_not_told(painting, now),
        _as_today(assessed(studio, painting, ways, now)),
    )  # fmt: skip
    each = (_family(key, p, painting, lies, room, forecast, bench, now, materials) for key, p in chosen.items())
    families = tuple(replace(one, word=may_be_lined((*checks, *one.checks))) for one in each)
    ahead = _if_lined(adhesive, materials, painting, studio.zone, now) if adhesive else ()
    checks += families[0].checks if adhesive else (_not_chosen(families),)
    word = may_be_lined(checks)
    stands = [settled(as_read(one.hours).rh_percent, one.tau_h) for one in lies]
    return Today(
        painting.id, painting.title, now, studio.zone, _whereabouts(ways[-1]), word, checks,
        None if None in stands else min((s for s in stands if s), key=lambda s: (s.hours, -s.wait_h)),
        drying, room.temp_c.mean, room.rh_percent.mean,
        tuple(dict.fromkeys(note for one in (*(way.notes for way in ways), room.notes) for note in one)),
        room.name, room.basis, adhesive, families, () if word == NO else ahead,
        cautions(chosen[adhesive].form if adhesive else ""),
    )  # fmt: skip


def _whereabouts(way: Exposure) -> str:
    stint = way.stints[-1] if way.stints else None
    return f"{stint.place_name}, {stint.position}" if stint and stint.place_id else "whereabouts unknown"


def adhesives(materials: Materials, adhesive: str = "") -> dict[str, Profile]:
    """The adhesive named, of those in force; without a name all that line.

    Raises
    ------
    BadInput : not an adhesive of the materials file.
    """
    known = {name: p for name, p in materials.items() if p.adhesive}
    if adhesive and adhesive not in known:
        what = f"no adhesive of the materials file. There are {', '.join(known)}"
        raise BadInput(what, field="adhesive", seen=adhesive)
    return {name: p for name, p in known.items() if (name == adhesive if adhesive else "film" in p.roles)}


def _family(key: str, p: Profile, painting: Painting, lies: Sequence[Lying], room: BenchRoom, forecast: Forecast,
            bench: Bench, now: pd.Timestamp, materials: Materials) -> Family:  # fmt: skip
    """What is asked of one adhesive alone."""
    watched = str(p.first_weeks.watched)
    film_forming = bench.film_forming_c
    checks = (
        working.judged("room temperature", working.temperature(p, film_forming), room.temp_c, watched),
        working.judged("room humidity", working.humidity(p), room.rh_percent, watched),
        _worst([working.judged("canvas humidity", working.canvas(p), one.canvas, watched) for one in lies]),
        days_ahead(p, forecast, film_forming), *_attended(p, bench),
        *before.against_water(painting, p, now), *before.on_wax(painting, p, materials),
    )  # fmt: skip
    own = may_be_lined(checks)
    return Family(key, p.short, own, own, checks)


def _worst(checks: Sequence[Check]) -> Check:
    word = may_be_lined(checks)
    return next(check for check in checks if check.word == word)


def _attended(p: Profile, bench: Bench) -> Iterator[Check]:
    """Whether somebody is there to change blotters and weights while it dries."""
    hours = p.working.attended_h if p.working else None
    if not hours:
        return
    what, who = "somebody there", bench.attended_by.strip()
    told = f"{hours.note or 'Somebody must be there'} for {hours:g} h ({hours.confidence.value})"
    told = told[0].upper() + told[1:]
    if who.casefold() in NOBODY:
        yield Check(what, NO, f"{told}; nobody is there.")
    elif who:
        yield Check(what, YES, f"{told}: {who}.")
    else:
        yield Check(what, WITH_CARE, f"{told}; say who is there (⟦attended_by⟧).")


def _not_chosen(families: Sequence[Family]) -> Check:
    """All candidates in one condition: their word where they agree; else it is for the choice to say."""
    by_word = {word: [f.short for f in families if f.own == word] for word in (YES, WITH_CARE, NOT_KNOWN, NO)}
    told = "; ".join(f"{word}: {', '.join(names)}" for word, names in by_word.items() if names)
    words = {family.own for family in families}
    word = words.pop() if len(words) == 1 else NOT_KNOWN
    return Check("adhesive", word, f"Not chosen yet. By their own conditions alone: {told}.")


def _if_lined(key: str, materials: Materials, painting: Painting, zone: str, now: pd.Timestamp) -> tuple[CareStep, ...]:
    """What would fall due after it, but for the looks."""
    kind = "lining" if "film" in materials[key].roles else "consolidation"
    bare = replace(painting, layers=(), observations=())
    steps = due_after(Treatment("", kind, now, key), zone, bare, materials)
    return tuple(step for step in steps if not step.what.startswith("look"))


def as_read(hours: climate.Hourly) -> climate.Hourly:
    """The record up to its last read hour, where that is lately enough to speak for now."""
    read = np.flatnonzero(np.isfinite(hours.rh_percent))
    if not len(read) or len(hours.time) - 1 - read[-1] > fig.READ_WITHIN_H:
        return hours
    kept = slice(0, int(read[-1]) + 1)
    return climate.Hourly(hours.time[kept], hours.temp_c[kept], hours.rh_percent[kept], hours.temp_max_c[kept])


def _work(studio: Studio, painting: Painting, now: pd.Timestamp) -> list[Treatment]:
    """What was put on before now and may still be drying: no longer ago than what dries slowest needs, twice over."""
    slowest = max(float(p.settled_h) for p in studio.materials().values() if p.settled_h is not None)
    since = now - pd.Timedelta(hours=2 * slowest)
    return [t for t in painting.treatments if since < t.on <= now and t.kind != Work.LINING and t.material]


def _owed(painting: Painting, ways: Sequence[Exposure], now: pd.Timestamp, studio: Studio) -> Iterator[DryingState]:
    """The drying of each treatment, in the air in which it dried least."""
    for treatment in _work(studio, painting, now):
        known = studio.materials().get(treatment.material)
        if known is None or not known.adhesive:
            continue
        each = [owed(treatment, known, way, now, studio.zone) for way in ways]
        found = [one for one in each if one is not None]
        if found:
            yield min(found, key=lambda one: one.had_h)


def _hours(hours: float) -> str:
    return f"{hours:.0f} h" if hours < 72 else f"{hours / 24:.0f} days"


def _within(lies: Sequence[Lying], room: BenchRoom) -> Check:
    """The canvas against the room in which it is lined; the worst of where it may lie."""
    return _worst([_near(one, room) for one in lies])


def _near(one: Lying, room: BenchRoom) -> Check:
    what, limit = "canvas near the room", float(fig.CANVAS_WITHIN_PERCENT)
    if not (one.canvas.known and one.air.known):
        return Check(what, NOT_KNOWN, "The air of its last 24 h where it lies was not read well enough to say what the "
                     "canvas is at. Read the logger out, or hang one beside it for a day.")  # fmt: skip
    if not room.rh_percent.known:
        return Check(what, NOT_KNOWN, "The room in which it is lined was not read in its last 24 h.")
    canvas, air = one.latest, room.rh_percent.mean
    doubt = one.doubt if one.reads_as(room) else one.doubt + float(np.hypot(one.plus_minus, room.rh_percent.plus_minus))
    step = abs(canvas - air)
    word = NO if step > limit else WITH_CARE if step + doubt > limit else YES
    told = (
        f"Canvas at {number(canvas)} ± {number(one.doubt + one.plus_minus)} % RH, {room.name} at {number(air)} ± "
        f"{number(room.rh_percent.plus_minus)} % over its last 24 h: {number(step)} ± {number(doubt)} % apart, at most "
        f"{limit:g} ({fig.CANVAS_WITHIN_PERCENT.confidence.value}); it follows with a time constant of "
        f"{one.tau_h:g} h (our judgement)"
    )
    tail = "" if word == YES else f". {_let_lie(step, one.tau_h)}"
    return Check(what, word, f"{told}{tail}.", canvas, plus_minus=doubt, unit=working.PERCENT)


def _let_lie(step: float, tau_h: float) -> str:
    """How long it lies in the room first, no faster than a canvas may be brought to other air. [% RH], [h]"""
    weeks = step / BACK_A_WEEK if step > BACK_A_WEEK else 0.0
    hours = max(wait_to_settle_h(step, tau_h, float(fig.CANVAS_WITHIN_PERCENT)), 24.0, weeks * 168)
    slowly = f" at least, brought there {RULE}" if weeks else ""
    return f"Let it lie in the room in which it is lined, in air that stays as it is, for {_hours(hours)}{slowly}"


def _steady(what: str, chosen: dict[str, Profile], days: Sequence[tuple[np.ndarray, float]]) -> Check:
    """The swing within the last 24 h, against what is watched in the first weeks."""
    limit = min(p.first_weeks.swing_watch_percent for p in chosen.values())
    return _worst([_swing(what, limit, hours, noise) for hours, noise in days])


def _swing(what: str, limit: Figure, hours: np.ndarray, noise: float) -> Check:
    day = working.LastDay(hours, noise)
    if not day.known:
        return Check(what, NOT_KNOWN, f"{day.unread} of its last 24 hours were not read.")
    swing = float(np.nanmax(hours) - np.nanmin(hours))
    near = swing + noise >= limit or day.unread > 0
    word = NO if swing >= limit else WITH_CARE if near else YES
    unread = f"; {day.unread} of the 24 h were not read" if day.unread else ""
    return Check(what, word, f"It moved by {number(swing)} ± {number(noise)} % RH within its last 24 h; {limit:g} % is "
                 f"watched in the first weeks ({limit.confidence.value}){unread}.",
                 swing, plus_minus=noise, unit=working.PERCENT)  # fmt: skip


def _dried(one: DryingState, now: pd.Timestamp, zone: str) -> Check:
    what = f"{one.treatment.kind} of {date(one.treatment.on, zone)} dried"
    name = one.name[0].upper() + one.name[1:]
    told = (
        f"{name} had {one.had_h:.0f} h of drying, told for 20 °C and 50 % RH, in {one.elapsed_h:.0f} h; may be "
        f"handled from {one.handled_h:.0f} h, settled at {one.wanted_h:.0f} h ({one.basis})"
    )
    unread = f"; {one.unread_h:.0f} h were not read and count for nothing" if one.unread_h >= 1 else ""
    if one.left_h == 0:
        return Check(
            what,
            YES,
            f"{name} is settled: had {one.had_h:.0f} h of drying, told for 20 °C and 50 % RH; "
            f"{one.wanted_h:.0f} h are wanted ({one.basis}).",
        )
    until = _until(one, now, zone)
    if not one.handled:
        could = one.had_h + one.unread_h >= one.handled_h
        return Check(what, NOT_KNOWN if could else NO, f"{told}{unread}. {until}")
    return Check(what, WITH_CARE, f"Still settling. {told}{unread}. {until} Whether what is left in it "
                 "matters under your lining is yours to say.")  # fmt: skip


def _until(one: DryingState, now: pd.Timestamp, zone: str) -> str:
    if np.isnan(one.wait_h):
        return f"{one.left_h:.0f} h are owed; when they are had is not known, the last day was not read."
    if np.isinf(one.wait_h):
        return f"{one.left_h:.0f} h are owed, and in this air none are had. Dry the room, {RULE}."
    on = now + pd.Timedelta(hours=one.wait_h)
    return f"{one.left_h:.0f} h are owed: in air as of the last day until about {date(on, zone)}."


def _not_told(painting: Painting, now: pd.Timestamp) -> Iterator[Check]:
    """Layers of earlier work whose material or day is not on record."""
    for layer in painting.layers:
        if layer.role in WORK_BEFORE and layer.material in ("", "unknown") and not layer.assumed:
            yield Check(layer.role, NOT_KNOWN, f"What the {layer.role} is made of is not on record, nor how it dries.")


def assessed(studio: Studio, painting: Painting, ways: Sequence[Exposure], now: pd.Timestamp) -> Check:
    """What its last days ask for: a layer that is at its limit is seen to before it is heated, or leaves."""
    since = now - pd.Timedelta(days=float(fig.ASSESSED_OVER_D))
    judged = judging.judged(studio, painting, ways, since)
    if judged.level >= Level.ACT:
        return Check("see to first", NOT_YET, judged.raised[0].sentence)
    if waits := file_waits(studio, stints_of(ways), since, now):
        return Check("see to first", NOT_KNOWN, f"{waits[:1].upper()}{waits[1:]}.")
    if judged.coverage < 0.5 and judged.level is Level.UNKNOWN:
        return Check("see to first", NOT_KNOWN, f"{judged.coverage:.0%} of its last 7 days was read.")
    if judged.raised:
        return Check("see to first", IN_ORDER, judged.raised[0].sentence, watched=True)
    return Check("see to first", IN_ORDER, "Its last 7 days ask for nothing.")


def _as_today(check: Check) -> Check:
    """A condition of leaving as one of lining: what is watched meanwhile is done with care."""
    calm = check.word == IN_ORDER and not check.watched
    word = {NOT_YET: NO, NOT_KNOWN: NOT_KNOWN}.get(check.word, YES if calm else WITH_CARE)
    return replace(check, what=f"nothing to {check.what}", word=word)


__all__ = ["Family", "Forecast", "Today", "adhesives", "as_read", "assessed", "may_line"]
