"""Sets of files taken in by several orders and batches, with the same answers: each logger's readings are the same.

    python -m tests.long.orders [--sets 50] [--orders 5] [--seed 1]

A set is of two to four loggers, each with an air of its own, whose files go on from one another, overlap, leave days
out, come twice or corrected, under names as people give them: their own with dates, numbers, folders, general words,
words that others share, nothing in common, a serial inside. All loggers stand in the register, some under a word that
is in their files' names. Once all are in, a person who knows whose each file is answers what waits, in any order, by
its logger. However that goes, the files must lie in the same groups, with the same readings. Files of two loggers in
one group are counted as mixed, files of one in two groups as apart.
"""

from __future__ import annotations

import argparse
import random
import sys
import tempfile
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

from envwatch.archive import Studio
from tests.test_archive import MONDAY

WORDS = ("klima", "Daten", "Nord", "Keller", "Loft", "export", "Messung", "Galerie")
OWN = ("Amsel", "Biber", "Dachs", "Elster")  # loggers that no file's name tells
STYLES = ("own", "dated", "numbered", "folder", "general", "shared", "apart", "serial", "registered")


@dataclass(frozen=True)
class MadeFile:
    """A file of a set: its name with its folders, whose it is, and what stands in it."""

    name: str
    whose: int
    text: str


