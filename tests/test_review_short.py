"""The review on one screen: it counts every painting once, says over what is over, and loses nothing to `--full`."""

import re
from dataclasses import replace

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from envwatch.archive import Studio
from envwatch.cases import review as reviewing
from envwatch.cases.review import TaskLine
from envwatch.cases.review.again import as_kept
from envwatch.cases.review.model import Event, Review, Revised
from envwatch.cases.review.over import OVER, as_it_stands
from envwatch.cases.review.plan import Kind, plan
from envwatch.cases.review.state import look_words
from envwatch.climate.drying_back import Dampness, DryingCourse, DryingStep, Progress
from envwatch.core.findings import Ending, Level, State
from envwatch.core.painting import NOTHING_NEW, Look, Observation
from envwatch.core.text import date, first_sentence, stamp
from envwatch.figures.handling import HOT
from envwatch.present import ledger, terminal
from envwatch.present.terminal.brief import deed
from envwatch.present.words import measure
from tests.test_sheets import ZONE, at, finding, line, quiet_week, review

NOW = pd.Timestamp("2026-11-02T09:00", tz="UTC")
SCREEN = 46  # lines; an event of a room may take two
GONE = at("2026-10-30 14:00")


@pytest.fixture(scope="module")
def w44(demo_of_file):
    with Studio.open(demo_of_file) as studio:
        yield reviewing.make(studio, NOW)


def flat(text: str) -> str:
    return " ".join(text.split())


def numbers(counted: str) -> list[int]:
    return [int(one.replace("one", "1")) for one in re.findall(r"\d+|\bone\b", counted)]


def over(**changes):
    """A finding whose painting was taken elsewhere."""
    return finding(until=GONE, ended=GONE, ended_by=Ending.MOVE, state=State.OVER, place="Haus Querlicht, radiator",
                   now="Studio, easel", **changes)  # fmt: skip


def big(count: int) -> Review:
    """A week of so many paintings: three in each state that asks for somebody, the rest quiet."""
    lines = [line(n, f"A rather long title of painting number {n}", finding(number=n)) for n in range(count)]
    watched = [line(n, f"Watched {n}", finding(level=Level.WATCH, number=n)) for n in range(90, 92)]
    return review(trouble=(*lines[:4], *watched), quiet=tuple(lines[4:]))


# ------------------------------------------------------------------------------------------------------ a screen


def test_an_ordinary_week_of_the_sample_studio_fits_a_screen(w44):
    assert 24 <= len(terminal.brief(w44).splitlines()) <= SCREEN


def test_a_made_week_of_fourteen_paintings_fits_a_screen():
    assert len(terminal.brief(big(11)).splitlines()) <= SCREEN + 4  # the made week has something in every part


@pytest.mark.parametrize("width", [72, 80, 110])
@pytest.mark.parametrize("made", ["w44", "made", "moved"])
def test_no_line_is_wider_than_the_terminal(w44, width, made):
    moved = review(trouble=(line(4, "A title that goes on and on, and on, and on", over(), now="Studio, easel"),))
    shown = {"w44": w44, "made": big(9), "moved": moved}[made]
    assert max(map(len, terminal.brief(shown, width).splitlines())) <= width


def test_each_painting_that_needs_somebody_has_four_lines_in_one_order(w44):
    shown = terminal.brief(w44).splitlines()
    for asking in w44.needing:
        at_ = next(n for n, text in enumerate(shown) if f"[{asking.id}]" in text)
        head, do, because, since, after = shown[at_ : at_ + 5]
        assert asking.level.word in head and asking.now in head and not after
        assert do.strip().startswith("by Mon ")
        assert f"{asking.headline.value:.1f} ± {asking.headline.uncertainty:.1f}" in because
        assert f"limit {asking.headline.limit:g} (our judgement)" in because
        assert "since" in since and "still so" in since and "no own look" in since


# ---------------------------------------------------------------------------------------------------- the counts


def test_the_counts_are_all_paintings_of_the_register(w44, demo_of_file):
    with Studio.open(demo_of_file) as studio:
        kept = len(studio.paintings())
    total, *groups = numbers(ledger.counts(w44))
    assert total == sum(groups) == kept


