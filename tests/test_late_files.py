"""Readings that come into reviewed weeks afterwards have these judged again: told once, with what rested on them.

That days at 84 % are far over the limit of a lining of paste or glue is envwatch's own judgement; dates, weeks, papers,
and who stood where are foretold by hand from the register and the files made here.
"""

import json
import shutil
from base64 import b64encode

import numpy as np
import pandas as pd
import pytest
from program import run
from sqlalchemy import select, update
from test_dashboards import text_of
from test_sheets import finding

from dashboards import create_app
from dashboards.pages import files
from dashboards.pages import painting as painting_page
from dashboards.pages import week as week_page
from envwatch.archive import Studio, reviews
from envwatch.archive.store.tables import REVIEWS
from envwatch.cases import review
from envwatch.cases.painting import record
from envwatch.cases.review import again, revised, stretches
from envwatch.climate.series import Climate
from envwatch.core import period
from envwatch.core.findings import Level
from envwatch.core.painting import Painting
from envwatch.present import terminal
from envwatch.present.paper.review import content
from envwatch.present.plain import plain

ZONE = "Europe/Berlin"
HOUR, DAY = pd.Timedelta(hours=1), pd.Timedelta(days=1)
PASTE = "".join(f"{id},1,film,glue_paste,2025-03-03\n" for id in "pqz")
REGISTER = {
    "places": "id,name,kind\nstore,Store,store\nroom,Studio,studio\nhouse,Mill House,house\n",
    "loggers": "id,name,labels\ns,Store logger,S-1\nr,Room logger,R-1\n",
    "hangings": "logger,channel,place,position,from,to\ns,,store,rack,2025-01-01,\nr,,room,rack,2025-01-01,\n",
    "paintings": "id,title,backed,made\np,Harbour,no,1880\nq,Moor,no,1880\nz,Dyke,no,1880\n",
    "layers": f"painting,order,role,material,applied_on\n{PASTE}",
    "stays": "painting,place,position,from,to\np,store,rack,2025-01-01,\nq,store,rack,2025-01-01,\n"
    "z,room,rack,2025-01-01,\n",
}
BEGIN, W44, W47 = (pd.Timestamp(day, tz=ZONE) for day in ("2025-03-03", "2025-10-27", "2025-11-17"))
DAMP = W44 + 2 * DAY, W44 + 6 * DAY  # Wednesday to Saturday night
STORED = ("2025-W43", "2025-W44", "2025-W45", "2025-W46")


def week(label):
    return period.iso_week(label, ZONE)


def monday_after(label):
    return week(label).end + 9 * HOUR


def file_of(folder, logger, start, end, damp=None, percent=84.0, still=False):
    """Hourly readings at 18 °C and 50 %, but for a damp spell, in which it may stand still, in a file of their own."""
    times = pd.date_range(start, end, freq="h", inclusive="left")
    wobble = np.sin(np.arange(len(times)))  # a logger that stands still is doubted
    rh = 50 + wobble
    if damp is not None:
        rh = np.where((times >= damp[0]) & (times < damp[1]), percent + wobble * (not still), rh)
    rows = [f"{t.tz_convert('UTC'):%Y-%m-%dT%H:%M:%S}Z,18.0,{p:.1f}" for t, p in zip(times, rh, strict=True)]
    path = folder / f"{logger}-{start:%m%d%H}-{end:%m%d%H}-{percent:.0f}.csv"
    path.write_text(
        "\n".join([f"Logger: {logger}", "Time,Temperature (°C),Humidity (%)", *rows]) + "\n", encoding="utf-8"
    )
    return path


def make(house, label):
    return review.make(house, monday_after(label), week(label))


def keep(house, label):
    return review.keep(house, make(house, label))


@pytest.fixture(scope="module")
def before(tmp_path_factory):
    """Studios with reviews kept: "unread", the store not fetched since W43; "damp", all read; "begun", of W43 alone."""
    made = {}
    for name, until, damp in (("unread", W44, None), ("damp", W47, DAMP), ("begun", W44, None)):
        folder = tmp_path_factory.mktemp(name)
        for table, text in REGISTER.items():
            (folder / f"{table}.csv").write_text(text, encoding="utf-8")
        with Studio.create(folder / "studio", name="A studio", zone=ZONE) as house:
            house.import_register(folder)
            house.add([file_of(folder, "S-1", BEGIN, until, damp, 68.0), file_of(folder, "R-1", BEGIN, W47 + 8 * DAY)])
            assert not any(keep(house, label).revised for label in (STORED if name != "begun" else STORED[:1]))
        made[name] = folder / "studio"
    return made


