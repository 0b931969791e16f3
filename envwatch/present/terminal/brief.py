"""The review on one screen: how many, four lines a painting that asks for somebody, the rest counted.

Nothing stands here that the whole review does not say at length; a line that does not fit is cut between clauses, with
"…" behind it.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import groupby

import numpy as np

from envwatch.cases.review import LoggerLine, PaintingLine, Review, TaskLine
from envwatch.cases.review.over import LOOKED
from envwatch.cases.review.state import LOOK, LOOK_IN_SHORT
from envwatch.core.findings import Finding, Level
from envwatch.core.text import date, day, first_sentence, several, stamp
from envwatch.figures import handling
from envwatch.present import ledger
from envwatch.present.terminal.layout import SHAPE, shortened, wrap
from envwatch.present.words import amount, doubts

LONGEST = {
    "watch": 8,
    "put off": 4,
    "told before": 4,
    "standing": 4,
    "not known": 6,
    "due": 6,
}  # lines of a group, before the rest is counted
LEAST_TITLE = 18  # columns, or the whole of a shorter one
ENDED = re.compile(r"It ended ([^;.]+)")  # in what a task asks once its air has ended
BOUNDARY = re.compile(r"[.;,](?= )")
FULL = "All of it, with signs to look for, rooms and files: envwatch review --full"
TO_DO = (("Loggers to fetch", ("not fetched",)), ("waits in the tray", ("in the tray",)),
         ("to look at", ("stopped", "flat", "apart")), ("to settle", ("no place", "calibration due")))  # fmt: skip


def fitted(text: str, room: int) -> str:
    """A text that fits; cut between clauses, or words where no clause is short enough, with "…" behind it.

    >>> fitted("Dry the room, or move it to air only a step drier, slowly.", 52)
    'Dry the room, or move it to air only a step drier, …'
    """
    if len(text) <= room:
        return text
    ends = [found.end() for found in BOUNDARY.finditer(text) if room / 2 < found.end() <= room - 2]
    return f"{text[: ends[-1]]} …" if ends else shortened(text, room)


def first_fit(told: Sequence[str], width: int, hang: str) -> list[str]:
    """The first of several wordings that fits the line; the last of them on as many lines as it needs."""
    chosen = next((text for text in told if len(text) <= width), told[-1])
    return wrap(chosen, width, hang=hang)


def brief(result: Review, width: int = 80) -> str:
    """The review on one screen."""
    text = "\n".join(_lines(result, width))
    return re.sub(r"\n{3,}", "\n\n", text) + "\n"


def _lines(result: Review, width: int) -> Iterator[str]:
    yield from _head(result, width)
    told: set[int] = set()  # events, by their place in the list: each is told once
    for level, lines in groupby(result.needing, key=lambda line: line.level):
        del level
        yield from _by_event(tuple(lines), result, width, told)
    yield from _rest(result, width, told)
    yield from _due(result, width)
    yield from _closing(result, width)


def _head(result: Review, width: int) -> Iterator[str]:
    zone = result.period.zone
    yield f"This week in {result.studio}: {result.period.label}"
    yield from wrap(f"{result.period.days}; made {date(result.made_at, zone)}", width)
    if result.revised:
        yield f"Reviewed weeks judged again: {len(result.revised)}"
    for one in result.revised:
        why = "; ".join(f"envwatch why {n} --week {week}" for n, week in zip(one.numbers, one.weeks, strict=True))
        told = f"{SHAPE[one.level]} {one.sentence}{f' ({why})' if why and not one.taken_back else ''}"
        yield from wrap(told, width, hang="  ")
    for note in result.opening:
        yield from wrap(f"! {note}", width, hang="  ")
    if result.tray:
        yield from wrap(f"! {several(len(result.tray), 'file')} in the tray for an answer: envwatch tray", width)
    told = quiet_sentence(result) if result.is_quiet else ledger.counts(result)
    yield from first_fit((told, told.replace(" paintings:", ":", 1), told), width, "  ")


def quiet_sentence(result: Review) -> str:
    """A quiet week in one line; what else there is in the register is counted."""
    count = len(result.quiet) + len(result.waiting)
    parts = "; ".join(": ".join(one) for one in result.departed)
    part = f" Judged for a part of it: {parts}." if parts else ""
    seen = " as far as seen" if result.waiting else ""
    rest = f" {ledger.counts(result)}." if result.told or result.standing or result.put_off or result.left_out else ""
    return f"A quiet week: nothing against any of {count} painting{'s' if count != 1 else ''}{seen}.{rest}{part}"


# ----------------------------------------------------------------------------------------------- who asks for me


def _by_event(lines: tuple[PaintingLine, ...], result: Review, width: int, told: set[int]) -> Iterator[str]:
    """Paintings of one level, each event of a room above those that it raised; once, above the first of them."""
    left = list(lines)
    while left:
        n, event = next(((n, one) for n, one in enumerate(result.events) if left[0].id in one.paintings), (-1, None))
        beneath = left[:1] if event is None else [line for line in left if line.id in event.paintings]
        if event is not None and n not in told:
            told.add(n)
            yield from ("", *wrap(f"* {event.sentence}", width, hang="  "))
        for line in beneath:
            yield from ("",) if event is None else ()
            yield from painting(line, result, width)
            left.remove(line)


def painting(line: PaintingLine, result: Review, width: int) -> Iterator[str]:
    """Four lines: what and where; what is done by when; because of what; since when, still so or ended, who looked."""
    finding, zone = line.headline, result.period.zone
    assert finding is not None, "a painting without a finding asks for nobody"
    yield from _first(line, finding, width)
    by = f"by {day(finding.by.tz_convert(zone))}: " if finding.by is not None else "do: "
    yield f"   {by}{fitted(deed(finding), width - 3 - len(by))}"
    yield from _because(finding, width)
    yield from _standing_of(line, finding, result, width)


def _first(line: PaintingLine, finding: Finding, width: int) -> list[str]:
    """Level, title, number and place; the title gives way to the place."""
    head, where = f"{SHAPE[line.level]} {line.level.word}  ", ledger.whereabouts(line, finding)
    spare = max(width - len(head) - len(f" [{line.id}] · {where}"), LEAST_TITLE)
    title = shortened(line.title or "(no title)", spare)
    return wrap(f"{head}{title} [{line.id}] · {where}", width, hang="   ")


def deed(finding: Finding) -> str:
    """What is done; the steps about a hot painting, and the look once it is over, in few words: none is cut off."""
    steps = " ".join(handling.hot())
    told = finding.do.replace(steps, handling.HOT_IN_SHORT.format(hours=handling.COOL_H))
    return told.replace(f"{LOOK}:", f"{LOOK_IN_SHORT},")


def _because(finding: Finding, width: int) -> list[str]:
    told = ledger.because(finding)
    return first_fit([f"   {text}" for text in (told, re.sub(r" \([^)]*\):", ":", told))], width, "   ")


def _standing_of(line: PaintingLine, finding: Finding, result: Review, width: int) -> list[str]:
    zone = result.period.zone
    why = f"why {finding.number}" if finding.number is not None else ""
    more = f"{len(line.others)} more" if line.others else ""
    parts = (
        ledger.lasting(finding, line, zone, hour=False),
        ledger.state(finding),
        ledger.own_look(line, result.made_at, zone),
    )
    told = [" · ".join(filter(None, (*parts, *tail))) for tail in ((more, why), (why,), ())]
    return first_fit([f"   {text}" for text in told], width, "   ")


# ------------------------------------------------------------------------------------------------------- the rest


def _rest(result: Review, width: int, told: set[int]) -> Iterator[str]:
    """One line a painting; then what asks for nobody, counted above, by number."""
    zone = result.period.zone
    yield ""
    for event in (one for n, one in enumerate(result.events) if n not in told):
        yield from wrap(f"* {event.sentence}", width, hang="  ")
    yield from _group("watch", result.watched, map(_watched, result.watched), width)
    yield from _group("put off", result.put_off, (("", line.put_off) for line in result.put_off), width)
    yield from _group("told before", result.told, (("", line.standing) for line in result.told), width)
    yield from _group("standing", result.standing, (("", line.standing) for line in result.standing), width)
    yield from _group("not known", result.not_seen, (_not_known(line, zone) for line in result.not_seen), width)
    clear = [line.id for line in (*result.quiet, *result.waiting)]
    if clear and not result.is_quiet:
        yield from wrap(f"{SHAPE[Level.CLEAR]} nothing against  {', '.join(clear)}", width, hang="  ")
    if result.left_out:
        told = "; ".join(f"{title} ({why})" for title, why in result.left_out)
        yield fitted(f"Not judged: {told}", width)


def _group(word: str, lines: Sequence[PaintingLine], told: Iterable[tuple[str, str]], width: int) -> Iterator[str]:
    """One line a painting of where and why, or two; those past the longest list by their numbers alone."""
    most = LONGEST[word] if len(lines) > LONGEST[word] + 1 else len(lines)
    for line, (where, why) in zip(lines[:most], told, strict=False):
        yield from _entry(f"{SHAPE[line.level]} {word}  ", line, where, why, width)
    if lines[most:]:
        ids = ", ".join(line.id for line in lines[most:])
        yield from wrap(f"and {len(lines) - most} more {word}: {ids}", width, hang="  ")


def _entry(head: str, line: PaintingLine, where: str, why: str, width: int) -> list[str]:
    """Title, number, place and reason; what one line does not hold with a readable title, on as many as it needs."""
    title, tail = line.title or "(no title)", f" [{line.id}]{f' · {where}' if where else ''}"
    readable = min(len(title), LEAST_TITLE)
    spare = width - len(f"{head}{tail}: {why}")
    if spare >= readable:
        return [f"{head}{shortened(title, spare)}{tail}: {why}"]
    spare = max(width - len(f"{head}{tail}:"), readable)
    return [*wrap(f"{head}{shortened(title, spare)}{tail}:", width, hang="  "), *wrap(why, width, "  ")]


def _watched(line: PaintingLine) -> tuple[str, str]:
    """Where it is, and why: what is ordinary by what it is, else by its value and limit."""
    finding = line.headline
    assert finding is not None, "a painting without a finding is not watched"
    where = ledger.whereabouts(line, finding)
    if finding.ordinary:
        return where, first_sentence(finding.ordinary)
    if np.isnan(finding.value) or np.isnan(finding.limit):
        return where, first_sentence(finding.sentence)
    limit = f"{round(finding.limit, 2):g}".replace("-", "−")
    ended = ", ended" if finding.ended is not None else ""
    return where, f"{finding.mechanism} {amount(finding, spread=False)}" + f", limit {limit}{ended}"


def _not_known(line: PaintingLine, zone: str) -> tuple[str, str]:
    doubt = next(iter(doubts(line.verdict)), "")
    seen = f"read to {stamp(line.seen_until, zone)}" if line.seen_until is not None else "nothing read"
    why = "a file waits" if doubt.startswith("a file waits") else "readings doubtful"
    return line.now or line.where, why if doubt else seen


# ------------------------------------------------------------------------------------------------- due, and the end


def _due(result: Review, width: int) -> Iterator[str]:
    """What is due besides the deeds above: of each painting the first, and how many more."""
    asked = {line.headline.number for line in result.needing if line.headline is not None}
    by_painting: dict[str, list[TaskLine]] = {}
    for due in sorted(result.tasks, key=lambda due: (due.on is None, due.on.value if due.on is not None else 0)):
        if due.number is None or due.number not in asked:
            by_painting.setdefault(due.painting_id, []).append(due)
    yield ""
    most = LONGEST["due"] if len(by_painting) > LONGEST["due"] + 1 else len(by_painting)
    ended = {f.number: ledger.ended(f, result.period.zone) for line in result.judged for f in line.verdict.raised}
    for id, mine in list(by_painting.items())[:most]:
        yield from _first_due(id, mine, ended, result, width)
    rest = [due for mine in list(by_painting.values())[most:] for due in mine]
    if rest:
        yield f"and {len(rest)} more due for {len(by_painting) - most} paintings"
    if not result.tasks:
        yield "Nothing is due."


def _first_due(id: str, mine: list[TaskLine], ended: Mapping[int | None, str], result: Review, width: int) -> list[str]:
    """What is asked first; of a look, since when what asks for it has ended."""
    due, more = mine[0], f" (+{len(mine) - 1})" if len(mine) > 1 else ""
    on = f"{day(due.on.tz_convert(result.period.zone))} " if due.on is not None else ""
    was = "was due" if due.on is not None and due.on < result.made_at else "due"
    if due.state == LOOKED:
        return [fitted(f"closed [{id}] {due.note}", width - len(more)) + more]
    head, tick = f"{was} {on}[{id}]", f" (done {due.number}){more}" if due.number is not None else more
    if due.what.startswith(LOOK):
        found = ENDED.search(due.what)
        since = found[1] if found else ended.get(due.number, "")
        asked = (f"Look at it{how}{f'; ended {since}' if since else ''}" for how in (" in raking light", ""))
        return first_fit([f"{head} {what}{tick}" for what in asked], width, "  ")
    return [fitted(f"{head} {due.what}", width - len(tick)) + tick]


def _closing(result: Review, width: int) -> Iterator[str]:
    yield from _drying(result, width)
    for caution in result.cautions:
        yield from wrap(f"Take care: {caution}", width, hang="  ")
    if not result.is_quiet:
        yield from wrap("; ".join((*_loggers(result.loggers), *_files(result))) + ".", width, hang="  ")
    yield from wrap(FULL, width)


def _drying(result: Review, width: int) -> Iterator[str]:
    """The next step of each drying course by its day, and first of all who keeps to none."""
    by_day: dict[str, dict[str, list[str]]] = {}
    for line in result.judged:
        if line.drying is not None:
            head, step = _next_step(line, result.period.zone)
            by_day.setdefault(head, {}).setdefault(step, []).append(line.id)
    for head, steps in by_day.items():
        told = "; ".join(f"{', '.join(ids)} {step}" for step, ids in steps.items())
        yield from wrap(f"Dry back {head}: {told}", width, hang="  ")


def _next_step(line: PaintingLine, zone: str) -> tuple[str, str]:
    """By which day, and from what to what; in words where there is no course, or it is not kept to."""
    assert line.drying is not None, "no course to tell"
    course, state = line.drying.course, line.drying.state
    if course is None or not course.steps:
        return "without days", first_sentence(line.drying.sentence)
    step = next((one for one in course.steps if one.by > course.read_to), course.steps[-1])
    kept = f" ({state})" if state else ""
    head = f"by {day(step.by.tz_convert(zone))}, % RH in the canvas"
    return head, f"{course.damp.rh_percent:.1f} → {step.rh_percent:g}{kept}"


def _loggers(loggers: Iterable[LoggerLine]) -> Iterator[str]:
    loggers = list(loggers)
    for title, states in TO_DO:
        names = sorted({line.name for line in loggers if line.state in states})
        if names:
            yield f"{title}: {', '.join(names)}"


def _files(result: Review) -> Iterator[str]:
    count = len(result.arrivals)
    yield f"files of {several(count, 'logger')} came in" if count else "no file since the last review"
    for notes, word in ((result.set_aside, "set aside"), (result.marks, "marked")):
        if notes:
            yield f"{len(notes)} {word}"


__all__ = ["brief", "deed", "first_fit", "fitted", "painting", "quiet_sentence"]
