"""What joins a file to a logger, what is asked, what a file that waits leaves open; any order gives the same.

That two records of one logger read the same where they overlap, and that one logger cannot write two readings of one
instant, are facts of the trade: common practice, no source.
"""

import json
from itertools import islice, permutations
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from envwatch.archive import Studio
from envwatch.archive.intake.assign import path_key, words_of
from envwatch.archive.intake.fit import fit
from envwatch.archive.intake.preview import waiting
from envwatch.cases import review
from envwatch.cases.lining.readiness import assessed
from envwatch.cases.painting import record
from envwatch.cases.painting.call import ringing
from envwatch.core.period import iso_week
from envwatch.core.readings import Series
from envwatch.logs import Answers
from envwatch.present.records import lines
from envwatch.present.terminal.painting import painting_lines
from tests.program import run
from tests.test_archive import MONDAY, readings, write_log

MONTH = pd.Timedelta(days=30)


@pytest.fixture
def studio(tmp_path):
    with Studio.create(tmp_path / "studio", name="A studio", zone="Europe/Berlin") as made:
        yield made


def log_of(folder: Path, name: str, start=MONDAY, **made) -> Path:
    path = folder / "in" / name
    path.parent.mkdir(parents=True, exist_ok=True)
    return write_log(path, start, **made)


def status(report) -> list[str]:
    return [f"{one.status} {one.logger_id}".strip() for one in report.outcomes]


# --------------------------------------------------------------------------------------------------- what joins


@pytest.mark.parametrize("word", ["klima", "Daten", "temp", "log", "export"])
def test_a_general_name_swallows_no_other_file(studio, tmp_path, word):
    studio.add([log_of(tmp_path, f"{word}.csv")])
    others = [f"{word} Loft.csv", f"Keller {word} Nord.csv", f"{word}/Galerie.csv"]
    for n, name in enumerate(others, 1):
        log_of(tmp_path, name, MONDAY + n * MONTH, temp_c=18 + 2 * n)
    report = studio.add([tmp_path / "in"])
    assert all(one.logger_id != word.casefold() for one in report.outcomes if one.status == "kept"), report
    assert [one.option for one in report.outcomes if one.status == "in the tray"] == ["logger", "logger"]
    (rows,) = readings(studio, word.casefold()).values()
    assert len(rows) == 48


def test_a_name_with_dates_and_counters_alone_joins_a_record_that_goes_on(studio, tmp_path):
    studio.add([log_of(tmp_path, "klima 2026-01-06.csv", rows=48)])
    report = studio.add([log_of(tmp_path, "klima bis 2026-01-07 (2).csv", MONDAY + pd.Timedelta(days=1), rows=48)])
    assert status(report) == ["kept klima"]
    assert "by its name" in report.outcomes[0].notes[-1]


@pytest.mark.parametrize(
    ("other", "why"),
    [
        ({"temp_c": 24.0}, "it begins 6.0 °C warmer, 30 min after that record ends"),
        ({"minutes": 60, "start": MONDAY + pd.Timedelta(days=2)}, "it reads every 60 min, that logger every 30 min"),
        ({"start": MONDAY, "temp_c": 21.0}, "all of them 3.0 °C more"),
        ({"start": MONDAY + pd.Timedelta(minutes=7)}, "47 of its readings lie between two of that logger's"),
    ],
)
def test_a_record_that_cannot_follow_on_is_asked_about_in_words(studio, tmp_path, other, why):
    studio.add([log_of(tmp_path, "klima 1.csv", rows=48)])
    (asked,) = studio.add([log_of(tmp_path, "klima.csv", **{"start": MONDAY + pd.Timedelta(days=1), **other})]).outcomes
    assert (asked.status, asked.option, asked.choices) == ("in the tray", "logger", ("klima-1", "new"))
    assert why in asked.question


def test_equal_readings_join_whatever_the_name_says(studio, tmp_path):
    studio.add([log_of(tmp_path, "klima.csv")])
    (joined,) = studio.add([log_of(tmp_path, "Messung 7.csv", MONDAY + pd.Timedelta(hours=12))]).outcomes
    assert (joined.logger_id, joined.new, joined.duplicate) == ("klima", 24, 24)
    assert "both have the same readings" in joined.notes[-1]


