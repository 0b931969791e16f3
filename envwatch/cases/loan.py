"""A loan: what was agreed, the borrower's readings held to it, and each incident by day and hour."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Iterator
from dataclasses import dataclass, fields
from functools import partial
from typing import Any

import numpy as np
import pandas as pd

from envwatch import climate
from envwatch.archive import Studio
from envwatch.climate.series import Climate
from envwatch.core import toml
from envwatch.core.errors import BadInput, NotThere
from envwatch.core.painting import Observation, Painting
from envwatch.core.period import midnight
from envwatch.core.text import Bound, number, several, stamp
from envwatch.figures.coverage import CLEAR_NEEDS

AROUND = pd.Timedelta(days=7)


@dataclass(frozen=True)
class Agreement:
    """What was agreed for one painting and one loan; None: nothing was agreed. `end` None: open.

    `rh_change`, `temp_change`: largest change within 24 h, highest less lowest. [% RH], [K]
    """

    painting: str
    place: str
    start: pd.Timestamp
    end: pd.Timestamp | None = None
    position: str = "unknown"
    rh_low: float | None = None
    rh_high: float | None = None
    temp_low: float | None = None
    temp_high: float | None = None
    rh_change: float | None = None
    temp_change: float | None = None


@dataclass(frozen=True)
class DayOf:
    """An incident's share in one civil day of the place: first hour, end of the last, how many, the worst."""

    first: pd.Timestamp
    end: pd.Timestamp
    hours: float
    worst: float
    worst_at: pd.Timestamp
    certain: bool


@dataclass(frozen=True)
class Incident:
    """One stretch over what was agreed. `hours`: how many truly were; `certain`: beyond the sensor's uncertainty."""

    what: str
    start: pd.Timestamp
    end: pd.Timestamp
    hours: float
    worst: float
    worst_at: pd.Timestamp
    limit: float
    unit: str
    certain: bool
    days: tuple[DayOf, ...]


@dataclass(frozen=True, eq=False)
class LoanReport:
    """The borrower's readings against the agreement. `word`: kept, not kept, or not known."""

    painting: Painting
    agreement: Agreement
    place: str
    zone: str
    start: pd.Timestamp
    end: pd.Timestamp
    made_at: pd.Timestamp
    studio: str
    coverage: float
    incidents: tuple[Incident, ...]
    span_rh: tuple[float, float]
    span_temp: tuple[float, float]
    sensor: str
    condition_out: tuple[Observation, ...]
    condition_in: tuple[Observation, ...]
    notes: tuple[str, ...]
    adoption: str = ""  # what the studio says of envwatch's working limits

    @property
    def last(self) -> pd.Timestamp:
        """The last moment of the span: its day is the loan's last."""
        return self.end - pd.Timedelta(microseconds=1)

    @property
    def word(self) -> str:
        """What is broken stays broken whatever the coverage; kept only where enough was read."""
        if self.incidents:
            return "not kept"
        return "kept" if self.coverage >= CLEAR_NEEDS else "not known"


NUMBERS = {
    "rh_low": (0, 100), "rh_high": (0, 100), "temp_low": (-30, 60), "temp_high": (-30, 60), "rh_change": (0, 100),
    "temp_change": (0, 60),
}  # fmt: skip
NAMES = {"from": "start", "to": "end", **{f.name: f.name for f in fields(Agreement) if f.name not in ("start", "end")}}
PAIRS = (("rh_low", "rh_high"), ("temp_low", "temp_high"))


