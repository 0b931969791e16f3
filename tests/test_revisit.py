"""Files that were kept unasked and are asked about once something comes that they may be of; and how that ends."""

import pandas as pd
import pytest
from sqlalchemy import event

from envwatch.archive import Studio
from envwatch.archive.intake.preview import kept_files
from tests.test_archive import MONDAY, readings
from tests.test_whose_file import log_of

DAY = pd.Timedelta(days=1)
LATER = MONDAY + 10 * DAY


@pytest.fixture
def asked(tmp_path):
    """A studio in which "Loft Nord.csv" founded a logger, and is asked about since one that calls itself Loft came."""
    with Studio.create(tmp_path / "studio", name="A studio", zone="UTC") as studio:
        studio.add([log_of(tmp_path, "Loft Nord.csv")])
        studio.add([log_of(tmp_path, "a.csv", LATER, label="Loft")])
        yield studio


def waits(studio) -> dict[str, tuple[str, ...]]:
    return {item.name: item.choices for item in studio.tray()}


def whose(studio) -> dict[str, str]:
    return {file.name: file.logger_id for file in kept_files(studio)}


def test_a_file_kept_unasked_waits_as_well_and_counts_as_before(asked):
    assert waits(asked) == {"Loft Nord.csv": ("loft", "new")}
    assert whose(asked) == {"Loft Nord.csv": "loft-nord", "a.csv": "loft"}
    assert "its name is like that of logger Loft" in asked.tray()[0].question


def test_its_answer_gives_it_to_the_other_logger_and_that_can_be_undone(asked):
    before = {id: readings(asked, id) for id in ("loft", "loft-nord")}
    (outcome,) = asked.add([asked.tray()[0].number], logger="loft").outcomes
    assert (outcome.status, outcome.logger_id, asked.tray()) == ("kept", "loft", ())
    assert asked.loggers().keys() == {"loft"}
    assert len(readings(asked, "loft")["1"]) == 96  # both: what had founded it stays with it
    asked.undo()
    assert {id: readings(asked, id) for id in ("loft", "loft-nord")} == before
    assert asked.check(rebuild=True).problems == ()


def test_that_it_is_not_of_it_ends_the_question(asked, tmp_path):
    asked.add([asked.tray()[0].number], logger="new")
    assert (asked.tray(), whose(asked)["Loft Nord.csv"]) == ((), "loft-nord")
    asked.add([log_of(tmp_path, "b.csv", LATER + DAY, label="Loft")])
    assert asked.tray() == ()


def test_discarding_the_question_leaves_the_file_as_it_was_kept(asked):
    before = readings(asked, "loft-nord")
    asked.discard(asked.tray()[0].number)
    assert (asked.tray(), readings(asked, "loft-nord")) == ((), before)
    assert asked.check(rebuild=True).problems == ()


def test_a_second_add_asks_nothing_else(asked, tmp_path):
    before = asked.tray()
    (again,) = asked.add([tmp_path / "in" / "a.csv"]).outcomes
    assert (again.status, asked.tray()) == ("already kept", before)
    asked.add([log_of(tmp_path, "b.csv", LATER + DAY, label="Loft")])
    assert asked.tray() == before


def test_undoing_the_add_that_made_it_ask_takes_the_question_back(asked, tmp_path):
    """Nothing is left of which it might be; the logger that asks again is asked about again."""
    asked.undo()
    assert (asked.tray(), whose(asked)) == ((), {"Loft Nord.csv": "loft-nord"})
    asked.add([tmp_path / "in" / "a.csv"])
    assert waits(asked) == {"Loft Nord.csv": ("loft", "new")}


def test_two_files_may_wait_for_one_logger_and_each_has_its_answer(asked, tmp_path):
    asked.discard(asked.tray()[0].number)
    asked.undo()
    asked.add([log_of(tmp_path, "Loft Ost.csv", MONDAY, temp_c=26)])
    asked.add([tmp_path / "in" / "a.csv"])
    assert waits(asked) == {"Loft Nord.csv": ("loft", "new"), "Loft Ost.csv": ("loft", "new")}
    first, second = asked.tray()
    asked.add([first.number], logger="loft")
    assert [item.number for item in asked.tray()] in ([], [second.number])
    assert whose(asked) == {"Loft Nord.csv": "loft", "Loft Ost.csv": "loft-ost", "a.csv": "loft"}


def test_a_question_that_another_file_answers_is_taken_back(asked, tmp_path):
    """The other one reads another air than Loft at the same instants, and the file goes on from it."""
    asked.add([log_of(tmp_path, "Loft Nord 2026-01-15.csv", LATER, temp_c=26)], logger="loft-nord")
    with Studio.create(tmp_path / "other", name="x", zone="UTC") as studio:
        studio.add([log_of(tmp_path, "Loft Nord 2026-01-14.csv", LATER - DAY, temp_c=26)])
        studio.add([tmp_path / "in" / "a.csv"])
        assert waits(studio) == {"Loft Nord 2026-01-14.csv": ("loft", "new")}
        (kept,) = studio.add([tmp_path / "in" / "Loft Nord 2026-01-15.csv"]).outcomes
        assert (kept.logger_id, studio.tray()) == ("loft-nord", ())


