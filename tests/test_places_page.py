"""Places: another place, another period and the air outdoors over one another, in an address that can be shared."""

import numpy as np
import pandas as pd
import pytest
from test_dashboards import text_of

from dashboards import app as pages
from dashboards.pages import places
from envwatch.cases import timeline

NOW = pd.Timestamp("2026-11-02T11:00Z")
TWO_WEEKS = {"place": "loft", "from": "2026-10-12", "to": "2026-10-25"}


@pytest.fixture
def house(home):
    return home


def drawn(house, asked: dict) -> dict[str, dict]:
    """The curves of the page's chart by name."""
    page = places.layout(house, "", asked)
    figure = next(part.figure for part in parts_of(page) if getattr(part, "id", None) == "air")
    return {trace["name"]: trace for trace in figure["data"]}


def parts_of(part):
    if isinstance(part, list | tuple):
        for one in part:
            yield from parts_of(one)
    elif hasattr(part, "_prop_names"):
        yield part
        yield from parts_of(getattr(part, "children", None))


def test_another_place_and_the_air_outdoors_lie_over_it_each_in_its_own_stroke(house):
    curves = drawn(house, TWO_WEEKS | {"beside": "store", "behind": "outdoors"})
    strokes = [curves[f"humidity{whose}"]["line"]["dash"] for whose in ("", ", Picture store")]
    assert strokes == ["solid", "dash"]
    assert curves["humidity, Outdoors"]["line"]["width"] < curves["humidity"]["line"]["width"]


def test_another_period_lies_on_the_same_days_with_its_own_readings(house):
    curves = drawn(house, TWO_WEEKS | {"against": "2026-06-01"})
    other = curves["temperature, from 2026-06-01"]
    assert other["x"][0][:10] == "2026-10-12" and other["x"][-1][:10] == "2026-10-25"
    with house.reading() as studio:
        there = timeline.of_place(studio, "loft", pd.Timestamp("2026-05-31T22:00Z"), pd.Timestamp("2026-06-14T22:00Z"))
    assert max(y for y in other["y"] if y is not None) == pytest.approx(np.nanmax(there.temp_c.values), abs=0.006)


def test_zooming_draws_the_same_stretch_of_all_that_lies_over_one_another(house):
    with house.reading() as studio:
        place = studio.places()["loft"]
        start, end = (pd.Timestamp(t) for t in ("2026-10-11T22:00Z", "2026-10-25T23:00Z"))
        view = places._view(studio, place, TWO_WEEKS | {"against": "2026-06-01", "behind": "outdoors"}, start, end)
    moved = {"xaxis.range[0]": "2026-10-14 00:00", "xaxis.range[1]": "2026-10-15 00:00"}
    curves = {trace["name"]: trace for trace in places.zoom(moved, view)["data"]}
    for name in ("temperature", "temperature, from 2026-06-03", "temperature, Outdoors"):
        assert {x[:10] for x in curves[name]["x"]} <= {"2026-10-14", "2026-10-15"}, name


def test_the_view_is_an_address_and_a_wrong_day_is_refused():
    made, refused = places.go(1, "loft", "store", "2026-10-12", "2026-10-25", "2026-06-01", {"behind": "outdoors"})
    assert made == ("/places?place=loft&from=2026-10-12&to=2026-10-25&beside=store&against=2026-06-01&behind=outdoors")
    assert refused == ""
    _same, refused = places.go(1, "loft", None, "2026-10-12", "2026-10-25", "soon", None)
    assert "soon" in text_of(refused)


@pytest.mark.parametrize(("against", "said"), [
    ("2026-10-12", "the other period is the one shown"), ("never", "never"),
    ("1990-01-01", "from 1990-01-01: nothing was read there in these days"),
])  # fmt: skip
def test_a_period_that_is_none_is_said_in_one_line(app, against, said):
    with app.server.test_request_context("/"):
        shown = text_of(pages.show("/places", f"?place=loft&from=2026-10-12&to=2026-10-25&against={against}")[0])
    assert "Drying loft" in shown and said in shown


def test_a_place_tells_of_its_own_loggers_marks_alone(house):
    shown = text_of(places.layout(house, "", {"place": "loft", "days": "30"}))
    assert "Office" not in shown.split("To be known")[-1]
