"""Readings at the damp or cold end are neither lost nor changed: bounds, signs behind, long gaps at the beginning."""

import numpy as np
import pytest
from logs_layouts import Truth, assert_reads, climate, read, write

from envwatch import logs
from envwatch.archive import Studio
from envwatch.logs.quality import marks
from envwatch.logs.text import lines as text_lines

TRUTH = climate(n=2000)
STAMPS = TRUTH.time.strftime("%Y-%m-%d %H:%M:%S")
BIG = pytest.mark.parametrize("quick_from", [text_lines.QUICK_FROM, 1000], ids=["small", "big"])


def text(temps, hums, head="Time;Temp °C;RH %") -> str:
    return "\n".join([head, *(f"{t};{a};{b}" for t, a, b in zip(STAMPS, temps, hums, strict=True)), ""])


def loud(log) -> list[str]:
    return [note for note in log.notes if note.startswith("! ")]


@BIG
@pytest.mark.parametrize("form", [">{}", "> {}", "≥{}", ">={}", ">{} %"])
def test_over_a_bound_is_at_least_that_bound_and_marked(tmp_path, monkeypatch, form, quick_from):
    monkeypatch.setattr(text_lines, "QUICK_FROM", quick_from)
    top = 56.0
    hums = [form.format(f"{top:g}") if b > top else b for b in TRUTH.rh_percent]
    log = read(write(tmp_path / "a.csv", text(TRUTH.temp_c, hums)))
    over = TRUTH.rh_percent > top
    assert_reads(log, Truth(TRUTH.time, TRUTH.temp_c, np.minimum(TRUTH.rh_percent, top)))
    assert (log.channels[0].bound == np.where(over, marks.BOUND_RH, 0)).all() and over.any()
    assert any(f"{over.sum()} at least, 0 at most" in note for note in log.notes)


def test_under_a_bound_is_at_most_that_bound_and_marked(tmp_path):
    temps = ["<17" if a < 17 else a for a in TRUTH.temp_c]
    log = read(write(tmp_path / "a.csv", text(temps, TRUTH.rh_percent)))
    assert_reads(log, Truth(TRUTH.time, np.maximum(TRUTH.temp_c, 17), TRUTH.rh_percent))
    assert (log.channels[0].bound == np.where(TRUTH.temp_c < 17, marks.BOUND_TEMP, 0)).all()
    assert any(f"0 at least, {(TRUTH.temp_c < 17).sum()} at most" in note for note in log.notes)


def test_bounds_are_marked_where_each_quantity_has_a_row_of_its_own(tmp_path):
    both = zip(STAMPS, TRUTH.temp_c, TRUTH.rh_percent, strict=True)
    body = [row for t, a, b in both for row in (f"{t};temperature;{a}", f"{t};humidity;{'>56' if b > 56 else b}")]
    log = read(write(tmp_path / "a.csv", "\n".join(["time;parameter;value", *body, ""])))
    assert_reads(log, Truth(TRUTH.time, TRUTH.temp_c, np.minimum(TRUTH.rh_percent, 56)))
    assert (log.channels[0].bound == np.where(TRUTH.rh_percent > 56, marks.BOUND_RH, 0)).all()


def test_a_kept_bound_keeps_its_mark_when_more_readings_come(tmp_path):
    over = int((TRUTH.rh_percent[:1000] > 56).sum())
    hums = [">56" if b > 56 else b for b in TRUTH.rh_percent]
    lines = text(TRUTH.temp_c, hums).splitlines()
    studio, logger = Studio.create(tmp_path / "studio", name="A", zone="UTC"), None
    for name, rows in (("store.csv", lines[:1001]), ("store-2.csv", [lines[0], *lines[1001:]])):
        came = studio.add([write(tmp_path / name, "\n".join([*rows, ""]))], logs.Answers(zone="UTC"), logger=logger)
        assert came.ok, came.outcomes
        logger = came.outcomes[0].logger_id
        if name == "store.csv":
            assert came.outcomes[0].marked["odd humidity"] == over
    (kept,) = studio.reader.series(studio.state().parts[logger]).values()
    assert int(((kept.marks & marks.RH_ODD) != 0).sum()) == int((TRUTH.rh_percent > 56).sum())


COLD = Truth(TRUTH.time, np.round(TRUTH.temp_c - 18, 1), TRUTH.rh_percent)
SIGNS = {"behind": "{}-", "behind, apart": "{} -", "before, apart": "- {}", "minus": "−{}", "en dash": "–{}",
         "em dash": "—{}",         "behind, unit": "{}- °C", "full width": "－{}"}  # fmt: skip


@pytest.mark.parametrize("form", SIGNS)
@pytest.mark.parametrize("mark", ".,")
def test_a_minus_is_one_wherever_it_stands(tmp_path, form, mark):
    temps = [(SIGNS[form].format(-a) if a < 0 else str(a)).replace(".", mark) for a in COLD.temp_c]
    hums = [str(b).replace(".", mark) for b in COLD.rh_percent]
    log = read(write(tmp_path / "a.csv", text(temps, hums)))
    assert_reads(log, COLD)
    assert not loud(log)