@pytest.mark.parametrize(("off", "words"), [(1.5, "all of them 1.5 °C more"), (None, "but 30 of the 192")])
def test_a_corrected_record_under_a_general_name_is_asked_about(studio, tmp_path, off, words):
    """In the midst of a long record; one that a person gives to it is kept beside what it corrects."""
    studio.add([log_of(tmp_path, "Nord.csv", rows=48 * 60)])
    path = log_of(tmp_path, "Daten.csv", MONDAY + pd.Timedelta(days=20), rows=192, temp_c=18 + (off or 0))
    if off is None:
        lines = path.read_text(encoding="utf-8").split("\n")
        path.write_text("\n".join(line.rpartition(",")[0] + ",77.7" if 9 < n < 40 else line
                                  for n, line in enumerate(lines)), encoding="utf-8")  # fmt: skip
    (asked,) = studio.add([path]).outcomes
    assert (asked.status, asked.choices) == ("in the tray", ("nord", "new"))
    assert words in asked.question
    (kept,) = studio.add([asked.number], logger="nord").outcomes
    assert kept.conflict == (192 if off else 30)


def test_a_label_on_other_readings_is_asked_about(studio, tmp_path):
    """A logger set anew, or a label copied: not both records can be its own."""
    studio.add([log_of(tmp_path, "a.csv", label="A-1")])
    (asked,) = studio.add([log_of(tmp_path, "b.csv", label="A-1", temp_c=12)]).outcomes
    assert (asked.status, asked.choices) == ("in the tray", ("a-1", "new"))
    assert "inside it says 'A-1'" in asked.question and "48 of the 48 instants" in asked.question
    assert status(studio.add([asked.number], logger="a-1")) == ["kept a-1"]


def test_a_registered_loggers_name_on_anothers_readings_is_asked_about(studio, tmp_path):
    """Saved twice, or two names mixed up: neither the name nor the readings alone decide in which room they count."""
    for id in ("rack", "easel"):
        studio.enter("logger", {"id": id, "name": id.title()})
    studio.add([log_of(tmp_path, "rack.csv")])
    path = log_of(tmp_path, "easel 2026-01-06.csv")
    path.write_text(path.read_text(encoding="utf-8") + "\n", encoding="utf-8")  # other bytes, the same readings
    (asked,) = studio.add([path]).outcomes
    assert (asked.status, asked.choices) == ("in the tray", ("easel", "rack", "new"))
    assert "name is that of logger Easel, its readings those of Rack" in asked.question
    assert status(studio.add([asked.number], logger="easel")) == ["kept easel"]


def test_a_long_gap_after_a_record_that_a_file_founded_is_asked_about(studio, tmp_path):
    """Of a logger that a person registered it is not: its name is its own."""
    later = MONDAY + pd.Timedelta(days=20)
    studio.add([log_of(tmp_path, "klima.csv")])
    (asked,) = studio.add([log_of(tmp_path, "klima 2026-01-26.csv", later)]).outcomes
    assert "begins 19 days after that record ends" in asked.question
    studio.enter("logger", {"id": "rack", "name": "Rack"})
    studio.add([log_of(tmp_path, "rack.csv", temp_c=12)])
    assert status(studio.add([log_of(tmp_path, "rack 2026-01-26.csv", later, temp_c=12)])) == ["kept rack"]


def test_a_file_that_reads_as_two_loggers_do_makes_one_of_them(studio, tmp_path):
    """Both had been made by files alone; an undo parts them again, and a logger that hangs somewhere stays itself."""
    day = pd.Timedelta(days=1)
    first, last = log_of(tmp_path, "Nord.csv"), log_of(tmp_path, "Messung.csv", MONDAY + 2 * day)
    bridge = log_of(tmp_path, "Alles.csv", rows=144)
    studio.add([first])
    studio.add([last])
    before = {id: readings(studio, id) for id in ("nord", "messung")}
    report = studio.add([bridge])
    assert studio.loggers().keys() == {"messung"}
    assert "nord is the same logger" in report.outcomes[0].notes[-1]
    assert len(readings(studio, "messung")["1"]) == 144
    assert studio.check(rebuild=True).problems == ()
    studio.undo()
    assert {id: readings(studio, id) for id in ("nord", "messung")} == before
    (tmp_path / "register").mkdir()
    (tmp_path / "register" / "places.csv").write_text("id,name,kind\nroom,Room,store\n", encoding="utf-8")
    studio.import_register(tmp_path / "register")
    for id in before:
        studio.set_hanging(id, "room", "2026-01-01")
    (asked,) = studio.add([bridge]).outcomes
    assert (asked.status, asked.choices) == ("in the tray", ("messung", "nord", "new"))


