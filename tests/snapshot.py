"""What the sample studio prints, kept to compare with: commands, their JSON, sheets as text, pages as text.

    python -m tests.snapshot keep FILE        # before a change that is to change nothing
    python -m tests.snapshot compare FILE     # after it: names what differs; texts exactly, numbers to 1e-6

Three processes under a clock that stands still (Debian's faketime) share the work, each in a copy of a demo studio made
anew. Outside the gate: it wants a minute and a half of a processor, so about a minute of two.
"""

from __future__ import annotations

import argparse
import contextlib
import json
import math
import os
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from difflib import unified_diff
from multiprocessing import get_context
from pathlib import Path

import pandas as pd

from tests import program

ROOT = Path(__file__).parent.parent
NOW = pd.Timestamp("2026-11-02T11:00Z")
TOLERANCE = 1e-6  # relative, and absolute near nought
WEEKS = ("2026-W44", "2026-W43", "2026-W42", "2026-W33", "2026-W28", "2026-W25", "2025-W47")
FINDINGS = range(1, 18)
PAGES = ("/", "/paintings", "/files", "/places", "/drying", "/hang", "/around")


def run(folder: Path, *words: str) -> str:
    """What a command prints, with its exit code where that is not 0; the folder's own path is left out."""
    with contextlib.chdir(folder):
        done = program.run(*words)
    printed = done.stdout + done.stderr + (f"exit {done.returncode}\n" if done.returncode else "")
    return printed.replace(str(folder), "FOLDER")


def commands(paintings: list[str], places: list[str]) -> Iterator[tuple[str, ...]]:
    """Every command that prints a result, as text and as JSON where it has both."""
    for week in WEEKS:
        yield "review", "--week", week, "--as-of", "2026-11-02", "--no-keep"
    for painting in paintings:
        yield "painting", painting
        yield "dossier", painting
        yield "lining", painting
        yield "call", painting, "--sign", "bubble"
    for place in places:
        yield "place", place
    for number in FINDINGS:
        yield "why", str(number)
    sample = ROOT / "sample_logs" / "positions.toml"
    yield "hang", "25-16", "--positions", str(sample), "--on", "2026-12-01"
    yield "lining", "26-11", "--to", "store"
    yield "lining", "26-11", "--leave", "2026-11-20"
    yield "dehumidifier", "store", "--draws", "40"
    yield "away", "--from", "2026-12-20", "--until", "2027-01-03"
    yield from ((word,) for word in ("marks", "tray", "check"))


def outputs(folder: Path) -> Iterator[tuple[str, object]]:
    """Name and content of all that the studio in a folder gives: three kinds side by side, each from a copy of it."""
    kinds = (texts, results, the_rest)
    copies = [shutil.copytree(folder, folder.parent / kind.__name__) for kind in kinds]
    with ProcessPoolExecutor(len(kinds), get_context("spawn")) as side_by_side:
        for given in [side_by_side.submit(_list, *each) for each in zip(kinds, copies, strict=True)]:
            yield from given.result()


def _list(kind: Callable[[Path], Iterator], folder: Path) -> list[tuple[str, object]]:
    return list(kind(folder))


def registered(folder: Path) -> tuple[list[str], list[str]]:
    """Paintings and places."""
    from envwatch.archive import Studio

    with Studio.open(folder) as studio:
        return sorted(studio.paintings()), sorted(studio.places())


def texts(folder: Path) -> Iterator[tuple[str, object]]:
    """What the commands print, and the sheets they leave."""
    for words in commands(*registered(folder)):
        yield " ".join(words).replace(str(ROOT), "ROOT"), run(folder, *words)
    yield from ((path.name, pdf_text(path)) for path in sorted((folder / "sheets").glob("*.pdf")))