@pytest.fixture
def unread(before, tmp_path):
    with Studio.open(shutil.copytree(before["unread"], tmp_path / "unread")) as house:
        yield house


@pytest.fixture
def damp(before, tmp_path):
    with Studio.open(shutil.copytree(before["damp"], tmp_path / "damp")) as house:
        yield house


@pytest.fixture
def begun(before, tmp_path):
    with Studio.open(shutil.copytree(before["begun"], tmp_path / "begun")) as house:
        yield house


@pytest.fixture
def late(tmp_path):
    """The store's file with the damp days in it, fetched after three more reviews."""
    return file_of(tmp_path, "S-1", W44, W47 + 7 * DAY, DAMP)


def test_a_damp_spell_in_a_file_that_came_late_opens_the_next_review(unread, late):
    unread.observe("p", "2025-11-12", "nothing new")
    unread.treat("p", "varnish", "2025-11-13")
    unread.add([late])
    (one,) = make(unread, "2025-W47").revised
    assert (one.label, one.paintings, one.level) == ("2025-W44, 2025-W45", ("p", "q"), Level.URGENT)
    assert DAMP[0] <= one.began < one.ended <= DAMP[1] + DAY and not one.taken_back
    assert one.known_since > pd.Timestamp.now(tz="UTC") - pd.Timedelta(hours=1)
    assert one.papers == ("review of Mon 3 Nov", "review of Mon 10 Nov")
    for told in (
        "Known since ", "Store stood at up to 85 % RH; ended, read without gap since.",
        "There then: Harbour [p] (urgent); Moor [q] (urgent).",
        'Our reviews of Mon 3 Nov and Mon 10 Nov did not know it: correct them.',
        "Treated since: varnish of Thu 13 Nov (p).", "Looked at since: p Wed 12 Nov (unknown): nothing new.",
        "Not looked at since: q.", "By now look for: ",
    ):  # fmt: skip
        assert told in one.sentence


def test_adding_the_file_says_so_at_once_and_in_json(unread, late):
    unread.close()
    out = run("add", late, "--studio", unread.folder)
    text = " ".join(out.stdout.split())
    assert out.returncode == 0 and "! Reviewed before and judged again: 2025-W44, 2025-W45." in text
    assert (
        "Harbour [p] is raised by it (urgent); Moor [q] is raised by it (urgent)" in text and "envwatch review" in text
    )
    assert "Dyke" not in text
    again = run("add", late, "--studio", unread.folder, "--json")
    assert json.loads(again.stdout)["revised"] == []


def test_the_terminal_the_sheet_and_the_json_open_with_it_and_why_follows(unread, late):
    unread.add([late])
    unread.close()
    out = run("review", "--full", "--week", "2025-W47", "--as-of", "2025-11-24", "--studio", unread.folder).stdout
    lines = out.splitlines()
    assert lines.index("Reviewed weeks judged again: 1") < lines.index("Logger files")
    asked = next(line for line in lines if "envwatch why" in line).split()
    told = run(*asked[1:], "--studio", unread.folder).stdout
    assert "84.0" in told and "kept on Mon 3 Nov 2025, did not raise it" in " ".join(told.split())
    assert "84.0 % RH" in run("why", asked[2], "--studio", unread.folder).stdout  # a kept review knows its week
    with Studio.open(unread.folder) as house:
        kept = reviews.last_review(house)["record"]["revised"]
        assert kept[0]["paintings"] == ["p", "q"] and kept[0]["numbers"][0] == int(asked[2])
        assert "rested" not in plain(make(house, "2025-W47"))


def test_the_sheet_has_the_sentence_first_and_the_page_of_json_the_field(unread, late):
    unread.add([late])
    made = make(unread, "2025-W47")
    assert content(made)["revised"] == [made.revised[0].sentence] and not made.is_quiet
    assert plain(made)["revised"][0]["papers"] == ["review of Mon 3 Nov", "review of Mon 10 Nov"]


