"""A studio lived through Monday by Monday, for `tests.bench.mondays`: only by what a person may do in one.

The register comes from CSV files, readings from loggers' files fetched on Monday at 09:00 (each begins where the last
ended), looks and moves are entered on their day, and the review of the week before is made and kept.
"""

from __future__ import annotations

import csv
import shutil
import tempfile
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Self

import numpy as np
import pandas as pd

from envwatch.archive import Studio
from envwatch.archive.intake.outcomes import FileOutcome
from envwatch.cases import review
from envwatch.core.findings import Finding, Level
from envwatch.core.painting import NOTHING_NEW
from envwatch.logs import Answers

FETCH_H = pd.Timedelta(hours=9)  # Monday 09:00 by the studio's clock
WEEK = pd.Timedelta(days=7)
SHEETS = {
    "places": "id,name,kind,volume_m3,outer_walls,altitude_m,zone,note",
    "loggers": "id,name,labels,zone,fetch_days,temp_accuracy_c,rh_accuracy_percent,calibrated_on,note",
    "hangings": "logger,channel,place,position,from,to",
    "paintings": "id,title,maker,made,height_cm,width_cm,weight_kg,support,glazed,backed,stretcher,frame_depth_mm,"
                 "tacking_margins,owner,care,care_until",
    "layers": "painting,order,role,material,area,applied_on,assumed,note",
    "treatments": "id,painting,kind,on,material,end,temp_interface_c,note",
    "stays": "painting,place,position,from,to,intended,purpose",
}  # fmt: skip
FACE = ("varnish:natural_resin_varnish", "paint:oil_paint", "ground:glue_ground", "size:animal_glue", "canvas:linen")


@dataclass(frozen=True)
class Air:
    """Hourly or finer readings of one logger. Index in UTC; NaN where it read nothing."""

    time: pd.DatetimeIndex
    temp_c: np.ndarray
    rh_percent: np.ndarray

    def between(self, start: pd.Timestamp, end: pd.Timestamp) -> Air:
        """The readings of [start, end)."""
        part = slice(*self.time.searchsorted([start, end]).tolist())
        return Air(self.time[part], self.temp_c[part], self.rh_percent[part])


@dataclass(frozen=True)
class Told:
    """One raised finding of a painting, as the review has it."""

    level: str
    hazard: str
    mechanism: str
    layer: str
    sentence: str
    do: str
    state: str = ""
    ended: bool = False
    standing: str = ""  # why it asks for nothing: met before, answered by a look, told and no worse
    met: bool = False  # met before


@dataclass(frozen=True)
class Row:
    """One painting in one review.

    list : trouble, put off, told (in an earlier week), standing (met before), not seen, waiting, quiet, left out.
    level : of the line, by which it is counted. leads : the finding under which it stands.
    fetch : what is to be done about what is not known.
    """

    monday: str  # its date by the studio's clock
    painting: str
    list: str
    level: str
    leads: Told | None = None
    told: tuple[Told, ...] = ()
    fetch: str = ""
    standing: str = ""

    @property
    def asks(self) -> bool:
        """Whether the review asks somebody for something."""
        return self.list == "trouble"

    @property
    def worst(self) -> Told | None:
        """The worst of what asks for something."""
        return max((t for t in self.told if not t.standing), key=lambda t: reached(t.level), default=None)

    @property
    def words(self) -> str:
        """What it is raised by, in a line."""
        worst = self.worst
        if worst is None:
            return self.standing
        head = self.leads
        leads = "" if head is None or head == worst else f" (led by {head.level}, {head.mechanism})"
        return f"{worst.level}{', over' if worst.ended else ''}: {worst.sentence}{leads}"


@dataclass
class Life:
    """A studio that is lived in. Close it, or use it in a `with`."""

    zone: str = "Europe/Berlin"
    folder: Path = field(default_factory=lambda: Path(tempfile.mkdtemp(prefix="mondays-")))
    rows: list[Row] = field(default_factory=list)
    questions: list[str] = field(default_factory=list)  # that files asked, each answered at once

    def __post_init__(self) -> None:
        self.studio = Studio.create(self.folder / "studio", name="Mondays", zone=self.zone)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.studio.close()
        shutil.rmtree(self.folder, ignore_errors=True)

    def register(self, **sheets: Iterable[Mapping[str, object]]) -> None:
        """Import rows of the register's CSV files, each a mapping of its columns; the rest stays empty."""
        into = Path(tempfile.mkdtemp(dir=self.folder))
        for name, rows in sheets.items():
            with (into / f"{name}.csv").open("w", newline="", encoding="utf-8") as file:
                out = csv.DictWriter(file, SHEETS[name].split(","))
                out.writeheader()
                out.writerows(rows)
        self.studio.import_register(into)

    def fetch(self, read: Mapping[str, Air], start: pd.Timestamp, end: pd.Timestamp) -> None:
        """Each logger's file of [start, end), added in one go. A logger without readings then has no file."""
        into = Path(tempfile.mkdtemp(dir=self.folder))
        for logger, air in read.items():
            part = air.between(start, end)
            seen = np.isfinite(part.temp_c)
            if seen.any():
                write_log(into / f"{logger}.csv", logger, part, seen)
        paths = sorted(into.glob("*.csv"))
        if not paths:
            return
        for outcome in self.studio.add(paths).outcomes:
            if outcome.status == "in the tray" and outcome.number is not None:
                self._answer(outcome)
            elif outcome.status != "kept":
                raise RuntimeError(f"{outcome.name}: {outcome.status} {outcome.reason}")

    def _answer(self, asked: FileOutcome) -> None:
        """A person answers what a file is asked: these logs are in °C, by their header."""
        self.questions.append(asked.question)
        again = self.studio.add([asked.number], Answers(temp_unit="C"))
        if not again.ok:
            raise RuntimeError(f"{asked.name}: still {again.outcomes[0].status}: {again.outcomes[0].question}")

    def look(
        self, painting: str, on: pd.Timestamp | str, sign: str = NOTHING_NEW, look: str = "own", by: str = "me"
    ) -> None:
        """Enter a look, by default one of one's own that found nothing new."""
        self.studio.observe(painting, _day(on), sign, look=look, by=by)

    def monday(self, now: pd.Timestamp) -> list[Row]:
        """The review of the week before, made and kept; a row a painting."""
        made = review.keep(self.studio, review.make(self.studio, now))
        rows = rows_of(made, now)
        self.rows += rows
        return rows


