"""Weeks reviewed before all of their air was known: which they are, and what they would have said.

Late is what falls into a week that was reviewed and that no review judges besides: a file fetched late, a check of a
logger or a correction of its clock, a stay or a treatment entered later, an answer to a doubt. What merely goes on from
where a review had read to, in the second half of its week, the review after it judges (`hazards.hourly`): that is not
late. Nothing here writes but the numbers of findings; what was judged again is kept with the review that says so.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import pandas as pd

from envwatch.archive import Studio, reviews
from envwatch.archive.intake.summary import came_in, last_file
from envwatch.cases.review.evidence import StudioAir
from envwatch.cases.review.model import PaintingLine, Review, Revised
from envwatch.cases.review.paintings import painting_lines
from envwatch.cases.waits import NOT_OF_AIR
from envwatch.core.findings import Finding, Level
from envwatch.core.painting import Painting
from envwatch.core.period import SEVEN_DAYS, Period

HOUR = pd.Timedelta(hours=1)


@dataclass(frozen=True, eq=False)
class Week:
    """The last kept review of a period, and what later reviews made of it, by painting."""

    kept: Mapping[str, Any]
    period: Period
    again: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)
    told: Sequence[tuple[pd.Timestamp, Sequence[Mapping[str, Any]]]] = ()  # when, and what any review told of it

    @property
    def made_at(self) -> pd.Timestamp:
        return self.kept["made_at"]

    @property
    def judged(self) -> Mapping[str, int]:
        """The level then, by painting."""
        return self.kept["record"].get("levels", {})

    @cached_property
    def is_week(self) -> bool:
        return self.period.is_week

    def read_until(self, id: str) -> pd.Timestamp | None:
        """Until when a painting's air had been read when it was last judged for this period."""
        until = self.again.get(id, {}).get("read_until") or self.kept["record"].get("read_until", {}).get(id)
        return None if until is None else pd.Timestamp(until)

    def after(self, id: str) -> int | pd.Timestamp:
        """The last file there was when a painting was last judged for this period; when that was, where not kept."""
        return self.again.get(id, {}).get("last_file") or self.kept["record"].get("last_file") or self.made_at

    def rested_on(self, id: str) -> str | None:
        """The digest of the air that was judged last; None where none was kept."""
        return self.again.get(id, {}).get("rested_on") or self.kept["record"].get("rested_on", {}).get(id)

    def stated(self, id: str, harm: tuple[str, str], level: int) -> list[pd.Timestamp]:
        """When reviews were made that stated as much of a harm: of the period, or later ones that judged it again."""
        return [
            made_at for made_at, found in self.told
            if any((f["painting"], f["hazard"], f["mechanism"]) == (id, *harm) and f["level"] >= level for f in found)
        ]  # fmt: skip

    def findings(self, id: str) -> list[dict[str, Any]]:
        """What was last told against a painting for this period."""
        found = self.again.get(id, {}).get("findings", self.kept["record"].get("findings", ()))
        return [f for f in found if f["painting"] == id and not {f["hazard"], f["mechanism"]} & NOT_OF_AIR]


@dataclass(frozen=True, eq=False)
class Changed:
    """A painting's week judged again. `raised`: findings of a level that was not told; `eased`: (what was told, the
    level by now) of what is not raised, or less so."""

    week: Week
    painting: Painting
    line: PaintingLine
    raised: tuple[Finding, ...]
    eased: tuple[tuple[Mapping[str, Any], Level], ...]


@dataclass(frozen=True, eq=False)
class Again:
    """What came of it: the weeks that say otherwise now, and what is to be kept with the next review."""

    changed: tuple[Changed, ...]
    record: dict[str, Any]  # number of a review -> painting -> rested_on, read_until, last_file, findings
    weeks: tuple[Week, ...] = ()  # reviewed periods that were looked at
    evidence: StudioAir | None = None  # None where there is no review to look back on, nor one being made


