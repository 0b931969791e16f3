"""The printed sheet: all that must be on it is on it, and nothing a person writes can spoil it."""

import io
from dataclasses import replace

import numpy as np
import pandas as pd
import pypdf
import pytest

from envwatch import climate
from envwatch.cases.review import LoggerLine, PaintingLine, PlaceLine, Review, Sparkline, TaskLine
from envwatch.climate.series import Climate
from envwatch.core.errors import BadInput
from envwatch.core.findings import Certainty, Ending, Finding, Level, State, Verdict
from envwatch.core.painting import Painting
from envwatch.core.period import iso_week
from envwatch.core.place import Place
from envwatch.present import paper as sheets
from envwatch.present.paper.review import content
from envwatch.present.paper.trace import drawing
from envwatch.present.paper.wording import measure
from envwatch.records import Confidence

ZONE = "Europe/Amsterdam"
WEEK = iso_week("2026-W44", ZONE)
A4_MM, LETTER_MM = (210.0, 297.0), (215.9, 279.4)
MM_A_POINT = 25.4 / 72
HALF_A_MM = 0.5


def at(text: str) -> pd.Timestamp:
    return pd.Timestamp(text, tz=ZONE).tz_convert("UTC")


def finding(**changes) -> Finding:
    plain = Finding(
        "lining", "damp dwell", "lining film (starch and glue paste)", "room", Level.ACT,
        "The paste has been over 65 % for 61 hours: it takes up water and softens.",
        value=71.8, uncertainty=3.0, limit=65.0, unit="% RH", hours=61, since=at("2026-10-28 21:00"),
        worst_at=at("2026-10-30 05:00"), confidence=Confidence.OUR_JUDGEMENT,
        look_for="Slack canvas, a sour smell, lifting at the lower edge.",
        do="Move it off the outer wall, into the studio.", avoid="Do not key out the stretcher now.",
        by=at("2026-11-04"), clears="A week under 60 %.", number=12,
    )  # fmt: skip
    return replace(plain, **changes)


def trace(seed: int = 1, gap: bool = True) -> Sparkline:
    time = pd.date_range(WEEK.start, WEEK.end, freq="h", inclusive="left")
    rng, x = np.random.default_rng(seed), np.arange(len(time))  # the hour of the week
    rh = 62 + 8 * np.sin(x / 40) + 2 * np.sin(x / 24 * 2 * np.pi) + rng.normal(0, 0.4, len(x))
    temp_c = 14 + 2 * np.sin((x - 8) / 24 * 2 * np.pi) + 23 * np.exp(-(((x - 134) / 2.5) ** 2))  # sun on Saturday
    if gap:
        rh[100:112], temp_c[100:112] = np.nan, np.nan
    return Sparkline(time, temp_c, rh)


def line(number: int, title: str, *findings: Finding, where: str = "Picture store, outer wall", **changes):
    judged = Verdict(findings, WEEK.start, WEEK.end, f"P{number:02d}", 0.93)
    painting = Painting(f"P{number:02d}", title, owner="Mrs A. Secret, 5 Hidden Lane")
    return PaintingLine(painting, judged, where, at("2026-11-01 23:45"), **changes)


def place(name: str) -> PlaceLine:
    air = trace(gap=False)
    summary = climate.describe_place(Climate.of(air.time, air.temp_c, air.rh_percent), ZONE, WEEK.start)
    return PlaceLine(Place(name, name, zone=ZONE), summary, at("2026-11-01 23:45"), 4)


