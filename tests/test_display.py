"""°C or °F, 24 or 12 hours: what is shown, what is taken back, and that nothing stored changes.

Fixed points of the scales: water freezes at 32 °F and boils at 212 °F; both scales meet at -40 (common knowledge; the
definition °F = 9/5 °C + 32 is that of NIST SP 811, 2008, appendix B.9). The 12-hour clock: NIST's FAQ on times of day,
noon is 12 pm, midnight 12 am (from memory).
"""

import json
import re

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dashboards import create_app, units
from dashboards.pages.painting_forms import TREAT
from envwatch.archive import Studio
from envwatch.cases import review
from envwatch.present.units import DisplayUnits, celsius, fahrenheit

NOW = pd.Timestamp("2026-11-02T11:00Z")
F, TWELVE, F12 = DisplayUnits("F"), DisplayUnits("C", 12), DisplayUnits("F", 12)
PATHS = ("/", "/paintings", "/painting/26-02", "/files", "/places?place=loft&days=30", "/drying", "/hang", "/around")


def test_fixed_points_of_both_scales():
    assert [fahrenheit(c) for c in (0, 100, -40, 37)] == pytest.approx([32, 212, -40, 98.6])
    assert [celsius(f) for f in (32, 212, -40)] == [0, 100, -40]


@pytest.mark.parametrize(("said", "shown"), [
    ("25 to 30 °C", "77 to 86 °F"),
    ("5 °C", "41 °F"),
    ("−5.0 °C", "23.0 °F"),
    ("15 °C below softening", "27 °F below softening"),
    ("the wall is up to 3.0 °C and the canvas back up to 1.5 °C warmer",
     "the wall is up to 5.4 °F and the canvas back up to 2.7 °F warmer"),
    ("grows 40 to 50 °C hotter than the room", "grows 72 to 90 °F hotter than the room"),
    ("by 60 °C, over the heat at which linings are made", "by 108 °F, over the heat at which linings are made"),
    ("47.9 ± 0.5 °C; limit 45 °C", "118.2 ± 0.9 °F; limit 113 °F"),
    ("± 1.6 °C and ± 6.4 % RH", "± 2.9 °F and ± 6.4 % RH"),
    ("averaged 31.0 °C over 24 h", "averaged 87.8 °F over 24 h"),
    ("3.0 °C more would be urgent; more than 2.0 °C less would be watch",
     "5.4 °F more would be urgent; more than 3.6 °F less would be watch"),
    ("more than 30 °C", "more than 86 °F"),
    ("room and outdoors at least 10 °C apart", "room and outdoors at least 18 °F apart"),
    ("13.3 ± 1.2 K over the dew point; limit 2 K over the dew point",
     "23.9 ± 2.2 °F over the dew point; limit 3.6 °F over the dew point"),
    ("U, W/(m²K); 1.4 W/m²K", "U, W/(m²K); 1.4 W/m²K"),
    ("at 14:30, 15 °C", "at 14:30, 59 °F"),
    ("64 to 71 % RH", "64 to 71 % RH"),
    ("heat at the adhesive, °C", "heat at the adhesive, °F"),
])  # fmt: skip
def test_temperatures_and_differences_are_told_apart(said, shown):
    assert F.words(said) == shown
    assert DisplayUnits().words(said) == said


@pytest.mark.parametrize(("said", "shown"), [
    ("Mon 26 Oct 00:05", "Mon 26 Oct 12:05 am"), ("12:00", "12:00 pm"), ("23:59", "11:59 pm"),
    ("from 08:30 to 17:00", "from 8:30 am to 5:00 pm"), ("SHA-256 12:34:56", "SHA-256 12:34:56"),
    ("24:00", "24:00"), ("since 13:05: go and look", "since 1:05 pm: go and look"), ("limit 28 °C", "limit 28 °C"),
])  # fmt: skip
def test_the_clock_of_twelve_hours(said, shown):
    assert TWELVE.words(said) == shown


@given(st.decimals(-60, 300, places=4).map(lambda d: f"{float(d):g}"))
def test_what_stands_in_a_field_is_taken_back_exactly(text):
    shown = F12.filled(text, True)
    assert float(F12.kept(shown, True)) == pytest.approx(float(text), abs=5e-5)


