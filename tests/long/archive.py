"""A small model of the archive, run beside it through random commands, damage, copies and restores.

    python -m tests.long.archive [--steps 50000] [--seed 1] [--processes 2]

The model knows what was acknowledged: files, looks, stays, kept reviews, sheets; and the backups with what was known
then. After each step the archive holds just that, and whatever was harmed is named by `check`, and nothing else. What
comes out is searched for the owner's name where it may not stand: in CSV, in each member of a ZIP, in a PDF's text.
"""

from __future__ import annotations

import argparse
import atexit
import copy
import functools
import io
import multiprocessing
import random
import shutil
import sqlite3
import sys
import tempfile
import time
import traceback
import zipfile
from collections import Counter
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pandas as pd
from hypothesis import HealthCheck, Phase, seed, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)
from pypdf import PdfReader
from sqlalchemy import select

from envwatch.archive import Studio, reviews
from envwatch.archive.store import schema
from envwatch.archive.store.tables import FILES
from envwatch.archive.upkeep.backup import restore
from envwatch.core.errors import BadInput
from tests.program import run
from tests.test_archive import MONDAY, write_log

DAY = pd.Timedelta(days=1)
MEMORY = Path("/dev/shm")  # where there is one, a disk of memory
AT_ONCE, IN_ONE = 50, 5000  # steps in one studio; steps by one seed
OWNER = "Quexlinde"
REGISTER = {
    "places.csv": "id,name,kind\nroom,The room,store\nloft,The loft,loft\n",
    "paintings.csv": f"id,title,owner\np1,First,Zworla {OWNER}\np2,Second,\n",
    "stays.csv": f"painting,place,from,purpose\np1,room,2025-01-01,for Frau {OWNER}\n",
}
COUNTED: Counter[str] = Counter()


def step(**given: st.SearchStrategy) -> Callable:
    """A rule of the model, counted by its name."""

    def counting(does: Callable[..., None]) -> Callable:
        @functools.wraps(does)
        def once(self: Archive, **drawn: object) -> None:
            COUNTED[does.__name__] += 1
            does(self, **drawn)

        return rule(**given)(once)

    return counting


def scratch() -> Path:
    """A folder of one's own, in memory if there is such a disk."""
    return Path(tempfile.mkdtemp(prefix="envwatch-model-", dir=MEMORY if MEMORY.is_dir() else None))


@functools.cache
def template() -> Path:
    """A small studio, made once in a process and copied from there."""
    base = scratch()
    (base / "register").mkdir()
    for name, text in REGISTER.items():
        (base / "register" / name).write_text(text, encoding="utf-8")
    with Studio.create(base / "studio", name="Model", zone="UTC") as studio:
        studio.import_register(base / "register")
    atexit.register(shutil.rmtree, base, ignore_errors=True)
    return base / "studio"


def text_of(path: Path) -> str:
    """All that can be read in a file: of a ZIP each member, of a PDF its text."""
    return _text(path.name, path.read_bytes())


def _text(name: str, content: bytes) -> str:
    if name.endswith(".zip"):
        with zipfile.ZipFile(io.BytesIO(content)) as held:
            return "\n".join(one + "\n" + _text(one, held.read(one)) for one in held.namelist())
    if name.endswith(".pdf"):
        return "\n".join(page.extract_text() for page in PdfReader(io.BytesIO(content)).pages)
    return content.decode("utf-8", "replace")


