"""Every word of the reader's tables does what its table says: none stands there in vain, or behind another's meaning.

The words are those of the languages, from memory and dictionaries; what is checked is that the reader follows them.
"""

import pyarrow as pa
import pytest

from envwatch.logs.tables.header import nameless
from envwatch.logs.text import roles, stamps, vocabulary, words
from envwatch.logs.text.cells import MISSING_CODE, number, unit_in
from envwatch.logs.times import undated
from envwatch.logs.times.preamble import written


def each(*tables):
    return sorted({word for table in tables for word in table} - {""})


def wrong(some, holds):
    """The words for which something does not hold."""
    return [word for word in some if not holds(word)]


@pytest.mark.parametrize("kind", vocabulary.QUANTITIES)
def test_a_word_of_a_quantity_gives_a_column_its_meaning(kind):
    assert wrong(each(words.whole(kind)), lambda word: roles.role_of(word).kind == kind) == []


@pytest.mark.parametrize("kind", [*vocabulary.AIR, *vocabulary.DEVICE])
def test_a_word_inside_another_word_says_nothing(kind):
    """But where the table frees one of its ends, or a script joins its words."""
    some = [w for w in words.words(kind) if w.isalpha() and len(w) > 2 and all(ord(sign) < 0x590 for sign in w)]
    assert wrong(some, lambda word: roles.role_of(f"x{word}iq").kind is None) == []


def test_a_short_sign_is_a_quantity_where_nothing_else_is_said():
    assert wrong(vocabulary.WEAK_TEMP, lambda word: roles.role_of(word)[::4] == ("temp", True)) == []
    assert wrong(vocabulary.WEAK_RH, lambda word: roles.role_of(word)[::4] == ("rh", True)) == []


def test_a_word_of_a_statistic_tells_it_from_the_mean():
    for name in vocabulary.STATISTICS:
        assert wrong(words.whole(name), lambda word: roles.role_of(f"temp {word}").statistic == name) == []  # noqa: B023


def test_a_word_of_time_names_the_time():
    assert wrong(vocabulary.STAMP, lambda word: roles.time_word(word) == "stamp") == []
    assert wrong(vocabulary.DATE, lambda word: roles.time_word(word) in ("date", "stamp")) == []
    assert wrong(vocabulary.TIME, lambda word: roles.time_word(word) in ("time", "hour", "stamp")) == []
    assert wrong(vocabulary.TIMELY, lambda word: roles.role_of(word).kind is None) == []
    assert wrong(vocabulary.ELAPSED, lambda word: roles.time_word(word) == "elapsed") == []
    for part, some in vocabulary.PARTS.items():
        assert wrong(some, lambda word: roles.part_word(word) == part) == []  # noqa: B023


@pytest.mark.parametrize("table", ["NUMBER", "PROBE", "QUANTITY", "VALUE", "UNIT"])
def test_a_word_of_a_table_names_its_column(table):
    some = getattr(vocabulary, table)
    assert wrong(some, lambda word: roles.named(word.title(), some)) == []


def test_a_word_of_a_begin_or_an_end_tells_what_a_date_above_the_table_is():
    def said(word):
        return written([f"{word} 2024-03-27"])[0]

    assert wrong(vocabulary.BEGIN, lambda word: said(word).begin) == []
    assert wrong(vocabulary.NOT_BEGIN, lambda word: said(word).other) == []


def test_months_halves_of_a_day_and_zones_are_read():
    assert wrong(vocabulary.MONTHS, lambda word: stamps.date_only(f"3 {word} 2024").b == vocabulary.MONTHS[word]) == []
    assert wrong(vocabulary.PM, lambda word: stamps.time_of_day(f"3:05 {word}").us // 3_600_000_000 == 15) == []
    assert wrong(vocabulary.AM, lambda word: stamps.time_of_day(f"3:05 {word}").us // 3_600_000_000 == 3) == []
    zones = vocabulary.ZONE_ABBREVIATIONS
    long = [word for word in zones if len(word) > 2]
    for clock in ("3:05", "3:05:09", "03:05:09.5", "3h05"):  # "MEST" is no minute before "EST", "SAST" no second
        assert wrong(long, lambda word: stamps.time_of_day(f"{clock} {word.upper()}").offset_min == zones[word]) == []  # noqa: B023
    assert wrong(zones, lambda word: stamps.parse_offset(word.upper()) == zones[word]) == []


def test_a_unit_of_time_tells_what_is_counted():
    counted = pa.array(["0", "2"])
    for _, us, some in vocabulary.SPANS:
        assert wrong(some, lambda word: undated._spans(counted, f"Elapsed ({word})", "", "a")[0][1] == 2 * us) == []  # noqa: B023


def test_a_word_for_nothing_is_a_missing_value():
    assert wrong(vocabulary.MISSING - {""}, lambda word: number(word, ".")[1] == MISSING_CODE) == []


def test_a_word_that_says_nothing_about_the_probe_is_no_label():
    assert wrong(roles._FILLER, lambda word: roles.role_of(f"temp {word}").label == "") == []
    assert wrong(roles.GENERIC, roles.generic) == []


def test_a_word_of_any_loggers_file_names_none():
    assert wrong(each(vocabulary._EMPTY.split(), vocabulary._EMPTY_UNSPACED), nameless) == []
    general = [word for word in each(vocabulary._GENERAL.split(), vocabulary._GENERAL_UNSPACED) if len(word) > 1]
    assert wrong(general, nameless) == []
    assert wrong(["温度と湿度の一覧", "温度和湿度的表"], nameless) == []
    assert unit_in("°C") and wrong(["Attic", "Depot 2", "TH-7"], lambda word: not nameless(word)) == []
