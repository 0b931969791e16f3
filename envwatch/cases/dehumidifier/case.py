"""The case for a dehumidifier in one room, or against it: everything a page or a terminal shows, as plain data."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from envwatch import climate as describing
from envwatch.archive import Studio
from envwatch.cases.dehumidifier import judging, recommend
from envwatch.cases.dehumidifier.alternatives import (
    HEATED,
    MOVED,
    Alternative,
    Counted,
    counted,
    list_of,
    machines_to_try,
    run_all,
)
from envwatch.cases.dehumidifier.forcing import drive, span_of
from envwatch.cases.dehumidifier.identify import RoomEstimate, learn
from envwatch.cases.dehumidifier.inputs import DryingInputs, Money
from envwatch.cases.dehumidifier.judging import HungPainting, RoomAir, judged, paintings_in
from envwatch.cases.dehumidifier.machine import cycling_minutes
from envwatch.cases.dehumidifier.model import DehumidifierCase, Fitted, Outcome, Picture
from envwatch.cases.dehumidifier.sampling import Samples, drawn, how_sized
from envwatch.cases.dehumidifier.sizing import causes, load
from envwatch.climate.drying_back import RULE
from envwatch.climate.outdoors import Outdoors, from_climate
from envwatch.climate.series import Climate
from envwatch.core.errors import NotThere, Question
from envwatch.core.place import Place, PlaceKind, Placement
from envwatch.figures import dehumidifier as fig
from envwatch.figures.coverage import CLEAR_NEEDS
from envwatch.physics.room import Forcing, Simulation, per_percent

Progress = Callable[[int, int, str], None] | None
NEVER_MOVED_TO = ("outdoors", "crate", "vehicle", "chamber", "house")


@dataclass(frozen=True, eq=False)
class Setting:
    """What every alternative shares."""

    studio: Studio
    place: Place
    indoor: Climate
    outdoors: Outdoors
    learnt: RoomEstimate
    drive: Forcing
    draws: Samples
    room: RoomAir
    hung: tuple[HungPainting, ...]
    treated_on: pd.Timestamp
    start_rh: float
    volume_m3: float
    notes: tuple[str, ...] = field(default=())


def setting(studio: Studio, place_id: str, now: pd.Timestamp, asked: DryingInputs) -> Setting:
    """The room, learnt, and the weather it is tried in.

    Raises
    ------
    NotThere : no such place, or no logger in it. Question : no outdoor data, no volume, and what `learn` asks.
    """
    place = studio.find_place(place_id)
    indoor = studio.climate(place.id, now - pd.Timedelta(days=1500), now)
    if not len(indoor.time):
        raise NotThere("no logger has read anything there; hang one for six weeks first", place=place.name)
    outdoors = asked.outdoors or studio_outdoors(studio, now)
    volume, notes = _volume(place, asked)
    start, end = span_of(indoor, outdoors, asked)
    indoor = indoor.between(start, end)
    learnt = learn(indoor, outdoors, _with_volume(asked, volume))
    weather = drive(indoor, outdoors, asked, start, end, place.zone)
    draws = drawn(learnt, asked, volume, asked.draws or int(fig.DRAWS))
    outside = weather.outside_c if weather.outside_c is not None else np.full(len(weather.time), np.nan)
    room = RoomAir(
        place, weather.hours, weather.temp_c,
        judging.wall_mean(weather.hours, outside), indoor.sensor, start, end,
        weather.time[weather.counted_from],
    )  # fmt: skip
    hung = tuple(paintings_in(studio, place.id, start, max(end, now), room))
    read = indoor.rh_percent[np.isfinite(indoor.rh_percent)]
    treated_on = asked.treated_on or room.judged_from
    return Setting(studio, place, indoor, outdoors, learnt, weather, draws, room, hung, treated_on,
                   float(read[0]), volume, (*notes, *indoor.notes))  # fmt: skip


def studio_outdoors(studio: Studio, now: pd.Timestamp) -> Outdoors:
    """The studio's own logger outdoors."""
    for place in studio.places().values():
        if place.kind == PlaceKind.OUTDOORS:
            outside = studio.climate(place.id, now - pd.Timedelta(days=1500), now)
            if np.isfinite(outside.vapour_pa).any():
                return from_climate(outside, f"the studio's own logger, {place.name}")
    raise Question(
        "No logger hangs outdoors. Which air comes into the room? A station's file, a typical year (EPW, TMY), twelve "
        "monthly values, or none, which gives bounds only.", "outdoors", ("FILE", "none"),
    )  # fmt: skip


def _volume(place: Place, asked: DryingInputs) -> tuple[float, tuple[str, ...]]:
    if asked.volume_m3 is not None:
        return asked.volume_m3, (f"volume {asked.volume_m3:g} m³ as given",)
    if place.volume_m3 is None:
        raise Question("its volume is not in the register, and without it no water can be reckoned. "
                       "Length x width x height in metres, less what stands in it.", "volume",
                       place=place.name)  # fmt: skip
    return place.volume_m3, ()


