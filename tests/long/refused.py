"""Each write of each command fails in turn, as on a disk that is full or gives up; what is said then is true.

    python -m tests.long.refused [--every 12] [--seed 1] [--only observe,undo]

A few lines of C, loaded before the C library, make the Nth call fail that changes something in the studio folder: a
write (no room), a sync (input and output), a rename (no permission). That once, or from then on. A command that says
it is done has done all of it; one that refuses, in one line, has changed nothing; `check` finds the folder whole and
nothing of somebody else's in it. Linux, with a C compiler.

Of each command every twelfth such call fails, from one drawn by `--seed`; `--every 1` fails each.
"""

from __future__ import annotations

import argparse
import ctypes
import json
import os
import random
import shutil
import subprocess
import sys
import tempfile
from collections import Counter
from pathlib import Path
from typing import Any

from sqlalchemy import select

from envwatch.archive import Studio
from envwatch.archive.store.tables import ACCEPTED, META, PARTS, ROW_SUMS
from tests.test_archive import readings, write_log

CLOCK = {
    "made_at",
    "added_at",
    "first_at",
    "asked_at",
    "raised_on",
    "on",
    "closed_on",
    "superseded_at",
    "sha256",
    "due",
}
COMMANDS: tuple[tuple[str, ...], ...] = (
    ("add", "LOG"), ("add", "ASKED"), ("undo",), ("observe", "First", "a ripple", "--on", "2026-01-06"),
    ("move", "Second", "loft", "--on", "2026-02-01"), ("enter", "place", "id=cellar", "name=Cellar"),
    ("treat", "First", "consolidation", "--material", "mc", "--on", "2026-02-01"), ("import", "REGISTER"),
    ("hung", "b", "loft", "--on", "2026-01-01"), ("review", "--week", "2026-W02"),
    ("dossier", "First", "--from", "2026-01-05", "--to", "2026-01-06"), ("limits", "--adopt", "ours"),
    ("part", "a1.csv"), ("reread", "--apply"), ("call", "First", "--sign", "leak"), ("cause", "1", "a broken pipe"),
    ("done", "1", "looked"), ("putoff", "1", "--reason", "later", "--until", "2027-01-01"),
)  # fmt: skip


def made(base: Path) -> Path:
    """A studio with loggers, a task and a file that waits."""
    register = base / "register"
    register.mkdir()
    (register / "places.csv").write_text("id,name,kind\nroom,The room,store\nloft,The loft,loft\n", encoding="utf-8")
    (register / "paintings.csv").write_text("id,title\np1,First\np2,Second\n", encoding="utf-8")
    (register / "stays.csv").write_text("painting,place,from\np1,room,2025-01-01\np2,room,2025-01-01\n")
    layers = ["painting,order,role,material", "p1,1,canvas,linen", "p1,2,size,animal_glue", "p1,3,ground,unknown"]
    (register / "layers.csv").write_text("\n".join(layers) + "\n", encoding="utf-8")
    with Studio.create(base / "studio", name="Tried", zone="UTC") as studio:
        studio.import_register(register)
        studio.add(
            [write_log(base / "a1.csv", label="A", rows=7 * 48, rh_percent=88.0), write_log(base / "b1.csv", label="B")]
        )
        studio.set_hanging("a", "room", "2025-01-01")
    write_log(base / "LOG", start="2026-01-20", label="A")
    (base / "ASKED").write_text("time;temp;rh\n" + "".join(f"0{d}.0{d}.2026 10:00;18,{d};55\n" for d in range(1, 9)))
    (base / "more").mkdir()
    (base / "more" / "loggers.csv").write_text("id,name,labels\nmine,Mine,B\n", encoding="utf-8")
    return base / "studio"


def held(folder: Path) -> dict[str, Any]:
    """All that a person would miss, without the clock's own."""
    with Studio.open(folder) as studio, studio.reading() as connection:
        tables = [t for t in META.sorted_tables if t not in (ROW_SUMS, ACCEPTED, PARTS)]
        out: dict[str, Any] = {
            t.name: [
                {n: v for n, v in row.items() if n not in CLOCK} for row in connection.execute(select(t)).mappings()
            ]
            for t in tables
        }
        out["readings"] = {logger: readings(studio, logger) for logger in studio.loggers()}
    out["findings"] = [row | {"record": ""} for row in out["findings"] if row["review"] is not None]
    for review in out["reviews"]:
        review["record"] = len(json.loads(review["record"])["findings"])
    for table in ("tray", "batches"):
        for row in out[table]:
            row.pop("answers", None), row.pop("before", None), row.pop("id", None), row.pop("number", None)
    for row in out["files"]:
        row.pop("answers"), row.pop("batch")
    out["facts"] = (folder / "studio.toml").read_text(encoding="utf-8").splitlines()[:4]
    out["sheets"] = sorted(path.name for path in (folder / "sheets").glob("*.pdf"))
    return out