class Archive(RuleBasedStateMachine):
    """What was acknowledged, beside the folder."""

    @initialize(every=st.integers(2, 8))
    def begin(self, every: int) -> None:
        self.base = scratch()
        self.folder, self.copies = shutil.copytree(template(), self.base / "studio"), 0
        self.came_out, self.steps, self.every = False, 0, every
        self.known: dict = {"batches": [], "signs": [], "stays": 1, "reviews": 0, "sheets": set()}
        self.backups: list[tuple[Path, dict]] = []
        self.harmed: dict[str, tuple[Path, bytes]] = {}  # what `check` must name -> how it is mended

    def teardown(self) -> None:
        if hasattr(self, "base"):
            shutil.rmtree(self.base, ignore_errors=True)

    def studio(self) -> Studio:
        return Studio.open(self.folder)

    def files(self) -> list[tuple[str, int]]:
        return [file for batch in self.known["batches"] for file in batch]

    # ---------------------------------------------------------------------------------------------- what is done

    @precondition(lambda self: not self.harmed)
    @step(files=st.lists(st.tuples(st.sampled_from("AB"), st.integers(0, 40)), min_size=1, max_size=3, unique=True))
    def add(self, files: list[tuple[str, int]]) -> None:
        paths = [write_log(self.base / f"{label}{day}.csv", start=MONDAY + day * DAY, rows=47, label=label)
                 for label, day in files]  # fmt: skip
        with self.studio() as studio:
            outcomes = studio.add(paths).outcomes
        new = [file for file in files if file not in self.files()]
        assert [one.status for one in outcomes] == ["kept" if file in new else "already kept" for file in files]
        if new:
            self.known["batches"].append(new)

    @precondition(lambda self: not self.harmed)
    @step()
    def undo(self) -> None:
        with self.studio() as studio:
            if not self.known["batches"]:
                try:
                    studio.undo()
                except BadInput:
                    return
                raise AssertionError("an add was taken back that was none")
            gone = studio.undo().files
        assert sorted(gone) == sorted(f"{label}{day}.csv" for label, day in self.known["batches"].pop())

    @step(day=st.integers(1, 28), by_command=st.booleans())
    def observe(self, day: int, by_command: bool) -> None:
        self._observe(day, by_command)

    def _observe(self, day: int, by_command: bool) -> None:
        sign, on = f"sign {len(self.known['signs'])}", f"2026-02-{day:02}"
        if by_command:
            assert run("observe", "First", sign, "--on", on, "--studio", self.folder).returncode == 0
        else:
            with self.studio() as studio:
                studio.observe("p1", on, sign)
        self.known["signs"].append(sign)

    @step(to=st.sampled_from(["room", "loft"]), day=st.integers(1, 10_000))
    def move(self, to: str, day: int) -> None:
        with self.studio() as studio:
            try:
                studio.move("p2", to, pd.Timestamp("2000-01-01", tz="UTC") + day * DAY)
            except BadInput:
                return
        self.known["stays"] += 1

    @step()
    def keep_review(self) -> None:
        at = MONDAY + self.known["reviews"] * 7 * DAY
        with self.studio() as studio:
            reviews.keep_review(studio, at, at + 7 * DAY, {"findings": []}, {"limit": 65}, at)
            reviews.keep_sheet(studio, f"week{self.known['reviews']}.pdf", b"%PDF")
        self.known["sheets"].add(f"week{self.known['reviews']}.pdf")
        self.known["reviews"] += 1

    @precondition(lambda self: not self.harmed and len(self.backups) < 3)
    @step()
    def back_up(self) -> None:
        path = self.base / f"backup{self.copies}.zip"
        self.copies += 1
        with self.studio() as studio:
            assert studio.back_up(path).problems == ()
        self.backups.append((path, copy.deepcopy(self.known)))
        names = set(zipfile.ZipFile(path).namelist())
        assert len({name for name in names if name.startswith("originals/") and name.endswith(".csv")}) >= len(
            self.files()
        )

    @precondition(lambda self: self.backups and self.steps % 4 == 3)
    @step(which=st.integers(0, 2))
    def go_on_in_a_restored_folder(self, which: int) -> None:
        path, known = self.backups[which % len(self.backups)]
        self.folder = self.base / f"restored{self.copies}"
        self.copies += 1
        restore(path, self.folder)
        self.known, self.harmed = copy.deepcopy(known), {}

    @precondition(lambda self: self.steps % 9 == 5)
    @step()
    def go_on_in_a_copy(self) -> None:
        there = self.base / f"copy{self.copies}"
        self.copies += 1
        shutil.copytree(self.folder, there)
        self.harmed = {name: (there / path.relative_to(self.folder), had) for name, (path, had) in self.harmed.items()}
        self.folder = there

    @precondition(lambda self: not self.came_out and self.steps > 15)
    @step()
    def come_out(self) -> None:
        """What leaves the studio names no owner, wherever one looks."""
        out, self.came_out = self.base / f"out{self.copies}", True
        self.copies += 1
        assert run("export", out, "--studio", self.folder).returncode == 0
        span = ("--from", "2026-01-05", "--to", "2026-01-06")
        said = run("dossier", "First", *span, "--bundle", out / "b.zip", "--studio", self.folder)
        assert said.returncode in (0, 1) or (self.harmed and said.returncode == 5), said.stderr
        self.known["sheets"] |= {path.name for path in (self.folder / "sheets").glob("dossier-*.pdf")}
        for path in [*out.iterdir(), *(self.folder / "sheets").glob("dossier-*.pdf")]:
            assert OWNER.casefold() not in text_of(path).casefold(), path

    # ---------------------------------------------------------------------------------------------------- damage

    def harm(self, path: Path, name: str, content: bytes) -> None:
        self.harmed[name] = path, path.read_bytes()
        path.write_bytes(content)

    @precondition(lambda self: self.files() and not self.harmed)
    @step(which=st.integers(0, 100), kind=st.sampled_from(["originals/*.csv", "readings/*/*.parquet"]))
    def harm_a_file(self, which: int, kind: str) -> None:
        with self.studio() as studio:
            held = {part.path for parts in studio.state().parts.values() for part in parts}
            held |= {f"originals/{row}" for row in self._originals(studio)}
        paths = [path for path in sorted(self.folder.glob(kind)) if path.relative_to(self.folder).as_posix() in held]
        path = paths[which % len(paths)]
        self.harm(path, path.name, path.read_bytes()[:-3])

    def _originals(self, studio: Studio) -> list[str]:
        with studio.reading() as connection:
            return [row.sha256 + row.suffix for row in connection.execute(select(FILES.c.sha256, FILES.c.suffix))]

    @precondition(lambda self: not self.harmed)
    @step()
    def put_back_an_older_register(self) -> None:
        register = self.folder / schema.REGISTER
        older = register.read_bytes()
        self._observe(1, by_command=False)
        self.harmed["is older than its folder"] = register, register.read_bytes()
        self.known["signs"].pop()
        register.write_bytes(older)

    @precondition(lambda self: not self.harmed)
    @step()
    def change_a_row_by_hand(self) -> None:
        register = self.folder / schema.REGISTER
        self.harmed["table places, row loft"] = register, b""
        with closing(sqlite3.connect(register)) as held:
            held.execute("UPDATE places SET note = note || 'x' WHERE id = 'loft'")
            held.commit()

    @precondition(lambda self: self.harmed)
    @step()
    def mend(self) -> None:
        """The true bytes again; a row is set right by hand, and accepted."""
        for name, (path, had) in self.harmed.items():
            if had and name != "is older than its folder":
                path.write_bytes(had)
            else:
                assert run("check", "--accept", "it is right", "--studio", self.folder).returncode == 0
        self.harmed = {}

    # -------------------------------------------------------------------------------------------------- what is so

    @invariant()
    def holds_what_was_acknowledged(self) -> None:
        if not hasattr(self, "known"):
            return
        COUNTED["steps"] += 1
        self.steps += 1
        with self.studio() as studio:
            with studio.reading() as connection:
                names = sorted(connection.execute(select(FILES.c.name)).scalars())
            signs = Counter(seen.sign for seen in studio.paintings()["p1"].observations)
            stays = sum(len(painting.stays) for painting in studio.paintings().values())
            assert names == sorted(f"{label}{day}.csv" for label, day in self.files())
            assert signs == Counter(self.known["signs"])
            assert stays >= 1 and len(reviews.reviews(studio)) == self.known["reviews"]
            assert {path.name for path in (self.folder / "sheets").iterdir()} >= set()
            if not any(name.endswith(".parquet") for name in self.harmed):
                parts = studio.state().parts
                rows = sum(len(s) for held in parts.values() for s in studio.reader.series(held).values())
                assert rows == 47 * len(self.files()), "readings"
            if not self.harmed and self.steps % self.every:
                return
            report = studio.check()
        COUNTED["checks"] += 1
        for name in self.harmed:
            assert any(name in line for line in report.problems), (name, report)
        assert self.harmed or (report.problems, report.strays) == ((), ()), report