def test_one_that_went_home_meanwhile_is_named_with_its_handover_and_its_owner_is_rung(unread, late):
    unread.treat("q", "handover", "2025-11-04", adds_layer=False)
    unread.move("q", "house", "2025-11-04 15:00")
    unread.add([late])
    made = keep(unread, "2025-W47")
    assert "q" not in {line.id for line in made.judged}
    (one,) = made.revised
    assert DAMP[0] <= one.began < one.ended <= DAMP[1] + DAY  # what it did in the store, not until it left
    assert "Moor [q] (urgent, here until Tue 4 Nov 2025)" in one.sentence
    assert "and handover of Tue 4 Nov (q)" in one.sentence and "correct them, ring the owner of q" in one.sentence
    due = next(due for due in made.tasks if due.painting_id == "q")
    assert due.what.startswith("Ring the owner") and "Correct: handover of Tue 4 Nov (q)." in due.what
    following = review.tasks_of(unread, (), week("2025-W48"), monday_after("2025-W48"))
    carried = {due.painting_id: due.what for due in following}
    assert set(carried) == {"p", "q"} and "Correct: handover of Tue 4 Nov (q)." in carried["q"]
    rests = record.of(unread, "Moor", monday_after("2025-W47")).revised
    assert any(told.startswith("The handover of Tue 4 Nov (q) rests on air since revised") for told in rests)
    assert not any("handover" in told for told in record.of(unread, "Harbour", monday_after("2025-W47")).revised)


def test_what_a_paper_is_to_be_corrected_for_stays_with_the_task(unread, late):
    unread.treat("p", "handover", "2025-11-20", adds_layer=False)  # on record, and it has not left
    unread.add([late])
    keep(unread, "2025-W47")
    due = next(due for due in make(unread, "2025-W48").tasks if due.painting_id == "p")
    assert due.number is not None and "It ended Sun 2 Nov" in due.what
    assert due.what.endswith("Correct: handover of Thu 20 Nov (p).")


def test_it_is_told_once_and_again_whenever_the_same_week_is_reviewed(unread, late):
    unread.add([late])
    assert make(unread, "2025-W47").revised and make(unread, "2025-W47").revised
    told = keep(unread, "2025-W47").revised
    assert told and make(unread, "2025-W47").revised == told and make(unread, "2025-W48").revised == ()
    assert keep(unread, "2025-W47").revised == make(unread, "2025-W47").revised == told
    assert told[0].sentence in content(make(unread, "2025-W47"))["revised"]
    assert revised.at_once(unread) == ()


def test_a_look_of_ones_own_after_it_is_had_and_the_second_one_is_asked_for_where_due(unread, late):
    """Damp is looked at once more 14 days after it was over, here on 16 Nov; common practice, the days are ours."""
    unread.add([late])
    asked = {due.painting_id: due.what for due in make(unread, "2025-W47").tasks}
    assert all("Nothing to stop. Look at it" in asked[id] and "not been looked at since" in asked[id] for id in "pq")
    unread.observe("p", "2025-11-12", "nothing new", look="own")
    assert "Second look: it ended" in next(d.what for d in make(unread, "2025-W47").tasks if d.painting_id == "p")
    unread.observe("p", "2025-11-18", "nothing new", look="own")
    made = make(unread, "2025-W47")
    assert {due.painting_id for due in made.tasks} == {"q"}
    assert (
        "Looked at since: p Wed 12 Nov (own): nothing new; p Tue 18 Nov (own): nothing new." in made.revised[0].sentence
    )


def test_a_date_corrected_back_says_that_the_review_had_said_the_same(damp, tmp_path):
    """A move entered with a wrong date takes back what the review had said; the right date has it stand again."""
    assert not make(damp, "2025-W47").revised
    damp.move("p", "room", "2025-10-01")
    taken = keep(damp, "2025-W47").revised
    assert [one.taken_back for one in taken if "p" in one.paintings and "2025-W44" in one.label] == [True]
    stays = "p,store,rack,2025-01-01,2025-11-20\np,room,rack,2025-11-20,\nq,store,rack,2025-01-01,\n"
    (tmp_path / "stays.csv").write_text(f"painting,place,position,from,to\n{stays}z,room,rack,2025-01-01,\n")
    damp.import_register(tmp_path)
    (again,) = (one for one in make(damp, "2025-W48").revised if "p" in one.paintings)
    assert "Our review of Mon 3 Nov said the same: it stands again." in again.sentence
    assert "said nothing" not in again.sentence and "correct" not in again.sentence
    assert again.papers == ()


