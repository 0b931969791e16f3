"""After buying: what fitted room and machine were to do in the weather that came, against what the log shows."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from envwatch import climate as describing
from envwatch.archive import Studio
from envwatch.cases.dehumidifier.alternatives import MACHINE, Alternative, counted
from envwatch.cases.dehumidifier.case import setting, studio_outdoors
from envwatch.cases.dehumidifier.forcing import drive
from envwatch.cases.dehumidifier.inputs import DryingInputs
from envwatch.cases.dehumidifier.model import Three
from envwatch.climate.outdoors import DATED
from envwatch.core.errors import BadInput, NotThere, Question
from envwatch.core.place import Place
from envwatch.figures import dehumidifier as fig
from envwatch.physics.room import simulate


@dataclass(frozen=True, eq=False)
class SavingsCheck:
    """Forecast against log since a machine was switched on. Threes are the 10th, 50th and 90th percentile."""

    place: Place
    machine: str
    since: pd.Timestamp
    until: pd.Timestamp
    hours: int  # read
    within_share: float  # of the hours, log within the range of nine plausible rooms in ten (10th to 90th: eight)
    log_damp_h: int
    forecast_damp_h: Three
    without_damp_h: Three  # had it not been bought
    log_mean_percent: float
    forecast_mean_percent: Three
    forecast_litres: Three
    forecast_kwh: Three
    sentence: str


def after_buying(
    studio: Studio, place_id: str, now: pd.Timestamp, since: pd.Timestamp, asked: DryingInputs
) -> SavingsCheck:
    """Compare forecast and log from the day a machine was switched on.

    The room is learnt from the log before that day. Its own temperature since then is taken from the log.

    Raises
    ------
    Question : no machine named. NotThere : nothing was read since then. BadInput : no dated air outdoors since then.
    """
    if len(asked.machines) != 1:
        raise Question("Which machine was bought? Its litres a day and rating point.", "machine_litres",
                       answer="⟦machine_litres⟧, ⟦rated_at⟧")  # fmt: skip
    before = setting(studio, place_id, now, replace(asked, last=min(since, asked.last or since)))
    outdoors = asked.outdoors or studio_outdoors(studio, now)
    if outdoors.kind != DATED:
        raise BadInput("forecast against log needs dated air outdoors since the machine was switched on")
    begin = since.ceil("h")
    log = studio.climate(before.place.id, begin, now)
    read = log.time[np.isfinite(log.rh_percent)]
    out = outdoors.time[np.isfinite(outdoors.vapour_pa)]
    if not len(read) or not len(out) or min(read[-1], out[-1]) < begin + pd.Timedelta(days=1):
        raise NotThere(f"room and outdoors were not read together since {begin:%Y-%m-%d}", place=before.place.name)
    end = min(read[-1], out[-1]).floor("h")
    log = log.between(begin, end)
    weather = replace(drive(log, outdoors, asked, begin, end, before.place.zone), counted_from=0)
    start = float(log.rh_percent[np.isfinite(log.rh_percent)][0])
    draws = replace(before.draws, heat_loss_w_k=np.full(before.draws.count, np.inf))  # its heat is in the log already
    rooms = draws.rooms(start)
    machine = asked.machines[0]
    drying = machine.drying(
        np.maximum((asked.set_percent or float(fig.SET_PERCENT)) + draws.humidistat_percent, 20.0),
        draws.capacity_factor, draws.efficiency_factor, tank_l=asked.tank_l or float("inf"),
    )  # fmt: skip
    what = Alternative(MACHINE, machine.words, machine)
    with_it, without = (counted(what, simulate(weather, rooms, d)) for d in (drying, None))
    return _compared(before.place, machine.words, weather, log, with_it, without, begin, end)


def _compared(place, machine, weather, log, with_it, without, begin, end) -> SavingsCheck:
    hourly = describing.hourly(log)
    seen = pd.Series(hourly.rh_percent, hourly.time).reindex(weather.hours).to_numpy()
    drawn = with_it.rh_percent[:, 1:].astype(float)
    low, high = np.quantile(drawn, [0.1, 0.9], axis=1)
    both = np.isfinite(seen) & np.isfinite(low)
    noise = log.sensor.rh_bias_percent
    within = float(((seen >= low - noise) & (seen <= high + noise))[both].mean()) if both.any() else float("nan")
    damp = int((seen[both] > fig.DAMP_LINE).sum())
    forecast, other = with_it.at(with_it.damp_h), without.at(without.damp_h)
    means = tuple(float(q) for q in np.quantile(np.nanmean(drawn[both], axis=0), [0.1, 0.5, 0.9]))
    return SavingsCheck(
        place, machine, begin, end, int(both.sum()), within, damp, forecast, other, float(seen[both].mean()),
        means, with_it.at(with_it.litres), with_it.at(with_it.kwh), _sentence(damp, forecast, other, within),
    )  # fmt: skip


def _sentence(damp: int, forecast: Three, without: Three, within: float) -> str:
    if damp > forecast[2] + 24:
        kept = "it does less than was forecast: look at its filter, hose, humidistat and tank, and at open doors"
    elif damp < forecast[0] - 24:
        kept = "it does more than was forecast"
    else:
        kept = "it does what was forecast"
    return (
        f"Since then the log has {damp:,} h over {fig.DAMP_LINE:g} %; forecast {forecast[0]:,.0f} to "
        f"{forecast[2]:,.0f} h with the machine, {without[0]:,.0f} to {without[2]:,.0f} h without: {kept}. "
        f"The log lies within the forecast's range, widened by the logger's error, for {within:.0%} of the hours."
    )
