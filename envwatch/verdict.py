"""The one function that judges, and the only module that knows the hazards.

Whoever has a climate (measured, simulated, at a wall, at a destination) hands it here, so no two parts of
the project can disagree about a limit.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from types import ModuleType

import pandas as pd

from envwatch.climate.exposure import Exposure
from envwatch.climate.hours import hours_over
from envwatch.climate.series import OF_RH, OF_TEMP, Climate
from envwatch.core.findings import Certainty, Finding, Level, Mechanism, Verdict, judgement
from envwatch.core.painting import Painting, Role
from envwatch.core.place import Point
from envwatch.core.text import AT_LEAST, AT_MOST
from envwatch.figures import Confidence
from envwatch.figures import canvas as fig
from envwatch.figures.coverage import CLEAR_NEEDS
from envwatch.figures.materials import Materials, profiles, refuse_unknown
from envwatch.hazards import canvas, condensation, lining, mould, position
from envwatch.hazards.canvas import met
from envwatch.hazards.canvas.history import is_drier
from envwatch.hazards.canvas.met import History, MetCourse, WorstWindow
from envwatch.hazards.canvas.response import canvas_of, course, point_of
from envwatch.hazards.drying import asks_to_dry, canvas_days, dampness
from envwatch.hazards.hourly import HOUR, points
from envwatch.hazards.lining.layers import BondedLayer, links

# hours_over: what the hazards count by, for those that count many simulated rooms at once
__all__ = [
    "HAZARDS", "MET_KINDS", "OF_POSITION", "History", "WorstWindow", "asks_to_dry", "canvas_days", "dampness",
    "drier_than_known", "hours_over", "judge", "judge_either", "met_before", "met_ended", "too_dry_to_stand",
]  # fmt: skip

OF_MATERIALS = (lining, mould)  # they look at what the layers are made of
OF_POSITION = (position,)  # it looks at the facts of the position alone, where there are any
HAZARDS = (*OF_MATERIALS, canvas, condensation, *OF_POSITION)
MET_KINDS = met.KINDS  # mechanisms that may be within what was met before, and as what each is compared
GLUES = ("paste", "glue", "starch")  # families


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
    week = exposure.part(Point.ROOM, start)
    found: list[Finding] = []
    for hazard in hazards:
        if hazard in OF_POSITION:
            found += hazard.assess(exposure.position) if exposure.position is not None else []
            continue
        own = (materials,) if hazard in OF_MATERIALS else ()
        found += hazard.assess(exposure, painting, start, *own)
    doubtful = float(week.hours[week.suspect].sum()) / week.span_hours if week.span_hours else 0.0
    if doubtful > 1 - CLEAR_NEEDS:
        found = [_not_trusted(finding, doubtful) for finding in found]
    found = [_with_limit_origin(finding) for finding in found]
    if any(air.bounded is not None for air in exposure.points.values()):
        found = [_with_bounds(finding, exposure.points.get(finding.point)) for finding in found]
    owner = painting.id if painting else ""
    return Verdict(
        tuple(replace(finding, painting_id=owner) for finding in found),
        start,
        exposure.end,
        owner,
        week.coverage,
        exposure.notes + exposure.room.notes,
    )


def _materials(painting: Painting) -> list[tuple[str, str]]:
    """Where the painting names a material, in words, and its key."""
    whose = f"painting {painting.id}" if painting.id else "the painting"
    layers = [(f"{whose}, layer {layer.role}", layer.material) for layer in painting.layers]
    return layers + [(f"{whose}, {done.kind} of {done.on:%Y-%m-%d}", done.material) for done in painting.treatments]


def _with_limit_origin(finding: Finding) -> Finding:
    """A raised finding whose limit is our judgement says so in its first sentence, whichever hazard it comes from.

    One whose limit a studio has overruled says that instead, by itself.

    >>> held = Finding("mould", "damp hours", "film", "room", Level.ACT, "9 days damp. It goes on.", limit=168.0)
    >>> _with_limit_origin(held).sentence
    '9 days damp (limit: our judgement). It goes on.'
    """
    if finding.level < Level.WATCH or not judgement(finding):
        return finding
    head, stop, rest = finding.sentence.partition(". ")
    head, said = head.rstrip("."), f"limit: {Confidence.OUR_JUDGEMENT.value}"
    head += f"; {said}" if head.endswith(")") else f" ({said})"
    return replace(finding, sentence=f"{head}.{' ' if stop else ''}{rest}")


def _with_bounds(finding: Finding, air: Climate | None) -> Finding:
    """A raised finding whose value rests on readings that are bounds (">95") says that it is at least that, or at most.

    air : the climate at its point; None where there is none. Bounds count from when the finding began, at least a day
    before its worst moment, up to that.
    """
    when, of = finding.worst_at, {"°C": OF_TEMP, "% RH": OF_RH, "K": OF_TEMP | OF_RH}
    unit = next((unit for unit in of if finding.unit.startswith(unit)), "")
    if finding.level < Level.WATCH or when is None or air is None or air.bounded is None or not unit:
        return finding
    begin = min(finding.since or when, when - 24 * HOUR)
    rows = slice(*air.time.searchsorted([begin, when + HOUR]))
    if not (air.bounded[rows] & of[unit]).any():
        return finding
    word = AT_LEAST if finding.value >= finding.limit else AT_MOST
    head, stop, rest = finding.sentence.partition(". ")
    head = f"{head.rstrip('.')}; {word} that, for readings there are bounds in the file, such as >95"
    return replace(finding, bound=word, sentence=f"{head}.{' ' if stop else ''}{rest}")


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
    ways = (
        replace(finding, way=way) if way else finding for way, one in enumerate(verdicts) for finding in one.findings
    )
    for finding in ways:
        held = worst.setdefault((finding.hazard, finding.mechanism), finding)
        if finding.level > held.level:
            worst[finding.hazard, finding.mechanism] = finding
    coverage = min(verdict.coverage for verdict in verdicts)
    notes = tuple(dict.fromkeys(note for verdict in verdicts for note in verdict.notes))
    return replace(verdicts[0], findings=tuple(worst.values()), coverage=coverage, notes=notes)


def met_before(
    exposure: Exposure, painting: Painting, start: pd.Timestamp, history: History, mechanisms: Iterable[Mechanism],
    materials: Materials | None = None,
) -> dict[Mechanism, tuple[WorstWindow, ...]]:  # fmt: skip
    """The worst windows of [start, exposure.end) against those met before, by mechanism.

    Parameters
    ----------
    exposure, start : as in `judge`.
    history : the hours that count as met.
    mechanisms : of the findings in question; those that are none of `MET_KINDS` are never met before.

    Returns
    -------
    For each mechanism its windows, of the canvas or of every layer that is held, at each point that counts; it was met
    before only if every one is `within`. Missing data are taken at their worst.
    """
    seen = {}
    for mechanism in set(mechanisms) & set(MET_KINDS):
        courses = _canvas(exposure, painting, start, history), *_layers(exposure, painting, start, history, materials)
        of_canvas = mechanism in CANVAS_MECHANISMS
        every = courses[:1] if of_canvas else courses[1:]
        seen[mechanism] = tuple(window for one in every for window in met.compare(one, MET_KINDS[mechanism]))
    return seen


def met_ended(
    exposure: Exposure, painting: Painting, start: pd.Timestamp, since: pd.Timestamp
) -> tuple[pd.Timestamp, bool] | None:
    """When the canvas came out of the last long damp since a time, or of hours of which nothing is known.

    What it met before that counts no longer. Returns as `hazards.canvas.met.last_damp`.
    """
    return met.last_damp(_canvas(exposure, painting, start, History(since, ())))


def too_dry_to_stand(
    exposure: Exposure, painting: Painting, start: pd.Timestamp, materials: Materials | None = None
) -> str:
    """Why [start, exposure.end) was too dry for anything to be called met before; "" where it was not."""
    nothing = History(start, ())
    driest = met.driest(_canvas(exposure, painting, start, nothing))
    layers = _links(exposure, painting, start, materials)
    dry = {link: min(met.driest(one) for one in _at_points(exposure, start, link.tau_h, nothing)) for link in layers}
    if min((driest, *dry.values())) < fig.DRY_DANGER_RH:
        return f"under {fig.DRY_DANGER_RH:g} % RH nothing is met before"
    glue = [link for link in layers if link.profile.family in GLUES and link.layer.role != Role.SIZE]
    dry_glue = next((link.name for link in glue if dry[link] < fig.MET_GLUE_NEVER_RH), "")
    return f"under {fig.MET_GLUE_NEVER_RH:g} % RH the {dry_glue} has met nothing before" if dry_glue else ""


def drier_than_known(exposure: Exposure, painting: Painting, start: pd.Timestamp, at: pd.Timestamp) -> bool:
    """Whether the canvas was drier, and not damper, than what it has known, at a time."""
    return is_drier(course(exposure, canvas_of(painting), start), at)


CANVAS_MECHANISMS = (Mechanism.DRY_AIR, Mechanism.CHANGE, Mechanism.BEYOND)


def _canvas(exposure: Exposure, painting: Painting, start: pd.Timestamp, history: History) -> MetCourse:
    point, there = point_of(exposure, start)
    return MetCourse.at(exposure, start, point, there, canvas_of(painting).tau_h, history=history)


def _layers(
    exposure: Exposure, painting: Painting, start: pd.Timestamp, history: History, materials: Materials | None
) -> list[MetCourse]:
    lags = dict.fromkeys(link.tau_h for link in _links(exposure, painting, start, materials))
    return [one for tau_h in lags for one in _at_points(exposure, start, tau_h, history)]


def _at_points(exposure: Exposure, start: pd.Timestamp, tau_h: float, history: History) -> list[MetCourse]:
    return [MetCourse.at(exposure, start, *there, tau_h, history=history) for there in points(exposure, start)]


def _links(
    exposure: Exposure, painting: Painting, start: pd.Timestamp, materials: Materials | None
) -> list[BondedLayer]:
    return links(painting, exposure, start, profiles(materials))
