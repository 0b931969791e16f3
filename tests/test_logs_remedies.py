"""A refusal names a remedy that works: each kind is provoked, what it says is done, and the file then reads right.

The remedy is taken from the printed line: a choice it offers, a header it shows, or an edit in its words (`DONE`).
Which lines of the reader refuse is read from its source, so that a new refusal without a remedy here turns red.
"""

import ast
import io
import re
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import numpy as np
import openpyxl
import pytest
from logs_layouts import NOW, Truth, assert_reads, climate, rows_of, write

import envwatch.logs
from envwatch import logs
from envwatch.core.errors import EnvwatchError, Question
from envwatch.logs import Answers

TRUTH = climate(n=200)
AUTUMN = climate("2024-10-26T10:00Z", 300)  # the clocks of Berlin go back on the 27th
LONG = climate("2024-03-08T00:00Z", 1500)
EARLY = climate("2024-03-01T00:00Z", 140)  # one morning and one evening in days below the thirteenth
HEAD = "time;temp °C;rh %"
ROWS = rows_of(TRUTH, delimiter=";")


class Case(NamedTuple):
    """A file that is refused, the words of its remedy, and what a person does on reading them.

    `done` gets the file's text (or bytes) and the refusal; it gives the new content, and answers by name.
    """

    content: str | bytes
    words: str
    done: Callable
    truth: Truth = TRUTH
    answers: dict = {}
    name: str = "a.csv"
    tolerance: float = 1e-6


def text(*above: str, rows=ROWS) -> str:
    return "\n".join([*above, *rows, ""])


def again(content, **answers):
    """A new export, or the file as it should have been, whatever stood in the old one."""
    return lambda old, refusal: (content, answers)


def answered(value: str):
    """The choice that is true, if the question offers it under the field it names."""

    def done(old, question):
        assert isinstance(question, Question) and (value in question.choices or not question.choices)
        return old, {question.field: value}

    return done


def renamed(old_name: str, new_name: str):
    return lambda old, refusal: (old.replace(old_name, new_name, 1), {})


def split(old: str, refusal) -> tuple[str, dict]:
    """The first of the two files, cut before the line that is named."""
    at = int(re.search(r"line (\d+)", str(refusal))[1])
    return "\n".join([*old.split("\n")[: at - 1], ""]), {}


def second(old: str, refusal) -> tuple[str, dict]:
    """The second of the two files."""
    at = int(re.search(r"line (\d+)", str(refusal))[1])
    return "\n".join(old.split("\n")[at - 1 :]), {}