def test_readings_that_stand_still_are_no_evidence_of_one_logger(studio, tmp_path):
    for name in ("klima.csv", "Messung 7.csv"):
        path = log_of(tmp_path, name)
        path.write_text(path.read_text(encoding="utf-8").partition("\n")[0] + "\n" + "".join(
            f"{at:%Y-%m-%dT%H:%M:%S}Z,18.0,50.0\n" for at in pd.date_range(MONDAY, periods=60, freq="30min")
        ) + f"{MONDAY + pd.Timedelta(days=3):%Y-%m-%dT%H:%M:%S}Z,{'18.1' if name[0] == 'k' else '18.2'},50.0\n",
            encoding="utf-8")  # fmt: skip
        studio.add([path])
    assert sorted(studio.loggers()) == ["klima", "messung-7"]


def test_two_numbers_are_two_names_until_somebody_says_they_count(studio, tmp_path):
    day = pd.Timedelta(days=1)
    first = studio.add([log_of(tmp_path, "Raum 3.csv"), log_of(tmp_path, "Raum 4.csv", temp_c=19.5)])
    assert status(first) == ["kept raum-3", "kept raum-4"]  # at one time they read two airs
    with Studio.create(tmp_path / "other", name="x", zone="UTC") as other:
        other.add([log_of(tmp_path, "Daten 1.csv")])
        (asked,) = other.add([log_of(tmp_path, "Daten 2.csv", MONDAY + day)]).outcomes
        assert asked.status == "in the tray"
        other.add([asked.number], logger="daten-1")
        assert status(other.add([log_of(tmp_path, "Daten 3.csv", MONDAY + 2 * day)])) == ["kept daten-1"]


def test_a_number_that_never_changed_in_a_loggers_names_is_no_counter(studio, tmp_path):
    (tmp_path / "register").mkdir()
    (tmp_path / "register" / "loggers.csv").write_text("id,name\nr1,R1\nr2,R2\nr3,R3\n", encoding="utf-8")
    studio.import_register(tmp_path / "register")
    for week in range(3):
        for n in (1, 2, 3):
            start = MONDAY + week * pd.Timedelta(days=7)
            file = log_of(tmp_path, f"R{n}-week{week}.csv", start, temp_c=17 + n, rows=7 * 48)
            assert status(studio.add([file])) == [f"kept r{n}"]


def test_a_folder_joins_nothing_and_another_folder_is_asked_about(studio, tmp_path):
    """Of a registered logger's folder one asks, once."""
    (tmp_path / "register").mkdir()
    (tmp_path / "register" / "loggers.csv").write_text("id,name\nstore,Store\n", encoding="utf-8")
    studio.import_register(tmp_path / "register")
    log_of(tmp_path, "Store/Messung 2026-01-06.csv")
    (asked,) = studio.add([tmp_path / "in"]).outcomes
    assert (asked.status, asked.choices) == ("in the tray", ("store", "new"))
    studio.add([asked.number], logger="store")
    log_of(tmp_path, "Store/Messung 2026-01-07.csv", MONDAY + pd.Timedelta(days=1))
    log_of(tmp_path, "Loft/Messung 2026-02-07.csv", MONDAY + MONTH)
    told = {Path(one.name).name: one for one in studio.add([tmp_path / "in"]).outcomes}
    assert told["Messung 2026-01-07.csv"].logger_id == "store"
    assert told["Messung 2026-02-07.csv"].status == "in the tray"


