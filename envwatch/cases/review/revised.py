"""What a review opens with: of the weeks judged again what is raised now or taken back, and what rested on their air.

One entry for what the air of one place did at one time, for all paintings that stood there then, those that have left
too. Each is told with one kept review, which keeps what it judged; what is asked for stays among the tasks.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd

from envwatch.archive import Studio, reviews
from envwatch.archive.intake.summary import came_in, last_file
from envwatch.cases import leaving
from envwatch.cases.review import again as judging_again
from envwatch.cases.review import over, papers, state, stretches
from envwatch.cases.review.again import Again, Changed, Week, as_kept
from envwatch.cases.review.evidence import StudioAir
from envwatch.cases.review.model import HARM_ORDER, PaintingLine, Review, Revised, TaskLine, urgency
from envwatch.core.findings import Finding, Level
from envwatch.core.painting import NO_WORK, Painting
from envwatch.core.text import day, first_sentence, stamp
from envwatch.figures.coverage import CLEAR_NEEDS
from envwatch.figures.review import LOOK_WHEN_OVER_DAYS

DAY = pd.Timedelta(days=1)
SAID = {Level.CLEAR: "said nothing against it", Level.UNKNOWN: "did not know it"}  # a review that raised nothing
DAMP = ("damp", "mould", "condensation")


@dataclass(frozen=True, eq=False)
class RaisedNow:
    """What is raised now of one painting, by one kind of harm: the worst finding, of how many weeks."""

    painting: Painting
    line: PaintingLine
    finding: Finding
    kind: str
    place_id: str
    position: str
    began: pd.Timestamp
    until: pd.Timestamp
    ended: pd.Timestamp | None
    weeks: tuple[Week, ...]  # in which it is raised
    label: str  # of the week of its finding
    raised: tuple[tuple[Week, Finding], ...] = ()  # in each of its weeks
    others: tuple[RaisedNow, ...] = ()  # what else is raised of the painting by the same air


def opened(studio: Studio, review: Review) -> Review:
    """The review with the weeks judged again, their tasks, and what is kept of it all with it."""
    again = judging_again.judged_again(studio, review)
    evidence = again.evidence
    assert evidence is not None, "a review that is made has an end"
    rested_on = {line.id: evidence.digest(line.painting, review.period, line.read_until) for line in review.judged}
    rested = {"rested_on": rested_on, "judged_again": again.record, "last_file": last_file(studio)}
    before = judging_again.told_before(again, review)
    if not again.changed:
        return replace(review, revised=before, rested=rested)
    groups = _groups(again, evidence)
    entries = [_entry(studio, evidence, group, review) for group in groups]
    taken_back = [_taken_back(studio, evidence, one, review.made_at) for one in again.changed if one.eased]
    listed = {due.number for due in review.tasks}
    asked = [
        _task(studio, spell, entry, review) for group, entry in zip(groups, entries, strict=True) for spell in group
    ]
    tasks = [due for due in asked if due is not None and due.number not in listed]
    new = [*entries, *taken_back]
    told = sorted(
        [*new, *(one for one in before if not judging_again.replaced(one, new))],
        key=lambda one: (one.taken_back, -one.level, one.began),
    )
    return replace(review, revised=tuple(told), tasks=(*tasks, *review.tasks), rested=rested)


def at_once(studio: Studio) -> tuple[str, ...]:
    """In words, which reviewed weeks say otherwise by what is known now; nothing where all say the same."""
    again = judging_again.judged_again(studio)
    if not again.changed:
        return ()
    labels = sorted({one.week.period.label for one in again.changed})
    raised: dict[str, Level] = {}
    for one in again.changed:
        for found in one.raised:
            raised[_name(one.painting)] = max(found.level, raised.get(_name(one.painting), found.level))
    eased = {_name(one.painting) for one in again.changed if one.eased}
    parts = [f"{name} is raised by it ({level.word})" for name, level in sorted(raised.items(), key=lambda i: -i[1])]
    parts += [f"less is said of {name} now" for name in sorted(eased)]
    what = f"Reviewed before and judged again: {', '.join(labels)}. {'; '.join(parts)}."
    return (f"{what} Make the review (envwatch review): it opens with this.",)


def of_painting(studio: Studio, painting: Painting, now: pd.Timestamp) -> tuple[str, ...]:
    """What was printed or said of a painting and rests on air since revised: told by a kept review, or not yet."""
    rests: dict[str, str] = {}
    every = reviews.reviews(studio)
    for kept in every:
        for one in kept["record"].get("revised", ()):
            known = f"known since {stamp(pd.Timestamp(one['known_since']), studio.zone)}"
            own = [paper for paper in one["papers"] if paper.endswith(f"({painting.id})") or "(" not in paper]
            rests |= dict.fromkeys(own if painting.id in one["paintings"] else (), known)
    for one in judging_again.judged_again(studio, only=painting, kept=every).changed:
        printed = papers.of(studio, painting, one.week.period.start, now)
        rests |= dict.fromkeys(
            (papers.review_of(one.week.made_at, studio.zone), *printed), "make the review, which says how"
        )
    return tuple(f"The {paper} rests on air since revised ({how})." for paper, how in rests.items())


# ------------------------------------------------------------------------------------------------ what is raised


def _groups(again: Again, evidence: StudioAir) -> list[list[RaisedNow]]:
    """What the air of one place did at one time, a spell a painting, the worst first; a swing goes with its spell."""
    found: list[list[RaisedNow]] = []
    spells = [_spell(evidence, changed, finding) for changed in again.changed for finding in changed.raised]
    for spell in sorted(spells, key=lambda spell: (spell.kind == "swing", spell.began)):
        group = next((group for group in found if _together(group, spell)), None)
        if group is None:
            found.append([spell])
        else:
            group.append(spell)
    return [_by_painting(group) for group in found]


def _together(group: Sequence[RaisedNow], spell: RaisedNow) -> bool:
    first = group[0]
    alike = spell.kind in (first.kind, "swing") and spell.place_id == first.place_id
    of_it = [one for one in group if one.kind == first.kind]
    near = spell.began <= max(one.until for one in of_it) + DAY and spell.until >= min(one.began for one in of_it) - DAY
    return alike and near


def _spell(evidence: StudioAir, changed: Changed, finding: Finding) -> RaisedNow:
    span = changed.week.period
    worst = finding.worst_at or finding.since or span.start
    began = min(finding.since or worst, worst)
    stint = evidence.stint_at(changed.painting, span, min(worst, span.end - pd.Timedelta(hours=1)))
    ended = finding.ended
    until = max(began, finding.until or ended or worst)
    place, position = ("", "") if stint is None else (stint.place_id, stint.position)
    return RaisedNow(
        changed.painting, changed.line, finding, _kind(finding), place, position, began, until, ended,
        (changed.week,), span.label, ((changed.week, finding),),
    )  # fmt: skip


def _kind(finding: Finding) -> str:
    """Heat, damp, dry, cold or swing; "" where it is none of them."""
    harm = finding.hazard if finding.hazard in HARM_ORDER else finding.mechanism
    kind = next((word for word in HARM_ORDER if word in harm), "")
    return "damp" if kind in DAMP else kind


def _by_painting(group: Sequence[RaisedNow]) -> list[RaisedNow]:
    """One spell a painting: the worst of its weeks and layers, over the time of all of them."""
    of: dict[str, list[RaisedNow]] = {}
    for spell in group:
        of.setdefault(spell.painting.id, []).append(spell)
    return sorted((_joined(some) for some in of.values()), key=lambda one: (-one.finding.level, one.painting.title))


def _joined(some: Sequence[RaisedNow]) -> RaisedNow:
    some = sorted(some, key=lambda spell: (spell.kind == "swing", -spell.finding.level, urgency(spell.finding)))
    alike = [spell for spell in some if spell.kind == some[0].kind]
    last = max(alike, key=lambda spell: spell.weeks[0].period.end)
    weeks = {week.kept["number"]: week for spell in some for week in spell.weeks}
    harms = {spell.finding.key: spell for spell in reversed(some)}
    return replace(
        some[0], began=min(spell.began for spell in alike), until=max(spell.until for spell in alike),
        ended=last.ended, weeks=tuple(weeks[number] for number in sorted(weeks)),
        raised=tuple(pair for spell in some for pair in spell.raised),
        others=tuple(spell for spell in harms.values() if spell is not some[0]),
    )  # fmt: skip


def _entry(studio: Studio, evidence: StudioAir, group: Sequence[RaisedNow], review: Review) -> Revised:
    """One entry, in the order in which one asks: what, where, whether it goes on, who, what was said, what to see."""
    zone, worst = studio.zone, group[0]
    began, until = min(one.began for one in group), max(one.until for one in group)
    weeks = {week.kept["number"]: week for one in group for week in one.weeks}
    made = sorted(weeks.values(), key=lambda week: (week.period.start, week.made_at))
    known, how = _known(studio, [worst.place_id], began, until, worst.weeks[0].after(worst.painting.id), review.made_at)
    place = studio.places()[worst.place_id].name if worst.place_id else "wherever it was"
    of = {one.painting.id: papers.of(studio, one.painting, began, known) for one in group}
    printed = tuple(dict.fromkeys(paper for some in of.values() for paper in some))
    wrong = [week for week in made if not all(week.made_at in at for at in _stated(group, week))]
    rested = (*(papers.review_of(week.made_at, zone) for week in wrong), *printed)
    ended = None if any(one.ended is None for one in group) else until
    numbered = [one for one in group if one.finding.number is not None]
    told = (
        f"Known since {stamp(known, zone)}{how}: {_when(evidence, group, began, until)} {place} "
        f"{_air(evidence, worst, began, until)}; {_since(evidence, worst, ended, review)}.",
        first_sentence(worst.finding.sentence),
        *(f"Also {one.finding.level.word}: {first_sentence(one.finding.sentence)}" for one in worst.others[:1]),
        f"There then: {'; '.join(_stood(studio, one, review) for one in group)}.",
        *_reviews_said(made, wrong, printed, group, _ring(studio, group, review)),
        _treated(studio, group, began, review.made_at), _looked(group, began, until, zone),
        f"By now look for: {worst.finding.look_for}" if worst.finding.look_for else "",
    )  # fmt: skip
    return Revised(
        ", ".join(week.period.label for week in made), known, began, ended, " ".join(filter(None, told)),
        tuple(one.painting.id for one in group),
        rested, tuple(int(one.finding.number or 0) for one in numbered), worst.finding.level,
        tuple(one.label for one in numbered),
    )  # fmt: skip


def _when(evidence: StudioAir, group: Sequence[RaisedNow], began: pd.Timestamp, until: pd.Timestamp) -> str:
    """From when to when; of air that came back to its limits for a day in between, each stretch."""
    worst, zone = group[0], evidence.studio.zone
    if not worst.place_id:
        return stretches.words([(began, until)], zone)
    found = [s.finding for one in group for s in (one, *one.others) if s.kind == worst.kind]
    air = evidence.air(worst.place_id, worst.position)
    return stretches.words(stretches.stretches(air, worst.kind, found, (began, until)), zone)


def _stated(group: Sequence[RaisedNow], week: Week, least: Level | None = None) -> list[list[pd.Timestamp]]:
    """When each harm that is raised in a week was stated by a review, or stated at a milder level at least."""
    raised = [(one.painting.id, finding) for one in group for of, finding in one.raised if of is week]
    return [week.stated(id, (f.hazard, f.mechanism), f.level if least is None else least) for id, f in raised]


def _reviews_said(
    made: Sequence[Week], wrong: Sequence[Week], printed: Sequence[str], group: Sequence[RaisedNow], ring: str
) -> Iterable[str]:
    """What the reviews had said of it, and which papers are to be corrected."""
    zone = made[0].period.zone
    stated = [(week.made_at, _stated(group, week)) for week in made]
    same = [own if all(own in at for at in every) else max(map(min, every)) for own, every in stated if all(every)]
    if same:
        yield f"Our {_papers(same, (), zone)} said the same: it stands again{'' if wrong or printed else ring}."
    if wrong:
        them = "it" if len(wrong) + len(printed) == 1 else "them"
        papers_ = _papers([week.made_at for week in wrong], printed, zone)
        yield f"Our {papers_} {_said(group, wrong)}: correct {them}{ring}."
    elif printed:
        yield f"Correct {_listed(printed)}{ring}."


def _papers(made_at: Iterable[pd.Timestamp], printed: Sequence[str], zone: str) -> str:
    """Reviews by their days, then what else was printed or said."""
    days = _listed(list(dict.fromkeys(day(at.tz_convert(zone)) for at in made_at)))
    return _listed([f"review{'s' if ' and ' in days else ''} of {days}", *printed])


def _known(
    studio: Studio, places: Iterable[str], began: pd.Timestamp, until: pd.Timestamp,
    after: int | pd.Timestamp, now: pd.Timestamp,
) -> tuple[pd.Timestamp, str]:  # fmt: skip
    """When it came in; with "by the register" where no file did since, and what is entered there has no time."""
    came = came_in(studio, [place for place in places if place], began, until, after)
    return (now, " by the register") if came is None else (came, "")


def _air(evidence: StudioAir, spell: RaisedNow, began: pd.Timestamp, until: pd.Timestamp) -> str:
    """What the air of the place did then, in the quantity that harmed."""
    if not spell.place_id:
        return "had other air than was known"
    air = evidence.air(spell.place_id, spell.position).between(began, max(until, began + pd.Timedelta(hours=1)))
    if not len(air.time):
        return "was not read in those hours"
    (cold, warm), (dry, damp) = ((np.nanmin(of), np.nanmax(of)) if np.isfinite(of).any() else (np.nan, np.nan)
                                 for of in (air.temp_c, air.rh_percent))  # fmt: skip
    return {
        "heat": f"was up to {warm:.1f} °C warm", "cold": f"was down to {cold:.1f} °C cold",
        "dry": f"was down to {dry:.0f} % RH dry", "damp": f"stood at up to {damp:.0f} % RH",
    }.get(spell.kind, f"went from {dry:.0f} to {damp:.0f} % RH")  # fmt: skip


def _since(evidence: StudioAir, spell: RaisedNow, ended: pd.Timestamp | None, review: Review) -> str:
    """Whether it goes on: by this review, else by its end; and whether anybody read since."""
    now = {f.number: f for line in review.judged for f in line.verdict.raised}
    goes_on = now.get(spell.finding.number)
    if goes_on is not None and goes_on.number is not None and goes_on.ended is None:
        return "still so, see below"
    if ended is None or not spell.place_id:
        return "how it went on is not known"
    if ended >= review.period.end:
        return "ended"
    since = evidence.air(spell.place_id, spell.position).between(ended, review.period.end)
    if since.coverage >= CLEAR_NEEDS:
        return "ended, read without gap since"
    return f"ended; since then {1 - since.coverage:.0%} of the time was not read"


def _stood(studio: Studio, spell: RaisedNow, review: Review) -> str:
    left = leaving.departure(studio, spell.painting, review.period, review.made_at)
    gone = f", {left.until(studio.zone)}" if left is not None else ""
    return f"{_name(spell.painting)} ({spell.finding.level.word}{gone})"


def _said(group: Sequence[RaisedNow], wrong: Sequence[Week]) -> str:
    """What the reviews said of these paintings; the most that any did."""
    if any(week.made_at in at for week in wrong for at in _stated(group, week)):
        return "said a part of it"
    if any(week.made_at in at for week in wrong for at in _stated(group, week, Level.WATCH)):
        return "said less of it"
    levels = [Level(week.judged[one.painting.id]) for one in group for week in one.weeks if week in wrong]
    return SAID.get(max(levels), "said nothing of it")


def _ring(studio: Studio, group: Sequence[RaisedNow], review: Review) -> str:
    gone = [one.painting.id for one in group
            if leaving.departure(studio, one.painting, review.period, review.made_at) is not None]  # fmt: skip
    return f", ring the owner of {_listed(gone)}" if gone else ""


def _treated(studio: Studio, group: Sequence[RaisedNow], began: pd.Timestamp, now: pd.Timestamp) -> str:
    done = [
        f"{t.kind} of {day(t.on.tz_convert(studio.zone))} ({one.painting.id})"
        for one in group
        for t in one.painting.treatments
        if began < t.on <= now and t.kind not in NO_WORK
    ]
    return f"Treated since: {_listed(done)}." if done else ""


def _looked(group: Sequence[RaisedNow], began: pd.Timestamp, until: pd.Timestamp, zone: str) -> str:
    """Who looked after it had ended, and who while it lasted."""
    meanwhile: list[str] = []
    since: list[str] = []
    unseen: list[str] = []
    for one in group:
        own = state.looks_since(one.painting, until, zone)
        after = [seen for seen in one.painting.observations if seen.on >= until or seen in own]
        told = {True: since, False: meanwhile}
        for seen in one.painting.observations:
            if seen.on > began:
                words = f"{one.painting.id} {day(seen.on.tz_convert(zone))} ({seen.look}): {seen.sign}"
                told[seen in after].append(words)
        unseen += [] if after else [one.painting.id]
    parts = (("Looked at while it lasted", "; ".join(meanwhile)), ("Looked at since", "; ".join(since)),
             ("Not looked at since", _listed(unseen)))  # fmt: skip
    return " ".join(f"{head}: {told.removesuffix('.')}." for head, told in parts if told)


def _task(studio: Studio, spell: RaisedNow, entry: Revised, review: Review) -> TaskLine | None:
    """The look that is owed, or its owner to be rung; None where the looks it asks for have been had."""
    painting, finding = spell.painting, spell.finding
    on = review.made_at + pd.Timedelta(days=float(LOOK_WHEN_OVER_DAYS[int(finding.level)]))
    left = leaving.departure(studio, painting, review.period, review.made_at)
    if left is not None:
        due = TaskLine(finding.number, on, painting.id, painting.title, leaving.recalled(finding, left, studio.zone).do)
    else:
        due = TaskLine(finding.number, on, painting.id, painting.title, state.look_words(finding.look_for))
        due = over.as_it_stands(due, spell.line, as_kept(painting.id, finding), studio.zone)
    own = [paper for paper in entry.papers if f"({painting.id})" in paper]
    correct = f" {over.CORRECT}{_listed(own)}." if own else ""
    return None if due.state == over.LOOKED else replace(due, what=f"{due.what}{correct}")


# --------------------------------------------------------------------------------------------- what is taken back


def _taken_back(studio: Studio, evidence: StudioAir, changed: Changed, now: pd.Timestamp) -> Revised:
    """One line of a painting's week: what was said, and what is left of it."""
    week, painting, span = changed.week, changed.painting, changed.week.period
    places = {stint.place_id for way in evidence.ways(painting, span) for stint in way if stint.end > span.start}
    known, how = _known(studio, places, span.start, span.end, week.after(painting.id), now)
    printed = papers.of(studio, painting, span.start, known)
    stated = [week.stated(painting.id, (one["hazard"], one["mechanism"]), one["level"]) for one, _ in changed.eased]
    said_at = sorted({week.made_at if week.made_at in at or not at else at[-1] for at in stated})
    rested = (*(papers.review_of(at, studio.zone) for at in said_at), *printed)
    numbers = tuple(one["number"] for one, _ in changed.eased if one["number"] is not None)
    told = (
        f"Taken back, known since {stamp(known, studio.zone)}{how}: what our "
        f"{_papers(said_at, printed, studio.zone)} said of {_name(painting)} in {span.label}:",
        *(f"{_level(one)}, now {level.word}: {one['sentence']}" for one, level in changed.eased),
        f"Correct {'it' if len(rested) == 1 else 'them'}.", _open_tasks(studio, numbers),
    )  # fmt: skip
    return Revised(
        span.label, known, span.start, span.end, " ".join(filter(None, told)), (painting.id,), rested, numbers,
        max(level for _, level in changed.eased), (span.label,) * len(numbers), taken_back=True,
    )  # fmt: skip


def _level(told: Mapping[str, Any]) -> str:
    return Level(told["level"]).word


def _open_tasks(studio: Studio, numbers: Sequence[int]) -> str:
    """What was asked for by it and is open still: a person closes that."""
    done = [f"envwatch done {task.number} WORD" for task in reviews.tasks(studio) if task.number in numbers]
    return f"What it asked for is open still: {_listed(done)}." if done else ""


def _name(painting: Painting) -> str:
    return f"{painting.title} [{painting.id}]"


def _listed(parts: Sequence[str]) -> str:
    return ", ".join(parts[:-1]) + (" and " if len(parts) > 1 else "") + parts[-1] if parts else ""
