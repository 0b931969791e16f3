"""The command for one place: its climate over as long as it was read."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from envwatch.cli.common import JsonOption, StudioOption, now, open_studio, show, width
from envwatch.core.errors import BadInput


def place(
    words: Annotated[list[str], typer.Argument(help="Words of its name, or its id.")],
    first: Annotated[str | None, typer.Option("--from", help="First day, such as 2026-01-01; with --to.")] = None,
    last: Annotated[str | None, typer.Option("--to", help="Last day, included.")] = None,
    studio: StudioOption = Path(),
    json: JsonOption = False,
) -> None:
    """One place: season, band, types of control, named targets, damp, cycles, ageing, and what cannot be said yet."""
    from envwatch.cases import place as place_history
    from envwatch.core import period
    from envwatch.present.terminal.place import place as as_text

    if bool(first) != bool(last):
        raise BadInput("--from and --to go together, such as --from 2026-01-01 --to 2026-12-31")
    house = open_studio(studio)
    span = period.from_to(first, last, house.zone) if first and last else None
    result = place_history.of(house, " ".join(words), now(), span)
    show(result, json, lambda: as_text(result, width()), house.names)


def add_commands(app: typer.Typer) -> None:
    """Hang the command on the app."""
    app.command()(place)