def test_names_of_dates_alone_are_asked_about_once(studio, tmp_path):
    day = pd.Timedelta(days=1)
    studio.add([log_of(tmp_path, "2026-01-05.csv")])
    (asked,) = studio.add([log_of(tmp_path, "2026-01-06.csv", MONDAY + day)]).outcomes
    assert asked.status == "in the tray"
    assert "only dates and numbers" in asked.question
    (kept,) = studio.add([asked.number], logger=asked.choices[0]).outcomes
    assert status(studio.add([log_of(tmp_path, "2026-01-07.csv", MONDAY + 2 * day)])) == [f"kept {kept.logger_id}"]


def test_a_label_that_holds_a_registered_word_is_asked_about_and_one_that_holds_its_serial_is_not(studio, tmp_path):
    (tmp_path / "register").mkdir()
    rows = "id,name,labels\nstore,Store,\nrack,Rack,20417\n"
    (tmp_path / "register" / "loggers.csv").write_text(rows, encoding="utf-8")
    studio.import_register(tmp_path / "register")
    north = log_of(tmp_path, "a.csv", label="Store north")
    rack = log_of(tmp_path, "b.csv", label="TH-20417", temp_c=12)
    asked, kept = studio.add([north, rack]).outcomes
    assert (asked.status, kept.logger_id) == ("in the tray", "rack")


def test_a_registered_label_of_one_digit_tells_the_logger(studio, tmp_path):
    for n, id in enumerate(("rack", "easel")):
        studio.enter("logger", {"id": id, "name": id.title(), "labels": f"SN{n}"})
    for week in range(2):
        for n, id in enumerate(("rack", "easel")):
            start = MONDAY + pd.Timedelta(days=7 * week)
            path = log_of(tmp_path, f"{'abcd'[2 * week + n]}.csv", start, temp_c=16 + 4 * n, label=f"SN{n}")
            assert status(studio.add([path])) == [f"kept {id}"]


def test_a_registered_zone_is_not_asked_for_where_the_file_may_be_that_loggers(studio, tmp_path):
    """The hour that Berlin's clocks strike twice is asked about, unless the logger stays on winter time."""
    (tmp_path / "register").mkdir()
    (tmp_path / "register" / "loggers.csv").write_text("id,name,zone\nrack,Rack,Etc/GMT-1\n", encoding="utf-8")
    studio.import_register(tmp_path / "register")
    times = pd.date_range("2025-10-25 20:00", periods=48, freq="15min")
    rows = "".join(f"{at:%Y-%m-%d %H:%M},{18 + 0.1 * (n % 5):.1f},50\n" for n, at in enumerate(times))
    file = tmp_path / "Rack Fenster.csv"
    file.write_text(f"Time,Temperature (°C),Humidity (%)\n{rows}", encoding="utf-8")
    (asked,) = studio.add([file]).outcomes
    assert asked.option == "logger"
    (kept,) = studio.add([asked.number], logger="rack").outcomes
    assert (kept.status, kept.new) == ("kept", 48)
    (kept_rows,) = readings(studio, "rack").values()
    assert kept_rows[0][0] == pd.Timestamp("2025-10-25 19:00", tz="UTC").value // 1000


def test_two_records_at_other_minutes_contradict_each_other_and_a_finer_export_does_not():
    def series(minutes: float, first: float = 0.0, off: float = 0.0) -> dict[str, Series]:
        at = np.arange(first, 24 * 60, minutes)
        n = len(at)
        temp_c = np.round(18 + np.sin(at / 200) + off, 2)
        rest = np.zeros(n, np.uint16), np.zeros(n, np.int32), np.arange(n, dtype=np.int32)
        return {"1": Series((at * 60_000_000).astype(np.int64), temp_c, temp_c + 30, *rest)}

    assert fit(series(15), series(15, 7)).contradicts
    assert fit(series(5), series(15)).equal
    assert fit(series(15, off=0.3), series(15)).contradicts
    assert not fit(series(15, off=0.3), series(15)).equal


