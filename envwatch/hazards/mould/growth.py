"""The growth index at one surface: its finding, its course, and what gaps in the air leave open of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from envwatch import air, climate
from envwatch.climate.exposure import WALL_FACE
from envwatch.core.arrays import Array, ArrayLike, Mask
from envwatch.core.findings import Certainty, Finding, Hazard, Level, Mechanism
from envwatch.core.painting import Observation
from envwatch.figures import mould as fig
from envwatch.figures.coverage import CLEAR_NEEDS
from envwatch.hazards.grading import (
    Lines,
    concluded,
    constants,
    grade,
    what_would_change,
    with_open_level,
)
from envwatch.hazards.mould.harsher import harsher_index
from envwatch.hazards.mould.index import (
    critical_rh,
    decline_coefficient,
    declined,
    equation,
    favourable,
    index_course,
    mould_index,
)
from envwatch.hazards.mould.surfaces import FETCH, Surface, raised

LIMITS = (fig.INDEX_WATCH, fig.INDEX_ACT, fig.INDEX_URGENT)


@dataclass(frozen=True, eq=False)
class _Run:
    """The index on one reading of the air: as published, at its harsher course, and the hours that favour growth."""

    index: Array  # (n,) over the record, NaN in a gap
    value: float  # highest in the period, as published
    harsher: float  # highest in the period, with short damp stretches taken as dry where that ends higher
    favourable_h: int  # of the period

    def level(self, start: float, looked: bool) -> Level:
        """The level of the harsher course; one lower only where no hour of the period favours growth."""
        level = grade(self.harsher, *LIMITS)
        if self.favourable_h or level is Level.CLEAR:
            return level
        if looked or self.harsher <= start:
            return Level.CLEAR
        return {Level.URGENT: Level.ACT, Level.ACT: Level.WATCH}.get(level, Level.CLEAR)


def _run(surface: Surface, temp_c: Array, rh_percent: Array) -> _Run:
    """The index of a surface on some hourly air; the harsher course only where it could reach a limit."""
    kind, start, first = surface.sensitivity, surface.weak.start, surface.first
    index = index_course(temp_c, rh_percent, 1.0, kind, start=start)
    wet = favourable(temp_c, rh_percent, kind)
    value = harsher = float(np.fmax.reduce(index[first:], initial=np.nan))
    if grade(value + most_above(wet), *LIMITS) > grade(value, *LIMITS):
        harsher = float(np.fmax.reduce(harsher_index(temp_c, rh_percent, kind, start=start)[first:], initial=np.nan))
    return _Run(index, value, harsher, int(wet[first:].sum()))


def most_above(wet: Mask, decline: float | str = fig.DECLINE_DEFAULT) -> float:
    """How far the harsher course can lie over the published one, at most: what so many restarts may cost.

    (n,) true in favourable hours. Each damp stretch costs the quick decline once; from index 1 on growth may be twice
    as fast, which may double what was saved.
    """
    stretches = int(np.count_nonzero(np.diff(wet.astype(np.int8), prepend=0) > 0))
    return 2 * stretches * decline_coefficient(decline) * float(declined(fig.DECLINE_EARLY_H))


def _others(surface: Surface, run: _Run) -> dict[str, _Run]:
    """What the index may have been: on air shifted by the sensor's bias, and with the gaps filled."""
    bias, temp_c, rh = surface.bias_percent(surface.there.sensor), surface.temp_c, surface.rh_percent
    airs = {"drier": (temp_c, np.clip(rh - bias, 0, 100)), "damper": (temp_c, np.clip(rh + bias, 0, 100))}
    airs |= zip(("low", "high", "worst"), gap_fillings(temp_c, rh), strict=False)
    return {"low": run, "high": run, "worst": run} | {name: _run(surface, *there) for name, there in airs.items()}


