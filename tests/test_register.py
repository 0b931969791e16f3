# ruff: noqa: E501 - rows of CSV files and what is said of them, side by side
"""The register: CSV in and out, what is refused and in which words, and the commands that change it."""

import csv
import io

import pandas as pd
import pytest

from envwatch.archive import Studio
from envwatch.archive.csv_io import SHEETS
from envwatch.errors import BadInput, NotThere, Question
from envwatch.records import CareStatus

CSV = {
    "places": """id,name,kind,volume_m3,outer_walls,altitude_m,zone,note
studio,Studio,studio,180,2,6,Europe/Berlin,"ground floor, heated"
store,Picture store,store,,,,,
ny,House in the west,house,95.5,3,-2,America/New_York,'=not a formula
""",
    "loggers": """id,name,labels,zone,fetch_days,temp_accuracy_c,rh_accuracy_percent,calibrated_on,note
a,Store rack,331887;rack,Etc/GMT-1,14,0.3,2,2026-02-12,
b,Studio easel,,,,,,,
""",
    "hangings": """logger,channel,place,position,from,to
a,,store,rack,2025-11-01,2026-03-01
a,,studio,easel,2026-03-01,
b,inner,store,outer wall,2025-11-01 10:30,
""",
    "paintings": """id,title,maker,made,height_cm,width_cm,weight_kg,support,glazed,backed,stretcher,frame_depth_mm,tacking_margins,owner,care,care_until
p1,Harbour,unknown,1868,31.5,45,1.1,linen canvas,no,yes,"softwood, keyed",35,intact,A. Owner,in store,
p2,Moor,,about 1900,,,,,,,,,unknown,,on loan,2026-12-31
""",
    "layers": """painting,order,role,material,area,applied_on,assumed,note
p1,1,paint,oil_paint,whole,,,
p1,2,canvas,linen,whole,,yes,
p1,3,film,eva_film,whole,2026-03-14,no,Ö ü ß
""",
    "treatments": """id,painting,kind,on,material,end,temp_interface_c,note
t1,p1,lining,2026-03-14 10:00,eva_film,,66,roller
""",
    "stays": """painting,place,position,from,to,intended,purpose
p1,store,rack,2025-01-01,2026-03-01,,
p1,studio,easel,2026-03-01,2026-04-01 15:30,no,lining
p1,store,rack,2026-04-01 16:00,,,
p2,ny,inner wall,2026-01-10,,,
""",
    "observations": """painting,on,sign,where,finding,confirms,note
p1,2026-04-20,bulge,lower edge,,,
p1,2026-05-20,bulge,lower edge,3,yes,grown
""",
}  # fmt: skip


def write(folder, **changed):
    """The register above, some files otherwise; None leaves one out."""
    folder.mkdir(exist_ok=True)
    for name, text in {**CSV, **changed}.items():
        if text is not None:
            (folder / f"{name}.csv").write_text(text, encoding="utf-8")
    return folder


def with_row(name, row):
    return {name: CSV[name] + row + "\n"}


@pytest.fixture
def studio(tmp_path):
    with Studio.create(tmp_path / "studio", name="A studio", zone="Europe/Berlin", altitude_m=34) as made:
        yield made


@pytest.fixture
def filled(studio, tmp_path):
    studio.import_register(write(tmp_path / "in"))
    return studio


def berlin(text):
    return pd.Timestamp(text, tz="Europe/Berlin")


# ------------------------------------------------------------------------------------------------- in and out


def test_the_nouns_are_what_the_files_say(filled):
    place = filled.places()
    assert (place["store"].zone, place["store"].altitude_m, place["store"].volume_m3) == ("Europe/Berlin", 34.0, None)
    assert place["ny"].note == "=not a formula"
    logger = filled.loggers()["a"]
    assert (logger.labels, logger.fetch_days, logger.zone) == (("331887", "rack"), 14, "Etc/GMT-1")
    assert (logger.sensor.temp_bias_c, logger.sensor.rh_bias_percent) == (0.3, 2.0)
    assert filled.loggers()["b"].sensor.basis.startswith("assumed")
    painting = filled.paintings()["p1"]
    assert (painting.glazed, painting.backed, painting.owner) == (False, True, "A. Owner")
    assert filled.paintings()["p2"].glazed is None
    assert filled.paintings()["p2"].care is CareStatus.ON_LOAN
    assert [layer.role for layer in painting.layers] == ["paint", "canvas", "film"]
    assert painting.layers[1].assumed
    assert painting.lined_on == berlin("2026-03-14 10:00")
    assert [(s.place_id, s.start_is_date, s.end_is_date) for s in painting.stays] == [
        ("store", True, True), ("studio", True, False), ("store", False, True),
    ]  # fmt: skip
    assert painting.stays[1].end == berlin("2026-04-01 15:30")
    assert filled.paintings()["p2"].stays[0].start == pd.Timestamp("2026-01-10", tz="America/New_York")
    assert [o.confirms for o in painting.observations] == [None, True]


