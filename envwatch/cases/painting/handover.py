"""One painting from its treatment to its handover: what was done, the air it had, what it means, and the evidence.

An owner's house is guarded: unless asked for, its stay is there with the figures, without the name of the place, the
course of its air and its files, for they show when a house stands empty. Names of owners and their houses are taken
out of every text too (`archive.redacting`); asked for, the painting's own owner and house are named, others never.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd

from envwatch.archive import OriginalFile, Studio, as_csv, reviews
from envwatch.archive.climates.exposure import record_begin
from envwatch.archive.register.redaction import Names
from envwatch.archive.store import trust
from envwatch.archive.upkeep import check as checking
from envwatch.archive.upkeep.basis import PaperBasis, basis
from envwatch.archive.upkeep.bundle import files_behind, rows_of
from envwatch.cases import review
from envwatch.cases.painting import times
from envwatch.cases.painting.times import Times
from envwatch.cases.review import PaintingLine, causes, hit_rate, limits
from envwatch.cases.review.hit_rate import HazardRecord
from envwatch.climate import hourly as hourly_means
from envwatch.climate.exposure import Stint
from envwatch.climate.series import Climate
from envwatch.climate.summary import local_days
from envwatch.core.baseline import Sign, signs
from envwatch.core.errors import BadInput
from envwatch.core.findings import Finding, Mechanism
from envwatch.core.painting import NO_WORK, Painting
from envwatch.core.period import Period, from_to
from envwatch.core.place import PlaceKind
from envwatch.core.text import several
from envwatch.figures import SOURCES

HOUSE = "the owner's house"
LIMITS = ["finding", "review", "made_at", "limit_then", "limit_today", "unit", "source", "confidence", "same"]


@dataclass(frozen=True, eq=False)
class Segment:
    """One stay within the period, and the air of it. NaN: nothing was read."""

    start: pd.Timestamp
    end: pd.Timestamp
    place: str
    position: str
    at_home: bool  # an owner's house
    intended: bool
    coverage: float
    temp_c: tuple[float, float]  # lowest and highest reading
    rh_percent: tuple[float, float]


@dataclass(frozen=True, eq=False)
class Days:
    """Lowest and highest hourly mean of each local day; NaN where a day was not read, or is not shown."""

    days: pd.DatetimeIndex
    temp_c: tuple[np.ndarray, np.ndarray]
    rh_percent: tuple[np.ndarray, np.ndarray]


@dataclass(frozen=True)
class LimitThen:
    """A limit as a kept review had it, beside today's; None where there is none any more."""

    finding: str
    review: str
    made_at: pd.Timestamp
    then: float
    today: float | None
    unit: str
    source: str
    confidence: str
    today_source: str = ""
    today_confidence: str = ""

    @property
    def same(self) -> bool:
        """Whether it is the same figure still."""
        return self.today is not None and self.then == self.today


@dataclass(frozen=True, eq=False)
class Handover:
    """Everything on the sheet and in the bundle."""

    studio: str
    painting: Painting
    period: Period
    made_at: pd.Timestamp
    line: PaintingLine
    segments: tuple[Segment, ...]
    days: Days
    noted: tuple[Finding, ...]  # pairs of materials, whatever the climate
    sources: tuple[str, ...]
    said: tuple[tuple[str, str], ...]  # (review, sentence), the newest first
    limits: tuple[LimitThen, ...]
    files: tuple[OriginalFile, ...]
    withheld: tuple[str, ...]  # what is left out, and how to ask for it
    with_owner: bool
    labels: Mapping[str, str]  # of materials, in plain words
    names: Names  # who is not named in it
    adoption: str = ""  # what the studio says of envwatch's working limits
    looked: tuple[HazardRecord, ...] = ()  # of the studio's limits, one by one
    signs: tuple[Sign, ...] = ()  # each look until the period's end, with what it adds to those before
    basis: PaperBasis | None = None  # what it rests on, as one checksum
    amiss: tuple[str, ...] = ()  # rows of the register that are not as envwatch wrote them, or were taken as they stood
    times: tuple[Times, ...] = ()  # when each finding's air was, was read, seen and answered
    events: tuple[tuple[str, Times], ...] = ()  # of rooms, that it met with others
    owner: str = ""  # stands on a page of their own, and nowhere else