@BIG
@pytest.mark.parametrize("missing", ["NA", "", "---", "n/a", "NaN"])
@pytest.mark.parametrize("many", [90, 400, 1900])
def test_rows_without_readings_at_the_beginning_are_waited_out(tmp_path, monkeypatch, missing, many, quick_from):
    monkeypatch.setattr(text_lines, "QUICK_FROM", quick_from)
    temps, hums = ([missing] * many + values[many:].tolist() for values in (TRUTH.temp_c, TRUTH.rh_percent))
    log = read(write(tmp_path / "a.csv", text(temps, hums)))
    assert_reads(log, Truth(TRUTH.time[many:], TRUTH.temp_c[many:], TRUTH.rh_percent[many:]))
    assert log.counts.set_aside == {"missing value": many}
    assert not loud(log)


@pytest.mark.parametrize("word", ["HI", "", "over range", "full"])
def test_a_class_of_losses_at_the_damp_end_is_loud(tmp_path, word):
    top = np.percentile(TRUTH.rh_percent, 97)
    hums = [word if b > top else b for b in TRUTH.rh_percent]
    (note,) = loud(read(write(tmp_path / "a.csv", text(TRUTH.temp_c, hums))))
    there, of = map(int, (note.split()[1], note.split()[3]))
    assert of == (TRUTH.rh_percent > top).sum() and there > 0.8 * of
    assert "among the dampest fifth" in note and "understates how damp" in note


def test_frost_that_cannot_be_read_is_loud(tmp_path):
    temps = [f"({-a})" if a < 0 else a for a in COLD.temp_c]
    (note,) = loud(read(write(tmp_path / "a.csv", text(temps, COLD.rh_percent))))
    assert "among the coldest fifth" in note


@pytest.mark.parametrize("seed", range(6))
def test_losses_that_chance_spreads_are_counted_and_not_loud(tmp_path, seed):
    gone = np.random.default_rng(seed).random(2000) < 0.05
    temps, hums = (np.where(gone, "", values.astype(str)) for values in (TRUTH.temp_c, TRUTH.rh_percent))
    log = read(write(tmp_path / "a.csv", text(temps, hums)))
    assert log.counts.set_aside == {"missing value": gone.sum()} and not loud(log)


def test_one_stretch_in_damp_air_is_chance(tmp_path):
    wave = np.round(50 + 10 * np.sin(np.arange(2000) / 100), 1)  # the dampest fifth of a sine begins at 0.81 of it
    hums = ["" if 980 <= i < 1000 else b for i, b in enumerate(np.roll(wave, -400))]
    assert (np.roll(wave, -400)[[979, 1000]] > np.percentile(wave, 80)).all()
    assert not loud(read(write(tmp_path / "a.csv", text(TRUTH.temp_c, hums))))


def test_minus_one_for_both_is_no_reading(tmp_path):
    """Common practice of home-made loggers, no source: -1 stands for what was not measured."""
    gone = np.arange(2000) % 3 == 1
    temps, hums = (np.where(gone, "-1", values.astype(str)) for values in (TRUTH.temp_c, TRUTH.rh_percent))
    log = read(write(tmp_path / "a.csv", text(temps, hums)))
    assert_reads(log, Truth(TRUTH.time[~gone], TRUTH.temp_c[~gone], TRUTH.rh_percent[~gone]))
    assert log.counts.set_aside == {"error code": gone.sum()}


def test_losses_of_one_quantity_a_row_are_loud_too(tmp_path):
    both = zip(STAMPS, TRUTH.temp_c, TRUTH.rh_percent, strict=True)
    body = [row for t, a, b in both for row in (f"{t};temperature;{a}", f"{t};humidity;{'HI' if b > 56 else b}")]
    assert (
        "among the dampest" in loud(read(write(tmp_path / "a.csv", "\n".join(["time;parameter;value", *body, ""]))))[0]
    )


def test_a_quantity_in_a_unit_of_air_that_is_not_known_is_left_out_aloud(tmp_path):
    both = zip(STAMPS, TRUTH.temp_c, TRUTH.rh_percent, strict=True)
    body = [row for t, a, b in both for row in (f"{t};temperature;{a};°C", f"{t};qwx;{b};%")]
    log = read(write(tmp_path / "a.csv", "\n".join(["time;parameter;value;unit", *body, ""])))
    assert loud(log) == ["! 2,000 rows of 'qwx' in % were left out: the quantity is not known."]


@pytest.mark.parametrize("first", [0, 1])
@pytest.mark.parametrize("head", ["{:02d}", "{}", "H{:02d}", "{:02d}:00"])
@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
def test_a_line_a_day_with_its_hours_across_is_read(tmp_path, first, head, delimiter):
    hours = climate("2024-03-01T00:00Z", 24 * 20 + 24, "1h")
    days = hours.time[: 24 * 20 : 24].strftime("%Y-%m-%d")
    lines = [delimiter.join(["Date", "Site", "Item", *(head.format(h + first) for h in range(24))])]
    for n, day in enumerate(days):
        for name, values in (("Temp", hours.temp_c), ("RH", hours.rh_percent)):
            some = values[24 * n + first : 24 * n + 24 + first]
            lines.append(delimiter.join([day, "Hill", name, *map(str, some)]))
    log = read(write(tmp_path / "a.csv", "\n".join([*lines, ""])))
    seen = slice(first, first + 24 * 20)
    assert_reads(log, Truth(hours.time[seen], hours.temp_c[seen], hours.rh_percent[seen]), [log.channels[0].label])
    assert log.channels[0].line[[0, 23, 24]].tolist() == [2, 2, 4]
