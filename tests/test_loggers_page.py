"""Loggers and their probes on the pages: entered, hung by the labels in their files, asked about until one says."""

import numpy as np
import pandas as pd
import pytest

from dashboards import create_app
from dashboards.pages import loggers
from envwatch.archive import Studio
from envwatch.archive.register.probes import hung_nowhere
from envwatch.cases import review
from envwatch.core.errors import BadInput
from tests.test_dashboards import page, press

NOW = pd.Timestamp("2026-11-16T11:00Z")


ONE = ("Amsel", "Buche", "Chor", "Dohle", "Eibe", "Fink", "Gaube", "Hafen", "Iltis", "Joch")


def air(seed: int, n: int) -> tuple[np.ndarray, np.ndarray]:
    """Temperature and humidity of a room of its own, by the hour."""
    rng, hour = np.random.default_rng(seed), np.arange(n)
    drift = np.cumsum(rng.normal(0, 0.12, n))
    return 17 + seed % 4 + 1.5 * np.sin(hour / 24 * 2 * np.pi) + drift, 52 - 2 * drift + np.cumsum(
        rng.normal(0, 0.2, n)
    )


@pytest.fixture
def folder(tmp_path):
    """A studio with ten new loggers of one probe and one of two, all hanging nowhere."""
    hours, files = pd.date_range("2026-11-01", "2026-11-15", freq="h", inclusive="left"), []
    for n, name in enumerate(ONE):
        rows = zip(hours, *air(n, len(hours)), strict=True)
        files.append(tmp_path / f"{name}.csv")
        lines = [f"{t:%Y-%m-%d %H:%M};{temp:.1f};{rh:.1f}" for t, temp, rh in rows]
        files[-1].write_text("\n".join(["Zeit;Temperatur °C;rel. Feuchte %", *lines, ""]), encoding="utf-8")
    rows = zip(hours, *air(98, len(hours)), *air(99, len(hours)), strict=True)
    files.append(tmp_path / "Kamin.csv")
    lines = [f"{t:%Y-%m-%d %H:%M};" + ";".join(f"{one:.1f}" for one in cells) for t, *cells in rows]
    files[-1].write_text("\n".join(["Zeit;innen °C;innen % RH;außen °C;außen % RH", *lines, ""]), encoding="utf-8")
    with Studio.create(tmp_path / "studio", name="S", zone="Europe/Berlin") as studio:
        studio.enter("place", {"id": "store", "name": "Store", "kind": "store"})
        studio.enter("painting", {"id": "p1", "title": "Harbour"})
        studio.move("p1", "store", "2026-10-01")
        studio.add(files)
        assert len(studio.loggers()) == 11
    return tmp_path / "studio"


def test_a_probe_that_no_file_has_is_refused(folder):
    with Studio.open(folder) as studio:
        with pytest.raises(BadInput, match="no probe 'oben'; the files of kamin have the probes außen, innen"):
            studio.set_hanging("kamin", "store", "2026-11-01", channel="oben")
        with pytest.raises(BadInput, match="the files of amsel have one probe, which needs no name"):
            studio.set_hanging("amsel", "store", "2026-11-01", channel="oben")
        studio.set_hanging("kamin", "store", "2026-11-01", channel="Innen")
        assert hung_nowhere(studio)["kamin"] == ("außen",)
        (line,) = (one for one in review.make(studio, NOW).loggers if one.id == "kamin" and one.state == "no place")
        assert line.sentence.startswith("its probe außen reads but hangs nowhere")
        studio.export_register(folder.parent / "out", private=True)
        hangings = folder.parent / "out" / "hangings.csv"
        hangings.write_text(hangings.read_text("utf-8").replace("Innen", "oben"), "utf-8")
        with pytest.raises(BadInput, match=r"hangings\.csv, row 2: no probe 'oben'"):
            studio.import_register(folder.parent / "out")


def test_readings_of_no_place_are_asked_about_until_somebody_says(folder):
    app = create_app(folder, now=lambda: NOW)
    house = app.server.config["HOUSE"]
    assert "11 loggers read but hang nowhere yet" in page(app, "/")
    with house.reading() as studio:
        keys = [f"{id}\n{probe}" for id, probes in hung_nowhere(studio).items() for probe in probes]
    assert len(keys) == 12
    for key in keys:
        fields = {"place": "store", "position": "rack", "on": "2026-11-01"}
        ids = [{"nowhere": key, "field": name} for name in fields]
        with app.server.test_request_context("/"):
            if key.endswith("außen"):
                with pytest.raises(BadInput, match="choose the place"):
                    loggers._hung(key, ["", "rack", "2026-11-01"], ids)
            loggers._hung(key, list(fields.values()), ids)
            with pytest.raises(BadInput, match="somebody said since"):
                loggers._hung(key, list(fields.values()), ids)
    assert "hang nowhere yet" not in page(app, "/") and "Where does it hang?" not in page(app, "/files")
    with house.reading() as studio:
        assert [(h.channel, h.place_id) for h in studio.loggers()["kamin"].hangings] == [
            ("außen", "store"), ("innen", "store")]  # fmt: skip
        assert [h.channel for h in studio.loggers()["amsel"].hangings] == [""]
    house.close()


def test_a_logger_is_entered_on_the_page(own):
    given = {"id": "new", "name": "Attic", "labels": "4711; attic", "rh_accuracy_percent": "2,5"}
    assert press(loggers.NEW, loggers.enter_new, "", **given) == (1, {})
    assert list(press(loggers.NEW, loggers.enter_new, "", **given)[1]) == ["id"]
    with own.reading() as studio:
        logger = studio.loggers()["new"]
    assert (logger.name, logger.sensor.rh_bias_percent) == ("Attic", 2.5)