def _with_volume(asked: DryingInputs, volume_m3: float) -> DryingInputs:
    from dataclasses import replace

    return asked if asked.volume_m3 is not None else replace(asked, volume_m3=volume_m3)


# ------------------------------------------------------------------------------------------------------ the case


def make(
    studio: Studio, place_id: str, now: pd.Timestamp, asked: DryingInputs | None = None, progress: Progress = None
) -> DehumidifierCase:
    """The case for a place.

    Parameters
    ----------
    place_id : id, or words of its name.
    now : the clock, UTC.
    progress : called with (done, of, what).

    Raises
    ------
    NotThere, Question, BadInput : as `setting` and `learn`; each one line, with what answers it.
    """
    asked = asked or DryingInputs()
    given = setting(studio, place_id, now, asked)
    machines, assumed = machines_to_try(asked)
    if progress:
        progress(0, 3, "simulating")
    done = run_all(list_of(asked, machines), given.drive, given.draws, asked, given.start_rh)
    elsewhere, not_tried = other_rooms(given)
    outcomes = _outcomes(given, [*done, *(c for c, _ in elsewhere)], {c.alternative: v for c, v in elsewhere},
                         asked, progress)  # fmt: skip
    set_percent = asked.set_percent or float(fig.SET_PERCENT)
    water = load(given.drive, given.draws, set_percent)
    advice = recommend.advise(outcomes, water, len(given.hung), given.place.name, asked)
    chosen = next((c for c, o in zip(done, outcomes, strict=False) if o.name == advice.name), done[0])
    log = describing.hourly(given.indoor)
    since = given.drive.counted_from // given.drive.per_hour
    known = given.drive.known_hours[since:]
    log_rh = log.rh_percent[since:]
    return DehumidifierCase(
        studio.name, given.place, now, given.room.judged_from, given.room.end, given.place.zone, int(known.sum()),
        int((~known).sum()), given.outdoors.words, _fitted(given, asked),
        int(np.nansum(log_rh > fig.DAMP_LINE)), _highest(describing.running_mean(log_rh, 720)),
        tuple((h.painting.id, h.painting.title, h.position) for h in given.hung), given.treated_on, set_percent, water,
        outcomes, causes(given.draws, chosen.damp_h, chosen.litres), advice, _picture(given, done[0], chosen),
        given.draws.count - 1, asked.money, (*assumed, *_assumptions(given, asked, machines)), _questions(asked),
        not_tried, given.studio.adoption,
    )  # fmt: skip


def _highest(values: np.ndarray) -> float:
    return float(np.nanmax(values)) if np.isfinite(values).any() else float("nan")


def other_rooms(given: Setting) -> tuple[list[tuple[Counted, Climate]], tuple[str, ...]]:
    """The paintings in each other room with a logger: its own log over the same hours, without any simulation."""
    found, not_known = [], []
    first = given.drive.counted_from // given.drive.per_hour
    for place in given.studio.places().values():
        if place.id == given.place.id or place.kind in NEVER_MOVED_TO:
            continue
        air_there = given.studio.climate(place.id, given.room.start, given.room.end)
        if air_there.coverage < CLEAR_NEEDS:
            not_known.append(f"{place.name}: {air_there.coverage:.0%} of the span was read there, too little to say")
            continue
        rh = describing.hourly(air_there).rh_percent[: len(given.room.time)].astype(np.float32)
        zero = np.zeros(1)
        run = Simulation(rh[:, None], None, zero, zero, zero, zero, zero, zero)
        moved = Alternative(MOVED, f"the paintings moved to: {place.name}", None, place.id)
        found.append((counted(moved, run, first), air_there))
    return found, tuple(not_known)


def _outcomes(given: Setting, done: list[Counted], elsewhere: dict, asked: DryingInputs, progress: Progress):
    out, before, before_high, nothing = [], None, None, done[0]
    for number, one in enumerate(done):
        if progress:
            progress(number + 1, len(done) + 1, one.alternative.name)
        if one.alternative in elsewhere:
            middle = high = _judged_elsewhere(given, one, elsewhere[one.alternative])
        else:
            middle, high = (
                judging.judged_at(given.studio, given.room, given.hung, one, lane, given.treated_on)
                for lane in one.picks[1:]
            )
        if before is None:
            before, before_high = middle, high
        out.append(_outcome(given, one, nothing, (middle, high), (before, before_high), asked))
    return tuple(out)