def test_what_a_later_review_had_said_of_a_week_is_taken_back_from_it_and_stands_again(damp):
    """By hand: only had it left the damp store on 1 November did its canvas move by so much in the next week."""

    def of_p(made):
        return next(one for one in made.revised if "p" in one.paintings)

    damp.move("p", "room", "2025-11-01")
    assert "Our review of Mon 10 Nov said nothing against it: correct it." in of_p(keep(damp, "2025-W46")).sentence
    damp.move("p", "room", "2025-11-05", instead="room")
    taken = of_p(keep(damp, "2025-W47"))
    assert taken.taken_back and "what our review of Mon 17 Nov said of Harbour [p] in 2025-W45" in taken.sentence
    assert taken.papers == ("review of Mon 17 Nov",)
    damp.move("p", "room", "2025-11-01", instead="room")
    stands = of_p(make(damp, "2025-W48"))
    assert "Our review of Mon 17 Nov said the same: it stands again." in stands.sentence
    assert "Our review of Mon 10 Nov said nothing against it: correct it." in stands.sentence


def test_of_a_week_reviewed_twice_the_review_that_had_said_it_is_told_too(damp):
    """The first review of a week raised it, the second, made while a wrong date stood, did not."""
    damp.move("p", "room", "2025-10-01")
    review.keep(damp, review.make(damp, monday_after("2025-W46"), week("2025-W44")))
    damp.move("p", "room", "2025-11-20", instead="room")
    (one,) = (one for one in make(damp, "2025-W48").revised if "p" in one.paintings)
    assert "Our review of Mon 3 Nov said the same: it stands again." in one.sentence
    assert "Our review of Mon 17 Nov said nothing against it: correct it." in one.sentence


def test_a_milder_statement_is_not_called_silence(damp):
    """Watch at 68 %; a check has the logger read four too low: at 72 % it is over the limit of 70 % to act."""
    damp.calibrate("s", "2025-03-01", rh_points=((70.0, 66.0),))
    told = [one.sentence for one in make(damp, "2025-W47").revised if not one.taken_back]
    assert any("Our review of Mon 3 Nov said less of it: correct it." in one for one in told)
    assert not any("said nothing of it" in one for one in told)


@pytest.mark.parametrize(("kept", "levels", "words"), [
    ({"damp": 3}, 3, "said a part of it"), ({"damp": 2}, 2, "said less of it"), ({"heat": 3}, 3, "said nothing of it"),
    ({}, 0, "said nothing against it"), ({}, 1, "did not know it"),
])  # fmt: skip
def test_what_a_review_had_said_is_told_by_what_it_said_of_the_same_harms(kept, levels, words):
    """Raised now: damp and cold, both to act."""
    now = [finding(level=Level.ACT, hazard="lining", mechanism=harm) for harm in ("damp", "cold")]
    said = [{"painting": "p", "hazard": "lining", "mechanism": harm, "level": level} for harm, level in kept.items()]
    record = {"made_at": W47, "record": {"levels": {"p": levels}, "findings": said}}
    was = again.Week(record, week("2025-W46"), {}, [(W47, said)])
    spell = revised.RaisedNow(
        Painting("p", "Harbour"), None, now[0], "damp", "store", "rack", W44, W47, W47, (was,), "2025-W46",
        tuple((was, one) for one in now),
    )  # fmt: skip
    assert revised._said([spell], [was]) == words


def test_only_a_look_after_the_end_is_a_look_since(unread, late):
    unread.observe("p", "2025-10-31", "nothing new", look="own")
    unread.add([late])
    (one,) = make(unread, "2025-W47").revised
    assert "Looked at while it lasted: p Fri 31 Oct (own): nothing new. Not looked at since: p and q." in one.sentence


