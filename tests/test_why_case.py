"""What `why` says is of this very case: who read the hours, how well, where that logger hung, and against what.

Every figure is done again from the loggers' own files. Yield of size 0.004: Richard, Mecklenburg & Tumosa 1998, page
528; its swelling by bands is the project's own judgement (figures.canvas).
"""

import math
import re

import numpy as np
import pandas as pd
import pytest

from envwatch.archive import Studio
from envwatch.cases import review
from envwatch.cases.painting import why
from envwatch.core.period import iso_week
from envwatch.present import terminal
from tests.test_archive_exposure import at, register, stays, write_log

NOW = pd.Timestamp("2026-04-01", tz="UTC")
HOT = at("2026-03-20")
REGISTER = {
    "places": "id,name,kind\nshop,Workshop,studio\nhouse,House,house\n",
    "loggers": "id,name,labels,temp_accuracy_c,rh_accuracy_percent\n"
    "shop_log,Workshop logger,S-1,1.0,5\nprobe,Radiator logger,P-1,0.2,1\nhall,Hall logger,H-1,0.7,4\n",
    "hangings": "logger,channel,place,position,from,to\nshop_log,,shop,rack,2026-01-01,\n"
    "probe,,house,radiator,2026-01-01,\nhall,,house,inner wall,2026-01-01,\n",
    "paintings": "id,title,backed\np,Harbour,no\n",
    "layers": "painting,order,role,material,area,applied_on,assumed,note\n"
    "p,1,size,animal_glue,whole,,,\np,2,film,eva_film,whole,2026-03-04,,\n",
}


@pytest.fixture
def studio(tmp_path):
    with Studio.create(tmp_path / "studio", name="A studio", zone="Europe/Berlin") as made:
        made.import_register(register(tmp_path, **REGISTER))
        made.add([
            write_log(tmp_path / "s.csv", "S-1", 19, 50), write_log(tmp_path / "h.csv", "H-1", 42, 20),
            write_log(tmp_path / "p.csv", "P-1", 41, 18),
        ])  # fmt: skip
        yield made


def chain(studio, hazard, mechanism, week="2026-W12"):
    line = review.painting_line(studio, studio.paintings()["p"], iso_week(week, studio.zone), NOW)
    number = next(f.number for f in line.verdict.raised if (f.hazard, f.mechanism) == (hazard, mechanism))
    return why.chain(studio, number, NOW, week)


def told(chain, what):
    return next(said for name, said in chain.finding.working if name == what)


def moved(studio, tmp_path, position):
    stays(studio, tmp_path, "shop,rack,2026-02-01,2026-03-20 00:00,no", f"house,{position},2026-03-20 00:00,,no")


def test_a_logger_at_the_radiator_is_not_said_to_miss_the_radiator(studio, tmp_path):
    moved(studio, tmp_path, "radiator")
    heat = chain(studio, "lining", "heat")
    assert (heat.trace.logger_id, heat.trace.raw_temp_c) == ("probe", 41)
    assert "radiator" in heat.where and "radiator" in heat.finding.sentence
    assert "a radiator or a cold wall" not in told(heat, "air")
    assert "the painting's own position (radiator)" in told(heat, "air")


def test_where_no_logger_hangs_at_the_painting_that_is_still_said(studio, tmp_path):
    moved(studio, tmp_path, "fireplace")
    heat = chain(studio, "lining", "heat")
    assert (heat.trace.logger_id, heat.where) == ("hall", "in the room air")
    assert "a radiator or a cold wall at the picture itself would not show" in told(heat, "air")


def test_the_accuracy_is_that_of_the_logger_that_read_the_worst_hour(studio, tmp_path):
    moved(studio, tmp_path, "radiator")
    heat, dry = chain(studio, "lining", "heat"), chain(studio, "lining", "dry", "2026-W13")  # the lag of days behind it
    for one in (heat, dry):
        assert told(one, "sensor").startswith("probe: bias ± 0.2 °C, ± 1 % RH")
    assert heat.finding.uncertainty == pytest.approx(0.2)  # a mean of hours: the noise averages out
    assert dry.finding.uncertainty == pytest.approx(1.0)


def test_a_value_read_by_two_loggers_has_the_poorer_of_each_figure(studio, tmp_path):
    moved(studio, tmp_path, "radiator")
    swing = chain(studio, "lining", "swing")  # from the workshop's 50 % to the radiator's 18 %
    assert told(swing, "sensor").startswith("shop_log and probe: bias ± 1 °C, ± 5 % RH")
    assert swing.finding.uncertainty == pytest.approx(math.sqrt(2) * math.hypot(5, 0.5))


def test_a_difference_from_the_lining_counts_both_loggers(studio, tmp_path):
    moved(studio, tmp_path, "radiator")
    beyond = chain(studio, "fluctuation", "swing beyond what it has known", "2026-W13")
    assert "read by shop_log then and by probe now" in told(beyond, "uncertainty")
    own = math.sqrt(5**2 + 1**2 + 2 * 0.5**2)
    assert f"± {own:.1f} % RH" in told(beyond, "uncertainty")
    stays(studio, tmp_path, "shop,rack,2026-02-01,,no")
    line = review.painting_line(studio, studio.paintings()["p"], iso_week("2026-W13", studio.zone), NOW)
    calm = next(f for f in line.verdict.findings if f.mechanism == "swing beyond what it has known")
    assert calm.uncertainty == pytest.approx(math.sqrt(2) * 0.5)