def shim(base: Path) -> Path:
    """The lines of C, compiled."""
    built = base / "failing_calls.so"
    source = Path(__file__).with_name("failing_calls.c")
    subprocess.run(["cc", "-shared", "-fPIC", "-O1", "-o", built, source, "-ldl"], check=True)
    return built


def run(every: int, seed: int, only: str = "") -> Counter:
    """Each command with each call failing, or each `every`th, in a process that has the lines of C first."""
    with tempfile.TemporaryDirectory() as base:
        env = os.environ | {"LD_PRELOAD": str(shim(Path(base)))}
        words = [sys.executable, "-m", "tests.long.refused", "--under", base, "--every", str(every), "--seed",
                 str(seed), "--only", only]  # fmt: skip
        done = subprocess.run(words, env=env, stdout=subprocess.PIPE, text=True, check=False)
    assert done.returncode == 0, "see above"
    return Counter(json.loads(done.stdout.splitlines()[-1]))


def _under(base: Path, every: int, seed: int, only: str) -> Counter:
    studio, counted, dice = made(base), Counter(), random.Random(seed)
    with_task, wrong = base / "with_task", []
    if not only or {"cause", "done", "putoff"} & {*only.split(",")}:
        _forked(base, studio, ("review", "--week", "2026-W02"), 0, 0)
        shutil.copytree(base / "trial", with_task)
    for command in [one for one in COMMANDS if not only or one[0] in only.split(",")]:
        whole = with_task if command[0] in ("cause", "done", "putoff") else studio
        before = held(whole)
        code, said, calls = _forked(base, whole, command, 0, 0)
        assert code == 0, (command, said)
        done = held(base / "trial")
        for nth in range(1 + dice.randrange(every), calls + 1, every):
            for lasting in (0, 1):
                try:
                    outcome = _one(base, whole, command, nth, lasting, before, done)
                except AssertionError as error:
                    wrong.append(str(error))
                    print(error, file=sys.stderr, flush=True)
                else:
                    counted[f"{command[0]}: {outcome}"] += 1
    assert not wrong, f"{len(wrong)} told what is not so:\n" + "\n".join(wrong)
    return counted


def _one(base: Path, whole: Path, command: tuple[str, ...], nth: int, lasting: int, before: dict, done: dict) -> str:
    code, said, _ = _forked(base, whole, command, nth, lasting)
    where = f"{command}, call {nth}{' and on' * lasting}: exit {code}, {said}"
    assert code in (0, 1, 2, 5) and "fault in envwatch itself" not in said, where
    with Studio.open(base / "trial") as studio:
        report = studio.check(rebuild=True)
    assert report.problems == () and report.strays == (), f"{where}\n{report}"
    after = held(base / "trial")
    if "is not known" in said:  # and it is not
        assert after in (before, done), where
        return "said not to be known"
    if kept := "review itself is kept" in said:
        after["sheets"] = done["sheets"]
    due = done if code == 0 or kept else before
    wrong = {name for name in due if after[name] != due[name]}
    assert not wrong, f"{where}\n{_shown(after, due, wrong)}"
    return "done" if code == 0 else "refused"


def _shown(after: dict, due: dict, names: set[str]) -> str:
    return "\n".join(f"{name}:\n  is  {str(after[name])[:150]}\n  due {str(due[name])[:150]}" for name in names)


def _forked(base: Path, whole: Path, command: tuple[str, ...], nth: int, lasting: int) -> tuple[int, str, int]:
    """A command on a copy of a folder in a process of its own: exit code, what it said on stderr, calls counted."""
    trial = base / "trial"
    shutil.rmtree(trial, ignore_errors=True)
    shutil.copytree(whole, trial)
    words = {"LOG": str(base / "LOG"), "ASKED": str(base / "ASKED"), "REGISTER": str(base / "more")}
    reading, writing = os.pipe()
    if (child := os.fork()) == 0:
        os.close(reading)
        from tests.program import run as program

        library = ctypes.CDLL(None)
        library.failing_calls_arm(str(trial).encode(), nth, lasting)
        done = program(*(words.get(word, word) for word in command), "--studio", trial)
        told = done.returncode, done.stderr, library.failing_calls_count()
        library.failing_calls_arm(b"/nowhere/", 0, 0)
        os.write(writing, json.dumps(told).encode())
        os._exit(0)
    os.close(writing)
    with os.fdopen(reading, "rb") as file:
        said = file.read()
    os.waitpid(child, 0)
    assert said, (command, nth)
    code, error, calls = json.loads(said)
    return code, error, calls


def main() -> None:
    """Run it from the command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--every", type=int, default=12)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", default="")
    parser.add_argument("--under", type=Path)
    said = parser.parse_args()
    if said.under is not None:
        print(json.dumps(_under(said.under, said.every, said.seed, said.only)))
        return
    for what, count in sorted(run(said.every, said.seed, said.only).items()):
        print(f"{what:40} {count:8,}")


if __name__ == "__main__":
    main()
