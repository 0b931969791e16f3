"""Every page in a real browser: real clicks on the demo studio, both widths, the keyboard alone, and axe-core.

Debian's chromium is driven by playwright; axe-core is one file from npm, named by ENVWATCH_AXE.
"""

import json
import os
import re
import shutil
import threading
from pathlib import Path

import pandas as pd
import pytest

pytestmark = [pytest.mark.browser, pytest.mark.filterwarnings("ignore::ResourceWarning")]

NOW = pd.Timestamp("2026-11-02T11:00Z")
FLAGS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
]  # fmt: skip
PAGES = {
    "/": "This week", "/paintings": "Paintings", "/painting/26-02": "Herring Fleet before the Storm",
    "/files": "Logger files", "/files?file=60": "Logger files", "/places?place=store&days=30": "Picture store",
    "/why/1": "Why: finding 1", "/drying": "Drying the room",
    "/drying?ask=case&place=store&log_from=2026-08-01&log_to=2026-09-30&machine_in_log=no": "Drying the room",
    "/hang": "Where to hang",
    "/hang?ask=where&painting=26-02&h.heating=day+only&h.latitude=54.3&1.name=hall&1.wall=outer": "Where to hang",
}  # fmt: skip
PATIENCE_MS = 20_000  # on a busy machine; how fast a page is, the benchmark tells
SAMPLE = Path(__file__).parent.parent / "sample_logs" / "positions.toml"
WIDTHS = (1440, 400)
OWN = ("data:", "blob:")
USABLE_S = 4.0  # This week, empty browser cache, warm server


@pytest.fixture(scope="module")
def studio_folder(demo_folder, tmp_path_factory):
    """A demo studio of this module's own, with its week kept."""
    from envwatch.archive import Studio
    from envwatch.cases import review

    folder = Path(shutil.copytree(demo_folder, tmp_path_factory.mktemp("browser") / "studio"))
    with Studio.open(folder) as studio:
        review.keep(studio, review.make(studio, NOW))
    return folder


@pytest.fixture(scope="module")
def address(studio_folder):
    """The pages, served as `envwatch serve` serves them."""
    from dashboards import create_app
    from dashboards.server import PageServer

    app = create_app(studio_folder, now=lambda: NOW)
    server = PageServer(app.server, "127.0.0.1", 0)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    yield f"http://127.0.0.1:{server.effective_port}"
    server.close()
    app.server.config["HOUSE"].close()


@pytest.fixture(scope="module")
def chromium():
    from playwright.sync_api import sync_playwright

    found = shutil.which("chromium")
    assert found, "no chromium: apt-get install chromium"
    with sync_playwright() as tools:
        browser = tools.chromium.launch(executable_path=found, args=FLAGS)
        yield browser
        browser.close()


@pytest.fixture
def tab(chromium, address):
    """Opens tabs, and fails for any console error and any request to elsewhere."""
    opened, faults = [], []

    def open_tab(width: int = 1440, scheme: str = "light"):
        context = chromium.new_context(viewport={"width": width, "height": 900}, color_scheme=scheme)
        page = context.new_page()
        page.set_default_timeout(PATIENCE_MS)
        page.on("console", lambda said: faults.append(said.text) if said.type == "error" else None)
        page.on("pageerror", lambda error: faults.append(str(error)))
        page.on(
            "request",
            lambda sent: None if sent.url.startswith((address, "data:", "blob:")) else faults.append(sent.url),
        )
        opened.append(context)
        return page

    yield open_tab
    for context in opened:
        context.close()
    assert not faults


def until(page, holds: str, tries: int = 200):
    """Wait until an expression holds. (The pages' own policy forbids what playwright's waiting would evaluate.)"""
    for _ in range(tries):
        if page.evaluate(holds):
            return
        page.wait_for_timeout(50)
    raise AssertionError(f"never came true: {holds}")