def live(
    life: Life, read: Mapping[str, Air], first: pd.Timestamp, until: pd.Timestamp,
    before: Callable[[pd.Timestamp], None] = lambda monday: None,
) -> list[Row]:  # fmt: skip
    """Every Monday of [first, until]: what happened up to then is entered, files are fetched, the review is made.

    first, until : midnights of Mondays in the studio's zone. What was read before `first` comes in one file then.
    before : called with the Monday's clock, for looks and moves.
    """
    rows: list[Row] = []
    fetched = min(air.time[0] for air in read.values())
    for monday in pd.date_range(first, until, freq="7D"):
        now = (monday + FETCH_H).tz_convert("UTC")
        life.fetch(read, fetched, now)
        fetched = now
        before(now)
        rows += life.monday(now)
    return rows


def rows_of(made: Any, now: pd.Timestamp) -> list[Row]:
    """A row a painting, by the list of the review it stands in."""
    lists = {"trouble": made.trouble, "put off": made.put_off, "told": made.told,
             "standing": made.standing,
             "not seen": made.not_seen, "waiting": made.waiting, "quiet": made.quiet}  # fmt: skip
    day = f"{now.tz_convert(made.period.zone):%Y-%m-%d}"
    found = [_row(line, word, day) for word, lines in lists.items() for line in lines]
    twice = len(found) - len({row.painting for row in found})
    if twice:
        raise RuntimeError(f"{day}: {twice} paintings stand in two lists of one review")
    return found + [Row(day, title, "left out", "not known") for title, _ in made.left_out]


def _row(line: Any, word: str, day: str) -> Row:
    fetch = " ".join(f.do for f in line.verdict.unseen)
    head = None if line.headline is None else _told(line.headline)
    told = tuple(map(_told, line.verdict.raised))
    return Row(day, line.id, word, line.level.word, head, told, fetch, line.standing)


def _told(f: Finding) -> Told:
    later = (str(f.state or ""), f.ended is not None, f.standing, f.met)
    return Told(f.level.word, str(f.hazard), str(f.mechanism), f.layer, f.sentence, f.do, *later)


def reached(level: str) -> int:
    """A level's rank by its word; 0 for what is none."""
    return next((int(each) for each in Level if each.word == level), 0)


def write_log(path: Path, logger: str, air: Air, seen: np.ndarray) -> None:
    """A logger's file: a serial number in the header, its clock at UTC."""
    pd.DataFrame(
        {"clock UTC": air.time[seen].strftime("%Y-%m-%d %H:%M:%S"),
         f"air °C [S/N: {logger}]": np.round(air.temp_c[seen], 2),
         f"air % RH [S/N: {logger}]": np.round(air.rh_percent[seen], 2)}
    ).to_csv(path, index=False)  # fmt: skip


def logger(key: str, accuracy_percent: float = 2.0) -> dict[str, object]:
    """A row of loggers.csv."""
    return {"id": key, "name": f"Logger {key}", "labels": key, "zone": "UTC", "fetch_days": 7,
            "temp_accuracy_c": 0.3, "rh_accuracy_percent": accuracy_percent, "calibrated_on": ""}  # fmt: skip


def painting(key: str, title: str, **cells: object) -> dict[str, object]:
    """A row of paintings.csv."""
    usual = {"maker": "unknown", "made": "about 1880", "height_cm": 70, "width_cm": 60, "support": "linen canvas",
             "glazed": "no", "backed": "no", "stretcher": "softwood, keyed", "tacking_margins": "intact",
             "owner": "the studio", "care": "in store"}  # fmt: skip
    return {"id": key, "title": title, **usual, **cells}


def layers(key: str, *more: str) -> list[dict[str, object]]:
    """Rows of layers.csv: the face, then `role:material` or `role:material:date`, then the stretcher."""
    words = [each.split(":") for each in (*FACE, *more, "stretcher:softwood")]
    return [
        {"painting": key, "order": n, "role": word[0], "material": word[1], "area": "whole",
         "applied_on": word[2] if len(word) > 2 else ""}
        for n, word in enumerate(words, 1)
    ]  # fmt: skip


def _day(on: pd.Timestamp | str) -> str:
    return on if isinstance(on, str) else f"{on:%Y-%m-%d}"
