"""Eight people on the pages for ten minutes while files are added and taken back.

    python -m tests.long.load [--minutes 10] [--people 8]

`envwatch serve --share` runs as a program of its own on a demo studio. Each person enters with the passphrase and goes
from page to page as a browser does, with a pause of 0.5 to 3 s before each: the shell, the page's call, a sheet
printed, a sign entered by command. Meanwhile a ninth adds a file every few seconds, and takes every third back. Every
answer must be 200 and bear what it was asked for; at the end every sign and file is there once, and the server never
held more memory than `MOST_MB`. What it held is printed minute by minute.
"""

from __future__ import annotations

import argparse
import http.client
import json
import random
import socket
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter, defaultdict
from pathlib import Path
from statistics import median
from urllib.parse import urlencode

import numpy as np
import pandas as pd
from sqlalchemy import select

from envwatch.archive import Studio
from envwatch.archive.store.tables import FILES, OBSERVATIONS
from tests.test_archive import write_log

PASSPHRASE = "eight people in a hurry"
SHOWN = {"/": "This week", "/paintings": "Paintings", "/painting/26-02": "Herring Fleet", "/files": "Logger files",
         "/places?place=store&days=30": "Picture store", "/places?place=studio&days=365": "Studio",
         "/painting/25-09": "Sluice Warden", "/drying": "Drying the room", "/hang": "Where to hang",
         "/?week=2026-W20": "This week", "/?week=2026-W30": "This week", "/?week=2026-W38": "This week",
         "/places?place=store&days=all&beside=studio": "Picture store", "/around": "lining",
         "/drying?ask=spell&place=store": "Drying the room"}  # fmt: skip
MOST_MB = 600  # of the server, at any time
BEGIN = pd.Timestamp("2026-10-26", tz="UTC")


class Person:
    """One visitor: what they asked and how long each answer took."""

    def __init__(self, port: int, number: int) -> None:
        self.port, self.number, self.dice = port, number, random.Random(number)
        self.took: dict[str, list[float]] = defaultdict(list)
        self.errors: list[str] = []
        self.signs: list[str] = []
        self.cookie, self.spec, self.observe = "", {}, {}

    def ask(self, what: str, method: str, path: str, body: str = "", **heads: str) -> bytes:
        """One request, timed; anything but 200 (303 at the door) is an error."""
        begun = time.perf_counter()
        line = http.client.HTTPConnection("127.0.0.1", self.port, timeout=120)
        try:
            line.request(method, path, body or None, {"Cookie": self.cookie, **heads})
            answer = line.getresponse()
            content = answer.read()
        except OSError as error:
            self.errors.append(f"{what}: {error}")
            return b""
        finally:
            line.close()
        self.took[what].append(time.perf_counter() - begun)
        if answer.status == 303:
            self.cookie = answer.headers["Set-Cookie"].split(";")[0]
        elif answer.status != 200:
            self.errors.append(f"{what} {path}: {answer.status} {content[:200]!r}")
        return content

    def enter(self) -> None:
        """Give the passphrase and learn which calls there are, as the page does."""
        form = {"Content-Type": "application/x-www-form-urlencoded"}
        self.ask("passphrase", "POST", "/enter", urlencode({"passphrase": PASSPHRASE}), **form)
        self.spec = json.loads(self.ask("shell", "GET", "/_dash-dependencies"))

    def call(self, what: str, output: str, inputs: list, state: list, changed: str) -> bytes:
        """A call of the page as the browser sends it."""
        parts = [part.rpartition(".") for part in output.strip(".").split("...")]
        outputs = [{"id": id, "property": name.partition("@")[0] if "@" not in name else name} for id, _, name in parts]
        sent = {"output": output, "outputs": outputs if output.startswith("..") else outputs[0], "inputs": inputs,
                "state": state, "changedPropIds": [changed]}  # fmt: skip
        return self.ask(
            what, "POST", "/_dash-update-component", json.dumps(sent), **{"Content-Type": "application/json"}
        )

    def look(self, address: str) -> None:
        """Open a page: the shell, then what fills it."""
        self.ask("shell", "GET", "/", Accept="text/html")
        path, _, query = address.partition("?")
        inputs = [{"id": "url", "property": "pathname", "value": path},
                  {"id": "url", "property": "search", "value": f"?{query}" if query else ""},
                  {"id": "again", "property": "data", "value": None}]  # fmt: skip
        answer = self.call("page", "..page.children...menu.children...name.children..", inputs, [], "url.pathname")
        if SHOWN[address].encode() not in answer:
            self.errors.append(f"{address}: {SHOWN[address]!r} is not there: {answer[:300]!r}")

    def go(self, until: float, folder: Path) -> None:
        """Visit until the time is over."""
        self.enter()
        while time.monotonic() < until:
            time.sleep(self.dice.uniform(0.5, 3.0))
            kind = self.dice.random()
            if kind < 0.90:
                self.look(self.dice.choice(list(SHOWN)))
            elif kind < 0.94:
                content = self.ask("printed sheet", "GET", "/sheet.pdf")
                if not content.startswith(b"%PDF"):
                    self.errors.append("the sheet is no PDF")
            else:  # by command, as a colleague at the same folder does
                sign = f"sign {self.number}-{len(self.signs)}"
                done = envwatch("observe", "26-02", sign, "--on", "2026-10-30", "--studio", folder)
                if done.returncode:
                    self.errors.append(done.stderr)
                self.signs.append(sign)


