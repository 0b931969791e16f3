"""What a studio was given and acknowledged, kept beside its folder; how both are compared; what comes out of it."""

from __future__ import annotations

import atexit
import base64
import copy
import functools
import hashlib
import io
import os
import re
import shutil
import tempfile
import zipfile
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import pandas as pd
import pyarrow.parquet as pq
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule
from pypdf import PdfReader
from sqlalchemy import func, select

from envwatch.archive import Studio, reviews
from envwatch.archive.store.tables import BATCHES, FILES
from envwatch.core.painting import CORRECTION
from tests.test_archive import write_log

DAY, START = pd.Timedelta(days=1), pd.Timestamp("2016-01-04", tz="UTC")
MEMORY = Path("/dev/shm")  # where there is one, a disk of memory
OWNER, HOUSE = "Quexlinde", "Birnhorn"  # who, and which house, may not be named in what comes out
REGISTER = {
    "places.csv": f"id,name,kind\nroom,The room,store\nloft,The loft,loft\nvilla,Villa {HOUSE},house\n",
    "paintings.csv": f"id,title,owner,ground\np1,First,Zworla {OWNER},white\np2,Second,,\n",
    "stays.csv": f"painting,place,from,purpose\np1,room,2015-01-01,for Frau {OWNER}\n",
    "loggers.csv": "id,name,labels\na,Logger A,A\n",
    "hangings.csv": "logger,place,from\na,room,2015-01-01\n",
}
COMPANIONS = ("rows that envwatch did not write so", "the readings can be made again from the originals")
COUNTED: Counter[str] = Counter()


def step(**given: st.SearchStrategy) -> Callable:
    """A rule of the model, counted by its name."""

    def counting(does: Callable[..., None]) -> Callable:
        @functools.wraps(does)
        def once(self: Held, **drawn: object) -> None:
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
    atexit.register(shutil.rmtree, base, ignore_errors=True)
    (base / "register").mkdir()
    for name, text in REGISTER.items():
        (base / "register" / name).write_text(text, encoding="utf-8")
    with Studio.create(base / "studio", name="Model", zone="UTC") as studio:
        studio.import_register(base / "register")
    return base / "studio"


@functools.cache
def app():
    """The pages, made once; a model puts its own folder behind them."""
    from dashboards import create_app

    return create_app(template())


def log_name(label: str, day: int, rows: int) -> str:
    """A logger file's name; now and then an owner's name stands in it."""
    return f"{OWNER.lower() + ' ' if day % 5 == 0 else ''}{label}-{day}-{rows}.csv"


def half_hours(name: str) -> set[tuple[str, int]]:
    """The readings of a file: its logger's label, and half hours since the start."""
    label, day, rows = name.removeprefix(f"{OWNER.lower()} ").removesuffix(".csv").split("-")
    return {(label, int(day) * 48 + n) for n in range(int(rows))}


@functools.lru_cache(4096)
def content(name: str) -> bytes:
    """What stands in a file of this name: of a label T, dates that can be read in two ways."""
    label, day, rows = name.removeprefix(f"{OWNER.lower()} ").removesuffix(".csv").split("-")
    if label.startswith("T"):
        lines = [f"03/04/2015 {n // 2:02}:{n % 2 * 30:02},18.5,50" for n in range(int(rows))]
        return "\n".join([f"Logger: {label}", "date,temp C,RH %", *lines, ""]).encode()
    with tempfile.TemporaryDirectory(dir=template().parent) as folder:
        path = write_log(Path(folder) / "log", start=START + int(day) * DAY, rows=int(rows), label=label)
        return path.read_bytes()


def sha256(name: str) -> str:
    """Of the file of this name."""
    return hashlib.sha256(content(name)).hexdigest()


def text_of(path: Path) -> str:
    """All that can be read in a file: of a ZIP each member, of a PDF its text, of Parquet its columns and facts."""
    return _text(path.name, path.read_bytes())


def _text(name: str, data: bytes) -> str:
    if name.endswith((".zip", ".xlsx")):
        with zipfile.ZipFile(io.BytesIO(data)) as held:
            return "\n".join(one + "\n" + _text(one, held.read(one)) for one in held.namelist())
    if name.endswith(".pdf"):
        return "\n".join(page.extract_text() for page in PdfReader(io.BytesIO(data)).pages)
    if name.endswith(".parquet"):
        table = pq.read_table(io.BytesIO(data))
        return f"{table.schema.to_string()}\n{table.to_pandas().to_csv()}"
    return data.decode("utf-8", "replace")


def names_in(path: Path, word: str) -> bool:
    """Whether a word stands in a file or its name, in whatever case, and over the ends of lines."""
    return word.casefold() in re.sub(r"[\s\u00ad-]", "", f"{path.name}\n{text_of(path)}").casefold()