def of(
    studio: Studio, words: str, now: pd.Timestamp, first: str | None = None, last: str | None = None,
    with_owner: bool = False,
) -> Handover:  # fmt: skip
    """One painting over a period: by default from its last treatment to the last reading there is.

    Parameters
    ----------
    first, last : days such as "2026-03-14"; both included.
    with_owner : with the owner's house like any other place, and the owner's name on a page of their own, so that the
        two never share one; other owners are never named.

    Raises
    ------
    NotThere, Question : no painting, or several, fit the words. BadInput : no period can be told, or it is upside down.
    """
    painting = studio.find_painting(words)
    span = _period(studio, painting, now, first, last)
    line = review.painting_line(studio, painting, span, now)
    exposure = studio.exposures(painting, record_begin(studio, painting, span.start), span.end)[-1]
    stints = tuple(s for s in exposure.stints if s.end > span.start)
    homes = {id for id, place in studio.places().items() if place.kind == PlaceKind.HOUSE} if not with_owner else set()
    room = exposure.room.between(span.start, span.end)
    segments = tuple(_segment(room, stint, span, stint.place_id in homes) for stint in stints)
    cut = tuple(Stint(max(s.start, span.start), s.end, s.place_id, s.place_name) for s in stints)
    files = files_behind(studio, (s for s in cut if s.place_id not in homes))
    guarded = tuple(s for s in segments if s.at_home)
    kept = [one["number"] for one in reviews.reviews(studio) if _within(one, span)]
    made = Handover(
        studio.name, painting, span, now, line, segments, _days(room, guarded, studio.zone),
        tuple(f for f in line.verdict.findings if f.mechanism == Mechanism.COMPATIBILITY),
        _sources(line, painting, studio),
        _said(studio, painting, span), _limits(studio, painting, span), files,
        (), with_owner, {id: profile.short for id, profile in studio.materials().items()},
        studio.names(houses=True, owner_of=painting if with_owner else None), adoption=studio.adoption,
        looked=hit_rate.by_limit(studio), basis=basis(studio, painting.id, (f.sha256 for f in files), kept),
        amiss=(*trust.amiss(studio), *checking.accepted(studio)), times=times.of(studio, painting, line, files),
        events=times.of_events(studio, painting, span, files, homes),
    )  # fmt: skip
    named = studio.names(houses=True, owner_of=painting, apart=True) if with_owner else made.names
    result = replace(named.within(made), names=made.names, owner=painting.owner if with_owner else "")
    looks = tuple(sign for sign in signs(result.painting, studio.zone) if sign.seen.on < span.end)
    return replace(result, signs=looks, withheld=_withheld(painting, bool(guarded), with_owner, named.hidden))


def _period(studio: Studio, painting: Painting, now: pd.Timestamp, first: str | None, last: str | None) -> Period:
    """From the day asked for, the last treatment or the first stay; to the day asked for, or the last one read."""
    dated = (t for t in painting.treatments if not t.year_only and t.kind not in NO_WORK)
    began = [t.on for t in dated if t.on <= now][-1:]
    began = began or [stay.start for stay in painting.stays][:1]
    if first is None and not began:
        what = "no treatment and no stay is registered; give ⟦from⟧ and ⟦to⟧"
        raise BadInput(what, field="from", place=painting.title)
    seen = [one.last for one in studio.seen(now=now).values() if one.last is not None]
    end = min(max(seen, default=now), now)
    begin = first or str(began[0].tz_convert(studio.zone).date())
    return from_to(begin, last or max(begin, str(end.tz_convert(studio.zone).date())), studio.zone)


def _segment(room: Climate, stint: Stint, span: Period, guarded: bool) -> Segment:
    start, end = max(stint.start, span.start), min(stint.end, span.end)
    air = room.between(start, end)
    return Segment(
        start, end, HOUSE if guarded else stint.place_name or "whereabouts unknown", stint.position, guarded,
        stint.intended, air.coverage, _range(air.temp_c), _range(air.rh_percent),
    )  # fmt: skip


def _range(values: np.ndarray) -> tuple[float, float]:
    read = values[np.isfinite(values)]
    return (float(read.min()), float(read.max())) if len(read) else (float("nan"), float("nan"))


def _days(room: Climate, guarded: tuple[Segment, ...], zone: str) -> Days:
    """Day by day, without the days in a guarded house."""
    hours = hourly_means(room)
    hidden = np.zeros(len(hours.time), bool)
    for segment in guarded:
        hidden |= np.asarray((hours.time >= segment.start.floor("h")) & (hours.time < segment.end))
    shown = {"temp": np.where(hidden, np.nan, hours.temp_c), "rh": np.where(hidden, np.nan, hours.rh_percent)}
    table = pd.DataFrame(shown)
    by_day = table.groupby(local_days(hours.time, zone)).agg(["min", "max"])
    pairs = [(by_day[name, "min"].to_numpy(), by_day[name, "max"].to_numpy()) for name in ("temp", "rh")]
    return Days(pd.DatetimeIndex(by_day.index), *pairs)