def review(**changes) -> Review:
    """An invented week with something in every part."""
    unseen = finding(
        level=Level.UNKNOWN, hazard="mould", mechanism="growth", value=np.nan, limit=np.nan, hours=np.nan, number=13,
        sentence="Only 41 % of the week was read; mould cannot be judged.", decidable_on=at("2026-11-16"),
    )  # fmt: skip
    hot = finding(
        level=Level.URGENT, mechanism="heat, highest hour", layer="lining film (heat-seal film)", value=38.6,
        uncertainty=0.5, limit=38.0, unit="°C", hours=3, since=at("2026-10-31 13:00"), worst_at=at("2026-10-31 14:00"),
        sentence="The film came within 15 °C of softening for 3 hours; the first weeks ask for 20.", number=10,
        confidence=Confidence.COMMON_PRACTICE, certainty=Certainty.CANNOT_TELL, do="Take it away from the window.",
    )  # fmt: skip
    swing = finding(
        level=Level.WATCH, hazard="fluctuation", mechanism="fluctuation", layer="canvas and paint",
        value=11.4, limit=10, sentence="Humidity went 11 % from its seasonal level on Friday.", number=14,
        do="Look at the corners.",
    )  # fmt: skip
    plain = Review(
        studio="Lindenhof Studio", period=WEEK, made_at=at("2026-11-02 08:10"), opening=(),
        arrivals=("7 files, 4 704 readings, 1 Nov 23:45 the last", "loft-2 through 31 Oct 09:00"),
        set_aside=("3 rows of store-north.csv: no humidity in them",),
        marks=("12 readings of loft-2 suspect: sun patch",),
        tray=("crate.csv: 03/04 may be 3 April or 4 March. Answer with --dates dmy|mdy",),
        trouble=(
            line(4, "Harbour at low tide", hot, where="Drying loft, window", trace=trace(2), change="new"),
            line(1, "Portrait of a miller's daughter", finding(), swing, unseen, trace=trace(1), change="worse"),
            line(7, "Still life with pears and a pewter jug", swing, where="Picture store, rack", trace=trace(3)),
        ),
        not_seen=(line(9, "Winter road", unseen, where="Travelling crate"),),
        quiet=(line(2, "View of a mill", finding(level=Level.CLEAR)), line(3, "Two greyhounds")),
        waiting=(line(6, "Peat cutters", replace(unseen, hazard="fluctuation", mechanism="history")),),
        put_off=(line(5, "The ferry", swing, put_off="until 30 Nov 2026: waiting for the owner"),),
        left_out=(("Child with hoop", "care closed"),),
        places=(place("Studio"), place("Picture store"), PlaceLine(Place("crate", "Travelling crate"), None, None, 1)),
        loggers=(
            LoggerLine("L7", "house-hall", "Owner's house, hall", "not fetched", "seen until Sun 11 Oct 09:30"),
            LoggerLine("L2", "loft-2", "Drying loft", "stopped", "stopped inside its file on Sat 31 Oct 09:00"),
        ),
        tasks=(
            TaskLine(8, at("2026-10-30"), "P02", "View of a mill", "check the tacks", "carried over", "no ladder"),
            TaskLine(12, at("2026-11-04"), "P01", "Portrait of a miller's daughter", "move it off the outer wall"),
            TaskLine(None, at("2026-11-09"), "P03", "Two greyhounds", "look at the lining, day 28", "due next"),
        ),
        changes=("Harbour at low tide is new in the list.",),
        cautions=("Do not warm a damp painting quickly.",),
    )  # fmt: skip
    return replace(plain, **changes)


def quiet_week() -> Review:
    return review(
        trouble=(), not_seen=(), tray=(), loggers=(), put_off=(), waiting=(), left_out=(), changes=(), cautions=(),
        tasks=review().tasks[2:],
    )  # fmt: skip


def text_of(pdf: bytes) -> str:
    """All words of a PDF, on one line."""
    pages = pypdf.PdfReader(io.BytesIO(pdf)).pages
    return " ".join(" ".join(page.extract_text() for page in pages).split())


@pytest.fixture(scope="module")
def sheet() -> str:
    return text_of(sheets.weekly(review()))