def _judged_elsewhere(given: Setting, one: Counted, air_there: Climate):
    place = given.studio.places()[one.alternative.place_id]
    hourly = describing.hourly(air_there)
    room = RoomAir(place, hourly.time, hourly.temp_c, np.full(len(hourly.time), np.nan), air_there.sensor,
                given.room.start, given.room.end, given.room.judged_from)  # fmt: skip
    hung = [HungPainting(h.painting, Placement.UNKNOWN, None) for h in given.hung]
    return judged(given.studio, room, hung, hourly.rh_percent, 0.0, given.treated_on)


def _outcome(given: Setting, one: Counted, nothing: Counted, verdicts, before, asked: DryingInputs) -> Outcome:
    middle, high = verdicts
    first = given.drive.counted_from // given.drive.per_hour
    longest = tuple(
        _longest(given.room.time[first : len(one.rh_percent)], one.rh_percent[first:, lane]) for lane in one.picks
    )
    measured = one.alternative.kind == MOVED
    warmer = 0.0 if one.warmer_k is None else float(one.warmer_k[:, one.picks[1]].mean())
    machine = one.alternative.machine
    price = machine.price if machine is not None else None
    days = (given.room.end - given.room.judged_from) / pd.Timedelta(days=1)
    return Outcome(
        one.alternative.kind, one.alternative.name, one.at(one.damp_h), one.at(one.very_damp_h), one.at(one.dry_h),
        one.at(one.month_percent), longest, one.at(one.litres), one.at(one.kwh), one.at(one.running_h),
        one.at(one.visits), one.at(one.full_h), warmer, float("nan") if measured else _pace(given, one, nothing),
        max(v.level for v in middle.values()), max(v.level for v in high.values()), judging.changes(before[0], middle),
        judging.changes(before[1], high), price,
        *costs(one.at(one.kwh)[1], price, asked.money, days, machine is not None), measured,
        _notes(given, one, machine),
    )  # fmt: skip


def _longest(time: pd.DatetimeIndex, rh_percent: np.ndarray) -> float:
    over = np.nan_to_num(rh_percent) > fig.DAMP_LINE
    return max((spell.hours for spell in describing.spells(time, over)), default=0.0)


def _pace(given: Setting, one: Counted, nothing: Counted) -> float:
    """Pace of slow ageing of cellulose and glue against doing nothing, middle draws."""
    from envwatch.climate.ageing import mean_relative_life

    def life(counted: Counted) -> float:
        lane = counted.picks[1]
        warmer = 0.0 if counted.warmer_k is None else counted.warmer_k[:, lane]
        one = np.ones(len(given.room.time))
        return float(mean_relative_life(given.room.temp_c + warmer, counted.rh_percent[:, lane], one))

    return life(nothing) / life(one)


def costs(
    kwh: float, price: float | None, money: Money, days: float, machine: bool
) -> tuple[float | None, float | None]:
    """Cost of a year, and over the machine's life, out of the user's own figures alone.

    Parameters
    ----------
    kwh : drawn in `days`. [kWh]
    machine : whether there is one, to which price and service belong.

    Returns
    -------
    Current and service of a year; and price, current and service over its life. None where a figure for it was not
    given.
    """
    if money.tariff_kwh is None:
        return None, None
    year = kwh * 365 / days * money.tariff_kwh + (money.service_year or 0.0 if machine else 0.0)
    if price is None or money.life_years is None:
        return float(year), None
    return float(year), float(price + money.life_years * year)


def _notes(given: Setting, one: Counted, machine) -> tuple[str, ...]:
    notes = machine.notes if machine is not None else ()
    if machine is not None and one.warmer_k is not None:
        warm = given.room.temp_c + one.warmer_k[:, one.picks[1]] > machine.off_above_c - 0.1
        if warm.any():
            notes += (f"cuts out for heat, much of it its own, in {int(warm.sum())} h: at "
                      f"{machine.off_above_c:g} °C (our judgement; see its data sheet)",)  # fmt: skip
    if one.alternative.kind == HEATED:
        notes += ("warmth speeds ageing and softens heat-activated films; both are judged with it",)
    return notes


def _fitted(given: Setting, asked: DryingInputs) -> Fitted:
    learnt, fit = given.learnt, given.learnt.fit
    held = fit.held_out if fit else None
    excess = learnt.excess
    rate = (fit.rate_h.low, fit.rate_h.best, fit.rate_h.high) if fit else None
    nan = float("nan")
    return Fitted(
        learnt.how, how_sized(asked, learnt), rate, (excess.low, excess.best, excess.high),
        fit.rms_percent if fit else nan, held.rms_percent if held else nan, held.bias_percent if held else nan,
        held.hours / 24 if held else nan, learnt.open,
    )  # fmt: skip


