"""What the commands share: the studio option, the clock, progress, and how results are printed."""

from __future__ import annotations

import json
import re
import shutil
import sys
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from functools import wraps
from inspect import Parameter, signature
from math import isfinite
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from envwatch.cases.fields import FILE, FLAG, NUMBER, WHOLE, Input
from envwatch.core.errors import BadInput, EnvwatchError, named
from envwatch.core.fields import escaped

if TYPE_CHECKING:
    from envwatch.archive.register.redaction import Names

UNSEEN = re.compile("[\x7f-\x9f\u061c\u200e\u200f\u2028\u2029\u202a-\u202e\u2066-\u2069]")  # what JSON leaves as it is
StudioOption = Annotated[
    Path, typer.Option("--studio", help="The studio folder; by default the current folder.", show_default=False)
]
JsonOption = Annotated[bool, typer.Option("--json", help="Print the result as JSON.")]


def _paper(given: str) -> str:
    """Refused before any work is done."""
    if given not in ("a4", "letter"):
        raise BadInput(f"--paper {given}: expected a4 or letter")
    return given


PaperOption = Annotated[str, typer.Option(help="Paper of the printed sheet: a4 or letter.", callback=_paper)]


def option(field: str) -> str:
    """What an input is called here.

    >>> option("air_change")
    '--air-change'
    """
    return f"--{field.replace('_', '-')}"


def takes(inputs: Iterable[Input], last: Iterable[Input] = ()) -> Callable[[Callable[..., None]], Callable[..., None]]:
    """The command with an option for each input of a table that has one, as `**given`; `last`: after its own."""

    def outer(command: Callable[..., None]) -> Callable[..., None]:
        whole = signature(command, eval_str=True)
        *own, _given = whole.parameters.values()
        needed, at = sum(one.default is one.empty for one in own), [one.name for one in own].index("studio")
        parameters = [*own[:needed], *_parameters(inputs), *own[needed:at], *_parameters(last), *own[at:]]
        command.__signature__ = whole.replace(parameters=parameters)  # type: ignore[attr-defined]
        return command

    return outer


def _parameters(inputs: Iterable[Input]) -> Iterator[Parameter]:
    for one in inputs:
        kind: Any = {NUMBER: float, WHOLE: int, FILE: Path, FLAG: bool}.get(one.kind, str)
        kind = list[kind] if one.many else kind
        kind = kind if one.default is not None else kind | None
        kind = Annotated[kind, typer.Option(option(one.name), help=named(one.help, option))]
        if one.help:
            yield Parameter(one.name, Parameter.POSITIONAL_OR_KEYWORD, default=one.default, annotation=kind)


def in_options(command: Callable[..., None]) -> Callable[..., None]:
    """The command; what it refuses names its options, first of all one that is no number that one can measure."""

    @wraps(command)
    def called(**given: Any) -> None:
        try:
            _finite(given)
            command(**given)
        except EnvwatchError as error:
            error.naming = option
            raise

    return called


def _finite(given: dict[str, Any]) -> None:
    """Every limit lets nan and inf pass."""
    for name, value in given.items():
        for one in value if isinstance(value, list) else (value,):
            if isinstance(one, float) and not isfinite(one):
                raise BadInput("not a figure; give a number, or leave the option out", field=name, seen=one)


def open_studio(folder: Path):
    """The studio in a folder; the folder given, or the current one."""
    from envwatch.archive import Studio

    return Studio.open(folder)


def now():
    """The clock, UTC. The only place that reads it, but for the pages."""
    import pandas as pd

    return pd.Timestamp.now(tz="UTC").floor("s")


def width() -> int:
    """Columns to print for: the terminal's, between 72 and 110; 80 where there is none."""
    return min(max(shutil.get_terminal_size((80, 24)).columns, 72), 110) if sys.stdout.isatty() else 80


def show(result: Any, as_json: bool, text: Callable[[], str], names: Callable[[], Names]) -> None:
    """Print a result as JSON, without those of `names`, or as text."""
    if as_json:
        from envwatch.present.plain import plain

        said = dumped(plain(names().within(result)))
    else:
        said = escaped(text(), lines=True)
    print(named(said, option), end="")


def dumped(value: Any) -> str:
    r"""A value as JSON, in which what is not seen stands as its code: the same value for who reads it.

    >>> print(dumped("pears\u202e"), end="")
    "pears\u202e"
    """
    said = json.dumps(value, ensure_ascii=False, indent=2, allow_nan=False) + "\n"
    return UNSEEN.sub(lambda found: f"\\u{ord(found[0]):04x}", said)


@contextmanager
def progress(title: str) -> Iterator[Callable[[int, int, str], None] | None]:
    """A progress bar on a terminal; silent elsewhere. Yields what long work calls with (done, of, what)."""
    if not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn

    columns = (TextColumn(title), BarColumn(), TextColumn("{task.completed}/{task.total} {task.fields[what]}"))
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(title, total=1, what="")

        def report(done: int, of: int, what: str) -> None:
            bar.update(task, completed=done, total=of, what=what[:40])

        yield report
