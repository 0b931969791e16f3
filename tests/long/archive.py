"""A small model of the archive, run beside it through random commands, page actions, damage, clocks and copies.

    python -m tests.long.archive [--steps 50000] [--seed 1] [--processes 2]

The model knows what was acknowledged: files, looks, stays, cells, kept reviews, sheets; and the backups with what was
known then. After each step the archive holds just that, and whatever was harmed is named by `check`, and nothing else.
What comes out is searched for the owner's name and house where they may not stand: in CSV, in each member of a ZIP, in
a PDF's text, in Parquet's columns. Where `faketime` is installed the computer's clock goes years back and forward.
"""

from __future__ import annotations

import argparse
import copy
import multiprocessing
import os
import random
import shutil
import sys
import time
import traceback
import zipfile
from collections import Counter
from pathlib import Path

from hypothesis import HealthCheck, Phase, seed, settings
from hypothesis import strategies as st
from hypothesis.stateful import precondition, run_state_machine_as_test

from envwatch.archive import reviews
from envwatch.archive.register import correct
from envwatch.archive.upkeep.backup import restore
from envwatch.core.errors import BadInput
from envwatch.logs.model import Answers
from tests.long.archive_harm import Harmed
from tests.long.archive_model import COUNTED, DAY, HOUSE, OWNER, START, log_name, names_in, sha256, step, template
from tests.program import run

AT_ONCE, IN_ONE = 50, 5000  # steps in one studio; steps by one seed
FAKETIME = next(Path("/").glob("usr/lib/*/faketime/libfaketimeMT.so.1"), None)
CLOCKS = "FAKETIME_NO_CACHE"  # stands in the environment of a process whose clock can be set
LOGS = st.lists(st.builds(log_name, st.sampled_from("AB"), st.integers(0, 6), st.sampled_from([47, 95])), min_size=1,
                max_size=3, unique=True)  # fmt: skip
FIELDS = st.sampled_from(["ground", "maker"])


def whole(self: Harmed) -> bool:
    return not self.harmed


def odd(self: Harmed) -> bool:
    """Every other step is left to files and harm."""
    return self.steps % 2 == 1


