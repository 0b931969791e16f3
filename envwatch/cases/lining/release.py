"""May it leave on this day: first weeks, looks, open signs, drying back, the house's air, the way, a logger."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from envwatch import climate
from envwatch.archive import Studio, reviews
from envwatch.archive.climates.exposure import record_begin
from envwatch.cases.aftercare import CareStep, due
from envwatch.cases.lining.checks import IN_ORDER, NOT_KNOWN, NOT_YET, Check, answer
from envwatch.cases.lining.course_open import dried_back
from envwatch.cases.lining.readiness import as_read, assessed
from envwatch.cases.lining.settling import settled, wait_to_settle_h
from envwatch.climate import response_time_h
from envwatch.core.errors import BadInput, NotThere
from envwatch.core.findings import ours
from envwatch.core.painting import HANDOVER, Painting, Role, Treatment, Work
from envwatch.core.text import date, number, several
from envwatch.figures import Figure
from envwatch.figures import around_lining as fig
from envwatch.figures.materials import Materials, first_weeks_ends
from envwatch.figures.materials.profile import LININGS
from envwatch.figures.response import WRAPPED_H
from envwatch.figures.sensors import CHECK_HOLDS_DAYS

DAY = pd.Timedelta(days=1)


@dataclass(frozen=True)
class Journey:
    """What is known of the way and of the house. None and "": not said. [°C], [% RH]

    `vehicle_c`: the highest it will be in the vehicle; else it is reckoned from `outdoors_c`, the day's forecast.
    """

    place_id: str = ""
    position: str = "unknown"
    house_percent: float | None = None
    vehicle_c: float | None = None
    outdoors_c: float | None = None
    logger_id: str = ""
    logger_back: pd.Timestamp | None = None
    logger_by: str = ""

    def __post_init__(self) -> None:
        """BadInput: a figure that cannot be."""
        for field, value, low, high, unit in (
            ("house_rh", self.house_percent, 0, 100, "% RH"), ("vehicle_max", self.vehicle_c, -60, 100, "°C"),
            ("forecast_max", self.outdoors_c, -60, 60, "°C"),
        ):  # fmt: skip
            if value is not None and not low <= value <= high:
                raise BadInput(f"cannot be; give {unit} from {low} to {high}", field=field, seen=f"{value:g}")


@dataclass(frozen=True)
class HouseAir:
    """The step a painting makes. [% RH], [h]: `crate_h`, closed, until what is left counts as small; `own_h` after."""

    studio: float
    house: float
    basis: str
    crate_h: float
    own_h: float

    @property
    def step(self) -> float:
        return self.house - self.studio


@dataclass(frozen=True, eq=False)
class Release:
    """Whether a painting may leave, condition by condition, and what goes onto its receipt."""

    painting: Painting
    on: pd.Timestamp
    made_at: pd.Timestamp
    zone: str
    studio: str
    word: str
    checks: tuple[Check, ...]
    house: str
    air: HouseAir | None
    heat_limit_c: float  # what its layers bear on the way without being watched; NaN where none holds anything
    journey: Journey
    logger: str
    ahead: tuple[CareStep, ...]
    temp_c: float
    rh_percent: float
    look_for: tuple[str, ...] = ()  # what its lining shows when it suffers
    adoption: str = ""  # what the studio says of envwatch's working limits

    @property
    def open(self) -> tuple[Check, ...]:
        """What stands against it, or is not known."""
        return tuple(check for check in self.checks if check.word != IN_ORDER)

    @property
    def crate_opens(self) -> pd.Timestamp:
        """From when the crate may be opened: after a day; later where the step in humidity asks for it."""
        hours = max(float(fig.CRATE_CLOSED_H), self.air.crate_h if self.air is not None else 0.0)
        return (self.on + pd.Timedelta(hours=hours)).ceil("h")


def may_leave(
    studio: Studio, painting: Painting, on: pd.Timestamp, now: pd.Timestamp, journey: Journey | None = None
) -> Release:
    """Whether a painting may leave on a day.

    Parameters
    ----------
    on : UTC; the moment it leaves.
    now : until when it is looked at; what lies between now and then is taken to go on as it is.

    Raises
    ------
    NotThere : a place or a logger that the register does not hold.
    """
    journey = Journey() if journey is None else journey
    _known(studio, journey)
    until = min(on, now)
    begin = record_begin(studio, painting, until - pd.Timedelta(days=float(fig.LOOKS_BACK_D)))
    ways = studio.exposures(painting, begin, until)
    hours = as_read(climate.hourly(ways[-1].room))
    materials = studio.materials()
    stand = settled(hours.rh_percent, response_time_h(painting))
    air = None if stand is None else _air(studio, painting, stand.canvas, on, journey)
    heat = _heat_limits(painting, on, materials)
    checks = (
        _first_weeks(painting, on, studio.zone, materials), *_looks(painting, on, studio.zone, materials),
        _signs(studio, painting, until), assessed(studio, painting, ways, until),
        dried_back(studio, painting, until, on),
        _step(painting, air, stand is not None), _on_the_way(heat, journey), _logger(studio, on, journey),
    )  # fmt: skip
    ahead = tuple(step for step in due(painting, studio.zone, on, materials) if step.on >= on)
    place = studio.places().get(journey.place_id)
    return Release(
        painting, on, now, studio.zone, studio.name, answer(checks), checks, place.name if place else "", air,
        float("nan") if heat is None else heat[0], journey,
        studio.loggers()[journey.logger_id].name if journey.logger_id else "", ahead,
        _mean(hours.temp_c), _mean(hours.rh_percent), _look_for(painting, materials), adoption=studio.adoption,
    )  # fmt: skip


def _look_for(painting: Painting, materials: Materials) -> tuple[str, ...]:
    """What its lining shows when it suffers, in the materials file's own words."""
    told = []
    for layer in painting.layers:
        known = materials.get(layer.material)
        if layer.role in LININGS and known is not None and known.adhesive:
            told += [f"After {after}: {known.sign(name)}." for after, name in
                     (("warm days", "heat"), ("damp weeks", "damp"), ("dry weeks", "dry"))
                     if known.sign(name)]  # fmt: skip
    anything = "Ripples, bulges, lifting edges, new cracks, a smell, spots on the back."
    return tuple(dict.fromkeys(told)) or (anything,)


