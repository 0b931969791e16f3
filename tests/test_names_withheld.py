"""No owner's name in what leaves the studio: a marked name is put into every text of it, and everything is searched."""

import io
import json
import pickle
import re
import shutil
import sqlite3
import unicodedata
import zipfile
from itertools import count
from pathlib import Path

import pandas as pd
import pyarrow.parquet as pq
import pypdf
import pytest
import typer
from sqlalchemy import Text
from typer.testing import CliRunner

from envwatch.archive import Studio, reviews
from envwatch.archive.register.sheets import BY_NAME
from envwatch.archive.store.tables import META
from envwatch.cases import batch, review
from envwatch.cli import app
from envwatch.core import period
from envwatch.core.fields import LINES

NOW = pd.Timestamp("2026-11-02T09:00Z")
OTHER = "Frau Zworla Quexlinde-Brömpf"
OWN = "Herr Ygvar Plonkwißer"
NEEDLES = ("quexlin", "bromp", "broemp", "zworla", "umlmpf", "cbmpf", "ufmpf")  # the last three: an ö as code
OWN_NEEDLES = ("plonkwi", "ygvar")
SPELT = (
    OTHER, OTHER.upper(), unicodedata.normalize("NFD", OTHER), "Z. Quexlinde", "Quexlinde-Brömpf, Zworla",
    "Frau Broempf", "Mrs Z. Quexlinde-\nBrömpf", "Quexlindes", "BRÖMPF", "quexlinde, z.", "Dr. Quex-\nlinde",
    "Zworla  Quexlinde", "Quexlindehaus", "zworla_quexlinde_2", "Brompf's", "Frau Zworla", "Zworla Q.",
    "Br&ouml;mpf", "Br&#246;mpf", "Zworla%20Br%C3%B6mpf", "Br=C3=B6mpf", "Br\\u00f6mpf",
    "Z W O R L A  Q U E X L I N D E",
    "Ｑｕｅｘｌｉｎｄｅ", "Brömpf–Quexlinde", "Quexlinde’", "Quexl\u00adinde", "Quexlinde & Brömpf",
    "Frau Quexlinde-Broempfs",
)  # fmt: skip

# Text columns in which no name is put, and why. Each must exist; a column that is not here is filled.
ADDRESS = "the key, by which rows, files or readings are found; ids with a name are made below"
MADE = "made by the program: a time, a number, a word of its own or JSON of such"
CHECKED = "refused unless it is a key of the materials, which would refuse this one"
KEPT_OUT = {
    ("row_sums", "*"): "checksums",
    ("batches", "*"): MADE, ("limits", "*"): MADE, ("parts", "*"): ADDRESS, ("learned", "*"): ADDRESS,
    ("file_channels", "*"): ADDRESS, ("tray", "*"): "a file in the tray is added by a command below",
    ("findings", "key"): ADDRESS, ("findings", "first_at"): MADE,
    ("files", "sha256"): ADDRESS, ("files", "name_key"): ADDRESS, ("files", "suffix"): ADDRESS,
    ("files", "answers"): MADE, ("files", "counts"): MADE, ("files", "layout"): "JSON; no output holds it",
    ("files", "fetched"): MADE, ("files", "reader"): MADE, ("files", "label"): ADDRESS,
    ("hangings", "channel"): ADDRESS, ("calibrations", "channel"): ADDRESS, ("mark_answers", "channel"): ADDRESS,
    ("reviews", "made_at"): MADE, ("reviews", "period_start"): MADE, ("reviews", "period_end"): MADE,
    ("reviews", "limits"): ADDRESS,
    ("tasks", "due"): MADE, ("tasks", "raised_on"): MADE,
    ("tasks", "closed_on"): MADE, ("tasks", "put_off_until"): MADE,
    ("layers", "material"): CHECKED, ("treatments", "material"): CHECKED, ("treatments", "family"): CHECKED,
    ("treatments", "kind"): "decides what is judged; filled in the treatment made below",
    ("treatments", "cloth"): CHECKED, ("paintings", "owner"): "set below",
}  # fmt: skip
IN_JSON = {("files", "notes"), ("files", "events"), ("reviews", "record"), ("findings", "record")}


