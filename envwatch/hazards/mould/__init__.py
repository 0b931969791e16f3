"""Mould on a painting: damp hours, the growth index and the 30-day mean, on the air at each surface.

No model here was calibrated on a lined canvas, and none inspects it. The array functions of the index are in
`index`, those of the clock in `clock` and of the means in `damp_month`; the ones others call are named here.
"""

from __future__ import annotations

from collections.abc import Sequence

import pandas as pd

from envwatch.climate.exposure import Exposure
from envwatch.core.findings import Certainty, Finding, Hazard, Level, Mechanism
from envwatch.core.painting import Observation, Painting
from envwatch.core.place import Point
from envwatch.figures.materials import Materials
from envwatch.hazards.mould import clock, damp_month
from envwatch.hazards.mould.growth import index_finding, mould_index_range
from envwatch.hazards.mould.index import (
    critical_rh,
    decline_coefficient,
    equation,
    highest_index,
    mould_index,
    sensitivity_class,
    weeks_to_start,
)
from envwatch.hazards.mould.surfaces import FETCH, Susceptibility, denies_mould, surfaces, susceptibility, worst_of


def assess(
    exposure: Exposure, painting: Painting | None, start: pd.Timestamp, materials: Materials | None = None
) -> list[Finding]:
    """Damp hours, growth index and 30-day mean, each at the worst of the known surfaces, over [start, exposure.end).

    What came before `start` carries the index and fills the clock's own windows. Where no humidity was read at all,
    each is UNKNOWN. `materials`: the profiles in force; by default the packaged ones.
    """
    weak = susceptibility(painting, exposure.end, materials)
    looked = tuple(seen for seen in painting.observations if denies_mould(seen)) if painting else ()
    return list(exposure.once(("mould", weak, looked, start), lambda: _judged(exposure, weak, looked, start)))


def _judged(
    exposure: Exposure, weak: Susceptibility, looked: Sequence[Observation], start: pd.Timestamp
) -> list[Finding]:
    seen = surfaces(exposure, start, weak)
    if not seen:
        return [
            _nothing_read(weak, mechanism)
            for mechanism in (Mechanism.DAMP_HOURS, Mechanism.GROWTH_INDEX, Mechanism.DAMP_MONTH)
        ]
    return [
        worst_of(seen, clock.clock_finding),
        worst_of(seen, lambda surface: index_finding(surface, looked)),
        worst_of(seen, damp_month.month_finding),
    ]


def _nothing_read(weak: Susceptibility, mechanism: Mechanism) -> Finding:
    return Finding(
        Hazard.MOULD, mechanism, weak.layer, Point.ROOM, Level.UNKNOWN,
        "No humidity was read where this painting was: nothing is known of mould.", coverage=0.0, do=FETCH,
        certainty=Certainty.CANNOT_TELL,
    )  # fmt: skip


__all__ = [
    "assess", "critical_rh", "decline_coefficient", "equation", "highest_index", "mould_index",
    "mould_index_range", "sensitivity_class", "weeks_to_start",
]  # fmt: skip
