"""Commands for logger files: read, add, tray, part, reread, undo."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path
from typing import Annotated

import typer

from envwatch.cli.common import JsonOption, StudioOption, open_studio, option, progress, show
from envwatch.core.errors import BadInput, named

Zone = Annotated[str | None, typer.Option(help="Time zone of the logger's clock, such as Europe/Berlin or +01:00.")]
Dates = Annotated[
    str | None,
    typer.Option(help="Order of day, month and year: dmy, mdy or ymd; or 1904, from which day numbers count."),
]
Encoding = Annotated[str | None, typer.Option(help="Character encoding, such as utf-8 or cp1252.")]
Decimal = Annotated[str | None, typer.Option(help="Decimal mark: , or .")]
TempUnit = Annotated[str | None, typer.Option(help="Unit of temperature where the file does not say: C, F or K.")]
Start = Annotated[
    str | None,
    typer.Option(help='When the record of one file begins, such as "2026-03-01 10:00", if its rows say not.'),
]


Columns = Annotated[
    str | None,
    typer.Option(help="Columns of temperature and humidity where the file does not say, counted from 1: 2,3."),
]


def _answers(paths: list[Path], zone, dates, encoding, decimal, temp_unit, start, columns):
    from envwatch.logs import Answers

    if start and (len(paths) > 1 or paths[0].is_dir()):
        raise BadInput("--start says when the record of one file begins. Name that file alone")
    return Answers(zone=zone, dates=dates, encoding=encoding, decimal=decimal, temp_unit=temp_unit, start=start,
                   columns=columns)  # fmt: skip


def read(
    files: Annotated[list[Path], typer.Argument(help="Logger files.", show_default=False)],
    zone: Zone = None,
    dates: Dates = None,
    encoding: Encoding = None,
    decimal: Decimal = None,
    temp_unit: TempUnit = None,
    start: Start = None,
    columns: Columns = None,
) -> None:
    """Show what a logger file says: normalised CSV on stdout, notes on stderr. Keeps nothing."""
    from envwatch import logs
    from envwatch.cli.common import now
    from envwatch.present import terminal

    answers = _answers(files, zone, dates, encoding, decimal, temp_unit, start, columns)
    for path in files:
        log = logs.read(path, answers, now=now(), need_rh=True)
        print(named(terminal.read(log), option), end="", file=sys.stderr)
        sys.stdout.writelines(logs.to_csv(log))


def add(
    paths: Annotated[
        list[Path], typer.Argument(help="Logger files, folders of them, or numbers in the tray.", show_default=False)
    ],
    logger: Annotated[str | None, typer.Option(help="The logger that wrote them, where the files do not say.")] = None,
    follow: Annotated[
        bool, typer.Option("--follow", help="Watch the folders and add what appears, until stopped.")
    ] = False,
    zone: Zone = None,
    dates: Dates = None,
    encoding: Encoding = None,
    decimal: Decimal = None,
    temp_unit: TempUnit = None,
    start: Start = None,
    columns: Columns = None,
    studio: StudioOption = Path(),
    json: JsonOption = False,
) -> None:
    """Read logger files and keep them. A questioned file waits in the tray and holds up no other."""
    from envwatch.cli.follow import settled_files
    from envwatch.present.terminal import added

    answers = _answers(paths, zone, dates, encoding, decimal, temp_unit, start, columns)
    house = open_studio(studio)
    if follow:
        for ready in settled_files(paths):
            if ready:
                came = _judged(house, house.add(ready, answers, logger=logger))
                print(named(added(came, _drawn(house, came.outcomes)), option), end="", flush=True)
    with progress("adding") as report:
        result = house.add([_tray_number(path) for path in paths], answers, logger=logger, progress=report)
    result = _judged(house, result)
    told = replace(result, outcomes=tuple(map(_with_option, result.outcomes)))
    show(told, json, lambda: added(result, _drawn(house, result.outcomes)), house.names)
    if not result.ok:
        raise typer.Exit(3)


def _drawn(house, items):
    """The records between which a question asks to choose, drawn, by its number in the tray."""
    from envwatch.present.records import bars

    asked = [item.number for item in items if item.number is not None]
    return {number: tuple(bars(house.courses(number), house.zone)) for number in asked}


def _judged(house, report):
    """What became of files, with the reviewed weeks that say otherwise by them."""
    from envwatch.cases.review import revised

    return report if report.batch is None else replace(report, revised=revised.at_once(house))


def _tray_number(path: Path) -> Path | int:
    """A bare number that is no file stands for a file in the tray."""
    return int(str(path)) if str(path).isdigit() and not path.exists() else path


def _with_option(item):
    """A file's outcome, or one in the tray, with the option that answers its question."""
    return replace(item, option=option(item.option)) if item.option else item


def tray(studio: StudioOption = Path(), json: JsonOption = False) -> None:
    """Show the files that wait for an answer, each with its one question."""
    from envwatch.present.terminal import tray as tell

    house = open_studio(studio)
    items = tuple(map(_with_option, house.tray()))
    show(items, json, lambda: tell(items, _drawn(house, items)), house.names)


def part(
    file: Annotated[str, typer.Argument(help="A kept file: its name, its number, or where it lies.")],
    logger: Annotated[str, typer.Option(help="Whose it is; by default another, new logger's.")] = "new",
    studio: StudioOption = Path(),
    json: JsonOption = False,
) -> None:
    """Part a kept file from the logger it was taken for; its readings become another's."""
    from envwatch.present.terminal import parted

    house = open_studio(studio)
    result = _judged(house, house.part(file, logger))
    show(result, json, lambda: parted(result), house.names)


def reread(
    apply: Annotated[bool, typer.Option("--apply", help="Take what differs, as one add that undo takes back.")] = False,
    studio: StudioOption = Path(),
    json: JsonOption = False,
) -> None:
    """Read all originals anew with today's reader and show how each differs; changes nothing of itself."""
    from envwatch.present.terminal import reread as tell

    house = open_studio(studio)
    with progress("reading anew") as report:
        result = _judged(house, house.reread(apply, progress=report))
    show(result, json, lambda: tell(result), house.names)


def undo(
    batch: Annotated[int | None, typer.Argument(help="Number of the add; by default the last one.")] = None,
    studio: StudioOption = Path(),
    json: JsonOption = False,
) -> None:
    """Take back an add: its readings leave the archive, its files go to the tray's side."""
    from envwatch.present.terminal import undone

    house = open_studio(studio)
    result = _judged(house, house.undo(batch))
    show(result, json, lambda: undone(result), house.names)


def add_commands(app: typer.Typer) -> None:
    """Hang the commands on the app."""
    for command in (read, add, tray, part, reread, undo):
        app.command()(command)