def until_shown(page, part, tries: int = 60):
    """Wait a while for a part of the page; it may not come."""
    for _ in range(tries):
        if part.count():
            return
        page.wait_for_timeout(50)


def heading(page, words: str):
    from playwright.sync_api import expect

    expect.set_options(timeout=PATIENCE_MS)

    expect(page.locator("main h1")).to_have_text(words)


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("path", PAGES)
def test_every_page_opens_and_fits_its_width(tab, address, path, width):
    page = tab(width)
    page.goto(address + path)
    heading(page, PAGES[path])
    if "ask=" in path:
        page.locator(".ways, .other-place").first.wait_for(timeout=60_000)
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    until(page, f"document.title.includes({json.dumps(PAGES[path])})")


def test_this_week_is_usable_in_time_with_an_empty_cache(tab, address):
    import time

    warm = tab()
    warm.goto(address + "/")
    warm.locator("article").first.wait_for()
    begun = time.perf_counter()
    page = tab()
    page.goto(address + "/")
    heading(page, "This week")
    page.locator("article").first.wait_for()
    assert time.perf_counter() - begun < USABLE_S


def test_two_clicks_lead_from_the_week_to_the_reading_that_proves_it(tab, address):
    page = tab()
    page.goto(address + "/")
    page.locator("article", has_text="Herring Fleet").get_by_role("link", name="why").click()
    heading(page, "Why: finding 8")
    assert "HM-7741_export_7.csv, line 2041" in page.locator("main").inner_text()


def test_the_figures_shown_are_those_of_the_review(tab, address, studio_folder):
    from envwatch.archive import Studio
    from envwatch.cases import review
    from envwatch.present.plain import plain

    with Studio.open(studio_folder) as studio:
        told = plain(review.make(studio, NOW))
    page = tab()
    page.goto(address + "/")
    page.locator("article").first.wait_for()
    page.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
    shown = " ".join(page.locator("main").inner_text().split())
    for line in told["trouble"]:
        for finding in line["verdict"]["findings"]:
            if finding["level"] in ("watch", "act", "urgent"):
                assert finding["sentence"] in shown
                if finding["level"] == line["level"] and finding["sentence"] == worst(line)["sentence"]:
                    assert f"{finding['value']:.1f}".replace("-", "−") in shown


def worst(line):
    order = ["nothing against it", "not known", "watch", "act", "urgent"]
    return max(line["verdict"]["findings"], key=lambda f: order.index(f["level"]))


def test_the_register_sorts_searches_and_leads_to_a_painting(tab, address):
    page = tab()
    from playwright.sync_api import expect

    expect.set_options(timeout=PATIENCE_MS)

    page.goto(address + "/paintings")
    rows = page.locator(".register tbody tr")
    rows.first.wait_for()
    expect(rows).to_have_count(14)
    assert "urgent" in rows.first.inner_text()
    page.get_by_label("Search").fill("bridge loft")
    expect(rows).to_have_count(1)
    page.get_by_role("link", name="The Toll Bridge Mended").click()
    heading(page, "The Toll Bridge Mended")