def read(content: bytes, file: str, zone: str) -> Agreement:
    """An agreement from TOML: painting, place, from, to, position, and the limits.

    Raises
    ------
    BadInput : one line on what is wrong.

    >>> read(b'painting = "26-1"\\nplace = "hall"\\nfrom = 2026-03-02\\nrh_high = 60', "a.toml", "UTC").rh_high
    60.0
    """
    try:
        found = toml.loads(content.decode("utf-8-sig"))
    except UnicodeDecodeError:
        raise BadInput("is not UTF-8 text. Save it as UTF-8", place=file) from None
    except tomllib.TOMLDecodeError as error:
        raise BadInput(f"is not TOML ({error})", place=file) from None
    strange = next((key for key in found if key not in NAMES), None)
    if strange is not None:
        raise BadInput(f"{strange!r} is not known; known are {', '.join(NAMES)}", place=file)
    missing = next((key for key in ("painting", "place", "from") if not str(found.get(key, "")).strip()), None)
    if missing is not None:
        raise BadInput(f"{missing} is missing", place=file)
    told: dict[str, Any] = {NAMES[key]: _value(file, key, value, zone) for key, value in found.items()}
    agreement = Agreement(**told)
    if all(getattr(agreement, name) is None for name in NUMBERS):
        raise BadInput(f"no limit is agreed. Give one of {', '.join(NUMBERS)}", place=file)
    for low, high in PAIRS:
        a, b = getattr(agreement, low), getattr(agreement, high)
        if a is not None and b is not None and a >= b:
            raise BadInput(f"{low} ({a:g}) is not below {high} ({b:g})", place=file)
    if agreement.end is not None and agreement.end <= agreement.start:
        raise BadInput("the loan ends before it begins", place=file)
    return agreement


def _value(file: str, key: str, value: object, zone: str) -> object:
    if key in ("from", "to"):
        try:
            day = pd.Timestamp(str(value))
            bare = day == day.normalize()
            if key == "to" and bare:  # the last day belongs to the loan
                day += pd.DateOffset(days=1)
            if day.tz is None:
                day = midnight(day, zone) if bare else day.tz_localize(zone)
        except ValueError:
            raise BadInput(f"{key} = {value}: write a date as year-month-day, such as 2026-10-26", place=file) from None
        return day.tz_convert("UTC")
    if key not in NUMBERS:
        return str(value).strip()
    low, high = NUMBERS[key]
    if isinstance(value, bool) or not isinstance(value, int | float) or not low <= value <= high:
        raise BadInput(f"{key} = {value}: expected a number from {low} to {high}", place=file)
    return float(value)


def judged(studio: Studio, agreement: Agreement, now: pd.Timestamp) -> LoanReport:
    """The borrower's readings held to an agreement, from its first day to its last or to now.

    Returns
    -------
    `LoanReport`. Hours that were not read are neither kept nor broken; under most of the time read it is not known.

    Raises
    ------
    NotThere : no such painting or place. BadInput : the loan has not begun.
    """
    for word, name, there in (("painting", agreement.painting, studio.paintings()), ("place", agreement.place,
                                                                                    studio.places())):  # fmt: skip
        if name not in there:
            raise NotThere(f"{word} {name!r}: not in the register. There are {', '.join(there)}")
    start, end = agreement.start, min(agreement.end or now, now)
    if end <= start:
        raise BadInput(f"the loan of {agreement.painting} begins on {start.date()}: there is nothing to judge yet")
    painting, place = studio.paintings()[agreement.painting], studio.places()[agreement.place]
    air = studio.climate(agreement.place, start, end, agreement.position)
    hours, closing = climate.hourly(air), agreement.end or end
    return LoanReport(
        painting, agreement, place.name, place.zone, start, end, now, studio.name, air.coverage,
        tuple(sorted(incidents(air, agreement, place.zone), key=lambda i: i.start)),
        air.edges("rh_percent", hours.rh_percent), air.edges("temp_c", hours.temp_c),
        f"± {number(air.sensor.rh_u_percent)} % RH, ± {number(air.sensor.temp_u_c)} °C ({air.sensor.basis})",
        _seen(painting, start - AROUND, start + AROUND), _seen(painting, closing - AROUND, closing + AROUND),
        air.notes, adoption=studio.adoption,
    )  # fmt: skip


def _seen(painting: Painting, start: pd.Timestamp, end: pd.Timestamp) -> tuple[Observation, ...]:
    return tuple(o for o in painting.observations if start <= o.on < end)