@pytest.mark.parametrize("names", [("Keller 2.csv", "klima Keller.csv"), ("klima.csv", "klima Loft.csv")])
def test_names_that_share_a_word_whole_are_asked_about_in_either_order(tmp_path, names):
    for n, (first, second) in enumerate((names, names[::-1])):
        with Studio.create(tmp_path / f"s{n}", name="x", zone="UTC") as studio:
            studio.add([log_of(tmp_path, first)])
            (asked,) = studio.add([log_of(tmp_path, second, MONDAY + MONTH)]).outcomes
            assert (asked.status, asked.option) == ("in the tray", "logger")


def test_words_and_folders_of_a_name():
    assert words_of("TH-20417_Raum2") == ("th", "20417", "raum", "2")
    assert path_key("2026-01/Keller 2/x.csv") == "keller 2/x"


# ---------------------------------------------------------------------------------------------------- any order


TRUTH = {"klima.csv": "x", "klima (2).csv": "x", "klima 2026-01-12.csv": "x", "klima loft.csv": "y", "klima 3.csv": "x"}


def five(folder: Path) -> dict[str, Path]:
    """Overlaps, a correction, another logger's file of a like name, and one whose dates can be read in two ways."""
    day = pd.Timedelta(days=1)
    made = {
        "klima.csv": log_of(folder, "klima.csv", rows=192, digits=2),
        "klima (2).csv": log_of(folder, "klima (2).csv", MONDAY + 3 * day, rows=192, digits=1),
        "klima 2026-01-12.csv": log_of(folder, "klima 2026-01-12.csv", MONDAY + 6 * day, rows=192),
        "klima loft.csv": log_of(folder, "klima loft.csv", MONDAY + 2 * day, rows=192, temp_c=9.0),
    }
    corrected = made["klima 2026-01-12.csv"]
    lines = corrected.read_text(encoding="utf-8").split("\n")
    lines[6] = lines[6].rpartition(",")[0] + ",77.7"
    corrected.write_text("\n".join(lines), encoding="utf-8")
    rows = [f"0{m}/0{m + 1}/2026 12:00,18.{m},5{m}.0" for m in (2, 3)]
    unclear = made["klima 3.csv"] = folder / "in" / "klima 3.csv"
    unclear.write_text("Time,Temperature (°C),Humidity (%)\n" + "\n".join(rows) + "\n", encoding="utf-8")
    return made


def answered(studio: Studio, known: dict[str, str]) -> None:
    """What waits, answered as a person would who knows whose each file is."""
    for _ in range(6):
        for item in studio.tray():
            if item.number not in {one.number for one in studio.tray()}:
                continue  # another answer settled it
            if item.option == "logger":
                report = studio.add([item.number], logger=known.get(TRUTH[item.name], "new"))
            else:
                report = studio.add([item.number], Answers(dates="dmy"))
            told(report, known)
        if not studio.tray():
            return


def told(report, known: dict[str, str]) -> None:
    for one in report.outcomes:
        if one.status == "kept":
            assert known.setdefault(TRUTH[one.name], one.logger_id) == one.logger_id, one


def test_any_order_of_adding_gives_the_same_readings(tmp_path):
    files, found = five(tmp_path), []
    orders = list(islice(permutations(files), 0, None, 17))
    for n, order in enumerate(orders):
        with Studio.create(tmp_path / f"s{n}", name="x", zone="UTC") as studio:
            known: dict[str, str] = {}
            for name in order:
                told(studio.add([files[name]]), known)
            answered(studio, known)
            found.append({whose: sorted(*readings(studio, logger).values()) for whose, logger in known.items()})
            assert found[-1] == found[0], order
            assert studio.check(rebuild=True).problems == ()
    assert {whose: len(rows) for whose, rows in found[0].items()} == {"x": 10 * 48 + 1 + 2, "y": 4 * 48}


def test_what_waits_goes_in_once_another_file_answers_its_question(studio, tmp_path):
    """The logger's own file settles the order of days, or fills the gap; nobody is asked."""
    day = pd.Timedelta(days=1)
    studio.add([log_of(tmp_path, "klima.csv")])
    apart = studio.add([log_of(tmp_path, "klima 2.csv", MONDAY + day, rows=96, temp_c=20)]).outcomes[0]
    assert apart.status == "in the tray"
    same = log_of(tmp_path, "Messung.csv", MONDAY + day, rows=48, temp_c=20)
    report = studio.add([same], logger="klima")
    assert status(report) == ["kept klima", "kept klima"]
    assert studio.tray() == ()