def letters(text: str) -> str:
    """Letters alone, small and without their marks: nothing between them can hide a name."""
    plain = unicodedata.normalize("NFKD", unicodedata.normalize("NFKC", text).casefold())
    return "".join(letter for letter in plain if letter.isalpha())


def filled_columns():
    """(table, column) of every text of the register in which a person's words may stand."""
    for table in META.sorted_tables:
        known = {f.name: f for f in BY_NAME[table.name].fields} if table.name in BY_NAME else {}
        for column in table.columns:
            key = (table.name, column.name)
            closed = column.name in known and known[column.name].nameless
            linked = column.primary_key or column.foreign_keys or (table.name, column.name) == ("tasks", "painting")
            if isinstance(column.type, Text) and not (
                closed or linked or key in KEPT_OUT or (table.name, "*") in KEPT_OUT
            ):
                yield key


def test_no_column_is_kept_out_that_is_not_there():
    there = {(table.name, column.name) for table in META.sorted_tables for column in table.columns}
    there |= {(table.name, "*") for table in META.sorted_tables}
    assert set(KEPT_OUT) <= there
    assert len(list(filled_columns())) > 40


def in_json(value, told):
    """Every sentence of a kept record with a name behind it."""
    if isinstance(value, dict):
        return {k: told(v) if k == "sentence" else in_json(v, told) for k, v in value.items()}
    return [in_json(one, told) for one in value] if isinstance(value, list) else value


def put_everywhere(folder: Path) -> None:
    """The marked name, spelt in turn in each way, into every text; into ids, a file's name and one original."""
    turn = count()
    with sqlite3.connect(folder / "register.sqlite") as db:
        for logger in ("store_rack", "crate", "studio", "house_inner"):
            answer = (logger, "2026-10-20", "2026-10-21", "good", "me", "2026-11-02", "airing")
            db.execute('INSERT INTO mark_answers (logger, "from", "to", answer, "by", "on", because) '
                       "VALUES (?, ?, ?, ?, ?, ?, ?)", answer)  # fmt: skip
        db.execute("INSERT INTO causes (place, kind, \"from\", \"to\", cause, \"by\", \"on\") VALUES "
                   "('store', 'damp', '2026-09-08', '2026-11-02', 'drain', 'me', '2026-11-02')")  # fmt: skip
        for table, column in filled_columns():
            key = next(iter(META.tables[table].primary_key.columns)).name
            for id, had in db.execute(f'SELECT "{key}", "{column}" FROM "{table}"').fetchall():
                spelt = SPELT[next(turn) % len(SPELT)]
                if table in BY_NAME and column not in LINES:  # a name is on one line
                    spelt = spelt.replace("\n", " ")
                if (table, column) in IN_JSON:
                    found = json.loads(had)
                    new = {"notes": [*found, spelt], "events": [*found, [9, spelt]]} if isinstance(found, list) else {}
                    had = json.dumps(new.get(column, in_json(found, lambda said, s=spelt: f"{said} {s}")))
                else:
                    had = f"{had};{spelt} {next(turn)}" if column == "labels" else f"{had} {spelt}".strip()
                db.execute(f'UPDATE "{table}" SET "{column}" = ? WHERE "{key}" = ?', (had, id))
        db.execute("UPDATE paintings SET owner = ?", (OTHER,))
        db.execute("UPDATE paintings SET owner = ? WHERE id IN ('25-09', '26-02')", (OWN,))
        for table, old, new in (("places", "loft", "loft Quexlinde"), ("loggers", "store_wall", "Frau_Quexlinde"),
                                ("paintings", "26-09", "26-09 quexlinde")):  # fmt: skip
            for other in META.sorted_tables:
                for column in other.columns:
                    if any(link.column.table.name == table for link in column.foreign_keys):
                        db.execute(
                            f'UPDATE "{other.name}" SET "{column.name}" = ? WHERE "{column.name}" = ?', (new, old)
                        )
            db.execute(f'UPDATE "{table}" SET id = ? WHERE id = ?', (new, old))
        db.execute("UPDATE treatments SET id = id || ' Quexlinde'")


