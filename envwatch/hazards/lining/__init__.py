"""The lining adhesive and every other layer that glue, wax or resin holds: heat, damp, dryness, cold, daily swing.

From a reading to a verdict: each layer that has limits (`layers`) is held in the air at each point, in hourly means
that it follows by its own lag; each mechanism is tested hour by hour against the layer's own limits (`layer_tests`),
and of all layers the weakest link is named: a synthetic film never lifts the damp limit of the glue under it. What is
said, advised and worked out about it is in `messages`.

Heat is told as the distance to the onset of softening, not to the far higher heat at which the bond was made, and needs
no humidity. Own weight is a very small load: what opens a lining is edge tension, cockling and damp, once heat or water
has softened what holds.

Decided where nothing is published: a layer raises nothing from before it was put on; one that is later than the whole
period is judged as if put on at its start, both new and settled; hours of an intended stay count for the layers but
raise no alarm; a layer takes no shelter behind another (only board and glazing slow the air that reaches it).
"""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import replace
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
from envwatch.hazards.hourly import HOUR, points
from envwatch.hazards.lining import messages
from envwatch.hazards.lining.layer_tests import (
    DAMP,
    DAY_H,
    HEAT,
    MECHANISMS,
    MONTH_H,
    OF_WARMTH,
    SWING,
    LayerTest,
    Length,
    air_at,
    readings,
)
from envwatch.hazards.lining.layers import (
    BondedLayer,
    Dwell,
    damp_dwell,
    equivalent_hours,
    glue_softening_rh,
    glue_tg,
    links,
    notice,
)

HAZARD = Hazard.LINING
MARKED = " Without the readings that bear a mark of doubt it would be milder."


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
    layers = links(painting, exposure, start, profiles(materials))
    findings = [] if layers else [_not_recorded()]
    if layers:
        at = exposure.once(("points", start), lambda: points(exposure, start))
        findings = [f for mechanism in MECHANISMS for f in _judged(exposure, start, at, layers, mechanism)]
        if not any(layer.role == Role.SIZE for layer in painting.layers):  # on canvas there nearly always is one
            asked = " No size is recorded; a glue size would count too."
            for at_, f in enumerate(findings):
                if f.mechanism == DAMP and f.level is Level.CLEAR:
                    findings[at_] = replace(f, sentence=f.sentence + asked)
    findings += notice(painting, profiles(materials))
    order: dict[str, int] = {mechanism: rank for rank, mechanism in enumerate(MECHANISMS)}
    return sorted(findings, key=lambda finding: (-finding.level, order.get(finding.mechanism, len(order))))


def _judged(
    exposure: Exposure,
    start: pd.Timestamp,
    at: list[tuple[Point, Climate]],
    layers: list[BondedLayer],
    mechanism: Mechanism,
) -> list[Finding]:
    """The finding of one mechanism: the worst layer, and the others that are over too; of heat also its open month."""
    first, *rest = (_tests(exposure, start, there, layers, mechanism) for there in at)
    every = first + [r for tests in rest for r in tests if r.level >= Level.WATCH]
    every = [r for r in every if not (r.test == Length.MONTH and r.row < 0)]
    every = [r for r in every if not r.all_intended] or every
    worst = max(every, key=lambda r: r.rank)
    if mechanism == HEAT and worst.level == Level.CLEAR:  # told by the hour, whichever window came nearest
        worst = max((r for r in every if r.test == Length.HOUR), key=lambda r: r.rank)
    air, meant = first[0].air, None  # the air that decides what was seen
    if air.intended.any():  # the worst when intended hours count like any other
        formed = (r for r in _tests(exposure, start, at[0], layers, mechanism, raise_intended=True) if r.row >= 0)
        meant = max(formed, key=lambda r: r.rank, default=None)
    coverage = air.period.temp_coverage if mechanism in OF_WARMTH else air.period.coverage
    open_months = [r for r in first if r.test == Length.MONTH and r.row < 0 and not (r.too_new or r.all_intended)]
    month = [_month_not_formed(max(open_months, key=lambda r: r.rank))] if open_months else []
    if worst.row < 0:
        return [replace(_unformed(worst, meant), coverage=coverage), *month]
    others = sorted((r for r in every if r.level >= Level.WATCH), key=lambda r: r.rank, reverse=True)
    besides = meant if meant is not None and meant.level > worst.level else None
    finding = _finding(worst, others, _left_open_by_gaps(worst, every), besides)
    reason = (
        f"{messages.NOUN[mechanism]}: not known for the lining layers. {100 * coverage:.0f} % of the period was read, "
        f"{100 * CLEAR_NEEDS:.0f} % is needed; what was read stayed within its limits."
    )
    read = np.isfinite(worst.air.temp_c if mechanism in OF_WARMTH else worst.air.lagged_percent)
    return [
        grading.concluded(finding, coverage, reason, worst.air.time, worst.over, read, min(worst.window_h, DAY_H)),
        *month,
    ]