def test_the_register_is_sorted_and_filtered_by_the_keyboard_and_saved_as_shown(tab, address, tmp_path):
    from playwright.sync_api import expect

    page = tab()
    page.goto(address + "/paintings")
    rows = page.locator(".register tbody tr")
    for arrow, down in (("↑", False), ("↓", True)):
        page.get_by_role("button", name="title").focus()
        page.keyboard.press("Enter")
        expect(page.get_by_role("button", name="title")).to_contain_text(arrow, timeout=PATIENCE_MS)
        titles = page.locator(".register tbody th a").all_inner_texts()
        assert len(titles) == 14 and titles == sorted(titles, key=str.casefold, reverse=down)
        assert "title" in page.evaluate("document.activeElement.textContent"), "the focus stays where it was"
    page.locator("summary", has_text="Filter by column").focus()
    page.keyboard.press("Enter")
    page.get_by_role("textbox", name="how it is").focus()
    page.keyboard.type("urg")
    expect(page.get_by_role("option")).to_have_text(["urgent"], timeout=PATIENCE_MS)  # as a person waits for the list
    chosen = page.locator(".mantine-MultiSelect-pill", has_text="urgent")
    marked = page.locator("[role=option][data-combobox-selected]", has_text="urgent")
    for _ in range(20):  # a list that is drawn anew under the key forgets which entry was marked: one presses again
        page.keyboard.press("ArrowDown")
        if marked.count():
            page.keyboard.press("Enter")
            until_shown(page, chosen)
        if chosen.count() or not page.get_by_role("option").count():
            break
    expect(chosen).to_have_count(1, timeout=PATIENCE_MS)
    page.keyboard.press("Escape")
    until(page, "[...document.querySelectorAll('.register td .word')].every((word) => word.textContent === 'urgent')")
    with page.expect_download() as saved:
        page.get_by_role("button", name="save as CSV").click()
    saved.value.save_as(tmp_path / "register.csv")
    told = pd.read_csv(tmp_path / "register.csv")
    assert list(told) == ["title", "how it is", "where", "care", "bound with", "lined on"]
    assert 0 < rows.count() < 14 and list(told["title"]) == page.locator(".register tbody th a").all_inner_texts()


def test_a_call_is_logged_and_a_wrong_day_is_said_beside_the_field(tab, address):
    page = tab()
    page.goto(address + "/painting/25-14")
    page.get_by_role("link", name="log what was seen or said").click()
    page.get_by_label("what was seen").fill("slack at the top")
    page.locator("#observe-on").fill("2.11.26")
    page.get_by_role("button", name="log it").click()
    page.get_by_text("must be written as 2026-11-02").wait_for()
    page.locator("#observe-on").fill("2026-11-02")
    page.get_by_role("button", name="log it").click()
    page.get_by_text("Logged: slack at the top").wait_for()
    until(page, "document.activeElement.id === 'observe-press'")  # it stays where the hand is, open for the next entry
    assert page.evaluate("window.scrollY") > 1000
    told = page.get_by_text("Logged: slack at the top").bounding_box()
    assert 0 <= told["y"] < 900, "what was done is said on the part of the page that is seen"
    page.locator("main dd", has_text="slack at the top").wait_for()


def test_a_task_is_ticked(tab, address):
    page = tab()
    page.goto(address + "/")
    task = page.locator(".tasks li", has_text="A Sluice Warden").first
    task.get_by_text("tick, or put off").click()
    task.get_by_label("what was done").fill("moved to the rack")
    task.get_by_role("button", name="done", exact=True).click()
    page.locator(".settled", has_text="done: moved to the rack").wait_for()


def test_a_file_is_dropped_asked_about_answered_and_taken_back(tab, address, tmp_path):
    rows = "".join(f"03/04/2026 {hour:02d}:00,18.5,50\n" for hour in range(24))
    (tmp_path / "which way.csv").write_text("date,temp C,RH %\n" + rows, encoding="utf-8")
    page = tab()
    page.goto(address + "/files")
    page.locator("#files-drop input[type=file]").set_input_files(tmp_path / "which way.csv")
    page.locator(".question", has_text="which way.csv").wait_for()
    page.get_by_role("button", name="day, month, year").click()
    page.get_by_text("one file kept, 24 new readings").wait_for()
    page.get_by_role("link", name="how it was understood").click()
    understood = page.locator("#understood")
    understood.wait_for()
    assert "03/04/2026 00:00,18.5,50" in understood.inner_text() and "Fri 3 Apr 2026" in understood.inner_text()
    page.get_by_role("button", name=re.compile("take back add")).click()
    page.get_by_text("is taken back: 1 file").wait_for()