def zipped(files: dict[str, bytes]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in files.items():
            archive.writestr(name, content)
    return out.getvalue()


def inside(old: bytes, refusal) -> tuple[bytes, dict]:
    with zipfile.ZipFile(io.BytesIO(old)) as archive:
        return archive.read(archive.namelist()[0]), {}


def book(rows) -> bytes:
    made = openpyxl.Workbook()
    for row in rows:
        made.active.append(row)
    out = io.BytesIO()
    made.save(out)
    return out.getvalue()


def elapsed(head: str, form: Callable[[float], str], truth: Truth = TRUTH) -> str:
    minutes = (truth.time - truth.time[0]).total_seconds() / 60
    values = zip(minutes, truth.temp_c, truth.rh_percent, strict=True)
    return text(f"{head};temp °C;rh %", rows=[f"{form(m)};{a};{b}" for m, a, b in values])


def clock(minutes: float) -> str:
    return f"{int(minutes // 60):02d}:{int(minutes % 60):02d}"


GOOD = text(HEAD)
STAMPS = TRUTH.time.strftime("%Y-%m-%d %H:%M:%S")


def three(form: Callable[[str, float, float], str]) -> list[str]:
    return [form(t, a, b) for t, a, b in zip(STAMPS, TRUTH.temp_c, TRUTH.rh_percent, strict=True)]


COMMAS = text(rows=[row.replace(";", ",").replace(".", ",") for row in ROWS])
CLOCK = [row[11:] for row in ROWS]
US = rows_of(EARLY, stamp="%m/%d/%Y %H:%M", delimiter=";")
IN_F = three(lambda t, a, b: f"{t};{a * 1.8 + 32:.2f};{b}")
SUMMER = climate("2024-07-01T00:00Z", 200)
SUMMER_ROWS = rows_of(SUMMER, "Europe/Berlin", delimiter=";")
FROM = "2024-03-01 00:00"
AT_FIVE = climate("2024-03-01T05:00Z", 60, "1D")

SPLIT = three(lambda t, a, b: f"{t},{a:.0f},{b:.0f},{int(a * 10) % 7},{int(b * 10) % 9}")

CASES = {
    # what the columns are
    "a temperature under a name that is none": Case(
        text("zeit;qwx", rows=three(lambda t, a, b: f"{t};{a}")),
        "counted from 1, as in columns 2,3",
        again(text("zeit;qwx", rows=three(lambda t, a, b: f"{t};{a}")), columns="2"),
        Truth(TRUTH.time, TRUTH.temp_c, np.full(200, np.nan)),
    ),
    "no temperature": Case(
        text("time;rh %", rows=three(lambda t, a, b: f"{t};{b}")), "export the temperature too", again(GOOD)
    ),
    "a temperature that was never read": Case(
        text(HEAD, rows=three(lambda t, a, b: f"{t};Err;{b}")), "'temp °C' holds no number. Look whether", again(GOOD)
    ),
    "columns that may be several": Case(
        text(rows=three(lambda t, a, b: f"{t};{b};{a};{a + 0.4:.1f};{b - 1:.1f}")),
        "Answer with columns",
        answered("3,2"),
    ),
    "columns that the dew point denies": Case(
        text(HEAD + ";dew point °C", rows=three(lambda t, a, b: f"{t};{a};{b};{a - 2:.1f}")),
        "Answer with columns",
        answered("2,3"),
    ),
    "columns that there are not": Case(
        GOOD, "counted from 1, as in 2,3", again(GOOD, columns="2,3"), answers={"columns": "7,9"}
    ),
    "one quantity a row, no temperature": Case(
        text("time;parameter;value", rows=three(lambda t, a, b: f"{t};temperature;Err\n{t};humidity;{b}")),
        "Export it again with temperatures",
        again(text("time;parameter;value", rows=three(lambda t, a, b: f"{t};temperature;{a}\n{t};humidity;{b}"))),
    ),
    "a percentage of something": Case(text("time;temp °C;Rack %", rows=ROWS), "Which columns", answered("2,3")),
    "tenths of a degree": Case(
        text("time;temp;rh", rows=three(lambda t, a, b: f"{t};{a * 10:.0f};{b}")), "Export it again in °C", again(GOOD)
    ),
    "extremes of intervals": Case(
        text("time;temp min;temp max;rh", rows=three(lambda t, a, b: f"{t};{a - 1};{a + 1};{b}")),
        "Export the readings themselves",
        again(GOOD),
    ),
    "commas that part and mark": Case(
        text("time,p,q,s", rows=SPLIT), "Export the file again with semicolons or tabs", again(GOOD)
    ),
    "commas that part and mark, and no header": Case(
        text(rows=three(lambda t, a, b: f"{t},7,{a:.1f},{b:.1f}".replace(".", ","))),
        "Export the file again with semicolons or tabs",
        again(GOOD),
    ),
    "a name too many": Case(text(HEAD + ";temp 2 °C"), "mend the header", renamed(";temp 2 °C", "")),
    "names in another order": Case(text("temp °C;time;rh %"), "mend the header", renamed("temp °C;time;rh %", HEAD)),
    "a comma that may be two things": Case(COMMAS, "Answer with decimal", answered(",")),
    "a second table": Case(
        text(HEAD, rows=[*ROWS, "", "time;lux;temp outside", *ROWS]), "Split the file in two", split
    ),
    # units
    "a unit that the values contradict": Case(
        text(HEAD, rows=IN_F), "Answer with temp_unit", answered("F"), tolerance=0.006
    ),
    "a warm room without a unit": Case(
        text("time;temp;rh %", rows=three(lambda t, a, b: f"{t};{a + 20:.1f};{b}")),
        "Answer with temp_unit",
        answered("C"),
        Truth(TRUTH.time, np.round(TRUTH.temp_c + 20, 1), TRUTH.rh_percent),
    ),
    "percent and fractions": Case(
        text(HEAD, rows=three(lambda t, a, b: f"{t};{a};{b / 100 if b < 54 else b:.4f}")),
        "again in percent",
        again(GOOD),
    ),
    "humidity in tenths": Case(
        text(HEAD, rows=three(lambda t, a, b: f"{t};{a};{b * 10:.0f}")), "export it again in percent", again(GOOD)
    ),
    "the temperature twice": Case(
        text(HEAD, rows=three(lambda t, a, b: f"{t};{a};{a * 1.8 + 32:.1f}")), "Export the humidity column", again(GOOD)
    ),
    "readings that became dates": Case(
        text(HEAD, rows=[*ROWS[:50], "2024-03-01 08:20:00;05. Jun;50.0", *ROWS[51:]]),
        "again from the logger",
        again(GOOD),
    ),
    # times
    "several offsets": Case(
        text("Zone: UTC+1", "Clock: UTC+2", "", HEAD, rows=rows_of(TRUTH, "Etc/GMT-1", delimiter=";")),
        "Answer with zone",
        answered("+01:00"),
    ),
    "several offsets in the header": Case(
        text("time UTC+1 (UTC+2);temp °C;rh %", rows=rows_of(TRUTH, "Etc/GMT-2", delimiter=";")),
        "Answer with zone",
        answered("+02:00"),
    ),
    "no zone": Case(GOOD, "Answer with zone", answered("UTC"), answers={"zone": None}),
    "a zone that is none": Case(GOOD, "Europe/Berlin", again(GOOD, zone="+00:00"), answers={"zone": "Mars/Base"}),
    "a clock that did not change": Case(
        text(HEAD, rows=rows_of(AUTUMN, "Etc/GMT-1", delimiter=";")),
        "Answer with zone",
        answered("+01:00"),
        AUTUMN,
        {"zone": "Europe/Berlin"},
    ),
    "summer time flagged on one offset": Case(
        text("time;DST;temp °C;rh %", rows=[row.replace(";", ";1;", 1) for row in SUMMER_ROWS]),
        "name of its zone",
        answered("Europe/Berlin"),
        SUMMER,
        {"zone": "+01:00"},
    ),
    "a clock that was wrong": Case(GOOD.replace("2024-", "1974-"), "say when the record began", answered(FROM)),
    "halves of the day that are lost": Case(
        text(HEAD, rows=rows_of(TRUTH, stamp="%Y-%m-%d %I:%M:%S", delimiter=";")), "with times of 24 hours", again(GOOD)
    ),
    "ten figures that may be two things": Case(
        text(HEAD, rows=[f"{1_709_251_200 + n};20.{n % 9};50.{n % 7}" for n in range(50)]),
        "such as 2024-03-01 14:05",
        again(GOOD),
    ),
    "day or month first": Case(
        text(HEAD, rows=US[:100]),
        "Answer with dates",
        answered("mdy"),
        Truth(EARLY.time[:100], EARLY.temp_c[:100], EARLY.rh_percent[:100]),
    ),
    "an answer that cannot be": Case(
        text(HEAD, rows=rows_of(LONG, stamp="%m/%d/%Y %H:%M", delimiter=";")),
        "Answer with dates",
        answered("mdy"),
        LONG,
        {"dates": "dmy"},
    ),
    "an answer that is none": Case(
        GOOD, "Use one of: dmy mdy ymd", again(GOOD, dates="ymd"), answers={"dates": "german"}
    ),
    "dates in two ways": Case(
        text(
            HEAD,
            rows=[*rows_of(LONG, stamp="%d.%m.%Y %H:%M", delimiter=";")[:700], *rows_of(LONG, delimiter=";")[700:]],
        ),
        "export the file again from the logger",
        again(text(HEAD, rows=rows_of(LONG, delimiter=";"))),
        LONG,
    ),
    "no real date": Case(
        text(HEAD, rows=[row.replace("2024-03-0", "2024-13-3") for row in ROWS]), "with full dates", again(GOOD)
    ),
    "many rows of one day": Case(
        text(HEAD, rows=[row[:10] + row[19:] for row in ROWS]), "again with date and time", again(GOOD)
    ),
    "a clock that cannot be read": Case(
        text("date;time;temp °C;rh %", rows=[f"{row[:10]};q{row[11:13]}x{row[19:]}" for row in ROWS]),
        "such as 14:05",
        again(text("date;time;temp °C;rh %", rows=[f"{row[:10]};{row[11:16]}{row[19:]}" for row in ROWS])),
    ),
    "no times at all": Case(
        text(HEAD, rows=["x" + row for row in ROWS]), "Export the file again with both", again(GOOD)
    ),
    "days without a clock": Case(
        text("day;temp °C;rh %", rows=[f"4535{i // 100};{row.split(';', 1)[1]}" for i, row in enumerate(ROWS)]),
        "with date and time in every row",
        again(GOOD),
    ),
    "days in numbers beside a count": Case(
        text(
            "Date;Elapsed (min);temp °C;rh %", rows=[f"45352;{10 * i};{r.split(';', 1)[1]}" for i, r in enumerate(ROWS)]
        ),
        "Export the file again with date and time",
        again(GOOD),
    ),
    "a date or a time in each row": Case(
        text(
            "Date;Time;temp °C;rh %",
            rows=[f"{'x' if i % 2 else r[:10]};{r[11:19] if i % 2 else 'y'}{r[19:]}" for i, r in enumerate(ROWS)],
        ),
        "Export the file again",
        again(GOOD),
    ),
    "a count from a start": Case(elapsed("Elapsed (min)", "{:.0f}".format), "Answer with start", answered(FROM)),
    "a count without a unit": Case(
        elapsed("Elapsed", "{:.0f}".format),
        "Add it to its name, such as Elapsed (min)",
        renamed("Elapsed", "Elapsed (min)"),
        answers={"start": FROM},
    ),
    "a count of hours or minutes": Case(
        elapsed("Elapsed", clock),
        "Add (hh:mm) or (mm:ss) to its name",
        renamed("Elapsed", "Elapsed (hh:mm)"),
        answers={"start": FROM},
    ),
    "a count that begins again": Case(
        elapsed("Elapsed (min)", "{:.0f}".format) + elapsed("Elapsed (min)", "{:.0f}".format).split("\n", 1)[1],
        "Split it, one file a record",
        again(elapsed("Elapsed (min)", "{:.0f}".format), start=FROM),
        answers={"start": FROM},
    ),
    "times of day alone": Case(text(HEAD, rows=CLOCK), "Answer with start", answered(FROM)),
    "times of day, the newest first": Case(
        text("2024-03-01", "", HEAD, rows=CLOCK[::-1]), "Answer with start", answered(FROM)
    ),
    "times of day that go back": Case(
        text(HEAD, rows=[*CLOCK[:40], *CLOCK[20:60]]),
        "Export the file again with dates",
        again(GOOD),
        answers={"start": FROM},
    ),
    "several dates above": Case(
        text("2024-03-01", "2024-03-05", "", HEAD, rows=CLOCK), "Answer with start", answered(FROM)
    ),
    "a date above that may be two": Case(
        text("03/01/2024", "", HEAD, rows=CLOCK), "Answer with dates", answered("mdy")
    ),
    "a date above that is none": Case(text("31/31/2024", "", HEAD, rows=CLOCK), "Answer with start", answered(FROM)),
    "a start that the clock denies": Case(
        text("Start: 2024-03-01 09:00", "", HEAD, rows=CLOCK[6:106]),
        "Answer with start",
        answered("2024-03-01 01:00"),
        Truth(TRUTH.time[6:106], TRUTH.temp_c[6:106], TRUTH.rh_percent[6:106]),
    ),
    "a start that is no date": Case(
        text(HEAD, rows=CLOCK), "2026-03-01 10:00", again(text(HEAD, rows=CLOCK), start=FROM), answers={"start": "soon"}
    ),
    "a start that is no real date": Case(
        text(HEAD, rows=CLOCK),
        "no real date since",
        again(text(HEAD, rows=CLOCK), start=FROM),
        answers={"start": "2024-02-31 10:00"},
    ),
    # rows
    "many unreadable times": Case(
        text(HEAD, rows=[row if i % 3 else "2024-99-99 10:00:00;19;50" for i, row in enumerate(ROWS)]),
        "Export the file again",
        again(GOOD),
    ),
    "a row of many fields": Case(
        text(HEAD, rows=[*ROWS[:100], "x;" * 700, *ROWS[100:]]), "export it again", again(GOOD)
    ),
    "no sensor": Case(
        text(HEAD, rows=three(lambda t, a, b: f"{t};-9999;-9999")), "Look whether the sensor is connected", again(GOOD)
    ),
    "quantities of different days": Case(
        text(
            "time;parameter;value",
            rows=three(lambda t, a, b: f"{t};temperature;{a}\n{t.replace('-03-', '-05-')};humidity;{b}"),
        ),
        "of the same times",
        again(GOOD),
        answers={"need_rh": "1"},
    ),
    "another logger's record": Case(
        text(
            "Logger 10042", "", HEAD, rows=[*three(lambda t, a, b: f"{t};Err;Err"), "", "Logger 20077", "", HEAD, *ROWS]
        ),
        "Split the file in two",
        second,
    ),
    "an hour that no header names": Case(
        text(rows=rows_of(AT_FIVE, stamp="%Y-%m-%d;%H", delimiter=";")),
        "Write a line with the columns' names",
        lambda old, refusal: (re.search(r"such as (Date[^.]+)", str(refusal))[1] + "\n" + old, {}),
        AT_FIVE,
    ),
    "a header alone": Case(HEAD + "\n", "nothing was recorded", again(GOOD)),
    "no row with a date": Case(text(HEAD, rows=["a;b;c"] * 50), "with date and time in every row", again(GOOD)),
    "a letter": Case("Dear Sir,\nplease find attached.\n", "Choose the logger's CSV export", again(GOOD)),
    "no humidity": Case(
        text("time;temp °C", rows=three(lambda t, a, b: f"{t};{a}")),
        "Export the humidity too",
        again(GOOD),
        answers={"need_rh": "1"},
    ),
    "one quantity a row, no humidity": Case(
        text("time;parameter;value", rows=three(lambda t, a, b: f"{t};temperature;{a}")),
        "Export the humidity too",
        again(text("time;parameter;value", rows=three(lambda t, a, b: f"{t};temperature;{a}\n{t};humidity;{b}"))),
        answers={"need_rh": "1"},
    ),
    # bytes
    "an encoding that is none": Case(
        GOOD, "Use utf-8, utf-16, cp1252", again(GOOD, encoding="utf-8"), answers={"encoding": "utf-99"}
    ),
    "bytes of another encoding": Case(
        GOOD.encode("cp1252"),
        "Leave the encoding out",
        again(GOOD.encode("cp1252"), encoding=None),
        answers={"encoding": "utf-8"},
    ),
    "an encoding that nothing shows": Case(
        b"\n".join(b"a\x81\x8d\x81 b\x81\x8d\x81 c%d" % i for i in range(20)) + b"\n" + GOOD.encode("latin-1"),
        "Answer with encoding",
        answered("latin-1"),
    ),
    "an empty file": Case("", "Export it again from the logger", again(GOOD)),
    "a web page": Case("<!DOCTYPE html><html>Sign in</html>", "CSV export itself", again(GOOD)),
    "JSON": Case('[{"t": 1}]', "Export it as CSV", again(GOOD)),
    "an old workbook": Case(
        b"\xd0\xcf\x11\xe0" + b"\x00" * 600,
        "save it as CSV (UTF-8) or .xlsx",
        again(book([HEAD.split(";"), *([t, float(a), float(b)] for t, a, b in (r.split(";") for r in ROWS))])),
    ),
    "binary": Case(bytes(range(256)) * 40, "as CSV", again(GOOD)),
    "bytes that are no UTF-16": Case(b"\xff\xfe" + b"\x00\xdc" * 3000, "again as CSV", again(GOOD)),
    "a line without an end": Case("x" * 3_000_000, "export it again", again(GOOD)),
    "too many columns": Case("time;" + "c;" * 3000 + "\n" + GOOD, "Export it again", again(GOOD)),
    "a zip archive": Case(zipped({"log.csv": GOOD.encode()}), "Unpack it first", inside),
    "a damaged archive": Case(zipped({"log.csv": GOOD.encode()})[:60], "Copy or export it again", again(GOOD)),
    "a spreadsheet that is no xlsx": Case(
        zipped({"mimetype": b"application/vnd.oasis.opendocument.spreadsheet", "content.xml": b"<x/>"}),
        "choose Save as, CSV UTF-8",
        again(GOOD),
    ),
    "a workbook that cannot be read": Case(
        zipped({"xl/workbook.xml": b"<x/>"}), "choose Save as, CSV UTF-8", again(GOOD)
    ),
    "an empty workbook": Case(book([[]]), "choose Save as, CSV UTF-8", again(GOOD)),
    "a sheet of many columns": Case(book([["c"] * 600]), "choose Save as, CSV UTF-8", again(GOOD)),
    "a workbook like a bomb": Case(
        zipped({"xl/workbook.xml": b"0" * 60_000_000}), "choose Save as, CSV UTF-8", again(GOOD)
    ),
}

LEFT_OUT = {
    "fields: a comma parts fields and marks decimals": "two ways of equal weight were not found by hand",
    "no row holds a time that can be used (": "what leads to it is refused before, as far as is known",
    "). Keep the file and report it.": "a fault of ours; no file is known that does it",
    " GB is more than is read at once. Split the export.": "a file of 2 GB",
    "still being written": "see test_logs_faults",
    "). Check the name and close it elsewhere.": "see test_logs_faults: no such file",
    "this is not a file but a folder": "see test_logs_faults",
    "rows of different length cannot be told apart": "over 50,000 odd rows in one piece",
}


def refusal(tmp_path, case: Case, content, answers: dict) -> EnvwatchError | None:
    answers = {"zone": "UTC", **answers}
    need_rh = bool(answers.pop("need_rh", ""))
    try:
        log = logs.read(write(tmp_path / case.name, content), Answers(**answers), now=NOW, need_rh=need_rh)
    except EnvwatchError as refused:
        return refused
    assert_reads(log, case.truth, tolerance=case.tolerance)
    return None


@pytest.mark.parametrize("name", CASES)
def test_what_a_refusal_tells_to_do_makes_the_file_read_right(tmp_path, name):
    case = CASES[name]
    refused = refusal(tmp_path, case, case.content, case.answers)
    assert refused is not None and case.words in str(refused), refused
    content, answers = case.done(case.content, refused)
    after = {**case.answers, **answers}
    assert refusal(tmp_path, case, content, {k: v for k, v in after.items() if v is not None}) is None


def sentences() -> list[str]:
    """Of every refusal in the reader's source the longest piece of its text that does not depend on the file."""
    found = []
    for path in sorted(Path(envwatch.logs.__file__).parent.rglob("*.py")):
        if path.parent.name == "quality" or path.name == "weather.py":
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") in ("BadInput", "Question", "SecondTable"):
                texts = [
                    n.value for n in ast.walk(node.args[0]) if isinstance(n, ast.Constant) and isinstance(n.value, str)
                ]
                found += [max(texts, key=len)] if texts else []
    return found


def test_every_refusal_of_the_reader_is_tried_here(tmp_path):
    told = [refusal(tmp_path, case, case.content, case.answers).statement for case in CASES.values()]
    left = [
        " ".join(piece.split()) for piece in sentences() if not any(" ".join(piece.split()) in text for text in told)
    ]
    left = [piece for piece in left if not any(known.strip() in piece or piece in known for known in LEFT_OUT)]
    assert not left
