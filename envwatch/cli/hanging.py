"""Commands for where a painting may hang: hang."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from envwatch.cases.fields.hanging import AFTER, INPUTS
from envwatch.cli.common import JsonOption, PaperOption, StudioOption, now, open_studio, progress, show, takes, width
from envwatch.core.errors import BadInput


@takes(INPUTS.values(), AFTER.values())
def hang(
    words: Annotated[list[str], typer.Argument(help="Words of its title, its owner, or its number.")],
    positions: Annotated[Path, typer.Option(help="File of positions: TOML, or CSV with one row a position.")],
    paper: PaperOption = "a4",
    language: Annotated[str, typer.Option(help="Language of the owner's page: en, pt, es, fr, it or de.")] = "en",
    keep: Annotated[bool, typer.Option(help="Keep the owner's page and the studio's in sheets/.")] = True,
    studio: StudioOption = Path(),
    json: JsonOption = False,
    **given: Any,
) -> None:
    """Where in a house it may hang, why, and a page for the owner."""
    from envwatch.cases import hanging
    from envwatch.cases.hanging.assessment import hung_at, with_adhesive
    from envwatch.core import period
    from envwatch.present.terminal import hanging as tell

    house = open_studio(studio)
    log = given["log"]
    painting = with_adhesive(house.find_painting(" ".join(words)), given["adhesive"], house.materials())
    spots = hanging.read(_bytes(positions), positions.name)
    day = period.begin(given["on"], "on", house.zone)
    if log is not None:
        spots = (hung_at(spots, given["at"]),)
    with progress("judging") as report:
        advice = hanging.advise(house, painting, spots, now(), day, report)
    if log is not None:
        return _after(house, painting, spots[0], advice, log, (given["zone"], given["start"]), json)
    show(advice, json, lambda: tell.advice(advice, width()), house.names)
    if keep:
        kept = _keep(house, advice, paper, language)
        if not json:
            print(f"\nFor the owner: {kept[0]}\nFor the studio: {kept[1]}")


def _bytes(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except FileNotFoundError:
        raise BadInput(f"{path}: no such file. Copy sample_logs/positions.toml and change it") from None
    except IsADirectoryError:
        raise BadInput(f"{path}: is a folder; name a file of positions") from None


def _keep(house, advice, paper: str, language: str):
    from envwatch.archive import reviews
    from envwatch.present.paper import hanging as studio_sheet
    from envwatch.present.paper import owner

    names = house.names()
    stem = f"hanging-{advice.painting_id}-{advice.hang_on.tz_convert(advice.zone).date()}-{paper}"
    return (
        reviews.keep_sheet(
            house, names.ident(f"{stem}-owner-{language}.pdf"), owner.page(names.within(advice), paper, language)
        ),
        reviews.keep_sheet(house, f"{stem}-studio.pdf", studio_sheet.page(advice, paper)),
    )


def _after(house, painting, spot, advice, log: Path, clock: tuple[str | None, str | None], as_json: bool) -> None:
    """The owner's file against the advice for the position it hangs at."""
    from envwatch import logs
    from envwatch.cases.hanging.assessment import owners_air
    from envwatch.cases.hanging.verification import after_hanging
    from envwatch.present.terminal import hanging as tell

    read = logs.read(log, logs.Answers(zone=clock[0], start=clock[1]), now=now(), need_rh=True)
    result = after_hanging(house, painting, spot, advice.positions[0], owners_air(read, log.name), advice.hang_on)
    show(result, as_json, lambda: tell.after(result, advice.zone, width()), house.names)


def add_commands(app: typer.Typer) -> None:
    """Hang the command on the app."""
    app.command()(hang)
