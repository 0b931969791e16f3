"""Which raised findings are within what this painting has met before, and which are ordinary though not met.

It decides what is said weekly, and is no clean bill of health. What counts as met stands in `lapses`. Heat, damp,
mould, condensation, cold and first weeks are never met before.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace

import pandas as pd

from envwatch import verdict
from envwatch.archive import Studio
from envwatch.cases.review import lapses
from envwatch.climate.exposure import Exposure
from envwatch.core.findings import Finding, Hazard, Level, Mechanism, Verdict
from envwatch.core.painting import Painting
from envwatch.core.period import Period
from envwatch.core.text import date
from envwatch.figures import canvas as fig
from envwatch.verdict import MET_KINDS, History, WorstWindow

SWINGS, COLDS = (Mechanism.CHANGE, Mechanism.SWING), (Mechanism.COLD,)
LOOK_AT = "Look in raking light, front and back: corners, edges, turnovers."
Key = tuple[str, str, str, str, str]


@dataclass(frozen=True)
class Met:
    """What of a painting's raised findings is met before, what is ordinary, and why the rest is neither.

    Attributes
    ----------
    keys, numbers : of the findings that are met before (numbers only where they have one).
    sentence : what stands for them in one line, with the last look; "" where none is.
    reason : why findings that could be are not; "" where all are, or none could be.
    ordinary : keys of findings that a heated house brings each winter though not met before: told once, then by change.
    told : what they are, and what to look at; "" where there are none.
    working : lines for `why`, by the key of the finding.
    """

    keys: frozenset[Key] = frozenset()
    numbers: frozenset[int] = frozenset()
    sentence: str = ""
    reason: str = ""
    ordinary: frozenset[Key] = frozenset()
    told: str = ""
    working: dict[Key, tuple[tuple[str, str], ...]] = field(default_factory=dict)

    def explained(self, finding: Finding) -> Finding:
        """The finding with its lines for `why`."""
        return replace(finding, working=(*finding.working, *self.working.get(finding.key, ())))


def met_before(
    studio: Studio, painting: Painting, exposures: Sequence[Exposure], judged: Verdict, span: Period, now: pd.Timestamp
) -> Met:
    """What a painting has met before of what is raised against it over a period.

    Parameters
    ----------
    exposures : each reading of its moves that was judged; it must be met before in all of them.
    judged : the verdict over `span`.
    now : the clock; what is entered for later days does not count.
    """
    could = [f for f in judged.raised if _could_be(f)]
    if not could:
        return Met()
    never = lapses.never(studio, painting, exposures, span, now)
    ordinary, told = (frozenset(), "") if never else _ordinary(painting, exposures, judged, could, span)
    history, last, reason = (None, None, never) if never else lapses.history(studio, painting, exposures, span, now)
    if history is None:
        lines = (("met before", f"no: {reason}"),)
        return Met(reason=reason, ordinary=ordinary, told=told, working={f.key: lines for f in could})
    windows = _windows(studio, painting, exposures, history, could, span)
    met = [f for f in could if windows[f.key] and all(one.within for one in windows[f.key])]
    rest = [f for f in could if f not in met]
    over = next((one for f in rest for one in windows[f.key] if not one.within), None)
    return Met(
        frozenset(f.key for f in met), frozenset(f.number for f in met if f.number is not None),
        _sentence(met, windows, last, studio.zone) if met else "",
        f"beyond what it has met: {over.words}" if over else "", ordinary - {f.key for f in met}, told if rest else "",
        {f.key: _lines(f in met, windows[f.key], last, studio.zone) for f in could},
    )  # fmt: skip


def _could_be(finding: Finding) -> bool:
    """Only dryness, swings and distance from the mean, of the canvas or of the layers that are held."""
    return finding.hazard in (Hazard.FLUCTUATION, Hazard.LINING) and finding.mechanism in MET_KINDS


def _windows(
    studio: Studio, painting: Painting, exposures: Sequence[Exposure], history: History, could: Sequence[Finding],
    span: Period,
) -> dict[Key, tuple[WorstWindow, ...]]:  # fmt: skip
    mechanisms = {Mechanism(f.mechanism) for f in could}
    ways = [verdict.met_before(way, painting, span.start, history, mechanisms, studio.materials()) for way in exposures]
    return {f.key: tuple(one for way in ways for one in way[Mechanism(f.mechanism)]) for f in could}


def _ordinary(
    painting: Painting, exposures: Sequence[Exposure], judged: Verdict, could: Iterable[Finding], span: Period
) -> tuple[frozenset[Key], str]:
    """What a heated house brings each winter: dryness that came slowly, in warm air, down to a stated dryness."""
    steady = [f for f in judged.findings if f.mechanism in (*SWINGS, *COLDS)]
    dryness = [f.value for f in judged.findings if f.mechanism in (Mechanism.DRY_AIR, Mechanism.DRY)]
    calm = steady and all(f.level is Level.CLEAR for f in steady)
    if not calm or not dryness or not min(dryness) >= fig.ORDINARY_DRY_RH:
        return frozenset(), ""
    mine = [f for f in could if f.level is Level.WATCH and f.mechanism not in SWINGS]
    mine = [f for f in mine if f.mechanism is not Mechanism.BEYOND or _drier(painting, exposures, f, span)]
    what = f"it came slowly, down to {min(dryness):.0f} % RH in a day"
    told = f"An ordinary heating season, not met before: {what}. {LOOK_AT}"
    return frozenset(f.key for f in mine), told if mine else ""


def _drier(painting: Painting, exposures: Sequence[Exposure], finding: Finding, span: Period) -> bool:
    at = finding.worst_at
    return at is not None and all(verdict.drier_than_known(way, painting, span.start, at) for way in exposures)


NAMED = {
    Mechanism.DRY: "dry as it has been before: down to {value:.0f} % RH in a day, {met:.0f} % in {when}",
    Mechanism.SWING: "swings as before: a {way} of {value:.0f} % RH within a day, {met:.0f} % in {when}",
    Mechanism.BEYOND: "as far from its mean as before: {value:.0f} % RH {way} over a day, {met:.0f} % in {when}",
}


def _sentence(
    met: Sequence[Finding], windows: dict[Key, tuple[WorstWindow, ...]], last: pd.Timestamp | None, zone: str
) -> str:
    """One line: what it is, how far, when it was met, and the last look."""
    parts: dict[str, str] = {}
    for finding in met:
        kind = MET_KINDS[Mechanism(finding.mechanism)]
        day = min(
            (one for one in windows[finding.key] if one.hours == 24), key=lambda one: abs(one.allowed - one.value)
        )
        when = "" if day.met_at is None else f"{day.met_at.tz_convert(zone):%b %Y}"
        parts.setdefault(kind, NAMED[kind].format(value=day.value, met=day.met, when=when, way=day.way))
    text = "; ".join(parts.values())
    return f"{text[:1].upper()}{text[1:]}; last look of one's own {date(last, zone)}."


def _lines(
    met: bool, windows: Sequence[WorstWindow], last: pd.Timestamp | None, zone: str
) -> tuple[tuple[str, str], ...]:
    """Lines for `why`: whether it is met, by which windows, and on what that rests."""
    outside = [one for one in windows if not one.within]
    by = outside or [one for one in windows if one.hours == 24]
    head = "yes, in every window" if met else "no, beyond what was met"
    return (
        ("met before", f"{head}; last look of one's own {date(last, zone)}"),
        ("windows", "; ".join(one.words for one in by)),
        ("what that rests on", "; ".join(fig.MET_BASIS)),
    )  # fmt: skip