@pytest.mark.parametrize(
    "words",
    [
        "This week in Lindenhof Studio", "2026-W44", "Mon 26 Oct to Sun 1 Nov 2026",
        "1. Harbour at low tide", "2. Portrait of a miller's daughter", "Drying loft, window",
        "Lining film (starch and glue paste)", "The paste has been over 65 % for 61 hours", "Wed 28 Oct 21:00",
        "Slack canvas, a sour smell", "by Wed 4 Nov Move it off the outer wall, into the studio",
        "Do not key out the stretcher now", "urgent", "watch",
        "Winter road", "mould (growth from Mon 16 Nov 2026)",
        "Peat cutters (P06): fluctuation (history from Mon 16 Nov 2026)",
        "crate.csv: 03/04 may be 3 April or 4 March", "To fetch, place by place", "house-hall",
        "Stopped or flat: go and look", "loft-2", "carried over: no ladder", "look at the lining, day 28",
        "Do not warm a damp painting quickly", "working limit‡", "Child with hoop: care closed",
        "until 30 Nov 2026: waiting for the owner", "Printed Mon 2 Nov 08:10 2026", "not a warranty",
        "the readings leave the level open",
    ],
)  # fmt: skip
def test_what_must_be_on_the_sheet_is_on_it(sheet, words):
    assert words.replace("'", "’") in sheet.replace("'", "’")


def test_a_limit_of_our_judgement_is_said_in_the_first_line_and_only_once_and_a_studios_own_never():
    told = text_of(sheets.weekly(review(trouble=(line(1, "Mill", finding()),))))
    assert "softens.‡" in told and told.count("‡ working limit of envwatch") == 1
    said = finding(sentence="Damp for 61 hours; act from 65 % (limit: our judgement).")
    own = finding(source="studio")
    for other in (said, own):
        assert ".‡" not in text_of(sheets.weekly(review(trouble=(line(1, "Mill", other),)))).replace("65 %‡.", "")


def test_a_painting_to_watch_stands_apart_from_those_that_need_a_person(sheet):
    apart = sheet.index("To watch")
    assert sheet.index("2. Portrait") < apart < sheet.index("Still life with pears")
    assert "Of 9 paintings: 1 urgent, 1 act, 1 watch, 1 put off, 1 not known, 3 nothing against, 1 not judged" in sheet


def test_the_sheet_says_which_limit_the_sensor_cannot_tell_the_value_from():
    near = finding(value=66.0, certainty=Certainty.CANNOT_TELL)
    past = finding(value=77.0, certainty=Certainty.CANNOT_TELL)  # certainly over 65, but the next limit may be at 78
    assert measure(near).endswith("the sensor cannot tell the two apart")
    assert measure(past).endswith("the readings leave the level open")
    assert "cannot tell" not in measure(finding())


def test_what_was_assumed_names_its_paintings(sheet):
    assumed = replace(line(4, "Mill", finding()).verdict, notes=("size taken as animal glue",))
    two = tuple(replace(line(n, "Mill", finding()), verdict=assumed) for n in (4, 6))
    assert "P04, P06: size taken as animal glue" in text_of(sheets.weekly(review(trouble=two)))


def test_no_owner_is_on_the_sheet(sheet):
    assert "Secret" not in sheet and "Hidden Lane" not in sheet


def test_paintings_stand_in_the_order_of_the_review(sheet):
    titles = [line.title for line in review().needing]
    places = [sheet.index(f"{rank}. {title[:8]}") for rank, title in enumerate(titles, 1)]
    assert places == sorted(places)


def test_a_painting_of_which_nothing_was_read_says_so():
    none = replace(line(9, "Winter road", finding(level=Level.UNKNOWN)), seen_until=None)
    none = replace(none, verdict=replace(none.verdict, coverage=0.0))
    told = text_of(sheets.weekly(review(not_seen=(none,))))
    assert "nothing was read" in told and "0% of the time was read: no hazard can be called clear." in told


def test_a_quiet_week_with_a_rule_not_decided_yet_says_so():
    told = text_of(sheets.weekly(replace(quiet_week(), waiting=review().waiting)))
    assert "nothing against 3 paintings as far as seen, 1 of them not decided on every count yet" in told


def test_a_place_without_readings_is_not_known_rather_than_blank():
    row = next(row for row in content(review())["places"] if row[0] == "Travelling crate")
    assert row[1:7] == ["not known"] * 6 and row[7] == "never"


