"""The working behind a lining finding, for `why`: each line a figure or an equation with its numbers put in."""

from __future__ import annotations

import numpy as np

from envwatch.core.arrays import Array
from envwatch.core.findings import Level
from envwatch.figures import lining as fig
from envwatch.figures.materials.first_weeks import LININGS
from envwatch.hazards.lining.layer_tests import COLD, DAMP, DAY_H, HEAT, MONTH_H, SWING, LayerTest, Length
from envwatch.hazards.lining.layers import span_end
from envwatch.hazards.lining.messages import basis, where_judged
from envwatch.hazards.lining.softening import damp_dwell, equivalent_hours, glue_softening_rh, glue_tg, glue_water
from envwatch.hazards.working import (
    cited,
    day_means,
    hour_of_readings,
    lag_step,
    mean_of_hours,
    range_of_hours,
    read_by,
    what_would_change,
)

Lines = list[tuple[str, str]]


def working(r: LayerTest) -> tuple[tuple[str, str], ...]:
    """Where the air was taken, lag, limits in force at the worst hour, and what belongs to the mechanism."""
    lines: Lines = [("air", where_judged(r))]
    if r.mechanism not in (HEAT, COLD):
        lines.append((
            "lag",
            f"y + (1 - exp(-1 h / {r.air.tau_h:g} h)) (x - y) each hour, as if this layer had no other before it "
            "(our judgement)",
        ))  # fmt: skip
    lines += _value(r)
    lines.append(("limits at that hour", _limits(r)))
    if r.figure is not None and r.figure.note:  # where the materials file says it
        lines.append(("why this limit", r.figure.note))
    lines += _held(r) or what_would_change(r.value, r.unit, r.steps, r.sign, worse_by=int(r.trimmed))
    lines += _heat(r) if r.mechanism == HEAT else _damp(r) if r.mechanism == DAMP else []
    lines.append(read_by(r.sensor))
    lines += [("the studio's own", said) for said in r.link.profile.overruled]
    return tuple(lines)


def _limits(r: LayerTest) -> str:
    limits = r.limits
    words = [
        f"{word} {cited(plain) if plain is not None and plain == step else f'{step:.3g}'}"
        for word, step, plain in zip(
            ("watch", "act", "urgent"), r.steps, (limits.watch, limits.act, limits.urgent), strict=True
        )
        if np.isfinite(step)
    ]
    first = "; first weeks counted in" if span_end(r.link.fresh, r.at) is not None else ""
    return f"{r.link.profile.label}: {', '.join(words)} {r.unit} ({basis(r)}){first}"


def _value(r: LayerTest) -> Lines:
    """The value with the hours it was made of, so that it can be done again by hand."""
    air, row, zone = r.air, r.row, r.air.exposure.zone_at(r.at)
    window = slice(max(row - DAY_H + 1, 0), row + 1)
    if r.mechanism in (HEAT, COLD) and r.test == Length.HOUR:
        return list(hour_of_readings(air.there, r.at, "temp_c", zone))
    if r.mechanism == HEAT and r.test == Length.MONTH:
        return list(day_means(air.temp_c[: row + 1], MONTH_H // 24, "°C"))
    if r.mechanism == HEAT:
        return list(mean_of_hours(air.temp_c[window], "hourly means", "°C"))
    before = float(air.lagged_percent[row - 1]) if row else np.nan
    step = lag_step(before, float(air.rh_percent[row]), air.tau_h, float(air.lagged_percent[row]))
    if r.mechanism == SWING:
        return [*step, *range_of_hours(air.settled_percent[window], air.time[window], zone, "% RH")]
    return [*step, *mean_of_hours(air.lagged_percent[window], "lagged humidity y", "% RH")]


def _held(r: LayerTest) -> Lines:
    """What would change a damp level that the cold of the day holds at watch."""
    if r.held_by_cold is None:
        return []
    return [(
        "what would change the level",
        f"a 24-hour mean of {fig.COLD_CAP_TEMP_C:g} °C or more would be {r.held_by_cold.word}; more than "
        f"{r.value - r.steps[0]:.1f} % RH less would be {Level.CLEAR.word}",
    )]  # fmt: skip


def _heat(r: LayerTest) -> Lines:
    temp = r.air.judged_temp_c
    onset = r.link.profile.softening_c
    lines: Lines = []
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
    return lines


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
    counts = r.air.judged(1) & ~r.air.drying
    humid = r.air.lagged_percent[counts]
    dwell = damp_dwell(humid, r.limit)
    lines: Lines = [(
        "hours damp", f"{dwell.hours:g} h at or over {r.limit:.3g} % RH, longest {dwell.longest_h:g} h, "
        f"excess {dwell.excess:.0f} % RH h",
    )]  # fmt: skip
    if r.link.freezes_dry and _day_temp(r) < fig.COLD_CAP_TEMP_C:
        lines.append((
            "cold",
            f"with a 24-hour mean under {fig.COLD_CAP_TEMP_C:g} °C and {fig.COLD_CAP_PERCENT:g} % RH, watch at most",
        ))  # fmt: skip
    if r.link.profile.water_softening == "gelatine":
        lines.append(_glue_line(r))
    return lines


def _day_temp(r: LayerTest) -> float:
    """Mean temperature of the 24 hours to the worst hour. [°C]"""
    return float(r.air.window("mean", "temp_c", DAY_H, r.link.born_row(r.air.time), None)[r.row])


def _glue_line(r: LayerTest) -> tuple[str, str]:
    temp = _day_temp(r)
    if not np.isfinite(temp):
        return "glue softening line", "not tested: the temperature of that day was not read"
    return (
        "glue softening line, indicative",
        f"{float(glue_water(r.value, temp)):.1f} g water in 100 g dry glue at {r.value:.1f} % RH, softens at "
        f"{float(glue_tg(r.value, temp)):.0f} °C (Gordon-Taylor); at {temp:.1f} °C the line lies at "
        f"{float(glue_softening_rh(temp)):.1f} % RH, 10 °C before it at {float(glue_softening_rh(temp, 10)):.1f} % RH",
    )
