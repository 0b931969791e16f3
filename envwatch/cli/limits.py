"""The command for the limits in force: how many are whose, and whether the studio works by envwatch's own."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from envwatch.cli.common import JsonOption, StudioOption, now, open_studio, show, width


def limits(
    adopt: Annotated[str, typer.Option(help="The studio works by envwatch's working limits; say why.")] = "",
    on: Annotated[str, typer.Option(help="Since which day; by default today.")] = "",
    studio: StudioOption = Path(),
    json: JsonOption = False,
) -> None:
    """The limits in force, by who set them; --adopt WHY puts on paper that the studio works by envwatch's own."""
    from envwatch.cases.review.hit_rate import by_limit
    from envwatch.cases.review.limits import in_force, with_looks
    from envwatch.present.terminal.limits import limits as as_text

    house = open_studio(studio)
    if adopt:
        house.adopt_limits(on or str(now().tz_convert(house.zone).date()), adopt)
    looked, materials = by_limit(house), house.materials()
    held = {"adoption": house.adoption, "limits": with_looks(in_force(materials, materials), looked, materials),
            "looked": looked}  # fmt: skip
    show(held, json, lambda: as_text(held, width()), house.names)


def add_commands(app: typer.Typer) -> None:
    """Hang the command on the app."""
    app.command()(limits)