@given(st.times().map(lambda t: f"2026-11-02 {t:%H:%M}"))
def test_a_time_typed_with_twelve_hours_is_taken_back(text):
    assert F12.kept(F12.filled(text, False), False) == text


def test_what_names_its_own_unit_is_left_for_its_reader():
    assert F.kept("60 F", True) == "60 F" and F.kept("hot", True) == "hot" and F.kept("", True) == ""


# ------------------------------------------------------------------------------------------------------- the pages


def call(app, path: str, shown: str = "C-24") -> dict:
    path, _, search = path.partition("?")
    body = {
        "output": "..page.children...menu.children...name.children..",
        "outputs": [{"id": id, "property": "children"} for id in ("page", "menu", "name")],
        "inputs": [{"id": "url", "property": "pathname", "value": path},
                   {"id": "url", "property": "search", "value": f"?{search}" if search else ""},
                   {"id": "again", "property": "data", "value": None}],
        "changedPropIds": ["url.pathname"],
    }  # fmt: skip
    browser = app.server.test_client()
    browser.set_cookie(units.COOKIE, shown, domain="127.0.0.1")
    return browser.post(units.CALL, json=body, base_url="http://127.0.0.1").get_json()["response"]


def said(part, out=None, inside: bool = True) -> list[str]:
    """All that a person is told, without what is shown as it is kept."""
    out = [] if out is None else out
    if isinstance(part, list):
        for one in part:
            said(one, out)
    elif isinstance(part, dict) and "props" in part:
        props = part["props"]
        if part["type"] not in units.AS_KEPT and "as-kept" not in str(props.get("className")):
            for name in units.SAID:
                said(props.get(name), out)
    elif isinstance(part, str):
        out.append(part)
    return out


@pytest.mark.parametrize("path", PATHS)
def test_no_page_says_anything_in_celsius_or_with_24_hours_where_it_was_asked_otherwise(app, path):
    words = said(call(app, path, "F-12")["page"]["children"])
    assert any("°F" in text for text in words) or path == "/paintings"
    assert not [text for text in words if "°C" in text or re.search(r"\b(1[3-9]|2[0-3]):[0-5]\d\b", text)]


def test_the_chain_behind_a_figure_is_retold_and_its_working_stays(demo_copy):
    with Studio.open(demo_copy) as studio:
        shown = review.make(studio, NOW)
        review.keep(studio, shown)
    number = next(line.headline.number for line in shown.needing if line.headline.unit == "°C")
    app = create_app(demo_copy, now=lambda: NOW)
    words = said(call(app, f"/why/{number}", "F-12")["page"]["children"])
    assert any("°F" in text for text in words) and not any("°C" in text for text in words)
    kept = next(line.headline for line in shown.needing if line.headline.number == number).working
    assert any(value in json.dumps(call(app, f"/why/{number}", "F-12"), ensure_ascii=False) for _, value in kept)
    app.server.config["HOUSE"].close()


@pytest.mark.parametrize("path", PATHS)
def test_as_kept_nothing_is_touched(app, path):
    assert call(app, path, "C-24") == call(app, path, "nonsense")


def figures(part, out=None) -> list[dict]:
    out = [] if out is None else out
    for one in part if isinstance(part, list) else [part]:
        if isinstance(one, dict) and "props" in one:
            if "figure" in one["props"]:
                out.append(one["props"]["figure"])
            figures(one["props"].get("children"), out)
    return out


def test_a_charts_temperatures_move_together_and_its_humidity_stays(app):
    path = "/painting/26-02"
    kept, shown = (figures(call(app, path, how)["page"]["children"])[0] for how in ("C-24", "F-12"))
    for before, after in zip(kept["data"], shown["data"], strict=True):
        if before.get("name") == "temperature":
            assert [y for y in after["y"] if y is not None] == pytest.approx(
                [fahrenheit(y) for y in before["y"] if y is not None], abs=0.006)  # fmt: skip
            assert "°F" in after["hovertemplate"]
        elif before.get("name") == "humidity":
            assert after["y"] == before["y"]
    lines = [(b["y0"], a["y0"]) for b, a in zip(kept["layout"]["shapes"], shown["layout"]["shapes"], strict=True)
             if b["yref"] == "y"]  # fmt: skip
    assert lines and all(after == pytest.approx(fahrenheit(before)) for before, after in lines)
    assert "%p" in shown["layout"]["xaxis"]["hoverformat"]