def test_zooming_shows_single_readings_in_half_a_second(tab, address):
    page = tab()
    page.goto(address + "/places?place=store&days=all")
    page.locator("#air .js-plotly-plot .trace").first.wait_for()
    page.wait_for_timeout(500)
    count = "document.querySelector('#air .js-plotly-plot').data.find(t => t.name === 'humidity').x"
    assert page.evaluate(f"{count}[0]") < "2025-10"
    took = page.evaluate("""async () => {
        const plot = document.querySelector('#air .js-plotly-plot'), begun = performance.now();
        window.Plotly.relayout(plot, {'xaxis.range[0]': '2026-06-01 00:00', 'xaxis.range[1]': '2026-06-08 00:00'});
        while (!plot.data.find(t => t.name === 'humidity').x[0].startsWith('2026-06-01')) {
            if (performance.now() - begun > 10000) return -1;
            await new Promise(done => setTimeout(done, 10));
        }
        return performance.now() - begun;
    }""")
    assert 0 < took < 2_000  # the aim is 500 ms on a machine of its own; this one is shared
    print(f"zoom shown after {took:.0f} ms")


def test_an_address_restores_the_view(tab, address):
    page = tab()
    page.goto(address + "/places")
    page.locator("#place-from").fill("2026-07-01")
    page.locator("#place-to").fill("2026-07-07")
    page.get_by_role("button", name="show", exact=True).click()
    page.wait_for_url(re.compile("from=2026-07-01&to=2026-07-07"))
    again = tab()
    again.goto(page.url)
    again.locator("main h1").wait_for()
    assert again.locator("#place-from").input_value() == "2026-07-01"
    page.go_back()
    page.wait_for_url(re.compile("/places$"))


def test_a_table_saved_holds_no_formula(tab, address):
    page = tab()
    page.goto(address + "/places?place=store&days=7")
    page.locator("main h1").wait_for()
    saved = page.evaluate("""() => {
        const table = document.createElement('table');
        for (const text of ['=1+1', '+SUM(A1)', '@x', '-cmd', '−2.5', '-2.5 to 3', 'plain "word"']) {
            table.insertRow().insertCell().textContent = text;
        }
        return window.envwatch.csv(table);
    }""")
    cells = [line.strip('"') for line in saved.strip().split("\r\n")]
    assert cells == ["'=1+1", "'+SUM(A1)", "'@x", "'-cmd", "-2.5", "'-2.5 to 3", 'plain ""word']
    with page.expect_download() as got:
        page.get_by_role("button", name="save as CSV").last.click()
    assert got.value.suggested_filename.endswith(".csv")


@pytest.mark.parametrize("form", ["svg", "png"])
def test_a_chart_is_saved(tab, address, form, tmp_path):
    page = tab()
    page.goto(address + "/places?place=store&days=7")
    page.locator("#air .js-plotly-plot .trace").first.wait_for()
    with page.expect_download() as got:
        page.get_by_role("button", name=f"save as {form.upper()}").click()
    got.value.save_as(tmp_path / "chart")
    head = (tmp_path / "chart").read_bytes()[:200]
    assert head.startswith(b"\x89PNG") if form == "png" else b"<svg" in head


@pytest.mark.parametrize("path", PAGES)
def test_a_page_saved_opens_offline_and_asks_for_nothing(tab, chromium, address, path, tmp_path):
    page = tab()
    page.goto(address + path)
    heading(page, PAGES[path])
    charts = page.locator("main .js-plotly-plot").count()
    page.wait_for_timeout(600)
    with page.expect_download() as saved:
        page.get_by_role("button", name="save this page").click()
    file = tmp_path / "view.html"
    saved.value.save_as(file)
    context = chromium.new_context(offline=True)
    kept, asked = context.new_page(), []
    kept.on("request", lambda sent: asked.append(sent.url) if not sent.url.startswith(("file:", "data:")) else None)
    kept.goto(file.as_uri())
    assert kept.locator("main h1").inner_text() == PAGES[path]
    assert not asked and not kept.locator("script, button, input, a").count()
    wide = "[...document.images].filter((i) => i.naturalWidth > 0).length"
    assert kept.evaluate("document.images.length") == kept.evaluate(wide) >= charts
    assert kept.evaluate("document.documentElement.scrollWidth <= innerWidth")
    context.close()


