"""What may be done about a damp room, each through the same weather and the same draws."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from envwatch import air, climate
from envwatch.cases.dehumidifier.inputs import DryingInputs
from envwatch.cases.dehumidifier.machine import Capacity, Litres, Machine, RatingPoint, condensing, desiccant
from envwatch.cases.dehumidifier.sampling import Samples
from envwatch.figures import dehumidifier as fig
from envwatch.physics.room import Airing, Forcing, Heating, Rooms, Simulation, simulate
from envwatch.verdict import hours_over

NOTHING, MACHINE, TIGHTER, TIGHTER_MACHINE, AIRED, HEATED, ENCLOSED, HIRED, MOVED = (
    "nothing", "machine", "tighter", "tighter and machine", "aired", "heated", "enclosed", "hired", "moved",
)  # fmt: skip


@dataclass(frozen=True)
class Alternative:
    """One thing that may be done."""

    kind: str
    name: str
    machine: Machine | None = None
    place_id: str = ""  # where the paintings are moved to


@dataclass(frozen=True, eq=False)
class Counted:
    """What an alternative did, one figure a draw (m,), the central room first; and the air itself of some draws.

    `rh_percent` (hours, m) and `warmer_k` are single precision, NaN in gaps.
    """

    alternative: Alternative
    rh_percent: np.ndarray = field(repr=False)
    warmer_k: np.ndarray | None = field(repr=False)
    damp_h: np.ndarray
    very_damp_h: np.ndarray
    dry_h: np.ndarray
    month_percent: np.ndarray
    litres: np.ndarray
    kwh: np.ndarray
    running_h: np.ndarray
    visits: np.ndarray
    full_h: np.ndarray

    def at(self, values: np.ndarray) -> tuple[float, float, float]:
        """10th, 50th and 90th percentile over the draws, without the central room."""
        drawn = values[1:] if len(values) > 1 else values
        low, middle, high = np.quantile(drawn, [0.1, 0.5, 0.9])
        return float(low), float(middle), float(high)

    @property
    def picks(self) -> tuple[int, int, int]:
        """The whole draws that stand at the 10th, 50th and 90th percentile of the damp hours."""
        if len(self.damp_h) == 1:
            return 0, 0, 0
        order = 1 + np.lexsort((self.month_percent[1:], self.damp_h[1:]))
        return tuple(int(order[round(share * (len(order) - 1))]) for share in (0.1, 0.5, 0.9))  # type: ignore


def machines_to_try(asked: DryingInputs) -> tuple[tuple[Machine, ...], tuple[str, ...]]:
    """The machines asked about, or common sizes; and what was assumed."""
    if asked.machines:
        return asked.machines, ()
    point = RatingPoint(27, 60)
    sizes = tuple(condensing(Capacity(Litres(float(size)), point)) for size in fig.MACHINE_SIZES_L_DAY)
    note = f"no machine was named: common sizes tried, as labels tell them at {point.words} (⟦machine_litres⟧)"
    return sizes, (note,)


def list_of(asked: DryingInputs, machines: tuple[Machine, ...]) -> list[Alternative]:
    """All alternatives within the room, doing nothing first."""
    strongest = max(machines, key=lambda machine: machine.rated_elsewhere(RatingPoint(20, 60)))
    middle = sorted(machines, key=lambda machine: machine.rated_elsewhere(RatingPoint(20, 60)))[len(machines) // 2]
    dried = [Alternative(MACHINE, machine.words, machine) for machine in machines]
    if not any(machine.kind == "desiccant" for machine in machines):
        rotor = desiccant(Capacity(Litres(float(fig.MACHINE_SIZES_L_DAY[1])), RatingPoint(20, 60)))
        dried.append(Alternative(MACHINE, rotor.words, rotor))
    tighter = f"air change cut to {asked.tighten_to or fig.TIGHTENED_TO:.0%}"
    return [
        Alternative(NOTHING, "do nothing"),
        *dried,
        Alternative(TIGHTER, f"{tighter}, no machine"),
        Alternative(TIGHTER_MACHINE, f"{tighter}, and {middle.words}", middle),
        Alternative(AIRED, "airing, only while outdoors is drier"),
        Alternative(HEATED, "heating when damp"),
        Alternative(ENCLOSED, "each painting in a closed frame with silica gel"),
        Alternative(HIRED, f"hired for the dampest month: {strongest.words}", strongest),
    ]


def run_all(
    alternatives: list[Alternative], drive: Forcing, draws: Samples, asked: DryingInputs, start_rh: float
) -> list[Counted]:
    """Every alternative through the weather: lanes side by side, without machines in one run, with them in another."""
    set_percent = asked.set_percent or float(fig.SET_PERCENT)
    tightened = asked.tighten_to or float(fig.TIGHTENED_TO)
    unaided = _without_machines({a.kind for a in alternatives}, drive, draws, start_rh, set_percent, tightened)
    first = unaided[NOTHING]
    found: dict[Alternative, Simulation] = {}
    machines = [a for a in alternatives if a.machine is not None]
    if machines:
        month = dampest_month(drive, first)
        found = _with_machines(machines, drive, draws, asked, start_rh, set_percent, tightened, month)
    out = []
    for alternative in alternatives:
        if alternative.kind == HEATED:
            heating = Heating(set_percent, float(fig.HEATING_MOST_K))
            run = simulate(drive, draws.rooms(start_rh), heating=heating)
        elif alternative.kind == ENCLOSED:
            run = enclosed(drive, first, start_rh)
        else:
            run = found[alternative] if alternative in found else unaided[alternative.kind]
        out.append(counted(alternative, run, drive.counted_from // drive.per_hour))
    return out


def _without_machines(kinds, drive, draws, start_rh, set_percent, tightened) -> dict[str, Simulation]:
    """One simulation for the room as it is, tighter and aired: lanes not aired would be so over an endless humidity."""
    m = draws.count
    kinds = [NOTHING, *(kind for kind in (TIGHTER, AIRED) if kind in kinds)]
    rooms = _stacked([draws.rooms(start_rh, tightened if kind == TIGHTER else 1.0) for kind in kinds], m)
    aired_over = np.repeat([set_percent if kind == AIRED else np.inf for kind in kinds], m)
    airing = Airing(float(fig.AIRING_CHANGES_H), aired_over) if AIRED in kinds else None
    run = simulate(drive, rooms, airing=airing)
    return {kind: _cut(run, slice(k * m, (k + 1) * m)) for k, kind in enumerate(kinds)}


def _with_machines(
    machines, drive, draws, asked, start_rh, set_percent, tightened, month
) -> dict[Alternative, Simulation]:
    """One simulation for all machines: lanes side by side, cut apart again."""
    m = draws.count
    parts = []
    for alternative in machines:
        factor = tightened if alternative.kind == TIGHTER_MACHINE else 1.0
        hired = alternative.kind == HIRED
        parts.append(
            (
                draws.rooms(start_rh, factor),
                alternative.machine.drying(
                    np.maximum(set_percent + draws.humidistat_percent, 20.0), draws.capacity_factor,
                    draws.efficiency_factor, tank_l=asked.tank_l or float("inf"),
                    from_step=month[0] if hired else 0, to_step=month[1] if hired else len(drive.time),
                ),
            )
        )  # fmt: skip
    run = simulate(drive, _stacked([rooms for rooms, _ in parts], m), _stacked([dry for _, dry in parts], m))
    return {a: _cut(run, slice(k * m, (k + 1) * m)) for k, a in enumerate(machines)}


def _stacked(parts: list, m: int):
    """Lanes of several runs side by side."""
    fields = {}
    for name in vars(parts[0]):
        values = [np.asarray(getattr(part, name)) for part in parts]
        if values[0].shape == (6,):
            fields[name] = np.concatenate([np.repeat(v[:, None], m, axis=1) for v in values], axis=1)
        else:
            fields[name] = np.concatenate([np.broadcast_to(v, m) for v in values])
    return type(parts[0])(**fields)


def _cut(run: Simulation, lanes: slice) -> Simulation:
    warmer = None if run.warmer_k is None else run.warmer_k[:, lanes]
    sums = (getattr(run, name)[lanes] for name in ("litres", "kwh", "running_h", "visits", "full_h", "condensed_g"))
    return Simulation(run.rh_percent[:, lanes], warmer, *sums)


def dampest_month(drive: Forcing, run: Simulation) -> tuple[int, int]:
    """First and last step of the 30 days that are dampest in the central room."""
    course = climate.running_mean(run.rh_percent[:, 0], min(720, len(run.rh_percent)))
    last = int(np.nanargmax(course)) + 1 if np.isfinite(course).any() else len(course)
    return max(last - 720, 0) * drive.per_hour, last * drive.per_hour


def enclosed(drive: Forcing, run: Simulation, start_rh: float) -> Simulation:
    """Inside a closed frame with silica gel, in the room as it is: the same balance, with the room for outdoors."""
    each = drive.per_hour
    temp_c = drive.temp_c.reshape(-1, each).mean(axis=1)
    rh = pd.DataFrame(run.rh_percent).ffill().bfill().to_numpy()
    around = rh / 100 * air.saturation_pressure(temp_c)[:, None]
    hourly = Forcing(drive.hours, 1.0, temp_c, around, drive.known_hours)
    gel = float(fig.ENCLOSURE_GEL_KG * fig.GEL_G_KG)
    frames = Rooms(float(fig.ENCLOSURE_VOLUME_M3), float(fig.ENCLOSURE_CHANGES_DAY) / 24, gel, 0.0,
                   np.full(rh.shape[1], min(start_rh, float(fig.SET_PERCENT))))  # fmt: skip
    return simulate(hourly, frames)


def counted(alternative: Alternative, run: Simulation, first: int = 0) -> Counted:
    """Hours over the lines, hours too dry and the dampest 30 days, by the functions that the hazards count with.

    Hours before row `first`, the run-in, are not counted.
    """
    damp, dry, month = [], [], []
    lanes = run.rh_percent[first:].T
    for block in np.array_split(lanes, max(len(lanes) // 100, 1)):
        values = np.asarray(block, float)
        damp.append(hours_over(values, 1.0, (fig.DAMP_LINE, fig.VERY_DAMP_LINE)))
        dry.append(np.isfinite(values).sum(-1) - hours_over(values, 1.0, (float(fig.DRY_LINE) - 1e-9,))[:, 0])
        month += [_highest(climate.running_mean(row, 720)) for row in values]
    over = np.concatenate(damp)
    return Counted(
        alternative, run.rh_percent, run.warmer_k, over[:, 0], over[:, 1], np.concatenate(dry), np.array(month),
        run.litres, run.kwh, run.running_h, run.visits, run.full_h,
    )  # fmt: skip


def _highest(course: np.ndarray) -> float:
    return float(np.nanmax(course)) if np.isfinite(course).any() else float("nan")
