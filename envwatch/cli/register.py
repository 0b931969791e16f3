"""The register's own verbs: import, export, move, treat, observe, hung, calibrate."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from envwatch.cli.common import StudioOption, now, open_studio

WhichPainting = Annotated[str, typer.Argument(help="Its number, or words of its title.", show_default=False)]
On = Annotated[str | None, typer.Option("--on", help="Day, or day and time: 2026-11-02 or '2026-11-02 10:30'.")]


def import_(
    folder: Annotated[Path, typer.Argument(help="Folder with places.csv, paintings.csv, …", show_default=False)],
    studio: StudioOption = Path(),
) -> None:
    """Read the register from CSV files; one wrong row and nothing is kept."""
    counts = open_studio(studio).import_register(folder)
    print(", ".join(f"{count} {name}" for name, count in counts.items()))


def export(
    folder: Annotated[Path, typer.Argument(help="Where to write the CSV files.", show_default=False)],
    private: Annotated[bool, typer.Option("--private", help="With the owners' names.")] = False,
    studio: StudioOption = Path(),
) -> None:
    """Write the register as CSV files; without the owners unless asked for."""
    counts = open_studio(studio).export_register(folder, private=private)
    print(", ".join(f"{count} {name}" for name, count in counts.items()))


def move(
    painting: WhichPainting,
    place: Annotated[str, typer.Argument(help="Id of the place.", show_default=False)],
    on: On = None,
    position: Annotated[str, typer.Option(help="rack, inner wall, outer wall, radiator, …")] = "unknown",
    until: Annotated[str | None, typer.Option(help="End of the stay, where it is known.")] = None,
    intended: Annotated[bool, typer.Option("--intended", help="A treatment climate: counted, not raised.")] = False,
    purpose: Annotated[str, typer.Option(help="What for.")] = "",
    studio: StudioOption = Path(),
) -> None:
    """A painting moves to a place."""
    house = open_studio(studio)
    found = house.find_painting(painting)
    stay = house.move(
        found.id, place, on or str(now().tz_convert(house.zone).date()),
        position=position, until=until, intended=intended, purpose=purpose,
    )  # fmt: skip
    print(f"{found.title}: in {house.places()[stay.place_id].name} from {stay.start.tz_convert(house.zone).date()}")


def treat(
    painting: WhichPainting,
    kind: Annotated[str, typer.Argument(help="lining, consolidation, patch, tear mend, …", show_default=False)],
    on: On = None,
    material: Annotated[str, typer.Option(help="Key of the material, such as eva_film.")] = "",
    note: Annotated[str, typer.Option(help="Batch, temperatures, pressure, in your words.")] = "",
    studio: StudioOption = Path(),
) -> None:
    """Record a treatment."""
    house = open_studio(studio)
    found = house.find_painting(painting)
    house.treat(found.id, kind, on or str(now().tz_convert(house.zone).date()), material=material, note=note)
    print(f"{found.title}: {kind} recorded")


def observe(
    painting: WhichPainting,
    sign: Annotated[str, typer.Argument(help="What was seen.", show_default=False)],
    where: Annotated[str, typer.Option(help="Where on the painting.")] = "",
    finding: Annotated[int | None, typer.Option(help="Number of the finding it speaks to.")] = None,
    confirms: Annotated[bool | None, typer.Option("--confirms/--denies", help="Does it bear the finding out?")] = None,
    on: On = None,
    studio: StudioOption = Path(),
) -> None:
    """Record a sign seen on a painting; it may confirm or deny a finding."""
    house = open_studio(studio)
    found = house.find_painting(painting)
    day = on or str(now().tz_convert(house.zone).date())
    house.observe(found.id, day, sign, where=where, finding=finding, confirms=confirms)
    print(f"{found.title}: {sign}, recorded")


def hung(
    logger: Annotated[str, typer.Argument(help="Id of the logger.", show_default=False)],
    place: Annotated[str, typer.Argument(help="Id of the place.", show_default=False)],
    on: On = None,
    position: Annotated[str, typer.Option(help="Position in the place.")] = "unknown",
    channel: Annotated[str, typer.Option(help="Which probe of the file.")] = "",
    studio: StudioOption = Path(),
) -> None:
    """Say where a logger, or one of its probes, hangs."""
    house = open_studio(studio)
    day = on or str(now().tz_convert(house.zone).date())
    house.set_hanging(logger, place, day, position=position, channel=channel)
    print(f"{logger}: in {place} from {day}")


def add_commands(app: typer.Typer) -> None:
    """Hang the commands on the app."""
    app.command("import")(import_)
    for command in (export, move, treat, observe, hung):
        app.command()(command)
