"""The finding of the growth index at one surface: its level, its course, and what it says in words."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from envwatch.figures import mould as fig
from envwatch.figures.coverage import CLEAR_NEEDS
from envwatch.hazards import damp_clock
from envwatch.hazards.grading import clear_only_if_seen, grade
from envwatch.hazards.mould_class import Susceptibility
from envwatch.hazards.mould_model import critical_rh, equation, favourable, index_before, mould_index, mould_index_range
from envwatch.hazards.mould_words import FETCH, layer_at, on_layer, part_of_month
from envwatch.hazards.reckoning import constants, what_would_change
from envwatch.hazards.surfaces import Surface
from envwatch.records import WALL_FACE, Certainty, Finding, Level, Observation


def index_finding(surface: Surface, weak: Susceptibility, looked: Sequence[Observation]) -> Finding:
    """The growth index at one surface: its highest value in the judged period, and where its course leads.

    An index that did not grow in the period asks for one level less, and for nothing once somebody has looked since:
    `looked` are the observations that found none.
    """
    kind = sensitivity_at(surface, weak)
    low, held, high = mould_index_range(surface.temp_c, surface.rh_percent, kind, start=weak.start)
    judged = held[surface.first :]
    if not np.isfinite(judged).any():
        return _index_unseen(surface, weak, "Nothing was read in the period")
    top = int(np.nanargmax(judged))
    value, grew = float(judged[top]), _grew(held, surface.first, weak.start)
    level = _index_level(value, grew, weak.start, _looked_since(looked, surface, held))
    drier, damper = (_highest_if(surface, kind, weak.start, shift * surface.bias_percent) for shift in (-1, 1))
    finding = Finding(
        "mould", "growth index", layer_at(surface, weak), surface.point, level,
        _index_sentence(surface, weak, kind, held, value, grew, level),
        value=value, uncertainty=(damper - drier) / 2, limit=_limit_for(value), unit="index 0 to 6",
        hours=float(_favourable_h(surface, kind)), since=_since(surface, held, value),
        worst_at=surface.time[surface.first + top],
        certainty=_index_certainty(value, drier, damper, *(float(run[surface.first :].max()) for run in (low, high))),
        working=_index_working(surface, weak, kind, (low, held, high), (drier, damper)),
        **damp_clock.raised(level, surface.end, "an index that no longer grows, and nothing found on looking"),
    )  # fmt: skip
    if _index_grade(value) is Level.CLEAR and _index_grade(float(high[surface.first :].max())) > Level.CLEAR:
        return _index_unseen(surface, weak, f"The gaps leave the index open, up to {high[surface.first :].max():.1f}")
    return clear_only_if_seen(
        finding,
        surface.coverage,
        f"Only {surface.coverage:.0%} of the period was read {surface.where}: growth is not known.",
    )


def sensitivity_at(surface: Surface, weak: Susceptibility) -> str:
    """The class at a surface: the painting's own, or that of a papered or painted wall."""
    return fig.WALL_SENSITIVITY if surface.point == WALL_FACE else weak.sensitivity


LIMITS = (fig.INDEX_WATCH, fig.INDEX_ACT, fig.INDEX_URGENT)


def _index_grade(value: float) -> Level:
    return grade(value, *LIMITS)


def _limit_for(value: float) -> fig.Figure:
    """The highest limit reached, or the first one."""
    return max((limit for limit in LIMITS if value >= limit), default=fig.INDEX_WATCH)


def _index_level(value: float, grew: bool, start: float, looked: bool) -> Level:
    level = _index_grade(value)
    if grew or level is Level.CLEAR:
        return level
    if looked or value <= start:
        return Level.CLEAR
    return {Level.URGENT: Level.ACT, Level.ACT: Level.WATCH}.get(level, Level.CLEAR)


def _index_certainty(*values: float) -> Certainty:
    """Whether the index is at one level as held, on air shifted by the sensor's bias, and at both ends of the gaps."""
    same = len({_index_grade(value) for value in values}) == 1
    return Certainty.CERTAIN if same else Certainty.CANNOT_TELL


def _grew(held: np.ndarray, first: int, start: float) -> bool:
    before = held[:first][np.isfinite(held[:first])]
    return bool(np.nanmax(held[first:]) - (before[-1] if len(before) else start) > fig.INDEX_GREW)


def _looked_since(looked: Sequence[Observation], surface: Surface, held: np.ndarray) -> bool:
    """Whether somebody looked, and saw none, after the index was highest."""
    peak = surface.time[int(np.nanargmax(held))]
    return any(peak <= seen.on <= surface.end for seen in looked)


def _highest_if(surface: Surface, kind: str, start: float, shift_percent: float) -> float:
    rh = np.clip(surface.rh_percent + shift_percent, 0, 100)
    return float(np.nanmax(mould_index(surface.temp_c, rh, 1.0, kind, start=start)[surface.first :]))


