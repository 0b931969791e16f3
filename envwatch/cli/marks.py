"""The command for marked readings: which there are, and what a person says about them."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from envwatch.cli.common import JsonOption, StudioOption, now, open_studio, show, width
from envwatch.core.errors import BadInput

DAYS_BACK = 31


def marks(
    logger: Annotated[
        str | None, typer.Argument(help="A logger by its id; by default all.", show_default=False)
    ] = None,
    first: Annotated[str | None, typer.Option("--from", help="First day, such as 2026-10-26.")] = None,
    last: Annotated[str | None, typer.Option("--to", help="Last day, included.")] = None,
    mark: Annotated[str, typer.Option(help="Only readings with this mark, such as stuck.")] = "",
    channel: Annotated[str, typer.Option(help="Only this probe of the logger.")] = "",
    out: Annotated[str, typer.Option(help="Take them out, they count as missing; say why.")] = "",
    good: Annotated[str, typer.Option(help="They can be believed; say why.")] = "",
    by: Annotated[str, typer.Option(help="Who says so; by default who is logged in.")] = "",
    withdraw: Annotated[int | None, typer.Option(help="Take an answer back, by its number.")] = None,
    studio: StudioOption = Path(),
    json: JsonOption = False,
) -> None:
    """Readings that bear a mark of doubt, by default of the last month; answer with --out or --good and a reason."""
    from envwatch.core import period
    from envwatch.present.terminal import marked

    house = open_studio(studio)
    if withdraw is not None:
        house.withdraw_answer(withdraw)
    if out and good:
        raise BadInput("--out and --good exclude each other; give one of them")
    if out or good:
        if not logger or not first:
            raise BadInput("an answer needs logger and time: envwatch marks LOGGER --from DAY --to DAY --out WHY")
        said = "out" if out else "good"
        house.answer_marks(logger, said, first, last or first, because=out or good, mark=mark, channel=channel, by=by)
    today = now()
    ended = last or str(today.tz_convert(house.zone).date())
    begun = first or str((today.tz_convert(house.zone) - _days(DAYS_BACK)).date())
    span = period.from_to(begun, ended, house.zone)
    found = [d for d in house.doubts(span.start, span.end, logger) if mark in ("", d.mark)]
    show(found, json, lambda: marked(found, span, width()), house.names)


def _days(count: int):
    import pandas as pd

    return pd.Timedelta(days=count)


def add_commands(app: typer.Typer) -> None:
    """Hang the command on the app."""
    app.command()(marks)
