"""What a studio folder meets in years of use, done to it for real.

    python -m tests.long.faults [full_disk|read_only|vanishing|clock|writers ...] [--times N] [--seed N]

full_disk   a small disk (tmpfs) filled up to a random remainder before each add, undo, entry, review and sheet
read_only   every command of the terminal in a folder that may only be read, by a user who is not root
vanishing   logger files deleted, cut short and grown while they are added
clock       the computer's clock set back by years and put forward between commands (libfaketime)
writers     several programs that add, observe and undo at the same time

Each time: what was acknowledged is there, what was refused changed nothing and was told in one line, and
`check --rebuild` finds the folder whole. Linux; `full_disk` wants root or user namespaces, `clock` wants `faketime`.
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import os
import random
import shutil
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter
from pathlib import Path

import pandas as pd
from sqlalchemy import select

from envwatch.archive import Studio, reviews
from envwatch.archive.store.tables import FILES, OBSERVATIONS, REVIEWS, STAYS
from envwatch.core.errors import BadInput, StudioError
from tests.long.kills import REGISTER
from tests.program import beside
from tests.test_archive import MONDAY, readings, write_log

NOBODY = 65534
DISK_KB, MOST_LEFT_KB = 8192, 400
DAY = pd.Timedelta(days=1)


def made(folder: Path, name: str = "studio") -> Path:
    """A studio with a register, two loggers and their readings."""
    (folder / "register").mkdir(exist_ok=True)
    for file, text in REGISTER.items():
        (folder / "register" / file).write_text(text, encoding="utf-8")
    with Studio.create(folder / name, name="Tried", zone="UTC") as studio:
        studio.import_register(folder / "register")
        studio.add([write_log(folder / f"{name}{n}.csv", start=MONDAY + n * DAY, label="AB"[n % 2]) for n in range(4)])
    return folder / name


def held(studio: Studio) -> dict[str, object]:
    """All that a person would miss: files, readings, entries, reviews, sheets."""
    with studio.reading() as connection:
        rows = {t.name: [tuple(row) for row in connection.execute(select(t).order_by(t.c.id))]
                for t in (FILES, OBSERVATIONS, REVIEWS, STAYS)}  # fmt: skip
    sheets = {path.name: path.read_bytes() for path in sorted((studio.folder / "sheets").iterdir())}
    return {**rows, "sheets": sheets, "readings": {logger: readings(studio, logger) for logger in studio.loggers()}}


def whole(folder: Path) -> tuple[dict[str, object], bool]:
    """What a folder holds once it was looked over; whether there was anything to sweep."""
    with Studio.open(folder) as studio:
        report = studio.check(rebuild=True)
        assert report.problems == (), report.problems
        return held(studio), bool(report.swept)


def envwatch(*words: object, before: tuple[str, ...] = (), **more: object) -> subprocess.CompletedProcess:
    """The command as a person runs it."""
    env = {key: value for key, value in os.environ.items() if key != "ENVWATCH_DEBUG"} | more.pop("env", {})  # type: ignore[operator]
    return subprocess.run([*before, sys.executable, "-m", "envwatch", *map(str, words)], capture_output=True,
                          text=True, env=env, stdin=subprocess.DEVNULL, check=False, timeout=300)  # fmt: skip


def plainly(done: subprocess.CompletedProcess) -> str:
    """ "done", or "refused" where it was said in one line; anything else is a fault."""
    if done.returncode == 0:
        return "done"
    lines = done.stderr.strip().splitlines()
    assert lines and done.returncode not in (70, -6, -9, -11) and "Traceback" not in done.stderr, done.stderr
    assert len([line for line in lines if line.startswith("envwatch: ")]) <= 1, done.stderr
    return "refused"


# ------------------------------------------------------------------------------------------------- a full disk


def full_disk(folder: Path, times: int, seed: int) -> Counter:
    """In a process with mounts of its own, so that the small disk goes when it does."""
    flags = ["-m"] if os.geteuid() == 0 else ["-Urm"]
    done = subprocess.run(
        ["unshare", *flags, sys.executable, "-m", "tests.long.faults", "--on-small-disk", str(folder), str(times),
         str(seed)], capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    return Counter(json.loads(done.stdout))


def on_small_disk(folder: Path, times: int, seed: int) -> Counter:
    """Each time: fill the disk, do one thing, make room, look."""
    disk, dice, counted = folder / "disk", random.Random(seed), Counter()
    disk.mkdir()
    subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={DISK_KB}k", "small", str(disk)], check=True)
    place = Path(shutil.move(made(folder), disk / "studio"))
    before, _ = whole(place)
    for n in range(times):
        kind = dice.choice(["add", "add", "undo", "observe", "review", "sheet", "move", "command"])
        log = write_log(folder / f"more{n}.csv", start=MONDAY + (n % 300) * DAY, rows=900 + n, label="AB"[n % 2])
        if sum(path.stat().st_size for path in disk.rglob("*") if path.is_file()) > DISK_KB * 512:  # half full of ours
            shutil.rmtree(place)
            place = Path(shutil.move(made(folder, f"again{n}"), disk / "studio"))
            before, _ = whole(place)
        _fill(disk / "ballast", int(dice.random() ** 2 * MOST_LEFT_KB * 1024))
        try:
            outcome = _one(place, kind, n, log)
        finally:
            (disk / "ballast").unlink()
        after, swept = whole(place)
        assert outcome == "done" or after == before, f"{kind} was refused and changed something"
        assert outcome == "refused" or after != before, f"{kind} was acknowledged and is not there"
        counted.update([f"{kind}: {outcome}"], swept=swept)
        before = after
    return counted


def _fill(ballast: Path, left: int) -> None:
    with ballast.open("wb", buffering=0) as file:
        try:
            while file.write(b"\0" * 65536) == 65536:
                pass
        except OSError as error:
            assert error.errno == 28, error
        file.truncate(max(file.tell() - left, 0))


def _one(place: Path, kind: str, n: int, log: Path) -> str:
    if kind == "command":
        return plainly(envwatch("observe", "First", f"sign {n}", "--on", "2026-02-01", "--studio", place))
    try:
        with Studio.open(place) as studio:
            if kind == "add":
                outcomes = studio.add([log]).outcomes
                return "done" if outcomes[0].status == "kept" else "refused"
            if kind == "undo":
                studio.undo()
            elif kind == "observe":
                studio.observe("p1", "2026-02-01", f"sign {n}")
            elif kind == "review":
                at = MONDAY + n * 7 * DAY
                reviews.keep_review(studio, at, at + 7 * DAY, {"findings": [], "n": n, "text": "x" * 20_000}, {}, at)
            elif kind == "sheet":
                reviews.keep_sheet(studio, f"sheet{n}.pdf", f"%PDF {n}".encode() * 9000)
            elif kind == "move":
                studio.move("p2", ["room", "loft"][n % 2], MONDAY + n * DAY)
    except (StudioError, BadInput) as error:
        assert "\n" not in str(error)
        return "refused"
    return "done"


# ------------------------------------------------------------------------------------------- a read-only folder

COMMANDS: tuple[tuple[str, ...], ...] = (
    ("review", "--no-keep"), ("review",), ("painting", "First"), ("tray",), ("marks",), ("place", "room"),
    ("why", "1"), ("add", "LOG"), ("undo",), ("observe", "First", "lifting", "--on", "2026-02-01"),
    ("move", "First", "loft", "--on", "2026-02-01"), ("treat", "First", "lining", "--on", "2026-02-01"),
    ("hung", "a", "room", "--on", "2026-01-01"), ("enter", "place", "id=cellar", "name=Cellar"),
    ("import", "REGISTER"), ("export", "OUT"), ("backup", "OUT.zip"), ("check",), ("check", "--rebuild"),
    ("dossier", "First"), ("call", "First", "--sign", "leak"), ("lining", "First"), ("dehumidifier", "room"),
    ("away", "--from", "2026-02-01", "--until", "2026-02-08"), ("review", "--json", "--no-keep"),
)  # fmt: skip


def read_only(folder: Path, times: int, seed: int) -> Counter:
    """`times` of the commands, each done or refused in one line; the folder stays as it was, byte for byte."""
    place, counted = made(folder), Counter()
    log = write_log(folder / "new.csv", start=MONDAY + 40 * DAY, label="A")
    out = folder / "out"
    out.mkdir()
    out.chmod(0o777)
    for path in (folder, *folder.parents):
        if path.stat().st_uid == os.geteuid() and path.parent != path:
            path.chmod(path.stat().st_mode | 0o055)
    inside = [place, *place.rglob("*")]
    for path in inside:
        path.chmod(0o555 if path.is_dir() else 0o444)
    before = _bytes(place)
    user = ("setpriv", f"--reuid={NOBODY}", f"--regid={NOBODY}", "--clear-groups") if os.geteuid() == 0 else ()
    words = {"LOG": str(log), "REGISTER": str(folder / "register"), "OUT": str(out), "OUT.zip": str(out / "b.zip")}
    try:
        for command in COMMANDS[: times or None]:
            said = [words.get(word, word) for word in command]
            done = envwatch(*said, "--studio", place, before=user, env={"HOME": str(out), "MPLCONFIGDIR": str(out)})
            counted.update([f"{' '.join(command[:2])}: {plainly(done)}"])
            assert _bytes(place) == before, f"{command} changed the folder"
    finally:
        for path in inside:
            path.chmod(0o755)
    whole(place)
    return counted


def _bytes(folder: Path) -> dict[str, bytes]:
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


# ------------------------------------------------------------------------------------------- files that vanish


def vanishing(folder: Path, times: int, seed: int) -> Counter:
    """Files are deleted, cut or grown under way; each is kept whole, refused in a line, or asked about."""
    place, counted, dice = made(folder), Counter(), random.Random(seed)
    for n in range(times):
        download = folder / f"download{n}"
        download.mkdir()
        files = [write_log(download / f"{k}.csv", start=MONDAY + (20 + n * 8 + k) * DAY, rows=300 + 7 * k + n,
                           label=f"L{k}") for k in range(8)]  # fmt: skip
        begun, stop = threading.Event(), threading.Event()
        thread = threading.Thread(target=_spoil, args=(files, dice.randrange(10**9), begun, stop))
        thread.start()
        begun.wait()
        with Studio.open(place) as studio:
            report = studio.add([download] if n % 2 else files)
        stop.set()
        thread.join()
        counted.update(outcome.status for outcome in report.outcomes)
        assert not any("fault in envwatch" in outcome.reason for outcome in report.outcomes), report.outcomes
    whole(place)  # what was kept reads the same from its original as when it was added
    return counted


def _spoil(files: list[Path], seed: int, begun: threading.Event, stop: threading.Event) -> None:
    dice = random.Random(seed)
    for file in dice.sample(files, 5):
        begun.set()
        if stop.wait(dice.uniform(0, 0.03)):
            return
        how = dice.choice(["delete", "cut", "grow", "empty"])
        if not file.exists():
            continue
        if how == "delete":
            file.unlink()
        elif how == "grow":
            with file.open("a", encoding="utf-8") as open_file:
                for minute in range(30):
                    open_file.write(f"2027-03-01T12:{minute:02}:00Z,18.0,50.0\n")
                    open_file.flush()
        else:
            os.truncate(file, dice.randrange(file.stat().st_size) if how == "cut" else 0)


# ---------------------------------------------------------------------------------------------- the clock moves


def clock(folder: Path, times: int, seed: int) -> Counter:
    """Commands under clocks years apart, in random order of the years; what was acknowledged is there."""
    place, counted, dice = folder / "studio", Counter(), random.Random(seed)
    register, signs, kept = folder / "register", set(), []
    register.mkdir()
    for file, text in REGISTER.items():
        (register / file).write_text(text, encoding="utf-8")

    def at(year: int, *words: object) -> str:
        stamp = f"{year}-{dice.randrange(1, 13):02}-10 08:00:00"
        done = envwatch(*words, before=("faketime", stamp), env={"FAKETIME_DONT_FAKE_MONOTONIC": "1", "TZ": "UTC"})
        counted.update([f"{words[0]}: {plainly(done)}"])
        return plainly(done)

    assert at(2026, "new", place, "--name", "Tried", "--zone", "UTC") == "done"
    assert at(2024, "import", register, "--studio", place) == "done"
    for n in range(times):
        log = write_log(folder / f"{n}.csv", start=MONDAY - 1000 * DAY + n * DAY / 2, label="A", rows=48 + n)
        year = dice.choice([2024, 2026, 2031])
        if at(year, "add", log, "--studio", place) == "done":
            kept.append(n)
        year = dice.choice([2024, 2026, 2031])
        if at(year, "observe", "First", f"sign {n}", "--on", "2023-08-01", "--studio", place) == "done":
            signs.add(f"sign {n}")
        if n % 3 == 2 and at(dice.choice([2024, 2031]), "undo", "--studio", place) == "done":
            kept.pop()  # the last add, whatever the clock said at the time
        if n % 3 == 0:
            at(dice.choice([2024, 2026, 2031]), "review", "--from", "2023-04-11", "--to", "2023-04-12", "--studio",
               place)  # fmt: skip
    found, _ = whole(place)
    with Studio.open(place) as studio, studio.reading() as connection:
        names = set(connection.execute(select(FILES.c.name)).scalars())
        there = set(connection.execute(select(OBSERVATIONS.c.sign)).scalars())
    assert names == {f"{n}.csv" for n in kept}, names
    assert there == signs
    counted["readings at the end"] = sum(len(rows) for of in found["readings"].values() for rows in of.values())
    return counted


# ---------------------------------------------------------------------------------------- several writers at once


def writers(folder: Path, times: int, seed: int) -> Counter:
    """Four programs at once, each with files of its own and one that all of them add; who waits in vain tries again."""
    place, counted = made(folder), Counter()
    shared = write_log(folder / "shared.csv", start=MONDAY + 100 * DAY, label="S")
    told = beside().Queue()
    work = [beside().Process(target=_write, args=(place, folder, shared, who, times, told)) for who in range(4)]
    for process in work:
        process.start()
    for _ in work:
        counted.update(told.get(timeout=600))
    for process in work:
        process.join(60)
        assert process.exitcode == 0
    whole(place)
    with Studio.open(place) as studio, studio.reading() as connection:
        names = Counter(connection.execute(select(FILES.c.name)).scalars())
        signs = Counter(connection.execute(select(OBSERVATIONS.c.sign)).scalars())
    mine = [f"{who}-{n}" for who in range(4) for n in range(times)]
    assert names == Counter([f"studio{n}.csv" for n in range(4)] + ["shared.csv"] + [f"{name}.csv" for name in mine])
    assert signs == Counter(f"sign {name}" for name in mine)
    return counted


def _write(place: Path, folder: Path, shared: Path, who: int, times: int, told: multiprocessing.Queue) -> None:
    waited: Counter = Counter()

    def until_done(what):
        for _ in range(200):
            try:
                return what()
            except StudioError as error:
                assert "Try again" in str(error), error
                waited.update(["told to try again"])
                time.sleep(0.1 * random.random())
        raise AssertionError("never got its turn")

    for n in range(times):
        start = MONDAY + (200 + n) * DAY
        log = write_log(folder / f"{who}-{n}.csv", start=start, rows=50 + who, label=f"W{who}")

        def add(files: tuple[Path, Path] = (log, shared)):
            with Studio.open(place) as studio:
                return studio.add(files)

        def observe(sign: str = f"sign {who}-{n}"):
            with Studio.open(place) as studio:
                studio.observe("p1", "2026-02-01", sign)

        statuses = [outcome.status for outcome in until_done(add).outcomes]
        assert statuses[0] == "kept" and statuses[1] in ("kept", "already kept"), statuses
        until_done(observe)
        waited.update(adds=1)
    told.put(dict(waited))


# -------------------------------------------------------------------------------------------------- from a terminal

TRIALS = {"full_disk": (full_disk, 400), "read_only": (read_only, 0), "vanishing": (vanishing, 100),
          "clock": (clock, 40), "writers": (writers, 40)}  # fmt: skip


def main() -> None:
    """Run it from the command line."""
    if sys.argv[1:2] == ["--on-small-disk"]:
        print(json.dumps(on_small_disk(Path(sys.argv[2]), int(sys.argv[3]), int(sys.argv[4]))))
        return
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("trials", nargs="*", help=", ".join(TRIALS), default=list(TRIALS))
    parser.add_argument("--times", type=int)
    parser.add_argument("--seed", type=int, default=1)
    said = parser.parse_args()
    for name in said.trials:
        trial, times = TRIALS[name]
        with tempfile.TemporaryDirectory() as folder:
            counted = trial(Path(folder), times if said.times is None else said.times, said.seed)
        print(name)
        for what, count in sorted(counted.items()):
            print(f"    {what:36} {count:8,}")


if __name__ == "__main__":
    main()