def test_two_spells_of_one_finding_are_told_apart_and_what_nobody_read_parts_none():
    time = pd.date_range(W44, periods=240, freq="h").tz_convert("UTC")
    rh = np.where((np.arange(240) % 120 >= 20) & (np.arange(240) % 120 < 60), 85.0, 55.0)
    spell, found = (time[10], time[190]), [finding(limit=limit) for limit in (78.0, 70.0)]
    air = Climate.of(time, np.full(240, 18.0), rh)
    assert stretches.stretches(air, "damp", found, spell) == [(time[10], time[60]), (time[140], time[190])]
    assert stretches.words(stretches.stretches(air, "damp", found, spell), ZONE) == (
        "Mon 27 Oct 10:00 to Wed 29 Oct 12:00, and again Sat 1 Nov 20:00 to Mon 3 Nov 22:00")  # fmt: skip
    unread = Climate.of(time, np.full(240, 18.0), np.where(rh == 55, np.nan, rh))
    brief = Climate.of(time, np.full(240, 18.0), np.where(np.arange(240) % 25 < 20, 85.0, 55.0))
    for other in (unread, brief):
        assert stretches.stretches(other, "damp", found, spell) == [spell]
    assert stretches.stretches(air, "swing", found, spell) == [spell]
    assert stretches.stretches(air, "dry", [finding(limit=60.0)], spell) != [spell]


def test_what_merely_goes_on_from_where_a_review_had_read_is_not_late(begun, tmp_path):
    """Fetched on Saturday at noon, the rest a week later: damp in that rest is the next review's to tell."""
    saturday = W44 + 5 * DAY + 12 * HOUR
    begun.add([file_of(tmp_path, "S-1", W44, saturday)])
    keep(begun, "2025-W44")
    begun.add([file_of(tmp_path, "S-1", saturday, W44 + 14 * DAY, (saturday, W44 + 8 * DAY))])
    made = make(begun, "2025-W45")
    assert made.revised == () and {line.id for line in made.needing} == {"p", "q"}
    assert made.rested["judged_again"] == {}


def test_a_week_of_which_nothing_had_been_read_is_late_a_week_later_too(begun, tmp_path):
    keep(begun, "2025-W44")
    begun.add([file_of(tmp_path, "S-1", W44, W44 + 14 * DAY, DAMP)])
    made = make(begun, "2025-W45")
    (one,) = made.revised
    assert one.label == "2025-W44" and one.paintings == ("p", "q") and "ended, read without gap since" in one.sentence
    assert len([due for due in made.tasks if due.painting_id == "p"]) == 1


@pytest.mark.parametrize("name", ["S-1 November.csv", "download (3).csv"])
def test_a_logger_whose_file_waits_in_the_tray_is_not_to_be_fetched(unread, tmp_path, name):
    rows = [f"2025-{hour:%m-%d} {hour:%H:%M},18.0,84.0" for hour in pd.date_range("2025-10-25", periods=90, freq="h")]
    (tmp_path / name).write_text("\n".join(["Logger: S-1", "Time,Temperature (°C),Humidity (%)", *rows]))
    assert next(line for line in make(unread, "2025-W44").loggers if line.id == "s").state == "not fetched"
    report = unread.add([tmp_path / name])
    assert [one.status for one in report.outcomes] == ["in the tray"]
    made = make(unread, "2025-W44")
    assert next(line for line in made.loggers if line.id == "s").state == "in the tray"
    assert "waits in the tray: Store logger" in terminal.brief(made) and "fetch: Store" not in terminal.brief(made)
    assert "a file waits in the tray as 1" in " ".join(terminal.review(made).split())
    assert "Waits in the tray: answer" in str(content(made)["loggers"])


def test_the_pages_say_it_too(unread, late):
    unread.close()
    app = create_app(unread.folder, now=lambda: monday_after("2025-W47"))
    with app.server.test_request_context("/"):
        content = f"data:text/csv;base64,{b64encode(late.read_bytes()).decode()}"
        dropped = text_of(files._taken([content], [late.name]))
        assert "Reviewed before and judged again: 2025-W44, 2025-W45. Harbour [p] is raised by it (urgent)" in dropped
        home = app.server.config["HOUSE"]
        assert "Known since " in text_of(week_page.layout(home, "", {"week": "2025-W47"}))
        assert "The review of Mon 3 Nov rests on air since revised (make the review" in text_of(
            painting_page.layout(home, "p", {})
        )
    app.server.config["HOUSE"].close()


