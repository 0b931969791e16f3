"""Mould index, damp clock and what a canvas has known rest on the whole record, through the archive and the review."""

import numpy as np
import pandas as pd
import pytest

from envwatch.archive import Studio
from envwatch.cases import review
from envwatch.core.period import Period
from envwatch.hazards.mould.index import mould_index

BEGIN, YEARS = pd.Timestamp("2021-01-04", tz="UTC"), 5
END = BEGIN + pd.Timedelta(days=7 * 52 * YEARS)


def damp_store():
    """A store that is damp enough for mould in each October and November, and not otherwise. Time, °C, % RH."""
    time = pd.date_range(BEGIN, END, freq="h", inclusive="left")
    n = np.arange(len(time))
    return time, (17 + n % 5 / 10).round(1), (np.where(time.month.isin((10, 11)), 86.0, 64.0) + n % 3 / 10).round(1)


@pytest.fixture(scope="module")
def store(tmp_path_factory):
    folder = tmp_path_factory.mktemp("long")
    rows = zip(*damp_store(), strict=True)
    lines = ["time (UTC),temperature (°C),humidity (%)", *(f"{t:%Y-%m-%d %H:%M:%S},{c},{rh}" for t, c, rh in rows)]
    (folder / "store.csv").write_text("\n".join(lines), encoding="utf-8")
    with Studio.create(folder / "studio", name="Long", zone="UTC") as studio:
        studio.enter("place", {"id": "store", "name": "Store", "kind": "store"})
        studio.enter("logger", {"id": "l", "name": "store", "labels": "store"})
        studio.set_hanging("l", "store", "2021-01-01")
        studio.enter("painting", {"id": "p", "title": "Moor", "made": "1880"})
        studio.enter("layer", {"painting": "p", "role": "canvas", "material": "linen"})
        studio.move("p", "store", "2021-01-01")
        studio.add([folder / "store.csv"])
        yield studio


def test_the_index_of_year_five_is_that_of_the_whole_record(store):
    week = Period(END - pd.Timedelta(days=7), END, "last", "UTC")
    line = review.painting_line(store, store.paintings()["p"], week, END)
    found = next(f for f in line.verdict.findings if f.mechanism == "growth index")
    _, temp_c, rh = damp_store()
    whole, of_430_days = (mould_index(temp_c[-n:], rh[-n:], 1.0, "very sensitive") for n in (len(rh), 430 * 24))
    assert found.value == pytest.approx(whole[-168:].max(), abs=0.01)
    assert whole[-1] > of_430_days[-1] + 0.5  # what a shorter memory would have forgotten
