"""Which raised findings are within what this painting has met before, and what ends that.

Counted is only what lay between two looks of one's own (raking light, front and back) that say the same; nothing from
before the last thing that ended it. A telephone call, somebody's photograph, a look in passing, and how long it has
hung there, neither make it nor renew it. It decides what is said weekly, and is no clean bill of health.

New heating, a knock, a changed glass or board: the register knows of them by a treatment of that name or an
observation (`treat ID "new heating"`, `observe ID "a knock"`), for any work and any new sign ends it; `"new owner"`
puts it off until the next look. Heat, damp, mould, condensation, cold and first weeks are never met before.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import groupby

import pandas as pd

from envwatch import verdict
from envwatch.archive import Studio
from envwatch.climate.exposure import Exposure
from envwatch.core.dates import day_end, day_of, instant, utc
from envwatch.core.findings import Finding, Hazard, Level, Mechanism, Verdict
from envwatch.core.painting import NO_WORK, Look, Observation, Painting, Stay
from envwatch.core.period import Period
from envwatch.core.place import Logger
from envwatch.core.text import date, fold
from envwatch.figures import canvas as fig
from envwatch.figures.materials import first_weeks
from envwatch.verdict import MET_KINDS, History, Window

DAY = pd.Timedelta(days=1)
HOLDS = DAY * float(fig.MET_HOLDS_DAYS)
NEW_OWNER = "new owner"
LOOSE = re.compile(r"blister|air pocket|loose|flak|lift|cleav|tent|delamin|detach|hollow|bulge")
WORSE = re.compile(r"\b(worse|worsened|more|wider|larger|longer|bigger|deeper|spread\w*|grow\w*|grew|progress\w*)\b")
LAID = re.compile(r"consolidat|lining|blister|laid|flake|fix")  # kinds of treatment after which nothing is loose
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


@dataclass(frozen=True)
class Lapse:
    """What ended all that was met until then. A look of its last day counts; an hour only once it is over."""

    begins: pd.Timestamp
    over: pd.Timestamp
    words: str


def standing(
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
    never = _never(studio, painting, exposures, span, now)
    ordinary, told = (frozenset(), "") if never else _ordinary(painting, exposures, judged, could, span)
    reason, history, last = never, None, None
    if not reason:
        reason, history, last = _history(studio, painting, exposures, span, now)
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


# ------------------------------------------------------------------------------------------------- never, lapsed
def _never(studio: Studio, painting: Painting, exposures: Sequence[Exposure], span: Period, now: pd.Timestamp) -> str:
    """Why nothing is called met before, whatever was looked at; "" where nothing forbids it."""
    loose = _loose(painting, now)
    if loose is not None:
        return f"{loose.sign} is on record ({date(loose.on, studio.zone)})"
    for layer, _, end in first_weeks.ends(painting, studio.materials()):
        born = utc(layer.applied_on)
        if end > span.start and born is not None and born < span.end:
            return f"first weeks of the {layer.role}, until {date(end, studio.zone)}"
    said = (verdict.too_dry_to_stand(way, painting, span.start, studio.materials()) for way in exposures)
    return next(filter(None, said), "")


def _loose(painting: Painting, now: pd.Timestamp) -> Observation | None:
    """A blister or loose paint on record that nothing has laid since. "No blister" counts too, on the side of care."""
    laid = max((t.on for t in painting.treatments if t.on <= now and LAID.search(t.kind.lower())), default=None)
    seen = (
        o for o in painting.observations if o.on <= now and (laid is None or o.on >= laid) and o.confirms is not False
    )
    return next((o for o in seen if LOOSE.search(f"{o.sign} {o.where}".lower())), None)


def _history(
    studio: Studio, painting: Painting, exposures: Sequence[Exposure], span: Period, now: pd.Timestamp
) -> tuple[str, History | None, pd.Timestamp | None]:
    """Why nothing counts as met, or what does and the last look."""
    zone = studio.zone
    stay = _stay(painting, now)
    if stay is None:
        return "nobody knows where it is", None, None
    looks, lapses = _looks(painting, now)
    lapses = [
        *lapses,
        *_works(painting, now, zone),
        _moved_in(studio, painting, stay, zone),
        *_loggers(studio, stay, now),
    ]
    begun = max(lapses, key=lambda lapse: lapse.over)
    for way in exposures:
        ended = verdict.met_ended(way, painting, span.start, begun.over)
        if ended is not None and ended[0] > begun.over:
            words = f"over {fig.MET_DAMP_RH:g} % RH in the canvas for a day" if ended[1] else "nothing known of its air"
            begun = Lapse(ended[0], ended[0], words)
    since, spans = _spans([look for look in looks if look >= begun.begins], begun.over)
    ended_by = (
        f"{begun.words} until {date(begun.over, zone)}"
        if begun.over == begun.begins
        else f"{begun.words} on {date(begun.begins, zone)}"
    )
    if not spans:
        return (
            f"no two looks of one's own in {fig.MET_HOLDS_DAYS:g} days that say the same since then: {ended_by}",
            None,
            None,
        )
    last = spans[-1][1]
    if max(now, span.end) > last + HOLDS:
        return f"the last look of one's own was on {date(last, zone)}, more than twelve months ago", None, None
    owner = _new_owner(painting, now)
    if owner is not None and owner >= last:
        return f"{NEW_OWNER} on {date(owner, zone)}, and not looked at since", None, None
    return "", History(since, spans, _compared(studio, exposures, now)), last


def _spans(
    looks: Sequence[pd.Timestamp], since: pd.Timestamp
) -> tuple[pd.Timestamp, tuple[tuple[pd.Timestamp, pd.Timestamp], ...]]:
    """From when anything counts, and the time between looks that follow each other soon enough."""
    spans: list[tuple[pd.Timestamp, pd.Timestamp]] = []
    for before, after in zip(looks, looks[1:], strict=False):
        if after - before > HOLDS:
            spans, since = [], after
        elif after > since:
            spans.append((max(before, since), after))
    return since, tuple(spans)


def _looks(painting: Painting, now: pd.Timestamp) -> tuple[list[pd.Timestamp], list[Lapse]]:
    """The looks of one's own in their order, and the new signs, whoever saw them."""
    looks: list[pd.Timestamp] = []
    lapses: list[Lapse] = []
    known: set[tuple[str, str]] = set()
    seen = sorted((o for o in painting.observations if o.on <= now and not _is_owner(o.sign)), key=lambda o: o.on)
    for on, group in groupby(seen, key=lambda o: o.on):
        told = list(group)
        own = any(o.look is Look.OWN for o in told)
        signs = [o for o in told if not o.well and o.confirms is not False]
        new = [o for o in signs if _sign(o) not in known or o.confirms or WORSE.search(f"{o.sign} {o.note}".lower())]
        if new and (looks or not own):  # what the first look finds is how it was
            lapses.append(Lapse(on, on + DAY, f"new sign ({new[0].sign})"))
        known |= {_sign(o) for o in signs}
        looks += [on] if own else []
    return looks, lapses