def index_finding(surface: Surface, looked: Sequence[Observation]) -> Finding:
    """The growth index at one surface: its highest value in the judged period, and where its course leads.

    An index none of whose hours in the period favoured growth asks for one level less, and for nothing once somebody
    has looked since: `looked` are the observations that found none.
    """
    kind = surface.sensitivity
    run = _run(surface, surface.temp_c, surface.rh_percent)
    if not np.isfinite(run.value):
        return _index_unseen(surface, "Nothing was read in the period")
    others = _others(surface, run)
    peak = surface.time[int(np.nanargmax(run.index))]
    seen = any(peak <= look.on <= surface.end for look in looked)  # somebody looked after it was highest, and saw none
    level = run.level(surface.weak.start, seen)
    reached = {name: other.level(surface.weak.start, seen) for name, other in others.items()}
    levels = {level, *reached.values()}
    # since when it stands over the limit; not told where only its harsher course does
    limit = max((step for step in LIMITS if run.harsher >= step), default=fig.INDEX_WATCH)
    passed = np.flatnonzero(np.nan_to_num(run.index) >= limit)
    since = surface.time[passed[0]] if run.harsher >= fig.INDEX_WATCH and len(passed) else None
    finding = Finding(
        Hazard.MOULD, Mechanism.GROWTH_INDEX, surface.layer, surface.point, level,
        _index_sentence(surface, run, level),
        value=run.value, uncertainty=(others["damper"].value - others["drier"].value) / 2,
        limit=limit, unit="index 0 to 6", hours=float(run.favourable_h),
        since=since,
        worst_at=surface.time[surface.first + int(np.nanargmax(run.index[surface.first :]))],
        certainty=Certainty.CERTAIN if len(levels) == 1 else Certainty.CANNOT_TELL,
        level_high=max(reached[name] for name in ("low", "high", "worst")),
        working=_index_working(surface, run, others),
        **raised(level, surface.end, "an index that no longer grows, and nothing found on looking"),
    )  # fmt: skip
    finding = replace(with_open_level(finding), level_high=max(levels))
    most = others["high"].value
    if level is Level.CLEAR and reached["high"] > Level.CLEAR:
        return _index_unseen(surface, f"The gaps leave the index open, up to {most:.1f}")
    whole = surface.whole
    return concluded(
        finding, surface.period.coverage,
        f"Only {surface.period.coverage:.0%} of the period was read {surface.where}: growth is not known.",
        whole.time, favourable(whole.temp_c, whole.rh_percent, kind), whole.read,
    )  # fmt: skip


def _index_sentence(surface: Surface, run: _Run, level: Level) -> str:
    said, held = f"Growth index {run.value:.2f} of 6 {surface.where}", run.index
    if grade(run.harsher, *LIMITS) > grade(run.value, *LIMITS):
        said += f", {run.harsher:.2f} with its short damp stretches taken as dry"
    if level is Level.CLEAR and run.harsher < fig.INDEX_WATCH:
        return f"{said}; {run.favourable_h} h favoured growth. Under 80 % RH the index says nothing: the damp hours do."
    reached = surface.date(surface.time[int(np.nanargmax(held))])
    before = " (mould was seen before)" if surface.weak.start else ""
    if not run.favourable_h:
        return f"{said}{before}, highest on {reached}; no growth in this period."
    before_h = held[: surface.first][np.isfinite(held[: surface.first])]
    begun = before_h[-1] if len(before_h) else surface.weak.start
    if not np.nanmax(held[surface.first :]) - begun > fig.INDEX_GREW:
        return (
            f"{said}{before}, highest on {reached}; {run.favourable_h} h of this period favoured growth, which keeps "
            "it where it is."
        )
    if run.value < fig.INDEX_MICROSCOPIC:
        stage = "nearing growth that a microscope would show"
    else:
        seen_by = "visible growth" if run.value >= fig.INDEX_VISIBLE else "growth that a microscope would show"
        stage = f"{seen_by} has become possible"
    course = foretold(surface, float(held[np.isfinite(held)][-1]))
    return f"{said} and growing: {stage} {surface.on_layer}.{course}"


