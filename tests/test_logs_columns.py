"""Which column is what: by whole words, units and how the values behave; else one question, else a refusal.

Every file is written here from an invented climate, so what must be read of it is known. Words of languages are from
memory and dictionaries; dew points are by the Magnus formula of WMO-No. 8 (2018), annex 4.B, over water.
"""

from __future__ import annotations

from itertools import permutations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from envwatch.archive import Studio
from envwatch.core.errors import BadInput, Question
from envwatch.logs import Answers
from tests.logs_layouts import Truth, assert_adds_up, assert_reads, climate, read, write

N = 96
ONE, TWO, THREE = (climate(n=N, step="30min", seed=seed) for seed in (1, 2, 3))
TWO = Truth(TWO.time, np.round(TWO.temp_c - 4.2, 1), np.round(TWO.rh_percent + 11.4, 1))
STAMPS = [f"{t:%Y-%m-%d %H:%M}" for t in ONE.time]
rng = np.random.default_rng(7)
COUNT = [str(i + 4100) for i in range(N)]
VOLTS = [f"{v:.2f}" for v in 3.04 - 0.0004 * np.arange(N) + rng.choice([0, 0.01], N)]
LIGHT = [f"{max(0.0, v):.0f}" for v in 70 * np.sin((np.arange(N) / 48 * 2 - 0.5) * np.pi)]


def dew_point(truth: Truth) -> np.ndarray:
    """Of temperature and humidity, by Magnus over water. (n,) [°C]"""
    e = np.log(truth.rh_percent / 100) + 17.62 * truth.temp_c / (243.12 + truth.temp_c)
    return 243.12 * e / (17.62 - e)


def cells(values, places: int = 1, mark: str = ".") -> list[str]:
    return [f"{v:.{places}f}".replace(".", mark) for v in values]


T, H, D = cells(ONE.temp_c), cells(ONE.rh_percent), cells(dew_point(ONE))
T2, H2, D2 = cells(TWO.temp_c), cells(TWO.rh_percent), cells(dew_point(TWO))
T3, H3 = cells(THREE.temp_c), cells(THREE.rh_percent)
HOT = Truth(ONE.time, np.round(ONE.temp_c + 42, 1), np.round(ONE.rh_percent / 6, 1))
COLD = Truth(ONE.time, np.round(ONE.temp_c - 14, 1), ONE.rh_percent)
FAHRENHEIT = cells(COLD.temp_c * 1.8 + 32, 2)  # about 41: without its unit it may be °C


def same(value) -> list[str]:
    return [str(value)] * N


def table(head: str | None, *columns: list[str], delimiter: str = ";") -> str:
    """A file: stamps and these columns below this header."""
    rows = [delimiter.join(row) for row in zip(STAMPS, *columns, strict=True)]
    return "\n".join([*([head] if head else []), *rows, ""])


