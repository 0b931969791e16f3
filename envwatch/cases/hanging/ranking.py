"""Positions judged, put in order and answered in plain words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from envwatch.cases.hanging.judging import GOOD, GOOD_IF, MEASURE, NEVER
from envwatch.cases.hanging.model import PositionResult
from envwatch.cases.hanging.remedies import Cure
from envwatch.core.findings import Level


def in_order(judged: Sequence[PositionResult]) -> tuple[PositionResult, ...]:
    """Best first, each saying whether the data separate it from the next."""
    ranked = sorted(judged, key=lambda spot: (spot.rank, spot.name))
    return tuple(
        replace(spot, apart=None if n + 1 == len(ranked) or spot.kind == NEVER else apart(spot, ranked[n + 1]))
        for n, spot in enumerate(ranked)
    )


def apart(better: PositionResult, worse: PositionResult) -> bool:
    """Whether the data separate two positions: by class, by the level of the worst count, or beyond doubt on it."""
    if better.kind != worse.kind or worse.low > better.high:
        return True
    if not worse.found:
        return False
    decides_ = worse.found[0]
    key = (decides_.worst.hazard, decides_.worst.mechanism)
    same = next((i for i in better.found if (i.worst.hazard, i.worst.mechanism) == key), None)
    if same is None or np.isnan(same.values[0]) or np.isnan(decides_.values[0]):
        return same is None and decides_.low >= Level.ACT
    u = max(same.uncertainty, decides_.uncertainty)
    return same.values[1] + u < decides_.values[0] - u or decides_.values[1] + u < same.values[0] - u


def answer(ranked: Sequence[PositionResult]) -> str:
    """Always an answer: of these, this one, and if what."""
    first = ranked[0]
    of = f"Of these {len(ranked)}" if len(ranked) > 1 else "Of the one described"
    if first.kind == GOOD:
        return f"{of}, {first.name}."
    if first.kind == GOOD_IF:
        return f"{of}, {first.name}, if you {joined(first.conditions)}."
    if first.kind == MEASURE:
        tail = f": {first.decider.ask} {capital(first.decider.measure)}" if first.decider else ""
        return f"{of}, {first.name}, if what is not known yet turns out well{tail}."
    nearest = next((spot for spot in ranked if _curable(spot)), None)
    if nearest is not None:
        todo = joined([cure.words for cure in chosen(nearest.cures)])
        return f"{of}, none as described; the nearest is {nearest.name}, if you {todo}. Until then let us keep it."
    here = [cure for spot in ranked for cure in spot.cures if cure.kind == "inner wall"]
    inner = " An inner wall of the same room would do." if here else ""
    return f"{of}, none as described.{inner} Until another place is found, let us keep it."


def _curable(spot: PositionResult) -> bool:
    over = {(i.worst.hazard, i.worst.mechanism) for i in spot.found if i.high >= Level.ACT}
    return bool(spot.cures) and over <= {key for cure in chosen(spot.cures) for key in cure.clears}


def chosen(solved: Sequence[Cure]) -> list[Cure]:
    """The fewest changes at the position itself that do what can be done."""
    done: set = set()
    out = []
    for cure in solved:
        if cure.kind != "inner wall" and not set(cure.clears) <= done:
            out.append(cure)
            done |= set(cure.clears)
    return out


def decides(ranked: Sequence[PositionResult]) -> str:
    """The one thing to find out that would decide most: of the first position for which there is one."""
    first = next((spot for spot in ranked if spot.decider is not None and spot.kind != NEVER), None)
    if first is None or first.decider is None:
        return ""
    return f"{first.name}: {first.decider.ask} {capital(first.decider.measure)}."


def capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def joined(parts: Sequence[str]) -> str:
    return "; and ".join(parts) if parts else "look at it in the first winter"
