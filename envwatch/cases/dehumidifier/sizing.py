"""How large a machine must be by its label, what the water is made of, and what matters most."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from envwatch.cases.dehumidifier.machine import RatingPoint, needed_litres_day
from envwatch.cases.dehumidifier.sampling import Samples
from envwatch.figures import dehumidifier as fig
from envwatch.physics.room import Forcing, content, per_percent

ENDLESS = 1e9  # L/day


@dataclass(frozen=True)
class Label:
    """Litres a day that a label must promise at its rating point, in the middle room and in nine rooms of ten."""

    at: str
    litres_day: float
    litres_day_nine_in_ten: float
    kind: str


@dataclass(frozen=True)
class Load:
    """The water to be drawn off a day in the dampest stretch, which is as long as the room takes to follow."""

    litres_day: tuple[float, float, float]  # over the draws
    from_the_room: float  # share that the room itself gives off, in the middle room
    temp_c: float  # mean of the room on damp days
    colder_than_weak: float  # share of damp days colder than a basic condensing machine likes
    window_days: int
    labels: tuple[Label, ...]


@dataclass(frozen=True)
class DrawnEffect:
    """How much a drawn figure matters: damp hours (or water) where it is lowest and where it is highest."""

    name: str
    weight: float  # rank correlation
    at_low: float
    at_high: float
    of: str


def load(drive: Forcing, draws: Samples, set_percent: float) -> Load:
    """The load by days, and the labels that would carry it."""
    each = 24 * drive.per_hour
    first = drive.counted_from // each
    days = len(drive.time) // each
    temp_c, come, s1 = (
        values[: days * each].reshape(days, each).mean(axis=1)[first:]
        for values in (drive.temp_c, content(drive.outside_pa, drive.temp_c), per_percent(drive.temp_c))
    )
    flow = draws.changes_h * draws.volume_m3
    water = np.maximum(flow[:, None] * (come - set_percent * s1) + draws.source_g_h[:, None], 0.0)  # (m, days)
    window = _window_days(draws, len(temp_c))
    stretch = _running(water, window)
    design = stretch.max(axis=1)
    middle = int(np.argsort(design)[len(design) // 2])
    last = int(stretch[middle].argmax()) + window
    brought = max(float((flow[middle] * (come - set_percent * s1))[last - window : last].mean()), 0.0)
    given = max(float(draws.source_g_h[middle]), 0.0)
    on = water[middle] > 0
    damp_c = temp_c[on] if on.any() else temp_c
    return Load(
        _three(design * 0.024), given / (given + brought) if given + brought > 0 else 0.0, float(damp_c.mean()),
        float((damp_c < fig.CONDENSING_WEAK_BELOW_C).mean()), window,
        _labels(water, window, temp_c, set_percent, draws),
    )  # fmt: skip


def _three(values: np.ndarray) -> tuple[float, float, float]:
    low, middle, high = np.quantile(values, [0.1, 0.5, 0.9], method="lower")
    return float(low), float(middle), float(high)


def _window_days(draws: Samples, days: int) -> int:
    """As long as the central room takes to follow: what is shorter its things hold back."""
    follows = 1 / (24 * max(float(draws.rate_h[0]), 1e-6))
    return int(min(np.clip(round(follows), fig.DESIGN_DAYS[0], fig.DESIGN_DAYS[1]), days))


def _running(values: np.ndarray, window: int) -> np.ndarray:
    """Means over all whole windows along the last axis."""
    total = np.cumsum(np.concatenate([np.zeros((*values.shape[:-1], 1)), values], axis=-1), axis=-1)
    return (total[..., window:] - total[..., :-window]) / window


def _labels(water, window: int, temp_c, set_percent: float, draws: Samples) -> tuple[Label, ...]:
    """What each kind of label must say: the load of each day over what a machine does in that day's air."""
    out = []
    for name, point in fig.RATING_POINTS.items():
        kind = "desiccant" if name.startswith("20 ") else "condensing"
        rated = RatingPoint(float(point[0]), float(point[1]))
        share = np.array([needed_litres_day(1.0, t, set_percent, rated, kind) for t in temp_c.tolist()])
        # a day on which no machine of the kind works counts as one that asks for an endless one
        needed = np.where(water > 0, water * np.minimum(share, ENDLESS), 0.0) / draws.capacity_factor[:, None]
        _, middle, high = _three(_running(np.minimum(needed, ENDLESS), window).max(axis=1))
        middle, high = (float("inf") if value > ENDLESS / 1000 else value for value in (middle, high))
        out.append(Label(name, middle, high, kind))
    return tuple(out)


def causes(draws: Samples, damp_h: np.ndarray, water_l: np.ndarray) -> tuple[DrawnEffect, ...]:
    """What matters most, by rank: for the damp hours, or where hardly any are left, for the water drawn off."""
    drawn, of = damp_h[1:], "damp hours"
    if np.mean(drawn > 0) < 0.1:
        drawn, of = water_l[1:], "litres"
    if len(drawn) < 20 or np.ptp(drawn) <= 0:
        return ()
    rank = drawn.argsort().argsort()
    found = []
    for name, values in draws.causes.items():
        values = values[1:]
        if np.ptp(values) <= 0:
            continue
        order = values.argsort(kind="stable")
        fifth = max(len(order) // 5, 1)
        weight = float(np.corrcoef(values.argsort().argsort(), rank)[0, 1])
        found.append(
            DrawnEffect(name, weight, float(drawn[order[:fifth]].mean()), float(drawn[order[-fifth:]].mean()), of)
        )
    return tuple(sorted(found, key=lambda cause: -abs(cause.weight)))
