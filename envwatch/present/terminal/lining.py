"""Around the lining, as text."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from envwatch.cases.aftercare import CareStep
from envwatch.cases.lining.adhesives import Candidate, Comparison
from envwatch.cases.lining.checks import Check
from envwatch.cases.lining.readiness import Today
from envwatch.cases.lining.release import Release
from envwatch.cases.loan import LoanReport, sentence
from envwatch.cases.painting.call import Call, care_told, last_known
from envwatch.core.text import date, number, span, stamp
from envwatch.present import lining_words
from envwatch.present.terminal.layout import heading, wrap

LOAN_ROWS = 40


def _text(lines: Iterator[str]) -> str:
    return "\n".join(lines) + "\n"


def comparison(result: Comparison, width: int = 80) -> str:
    """What no lining changes, then each candidate, in the order of the materials file."""
    return _text(_comparison(result, width))


def _comparison(result: Comparison, width: int) -> Iterator[str]:
    there = result.destination
    yield from wrap(f"Which adhesive for {result.title} [{result.painting_id}], going to {there.name}", width)
    yield from wrap(f"{there.basis}; as if lined and there on {date(there.start, there.zone)}", width)
    for note in (*there.notes, *result.notes):
        yield from wrap(note, width, "  ")
    yield from heading("What no lining changes", width)
    for finding in result.unchanged:
        yield from wrap(f"{finding.level.word}: {finding.sentence}", width, "- ")
    if not result.unchanged:
        told = "Nothing was found against it without a lining, so far as was read."
        yield from wrap(told, width)
    yield from heading("Each candidate, in the order of the materials file; the choice is yours", width)
    for n, candidate in enumerate(result.candidates):
        if n:
            yield ""
        yield from _candidate(candidate, there.zone, width)


def _candidate(c: Candidate, zone: str, width: int) -> Iterator[str]:
    yield from wrap(f"{c.profile.label} [{c.id}]", width, "- ")
    yield from wrap(lining_words.own(c, zone), width, "  Its layer    ")
    yield from wrap(lining_words.gives_first(c, zone), width, "  Gives first  ")
    yield from wrap(lining_words.first_weeks_of(c, zone), width, "  First weeks  ")
    yield from wrap(lining_words.by_month(c, zone), width, "  Arriving     ")
    if c.profile.working:
        yield from wrap(lining_words.worked_in(c.profile), width, "  Worked in    ")
    if c.settled.unseen:
        yield from wrap(lining_words.unseen(c), width, "  Not known    ")
    for name, words in (("Strength", c.profile.strength), ("Comes off by", c.profile.removal)):
        if words:
            yield from wrap(str(words), width, f"  {name:<12} ")
    for told in (*c.pairs, *c.profile.overruled):
        yield from wrap(told, width, "  Note         ")


def today(result: Today, steps: Sequence[CareStep], width: int = 80) -> str:
    """May it be lined today, and what is due."""
    return _text(_today(result, steps, width))


def _today(result: Today, steps: Sequence[CareStep], width: int) -> Iterator[str]:
    yield from wrap(f"{result.title} [{result.painting_id}], {result.where}", width)
    yield from heading(f"{lining_words.question(result)}, {stamp(result.at, result.zone)}?", width)
    yield from wrap(lining_words.answer_today(result), width)
    yield from wrap(lining_words.room_told(result), width)
    yield from _checks(result.checks, width)
    if not result.adhesive:
        yield from heading("By adhesive", width)
        for family in result.families:
            yield from wrap(lining_words.family_told(family), width, "- ")
    yield from wrap(lining_words.air_of_last_day(result), width)
    for note in result.notes:
        yield from wrap(note, width, "  Note  ")
    yield from heading("Cautions", width)
    for caution in result.cautions:
        yield from wrap(caution, width, "- ")
    if result.ahead:
        yield from heading("If it is done now", width)
        yield from _steps(result.ahead, result.zone, width)
    yield from heading("What is due", width)
    yield from _steps(steps, result.zone, width)


def _checks(checks: Sequence[Check], width: int) -> Iterator[str]:
    for check in checks:
        yield from wrap(f"{check.what}: {check.word}. {check.sentence}", width, "- ")


def _steps(steps: Sequence[CareStep], zone: str, width: int) -> Iterator[str]:
    if not steps:
        yield "Nothing."
    for step in steps:
        tail = " (seen)" if step.done else f" ({step.why})"
        yield from wrap(f"{date(step.on, zone)}: {step.what}{tail}", width, "[x] " if step.done else "[ ] ")


def release(result: Release, width: int = 80) -> str:
    """May it leave on the day."""
    return _text(_release(result, width))


def _release(result: Release, width: int) -> Iterator[str]:
    painting = result.painting
    where = f" for {result.house}" if result.house else ""
    yield from wrap(f"May {painting.title} [{painting.id}] leave on {date(result.on, result.zone)}{where}?", width)
    yield lining_words.ANSWERS[result.word]
    yield from _checks(result.checks, width)
    yield from wrap(f"Crate: closed where it arrives until {stamp(result.crate_opens, result.zone)} at the earliest.",
                    width)  # fmt: skip
    if result.open:
        yield from wrap("If it leaves all the same: ⟦hand_over⟧ ⟦although⟧ REASON; the reason is kept.", width)
    yield from heading("What falls due after it has left", width)
    yield from _steps(result.ahead, result.zone, width)


def loan(result: LoanReport, width: int = 80) -> str:
    """The borrower's readings against the agreement."""
    return _text(_loan(result, width))


