"""Which look counts as one's own, and which sign is new to a painting.

Facts of the trade, common practice, no source: the condition is written down when a painting comes in and when it goes
out, and what is seen later is held against that.
"""

import pandas as pd
import pytest

from envwatch.cases.aftercare import due_after
from envwatch.core.baseline import Novelty, baseline, sign, signs
from envwatch.core.looks import last_own_look
from envwatch.core.painting import Look, Observation, Painting, Stay, Treatment

ZONE = "Europe/Berlin"


def at(text):
    return pd.Timestamp(text, tz=ZONE).tz_convert("UTC")


def seen(day, what, where="", **rest):
    return Observation(at(day), what, where, **rest)


ARRIVED = seen("2025-11-03 23:30", "Crackle, raised", "upper left")
BEFORE_WORK = seen("2025-12-01", "bulge", "lower edge")
SET = seen("2026-01-20", "tide line", "back")
HANDED = seen("2026-03-02 09:00", "draw", "top right")
PAINTING = Painting(
    "p", "Moor", stays=(Stay("studio", at("2025-11-03 08:00")), Stay("house", at("2026-03-02 12:00"))),
    treatments=(Treatment("c", "call", at("2025-11-20")), Treatment("l", "lining", at("2026-01-10 10:00")),
                Treatment("h", "handover", at("2026-03-02 12:00"))),
    observations=(ARRIVED, BEFORE_WORK, SET, HANDED),
)  # fmt: skip


def novelty(*later):
    painting = Painting(**{**vars(PAINTING), "observations": (*PAINTING.observations, *later)})
    return sign(painting, later[-1])


def test_the_baseline_is_what_was_noted_at_arrival_before_the_first_work_and_at_a_handover():
    assert baseline(PAINTING, ZONE) == (ARRIVED, BEFORE_WORK, HANDED)
    assert baseline(Painting("p", "x", stays=PAINTING.stays, observations=PAINTING.observations), ZONE) == (ARRIVED,)
    assert baseline(Painting("p", "x", observations=PAINTING.observations), ZONE) == ()
    well = seen("2025-11-03 12:00", "nothing new")
    none = seen("2025-11-03 12:00", "no mould, front and back")
    assert baseline(Painting("p", "x", stays=PAINTING.stays, observations=(well, none)), ZONE) == ()


def test_a_day_is_that_of_the_zone():
    untouched = Painting("p", "x", stays=PAINTING.stays, observations=(ARRIVED,))
    assert baseline(untouched, ZONE) == (ARRIVED,)
    assert baseline(untouched, "Asia/Tokyo") == ()  # where 23:30 in Berlin is the day after


@pytest.mark.parametrize(
    ("what", "where", "novelty_of_it"),
    [
        ("draw", "top right", Novelty.KNOWN),
        ("DRAW.", "right, top", Novelty.KNOWN),
        ("draw", "top left", Novelty.NEW),  # another spot
        ("draw", "", Novelty.NEW),  # where is not said: it may be another
        ("draws", "top right", Novelty.NEW),  # words are compared, not what they mean
        ("draw, larger", "top right", Novelty.NEW),
        ("tide line", "back", Novelty.KNOWN),  # an earlier look of no baseline
        ("bulge", "lower edge", Novelty.BACK),  # the lining should have done away with it
        ("raised crackle", "upper left", Novelty.BACK),
        ("nothing new", "", Novelty.NOTHING),
        ("no bulge", "lower edge", Novelty.NOTHING),
    ],
)
def test_a_sign_is_new_unless_the_same_words_stand_at_the_same_spot(what, where, novelty_of_it):
    found = novelty(seen("2026-06-01", what, where))
    assert found.novelty == novelty_of_it
    assert found.new == (novelty_of_it in (Novelty.NEW, Novelty.BACK))


def test_what_came_back_after_the_work_is_known_from_then_on():
    first, second = seen("2026-06-01", "bulge", "lower edge"), seen("2026-07-01", "bulge", "lower edge")
    assert novelty(first).before == BEFORE_WORK
    again = novelty(first, second)
    assert (again.novelty, again.before) == (Novelty.KNOWN, first)
    assert novelty(seen("2026-05-01", "no bulge", "lower edge"), first).novelty == Novelty.BACK


def test_a_later_look_and_one_that_denies_make_nothing_known():
    later, now = seen("2026-08-01", "slack", "top"), seen("2026-06-01", "slack", "top")
    assert novelty(later, now).novelty == Novelty.NEW
    denied = seen("2026-05-01", "slack", "top", finding=3, confirms=False)
    assert novelty(denied, now).novelty == Novelty.NEW
    assert novelty(now, seen("2026-06-01", "slack", "top")).novelty == Novelty.KNOWN  # twice on one day


def test_each_look_says_what_it_adds():
    said = [one.words(ZONE) for one in signs(PAINTING, ZONE)]
    assert said == ["baseline", "baseline", "new: not noted before", "baseline"]
    assert novelty(seen("2026-06-01", "bulge", "lower edge")).words(ZONE) == (
        "back: noted Mon 1 Dec 2025, before the last work"
    )


def test_only_an_own_look_up_to_the_time_is_the_last_own_look():
    looks = [
        seen("2026-01-12", "nothing new", look=Look.OWN), seen("2026-02-12", "slack", look=Look.OWN),
        seen("2026-03-12", "nothing new", look=Look.TELEPHONE), seen("2026-03-13", "nothing new", look=Look.PASSING),
        seen("2026-03-14", "nothing new", look=Look.PHOTO), seen("2026-03-15", "nothing new"),
    ]  # fmt: skip
    painting = Painting("p", "x", observations=tuple(looks))
    assert last_own_look(painting, at("2026-12-01")) == looks[1]
    assert last_own_look(painting, at("2026-02-12")) == looks[1]
    assert last_own_look(painting, at("2026-02-11 23:59")) == looks[0]
    assert last_own_look(painting, at("2026-01-11")) is None
    assert last_own_look(Painting("p", "x"), at("2026-12-01")) is None


@pytest.mark.parametrize(
    ("look", "done"),
    [("own", True), ("passing", True), ("unknown", True), ("photo", False), ("telephone", False)],
)
def test_an_inspection_is_not_done_by_a_photograph_or_on_the_telephone(look, done):
    # common practice, no source: what has been lined is looked at by who lined it
    lining = Treatment("l", "lining", at("2026-01-10"), material="eva_film", inspection_days=(7,))
    looked = Painting(
        "p", "x", treatments=(lining,), observations=(seen("2026-01-18", "nothing new", look=Look(look)),)
    )
    (step,) = (one for one in due_after(lining, ZONE, looked) if one.what.startswith("look: day 7"))
    assert step.done is done
