"""The corpus of open files holds what is promised of the reader."""

from tests import corpus, corpus_shapes

STILL_WRONG: frozenset[str] = frozenset()


def test_every_file_has_one_expectation_and_one_source():
    pass
