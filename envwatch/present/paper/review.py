"""The sheet of the Monday review: read at the bench, ticked and written on by pen."""

from __future__ import annotations

from collections.abc import Iterable

import pandas as pd

from envwatch.cases.review import LoggerLine, PaintingLine, PlaceLine, Review, TaskLine
from envwatch.cases.review.plan import plan, unplanned
from envwatch.core.findings import Finding
from envwatch.core.text import day
from envwatch.present.ledger import all_whereabouts, changed, counts, state, time_line
from envwatch.present.paper import page
from envwatch.present.paper.trace import drawing
from envwatch.present.paper.wording import (
    TRUST,
    date,
    first_sentence,
    judgement,
    measure,
    nowhere,
    number,
    ours,
    several,
    span,
    stamp,
    unseen,
)
from envwatch.present.words import doubts, farthest

NOTE = (
    "Lowest to highest reading. Daily swing: the largest in one local day, % RH. Fluctuation: the farthest from the "
    "seasonal level, % RH. Hours as read; those not read are not counted."
)
STANDS_TOGETHER = 1_500  # characters told of one painting; more than that may go over to the next page

LAYOUT = page.layout("review")


def weekly(review: Review, paper: str = "a4") -> bytes:
    """The weekly sheet as a PDF. Owners are not on it.

    Parameters
    ----------
    review : as `review.make` gives it.
    paper : "a4", or "letter" (also "us-letter").

    Returns
    -------
    The bytes of the PDF; the same review gives the same bytes.

    Raises
    ------
    BadInput : another paper.
    """
    return page.printed(content(review), LAYOUT, paper, review.made_at)


def content(review: Review) -> dict:
    """All that stands on the sheet, as plain strings."""
    zone, full = review.period.zone, not review.is_quiet
    trouble = [_painting(line, rank, review) for rank, line in enumerate(review.needing, 1)]
    limits = sorted({damp.limit_percent for damp in _damp(review.places)})
    return {
        "title": f"This week in {review.studio}",
        "week": review.period.label,
        "days": review.period.days,
        "opening": list(review.opening),
        "revised": [one.sentence for one in review.revised],
        "summary": _summary(review),
        "files": _files(review) if full else [],
        "came_in": _came_in(review) if full else [],
        "trouble": trouble,
        "has_traces": any(p["trace"] for p in trouble),
        "events": [event.sentence for event in review.events],
        "watched": [_watched(line, review) for line in review.watched],
        "not_seen": [_not_seen(line, zone) for line in review.not_seen],
        "places": [_place(line, limits, zone) for line in review.places] if full else [],
        "damp_head": f"h over {'/'.join(f'{limit:g}' for limit in limits)} %" if limits else "h damp",
        "places_note": f"{NOTE}{_farthest(review.places)}",
        "loggers": _loggers(review.loggers),
        "tasks": [_task(due, zone, review.made_at) for due in unplanned(review)],
        "cautions": list(review.cautions),
        "rest": _rest(review),
        "adoption": review.adoption,
        "foot": (
            f"{review.studio}, {review.period.label}. Printed {stamp(review.made_at, zone)} "
            f"{review.made_at.tz_convert(zone).year}. An assessment from readings, not a warranty."
        ),
    }


def _summary(review: Review) -> str:
    """The week in one breath: every painting of the register is counted."""
    more = review.standing or review.put_off or review.left_out
    if review.is_quiet:
        return f"A quiet week: {_nothing_against(review)}.{f' {counts(review)}.' if more else ''}"
    parts = [counts(review)]
    if review.tray:
        parts.append(f"{several(len(review.tray), 'file')} in the tray {'wait' if len(review.tray) > 1 else 'waits'}")
    return f"{'. '.join(map(_capital, parts))}."


def _nothing_against(review: Review) -> str:
    """What was seen and stayed within its limits, and of how many a rule still waits for a longer history."""
    waiting = len(review.waiting)
    told = f"nothing against {several(len(review.quiet) + waiting, 'painting')}"
    return f"{told} as far as seen, {waiting} of them not decided on every count yet" if waiting else told


