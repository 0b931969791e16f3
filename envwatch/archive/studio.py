"""A studio, under one name: its folder, and all that may be done in it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

import pandas as pd

from envwatch.archive.climates import answers as mark_answers
from envwatch.archive.climates import exposure
from envwatch.archive.climates import place as climates
from envwatch.archive.climates import trace as tracing
from envwatch.archive.climates.spots import ProbeRecord, spots
from envwatch.archive.climates.trace import Provenance
from envwatch.archive.intake import add as intake
from envwatch.archive.intake import anew, keep, status, tray
from envwatch.archive.intake import part as parting
from envwatch.archive.intake.anew import RereadReport
from envwatch.archive.intake.outcomes import AddReport, PartReport, TrayItem, UndoReport
from envwatch.archive.intake.status import LoggerSeen
from envwatch.archive.register import csv_files, edit
from envwatch.archive.register.redaction import Names, names_of
from envwatch.archive.store.folder import StudioFolder
from envwatch.archive.upkeep import backup
from envwatch.archive.upkeep import check as checking
from envwatch.archive.upkeep.backup import BackupReport
from envwatch.archive.upkeep.check import CheckReport
from envwatch.climate.exposure import Exposure
from envwatch.climate.series import Climate
from envwatch.core.errors import BadInput
from envwatch.core.painting import Observation, Painting, Stay, Treatment
from envwatch.core.place import Cause, Hanging, MarkDecision, Place
from envwatch.logs.model import Answers


class Studio(StudioFolder):
    """One studio folder, with what may be done in it. Make one with `Studio.create` or `Studio.open`; then close it."""

    def find_painting(self, words: str) -> Painting:
        """The one painting that its number, or words of its title, maker or owner, or of where it is, fit.

        Words in any order; letters with or without their marks ("Wärter", "warter", "Waerter").

        Raises
        ------
        NotThere : none fits; the nearest are named. Question : several fit.
        """
        return edit.find_painting(self, words)

    def find_place(self, words: str) -> Place:
        """The one place that its id, or words of its name, fit. NotThere: none does. Question: several do."""
        return edit.find_place(self, words)

    def import_register(self, folder: Path | str, *, look: bool = False) -> csv_files.Imported:
        """Read the register from CSV files (columns: sample_logs/FORMATS.md); rows kept by file.

        A row with a known id changes that noun; layers, stays, hangings and observations replace all that the
        register had for the paintings (loggers) named. `look`: what that would come to; nothing is changed.
        BadInput: a line with file and row for each thing that is wrong; nothing is kept then.
        """
        return csv_files.import_register(self, folder, look=look)

    def export_register(self, folder: Path | str, *, private: bool = False, redact: bool = False) -> csv_files.Exported:
        """Write the register as CSV files; rows by file. Owners only if `private`; then importing it changes nothing.

        Else a number stands where an owner's name stood in a text. `redact`: in the owner column too, and houses
        without a name.
        """
        return csv_files.export_register(self, folder, private=private, redact=redact)

    def names(self, houses: bool = False, owner_of: Painting | None = None, apart: bool = False) -> Names:
        """Who is not named in what leaves the studio, to be taken out of texts, files and results.

        Parameters
        ----------
        houses : the names of owners' houses go too.
        owner_of : the owner of this painting, and the houses it stood in, may be named.
        apart : of these the houses alone; the owner stands on a page of their own.
        """
        return names_of(self, houses, owner_of, apart)

    def move(self, painting_id: str, place_id: str, on: edit.When, *, position: str = "unknown",
             intended: bool = False, purpose: str = "", until: edit.When | None = None,
             instead: str = "") -> Stay:  # fmt: skip
        """A painting moves to a place; the stay it was in ends that day. Dates as in the register's CSV files.

        An intended stay with an end (a humidity chamber) is fitted into the stay around it, which goes on after it.
        `instead`: the place of a stay that never was, which goes on or ended with this move: it is taken back.

        Raises
        ------
        NotThere : no such painting or place. BadInput : a date or a word is wrong, or the stays would overlap.
        """
        return edit.move(self, painting_id, place_id, on, position=position, intended=intended, purpose=purpose,
                          until=until, instead=instead)  # fmt: skip

    def treat(self, painting_id: str, kind: str, on: edit.When, *, material: str = "",
              end: edit.When | None = None, temp_interface_c: float | None = None, note: str = "",
              id: str | None = None, adds_layer: bool = True, **trade: Any) -> Treatment:  # fmt: skip
        """Record a treatment, and with it the layer that it puts on (a lining its film, and its cloth if named).

        Parameters
        ----------
        trade : further fields of `Treatment` by name: batch, temps_interface_c, hold_min, pressure_mbar, …
        adds_layer : False where the stack has, or gets, the layer otherwise.

        Raises
        ------
        BadInput : before the painting was made, a second lining of one day without hours, a field or family unknown.
        """
        return edit.treat(self, painting_id, kind, on, material=material, end=end, temp_interface_c=temp_interface_c,
                           note=note, id=id, adds_layer=adds_layer, **trade)  # fmt: skip

    def enter(self, noun: str, cells: Mapping[str, str]) -> bool:
        """Enter a "painting", "place", "logger" or "layer" by the columns of its CSV file; whether it is new.

        A known id changes what is given of that noun. BadInput: one line on what is wrong; nothing is kept then.
        """
        return edit.enter(self, noun, cells)

    def observe(self, painting_id: str, on: edit.When, sign: str, *, where: str = "", finding: int | None = None,
                confirms: bool | None = None, note: str = "", photo: str = "", look: str = "",
                by: str = "") -> Observation:  # fmt: skip
        """Record a sign seen on a painting, or `NOTHING_NEW`; it may confirm or deny a finding by its number.

        Parameters
        ----------
        look : how it was looked at, a word of `Look`; empty: "unknown".
        by : who looked. photo : a file's name.

        Raises
        ------
        BadInput : a word that `Look` does not have, a finding of another painting, a day that is none.
        """
        return edit.observe(self, painting_id, on, sign, where=where, finding=finding, confirms=confirms, note=note,
                             photo=photo, look=look, by=by)  # fmt: skip

    def take_back_look(self, painting_id: str, on: edit.When) -> None:
        """Take a look that found nothing new, entered by mistake, out of the register. NotThere: none of that time."""
        edit.take_back_look(self, painting_id, on)

    def set_hanging(self, logger_id: str, place_id: str, on: edit.When, *, position: str = "unknown",
                    channel: str = "", until: edit.When | None = None) -> Hanging:  # fmt: skip
        """Say where a logger, or one of its probes, hangs from a day on; also afterwards, to correct the register.

        What the register has from that day on gives way, up to the end of the hanging it falls into.
        """
        return edit.set_hanging(self, logger_id, place_id, on, position=position, channel=channel, until=until)

    def stand_in(self, place_id: str, neighbour_id: str, on: edit.When, *, temp_u_c: float, rh_u_percent: float,
                 until: edit.When | None = None, note: str = "") -> None:  # fmt: skip
        """A neighbour's air counts while a place's own loggers read nothing, with what it may be off by.

        Parameters
        ----------
        temp_u_c, rh_u_percent : half-widths a person vouches for; carried into every finding's ±. [°C], [% RH]
        """
        edit.stand_in(self, place_id, neighbour_id, on, temp_u_c=temp_u_c, rh_u_percent=rh_u_percent, until=until,
                       note=note)  # fmt: skip

    def calibrate(self, logger_id: str, on: edit.When, **check: Any) -> None:
        """Record a check of a logger, which corrects its readings from that day on; raw readings stay.

        Parameters
        ----------
        check : `rh_points`, one or two (true, read) in % RH; `temp_point`, (true, read) in °C;
            `rh_accuracy_percent`, `temp_accuracy_c`, limits of error after it; `channel`, `due`, `basis`, `note`.

        Raises
        ------
        BadInput : a correction so strong that the sensor should be replaced.
        """
        edit.calibrate(self, logger_id, on, **check)

    def name_cause(self, place_id: str, kind: str, start: edit.When, end: edit.When, cause: str, *,
                   by: str = "", on: edit.When | None = None) -> Cause:  # fmt: skip
        """Name what made an event of a place's air; named again, it stands in place of what was named before.

        Parameters
        ----------
        kind : a word of `AirEvent`. start, end : of the event, as far as it was read. on : when it was named; else now.

        Raises
        ------
        BadInput : no words, or a kind that is none. NotThere : no such place.
        """
        return edit.name_cause(self, place_id, kind, start, end, cause, by=by, on=on)

    def doubts(
        self, start: pd.Timestamp, end: pd.Timestamp, logger: str | None = None
    ) -> tuple[mark_answers.MarkedSpan, ...]:
        """Stretches of readings in [start, end) that bear a mark of doubt, each with what a person answered."""
        return mark_answers.doubts(self, start, end, logger)

    def answer_marks(self, logger_id: str, answer: str, start: edit.When, end: edit.When | None, *, because: str,
                     mark: str = "", channel: str = "", by: str = "") -> MarkDecision:  # fmt: skip
        """A person's dated answer about readings that bear a mark, from a day (or instant) to another, included.

        Parameters
        ----------
        answer : "out", the marked readings count as missing from now on; "good", they are no longer doubted.
        mark : by its name; empty, any mark of doubt. Readings without the mark are not touched.
        by : who says so; by default who is logged in.

        Raises
        ------
        BadInput : no reason, no such mark or answer, or no reading of that time bears it. NotThere : no such logger.
        """
        return mark_answers.answer_marks(
            self, logger_id, answer, start, end, because=because, mark=mark, channel=channel, by=by
        )

    def withdraw_answer(self, number: int) -> None:
        """Take an answer about marked readings back; they are doubted again. NotThere: no such number."""
        mark_answers.withdraw_answer(self, number)

    def add(self, paths: Iterable[Path | str | int], answers: Answers | None = None, *, logger: str | None = None,
            progress: intake.Progress = None) -> AddReport:  # fmt: skip
        """Read logger files and keep them, byte for byte and as readings.

        Parameters
        ----------
        paths : files; folders, with all below them; numbers of files that wait in the tray.
        answers : what a person says about them. It is remembered for the loggers they belong to.
        logger : whose files they are, by id, name or label; "new": another, new logger's.
        progress : called with (done, of, name).

        Returns
        -------
        An outcome for each file. Files are kept in batches, each whole or not at all; a file with a question goes
        into the tray and holds up no other; one that is no log is refused and leaves nothing. A file that was kept
        before changes nothing, unless `answers` or `logger` now say otherwise: then it is read again.
        """
        return intake.add(self, paths, answers, logger=logger, progress=progress)

    def undo(self, batch: int | None = None) -> UndoReport:
        """Take back an add, by default the last; its files are set apart in `originals/undone`."""
        return keep.undo(self, batch)

    def part(self, file: str, logger: str = "new") -> PartReport:
        """Part a kept file from its logger: its readings become another's, by default a new one's. `undo` ends it.

        Parameters
        ----------
        file : its name, its number, or where it lies. logger : as in `add`.

        Raises
        ------
        NotThere : no such file or logger. Question : several of that name. BadInput : it is that logger's already.
        """
        return parting.part(self, file, logger)

    def reread(self, apply: bool = False, progress: intake.Progress = None) -> RereadReport:
        """Read all originals anew with this envwatch's reader, and tell how what is kept of each differs.

        `apply`: take what differs, as one batch that `undo` takes back. What cannot be read now stays as it was kept.
        """
        return anew.reread(self, apply, progress)

    def tray(self) -> tuple[TrayItem, ...]:
        """Files that wait for an answer; `add` takes them by number, with the answer."""
        return tray.tray(self)

    def courses(self, number: int, steps: int = 38) -> tuple[tray.RecordCurve, ...]:
        """A file that waits for its logger, and the loggers it may be of, over one time in so many steps."""
        return tray.courses(self, number, steps)

    def discard(self, number: int) -> TrayItem:
        """Take a file out of the tray unread; it is set apart in `originals/undone`. NotThere: no such number."""
        return tray.discard(self, number)

    def seen(self, now: pd.Timestamp | None = None, place: str | None = None) -> dict[str, LoggerSeen]:
        """Until when each logger was seen, and whether late by the clock `now`, stopped or flat; `place`: there."""
        return status.seen(self, now, place)

    def climate(self, place_id: str, start: pd.Timestamp, end: pd.Timestamp, position: str | None = None) -> Climate:
        """The air in a place over [start, end): bad readings missing, checks applied, raw data untouched.

        `position`: the air there, while a logger hangs there; else, and where none does, the room's. Times of any zone,
        here and below. BadInput: times without one.
        """
        return climates.climate(self, place_id, _utc(start), _utc(end), position)

    def spots(self, place_id: str, start: pd.Timestamp, end: pd.Timestamp) -> tuple[ProbeRecord, ...]:
        """The air at each logger that hung and read in a place in [start, end), for itself."""
        return spots(self, place_id, _utc(start), _utc(end))

    def place_exposure(self, place_id: str, start: pd.Timestamp, end: pd.Timestamp) -> Exposure:
        """The exposure of whatever stands in a place."""
        return exposure.place_exposure(self, place_id, _utc(start), _utc(end))

    def exposures(
        self, painting: Painting, start: pd.Timestamp, end: pd.Timestamp, doubt_from: pd.Timestamp | None = None,
        weekly: bool = False, reviewed: pd.Timestamp | None = None,
    ) -> tuple[Exposure, ...]:  # fmt: skip
        """What a painting was exposed to over [start, end), from its stays; hours without a logger are unknown.

        One; two where only the day of a move is known and lies in the span: first with that day given to the place
        left, then to the next (and more where three places share a day). The worse counts. Such a day before
        `doubt_from` is given to the place left. `weekly`, `reviewed`: see `records.Exposure`.
        """
        return exposure.exposures(self, painting, _utc(start), _utc(end), doubt_from, weekly, reviewed)

    def trace(self, where: str, time: pd.Timestamp, position: str | None = None) -> Provenance:
        """The reading behind a moment in a place, or of a logger: its file and line, raw and corrected.

        NotThere: neither a place nor a logger, or nothing was read within an hour of it.
        """
        return tracing.trace(self, where, time, position)

    def back_up(self, target: Path | str, progress: intake.Progress = None) -> BackupReport:
        """Write the whole folder, owners included, to one ZIP file; others may read and write meanwhile.

        `target`: a new file, or a folder to put it in under the studio's name and the day. BadInput: the file is
        there already, or lies in the studio folder. `backing.restore` makes a folder from it again.
        """
        return backup.back_up(self, target, progress)

    def check(self, rebuild: bool = False, progress: intake.Progress = None) -> CheckReport:
        """Whether the folder is whole; with `rebuild`, whether the originals still give the same readings.

        A part that is gone or damaged is then written again; any other difference is told and not applied.
        """
        return checking.check(self, rebuild, progress)

    def accept(self, because: str) -> tuple[str, ...]:
        """Take a register whose rows are not as envwatch wrote them as it stands; what was amiss, a line each.

        `because`: why it is right; kept with who and when. BadInput: no reason, or nothing is amiss.
        """
        return checking.accept(self, because)


def _utc(moment: pd.Timestamp) -> pd.Timestamp:
    if moment.tz is None:
        raise BadInput("a time without a zone; give it one, such as UTC or the studio's", place=moment)
    return moment.tz_convert("UTC")
