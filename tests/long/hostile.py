"""What is done with hostile input, and what must hold: a result or one plain line, and nothing anywhere else.

Each target takes bytes, whatever they are, and returns a word on how they were taken. `fuzz` feeds them.
"""

from __future__ import annotations

import base64
import csv
import io
import random
import shutil
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path

import numpy as np
import pandas as pd

from envwatch import logs
from envwatch.archive import Studio
from envwatch.archive.register.sheets import SHEETS
from envwatch.archive.store import schema
from envwatch.cases import loan
from envwatch.cases.hanging import inputs as positions
from envwatch.core.errors import EnvwatchError
from envwatch.core.fields import FORMULA
from envwatch.figures import materials
from envwatch.logs import Answers
from tests.logs_layouts import NOW
from tests.test_register import CSV

SAMPLE = Path(__file__).parents[2] / "sample_logs"
ANSWERS = (
    Answers(zone="Europe/Berlin"), Answers(zone="UTC", dates="dmy"), Answers(zone="-03:30", dates="mdy", decimal=","),
    Answers(), Answers(zone="America/New_York", temp_unit="F"), Answers(zone="UTC", encoding="latin-1", decimal="."),
)  # fmt: skip
SUFFIXES = (".csv", ".txt", ".xlsx", "")
EXPORT_EVERY, AFRESH_EVERY = 10, 400  # accepted registers are exported and read again; the register is made afresh


