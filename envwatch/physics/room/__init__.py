"""One room's moisture: the balance, many rooms through the same weather, and what a log tells of its room."""

from envwatch.physics.room.balance import (
    buffering,
    content,
    latent_kwh_per_kg,
    load_g_h,
    mean_over_step,
    per_percent,
    step_factors,
)
from envwatch.physics.room.simulate import Airing, Drying, Forcing, Heating, Rooms, Simulation, curve_share, simulate

__all__ = [
    "Airing", "Forcing", "Drying", "Heating", "Rooms", "Simulation", "buffering", "content", "curve_share",
    "latent_kwh_per_kg", "load_g_h", "mean_over_step", "per_percent", "simulate", "step_factors",
]  # fmt: skip