def test_a_tables_columns_of_celsius_are_retold_and_the_others_stay(app):
    def rows(how):
        table = next(t for t in tables(call(app, "/places?place=loft&days=7", how)["page"]["children"]))
        return [[units._text(cell) for cell in units._cells(row, "Td", "")] for row in trs(table)]

    for before, after in zip(rows("C-24"), rows("F-24"), strict=True):
        low_c, low_f = (float(row[0].split(" to ")[0].replace("−", "-")) for row in (before, after))
        assert low_f == pytest.approx(fahrenheit(low_c), abs=0.051) and before[1] == after[1]


def tables(part):
    for one in part if isinstance(part, list) else [part]:
        if isinstance(one, dict) and "props" in one:
            if one["type"] == "Table":
                yield one
            yield from tables(one["props"].get("children"))


def trs(table):
    return [row for row in units._cells(table, "Tr", "") if units._cells(row, "Td", "")]


def fields(part, out=None) -> list[tuple]:
    out = [] if out is None else out
    for one in part if isinstance(part, list) else [part]:
        if isinstance(one, dict) and "props" in one:
            if one["type"] == "TextInput":
                out.append((one["props"].get("id"), one["props"].get("label") or ""))
            fields(one["props"].get("children"), out)
    return out


def test_every_field_whose_label_says_celsius_is_taken_back_and_no_other(app):
    seen = [field for path in PATHS for field in fields(call(app, path)["page"]["children"])]
    assert len(seen) > 50
    wrong = [(id, label) for id, label in seen if ("°C" in label) != units.is_temp(id)]
    assert not wrong


def test_a_treatment_typed_in_fahrenheit_is_stored_in_celsius(demo_copy):
    app = create_app(demo_copy, now=lambda: NOW)
    given = {"kind": "lining", "on": "2026-10-30 2:30 pm", "temp_interface_c": "149"}
    fields = [{"id": f"treat-{name}", "property": "value", "value": given.get(name)} for name in TREAT]
    whose = [
        {"id": "again", "property": "data", "value": 0},
        {"id": "painting-id", "property": "data", "value": "26-02"},
    ]
    body = pressing(app, "treat-said.children", [("treat-press", 1)]) | {"state": [*whose, *fields]}
    browser = app.server.test_client()
    browser.set_cookie(units.COOKIE, "F-12", domain="127.0.0.1")
    answer = browser.post(units.CALL, json=body, base_url="http://127.0.0.1")
    assert answer.status_code == 200
    app.server.config["HOUSE"].close()
    with Studio.open(demo_copy) as studio:
        kept = studio.paintings()["26-02"].treatments[-1]
    assert kept.temp_interface_c == 65.0
    assert kept.on == pd.Timestamp("2026-10-30T13:30Z")  # Berlin, winter time


def pressing(app, within: str, clicks: list[tuple[str, int]]) -> dict:
    """What a browser sends when the first of some buttons is pressed."""
    spec = next(key for key in app.callback_map if within in key)
    outputs = [part.rsplit(".", 1) for part in spec.strip(".").split("...")]
    return {
        "output": spec, "outputs": [{"id": id, "property": name.split("@")[0]} for id, name in outputs],
        "inputs": [{"id": id, "property": "n_clicks", "value": count} for id, count in clicks],
        "changedPropIds": [f"{clicks[0][0]}.n_clicks"],
    }  # fmt: skip


def test_the_choice_is_a_cookie_no_script_can_read(app):
    body = pressing(app, "clock.children", [("units", 1), ("clock", 0)])
    body["state"] = [{"id": "again", "property": "data", "value": 0}]
    answer = app.server.test_client().post(units.CALL, json=body, base_url="http://127.0.0.1")
    cookie = answer.headers["Set-Cookie"]
    assert cookie.startswith(f"{units.COOKIE}=F-24;") and "HttpOnly" in cookie and "SameSite=Strict" in cookie