class Archive(Harmed):
    """What is done by command and on pages."""

    def kept(self, files: list[str], batch: int) -> None:
        """Files that were acknowledged with the number of their add."""
        assert batch not in self.numbers, "a number was given twice"
        self.known.batches[batch] = files
        self.numbers.add(batch)
        self.known.originals |= set(map(sha256, files))

    @precondition(whole)
    @step(files=LOGS)
    def add(self, files: list[str]) -> None:
        new = [name for name in files if name not in self.known.files()]
        with self.studio() as studio:
            outcomes = studio.add([self.written(name) for name in files]).outcomes
        assert [one.status for one in outcomes] == ["kept" if one in new else "already kept" for one in files]
        if new:
            self.kept(new, self.last_batch())

    @precondition(whole)
    @step(files=LOGS)
    def drop_on_a_page(self, files: list[str]) -> None:
        from dashboards.pages import files as page

        new = [name for name in files if name not in self.known.files()]
        with self.pages():
            again, _, refused = page.take([self.dropped(name) for name in files], files, 0)
        assert (again, refused) == (1, ""), refused
        if new:
            self.kept(new, self.last_batch())

    @precondition(lambda self: not self.harmed and len(self.known.tray) < 2)
    @step()
    def add_what_can_be_read_in_two_ways(self) -> None:
        name = f"T{self.next()}-0-47.csv"
        with self.studio() as studio:
            (outcome,) = studio.add([self.written(name)]).outcomes
        assert outcome.status == "in the tray", outcome
        self.known.tray.append(name)
        self.known.originals.add(sha256(name))

    @precondition(lambda self: not self.harmed and self.known.tray)
    @step(which=st.integers(0, 9), how=st.sampled_from(["dmy", "mdy", "discard"]), on_page=st.booleans())
    def answer(self, which: int, how: str, on_page: bool) -> None:
        from dashboards.pages import files as page

        name = self.known.tray.pop(which % len(self.known.tray))
        with self.pages(), self.studio() as studio:
            (number,) = [item.number for item in studio.tray() if item.name == name]
            if on_page:
                page._answered(studio, number, how)
            elif how == "discard":
                studio.discard(number)
            else:
                assert studio.add([number], Answers(dates=how)).outcomes[0].status == "kept"
        if how != "discard":
            self.kept([name], self.last_batch())

    @precondition(whole)
    @step()
    def undo_the_last(self) -> None:
        with self.studio() as studio:
            if not self.known.batches:
                try:
                    studio.undo()
                except BadInput:
                    return
                raise AssertionError("an add was taken back that was none")
            gone = studio.undo()
        assert sorted(gone.files) == sorted(self.known.batches.pop(max(self.known.batches)))

    @precondition(lambda self: not self.harmed and self.numbers)
    @step(which=st.integers(0, 100))
    def undo_on_a_page(self, which: int) -> None:
        """The add that its button names, however long it was shown; another's is never taken back instead."""
        from dashboards.pages import files as page

        number = sorted(self.numbers)[which % len(self.numbers)]
        with self.pages():
            try:
                page._undone(number)
            except BadInput:
                assert number not in self.known.batches, number
                return
        assert self.known.batches.pop(number, None), number

    @step(day=st.integers(1, 28), by_command=st.sampled_from([False, False, False, True]))
    def observe(self, day: int, by_command: bool) -> None:
        sign, on, note = f"sign {self.next()}", f"2016-02-{day:02}", f"Frau {OWNER} rang"
        if by_command:
            words = ("observe", "First", sign, "--on", on, "--note", note)
            assert run(*words, "--studio", self.folder).returncode == 0
        else:
            with self.studio() as studio:
                studio.observe("p1", on, sign, note=note)
        self.known.signs.append((on, sign))

    @precondition(odd)
    @step()
    def tap_a_look(self) -> None:
        from dashboards.pages import looks

        with self.pages():
            back = looks.enter("p1", "").children[1]
        self.known.taps.append(back.id["on"])

    @precondition(lambda self: self.known.taps)
    @step(which=st.integers(0, 100))
    def take_a_tap_back(self, which: int) -> None:
        from dashboards.pages import looks

        with self.pages():
            looks.withdraw("p1", self.known.taps.pop(which % len(self.known.taps)))

    @precondition(lambda self: self.known.signs)
    @step(which=st.integers(0, 100), anew=st.booleans())
    def correct_or_remove_a_look(self, which: int, anew: bool) -> None:
        signs, sign = self.known.signs, f"sign {self.next()}"
        at = sorted(range(len(signs)), key=lambda n: (signs[n][0], n))
        number = which % len(at)
        entry, why = f"p1:{number + 1}", {"because": f"misheard {OWNER}", "on": "2016-03-01"}
        with self.studio() as studio:
            if anew:
                correct.correct(studio, "observation", entry, {"sign": sign}, **why)
                signs[at[number]] = signs[at[number]][0], sign
            else:
                correct.remove(studio, "observation", entry, **why)
                del signs[at[number]]
        self.known.corrections += 1

    @precondition(odd)
    @step(to=st.sampled_from(["room", "loft", "villa"]), day=st.integers(1, 5_000))
    def move(self, to: str, day: int) -> None:
        on = f"{START - day * DAY:%Y-%m-%d}"
        with self.studio() as studio:
            try:
                studio.move("p2", to, on, purpose=f"back to {OWNER}")
            except BadInput:
                return
        self.known.moves.append((to, on))

    @precondition(lambda self: self.steps % 4 == 1)
    @step()
    def open_a_form(self) -> None:
        from tests.test_dashboards import form_of

        with self.pages():
            from dashboards.session import house

            self.shown = form_of(house(), "p1")

    @precondition(lambda self: self.shown)
    @step(name=FIELDS)
    def press_a_form(self, name: str) -> None:
        """What was changed since the form was shown is not written over."""
        from dashboards.pages import painting_forms as forms
        from tests.test_dashboards import press

        value, shown = f"other {self.next()}", self.shown["shown"]
        with self.pages():
            again, faults = press(forms.EDIT, forms.edit, self.shown, **(shown | {name: value}))
        if self.known.form[name] == shown[name]:
            assert (again, faults) == (1, {}), faults
            self.known.form[name] = value
        else:
            assert list(faults) == [name] and self.known.form[name] in faults[name], faults

    @precondition(odd)
    @step(name=FIELDS)
    def enter_a_cell(self, name: str) -> None:
        value = f"entered {self.next()}"
        with self.studio() as studio:
            studio.enter("painting", {"id": "p1", name: value})
        self.known.form[name] = value

    @precondition(odd)
    @step()
    def keep_review(self) -> None:
        at, name = START + self.known.reviews * 7 * DAY, f"week{self.known.reviews}.pdf"
        with self.studio() as studio:
            reviews.keep_review(studio, at, at + 7 * DAY, {"findings": []}, {"limit": 65}, at)
            reviews.keep_sheet(studio, name, name.encode())
        self.known.sheets[name] = name.encode()
        self.known.reviews += 1

    @precondition(lambda self: CLOCKS in os.environ and self.steps % 3 == 0)
    @step(days=st.sampled_from([-3000, -400, -1, 0, 7, 400, 3650]))
    def set_the_clock(self, days: int) -> None:
        """The computer's; it stays so until it is set again."""
        os.environ["FAKETIME"] = f"{days:+}d"

    # ------------------------------------------------------------------------------------- copies, and what comes out

    @precondition(lambda self: not self.harmed and len(self.backups) < 3)
    @step()
    def back_up(self) -> None:
        path = self.base / f"backup{self.next()}.zip"
        with self.studio() as studio:
            assert studio.back_up(path).problems == ()
        self.backups.append((path, copy.deepcopy(self.known)))
        names = set(zipfile.ZipFile(path).namelist())
        assert {f"originals/{sha256(name)}.csv" for name in self.known.files() + self.known.tray} <= names

    @precondition(lambda self: self.backups and self.steps % 4 == 3)
    @step(which=st.integers(0, 2))
    def go_on_in_a_restored_folder(self, which: int) -> None:
        path, known = self.backups[which % len(self.backups)]
        folder = self.base / f"restored{self.next()}"
        restore(path, folder)
        self.goes_on(folder, known)
        self.harmed, self.numbers = {}, set(known.batches)

    @precondition(lambda self: self.steps % 9 == 5)
    @step()
    def go_on_in_a_copy(self) -> None:
        self.goes_on(shutil.copytree(self.folder, self.base / f"copy{self.next()}"))

    @precondition(lambda self: not self.came_out and self.steps > 15 and self.steps % 4 == 0)
    @step(title=st.sampled_from(["First", "Second"]))
    def come_out(self, title: str) -> None:
        """What leaves the studio names no owner, and redacted no house, wherever one looks."""
        out, self.came_out = self.base / f"out{self.next()}", True
        assert run("export", out / "plain", "--studio", self.folder).returncode == 0
        assert run("export", out / "redacted", "--redact", "--studio", self.folder).returncode == 0
        span = ("--from", "2016-01-04", "--to", "2016-01-06")
        done = run("dossier", title, *span, "--bundle", out / "b.zip", "--studio", self.folder)
        assert done.returncode in (0, 1) or (self.harmed and done.returncode == 5), (done.stdout, done.stderr)
        papers = [*(self.folder / "sheets").glob("dossier-*.pdf"), *out.rglob("*.*")]
        with self.studio() as studio:  # those that hold; what was harmed and made again may lie there until it is swept
            held = () if self.harmed else [part for parts in studio.state().parts.values() for part in parts]
        readings = [self.folder / part.path for part in held]
        for path in filter(Path.is_file, papers + readings):
            assert not names_in(path, OWNER), path
            assert "redacted" not in path.parts or not names_in(path, HOUSE), path