def test_with_nothing_hung_every_painting_is_counted_as_not_known(tmp_path):
    with Studio.create(tmp_path / "bare", name="Bare", zone=ZONE) as studio:
        for id in ("a", "b", "c"):
            studio.enter("painting", {"id": id, "title": id})
        made = reviewing.make(studio, NOW)
    assert ledger.counts(made) == "Of 3 paintings: 3 not known" and "Of 3 paintings" in terminal.brief(made)


def test_an_empty_studio_is_told_so(tmp_path):
    with Studio.create(tmp_path / "new", name="Empty", zone=ZONE) as studio:
        made = reviewing.make(studio, NOW)
    assert "No painting in the register" in terminal.brief(made) and "No painting" in terminal.review(made)


def test_standing_and_put_off_are_counted_and_a_quiet_week_adds_up():
    stands = replace(line(8, "Mill"), standing="looked, found well Mon 26 Oct 2026")
    made = replace(quiet_week(), standing=(stands,))
    told = flat(terminal.brief(made))
    assert made.is_quiet and "A quiet week: nothing against any of 2 paintings." in told
    assert "Of 3 paintings: 1 standing, 2 nothing against." in told
    assert "looked, found well Mon 26 Oct 2026" in told
    total, *groups = numbers(ledger.counts(review(standing=(stands,))))
    assert total == sum(groups) == 10


# ------------------------------------------------------------------------------------------------- time and place


def test_what_is_over_says_when_and_by_what_and_where_it_is_now():
    gone = line(4, "Harbour", over(), now="Studio, easel", where="Haus Querlicht, radiator")
    for text in (terminal.brief(review(trouble=(gone,))), terminal.review(review(trouble=(gone,)))):
        told = flat(text)
        assert "Studio, easel (then: Haus Querlicht, radiator)" in told
        assert "ended Fri 30 Oct 14:00 (moved)" in told
        assert "still so" not in told
    assert "It has not been looked at since." in flat(terminal.review(review(trouble=(gone,))))


def test_a_due_line_says_what_is_asked_and_then_when_it_ended():
    """Of a task carried over by its words, of one that is new by its finding; where it fits with the light."""
    gone = line(4, "Harbour", finding(number=3), over(number=28, do=look_words("Slack canvas.")))
    record = {**as_kept("P04", over()), "look_for": "Slack canvas."}
    carried = as_it_stands(
        TaskLine(27, GONE, "P07", "Mill", "Heat off.", "carried over"), line(7, "Mill"), record, ZONE
    )
    new = TaskLine(28, at("2026-11-04"), "P04", "Harbour", look_words("Slack canvas."), OVER)
    told = terminal.brief(review(trouble=(gone,), tasks=(new, carried)))
    assert "\ndue Wed 4 Nov [P04] Look at it; ended Fri 30 Oct 14:00 (moved) (done 28)\n" in told.replace(
        " in raking light", ""
    )
    assert "\nwas due Fri 30 Oct [P07] Look at it; ended Fri 30 Oct 14:00 (moved) (done 27)\n" in told
    wide = terminal.brief(review(trouble=(gone,), tasks=(new, carried)), 110)
    assert "[P07] Look at it in raking light; ended Fri 30 Oct 14:00 (moved) (done 27)" in wide


def test_nothing_printed_says_over_for_what_has_ended():
    from dashboards.pages import week
    from envwatch.present.paper import review as sheet
    from tests.test_dashboards import text_of

    gone = line(4, "Harbour", over(), now="Studio, easel", change=State.OVER)
    due = TaskLine(5, GONE, "P05", "Ferry", look_words("Slack canvas."), OVER)
    made = review(trouble=(gone, line(6, "Pond", over(level=Level.WATCH))), tasks=(due,))
    page = text_of(week._row(gone, gone.headline, made, {}, "", None)) + text_of(week._task(due, ZONE, {}))
    for text in (terminal.brief(made), terminal.review(made), str(sheet.content(made)), page):
        assert "ended" in text and not re.search(r"over since|\(over\)|over, not|, over\b|'over'", flat(text))


def test_what_goes_on_never_claims_more_than_was_read():
    goes_on = finding(until=at("2026-11-02 15:00"))  # a mean of 24 hours may reach past the last reading
    read = at("2026-11-02 07:30")
    told = terminal.brief(review(trouble=(line(4, "Harbour", goes_on, read_until=read),)))
    assert "still so Mon 2 Nov 07:30" in told