@pytest.fixture(scope="module")
def marked(demo_folder, tmp_path_factory):
    """A demo studio in every text of which another owner's name stands."""
    folder = Path(shutil.copytree(demo_folder, tmp_path_factory.mktemp("marked") / "studio"))
    with Studio.open(folder) as studio:
        head, columns, *rows = (Path("sample_logs/logs/331887_11.csv")).read_text().splitlines()
        content = "\n".join([head, f"Kunde: {OTHER}", columns, *(row.replace("-11-0", "-11-1") for row in rows[-90:])])
        for name in ("331887_12.csv", "331887 Quexlinde.csv"):
            path = folder.parent / name
            path.write_text(
                content if "Q" not in name else content.replace(OTHER, "-").replace("2026-11-1", "2026-11-2")
            )
            assert studio.add([path]).ok
            path.unlink()
        for logger in ("store_rack", "crate", "studio", "house_inner"):
            studio.calibrate(logger, "2026-09-10", rh_points=((75.5, 75.4),), basis="salt", note="-", channel="")
        studio.stand_in("schummerkuhle", "studio", "2026-09-01", temp_u_c=1, rh_u_percent=4, note="-")
        for id in ("25-09", "26-02", "25-16"):
            studio.observe(id, "2026-10-20", "dull", where="below", note="-", photo="a.jpg", look="own", by="-")
            studio.treat(id, f"wash for {OTHER}", "2026-10-21", note="-", side="-", limits_told="-")
        for week in ("2026-W29", "2026-W44"):
            review.keep(studio, review.make(studio, NOW, period.iso_week(week, studio.zone)))
        reviews.put_off(studio, reviews.tasks(studio)[0].number, "abroad", pd.Timestamp("2099-01-01", tz="UTC"))
        reviews.close_task(studio, reviews.tasks(studio)[1].number, "looked")
    put_everywhere(folder)
    return folder


# --------------------------------------------------------------------------------------------------- what comes out

FORECAST = ("--forecast-max", "20", "--forecast-min", "15", "--forecast-rh-max", "60", "--forecast-rh-min", "45")
AS_JSON = {  # every command that prints JSON; {out} is a folder
    "check": (), "backup": ("{out}/b.zip",), "add": ("{out}/331887 Zworla Quexlinde.csv",), "tray": (),
    "part": ("1",), "reread": (), "undo": (),
    "limits": (), "marks": ("--from", "2026-09-01"),
    "review": ("--no-keep", "--week", "2026-W44"), "painting": ("25-09",),
    "why": ("8", "--week", "2026-W44"), "dossier": ("26-02",), "place": ("store",),
    "hang": ("26-02", "--positions", "{out}/one position.toml"), "lining": ("25-09", *FORECAST),
    "call": ("25-09", "--sign", "wet"), "away": ("--from", "2099-12-20", "--until", "2099-12-30"),
    "dehumidifier": ("store", "--machine-litres", "10", "--rated-at", "27C/60%", "--draws", "10",
                     "--log-from", "2026-04-01", "--log-to", "2026-05-13"),
}  # fmt: skip
NOT_AS_JSON = {"demo": "makes a studio of the sample", "restore": "of a backup", "to-server": "needs a server"}
NAMELESS = (  # commands whose printed text and papers bear no owner
    ("dossier", "26-02", "--bundle", "{out}/house.zip"), ("dossier", "25-09", "--bundle", "{out}/store.zip"),
    ("export", "{out}/plain"), ("export", "{out}/redacted", "--redact"),
    ("lining", "25-09", *FORECAST, "--ics", "{out}/due.ics"), ("call", "25-09", "--sign", "wet", "--log"),
    ("lining", "25-09", "--leave", "2026-11-03", "--hand-over", "--although", f"{OTHER} asked for it", "--to", "store"),
    ("lining", "26-02", "--to", "store", "--adhesive", "eva_film"),
    ("away", "--from", "2099-12-20", "--until", "2099-12-30"),
)  # fmt: skip


