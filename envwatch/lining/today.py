"""May I line today: the canvas settled, what was put on dried, nothing worse to see to, the days ahead."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from envwatch import climate, materials, verdict
from envwatch.archive import Studio
from envwatch.climate import response_time_h
from envwatch.figures import around_lining as fig
from envwatch.lining.checks import IN_ORDER, NOT_KNOWN, NOT_YET, Check, answer
from envwatch.lining.drying import Owed, owed
from envwatch.lining.settling import Settled, settled
from envwatch.materials import Profile, profiles
from envwatch.records import Exposure, Level, Painting, Treatment
from envwatch.wording import date, number

WORK_BEFORE = ("consolidant", "patch", "tear mend", "impregnation", "insert")
DAY = pd.Timedelta(days=1)


@dataclass(frozen=True)
class Forecast:
    """What the days ahead will bring where the painting will lie; None: not given. [°C], [% RH]"""

    highest_c: float | None = None
    lowest_c: float | None = None
    dampest_percent: float | None = None
    driest_percent: float | None = None


@dataclass(frozen=True, eq=False)
class Today:
    """Whether it may be lined now, condition by condition. `temp_c`, `rh_percent`: mean air of the last day."""

    painting_id: str
    title: str
    at: pd.Timestamp
    zone: str
    where: str
    word: str
    checks: tuple[Check, ...]
    settled: Settled | None
    owed: tuple[Owed, ...]
    temp_c: float
    rh_percent: float
    notes: tuple[str, ...]


def may_line(
    studio: Studio, painting: Painting, now: pd.Timestamp, adhesive: str = "", forecast: Forecast | None = None
) -> Today:
    """Whether a painting may be lined at a moment.

    Parameters
    ----------
    adhesive : key of what it is to be lined with; "" where not chosen yet: then the harshest of the candidates counts.
    forecast : the days ahead, for the first weeks' limits; None: said as not given.

    Returns
    -------
    `Today`. A day that was not read well enough is not known, never in order.
    """
    begin = min([now - pd.Timedelta(days=float(fig.LOOKS_BACK_D)), *(t.on for t in _work(studio, painting, now))])
    ways = studio.exposures(painting, begin, now)
    air = [as_read(climate.hourly(way.room)) for way in ways]
    stands = [settled(hours.rh_percent, response_time_h(painting)) for hours in air]
    stand = None if None in stands else min((s for s in stands if s), key=lambda s: (s.hours, -s.wait_h))
    with materials.using(studio.materials()):
        drying = tuple(_owed(painting, ways, now, studio))
        checks = (
            _settled(stand),
            _steady(air[-1].rh_percent),
            *(_dried(one, now, studio.zone) for one in drying),
            *_not_told(painting, now),
            assessed(painting, ways, now),
            *_ahead(_chosen(adhesive), forecast),
        )
    last = air[-1]
    stint = ways[-1].stints[-1] if ways[-1].stints else None
    return Today(
        painting.id, painting.title, now, studio.zone,
        f"{stint.place_name}, {stint.position}" if stint and stint.place_id else "whereabouts unknown",
        answer(checks), checks, stand, drying, _last_day(last.temp_c), _last_day(last.rh_percent),
        (*dict.fromkeys(note for way in ways for note in way.notes), *_no_forecast(forecast)),
    )  # fmt: skip


def _no_forecast(forecast: Forecast | None) -> tuple[str, ...]:
    given = forecast is not None and forecast != Forecast()
    return () if given else ("No forecast was given: the days ahead are not judged.",)


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
    return [t for t in painting.treatments if since < t.on <= now and t.kind != "lining" and t.material]


def _owed(painting: Painting, ways: Sequence[Exposure], now: pd.Timestamp, studio: Studio) -> Iterator[Owed]:
    """The drying of each treatment, in the air in which it dried least."""
    for treatment in _work(studio, painting, now):
        known = profiles().get(treatment.material)
        if known is None or not known.adhesive:
            continue
        each = [owed(treatment, known, way, now, studio.zone) for way in ways]
        found = [one for one in each if one is not None]
        if found:
            yield min(found, key=lambda one: one.had_h)


def _last_day(values: np.ndarray) -> float:
    last = values[-int(fig.ROOM_MEAN_H) :]
    return float(np.nanmean(last)) if np.isfinite(last).any() else float("nan")


def _settled(stand: Settled | None) -> Check:
    what = "canvas settled"
    if stand is None:
        return Check(what, NOT_KNOWN, "The air of its last day was not read well enough to say what the canvas is at. "
                     "Read the logger out, or hang one beside it for a day.")  # fmt: skip
    told = (
        f"canvas at {number(stand.canvas)} ± {number(stand.doubt)} % RH, the room's last day at "
        f"{number(stand.room)} %; it follows with a time constant of {stand.tau_h:g} h (our judgement)"
    )
    if stand.hours > 0:
        return Check(what, IN_ORDER, f"Settled for {_hours(stand.hours)}: {told}.")
    return Check(what, NOT_YET, f"Not settled: {told}. In air that stays as it is, in {_hours(stand.wait_h)}.")


def _hours(hours: float) -> str:
    return f"{hours:.0f} h" if hours < 72 else f"{hours / 24:.0f} days"


def _steady(rh: np.ndarray) -> Check:
    """The room's swing within its last day, against what is watched in any first weeks."""
    limit = min(float(p.first_weeks.swing_watch_percent) for p in _candidates().values())
    spread = climate.change_24h(rh).spread
    value = float(spread[-1]) if len(spread) else float("nan")
    if np.isnan(value):
        return Check("air steady", NOT_KNOWN, "The room's last day was not read well enough.")
    word = IN_ORDER if value < limit else NOT_YET
    return Check("air steady", word, f"The room moved by {number(value)} % RH within its last day; {limit:g} % is "
                 "watched in the first weeks.")  # fmt: skip


