"""A published weather series, hour by hour, from its file to a verdict.

The typical meteorological years that pvlib ships (United States, TMY3; a cool coast and a warm, humid inland) print
the dew point beside temperature and humidity: an outside check of moist air on 17,520 real hours, to the digits
printed. Then the outdoor air is judged as if a painting hung in it, which no painting should bear.
"""

from importlib import resources

import numpy as np
import pandas as pd
import pytest

from envwatch import air, climate, verdict
from envwatch.climate.exposure import ROOM, Exposure, Stint
from envwatch.climate.series import Climate
from envwatch.core.findings import Level
from envwatch.core.painting import Layer, Painting
from envwatch.hazards import mould

SITES = {"cool coast": "703165TY.csv", "warm and humid": "723170TYA.CSV"}
PAINTING = Painting("p", "Moor", made="1890", glazed=False, backed=False, layers=(
    Layer("paint", "oil_paint"), Layer("size", "animal_glue"), Layer("canvas", "linen")))  # fmt: skip


@pytest.fixture(scope="module", params=SITES)
def weather(request):
    from pvlib import iotools

    path = resources.files("pvlib") / "data" / SITES[request.param]
    table, _ = iotools.read_tmy3(str(path), map_variables=True)
    return table


def as_climate(weather) -> Climate:
    """The typical year set into one calendar year."""
    time = pd.date_range("2025-01-01", periods=len(weather), freq="h", tz="UTC")
    return Climate.of(time, weather["temp_air"].to_numpy(float), weather["relative_humidity"].to_numpy(float))


def test_the_dew_points_printed_in_the_weather_file_agree_over_water(weather):
    # humidity is printed to 1 %, temperature and dew point to 0.1 °C; the file's dew point is over water, ours below
    # freezing is the frost point, so only hours of a dew point over 0 °C are compared
    temp_c, rh = weather["temp_air"].to_numpy(float), weather["relative_humidity"].to_numpy(float)
    printed = weather["temp_dew"].to_numpy(float)
    above = (printed > 0.5) & (rh >= 30) & (rh < 100)
    # half of the last printed digit of each: 0.05 °C, 0.05 °C times the slope, and 0.5 % through the dew point
    per_percent = (air.dew_point(temp_c, rh + 0.5) - air.dew_point(temp_c, rh - 0.5)) / 2
    allowed = 0.05 + 0.05 + per_percent + 0.03
    off = np.abs(air.dew_point(temp_c, rh) - printed)[above]
    assert above.sum() > 3000
    assert np.mean(off <= allowed[above]) > 0.98
    assert abs(np.median(air.dew_point(temp_c, rh)[above] - printed[above])) < 0.05


def test_a_plain_loop_over_the_year_gives_the_same_index(weather):
    there = as_climate(weather)
    index = mould.mould_index(there.temp_c, there.rh_percent, 1.0, "sensitive", decline=0.5)
    state, dry_h, small = 0.0, 0.0, 20  # Euler in 20 small steps an hour: another way to the same equation
    for temp, rh in zip(there.temp_c.tolist(), there.rh_percent.tolist(), strict=True):
        critical = max(-0.00267 * temp**3 + 0.16 * temp**2 - 3.13 * temp + 100, 80.0) if temp <= 20 else 80.0
        for _ in range(small):
            if 0 < temp <= 50 and rh >= critical - 1e-9:
                x = (critical - rh) / (critical - 100)
                top = 0.3 + 6 * x - x * x
                weeks = np.exp(-0.68 * np.log(temp) - 13.9 * np.log(rh) + 66.02)
                speed = 0.578 if state < 1 else 0.386
                state += speed * max(1 - np.exp(2.3 * (state - top)), 0.0) / (168 * weeks) / small
                dry_h = 0.0
            elif temp > 0:
                rate = 0.00133 if dry_h < 6 - 1e-9 else 0.0 if dry_h < 24 - 1e-9 else 0.000667
                state, dry_h = max(state - 0.5 * rate / small, 0.0), dry_h + 1 / small
    assert index[-1] == pytest.approx(state, rel=2e-3)


def test_a_year_outdoors_is_described_and_judged(weather):
    there = as_climate(weather)
    told = climate.describe_history(there, "UTC")
    assert told.coverage == 1.0
    assert told.band is not None and not told.band.standard  # 12 months: the standard asks for 13
    assert told.rh_mean_percent == pytest.approx(weather["relative_humidity"].mean(), abs=0.01)
    over_80 = next(d for d in told.damp if d.limit_percent == 80)
    assert over_80.hours == (weather["relative_humidity"] > 80).sum()
    assert told.control_met == ""
    exposure = Exposure({ROOM: there}, there.start, there.end, (Stint(there.start, there.end, "out", "Outdoors"),))
    judged = verdict.judge(exposure, PAINTING, there.end - pd.Timedelta(days=30))
    assert judged.level >= Level.ACT
    assert {"mould", "fluctuation"} <= {finding.hazard for finding in judged.raised}
