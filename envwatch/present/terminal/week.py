"""The review as text."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import numpy as np

from envwatch.cases.review import LoggerLine, PaintingLine, PlaceLine, Review, Revised, TaskLine
from envwatch.cases.review.plan import Kind, plan, unplanned
from envwatch.core.text import date, first_sentence, lasted, stamp
from envwatch.figures.coverage import CLEAR_NEEDS
from envwatch.present.ledger import all_whereabouts, changed, counts, time_line
from envwatch.present.terminal.brief import quiet_sentence
from envwatch.present.terminal.layout import SHAPE, ask, heading, shortened, wrap
from envwatch.present.words import doubts, farthest, measure, nowhere, unseen

STOOD_IN = "stood in for by"  # notes on a neighbour's air say so in these words


def review(result: Review, width: int = 80) -> str:
    """The whole review as text."""
    return "\n".join(_review_lines(result, width)) + "\n"


def _review_lines(result: Review, width: int) -> Iterator[str]:
    zone = result.period.zone
    yield f"This week in {result.studio}: {result.period.label}"
    yield from wrap(f"{result.period.days}; made {date(result.made_at, zone)}", width)
    for note in result.opening:
        yield ""
        yield from wrap(f"! {note}", width)
    yield from _revised(result.revised, width)
    yield from ("", *wrap(quiet_sentence(result) if result.is_quiet else f"{counts(result)}.", width))
    if not result.is_quiet:
        yield from _events(result, width)
        yield from _trouble(result, width)
        yield from _not_seen(result, width)
    yield from _standing(result, width)
    if not result.is_quiet:
        yield from _others(result, width)
    if result.drying_back:
        yield from heading("Drying back", width)
    for line in result.drying_back:
        yield from wrap(f"{line.title} [{line.id}], {line.where}: {line.drying.sentence}", width, "- ")
    # a quiet week is one line, unless another room's air made it quiet
    assumed = [note for note in result.assumed if STOOD_IN in note or not result.is_quiet]
    if assumed:
        yield from heading("Assumed", width)
    for note in assumed:
        yield from wrap(note, width, "- ")
    yield from _tasks(unplanned(result), zone, width)
    if result.cautions:
        yield from heading("Take care", width)
        for caution in result.cautions:
            yield from wrap(caution, width, "- ")
    if not result.is_quiet:
        yield from _places(result.places, zone, width)
        yield from _loggers(result.loggers, width)
        yield from _files(result, width)


def _revised(entries: Iterable[Revised], width: int) -> Iterator[str]:
    """Weeks reviewed before all of their air was known: first of all, for what was said may have gone out."""
    entries = list(entries)
    if entries:
        yield from heading(f"Reviewed weeks judged again: {len(entries)}", width)
    for one in entries:
        yield from wrap(f"{SHAPE[one.level]} {one.sentence}", width, "- ", "  ")
        for number, week in zip(one.numbers, one.weeks, strict=True) if not one.taken_back else ():
            yield f"  envwatch why {number} --week {week}"


def _events(result: Review, width: int) -> Iterator[str]:
    if result.events:
        yield from heading(f"In the rooms: {len(result.events)}", width)
    for event in result.events:
        yield from wrap(event.sentence, width, "- ")


def _standing(result: Review, width: int) -> Iterator[str]:
    """What is raised and asks for nobody, with why, and what was found all the same."""
    for title, lines in (("Told before", result.told), ("Standing", result.standing)):
        if lines:
            yield from heading(f"{title}: {len(lines)}", width)
        for line in lines:
            where = all_whereabouts(line, None)
            yield from wrap(f"{SHAPE[line.level]} {line.title} [{line.id}], {where}: {line.standing}", width, "- ")
            for other in line.others:
                yield from wrap(f"{first_sentence(other.sentence)}{ask(other)}", width, "  Found: ")


def _files(result: Review, width: int) -> Iterator[str]:
    yield from heading("Logger files", width)
    for label, notes in (("Came in", result.arrivals), ("Set aside", result.set_aside), ("Marked", result.marks)):
        for i, note in enumerate(notes):
            yield from wrap(note, width, f"{label if i == 0 else '':<11}")
    if not result.arrivals:
        yield from wrap("nothing since the last review", width, f"{'Came in':<11}")
    for i, question in enumerate(result.tray):
        yield from wrap(question, width, f"{'In the tray' if i == 0 else '':<12}")


def _trouble(result: Review, width: int) -> Iterator[str]:
    yield from heading(f"Paintings that need me: {len(result.needing) or 'none'}", width)
    for rank, line in enumerate(result.needing, 1):
        if rank > 1:
            yield ""
        yield from painting(line, rank, result, width)
    if result.watched:
        yield from heading(f"To watch: {len(result.watched)}", width)
    for line in result.watched:
        yield from _watched(line, result, width)


def _watched(line: PaintingLine, result: Review, width: int) -> Iterator[str]:
    finding, zone = line.headline, result.period.zone
    assert finding is not None
    where = all_whereabouts(line, finding)
    yield from wrap(f"{SHAPE[line.level]} {line.title} [{line.id}], {where}{_changed(line)}", width, "- ")
    yield from wrap(f"{finding.sentence}{ask(finding)}", width, "  ")
    yield from wrap("; ".join(filter(None, (measure(finding), time_line(line, finding, result)))), width, "  ")
    for label, text in ((WHAT, finding.ordinary), ("Look for", finding.look_for)):
        yield from wrap(text, width, f"  {label}: ") if text else ()
    yield from _plan(line, result, width, "  ", 0)
    for other in line.others:
        yield from wrap(f"{first_sentence(other.sentence)}{ask(other)}", width, "  Also: ")
    if not line.only_waits:
        yield from wrap(unseen(line.verdict, zone), width, "  Not known: ")
    if line.holes:
        yield from wrap(nowhere(line.holes, zone), width, "  ")


def _changed(line: PaintingLine) -> str:
    return f" ({changed(line)})" if line.change else ""


LABELS = {Kind.DO: "Do", Kind.DRYING: "Dry back", Kind.DUE: "TaskLine"}
WHAT = "What it is"


def _plan(line: PaintingLine, result: Review, width: int, indent: str, columns: int) -> Iterator[str]:
    """What is to be done about it, in one order by day."""
    for step in plan(line, result.tasks, result.period.zone):
        label, when = LABELS[step.kind], f"by {date(step.on, result.period.zone)}: " if step.on is not None else ""
        note = f" ({step.note})" if step.note else ""
        tick = f" (envwatch done {step.due.number})" if step.due is not None and step.due.number is not None else ""
        yield from wrap(f"{when}{step.what}{note}{tick}", width, f"{indent}{label:<{columns}}{'' if columns else ': '}")


def painting(line: PaintingLine, rank: int, result: Review, width: int) -> Iterator[str]:
    """One painting that needs a person: what, where, since when, what to do."""
    finding, zone = line.headline, result.period.zone
    assert finding is not None
    yield from wrap(
        f"{line.level.word} {SHAPE[line.level]}{_changed(line)}  {line.title} [{line.id}]", width, f"{rank}. "
    )
    yield from wrap(all_whereabouts(line, finding), width, "   ")
    yield from wrap(finding.sentence, width, "   ")
    yield from wrap("; ".join(filter(None, (measure(finding), time_line(line, finding, result)))), width, "   ")
    for label, text in (("It is", finding.ordinary), ("Look for", finding.look_for)):
        yield from wrap(text, width, f"   {label:<9}") if text.strip() else ()
    yield from _plan(line, result, width, "   ", 9)
    for label, text in (("Do not", finding.avoid), ("Clears", finding.clears)):
        yield from wrap(text, width, f"   {label:<9}") if text.strip() else ()
    for other in line.others:
        yield from wrap(f"{other.level.word}: {first_sentence(other.sentence)}{ask(other)}", width, f"   {'Also':<9}")
    if line.verdict.unseen:
        yield from wrap(unseen(line.verdict, zone), width, f"   {'Not known':<9} ")
    if line.holes:
        yield from wrap(nowhere(line.holes, zone), width, f"   {'':<9} ")
    if finding.number is not None:
        yield from wrap(f"envwatch why {finding.number}", width, f"   {'Why':<9}")


def _not_seen(result: Review, width: int) -> Iterator[str]:
    if not result.not_seen:
        return
    yield from heading(f"Not known: {len(result.not_seen)}", width)
    for line in result.not_seen:
        seen = f"seen until {stamp(line.seen_until, result.period.zone)}" if line.seen_until else "nothing read"
        yield from wrap(f"{line.title} [{line.id}], {line.where}: {seen}", width, "- ")
        yield from wrap(unseen(line.verdict, result.period.zone), width, "  ")
        if line.holes:
            yield from wrap(nowhere(line.holes, result.period.zone), width, "  ")
        for sentence in doubts(line.verdict):
            yield from wrap(sentence, width, "  ")


def _others(result: Review, width: int) -> Iterator[str]:
    for line in result.put_off:
        yield from ("", *wrap(f"Put off {line.put_off}: {line.title} [{line.id}]", width))
    if result.quiet or result.waiting:
        yield from heading(f"Nothing against: {len(result.quiet) + len(result.waiting)}", width)
    if result.quiet:
        yield from wrap("; ".join(f"{line.title} [{line.id}]" for line in result.quiet), width)
    for line in result.waiting:
        yield from wrap(f"Nothing against {line.title} [{line.id}] as far as seen; not decided yet: "
                        f"{unseen(line.verdict, result.period.zone)}", width, "- ")  # fmt: skip
    if result.departed:
        yield from heading("Judged for a part of the time", width)
        for title, why in result.departed:
            yield from wrap(f"{title}: {why}", width, "- ")
    if result.left_out:
        yield from heading("Not judged", width)
        for title, why in result.left_out:
            yield from wrap(f"{title}: {why}", width, "- ")
    if result.borne_out:
        yield from heading("What looking showed", width)
        for sentence in result.borne_out:
            yield from wrap(sentence, width, "- ")


def _places(places: Iterable[PlaceLine], zone: str, width: int) -> Iterator[str]:
    places = list(places)
    if not places:
        return
    yield from heading("Places", width)
    name = max(9, width - 63)
    yield f"{'':<{name}} {'°C':>11} {'% RH':>7} {'dew °C':>11} {'daily':>6} {'damp':>5}  seen until"
    yield f"{'':<{name}} {'':>11} {'':>7} {'':>11} {'swing':>6} {'h>65':>5}"
    for line in places:
        yield _place_row(line, zone, name)
        yield from _place_more(line, zone, width)
    yield from wrap("Daily swing: largest change of RH in one local day, in % RH; damp: hours over 65 % RH.", width)


def _place_row(line: PlaceLine, zone: str, name: int) -> str:
    title = shortened(line.place.name, name)
    s = line.summary
    if s is None:
        return f"{title:<{name}} {'not known':<44}  {stamp(line.seen_until, zone) or 'never'}"
    return (
        f"{title:<{name}} {s.temp_min_c:>5.1f}–{s.temp_max_c:<5.1f} {s.rh_min_percent:>3.0f}–{s.rh_max_percent:<3.0f} "
        f"{s.dew_point_min_c:>5.1f}–{s.dew_point_max_c:<5.1f} {s.daily_swing_percent:>6.1f} "
        f"{s.hours_over.get(65, float('nan')):>5.0f}  {stamp(line.seen_until, zone) or 'never'}"
    )


def _place_more(line: PlaceLine, zone: str, width: int) -> Iterator[str]:
    """Spells, dryness and the farthest departure from the season, where there is something to say."""
    s, parts = line.summary, []
    if s is None:
        return
    parts += [told] if (told := farthest(line)) else []
    if s.coverage < CLEAR_NEEDS:
        parts.append(f"{s.coverage:.0%} of the time read")
    for damp in s.damp:
        if damp.longest is not None and damp.longest.hours >= 1:
            parts.append(
                f"over {damp.limit_percent:g} % for {lasted(damp.longest.hours, damp.longest.unread_h)} "
                f"from {stamp(damp.longest.start, zone)}"
            )
            break
    if s.dry_hours >= 1:
        parts.append(f"{s.dry_hours:.0f} h under {s.dry_limit_percent:g} %")
    if not np.isnan(s.fluctuation_percent):
        tail = " (provisional)" if s.provisional else ""
        parts.append(f"{s.fluctuation_percent:+.1f} % from its seasonal {s.seasonal_percent:.0f} %{tail}")
    if parts:
        yield from wrap("; ".join(parts), width, "  ")


def _loggers(loggers: Iterable[LoggerLine], width: int) -> Iterator[str]:
    loggers = list(loggers)
    if not loggers:
        return
    yield from heading("Loggers", width)
    for title, states in (
        ("To fetch", ("not fetched",)), ("Waits in the tray", ("in the tray",)),
        ("Go and look", ("stopped", "flat", "apart")),
        ("To settle", ("no place", "calibration due")),
    ):  # fmt: skip
        chosen = sorted((line for line in loggers if line.state in states), key=lambda line: line.place)
        if chosen:
            yield f"{title}:"
        for line in chosen:
            where = f" ({line.place})" if line.place else ""
            yield from wrap(f"{line.name}{where}: {line.sentence}", width, "- ")


def _tasks(tasks: Iterable[TaskLine], zone: str, width: int) -> Iterator[str]:
    tasks = list(tasks)
    yield from heading("To do", width)
    if not tasks:
        yield "nothing due"
    for due in tasks:
        when = f"by {date(due.on, zone)}: " if due.on is not None else ""
        tail = f" ({due.words})" if due.words else ""
        tick = f"envwatch done {due.number}" if due.number is not None else ""
        yield from wrap(f"{when}{due.title}: {due.what}{tail}", width, "[ ] ")
        if tick:
            yield f"    {tick}"