def test_the_sidecar_holds_what_the_archive_and_the_clock_decided(studio, tmp_path):
    for name, text in (("loft 1.csv", "13/01/2026 12:00,18.1,51\n14/01/2026 12:00,18.2,52\n"),
                       ("loft 2.csv", "01/02/2026 12:00,18.1,51\n02/02/2026 12:00,18.2,52\n")):  # fmt: skip
        (tmp_path / name).write_text(f"Time,Temperature (°C),Humidity (%)\n{text}", encoding="utf-8")
    studio.add([tmp_path / "loft 1.csv"])
    (kept,) = studio.add([tmp_path / "loft 2.csv"], logger="loft-1").outcomes
    assert kept.status == "kept"
    sidecars = [json.loads(path.read_text(encoding="utf-8")) for path in (studio.folder / "originals").glob("*.json")]
    (answers,) = (one["answers"] for one in sidecars if one["name"] == "loft 2.csv")
    assert (answers["dates"], answers["zone_default"]) == ("dmy", "Europe/Berlin")
    assert pd.Timestamp(answers["read_at"]) <= pd.Timestamp.now(tz="UTC")


# -------------------------------------------------------------------------------------------- while a file waits


@pytest.fixture
def two_rooms(studio, tmp_path):
    """Two rooms with a painting each, read by two loggers for three weeks."""
    (tmp_path / "register").mkdir()
    for name, text in {
        "places": "id,name,kind\nstore,The store,store\nhall,The hall,store\n",
        "loggers": "id,name\nklima,Klima\nhalle,Halle\n",
        "hangings": "logger,place,position,from\nklima,store,rack,2025-12-01\nhalle,hall,rack,2025-12-01\n",
        "paintings": "id,title\np1,Moor\np2,Harbour\n",
        "layers": "painting,order,role,material\np1,1,canvas,linen\np2,1,canvas,linen\n",
        "stays": "painting,place,position,from,to\np1,store,rack,2025-12-01,\np2,hall,rack,2025-12-01,\n",
    }.items():
        (tmp_path / "register" / f"{name}.csv").write_text(text, encoding="utf-8")
    studio.import_register(tmp_path / "register")
    for n, name in enumerate(("klima", "halle")):
        studio.add([log_of(tmp_path, f"{name}.csv", MONDAY - pd.Timedelta(days=14), rows=48 * 23, rh_percent=50 + n)])
    return studio


def week(studio):
    made = review.make(studio, MONDAY + pd.Timedelta(days=8), iso_week("2026-W02", studio.zone))
    return made, {line.id: {f.sentence for f in line.verdict.unseen} for line in made.judged}


def test_paintings_of_a_file_that_waits_are_not_known_and_others_are_not_touched(two_rooms, tmp_path):
    before, unseen = week(two_rooms)
    assert not any("a file waits" in said for of in unseen.values() for said in of)
    (asked,) = two_rooms.add([log_of(tmp_path, "klima Fenster.csv", MONDAY + pd.Timedelta(minutes=7))]).outcomes
    assert asked.status == "kept"  # it reads another air at the same time
    two_rooms.undo()
    (asked,) = two_rooms.add([log_of(tmp_path, "klima 2026-01-06.csv", temp_c=21)]).outcomes
    assert asked.status == "in the tray"
    made, unseen = week(two_rooms)
    assert any("a file waits in the tray" in said for said in unseen["p1"])
    assert "p1" in {line.id for line in made.not_seen}
    assert not any("a file waits" in said for said in unseen["p2"])
    clear = {line.id for line in before.quiet}
    assert ("p2" in {line.id for line in made.quiet}) == ("p2" in clear)
    now = MONDAY + pd.Timedelta(days=8)
    for id, waits in (("p1", True), ("p2", False)):
        painting = two_rooms.paintings()[id]
        ways = two_rooms.exposures(painting, MONDAY, now)
        assert ("a file waits" in assessed(two_rooms, painting, ways, now).sentence.casefold()) == waits
        rung = ringing(two_rooms, painting, "wet", now).assessment
        assert any("a file waits" in finding.sentence for finding in rung.unseen) == waits
    two_rooms.discard(asked.number)
    assert not any("a file waits" in said for of in week(two_rooms)[1].values() for said in of)