def _came_in(review: Review) -> list[dict]:
    """The files in one row of the sheet: those that came in are counted, what asks for somebody stands whole."""
    count = len(review.arrivals)
    short = f"files of {several(count, 'logger')}" if count else "nothing since the last review"
    rows = (row | {"items": [short]} if row["label"] == "came in" else row for row in _files(review))
    return [{"label": "logger files", "items": [f"{row['label']}: {'; '.join(row['items'])}" for row in rows]}]


def _files(review: Review) -> list[dict]:
    rows = (
        ("came in", review.arrivals or ("nothing since the last review",)),
        ("set aside", review.set_aside),
        ("marked", review.marks),
        ("waits in the tray", review.tray),
    )
    return [{"label": label, "items": list(items)} for label, items in rows if items]


def _painting(line: PaintingLine, rank: int, review: Review) -> dict:
    finding, zone = line.headline, review.period.zone
    assert finding is not None, "a painting without a finding does not stand among those that need a person"
    gone = nowhere(line.holes, zone)
    told = {
        "rank": rank, "title": line.title or "(no title)", "id": line.id,
        "word": line.level.word, "state": state(finding) or changed(line),
        "where": all_whereabouts(line, finding), "layer": _capital(finding.layer),
        "sentence": finding.sentence + judgement(finding), "ordinary": finding.ordinary,
        "measure": measure(finding), "time": _time(line, finding, review),
        "look_for": finding.look_for, "plan": _plan(line, review), "avoid": finding.avoid, "clears": finding.clears,
        "others": [{"word": f.level.word, "sentence": f"{f.layer}: {first_sentence(f.sentence)}"} for f in line.others],
        "unseen": "; ".join(filter(None, (unseen(line.verdict, zone), gone))), "trace": _drawn(line, finding, zone),
    }  # fmt: skip
    return told | {"long": len(str(told | {"trace": ""})) > STANDS_TOGETHER}


def _time(line: PaintingLine, finding: Finding, review: Review) -> str:
    why = f"why {finding.number}" if finding.number is not None else ""
    return "; ".join(part for part in (time_line(line, finding, review).rstrip("."), why) if part)


def _plan(line: PaintingLine, review: Review) -> list[dict]:
    """What is done about it, in one order by day."""
    zone = review.period.zone
    return [
        {"when": _when(step.on, zone, review.made_at), "what": step.what,
         "kind": step.kind.value, "tail": step.note,
         "number": f"no. {step.due.number}" if step.due is not None and step.due.number is not None else ""}
        for step in plan(line, review.tasks, zone)
    ]  # fmt: skip


def _drying(line: PaintingLine) -> str:
    return line.drying.sentence if line.drying is not None else ""


def _drawn(line: PaintingLine, finding: Finding, zone: str) -> dict | None:
    """The drawing, with whose its limit is."""
    made = drawing(_shown(line), finding, zone)
    return made and made | {"limit": made["limit"] and made["limit"] + ours(finding)}


def _shown(line: PaintingLine):
    """The air to draw; that of an owner's house goes on no sheet."""
    return None if line.trace is None or line.trace.private else line.trace


def _watched(line: PaintingLine, review: Review) -> dict:
    """A painting to watch, told in short; the rest stands under its number."""
    finding, zone = line.headline, review.period.zone
    assert finding is not None, "a painting without a finding is not watched"
    more = f" And {several(len(line.others), 'finding')} more to watch." if line.others else ""
    gone = nowhere(line.holes, zone)
    return {
        "title": line.title or "(no title)", "id": line.id, "where": all_whereabouts(line, finding),
        "state": state(finding) or changed(line),
        "sentence": f"{_capital(finding.layer)}: {finding.sentence}{judgement(finding)}{more}",
        "ordinary": finding.ordinary, "time": _time(line, finding, review),
        "look_for": finding.look_for, "plan": _plan(line, review),
        "unseen": "" if line.only_waits else "; ".join(filter(None, (unseen(line.verdict, zone), gone))),
    }  # fmt: skip


def _standing(line: PaintingLine) -> str:
    return f"{line.title} ({line.id}), {line.now or line.where}: {line.level.word}; {line.standing}"


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _not_seen(line: PaintingLine, zone: str) -> dict:
    seen = f"seen until {stamp(line.seen_until, zone)}" if line.seen_until is not None else "nothing was read"
    gone = [f"{_capital(nowhere(line.holes, zone))}."] if line.holes else []
    why = [f"{_capital(sentence).removesuffix('.')}." for sentence in doubts(line.verdict)]
    reasons = " ".join((f"{_capital(unseen(line.verdict, zone))}.", *gone, *why))
    by_eye = "; ".join(f"{date(one.on, zone)}: {one.sign}" for one in line.looked)
    seen += f"; looked at by eye, {by_eye}" if by_eye else ""
    return {"title": line.title, "id": line.id, "where": line.where, "seen": seen, "reasons": reasons}


