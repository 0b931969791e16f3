"""Files of positions as people write them, the command, the pages, and what is said after hanging."""

import json
import re
from dataclasses import replace
from datetime import date
from io import BytesIO
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pypdf import PdfReader
from typer.testing import CliRunner

from envwatch import __version__
from envwatch.archive import Studio
from envwatch.cases import hanging
from envwatch.cases.hanging.inputs import read
from envwatch.cases.hanging.judging import GOOD_IF, NEVER
from envwatch.cases.hanging.verification import AS_ADVISED, WORSE, after_hanging
from envwatch.cli import app
from envwatch.climate.series import Climate
from envwatch.core.errors import BadInput, EnvwatchError, Question
from envwatch.core.findings import Level
from envwatch.figures import Figure, handling
from envwatch.present.paper import hanging as studio_sheet
from envwatch.present.paper import owner
from envwatch.present.paper.drawings import hung_picture, section
from envwatch.present.paper.language import LANGUAGES, language
from envwatch.present.paper.limit_marks import MARK, marked
from envwatch.records import Confidence

ROOT = Path(__file__).parent.parent
SAMPLE = ROOT / "sample_logs" / "positions.toml"
NOW = pd.Timestamp("2026-11-02T12:00Z")


def toml(positions: str, house: str = "") -> tuple:
    return read(f"[house]\n{house}\n[[position]]\n{positions}".encode(), "p.toml")


# --------------------------------------------------------------------------------------------------- reading


def test_the_sample_file_is_read_whole():
    spots = read(SAMPLE.read_bytes(), SAMPLE.name)
    assert [spot.wall for spot in spots] == ["inner", "outer", "inner"]
    assert all(spot.house.place_id == "querlicht" and spot.house.latitude == 54.3 for spot in spots)
    assert spots[0].log_here and spots[1].standoff_mm == 0 and spots[0].sun is False


def test_lines_that_end_as_on_an_old_computer_are_read():
    first, second = read(b"name,wall,curtain\rhall,outer,none\rstairs,inner,none\r", "p.csv")
    assert (first.name, first.wall, second.name, second.wall) == ("hall", "outer", "stairs", "inner")


def test_the_csv_form_says_the_same():
    text = (
        "name;use;wall;sun;standoff;place;latitude;log;log_here\n"
        "by the bookcase;living;inner;no;2.5 cm;querlicht;54.3;inner wall;yes\n"
        "stairs;stairs;outer;;;;;;\n"
    )
    first, second = read(text.encode("utf-8-sig"), "p.csv")
    written = (
        'name = "by the bookcase"\nuse = "living"\nwall = "inner"\nsun = false\n'
        'standoff_mm = 25\nlog = "inner wall"\nlog_here = true'
    )
    assert first == toml(written, 'place = "querlicht"\nlatitude = 54.3')[0]
    assert second.house == first.house and second.sun is None


@pytest.mark.parametrize("cell", ['"25 mm"', '"2.5 cm"', '"2,5 cm"', '"0.025 m"'])
def test_a_length_carries_its_unit(cell):
    assert toml(f'name = "a"\nstandoff = {cell}')[0].standoff_mm == 25


@pytest.mark.parametrize("key", ["standoff_mm = 25", "standoff_cm = 2.5", "standoff_m = 0.025"])
def test_a_lengths_name_may_carry_its_unit(key):
    assert toml(f'name = "a"\n{key}')[0].standoff_mm == 25


def test_inches_among_millimetres_are_converted_and_said():
    spot = toml('name = "a"\nstandoff_in = 1\ndepth_mm = 20')[0]
    assert spot.standoff_mm == pytest.approx(25.4) and "in and mm" in spot.notes[0]


def test_what_is_not_known_is_left_out():
    spot = toml('name = "a"\nwall = "unknown"\nsun = "?"')[0]
    assert spot.wall is None and spot.sun is None


def test_fahrenheit_is_read_where_it_is_written():
    assert toml('name = "a"\nwall_c = "60 F"\nwall_room_c = "68 °F"\nwall_out_c = "32 F"')[0].reading == pytest.approx(
        (15.556, 20.0, 0.0), abs=0.001
    )


