"""What all findings share: from a value to a level, what missing data do to it, whether its air has ended.

And the lines for `why`: readings, means and lag steps with their numbers put in, and what would change the level.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd

from envwatch.climate.series import Climate
from envwatch.core.arrays import Array, Mask
from envwatch.core.findings import Certainty, Finding, Level
from envwatch.core.place import Sensor
from envwatch.core.text import stamp
from envwatch.figures import Figure
from envwatch.figures.coverage import CLEAR_NEEDS, ENDED_NEEDS_H, SPELL_BRIDGES_H

HOUR = pd.Timedelta(hours=1)
Lines = tuple[tuple[str, str], ...]
LISTED = 12  # readings of one hour that are written out
LEANS_ON = 3  # time constants of its past that a lagged value leans on: 95 % of it


def grade(value: float, watch: float, act: float | None = None, urgent: float | None = None, *, sign: int = 1) -> Level:
    """Level of a value that is worse the higher it is, or with `sign` -1 the lower. NaN is UNKNOWN, never clear.

    >>> grade(42, 35, 40, 45), grade(float("nan"), 35), grade(24, 35, 25, sign=-1)
    (<Level.ACT: 3>, <Level.UNKNOWN: 1>, <Level.ACT: 3>)
    """
    if np.isnan(value):
        return Level.UNKNOWN
    level = Level.CLEAR
    for limit, reached in ((watch, Level.WATCH), (act, Level.ACT), (urgent, Level.URGENT)):
        if limit is not None and not np.isnan(limit) and sign * value >= sign * limit:
            level = reached
    return level


def certainty(value: float, uncertainty: float, *limits: float | None) -> Certainty:
    """Whether a value can be told from the nearest limit at its uncertainty. Never changes the level."""
    distances = [abs(value - limit) for limit in limits if limit is not None and not np.isnan(limit)]
    if not distances or np.isnan(value) or np.isnan(uncertainty):
        return Certainty.CANNOT_TELL
    return Certainty.CERTAIN if min(distances) > uncertainty else Certainty.CANNOT_TELL


def with_open_level(finding: Finding) -> Finding:
    """A finding that may be of a higher level by what was not read cannot be told, and its sentence says so."""
    most = finding.level_high
    if most is None or most <= max(finding.level, Level.UNKNOWN):
        return finding
    up_to = "" if np.isnan(finding.value_high) else f"{finding.value_high:.1f} {finding.unit}, which is "
    said = f"{finding.sentence.removesuffix('.')}; with what was not read it may be {up_to}{most.word}."
    return replace(finding, sentence=said, certainty=Certainty.CANNOT_TELL)


def concluded(
    finding: Finding, coverage: float, reason: str, time: pd.DatetimeIndex | None = None, over: Mask | None = None,
    read: Mask | None = None, window_h: float = 1,
) -> Finding:  # fmt: skip
    """A finding with what was read of its period and, where it is raised, until when its air was over the limit.

    A clear finding from too little of its period becomes UNKNOWN with the reason; others keep their level. A raised one
    is given the end of its last hour over a limit, and when it ended: with nothing read since, or less than a day
    within the limit, `Finding.ended` stays None.

    Parameters
    ----------
    coverage : share of the judged period that was read, 0 to 1; NaN counts as nothing read.
    reason : one plain sentence, used in place of the finding's own when it turns unknown.
    time : (n,) whole hours of the record, those read after the period too.
    over, read : (n,) hours over the limit of its level, of an urgent one that of act; hours in which that can be told.
    window_h : hours from which each is formed: a mean or a range of a day holds the day that has to pass. [h]
    """
    changed: dict[str, Any] = {"coverage": coverage}
    if finding.level is Level.CLEAR and not coverage >= CLEAR_NEEDS:
        changed |= {"level": Level.UNKNOWN, "sentence": reason, "certainty": Certainty.CANNOT_TELL}
    if finding.level >= Level.WATCH and time is not None and over is not None and read is not None and over.any():
        last = int(np.flatnonzero(over)[-1])
        until = time[last] + HOUR
        enough = int(read[last + 1 :].sum()) >= max(ENDED_NEEDS_H - window_h, float(SPELL_BRIDGES_H))
        changed |= {"until": until, "ended": until if enough else None}
    return replace(finding, **changed)


def cited(figure: float) -> str:
    """A figure with where it is from and how far to trust it.

    >>> from envwatch.figures import canvas
    >>> cited(canvas.DAMP_DANGER_RH), cited(70.0)
    ('90 (berger-russell-1994, published)', '70')
    """
    if not isinstance(figure, Figure):
        return f"{figure:.3g}"
    known = figure.confidence.value
    return (
        f"{float(figure):g} ({known})" if figure.source == "our-judgement" else f"{figure:g} ({figure.source}, {known})"
    )


def what_would_change(
    value: float, unit: str, steps: Sequence[float | None], sign: int = 1, worse_by: int = 0, digits: int = 1
) -> Lines:
    """How far the value is from the next level either way.

    Parameters
    ----------
    value, steps : the value and its limits of watch, act and urgent, as many as there are; NaN or None for none.
    sign : -1 where lower is worse.
    worse_by : levels that something else adds.

    >>> what_would_change(42.0, "°C", (35, 40, 45))
    (('what would change the level', '3.0 °C more would be urgent; more than 2.0 °C less would be watch'),)
    """
    held = [(float(s), level) for s, level in zip(steps, (2, 3, 4), strict=False) if s is not None and not np.isnan(s)]
    if np.isnan(value) or not held:
        return ()
    more, less = ("more", "less") if sign > 0 else ("less", "more")
    above = [(s, level) for s, level in held if sign * value < sign * s]
    below = [(s, level) for s, level in held if sign * value >= sign * s]
    words = [Level.CLEAR.word, *(Level(min(level + worse_by, int(Level.URGENT))).word for level in range(1, 5))]
    said = [f"{abs(above[0][0] - value):.{digits}f} {unit} {more} would be {words[above[0][1]]}"] if above else []
    if below:
        lower = below[-2][1] if len(below) > 1 else 0
        said.append(f"more than {abs(value - below[-1][0]):.{digits}f} {unit} {less} would be {words[lower]}")
    return (("what would change the level", "; ".join(said)),)


def hour_of_readings(there: Climate, at: pd.Timestamp, quantity: str, zone: str) -> Lines:
    """The readings that an hourly mean was made of. `quantity` is "temp_c" or "rh_percent"."""
    hour = there.between(at, at + pd.Timedelta(hours=1))
    values = getattr(hour, quantity)
    read = np.isfinite(values)
    if not read.any():
        return ()
    unit, local = "°C" if quantity == "temp_c" else "% RH", at.tz_convert(zone)
    mean = float(np.average(values[read], weights=hour.hours[read]))
    listed = ", ".join(f"{v:g}" for v in values[read].round(3).tolist()[:LISTED])
    more = f" … ({read.sum()} readings)" if read.sum() > LISTED else ""
    said = f"{listed}{more} {unit}, time-weighted mean {mean:.2f} {unit}"
    return ((f"readings of the hour from {local:%H:%M}", said),)


def lag_step(before: float, air: float, tau_h: float, after: float) -> Lines:
    """One step of the lag with its numbers."""
    if np.isnan([before, air, after]).any():
        return ()
    return ((
        "lag, the last step",
        f"{before:.2f} + (1 - exp(-1 / {tau_h:g})) ({air:.2f} - {before:.2f}) = {after:.2f} % RH",
    ),)  # fmt: skip


def mean_of_hours(values: Array, what: str, unit: str) -> Lines:
    """A mean with the hours it was made of; those that were not read are left out."""
    read = values[np.isfinite(values)]
    if not len(read):
        return ()
    listed = ", ".join(f"{v:.1f}" for v in read.tolist())
    return (
        (
            f"mean of {len(read)} hours",
            f"{what}: {listed}; sum {read.sum():.1f} / {len(read)} = {read.mean():.2f} {unit}",
        ),
    )


def range_of_hours(values: Array, time: pd.DatetimeIndex, zone: str, unit: str) -> Lines:
    """Highest less lowest with their times."""
    if not np.isfinite(values).any():
        return ()
    top, low = int(np.nanargmax(values)), int(np.nanargmin(values))
    return ((
        "highest less lowest",
        f"{values[top]:.2f} ({stamp(time[top], zone)}) - {values[low]:.2f} ({stamp(time[low], zone)}) = "
        f"{values[top] - values[low]:.2f} {unit}",
    ),)  # fmt: skip


def day_means(values: Array, days: int, unit: str) -> Lines:
    """A mean over days with the mean of each day, all hours read or not: they weigh by the hours read."""
    rows = values[-days * 24 :].reshape(-1, 24) if len(values) >= days * 24 else np.empty((0, 24))
    counts = np.isfinite(rows).sum(axis=1)
    if not counts.sum():
        return ()
    sums = np.where(np.isfinite(rows), rows, 0.0).sum(axis=1)
    told = ", ".join(f"{s / n:.1f}" if n else "-" for s, n in zip(sums.tolist(), counts.tolist(), strict=True))
    return ((
        f"mean of {days} days", f"24 h means {told}; weighed by hours read, {sums.sum() / counts.sum():.2f} {unit}",
    ),)  # fmt: skip


def read_by(sensor: Sensor) -> tuple[str, str]:
    """The line of which loggers read the hours behind a value, and how far they are trusted."""
    whose = f"{sensor.logger}: " if sensor.logger else ""
    return (
        "sensor",
        f"{whose}bias ± {sensor.temp_bias_c:.3g} °C, ± {sensor.rh_bias_percent:.3g} % RH, noise ± "
        f"{sensor.temp_noise_c:.3g} °C, ± {sensor.rh_noise_percent:.3g} % RH; {sensor.basis}",
    )


def constants(*named: tuple[str, float]) -> Lines:
    """Constants and limits with source and confidence."""
    return (("constants and limits", "; ".join(f"{name} {cited(figure)}" for name, figure in named)),)