def test_a_page_saved_holds_the_findings_and_no_owner(tab, address, studio_folder, tmp_path):
    from envwatch.archive import Studio
    from envwatch.cases import review

    page = tab()
    page.goto(address + "/")
    heading(page, "This week")
    with page.expect_download() as saved:
        page.get_by_role("button", name="save this page").click()
    saved.value.save_as(tmp_path / "week.html")
    told = (tmp_path / "week.html").read_text(encoding="utf-8")
    with Studio.open(studio_folder) as studio:
        needing = review.make(studio, NOW).needing
        owners = {p.owner for p in studio.paintings().values() if p.owner}
    assert needing and all(line.headline.sentence in told for line in needing)
    assert owners and not any(owner in told for owner in owners)


@pytest.mark.parametrize("path", ["/", "/paintings", "/painting/26-02", "/places?place=loft&days=30", "/files"])
def test_on_paper_stands_what_is_of_use_on_paper(tab, address, path, tmp_path):
    page = tab()
    page.goto(address + path)
    page.wait_for_selector("main h1")
    page.wait_for_timeout(600)
    page.emulate_media(media="print")
    page.evaluate("window.dispatchEvent(new Event('beforeprint'))")
    hidden = page.locator("nav, .form, .noprint, button:not(th button), header button")
    assert not any(hidden.nth(n).is_visible() for n in range(hidden.count()))
    assert page.locator("main h1").is_visible() and "Enter" not in page.locator("h2:visible").all_inner_texts()
    if path == "/paintings":
        assert page.locator(".register tr:visible").count() > 10 and page.locator(".register thead:visible").count()
    for svg in page.locator(".main-svg").all():
        assert svg.get_attribute("viewBox")


def test_temperatures_and_times_turn_over_and_stay_turned(tab, address):
    page = tab()
    page.goto(address + "/places?place=loft&days=7")
    heading(page, "Drying loft")
    for name in ("show temperatures in °F", "show times with 12 hours"):
        page.get_by_role("button", name=name).click()
        page.wait_for_timeout(400)
    until(page, "document.querySelector('main .summary').textContent.includes('°F')")
    page.reload()
    heading(page, "Drying loft")
    shown = page.locator("main").inner_text()
    assert "°F" in shown and "°C" not in shown and " pm" in shown and not re.search(r"\b(1[3-9]|2[0-3]):[0-5]\d", shown)


def test_the_keyboard_alone_reaches_a_painting_and_logs_a_call(tab, address):
    page = tab()
    page.goto(address + "/")
    page.locator("article").first.wait_for()
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "to the content"
    press_until(page, "26-02", "document.activeElement.getAttribute('href') || ''")
    assert page.evaluate("getComputedStyle(document.activeElement).outlineStyle") == "solid"
    page.keyboard.press("Enter")
    heading(page, "Herring Fleet before the Storm")
    press_until(page, "#observe", "document.activeElement.getAttribute('href') || ''")
    page.keyboard.press("Enter")
    until(page, "document.activeElement.id === 'observe-sign'")
    page.keyboard.type("nothing to see")
    page.keyboard.press("Enter")
    page.get_by_text("Logged: nothing to see").wait_for()


def press_until(page, wanted: str, look: str, most: int = 60):
    for _ in range(most):
        page.keyboard.press("Tab")
        if wanted in page.evaluate(look):
            return
    raise AssertionError(f"{wanted}: not reached in {most} steps")