def test_what_was_imported_is_exported_cell_for_cell(filled, tmp_path):
    counts = filled.export_register(tmp_path / "out", private=True)
    assert counts == {name: len(list(csv.reader(io.StringIO(text)))) - 1 for name, text in CSV.items()}
    for sheet in SHEETS:
        assert (tmp_path / "out" / sheet.file).read_text(encoding="utf-8") == CSV[sheet.name], sheet.name


def test_what_was_exported_makes_the_same_register_elsewhere(filled, tmp_path):
    filled.export_register(tmp_path / "out", private=True)
    with Studio.create(tmp_path / "other", name="x", zone="Europe/Berlin", altitude_m=34) as other:
        other.import_register(tmp_path / "out")
        assert other.register() == filled.register()


def test_importing_twice_changes_nothing(filled, tmp_path):
    before = filled.register()
    filled.import_register(tmp_path / "in")
    assert filled.register() == before


def test_owners_stay_home_unless_asked_for_and_are_not_lost_by_coming_back(filled, tmp_path):
    filled.export_register(tmp_path / "out")
    written = "".join(path.read_text(encoding="utf-8") for path in (tmp_path / "out").iterdir())
    assert "Owner" not in written
    filled.import_register(tmp_path / "out")
    assert filled.paintings()["p1"].owner == "A. Owner"
    assert "A. Owner" not in repr(filled.paintings()["p1"])


def test_a_file_as_a_spreadsheet_saves_it_is_read_alike(studio, tmp_path):
    folder = write(tmp_path / "in")
    for name in ("places", "stays"):  # mark, semicolons, both line ends
        text = io.StringIO(newline="")
        csv.writer(text, delimiter=";", lineterminator="\r\n").writerows(csv.reader(io.StringIO(CSV[name])))
        (folder / f"{name}.csv").write_bytes(b"\xef\xbb\xbf" + text.getvalue().encode())
    studio.import_register(folder)
    assert len(studio.paintings()["p1"].stays) == 3


# ------------------------------------------------------------------------------------------------- refusals