def _dried(one: Owed, now: pd.Timestamp, zone: str) -> Check:
    what = f"{one.treatment.kind} of {date(one.treatment.on, zone)}"
    name = one.name[0].upper() + one.name[1:]
    told = (
        f"{name} had {one.had_h:.0f} h of drying, told for 20 °C and 50 % RH, in {one.elapsed_h:.0f} h; may be "
        f"handled from {one.handled_h:.0f} h, settled at {one.wanted_h:.0f} h ({one.basis})"
    )
    unread = f"; {one.unread_h:.0f} h were not read and count for nothing" if one.unread_h >= 1 else ""
    if one.left_h == 0:
        return Check(
            what,
            IN_ORDER,
            f"{name} is settled: had {one.had_h:.0f} h of drying, told for 20 °C and 50 % RH; "
            f"{one.wanted_h:.0f} h are wanted ({one.basis}).",
        )
    until = _until(one, now, zone)
    if not one.handled:
        could = one.had_h + one.unread_h >= one.handled_h
        return Check(what, NOT_KNOWN if could else NOT_YET, f"{told}{unread}. {until}")
    return Check(what, NOT_KNOWN, f"Still settling. {told}{unread}. {until} Whether what is left in it "
                 "matters under your lining is yours to say.")  # fmt: skip


def _until(one: Owed, now: pd.Timestamp, zone: str) -> str:
    if np.isnan(one.wait_h):
        return f"{one.left_h:.0f} h are owed; when they are had is not known, the last day was not read."
    if np.isinf(one.wait_h):
        return f"{one.left_h:.0f} h are owed, and in this air none are had. Dry the room."
    on = now + pd.Timedelta(hours=one.wait_h)
    return f"{one.left_h:.0f} h are owed: in air as of the last day until about {date(on, zone)}."


def _not_told(painting: Painting, now: pd.Timestamp) -> Iterator[Check]:
    """Layers of earlier work whose material or day is not on record."""
    for layer in painting.layers:
        if layer.role in WORK_BEFORE and layer.material in ("", "unknown") and not layer.assumed:
            yield Check(layer.role, NOT_KNOWN, f"What the {layer.role} is made of is not on record, nor how it dries.")


def assessed(painting: Painting, ways: Sequence[Exposure], now: pd.Timestamp) -> Check:
    """What its last days ask for: a layer that is at its limit is seen to before it is heated, or leaves."""
    judged = verdict.judge_either(ways, painting, now - pd.Timedelta(days=float(fig.ASSESSED_OVER_D)))
    if judged.level >= Level.ACT:
        return Check("see to first", NOT_YET, judged.raised[0].sentence)
    if judged.coverage < 0.5 and judged.level is Level.UNKNOWN:
        return Check("see to first", NOT_KNOWN, f"{judged.coverage:.0%} of its last 7 days was read.")
    told = judged.raised[0].sentence if judged.raised else "Its last 7 days ask for nothing."
    return Check("see to first", IN_ORDER, told)


def _candidates() -> dict[str, Profile]:
    return {name: p for name, p in profiles().items() if p.adhesive and "film" in p.roles}


def _chosen(adhesive: str) -> dict[str, Profile]:
    return {adhesive: materials.profile(adhesive)} if adhesive else _candidates()


def _ahead(chosen: dict[str, Profile], forecast: Forecast | None) -> Iterator[Check]:
    """The days ahead against the limits of the first weeks; nothing where no forecast is given."""
    if forecast is not None and forecast != Forecast():
        yield _days_ahead(chosen, forecast)


def _days_ahead(chosen: dict[str, Profile], forecast: Forecast) -> Check:
    what = "days ahead"
    over = {p.short: found for p in chosen.values() if (found := "; ".join(_passes(p, forecast)))}
    if not over:
        return Check(what, IN_ORDER, "Within the limits of the first weeks, if the room goes no further.")
    within = [p.short for p in chosen.values() if p.short not in over]
    told = ". ".join(f"{short[0].upper()}{short[1:]}: {found}" for short, found in over.items())
    tail = f". Within their limits: {', '.join(within)}" if within else ""
    return Check(what, NOT_KNOWN if within else NOT_YET, f"{told}{tail}.")


def _passes(p: Profile, forecast: Forecast) -> Iterator[str]:
    """Which limits of the first weeks a forecast passes, in words."""
    first = p.first_weeks
    heat = float(p.heat_hour_c.watch) - float(first.cooler_c)
    for value, limit, sign, what, unit in (
        (forecast.highest_c, heat, 1, "watched from", "°C"),
        (forecast.lowest_c, float(p.cold_c.watch), -1, "watched below", "°C"),
        (forecast.dampest_percent, float(first.damp_watch_percent), 1, "watched from", "% RH"),
        (forecast.driest_percent, float(p.dry_percent.watch), -1, "watched below", "% RH"),
    ):
        if value is not None and sign * value >= sign * limit:
            yield f"{value:g} {unit}, {what} {limit:g} {unit} in its first weeks"


__all__ = ["Forecast", "Today", "as_read", "assessed", "may_line"]