@pytest.mark.parametrize(
    ("written", "seen"),
    [
        ("standoff_mm = 25", "has no name"),
        ('name = "a"\nstandoff_mm = 25\nstandoff_cm = 2.5', "given twice"),
        ('name = "a"\nstandoff_mm = "2 cm"', "two units"),
        ('name = "a"\nstandoff = "2 hands"', "'hands' is not known"),
        ('name = "a"\nstandoff_mm = 2500', "Check the unit"),
        ('name = "a"\nstandoff_mm = "wide"', "is no length"),
        ('name = "a"\nwall = "outre"', "did you mean 'outer'"),
        ('name = "a"\nwal = "outer"', "did you mean 'wall'"),
        ('name = "a"\nsun = 3', "did you mean|use one of"),
        ('name = "a"\nwall_c = 14', "read together"),
        ('name = "a"\nwall_c = 14\nwall_room_c = 16\nwall_out_c = 8', "10 K or more"),
        ('name = "a"\nwall_c = 25\nwall_room_c = 20\nwall_out_c = 0', "read it again"),
        ('name = "a"\nradiator = false\nradiator_above_m = 1', "Say which"),
        ('name = "a"\nlux = 200', "go together"),
        ('name = "a"\nlog = "inner wall"', "names no place"),
        ('name = "a"\nlog_here = true', "does not say which logger"),
        ('name = "a"\nuse = {room = "x"}', "a table is not expected"),
        ('name = "a"\nlatitude = 54', "'latitude' is not known"),
        ('name = "a"\n[[position]]\nname = "a"', "two positions are called"),
    ],
)
def test_what_cannot_be_used_is_refused_in_one_line(written, seen):
    with pytest.raises(BadInput, match=seen) as refused:
        toml(written)
    assert str(refused.value).startswith("p.toml") and "\n" not in str(refused.value)


def test_a_bare_number_is_asked_about():
    with pytest.raises(Question, match="in which unit") as asked:
        toml('name = "a"\nstandoff = 25')
    assert asked.value.exit_code == 3 and "mm" in asked.value.choices


@pytest.mark.parametrize(
    ("content", "file", "seen"),
    [
        (b"", "p.toml", "is empty"), (b"[house]\n", "p.toml", "no positions"), (b"\xff\xfe\x00", "p.toml", "UTF-8"),
        (b"name;use\n", "p.csv", "no positions"), (b"x = [", "p.toml", "is not TOML"),
        (b"name,use\na,living,9,9\n", "p.csv", "more cells than columns"), (b"position = 3", "p.toml", "needs a table"),
        (b"name,latitude\na,50\nb,51\n", "p.csv", "one file, one house"),
        (b"rooms = 1", "p.toml", "'rooms' is not known"),
        (b"<html></html>", "p.toml", "is not TOML"),
    ],
)  # fmt: skip
def test_a_file_that_is_no_list_of_positions_is_refused(content, file, seen):
    with pytest.raises(BadInput, match=seen):
        read(content, file)


@settings(max_examples=60, deadline=None)
@given(st.binary(max_size=300), st.sampled_from(["p.toml", "p.csv"]))
def test_any_bytes_give_positions_or_one_plain_line(content, file):
    try:
        assert read(content, file)
    except EnvwatchError as refused:
        assert str(refused).startswith(file) and "\n" not in str(refused)


# ------------------------------------------------------------------------------------------------- the demo house


@pytest.fixture(scope="module")
def demo(demo_of_file):
    with Studio.open(demo_of_file) as studio:
        yield studio


@pytest.fixture(scope="module")
def advised(sample_advice):
    return sample_advice


def test_in_the_demo_house_the_inner_wall_wins_and_the_radiator_is_never(advised):
    kinds = {spot.name: spot.kind for spot in advised.positions}
    assert advised.positions[0].name == "inner wall by the bookcase" and kinds["inner wall by the bookcase"] == GOOD_IF
    assert kinds["over the old radiator"] == NEVER
    radiator = next(spot for spot in advised.positions if spot.kind == NEVER)
    assert radiator.found[0].worst.mechanism == "heat" and radiator.found[0].values[0] > 45
    assert advised.answer.startswith("Of these 3, inner wall by the bookcase")