def weeks(kept: Sequence[Mapping[str, Any]], zone: str) -> list[Week]:
    """All reviewed periods, in order. `kept`: the reviews, in the order they were made."""
    again: dict[str, dict[str, Any]] = {}
    told: dict[tuple[pd.Timestamp, pd.Timestamp], list[tuple[pd.Timestamp, Sequence[Mapping[str, Any]]]]] = {}
    spans = {str(one["number"]): (one["period_start"], one["period_end"]) for one in kept}
    for one in kept:
        told.setdefault(spans[str(one["number"])], []).append((one["made_at"], one["record"].get("findings", ())))
        for number, of in one["record"].get("judged_again", {}).items():
            again.setdefault(number, {}).update(of)
            told[spans[number]].append((one["made_at"], [f for by in of.values() for f in by.get("findings", ())]))
    last = {spans[str(one["number"])]: one for one in kept}
    found = [
        Week(one, Period(*span, one["label"], zone), again.get(str(one["number"]), {}), told[span])
        for span, one in last.items()
    ]
    return sorted(found, key=lambda week: (week.period.start, week.period.end))


def judged_again(
    studio: Studio, review: Review | None = None, only: Painting | None = None,
    kept: Sequence[Mapping[str, Any]] | None = None,
) -> Again:  # fmt: skip
    """The reviewed weeks whose air is not what it was, judged again.

    Parameters
    ----------
    review : the one being made, which judges what goes on from the week before; None: the next one will.
    only : of this painting alone.
    kept : the kept reviews, where they have been read.
    """
    reviewed = weeks(reviews.reviews(studio) if kept is None else kept, studio.zone)
    known = [week for week in reviewed if review is None or week.period.start <= review.period.start]
    ends = [week.period.end for week in known] + ([] if review is None else [review.period.end])
    if not ends:
        return Again((), {})
    paintings = studio.paintings() if only is None else {only.id: only}
    evidence = StudioAir(studio, max(ends))
    next_to = {week.period.start: week for week in known if week.is_week}
    changed: list[Changed] = []
    record = {}
    for week in known:
        differ, of_week = _week_again(evidence, week, next_to.get(week.period.end), paintings, review)
        changed += differ
        if of_week:
            record[str(week.kept["number"])] = of_week
    return Again(tuple(changed), record, tuple(known), evidence)


def _week_again(
    evidence: StudioAir, week: Week, after: Week | None, paintings: Mapping[str, Painting], review: Review | None
) -> tuple[list[Changed], dict[str, Any]]:
    """One week: what it says otherwise, and what to keep of each painting whose air changed or was not on record."""
    record: dict[str, Any] = {}
    by_end: dict[pd.Timestamp | None, list[Painting]] = {}
    for id in week.judged:
        painting = paintings.get(id)
        if painting is None:
            continue
        read = week.read_until(id)
        whole = read is not None and read >= week.period.end
        until = read if whole or _goes_on(week, after, id, review) else None
        if _has_changed(evidence, week, painting, until):
            by_end.setdefault(until, []).append(painting)
        elif week.rested_on(id) is None:
            record[id] = _judged_on(evidence, week, painting, read)
    changed = []
    for until, some in by_end.items():
        for line in painting_lines(evidence.studio, some, week.period, week.made_at, read_until=until):
            painting = paintings[line.id]
            changed.append(_compared(week, after, painting, line))
            found = [{"label": week.period.label, **as_kept(line.id, f)} for f in line.verdict.raised]
            record[line.id] = _judged_on(evidence, week, painting, line.read_until) | {"findings": found}
    return [one for one in changed if one.raised or one.eased], record


def _judged_on(evidence: StudioAir, week: Week, painting: Painting, until: pd.Timestamp | None) -> dict[str, Any]:
    kept = {"rested_on": evidence.digest(painting, week.period, until), "last_file": last_file(evidence.studio)}
    return kept if until is None else kept | {"read_until": str(until)}


def _goes_on(week: Week, after: Week | None, id: str, review: Review | None) -> bool:
    """Whether what was read of a week after its review is judged by the review of the next, and so is not late."""
    until = week.read_until(id)
    if not week.is_week or until is None or until < week.period.start + SEVEN_DAYS / 2:
        return False
    if after is not None:
        later = after.read_until(id)
        return id in after.judged and later is not None and later > until
    if review is None or review.period == week.period:
        return True
    if review.period.start != week.period.end:
        return False
    return any(line.id == id and line.left is None for line in review.judged)


