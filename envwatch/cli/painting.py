"""The command for one painting on paper, and the bundle for a dispute."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from envwatch.cli.common import JsonOption, PaperOption, StudioOption, now, open_studio, show
from envwatch.core.errors import BadInput


def dossier(
    words: Annotated[list[str], typer.Argument(help="Words of its title, its owner, or its number.")],
    first: Annotated[str | None, typer.Option("--from", help="First day; by default its last treatment.")] = None,
    last: Annotated[str | None, typer.Option("--to", help="Last day, included; by default the last one read.")] = None,
    owner: Annotated[bool, typer.Option("--owner", help="With this painting's owner and house by name.")] = False,
    bundle: Annotated[Path | None, typer.Option(help="Also the evidence as one ZIP file.", show_default=False)] = None,
    paper: PaperOption = "a4",
    studio: StudioOption = Path(),
    json: JsonOption = False,
) -> None:
    """One painting on paper: treatment, its climate to the handover, assessment, sources; and the evidence."""
    from envwatch.archive import reviews
    from envwatch.archive.upkeep.bundle import write_bundle
    from envwatch.cases.painting import handover
    from envwatch.core.text import several
    from envwatch.present.paper.dossier import content
    from envwatch.present.paper.dossier import dossier as printed

    if bundle is not None and bundle.suffix.lower() != ".zip":
        raise BadInput(f"--bundle {bundle}: the bundle is a ZIP file; give it a name that ends in .zip")
    house = open_studio(studio)
    result = handover.of(house, " ".join(words), now(), first, last, owner)
    told = [result.period.days, *result.withheld]
    problems: tuple[str, ...] = ()
    if not json or bundle is not None:
        sheet = printed(result, paper)
    if not json:
        kept = reviews.keep_sheet(house, f"dossier-{result.painting.id}-{paper}.pdf", sheet)
        told.append(f"Printed sheet: {kept}")
    if bundle is not None:
        papers = {"dossier.pdf": sheet, **handover.papers(house, result)}
        held = write_bundle(house, bundle, papers, result.files, now(), result.names)
        problems = held.problems
        originals = sum(name.startswith("originals/") for name in held)
        told.append(f"Bundle: {bundle}, {len(held)} files, {originals} of them originals")
        if left := len(result.files) - originals - len(problems):
            told.append(
                f"{several(left, 'original')} left out, for a name stands in it: see SHA256SUMS.txt in the bundle"
            )
    if result.basis is not None:
        told.append(f"Rests on: SHA-256 {result.basis.sha256}")
    without_drawings = {key: value for key, value in content(result).items() if key not in ("panels", "moves")}
    show(without_drawings, json, lambda: "\n".join([f"{result.painting.title}: {told[0]}", *told[1:], ""]),
         lambda: result.names)  # fmt: skip
    for problem in problems:
        print(f"! {problem}; it is not in the bundle", file=sys.stderr)
    if problems:
        raise typer.Exit(1)


def add_commands(app: typer.Typer) -> None:
    """Hang the command on the app."""
    app.command()(dossier)
