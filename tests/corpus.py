"""Reads the corpus of open logger files and counts: right, asked, refused though good, wrong.

`python -m tests.corpus` prints a line for each file that is not right, and the totals; `--only NAME` one file,
`--verbose` what each gave. The expectations in `open_data/corpus/expected.csv` were written by hand, from looking at
the files.

outcome : what is right, "read", "ask" or "refuse"; of two, either is.
question : the field that the question must bear, where the expectation names one.
probes, rows : probes, and readings of all probes together; empty: not judged.
first, last : the record's ends, in UTC where the file bears an offset or a zone, else as written.
readings : LINE:TEMP_C:RH_PERCENT, "-" without humidity; any probe may hold it.

right : the expectation is met. asked : a question though the file could be read ("read|ask" too). refused : refused
though good. wrong : readings kept, without a question, that differ from the expectation, or any where none are right.
"""

from __future__ import annotations

import argparse
import csv
import tempfile
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pandas as pd

from envwatch import logs
from envwatch.core.errors import EnvwatchError, Question
from tests import corpus_shapes

NOW = pd.Timestamp("2026-12-31", tz="UTC")
CLOSE = 0.06  # a temperature or humidity as written to one place, or turned from °F or K


class Expected(NamedTuple):
    """What a file should give; texts as in `expected.csv`."""

    name: str
    outcome: str
    question: str
    probes: str
    rows: str
    first: str
    last: str
    readings: str


class Verdict(NamedTuple):
    name: str
    word: str
    why: str


def expectations() -> list[Expected]:
    with (corpus_shapes.HERE / "expected.csv").open(encoding="utf-8", newline="") as stream:
        return [Expected(**row) for row in csv.DictReader(stream)]


def holds(log: logs.LogFile, reading: str) -> bool:
    """Whether some probe has this reading on this line."""
    line, temp, rh = reading.split(":")
    for probe in log.channels:
        for at in np.flatnonzero(probe.line == int(line)):
            dry = not np.isfinite(probe.rh_percent[at])
            damp = dry if rh == "-" else not dry and abs(probe.rh_percent[at] - float(rh)) < CLOSE
            if damp and abs(probe.temp_c[at] - float(temp)) < CLOSE:
                return True
    return False


def differences(log: logs.LogFile, expected: Expected) -> Iterator[str]:
    times = np.concatenate([c.time for c in log.channels])
    ends = [str(pd.Timestamp(int(t), unit="us").floor("s")) for t in (times.min(), times.max())]
    wanted = [str(pd.Timestamp(t)) if t else "" for t in (expected.first, expected.last)]
    found = (str(len(log.channels)), str(len(times)), *ends)
    right = (expected.probes, expected.rows, *wanted)
    for what, is_, should in zip(("probes", "rows", "first", "last"), found, right, strict=True):
        if should and is_ != should:
            yield f"{what} {is_}, expected {should}"
    missing = [r for r in expected.readings.split() if not holds(log, r)]
    if missing:
        yield f"not held: {' '.join(missing)}"


def judge(path: Path, expected: Expected) -> Verdict:
    """One file read with the clock on UTC, beside what was expected."""
    allowed = expected.outcome.split("|")
    try:
        log = logs.read(path, logs.Answers(zone="UTC"), now=NOW)
    except Question as question:
        fits = allowed[0] == "ask" or allowed[0] == "refuse" and "ask" in allowed
        right = fits and expected.question in ("", question.field)
        return Verdict(expected.name, "right" if right else "asked", question.sentence)
    except EnvwatchError as refusal:
        return Verdict(expected.name, "right" if "refuse" in allowed else "refused", str(refusal))
    if "read" not in allowed:
        return Verdict(expected.name, "wrong", f"read as {columns(log)}, expected {expected.outcome}")
    found = list(differences(log, expected))
    return Verdict(expected.name, "wrong" if found else "right", "; ".join(found) or columns(log))


def columns(log: logs.LogFile) -> str:
    return f"{len(log.channels)} probe(s), {', '.join(log.layout.columns)}"


def score(only: str = "") -> list[Verdict]:
    """Every file judged, or those whose name holds `only`."""
    with tempfile.TemporaryDirectory() as folder:
        paths = corpus_shapes.write_all(Path(folder))
        return [judge(paths[e.name], e) for e in expectations() if only in e.name]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--only", default="", help="files whose name holds this")
    parser.add_argument("--verbose", action="store_true", help="what the files that are right gave, too")
    options = parser.parse_args()
    verdicts = score(options.only)
    for verdict in verdicts:
        if options.verbose or verdict.word != "right":
            print(f"{verdict.word:8}{verdict.name}: {verdict.why}")
    counts = Counter(v.word for v in verdicts)
    shares = (f"{counts[w]} {w} ({counts[w] / len(verdicts):.0%})" for w in ("right", "asked", "refused", "wrong"))
    print(f"{len(verdicts)} files: {', '.join(shares)}")


if __name__ == "__main__":
    main()
