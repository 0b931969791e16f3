"""The corpus of open files holds what is promised of the reader."""

import csv
from collections import Counter

import pytest

from tests import corpus, corpus_shapes

RIGHT_AT_LEAST, ASKED_AT_MOST = 0.80, 0.15  # the promise: 0.80 and 0.15, and none wrong


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    return corpus_shapes.write_all(tmp_path_factory.mktemp("corpus"))


@pytest.fixture(scope="module")
def verdicts(written):
    return [corpus.judge(written[e.name], e) for e in corpus.expectations()]


def test_nothing_is_kept_wrong_without_a_question(verdicts):
    assert not {v.name for v in verdicts if v.word == "wrong"}


def test_most_files_are_read_and_few_are_asked_about(verdicts):
    words = Counter(v.word for v in verdicts)
    assert words["right"] >= RIGHT_AT_LEAST * len(verdicts)
    assert words["asked"] <= ASKED_AT_MOST * len(verdicts)


def test_every_file_has_one_expectation_and_one_source(written):
    with (corpus_shapes.HERE / "sources.csv").open(encoding="utf-8", newline="") as stream:
        sources = [row["name"] for row in csv.DictReader(stream)]
    expected = [e.name for e in corpus.expectations()]
    assert sorted(sources) == sorted(expected) == sorted(written)


def test_a_reading_of_another_line_or_probe_and_a_lost_humidity_are_seen(written):
    path = written["outside_ten_minutes"]
    right = next(e for e in corpus.expectations() if e.name == "outside_ten_minutes")
    assert corpus.judge(path, right).word == "right"
    for change in ({"rows": "32"}, {"probes": "2"}, {"first": "2021-05-15T18:35"}, {"readings": "3:20.2:49"},
                   {"readings": "2:20.2:-"}, {"outcome": "refuse"}):  # fmt: skip
        assert corpus.judge(path, right._replace(**change)).word == "wrong", change


def test_the_question_that_was_expected_is_right_and_another_is_only_a_question(written):
    path = written["star_degrees_two_days"]
    day_order = next(e for e in corpus.expectations() if e.name == "star_degrees_two_days")
    words = [corpus.judge(path, day_order._replace(**change)).word
             for change in ({}, {"question": "start"}, {"outcome": "read|ask"}, {"outcome": "refuse"})]  # fmt: skip
    assert words == ["right", "asked", "asked", "asked"]