class Hostile:
    """The targets, with the folder they work in. `parent` holds what must stay as it is."""

    def __init__(self, folder: Path) -> None:
        self.parent, self.box = folder, folder / "box"
        self.box.mkdir(parents=True)
        (folder / "bystander.txt").write_text("untouched", encoding="utf-8")
        self.around = self._around()
        self.accepted = 0
        self.targets: dict[str, Callable[[bytes], str]] = {
            "logs": self.logs, "register": self.register, "positions": self.positions, "facts": self.facts,
            "upload": self.upload, "materials": self.materials, "loan": self.loan,
        }  # fmt: skip
        self._studio: Studio | None = None

    def take(self, target: str, data: bytes) -> str:
        """One input; "refused" where each thing wrong was said in a line. Anything but a plain refusal is raised."""
        try:
            return self.targets[target](data)
        except EnvwatchError as refused:
            said = str(refused)
            lines = said.split("\n")
            plain = len(lines) == len(refused.faults) and all(line and line.isprintable() for line in lines)
            assert plain, f"not one plain line for each fault: {said!r}"
            assert "unforeseen fault" not in said, said
            return "refused"
        finally:
            assert self._around() == self.around, "something was written outside the folder"

    def _around(self) -> dict[str, int]:
        return {path.name: path.stat().st_mtime_ns for path in self.parent.iterdir() if path != self.box}

    def logs(self, data: bytes) -> str:
        """A logger file, with one of a few answers and endings."""
        how = data[0] if data else 0
        path = self.box / f"any{SUFFIXES[how // 6 % 4]}"
        path.write_bytes(data[1:])
        log = logs.read(path, ANSWERS[how % 6], now=NOW)
        used = sum(len(channel.time) for channel in log.channels)
        for channel in log.channels:
            assert np.isfinite(channel.temp_c).all() and (np.diff(channel.time) >= 0).all()
            assert not np.isinf(channel.rh_percent).any()
        rows = list(csv.reader(io.StringIO("".join(logs.to_csv(log)), newline="")))
        assert len(rows) == used + 1 and all(len(row) == 4 for row in rows)
        assert not any(live(row[1]) for row in rows)
        return "read"

    def register(self, data: bytes) -> str:
        """One file of the register, with its own header before it or without."""
        how = data[0] if data else 0
        sheet = SHEETS[how % len(SHEETS)]
        head = ",".join(field.name for field in sheet.fields).encode() + b"\n"
        folder = self.box / "in"
        folder.mkdir(exist_ok=True)
        path = folder / sheet.file
        path.write_bytes((head if how & 128 else b"") + data[1:])
        try:
            self.studio().import_register(folder)
        finally:
            path.unlink()
        self.accepted += 1
        if self.accepted % EXPORT_EVERY == 0:
            self._out_and_in()
        if self.accepted % AFRESH_EVERY == 0:
            self.close()
        return "kept"

    def _out_and_in(self) -> None:
        studio, out = self.studio(), self.box / "out"
        studio.export_register(out, private=True)
        for file in out.iterdir():
            with file.open(encoding="utf-8", newline="") as text:
                cells = [cell for row in csv.reader(text) for cell in row]
            assert not any(live(cell) for cell in cells), (file.name, [c for c in cells if live(c)][:3])
        before = studio.register()
        studio.import_register(out)
        assert studio.register() == before, "what was exported does not come back"
        shutil.rmtree(out)

    def positions(self, data: bytes) -> str:
        """A file of positions, TOML or CSV."""
        positions.read(data[1:], "p.csv" if data[:1] < b"\x80" else "p.toml")
        return "read"

    def facts(self, data: bytes) -> str:
        """A studio's facts, opened with a register beside them."""
        folder = self.box / "facts"
        if not folder.exists():
            Studio.create(folder, name="x", zone="UTC").close()
        (folder / "studio.toml").write_bytes(data)
        with Studio.open(folder) as studio:
            assert studio.zone and isinstance(studio.name, str) and np.isfinite(studio.altitude_m)
            pd.Timestamp("2026-03-29 12:00", tz=studio.zone)
        return "opened"

    def upload(self, data: bytes) -> str:
        """Files dropped on the page, under any names."""
        from dashboards.pages import files

        cut = data[0] if data else 0
        raw = data[1 : 1 + cut % 64 // 2 * 2]
        raw = raw[: len(raw) // 2 * 2]
        units = np.frombuffer(raw, "<u2").tolist()  # lone surrogates too, as a page can send them
        name = "".join(map(chr, units)) if cut & 64 else raw.decode("utf-8", "replace")
        body = data[1 + cut % 64 // 2 * 2 :]
        content = "data:;base64," + base64.b64encode(body).decode() if cut & 128 else body.decode("latin-1")
        folder = self.box / "drop"
        folder.mkdir()
        try:
            for path in files.put_down(*files.without_litter([content] * 2, [name, name]), folder):
                assert path.resolve().is_relative_to(folder.resolve()) and path.parent.parent == folder
                assert path.is_file() and path.name.isprintable()
        finally:
            shutil.rmtree(folder)
        return "put down"

    def materials(self, data: bytes) -> str:
        """A studio's own materials."""
        path = self.box / "materials.toml"
        path.write_bytes(data)
        materials.load(path)
        return "read"

    def loan(self, data: bytes) -> str:
        """What was agreed about a loan."""
        loan.read(data, "loan.toml", "Europe/Berlin")
        return "read"

    def studio(self) -> Studio:
        """A studio with a register in it, made afresh when it was closed."""
        if self._studio is None:
            place = self.box / "studio"
            if not place.exists():
                with Studio.create(place, name="Fuzzed", zone="Europe/Berlin") as made:
                    for name, text in CSV.items():
                        folder = self.box / "register"
                        folder.mkdir(exist_ok=True)
                        (folder / f"{name}.csv").write_text(text, encoding="utf-8")
                    made.import_register(self.box / "register")
                with closing(sqlite3.connect(place / schema.REGISTER)) as held:
                    held.execute("PRAGMA wal_checkpoint(TRUNCATE)")
                shutil.copy(place / schema.REGISTER, self.box / "pristine.sqlite")
            shutil.copy(self.box / "pristine.sqlite", place / schema.REGISTER)
            self._studio = Studio.open(place)
        return self._studio

    def close(self) -> None:
        """Let go of the studio."""
        if self._studio is not None:
            self._studio.close()
            for path in (self.box / "studio").glob("register.sqlite-*"):
                path.unlink()
        self._studio = None


def live(cell: str) -> bool:
    """Whether a spreadsheet would run a cell as a formula; a plain number is none."""
    try:
        float(cell)
    except ValueError:
        return cell[:1] in ("=", "+", "-", "@", "\t", "\r", "\n") or (
            not cell.startswith("'") and bool(FORMULA.match(cell))
        )
    return False


def seeds(target: str) -> list[bytes]:
    """Sound inputs to begin from."""
    found = {"logs": _logs, "register": _registers, "positions": _positions, "facts": _facts, "upload": _uploads,
             "materials": _materials, "loan": _loans}[target]  # fmt: skip
    return list(found())


def _logs() -> Iterator[bytes]:
    for n, path in enumerate(sorted((SAMPLE / "logs").rglob("*"))):
        if path.is_file() and path.suffix.lower() in (".csv", ".txt"):
            yield bytes([n % 24 if path.suffix == ".csv" else n % 6 + 6]) + b"".join(
                path.read_bytes().splitlines(True)[:14]
            )


def _registers() -> Iterator[bytes]:
    names = [sheet.name for sheet in SHEETS]
    for name, text in CSV.items():
        yield bytes([names.index(name)]) + text.encode()
    for path in (SAMPLE / "register").glob("*.csv"):
        yield bytes([names.index(path.stem)]) + b"".join(path.read_bytes().splitlines(True)[:6])
    for n, row in enumerate(
        (b"r,R,store,1,2,3,UTC,n", b"l,L,x;y,UTC,7,0.3,2,2026-01-01,", b"a,,store,rack,2026-01-01,")
    ):
        yield bytes([128 - 128 % len(SHEETS) + len(SHEETS) + n]) + row


def _positions() -> Iterator[bytes]:
    toml = (SAMPLE / "positions.toml").read_bytes()
    yield b"\xff" + toml
    for part in toml.split(b"[[position]]")[1:]:
        yield b"\xff[house]\nname = 'H'\nplace = 'p'\n[[position]]" + part
    yield b"\x00name,room,wall,window,standoff_mm,sun,heating\nhall,hall,outer,beside the window,25,yes,continuous\n"
    yield b"\x00name;wall;depth;curtain\nover the stove;chimney;2,5 cm;none\n"


def _facts() -> Iterator[bytes]:
    yield (SAMPLE / "studio.toml").read_bytes()
    yield b'name = "x"\nzone = "Europe/Berlin"\naltitude_m = 12.5\nunits = "metric"\n'


def _uploads() -> Iterator[bytes]:
    for name in ("../../x.csv", "C:\\logs\\a.csv", "CON", "logs/.DS_Store", "a\u202evsc.exe", "=cmd.csv"):
        encoded = name.encode()[:63]
        yield bytes([128 | len(encoded)]) + encoded + b"time,t\n2026-01-01,20\n"
        yield bytes([len(encoded)]) + encoded + b"data:text/csv;base64,QUJD"


def _materials() -> Iterator[bytes]:
    whole = "\n" + (Path(materials.__file__).parent / "profiles.toml").read_text(encoding="utf-8")
    named = whole.split("\n[")[1:]
    for name in ("eva_film", "fish_glue", "linen", "unknown"):  # the same again as a studio's own
        own = "".join(f"[{part}\n" for part in named if part.startswith((f"{name}]", f"{name}.")))
        yield own.replace(f"[{name}", "[mine").replace("[mine]\n", '[mine]\nreason = "tried"\n', 1).encode()
    yield b'[eva_film.softening_c]\nvalue = 44\nreason = "measured"\n'


def _loans() -> Iterator[bytes]:
    yield (b'painting = "p1"\nplace = "hall"\nfrom = 2026-03-01\nto = "2026-06-01"\nrh_low = 40\nrh_high = 60\n'
           b'rh_change = 10\ntemp_low = 16\ntemp_high = 24.5\nposition = "inner wall"\n')  # fmt: skip


WORDS = (
    b"time", b"Date", b"temp", "°C".encode(), b"rh %", b"2024-03-01 10:00", b"01/02/03", b"21.5", b"21,5", b";", b",",
    b"\t", b"\n", b"\r\n", b'"', b"NaN", b"1e308", b"-0", b"inf", b"\xff\xfe", b"\xef\xbb\xbf", b"\x00", b"=1+1", b"@x",
    b"24:00", b"p.m.", b"PK\x03\x04", b"2026-01-01", b"9999-12-31", b"0001-01-01", b"yes", b"unknown", b"[[position]]",
    b"true", b"[]", b"{}", b"Europe/Berlin", b"+99:00", b"..", b"/", b"\\", b"'", b"<script>", b"%s", b"nan", b"1_000",
    b"0x1F", "٣".encode(), "²".encode(), "\u202e".encode(), b"\x1b[31m", b"Logger: A", b"Serial Number",
)  # fmt: skip


def mutated(dice: random.Random, seed: bytes, other: bytes) -> bytes:
    """A sound input spoilt: bytes changed, words put in, pieces cut, repeated, or taken from another."""
    out = bytearray(seed)
    for _ in range(dice.choice((1, 1, 2, 4, 8))):
        at = dice.randrange(len(out) + 1)
        length = dice.choice((1, 2, 5, 20, 200))
        what = dice.randrange(6)
        if what == 0 and out:
            out[at % len(out)] = dice.randrange(256)
        elif what == 1:
            out[at:at] = dice.choice(WORDS)
        elif what == 2:
            out[at : at + length] = dice.choice(WORDS)
        elif what == 3:
            del out[at : at + length]
        elif what == 4:
            out[at:at] = out[at : at + length] * dice.choice((1, 3))
        else:
            start = dice.randrange(len(other) + 1)
            out[at : at + length] = other[start : start + length]
    return bytes(out[:6500])
