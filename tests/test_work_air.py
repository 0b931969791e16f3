"""The air of the day of work, recorded with the treatment where it was read, and nowhere else."""

import numpy as np
import pandas as pd
import pytest
from typer.testing import CliRunner

from envwatch.archive import Studio
from envwatch.archive.climates import work_air
from envwatch.cli import app


@pytest.fixture
def studio(demo_copy):
    with Studio.open(demo_copy) as opened:
        yield opened


def test_it_is_the_mean_of_that_local_day_where_the_painting_stood(studio):
    painting = studio.paintings()["26-08"]
    found = work_air.of_day(studio, painting, "2026-10-20")
    day = pd.Timestamp("2026-10-20", tz=studio.zone).tz_convert("UTC")
    air = studio.climate(painting.stays[-1].place_id, day, day + pd.Timedelta(days=1))
    read = np.isfinite(air.rh_percent)
    assert found.rh_percent == pytest.approx(np.average(air.rh_percent[read], weights=air.hours[read]), abs=0.06)
    assert found.temp_c == pytest.approx(np.average(air.temp_c[read], weights=air.hours[read]), abs=0.06)


@pytest.mark.parametrize("on", ["2031-01-01", "1990-05-05", "soon", ""])
def test_a_day_that_was_not_read_has_none(studio, on):
    assert work_air.of_day(studio, studio.paintings()["26-08"], on) is None


def test_a_day_on_which_it_moved_has_none(studio):
    studio.move("26-08", "store", "2026-10-28")
    assert work_air.of_day(studio, studio.paintings()["26-08"], "2026-10-28") is None


def test_what_was_told_is_kept_and_the_command_says_what_it_added(studio, demo_copy):
    painting = studio.paintings()["26-08"]
    assert work_air.added(studio, painting, "2026-10-20", {"studio_temp_c": "20"}) == ({"studio_temp_c": "20"}, "")
    done = CliRunner().invoke(app, ["treat", "26-08", "patch", "--on", "2026-10-20", "--material", "mc", "--studio",
                                    str(demo_copy)])  # fmt: skip
    assert done.exit_code == 0 and "Air of that day recorded with it" in done.output
    with Studio.open(demo_copy) as again:
        last = max(again.paintings()["26-08"].treatments, key=lambda t: t.on)
    assert last.studio_rh_percent is not None and 30 < last.studio_rh_percent < 70