def envwatch(*words: object) -> subprocess.CompletedProcess:
    """The command, tried again for as long as another writes."""
    for _ in range(20):
        done = subprocess.run([sys.executable, "-m", "envwatch", *map(str, words)], capture_output=True, text=True)
        if "Try again" not in done.stderr:
            break
    return done


def add(folder: Path, files: Path, until: float, kept: list[str], errors: list[str]) -> None:
    """Add a file every few seconds, take every third back."""
    number = 0
    while time.monotonic() < until:
        log = write_log(files / f"new{number}.csv", start=BEGIN + number * pd.Timedelta(hours=1), rows=100 + number,
                        label="Load")  # fmt: skip
        done = envwatch("add", log, "--studio", folder)
        if done.returncode:
            errors.append(done.stderr + done.stdout)
        kept.append(log.name)
        if number % 3 == 2:
            done = envwatch("undo", "--studio", folder)
            if done.returncode:
                errors.append(done.stderr)
            kept.pop()
        number += 1
        time.sleep(2)


def run(minutes: float, people: int, folder: Path) -> dict:
    """Figures of one run on the demo studio in the folder, made where there is none; "errors" must be empty."""
    from envwatch.cli.studio import make_demo

    studio, files, word = folder / "studio", folder / "files", folder / "word"
    if not studio.exists():
        make_demo(studio, quiet=True).close()
    files.mkdir()
    word.write_text(PASSPHRASE + "\n", encoding="utf-8")
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        port = one.getsockname()[1]
    with (folder / "served").open("wb") as told:
        server = subprocess.Popen(
            [sys.executable, "-m", "envwatch", "serve", "--port", str(port), "--share", "--plain", "--name",
             "localhost", "--passphrase-file", str(word), "--studio", str(studio)],
            stdout=told, stderr=subprocess.STDOUT,
        )  # fmt: skip
    try:
        _wait(port)
        until = time.monotonic() + 60 * minutes
        held = [_memory_mb(server.pid)]
        visitors, kept, errors = [Person(port, n) for n in range(people)], [], []
        work = [threading.Thread(target=person.go, args=(until, studio)) for person in visitors]
        work.append(threading.Thread(target=add, args=(studio, files, until, kept, errors)))
        work.append(threading.Thread(target=_watch, args=(server.pid, until, held)))
        for thread in work:
            thread.start()
        for thread in work:
            thread.join()
    finally:
        server.terminate()
        server.wait(30)
    said = (folder / "served").read_text(encoding="utf-8")
    errors += [error for person in visitors for error in person.errors] + (
        ["a traceback"] if "Traceback" in said else []
    )
    _look(studio, kept, [sign for person in visitors for sign in person.signs])
    took = defaultdict(list)
    for person in visitors:
        for what, seconds in person.took.items():
            took[what] += seconds
    return {"took": took, "errors": errors, "added": len(kept), "memory_mb": held}


def _wait(port: int) -> None:
    for _ in range(600):
        with socket.socket() as one:
            if one.connect_ex(("127.0.0.1", port)) == 0:
                return
        time.sleep(0.1)
    raise AssertionError("the pages did not start")


def _memory_mb(process: int) -> int:
    lines = Path(f"/proc/{process}/status").read_text(encoding="ascii").splitlines()
    return int(next(line for line in lines if line.startswith("VmRSS")).split()[1]) // 1024


def _watch(process: int, until: float, held: list[int]) -> None:
    """What a process holds, each second."""
    while time.monotonic() < until:
        time.sleep(1)
        held.append(_memory_mb(process))


def _look(folder: Path, kept: list[str], signs: list[str]) -> None:
    with Studio.open(folder) as studio:
        report = studio.check(rebuild=True)
        assert report.problems == (), report.problems
        with studio.reading() as connection:
            names = Counter(connection.execute(select(FILES.c.name).where(FILES.c.name.like("new%"))).scalars())
            seen = Counter(connection.execute(select(OBSERVATIONS.c.sign)).scalars())
    assert names == Counter(kept), names
    assert all(seen[sign] == 1 for sign in signs), "a sign was lost or doubled"


def main() -> None:
    """Run it from the command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--minutes", type=float, default=10)
    parser.add_argument("--people", type=int, default=8)
    said = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        found = run(said.minutes, said.people, Path(folder))
    every = [seconds for times in found["took"].values() for seconds in times]
    for what, seconds in [*sorted(found["took"].items()), ("all", every)]:
        print(f"{what:16} {len(seconds):7,} requests, median {1000 * median(seconds):7.0f} ms, 95th percentile "
              f"{1000 * np.percentile(seconds, 95):7.0f} ms, longest {max(seconds):6.1f} s")  # fmt: skip
    held = found["memory_mb"]
    print(f"errors {len(found['errors'])}; files added and left {found['added']}; the server held at the most, in MB:")
    print("    " + ", ".join(f"{at // 60} min {max(held[at : at + 60])}" for at in range(0, len(held), 60)))
    if max(held) > MOST_MB:
        found["errors"].append(f"the server held {max(held)} MB")
    for error in found["errors"][:10]:
        print(f"    {error[:400]}")
    raise SystemExit(1 if found["errors"] else 0)


if __name__ == "__main__":
    main()
