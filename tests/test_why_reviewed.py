"""Why: the figure is that of the kept review, whatever was read after it; and it is said where it no longer follows."""

import numpy as np
import pandas as pd
import pytest
from test_drying_back import REGISTER, ZONE, at

from envwatch.archive import Studio
from envwatch.cases import review
from envwatch.cases.painting import why
from envwatch.core import period
from envwatch.present import terminal

HOUR = pd.Timedelta(hours=1)
WEEK = period.iso_week("2025-W43", ZONE)
NOW = WEEK.end + 10 * HOUR


@pytest.fixture
def house(tmp_path):
    """A studio with one painting in its store."""
    register = tmp_path / "register"
    register.mkdir()
    for name, text in REGISTER.items():
        (register / f"{name}.csv").write_text(text, encoding="utf-8")
    house = Studio.create(tmp_path / "studio", name="A studio", zone=ZONE)
    house.import_register(register)
    yield house
    house.close()


def add(house, tmp_path, start, hours, percent):
    """One file of hourly readings at 18 °C."""
    times = start + np.arange(hours) * HOUR
    rows = [f"{t:%Y-%m-%dT%H:%M:%S}Z,18.0,{percent:.1f}" for t in times]
    path = tmp_path / f"{start:%m%d%H}-{percent:.0f}.csv"
    path.write_text("\n".join(["Logger: S-1", "Time,Temperature (°C),Humidity (%)", *rows]) + "\n", encoding="utf-8")
    house.add([path])


@pytest.fixture
def reviewed(house, tmp_path):
    """The finding of damp in a kept review, read to Monday 9:00, but not from Tuesday noon to Wednesday night."""
    add(house, tmp_path, at("2025-03-03"), int((WEEK.start - at("2025-03-03")) / HOUR), 50.0)
    add(house, tmp_path, WEEK.start, 36, 50.0)  # until Tuesday noon
    add(house, tmp_path, WEEK.start + 72 * HOUR, 48, 50.0)  # all of Thursday and Friday
    add(house, tmp_path, WEEK.start + 120 * HOUR, 57, 74.0)
    made = review.keep(house, review.make(house, NOW, WEEK))
    line = next(line for line in made.judged if line.id == "p")
    found = next(f for f in line.verdict.findings if (f.hazard, f.mechanism) == ("lining", "damp"))
    assert found.value == pytest.approx(74.0, abs=0.2)
    return found


def test_what_was_read_after_the_review_moves_no_figure_of_it(house, reviewed, tmp_path):
    add(house, tmp_path, WEEK.end + 9 * HOUR, 60, 96.0)  # 24 hours to Monday 11:00, at 76, are most of the week's
    told = why.chain(house, reviewed.number, NOW + 24 * HOUR)
    assert told.finding.value == pytest.approx(reviewed.value) and told.finding.sentence == reviewed.sentence
    assert told.reviewed == "" and "!" not in terminal.chain(told)
    asked = why.chain(house, reviewed.number, NOW + 24 * HOUR, "2025-W43")
    assert asked.finding.value == pytest.approx(reviewed.value) and asked.reviewed == ""


def test_a_file_of_the_weeks_own_hours_added_later_is_told(house, reviewed, tmp_path):
    add(house, tmp_path, WEEK.start + 36 * HOUR, 36, 75.0)
    add(house, tmp_path, WEEK.end + 9 * HOUR, 60, 50.0)
    told = why.chain(house, reviewed.number, NOW + 24 * HOUR)
    assert told.finding.value == pytest.approx(74.2, abs=0.1)  # 75 by the lag of 6 h
    text = " ".join(terminal.chain(told).split())
    assert "! The review of 2025-W43, kept on Mon 27 Oct 2025, said: " in text
    assert " ".join(reviewed.sentence.split()) in text
