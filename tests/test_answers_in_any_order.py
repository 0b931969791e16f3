"""Answers about files that wait come to the same in any order; a name of dates alone is nobody's."""

import random

from envwatch.archive import Studio
from tests.long.orders import held, made, taken


def test_what_waits_goes_to_its_own_logger_whichever_is_answered_first(tmp_path):
    files, registered = made(random.Random(7002))  # klima.csv of two loggers, one of them in folders of its own
    found = []
    for k in range(5):
        (folder := tmp_path / str(k)).mkdir()
        found.append(taken(files, registered, random.Random(f"7002/{k}"), folder)[0])
    assert all(groups == found[0] for groups in found)
    names = [{"Galerie" in name for name in names} for names, _ in found[0]]
    assert names in ([{True}, {False}], [{False}, {True}])


def test_a_name_of_dates_alone_is_asked_about_beside_any_logger_that_it_may_be_of(tmp_path):
    rows = "".join(f"2026-01-0{day}T{hour:02}:00:00Z,{t + hour % 5 / 10},50\n" for day, t in ((5, 18), (7, 27))
                   for hour in range(24)).splitlines(keepends=True)  # fmt: skip
    with Studio.create(tmp_path / "s", name="x", zone="UTC") as studio:
        for name, some in (("Galerie.csv", rows[:24]), ("2026-01-07.csv", rows[24:])):
            path = tmp_path / name
            path.write_text("Time,Temperature (°C),Relative humidity (%)\n" + "".join(some), encoding="utf-8")
            studio.add([path])
        assert held(studio) == {"Galerie.csv": "galerie"}
        (item,) = studio.tray()
        assert item.choices == ("galerie", "new")
        assert "its name is only dates and numbers" in item.question
