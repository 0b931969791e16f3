"""Kill a writing program at random moments and look at what is left.

    python -m tests.long.kills [--times 200] [--seed 1]

A child adds, undoes, edits the register, keeps reviews and sheets, without end, and says each thing on a pipe once it
is acknowledged. It is killed (SIGKILL; on Windows TerminateProcess) after a random time. Then, each time: what was
acknowledged is there, nothing is there twice, what was under way is there whole or not at all, and
`check --rebuild` finds nothing wrong but may say what it swept. The next child goes on with what is there.
"""

from __future__ import annotations

import argparse
import json
import random
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, field
from multiprocessing.connection import Connection
from pathlib import Path

import pandas as pd

from envwatch.archive import Studio, reviews
from tests.program import beside
from tests.test_archive import MONDAY, write_log

ROWS = 200
SPAN = pd.Timedelta(minutes=30) * ROWS
REGISTER = {
    "places.csv": "id,name,kind\nroom,The room,store\nloft,The loft,loft\n",
    "paintings.csv": "id,title\np1,First\np2,Second\n",
}


@dataclass
class Known:
    """What the child has acknowledged, and what it was at when it was killed."""

    files: dict[str, bool] = field(default_factory=dict)  # name -> kept (False: undone)
    signs: set[str] = field(default_factory=set)
    sheets: set[str] = field(default_factory=set)
    reviews: int = 0
    under_way: dict | None = None


def child(folder: Path, files: Path, start: int, seed: int, pipe: Connection) -> None:
    """Work until killed. Each step is told before it begins and once it is acknowledged."""
    dice, step = random.Random(seed), start

    def tell(**what: object) -> None:
        pipe.send_bytes(json.dumps(what).encode())

    with Studio.open(folder) as studio:
        tell(ready=True)
        while True:
            step += 1
            kind = dice.choices(["add", "undo", "observe", "review", "sheet", "move"], [6, 2, 3, 2, 2, 1])[0]
            facts = {"kind": kind, "step": step}
            if kind == "add":
                names = [f"log{step}x{n}.csv" for n in range(dice.choice([1, 1, 3]))]
                for n, name in enumerate(names):
                    start, rows = MONDAY + (step + n) * SPAN / 2, ROWS + n  # overlapping, no two files alike
                    write_log(files / name, start, rows, label="AB"[dice.random() < 0.5])
                facts["names"] = names
            tell(begin=facts)
            if kind == "add":
                studio.add([files / name for name in names])
            elif kind == "undo":
                facts["undone"] = _undo(studio)
            elif kind == "observe":
                studio.observe("p1", "2026-02-01", f"sign {step}")
            elif kind == "review":
                at = MONDAY + step * pd.Timedelta(days=7)
                reviews.keep_review(
                    studio, at, at + pd.Timedelta(days=7), {"findings": [], "step": step}, {"limit": 65}, at
                )
            elif kind == "sheet":
                reviews.keep_sheet(studio, f"sheet{step}.pdf", f"%PDF {step}".encode() * 2000)
            elif kind == "move":
                studio.move("p2", dice.choice(["room", "loft"]), MONDAY + step * pd.Timedelta(days=1))
            tell(end=facts)


def _undo(studio: Studio) -> list[str]:
    from envwatch.core.errors import BadInput

    try:
        return list(studio.undo().files)
    except BadInput:  # nothing to undo
        return []


def run(times: int, seed: int, folder: Path) -> Counter:
    """Kill so often, and more often until a file was added; what happened, counted.

    Raises
    ------
    AssertionError : something was lost, doubled or half.
    """
    dice, known, counted = random.Random(seed), Known(), Counter()
    studio, files, register = folder / "studio", folder / "files", folder / "register"
    files.mkdir(), register.mkdir()
    for name, text in REGISTER.items():
        (register / name).write_text(text, encoding="utf-8")
    with Studio.create(studio, name="Killed", zone="UTC") as made:
        made.import_register(register)
    step = time_no = 0
    while time_no < times or (time_no < 4 * times and not counted["acknowledged: add"]):
        time_no += 1
        step = _one_life(studio, files, step, dice, known, counted)
        counted["kills"] += 1
        counted["kills between steps" if known.under_way is None else f"kills in {known.under_way['kind']}"] += 1
        _look(studio, known, counted)
        if sys.stderr.isatty():
            print(f"\r{time_no} of {times}", end="", file=sys.stderr)
    return counted


