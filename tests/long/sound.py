"""Many whole exposures against what must hold of every verdict (`tests.sound`), on all cores.

    python -m tests.long.sound --seed 7 --exposures 20000 [--property harsher,less] [--processes 2] [--minutes 300]
    python -m tests.long.sound --again less:7:123          # one exposure once more, as drawn and shrunk
    python -m tests.long.sound --seed 7 --first 1200       # go on with a run

Exposure n of a seed is always the same, however many run. Prints how many were tried a property, how many failed, and
of each mechanism that fails the simplest exposure found, as Python that makes it again. Through the archive go
exposures of 60 days, fifty to a studio, one in four of the number. Exit code 1 where anything fails.
"""

from __future__ import annotations

import argparse
import itertools
import multiprocessing
import os
import sys
import time
import traceback
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field, fields, replace

from tests import sound
from tests.exposures import Numbers, Whole, on_grid, whole

CERTAIN, ARCHIVE, STUDIO_OF = "certain", "archive", 50
NAMES = (*sound.PROPERTIES, CERTAIN, ARCHIVE)
SHRINK_S = 30.0


@dataclass
class Tally:
    """What came of a share of the work."""

    tried: Counter = field(default_factory=Counter)
    failed: Counter = field(default_factory=Counter)  # by property and mechanism
    first: dict = field(default_factory=dict)  # the first exposures that fail of each
    sure: int = 0
    kept: int = 0

    def add(self, other: Tally) -> None:
        """The other's counts too."""
        self.tried += other.tried
        self.failed += other.failed
        self.sure, self.kept = self.sure + other.sure, self.kept + other.kept
        for key, at in other.first.items():
            self.first[key] = min(self.first.get(key, at), at)


def drawn(seed: int, n: int) -> Whole:
    """The n-th exposure of a seed."""
    return whole(Numbers(seed, n))


def dice(name: str, seed: int, n: int) -> Numbers:
    """What a property draws for itself, apart from the exposure and from other properties."""
    return Numbers(seed, n, 1 + NAMES.index(name))


def share(names: tuple[str, ...], seed: int, numbers: range) -> Tally:
    """Some exposures through some properties."""
    tally = Tally()
    for n in numbers:
        for name in names:
            if name != ARCHIVE:
                _count(tally, name, n, tried(name, drawn(seed, n), dice(name, seed, n), tally))
            tally.tried[name] += name != ARCHIVE
    if ARCHIVE in names:
        _through_archive(tally, seed, numbers)
    return tally


def tried(name: str, exposure: Whole, throws: Numbers, tally: Tally | None = None) -> list[sound.Fault]:
    """The faults of a property; that nothing could be judged is one, of whatever error it was."""
    try:
        if name != CERTAIN:
            return sound.PROPERTIES[name](exposure, throws)
        sure, kept = sound.stays_certain(exposure, throws)
        if tally:
            tally.sure, tally.kept = tally.sure + sure, tally.kept + kept
        return []
    except Exception as error:
        return [sound.Fault(("no verdict", type(error).__name__), str(error), traceback.format_exc(limit=-3))]


def _count(tally: Tally, name: str, n: int, faults: list[sound.Fault]) -> None:
    for fault in faults:
        tally.failed[name, fault.key] += 1
        tally.first.setdefault((name, fault.key), n)


def _through_archive(tally: Tally, seed: int, numbers: range) -> None:
    for n, (_, faults) in one_studio(seed, numbers).items():
        _count(tally, ARCHIVE, n, faults)
        tally.tried[ARCHIVE] += 1


def one_studio(seed: int, numbers: range) -> dict[int, tuple[Whole, list[sound.Fault]]]:
    """One in four of some exposures through one studio: each as it was shortened, and its faults."""
    from tests.sound_archive import archive

    some = [n for n in numbers if n % 4 == 0]
    short = [replace(drawn(seed, n), days=60) for n in some]
    short = [replace(each, step_min=max(each.step_min, 30)) for each in short]
    return dict(zip(some, archive(short, dice(ARCHIVE, seed, numbers.start)), strict=True))


# ------------------------------------------------------------------------------------------------- shrinking


def simplest(name: str, key: sound.Key, seed: int, n: int, most_s: float = SHRINK_S) -> Whole:
    """The simplest exposure found within a time that still fails of the same mechanism, by the same dice."""
    held, until = drawn(seed, n), time.monotonic() + most_s
    going = True
    while going and time.monotonic() < until:
        going = False
        for simpler in _simpler(held):
            if time.monotonic() > until:
                break
            if any(fault.key == key for fault in tried(name, simpler, dice(name, seed, n))):
                held, going = simpler, True
                break
    return held