def test_the_outer_wall_is_the_worse_for_every_degree_of_its_u_value(advised):
    outer = next(spot for spot in advised.positions if spot.spot.wall == "outer")
    assert outer.faces[0].u_value == pytest.approx(1.1) and outer.faces[-1].u_value == pytest.approx(2.1)
    walls = [face for face in outer.faces if face.point == "wall_face"]
    assert walls[0].hours_over_80 < walls[-1].hours_over_80 and outer.decider.field == "u_value"


def test_the_weekly_review_sees_nothing_of_light_or_position(demo):
    from envwatch.cases import review

    found = review.make(demo, NOW)
    hazards = {f.hazard for line in found.judged for f in line.verdict.findings}
    assert "mould" in hazards and not hazards & {"light", "position"}


def test_a_log_that_does_not_cover_a_winter_is_said_to(demo):
    spots = read(SAMPLE.read_bytes(), SAMPLE.name)[:1]
    start = pd.Timestamp("2026-04-01T00:00Z")
    hung = hanging.advice.asked_of(demo, demo.find_painting("25-16"), spots[0], NOW.floor("h"), None)
    short = replace(
        hung.read, temp_c=np.where(hung.logs.time - pd.Timedelta(days=365) < start, np.nan, hung.read.temp_c)
    )
    assert short.winter_coverage(hung.logs.time) == 0
    assert "does not cover a winter" in hanging.advice._uncovered(short, hung.logs.time, spots[0])


@pytest.mark.parametrize(
    ("house", "position", "seen"),
    [('place = "nowhere"', 'log = "room"', "place 'nowhere'"), ('outdoors = "nowhere"', "", "outdoors = 'nowhere'"),
     ('place = "schummerkuhle"', 'log = "room"', "nothing was read there")],
)  # fmt: skip
def test_a_logger_that_does_not_exist_is_refused(demo, house, position, seen):
    with pytest.raises(EnvwatchError, match=seen):
        hanging.advise(demo, demo.find_painting("25-16"), toml(f'name = "a"\n{position}', house), NOW)


# ------------------------------------------------------------------------------------------------------ the pages


def told(pdf: bytes) -> str:
    return re.sub(r"\s+", " ", " ".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages))


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("code", sorted(LANGUAGES))
def test_the_owners_page_is_one_page_in_every_language(advised, paper, code):
    pdf = owner.page(advised, paper, code)
    assert len(PdfReader(BytesIO(pdf)).pages) == 1
    assert "View across the Marsh" in told(pdf)


def test_no_level_and_no_owner_stands_on_the_owners_page(advised, demo):
    text = told(owner.page(advised))
    for word in [level.word for level in Level if level is not Level.WATCH] + ["urgent", "U-value", "RH"]:
        assert not re.search(rf"\b{re.escape(word)}\b", text), word
    assert demo.find_painting("25-16").owner not in text and demo.find_painting("25-16").owner
    assert "not a guarantee" in text and "insurer" in text


def test_the_owners_page_says_the_best_place_what_to_do_and_when_to_ring(advised):
    text = told(owner.page(advised))
    for part in ("inner wall by the bookcase", "over the old radiator", "Two hooks", "within a day", "9 November 2026",
                 "What we do not know"):  # fmt: skip
        assert part in text, part


@pytest.mark.parametrize("code", [code for code in sorted(LANGUAGES) if code != "en"])
def test_a_translation_nobody_has_read_is_marked_and_whole(advised, code):
    lang = language(code)
    assert not lang.checked
    content = owner.content(advised, lang)
    assert content["unchecked"] and content["unchecked"] != owner.content(advised, language("en"))["unchecked"]
    sentences = [*owner.REASONS.values(), *owner.CURES.values(), *owner.FIND_OUT.values(), *owner.HOW, *owner.LOOK,
                 *owner.CALL, owner.NEVERS, owner.WATCH, owner.FINE, owner.ASK_US, owner.GOT_HOT,
                 *handling.HOT]  # fmt: skip
    for sentence in sentences:
        said = lang.say(sentence)
        assert said != sentence, sentence
        assert sorted(re.findall(r"{\w+}", said)) == sorted(re.findall(r"{\w+}", sentence))


