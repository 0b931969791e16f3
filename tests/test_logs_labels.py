"""A label that any logger's file may bear is none: an empty serial number must not join two rooms' files."""

import pytest
from logs_layouts import climate, read, rows_of, write

from envwatch.archive import Studio

ATTIC, CELLAR = (climate(n=60, step="1h", seed=seed) for seed in (1, 2))
HEAD = "time;temp °C;rh %"

# words of the nine languages for nothing; a spreadsheet's words for an error are from memory
NOTHING = (
    "", "N/A", "n.a.", "-", "--", "---", "...", "none", "None", "unknown", "0000", "0", "7", "#", "?", "x", "not set",
    "not available", "UNDEFINED", "(none)", "<empty>", "keine", "k. A.", "n.d.", "s/d", "unbekannt", "nicht vergeben",
    "aucun", "inconnu", "non renseigné", "néant", "ninguno", "desconocido", "sin asignar", "vacío", "nenhum",
    "não disponível", "desconhecido", "nessuno", "sconosciuto", "non assegnato", "geen", "onbekend", "niet ingesteld",
    "n.v.t.", "なし", "不明", "未設定", "无", "未知", "未设置", "#N/A", "#REF!", "#VALUE!", "#NAME?", "#DIV/0!", "#NV",
    "#WERT!", "#BEZUG!", "#NOM?", "#VALEUR!", "#¡VALOR!", "#RIF!", "#VALORE!", "#WAARDE!", "#VERW!", "°C", "%RH",
    "temperature", "Feuchte", "Serial no.", "Seriennummer", "serial", "Model", "no.", "9999", "unknown 1",
)  # fmt: skip
KEYS = (
    "Serial no.;{}", "Serial number: {}", "S/N: {}", "Seriennummer;{};;", "Numéro de série : {}", "Número de serie;{}",
    "Numero di serie: {}", "Serienummer;{}", "シリアル番号,{}", "序列号:{}", '"Serial no.","{}",""', "Serial no. {}",
    "Logger ID;{}", "Device name: {}", "Logger;{}", "Title: {}", "Station;{}", "Bezeichnung;{}", "Nom;{}", "Nombre;{}",
    "Nome: {}", "Naam;{}", "設備名,{}", "名称,{}", "Location: {}", "Sensor name;{}",
)  # fmt: skip


def file(path, above, truth=ATTIC, head=HEAD):
    return write(path, "\n".join([above, "", head, *rows_of(truth, delimiter=";"), ""]))


@pytest.mark.parametrize("key", KEYS)
def test_what_stands_where_nothing_was_filled_in_is_no_label(tmp_path, key):
    labels = {word: read(file(tmp_path / "a.csv", key.format(word))).label for word in NOTHING}
    assert {word: label for word, label in labels.items() if label is not None} == {}


@pytest.mark.parametrize("given", ["10042", "A-17/3", "0017", "TH7", "NA-204", "none-5512", "00A1"])
def test_a_serial_number_that_begins_like_such_a_word_is_one_all_the_same(tmp_path, given):
    for key in KEYS[:13]:
        assert read(file(tmp_path / "a.csv", key.format(given))).label == given


@pytest.mark.parametrize("given", ["Unknown Lady", "North store", "Keine Sorge", "Logger 7", "B", "Kammer 2"])
def test_a_name_of_which_a_word_is_such_a_word_is_one_all_the_same(tmp_path, given):
    for key in KEYS[13:]:
        assert read(file(tmp_path / "a.csv", key.format(given))).label == given


@pytest.mark.parametrize(
    "above", ["Serial no.", "Serial number", "°C", "2024-03-01", "01.03.2024 - 03.03.2024", "No.", "未設定", "N/A"]
)
def test_a_first_line_that_says_nothing_is_no_title(tmp_path, above):
    assert read(file(tmp_path / "a.csv", above)).label is None


@pytest.mark.parametrize("empty", ["", "N/A", "unbekannt", "#REF!"])
def test_behind_an_empty_serial_number_the_name_counts(tmp_path, empty):
    assert read(file(tmp_path / "a.csv", f"Serial no.;{empty}\nLocation;Attic")).label == "Attic"
    assert read(file(tmp_path / "a.csv", f"Serial no.;{empty};Location;Attic\nName;Loft")).label == "Loft"


@pytest.mark.parametrize("given", ["none", "0000", "N-A", ""])
def test_an_empty_serial_number_in_the_column_names_is_none(tmp_path, given):
    head = f"time;temp °C (S/N: {given});rh % (S/N: {given})"
    assert read(file(tmp_path / "a.csv", "", head=head)).label is None


@pytest.mark.parametrize(
    "above",
    ["Serial no.;", "Serial no.;N/A", "Serial;#N/A", "Seriennummer;keine", "S/N: 0000", "Name;-", "Title: none",
        "Serial no.;Model;Firmware"],
)  # fmt: skip
def test_two_rooms_files_with_an_empty_label_stay_two(tmp_path, above):
    rooms = [file(tmp_path / f"{room}.csv", above, truth) for room, truth in (("attic", ATTIC), ("cellar", CELLAR))]
    with Studio.create(tmp_path / "studio", name="A studio", zone="UTC") as studio:
        told = studio.add(rooms).outcomes
        assert [(one.status, one.logger_id) for one in told] == [("kept", "attic"), ("kept", "cellar")]


def test_a_later_file_without_a_label_is_not_given_to_the_logger_of_the_first(tmp_path):
    first = file(tmp_path / "attic.csv", "Serial no.;10042")
    later = file(tmp_path / "cellar.csv", "Serial no.;unknown", CELLAR)
    with Studio.create(tmp_path / "studio", name="A studio", zone="UTC") as studio:
        assert [one.logger_id for one in studio.add([first, later]).outcomes] == ["10042", "cellar"]
