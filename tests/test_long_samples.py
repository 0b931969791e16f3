"""A small sample of each long run of `tests/long`."""

from tests.long import kills


def test_nothing_acknowledged_is_lost_when_a_writing_program_is_killed(tmp_path):
    counted = kills.run(5, seed=5, folder=tmp_path)
    assert counted["kills"] == 5
    assert counted["acknowledged: add"] > 5