def _tests(
    exposure: Exposure, start: pd.Timestamp, there: tuple[Point, Climate], layers: list[BondedLayer],
    mechanism: Mechanism, raise_intended: bool = False,
) -> list[LayerTest]:  # fmt: skip
    """All layers and tests of a mechanism at one point; each layer once for all paintings that have it there.

    What is raised is followed back over the whole record.
    """
    made: list[LayerTest] = []
    held: dict[Hashable, list[LayerTest]] = exposure.once("layer tests", dict)
    for link in layers:
        key = (mechanism, there[0], start, link, link.profile.digest, raise_intended)
        if key not in held:
            at = exposure, start, *there, link.tau_h
            air = exposure.once(("air", start, there[0], link.tau_h), partial(air_at, *at))
            tests = readings(mechanism, link, air, raise_intended)
            if air.cut_from is not None and any(r.level >= Level.WATCH for r in tests):
                tests = readings(mechanism, link, air.cut_from, raise_intended)
            held[key] = tests
        made += held[key]
    return made


def _finding(r: LayerTest, others: list[LayerTest], gaps: LayerTest | None, meant: LayerTest | None) -> Finding:
    """The finding of the worst layer. `gaps`: what gaps leave open, `meant`: what intended hours did, where worse."""
    raised, uncertainty, working = r.level >= Level.WATCH, _uncertainty(r), messages.working(r)
    doubted, hidden, (hours, since) = False, messages.hidden(r), r.spell()
    if raised and r.air.suspect.any():  # whether the level falls when the hours that bear a mark of doubt are left out
        without = readings(r.mechanism, r.link, r.air.trusted())
        doubted = max((w.level for w in without if w.row >= 0), default=Level.CLEAR) < r.level
    more: dict[str, Any] = {}
    if r.figure is not None:
        more |= {"confidence": r.figure.confidence, "source": r.figure.source}
    if raised:
        within = pd.Timedelta(days=float(fig.BY_DAYS[r.level.name.lower()]))
        more |= messages.advice(r) | {"by": r.air.end + within}
    if gaps is not None:
        more |= {"level_high": gaps.level, "value_low": r.value, "value_high": gaps.value}
        at_worst = f"with the air in them at the worst about them, {gaps.value:.1f} {r.unit}"
        working += (("what gaps leave open", f"{at_worst}, {gaps.link.name}: {gaps.level.word}"),)
    unsure = doubted or hidden or gaps is not None
    return grading.with_open_level(Finding(
        HAZARD, r.mechanism, r.link.name, r.air.point, r.level,
        messages.sentence(r, others, meant) + (MARKED if doubted else "") + hidden,
        r.value, uncertainty, r.limit, r.unit, hours, since, r.at,
        Certainty.CANNOT_TELL if unsure else grading.certainty(r.value, uncertainty, *r.steps),
        material=r.link.profile.id, assumed=r.link.assumed, working=working, **more,
    ))  # fmt: skip


