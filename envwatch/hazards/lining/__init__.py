"""The lining adhesive and every other layer that glue, wax or resin holds: heat, damp, dryness, cold, daily swing.

Each layer is judged by its own limits, hour by hour, and the weakest link is named: a synthetic film never lifts the
damp limit of the glue under it. Heat is told as the distance to the onset of softening, not to the far higher heat at
which the bond was made, and needs no humidity. Own weight is a very small load: what opens a lining is edge tension,
cockling and damp, once heat or water has softened what holds.

Decided where nothing is published: a layer raises nothing from before it was put on; one that is later than the whole
period is judged as if put on at its start, both new and settled; hours of an intended stay count for the layers but
raise no alarm; a layer takes no shelter behind another (only board and glazing slow the air that reaches it).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial
from typing import Any

import numpy as np
import pandas as pd

from envwatch.climate.exposure import ROOM, Exposure
from envwatch.climate.series import Climate
from envwatch.core.findings import Certainty, Finding, Hazard, Level, Mechanism
from envwatch.core.painting import Painting, Role
from envwatch.core.place import Point
from envwatch.figures import lining as fig
from envwatch.figures.coverage import CLEAR_NEEDS
from envwatch.figures.materials import Materials, profiles
from envwatch.hazards import grading
from envwatch.hazards.grading import with_ending
from envwatch.hazards.hourly import HOUR, points
from envwatch.hazards.lining import messages
from envwatch.hazards.lining.layer_tests import (
    COLD,
    DAMP,
    DAY_H,
    DRY,
    HEAT,
    MECHANISMS,
    MONTH_H,
    SWING,
    LayerAir,
    LayerTest,
    Length,
    air_at,
    heat_levels,
    readings,
)
from envwatch.hazards.lining.layers import Link, links, notice
from envwatch.hazards.lining.softening import Dwell, damp_dwell, equivalent_hours, glue_softening_rh, glue_tg
from envwatch.hazards.lining.working import working
from envwatch.hazards.working import Lines

HAZARD = Hazard.LINING
MARKED = " Without the readings that bear a mark of doubt it would be milder."


@dataclass(frozen=True, eq=False)
class _Case:
    """What is judged: the layers, and the air at each point."""

    exposure: Exposure
    start: pd.Timestamp
    found: list[Link]
    at: list[tuple[Point, Climate]]

    def readings(self, mechanism: Mechanism, point: int, raise_intended: bool = False) -> list[LayerTest]:
        """All layers and tests of a mechanism at one point; each layer once for all paintings that have it there."""
        made = []
        for link in self.found:
            key = ("lining", mechanism, self.at[point][0], self.start, link, link.profile.digest, raise_intended)
            made += self.exposure.once(key, partial(self._layer, mechanism, point, link, raise_intended))
        return made

    def _layer(self, mechanism: Mechanism, point: int, link: Link, raise_intended: bool) -> list[LayerTest]:
        """What is raised is followed back over the whole record."""
        air = self.air(point, link.tau_h)
        seen = readings(mechanism, link, air, raise_intended)
        raised = any(r.level >= Level.WATCH for r in seen) and air.cut_from is not None
        return readings(mechanism, link, air.whole, raise_intended) if raised else seen

    def air(self, point: int, tau_h: float) -> LayerAir:
        """The recent rows of the air at one point."""
        return air_at(self.exposure, self.start, *self.at[point], tau_h)

    @property
    def deciding(self) -> LayerAir:
        """The air that decides what was seen."""
        return self.air(0, self.found[0].tau_h).whole


def assess(
    exposure: Exposure, painting: Painting | None, start: pd.Timestamp | None = None, materials: Materials | None = None
) -> list[Finding]:
    """One finding for each mechanism (heat, damp, dry, cold, swing), of the worst layer by name.

    Parameters
    ----------
    exposure : air at the points that matter, with the history before `start`.
    painting : as treated; None (a bare room) has no lining, and no findings here.
    start : begin of the judged period; by default the whole exposure.
    materials : the profiles in force; by default the packaged ones.

    Returns
    -------
    Worst first, and of equal levels heat, damp, dry, cold, swing. Besides, where it applies: the 30-day rule of heat
    while its window is not formed (unknown, with the date from which it can be decided), and pairs of materials that
    hold badly on each other (clear: the climate has no part in it). Nothing read, or no layer recorded, is unknown.
    """
    if painting is None:
        return []
    start = exposure.start if start is None else max(start, exposure.start)
    found = links(painting, exposure, start, profiles(materials))
    findings = [] if found else [_not_recorded()]
    if found:
        case = _Case(exposure, start, found, exposure.once(("points", start), lambda: points(exposure, start)))
        findings += [_judged(case, mechanism) for mechanism in MECHANISMS]
        findings += _month_not_formed(case)
        if not any(layer.role == Role.SIZE for layer in painting.layers):  # on canvas there nearly always is one
            clear = [f.mechanism == DAMP and f.level is Level.CLEAR for f in findings]
            asked = " No size is recorded; a glue size would count too."
            findings = [replace(f, sentence=f.sentence + asked * one) for f, one in zip(findings, clear, strict=True)]
    findings += notice(painting, profiles(materials))
    order: dict[str, int] = {mechanism: rank for rank, mechanism in enumerate(MECHANISMS)}
    return sorted(findings, key=lambda finding: (-finding.level, order.get(finding.mechanism, len(order))))


def _judged(case: _Case, mechanism: Mechanism) -> Finding:
    """The finding of one mechanism: the worst layer, and the others that are over too."""
    every = [
        r
        for point in range(len(case.at))
        for r in case.readings(mechanism, point)
        if (point == 0 or r.level >= Level.WATCH) and not (r.test == Length.MONTH and r.row < 0)
    ]
    every = [r for r in every if not r.all_intended] or every
    worst = max(every, key=lambda r: r.rank)
    if mechanism == HEAT and worst.level == Level.CLEAR:  # told by the hour, whichever window came nearest
        worst = max((r for r in every if r.test == Length.HOUR), key=lambda r: r.rank)
    meant = _in_intended_stays(case, mechanism)
    coverage = case.deciding.period.temp_coverage if mechanism in (HEAT, COLD) else case.deciding.period.coverage
    if worst.row < 0:
        return replace(_unformed(worst, meant), coverage=coverage)
    others = sorted((r for r in every if r.level >= Level.WATCH), key=lambda r: r.rank, reverse=True)
    finding = _finding(
        worst,
        others,
        _left_open_by_gaps(worst, every),
        meant if meant is not None and meant.level > worst.level else None,
    )
    return grading.clear_only_if_seen(finding, coverage, messages.unknown(mechanism, coverage, float(CLEAR_NEEDS)))


def _in_intended_stays(case: _Case, mechanism: Mechanism) -> LayerTest | None:
    """The worst reading when intended hours count like any other; None where there are none."""
    if not case.deciding.intended.any():
        return None
    formed = [r for r in case.readings(mechanism, 0, raise_intended=True) if r.row >= 0]
    return max(formed, key=lambda r: r.rank, default=None)


def _finding(r: LayerTest, others: list[LayerTest], gaps: LayerTest | None, meant: LayerTest | None) -> Finding:
    raised = r.level >= Level.WATCH
    uncertainty = _uncertainty(r)
    doubted, hidden = raised and _rests_on_marked(r), messages.hidden(r)
    certainty = grading.certainty(r.value, uncertainty, *r.steps)
    figure, unit = r.figure, r.unit
    limit_of: dict[str, Any] = {} if figure is None else {"confidence": figure.confidence, "source": figure.source}
    by = r.air.end + pd.Timedelta(days=float(fig.BY_DAYS[r.level.name.lower()])) if raised else None
    open_: dict[str, Any] = (
        {} if gaps is None else {"level_high": gaps.level, "value_low": r.value, "value_high": gaps.value}
    )
    finding = grading.with_open_level(Finding(
        HAZARD, r.mechanism, r.link.name, r.air.point, r.level,
        messages.sentence(r, others, meant) + (MARKED if doubted else "") + hidden,
        r.value, uncertainty, r.limit, unit, r.hours, r.since, r.at,
        Certainty.CANNOT_TELL if doubted or hidden or gaps else certainty,
        **limit_of,
        look_for=messages.look_for(r) if raised else "",
        do=messages.DO.get((r.mechanism, r.level), messages.DO[r.mechanism, Level.ACT]) if raised else "",
        avoid=messages.AVOID[r.mechanism] if raised else "",
        by=by,
        clears=messages.clears(r) if raised else "",
        material=r.link.profile.id, assumed=r.link.assumed,
        working=working(r) + (() if gaps is None else _open_line(gaps, unit)), **open_,
    ))  # fmt: skip
    if r.over is None:
        return finding
    read = np.isfinite(r.air.temp_c if r.mechanism in (HEAT, COLD) else r.air.lagged_percent)
    return with_ending(finding, r.air.time, r.over, read, min(r.window_h, DAY_H))


def _left_open_by_gaps(r: LayerTest, every: list[LayerTest]) -> LayerTest | None:
    """The worst that any layer may have come to, air in gaps at the worst about them; None where that is no worse."""
    wet = r.mechanism in (DAMP, DRY, SWING)
    airs = {(x.air.point, x.air.tau_h): x.air for x in every}
    at_worst = {at: air.at_worst(r.sign) if wet else air.warmth_at_worst(r.sign) for at, air in airs.items()}
    layers = {(x.link, x.air.point): at_worst[x.air.point, x.air.tau_h] for x in every}
    might = [w for (link, _), air in layers.items() if air is not None for w in readings(r.mechanism, link, air)]
    worst = max((w for w in might if w.row >= 0), key=lambda w: w.rank, default=r)
    return worst if worst.level > r.level else None


def _open_line(worst: LayerTest, unit: str) -> Lines:
    told = f"with the air in them at the worst about them, {worst.value:.1f} {unit}"
    return (("what gaps leave open", f"{told}, {worst.link.name}: {worst.level.word}"),)


def _uncertainty(r: LayerTest) -> float:
    """Half-width: bias and, for a single hour, noise; what gaps leave open of the lagged humidity. [°C] or [% RH]"""
    sensor = r.sensor
    if r.mechanism in (HEAT, COLD):
        return sensor.temp_u_c if r.test == Length.HOUR else sensor.temp_bias_c
    if r.mechanism == SWING:  # the bias is in both ends and cancels, unless another logger took over in between
        moved = any(r.at - DAY_H * HOUR < stint.start <= r.at for stint in r.air.exposure.stints[1:])
        moved = " " in sensor.logger if sensor.logger else moved
        each = sensor.rh_u_percent if moved else sensor.rh_noise_percent
        return float(np.hypot(np.sqrt(2) * each, r.air.gap_doubt(r.row)))
    return float(np.hypot(sensor.rh_bias_percent, r.air.gap_doubt(r.row)))


def _rests_on_marked(r: LayerTest) -> bool:
    """Whether the level falls when the hours that bear a mark of doubt are left out."""
    if not r.air.suspect.any():
        return False
    without = readings(r.mechanism, r.link, r.air.trusted())
    return max((w.level for w in without if w.row >= 0), default=Level.CLEAR) < r.level


def _unformed(r: LayerTest, meant: LayerTest | None) -> Finding:
    """No value could be formed: nothing was read, the layer is too new, or every hour was meant."""
    noun = messages.NOUN[r.mechanism]
    if r.all_intended and meant is not None and r.air.period.coverage >= CLEAR_NEEDS:
        return Finding(
            HAZARD, r.mechanism, r.link.name, r.air.point, Level.CLEAR,
            f"{noun}: nothing raised, the whole period was an intended stay. {messages.intended(meant)}",
            material=r.link.profile.id, working=working(meant),
        )  # fmt: skip
    why, decidable = f"no 24 hours were read well enough ({100 * r.air.period.coverage:.0f} % of the period was)", None
    if r.too_new and r.link.born is not None:
        why, decidable = f"the {r.link.name} has not been there for a day", r.link.born + DAY_H * HOUR
    elif r.mechanism in (HEAT, COLD):
        read = bool(np.isfinite(r.air.whole.temp_c).any())
        why = "too little of the last 24 hours was read" if read else "no temperature was read"
        decidable = r.air.decidable_on(np.isfinite(r.air.temp_c) & ~r.air.intended, DAY_H) if read else None
    elif r.air.period.coverage > 0:
        percent = r.air.settled_percent if r.mechanism == SWING else r.air.lagged_percent
        decidable = r.air.decidable_on(np.isfinite(percent) & ~r.air.drying, DAY_H)
    return Finding(
        HAZARD, r.mechanism, "lining layers", r.air.point, Level.UNKNOWN,
        f"{noun}: not known for the lining layers, {why}.",
        decidable_on=decidable, coverage=r.air.period.coverage,
        certainty=Certainty.CANNOT_TELL,
    )  # fmt: skip


def _month_not_formed(case: _Case) -> list[Finding]:
    """The 30-day rule of heat, where a layer is old enough for it but too little has been read yet."""
    waiting = [
        r for r in case.readings(HEAT, 0) if r.test == Length.MONTH and r.row < 0 and not (r.too_new or r.all_intended)
    ]
    if not waiting:
        return []
    r = max(waiting, key=lambda r: r.rank)
    read = np.isfinite(r.air.temp_c)
    on = r.air.decidable_on(read, MONTH_H) if np.isfinite(r.air.whole.temp_c).any() else None
    return [
        Finding(
            HAZARD,
            Mechanism.HEAT_MONTH,
            r.link.name,
            r.air.point,
            Level.UNKNOWN,
            "Heat over 30 days: not known yet, too little of the last 30 days was read; hour and day are judged apart.",
            decidable_on=on,
            coverage=r.air.period.temp_coverage,
            material=r.link.profile.id,
            certainty=Certainty.CANNOT_TELL,
        )  # fmt: skip
    ]


def _not_recorded() -> Finding:
    return Finding(
        HAZARD, Mechanism.BUILD_UP, "lining layers", ROOM, Level.UNKNOWN,
        "The lining hazard is not known: no lining, size or consolidant is recorded. Enter the layers, if only as "
        "unknown.",
        certainty=Certainty.CANNOT_TELL,
    )  # fmt: skip


__all__ = [
    "Dwell", "assess", "damp_dwell", "equivalent_hours", "glue_softening_rh", "glue_tg", "heat_levels",
]  # fmt: skip
