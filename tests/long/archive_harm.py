"""What happens to a studio folder behind envwatch's back, and how it is mended."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from pathlib import Path

from hypothesis import strategies as st
from hypothesis.stateful import precondition

from envwatch.archive import Studio
from envwatch.archive.store import schema, sums
from envwatch.core.errors import EnvwatchError
from tests.long.archive_model import Held, sha256, step
from tests.program import run

MOST = 2  # harms at a time
HOW = st.sampled_from(["cut", "emptied", "removed", "bit"])


def register_rows(folder: Path) -> dict[str, list[tuple]] | str:
    """All rows of a register, as bytes; what SQLite says where they cannot be read."""
    with closing(sqlite3.connect(folder / schema.REGISTER)) as register:
        register.text_factory = bytes
        try:
            names = [row[0] for row in register.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
            return {name: register.execute(f'SELECT * FROM "{name.decode()}"').fetchall() for name in names}
        except (sqlite3.Error, UnicodeDecodeError) as error:
            return str(error)


def few(self: Held) -> bool:
    return len(self.harmed) < MOST


class Harmed(Held):
    """Damage, each kind with what `check` must name."""

    def harm(self, path: Path, name: str, how: str, mend: str) -> None:
        had = path.read_bytes()
        self.harmed[name] = mend, path.relative_to(self.folder).as_posix(), had
        if how == "removed":
            path.unlink()
        else:
            at = len(had) // 2
            changed = {"cut": had[:-3], "emptied": b"", "bit": had[:at] + bytes([had[at] ^ 4]) + had[at + 1 :]}
            path.write_bytes(changed[how])

    def original(self, name: str) -> Path:
        return self.folder / "originals" / f"{sha256(name)}.csv"

    @precondition(lambda self: few(self) and self.known.files() + self.known.tray)
    @step(which=st.integers(0, 100), how=HOW, mend=st.sampled_from(["bytes", "add"]))
    def harm_an_original(self, which: int, how: str, mend: str) -> None:
        files = sorted(self.known.files() + self.known.tray)
        path = self.original(files[which % len(files)])
        name = f"originals/{path.stem}"
        if name not in self.harmed:
            self.harm(path, name, how, mend)

    @precondition(lambda self: few(self) and self.known.files())
    @step(which=st.integers(0, 100), how=HOW, mend=st.sampled_from(["bytes", "rebuild"]))
    def harm_readings(self, which: int, how: str, mend: str) -> None:
        with self.studio() as studio:
            parts = sorted(part.path for held in studio.state().parts.values() for part in held)
        path = parts[which % len(parts)]
        if path not in self.harmed:
            self.harm(self.folder / path, path, how, mend)

    @precondition(lambda self: not self.harmed and self.known.files())
    @step(which=st.integers(0, 100), how=st.sampled_from(["emptied", "removed", "cut", "another name"]))
    def harm_a_sidecar(self, which: int, how: str) -> None:
        """It is named, and written again from the register."""
        files = sorted(self.known.files())
        path = self.original(files[which % len(files)]).with_suffix(".json")
        had = path.read_bytes()
        if how == "another name":
            path.write_text(json.dumps(json.loads(had) | {"name": "another.csv"}), encoding="utf-8")
        else:
            self.harm(path, path.name, how, "bytes")
            self.harmed = {}
        with self.studio() as studio:
            report = studio.check()
        assert len(report.repaired) == 1 and path.name in report.repaired[0] and report.problems == (), report
        assert path.read_bytes() == had

    @precondition(lambda self: few(self) and "is older than its folder" not in self.harmed)
    @step()
    def put_back_an_older_register(self) -> None:
        register = self.folder / schema.REGISTER
        older = register.read_bytes()
        with self.studio() as studio:
            studio.observe("p1", "2016-02-01", "a sign that is lost")
        self.harmed["is older than its folder"] = "accept", schema.REGISTER, b""
        register.write_bytes(older)

    @precondition(lambda self: few(self))
    @step(put_in=st.booleans())
    def change_the_register_by_hand(self, put_in: bool) -> None:
        id = f"shed{self.next()}" if put_in else "loft"
        self.harmed[f"table places, row {id}"] = "accept", schema.REGISTER, b""
        with closing(sqlite3.connect(self.folder / schema.REGISTER)) as held:
            if put_in:
                held.execute("INSERT INTO places (id, name) VALUES (?, ?)", (id, id))
            else:
                held.execute("UPDATE places SET note = note || 'x' WHERE id = 'loft'")
            held.commit()

    @precondition(lambda self: few(self))
    @step()
    def lay_a_second_register_beside(self) -> None:
        """As a synchronised folder does when two computers wrote at once."""
        name = f"register (conflicted copy {self.next()}).sqlite"
        (self.folder / name).write_bytes((self.folder / schema.REGISTER).read_bytes())
        self.harmed[name] = "remove", name, b""

    @precondition(lambda self: not self.harmed)
    @step(at=st.integers(0, 2**40))
    def change_a_bit_of_the_register(self, at: int) -> None:
        """It reads the same, or it is named; then the true bytes stand there again."""
        paths = [path for name in (schema.REGISTER, sums.STATE) if (path := self.folder / name).is_file()]
        had, before = [path.read_bytes() for path in paths], register_rows(self.folder)
        spoilt, at = bytearray(had[0]), at % (8 * len(had[0]))
        spoilt[at // 8] ^= 1 << at % 8
        paths[0].write_bytes(spoilt)
        same = register_rows(self.folder) == before
        try:
            with self.studio() as studio:
                named = studio.check().problems != ()
        except EnvwatchError:
            named = True
        assert named or same, f"bit {at} of the register was changed, unnamed"
        for path, whole in zip(paths, had, strict=True):
            path.write_bytes(whole)
        for end in ("-wal", "-shm", "-journal"):
            Path(f"{paths[0]}{end}").unlink(missing_ok=True)

    @precondition(lambda self: self.harmed)
    @step()
    def mend(self) -> None:
        """The true bytes again, or what `check` advises; a register that is right is accepted."""
        for mend, name, had in self.harmed.values():
            if mend == "bytes":
                (self.folder / name).write_bytes(had)
            elif mend == "remove":
                (self.folder / name).unlink()
        ways = {mend for mend, _, _ in self.harmed.values()}
        if "accept" in ways:
            done = run("check", "--accept", "it is right", "--studio", self.folder)
            rest = ways & {"add", "rebuild"}
            assert done.returncode == (1 if rest else 0), (done.stdout, done.stderr)
        with self.studio() as studio:
            self._add_true_files(studio)
            if "rebuild" in ways:
                report = studio.check(rebuild=True)
                assert report.problems == (), report
        self.harmed = {}

    def _add_true_files(self, studio: Studio) -> None:
        for mend, path, _ in self.harmed.values():
            if mend == "add":
                (name,) = [one for one in self.known.files() + self.known.tray if sha256(one) == Path(path).stem]
                (outcome,) = studio.add([self.written(name)]).outcomes
                assert outcome.status == ("in the tray" if name in self.known.tray else "already kept"), outcome


__all__ = ["Harmed", "register_rows"]
