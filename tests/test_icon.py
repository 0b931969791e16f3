"""The tab's icon is ours, on every page, and asks for nothing. WCAG 2.2, 1.4.11: 3 to 1 for a graphic's parts."""

import pkgutil
import re
import xml.etree.ElementTree as ET
from urllib.parse import unquote

import pytest

from dashboards import create_app, guard
from dashboards.icon import SVG
from envwatch.present.palette import DARK, LIGHT, contrast


@pytest.fixture(scope="module")
def client(app):
    return app.server.test_client()


def icons(page):
    return re.findall(r"<link[^>]*rel=\"(?:shortcut )?icon\"[^>]*>", page)


@pytest.mark.parametrize("path", ["/", "/paintings", "/nothing"])
def test_the_head_of_a_page_carries_our_icon_alone_and_no_request_for_another(client, path):
    page = client.get(path).get_data(as_text=True)
    (link,) = icons(page)
    assert unquote(re.search(r'href="data:image/svg\+xml,([^"]*)"', link)[1]).encode() == SVG
    assert "favicon" not in page


def test_the_door_bears_it_too(demo_folder):
    door = guard.Door(passphrase_hash="scrypt:not asked for here")
    made = create_app(demo_folder, door=door)
    page = made.server.test_client().get("/enter").get_data(as_text=True)
    made.server.config["HOUSE"].close()
    (link,) = icons(page)
    assert unquote(link.partition("svg+xml,")[2].partition('"')[0]).encode() == SVG


def test_the_frameworks_icon_is_not_served_under_any_address(client):
    theirs = pkgutil.get_data("dash", "favicon.ico")
    for path in ("/_favicon.ico", "/_favicon.ico?v=1", "/favicon.ico", "/assets/favicon.ico"):
        assert client.get(path).data != theirs, path
    for path in ("/_favicon.ico", "/assets/icon.svg"):
        with client.get(path) as answer:
            assert answer.data == SVG and answer.mimetype == "image/svg+xml", path


def test_the_policy_lets_a_browser_show_it(client):
    policy = client.get("/").headers["Content-Security-Policy"]
    assert "data:" in re.search(r"img-src ([^;]*)", policy)[1]


def test_it_is_drawn_in_the_palette_light_and_dark_and_stands_out_in_both():
    root = ET.fromstring(SVG)
    style = root.find("{http://www.w3.org/2000/svg}style").text
    light, dark = style.split("@media (prefers-color-scheme: dark)")
    for part, palette in ((light, LIGHT), (dark, DARK)):
        colours = dict(re.findall(r"\.(\w+) \{ (?:fill|stroke): (#\w{6}); \}", part))
        assert set(colours) == {"canvas", "bars", "mitres", "limit", "line"} and set(colours.values()) <= set(
            palette.values()
        )
        for name in ("bars", "limit", "line"):
            assert contrast(colours[name], colours["canvas"]) >= 3, name


def test_it_loads_and_runs_nothing():
    root = ET.fromstring(SVG)
    assert {element.tag.partition("}")[2] for element in root.iter()} <= {"svg", "title", "style", "rect", "path"}
    assert not re.search(rb"url\(|@import|href|on\w+=", SVG)
