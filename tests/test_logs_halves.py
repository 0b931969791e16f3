"""Halves of the day: Greek words for AM and PM, and times of twelve hours that lost theirs in an unsteady record."""

import numpy as np
import pandas as pd
import pytest
from logs_layouts import Truth, assert_reads, climate, read, write

from envwatch.core.errors import BadInput


def rows(truth: Truth, stamps) -> str:
    body = (f"{t};{a};{b}" for t, a, b in zip(stamps, truth.temp_c, truth.rh_percent, strict=True))
    return "\n".join(["Time;Temp °C;RH %", *body, ""])


@pytest.mark.parametrize("words", [("π.μ.", "μ.μ."), ("πμ", "μμ"), ("Π.Μ.", "Μ.Μ.")])
def test_greek_words_for_the_halves_of_the_day(tmp_path, words):
    """Common words, no source: before and after midday."""
    truth = climate("2024-03-20T00:00Z", 300)
    stamps = [f"{t:%d/%m/%Y %I:%M:%S} {words[t.hour >= 12]}" for t in truth.time]
    assert_reads(read(write(tmp_path / "a.csv", rows(truth, stamps))), truth)


def unsteady(seed: int) -> Truth:
    steps = np.random.default_rng(seed).integers(1, 600, 300)
    time = pd.Timestamp("2024-03-20", tz="UTC") + pd.to_timedelta(np.cumsum(steps), unit="min")
    like = climate(n=300)
    return Truth(time.as_unit("us"), like.temp_c, like.rh_percent)


@pytest.mark.parametrize("seed", range(5))
def test_an_unsteady_record_that_lost_its_halves_is_refused_and_one_that_did_not_reads(tmp_path, seed):
    truth = unsteady(seed)
    with pytest.raises(BadInput, match="AM and PM are lost"):
        read(write(tmp_path / "a.csv", rows(truth, truth.time.strftime("%Y-%m-%d %I:%M:%S"))))
    assert_reads(read(write(tmp_path / "b.csv", rows(truth, truth.time.strftime("%Y-%m-%d %I:%M:%S %p")))), truth)


def test_a_header_of_more_names_than_any_row_has_cells_is_no_fault(tmp_path):
    text = "\n".join(["Time;Temp °C;RH %;Remark", *(f"{i:02d}:00;{20 + i};5{i % 10}" for i in range(12)), ""])
    log = read(write(tmp_path / "a.csv", text), start="2024-03-01")
    assert len(log.channels[0].time) == 12