def hand_over(studio: Studio, release: Release, although: str = "") -> Treatment:
    """Keep that a painting was handed over; with what was open, and why it left all the same.

    Raises
    ------
    BadInput : something is open and no reason is given.
    """
    told = "; ".join(f"{check.what}: {check.word}" for check in release.open)
    if release.open and not although.strip():
        first = release.open[0]
        what = (
            f"{release.painting.title} may not leave on {date(release.on, release.zone)}: {first.what}: "
            f"{first.sentence} {_others(release)}If it leaves all the same, say why"
        )
        raise BadInput("⟦although⟧ REASON", field="although", place=what)
    note = f"Left although open: {told}. Reason: {although.strip()}" if told else "All conditions stood."
    local = release.on.tz_convert(release.zone)
    air = {"studio_temp_c": release.temp_c, "studio_rh_percent": release.rh_percent}
    known: dict[str, Any] = {name: str(round(value, 1)) for name, value in air.items() if not np.isnan(value)}
    return studio.treat(release.painting.id, HANDOVER, str(local.date()), note=note, adds_layer=False, **known)


def _others(release: Release) -> str:
    more = len(release.open) - 1
    return f"And {several(more, 'more condition')} open. " if more else ""


def _mean(values: np.ndarray) -> float:
    last = values[-24:]
    return float(np.nanmean(last)) if np.isfinite(last).any() else float("nan")


def _known(studio: Studio, journey: Journey) -> None:
    for word, name, there in (("to", journey.place_id, studio.places()), ("logger", journey.logger_id,
                                                                            studio.loggers())):  # fmt: skip
        if name and name not in there:
            raise NotThere(f"not in the register. There are {', '.join(there)}", field=word, seen=name)


def _first_weeks(painting: Painting, on: pd.Timestamp, zone: str, materials: Materials) -> Check:
    ends = first_weeks_ends(painting, materials)
    still = [(layer, known, end) for layer, known, end in ends if end > on]
    if still:
        told = "; ".join(f"{layer.role} ({known.short}) until {date(end, zone)}" for layer, known, end in still)
        return Check("first weeks", NOT_YET, f"Its first weeks are not over: {told}. No journey before that.")
    undated = [layer.role for layer in painting.layers if layer.role == Role.FILM and layer.applied_on is None]
    if undated or not ends and any(t.kind == Work.LINING for t in painting.treatments):
        return Check("first weeks", NOT_KNOWN, "When its lining was put on is not on record.")
    last = max((end for _, _, end in ends), default=None)
    tail = "No dated work on it." if last is None else f"Over since {date(last, zone)}."
    return Check("first weeks", IN_ORDER, tail)