def foretold(surface: Surface, index: float) -> str:
    """Where the index leads if the air goes on as in the last four weeks: a dated sentence, or ""."""
    hours = int(fig.COURSE_H)
    temp, rh = surface.temp_c[-hours:], surface.rh_percent[-hours:]
    if index >= fig.INDEX_VISIBLE or surface.read[-hours:].sum() < CLEAR_NEEDS * hours:
        return ""
    rounds = int(fig.COURSE_UP_TO_H // hours)
    ahead = index_course(np.tile(temp, rounds), np.tile(rh, rounds), 1.0, surface.sensitivity, start=index)
    visible = np.flatnonzero(np.nan_to_num(ahead) >= fig.INDEX_VISIBLE)
    if not len(visible):
        return " If the air stays as in the last four weeks, visible growth is not reached within two years."
    when = (surface.end + pd.Timedelta(hours=int(visible[0]))).tz_convert(surface.exposure.zone)
    return f" If the air stays as in the last four weeks, visible growth becomes possible {part_of_month(when)}."


def _index_working(surface: Surface, run: _Run, others: dict[str, _Run]) -> Lines:
    kind = surface.sensitivity
    excess = surface.rh_percent[surface.first :] - critical_rh(surface.temp_c[surface.first :], kind)
    at = surface.first + int(np.nanargmax(excess))
    milder = index_course(surface.temp_c, surface.rh_percent, 1.0, kind, "significant", surface.weak.start)[
        surface.first :
    ]
    bias, weak = surface.bias_percent(surface.there.sensor), surface.weak
    before = run.index[:at][np.isfinite(run.index[:at])]  # what the index had come to before the dampest hour
    harsher = (
        "damp stretches taken as dry",
        "one damp hour begins the quick decline of the published course anew; with short damp stretches taken as dry "
        f"where that ends higher it comes to {run.harsher:.3f}, and the level is that of the harsher (our judgement)",
    )
    return (
        *what_would_change(run.value, "index", LIMITS, digits=2),
        *constants(("watch", fig.INDEX_WATCH), ("act", fig.INDEX_ACT), ("urgent", fig.INDEX_URGENT),
                    ("cubic, weeks and slowing", fig.SLOWS_NEAR_HIGHEST), ("class speed", fig.CLASSES[kind][0]),
                    ("decline", fig.DECLINE_DEFAULT)),
        ("class", f"{kind}: {weak.why}" if surface.point != WALL_FACE else f"{kind}: papered or painted wall, assumed"),
        *equation(surface.temp_c[at], surface.rh_percent[at], kind, float(before[-1]) if len(before) else 0.0),
        ("course", f"from {weak.start:g} on {surface.date(surface.time[0])}; highest in period {run.value:.3f}"),
        *((harsher,) if run.harsher > run.value else ()),
        ("gaps", f"if dry in the gaps {others['low'].value:.3f}, if as damp as the dampest week "
                 f"{others['high'].value:.3f}, if as the dampest hour about them {others['worst'].value:.3f}"),
        ("decline", f"almost none (0.1); if significant (0.5), highest {np.nanmax(milder):.3f}"),
        ("sensor", f"humidity {-bias:+.1f} %: {others['drier'].value:.3f}; {bias:+.1f} %: "
                   f"{others['damper'].value:.3f}"),
        ("trust", "fitted to wood, not to lined canvas; it favours or does not favour mould, it does not inspect"),
    )  # fmt: skip


def _index_unseen(surface: Surface, why: str) -> Finding:
    return Finding(
        Hazard.MOULD, Mechanism.GROWTH_INDEX, surface.layer, surface.point, Level.UNKNOWN,
        f"{why} {surface.where}: whether mould could grow is not known.", limit=fig.INDEX_WATCH, unit="index 0 to 6",
        coverage=surface.period.coverage, do=FETCH,
        certainty=Certainty.CANNOT_TELL,
    )  # fmt: skip


def part_of_month(stamp: pd.Timestamp) -> str:
    """A forecast date, no sharper than it deserves.

    >>> part_of_month(pd.Timestamp("2027-03-14"))
    'about mid-March 2027'
    """
    third = "early " if stamp.day <= 10 else "mid-" if stamp.day <= 20 else "late "
    return f"about {third}{stamp:%B} {stamp.year}"


def mould_index_range(
    temp_c: ArrayLike, rh_percent: ArrayLike, sensitivity: str = "sensitive",
    decline: float | str = fig.DECLINE_DEFAULT, start: float = 0.0,
) -> tuple[Array, Array, Array]:  # fmt: skip
    """The index with what the gaps leave open, on hourly air.

    In a gap the air is taken as dry for the lowest, and for the highest as in the dampest week on record. The lowest
    and the highest are given in the gaps too; `held` is NaN there.

    Parameters
    ----------
    temp_c, rh_percent : (n,) regular hourly means, NaN in a gap. [°C], [% RH]
    sensitivity, decline, start : as in `mould_index`; `start` a number.

    Returns
    -------
    (n,) lowest, (n,) held, (n,) highest.

    Raises
    ------
    ValueError : as `mould_index`.

    Source: as `mould_index`; what a gap may have been is our judgement.

    >>> low, held, high = mould_index_range([20.0] * 4, [95.0, 95.0, float("nan"), 95.0])
    >>> bool(low[-1] < held[-1] < high[-1])
    True
    """
    held = mould_index(temp_c, rh_percent, 1.0, sensitivity, decline, start)
    fillings = gap_fillings(temp_c, rh_percent)
    if not fillings:
        return held, held, held
    low, high = (mould_index(*filled, 1.0, sensitivity, decline, start) for filled in fillings[:2])
    return low, held, high


def gap_fillings(temp_c: ArrayLike, rh_percent: ArrayLike) -> tuple[tuple[Array, Array], ...]:
    """The air with its gaps taken as dry; as damp as the dampest week on record; and as the dampest hour about them.

    (n,) hourly [°C], (n,) [% RH], NaN in a gap -> three pairs of (n,): at the temperature of that week, in which a gap
    counts as the worst read within a week about it; the last as warm and as damp as any hour within a week about the
    gap. Nothing without gaps, or of gaps alone.

    Source: what a gap may have been is our judgement.

    >>> [rh.tolist() for _, rh in gap_fillings([20.0] * 4, [90.0, float("nan"), 90.0, 60.0])]
    [[90.0, 0.0, 90.0, 60.0], [90.0, 82.5, 90.0, 60.0], [90.0, 90.0, 90.0, 60.0]]
    """
    temp, rh = np.broadcast_arrays(np.asarray(temp_c, np.float64), air.usable_rh(rh_percent))
    gap = ~(np.isfinite(temp) & np.isfinite(rh))
    if not gap.any() or gap.all():
        return ()
    near_c, near = climate.worst_in_gaps(np.where(gap, np.nan, temp)), climate.worst_in_gaps(np.where(gap, np.nan, rh))
    window = int(min(fig.GAP_TAKES_H, len(rh)))
    damp = climate.running_mean(near, window)  # a gap in a damp week makes it no drier
    last = int(np.nanargmax(damp)) if np.isfinite(damp).any() else len(rh) - 1
    week = slice(max(last - window + 1, 0), last + 1)
    if not np.isfinite(near[week]).any():  # of too few hours, all there are
        week = slice(None)
    week_c, week_percent = np.nanmean(near_c[week]), np.nanmean(near[week])
    filled_c = np.where(gap, week_c, temp)
    worst = np.where(gap, np.fmax(near_c, week_c), temp), np.where(gap, np.fmax(near, week_percent), rh)
    return (filled_c, np.where(gap, 0.0, rh)), (filled_c, np.where(gap, week_percent, rh)), worst
