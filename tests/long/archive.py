"""A small model of the archive, run beside it through random commands, damage, copies and restores.

    python -m tests.long.archive [--steps 50000] [--seed 1]

The model knows what was acknowledged: files, looks, stays, kept reviews, sheets; and the backups with what was known
then. After each step the archive holds just that, and whatever was harmed is named by `check`, and nothing else. What
comes out is searched for the owner's name where it may not stand: in CSV, in each member of a ZIP, in a PDF's text.
"""

from __future__ import annotations

import argparse
import copy
import io
import shutil
import sqlite3
import tempfile
import zipfile
from collections import Counter
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
LOOK = 3  # steps from one check of a whole folder to the next; of a harmed one each
OWNER = "Quexlinde"
REGISTER = {
    "places.csv": "id,name,kind\nroom,The room,store\nloft,The loft,loft\n",
    "paintings.csv": f"id,title,owner\np1,First,Zworla {OWNER}\np2,Second,\n",
    "stays.csv": f"painting,place,from,purpose\np1,room,2025-01-01,for Frau {OWNER}\n",
}
COUNTED: Counter[str] = Counter()


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

    @initialize()
    def begin(self) -> None:
        self.base = Path(tempfile.mkdtemp(prefix="envwatch-model-"))
        self.folder, self.copies = self.base / "studio", 0
        for name, text in REGISTER.items():
            (self.base / "register").mkdir(exist_ok=True)
            (self.base / "register" / name).write_text(text, encoding="utf-8")
        with Studio.create(self.folder, name="Model", zone="UTC") as studio:
            studio.import_register(self.base / "register")
        self.came_out, self.steps = False, 0
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
    @rule(files=st.lists(st.tuples(st.sampled_from("AB"), st.integers(0, 40)), min_size=1, max_size=3, unique=True))
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
    @rule()
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

    @rule(day=st.integers(1, 28))
    def observe(self, day: int) -> None:
        sign = f"sign {len(self.known['signs'])}"
        assert run("observe", "First", sign, "--on", f"2026-02-{day:02}", "--studio", self.folder).returncode == 0
        self.known["signs"].append(sign)

    @rule(to=st.sampled_from(["room", "loft"]), day=st.integers(1, 10_000))
    def move(self, to: str, day: int) -> None:
        with self.studio() as studio:
            try:
                studio.move("p2", to, pd.Timestamp("2000-01-01", tz="UTC") + day * DAY)
            except BadInput:
                return
        self.known["stays"] += 1

    @rule()
    def keep_review(self) -> None:
        at = MONDAY + self.known["reviews"] * 7 * DAY
        with self.studio() as studio:
            reviews.keep_review(studio, at, at + 7 * DAY, {"findings": []}, {"limit": 65}, at)
            reviews.keep_sheet(studio, f"week{self.known['reviews']}.pdf", b"%PDF")
        self.known["sheets"].add(f"week{self.known['reviews']}.pdf")
        self.known["reviews"] += 1

    @precondition(lambda self: not self.harmed and len(self.backups) < 3)
    @rule()
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

    @precondition(lambda self: self.backups)
    @rule(which=st.integers(0, 2))
    def go_on_in_a_restored_folder(self, which: int) -> None:
        path, known = self.backups[which % len(self.backups)]
        self.folder = self.base / f"restored{self.copies}"
        self.copies += 1
        restore(path, self.folder)
        self.known, self.harmed = copy.deepcopy(known), {}

    @rule()
    def go_on_in_a_copy(self) -> None:
        there = self.base / f"copy{self.copies}"
        self.copies += 1
        shutil.copytree(self.folder, there)
        self.harmed = {name: (there / path.relative_to(self.folder), had) for name, (path, had) in self.harmed.items()}
        self.folder = there

    @precondition(lambda self: not self.came_out and self.steps > 15)
    @rule()
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
    @rule(which=st.integers(0, 100), kind=st.sampled_from(["originals/*.csv", "readings/*/*.parquet"]))
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
    @rule()
    def put_back_an_older_register(self) -> None:
        register = self.folder / schema.REGISTER
        older = register.read_bytes()
        self.observe(1)
        self.harmed["is older than its folder"] = register, register.read_bytes()
        self.known["signs"].pop()
        register.write_bytes(older)

    @precondition(lambda self: not self.harmed)
    @rule()
    def change_a_row_by_hand(self) -> None:
        register = self.folder / schema.REGISTER
        self.harmed["table places, row loft"] = register, b""
        with closing(sqlite3.connect(register)) as held:
            held.execute("UPDATE places SET note = note || 'x' WHERE id = 'loft'")
            held.commit()

    @precondition(lambda self: self.harmed)
    @rule()
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
            if not self.harmed and self.steps % LOOK:
                return
            report = studio.check()
        COUNTED["checks"] += 1
        for name in self.harmed:
            assert any(name in line for line in report.problems), (name, report)
        assert self.harmed or (report.problems, report.strays) == ((), ()), report


def run_steps(steps: int, number: int, at_once: int = 50) -> Counter:
    """So many steps in runs of `at_once`, counted. AssertionError: with the steps that lead to it."""
    COUNTED.clear()
    how = settings(max_examples=max(1, steps // at_once), stateful_step_count=at_once, deadline=None, database=None,
                   phases=[Phase.generate], suppress_health_check=list(HealthCheck))  # fmt: skip
    run_state_machine_as_test(seed(number)(Archive), settings=how)
    return Counter(COUNTED)


def main() -> None:
    """Run it from the command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--steps", type=int, default=50_000)
    parser.add_argument("--seed", type=int, default=1)
    said = parser.parse_args()
    for what, count in run_steps(said.steps, said.seed).items():
        print(f"{what:20} {count:8,}")


if __name__ == "__main__":
    main()