def _looks(painting: Painting, on: pd.Timestamp, zone: str, materials: Materials) -> Iterator[Check]:
    """Looks that fell due and that nobody recorded, of treatments of the last year."""
    missed = [
        s for s in due(painting, zone, materials=materials)
        if s.what.startswith("look") and not s.done and on - 365 * DAY < s.on <= on
    ]  # fmt: skip
    if missed:
        last = {step.treatment_id: step for step in missed}  # a look now makes up for the earlier ones
        told = "; ".join(f"{step.what} ({date(step.on, zone)})" for step in last.values())
        yield Check("looks", NOT_YET, f"Not recorded: {told}. Look at it front and back and record it.")
    else:
        yield Check("looks", IN_ORDER, "Each look that fell due is on record.")


def _signs(studio: Studio, painting: Painting, until: pd.Timestamp) -> Check:
    """Tasks that are open, and signs that bear out a finding and were not denied since."""
    tasks = [task.what for task in reviews.tasks(studio) if task.painting_id == painting.id and task.raised_on <= until]
    seen = [o for o in painting.observations if o.on <= until]
    denied = {o.finding: o.on for o in seen if o.confirms is False}
    borne_out = [
        f"{o.sign}{f', {o.where}' if o.where else ''}"
        for o in seen
        if o.confirms and denied.get(o.finding, o.on) <= o.on
    ]
    if tasks or borne_out:
        return Check("open signs", NOT_YET, f"Open: {'; '.join([*borne_out, *tasks])}")
    since = painting.lined_on
    told = [f"{o.sign} ({date(o.on, studio.zone)})" for o in seen if since is None or o.on >= since]
    tail = f" Seen since its lining: {'; '.join(told)}." if told else ""
    return Check("open signs", IN_ORDER, f"No task is open and no sign bears out a finding.{tail}")


# --------------------------------------------------------------------------------------------------- the house's air


def _air(studio: Studio, painting: Painting, canvas: float, on: pd.Timestamp, journey: Journey) -> HouseAir | None:
    house, basis = journey.house_percent, "as told"
    if house is None and journey.place_id:
        house, basis = _season(studio, journey, on)
    if house is None:
        return None
    step = house - canvas
    crate = wait_to_settle_h(step, float(WRAPPED_H), float(fig.UNPACK_WITHIN_PERCENT))
    left = min(abs(step), float(fig.UNPACK_WITHIN_PERCENT))
    return HouseAir(canvas, float(house), basis, crate, wait_to_settle_h(left, response_time_h(painting)))


def _season(studio: Studio, journey: Journey, on: pd.Timestamp) -> tuple[float | None, str]:
    """Mean humidity there around this day of the year, of the latest year that was read."""
    around = pd.Timedelta(days=float(fig.SEASON_D))
    for years in range(int(fig.YEARS_BACK) + 1):
        middle = on - years * pd.Timedelta(days=float(fig.YEAR_D))
        start, end = middle - around, middle + (around if years else pd.Timedelta(0))
        rh = climate.hourly(studio.climate(journey.place_id, start, end, journey.position)).rh_percent
        if np.isfinite(rh).mean() >= 0.5:
            return float(np.nanmean(rh)), f"mean read there from {start.date()} to {end.date()}"
    return None, ""


def _step(painting: Painting, air: HouseAir | None, read: bool) -> Check:
    what = "step to the house's air"
    if not read:
        return Check(what, NOT_KNOWN, "What its canvas is at is not known: its last day was not read.")
    if air is None:
        return Check(what, NOT_KNOWN, "The house's humidity is not known. Ask for a week's readings (⟦house_rh⟧), or "
                     "say a place with a logger (⟦to⟧).")  # fmt: skip
    tau = response_time_h(painting)
    day = abs(air.step) * (1 - float(np.exp(-24 / tau)))
    told = (
        f"Canvas at {number(air.studio, 0)} % RH, house at {number(air.house, 0)} % ({air.basis}): a step of "
        f"{number(air.step, 0)} %. Unpacked at once it would move by {number(day, 0)} % in a day"
    )
    if air.crate_h <= fig.CRATE_CLOSED_H:
        return Check(what, IN_ORDER, f"{told}; after the closed day it settles in {_days(air.own_h)}.")
    return Check(what, IN_ORDER, f"{told}; leave it in its closed crate for {_days(air.crate_h)}, then it settles in "
                 f"{_days(air.own_h)} (crate: time constant {WRAPPED_H:g} h, our judgement).")  # fmt: skip