def _left_open_by_gaps(r: LayerTest, every: list[LayerTest]) -> LayerTest | None:
    """The worst that any layer may have come to, air in gaps at the worst about them; None where that is no worse."""
    if r.level is Level.URGENT:
        return None
    airs = {(x.air.point, x.air.tau_h): x.air for x in every}
    at_worst = {at: air.at_worst(r.mechanism) for at, air in airs.items()}
    layers = {(x.link, x.air.point): at_worst[x.air.point, x.air.tau_h] for x in every}
    might = [w for (link, _), air in layers.items() if air is not None for w in readings(r.mechanism, link, air)]
    worst = max((w for w in might if w.row >= 0), key=lambda w: w.rank, default=r)
    return worst if worst.level > r.level else None


def _uncertainty(r: LayerTest) -> float:
    """Half-width: bias and, for a single hour, noise; what gaps leave open of the lagged humidity. [°C] or [% RH]"""
    sensor = r.sensor
    if r.mechanism in OF_WARMTH:
        return sensor.temp_u_c if r.test == Length.HOUR else sensor.temp_bias_c
    if r.mechanism == SWING:  # the bias is in both ends and cancels, unless another logger took over in between
        moved = any(r.at - DAY_H * HOUR < stint.start <= r.at for stint in r.air.exposure.stints[1:])
        moved = " " in sensor.logger if sensor.logger else moved
        each = sensor.rh_u_percent if moved else sensor.rh_noise_percent
        return float(np.hypot(np.sqrt(2) * each, r.air.gap_doubt(r.row)))
    return float(np.hypot(sensor.rh_bias_percent, r.air.gap_doubt(r.row)))


def _unformed(r: LayerTest, meant: LayerTest | None) -> Finding:
    """No value could be formed: nothing was read, the layer is too new, or every hour was meant."""
    noun, whole = messages.NOUN[r.mechanism], r.air.cut_from or r.air
    if r.all_intended and meant is not None and r.air.period.coverage >= CLEAR_NEEDS:
        return Finding(
            HAZARD, r.mechanism, r.link.name, r.air.point, Level.CLEAR,
            f"{noun}: nothing raised, the whole period was an intended stay. {messages.intended(meant)}",
            material=r.link.profile.id, working=messages.working(meant),
        )  # fmt: skip
    why, decidable = f"no 24 hours were read well enough ({100 * r.air.period.coverage:.0f} % of the period was)", None
    if r.too_new and r.link.born is not None:
        why, decidable = f"the {r.link.name} has not been there for a day", r.link.born + DAY_H * HOUR
    elif r.mechanism in OF_WARMTH:
        read = bool(np.isfinite(whole.temp_c).any())
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


def _month_not_formed(r: LayerTest) -> Finding:
    """The 30-day rule of heat, where a layer is old enough for it but too little has been read yet."""
    whole = r.air.cut_from or r.air
    on = r.air.decidable_on(np.isfinite(r.air.temp_c), MONTH_H) if np.isfinite(whole.temp_c).any() else None
    return Finding(
        HAZARD, Mechanism.HEAT_MONTH, r.link.name, r.air.point, Level.UNKNOWN,
        "Heat over 30 days: not known yet, too little of the last 30 days was read; hour and day are judged apart.",
        decidable_on=on, coverage=r.air.period.temp_coverage, material=r.link.profile.id,
        certainty=Certainty.CANNOT_TELL,
    )  # fmt: skip


def _not_recorded() -> Finding:
    return Finding(
        HAZARD, Mechanism.BUILD_UP, "lining layers", ROOM, Level.UNKNOWN,
        "The lining hazard is not known: no lining, size or consolidant is recorded. Enter the layers, if only as "
        "unknown.",
        certainty=Certainty.CANNOT_TELL,
    )  # fmt: skip


__all__ = [
    "Dwell", "assess", "damp_dwell", "equivalent_hours", "glue_softening_rh", "glue_tg",
]  # fmt: skip