def _damp(places: Iterable[PlaceLine]) -> list:
    return [damp for line in places if line.summary is not None for damp in line.summary.damp]


def _place(line: PlaceLine, limits: list[float], zone: str) -> list[str]:
    s, until = line.summary, stamp(line.seen_until, zone) or "never"
    if s is None:
        return [line.place.name, *["not known"] * 6, until]
    hours = {damp.limit_percent: f"{damp.hours:.0f}" for damp in s.damp}
    swing = "not known" if s.swing is None else f"{number(s.swing.percent)}, {pd.Timestamp(s.swing.on):%a}"
    return [
        line.place.name, span(s.temp_min_c, s.temp_max_c),
        span(s.rh_min_percent, s.rh_max_percent, 0),
        span(s.dew_point_min_c, s.dew_point_max_c), swing, number(s.fluctuation_percent),
        " / ".join(hours.get(limit, "not known") for limit in limits) or "not known", until,
    ]  # fmt: skip


def _farthest(places: Iterable[PlaceLine]) -> str:
    """Which positions went farther than their room's own logger."""
    told = [f"{line.place.name}: {words}" for line in places if (words := farthest(line))]
    return f" {'; '.join(told)}." if told else ""


def _loggers(loggers: Iterable[LoggerLine]) -> list[dict]:
    groups = (
        ("To fetch, place by place", ("not fetched",)),
        ("Waits in the tray: answer", ("in the tray",)),
        ("Stopped or flat: go and look", ("stopped", "flat")),
        ("Parted from one of the same room: go and look", ("apart",)),
        ("To settle", ("no place", "calibration due")),
    )
    out = []
    for title, states in groups:
        chosen = sorted((line for line in loggers if line.state in states), key=lambda line: (line.place, line.name))
        items = [
            {"name": line.name, "place": "" if line.place == line.name else line.place, "sentence": line.sentence}
            for line in chosen
        ]
        if items:
            out.append({"title": title, "items": items})
    return out


def _task(due: TaskLine, zone: str, made_at: pd.Timestamp) -> dict:
    number = f"no. {due.number}" if due.number is not None else ""
    return {
        "when": _when(due.on, zone, made_at),
        "title": due.title,
        "what": due.what,
        "tail": due.words,
        "number": number,
    }


def _when(on: pd.Timestamp | None, zone: str, made_at: pd.Timestamp) -> str:
    """By which day, with its year where that is not the year of the review."""
    if on is None:
        return "no day set"
    local = on.tz_convert(zone)
    return f"by {day(local)}{'' if local.year == made_at.tz_convert(zone).year else f' {local.year}'}"


def _rest(review: Review) -> list[dict]:
    """What must be on paper but asks for nobody."""
    quiet = "; ".join(f"{line.title} ({line.id})" for line in review.quiet)
    waiting = [f"{line.title} ({line.id}): {unseen(line.verdict, review.period.zone)}" for line in review.waiting]
    groups = (
        ("changed", list(review.changes)),
        ("drying back", [f"{line.title} ({line.id}): {_drying(line)}" for line in review.drying_back]),
        ("told before", [_standing(line) for line in review.told]),
        ("standing", [_standing(line) for line in review.standing]),
        ("put off", [f"{line.title} ({line.id}), {line.put_off}" for line in review.put_off]),
        ("nothing against", [quiet] if quiet and not review.is_quiet else []),
        ("not decided yet", waiting),
        ("judged for a part", [f"{title}: {why}" for title, why in review.departed]),
        ("not judged", [f"{title}: {why}" for title, why in review.left_out]),
        ("assumed", list(review.assumed)),
        ("borne out", list(review.borne_out)),
        ("limits", [f"How far a limit can be trusted: {'; '.join(TRUST.values())}."] if review.trouble else []),
    )
    return [{"label": label, "items": items} for label, items in groups if items]


__all__ = ["content", "weekly"]
