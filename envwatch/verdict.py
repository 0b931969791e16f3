"""The one function that judges, and the only module that knows the hazards.

Whoever has a climate (measured, simulated, at a wall, at a destination) hands it here, so no two parts of
the project can disagree about a limit.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from types import ModuleType

import pandas as pd

from envwatch.climate.exposure import Exposure
from envwatch.climate.stretches import hours_over
from envwatch.core.findings import Certainty, Finding, Level, Verdict
from envwatch.core.painting import Painting
from envwatch.figures.coverage import CLEAR_NEEDS
from envwatch.figures.materials import Materials, profiles, refuse_unknown
from envwatch.hazards import canvas, condensation, light, lining, mould, siting
from envwatch.hazards.drying import asks_to_dry, canvas_days, dampness
from envwatch.hazards.grading import ours_said

# hours_over: what the hazards count by, for those that count many simulated rooms at once
__all__ = ["HAZARDS", "OF_POSITION", "asks_to_dry", "canvas_days", "dampness", "hours_over", "judge", "judge_either"]

OF_MATERIALS = (lining, mould)  # they look at what the layers are made of
OF_POSITION = (light, siting)  # they look at the facts of the position alone
HAZARDS = (*OF_MATERIALS, canvas, condensation, *OF_POSITION)


def judge(
    exposure: Exposure, painting: Painting | None = None, start: pd.Timestamp | None = None,
    materials: Materials | None = None, hazards: Sequence[ModuleType] = HAZARDS,
) -> Verdict:  # fmt: skip
    """All findings for one painting, or for a bare room, over [start, exposure.end).

    Parameters
    ----------
    exposure : the climates at the points that matter, with the history that came before `start`.
    painting : as treated; None judges the room without one.
    start : begin of the judged period; by default the whole exposure.
    materials : the profiles in force; by default the packaged ones.
    hazards : those of `HAZARDS` that are in question; by default all.

    Returns
    -------
    A `Verdict`. Missing data turn a clear finding into an unknown one, never the reverse; a limit that the
    readings do pass keeps its level whatever the coverage.

    Raises
    ------
    BadInput : a layer or treatment of a material that the materials file does not hold.
    """
    if painting is not None:
        refuse_unknown(_materials(painting), profiles(materials))
    start = exposure.start if start is None else start
    week = exposure.room.between(start, exposure.end)
    found: list[Finding] = []
    for hazard in hazards:
        own = (materials,) if hazard in OF_MATERIALS else ()
        found += hazard.assess(exposure, painting, start, *own)
    doubtful = float(week.hours[week.suspect].sum()) / week.span_hours if week.span_hours else 0.0
    if doubtful > 1 - CLEAR_NEEDS:
        found = [_not_trusted(finding, doubtful) for finding in found]
    found = [ours_said(finding) for finding in found]
    owner = painting.id if painting else ""
    return Verdict(
        tuple(replace(finding, painting_id=owner) for finding in found),
        start,
        exposure.end,
        owner,
        week.coverage,
        exposure.notes + exposure.room.notes,
    )


def _materials(painting: Painting) -> Iterator[tuple[str, str]]:
    """Where the painting names a material, in words, and its key."""
    whose = f"painting {painting.id}" if painting.id else "the painting"
    yield from ((f"{whose}, layer {layer.role}", layer.material) for layer in painting.layers)
    yield from ((f"{whose}, {done.kind} of {done.on:%Y-%m-%d}", done.material) for done in painting.treatments)


def _not_trusted(finding: Finding, doubtful: float) -> Finding:
    """Nothing is clear where such a share of the readings is doubtful: a sensor that is stuck is always calm."""
    if finding.level is not Level.CLEAR:
        return finding
    reason = f"{doubtful:.0%} of the period's readings are marked as doubtful: nothing can be called clear on them."
    return replace(finding, level=Level.UNKNOWN, sentence=reason, certainty=Certainty.CANNOT_TELL)


def judge_either(
    exposures: Sequence[Exposure], painting: Painting | None = None, start: pd.Timestamp | None = None,
    materials: Materials | None = None,
) -> Verdict:  # fmt: skip
    """The harsher of several readings of the same history, finding by finding.

    A bare move date belongs to both places, so a painting may have more than one possible exposure.
    """
    verdicts = [judge(exposure, painting, start, materials) for exposure in exposures]
    worst: dict[tuple[str, str], Finding] = {}
    for finding in (finding for verdict in verdicts for finding in verdict.findings):
        held = worst.setdefault((finding.hazard, finding.mechanism), finding)
        if finding.level > held.level:
            worst[finding.hazard, finding.mechanism] = finding
    coverage = min(verdict.coverage for verdict in verdicts)
    notes = tuple(dict.fromkeys(note for verdict in verdicts for note in verdict.notes))
    return replace(verdicts[0], findings=tuple(worst.values()), coverage=coverage, notes=notes)
