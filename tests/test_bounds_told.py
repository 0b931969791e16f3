"""A reading of ">95" is at least 95 wherever a highest is told, and "<12" at most 12: no bare figure.

What a bound says is common practice, no source.
"""

import pickle

import pandas as pd
import pytest

from envwatch.archive import Studio
from envwatch.cases import loan, place, review
from envwatch.climate import describe_place
from envwatch.core.period import iso_week
from envwatch.core.text import Bound, number, span
from envwatch.present.terminal.place import place as printed
from tests.test_archive import MONDAY

END = MONDAY + pd.Timedelta(days=7)
REGISTER = {
    "places": "id,name,kind\nstore,The store,store\n", "loggers": "id,name\nklima,Klima\n",
    "hangings": "logger,place,position,from\nklima,store,rack,2025-10-01\n",
    "paintings": "id,title\np1,Moor\np2,Harbour\n",
    "layers": "painting,order,role,material\np1,1,canvas,linen\np2,1,canvas,linen\n",
    "stays": "painting,place,position,from,to\np1,store,rack,2025-10-01,\np2,store,rack,2025-10-01,\n",
}  # fmt: skip


@pytest.fixture
def store(tmp_path):
    """A store at 55 %, whose last days are written as given."""

    def made(odd: str, days: int = 3) -> Studio:
        folder = tmp_path / odd.strip("<>") / ("plain" if odd[0].isdigit() else "bound")
        (folder / "register").mkdir(parents=True)
        for name, text in REGISTER.items():
            (folder / "register" / f"{name}.csv").write_text(text, encoding="utf-8")
        studio = Studio.create(folder / "studio", name="A", zone="UTC")
        studio.import_register(folder / "register")
        begin = MONDAY - pd.Timedelta(days=40)
        hours = pd.date_range(begin, END, freq="h", inclusive="left")
        odd_from = END - pd.Timedelta(days=days)
        rows = [f"{at:%Y-%m-%dT%H:%M:%S}Z,{20 + n % 7 / 10:.1f},{odd if at >= odd_from else 55 + n % 5}"
                for n, at in enumerate(hours)]  # fmt: skip
        path = folder / "klima.csv"
        path.write_text("\n".join(["Time,Temperature (°C),Humidity (%)", *rows, ""]), encoding="utf-8")
        assert studio.add([path]).ok
        return studio

    return made


def test_a_places_highest_and_its_longest_spell_say_at_least(store):
    now = END + pd.Timedelta(hours=1)
    for odd, word in (("95", ""), (">95", "at least ")):
        with store(odd) as studio:
            told = " ".join(printed(place.of(studio, "store", now)).split())
            assert f"humidity 55.0 to {word}95.0 % RH, mean" in told
            assert f"up to {word}95.0 %" in told
            summary = describe_place(studio.climate("store", MONDAY, END), "UTC")
            assert span(summary.rh_min_percent, summary.rh_max_percent, 0) == f"55 to {word}95"
            assert summary.rh_max_percent == 95.0


def test_a_places_lowest_says_at_most_and_its_highest_nothing(store):
    with store("<12") as studio:
        summary = describe_place(studio.climate("store", MONDAY, END), "UTC")
        assert span(summary.rh_min_percent, summary.rh_max_percent) == "at most 12.0 to 59.0"
        assert number(summary.temp_max_c) == "20.6"


def test_an_event_of_a_room_says_at_least(store):
    for odd, word in (("95", ""), (">95", "at least ")):
        with store(odd) as studio:
            made = review.make(studio, END + pd.Timedelta(hours=1), iso_week("2026-W02", studio.zone))
            (one,) = [event for event in made.events if event.place_id == "store"]
            assert f"reached {word}95.0 % RH" in one.sentence


def test_an_incident_of_a_loan_says_at_least_and_so_does_a_change_that_ends_at_a_bound(store):
    agreed = b'painting = "p1"\nplace = "store"\nfrom = 2026-01-05\nto = 2026-01-11\nposition = "rack"\n'
    agreed += b"rh_high = 60\nrh_change = 10\n"
    for odd, worst in (("95", ("40.0", "95.0")), (">95", ("at least 40.0", "at least 95.0"))):
        with store(odd) as studio:
            report = loan.judged(studio, loan.read(agreed, "a.toml", "UTC"), END)
            found = {one.what: one for one in report.incidents}
            change, damp = found["change of humidity within 24 h"], found["too damp"]
            assert (number(change.worst), number(damp.worst)) == worst
            assert {number(day.worst) for day in damp.days} == {worst[1]}
            assert span(*report.span_rh) == f"55.0 to {worst[1]}"


def test_a_bound_survives_being_kept(store):
    kept = pickle.loads(pickle.dumps(Bound(95.0, "at most")))
    assert (kept, number(kept)) == (95.0, "at most 95.0")