def _sources(line: PaintingLine, painting: Painting, studio: Studio) -> tuple[str, ...]:
    """The full references behind the limits, and what the studio itself overruled."""
    profiles = studio.materials()
    known = [profiles[m] for m in dict.fromkeys(layer.material for layer in painting.layers) if m in profiles]
    anchors = (one for p in known for one in (p.softening_c, p.transition_c, p.activation_low_c) if one is not None)
    keys = dict.fromkeys(
        [f.source for f in line.verdict.findings if not np.isnan(f.limit)] + [one.source for one in anchors]
    )
    own = [f"{p.label}: {'; '.join(p.overruled)}" for p in known if p.overruled]
    return (*(SOURCES.get(key, key) for key in keys), *own)


def _said(studio: Studio, painting: Painting, span: Period) -> tuple[tuple[str, str], ...]:
    latest = {kept["label"]: kept for kept in reviews.reviews(studio) if _within(kept, span)}
    return tuple(
        (label, causes.with_cause(studio, painting, found))
        for label, kept in reversed(latest.items())
        for found in kept["record"].get("findings", ())
        if found["painting"] == painting.id
    )


def _within(kept: Mapping[str, Any], span: Period) -> bool:
    return kept["period_start"] < span.end and kept["period_end"] > span.start


def _limits(studio: Studio, painting: Painting, span: Period) -> tuple[LimitThen, ...]:
    """Limits in force in each kept review of the period that concern this painting, beside those in force now."""
    profiles, used = studio.materials(), [layer.material for layer in painting.layers]
    shorts = {profiles[key].short for key in used if key in profiles}
    today = limits.in_force(profiles, used)
    return tuple(
        LimitThen(
            name, kept["label"], kept["made_at"], told["limit"],
            float(today[name]["limit"]) if name in today else None, told["unit"], told["source"], told["confidence"],
            *((today[name]["source"], today[name]["confidence"]) if name in today else ()),
        )
        for kept in reviews.reviews(studio) if _within(kept, span)
        for name, told in kept["limits"].items() if limits.of_hazards(name) or limits.of_materials(name, shorts)
    )  # fmt: skip


def _withheld(painting: Painting, guarded: bool, with_owner: bool, texts: int) -> tuple[str, ...]:
    whose = "owners, and of others' houses," if with_owner else "owners and their houses"
    of = several(texts, "text")
    taken = (f"Names of {whose} were taken out of {of} behind this paper.",) if texts else ()
    if with_owner and painting.owner:
        taken = ("The owner's name stands on the last page alone, and no house on that.", *taken)
    told = ["the owner's name"] if painting.owner else []
    told += ["the name of the owner's house, the course of its air and its files"] if guarded else []
    if with_owner or not told:
        return taken
    there = "They are" if guarded else "It is"
    return (f"Left out: {', and '.join(told)}. {there} there with ⟦owner⟧.", *taken)


def papers(studio: Studio, result: Handover) -> dict[str, bytes]:
    """What goes into the bundle beside the sheet and the original files, by file name."""
    loggers = {file.logger for file in result.files}
    then = [
        {"finding": told.finding, "review": told.review, "made_at": told.made_at.isoformat(), "limit_then": told.then,
         "limit_today": told.today, "unit": told.unit, "source": told.source, "confidence": told.confidence,
         "same": told.same}
        for told in result.limits
    ]  # fmt: skip
    files = [
        {"name": f.name, "logger": f.logger, "first": f.first.isoformat(), "last": f.last.isoformat(),
         "readings": f.readings, "sha256": f.sha256}
        for f in result.files
    ]  # fmt: skip
    return {
        "limits.csv": as_csv(LIMITS, then),
        "files.csv": as_csv(["name", "logger", "first", "last", "readings", "sha256"], files),
        "reviews.csv": as_csv(["review", "sentence"], [{"review": r, "sentence": s} for r, s in result.said]),
        "calibrations.csv": rows_of(studio, "calibrations", loggers, result.names),
        "hangings.csv": rows_of(studio, "hangings", loggers, result.names),
        "mark_answers.csv": rows_of(studio, "mark_answers", loggers, result.names),
    }