@dataclass
class Known:
    """What was acknowledged. batches : files by the number of their add. tray : files that wait.
    signs : (day, sign) of p1's looks. taps : looks by a tap. moves : (place, day) of p2. sheets : by name.
    originals : SHA-256 of every file that ever came in. form : p1's cells."""

    batches: dict[int, list[str]] = field(default_factory=dict)
    tray: list[str] = field(default_factory=list)
    signs: list[tuple[str, str]] = field(default_factory=list)
    taps: list[str] = field(default_factory=list)
    moves: list[tuple[str, str]] = field(default_factory=list)
    corrections: int = 0
    reviews: int = 0
    sheets: dict[str, bytes] = field(default_factory=dict)
    originals: set[str] = field(default_factory=set)
    form: dict[str, str] = field(default_factory=lambda: {"ground": "white", "maker": ""})

    def files(self) -> list[str]:
        """All that are kept."""
        return [name for batch in self.batches.values() for name in batch]

    def readings(self) -> int:
        """How many half hours, by logger, were read."""
        return len(set().union(*map(half_hours, self.files())))


class Held(RuleBasedStateMachine):
    """A folder, what is known of it, and how they are compared."""

    @initialize(every=st.integers(2, 8))
    def begin(self, every: int) -> None:
        self.base, self.every = scratch(), every
        self.folder = shutil.copytree(template(), self.base / "studio")
        self.known, self.backups = Known(), list[tuple[Path, Known]]()
        self.harmed: dict[str, tuple[str, str, bytes]] = {}  # what `check` must name -> how it is mended, what, bytes
        self.numbers: set[int] = set()  # of adds that a page ever showed
        self.shown: dict | None = None  # a form that stands open
        self.steps, self.count, self.came_out = 0, 0, False

    def teardown(self) -> None:
        os.environ.pop("FAKETIME", None)
        if hasattr(self, "base"):
            shutil.rmtree(self.base, ignore_errors=True)

    def next(self) -> int:
        """A number that was not used before."""
        self.count += 1
        return self.count

    def studio(self) -> Studio:
        return Studio.open(self.folder)

    @contextmanager
    def pages(self) -> Iterator[None]:
        """Within a request to the pages of this folder; their clock goes on by a minute each time."""
        from dashboards.session import StudioSession

        now = pd.Timestamp("2026-11-02T11:00Z") + self.next() * pd.Timedelta(minutes=1)
        server = app().server
        house = server.config["HOUSE"] = StudioSession(self.folder, now=lambda: now)
        try:
            with server.test_request_context("/"):
                yield
        finally:
            house.close()

    def written(self, name: str) -> Path:
        """A file as it comes from a logger."""
        path = self.base / name
        path.write_bytes(content(name))
        return path

    def dropped(self, name: str) -> str:
        return "data:text/csv;base64," + base64.b64encode(content(name)).decode()

    def last_batch(self) -> int:
        with self.studio() as studio, studio.reading() as connection:
            return connection.execute(select(func.max(BATCHES.c.id))).scalar_one()

    def goes_on(self, folder: Path, known: Known | None = None) -> None:
        """In another folder, of which this is known; what was open shows the other one."""
        self.folder, self.shown = folder, None
        self.known = self.known if known is None else copy.deepcopy(known)

    # -------------------------------------------------------------------------------------------------- what is so

    @invariant()
    def holds_what_was_acknowledged(self) -> None:
        if not hasattr(self, "known"):
            return
        COUNTED["steps"] += 1
        self.steps += 1
        with self.studio() as studio:
            self.compare(studio)
            if self.harmed or self.steps % self.every == 0:
                self.look_over(studio)

    def compare(self, studio: Studio) -> None:
        known, paintings = self.known, studio.paintings()
        with studio.reading() as connection:
            kept = sorted(connection.execute(select(FILES.c.name)).scalars())
        assert kept == sorted(known.files())
        assert sorted(one.name for one in studio.tray()) == sorted(known.tray)
        looks = Counter(one.sign for one in paintings["p1"].observations)
        due = Counter([sign for _, sign in known.signs]) + Counter({"nothing new": len(known.taps)})
        assert looks == due, (looks, due)
        assert sum(one.kind == CORRECTION for one in paintings["p1"].treatments) == known.corrections
        stays = {(one.place_id, f"{one.start:%Y-%m-%d}") for one in paintings["p2"].stays}
        assert stays == set(known.moves), (stays, known.moves)
        assert {name: getattr(paintings["p1"], name) for name in known.form} == known.form
        assert len(reviews.reviews(studio)) == known.reviews
        assert known.sheets == {name: (self.folder / "sheets" / name).read_bytes() for name in known.sheets}
        if not any(name.endswith(".parquet") for name in self.harmed):
            parts = studio.state().parts
            rows = sum(len(one) for held in parts.values() for one in studio.reader.series(held).values())
            assert rows == known.readings(), "readings"

    def look_over(self, studio: Studio) -> None:
        """`check` names what was harmed and nothing else; nothing that came in was deleted."""
        COUNTED["checks"] += 1
        report = studio.check()
        for name in self.harmed:
            assert any(name in line for line in report.problems), (name, report)
        for line in report.problems:
            assert line.startswith(COMPANIONS) or any(name in line for name in self.harmed), (line, self.harmed)
        assert (report.repaired, report.strays) == ((), ()), report
        if self.harmed:
            assert report.swept == () and report.only_looked, report
        else:
            assert report.problems == (), report
        there = {path.stem for sub in ("", "undone") for path in (self.folder / "originals" / sub).glob("*.csv")}
        gone = {sha for sha in self.known.originals - there if f"originals/{sha}" not in self.harmed}
        assert gone == set(), gone