def results(folder: Path) -> Iterator[tuple[str, object]]:
    """The same as JSON."""
    for words in commands(*registered(folder)):
        printed = run(folder, *words, "--json")
        name = " ".join((*words, "--json")).replace(str(ROOT), "ROOT")
        yield name, json.loads(printed) if printed.startswith(("{", "[")) else printed


def the_rest(folder: Path) -> Iterator[tuple[str, object]]:
    """Files read, the register and the pages."""
    for path in sorted((ROOT / "sample_logs" / "logs").glob("*")):
        if re.search(r"(?<!\d)1?\)?\.\w+$", path.name):  # one file of each logger is enough
            yield f"read {path.name}", run(folder, "read", str(path), "--zone", "Europe/Berlin")
    run(folder, "export", "csv")
    yield from ((path.name, path.read_text(encoding="utf-8")) for path in sorted((folder / "csv").glob("*.csv")))
    yield from pages(folder, *registered(folder))


def pdf_text(path: Path) -> str:
    """The words of a printed sheet."""
    from pypdf import PdfReader

    return "\n".join(page.extract_text() for page in PdfReader(path).pages)


def pages(folder: Path, paintings: list[str], places: list[str]) -> Iterator[tuple[str, str]]:
    """The words of every page, as its server makes it."""
    from dashboards import app as shown
    from dashboards import create_app
    from tests.test_dashboards import text_of

    app = create_app(folder, now=lambda: NOW)
    paths = (*PAGES, *(f"/painting/{id}" for id in paintings), *(f"/places?place={id}" for id in places))
    with app.server.test_request_context("/"):
        for path in (*paths, *(f"/why/{number}" for number in FINDINGS)):
            address, _, search = path.partition("?")
            yield f"page {path}", text_of(shown.show(address, search)[0])
    app.server.config["HOUSE"].close()


def alike(one: object, other: object) -> bool:
    """Whether two results say the same: numbers within the tolerance, all else exactly."""
    if isinstance(one, dict) and isinstance(other, dict):
        return one.keys() == other.keys() and all(alike(one[key], other[key]) for key in one)
    if isinstance(one, list) and isinstance(other, list):
        return len(one) == len(other) and all(map(alike, one, other))
    if isinstance(one, float) and isinstance(other, int | float):
        return math.isclose(one, other, rel_tol=TOLERANCE, abs_tol=TOLERANCE)
    return one == other


def lines(result: object) -> list[str]:
    text = result if isinstance(result, str) else json.dumps(result, indent=1, ensure_ascii=False, sort_keys=True)
    return text.splitlines()


def at_one_moment() -> int:
    """This command again, under a clock that stands still."""
    command = ["faketime", "-f", f"{NOW:%Y-%m-%d %H:%M:%S}", sys.executable, "-m", "tests.snapshot", *sys.argv[1:]]
    there = {"TZ": "UTC", "PYTHONPATH": str(ROOT), "COLUMNS": "80", "FAKETIME_DONT_FAKE_MONOTONIC": "1"}
    return subprocess.run(command, env=os.environ | there, check=False).returncode


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("what", choices=("keep", "compare"))
    parser.add_argument("file", type=Path)
    asked = parser.parse_args()
    if "FAKETIME" not in os.environ:
        return at_one_moment()
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch) / "studio"
        run(Path(scratch), "demo", str(folder))
        given = dict(outputs(folder))
    if asked.what == "keep":
        asked.file.write_text(json.dumps(given, ensure_ascii=False), encoding="utf-8")
        print(f"{len(given)} outputs kept")
        return 0
    kept = json.loads(asked.file.read_text(encoding="utf-8"))
    differ = [name for name in {**kept, **given} if not alike(kept.get(name), given.get(name))]
    for name in differ:
        print(f"--- {name}")
        print("\n".join(list(unified_diff(lines(kept.get(name)), lines(given.get(name)), lineterm="", n=0))[:12]))
    print(f"{len(kept)} outputs kept, {len(differ)} differ")
    return bool(differ)


if __name__ == "__main__":
    sys.exit(main())
