"""Shared fixtures, and the count of tests left out for want of a browser or a database server."""

import gc
import os
import random
import shutil
from itertools import chain, groupby
from pathlib import Path

import pandas as pd
import pytest
from hypothesis import settings

# the gate tries the same examples each time; ENVWATCH_RANDOM=1 looks for new ones
settings.register_profile("gate", derandomize=True, deadline=None)
settings.register_profile("random", derandomize=False, deadline=None, print_blob=True)
settings.load_profile("random" if os.environ.get("ENVWATCH_RANDOM") else "gate")

ROOT = Path(__file__).parent.parent
WANTS = {"browser": ("browser", "ENVWATCH_BROWSER"), "postgres": ("PostgreSQL", "ENVWATCH_POSTGRES")}  # by marker
LEFT_OUT = dict.fromkeys(WANTS, 0)
MONDAY = pd.Timestamp("2026-11-02T11:00Z")


ORDER = "ENVWATCH_ORDER"  # a number: that order again; "written": the order in which they stand


def pytest_configure(config):
    """The order is drawn once; processes with tests side by side inherit it, and are not in each other's way."""
    os.environ.setdefault(ORDER, str(random.SystemRandom().randrange(10_000)))
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)  # the program is started anew many times
    gc.disable()  # what is collected stays until the end


def pytest_collection_finish(session):
    """What was collected is not looked through for garbage again and again: what tests leave behind is, as ever."""
    gc.freeze()
    gc.enable()


def pytest_report_header(config):
    return f"order of the tests: {ORDER}={os.environ[ORDER]} repeats it"


def shuffled(items: list, seed: str) -> list:
    """The files in random order, and the tests of each; what a file sets up for all its tests is still set up once."""
    draw = random.Random(seed)
    files = [list(of_file) for _, of_file in groupby(items, lambda item: item.path)]
    for some in (files, *files):
        draw.shuffle(some)
    return list(chain.from_iterable(files))


@pytest.hookimpl(tryfirst=True)  # tests that share a parameter's set-up are brought together afterwards
def pytest_collection_modifyitems(config, items):
    """Tests run in another order each time, so that none comes to depend on another.

    Some run only where their variable is set; what is left out is counted and said.
    """
    if os.environ[ORDER] != "written":
        items[:] = shuffled(items, os.environ[ORDER])
    for marker, (_, variable) in WANTS.items():
        if os.environ.get(variable):
            continue
        left = [item for item in items if item.get_closest_marker(marker)]
        LEFT_OUT[marker] += len(left)
        config.hook.pytest_deselected(items=left)
        items[:] = [item for item in items if item not in left]


def pytest_sessionfinish(session):
    """Tests side by side are chosen in processes of their own, which tell the one that sums up."""
    if hasattr(session.config, "workeroutput"):
        session.config.workeroutput["left_out"] = dict(LEFT_OUT)


@pytest.hookimpl(optionalhook=True)
def pytest_testnodedown(node, error):
    """Each process leaves out the same tests."""
    LEFT_OUT.update(getattr(node, "workeroutput", {}).get("left_out", {}))


def pytest_terminal_summary(terminalreporter):
    """Said on every run, so that nobody takes a run without a browser or a server for a whole one."""
    for marker, (name, variable) in WANTS.items():
        terminalreporter.write_line(f"{name} tests left out: {LEFT_OUT[marker]} (set {variable}=1 to run them)")


@pytest.fixture(scope="session")
def fresh_demo(tmp_path_factory):
    """Makes a demo studio as `envwatch demo` does, a new one at each call."""
    from envwatch.cli.studio import make_demo

    def make():
        folder = tmp_path_factory.mktemp("demo") / "studio"
        make_demo(folder, quiet=True).close()
        return folder

    return make


SHARED: dict[Path, dict[Path, tuple[int, int]]] = {}  # folders that tests share, as they are to stay


def as_it_is(folder: Path) -> dict[Path, tuple[int, int]]:
    """Size and time of every file. What SQLite keeps beside a database while it is only read is no change."""
    found = {path: path.stat() for path in folder.rglob("*") if path.is_file() and path.suffix != ".sqlite-shm"}
    return {path: (was.st_size, was.st_mtime_ns) for path, was in found.items() if was.st_size}


@pytest.fixture(autouse=True)
def shared_stays_as_it_is(request):
    """A test that changes what others share is named."""
    yield
    if "demo_folder" not in request.fixturenames:
        return
    for folder, was in SHARED.items():
        now = SHARED[folder] = as_it_is(folder)
        changed = sorted(str(path.relative_to(folder)) for path in {*was, *now} if was.get(path) != now.get(path))
        assert not changed, f"the demo studio that tests share was changed ({', '.join(changed)}); use demo_copy"


@pytest.fixture(scope="session")
def demo_folder(fresh_demo):
    """The demo studio, made once, and only read: even a review changes it, for it numbers findings. See `demo_copy`."""
    folder = fresh_demo()
    SHARED[folder] = as_it_is(folder)
    return folder


@pytest.fixture(scope="session")
def sample_advice(demo_folder):
    """Where the demo's painting 25-16 may hang of the three places in the sample's file: judged once, and only read."""
    from envwatch.archive import Studio
    from envwatch.cases import hanging

    spots = hanging.read((ROOT / "sample_logs" / "positions.toml").read_bytes(), "positions.toml")
    with Studio.open(demo_folder) as studio:
        return hanging.advise(studio, studio.find_painting("25-16"), spots, MONDAY)


@pytest.fixture
def demo_copy(demo_folder, tmp_path):
    """A demo studio of one's own."""
    return Path(shutil.copytree(demo_folder, tmp_path / "studio"))


@pytest.fixture(scope="module")
def demo_of_file(demo_folder, tmp_path_factory):
    """A demo studio for the tests of one file, which may make reviews of it and change nothing else."""
    return Path(shutil.copytree(demo_folder, tmp_path_factory.mktemp("file") / "studio"))


@pytest.fixture(scope="module")
def app(demo_of_file):
    """The pages of the demo studio, on the morning of its review. Use `own` to change anything."""
    from dashboards import create_app

    made = create_app(demo_of_file, now=lambda: MONDAY)
    yield made
    made.server.config["HOUSE"].close()


@pytest.fixture
def home(app):
    """The house behind the pages, within a request."""
    with app.server.test_request_context("/"):
        yield app.server.config["HOUSE"]


@pytest.fixture
def own(demo_copy):
    """The house behind pages of one's own demo studio, within a request."""
    from dashboards import create_app

    made = create_app(demo_copy, now=lambda: MONDAY)
    with made.server.test_request_context("/"):
        yield made.server.config["HOUSE"]
    made.server.config["HOUSE"].close()


@pytest.fixture
def disk_fills_up(monkeypatch):
    """A function after which the n-th write to the disk, and every one after it, finds no space."""

    def from_write(n: int) -> None:
        real, calls = os.fsync, []

        def full(handle):
            calls.append(handle)
            if len(calls) >= n:
                raise OSError(28, "No space left on device")
            real(handle)

        monkeypatch.setattr(os, "fsync", full)

    return from_write