def _one_life(studio: Path, files: Path, step: int, dice: random.Random, known: Known, counted: Counter) -> int:
    begun = time.perf_counter()
    told, pipe = beside().Pipe(duplex=False)
    process = beside().Process(target=child, args=(studio, files, step, dice.randrange(10**9), pipe))
    process.start()
    pipe.close()
    assert json.loads(told.recv_bytes()) == {"ready": True}
    time.sleep(dice.uniform(0.0, 0.4) * max(time.perf_counter() - begun, 1.0))  # a busy machine is slower in its work
    process.kill()
    known.under_way = None
    for said in _told(told):
        facts = said.get("begin") or said["end"]
        step = max(step, facts["step"])
        known.under_way = facts if "begin" in said else None
        if "end" in said:
            counted[f"acknowledged: {facts['kind']}"] += 1
            _acknowledge(known, facts)
    return step + 5


def _told(pipe: Connection) -> Iterator[dict]:
    """What came whole down a pipe until its other end was gone."""
    with suppress(EOFError, OSError):
        while True:
            yield json.loads(pipe.recv_bytes())


def _acknowledge(known: Known, facts: dict) -> None:
    kind = facts["kind"]
    if kind == "add":
        known.files |= dict.fromkeys(facts["names"], True)
    elif kind == "undo":
        known.files |= dict.fromkeys(facts["undone"], False)
    elif kind == "observe":
        known.signs.add(f"sign {facts['step']}")
    elif kind == "sheet":
        known.sheets.add(f"sheet{facts['step']}.pdf")
    elif kind == "review":
        known.reviews += 1


def _look(folder: Path, known: Known, counted: Counter) -> None:
    """All that was acknowledged is there once; what was under way is there whole or not at all."""
    at = known.under_way or {"kind": "nothing"}
    with Studio.open(folder) as studio:
        report = studio.check(rebuild=True)
        assert (report.problems, report.strays) == ((), ()), report
        counted["checks that swept something"] += bool(report.swept)
        counted["checks that repaired something"] += bool(report.repaired)

        kept = _kept_files(studio)
        assert max(Counter(kept).values(), default=1) == 1, "a file is kept twice"
        there, due = set(kept), {name for name, is_kept in known.files.items() if is_kept}
        undone = {name for name, is_kept in known.files.items() if not is_kept}
        missing, extra = due - there, there - due - undone
        if at["kind"] == "undo" and missing:  # the whole add or none of it
            counted["undone, unacknowledged"] += 1
            known.files |= dict.fromkeys(missing, False)
        else:
            assert not missing, f"acknowledged files are gone: {missing}"
        assert not there & undone, f"undone files came back: {there & undone}"
        assert extra <= set(at.get("names", ())), f"files that nobody added: {extra}"
        if extra:
            counted["added, unacknowledged"] += 1
            known.files |= dict.fromkeys(extra, True)

        times = [series.time for logger in studio.state().parts for series in _series(studio, logger)]
        assert all((time[1:] > time[:-1]).all() for time in times), "a reading stands twice"
        counted["readings at the end"] = sum(map(len, times))

        signs = Counter(o.sign for painting in studio.paintings().values() for o in painting.observations)
        _there_once(signs, known.signs, f"sign {at.get('step')}" if at["kind"] == "observe" else None)
        sheets = Counter(path.name for path in (folder / "sheets").iterdir())
        _there_once(sheets, known.sheets, f"sheet{at.get('step')}.pdf" if at["kind"] == "sheet" else None)
        for path in (folder / "sheets").iterdir():
            assert path.stat().st_size >= 10_000, f"half a sheet: {path.name}"
        kept = len(reviews.reviews(studio))
        assert kept - known.reviews in ((0, 1) if at["kind"] == "review" else (0,)), "a review was lost or doubled"
        known.reviews = kept


def _there_once(found: Counter, due: set[str], perhaps: str | None) -> None:
    assert set(found) - {perhaps} == due - {perhaps}, set(found) ^ due
    assert all(count == 1 for count in found.values()), "something stands twice"
    due |= set(found)


def _kept_files(studio: Studio) -> list[str]:
    from sqlalchemy import select

    from envwatch.archive.store.tables import FILES

    with studio.reading() as connection:
        return list(connection.execute(select(FILES.c.name)).scalars())


def _series(studio: Studio, logger: str) -> list:
    return list(studio.reader.series(studio.state().parts[logger]).values())


def main() -> None:
    """Run it from the command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--times", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    said = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        for what, count in sorted(run(said.times, said.seed, Path(folder)).items()):
            print(f"{what:40} {count:8,}")


if __name__ == "__main__":
    main()
