"""What counts as met before by a painting, what ended it, and when nothing is.

Counted is only what lay between two looks of one's own (raking light, front and back) that say the same; nothing from
before the last thing that ended it. A telephone call, somebody's photograph, a look in passing, and how long it has
hung there, neither make it nor renew it.

New heating, a knock, a changed glass or board: the register knows of them by a treatment of that name or an
observation (`treat ID "new heating"`, `observe ID "a knock"`), for any work and any new sign ends it; `"new owner"`
puts it off until the next look. The whole rule is ours (`figures.canvas`, "met before").
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby

import pandas as pd

from envwatch import verdict
from envwatch.archive import Studio
from envwatch.climate.exposure import Exposure
from envwatch.core.baseline import Novelty, sign
from envwatch.core.dates import day_end, day_of, instant, utc
from envwatch.core.painting import NO_WORK, Look, Observation, Painting, Stay
from envwatch.core.period import Period
from envwatch.core.place import Logger
from envwatch.core.text import date, fold
from envwatch.figures import canvas as fig
from envwatch.figures.materials import first_weeks_ends
from envwatch.verdict import History

DAY = pd.Timedelta(days=1)
HOLDS = DAY * float(fig.MET_HOLDS_DAYS)
NEW_OWNER = "new owner"
LOOSE = re.compile(r"blister|air pocket|loose|flak|lift|cleav|tent|delamin|detach|hollow|bulge")
GROWN = "worse worsened more wider larger longer bigger deeper higher stronger further grew"
WORSE = re.compile(
    rf"(?<!\bno )(?<!\bnot )(?<!\bnothing )\b({GROWN.replace(' ', '|')}|(spread|grow|progress|increas)\w*)\b"
)
LAID = re.compile(r"consolidat|blister|flak|laying|laid down|^(re)?lining")  # treatments after which nothing is loose


@dataclass(frozen=True)
class Lapse:
    """What ended all that was met until then. A look of its last day counts; an hour only once it is over."""

    begins: pd.Timestamp
    over: pd.Timestamp
    words: str


def never(studio: Studio, painting: Painting, exposures: Sequence[Exposure], span: Period, now: pd.Timestamp) -> str:
    """Why nothing is called met before, whatever was looked at; "" where nothing forbids it."""
    loose = _loose(painting, now)
    if loose is not None:
        return f"{loose.sign} is on record ({date(loose.on, studio.zone)})"
    fresh = in_first_weeks(studio, painting, span)
    if fresh:
        return fresh
    said = (verdict.too_dry_to_stand(way, painting, span.start, studio.materials()) for way in exposures)
    return next(filter(None, said), "")


def in_first_weeks(studio: Studio, painting: Painting, span: Period) -> str:
    """Which layer is in its first weeks in any of a period, and until when; "" where none is."""
    for layer, _, end in first_weeks_ends(painting, studio.materials()):
        born = utc(layer.applied_on)
        if end > span.start and born is not None and born < span.end:
            return f"first weeks of the {layer.role}, until {date(end, studio.zone)}"
    return ""


def _loose(painting: Painting, now: pd.Timestamp) -> Observation | None:
    """A blister or loose paint on record that nothing has laid since."""
    laid = max((t.on for t in painting.treatments if t.on <= now and LAID.search(t.kind.lower())), default=None)
    seen = [o for o in painting.observations if o.on <= now and (laid is None or o.on >= laid)]
    seen = [o for o in seen if sign(painting, o).novelty is not Novelty.NOTHING]
    return next((o for o in seen if LOOSE.search(f"{o.sign} {o.where}".lower())), None)


def history(
    studio: Studio, painting: Painting, exposures: Sequence[Exposure], span: Period, now: pd.Timestamp
) -> tuple[History | None, pd.Timestamp | None, str]:  # fmt: skip
    """What counts as met and the last look; or None, None and why nothing does."""
    stay, zone, used = _stay(painting, now), studio.zone, _used(studio, exposures)
    if stay is None:
        return None, None, "nobody knows where it is"
    looks, lapses = _looks(painting, now)
    lapses += [*_works(painting, now, zone), _moved_in(studio, painting, stay), *_rehung(used, stay, now, zone)]
    begun = _dampened(painting, exposures, span, max(lapses, key=lambda lapse: lapse.over))
    since, spans = _spans([look for look in looks if look >= begun.begins], begun.over)
    if not spans:
        two = f"no two looks of one's own within {fig.MET_HOLDS_DAYS:g} days that say the same"
        return None, None, f"{two} since {begun.words} ({date(begun.begins, zone)})"
    last, owner = spans[-1][1], _new_owner(painting, now)
    if span.end > last + HOLDS:
        return None, None, f"the last look of one's own was on {date(last, zone)}, more than twelve months ago"
    if owner is not None and owner >= last:
        return None, None, f"{NEW_OWNER} on {date(owner, zone)}, and not looked at since"
    return History(since, spans, _compared(used, now), tuple(_checks(studio, used, now))), last, ""


def _dampened(painting: Painting, exposures: Sequence[Exposure], span: Period, begun: Lapse) -> Lapse:
    """The last lapse, or the damp, or time of which nothing is known, that its canvas went through since."""
    for way in exposures:
        ended = verdict.met_ended(way, painting, span.start, begun.over)
        if ended is not None and ended[0] > begun.over:
            damp = f"a day over {fig.MET_DAMP_RH:g} % RH in the canvas"
            begun = Lapse(ended[0], ended[0], damp if ended[1] else "a time of which nothing is known of its air")
    return begun


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
    seen = sorted((o for o in painting.observations if o.on <= now and not _is_owner(o.sign)), key=lambda o: o.on)
    for on, group in groupby(seen, key=lambda o: o.on):
        told = list(group)
        own = any(o.look is Look.OWN for o in told)
        new = next((o for o in told if _is_new(painting, o)), None)
        if new is not None and (looks or not own):  # what the first look finds is how it was
            lapses.append(Lapse(on, on + DAY, f"the new sign ({new.sign})"))
        looks += [on] if own else []
    return looks, lapses


def _is_new(painting: Painting, seen: Observation) -> bool:
    """A sign that was not there before, has grown, or bears a finding out."""
    beside = sign(painting, seen)
    known = beside.novelty is Novelty.KNOWN and not WORSE.search(f"{seen.sign} {seen.note}".lower())
    return beside.novelty is not Novelty.NOTHING and (seen.confirms is True or not known)


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
            yield Lapse(put_on, day_end(put_on, zone), f"the {layer.role} was put on")


def _stay(painting: Painting, now: pd.Timestamp) -> Stay | None:
    """Where it is by the clock."""
    there = [stay for stay in painting.stays if stay.start <= now and (stay.end is None or stay.end > now)]
    return there[-1] if there else None


def _moved_in(studio: Studio, painting: Painting, stay: Stay) -> Lapse:
    """When it came to the spot it is at; a stay that was only entered in two parts is one."""
    first, place = stay, studio.places()[stay.place_id]
    zone = place.zone
    for before in reversed([one for one in painting.stays if one.start < stay.start]):
        same = (before.place_id, before.position, before.intended) == (first.place_id, first.position, first.intended)
        if not same or before.end is None or day_of(before.end, zone) != day_of(first.start, zone):
            break
        first = before
    over = day_end(first.start, zone) if first.start_is_date else first.start
    begins = instant(day_of(first.start, zone), zone)
    return Lapse(begins, max(over, begins + DAY / 24), f"it came to {place.name}, {stay.position}")


def _rehung(used: Iterable[Logger], stay: Stay, now: pd.Timestamp, zone: str) -> Iterator[Lapse]:
    """Where a logger that reads its air was hung at another spot of the place."""
    for logger in used:
        here = [h for h in logger.hangings if h.place_id == stay.place_id and h.start <= now]
        for before, after in ((a, b) for n, b in enumerate(here) for a in here[:n] if a.channel == b.channel):
            if before.position != after.position:
                yield Lapse(
                    after.start, day_end(after.start, zone), f"the logger {logger.name} was hung at another spot"
                )


def _used(studio: Studio, exposures: Sequence[Exposure]) -> list[Logger]:
    """The loggers that read its air."""
    told = (sensor.logger for way in exposures for air in way.points.values() for sensor in (air.sensor, *air.sensors))
    return [studio.loggers()[id] for id in dict.fromkeys(told) if id in studio.loggers()]


def _checks(studio: Studio, used: Iterable[Logger], now: pd.Timestamp) -> Iterator[tuple[str, pd.Timestamp]]:
    """When the humidity of each logger was last corrected."""
    for logger in used:
        checks = studio.register().calibrations.get(logger.id, ())
        on = [instant(check["on"], studio.zone) for check in checks if check["rh_read_low"] is not None]
        if any(day <= now for day in on):
            yield logger.id, max(day for day in on if day <= now)


def _compared(used: Sequence[Logger], now: pd.Timestamp) -> frozenset[frozenset[str]]:
    """Pairs of loggers that were held against each other, or each against a reference."""
    return frozenset(frozenset((a.id, b.id)) for a in used for b in used if a is not b and _are_compared(a, b, now))


def _are_compared(a: Logger, b: Logger, now: pd.Timestamp) -> bool:
    checked = all(one.calibrated_on is not None and one.calibrated_on <= now for one in (a, b))
    return checked or _beside(a, b, now) >= DAY * float(fig.LOGGERS_COMPARED_DAYS)


def _beside(a: Logger, b: Logger, now: pd.Timestamp) -> pd.Timedelta:
    """How long two loggers hung in one place together, at most."""
    pairs = ((x, y) for x in a.hangings for y in b.hangings if x.place_id == y.place_id)
    return max((min(x.end or now, y.end or now) - max(x.start, y.start) for x, y in pairs), default=pd.Timedelta(0))