def run(folder, *words):
    return CliRunner().invoke(app, [*words, "--studio", str(folder)])


def texts_of(name: str, content: bytes):
    """Every text in a file: members of archives, text and metadata of PDFs, cells and metadata of Parquet."""
    yield name
    if name.endswith((".zip", ".xlsx")):
        with zipfile.ZipFile(io.BytesIO(content)) as packed:
            yield packed.comment.decode("latin-1")
            for member in packed.namelist():
                yield from texts_of(member, packed.read(member))
    elif name.endswith(".pdf"):
        read = pypdf.PdfReader(io.BytesIO(content))
        yield from (page.extract_text() for page in read.pages)
        yield f"{read.metadata} {read.outline}"
        root = read.trailer["/Root"].get_object()
        if "/Metadata" in root:
            yield root["/Metadata"].get_object().get_data().decode("utf-8")
    elif name.endswith(".parquet"):
        table = pq.read_table(io.BytesIO(content))
        yield f"{table.schema.metadata} {table.schema} {table.to_pylist()}"
    else:
        for encoding in ("utf-8", "cp1252", "utf-16-le"):
            yield content.decode(encoding, "ignore")
        yield re.sub(r"\r\n[ \t]", "", content.decode("utf-8", "ignore"))  # as a calendar folds its lines


def found_in(texts, needles) -> list[str]:
    """What stands around each needle."""
    for text in texts:
        plain = letters(text)
        yield from (plain[max(at - 60, 0) : at + 30] for needle in needles if (at := plain.find(needle)) >= 0)


def files_in(folder: Path):
    return {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}


@pytest.mark.parametrize("words", NAMELESS, ids=lambda words: " ".join(words[:2]) + str(len(words)))
def test_no_name_is_printed_or_on_a_paper_or_in_a_file(marked, tmp_path, words):
    before = set(files_in(marked / "sheets"))
    done = run(marked, *(word.format(out=tmp_path) for word in words))
    assert done.exit_code == 0, (done.output, done.exception)
    made = {p: c for p, c in files_in(marked / "sheets").items() if p not in before} | files_in(tmp_path)
    for path in set(files_in(marked / "sheets")) - before:
        path.unlink()
    assert made
    needles = NEEDLES + OWN_NEEDLES
    assert list(found_in((done.stdout, done.stderr), needles)) == []
    for path, content in made.items():
        name = str(path.relative_to(marked if marked in path.parents else tmp_path))
        assert list(found_in(texts_of(name, content), needles)) == [], name


@pytest.mark.parametrize("command", AS_JSON)
def test_no_name_is_in_json(marked, tmp_path, command):
    (tmp_path / "331887 Zworla Quexlinde.csv").write_text("no logger file\n")
    house, position = Path("sample_logs/positions.toml").read_text(encoding="utf-8").split("[[position]]")[:2]
    (tmp_path / "one position.toml").write_text(f"{house}[[position]]{position}", encoding="utf-8")
    before = set(files_in(marked / "sheets"))
    done = run(marked, command, *(word.format(out=tmp_path) for word in AS_JSON[command]), "--json")
    for path in set(files_in(marked / "sheets")) - before:
        path.unlink()  # else the same sheet is none anew where it is printed
    assert done.stdout.lstrip()[:1] in ("{", "["), (done.output, done.exception)
    json.loads(done.stdout)
    said = done.stdout.replace(json.dumps(str(tmp_path), ensure_ascii=False)[1:-1], "")
    assert list(found_in((said,), NEEDLES + OWN_NEEDLES)) == []


def test_every_command_with_json_is_searched():
    commands = typer.main.get_command(app).commands
    with_json = {name for name, one in commands.items() if any(p.name == "json" for p in one.params)}
    assert with_json == set(AS_JSON) | set(NOT_AS_JSON)