def test_the_strain_is_reckoned_from_what_the_finding_is_held_against(studio, tmp_path):
    moved(studio, tmp_path, "radiator")
    beyond = chain(studio, "fluctuation", "swing beyond what it has known", "2026-W13")
    lined_at, hot = (raw(tmp_path / name) for name in ("s.csv", "p.csv"))
    tau_h = float(re.search(r"tau (\d+) h", told(beyond, "lag of the canvas"))[1])
    hours = (beyond.finding.worst_at - HOT) / pd.Timedelta(hours=1) + 1
    now = hot.rh + (lined_at.rh - hot.rh) * math.exp(-hours / tau_h)
    assert lined_at.rh - now == pytest.approx(beyond.finding.value, abs=0.01)
    # size, by its bands: 5e-4 per % to 30 %, 4e-4 to 40 %, 3.5e-4 to 60 %; 30e-6 per K; yields at 0.004
    shrunk = ((lined_at.rh - 40) * 3.5 + 10 * 4 + (30 - now) * 5) * 1e-4 - 30e-6 * (hot.temp - lined_at.temp)
    strain = told(beyond, "strain, order of magnitude (a factor of two either way)")
    assert f"size pulled to {shrunk / 0.004:.1f} of its yield strain" in strain
    assert told(beyond, "what the strain is reckoned from").startswith("50.0 % RH, what it was lined at")
    assert "percentiles" not in told(beyond, "constants and limits")  # the first year has no band


def raw(path) -> pd.Series:
    rows = pd.read_csv(path, skiprows=1)
    return pd.Series({"temp": np.mean(rows.iloc[:, 1]), "rh": np.mean(rows.iloc[:, 2])})


def test_the_strain_of_a_change_within_a_week_is_that_change(studio, tmp_path):
    stays(studio, tmp_path, "shop,rack,2026-02-01,2026-03-24 00:00,no",
          "house,radiator,2026-03-24 00:00,2026-03-25 06:00,no", "shop,rack,2026-03-25 06:00,,no")  # fmt: skip
    change = chain(studio, "fluctuation", "swing in a day or a week", "2026-W13")
    ends = sorted(float(x) for x in re.findall(r"(\d+\.\d\d) \(", told(change, "highest less lowest")))
    strain = told(change, "strain, order of magnitude (a factor of two either way)")
    free = sorted(float(x) for x in re.match(r"-\(free\(([\d.]+) %\) - free\(([\d.]+) %\)\)", strain).groups())
    assert free == [pytest.approx(end, abs=0.051) for end in ends]
    assert "the 24 h mean it moved from" in told(change, "what the strain is reckoned from")


def test_a_bare_day_of_a_move_is_traced_to_the_logger_that_read_its_worst_hour(studio, tmp_path):
    stays(studio, tmp_path, "shop,rack,2026-02-01,2026-03-19,no", "house,radiator,2026-03-19,2026-03-20,no",
          "shop,rack,2026-03-20,,no")  # fmt: skip
    heat = chain(studio, "lining", "heat")
    assert heat.finding.value == pytest.approx(41)
    assert (heat.stint.place_id, heat.trace.logger_id) == ("house", "probe")


def test_the_reading_shown_is_of_the_logger_that_counted_not_of_one_that_reads_on_the_hour(studio, tmp_path):
    late = write_log(tmp_path / "x.csv", "X-1", 20, 50, start=at("2026-03-01 00:07"))
    studio.import_register(register(
        tmp_path, **REGISTER | {
            "places": REGISTER["places"] + "loft,Loft,loft\n",
            "loggers": REGISTER["loggers"] + "x,First,X-1,0.5,3\ny,Second,Y-1,0.5,3\n",
            "hangings": REGISTER["hangings"] + "x,,loft,rack,2026-01-01,\ny,,loft,easel,2026-01-01,\n",
        },
    ))  # fmt: skip
    studio.add([late, write_log(tmp_path / "y.csv", "Y-1", 25, 60)])
    assert studio.trace("loft", at("2026-03-10 12:00")).logger_id == "x"
    assert studio.trace("loft", at("2026-03-10 12:07")).logger_id == "x"


def test_why_says_where_it_was_in_the_hours_judged_and_where_it_is_now(studio, tmp_path):
    stays(studio, tmp_path, "shop,rack,2026-02-01,2026-03-20 00:00,no",
          "house,radiator,2026-03-20 00:00,2026-03-22 12:00,no", "shop,rack,2026-03-22 12:00,,no")  # fmt: skip
    heat = chain(studio, "lining", "heat")
    told = " ".join(terminal.chain(heat, 80).split())
    # by the mean of a day, which holds six hours more of the radiator than of the shop until then
    assert "House, radiator; now Workshop, rack; since" in told and "ended Sun 22 Mar 18:00 (moved)" in told