def _loan(result: LoanReport, width: int) -> Iterator[str]:
    painting = result.painting
    yield from wrap(f"Loan of {painting.title} [{painting.id}] to {result.place}, {date(result.start, result.zone)} to "
                    f"{date(result.last, result.zone)}", width)  # fmt: skip
    yield from wrap(sentence(result), width)
    yield from wrap(f"Read: {span(*result.span_rh)} % RH, {span(*result.span_temp)} °C; sensor {result.sensor}", width)
    for incident in result.incidents:
        doubt = "" if incident.certain else "; within the sensor's uncertainty"
        yield from wrap(
            f"{incident.what}: from {stamp(incident.start, result.zone)} to {stamp(incident.end, result.zone)}, "
            f"{incident.hours:.0f} h, worst {number(incident.worst)} {incident.unit} on "
            f"{stamp(incident.worst_at, result.zone)} (agreed {incident.limit:g}){doubt}", width, "- ",
        )  # fmt: skip
    for name, seen in (("Condition out", result.condition_out), ("Condition in", result.condition_in)):
        told = "; ".join(f"{o.sign} ({date(o.on, result.zone)})" for o in seen) or "nothing on record within a week"
        yield from wrap(told, width, f"{name}: ")
    for note in result.notes:
        yield from wrap(note, width, "  Note  ")


def call(result: Call, width: int = 80) -> str:
    """What is on the table while the client is on the line."""
    return _text(_call(result, width))


def _call(result: Call, width: int) -> Iterator[str]:
    painting, zone = result.painting, result.zone
    yield from wrap(f"{painting.title} [{painting.id}], {result.where}; {care_told(painting, zone)}", width)
    yield from wrap(last_known(result), width, "  Assessed  ")
    seen, done = result.last_visit, result.last_treatment
    told = (
        "no look on record"
        if seen is None
        else f"{date(seen.on, zone)}: {seen.sign}" + (f" ({seen.how})" if seen.how else "")
    )
    yield from wrap(told, width, "  Last look ")
    if done is not None:
        yield from wrap(f"{done.kind}, {date(done.on, zone)}", width, "  Treated   ")
    yield from wrap(result.advised or "no limits told on record", width, "  Advised   ")
    if result.flood:
        yield from heading("Stop, do this first", width)
        for n, line in enumerate(result.flood, 1):
            yield from wrap(line, width, f"{n}. ")
    yield from heading(f"{result.triage.sign.capitalize()}: to be seen {result.triage.soon}", width)
    yield "Ask:"
    for line in result.triage.ask:
        yield from wrap(line, width, "- ")
    yield from heading("A reply to send", width)
    for line in result.reply.splitlines():
        yield from wrap(line, width, "", "  " if line.startswith("- ") else "")