def test_each_command_stands_in_the_table_of_who_is_named_where():
    text = Path("DEVELOPERS.md").read_text(encoding="utf-8").partition("## Who is named where")[2].partition("\n## ")[0]
    listed = set(re.findall(r"`([a-z-]+)", text))
    assert set(typer.main.get_command(app).commands) <= listed
    for words in NAMELESS:
        assert f"`{words[0]}" in text.partition("| nobody")[2], words


def test_asked_for_a_painting_bears_its_own_owner_and_no_other(marked, tmp_path):
    done = run(marked, "dossier", "26-02", "--owner", "--bundle", str(tmp_path / "o.zip"))
    assert done.exit_code == 0, (done.output, done.exception)
    texts = [done.stdout, *texts_of("o.zip", (tmp_path / "o.zip").read_bytes())]
    assert list(found_in(texts, NEEDLES)) == []
    assert list(found_in(texts, ("plonkwi",)))
    assert list(found_in(texts, ("querlicht",)))


def test_an_original_with_a_name_stays_out_and_the_list_says_so(marked, tmp_path):
    done = run(marked, "dossier", "25-09", "--bundle", str(tmp_path / "b.zip"))
    with zipfile.ZipFile(tmp_path / "b.zip") as bundle:
        listed = bundle.read("SHA256SUMS.txt").decode()
        assert re.search(
            r"331887_12.csv.*: a name stands in the original, so it is not in the bundle; SHA-256 ", listed
        )
        originals = [name for name in bundle.namelist() if name.startswith("originals/")]
        assert not any("331887_12" in name for name in originals)
        assert any(name.startswith("originals/store_rack/331887") and "withheld" in name for name in originals)
    assert "one original left out" in done.stdout
    assert f"{len(originals)} of them originals" in done.stdout
    assert re.search(r"Names of owners and their houses were taken out of \d+ texts", done.stdout)


def test_an_export_says_what_it_withheld_and_private_gives_the_same_rows_back(marked, tmp_path):
    assert re.search(r"Withheld: the owner column is left out; .* \d+ other cells; \d+ places without a name",
                     run(marked, "export", str(tmp_path / "plain")).stdout)  # fmt: skip
    said = run(marked, "export", str(tmp_path / "redacted"), "--redact").stdout
    assert "the owner column holds numbers" in said
    refused = run(marked, "import", str(tmp_path / "plain"))
    assert "stands for a name that was taken out" in str(refused.exception)
    run(marked, "export", str(tmp_path / "all"), "--private")
    with Studio.create(tmp_path / "other", name="x", zone="Europe/Berlin", altitude_m=6) as other:
        other.import_register(tmp_path / "all")
        other.export_register(tmp_path / "again", private=True)
    assert files_in(tmp_path / "all").values() and [*sorted(files_in(tmp_path / "all").values())] == [
        *sorted(files_in(tmp_path / "again").values())
    ]


def test_pieces_of_work_and_their_tables_bear_no_name_but_in_addresses(marked, tmp_path):
    """What a worker gets names readings by ids and paths; nothing else of it, and nothing it gives back, bears one."""
    with Studio.open(marked) as studio:
        todo = batch.orders(studio, period.iso_week("2026-W44", studio.zone))
        (loft,) = (order for order in todo if order.place == "loft Quexlinde")
        said = b"".join(pickle.dumps([(o.told, o.alike) for o in todo]) for _ in "1").decode("latin-1")
        nouns = [(p.name, p.note) for o in todo for p in o.snapshot.register.places.values()]
        nouns += [(one.name, one.labels, one.sensor) for o in todo for one in o.snapshot.register.loggers.values()]
        answers = [(a.by, a.because) for o in todo for of in o.snapshot.register.mark_answers.values() for a in of]
        checks = [(c["basis"], c["note"]) for o in todo for of in o.snapshot.register.calibrations.values() for c in of]
    pq.write_table(batch.work(loft), tmp_path / "loft.parquet")
    texts = [said, f"{nouns} {answers} {checks}", *texts_of("loft.parquet", (tmp_path / "loft.parquet").read_bytes())]
    assert answers and checks
    assert list(found_in(texts, NEEDLES + OWN_NEEDLES)) == []
