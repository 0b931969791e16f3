# ruff: noqa: E501 - rows of CSV files and what is said of them, side by side
"""The register: CSV in and out, what is refused and in which words, and the commands that change it."""

import csv
import io
import sqlite3
import unicodedata
from datetime import datetime

import pandas as pd
import pytest

from envwatch.archive import Studio, reviews
from envwatch.archive.register.sheets import SHEETS
from envwatch.archive.store.tables import VERSION
from envwatch.cases.painting import handover, record
from envwatch.core.errors import BadInput, Faults, NotThere, Question, StudioError
from envwatch.core.findings import Finding, Level
from envwatch.core.painting import NOTHING_NEW, CareStatus, Look
from envwatch.present.terminal.painting import painting_lines
from tests.program import run

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


def widened(name, **columns):
    """A file of the register above with more columns: a value for each row."""
    rows = list(csv.reader(io.StringIO(CSV[name])))
    for n, row in enumerate(rows):
        row.extend(list(columns) if n == 0 else [str(values[n - 1]) for values in columns.values()])
    out = io.StringIO(newline="")
    csv.writer(out, lineterminator="\n").writerows(rows)
    return out.getvalue()


FULL = CSV | {
    "paintings": widened("paintings", ground=["oil, grey", ""], varnish=["dammar, 1950s", ""], value_band=["B", ""]),
    "treatments": widened(
        "treatments", layer=["film"], family=["heat-seal (ethylene-vinyl-acetate)"], form=["film"], batch=["2026/114"],
        carrier=["none"], solids_percent=[25], bloom=[""], thickness_um=[65], coats=[2], amount_g_m2=["62.5"],
        side=["back"], cloth=["linen"], temps_interface_c=["65;66.5;64"], heating_min=[25], hold_min=[10],
        cooling_min=[40], pressure_mbar=[120], weight_g_cm2=["0.5"], drying_h=[48], peel_trial=["340 N/m"],
        strip_kept=["yes"], studio_temp_c=["20.5"], studio_rh_percent=[52], weight_after_kg=["1.4"],
        inspection_days=["1;7;28;90"], limits_told=["not above 30 °C; 45 to 60 %"], removal=["heat"]),
    "observations": widened("observations", photo=["harbour-raking.jpg", ""], look=["own", "telephone"],
                            by=["A. Ember", ""]),
    "calibrations": """logger,channel,on,rh_true_low,rh_read_low,rh_true_high,rh_read_high,temp_true_c,temp_read_c,temp_accuracy_c,rh_accuracy_percent,due,basis,note
a,,2026-02-12,33.1,34,75.5,77.2,20,20.3,0.2,1.5,2027-02-12,"salts, box of the studio",
a,,2026-08-12,,,,,20,20.1,,,,,quick look
""",
    "stand_ins": """place,neighbour,from,to,temp_u_c,rh_u_percent,note
store,studio,2026-01-05,2026-02-01,2.5,8,same wall
""",
    "mark_answers": """logger,channel,mark,from,to,answer,by,on,because
a,,stuck,2026-01-05,2026-01-11 14:30,out,A. Ember,2026-01-12,"battery, flat"
a,,,2026-03-01,,good,A. Ember,2026-03-02,'=seen
""",
    "causes": """place,kind,from,to,cause,by,on
store,damp,2026-01-05 03:00,2026-01-11 14:30,"pipe, over the rack",A. Ember,2026-01-12
store,heat,2026-03-01,2026-03-02,'=stove,,2026-03-03
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


def test_what_was_imported_is_exported_cell_for_cell(studio, tmp_path):
    studio.import_register(write(tmp_path / "in", **FULL))
    counts = studio.export_register(tmp_path / "out", private=True)
    assert counts == {name: len(list(csv.reader(io.StringIO(text)))) - 1 for name, text in FULL.items()}
    for sheet in SHEETS:
        assert (tmp_path / "out" / sheet.file).read_text(encoding="utf-8") == FULL[sheet.name], sheet.name


def test_a_treatment_keeps_the_fields_of_the_trade(studio, tmp_path):
    studio.import_register(write(tmp_path / "in", **FULL))
    (lining,) = studio.paintings()["p1"].treatments
    assert (lining.batch, lining.temps_interface_c, lining.hold_min, lining.cooling_min, lining.pressure_mbar) == (
        "2026/114", (65.0, 66.5, 64.0), 10.0, 40.0, 120.0,
    )  # fmt: skip
    assert (lining.inspection_days, lining.strip_kept, lining.peel_trial) == ((1, 7, 28, 90), True, "340 N/m")
    assert lining.limits_told == "not above 30 °C; 45 to 60 %"
    painting = studio.paintings()["p1"]
    assert (painting.ground, painting.varnish, painting.value_band) == ("oil, grey", "dammar, 1950s", "B")
    assert painting.observations[0].photo == "harbour-raking.jpg"


def test_files_without_the_newer_columns_are_still_imported_and_lose_nothing(studio, tmp_path):
    studio.import_register(write(tmp_path / "in", **FULL))
    before = studio.register()
    studio.import_register(write(tmp_path / "old", observations=None))
    after = studio.register()
    assert after.paintings == before.paintings
    assert after.calibrations == before.calibrations


def test_a_register_of_the_first_layout_is_brought_up_to_date_with_all_it_holds(tmp_path):
    from envwatch.archive.store.migrations.versions import v0001_first as first

    with Studio.create(tmp_path / "s", name="x", zone="Europe/Berlin") as made:
        made.import_register(write(tmp_path / "in"))
        before, kept = made.register(), tmp_path / "s" / "register.sqlite"
    old = sqlite3.connect(tmp_path / "first.sqlite")
    old.executescript(first.TABLES)
    old.execute("ATTACH ? AS now", (str(kept),))
    for (table,) in old.execute("SELECT name FROM main.sqlite_master WHERE type = 'table'").fetchall():
        names = ", ".join(f'"{row[1]}"' for row in old.execute(f"PRAGMA main.table_info({table})"))
        if not table.startswith("sqlite_"):
            old.execute(f"INSERT INTO main.{table} ({names}) SELECT {names} FROM now.{table}")
    old.execute("CREATE TABLE alembic_version (version_num VARCHAR(32) NOT NULL PRIMARY KEY)")
    old.execute("INSERT INTO main.alembic_version VALUES ('0001')")
    old.commit()
    old.execute("DETACH now")
    old.execute("PRAGMA user_version = 1")
    old.commit()
    old.close()
    for path in (kept.with_name("register.sqlite-wal"), kept.with_name("register.sqlite-shm")):
        path.unlink(missing_ok=True)
    (tmp_path / "first.sqlite").replace(kept)
    with Studio.open(tmp_path / "s") as opened:
        assert opened.register() == before
        opened.treat("p2", "patch", "2026-05-02", material="fish_glue", hold_min=10)
        assert opened.paintings()["p2"].treatments[0].hold_min == 10
    with sqlite3.connect(kept) as now:
        assert now.execute("PRAGMA user_version").fetchone() == (VERSION,)
    now.close()


def test_what_was_exported_makes_the_same_register_elsewhere(filled, tmp_path):
    filled.import_register(write(tmp_path / "in", **FULL))
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


def test_redacted_files_hold_no_owner_wherever_the_name_stands_and_no_house(filled, tmp_path):
    filled.treat("p2", "patch", "2026-05-02", material="fish_glue", note="A. Owner told; house of OWNER")
    filled.enter("place", {"id": "ny", "name": "Owner's barn", "note": "key under the stone"})
    filled.export_register(tmp_path / "out", redact=True)
    written = "".join(path.read_text(encoding="utf-8") for path in (tmp_path / "out").iterdir())
    body = written.replace("owner,care", "").replace("owner 1, withheld", "")
    assert "owner 1, withheld" in written
    assert "owner" not in body.casefold()
    assert "barn" not in written
    assert "stone" not in written
    with pytest.raises(BadInput, match="stands for a name that was taken out"):
        filled.import_register(tmp_path / "out")
    assert filled.paintings()["p1"].owner == "A. Owner"


@pytest.mark.parametrize(
    ("owner", "written"),
    [
        ("Gräfin Ölmüller-Groß", "told Gräfin Ölmüller-Groß"),
        ("Gräfin Ölmüller-Groß", "told GRÄFIN ÖLMÜLLER-GROSS"),
        ("Gräfin Ölmüller-Groß", "told Gra\u0308fin O\u0308lmu\u0308ller-Groß"),  # letters and marks apart
        ("Gräfin Ölmüller-Groß", "told Frau Ölmüller"),
        ("A. Weissbach", "told A.  Weißbach"),
    ],
)
def test_a_name_is_taken_out_however_it_is_written(filled, tmp_path, owner, written):
    filled.enter("painting", {"id": "p2", "owner": owner, "title": written})
    filled.treat("p2", "patch", "2026-05-02", material="fish_glue", limits_told=written, side=written)
    filled.export_register(tmp_path / "out", redact=True)
    text = "".join(path.read_text(encoding="utf-8") for path in (tmp_path / "out").iterdir())
    folded = unicodedata.normalize("NFC", text).casefold()
    assert "owner 2, withheld" in text
    assert not any(name in folded for name in ("müller", "gross", "bach"))


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
    ("a year in two digits", with_row("stays", "p2,store,rack,14.03.25,2025-06-01,,"), r"row 6: from '14\.03\.25' must be written as 2025-03-14"),
    ("no such day", with_row("stays", "p2,store,rack,2025-02-30,,,"), r"row 6: from '2025-02-30' is not a day"),
    ("before it was made", with_row("treatments", "t2,p1,lining,1850-01-01,,,,"), r"treatments\.csv, row 3: a treatment on 1850-01-01, but the painting was made in 1868"),
    ("film before the painting", with_row("layers", "p1,4,film,eva_film,whole,1790-05-01,,"), r"layers\.csv, row 5: the film put on 1790-05-01, but the painting was made in 1868"),
    ("two linings a day, one called otherwise", with_row("treatments", "t2,p1,Relining,2026-03-14,eva_film,,,"), r"treatments\.csv, row 3: a second lining"),
    ("two linings a day", with_row("treatments", "t2,p1,lining,2026-03-14,wax_resin,,,"), r"treatments\.csv, row 3: a second lining of 'p1' on 2026-03-14"),
    ("two layers in one place", with_row("layers", "p1,3,lining canvas,linen,whole,,,"), r"layers\.csv, row 5: painting 'p1' has order 3 already in layers\.csv, row 4"),
    ("id twice", with_row("places", "store,Again,store,,,,,"), r"places\.csv, row 5: id 'store' is already in places\.csv, row 3"),
    ("label twice", with_row("loggers", "c,C,rack,,,,,,"), r"loggers\.csv, row 4: the label 'rack' is already that of logger 'a'"),
    ("not a number", with_row("places", 'x,X,store,65;5,,,,'), r"row 5: volume_m3 '65;5' is not a number; write it as 12\.5"),
    ("a comma of either kind", with_row("places", 'x,X,store,"1,250",,,,'), r"row 5: volume_m3 '1,250' could be 1\.250 or 1250; write which"),
    ("out of range", with_row("places", "x,X,store,-3,,,,"), r"row 5: volume_m3 -3 is outside 0 to"),
    ("no such zone", with_row("places", "x,X,store,,,,Berlin,"), r"row 5: zone 'Berlin' is no time zone; write it as Europe/Berlin"),
    ("empty id", with_row("places", ",X,store,,,,,"), r"row 5: id is empty"),
    ("control character", with_row("places", "x,X\x07,store,,,,,"), r"row 5: name holds a control or direction sign"),
    ("unknown family", {"treatments": FULL["treatments"].replace("heat-seal (ethylene-vinyl-acetate)", "heatseal")}, r"treatments\.csv, row 2: family 'heatseal' is not known"),
    ("family of another material", {"treatments": FULL["treatments"].replace("heat-seal (ethylene-vinyl-acetate)", "wax")}, r"treatments\.csv, row 2: family 'wax', but material 'eva_film' is of the family 'heat-seal"),
    ("a temperature of several", {"treatments": FULL["treatments"].replace("65;66.5;64", "65;hot;64")}, r"treatments\.csv, row 2: temps_interface_c 'hot' is not a number"),
    ("photo with folders", {"observations": FULL["observations"].replace("harbour-raking", "c:/x")}, r"observations\.csv, row 2: photo 'c:/x\.jpg' has folders"),
    ("look of no kind", {"observations": FULL["observations"].replace(",own,", ",glance,")}, r"observations\.csv, row 2: look 'glance' is not known; use one of: own, passing, photo, telephone, unknown"),
    ("check without its reading", {"calibrations": FULL["calibrations"].replace("33.1,34,", "33.1,,")}, r"calibrations\.csv, row 2: rh_true_low stands there without rh_read_low"),
    ("check beyond reason", {"calibrations": FULL["calibrations"].replace("75.5,77.2", "75.5,97.2")}, r"calibrations\.csv, row 2: two-point calibration"),
    ("cause in a place that is not there", {"causes": FULL["causes"].replace("store,heat", "cellar,heat")}, r"causes\.csv, row 3.*cellar"),
    ("cause of no such kind", {"causes": FULL["causes"].replace("damp,", "fog,")}, r"causes\.csv, row 2: kind"),
    ("cause that ends before it begins", {"causes": FULL["causes"].replace("2026-03-02", "2026-02-02")}, r"causes\.csv, row 3.*before it begins"),
    ("stand-in without its doubt", {"stand_ins": FULL["stand_ins"].replace("2.5,", ",")}, r"stand_ins\.csv, row 2: temp_u_c is empty"),
    ("check of no logger", {"calibrations": FULL["calibrations"].replace("a,,2026-08", "x,,2026-08")}, r"calibrations\.csv, row 3: no logger 'x'"),
    ("either order of a treatment", with_row("treatments", "t2,p1,patch,03/04/2026,,,,"), r"treatments\.csv, row 3: on '03/04/2026' could be either order"),
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


WRONG = {
    "places": "id;name;kind;volume_m3\nstore;Picture store;stroe;1,250\n",
    "paintings": "id;title;height_cm;glazed;hieght_cm\np1;Still life;80x;vielleicht;4\n",
    "stays": "painting;place;from\np9;stoer;1.4.26\n",
}
TOLD = """\
places.csv, row 2: kind 'stroe' is not known; did you mean 'store'? Or use one of: studio, store, loft, house, crate, vehicle, chamber, outdoors, other
places.csv, row 2: volume_m3 '1,250' could be 1.250 or 1250; write which
paintings.csv, row 1: column 'hieght_cm' is not known; did you mean 'height_cm'? Call it so, or take it out
paintings.csv, row 2: height_cm '80x' is not a number; write it as 12.5
paintings.csv, row 2: glazed 'vielleicht' is not known; use one of: yes, no
stays.csv, row 2: from '1.4.26' must be written as 2026-04-01
stays.csv, row 2: no painting 'p9'; add the painting first
stays.csv, row 2: no place 'stoer'; did you mean 'store'?"""


def test_all_that_is_wrong_with_all_files_is_told_at_once_and_nothing_is_kept(studio, tmp_path):
    folder = tmp_path / "in"
    folder.mkdir()
    for name, text in WRONG.items():
        (folder / f"{name}.csv").write_text(text, encoding="utf-8")
    for look in (True, False):
        with pytest.raises(Faults) as error:
            studio.import_register(folder, look=look)
        assert str(error.value) == TOLD
    assert studio.places() == studio.paintings() == {}


def test_a_file_that_cannot_be_read_brings_no_faults_upon_the_others(studio, tmp_path):
    folder = write(tmp_path / "in")
    (folder / "paintings.csv").write_bytes(CSV["paintings"].encode() + "p9,Säule\n".encode("cp1252"))
    with pytest.raises(BadInput, match=r"^paintings\.csv: is not UTF-8; save it as CSV UTF-8$"):
        studio.import_register(folder)


def test_what_a_person_writes_is_understood_and_said(studio, tmp_path):
    folder = tmp_path / "in"
    folder.mkdir()
    (folder / "places.csv").write_text("id;Name;kind;volume_m3;Bemerkung\nstore;Store;store;65,5;am Giebel\n")
    (folder / "paintings.csv").write_text(
        "id;title;height_cm;glazed;care_until\np1;Port;1.065,5;nein;01.05.2027\np2;Sea;80;ja;14/05/2027\n"
    )
    looked = studio.import_register(folder, look=True)
    assert (looked.changes, studio.paintings()) == ({"places": (1, 0), "paintings": (2, 0)}, {})
    imported = studio.import_register(folder)
    assert imported.left_out == {"places.csv": ["Bemerkung"]}
    assert imported.read_as == {
        ("places.csv", "volume_m3"): [("65,5", "65.5")], ("paintings.csv", "height_cm"): [("1.065,5", "1065.5")],
        ("paintings.csv", "glazed"): [("nein", "no"), ("ja", "yes")],
        ("paintings.csv", "care_until"): [("01.05.2027", "2027-05-01"), ("14/05/2027", "2027-05-14")],
    }  # fmt: skip
    first, second = studio.paintings().values()
    assert (first.height_cm, first.glazed, second.glazed) == (1065.5, False, True)
    assert first.care_until == berlin("2027-05-01") and studio.places()["store"].volume_m3 == 65.5
    (folder / "paintings.csv").write_text("id,title,height_cm\np1,Port,81\np2,Sea,80\np3,Moor,\n")
    assert studio.import_register(folder, look=True).changes == {"places": (0, 0), "paintings": (1, 1)}


def test_a_year_alone_is_kept_printed_and_given_back_as_the_year(filled, tmp_path):
    with pytest.raises(BadInput, match="is a year alone, which is kept up to"):
        filled.treat("p2", "patch", str(datetime.now().year), material="fish_glue")
    filled.treat("p2", "lining", "1974", material="wax_resin")
    painting = filled.paintings()["p2"]
    assert painting.lined_on == berlin("1974-01-01") and painting.lined_year_only
    (film,) = (layer for layer in painting.layers if layer.role == "film")
    assert film.applied_on == berlin("1974-01-01") and film.year_only
    now = pd.Timestamp("2026-11-02T11:00Z")
    with pytest.raises(BadInput, match="the painting was made in 1975"):
        filled.enter("painting", {"id": "p2", "made": "1975"})
    told = "\n".join(painting_lines(record.of(filled, "p2", now), 80))
    assert "1974: lining wax resin" in told and "Jan 1974" not in told
    made = handover.of(filled, "p2", now)
    assert made.period.start.year > 2000  # not half a century of empty chart
    filled.export_register(tmp_path / "out", private=True)
    assert ",lining,1974,wax_resin," in (tmp_path / "out" / "treatments.csv").read_text()
    with Studio.create(tmp_path / "other", name="Other", zone="Europe/Berlin", altitude_m=34) as other:
        other.import_register(tmp_path / "out")
        assert other.paintings()["p2"] == painting


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


@pytest.mark.parametrize(("place", "on"), [("studio", "2026-05-03"), ("store", "2026-05-03"), ("studio", "2026-04-28")])
@pytest.mark.parametrize("twice", [False, True])
def test_a_stay_that_never_was_is_taken_back_by_the_move_that_corrects_it(filled, place, on, twice):
    filled.move("p2", "store", "2026-05-01")
    if twice and on > "2026-05-01":  # entered as if it had gone on from there
        filled.move("p2", place, on)
    filled.move("p2", place, on, instead="store")
    *before, last, now = filled.paintings()["p2"].stays
    assert [stay.place_id for stay in (*before, last)] == ["ny"]
    assert (now.place_id, now.start, now.end) == (place, berlin(on), None)
    assert last.end == pd.Timestamp(on, tz="America/New_York")


def test_a_stay_that_ended_long_before_is_not_taken_back(filled):
    for place, on in (("store", "2026-05-01"), ("studio", "2026-05-03"), ("store", "2026-05-05"), ("ny", "2026-06-01")):
        filled.move("p2", place, on)
    before = filled.paintings()["p2"]
    with pytest.raises(BadInput, match="no stay in 'studio' that goes on"):
        filled.move("p2", "store", "2026-07-01", instead="studio")
    assert filled.paintings()["p2"] == before


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
    (number,) = (f.number for f in reviews.number_findings(filled, [found_on("p2")]))
    seen = filled.observe("p2", "2026-05-09", "bulge", where="top", finding=number, confirms=False)
    assert filled.paintings()["p2"].observations == (seen,)
    assert (seen.finding, seen.confirms) == (number, False)


def found_on(painting):
    return Finding("lining", "damp", "film", "room", Level.WATCH, "It was damp.", painting_id=painting)


def test_an_observation_speaks_to_a_finding_of_its_own_painting_or_is_refused(filled):
    (number,) = (f.number for f in reviews.number_findings(filled, [found_on("p1")]))
    before = filled.paintings()
    with pytest.raises(NotThere, match="no finding has the number 99"):
        filled.observe("p2", "2026-05-09", "bulge", finding=99, confirms=True)
    with pytest.raises(BadInput, match=f"finding {number} is one of p1"):
        filled.observe("p2", "2026-05-09", "bulge", finding=number, confirms=False)
    with pytest.raises(BadInput, match="which finding"):
        filled.observe("p2", "2026-05-09", "bulge", confirms=False)
    assert filled.paintings() == before


def test_a_look_keeps_how_and_by_whom_and_a_look_of_no_kind_is_refused_with_the_kinds(filled):
    seen = filled.observe("p2", "2026-05-09", "Nothing new.", look="Own", by="A. Ember")
    assert (seen.look, seen.by, seen.well) == (Look.OWN, "A. Ember", True)
    assert filled.paintings()["p2"].observations == (seen,)
    plain = filled.observe("p2", "2026-05-10", "bulge; nothing new besides")
    assert (plain.look, plain.by, plain.well) == (Look.UNKNOWN, "", False)
    for wrong in ("foto", "glance"):
        with pytest.raises(BadInput, match=f"look '{wrong}' is not known.*own, passing, photo, telephone, unknown$"):
            filled.observe("p2", "2026-05-11", "nothing new", look=wrong)
    assert len(filled.paintings()["p2"].observations) == 2


@pytest.mark.parametrize("look", ["own", "passing", "photo", "telephone"])
def test_the_sign_of_a_look_may_be_left_out_and_is_then_nothing_new(filled, look):
    words = ("--by", "A. Ember", "--on", "2026-05-09", "--studio", str(filled.folder))
    assert run("observe", "Moor", "--look", look, *words).returncode == 0
    (seen,) = filled.paintings()["p2"].observations
    assert (seen.sign, seen.look, seen.by, seen.on) == (NOTHING_NEW, look, "A. Ember", berlin("2026-05-09"))
    refused = run("observe", "Moor", *words)
    assert refused.returncode != 0 and "say what was seen, or how it was looked at" in refused.stderr
    assert filled.paintings()["p2"].observations == (seen,)


def test_observations_stand_in_the_order_of_their_days(filled):
    late = filled.observe("p2", "2026-06-09", "bulge, larger")
    early = filled.observe("p2", "2026-05-09", "bulge")
    assert filled.paintings()["p2"].observations == (early, late)


@pytest.mark.parametrize("kind", ["Lining", "relining", "LINING "])
def test_a_lining_is_one_however_it_is_written(filled, kind):
    filled.treat("p2", kind, "2026-05-02", material="eva_film")
    painting = filled.paintings()["p2"]
    assert painting.treatments[0].kind == "lining" and painting.lined_on == painting.treatments[0].on
    assert [layer.material for layer in painting.layers if layer.role == "film"] == ["eva_film"]
    with pytest.raises(BadInput, match="second lining"):
        filled.treat("p2", "relining", "2026-05-02", material="wax_resin")


def test_a_lining_over_an_older_film_is_judged_though_its_own_film_was_not_entered(filled, tmp_path):
    folder = write(tmp_path / "later", **with_row("treatments", "t2,p1,lining,2026-06-01,wax_resin,,,"))
    filled.import_register(folder)
    films = [(layer.material, layer.assumed) for layer in filled.paintings()["p1"].layers if layer.role == "film"]
    assert films == [("eva_film", False), ("wax_resin", True)]


def test_a_lining_puts_its_film_and_its_cloth_into_the_stack(filled):
    filled.treat(
        "p1", "lining", "2026-06-02", material="wax_resin", cloth="linen", temps_interface_c=(64, 65.5), coats=2
    )
    painting = filled.paintings()["p1"]
    assert [(layer.role, layer.material) for layer in painting.layers] == [
        ("paint", "oil_paint"), ("canvas", "linen"), ("film", "eva_film"), ("film", "wax_resin"),
        ("lining canvas", "linen"),
    ]  # fmt: skip
    assert painting.layers[3].applied_on == berlin("2026-06-02")
    assert painting.treatments[-1].temps_interface_c == (64.0, 65.5)


def test_a_treatment_of_an_unknown_material_leaves_a_layer_that_is_judged_as_the_worst_that_is_plausible(filled):
    filled.treat("p2", "lining", "2026-06-02")
    size, film = filled.paintings()["p2"].layers  # an old size under the work is taken for granted
    assert (size.role, size.material, size.assumed) == ("size", "unknown", True)
    assert (film.role, film.material, film.assumed) == ("film", "unknown", True)
    filled.treat("p2", "humidity chamber", "2026-06-03")
    assert filled.paintings()["p2"].layers == (size, film)
    with pytest.raises(BadInput, match="no field 'hold'"):
        filled.treat("p2", "patch", "2026-06-04", hold=3)


def test_an_old_size_is_taken_for_granted_only_where_nothing_of_the_original_is_entered(filled):
    assert filled.paintings()["p2"].layers == ()  # no layer at all: the build-up is not known
    filled.treat("p2", "lining", "2026-06-02", material="eva_film")
    assert [layer.role for layer in filled.paintings()["p2"].layers] == ["size", "film"]
    filled.enter("layer", {"painting": "p2", "order": "9", "role": "canvas", "material": "linen"})
    assert "size" not in [layer.role for layer in filled.paintings()["p2"].layers]


def test_a_lining_from_csv_without_its_film_is_judged_with_an_assumed_one_and_exported_as_it_was(studio, tmp_path):
    text = {"treatments": CSV["treatments"] + "t2,p2,lining,2026-03-20,wax_resin,,,\n"}
    studio.import_register(write(tmp_path / "in", **text))
    _, film = studio.paintings()["p2"].layers  # before it an old size, taken for granted
    assert (film.role, film.material, film.assumed, film.applied_on) == (
        "film",
        "wax_resin",
        True,
        berlin("2026-03-20"),
    )
    assert "not entered" in film.note
    studio.export_register(tmp_path / "out")
    assert (tmp_path / "out" / "layers.csv").read_text(encoding="utf-8") == CSV["layers"]
    assert len(studio.paintings()["p1"].layers) == 3  # its film was entered
    studio.treat("p2", "lining removed", "2026-05-20")
    assert studio.paintings()["p2"].layers == ()


def test_a_layer_that_stands_in_the_stack_already_is_not_put_there_twice(filled):
    filled.treat("p2", "lining", "2026-06-02 10:00", material="eva_film", id="x1")
    filled.treat("p2", "strip-lining", "2026-06-02 12:00", material="eva_film", id="x2")
    assert [layer.role for layer in filled.paintings()["p2"].layers] == ["size", "film", "strip-lining"]
    filled.treat("p1", "patch", "2026-06-02", material="fish_glue", adds_layer=False)
    assert len(filled.paintings()["p1"].layers) == 3


def test_nouns_are_entered_one_by_one_under_the_rules_of_the_files(filled):
    assert filled.enter("painting", {"id": "p3", "title": "Mole", "height_cm": "40", "ground": "oil"})
    assert filled.enter("place", {"id": "van", "name": "Van", "kind": "vehicle"})
    assert filled.enter("logger", {"id": "v", "labels": "900123"})
    filled.enter("layer", {"painting": "p3", "role": "film", "material": "eva_film"})
    filled.enter("layer", {"painting": "p3", "role": "canvas", "material": "linen"})
    painting = filled.paintings()["p3"]
    assert (painting.title, painting.height_cm, painting.ground) == ("Mole", 40.0, "oil")
    assert [layer.role for layer in painting.layers] == ["canvas", "film"]
    assert filled.loggers()["v"].labels == ("900123",)
    assert not filled.enter("painting", {"id": "p3", "owner": "B. Other"})  # a change: the rest stays
    assert filled.paintings()["p3"].title == "Mole"
    before = filled.register()
    for noun, cells, told in (
        ("painting", {"id": "p4"}, "painting p4: title is missing"),
        ("painting", {"id": "p4", "title": "x", "height": "3"}, "no field 'height'"),
        ("place", {"id": "y", "name": "Y", "kind": "cave"}, "kind 'cave' is not known"),
        ("layer", {"painting": "p3", "role": "film", "material": "glew"}, "glew"),
        ("stay", {}, "one of painting"),
    ):
        with pytest.raises(BadInput, match=told) as error:
            filled.enter(noun, cells)
        assert "\n" not in str(error.value)
    assert filled.register() == before


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


TITLES = {
    "q1": ("Der Mühlwärter am Siel", "Kjærgård", "Ö. Łuczak"), "q2": ("The Pilot’s Widow, No. 2", "", ""),
    "q3": ("Straße bei Regen", "Núñez", "Frau Brüggemann-Ibsen"),
}  # fmt: skip


@pytest.mark.parametrize(
    ("words", "id"),
    [
        ("muhlwarter", "q1"), ("Muehlwaerter siel", "q1"), ("SIEL am mühlwärter", "q1"), ("mu\u0308hlwa\u0308rter", "q1"),
        ("luczak", "q1"), ("kjaergard", "q1"), ("pilots widow", "q2"), ("Pilot's widow 2", "q2"), ("widow no 2", "q2"),
        ("strasse", "q3"), ("STRASSE regen", "q3"), ("nunez", "q3"), ("ibsen brueggemann", "q3"),
        ("Bruggemann Ibsen", "q3"), ("regen strasse nunez frau", "q3"), (" q2 ", "q2"),
    ],
)  # fmt: skip
def test_words_find_a_painting_with_or_without_the_marks_on_letters_in_any_order(filled, words, id):
    for number, (title, maker, owner) in TITLES.items():
        filled.enter("painting", {"id": number, "title": title, "maker": maker, "owner": owner})
    assert filled.find_painting(words).id == id


def test_what_fits_nothing_or_much_is_one_line(filled):
    for n in range(12):
        filled.enter("painting", {"id": f"s{n}", "title": f"Schilf {n}"})
    with pytest.raises(Question, match="fits 12 paintings: .*; and 4 more") as error:
        filled.find_painting("schilf")
    assert len(error.value.choices) == 8
    with pytest.raises(NotThere, match="p1 Harbour"):
        filled.find_painting("the old harbor at night in winter")
    for words in ("", "  ", "…", "!?"):
        with pytest.raises(NotThere, match="no painting fits"):
            filled.find_painting(words)


def test_where_it_is_finds_a_painting_only_where_its_own_words_do_not(filled):
    here = filled.places()[filled.paintings()["p1"].stays[-1].place_id].name
    filled.enter("painting", {"id": "own", "title": f"View of the {here}"})
    assert filled.find_painting(f"view {here}").id == "own"
    assert filled.find_painting(here).id == "own"  # its own title goes before where another one hangs


def test_a_column_that_a_file_leaves_out_keeps_what_the_register_has_of_the_same_row(filled, tmp_path):
    filled.observe("p1", "2026-06-01", "ripples", where="top", photo="top.jpg")
    filled.observe("p1", "2026-06-02", "bloom", photo="bloom.jpg")
    filled.export_register(tmp_path / "out")
    text = (tmp_path / "out" / "observations.csv").read_text(encoding="utf-8").splitlines()
    at = text[0].split(",").index("photo")
    cut = "\n".join(",".join(cell for n, cell in enumerate(line.split(",")) if n != at) for line in text) + "\n"
    (tmp_path / "cut").mkdir()
    (tmp_path / "cut" / "observations.csv").write_text(cut.replace("bloom", "haze"), encoding="utf-8")
    filled.import_register(tmp_path / "cut")
    kept = {seen.sign: seen.photo for seen in filled.paintings()["p1"].observations}
    assert kept["ripples"] == "top.jpg"  # the same row: its photograph stays
    assert kept["haze"] == ""  # a row that says something else is another one


def test_a_year_with_a_nought_before_it_is_kept_with_it(studio, tmp_path):
    studio.import_register(write(tmp_path / "in", **with_row("hangings", "b,outer,ny,rack,0506-03-14 10:30,")))
    (hung,) = (h for h in studio.loggers()["b"].hangings if h.channel == "outer")
    assert hung.start.year == 506
    studio.export_register(tmp_path / "out")
    assert "b,outer,ny,rack,0506-03-14 10:30," in (tmp_path / "out" / "hangings.csv").read_text(encoding="utf-8")


# ------------------------------------------------------------------------------------------------------- odd text


def test_lines_in_a_note_come_back_exactly(studio, tmp_path):
    note = 'first\r\nsecond\n"third", fourth'
    studio.enter("place", {"id": "odd", "name": "Odd", "note": note})
    studio.export_register(tmp_path / "out", private=True)
    with Studio.create(tmp_path / "again", name="Again", zone="UTC") as again:
        again.import_register(tmp_path / "out")
        assert again.places()["odd"].note == note and list(again.places()) == list(studio.places())


@pytest.mark.parametrize("day", ["9999-12-31", "2200-01-01", "0001-01-01"])
def test_a_day_past_all_days_is_refused_and_an_open_end_is_left_empty(studio, day):
    studio.enter("place", {"id": "odd", "name": "Odd"})
    studio.enter("painting", {"id": "odd", "title": "Odd"})
    with pytest.raises(BadInput, match="outside the years 100 to 2199; leave an open end empty"):
        studio.move("odd", "odd", day)
    with pytest.raises(BadInput, match="leave an open end empty"):
        studio.move("odd", "odd", "2026-01-01", until=day)


def test_toml_nested_without_end_is_refused_in_one_line(tmp_path):
    deep = f"a = {'[' * 5000}{']' * 5000}\n"
    with Studio.create(tmp_path / "deep", name="Deep", zone="UTC") as made:
        (made.folder / "materials.toml").write_text(deep)
        with pytest.raises(BadInput, match="nested too deeply"):
            made.materials()
    (tmp_path / "deep" / "studio.toml").write_text(deep)
    with pytest.raises(StudioError, match="nested too deeply"):
        Studio.open(tmp_path / "deep")


def test_what_a_person_wrote_into_studio_toml_stays_when_the_limits_are_adopted(tmp_path):
    with Studio.create(tmp_path / "own", name="Own", zone="UTC") as made:
        path = made.folder / "studio.toml"
        path.write_text(path.read_text() + "# ours\n[own]\nroom = {door = 'north'}\n")
        for reason in ("they are ours", "they are still ours"):
            made.adopt_limits("2026-11-02", reason)
        assert "# ours\n[own]\nroom = {door = 'north'}\n" in path.read_text()
    with Studio.open(tmp_path / "own") as again:
        assert again.adoption == "on 2026-11-02, because they are still ours"
