"""Command for the pages: serve."""

from __future__ import annotations

import ipaddress
import logging
import threading
from pathlib import Path
from typing import Annotated

import typer

from envwatch.cli.common import StudioOption
from envwatch.core.errors import BadInput

HERE = "127.0.0.1"


def serve(
    port: Annotated[int, typer.Option(help="Port on this computer.", min=1, max=65535)] = 8050,
    share: Annotated[bool, typer.Option("--share", help="Let others in, with a passphrase.")] = False,
    passphrase_file: Annotated[Path | None, typer.Option(help="A file whose first line is the passphrase.")] = None,
    plain: Annotated[bool, typer.Option("--plain", help="Share without TLS, on all addresses.")] = False,
    name: Annotated[list[str] | None, typer.Option(help="Host name by which others reach this server.")] = None,
    proxy: Annotated[str, typer.Option(help="Address of the proxy with TLS; by default this computer.")] = "",
    studio: StudioOption = Path(),
) -> None:
    """Show the pages in the browser, on this computer alone unless told to share."""
    from dashboards import create_app
    from dashboards.server import PageServer

    door = door_of(share, passphrase_file, plain, tuple(name or ()), proxy)
    app = create_app(studio, door=door)
    everywhere = share and (plain or proxy not in ("", HERE))
    try:
        server = PageServer(app.server, "0.0.0.0" if everywhere else HERE, port, (proxy or HERE) if door.secure else "")
    except OSError as error:
        raise BadInput(f"--port {port}: cannot be used ({error.strerror or error}). Give another one") from None
    logging.getLogger("waitress.queue").setLevel(logging.ERROR)  # a busy minute is no news
    threading.Thread(target=app.server.config["HOUSE"].review, daemon=True).start()  # so that the first page is quick
    print(told(door, port, plain, proxy), flush=True)
    server.run()


def told(door, port: int, plain: bool, proxy: str = "") -> str:
    """Where the pages are, and what must be known about them."""
    here = f"The pages are at http://127.0.0.1:{port}. Stop with Ctrl+C."
    if not door.passphrase_hash:
        return here
    if plain:
        return f"{here}\nShared on all addresses, without TLS: whoever listens on the way can overhear the passphrase."
    if proxy not in ("", HERE):
        return (
            f"Stop with Ctrl+C.\nShared through the proxy with TLS at {proxy}, which alone is answered on port {port}."
        )
    return f"{here}\nShared through a proxy with TLS on this computer that passes on to this port."


def door_of(share: bool, passphrase_file: Path | None, plain: bool, names: tuple[str, ...], proxy: str = ""):
    """Who may come in.

    Raises
    ------
    BadInput : shared without a passphrase, or off this computer without TLS where that was not asked for.
    """
    from dashboards.guard import LOOPBACK, Door, hashed

    if not share:
        if passphrase_file or plain or names or proxy:
            raise BadInput("--passphrase-file, --plain, --name and --proxy go with --share")
        return Door()
    if passphrase_file is None:
        raise BadInput("--share needs --passphrase-file FILE, a file whose first line is the passphrase")
    if not names:
        raise BadInput("--share needs --name HOST, the name or address by which others reach this computer")
    if proxy and (plain or not _is_address(proxy)):
        raise BadInput(
            f"--proxy {proxy}: {'goes without --plain' if plain else 'expected an address such as 192.0.2.7'}"
        )
    return Door((*LOOPBACK, *(n.lower() for n in names)), hashed(_passphrase(passphrase_file)), secure=not plain)


def _is_address(text: str) -> bool:
    try:
        return ipaddress.ip_address(text).version == 4
    except ValueError:
        return False


def _passphrase(path: Path) -> str:
    try:
        first = (path.read_text(encoding="utf-8").splitlines() or [""])[0].strip()
    except (OSError, UnicodeDecodeError) as error:
        raise BadInput(f"{path}: cannot be read ({error})") from None
    if len(first) < 12:
        raise BadInput(f"{path}: a passphrase of at least 12 characters is asked for; take four or five words")
    return first


def add_commands(app: typer.Typer) -> None:
    """Hang the command on the app."""
    app.command()(serve)