def _days(hours: float) -> str:
    return f"{np.ceil(hours):.0f} h" if hours < 48 else f"{np.ceil(hours / 24):.0f} days"


# ---------------------------------------------------------------------------------------------------------- the way


def _heat_limits(painting: Painting, on: pd.Timestamp, materials: Materials) -> tuple[Figure, Figure, str] | None:
    """From where to watch and to act for an hour of heat, and of which layer; None where nothing holds anything."""
    fresh = [layer for layer, _, end in first_weeks_ends(painting, materials) if end > on]
    found = []
    for layer in painting.layers:
        known = materials.get(layer.material)
        if known is not None and known.adhesive:
            cooler = float(known.first_weeks.cooler_c) if layer in fresh else 0.0
            steps = known.heat_hour_c.watch, known.heat_hour_c.act or known.heat_hour_c.watch
            watch, act = (Figure(step - cooler, step.unit, step.source, step.confidence) for step in steps)
            found.append((watch, act, f"{layer.role}, {known.short}"))
    return min(found, default=None, key=lambda limits: limits[:2])


def _on_the_way(heat: tuple[Figure, Figure, str] | None, journey: Journey) -> Check:
    what = "heat on the way"
    if heat is None:
        return Check(what, NOT_KNOWN, "No layer is on record that holds anything, so no limit of heat either.")
    if journey.vehicle_c is None and journey.outdoors_c is None:
        return Check(what, NOT_KNOWN, "Say the day's forecast (⟦forecast_max⟧) or what the vehicle is held to "
                     "(⟦vehicle_max⟧).")  # fmt: skip
    value, how = _in_vehicle(journey)
    watch, act, layer = heat
    told = (
        f"{number(value, 0)} °C in the vehicle, {how}; {layer}: watched from {watch:g} °C{ours(watch)}, act from "
        f"{act:g} °C{ours(act)}"
    )
    if value >= act and journey.vehicle_c is not None:
        return Check(what, NOT_YET, f"{told}. Go early, in a cooled vehicle, never left standing in the sun.")
    if value >= act:
        return Check(what, NOT_KNOWN, f"{told}. Say what the vehicle is held to (⟦vehicle_max⟧).")
    tail = " Never left standing in the sun." if value >= watch else ""
    return Check(what, IN_ORDER, f"{told}.{tail}")


def _in_vehicle(journey: Journey) -> tuple[float, str]:
    if journey.vehicle_c is not None:
        return journey.vehicle_c, "as told"
    assert journey.outdoors_c is not None
    return journey.outdoors_c + float(fig.VEHICLE_RISE_K), (
        f"if it stands closed in the sun: {journey.outdoors_c:g} °C outdoors and {fig.VEHICLE_RISE_K:g} K "
        f"({fig.VEHICLE_RISE_K.confidence.value})"
    )


def _logger(studio: Studio, on: pd.Timestamp, journey: Journey) -> Check:
    what = "logger that goes along"
    if not journey.logger_id:
        return Check(what, NOT_KNOWN, "Say which logger goes along (⟦logger⟧), and who sends it back when.")
    logger = studio.loggers()[journey.logger_id]
    lacks = []
    if logger.calibrated_on is None or (on - logger.calibrated_on) / DAY > CHECK_HOLDS_DAYS:
        lacks.append("it was not checked within a year")
    if journey.logger_back is None or not journey.logger_by:
        lacks.append("who sends it back and when is not said (⟦logger_back⟧, ⟦logger_by⟧)")
    if lacks:
        return Check(what, NOT_KNOWN, f"{logger.name}: {'; '.join(lacks)}.")
    return Check(what, IN_ORDER, f"{logger.name}; back by {date(journey.logger_back, studio.zone)}, sent by "
                 f"{journey.logger_by}.")  # fmt: skip


__all__: Sequence[str] = ("HouseAir", "Journey", "Release", "hand_over", "may_leave")