def test_the_last_own_look_is_told_and_a_telephone_call_is_none():
    own = Observation(at("2026-10-12"), NOTHING_NEW, look=Look.OWN)
    rang = Observation(at("2026-10-20"), NOTHING_NEW, look=Look.TELEPHONE)
    asked = line(4, "Harbour", finding())
    seen = replace(asked, painting=replace(asked.painting, observations=(own, rang)))
    assert "own look Mon 12 Oct: nothing new" in terminal.brief(review(trouble=(seen,)))
    heard = replace(asked, painting=replace(asked.painting, observations=(rang,)))
    assert "no own look" in terminal.brief(review(trouble=(heard,)))


def test_one_event_stands_once_above_its_paintings():
    sentence = "Studio, Sat 31 Oct 03:00: +40 % within two hours, vapour came in."
    event = Event("studio", "Studio", at("2026-10-31 03:00"), None, sentence, ("P01", "P02"))
    lines = tuple(line(n, f"Painting {n}", finding(number=n)) for n in (3, 1, 4, 2))
    told = terminal.brief(review(trouble=lines, events=(event,)))
    assert told.count("vapour came in") == 1
    order = [told.index(word) for word in ("[P03]", "vapour came in", "[P01]", "[P02]", "[P04]")]
    assert order == sorted(order)


def test_the_steps_about_a_hot_painting_stay_in_their_order_on_one_line(w44):
    hot = w44.needing[0].headline
    assert HOT[0] in hot.do
    steps = [deed(hot).find(word) for word in ("Heat off", "cool 6 h", "two lift it", "face up")]
    assert -1 not in steps and steps == sorted(steps) and len(deed(hot)) < len(hot.do)
    assert "two lift it, face up" in terminal.brief(w44)


def test_on_the_studios_own_screen_nobody_is_to_ring_the_conservator(w44):
    for text in (terminal.brief(w44), terminal.review(w44)):
        assert "ring the conservator" not in flat(text.lower())


# ------------------------------------------------------------------------------------------------------- the plan


def dried() -> Progress:
    damp = Dampness(71.3, at("2026-11-01"), 50.0, "the 50 % it was lined at", True)
    steps = (DryingStep(at("2026-11-09"), 67.0), DryingStep(at("2026-11-16"), 62.0))
    course = DryingCourse(at("2026-11-02"), damp, steps, at("2026-11-02"), 71.3, ZONE)
    return Progress("", course.sentence, course)


def test_a_painting_has_one_plan_by_day_and_is_not_stretched_while_it_is_damp():
    asked = line(1, "Mill", finding(by=at("2026-11-12")), drying=dried())
    care = (("2026-11-03", "restretch: glue-paste settled; lining"), ("2026-11-04", "look at the lining, day 7"))
    due = [TaskLine(None, at(day), "P01", "Mill", what, "was due") for day, what in care]
    steps = plan(asked, [TaskLine(12, at("2026-11-12"), "P01", "Mill", asked.headline.do), *due], ZONE)
    assert [step.kind for step in steps] == [Kind.DUE, Kind.DRYING, Kind.DO, Kind.DUE]
    assert steps[-1].on == at("2026-11-16") and "not before the canvas is back" in steps[-1].note
    told = flat(terminal.review(review(trouble=(asked,), tasks=(*due,))))
    assert "due Tue 3 Nov 2026 by its treatment, but not before the canvas is back" in told


def test_a_task_stands_once_with_its_number_and_others_stay_in_the_list():
    told = flat(terminal.review(review()))
    assert told.count("envwatch done 12") == 1 and told.count("envwatch done 8") == 1
    assert "To do" in told and told.index("To do") < told.index("View of a mill: check the tacks")


# ------------------------------------------------------------------------------------------------------- all of it