def run_steps(steps: int, number: int, phases: tuple[Phase, ...] = (Phase.generate,)) -> Counter:
    """At least so many steps, `AT_ONCE` in a studio, counted. AssertionError: with the steps that lead to it."""
    COUNTED.clear()
    drawn = random.Random(number)
    while (left := steps - COUNTED["steps"]) > 0:
        how = settings(max_examples=-(-min(left, IN_ONE) // AT_ONCE), stateful_step_count=AT_ONCE, deadline=None,
                       database=None, phases=phases, suppress_health_check=list(HealthCheck))  # fmt: skip
        run_state_machine_as_test(seed(drawn.getrandbits(32))(Archive), settings=how)
    return Counter(COUNTED)


def _share(steps: int, number: int) -> tuple[Counter, str]:
    """Steps in a process of their own: what was counted, and the failure with its steps, if there was one."""
    try:
        return run_steps(steps, number, (Phase.generate, Phase.shrink)), ""
    except BaseException as error:
        return Counter(COUNTED), "".join(traceback.format_exception(error))


def main() -> int:
    """Run it from the command line; the code is 1 after a failure."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--steps", type=int, default=50_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--processes", type=int, default=1)
    asked = parser.parse_args()
    shares = [(asked.steps // asked.processes, 1000 * asked.seed + each) for each in range(asked.processes)]
    start, failed, counted = time.monotonic(), [], Counter[str]()
    with multiprocessing.get_context("spawn").Pool(asked.processes) as pool:
        for counts, failure in pool.starmap(_share, shares):
            counted += counts
            failed += [failure] if failure else []
    for what, count in sorted(counted.items(), key=lambda one: -one[1]):
        print(f"{what:32} {count:8,}")
    print(
        f"{len(failed)} failed; {time.monotonic() - start:,.0f} s with {asked.processes} processes", *failed, sep="\n"
    )
    return bool(failed)


if __name__ == "__main__":
    sys.exit(main())
