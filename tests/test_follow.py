"""`add --follow` takes what appears in a folder, once, and only when it has stopped growing."""

import pytest

from envwatch.cli.follow import settled_files
from envwatch.core.errors import BadInput


def test_a_file_is_given_once_after_it_has_kept_its_size_for_a_look(tmp_path):
    looks = settled_files([tmp_path], every_s=0)
    path = tmp_path / "log.csv"
    path.write_text("a", encoding="utf-8")
    assert next(looks) == []
    path.write_text("a grown file", encoding="utf-8")
    assert next(looks) == []
    assert next(looks) == [path]
    assert next(looks) == []


def test_a_file_that_changed_afterwards_is_given_again(tmp_path):
    looks = settled_files([tmp_path], every_s=0)
    path = tmp_path / "log.csv"
    path.write_text("a", encoding="utf-8")
    assert [next(looks), next(looks)] == [[], [path]]
    path.write_text("a longer one", encoding="utf-8")
    assert [next(looks), next(looks)] == [[], [path]]


def test_hidden_files_are_passed_over(tmp_path):
    (tmp_path / ".part").write_text("a", encoding="utf-8")
    looks = settled_files([tmp_path], every_s=0)
    assert [next(looks), next(looks)] == [[], []]


def test_what_is_no_folder_is_refused(tmp_path):
    with pytest.raises(BadInput, match="watches folders"):
        next(settled_files([tmp_path / "log.csv"]))