def test_a_stay_entered_later_has_the_week_judged_again_in_the_air_it_then_had(damp):
    """By the register it stood in the dry room all along; it had been carried to the store for those days."""
    damp.move("z", "store", "2025-10-28 09:00", position="rack", until="2025-11-03 09:00")
    (one,) = make(damp, "2025-W46").revised
    assert one.paintings == ("z",) and one.label.startswith("2025-W44") and one.level == Level.WATCH
    assert " by the register: " in one.sentence and "Our review of Mon 3 Nov said nothing against it" in one.sentence


def test_a_logger_that_hung_elsewhere_after_all_leaves_what_it_said_not_known(damp):
    damp.set_hanging("s", "room", "2025-10-27", position="easel", until="2025-11-03")
    back = [one for one in make(damp, "2025-W46").revised if one.taken_back]
    assert {one.paintings for one in back} == {("p",), ("q",)}
    assert all("now not known: " in one.sentence for one in back if one.label == "2025-W44")


def test_where_nothing_changed_nothing_is_said_and_nothing_judged_again(damp, tmp_path):
    assert revised.at_once(damp) == ()
    damp.add([file_of(tmp_path, "S-1", W47, W47 + 7 * DAY)])
    assert revised.at_once(damp) == ()
    made = keep(damp, "2025-W47")
    assert made.revised == () and made.rested["judged_again"] == {}
    assert set(made.rested["rested_on"]) == {"p", "q", "z"}


def test_readings_that_somebody_takes_out_take_back_what_they_said_and_leave_it_not_known(begun, tmp_path):
    begun.add([file_of(tmp_path, "S-1", W44, W44 + 14 * DAY, DAMP, still=True)])
    keep(begun, "2025-W44")
    begun.answer_marks("s", "out", "2025-10-29", "2025-11-02", because="it lay in a bag")
    back = [one for one in make(begun, "2025-W45").revised if one.taken_back]
    assert {one.paintings for one in back} == {("p",), ("q",)} and {one.level for one in back} == {Level.UNKNOWN}
    assert all("urgent, now not known: " in one.sentence and " by the register: " in one.sentence for one in back)


def without_digests(house):
    """The kept reviews as they were kept before any said what it rested on."""
    with house.saving() as connection:
        for row in connection.execute(select(REVIEWS.c.id, REVIEWS.c.record)).all():
            old = {
                k: v for k, v in json.loads(row.record).items() if k not in ("rested_on", "judged_again", "last_file")
            }
            connection.execute(update(REVIEWS).where(REVIEWS.c.id == row.id).values(record=json.dumps(old)))


def test_reviews_kept_before_any_said_what_it_rested_on_go_by_the_files_added_since(unread, damp, late):
    without_digests(unread)
    unread.add([late])
    assert [one.label for one in make(unread, "2025-W47").revised] == ["2025-W44, 2025-W45"]
    without_digests(damp)  # all its files were added after the days of these reviews, and say the same
    made = keep(damp, "2025-W47")
    assert made.revised == () and {len(of) for of in made.rested["judged_again"].values()} == {3}
    assert make(damp, "2025-W48").rested["judged_again"] == {}


def test_a_check_that_takes_a_finding_back_says_what_was_said_and_what_is_open(damp):
    """The logger is found to read 64 where it is 60: its damp days were at 64 %, under the limit of 65 %."""
    said = {f["number"]: f for kept in reviews.reviews(damp) for f in kept["record"]["findings"]}
    assert any(f["painting"] == "p" and f["mechanism"] == "damp" and f["level"] == Level.WATCH for f in said.values())
    asked = next(n for n, f in said.items() if (f["painting"], f["mechanism"]) == ("p", "damp"))
    reviews.raise_task(damp, asked, "p", "look at it")
    damp.calibrate("s", "2025-03-01", rh_points=((60.0, 64.0),))
    made = make(damp, "2025-W46")
    back = [one for one in made.revised if one.taken_back]
    assert {one.paintings for one in back} == {("p",), ("q",)} and not [o for o in made.revised if not o.taken_back]
    first = next(one for one in back if one.label == "2025-W44" and one.paintings == ("p",))
    assert "by the register" in first.sentence and "watch, now nothing against it: The " in first.sentence
    assert f"What it asked for is open still: envwatch done {asked} WORD." in first.sentence
    assert all(said[number]["painting"] == "p" for number in first.numbers)
