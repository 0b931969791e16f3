"""Rooms that could as well be this one: paired draws, the same for every alternative. Lane 0 is the central room."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from envwatch.cases.dehumidifier.identify import RoomEstimate
from envwatch.cases.dehumidifier.inputs import DryingInputs, Range
from envwatch.figures import dehumidifier as fig
from envwatch.physics.room import Rooms, per_percent

Z80 = 1.2816  # an 80 % range reaches so many standard deviations to either side


@dataclass(frozen=True, eq=False)
class Samples:
    """Plausible rooms and machines, one a lane (m,); lane 0 has every figure at its best or middle value."""

    rate_h: np.ndarray
    changes_h: np.ndarray
    buffer_g: np.ndarray
    source_g_h: np.ndarray
    off_percent: np.ndarray  # what the room's logger reads too high
    capacity_factor: np.ndarray
    efficiency_factor: np.ndarray
    humidistat_percent: np.ndarray
    heat_loss_w_k: np.ndarray
    volume_m3: float

    @property
    def count(self) -> int:
        return len(self.rate_h)

    def rooms(self, start_rh: float, changes_factor: float = 1.0) -> Rooms:
        """As lanes of a simulation."""
        return Rooms(
            self.volume_m3, self.changes_h * changes_factor, self.buffer_g, self.source_g_h,
            np.clip(start_rh - self.off_percent, 1, 100), self.heat_loss_w_k,
        )  # fmt: skip

    @property
    def causes(self) -> dict[str, np.ndarray]:
        """What was drawn, by the words a person reads."""
        return {
            "air change": self.changes_h, "moisture given off": self.source_g_h,
            "how fast the room follows": self.rate_h, "what the machine does of its label": self.capacity_factor,
            "litres per kWh": self.efficiency_factor, "the room's logger": self.off_percent,
            "the machine's humidistat": self.humidistat_percent, "heat lost through the walls": self.heat_loss_w_k,
        }  # fmt: skip


def drawn(learnt: RoomEstimate, asked: DryingInputs, volume_m3: float, count: int) -> Samples:
    """So many rooms, after the central one."""
    random = np.random.default_rng(asked.seed)
    pick = random.integers(0, len(learnt.rate_h), count)
    rate = np.append(learnt.best[0], learnt.rate_h[pick])
    capacity = np.append(learnt.best[2], learnt.capacity_g[pick])
    normal = {name: np.append(0.0, random.standard_normal(count)) for name in (
        "in", "out", "changes", "source", "capacity", "efficiency", "humidistat", "loss", "year")}  # fmt: skip
    off_in, off_out = (learnt.bias_g_m3[k] / 2 * normal[side] for k, side in enumerate(("in", "out")))
    excess = np.append(learnt.best[1], learnt.excess_g_m3[pick]) - off_in + off_out
    air = volume_m3 * float(per_percent(learnt.reference_c))
    changes = _changes(asked, volume_m3, excess, rate * capacity / air, normal)
    changes = np.maximum(changes, rate)
    held = changes / rate * air - air
    if asked.source_g_h is not None:
        source = _within(asked.source_g_h, normal["source"])
    else:
        source = excess * changes * volume_m3 * float(fig.SOURCE_GSD) ** normal["year"]
    loss = asked.heat_loss_w_k or volume_m3 * float(fig.HEAT_LOSS_W_M3K)
    spread = 1.0 if asked.heat_loss_w_k else float(fig.HEAT_LOSS_GSD)
    factor = np.clip(fig.CAPACITY_FACTOR + fig.CAPACITY_SD * normal["capacity"], 0.4, 1.2)
    return Samples(
        rate, changes, np.maximum(held, 0.0), source, off_in / float(per_percent(learnt.reference_c)), factor,
        np.clip(1 + fig.EFFICIENCY_SD * normal["efficiency"], 0.5, 1.5), fig.HUMIDISTAT_SD * normal["humidistat"],
        loss * spread ** normal["loss"], volume_m3,
    )  # fmt: skip


def _changes(asked: DryingInputs, volume_m3: float, excess, weighed, normal) -> np.ndarray:
    """The air change: as said; from weighed water; from a source that was said; else what rooms commonly have."""
    if asked.air_change_h is not None:
        return _within(asked.air_change_h, normal["changes"])
    if np.isfinite(weighed).all():
        return weighed
    common = fig.AIR_CHANGE_PRIOR[0] * fig.AIR_CHANGE_PRIOR[1] ** normal["changes"]
    if asked.source_g_h is not None and (excess > 0).any():
        said = _within(asked.source_g_h, normal["source"]) / (np.maximum(excess, 1e-6) * volume_m3)
        return np.where(excess > 0, np.clip(said, 1e-3, 20), common)
    return common


def _within(span: Range, normal: np.ndarray) -> np.ndarray:
    """Log-normal values with an 80 % range; of a span from 0, evenly spread below its upper end."""
    low, high = span
    if low <= 0:
        from scipy.special import ndtr

        return high * ndtr(normal)
    return np.sqrt(low * high) * (high / low) ** (normal / (2 * Z80))


def how_sized(asked: DryingInputs, learnt: RoomEstimate) -> str:
    """Where the absolute scale came from, in words."""
    if asked.air_change_h is not None:
        return "air change as given"
    if np.isfinite(learnt.capacity_g).all():
        return "air change from the water weighed"
    if asked.source_g_h is not None:
        return "air change from the source given"
    low, high = (fig.AIR_CHANGE_PRIOR[0] * fig.AIR_CHANGE_PRIOR[1] ** (s * Z80) for s in (-1, 1))
    return f"air change not known: {low:.2g} to {high:.2g} /h drawn, as rooms commonly have (our judgement)"