REFUSED = [
    ("wrong column", {"stays": CSV["stays"].replace("purpose", "porpuse")}, r"stays\.csv, row 1: column 'porpuse' is not known"),
    ("column missing", {"stays": "painting,position\np1,rack\n"}, r"stays\.csv, row 1: column 'place' is missing"),
    ("cell too many", with_row("places", "x,X,store,,,,,,,"), r"places\.csv, row 5: 10 cells under 8 columns"),
    ("unknown word", with_row("places", "x,X,cellar,,,,,"), r"places\.csv, row 5: kind 'cellar' is not known; use one of"),
    ("near word", with_row("places", "x,X,stroe,,,,,"), r"row 5: kind 'stroe' is not known; did you mean 'store'"),
    ("unknown place", with_row("stays", "p2,stor,rack,2020-01-01,2020-02-01,,"), r"stays\.csv, row 6: no place 'stor'; did you mean 'store'"),
    ("unknown painting", with_row("layers", "p9,1,paint,oil_paint,whole,,,"), r"layers\.csv, row 5: no painting 'p9'"),
    ("unknown material", with_row("layers", "p2,1,film,eva_flim,whole,,,"), r"layers\.csv, row 5: material 'eva_flim'.*did you mean 'eva_film'"),
    ("overlap", with_row("stays", "p1,ny,rack,2026-02-01,2026-02-05,,"), r"stays\.csv, row 6: .*'ny' from 2026-02-01, but in 'store' \(stays\.csv, row 2\) until 2026-03-01"),
    ("never left", with_row("stays", "p2,store,rack,2026-02-01,,,"), r"stays\.csv, row 6: .*never left 'ny'"),
    ("overlap by an hour", with_row("stays", "p1,ny,rack,2026-04-01 15:00,2026-04-01 15:45,,"), r"stays\.csv, row 6"),
    ("end before start", with_row("stays", "p2,store,rack,2025-02-01,2025-01-01,,"), r"row 6: ends on 2025-01-01, before it begins"),
    ("either order", with_row("stays", "p2,store,rack,03/04/2025,2025-06-01,,"), r"row 6: from '03/04/2025' could be either order; write it as 2025-03-04 or 2025-04-03"),
    ("other order", with_row("stays", "p2,store,rack,14.03.2025,2025-06-01,,"), r"row 6: from '14\.03\.2025' must be written as 2025-03-14"),
    ("no such day", with_row("stays", "p2,store,rack,2025-02-30,,,"), r"row 6: from '2025-02-30' is not a day"),
    ("before it was made", with_row("treatments", "t2,p1,lining,1850-01-01,,,,"), r"treatments\.csv, row 3: a treatment on 1850-01-01, but the painting was made in 1868"),
    ("two linings a day", with_row("treatments", "t2,p1,lining,2026-03-14,bw_film,,,"), r"treatments\.csv, row 3: a second lining of 'p1' on 2026-03-14"),
    ("two layers in one place", with_row("layers", "p1,3,lining canvas,linen,whole,,,"), r"layers\.csv, row 5: painting 'p1' has order 3 already in layers\.csv, row 4"),
    ("id twice", with_row("places", "store,Again,store,,,,,"), r"places\.csv, row 5: id 'store' is already in places\.csv, row 3"),
    ("label twice", with_row("loggers", "c,C,rack,,,,,,"), r"loggers\.csv, row 4: the label 'rack' is already that of logger 'a'"),
    ("not a number", with_row("places", 'x,X,store,"65,5",,,,'), r"row 5: volume_m3 '65,5' is not a number; write it as 12\.5"),
    ("out of range", with_row("places", "x,X,store,-3,,,,"), r"row 5: volume_m3 -3 is outside 0 to"),
    ("no such zone", with_row("places", "x,X,store,,,,Berlin,"), r"row 5: zone 'Berlin' is no time zone; write it as Europe/Berlin"),
    ("empty id", with_row("places", ",X,store,,,,,"), r"row 5: id is empty"),
    ("control character", with_row("places", "x,X\x07,store,,,,,"), r"row 5: name holds a control character"),
    ("logger in two rooms", with_row("hangings", "b,inner,studio,rack,2026-01-01,,"), r"hangings\.csv, row 5"),
]  # fmt: skip


@pytest.mark.parametrize(("changed", "told"), [case[1:] for case in REFUSED], ids=[case[0] for case in REFUSED])
def test_a_wrong_row_is_told_in_one_line_with_file_and_row_and_nothing_is_kept(studio, tmp_path, changed, told):
    with pytest.raises(BadInput, match=told) as error:
        studio.import_register(write(tmp_path / "in", **changed))
    assert "\n" not in str(error.value)
    assert studio.places() == studio.loggers() == studio.paintings() == {}


def test_a_file_that_is_not_utf8_is_refused(studio, tmp_path):
    folder = write(tmp_path / "in")
    (folder / "places.csv").write_bytes(CSV["places"].replace("Studio", "Atelier Süd").encode("cp1252"))
    with pytest.raises(BadInput, match="places.csv: is not UTF-8"):
        studio.import_register(folder)


def test_a_folder_without_register_files_is_refused(studio, tmp_path):
    with pytest.raises(BadInput, match="no register files"):
        studio.import_register(tmp_path / "nowhere")


def test_two_linings_of_one_day_are_kept_with_their_hours(studio, tmp_path):
    second = with_row("treatments", "t2,p1,lining,2026-03-14 16:00,wax_resin,,,")
    studio.import_register(write(tmp_path / "in", **second))
    assert studio.paintings()["p1"].lined_on == berlin("2026-03-14 16:00")