def _simpler(held: Whole) -> Iterator[Whole]:
    plain = Whole(end_h=held.end_h, seed=held.seed)
    for one in fields(Whole):
        if getattr(held, one.name) != getattr(plain, one.name):
            yield on_grid(replace(held, **{one.name: getattr(plain, one.name)}))
    for name in ("moves", "gaps", "coats", "points"):
        items = getattr(held, name)
        for at in range(len(items)):
            if at if name == "points" else len(items) > 1 or name in ("moves", "gaps"):
                yield replace(held, **{name: items[:at] + items[at + 1 :]})
    if held.days > 61:
        yield replace(held, days=(held.days + 60) // 2)
    for at, its in enumerate(held.rooms):
        for drop in range(len(its.spells)):
            yield sound.with_spells(held, at, its.spells[:drop] + its.spells[drop + 1 :])
        for one in ("season_k", "season_rh", "day_k", "day_rh", "weather_k", "weather_rh"):
            if getattr(its, one):
                rooms = list(held.rooms)
                rooms[at] = replace(its, **{one: 0.0})
                yield replace(held, rooms=tuple(rooms))


# ------------------------------------------------------------------------------------------------- the run


def run(names: tuple[str, ...], seed: int, exposures: int, processes: int, minutes: float, first: int = 0) -> Tally:
    """All of it, shared between processes."""
    begin = first // STUDIO_OF * STUDIO_OF
    parts = [range(at, min(at + STUDIO_OF, exposures)) for at in range(begin, exposures, STUDIO_OF)]
    total, until = Tally(), time.monotonic() + 60 * minutes
    with multiprocessing.get_context("spawn").Pool(processes) as pool:
        made = pool.imap_unordered(_star, zip(itertools.repeat(names), itertools.repeat(seed), parts, strict=False))
        for done, tally in enumerate(made, 1):
            total.add(tally)
            for (name, key), n in tally.first.items():
                print(f"{name}, {': '.join(key)}: --again {name}:{seed}:{n}", file=sys.stderr, flush=True)
            if done % 20 == 0:
                print(f"{done * STUDIO_OF} exposures, {sum(total.failed.values())} faults", file=sys.stderr, flush=True)
            if time.monotonic() > until:
                print(f"stopped after {minutes:g} minutes")
                break
    return total


def _star(job: tuple) -> Tally:
    return share(*job)


def report(total: Tally, seed: int) -> bool:
    """Print it; whether all is well."""
    for name, count in total.tried.items():
        wrong = {key: n for (of, key), n in total.failed.items() if of == name}
        words = ", ".join(f"{': '.join(key)} {n}" for key, n in sorted(wrong.items(), key=lambda item: -item[1]))
        print(f"{name}: {count} exposures, {sum(wrong.values())} failures{': ' if wrong else ''}{words}")
    well = True
    if total.sure:
        print(f"{CERTAIN}: {total.kept} of {total.sure} certain findings stay certain ({total.kept / total.sure:.2%})")
        well = total.kept >= 0.95 * total.sure
    for (name, key), n in sorted(total.first.items()):
        well = False
        print(f"\n{name}, {': '.join(key)}: --again {name}:{seed}:{n}")
        if name != ARCHIVE:
            print(f"  {simplest(name, key, seed, n)!r}")
    return well


def again(which: str) -> bool:
    """One exposure once more."""
    name, seed, n = which.split(":")
    if name == ARCHIVE:  # together with those that share its studio
        begin = int(n) // STUDIO_OF * STUDIO_OF
        held, faults = one_studio(int(seed), range(begin, begin + STUDIO_OF))[int(n)]
        print(repr(held), *faults, sep="\n")
        return not faults
    held = drawn(int(seed), int(n))
    print(repr(held))
    faults = tried(name, held, dice(name, int(seed), int(n)))
    for fault in faults:
        print(fault)
        print("  simplest:", repr(simplest(name, fault.key, int(seed), int(n))))
    return not faults


def main() -> int:
    """Exit code 1 where anything fails."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--exposures", type=int, default=20_000)
    parser.add_argument("--property", default=",".join(NAMES))
    parser.add_argument("--processes", type=int, default=os.cpu_count())
    parser.add_argument("--minutes", type=float, default=600)
    parser.add_argument("--first", type=int, default=0, help="begin with this exposure, to go on with a run")
    parser.add_argument("--again")
    asked = parser.parse_args()
    if asked.again:
        return 0 if again(asked.again) else 1
    names = tuple(name for name in NAMES if name in asked.property.split(","))
    made = run(names, asked.seed, asked.exposures, asked.processes, asked.minutes, asked.first)
    return 0 if report(made, asked.seed) else 1


if __name__ == "__main__":
    sys.exit(main())
