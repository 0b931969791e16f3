"""What became of files, one painting's dossier, and the chain behind a finding, as plain text."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np

from envwatch.core.text import several, stamp
from envwatch.present import ledger
from envwatch.present.terminal.layout import SHAPE, heading, wrap
from envwatch.present.terminal.painting import painting_lines
from envwatch.present.words import measure, trust

if TYPE_CHECKING:
    from envwatch.archive import (
        AddReport,
        BackupReport,
        CheckReport,
        FileOutcome,
        PartReport,
        RereadReport,
        TrayItem,
        UndoReport,
    )
    from envwatch.archive.climates.answers import MarkedSpan
    from envwatch.cases.painting.record import Dossier
    from envwatch.cases.painting.why import Chain
    from envwatch.core.period import Period
    from envwatch.logs import LogFile


def _text(lines: Iterator[str]) -> str:
    return "\n".join(lines) + "\n"


# -------------------------------------------------------------------------------------------------------- files


def read(log: LogFile, width: int = 100) -> str:
    """What a file turned out to be: rows by what became of them, the layout, and every note."""
    return _text(_read(log, width))


def _read(log: LogFile, width: int) -> Iterator[str]:
    counts, layout = log.counts, log.layout
    rows = [f"{counts.used:,} used"]
    rows += [f"{counts.duplicate:,} written twice"] if counts.duplicate else []
    rows += [f"{count:,} set aside ({why})" for why, count in counts.set_aside.items() if count]
    yield from wrap(f"{log.name}: {counts.data_rows:,} data rows: {', '.join(rows)}", width, "", "  ")
    yield from wrap(f"{layout.encoding}, delimiter {layout.delimiter!r}, decimal {layout.decimal!r}; "
                    f"{layout.date_format}; {layout.time_basis}", width, "  ")  # fmt: skip
    for note in log.notes:
        yield from wrap(note, width, "  ")


Drawn = Mapping[int, Sequence[str]]  # rows that draw the records a question is of, by its number in the tray


def added(report: AddReport, drawn: Drawn | None = None, width: int = 80) -> str:
    """One line a file, what was assumed of it, and the sums."""
    return _text(_added(report, drawn or {}, width))


def _added(report: AddReport, drawn: Drawn, width: int) -> Iterator[str]:
    for outcome in report.outcomes:
        yield from _outcome(outcome, width)
        yield from (f"  {row}".rstrip() for row in drawn.get(outcome.number or 0, ()))
    totals = report.totals
    parts = [f"{totals.files} kept with {totals.readings:,} new readings"]
    parts += [f"{count:,} {what}" for count, what in (
        (totals.duplicate, "read before"), (totals.conflict, "in conflict"), (totals.set_aside, "rows set aside"),
        (totals.already, "kept already"), (totals.in_tray, "in the tray"), (totals.refused, "refused"),
    ) if count]  # fmt: skip
    yield from wrap("; ".join(parts) + ".", width)
    for told in report.revised:
        yield from wrap(told, width, "! ")
    if report.batch is not None:
        yield f"Taken back with: envwatch undo {report.batch}"


def _outcome(outcome: FileOutcome, width: int) -> Iterator[str]:
    if outcome.status == "kept":
        text = f"{outcome.name}: {outcome.new:,} new readings of {outcome.logger_id}"
        text += f", {outcome.duplicate:,} read before" if outcome.duplicate else ""
        text += f", {outcome.conflict:,} in conflict" if outcome.conflict else ""
        yield from wrap(text, width, "", "  ")
        for what, counts in (("set aside", outcome.set_aside), ("marked", outcome.marked)):
            if counts:
                yield from wrap(f"{what}: " + ", ".join(f"{n} {why}" for why, n in counts.items()), width, "  ")
    elif outcome.status == "in the tray":
        yield from wrap(f"{outcome.name}: waits in the tray as {outcome.number}. {outcome.question}", width, "", "  ")
    elif outcome.status == "refused":
        yield from wrap(f"refused: {outcome.reason}", width, "", "  ")
    else:
        yield from wrap(f"{outcome.name}: kept already, nothing changed", width, "", "  ")
    for note in outcome.notes:
        yield from wrap(note, width, "  ")


def tray(items: Sequence[TrayItem], drawn: Drawn | None = None, width: int = 80) -> str:
    """The files that wait, each with its one question, and what it is of drawn."""
    if not items:
        return "The tray is empty.\n"
    return _text(_tray(items, drawn or {}, width))


def _tray(items: Sequence[TrayItem], drawn: Drawn, width: int) -> Iterator[str]:
    for item in items:
        yield from wrap(item.sentence, width, "", "  ")
        yield from (f"  {row}".rstrip() for row in drawn.get(item.number, ()))
    yield "Answer with: envwatch add NUMBER and the option."


def undone(report: UndoReport) -> str:
    """What an undo took back."""
    told = [line for said in report.revised for line in wrap(said, 80, "! ")]
    return _text(iter([*wrap(report.sentence, 80), *told]))


def parted(report: PartReport, width: int = 80) -> str:
    """What was parted, where its readings count now, and how to take it back."""
    told = (report.sentence, *report.asks)
    return _text(iter([line for said in told for line in wrap(said, width)] + _ends(report, width)))


def reread(report: RereadReport, width: int = 80) -> str:
    """How originals read now against what is kept, a line a file."""
    same = report.read - len(report.files)
    lines = [line for one in report.files for line in wrap(one.sentence, width, "- ")]
    lines += wrap(f"{several(same, 'file')} of {report.read:,} read as kept.", width)
    if report.batch is None and any(one.differs for one in report.files):
        lines += wrap("Nothing was changed. Take all of it, as one add: envwatch reread ⟦apply⟧", width)
    return _text(iter([*lines, *_ends(report, width)]))


def _ends(report: PartReport | RereadReport, width: int) -> list[str]:
    revised = [line for told in report.revised for line in wrap(told, width, "! ")]
    return revised if report.batch is None else [*revised, f"Taken back with: envwatch undo {report.batch}"]


def checked(report: CheckReport, width: int = 80) -> str:
    """Whether the archive is whole."""
    return _text(_checked(report, width))


def _checked(report: CheckReport, width: int) -> Iterator[str]:
    yield from wrap(", ".join(f"{count:,} {what}" for what, count in report.counts.items()), width)
    for swept in report.swept:
        yield from wrap(f"swept: {swept}", width, "- ")
    for mended in report.repaired:
        yield from wrap(f"mended: {mended}", width, "- ")
    for accepted in report.accepted:
        yield from wrap(f"the register was taken as it stood on {accepted}", width, "- ")
    for stray in report.strays:
        yield from wrap(f"not ours: {stray}", width, "- ")
    for problem in report.problems:
        yield from wrap(problem, width, "! ")
    if report.only_looked:
        yield from wrap(f"Nothing was swept or mended: {report.only_looked}.", width)
    yield "The archive is whole." if not report.problems else f"{len(report.problems)} problem(s)."


def marked(doubts: Sequence[MarkedSpan], span: Period, width: int = 80) -> str:
    """Stretches of marked readings, and what a person answered."""
    return _text(_marked(doubts, span, width))


def _marked(doubts: Sequence[MarkedSpan], span: Period, width: int) -> Iterator[str]:
    if not doubts:
        yield from wrap(f"No reading of {span.label} bears a mark of doubt.", width)
        return
    for doubt in doubts:
        probe = f", probe {doubt.channel}" if doubt.channel not in ("", "1") else ""
        yield from wrap(
            f"{doubt.name} [{doubt.logger}]{probe}: {doubt.mark}, {several(doubt.readings, 'reading')}, "
            f"{stamp(doubt.start, span.zone)} to {stamp(doubt.end, span.zone)} {doubt.end.tz_convert(span.zone).year}",
            width, "- ",
        )  # fmt: skip
        said = f"{doubt.answer.sentence} (answer {doubt.answer.number})" if doubt.answer else "no answer yet"
        yield from wrap(said, width, "  ")
    yield from wrap("Answer: envwatch marks LOGGER ⟦from⟧ DAY ⟦to⟧ DAY, with ⟦out⟧ WHY (they count as missing) or "
                    "⟦good⟧ WHY (they are believed).", width)  # fmt: skip


def backed_up(report: BackupReport, width: int = 80) -> str:
    """What a backup holds, and what was not whole."""
    return _text(_backed_up(report, width))


def _backed_up(report: BackupReport, width: int) -> Iterator[str]:
    yield from wrap(f"{report.path}: {report.files} files, {report.size / 1e6:.1f} MB. It holds owners' names and "
                    "addresses: keep it where only you can reach it. Made a folder again by: envwatch restore FILE "
                    "FOLDER", width)  # fmt: skip
    for problem in report.problems:
        yield from wrap(problem, width, "! ")


# ----------------------------------------------------------------------------------------------------- painting


def dossier(result: Dossier, width: int = 80) -> str:
    """One painting: where it is, how it is, what was said and done."""
    return _text(painting_lines(result, width))


# ---------------------------------------------------------------------------------------------------------- why


def chain(result: Chain, width: int = 80) -> str:
    """The whole chain behind one finding."""
    return _text(_chain(result, width))


def _chain(result: Chain, width: int) -> Iterator[str]:
    finding, zone = result.finding, result.period.zone
    yield from wrap(f"{finding.number}: {result.painting.title} [{result.painting.id}], {result.period.label}", width)
    yield from wrap(f"{finding.level.word} {SHAPE[finding.level]}: {finding.sentence}", width)
    if result.reviewed:
        yield from wrap(f"! {result.reviewed}", width)
    yield from heading("The value", width)
    yield from wrap(measure(finding), width)
    yield from wrap(f"{finding.hazard}, {finding.mechanism}; {finding.layer}; {result.where}", width)
    yield from wrap(ledger.then_and_now(finding, zone), width)
    yield from wrap(finding.cause, width) if finding.cause else ()
    yield from wrap(f"the week was read for {result.coverage:.0%} of its time", width)
    yield from heading("The readings", width)
    yield from _readings(result, width)
    yield from heading("The working", width)
    for what, figures in finding.working or (("", "none is given"),):
        yield from wrap(f"{what}: {figures}" if what else figures, width, "- ")
    yield from heading("The limit", width)
    if not np.isnan(finding.limit):
        yield from wrap(f"{finding.limit:g} {finding.unit}: {trust(finding)}", width)
        if result.looked is not None:
            yield from wrap(result.looked.sentence, width)
    yield from wrap(f"Source: {result.reference}", width)
    for reference in result.others:
        yield from wrap(reference, width, "- ")
    if finding.clears:
        yield from heading("What would clear it", width)
        yield from wrap(finding.clears, width)
    yield from heading("How often it was right", width)
    nobody = f"{finding.hazard}: nobody has noted yet, with its number, whether looking bore a finding out"
    yield from wrap(result.record or nobody, width)
    if result.notes:
        yield from heading("Assumed or to be known", width)
        for note in result.notes:
            yield from wrap(note, width, "- ")


def _readings(result: Chain, width: int) -> Iterator[str]:
    trace, zone = result.trace, result.period.zone
    if trace is None:
        yield from wrap("no single reading stands at the worst moment; see the working", width)
        return
    yield from wrap(f"at the worst moment, {stamp(trace.time, zone)}, logger {trace.logger_id} read:", width)
    yield from wrap(f"{trace.raw_temp_c:g} °C, {trace.raw_rh_percent:g} % RH as written in the file", width, "  ")
    if (trace.raw_temp_c, trace.raw_rh_percent) != (trace.temp_c, trace.rh_percent):
        yield from wrap(f"{trace.temp_c:.2f} °C, {trace.rh_percent:.1f} % RH after correction", width, "  ")
    yield from wrap(f"{trace.file_name}, line {trace.line} (SHA-256 {trace.sha256[:16]}…)", width, "  ")
    if trace.problem:
        yield from wrap(trace.problem, width, "  ")
    if trace.marks:
        yield from wrap(f"marked: {', '.join(trace.marks)}", width, "  ")