def _sign(seen: Observation) -> tuple[str, str]:
    return fold(seen.sign), fold(seen.where)


def _is_owner(words: str) -> bool:
    return fold(words) == NEW_OWNER


def _new_owner(painting: Painting, now: pd.Timestamp) -> pd.Timestamp | None:
    told = [o.on for o in painting.observations if _is_owner(o.sign)]
    told += [t.on for t in painting.treatments if _is_owner(t.kind)]
    return max((on for on in told if on <= now), default=None)


def _works(painting: Painting, now: pd.Timestamp, zone: str) -> Iterator[Lapse]:
    """Treatments and layers put on. A bare day ends with it."""
    for done in painting.treatments:
        if done.on <= now and done.kind not in NO_WORK and not _is_owner(done.kind):
            end = max(done.on, done.intended_end) if done.intended_end is not None else done.on
            yield Lapse(end, day_end(end, zone), done.kind)
    for layer in painting.layers:
        put_on = utc(layer.applied_on)
        if put_on is not None and put_on <= now:
            yield Lapse(put_on, day_end(put_on, zone), f"{layer.role} put on")


def _stay(painting: Painting, now: pd.Timestamp) -> Stay | None:
    """Where it is by the clock."""
    there = [stay for stay in painting.stays if stay.start <= now and (stay.end is None or stay.end > now)]
    return there[-1] if there else None