def _favourable_h(surface: Surface, kind: str) -> int:
    """Hours of the judged period that favour growth."""
    return int(favourable(surface.temp_c[surface.first :], surface.rh_percent[surface.first :], kind).sum())


def _since(surface: Surface, held: np.ndarray, value: float) -> pd.Timestamp | None:
    """When the index first passed the limit it now stands over."""
    passed = np.flatnonzero(np.nan_to_num(held) >= _limit_for(value))
    return surface.time[passed[0]] if value >= fig.INDEX_WATCH and len(passed) else None


def _index_sentence(surface, weak, kind, held, value, grew, level) -> str:
    said = f"Growth index {value:.2f} of 6 {surface.where}"
    if level is Level.CLEAR and value < fig.INDEX_WATCH:
        hours = _favourable_h(surface, kind)
        return f"{said}; {hours} h favoured growth. Under 80 % RH the index says nothing: the damp hours do."
    if not grew:
        reached = surface.day(surface.time[int(np.nanargmax(held))])
        before = " (mould was seen before)" if weak.start else ""
        return f"{said}{before}, highest on {reached}; no growth in this period."
    if value < fig.INDEX_MICROSCOPIC:
        stage = "nearing growth that a microscope would show"
    else:
        seen_by = "visible growth" if value >= fig.INDEX_VISIBLE else "growth that a microscope would show"
        stage = f"{seen_by} has become possible"
    course = foretold(surface, kind, float(held[np.isfinite(held)][-1]))
    return f"{said} and growing: {stage} {on_layer(surface, weak)}.{course}"


def foretold(surface: Surface, kind: str, index: float) -> str:
    """Where the index leads if the air goes on as in the last four weeks: a dated sentence, or ""."""
    hours = int(fig.COURSE_H)
    temp, rh = surface.temp_c[-hours:], surface.rh_percent[-hours:]
    if index >= fig.INDEX_VISIBLE or surface.read[-hours:].sum() < CLEAR_NEEDS * hours:
        return ""
    rounds = int(fig.COURSE_UP_TO_H // hours)
    ahead = mould_index(np.tile(temp, rounds), np.tile(rh, rounds), 1.0, kind, start=index)
    visible = np.flatnonzero(np.nan_to_num(ahead) >= fig.INDEX_VISIBLE)
    if not len(visible):
        return " If the air stays as in the last four weeks, visible growth is not reached within two years."
    when = (surface.end + pd.Timedelta(hours=int(visible[0]))).tz_convert(surface.zone)
    return f" If the air stays as in the last four weeks, visible growth becomes possible {part_of_month(when)}."


def _index_working(surface, weak, kind, course, shifted) -> tuple[tuple[str, str], ...]:
    low, held, high = (run[surface.first :] for run in course)
    excess = surface.rh_percent[surface.first :] - critical_rh(surface.temp_c[surface.first :], kind)
    at = surface.first + int(np.nanargmax(excess))
    milder = mould_index(surface.temp_c, surface.rh_percent, 1.0, kind, "significant", weak.start)[surface.first :]
    return (
        *what_would_change(float(np.nanmax(held)), "index", LIMITS, digits=2),
        *constants(("watch", fig.INDEX_WATCH), ("act", fig.INDEX_ACT), ("urgent", fig.INDEX_URGENT),
                    ("cubic, weeks and slowing", fig.SLOWS_NEAR_HIGHEST), ("class speed", fig.CLASSES[kind][0]),
                    ("decline", fig.DECLINE_DEFAULT)),
        ("class", f"{kind}: {weak.why}" if surface.point != WALL_FACE else f"{kind}: papered or painted wall, assumed"),
        *equation(surface.temp_c[at], surface.rh_percent[at], kind, float(np.nan_to_num(index_before(course[1], at)))),
        ("course", f"from {weak.start:g} on {surface.day(surface.time[0])}; highest in period {np.nanmax(held):.3f}"),
        ("gaps", f"if dry in the gaps {low.max():.3f}, if as damp as the dampest week {high.max():.3f}"),
        ("decline", f"almost none (0.1); if significant (0.5), highest {np.nanmax(milder):.3f}"),
        ("sensor", f"humidity {-surface.bias_percent:+.1f} %: {shifted[0]:.3f}; "
                   f"{surface.bias_percent:+.1f} %: {shifted[1]:.3f}"),
        ("trust", "fitted to wood, not to lined canvas; it favours or does not favour mould, it does not inspect"),
    )  # fmt: skip


def _index_unseen(surface: Surface, weak: Susceptibility, why: str) -> Finding:
    return Finding(
        "mould", "growth index", layer_at(surface, weak), surface.point, Level.UNKNOWN,
        f"{why} {surface.where}: whether mould could grow is not known.", limit=fig.INDEX_WATCH, unit="index 0 to 6",
        coverage=surface.coverage, do=FETCH,
        certainty=Certainty.CANNOT_TELL,
    )  # fmt: skip
