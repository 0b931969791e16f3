"""Commands for the studio folder: demo, new, check, backup, restore."""

from __future__ import annotations

import glob
import os
import secrets
import shutil
import sys
import time
import tomllib
from pathlib import Path
from typing import Annotated

import typer

from envwatch.cli.common import JsonOption, StudioOption, now, open_studio, progress, show
from envwatch.core.errors import BadInput

MAKING = ".making-"  # and a random end: a demo folder until it is whole


def sample_folder() -> Path:
    """The sample logs: packaged with envwatch, or beside it in a checkout."""
    import envwatch

    package = Path(envwatch.__file__).parent
    for folder in (package / "sample_logs", package.parent / "sample_logs"):
        if (folder / "studio.toml").is_file():
            return folder
    raise BadInput("the sample logs are not beside this installation. Run envwatch demo from a checkout")


def demo(
    folder: Annotated[Path, typer.Argument(help="Where to make it.")] = Path("envwatch-demo"),
    json: JsonOption = False,
) -> None:
    """Make a studio folder from the sample logs and show its first review. Starts no server."""
    from envwatch.archive import Studio
    from envwatch.cli.review import run_review

    if folder.exists() and any(folder.iterdir()):
        house = Studio.open(folder)  # says so in one line where it is something else
        if not json:
            print(f"{folder} is there already; reviewing it as it is.\n")
    else:
        house = make_demo(folder, quiet=json)
    run_review(house, now(), None, "a4", True, json)
    if not json:
        print(f"\nThe studio folder is {folder}. Try: envwatch painting WORDS --studio {folder}")


def make_demo(folder: Path, quiet: bool):
    """Build beside the folder, then put it in place: an interrupted demo leaves nothing that looks whole."""
    from envwatch.archive import Studio
    from envwatch.archive.store.building import must_be_elsewhere

    folder = folder.absolute()
    must_be_elsewhere(folder)
    samples = sample_folder()
    facts = tomllib.loads((samples / "studio.toml").read_text(encoding="utf-8"))
    for left in folder.parent.glob(f"{glob.escape(folder.name)}{MAKING}*"):
        print(f"{left}: was left by a demo that was cut short; delete it if you do not need it", file=sys.stderr)
    building = folder.with_name(folder.name + MAKING + secrets.token_hex(8))
    started = time.perf_counter()
    try:
        house = Studio.create(building, name=facts["name"], zone=facts["zone"], altitude_m=facts.get("altitude_m", 0.0),
                              register=_server())  # fmt: skip
        with house:
            house.import_register(samples / "register")
            with progress("adding the sample logs") as report:
                added = house.add([samples / "logs"], progress=report)
        seconds = time.perf_counter() - started
        if folder.exists():
            folder.rmdir()  # it is empty
        building.rename(folder)
    except BaseException:
        shutil.rmtree(building, ignore_errors=True)  # made here, under a name that was never there before
        raise
    if not quiet:
        print(f"{added.totals.files} files, {added.totals.readings:,} readings kept in {seconds:.1f} s.\n")
    return Studio.open(folder)


def new(
    folder: Annotated[Path, typer.Argument(help="The folder to make.", show_default=False)],
    name: Annotated[str, typer.Option(help="The studio's name; by default the folder's.")] = "",
    zone: Annotated[str, typer.Option(help="The studio's time zone, such as Europe/Berlin.")] = "",
    altitude: Annotated[float, typer.Option(help="Metres above the sea.")] = 0.0,
) -> None:
    """Make an empty studio folder."""
    from envwatch.archive import Studio

    house = Studio.create(folder, name=name or folder.resolve().name, zone=zone or _local_zone(), altitude_m=altitude,
                          register=_server())  # fmt: skip
    print(f"{folder}: an empty studio, clock {house.zone}. Next: envwatch add FOLDER --studio {folder}")


def _server() -> str:
    """The address of a database server for a new studio's register, where one is named; else it is in the folder."""
    from envwatch.archive.store.postgres import VARIABLE

    return os.environ.get(VARIABLE, "")


def _local_zone() -> str:
    """The computer's own named zone; asked for where the computer does not say."""
    from envwatch.core.errors import Question

    for source in (_zone_from_environment, _zone_from_link):
        zone = source()
        if zone:
            return zone
    raise Question("this computer does not name its time zone; the studio needs one.", "zone", ("Europe/Berlin", "…"))


def _zone_from_environment() -> str:
    zone = os.environ.get("TZ", "").lstrip(":")
    return zone if "/" in zone and not zone.startswith("/") else ""


def _zone_from_link() -> str:
    link = Path("/etc/localtime")
    parts = link.resolve().as_posix().split("zoneinfo/") if link.is_symlink() else []
    return parts[-1] if len(parts) == 2 and "/" in parts[-1] else ""


def check(
    rebuild: Annotated[bool, typer.Option("--rebuild", help="Read every original again and compare.")] = False,
    accept: Annotated[str, typer.Option(help="Why a register that something else changed is right as it stands; kept.",
                                        show_default=False)] = "",
    studio: StudioOption = Path(),
    json: JsonOption = False,
) -> None:  # fmt: skip
    """Is the archive whole, and does it rebuild to the same readings?"""
    from envwatch.present.terminal import checked

    house = open_studio(studio)
    if accept:
        house.accept(accept)
    with progress("checking") as report:
        result = house.check(rebuild=rebuild, progress=report)
    show(result, json, lambda: checked(result), house.names)
    if result.problems:
        raise typer.Exit(1)


def backup(
    target: Annotated[Path, typer.Argument(metavar="FILE", help="A new file, or a folder to put it in.",
                                           show_default=False)],
    studio: StudioOption = Path(),
    json: JsonOption = False,
) -> None:  # fmt: skip
    """Write the whole studio folder to one ZIP file, at any time; `restore` makes a folder from it."""
    from envwatch.present.terminal import backed_up

    house = open_studio(studio)
    with progress("backing up") as report:
        result = house.back_up(target, progress=report)
    show(result, json, lambda: backed_up(result), house.names)
    if result.problems:
        raise typer.Exit(1)


def restore(
    file: Annotated[Path, typer.Argument(help="A backup.", show_default=False)],
    folder: Annotated[Path, typer.Argument(help="The folder to make.", show_default=False)],
    json: JsonOption = False,
) -> None:
    """Make a studio folder from a backup, and check it."""
    from envwatch.archive import Studio
    from envwatch.archive.upkeep.backup import restore as put_back
    from envwatch.present.terminal import checked

    put_back(file, folder)
    house = Studio.open(folder)
    with progress("checking") as report:
        result = house.check(progress=report)
    show(result, json, lambda: f"{folder}: restored\n" + checked(result), house.names)
    if result.problems:
        raise typer.Exit(1)


def to_server(studio: StudioOption = Path(), json: JsonOption = False) -> None:
    """Move the register to the PostgreSQL database that ENVWATCH_REGISTER names; for a house of several machines."""
    from envwatch.archive.upkeep.to_server import to_server as move

    if not _server():
        raise BadInput("ENVWATCH_REGISTER is not set; it names the database, see envwatch/archive/MACHINES.md")
    house = open_studio(studio)
    counts = move(house, _server())
    show(
        counts,
        json,
        lambda: f"{sum(counts.values()):,} rows moved; {studio / 'studio.toml'} names the register now.\n",
        house.names,
    )


def add_commands(app: typer.Typer) -> None:
    """Hang the commands on the app."""
    for command in (demo, new, check, backup, restore):
        app.command()(command)
    app.command(hidden=True)(to_server)  # for whoever looks after the server, not for a studio
