"""Damage readings on disk in every way a disk or a person does, and have them made again from the originals.

    python -m tests.long.damage [--times 200] [--seed 1]

Each time one to three of the parts get a bit turned over, a stretch of zeros, their end cut off, another part's
content, or are emptied or deleted. `check` must name each of them and no other; `check --rebuild` must give back every
reading, mark, source file and line, row for row; and a review's reading of a damaged part is refused, never half.
"""

from __future__ import annotations

import argparse
import random
import shutil
import tempfile
from collections import Counter
from pathlib import Path

import pandas as pd

from envwatch.archive import Studio
from envwatch.core.errors import StudioError
from tests.test_archive import MONDAY, write_log

WAYS = ("bit", "zeros", "cut", "emptied", "deleted", "swapped")


def all_rows(studio: Studio) -> dict[tuple[str, str], pd.DataFrame]:
    """Every stored row of every logger: time, values, marks, file and line."""
    out = {}
    for logger, parts in studio.state().parts.items():
        for channel, rows in studio.reader.series(parts).items():
            out[logger, channel] = pd.DataFrame({name: getattr(rows, name) for name in rows.__dataclass_fields__})
    return out


def same(one: dict[tuple[str, str], pd.DataFrame], other: dict[tuple[str, str], pd.DataFrame]) -> bool:
    """Whether two archives are the same row for row; missing equals missing."""
    return one.keys() == other.keys() and all(one[key].equals(other[key]) for key in one)


def spoil(path: Path, how: str, others: list[Path], dice: random.Random) -> bool:
    """Damage one file; whether its content is other than it was."""
    before = path.read_bytes()
    content = bytearray(before)
    at = dice.randrange(len(content))
    if how == "bit":
        content[at] ^= 1 << dice.randrange(8)
    elif how == "zeros":
        content[at : at + 64] = bytes(len(content[at : at + 64]))
    elif how == "cut":
        del content[at:]
    elif how == "emptied":
        content.clear()
    elif how == "swapped":
        content[:] = dice.choice(others).read_bytes()
    path.write_bytes(content)
    if how == "deleted":
        path.unlink()
    return how == "deleted" or bytes(content) != before


def run(times: int, seed: int, folder: Path) -> Counter:
    """Damage so often; AssertionError: damage that was missed, or a row that did not come back."""
    dice, counted = random.Random(seed), Counter()
    with Studio.create(folder / "sound", name="Damaged", zone="UTC") as studio:
        for n in range(9):  # three loggers, overlapping files, over the turn of a year
            start = MONDAY + pd.Timedelta(days=150 * (n // 3) - 200 + n)
            studio.add([write_log(folder / f"{n}.csv", start=start, rows=3000, label=f"L{n % 3}")])
        before = all_rows(studio)
    for n in range(times):
        place = folder / f"copy{n}"
        shutil.copytree(folder / "sound", place)
        with Studio.open(place) as studio:
            paths = [part.path for parts in studio.state().parts.values() for part in parts]
            hit = {path: dice.choice(WAYS) for path in dice.sample(paths, dice.randint(1, 3))}
            spoiled = {path for path, how in hit.items()
                       if spoil(place / path, how, [place / p for p in paths if p not in hit], dice)}  # fmt: skip
            counted.update(hit.values())
            named = {line.partition(":")[0] for line in studio.check().problems} & set(paths)
            assert named == spoiled, (named, spoiled)
        with Studio.open(place) as studio:
            try:
                all_rows(studio)
                raise AssertionError(f"read although damaged: {hit}")
            except StudioError as error:
                assert "check --rebuild" in str(error) and "\n" not in str(error)
        with Studio.open(place) as studio:
            report = studio.check(rebuild=True)
            assert report.problems == () and len(report.repaired) == len(spoiled), report
            assert same(all_rows(studio), before), "a row did not come back as it was"
            assert studio.check(rebuild=True).repaired == ()
        counted["rows compared"] += sum(map(len, before.values()))
        shutil.rmtree(place)
    return counted


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
