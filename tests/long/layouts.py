"""Composed files of every property through the reader: right, asked, refused, or wrong.

    python -m tests.long.layouts --seed N [--files 10000] [--processes 2] [--first 0]
    python -m tests.long.layouts --again SEED:N [--into FOLDER]

`tests/composed` draws each file's language, delimiter, decimal mark, encoding, header, stamps, schedule, further
columns, shape and losses, and knows what it holds. Right: every reading with its time, and no other; or a question or
refusal where the file cannot tell. Each wrong one is named with the number that makes it again; then exit code 1.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import NamedTuple

import numpy as np

from envwatch import logs
from envwatch.core.errors import BadInput, Question
from envwatch.logs import Answers
from tests.composed.climates import NOW, Air
from tests.composed.compose import Composed, composed

RIGHT, ASKED, REFUSED, WRONG = "right", "asked", "refused", "wrong"
CHUNK, CLOSE = 50, 0.006


class Outcome(NamedTuple):
    """What came of one file; `kind` groups what is not right, `text` tells it."""

    number: int
    word: str
    kind: str = ""
    text: str = ""


def tried(seed: int, number: int, folder: Path) -> tuple[Composed, Outcome]:
    """Write one file, read it, and hold it against what it truly holds."""
    made = composed(seed, number)
    path = folder / made.name
    path.write_bytes(made.content)
    try:
        log = logs.read(path, Answers(zone="UTC"), now=NOW)
    except Question as question:
        return made, Outcome(number, ASKED if made.telling else RIGHT, question.field, str(question))
    except BadInput as refusal:
        text = str(refusal)
        word = WRONG if "unforeseen fault" in text else REFUSED if made.telling else RIGHT
        return made, Outcome(number, word, _kind(text.partition(": ")[2]), text)
    finally:
        path.unlink()
    if not made.telling:
        what = "columns" if "extremes alone" in made.properties else "times"
        return made, Outcome(number, WRONG, what, "read although the file cannot tell them")
    kind, text = difference(made, log)
    return made, Outcome(number, WRONG if kind else RIGHT, kind, text)


def _kind(text: str) -> str:
    """A refusal's words without what differs from file to file."""
    return " ".join(word for word in text.split()[:12] if word.isalpha())


def difference(made: Composed, log) -> tuple[str, str]:
    """The first difference between what was read and what is true: its class and words; "" where there is none."""
    left = list(log.channels)
    for probe, label in zip(made.probes, made.labels, strict=True):
        said = [_against(probe, made.lost, channel) for channel in left]
        if ("", "") not in said:
            return next(
                (s for s in said if s[0] == "values"), said[0] if said else ("columns", f"probe {label!r} lost")
            )
        channel = left.pop(said.index(("", "")))
        if channel.label in made.labels and channel.label != label:
            return "columns", f"the readings of {label!r} were called {channel.label!r}"
    return ("columns", f"more probes than there are: {[c.label for c in left]}") if left else ("", "")


def _against(probe: Air, lost: np.ndarray, channel) -> tuple[str, str]:
    when = probe.time[~lost].as_unit("us").asi8
    if len(channel.time) != len(when):
        return "rows", f"{len(channel.time)} readings of {len(when)}"
    if (channel.time != when).any():
        at = int(np.flatnonzero(channel.time != when)[0])
        return (
            "times",
            f"reading {at}: {np.datetime64(int(channel.time[at]), 'us')} for {np.datetime64(int(when[at]), 'us')}",
        )
    for what, got, true in (
        ("temperature", channel.temp_c, probe.temp_c),
        ("humidity", channel.rh_percent, probe.rh_percent),
    ):
        off = np.flatnonzero(~((np.abs(got - true[~lost]) < CLOSE) | (np.isnan(got) & np.isnan(true[~lost]))))
        if len(off):
            return "values", f"{what} {off[0]}: {got[off[0]]} for {true[~lost][off[0]]} ({len(off)} differ)"
    return "", ""


def chunk(seed: int, begin: int, end: int) -> list[Outcome]:
    """Some files, one after the other."""
    with tempfile.TemporaryDirectory() as folder:
        return [tried(seed, number, Path(folder))[1] for number in range(begin, end)]


def run(seed: int, files: int, processes: int = 1, first: int = 0) -> list[Outcome]:
    """All files; wrong ones are told at once."""
    spans = [(seed, at, min(at + CHUNK, first + files)) for at in range(first, first + files, CHUNK)]
    found: list[Outcome] = []
    if processes < 2:
        for span in spans:
            found += _told(seed, chunk(*span))
        return found
    with ProcessPoolExecutor(processes) as pool:
        for some in pool.map(chunk, *zip(*spans, strict=True)):
            found += _told(seed, some)
    return found


def _told(seed: int, some: list[Outcome]) -> list[Outcome]:
    for outcome in some:
        if outcome.word == WRONG:
            print(f"wrong, {outcome.kind}: {outcome.text[:140]} (--again {seed}:{outcome.number})", flush=True)
    return some


def report(found: list[Outcome], seed: int) -> bool:
    """The score, and for what was asked, refused or wrong how often and a number that makes one again."""
    count = Counter(outcome.word for outcome in found)
    print(
        ", ".join(f"{word} {count[word]} ({count[word] / len(found):.1%})" for word in (RIGHT, ASKED, REFUSED, WRONG))
    )
    for word in (ASKED, REFUSED, WRONG):
        kinds = Counter(outcome.kind for outcome in found if outcome.word == word)
        for kind, times in kinds.most_common(15):
            one = next(o for o in found if (o.word, o.kind) == (word, kind))
            print(f"  {word} {times:5d}  {kind}: --again {seed}:{one.number}")
    return not count[WRONG]


def again(which: str, folder: Path) -> bool:
    """One file once more: written, described, and what was read beside what is true."""
    seed, number = map(int, which.split(":"))
    folder.mkdir(parents=True, exist_ok=True)
    made, outcome = tried(seed, number, folder)
    (folder / made.name).write_bytes(made.content)
    print(folder / made.name)
    for what, value in made.properties.items():
        print(f"  {what}: {value}")
    print(f"{outcome.word} {outcome.kind}: {outcome.text}")
    return outcome.word != WRONG


def main() -> int:
    """Exit code 1 where any file is read wrong."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--files", type=int, default=10_000)
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--again", help="SEED:N, one file once more")
    parser.add_argument("--into", type=Path, default=Path(tempfile.gettempdir()) / "layouts")
    asked = parser.parse_args()
    if asked.again:
        return 0 if again(asked.again, asked.into) else 1
    begun = time.monotonic()
    well = report(run(asked.seed, asked.files, asked.processes, asked.first), asked.seed)
    print(f"{time.monotonic() - begun:.0f} s")
    return 0 if well else 1


if __name__ == "__main__":
    sys.exit(main())