def test_the_dark_scheme_is_kept(tab, address):
    page = tab()
    page.goto(address + "/")
    page.locator("article").first.wait_for()
    page.get_by_role("button", name="dark").click()
    until(page, "document.documentElement.dataset.mantineColorScheme === 'dark'")
    page.goto(address + "/paintings")
    until(page, "document.documentElement.dataset.mantineColorScheme === 'dark'")


def test_a_spell_ahead_is_asked_and_answered_by_the_keyboard_alone(tab, address):
    page = tab()
    page.goto(address + "/drying")
    heading(page, "Drying the room")
    page.wait_for_load_state("networkidle")  # a key pressed before the page listens is a key lost
    page.locator("summary", has_text="A hot or cold spell").focus()
    page.keyboard.press("Enter")
    page.get_by_label("tomorrow's highest outdoors").focus()
    page.keyboard.type("36")
    page.keyboard.press("Tab")
    page.keyboard.type("zero")
    page.keyboard.press("Tab")
    page.keyboard.press("Tab")
    until(page, "document.activeElement.textContent === 'look ahead'")
    said = "document.querySelector('main').innerText.includes('not a number')"
    for _ in range(5):  # a key pressed while the page is busy with the fields may be lost: a person presses again
        page.keyboard.press("Enter")
        if any(page.evaluate(said) or page.wait_for_timeout(50) for _ in range(120)):
            break
    until(page, said, 600)
    page.get_by_label("and its lowest").fill("20")
    page.keyboard.press("Tab")
    page.get_by_role("button", name="look ahead").press("Enter")
    until(page, "document.querySelector('main').innerText.includes('a spell of 20 to 36 °C outdoors')", 1200)
    assert "tomorrow_max=36" in page.url  # the view can be shared


def test_positions_from_a_file_are_filled_in_and_judged(tab, address):
    page = tab()
    page.goto(address + "/hang")
    page.locator("#hang-file input[type=file]").set_input_files(SAMPLE)
    until(page, "location.search.includes('over+the+old+radiator')", 600)
    page.wait_for_load_state("networkidle")  # the form is filled in anew; what is chosen before that is lost
    which = page.get_by_label("painting", exact=True).first
    for _ in range(5):
        which.click()
        page.keyboard.type("Herring")
        page.keyboard.press("ArrowDown")
        page.keyboard.press("Enter")
        page.wait_for_timeout(1000)
        if "Herring" in which.input_value():
            break  # else the form was filled in meanwhile: a person chooses again
    page.get_by_role("button", name="judge them").click()
    page.locator(".other-place").first.wait_for(timeout=180_000)
    never = page.locator("section", has_text="Never here").inner_text()
    assert "over the old radiator" in never and "onset of softening" in never
    assert "painting=26-02" in page.url


@pytest.fixture(scope="module")
def axe() -> str:
    path = os.environ.get("ENVWATCH_AXE", "")
    assert path and Path(path).is_file(), "ENVWATCH_AXE must name axe.min.js: npm install axe-core"
    return Path(path).read_text(encoding="utf-8")


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("path", PAGES)
def test_axe_finds_nothing_serious(tab, address, axe, path, scheme):
    page = tab(1440 if scheme == "light" else 400, scheme)
    page.goto(address + path)
    heading(page, PAGES[path])
    if "ask=" in path:
        page.locator(".ways, .other-place").first.wait_for(timeout=60_000)
    page.wait_for_timeout(300)
    page.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
    page.evaluate(axe)
    found = page.evaluate(
        "axe.run(document, {runOnly: ['wcag2a', 'wcag2aa', 'wcag21aa', 'wcag22aa', 'best-practice']})"
    )
    grave = [
        (item["id"], item["help"], [node["html"][:160] for node in item["nodes"]][:4])
        for item in found["violations"] if item["impact"] in ("serious", "critical")
    ]  # fmt: skip
    assert not grave, json.dumps(grave, indent=1)