@pytest.mark.parametrize("code", sorted(LANGUAGES))
@pytest.mark.parametrize("adoption", ["", "on 2026-11-01, because the trade knows no others."])
def test_each_language_marks_each_working_limit_and_says_once_what_the_mark_means(advised, code, adoption):
    pages = [marked(owner.content(replace(advised, adoption=adoption), language(one))) for one in ("en", code)]
    english, page = (str({**shown, "legend": ""}).count(MARK) for shown in pages)
    assert english == page > 5 and "judgement" not in str(pages)
    text = told(owner.page(replace(advised, adoption=adoption), "a4", code))
    told_once = " ".join(pages[1]["legend"].split())
    assert text.count(told_once) == 1 and text.count(MARK) == page + 1 and __version__ in told_once
    assert (code == "en") == (told_once == pages[0]["legend"]) and ("2026-11-01" in told_once) == bool(adoption)


def test_what_the_studio_itself_set_bears_no_mark_on_the_owners_page(advised):
    told_as = "Humidity between {low} and {high} %, temperature between {cold} and {warm} °C."
    own = [Figure(value, "", "studio", Confidence.OUR_JUDGEMENT) for value in (41, 59, 12, 24)]
    spots = tuple(replace(spot, cures=()) for spot in advised.positions)
    page = str(owner.content(replace(advised, positions=spots, keep_rh=own[:2], keep_c=own[2:]), language("en")))
    assert told_as.format(low=41, high=59, cold=12, warm=24) in page


def test_a_limit_from_memory_alone_is_no_reason_on_the_owners_page(advised):
    def remembered(i):
        return replace(i, worst=replace(i.worst, confidence=Confidence.FROM_MEMORY))

    (spot, *_) = advised.of("never here")
    assert owner._reasons(spot, Level.WATCH, str)
    assert owner._reasons(replace(spot, found=tuple(map(remembered, spot.found))), Level.WATCH, str) == ""


def test_a_translation_with_a_reader_and_a_day_is_not_marked():
    from envwatch.present.paper.language import reader_of

    for by, on, line in (("N. N.", "2026-11-02", "N. N., 2026-11-02"), ("N. N.", "", ""), ("", "2026-11-02", "")):
        assert reader_of({"read_by": by, "read_on": on}) == line


@pytest.mark.parametrize(("code", "day"), [
    ("en", "1 March 2027"), ("pt", "1 de março de 2027"), ("es", "1 de marzo de 2027"), ("fr", "1 mars 2027"),
    ("it", "1 marzo 2027"), ("de", "1. März 2027"),
])  # fmt: skip
def test_a_day_stands_in_the_words_of_the_language(code, day):
    """How each language writes a day in full, as the Unicode locale data (CLDR 47, "long") have it."""
    assert language(code).day(date(2027, 3, 1)) == day
    assert len({language(code).day(date(2027, month, 1)) for month in range(1, 13)}) == 12


def test_an_unknown_language_or_paper_is_refused(advised):
    with pytest.raises(BadInput, match="language xx"):
        owner.page(advised, "a4", "xx")
    with pytest.raises(BadInput, match="a4 or letter"):
        owner.page(advised, "a5")


def test_the_page_holds_many_positions_and_long_names(advised):
    many = [replace(spot, name=f"{spot.name} {'very ' * 8}{n}") for n in range(3) for spot in advised.positions]
    pdf = owner.page(replace(advised, positions=tuple(many)), "letter", "de")
    assert len(PdfReader(BytesIO(pdf)).pages) == 1


def test_no_humidity_on_the_owners_page_lies_outside_what_the_painting_bears(advised):
    def with_cures(value):
        best = advised.positions[0]
        lax = tuple(replace(cure, value=value) for cure in best.cures if cure.kind == "room at least")
        assert lax
        return replace(advised, positions=(replace(best, cures=lax), *advised.positions[1:]))

    low = f"{advised.keep_rh[0]:.0f}"
    assert f"at or over {low}‡ % humidity" in " ".join(owner.content(with_cures(12), language("en"))["answer_more"])
    assert "at or over 55‡ % humidity" in " ".join(owner.content(with_cures(55), language("en"))["answer_more"])