def fields(made: Review) -> set[str]:
    """Whatever the whole review said of a week before there was a short one, in words."""
    zone = made.period.zone
    told = {*made.opening, *made.arrivals, *made.set_aside, *made.marks, *made.tray, *made.cautions, *made.borne_out}
    told |= {made.period.label, made.period.days, date(made.made_at, zone)}
    for one in made.trouble:
        f = one.headline
        told |= {one.level.word, one.title, one.id, one.where, f.sentence, f.look_for, f.do, date(f.by, zone)}
        told |= {stamp(f.since, zone), first_sentence(f.sentence), str(f.number)}
        told |= {first_sentence(other.sentence) for other in one.others}
        told |= {one.drying.sentence} if one.drying is not None else set()
    for one in made.needing:
        f = one.headline
        told |= {f.avoid, f.clears, measure(f), stamp(f.worst_at, zone)}
    for one in (*made.not_seen, *made.put_off, *made.quiet, *made.waiting):
        told |= {one.title, one.id, one.put_off}
    for due in made.tasks:
        told |= {due.what, due.title, date(due.on, zone), due.note, f"done {due.number}" if due.number else ""}
    told |= {word for pair in made.left_out for word in pair} | {logger.sentence for logger in made.loggers}
    for one in made.places:
        told |= {one.place.name, stamp(one.seen_until, zone)}
        told |= {f"{one.summary.temp_min_c:.1f}–{one.summary.temp_max_c:.1f}"} if one.summary is not None else set()
    return {flat(text) for text in told if text}


@pytest.mark.parametrize("made", ["w44", "made"])
def test_the_whole_review_loses_no_field(w44, made):
    shown = {"w44": w44, "made": review()}[made]
    text = flat(terminal.review(shown, 1_000)).casefold()
    assert not [told for told in fields(shown) if told.casefold() not in text]


def test_what_is_ordinary_is_told_as_what_it_is():
    mild = finding(
        level=Level.WATCH, ordinary="An ordinary heating season, not met before: down to 38 % RH. Look at it."
    )
    shown = review(trouble=(line(4, "Harbour", mild),))
    assert "An ordinary heating season" in terminal.brief(shown, 110)
    assert mild.ordinary in flat(terminal.review(shown))


def test_from_the_minute_of_a_move_each_command_page_and_sheet_says_where_it_is_now(demo_copy):
    from dashboards.pages import painting as page
    from dashboards.pages import week
    from envwatch.cases.painting import handover, record
    from envwatch.present.paper import dossier as paper
    from envwatch.present.paper import review as sheet
    from tests.test_dashboards import text_of

    with Studio.open(demo_copy) as studio:
        studio.move("26-02", "studio", "2026-11-02 09:30", position="easel")
        made, moved = reviewing.make(studio, NOW), record.of(studio, "26-02", NOW)
        gone = handover.of(studio, "26-02", NOW, "2026-10-01", "2026-10-31", with_owner=True)
    hot = next(line for line in made.needing if line.id == "26-02")
    assert (hot.headline.place, hot.now) == ("Haus Querlicht, radiator", "Studio, easel")
    both = "Studio, easel (then: Haus Querlicht, radiator)"
    texts = (terminal.brief(made), terminal.review(made), str(sheet.content(made)), terminal.dossier(moved),
             page._standing(moved), text_of(week._row(hot, hot.headline, made, {}, "1. ", None)))  # fmt: skip
    assert [both in flat(text) for text in texts] == [True] * len(texts)
    assert paper.content(gone)["now"] == "Studio, easel" and gone.line.where == "Haus Querlicht, radiator"
    shown = terminal.brief(made).splitlines()
    first = next(n for n, text in enumerate(shown) if "[26-02]" in text)
    assert "Nothing to stop; look at it before anyone keys or frames it" in shown[first + 2] and not shown[first + 5]
    assert flat(" ".join(shown[first : first + 2])) == f"[●] urgent Herring Fleet… [26-02] · {both}"
    assert hot.headline.do.count("raking light") == 1
    assert "there: Haus Querlicht, radiator" in flat(terminal.dossier(moved))
    assert all("still so" not in flat(text) for text in (terminal.brief(made).partition("Sluice")[0],))


def test_the_page_of_the_week_tells_over_after_now_and_folds_what_stands():
    from dashboards.pages import week
    from tests.test_dashboards import text_of

    goes_on, gone = line(1, "Mill", finding(until=GONE)), line(4, "Harbour", over(), now="Studio, easel")
    gone = replace(gone, ended=GONE)
    stands = replace(line(8, "Ferry", finding()), standing="looked, found well Mon 26 Oct 2026")
    made = review(trouble=(goes_on, gone), standing=(stands,))

    rows = [week._row(one, one.headline, made, {}, "", None) for one in (goes_on, gone)]
    assert "It has not been looked at since." in text_of(rows[1]) and "still so" in text_of(rows[0])
    folded = week._standing(made.standing, "answered by a look", made)
    assert folded.to_plotly_json()["type"] == "Details" and "one painting" in text_of(folded)
    assert "looked, found well Mon 26 Oct 2026" in text_of(folded) and not getattr(folded, "open", False)


