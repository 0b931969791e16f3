"""The command for a time away: away."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from envwatch.cli.common import JsonOption, PaperOption, StudioOption, now, open_studio, show, width


def away(
    first: Annotated[str, typer.Option("--from", help="First day away, such as 2026-12-20.")],
    last: Annotated[str, typer.Option("--until", help="Last day away, included.")],
    who: Annotated[str, typer.Option(help="Who looks after the rooms.")] = "",
    ring: Annotated[list[str] | None, typer.Option(help="Whom to ring for what; may be repeated.")] = None,
    paper: PaperOption = "a4",
    keep: Annotated[bool, typer.Option(help="Keep the printed sheet in sheets/.")] = True,
    studio: StudioOption = Path(),
    json: JsonOption = False,
) -> None:
    """A sheet for who looks after the rooms while you are away, and how to catch up on return."""
    from envwatch.archive import reviews
    from envwatch.cases.away import nameless, sheet_for
    from envwatch.present.terminal import away as tell

    house = open_studio(studio)
    result = nameless(house, sheet_for(house, now(), first, last, who, tuple(ring or ())))
    show(result, json, lambda: tell.away(result, width()), house.names)
    if keep:
        from envwatch.present.paper import away as sheet

        kept = reviews.keep_sheet(house, f"away-{first}-{paper}.pdf", sheet.page(result, paper))
        if not json:
            print(f"\nPrinted sheet: {kept}")


def add_commands(app: typer.Typer) -> None:
    """Hang the command on the app."""
    app.command()(away)