def test_the_studios_sheet_has_every_figure_behind_the_page(advised):
    text = told(studio_sheet.page(advised))
    outer = next(spot for spot in advised.positions if spot.spot.wall == "outer")
    for part in ("wall °C", "canvas °C", "1.10", "2.10", "‡", "ashrae-160-2009", outer.decider.ask,
                 f"{outer.colds[-1].wall_c:.1f}"):  # fmt: skip
        assert part in text, part


def test_the_drawings_are_well_formed_and_show_air_only_where_there_is_some():
    from xml.etree import ElementTree

    opened, closed = hung_picture(True, False), hung_picture(False, True)
    for svg in (opened, closed, section([0.0, 12.0, 20.0], ["wall", "painting"], 0.0, [6, 1])):
        ElementTree.fromstring(svg)
    assert len(opened) != len(closed)


# ----------------------------------------------------------------------------------------------------- the command


def run(*arguments: str):
    return CliRunner().invoke(app, [str(argument) for argument in arguments])


def some_of_sample(file: Path, *which: int) -> Path:
    """A file of some of the sample's positions; one that is not described takes longest to judge."""
    house, *positions = SAMPLE.read_text(encoding="utf-8").split("[[position]]")
    file.write_text("[[position]]".join([house, *(positions[n] for n in which)]), encoding="utf-8")
    return file


@pytest.fixture
def one_position(tmp_path):
    """A file of one position, quickly judged."""
    file = tmp_path / "p.toml"
    file.write_text('[[position]]\nname = "a"\nuse = "kitchen"\nwall = "inner"\n', encoding="utf-8")
    return file


def test_the_command_prints_the_answer_and_keeps_both_pages(demo_copy, tmp_path):
    two = some_of_sample(tmp_path / "two.toml", 0, 2)
    result = run("hang", "25-16", "--positions", two, "--on", "2026-11-03", "--studio", demo_copy)
    assert result.exit_code == 0, result.output
    assert "Of these 2, inner wall by the bookcase" in result.output
    assert result.output.index("Never here: 1") < result.output.index("Good place if")
    assert max(map(len, result.output.splitlines()[:40])) <= 80
    kept = sorted(path.name for path in (demo_copy / "sheets").glob("hanging-*"))
    assert kept == ["hanging-25-16-2026-11-03-a4-owner-en.pdf", "hanging-25-16-2026-11-03-a4-studio.pdf"]


def test_the_command_gives_json_without_the_owner(demo_folder, tmp_path):
    one = some_of_sample(tmp_path / "one.toml", 0)
    result = run(
        "hang", "25-16", "--positions", one, "--on", "2026-11-03", "--no-keep", "--json", "--studio", demo_folder
    )
    found = json.loads(result.output)
    assert found["positions"][0]["kind"] == GOOD_IF and found["answer"]
    assert "Ollendörp" not in result.output


@pytest.mark.parametrize(
    ("extra", "seen", "code"),
    [(["--positions", "nothing.toml"], "no such file", 2),
     (["--positions", str(SAMPLE), "--paper", "a5"], "a4 or letter", 2),
     (["--positions", str(SAMPLE), "--adhesive", "toffee"], "not an adhesive", 2),
     (["--positions", str(SAMPLE), "--on", "3/11/2026"], "year-month-day", 2)],
)  # fmt: skip
def test_the_command_refuses_in_one_line(demo_folder, extra, seen, code):
    result = run("hang", "25-16", *extra, "--studio", demo_folder)
    assert result.exit_code != 0 and isinstance(result.exception, EnvwatchError)
    assert seen in str(result.exception) and result.exception.exit_code == code


def test_a_named_adhesive_stands_in_for_a_missing_record(demo_folder, one_position):
    file = one_position
    plain = run("hang", "22-08", "--positions", file, "--no-keep", "--studio", demo_folder)
    named = run("hang", "22-08", "--positions", file, "--no-keep", "--adhesive", "eva_film", "--studio", demo_folder)
    assert "No lining is recorded" in re.sub(r"\s+", " ", plain.output)
    assert "No lining is recorded" not in re.sub(r"\s+", " ", named.output) and "heat-seal film" in named.output


