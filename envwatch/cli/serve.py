"""Command for the pages: serve."""

from __future__ import annotations

import logging
import threading
from pathlib import Path
from typing import Annotated

import typer

from envwatch.cli.common import StudioOption
from envwatch.core.errors import BadInput

THREADS = 8


def serve(
    port: Annotated[int, typer.Option(help="Port on this computer.", min=1, max=65535)] = 8050,
    share: Annotated[bool, typer.Option("--share", help="Let others in, with a passphrase.")] = False,
    passphrase_file: Annotated[Path | None, typer.Option(help="A file whose first line is the passphrase.")] = None,
    plain: Annotated[bool, typer.Option("--plain", help="Share without TLS, on all addresses.")] = False,
    name: Annotated[list[str] | None, typer.Option(help="Host name by which others reach this server.")] = None,
    studio: StudioOption = Path(),
) -> None:
    """Show the pages in the browser, on this computer alone unless told to share."""
    from waitress import create_server

    from dashboards import create_app

    door = door_of(share, passphrase_file, plain, tuple(name or ()))
    app = create_app(studio, door=door)
    address = "0.0.0.0" if share and plain else "127.0.0.1"
    # over TLS a proxy on this computer stands in front; only then are its words about the visitor believed
    proxy = {"trusted_proxy": "127.0.0.1", "trusted_proxy_headers": {"x-forwarded-for", "x-forwarded-proto"},
             "clear_untrusted_proxy_headers": True} if door.secure else {}  # fmt: skip
    most = app.server.config["MAX_CONTENT_LENGTH"]
    try:
        server = create_server(app.server, host=address, port=port, threads=THREADS, channel_timeout=120,
                               max_request_body_size=most, ident=None, **proxy)  # fmt: skip
    except OSError as error:
        raise BadInput(f"--port {port}: cannot be used ({error.strerror or error}). Give another one") from None
    logging.getLogger("waitress.queue").setLevel(logging.ERROR)  # a busy minute is no news
    threading.Thread(target=app.server.config["HOUSE"].review, daemon=True).start()  # so that the first page is quick
    print(told(door, port, plain), flush=True)
    server.run()


def told(door, port: int, plain: bool) -> str:
    """Where the pages are, and what must be known about them."""
    here = f"The pages are at http://127.0.0.1:{port}. Stop with Ctrl+C."
    if not door.passphrase_hash:
        return here
    if plain:
        return f"{here}\nShared on all addresses, without TLS: whoever listens on the way can overhear the passphrase."
    return f"{here}\nShared through a proxy with TLS on this computer that passes on to this port."


def door_of(share: bool, passphrase_file: Path | None, plain: bool, names: tuple[str, ...]):
    """Who may come in.

    Raises
    ------
    BadInput : shared without a passphrase, or off this computer without TLS where that was not asked for.
    """
    from dashboards.guard import LOOPBACK, Door, hashed

    if not share:
        if passphrase_file or plain or names:
            raise BadInput("--passphrase-file, --plain and --name go with --share")
        return Door()
    if passphrase_file is None:
        raise BadInput("--share needs --passphrase-file FILE, a file whose first line is the passphrase")
    if not names:
        raise BadInput("--share needs --name HOST, the name or address by which others reach this computer")
    return Door((*LOOPBACK, *(n.lower() for n in names)), hashed(_passphrase(passphrase_file)), secure=not plain)


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