READ = {
    # ------------------------------------------------------------------ no header, or none that tells: by behaviour
    "a constant before the air": (table(None, same(21), T, H), [ONE]),
    "a counter, and volts behind": (table(None, COUNT, T, H, VOLTS), [ONE]),
    "volts before the air": (table(None, VOLTS, T, H), [ONE]),
    "a node's number like a humidity": (table(None, same(47), T, H), [ONE]),
    "a node's number behind like a humidity": (table(None, T, same(47), H), [ONE]),
    "light in percent between": (table(None, T, LIGHT, H), [ONE]),
    "a dew point tells the pair": (table(None, T, D, H), [ONE]),
    "humidity first": (table(None, H, T), [ONE]),
    "units in the cells, a dew point and a charge behind": (
        table(None, [f"{t} °C" for t in T], [f"{h} %" for h in H], [f"{d} °C" for d in D], same("99 %")), [ONE]),
    "short names, volts called U": (table("t;U;T;H", VOLTS, T, H), [ONE]),
    "names that say nothing": (table("stamp;ch1;ch2;ch3", T, H, VOLTS), [ONE]),
    "a zone's number headed temp zone": (table("time;temp zone;temp;humidity", same(3), T, H), [ONE]),
    "a zone's number headed humidity zone": (table("time;humidity zone;temp;humidity", same(41), T, H), [ONE]),
    "a word for the weather in each row": (
        table(None, T, H, [("sunny", "cloudy", "rain", "mist", "snow", "haze", "clear")[i // 3 % 7] for i in range(N)]),
        [ONE]),
    "the weather's state in a named column": (
        table("time;area weather;temp °C;rh %", [("sun", "rain", "fog")[i // 5 % 3] for i in range(N)], T, H), [ONE]),
    "a tank's level before the humidity": (table("time;Temp °C;Level %;RH %", T, LIGHT, H), [ONE]),
    # ----------------------------------------------------------------------- names that contain a quantity's word
    **{
        f"a room called {room}": (table(f"time;{room} °C;{room} %", T, H), [ONE], [room])
        for room in ("Lichthalle", "Druckwerkstatt", "Akkulager", "Pressburg room", "Battery Lane", "IAQ room",
                     "Templar hall", "Humbert", "Tempera lab", "Voltaire", "Fan gallery", "Signal tower", "UTC hall",
                     "Unix lab", "Epoch gallery", "Zeitungsarchiv", "Datumshalle", "Memory hall", "Cloudhill",
                     "Charger yard", "Luxemburg", "Lightwell", "Soilhouse", "Windsaal", "Threshold room", "Low lane",
                     "High lane", "Rain court", "Moistfield", "Alarmzentrale", "Dewhurst", "Particulier", "Ventilraum",
                     "Spannungshalle", "Barock", "Baroness", "Tensing", "Uvarov", "PM office", "Volta",
                     "Depot Druck", "Max-Saal", "Lichthof 2")
    },
    **{
        f"two rooms, {a} and {b}": (
            table(f"Zeit;Temperatur {a};Feuchte {a};Temperatur {b};Feuchte {b}", T, H, T2, H2), [ONE, TWO], [a, b])
        for a, b in (("Lichtkeller", "Druckkeller"), ("Batteriegang", "Nord"), ("Akkuraum", "Alarmraum"))
    },
    "rooms with high and low in their names": (
        table("time;High Row °C;High Row %;Low Row °C;Low Row %", T, H, T3, H3), [ONE, THREE], ["High Row", "Low Row"]),
    # ------------------------------------------------------------------------------ statistics and calculated values
    "mean beside extremes": (
        table("time;Temp avg °C;Temp min °C;Temp max °C;RH avg %;RH min %;RH max %", T, cells(ONE.temp_c - 0.4),
              cells(ONE.temp_c + 0.3), H, cells(ONE.rh_percent - 1.1), cells(ONE.rh_percent + 2)), [ONE]),
    "a set point": (table("Zeit;Ist °C;Soll °C;Ist %rF;Soll %rF", T, same("19.5"), H, same("52.0")), [ONE]),
    "a target": (table("time;Target temp °C;Temp °C;Target RH %;RH %", same("19.5"), T, same("52.0"), H), [ONE]),
    "calculated values": (
        table("time;Temp °C;RH %;Dew point °C;Heat index °C;AH g/m³", T, H, D, cells(ONE.temp_c + 0.3),
              cells(ONE.rh_percent / 6, 2)), [ONE]),
    "predicted beside read": (
        table("time;Temp °C;Forecast temp °C;RH %;Vorhersage Feuchte %", T, T2, H, H2), [ONE]),
    "an extreme at another height beside the readings' own": (
        table("time;Temp °C;Temp min °C;Temp ground min °C;RH %", T, cells(ONE.temp_c - 0.4), cells(ONE.temp_c - 2), H),
        [ONE]),
    "flags below each reading's own header": (
        table("time;Temp °C;Temp °C;RH %;RH %\n;;quality;;quality", T, same(8), H, same(8)), [ONE]),
    "averages alone": (table("time;Mean temp °C;Mean RH %", T, H), [ONE]),
    # ---------------------------------------------------------------------------------- decimal commas between commas
    "decimal commas with a whole number behind": (
        table("time,temp,rh,battery", cells(ONE.temp_c, mark=","), cells(ONE.rh_percent, mark=","), same(98),
              delimiter=","), [ONE]),
    "decimal commas with a whole number before": (
        table("time,node,temp,rh", same(12), cells(ONE.temp_c, mark=","), cells(ONE.rh_percent, mark=","),
              delimiter=","), [ONE], ["12"]),
    "decimal commas behind a place": (
        table("time,sensor,rh,temp", same("Salle B"), cells(ONE.rh_percent, mark=","), cells(ONE.temp_c, mark=","),
              delimiter=","), [ONE], ["Salle B"]),
    "decimal commas and a dew point": (
        table("time,temp,rh,dew point", cells(ONE.temp_c, mark=","), cells(ONE.rh_percent, mark=","),
              cells(dew_point(ONE), mark=","), delimiter=","), [ONE]),
    # -------------------------------------------------------------------------------------------------------- units
    "a unit above the table": ("Temperature unit: °F\n\n" + table("time;Temperature;Humidity", FAHRENHEIT, H), [COLD]),
    "units above the names": (";°F;% RH\n" + table("time;Temperature;Humidity", FAHRENHEIT, H), [COLD]),
    "units below the names": (table("time;Temperature;Humidity\n;[°F];[% RH]", FAHRENHEIT, H), [COLD]),
    "a unit named above the table, and no more": (
        "Units\tF\n" + table("time\tTemp\tRH", FAHRENHEIT, H, delimiter="\t"), [COLD]),
    "a quantity with its unit above the table": (
        "Temperature (°F)\n\n" + table("time;Temp;RH", FAHRENHEIT, H), [COLD]),
    "names that are numbered": (table("1:Time 2:Temp 3:RH".replace(" ", ";"), T, H), [ONE]),
    "an interval beside the name": (table("time;Temp (10 min);RH (10 min)", T, H), [ONE], ["10"]),
    "rooms in brackets that are quantities": (
        table("time;Temp [Battery];RH [Battery];Temp [Memory];RH [Memory]", T, H, T2, H2), [ONE, TWO],
        ["Battery", "Memory"]),
    "a battery beside": (table("time;Temp sensor;RH sensor;RH sensor battery", T, H, LIGHT), [ONE]),
    "a mean of all rooms": (
        table("time;Temp Attic;RH Attic;Temp Loft;RH Loft;Mean temp", T, H, T2, H2, T3), [ONE, TWO], ["Attic", "Loft"]),
    "humidities before temperatures": (
        table("time;RH;Temp;RH;Temp;Temp", H, T, H2, T2, T3), [ONE, TWO], ["1", "2"]),
    "places in another order": (
        table("time;T Attic;T Loft;RH Loft;RH Attic", T, T2, H2, H), [ONE, TWO], ["Attic", "Loft"]),
    "a radiator without a unit beside a room": (
        table("time;Temp room;RH room;Temp pipe;RH pipe", T, H, cells(HOT.temp_c), cells(HOT.rh_percent)), [ONE, HOT],
        ["room", "pipe"]),
    "a chamber alone": (table("time;Temp °C;RH %", cells(HOT.temp_c), cells(HOT.rh_percent)), [HOT]),
}  # fmt: skip

LANGUAGES = {
    "slovene": "Čas;Temperatura;Vlažnost", "slovene, longer": "Datum in ura;Temperatura zraka;Relativna vlaga",
    "catalan": "Data i hora;Temperatura;Humitat", "ukrainian": "Дата і час;Температура;Вологість",
    "ukrainian, longer": "Час;Температура повітря;Відносна вологість", "polish": "Czas;Temperatura;Wilgotność",
    "polish, longer": "Data i godzina;Temperatura powietrza;Wilgotność względna",
    "swedish": "Tid;Temperatur;Luftfuktighet", "swedish, longer": "Datum och tid;Lufttemperatur;Relativ fuktighet",
    "danish": "Tid;Temperatur;Luftfugtighed", "danish, longer": "Tidspunkt;Lufttemperatur;Relativ fugtighed",
    "hebrew": "זמן;טמפרטורה;לחות", "hebrew, longer": "תאריך ושעה;טמפרטורת האוויר;לחות יחסית",
    "arabic": "الوقت;درجة الحرارة;الرطوبة", "arabic, longer": "التاريخ والوقت;حرارة الهواء;الرطوبة النسبية",
    "thai": "เวลา;อุณหภูมิ;ความชื้น", "thai, longer": "วันที่และเวลา;อุณหภูมิอากาศ;ความชื้นสัมพัทธ์",
    "korean": "시간;온도;습도", "korean, longer": "날짜 및 시간;기온;상대습도",
    "russian": "Время;Температура;Влажность", "russian, longer": "Дата и время;Температура воздуха;Отн. влажность",
    "czech": "Datum a čas;Teplota;Relativní vlhkost", "slovak": "Čas;Teplota;Vlhkosť",
    "finnish": "Aika;Lämpötila;Kosteus", "norwegian": "Tidspunkt;Temperatur;Luftfuktighet",
    "hungarian": "Időpont;Hőmérséklet;Páratartalom", "greek": "Ημερομηνία;Θερμοκρασία;Υγρασία",
    "turkish": "Tarih;Sıcaklık;Nem", "croatian": "Vrijeme;Temperatura;Vlažnost",
    "romanian": "Ora;Temperatura;Umiditate",
    "bulgarian": "Време;Температура;Влажност", "portuguese": "Data e hora;Temperatura;Umidade",
    "estonian": "Aeg;Temperatuur;Niiskus", "latvian": "Laiks;Temperatūra;Mitrums",
    "lithuanian": "Laikas;Temperatūra;Drėgmė",
}  # fmt: skip

ASKED = {
    # a file, the answer's field, and one answer with what is read under it
    "two rooms without a header": (table(None, T, H, T2, H2), "columns", "4,5", TWO),
    "two probes by the units in the cells alone": (
        table(None, *([f"{v} {unit}" for v in some] for some, unit in ((T, "°C"), (H, "%"), (T2, "°C"), (H2, "%")))),
        "columns", "4,5", TWO),
    "three columns like a humidity": (table("stamp;p;q;r", T, H, H2), "columns", "2,3", ONE),
    "a percentage that is no humidity by name": (table("time;Temp °C;Rack %", T, H), "columns", "2,3", ONE),
    "a room whose name is a quantity": (table("time;Lumiere °C;Lumiere %", T, H), "columns", "2,3", ONE),
    "a dew point of neither": (
        table("time;Temp;RH;Dew point", T, H, cells(dew_point(ONE) - 12)), "columns", "2,3", ONE),
}  # fmt: skip

ROWS_OF = {
    # a column that parts the rows by its readings, whatever its name, and one that does not
    "places of no known word": ("time;xyzzy;temp;rh", ["one" if i % 3 else "two" for i in range(2 * N)]),
    "numbers of spaces": ("time;space_id;temp;rh", [str(11 + 4 * (i * 7 % 5 < 2)) for i in range(2 * N)]),
}


@pytest.mark.parametrize("name", ROWS_OF)
def test_a_column_that_names_the_probe_shows_itself_by_the_readings(tmp_path, name):
    head, places = ROWS_OF[name]
    long = climate(n=2 * N, step="7min")
    apart = np.array([p == places[0] for p in places]) * 5.0
    rows = [f"{t:%Y-%m-%d %H:%M};{p};{a:.1f};{b:.1f}"
            for t, p, a, b in zip(long.time, places, long.temp_c + apart, long.rh_percent, strict=True)]  # fmt: skip
    log = read(write(tmp_path / "a.csv", "\n".join([head, *rows])), need_rh="yes")
    assert [c.label for c in log.channels] == list(dict.fromkeys(places))
    assert [len(c.time) for c in log.channels] == [places.count(p) for p in dict.fromkeys(places)]


REFUSED = {
    "extremes alone": (table("time;Temp min;Temp max;RH min;RH max", cells(ONE.temp_c - 1), cells(ONE.temp_c + 1),
                             cells(ONE.rh_percent - 2), cells(ONE.rh_percent + 2)), "minimum"),
    "an hour in a column that nobody named, several rooms": ("\n".join(
        f"2012-03-{16 + h // 24};{h % 24};{room};{7 + h / 9:.2f};{62 - h % 5}.3" for h in range(18, 70)
        for room in ("Attic", "Depot")), "whether column 2 is the hour of the day"),
    "predicted values alone": (table("time;predicted temp °C;predicted RH %", T, H), "predicted"),
    "letters under another word are no unit": (
        table("time;Value x;Completeness", cells(ONE.rh_percent, 0), ["CM"[i % 5 == 0] for i in range(N)]),
        "no column holds a temperature"),
    "decimal commas and no header": (
        table(None, same(42), cells(ONE.temp_c, 2, ","), cells(ONE.rh_percent, 1, ","), delimiter=","), "semicolons"),
    "decimal commas that cannot be parted": ("\n".join(
        ["time,p,q,s", *(f"{s},{t},{h},{i % 9},{i % 7}" for i, (s, t, h) in enumerate(zip(STAMPS, cells(
            ONE.temp_c, 0), cells(ONE.rh_percent, 0), strict=True)))]), "comma"),
}  # fmt: skip


@pytest.mark.parametrize("name", READ)
def test_columns_are_told_by_words_units_and_behaviour(tmp_path, name):
    text, truths, *labels = READ[name]
    log = read(write(tmp_path / "a.csv", text), need_rh="yes")
    usual = ["1"] if len(truths) == 1 else [str(i) for i in range(1, len(truths) + 1)]
    assert_reads(log, truths, *(labels or [usual]), tolerance=0.006)


@pytest.mark.parametrize("language", LANGUAGES)
def test_headers_in_many_languages(tmp_path, language):
    log = read(write(tmp_path / "a.csv", table(LANGUAGES[language], T, H)), need_rh="yes")
    assert_reads(log, ONE)
    assert "probe" in " ".join(log.layout.columns)


@pytest.mark.parametrize("name", ASKED)
def test_what_may_be_either_is_asked_and_answered(tmp_path, name):
    text, field, answer, truth = ASKED[name]
    path = write(tmp_path / "a.csv", text)
    with pytest.raises(Question) as asked:
        read(path, need_rh="yes")
    assert asked.value.field == field and answer in asked.value.choices
    assert_reads(read(path, need_rh="yes", **{field: answer}), truth)


@pytest.mark.parametrize("name", REFUSED)
def test_what_holds_no_readings_of_the_air_is_refused_with_a_remedy(tmp_path, name):
    text, word = REFUSED[name]
    with pytest.raises(BadInput, match=word):
        read(write(tmp_path / "a.csv", text), need_rh="yes")


def test_a_radiator_and_a_chamber_headed_in_celsius_are_in_celsius(tmp_path):
    text = table("time;Room °C;Room %;Radiator °C;Radiator %", T, H, cells(HOT.temp_c), cells(HOT.rh_percent))
    assert_reads(read(write(tmp_path / "a.csv", text)), [ONE, HOT], ["Room", "Radiator"])


def test_fahrenheit_under_a_header_in_celsius_is_asked_about(tmp_path):
    """70 at 50 % would be a dew point of 57 °C, which no air has."""
    path = write(tmp_path / "a.csv", table("time;Temp °C;RH %", cells(ONE.temp_c * 1.8 + 32, 2), H))
    with pytest.raises(Question) as asked:
        read(path)
    assert asked.value.field == "temp_unit"
    assert_reads(read(path, temp_unit="F"), ONE, tolerance=0.006)


def test_an_answer_holds_for_the_loggers_next_file_and_is_written_beside_the_original(tmp_path):
    rows = table(None, T, H, T2, H2).splitlines()
    parts = [write(tmp_path / f"north 2024-03-0{at + 1}.csv", "\n".join(["Serial no.: K-4410", "", *rows[lo:hi], ""]))
             for at, (lo, hi) in enumerate(((0, 50), (50, N)))]  # fmt: skip
    with Studio.create(tmp_path / "studio", name="x", zone="UTC") as studio:
        assert [o.status for o in studio.add([parts[0]]).outcomes] == ["in the tray"]
        assert studio.tray()[0].option == "columns" and "4,5" in studio.tray()[0].choices
        assert studio.add([1], Answers(columns="4,5")).ok and studio.add([parts[1]]).ok
        (kept,) = studio.reader.series(studio.state().parts["k-4410"]).values()
        np.testing.assert_allclose(kept.temp_c, TWO.temp_c)
        assert any('"columns":"4,5"' in p.read_text("utf-8").replace(" ", "")
                   for p in (tmp_path / "studio" / "originals").glob("*.json"))  # fmt: skip


def test_columns_that_no_header_tells_are_never_taken_wrongly(tmp_path):
    """Rooms of 2 to 27 °C and 25 to 80 % RH among up to three other columns, in any order.

    Twelve rows are asked about, as a rule; of 48 and more most are read.
    """
    drawn = np.random.default_rng(11)
    few = [_drawn(drawn, 12, tmp_path / "a.csv") for _ in range(40)]
    many = [_drawn(drawn, n, tmp_path / "a.csv") for n in drawn.choice([48, 150, 336], 110)]
    assert (few + many).count("wrong") == 0
    assert many.count("right") >= 0.6 * len(many)


def _drawn(drawn: np.random.Generator, n: int, path) -> str:
    room = climate(n=n, step=str(drawn.choice(["10min", "1h"])), seed=int(drawn.integers(1e6)))
    temp = np.round(room.temp_c - 19 + drawn.uniform(2, 27), int(drawn.integers(0, 3)))
    held = np.exp(-0.06 * (temp - np.mean(temp)))  # the vapour stays while the temperature moves (Magnus, about 10 °C)
    rh = np.round(
        np.clip((0.3 * (room.rh_percent - 52) + drawn.uniform(25, 80)) * held, 5, 99), int(drawn.integers(0, 2))
    )
    i = np.arange(n)
    others = [np.full(n, drawn.integers(1, 60)), i + drawn.integers(0, 900), np.round(3.1 - i / 2000, 2),
              np.round(98 - i / 50), np.round(np.clip(70 * np.sin(i / 4), 0, None)), drawn.integers(0, 2, n),
              np.round(drawn.normal(-70, 3, n)), np.round(drawn.uniform(0, 100, n)),
              np.round(np.abs(np.cumsum(drawn.normal(0, 0.4, n))), 1),
              np.round(1013 + np.cumsum(drawn.normal(0, 0.1, n)), 1)]  # fmt: skip
    beside = [others[at] for at in drawn.choice(len(others), int(drawn.integers(0, 4)), replace=False)]
    columns = [temp, rh, *beside]
    some = [columns[at] for at in drawn.permutation(len(columns))]
    rows = [";".join([f"{t:%Y-%m-%d %H:%M}", *(f"{c[at]:g}" for c in some)]) for at, t in enumerate(room.time)]
    try:
        log = read(write(path, "\n".join(rows)), need_rh="yes")
    except (Question, BadInput):
        return "asked"
    got = log.channels[0]
    return "right" if np.array_equal(got.temp_c, temp) and np.array_equal(got.rh_percent, rh) else "wrong"


NOISE = [f"{v:.1f}" for v in 20 + np.random.default_rng(3).normal(0, 4, N)]
STILL = {"constant": ["21.0"] * N, "volts": VOLTS, "noise": NOISE, "counter": cells(5 + np.arange(N) / 10)}


@pytest.mark.parametrize("still", STILL)
@pytest.mark.parametrize("turned", [False, True])
def test_the_likeliest_of_columns_that_move_unlike_air_is_asked_about(tmp_path, still, turned):
    """A humidity without a temperature beside it: what stands still, counts or jumps is no °C (our judgement)."""
    pair = (STILL[still], H)[:: -1 if turned else 1]
    rows = [";".join(row) for row in zip(STAMPS, *pair, strict=True)]
    with pytest.raises((Question, BadInput), match="2,3|3,2"):
        read(write(tmp_path / "a.csv", "\n".join(["zeit;a;b", *rows, ""])), need_rh="yes")


NAMES = st.text(st.characters(exclude_characters='\n\r";', exclude_categories=["Cs"]), max_size=24)


@given(st.lists(NAMES, min_size=2, max_size=4))
@settings(max_examples=150, deadline=None)
def test_no_name_of_a_column_ends_in_a_fault(tmp_path_factory, names):
    path = write(tmp_path_factory.mktemp("names") / "a.csv", table(";".join(["time", *names]), T, H, VOLTS, LIGHT))
    try:
        assert_adds_up(read(path))
    except (Question, BadInput) as refusal:
        assert "unforeseen" not in str(refusal) and str(refusal).isprintable()


@pytest.mark.parametrize(
    "name", ["(((", "[a-z]+", "\\d{3} °C", "%%%", "°", "🙂 °C", "‏לחות‏ %", "*?|", "{0} %", "a" * 400, "\x00\x07", "'"]
)
def test_odd_names_are_read_or_asked_about(tmp_path, name):
    try:
        read(write(tmp_path / "a.csv", table(f"time;{name};Temp °C;RH %", VOLTS, T, H)))
    except (Question, BadInput) as refusal:
        assert "unforeseen" not in str(refusal)


@pytest.mark.parametrize("head", ["a b c d", "c d e", "f g h", "k l m", "x y z", "C D E F", "v1 v2 v3", "f1 f2 f3",
                                  "r s t u", "t u v", "t f", "h t", "t r", "u v w", "c d", "T F", "t k"])  # fmt: skip
def test_single_letters_in_a_row_are_no_units_and_the_values_must_behave(tmp_path, head):
    """The column under "c" is °C only where it is not one letter of a row of them (our judgement)."""
    names = head.split()
    columns = dict(zip("thvn", (T, H, VOLTS, ["7"] * N), strict=True))  # battery volts, and a constant
    for order in permutations("thvn"[: len(names)]):
        rows = zip(STAMPS, *(columns[kind] for kind in order), strict=True)
        path = write(tmp_path / "a.csv", "\n".join([";".join(["zeit", *names]), *map(";".join, rows), ""]))
        try:
            log = read(path)
        except (Question, BadInput) as refusal:
            assert "2,3" in str(refusal)  # the columns are asked for
            log = read(path, columns=f"{order.index('t') + 2},{order.index('h') + 2}")
        assert_reads(log, ONE)


def test_a_room_called_by_a_word_for_places_keeps_its_humidity_in_whole_percent(tmp_path):
    """A column with a unit is a reading, and no number of a zone, though it keeps to three levels."""
    hours = [f"2025-03-{day:02d} {hour:02d}:00" for day in (3, 4) for hour in range(24)]
    rows = [f"{t};{18 + n % 7 / 5:.1f};{59 - n % 9};{14 + n % 5 / 5:.1f};{50 + (n % 8 > 2) - (n % 11 > 7)}"
            for n, t in enumerate(hours)]  # fmt: skip
    head = "Heure;Température (°C) [Capella];Humidité (%) [Capella];Température (°C) [Salle B];Humidité (%) [Salle B]"
    log = read(write(tmp_path / "a.csv", "\n".join([head, *rows])))
    assert {channel.label for channel in log.channels} == {"Capella", "Salle B"}
    (salle,) = (channel for channel in log.channels if channel.label == "Salle B")
    assert set(np.unique(salle.rh_percent)) == {49.0, 50.0, 51.0}


def test_what_stands_still_proves_no_pair_of_columns(tmp_path):
    """A battery's volts that equal a dew point by chance (Magnus): two probes without a header are asked about."""
    (t, h), (other_t, other_h) = _room(3, 13.9, 0.6, 810), _room(4, 19.9, 1, 1480)
    part = np.log(h / 100) + 17.62 * t / (243.12 + t)
    volts = f"{np.median(243.12 * part / (17.62 - part)):.2f}"
    day = [f"{t:%Y-%m-%d %H:%M}" for t in np.arange("2025-03-01", "2025-03-11", 30, "M8[m]").astype(object)]
    columns = [[f"{v:g}" for v in c] for c in (t, other_t, h, other_h)]
    rows = zip(day, *columns, [volts] * len(day), strict=True)
    with pytest.raises(Question, match="Which columns look like the room's air"):
        read(write(tmp_path / "a.csv", "\n".join(map(";".join, rows))), need_rh="yes")


def test_several_temperatures_told_by_their_cells_alone_are_asked_about(tmp_path):
    """Two probes, temperatures first: which humidity is whose, and that there are two, no header says."""
    (t, h), (other_t, other_h) = _room(6, 9.9, 0.6, 690), _room(7, 19.9, 1, 1160)
    day = [f"{t:%Y-%m-%d %H:%M}" for t in np.arange("2025-03-01", "2025-03-11", 30, "M8[m]").astype(object)]
    rows = [
        f"{d};{a:.1f} °C;{b:.1f} °C;{c:.0f} %;{e:.0f} %"
        for d, a, b, c, e in zip(day, t, other_t, h, other_h, strict=True)
    ]
    with pytest.raises(Question, match="Which columns look like the room's air") as asked:
        read(write(tmp_path / "a.csv", "\n".join(rows)), need_rh="yes")
    assert {"2,4", "3,5"} <= set(asked.value.choices) or {"2,5", "3,4"} <= set(asked.value.choices)
    one = [f"{d};{a:.1f} °C;{b:.0f} %" for d, a, b in zip(day, t, h, strict=True)]
    assert len(read(write(tmp_path / "b.csv", "\n".join(one))).channels[0].temp_c) == len(day)


@pytest.mark.parametrize("above", ["Einheiten: °F, %rF", "Unités : °F, %", "Unidades: °F, %", "Eenheden: °F, %",
                                   "Temperatur in °F; Feuchte in %"])  # fmt: skip
def test_a_line_of_units_above_the_names_is_no_part_of_them(tmp_path, above):
    temp, rh = _room(5, 17, 1, 1000)
    day = [f"{t:%d.%m.%Y %H:%M}" for t in np.arange("2025-03-01", "2025-03-11", 30, "M8[m]").astype(object)]
    rows = [f"{d};{t * 1.8 + 32:.1f};{h:.0f}" for d, t, h in zip(day, temp, rh, strict=True)]
    log = read(write(tmp_path / "a.csv", "\n".join([above, "Zeit;T;RF", *rows])))
    assert log.channels[0].temp_c == pytest.approx(temp, abs=0.04)


def _room(seed: int, mean_c: float, swing_c: float, vapour_pa: float) -> tuple[np.ndarray, np.ndarray]:
    """Ten days at half an hour of a room whose vapour drifts while its temperature goes with the day. [°C], [% RH]"""
    drawn, hours = np.random.default_rng(seed), np.arange(0, 240, 0.5)
    temp = mean_c + swing_c * np.sin(2 * np.pi * (hours - 9) / 24) + np.cumsum(drawn.normal(0, 0.05, len(hours)))
    vapour = vapour_pa * np.exp(np.cumsum(drawn.normal(0, 0.004, len(hours))))
    return np.round(temp, 1), np.round(np.clip(100 * vapour / (611.2 * np.exp(17.62 * temp / (243.12 + temp))), 1, 100))


# unheated store, heated house, loft, cellar: invented [°C], [°C], [Pa]
ROOMS = {"store": (9, 1, 750), "house": (20.5, 1, 1100), "loft": (17, 7, 900), "cellar": (12, 0.8, 1050)}
DRY = (22, 1, 600)


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize("what", ["temperatures", "humidities", "another humidity"])
def test_columns_of_one_quantity_or_one_too_many_are_asked_about_without_a_header(tmp_path, room, what):
    """A room's humidity falls where it warms (Magnus); what does not may be another room's temperature or humidity."""
    day = [f"{t:%Y-%m-%d %H:%M}" for t in np.arange("2025-03-01", "2025-03-11", 30, "M8[m]").astype(object)]
    wrong = right = 0
    for seed in range(12):
        (t, h), (other_t, other_h) = _room(seed, *ROOMS[room]), _room(seed + 100, *DRY)
        pair, several = (
            (t, h),
            {"temperatures": (t, other_t + 4), "humidities": (other_h, h)}.get(what, (t, h, other_h + 9)),
        )
        for columns in (pair, several):
            rows = zip(day, *([f"{v:g}" for v in c] for c in columns), strict=True)
            try:
                read(write(tmp_path / "a.csv", "\n".join(map(";".join, rows))), need_rh="yes")
            except (Question, BadInput):
                continue
            wrong, right = wrong + (columns is several), right + (columns is pair)
    assert wrong == 0
    assert right >= 0.55 * 12, "an ordinary file is read"