# ---------------------------------------------------------------------------------------------------- after hanging


def owner_log(temp_c: float, rh: float, days: int = 40) -> Climate:
    time = pd.date_range("2026-11-03", periods=days * 24, freq="h", tz="UTC")
    return Climate.of(time, np.full(len(time), temp_c), np.full(len(time), rh))


@pytest.mark.parametrize(("rh", "word"), [(52.0, AS_ADVISED), (78.0, WORSE)])
def test_the_owners_log_is_held_against_the_advice(demo, advised, rh, word):
    best = advised.positions[0]
    result = after_hanging(demo, demo.find_painting("25-16"), best.spot, best, owner_log(20, rh), advised.hang_on)
    words = {count.finding.mechanism: count.word for count in result.counts}
    assert word in words.values()
    assert (WORSE in words.values()) is (rh > 75)
    assert ("Worse than advised" in result.sentence) is (rh > 75)


def test_a_log_without_a_winter_says_that_the_worst_is_to_come(demo, advised):
    best = advised.positions[0]
    result = after_hanging(demo, demo.find_painting("25-16"), best.spot, best, owner_log(20, 52, 20), advised.hang_on)
    assert not result.winter and "No winter has been read yet" in result.sentence


def test_a_log_from_before_the_hanging_is_refused(demo, advised):
    best = advised.positions[0]
    with pytest.raises(BadInput, match="before it was hung"):
        after_hanging(
            demo, demo.find_painting("25-16"), best.spot, best, owner_log(20, 52), pd.Timestamp("2027-06-01T00:00Z")
        )


def test_the_command_takes_the_owners_file(demo_folder, tmp_path):
    log = tmp_path / "living room.csv"
    rows = "\n".join(f"2026-11-{3 + h // 24:02d} {h % 24:02d}:00;20.0;52.0" for h in range(480))
    log.write_text(f"time;temperature (°C);humidity (%)\n{rows}\n", encoding="utf-8")
    result = run("hang", "25-16", "--positions", SAMPLE, "--on", "2026-11-03", "--log", log, "--zone", "UTC",
                 "--at", "inner", "--studio", demo_folder)  # fmt: skip
    assert result.exit_code == 0, result.output
    assert "After hanging at inner wall by the bookcase" in re.sub(r"\s+", " ", result.output)
    other = run("hang", "25-16", "--positions", SAMPLE, "--log", log, "--zone", "UTC", "--studio", demo_folder)
    assert "say with --at" in str(other.exception)


def test_the_command_says_when_an_owners_file_without_dates_begins(demo_folder, tmp_path):
    log = tmp_path / "living room.csv"
    log.write_text(
        "Elapsed (h);Temp (°C);RH (%)\n" + "".join(f"{h};20.{h % 7};52.{h % 5}\n" for h in range(480)), "utf-8"
    )
    given = (
        "hang",
        "25-16",
        "--positions",
        SAMPLE,
        "--on",
        "2026-11-03",
        "--log",
        log,
        "--zone",
        "UTC",
        "--at",
        "inner",
    )
    asked = run(*given, "--studio", demo_folder)
    assert "Answer with --start" in str(asked.exception)
    told = run(*given, "--start", "2026-11-03 00:00", "--studio", demo_folder)
    assert told.exit_code == 0 and "After hanging at inner wall" in re.sub(r"\s+", " ", told.output)


def test_a_house_may_be_hung_on_a_day_without_midnight(demo_copy):
    # Egypt's summer time begins at midnight of the last Friday of April (law 24 of 2023): that day begins at 1:00
    settings_file = next(demo_copy.glob("*.toml"))
    settings_file.write_text(re.sub("zone = .*", 'zone = "Africa/Cairo"', settings_file.read_text("utf-8")), "utf-8")
    spots = hanging.described({"hang_on": "2026-04-24"}, [{"name": "hall", "wall": "inner"}])
    with Studio.open(demo_copy) as studio:
        advice = hanging.advise(studio, studio.find_painting("26-02"), spots, pd.Timestamp("2026-11-02T11:00Z"))
    assert advice.hang_on == pd.Timestamp("2026-04-23T22:00Z")
