"""The pages as a person waits for them in a real browser: This week, zooms into ten years, reads while files come in.

Run: python -m tests.bench.bench_browser          (about two minutes; --small for a quick look)

Wall time as the browser sees it, on a warm server; beside it the plain way, every point drawn by the same chart
library. Processor time of this process is told too, for a machine that others share.
"""

from __future__ import annotations

import json
import shutil
import sys
import tempfile
import threading
import time
from pathlib import Path

import numpy as np
import pandas as pd

from dashboards import create_app
from envwatch.archive import Studio
from tests.bench.bench_add import YEAR, write_log
from tests.bench.bench_pages import NOW, _ask, say, studio_of

FLAGS = ["--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking"]
DRAWN = """() => new Promise((done) => {
  const plot = document.querySelector('#air .js-plotly-plot'), before = plot.data[0].x, begun = performance.now();
  const look = () => requestAnimationFrame(() => {  // what the server sends are other arrays
    if (plot.data[0].x !== before) requestAnimationFrame(() => done(performance.now() - begun)); else look(); });
  window.Plotly.relayout(plot, {'xaxis.range[0]': '%s', 'xaxis.range[1]': '%s'}); look(); })"""
ALL = """(sent) => new Promise((done) => {
  const at = document.body.appendChild(document.createElement('div')), begun = performance.now();
  const lines = sent.map((t) => ({...t, type: 'scatter', mode: 'lines'}));
  window.Plotly.newPlot(at, lines, {width: 1000, height: 480}).then(() => requestAnimationFrame(() => {
    const shown = performance.now() - begun, again = performance.now();
    window.Plotly.relayout(at, {'xaxis.range[0]': '2018-01-01', 'xaxis.range[1]': '2019-01-01'}).then(() =>
      requestAnimationFrame(() => done([shown, performance.now() - again]))); })); })"""


def served(app):
    """The address of an app, served as `envwatch serve` does it."""
    from dashboards.server import PageServer

    server = PageServer(app.server, "127.0.0.1", 0)
    threading.Thread(target=server.run, daemon=True).start()
    return f"http://127.0.0.1:{server.effective_port}"


def usable(browser, address: str) -> tuple[float, float]:
    """Seconds until This week can be read and clicked: with an empty cache, and again with a full one."""
    context = browser.new_context(viewport={"width": 1440, "height": 900})
    page = context.new_page()
    out = []
    for _ in range(2):
        begin = time.perf_counter()
        page.goto(address + "/")
        page.locator("main h3 a").first.click(trial=True)
        out.append(time.perf_counter() - begin)
    context.close()
    return out[0], out[1]


def zooms(browser, address: str, years: int) -> list[float]:
    """Seconds from the end of a drag until the stretch read again is drawn."""
    page = browser.new_context(viewport={"width": 1440, "height": 900}).new_page()
    page.goto(f"{address}/places?place=attic&days=all")
    page.wait_for_selector("#air .js-plotly-plot .main-svg")
    page.wait_for_timeout(1_500)
    rng, out = np.random.default_rng(3), []
    for days in (years * 300, years * 100, 365, 90, 30, 7) * 3:
        first = pd.Timestamp("2016-01-02") + pd.Timedelta(days=int(rng.integers(0, max(years * 360 - days, 1))))
        out.append(page.evaluate(DRAWN % (first, first + pd.Timedelta(days=days))) / 1000)
        page.wait_for_timeout(250)
    page.context.close()
    return out


def every_point(browser, address: str, folder: Path) -> tuple[float, float]:
    """The plain way in the same browser: seconds to draw all readings, and to draw a year of them after a zoom."""
    with Studio.open(folder) as studio:
        air = studio.climate("attic", pd.Timestamp("2016-01-01", tz="UTC"), NOW)
    x = np.datetime_as_string(air.time.tz_localize(None).to_numpy().astype("M8[s]")).tolist()
    sent = [{"x": x, "y": values.tolist()} for values in (air.temp_c, air.rh_percent)]
    page = browser.new_context().new_page()
    page.goto(f"{address}/places?place=attic&days=7")
    page.wait_for_selector("#air .js-plotly-plot .main-svg")
    shown, again = page.evaluate(ALL, json.loads(json.dumps(sent)))
    page.context.close()
    return shown / 1000, again / 1000


def while_adding(folder: Path, address: str, logs: list[Path]) -> tuple[list[float], float]:
    """Seconds of each page read while another studio object adds files to the same folder; seconds the add took."""
    out, over = [], threading.Event()

    def add() -> None:
        with Studio.open(folder) as studio:
            studio.add(logs)
        over.set()

    writer = threading.Thread(target=add)
    begin = time.perf_counter()
    writer.start()
    while not over.is_set() or len(out) < 6:
        out.append(_ask(f"{address}/_dash-update-component", ("/", "/places", "/files")[len(out) % 3]))
    writer.join()
    return out, time.perf_counter() - begin


def main(small: bool) -> None:
    """All benches."""
    from playwright.sync_api import sync_playwright

    from envwatch.cli.studio import make_demo

    years, cpu = 1 if small else 10, time.process_time()
    with tempfile.TemporaryDirectory() as held, sync_playwright() as tools:
        folder = Path(held)
        browser = tools.chromium.launch(executable_path=shutil.which("chromium"), args=FLAGS)
        make_demo(folder / "demo", quiet=True).close()
        demo = create_app(folder / "demo", now=lambda: NOW)
        demo.server.config["HOUSE"].review()
        address = served(demo)
        firsts, agains = zip(*(usable(browser, address) for _ in range(2 if small else 5)), strict=True)
        say("This week usable, empty cache (bound 4 s)", list(firsts))
        say("This week usable, after that (bound 2.5 s)", list(agains))
        logs = [write_log(folder / f"n{n}.csv", f"N-{n}", pd.Timestamp("2024-01-01", tz="UTC"), YEAR) for n in range(4)]
        reads, took = while_adding(folder / "demo", address, logs)
        say(f"page reads while 4 logger-years are added ({took:.1f} s)", reads)
        ten = studio_of(folder, years)
        app = create_app(ten, now=lambda: NOW)
        address = served(app)
        say(f"zoom into {years} years, shown (bound 0.5 s)", zooms(browser, address, years))
        shown, again = every_point(browser, address, ten)
        print(f"{'every point, the plain way':<52} shown {1000 * shown:7.0f} ms   a year of it {1000 * again:7.0f} ms")
        browser.close()
        for made in (demo, app):
            made.server.config["HOUSE"].close()
    print(f"processor time of this process: {time.process_time() - cpu:.0f} s")


if __name__ == "__main__":
    main("--small" in sys.argv)