def test_a_painting_date_that_is_only_about_forbids_nothing(studio, tmp_path):
    studio.import_register(write(tmp_path / "in", **with_row("treatments", "t2,p2,lining,1850-01-01,,,,")))
    assert studio.paintings()["p2"].lined_on == berlin("1850-01-01")


# ------------------------------------------------------------------------------------------------- commands


def test_a_move_ends_the_stay_before_it(filled):
    stay = filled.move("p2", "store", "2026-05-01", position="rack")
    stays = filled.paintings()["p2"].stays
    assert stays[-1] == stay
    assert [(s.place_id, None if s.end is None else s.end) for s in stays] == [
        ("ny", pd.Timestamp("2026-05-01", tz="America/New_York")), ("store", None),
    ]  # fmt: skip


def test_an_intended_stay_is_fitted_into_the_one_around_it(filled):
    filled.move("p1", "studio", "2026-06-01 09:00", position="chamber", intended=True, until="2026-06-03 17:00")
    stays = filled.paintings()["p1"].stays[-3:]
    assert [(s.place_id, s.intended) for s in stays] == [("store", False), ("studio", True), ("store", False)]
    assert stays[0].end == stays[1].start == berlin("2026-06-01 09:00")
    assert stays[1].end == stays[2].start == berlin("2026-06-03 17:00")
    assert stays[2].end is None


def test_a_move_that_overlaps_another_is_refused_and_changes_nothing(filled):
    before = filled.paintings()["p1"]
    with pytest.raises(BadInput, match="2026-02-01"):
        filled.move("p1", "ny", "2026-02-01")
    with pytest.raises(BadInput, match="position"):
        filled.move("p1", "ny", "2026-08-01", position="ceiling")
    with pytest.raises(NotThere, match="store"):
        filled.move("p1", "stroe", "2026-08-01")
    assert filled.paintings()["p1"] == before


def test_a_logger_hung_in_the_wrong_room_is_corrected_by_date(filled):
    filled.set_hanging("a", "ny", "2026-01-15")
    hung = [(h.place_id, h.start, h.end) for h in filled.loggers()["a"].hangings]
    day = pd.Timedelta(days=1)
    assert [place for place, *_ in hung] == ["store", "ny", "studio"]
    assert hung[0][2] == berlin("2026-01-15")
    assert hung[1][1] == pd.Timestamp("2026-01-15", tz="America/New_York") + day  # the day of the change is nobody's
    assert hung[2][1] == berlin("2026-03-01") + day
    filled.set_hanging("a", "store", "2026-01-15")
    assert [h.place_id for h in filled.loggers()["a"].hangings] == ["store", "store", "studio"]


def test_a_treatment_and_an_observation_are_recorded(filled):
    treated = filled.treat("p2", "lining", "2026-05-02", material="eva_film", temp_interface_c=66, note="=roller")
    assert filled.paintings()["p2"].treatments == (treated,)
    assert treated.note == "=roller"
    with pytest.raises(BadInput, match="eva_film"):
        filled.treat("p2", "patch", "2026-05-02", material="eva_flim")
    with pytest.raises(BadInput, match="second lining"):
        filled.treat("p2", "lining", "2026-05-02")
    seen = filled.observe("p2", "2026-05-09", "bulge", where="top", finding=4, confirms=False)
    assert filled.paintings()["p2"].observations == (seen,)
    assert (seen.finding, seen.confirms) == (4, False)


def test_a_check_beyond_correction_is_refused(filled):
    with pytest.raises(BadInput, match="replace the sensor"):
        filled.calibrate("a", "2026-06-01", rh_points=((33.0, 45.0), (75.0, 90.0)))
    with pytest.raises(NotThere, match="no logger"):
        filled.calibrate("zz", "2026-06-01")
    assert filled.register().calibrations == {}


def test_a_painting_is_found_by_number_title_maker_and_owner(filled):
    assert filled.find_painting("P1").id == "p1"
    assert filled.find_painting("harbour").id == "p1"
    assert filled.find_painting("owner unknown").id == "p1"
    with pytest.raises(Question, match="fits 2 paintings"):
        filled.find_painting("p")
    with pytest.raises(NotThere, match="p1 Harbour"):
        filled.find_painting("Harbuor")