def test_a_quiet_week_is_one_page_with_one_line_and_what_is_due():
    pdf = sheets.weekly(quiet_week())
    assert len(pypdf.PdfReader(io.BytesIO(pdf)).pages) == 1
    words = text_of(pdf)
    assert "A quiet week: nothing against 2 paintings." in words and "day 28" in words
    assert "Places" not in words and "Logger files" not in words


def test_every_page_says_which_page_of_how_many_it_is():
    many = tuple(line(n, f"Painting number {n}", finding()) for n in range(20))
    pages = pypdf.PdfReader(io.BytesIO(sheets.weekly(review(trouble=many)))).pages
    assert len(pages) > 1
    for number, page in enumerate(pages, 1):
        assert f"page {number} of {len(pages)}" in " ".join(page.extract_text().split())


@pytest.mark.parametrize(("paper", "size_mm"), [("a4", A4_MM), ("letter", LETTER_MM), ("us-letter", LETTER_MM)])
def test_the_paper_is_the_one_asked_for(paper, size_mm):
    box = pypdf.PdfReader(io.BytesIO(sheets.weekly(review(), paper))).pages[0].mediabox
    seen = float(box.width) * MM_A_POINT, float(box.height) * MM_A_POINT
    assert seen == pytest.approx(size_mm, abs=HALF_A_MM)


def test_another_paper_is_refused_in_one_line():
    with pytest.raises(BadInput, match="a4 or letter"):
        sheets.weekly(quiet_week(), "a5")


def test_the_same_review_gives_the_same_bytes():
    assert sheets.weekly(review()) == sheets.weekly(review())


def test_the_sheet_bears_the_time_of_the_review():
    made = pypdf.PdfReader(io.BytesIO(sheets.weekly(review()))).metadata.creation_date
    assert pd.Timestamp(made).tz_convert("UTC") == review().made_at


HOSTILE = [
    "#panic(\"no\") *bold* _it_ $x^2$ <label> @ref \\ // /* `raw` [x] {y} = heading",
    "#read(\"/etc/passwd\") #import \"@preview/x:1.0.0\": *",
    "<img src=x onerror=alert(1)> &amp; </svg><script>",
    "W" * 400,
    "\u202egnp.exe\u202c \u2066left\u2069 \u0000\u0007\x1b[31m",
    "\u05e9\u05dc\u05d5\u05dd \u0633\u0644\u0627\u0645 \u6f22\u5b57 \U0001f5bc Ångström",
    "half a pair \ud83d",
    "",
]  # fmt: skip


@pytest.mark.parametrize("title", HOSTILE)
def test_hostile_text_is_set_as_text(title):
    changes = dict.fromkeys(("sentence", "look_for", "do", "avoid", "clears", "layer"), title)
    bad = line(4, title, finding(**changes), where=title, trace=trace())
    hostile = review(
        studio=title, trouble=(bad,), arrivals=(title,), tray=(title,), cautions=(title,), opening=(title,),
        loggers=(LoggerLine("L1", title, title, "stopped", title),),
        tasks=(TaskLine(1, None, "P01", title, title, "carried over", title),), left_out=((title, title),),
        places=(PlaceLine(Place("x", title), None, None, 0),),
    )  # fmt: skip
    pdf = sheets.weekly(hostile)
    words = text_of(pdf)
    for sign in ("#panic", "#read", "<img", "alert(1)", "$x^2$", "`raw`"):
        assert (sign in words) == (sign in title)
    assert "\u202e" not in words and "\x1b" not in words


def test_a_very_long_word_stays_on_the_paper():
    width = float(pypdf.PdfReader(io.BytesIO(sheets.weekly(quiet_week()))).pages[0].mediabox.width)
    ends: list[float] = []

    def note(text, _, matrix, font, size):
        if "W" * 4 in text:
            ends.append(matrix[4] + 0.7 * size * len(text.strip()))  # a W is about 0.9 of the size wide

    pdf = sheets.weekly(review(trouble=(line(4, "W" * 300, finding()),)))
    for page in pypdf.PdfReader(io.BytesIO(pdf)).pages:
        page.extract_text(visitor_text=note)
    assert ends and max(ends) < width