def test_a_file_that_waits_leaves_a_room_alone_that_its_logger_had_left(two_rooms, tmp_path):
    """And holds open the room into which it was carried, where it stands in, and that room's paintings' own pages."""
    two_rooms.set_hanging("klima", "hall", "2026-01-02", position="rack")
    week_later = [log_of(tmp_path, "klima 2026-01-06.csv", temp_c=21)]
    (asked,) = two_rooms.add(week_later).outcomes
    assert asked.status == "in the tray"
    now = MONDAY + pd.Timedelta(days=8)
    _, unseen = week(two_rooms)
    assert not any("a file waits" in said for said in unseen["p1"])
    assert any("a file waits in the tray" in said for said in unseen["p2"])
    told = [record.of(two_rooms, id, now).waits for id in ("p1", "p2")]
    assert told[0] == ""
    assert "klima 2026-01-06.csv (no. 1)" in told[1]
    two_rooms.stand_in("store", "hall", "2026-01-02", temp_u_c=1, rh_u_percent=3)
    assert "klima 2026-01-06.csv" in record.of(two_rooms, "p1", now).waits


def test_a_paintings_page_and_command_tell_of_a_file_that_waits_for_its_room(two_rooms, tmp_path):
    """Whatever else is found there, and of a file newer than the period that is told."""
    now = MONDAY + pd.Timedelta(days=2)
    log_of(tmp_path, "klima 2026-01-06.csv", temp_c=21)
    for told in (False, True):
        ours, theirs = (record.of(two_rooms, id, now) for id in ("p1", "p2"))
        assert ours.line.verdict.start < now - pd.Timedelta(days=2)
        pages = [" ".join(" ".join(painting_lines(one, 80)).split()) for one in (ours, theirs)]
        said = "! a file waits in the tray that may hold this air: klima 2026-01-06.csv (no. 1)"
        assert [said in page for page in pages] == [told, False]
        two_rooms.add([tmp_path / "in" / "klima 2026-01-06.csv"])


def dated(rows: str, head: str = "Time,Temperature (°C),Humidity (%)") -> str:
    return f"Serial Number: SR-77\n\n{head}\n{rows}"


def one_day(first: str, temp_c: float = 18) -> str:
    return "".join(f"{first} {h:02d}:00,{temp_c + h / 10:.1f},{50 + h % 7}\n" for h in range(24))


def test_a_file_that_asks_for_its_dates_holds_open_both_days_of_its_own_logger(two_rooms, tmp_path):
    """By a serial that stood in an earlier file of that logger; by either answer, and no other day."""
    (tmp_path / "a.csv").write_text(dated(one_day("13/01/2026")), encoding="utf-8")
    two_rooms.add([tmp_path / "a.csv"], logger="klima")
    (tmp_path / "day.csv").write_text(dated(one_day("06/01/2026", 24), "Zeit,Temp °C,% RH"), encoding="utf-8")
    (asked,) = two_rooms.add([tmp_path / "day.csv"]).outcomes
    assert (asked.status, asked.option) == ("in the tray", "dates")
    (one,) = waiting(two_rooms)["klima"]
    assert sorted(f"{first:%m-%d}" for first, _ in one.spans) == ["01-05", "05-31"]  # midnight of Berlin, in UTC
    _, unseen = week(two_rooms)
    assert any("a file waits in the tray" in said for said in unseen["p1"])
    assert not any("a file waits" in said for said in unseen["p2"])


def test_what_was_answered_of_one_layout_says_nothing_of_another(studio, tmp_path):
    for name, head in (("a.csv", "Zeit,Temp °C,% RH"), ("b.csv", "Zeit,Temp °C,% RH"), ("c.csv", "When,T (°C),H (%)")):
        day = {"a.csv": "05/06/2026", "b.csv": "06/06/2026", "c.csv": "07/06/2026"}[name]
        (tmp_path / name).write_text(dated(one_day(day.replace("06/2026", "09/2026")), head), encoding="utf-8")
    now = [studio.add([tmp_path / "a.csv"], Answers(dates="dmy")), studio.add([tmp_path / "b.csv"])]
    assert [one.outcomes[0].status for one in now] == ["kept", "kept"]
    assert any(note.startswith("dates dmy, as answered") for note in now[1].outcomes[0].notes)
    (other,) = studio.add([tmp_path / "c.csv"]).outcomes
    assert (other.status, other.option) == ("in the tray", "dates")