def _moved_in(studio: Studio, painting: Painting, stay: Stay, zone: str) -> Lapse:
    """When it came to the spot it is at; a stay that was only entered in two parts is one."""
    first = stay
    for before in reversed([one for one in painting.stays if one.start < stay.start]):
        same = (before.place_id, before.position, before.intended) == (first.place_id, first.position, first.intended)
        if not same or before.end is None or day_of(before.end, zone) != day_of(first.start, zone):
            break
        first = before
    over = day_end(first.start, zone) if first.start_is_date else first.start
    begins = instant(day_of(first.start, zone), zone)
    return Lapse(
        begins, max(over, begins + DAY / 24), f"came to {studio.places()[stay.place_id].name}, {stay.position},"
    )


def _loggers(studio: Studio, stay: Stay, now: pd.Timestamp) -> Iterator[Lapse]:
    """A logger of the place that was hung at another spot of it."""
    for logger in studio.loggers().values():
        here = [h for h in logger.hangings if h.place_id == stay.place_id and h.start <= now]
        for before, after in zip(here, here[1:], strict=False):
            if before.position != after.position and before.channel == after.channel:
                yield Lapse(after.start, day_end(after.start, studio.zone), f"logger {logger.id} hung at another spot")


def _compared(studio: Studio, exposures: Sequence[Exposure], now: pd.Timestamp) -> frozenset[frozenset[str]]:
    """Pairs of loggers that read its air and were held against each other, or each against a reference."""
    told = (sensor.logger for way in exposures for air in way.points.values() for sensor in (air.sensor, *air.sensors))
    used = [studio.loggers()[id] for id in dict.fromkeys(told) if id in studio.loggers()]
    return frozenset(frozenset((a.id, b.id)) for a in used for b in used if a is not b and _are_compared(a, b, now))


def _are_compared(a: Logger, b: Logger, now: pd.Timestamp) -> bool:
    checked = all(one.calibrated_on is not None and one.calibrated_on <= now for one in (a, b))
    return checked or _beside(a, b, now) >= DAY * float(fig.LOGGERS_COMPARED_DAYS)


def _beside(a: Logger, b: Logger, now: pd.Timestamp) -> pd.Timedelta:
    """How long two loggers hung in one place together, at most."""
    pairs = ((x, y) for x in a.hangings for y in b.hangings if x.place_id == y.place_id)
    return max((min(x.end or now, y.end or now) - max(x.start, y.start) for x, y in pairs), default=pd.Timedelta(0))


# ------------------------------------------------------------------------------------------------- met, ordinary
def _windows(
    studio: Studio, painting: Painting, exposures: Sequence[Exposure], history: History, could: Sequence[Finding],
    span: Period,
) -> dict[Key, tuple[Window, ...]]:  # fmt: skip
    mechanisms = {f.mechanism for f in could}
    ways = [verdict.met_before(way, painting, span.start, history, mechanisms, studio.materials()) for way in exposures]
    return {f.key: tuple(one for way in ways for one in way[f.mechanism]) for f in could}


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
    met: Sequence[Finding], windows: dict[Key, tuple[Window, ...]], last: pd.Timestamp | None, zone: str
) -> str:
    """One line: what it is, how far, when it was met, and the last look."""
    parts: dict[str, str] = {}
    for finding in met:
        kind = MET_KINDS[finding.mechanism]
        day = min(
            (one for one in windows[finding.key] if one.hours == 24), key=lambda one: abs(one.allowed - one.value)
        )
        when = "" if day.met_at is None else f"{day.met_at.tz_convert(zone):%b %Y}"
        parts.setdefault(kind, NAMED[kind].format(value=day.value, met=day.met, when=when, way=day.way))
    text = "; ".join(parts.values())
    return f"{text[:1].upper()}{text[1:]}; last look of one's own {date(last, zone)}."


def _lines(met: bool, windows: Sequence[Window], last: pd.Timestamp | None, zone: str) -> tuple[tuple[str, str], ...]:
    """Lines for `why`: whether it is met, by which windows, and on what that rests."""
    outside = [one for one in windows if not one.within]
    by = outside or [one for one in windows if one.hours == 24]
    head = "yes, in every window" if met else "no, beyond what was met"
    return (
        ("met before", f"{head}; last look of one's own {date(last, zone)}"),
        ("windows", "; ".join(one.words for one in by)),
        ("what that rests on", "; ".join(fig.MET_BASIS)),
    )  # fmt: skip