def incidents(air: Climate, agreement: Agreement, zone: str) -> Iterator[Incident]:
    """Each stretch of hourly means beyond what was agreed, by the days of a zone; a break of hours does not end one.

    The change within 24 h is the strict reading: highest less lowest in the 24 h before.
    """
    hours = climate.hourly(air)
    rh_change = climate.change_24h(hours.rh_percent).spread
    temp_change = climate.change_24h(hours.temp_c).spread
    u_rh, u_temp = air.sensor.rh_u_percent, air.sensor.temp_u_c
    twice_rh = float(np.sqrt(2)) * air.sensor.rh_noise_percent  # the bias is in both ends and cancels
    twice_temp = float(np.sqrt(2)) * air.sensor.temp_noise_c
    rh, temp = "rh_percent", "temp_c"
    for what, values, limit, over, unit, u, of in (
        ("too damp", hours.rh_percent, agreement.rh_high, True, "% RH", u_rh, rh),
        ("too dry", hours.rh_percent, agreement.rh_low, False, "% RH", u_rh, rh),
        ("too warm", hours.temp_c, agreement.temp_high, True, "°C", u_temp, temp),
        ("too cold", hours.temp_c, agreement.temp_low, False, "°C", u_temp, temp),
        ("change of humidity within 24 h", rh_change, agreement.rh_change, True, "% RH", twice_rh, rh),
        ("change of temperature within 24 h", temp_change, agreement.temp_change, True, "K", twice_temp, temp),
    ):
        if limit is not None:
            told = partial(_told, air, of, over, what.startswith("change"))
            yield from _stretches(what, hours.time, values, limit, over, unit, u, zone, told)


def _told(air: Climate, of: str, over: bool, change: bool, value: float, start: pd.Timestamp,
          end: pd.Timestamp) -> float:  # fmt: skip
    """The worst of a span; a bound where readings are. A change is more by a bound at either of its ends."""
    if not change:
        return air.beyond(value, of, start, end, over)
    begin = start - pd.Timedelta(hours=24)
    ends = (air.beyond(value, of, begin, end, side) for side in (True, False))
    return Bound(value) if any(isinstance(one, Bound) for one in ends) else value


def _stretches(what: str, time: pd.DatetimeIndex, values: np.ndarray, limit: float, over: bool, unit: str,
               u: float, zone: str, told: Callable[..., float]) -> Iterator[Incident]:  # fmt: skip
    passed: Callable = np.greater if over else np.less
    worst_of: Callable = np.nanargmax if over else np.nanargmin
    for spell in climate.spells(time, passed(values, limit)):
        rows = slice(*time.searchsorted([spell.start, spell.end]))
        at = rows.start + int(worst_of(values[rows]))
        worst = told(float(values[at]), spell.start, spell.end)
        yield Incident(what, spell.start, spell.end, spell.hours, worst, time[at], limit, unit,
                       abs(worst - limit) > u, _days(time[rows], values[rows], limit, over, u, zone, told))  # fmt: skip


def _days(time: pd.DatetimeIndex, values: np.ndarray, limit: float, over: bool, u: float,
          zone: str, told: Callable[..., float]) -> tuple[DayOf, ...]:  # fmt: skip
    passed = values > limit if over else values < limit
    day = time.tz_convert(zone).normalize()
    found = []
    for one in day[passed].unique():
        at = np.flatnonzero(passed & np.asarray(day == one))
        worst = at[int(np.argmax(values[at]) if over else np.argmin(values[at]))]
        end = time[at[-1]] + pd.Timedelta(hours=1)
        beyond = bool(abs(values[worst] - limit) > u)
        value = told(float(values[worst]), time[at[0]], end)
        found.append(DayOf(time[at[0]], end, float(len(at)), value, time[worst], beyond))
    return tuple(found)


def sentence(report: LoanReport) -> str:
    """The whole in a sentence."""
    read = f"{report.coverage:.0%} of the time was read"
    if report.word == "kept":
        return f"Kept within what was agreed; {read}."
    if report.word == "not known":
        return f"Not known: {read}. What was read lay within what was agreed."
    first = report.incidents[0]
    count = several(len(report.incidents), "incident")
    return f"Not kept: {count}, the first from {stamp(first.start, report.zone)}, {first.what}; {read}."


__all__ = ["Agreement", "Incident", "LoanReport", "incidents", "judged", "read", "sentence"]