def test_more_than_a_page_about_one_painting_goes_over_to_the_next():
    told = finding(look_for="A long sign. " * 1_000, clears="The very last words.")
    pages = pypdf.PdfReader(io.BytesIO(sheets.weekly(review(trouble=(line(4, "Mill", told),))))).pages
    last = next(n for n, page in enumerate(pages) if "very last words" in " ".join(page.extract_text().split()))
    first = next(n for n, page in enumerate(pages) if "1. Mill" in page.extract_text())
    assert last > first


def test_a_hundred_paintings_fit_on_as_many_pages_as_they_need():
    many = tuple(line(n, f"Painting number {n}", finding()) for n in range(100))
    words = text_of(sheets.weekly(review(trouble=many)))
    assert all(f"{n + 1}. Painting number {n}" in words for n in range(100))


def test_the_drawing_leaves_out_what_was_not_read():
    whole, holed = (drawing(trace(gap=gap), finding(), ZONE)["svg"].count("M") for gap in (False, True))
    assert holed > whole


def test_the_drawing_shows_a_limit_of_the_air_and_not_the_limit_of_a_swing():
    assert drawing(trace(), finding(), ZONE)["limit"] == "65"
    swing, elsewhere = finding(value=11.4, limit=10.0), finding(point="canvas_back")
    assert drawing(trace(), swing, ZONE)["limit"] is None
    assert drawing(trace(), elsewhere, ZONE)["limit"] is None


def test_nothing_is_drawn_where_nothing_was_read():
    air = trace()
    nothing = replace(air, rh_percent=np.full(len(air.time), np.nan))
    assert drawing(nothing, finding(), ZONE) is None and drawing(None, finding(), ZONE) is None


TWELVE_MOST = 2  # pages


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_a_week_of_twelve_paintings_takes_two_pages(demo_of_file, paper):
    """The sample studio has 14; a made week of 12 has four that need somebody, two to watch, and every other part."""
    from envwatch.archive import Studio
    from envwatch.cases.review import make
    from tests.test_review_short import NOW, big

    with Studio.open(demo_of_file) as studio:
        sample = make(studio, NOW)
    for week in (sample, big(10)):
        assert len(week.judged) >= 12
        assert len(pypdf.PdfReader(io.BytesIO(sheets.weekly(week, paper))).pages) <= TWELVE_MOST


def test_the_answer_stands_first_and_rooms_loggers_and_files_last(sheet):
    heads = ("Of 9 paintings", "Paintings that need me", "1. Harbour", "To watch", "Not known", "Besides, to do",
             "Take care", "Places", "Loggers", "For the record", "crate.csv")  # fmt: skip
    places = [sheet.index(head) for head in heads]
    assert places == sorted(places)


def test_a_painting_has_its_steps_with_boxes_before_its_reasons_and_no_step_twice(sheet):
    deed, why = sheet.index("Move it off the outer wall"), sheet.index("The paste has been over 65 %")
    assert deed < why and sheet.lower().count("move it off the outer wall") == 1


def test_what_is_over_says_so_on_the_sheet_with_both_places():
    gone = finding(until=at("2026-10-30 14:00"), ended=at("2026-10-30 14:00"), ended_by=Ending.MOVE,
                   state=State.OVER, place="Haus Querlicht, radiator")  # fmt: skip
    told = text_of(sheets.weekly(review(trouble=(line(4, "Harbour", gone, now="Studio, easel"),))))
    assert "It ended Fri 30 Oct 14:00 (moved). It has not been looked at since" in told
    assert "Studio, easel (then: Haus Querlicht, radiator)" in told and "still so" not in told


def test_what_stands_is_folded_with_its_reason(sheet):
    stands = replace(line(8, "Mill", finding()), standing="looked, found well Mon 26 Oct 2026")
    told = text_of(sheets.weekly(review(standing=(stands,))))
    assert "1 standing" in told and told.index("For the record") < told.index("looked, found well Mon 26 Oct 2026")
