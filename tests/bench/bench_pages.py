"""The pages under load: zooming into ten years, beside plotting every point; eight people at once.

Run: python -m tests.bench.bench_pages          (about a minute; --small for a quick look)

Pages are timed at a first look, the server holding nothing in memory, and at a second. Zooms and people come after, on
a server that has shown those pages; their first answer is told apart.

The plain way sends every reading to the browser. What the browser then takes to draw is not in these figures.
"""

from __future__ import annotations

import json
import logging
import statistics
import sys
import tempfile
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from urllib.request import urlopen

import numpy as np
import pandas as pd

from dashboards import app as pages
from dashboards import create_app
from dashboards.pages import places
from dashboards.session import StudioSession
from envwatch.archive import Studio
from tests.bench.bench_add import YEAR, write_log
from tests.bench.looks import forget, seconds

NOW = pd.Timestamp("2026-11-02T11:00Z")
PEOPLE, CALLS = 8, 12
PATHS = ("/", "/places", "/paintings", "/files", "/painting/26-02")


def studio_of(folder: Path, years: int) -> Path:
    """A studio with one room read every ten minutes for years."""
    log = write_log(folder / "attic.csv", "A-1", pd.Timestamp("2016-01-01", tz="UTC"), years * YEAR)
    with Studio.create(folder / "studio", name="Bench", zone="Europe/Berlin") as studio:
        studio.enter("place", {"id": "attic", "name": "Attic", "kind": "loft", "zone": "Europe/Berlin"})
        studio.add([log])
        studio.set_hanging(next(iter(studio.loggers())), "attic", "2016-01-01")
    return folder / "studio"


def shown(app, path: str, query: str = "") -> None:
    """A page as sent."""
    with app.server.test_request_context("/"):
        json.dumps(pages.show(path, query), default=lambda part: part.to_plotly_json())


def say_looks(app, path: str, query: str = "") -> None:
    """Print the time of a page at a first and at a second look. The first page of the demo makes its review."""
    forget()
    first, second = (1000 * seconds(lambda: shown(app, path, query)) for _ in range(2))
    print(f"{path + query:<44} first {first:7.1f} ms   second {second:9.1f} ms")


def zooms(app, years: int) -> list[float]:
    """Wall time of each answer to a zoom, from all of it down to a week, as sent. [s]"""
    rng = np.random.default_rng(3)
    out = []
    shown = {"place": "attic", "beside": "", "start": "2016-01-01T00:00Z", "end": "2026-01-01T00:00Z"}
    for days in (years * 360, years * 120, 365, 90, 30, 7) * 6:
        first = pd.Timestamp("2016-01-02") + pd.Timedelta(days=int(rng.integers(0, max(years * 360 - days, 1))))
        moved = {"xaxis.range[0]": str(first), "xaxis.range[1]": str(first + pd.Timedelta(days=days))}
        with app.server.test_request_context("/"):
            begin = time.perf_counter()
            json.dumps(places.zoom(moved, shown))
            out.append(time.perf_counter() - begin)
    return out


def every_point(house: StudioSession, years: int) -> tuple[float, int]:
    """The plain way: all readings as one figure. (wall time [s], bytes)"""
    with house.reading() as studio:
        air = studio.climate("attic", pd.Timestamp("2016-01-01", tz="UTC"), NOW)
    begin = time.perf_counter()
    x = np.datetime_as_string(air.time.tz_localize(None).to_numpy().astype("M8[s]")).tolist()
    sent = json.dumps([{"x": x, "y": y.tolist()} for y in (air.temp_c, air.rh_percent, air.dew_point_c)])
    return time.perf_counter() - begin, len(sent)


def people(app) -> list[float]:
    """Wall time of each call, eight people clicking through the pages without a pause. [s]"""
    from dashboards.server import PageServer

    server = PageServer(app.server, "127.0.0.1", 0)
    logging.getLogger("waitress").setLevel(logging.CRITICAL)
    threading.Thread(target=server.run, daemon=True).start()
    base = f"http://127.0.0.1:{server.effective_port}/_dash-update-component"

    def one(person: int) -> list[float]:
        out = []
        for call in range(CALLS):
            out.append(_ask(base, PATHS[(person + call) % 5]))
        return out

    with ThreadPoolExecutor(PEOPLE) as pool:
        found = [seconds for calls in pool.map(one, range(PEOPLE)) for seconds in calls]
    server.close()
    return found


def _ask(address: str, path: str) -> float:
    from urllib.request import Request

    outputs = [{"id": id, "property": "children"} for id in ("page", "menu", "name")]
    inputs = [{"id": "url", "property": "pathname", "value": path}, {"id": "url", "property": "search", "value": ""},
              {"id": "again", "property": "data", "value": None}]  # fmt: skip
    body = {"output": "..page.children...menu.children...name.children..", "outputs": outputs, "inputs": inputs,
            "changedPropIds": ["url.pathname"]}  # fmt: skip
    begin = time.perf_counter()
    with urlopen(Request(address, json.dumps(body).encode(), {"Content-Type": "application/json"})) as answer:
        assert answer.status == 200 and len(answer.read()) > 200
    return time.perf_counter() - begin


def say(what: str, times: list[float], note: str = "") -> None:
    late = sorted(times)[int(0.95 * len(times))]
    first, median, late = (f"{1000 * each:7.1f} ms" for each in (times[0], statistics.median(times), late))
    print(f"{what:<44} first {first}   median {median}   95 % {late}   {note}")


def main(small: bool) -> None:
    """All benches."""
    from envwatch.cli.studio import make_demo

    years = 1 if small else 10
    with tempfile.TemporaryDirectory() as folder:
        app = create_app(studio_of(Path(folder), years), now=lambda: NOW)
        say_looks(app, "/places", "?days=all")
        say(f"zoom into {years} years at 10 minutes, at the server", zooms(app, years))
        took, size = every_point(app.server.config["HOUSE"], years)
        print(f"{'every point, the plain way':<44} once  {1000 * took:7.0f} ms   {size / 1e6:.1f} MB to send")
        app.server.config["HOUSE"].close()
        make_demo(Path(folder) / "demo", quiet=True).close()
        demo = create_app(Path(folder) / "demo", now=lambda: NOW)
        for path in PATHS:
            say_looks(demo, path)
        say(f"{PEOPLE} people at once, the demo's pages", people(demo), "warm server")
        demo.server.config["HOUSE"].close()


if __name__ == "__main__":
    main("--small" in sys.argv)