def made(dice: random.Random) -> tuple[list[MadeFile], list[str]]:
    """The files of a set, and the names under which the loggers are in the register."""
    files: dict[str, MadeFile] = {}
    registered: list[str] = []
    words = dice.sample(WORDS, 5)
    alike = dice.random() < 0.3  # the airs are near one another
    for whose in range(dice.randint(2, 4)):
        style, word = dice.choice(STYLES), words[whose]
        minutes = dice.choice((30, 30, 30, 60))
        temp_c = 18.0 + (0.8 if alike else 3.0) * whose
        registered.append(word if style == "registered" else OWN[whose])
        start, n = MONDAY + pd.Timedelta(days=dice.choice((0, 0, 0, 3))), dice.randint(2, 5)
        for k in range(n):
            days = dice.randint(1, 4)
            rows = _rows(whose, temp_c, start, days * 1440 // minutes, minutes, dice)
            name = _name(style, word, words, whose, k, start, dice)
            while name in files:
                name = f"{k}/{name}"
            head = f"Serial Number: SR-77{whose}4\n\n" if style == "serial" else ""
            files[name] = MadeFile(name, whose, f"{head}Time,Temperature (°C),Relative humidity (%)\n{rows}")
            gap_h = dice.choice((0.5, 0.5, 0.5, -24, -12, 24, 24 * 6))
            start = start + pd.Timedelta(days=days) + pd.Timedelta(hours=gap_h)
    return list({file.text: file for file in files.values()}.values()), registered


def _rows(whose: int, temp_c: float, start: pd.Timestamp, count: int, minutes: int, dice: random.Random) -> str:
    """A logger's readings of a time: the same whichever file they stand in, but for a correction now and then."""
    at = pd.date_range(start.ceil(f"{minutes}min"), periods=count, freq=f"{minutes}min")
    seconds = at.as_unit("s").asi8
    wave = np.sin(seconds / (17_000 + 1900 * whose)) + 0.3 * np.sin(seconds / 3_100 + whose)
    digits = dice.choice((1, 1, 2))
    off = 1.5 if dice.random() < 0.08 else 0.0
    return "".join(f"{one:%Y-%m-%dT%H:%M:%S}Z,{temp_c + off + w:.{digits}f},{50 + 3 * whose + 2 * w:.{digits}f}\n"
                   for one, w in zip(at, wave, strict=True))  # fmt: skip


def _name(style: str, word: str, words: list[str], whose: int, k: int, start: pd.Timestamp, dice: random.Random) -> str:
    day = f"{start:%Y-%m-%d}"
    return {
        "own": f"{word}{f' ({k})' if k else ''}.csv",
        "dated": f"{word} {day}.csv",
        "numbered": f"{word} {k}.csv",
        "folder": f"{word}/klima.csv",
        "general": f"{day}.csv" if k % 2 else f"{words[4]}.csv",
        "shared": f"{words[4]} {word} {day}.csv",
        "apart": f"{dice.choice('abcdefgh')}{dice.choice('xyz')}{dice.choice('klmn')}.csv",
        "serial": f"{dice.choice(words)} {k}.csv",
        "registered": f"{word} {day}.csv" if k else f"{words[4]}/{word}.csv",
    }[style]


def taken(files: list[MadeFile], registered: list[str], dice: random.Random, folder: Path) -> tuple[list[tuple], int]:
    """The set by one order: groups of files with their readings, and how many files a person was asked about."""
    order = dice.sample(files, len(files))
    with Studio.create(folder / "s", name="x", zone="UTC") as studio:
        for word in registered:
            studio.enter("logger", {"id": word.casefold(), "name": word})
        while order:
            some, order = order[: (cut := dice.randint(1, 3))], order[cut:]
            batch = folder / f"batch{len(order)}"
            for file in some:
                path = batch / file.name
                path.parent.mkdir(parents=True, exist_ok=True)
                path.write_text(file.text, encoding="utf-8")
            studio.add([batch])
        whose = {file.name: registered[file.whose].casefold() for file in files}
        answered = set()
        for _ in range(10 * len(files)):
            if not (waiting := studio.tray()):
                break
            item = dice.choice(waiting)
            studio.add([item.number], logger=whose[item.name])
            answered.add(item.name)
        assert not studio.tray(), studio.tray()
        return _groups(studio), len(answered)


def held(studio: Studio) -> dict[str, str]:
    """Each kept file's logger."""
    with studio.reading() as connection:
        return dict(connection.exec_driver_sql("SELECT name, logger FROM files ORDER BY id").all())


def _groups(studio: Studio) -> list[tuple]:
    by: dict[str, list[str]] = {}
    for name, logger in held(studio).items():
        by.setdefault(logger, []).append(name)
    out = []
    for logger, names in by.items():
        rows = studio.reader.series(studio.state().parts.get(logger, []))
        values = {(int(t), round(float(c), 4), round(float(h), 4))
                  for s in rows.values() for t, c, h in zip(s.time, s.temp_c, s.rh_percent, strict=True)}  # fmt: skip
        out.append((tuple(sorted(names)), hash(frozenset(values))))
    return sorted(out)


def run(sets: int, orders: int, seed: int, folder: Path, told: bool = False) -> Counter:
    """So many sets by so many orders; counts of sets whose orders differ, mix or part."""
    counted: Counter = Counter()
    for n in range(sets):
        number = seed * 1000 + n
        files, registered = made(random.Random(number))
        whose = {file.name: file.whose for file in files}
        found = []
        for k in range(orders):
            place = folder / f"{number}-{k}"
            place.mkdir(parents=True)
            groups, answered = taken(files, registered, random.Random(f"{number}/{k}"), place)
            found.append(groups)
            counted["answered"] += answered
            counted["unasked"] += len(files) - answered
            counted["mixed"] += any(len({whose[name] for name in names}) > 1 for names, _ in groups)
            counted["apart"] += len(groups) > len(set(whose.values()))
        counted["sets"] += 1
        counted["files"] += len(files)
        if any(groups != found[0] for groups in found):
            counted["differ"] += 1
            if told:
                _tell(number, files, registered, found)
    return counted


def _tell(number: int, files: list[MadeFile], registered: list[str], found: list[list[tuple]]) -> None:
    print(f"set {number}: registered {registered}")
    for file in files:
        rows = file.text.strip().split("\n")
        print(
            f"   {file.whose} {file.name:40} {rows[-len(rows) + 3].partition(',')[0]} .. {rows[-1].partition(',')[0]}"
        )
    for groups in dict.fromkeys(tuple(groups) for groups in found):
        print("  ", found.count(list(groups)), "times:", " | ".join(", ".join(names) for names, _ in groups))


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    asked.add_argument("--sets", type=int, default=50)
    asked.add_argument("--orders", type=int, default=5)
    asked.add_argument("--seed", type=int, default=1)
    given = asked.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        counted = run(given.sets, given.orders, given.seed, Path(folder), told=True)
    print(dict(counted))
    sys.exit(bool(counted["differ"]))


if __name__ == "__main__":
    main()