def test_one_of_equal_readings_that_nobody_need_ask_about_speaks_for_the_other(tmp_path):
    """By readings that stand in both and are kept once, with the one whose they were first."""
    with Studio.create(tmp_path / "studio", name="x", zone="UTC") as studio:
        studio.add([log_of(tmp_path, "Nord.csv"), log_of(tmp_path, "2026-01-05.csv", MONDAY, rows=70)])
        for word in ("Amsel", "Biber"):
            studio.enter("logger", {"id": word.casefold(), "name": word})
        report = studio.add([log_of(tmp_path, "Amsel 1.csv", LATER)])
        assert [one.logger_id for one in report.outcomes] == ["amsel"]
        assert (studio.tray(), whose(studio)["2026-01-05.csv"]) == ((), "nord")


def test_a_file_that_waits_goes_in_with_one_that_reads_the_same_whatever_its_name(tmp_path):
    with Studio.create(tmp_path / "studio", name="x", zone="UTC") as studio:
        studio.add([log_of(tmp_path, "Nord.csv", LATER, temp_c=12)])
        (asked,) = studio.add([log_of(tmp_path, "Nord/Nord 1.csv", rows=40)]).outcomes
        assert asked.status == "in the tray"
        studio.add([log_of(tmp_path, "zzz.csv")])
        assert ("Nord 1.csv" in waits(studio), whose(studio)["Nord 1.csv"]) == (False, "zzz")


def test_what_reads_as_a_file_of_which_a_person_says_whose_it_is_goes_with_it_unless_it_is_another(tmp_path):
    """As it would have, had it come after that; not where the person says that it is another logger's than it looks."""
    twin = log_of(tmp_path, "qqq.csv", rows=40)
    for n, (given, at) in enumerate((("amsel", "amsel"), ("new", "zzz"))):
        with Studio.create(tmp_path / f"s{n}", name="x", zone="UTC") as studio:
            studio.enter("logger", {"id": "amsel", "name": "Amsel"})
            studio.add([log_of(tmp_path, "zzz.csv")])
            studio.add([twin], logger=given)
            assert whose(studio)["zzz.csv"] == at
            if at == "amsel":
                studio.part("zzz.csv")
                assert whose(studio) == {"zzz.csv": "zzz", "qqq.csv": "amsel"}


def test_a_correction_that_was_rounded_after_it_is_seen(tmp_path):
    """A record of two decimals beside its correction by 1.5 °C, of one."""
    with Studio.create(tmp_path / "studio", name="x", zone="UTC") as studio:
        studio.add([log_of(tmp_path, "Nord.csv", rows=192, digits=2)])
        (asked,) = studio.add([log_of(tmp_path, "Nord 2.csv", rows=30, temp_c=18 + 1.5, digits=1)]).outcomes
        assert (asked.status, asked.choices) == ("in the tray", ("nord", "new"))
        assert "all of them 1.5 °C more" in asked.question


def test_a_logger_that_hangs_somewhere_is_left_as_it_is(tmp_path):
    with Studio.create(tmp_path / "studio", name="x", zone="UTC") as studio:
        studio.enter("place", {"id": "room", "name": "Room", "kind": "store"})
        studio.add([log_of(tmp_path, "Loft Nord.csv")])
        studio.set_hanging("loft-nord", "room", "2026-01-01")
        studio.add([log_of(tmp_path, "a.csv", LATER, label="Loft")])
        assert studio.tray() == ()


def test_a_file_that_waits_and_goes_in_within_one_add_is_told_once(tmp_path):
    """Under the name that comes first a file asks; the other, with the same readings and a name, answers it."""
    with Studio.create(tmp_path / "studio", name="x", zone="UTC") as studio:
        for word in ("Amsel", "Biber"):
            studio.enter("logger", {"id": word.casefold(), "name": word})
        report = studio.add([log_of(tmp_path, "2026-01-05.csv", rows=40), log_of(tmp_path, "Nord.csv")])
        assert [(one.name, one.status) for one in report.outcomes] == [("Nord.csv", "kept"), ("2026-01-05.csv", "kept")]
        assert report.ok
        assert studio.tray() == ()


def test_what_is_kept_is_read_from_the_register_once_however_many_loggers_files_founded(tmp_path):
    """Each statement counted, of ten loggers and of thirty: an add that concerns none of them asks no more of more."""
    counts = []
    for many in (10, 30):
        with Studio.create(tmp_path / f"s{many}", name="x", zone="UTC") as studio:
            names = [f"{chr(97 + n % 26) * 3}{chr(97 + n // 26) * 3}.csv" for n in range(many)]
            studio.add([log_of(tmp_path / str(many), name, temp_c=5 + n) for n, name in enumerate(names)])
            said: list[str] = []
            with studio.reading() as connection:
                engine = connection.engine
            event.listen(
                engine, "before_cursor_execute", lambda _c, _u, statement, *_, said=said: said.append(statement)
            )
            studio.add([log_of(tmp_path / str(many), "other.csv", LATER, temp_c=40)])
            counts.append(sum("FROM files" in one and "FROM learned" not in one for one in said))
    assert counts[0] == counts[1] > 0


def test_an_original_that_is_gone_holds_up_no_add(asked, tmp_path):
    """Its readings are as they were kept, and `check` names it."""
    for path in (asked.folder / "originals").rglob("*.csv"):
        if "18." in path.read_text(encoding="utf-8"):
            path.unlink()
    (kept,) = asked.add([log_of(tmp_path, "Loft Nord 2026-01-06.csv", MONDAY + DAY)]).outcomes
    assert kept.status in ("kept", "in the tray")
    assert any("Loft Nord.csv" in problem for problem in asked.check().problems)