def _picture(given: Setting, before: Counted, after: Counted) -> Picture:
    time = given.room.time
    log = pd.Series(describing.hourly(given.indoor).rh_percent, describing.hourly(given.indoor).time).reindex(time)
    frame = pd.DataFrame(
        {"log": log.to_numpy(), "before": before.rh_percent[:, before.picks[1]],
         "after": after.rh_percent[:, after.picks[1]]},
        index=time,
    ).resample("D").mean()  # fmt: skip
    values = (frame[name].to_numpy(float) for name in ("log", "before", "after"))
    return Picture(pd.DatetimeIndex(frame.index), *values)


def _assumptions(given: Setting, asked: DryingInputs, machines) -> tuple[str, ...]:
    out = [*given.notes]
    out += [note for machine in machines for note in machine.notes]
    if asked.set_percent is None:
        out.append(f"set point not given: {fig.SET_PERCENT:g} % assumed")
    if asked.tank_l is None:
        out.append("drained through a hose, for want of a tank and its visits")
    if asked.heat_loss_w_k is None:
        out.append(
            f"heat lost through the walls not given: {fig.HEAT_LOSS_W_M3K:g} W/K for each m³, within a factor of "
            f"{fig.HEAT_LOSS_GSD:g} (our judgement); it decides how much a machine or heater warms the room"
        )
    if asked.surface_below_k is None:
        out.append("no colder surface was named: only saturated air condenses in the reckoning")
    days = (given.room.judged_from - given.room.start) / pd.Timedelta(days=1)
    out.append(f"the first {days:.0f} days, in which a damp room is dried down, are counted for no alternative")
    out.append(f"a machine does {fig.CAPACITY_FACTOR:.0%} of what its label promises, ± {fig.CAPACITY_SD:.0%}")
    out += _cold_notes(given) + _air_change_notes(given, asked)
    out.append(_switching(given, asked, machines))
    out.append("one well-mixed room, air from outdoors only; a door to another room is not in it")
    return tuple(dict.fromkeys(out))


def _cold_notes(given: Setting) -> list[str]:
    """Hours in which a condensing machine frosts, or in which its curve is only an extrapolation."""
    air_there, out = given.indoor, []
    frosts = float(air_there.hours[air_there.dew_point_c < fig.FROST_DEW_POINT_C].sum())
    cold = float(air_there.hours[air_there.temp_c < fig.CURVE_TRUSTED_C[0]].sum())
    if frosts >= 1:
        out.append(
            f"in {frosts:,.0f} h the room's dew point was under {fig.FROST_DEW_POINT_C:g} °C: a condensing "
            "machine's coil frosts then and it does less than reckoned, unless it defrosts"
        )
    if cold >= 1:
        out.append(
            f"in {cold:,.0f} h the room was colder than {fig.CURVE_TRUSTED_C[0]:g} °C, where the curve of condensing "
            "machines is an extrapolation"
        )
    return out


def _air_change_notes(given: Setting, asked: DryingInputs) -> list[str]:
    if asked.air_change_h is not None or np.isfinite(given.learnt.capacity_g).all():
        return []
    told = "; ".join(f"{kind} {figure:g}" for kind, figure in fig.AIR_CHANGE_KINDS.items())
    return [f"air changes an hour of other rooms, to compare: {told}"]


def _switching(given: Setting, asked: DryingInputs, machines) -> str:
    """How often a humidistat would switch in the central room, at a load of half the machine."""
    warm = float(given.learnt.reference_c)
    able = float(machines[0].grams_h(warm, asked.set_percent or float(fig.SET_PERCENT)))
    holds = float(given.draws.buffer_g[0]) + given.volume_m3 * float(per_percent(warm))
    if able <= 0:
        return f"at {warm:.0f} °C {machines[0].words} stands still"
    stands, _ = cycling_minutes(holds, float(fig.BAND_PERCENT), able / 2, able)
    return (
        f"the humidistat is taken to hold its set point on the mean; with a band of {fig.BAND_PERCENT:g} % and "
        f"half of what it can do, {machines[0].words} would run and stand for about {stands / 60:,.0f} h by turns"
    )


def _questions(asked: DryingInputs) -> tuple[str, ...]:
    out = []
    if asked.others is None:
        out.append("Do panels, furniture, instruments or books stand in the room? Drying may split or lift them "
                   "(⟦also⟧ panels, or ⟦also⟧ nothing).")  # fmt: skip
    elif asked.others:
        out.append(f"{', '.join(asked.others)} in the room: dry {RULE}, "
                   "and ask whoever looks after them first; this assessment judges canvas paintings only.")  # fmt: skip
    if asked.money.tariff_kwh is None:
        out.append("What does a kWh cost (⟦tariff⟧, ⟦currency⟧)? Without it the page tells kWh only.")
    if not any(machine.price is not None for machine in asked.machines):
        out.append("What does the machine cost (⟦price⟧)? Without it no cost over its life is told.")
    elif asked.money.life_years is None:
        out.append("For how many years is the machine to last (⟦life⟧)? Without it no cost over its life is told.")
    return tuple(out)
