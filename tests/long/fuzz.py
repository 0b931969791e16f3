"""Coverage-guided fuzzing of all that reads what others wrote.

    python -m tests.long.fuzz [--runs 500000] [--only logs,register,...] [--keep FOLDER] [--plain]

Wants `atheris` (pip install atheris; Linux). `--plain`: the same inputs spoilt at random, without it. The targets and
what must hold of each are in `hostile`. An input that breaks one is kept, named, and the run goes on; bounded: 6,500
bytes an input, 20 s and 2 GB at most, above which the run ends in failure. Exit code 1 where anything was found.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import random
import resource
import subprocess
import sys
import tempfile
import time
import traceback
from collections import Counter
from pathlib import Path

SHARES = {"logs": 0.40, "register": 0.16, "positions": 0.16, "facts": 0.10, "upload": 0.10, "materials": 0.04,
          "loan": 0.04}  # fmt: skip
MOST_BYTES, MOST_S, MOST_MB = 6500, 20, 2048
CODE = [
    "envwatch.logs",
    "envwatch.archive",
    "envwatch.cases.hanging.inputs",
    "envwatch.figures.materials",
    "envwatch.cases.loan",
    "dashboards.pages.files",
]


class Tally:
    """What came of the inputs: counts, the slowest, and each way of breaking once."""

    def __init__(self, keep: Path) -> None:
        self.counts: Counter = Counter()
        self.slowest, self.found, self.keep = 0.0, {}, keep

    def one(self, hostile, target: str, data: bytes) -> None:
        """Feed one input; a fault is written down, not raised."""
        begun = time.process_time()
        try:
            self.counts[hostile.take(target, data)] += 1
        except Exception as fault:
            self.counts["faults"] += 1
            self._keep(target, data, fault)
        self.counts["executions"] += 1
        self.slowest = max(self.slowest, time.process_time() - begun)

    def _keep(self, target: str, data: bytes, fault: Exception) -> None:
        cause = fault.__cause__ or fault
        where = traceback.extract_tb(cause.__traceback__)[-1]
        key = f"{target}: {type(cause).__name__} in {Path(where.filename).name}:{where.lineno} ({str(fault)[:150]})"
        short = key.partition(" (")[0]
        if short not in self.found:
            path = self.keep / f"{target}-{hashlib.sha256(data).hexdigest()[:12]}"
            path.write_bytes(data)
            self.found[short] = f"{key} {path.name}"

    def told(self) -> dict:
        """As JSON."""
        memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024
        return {"counts": self.counts, "slowest_s": self.slowest, "memory_mb": memory, "found": [*self.found.values()]}


def plain(target: str, runs: int, seed: int, folder: Path) -> Tally:
    """Inputs spoilt at random, without guidance."""
    from tests.long import hostile

    folder.mkdir(parents=True, exist_ok=True)
    dice, tally, seeds = random.Random(seed), Tally(folder), hostile.seeds(target)
    with tempfile.TemporaryDirectory() as scratch:
        place = hostile.Hostile(Path(scratch) / "work")
        for n in range(runs):
            spoilt = hostile.mutated(dice, dice.choice(seeds), dice.choice(seeds))
            tally.one(place, target, seeds[n] if n < len(seeds) else spoilt)
        place.close()
    return tally


def guided(target: str, runs: int, keep: Path, told: Path) -> None:
    """Inside a process of its own: libFuzzer ends it."""
    import atheris

    with atheris.instrument_imports(include=CODE):
        import dashboards.pages.files  # noqa: F401
        from tests.long import hostile

    scratch = tempfile.TemporaryDirectory(dir="/dev/shm" if Path("/dev/shm").is_dir() else None)
    place, tally = hostile.Hostile(Path(scratch.name) / "work"), Tally(keep)
    corpus = Path(scratch.name) / "corpus"
    corpus.mkdir()
    for n, seed in enumerate(hostile.seeds(target)):
        (corpus / str(n)).write_bytes(seed[:MOST_BYTES])
    words = Path(scratch.name) / "words"
    words.write_text("".join('"' + "".join(f"\\x{b:02x}" for b in word) + '"\n' for word in hostile.WORDS))

    def one(data: bytes) -> None:
        if tally.counts["executions"] >= runs:
            return
        tally.one(place, target, data)
        if tally.counts["executions"] % 500 == 0 or tally.counts["executions"] == runs:
            told.write_text(json.dumps(tally.told()), encoding="utf-8")

    # a few more are asked for: libFuzzer counts its own first look at the corpus otherwise from run to run
    flags = [f"-runs={runs + 100}", f"-max_len={MOST_BYTES}", f"-timeout={MOST_S}", f"-rss_limit_mb={MOST_MB}",
             f"-dict={words}", f"-artifact_prefix={keep}/", "-print_final_stats=0", "-verbosity=0"]  # fmt: skip
    atheris.Setup(["fuzz", *flags, str(corpus)], one)
    atheris.Fuzz()


def run(runs: int, only: list[str], keep: Path, unguided: bool) -> int:
    """All targets, each in its own process; how many ways of breaking were found."""
    faults, total = 0, 0
    keep.mkdir(parents=True, exist_ok=True)
    for target in only:
        share, begun = max(int(runs * SHARES[target]), 1), time.monotonic()
        if unguided:
            told = plain(target, share, 1, keep / f"plain-{target}").told()
            ended = 0
        else:
            out = keep / f"{target}.json"
            args = [sys.executable, "-m", "tests.long.fuzz", "--child", target, str(share), str(keep), str(out)]
            ended = subprocess.run(
                args, stdout=subprocess.DEVNULL, stderr=(keep / f"{target}.log").open("w")
            ).returncode
            told = json.loads(out.read_text(encoding="utf-8"))
        counts = told["counts"]
        took = time.monotonic() - begun
        outcomes = ", ".join(f"{n:,} {what}" for what, n in counts.items() if what != "executions")
        print(f"{target:10} {counts['executions']:8,} in {took:6.0f} s, slowest {told['slowest_s']:5.2f} s of CPU, "
              f"{told['memory_mb']:5,} MB at most; {outcomes}", flush=True)  # fmt: skip
        for line in told["found"]:
            print(f"    FOUND {line}", flush=True)
        if ended:
            print(f"    ENDED with {ended}: see {keep}/{target}.log", flush=True)
        faults += len(told["found"]) + bool(ended) + (counts["executions"] < share)
        total += counts["executions"]
    print(f"{total:,} executions, {faults} faults")
    return faults


def main() -> None:
    """Run it from the command line."""
    if sys.argv[1:2] == ["--child"]:
        guided(sys.argv[2], int(sys.argv[3]), Path(sys.argv[4]), Path(sys.argv[5]))
        return
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--runs", type=int, default=500_000)
    parser.add_argument("--only", default=",".join(SHARES))
    parser.add_argument("--keep", type=Path)
    parser.add_argument("--plain", action="store_true")
    said = parser.parse_args()
    keep = said.keep or Path(tempfile.mkdtemp(prefix="fuzz-"))
    raise SystemExit(1 if run(said.runs, said.only.split(","), keep, said.plain) else 0)


if __name__ == "__main__":
    main()