@pytest.mark.parametrize("day", ["2026-10-29", "2026-10-30"])
def test_a_move_known_by_its_day_alone_prints_and_draws_the_heat_where_it_was(demo_copy, day):
    """A bare day belongs to both places; of the two readings of that history the finding names its own."""
    with Studio.open(demo_copy) as studio:
        studio.move("26-02", "studio", day, position="easel")
        made = reviewing.make(studio, NOW)
    line_ = next(one for one in made.judged if one.id == "26-02")
    heat = next(f for f in line_.verdict.raised if f.mechanism == "heat")
    assert heat.value == pytest.approx(47.9, abs=0.1) and heat.place == "Haus Querlicht, radiator"
    assert max(line_.trace.temp_c) == pytest.approx(heat.value, abs=0.3) and line_.now == "Studio, easel"
    assert "then: Haus Querlicht, radiator" in terminal.review(made)


def test_weeks_judged_again_stand_first_of_all_with_their_why():
    sentence = "Known since Mon 2 Nov 08:00: from Wed 28 to Sat 31 Oct the store stood at 84 %. Ring the owner of P02."
    late = Revised("2026-W43", NOW, at("2026-10-28"), GONE, sentence, ("P02",), numbers=(7,), level=Level.ACT,
                   weeks=("2026-W43",))  # fmt: skip
    told = flat(terminal.brief(review(revised=(late,))))
    assert f"● {sentence} (envwatch why 7 --week 2026-W43)" in told and told.index(sentence) < told.index("Of 9")


def test_a_long_list_is_cut_and_the_rest_is_counted_by_number():
    watched = tuple(line(n, f"Watched {n}", finding(level=Level.WATCH, number=n)) for n in range(30, 45))
    told = terminal.brief(review(trouble=watched))
    assert told.count("◐ watch") == 8 and "and 7 more watch: P38, P39, P40, P41, P42, P43, P44" in flat(told)
    assert "15 watch" in told


WORDS = st.text(alphabet="aé ß.,;:–(°", max_size=200)


def squeezed(text: str) -> str:
    return "".join(text.split())


@settings(max_examples=60)
@given(title=WORDS, where=WORDS, why=WORDS, width=st.integers(40, 120))
def test_no_title_place_or_reason_is_too_long_for_the_screen(title, where, why, width):
    """Number, place and reason stand whole; of the title what can be read."""
    mild = finding(level=Level.WATCH, ordinary=why, cause=why)
    asks = line(31, title, finding(sentence=why, value=float("nan"), do=why), where=where)
    event = Event(
        "store", where, at("2026-10-31 03:00"), None, f"{where}: {title} (cause: {why}).", ("P31",), cause=why
    )
    stands = replace(line(32, title, mild, where=where), standing=why)
    due = TaskLine(3, at("2026-11-04"), "P33", title, why)
    put_off = line(34, title, mild, where=where, put_off=why)
    watched = line(30, title, mild, where=where)
    made = review(trouble=(asks, watched), told=(stands,), standing=(stands,), events=(event,),
                  put_off=(put_off,), tasks=(due,), left_out=((title, why),))  # fmt: skip
    told = terminal.brief(made, width)
    assert max(map(len, told.splitlines())) <= width and terminal.review(made, width)
    one = squeezed(told.partition("◐ watch")[2].partition("[P34]")[0])
    assert squeezed(title)[:9] in one and "[P30]" in one
    assert squeezed(where) in one and squeezed(first_sentence(why)) in one


@pytest.mark.parametrize(("width", "told"), [
    (72, ["◐ watch  A title of many words that… [P30] · The second store, wall:", "  damp dwell 71.8 % RH, limit 65"]),
    (96, ["◐ watch  A title of many words… [P30] · The second store, wall: damp dwell 71.8 % RH, limit 65"]),
])  # fmt: skip
def test_an_entry_that_one_line_does_not_hold_takes_two(width, told):
    far = line(30, "A title of many words that goes on and on", finding(level=Level.WATCH),
               where="The second store, wall")  # fmt: skip
    shown = terminal.brief(review(trouble=(far,)), width).splitlines()
    first = next(n for n, text in enumerate(shown) if "[P30]" in text)
    assert shown[first : first + len(told)] == told