def test_a_week_that_waits_in_the_tray_says_so(studio, tmp_path):
    studio.add([log_of(tmp_path, "klima.csv")])
    studio.add([log_of(tmp_path, "klima Loft.csv", MONDAY + MONTH, temp_c=22)])
    result = run("review", "--week", "2026-W06", "--studio", studio.folder)
    assert "1 file waits in the tray" in " ".join(result.stderr.split())


def test_a_file_of_another_time_leaves_the_week_as_it_is(two_rooms, tmp_path):
    (asked,) = two_rooms.add([log_of(tmp_path, "klima Fenster.csv", MONDAY + 6 * MONTH)]).outcomes
    assert asked.status == "in the tray"
    assert {one.number for one in waiting(two_rooms)["klima"]} == {asked.number}
    assert not any("a file waits" in said for of in week(two_rooms)[1].values() for said in of)


def test_both_records_are_drawn_beside_the_question(studio, tmp_path):
    """The bars of the file are higher by as much as it reads warmer; times without readings are left empty."""
    studio.add([log_of(tmp_path, "klima.csv", rows=96, temp_c=18)])
    (asked,) = studio.add([log_of(tmp_path, "klima 2.csv", MONDAY + pd.Timedelta(days=3), rows=96, temp_c=24)]).outcomes
    file, logger = studio.courses(asked.number)
    assert (file.name, logger.name) == ("klima 2.csv", "klima")
    assert np.nanmean(file.temp_c) - np.nanmean(logger.temp_c) == pytest.approx(6, abs=0.4)
    assert not (np.isfinite(file.temp_c) & np.isfinite(logger.temp_c)).any()
    told = run("tray", "--studio", studio.folder).stdout
    rows = [line for line in told.split("\n") if "°C " in line and "\N{LOWER ONE EIGHTH BLOCK}" in line]
    assert rows and "\N{FULL BLOCK}" in told
    assert max(map(len, told.split("\n"))) <= 80
    assert lines(studio.courses(asked.number, 200)).count("<path") == 4


def test_a_question_that_is_no_loggers_has_no_drawing(studio, tmp_path):
    file = tmp_path / "loft.csv"
    file.write_text("Time,Temperature (°C),Humidity (%)\n01/02/2026 12:00,18,50\n02/03/2026 12:00,18,51\n")
    (asked,) = studio.add([file]).outcomes
    assert (asked.option, studio.courses(asked.number)) == ("dates", ())


@pytest.mark.parametrize("names", list(permutations(["klima.csv", "Loft/klima.csv"])))
def test_one_name_in_two_folders_is_asked_about_whichever_came_first(studio, tmp_path, names):
    """Its record would go on; whether it is the same logger a folder does not say. In one folder it is."""
    first, second = (log_of(tmp_path / str(n), name, MONDAY + n * pd.Timedelta(days=1)) for n, name in enumerate(names))
    studio.add([first.parents[len(Path(names[0]).parts) - 1]])
    report = studio.add([second.parents[len(Path(names[1]).parts) - 1]])
    assert [(one.status, one.option) for one in report.outcomes] == [("in the tray", "logger")], report
    third = log_of(tmp_path / "2", names[0], MONDAY + 2 * pd.Timedelta(days=1))
    assert status(studio.add([third.parents[len(Path(names[0]).parts) - 1]])) == ["kept klima"]


def test_a_name_of_dates_alone_may_be_any_registered_loggers(studio, tmp_path):
    studio.enter("logger", {"id": "amsel", "name": "Amsel"})
    report = studio.add([log_of(tmp_path, "2026-01-06.csv")])
    assert [(one.status, one.option) for one in report.outcomes] == [("in the tray", "logger")], report
    assert studio.tray()[0].choices == ("amsel", "new")
