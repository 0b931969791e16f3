"""The command line: read arguments, call one function, print. Heavy imports stay inside the commands."""

from __future__ import annotations

import os
import sys

import typer

from envwatch.cli import (
    away,
    dehumidifier,
    files,
    hanging,
    limits,
    lining,
    marks,
    painting,
    places,
    register,
    review,
    serve,
    studio,
)
from envwatch.cli.common import in_options
from envwatch.core.errors import EnvwatchError

app = typer.Typer(
    name="envwatch",
    help="Environmental monitoring and risk for stored and relined canvas paintings.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)
for family in (
    studio,
    files,
    marks,
    review,
    painting,
    places,
    hanging,
    limits,
    lining,
    away,
    dehumidifier,
    register,
    serve,
):
    family.add_commands(app)
for command in app.registered_commands:
    assert command.callback is not None
    command.short_help = (command.callback.__doc__ or "").strip().splitlines()[0]  # whole, not cut after some words
    command.callback = in_options(command.callback)


def main() -> None:
    """Run the command line; a refusal is one line on stderr and an exit code, never a traceback."""
    _speak_utf8()
    try:
        app()
    except EnvwatchError as error:
        _leave(str(error), error.exit_code)
    except BrokenPipeError:  # the reader of our output went away: not our affair
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    except PermissionError as error:
        _leave(f"{error.filename}: no permission. Check who owns it and whether another program holds it open", 5)
    except OSError as error:
        _leave(f"{error.filename or 'disk'}: {error.strerror or error}. Nothing was kept half", 5)
    except Exception as error:  # a fault of ours: said in one line, whole only for who asks
        if os.environ.get("ENVWATCH_DEBUG"):
            raise
        _leave(f"a fault in envwatch itself ({type(error).__name__}: {error}). ENVWATCH_DEBUG=1 shows where", 70)
    except KeyboardInterrupt:
        _leave("stopped by you; what was reported as kept is kept", 130)


def _leave(message: str, code: int) -> None:
    for line in message.splitlines() or [""]:
        print(f"envwatch: {line}", file=sys.stderr)
    raise SystemExit(code)


def _speak_utf8() -> None:
    """Pipes get UTF-8 everywhere; a terminal that cannot show a character gets a question mark."""
    for stream in (sys.stdout, sys.stderr):
        if not hasattr(stream, "reconfigure"):
            continue
        if stream.isatty():
            stream.reconfigure(errors="replace")
        else:
            stream.reconfigure(encoding="utf-8", errors="replace")
