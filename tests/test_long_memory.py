"""Mould index, damp clock and what a canvas has known rest on the whole record, through the archive and the review."""

import os
import shutil
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from envwatch.archive import Studio
from envwatch.cases import review
from envwatch.climate.exposure import ROOM, Exposure, Stint
from envwatch.climate.series import Climate
from envwatch.core.errors import StudioError
from envwatch.core.period import Period
from envwatch.core.place import Sensor
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


def test_equal_airs_have_one_key_and_what_is_told_apart_has_another():
    time, temp_c, rh = (column[:500] for column in damp_store())
    air = Climate.of(time, temp_c, rh)
    assert air == Climate.of(time, temp_c, rh) and hash(air) == hash(Climate.of(time, temp_c, rh))
    wetter, late = rh.copy(), air.end + pd.Timedelta(hours=1)
    wetter[400] += 0.1
    worse = Sensor(rh_bias_percent=3.5)
    others = [Climate.of(time, temp_c, wetter), replace(air, end=late), replace(air, notes=("compared",)),
              replace(air, sensor=worse), air.rows(slice(1, None), air.start, air.end)]  # fmt: skip
    assert len({air, *others}) == 6
    there = Exposure({ROOM: air}, air.start, air.end)
    assert there == replace(there) and there != replace(there, points={ROOM: others[0]})
    assert there != replace(there, stints=(Stint(air.start, air.end, "store", "Store"),))


def test_a_verdict_is_kept_across_what_leaves_it_alone_and_made_anew_after_what_does_not(store, tmp_path):
    """Another painting leaves it alone; a check of the logger and an own value of a material do not."""
    week = Period(END - pd.Timedelta(days=7), END, "last", "UTC")
    folder = shutil.copytree(store.folder, tmp_path / "own")
    (folder / "studio.toml").write_text('name = "Own"\nzone = "UTC"\naltitude_m = 11\n', encoding="utf-8")
    own = Studio.open(folder)  # another height: nothing in memory serves it

    def judged():
        return review.painting_line(own, own.paintings()["p"], week, END).verdict

    def wet(verdict):
        return next(f for f in verdict.findings if f.mechanism == "30-day mean")

    first, kept = judged(), set(own.memory)
    own.enter("painting", {"id": "q", "title": "Quay"})
    assert judged() == first and set(own.memory) == kept
    own.calibrate("l", "2021-01-01", rh_points=[(60.0, 64.0)])
    drier = judged()
    assert wet(drier).value == pytest.approx(wet(first).value - 4, abs=0.5)
    file, when = own.folder / "materials.toml", (1_700_000_000, 1_700_000_000)
    for share in ("very sensitive", "sensitive"):  # written at one time, to the file system
        text = f'[linen]\nmould_class = {{ value = "{share}", reason = "ours" }}\n'
        file.write_text(text, encoding="utf-8")
        os.utime(file, when)
        assert own.materials()["linen"].mould_class == share


def test_air_in_memory_serves_equal_studios_and_not_one_whose_readings_lie_there_otherwise(store, tmp_path):
    """Not even where the register is the same: a part that was changed is refused by whoever opens the folder."""
    span = END - pd.Timedelta(days=7), END
    air = store.climate("store", *span)
    other = Studio.open(shutil.copytree(store.folder, tmp_path / "equal"))
    assert other.climate("store", *span) is air
    for part in (other.folder / "readings").rglob("*.parquet"):
        part.write_bytes(part.read_bytes()[:-1])
    other.enter("painting", {"id": "q", "title": "Quay"})
    with pytest.raises(StudioError, match="it was changed since it was written"):
        other.climate("store", *span)