def _has_changed(evidence: StudioAir, week: Week, painting: Painting, until: pd.Timestamp | None) -> bool:
    """Whether the air of a week is another; `until`: what is read from then on is not the week's to judge."""
    start, end, read = week.period.start, week.period.end, week.read_until(painting.id)
    rested_on = week.rested_on(painting.id)
    if rested_on is None:
        places = {stint.place_id for way in evidence.ways(painting, week.period) for stint in way if stint.end > start}
        return came_in(evidence.studio, places, start, min(end, until or end), week.after(painting.id)) is not None
    differs = evidence.digest(painting, week.period, read) != rested_on
    if differs or until is not None:
        return differs
    unread = start if read is None else max(start, read + HOUR)
    return unread < end and evidence.read_in(painting, week.period, unread, end)


def _compared(week: Week, after: Week | None, painting: Painting, line: PaintingLine) -> Changed:
    """What is raised now and was not, or less; and what was and is not, or less."""
    found = [f for f in line.verdict.findings if not {f.hazard, f.mechanism} & NOT_OF_AIR]
    before, now = _worst(week.findings(line.id)), _worst(as_kept(line.id, f) for f in found)
    known = _worst([*before.values(), *(_of_both(week, after, line.id) if after is not None else ())])
    raised = [f for f in found if f.level >= Level.WATCH and f.level > _level(known.get((f.hazard, f.mechanism)))]
    less = [(one, Level(_level(now.get(harm)))) for harm, one in before.items() if _level(now.get(harm)) < one["level"]]
    return Changed(week, painting, line, tuple(raised), tuple(less))


def _of_both(week: Week, after: Week, id: str) -> list[Mapping[str, Any]]:
    """What the review of the next week told of a spell that began in this one."""
    end = week.period.end
    return [f for f in after.findings(id) if not f.get("since") or pd.Timestamp(f["since"]) < end]


def _worst(found: Iterable[Mapping[str, Any]]) -> dict[tuple[str, str], Mapping[str, Any]]:
    """The highest of each harm."""
    worst: dict[tuple[str, str], Mapping[str, Any]] = {}
    for one in sorted(found, key=lambda one: one["level"]):
        worst[one["hazard"], one["mechanism"]] = one
    return worst


def _level(found: Mapping[str, Any] | None) -> int:
    return Level.UNKNOWN if found is None else found["level"]


def as_kept(id: str, finding: Finding) -> dict[str, Any]:
    """What is kept of a finding against a painting."""
    f = finding
    return {
        "number": f.number, "painting": id, "level": int(f.level), "hazard": f.hazard, "mechanism": f.mechanism,
        "value": f.value, "limit": f.limit, "unit": f.unit, "sentence": f.sentence, "do": f.do, "look_for": f.look_for,
        "place": f.place, "since": f.since, "until": f.until, "ended": f.ended, "ended_by": f.ended_by,
        "state": f.state, "standing": f.standing, "material": f.material,
    }  # fmt: skip


def told_before(again: Again, review: Review) -> tuple[Revised, ...]:
    """What the last kept review of the same period opened with: told again, whenever that period is reviewed."""
    span = review.period.start, review.period.end
    kept = (week.kept["record"] for week in again.weeks if (week.period.start, week.period.end) == span)
    return tuple(_from_kept(one) for record in kept for one in record.get("revised", ()))


def _from_kept(one: Mapping[str, Any]) -> Revised:
    times = {key: pd.Timestamp(one[key]) if one[key] else None for key in ("known_since", "began", "ended")}
    lists = {key: tuple(one.get(key, ())) for key in ("paintings", "papers", "numbers", "weeks")}
    return Revised(**{**one, **times, **lists, "level": Level(one["level"])})


def replaced(told: Revised, new: Iterable[Revised]) -> bool:
    """Whether something new is said of the same weeks of all its paintings."""
    weeks, paintings = set(told.label.split(", ")), set(told.paintings)
    return any(weeks & set(one.label.split(", ")) and paintings <= set(one.paintings) for one in new)
