"""Reviews lived through Monday by Monday: how often ordinary life asks, what dangers are told when, what never stands.

Run: python -m tests.bench.mondays [--seed N] [--part a|b|c] [--record FILE --zone Z ...] [--quick] [--processes 2]
     [--again NAME]

(a) A second real year after a first in a lived-in house, ten settled paintings; `--record FILE --zone Z`, given as
    often as there are files of one room, lives through another house's two years instead.
(b) Dangers in five strengths, times drawn by the seed, expectations in `mondays_dangers.csv`.
(c) Slow histories that may not stand as met before, and one that may, expectations in `mondays_slow.csv`.

Studios are made in a temporary folder by what a person may do: the register's CSV files, loggers' files added on Monday
at 09:00, looks, moves and treatments on their day, the week's review made and kept.
"""

from __future__ import annotations

import argparse
import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from tests.bench import mondays_dangers, mondays_house, mondays_slow


def main() -> None:
    """Run the parts asked for."""
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("--seed", type=int, default=1)
    ask.add_argument("--part", choices=("a", "b", "c"))
    ask.add_argument("--record", action="append", default=[], help="a logger's file of one room; may be repeated")
    ask.add_argument("--zone", action="append", default=[], help="of each file's clock, such as Etc/GMT-2")
    ask.add_argument("--quick", action="store_true", help="a sample of each part, under two minutes")
    ask.add_argument("--processes", type=int, default=2)
    ask.add_argument("--again", default="", help="only what has this in its name, told Monday by Monday")
    asked = ask.parse_args()
    paths = asked.record or [str(path) for path in mondays_house.RECORDS]
    zones = asked.zone or [mondays_house.HOUSE_ZONE]
    zones += zones[-1:] * (len(paths) - len(zones))
    if asked.part in (None, "a"):
        print("(a) ordinary life")
        mondays_house.main(paths, zones, asked.seed, asked.quick, asked.processes, asked.again)
    if asked.part in (None, "b"):
        print("\n(b) dangers")
        mondays_dangers.main(asked.seed, asked.quick, asked.processes, asked.again)
    if asked.part in (None, "c"):
        print("\n(c) slow histories")
        mondays_slow.main(asked.seed, asked.quick, asked.processes, asked.again)


if __name__ == "__main__":
    main()