def run_steps(steps: int, number: int, phases: tuple[Phase, ...] = (Phase.generate,)) -> Counter:
    """At least so many steps, `AT_ONCE` in a studio, counted. AssertionError: with the steps that lead to it."""
    COUNTED.clear()
    drawn = random.Random(number)
    while (left := steps - COUNTED["steps"]) > 0:
        how = settings(max_examples=-(-min(left, IN_ONE) // AT_ONCE), stateful_step_count=AT_ONCE, deadline=None,
                       database=None, phases=phases, suppress_health_check=list(HealthCheck))  # fmt: skip
        run_state_machine_as_test(seed(drawn.getrandbits(32))(Archive), settings=how)
        print(f"seed {number}: {COUNTED['steps']:,} steps, {COUNTED['checks']:,} checks", file=sys.stderr, flush=True)
    return Counter(COUNTED)


def _share(steps: int, number: int, shrink: bool) -> tuple[Counter, str]:
    """Steps in a process of their own: what was counted, and the failure with its steps, if there was one."""
    try:
        return run_steps(steps, number, (Phase.generate, Phase.shrink) if shrink else (Phase.generate,)), ""
    except BaseException as error:
        return Counter(COUNTED), "".join(traceback.format_exception(error))
    finally:  # a process of a pool ends without its exit handlers
        shutil.rmtree(template().parent, ignore_errors=True)


def run_apart(steps: int, number: int, processes: int = 1, shrink: bool = False) -> tuple[Counter, list[str]]:
    """Steps shared by processes of their own, whose clock can be set; what was counted, and each failure's steps."""
    clock = {"LD_PRELOAD": str(FAKETIME), CLOCKS: "1", "FAKETIME_DONT_FAKE_MONOTONIC": "1", "NO_FAKE_STAT": "1"}
    had = dict(os.environ)
    os.environ.update(clock if FAKETIME else {})
    try:
        with multiprocessing.get_context("spawn").Pool(processes) as pool:
            shares = [(-(-steps // processes), 1000 * number + each, shrink) for each in range(processes)]
            made = pool.starmap(_share, shares)
    finally:
        os.environ.clear()
        os.environ.update(had)
    return sum((counts for counts, _ in made), Counter()), [failure for _, failure in made if failure]


def main() -> int:
    """Run it from the command line; the code is 1 after a failure."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--steps", type=int, default=50_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--processes", type=int, default=1)
    parser.add_argument("--shrink", action="store_true", help="look for the fewest steps that fail; takes minutes")
    asked, start = parser.parse_args(), time.monotonic()
    counted, failed = run_apart(asked.steps, asked.seed, asked.processes, asked.shrink)
    for what, count in counted.most_common():
        print(f"{what:36} {count:8,}")
    print(
        f"{len(failed)} failed; {time.monotonic() - start:,.0f} s with {asked.processes} processes", *failed, sep="\n"
    )
    return bool(failed)


if __name__ == "__main__":
    sys.exit(main())
