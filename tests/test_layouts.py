"""A small sample of the composed layouts (`tests.long.layouts`), and that its judge sees every kind of difference."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from envwatch import logs
from tests.composed.climates import NOW, vapour_pa
from tests.composed.compose import composed
from tests.long import layouts

SEED, FILES = 22, 100


def test_the_composed_files_read_right_or_are_asked_about(tmp_path):
    found = [layouts.tried(SEED, number, tmp_path)[1] for number in range(FILES)]
    wrong = {o.number: o for o in found if o.word == layouts.WRONG}
    assert not wrong
    assert sum(o.word == layouts.RIGHT for o in found) >= 0.8 * FILES
    assert sum(o.word == layouts.ASKED for o in found) <= 0.15 * FILES


def test_a_file_is_made_again_by_its_numbers():
    assert composed(5, 7).content == composed(5, 7).content != composed(5, 8).content


def test_the_air_of_the_files_holds_together():
    """WMO no. 8, annex 4.B: 611.2 Pa at 0 °C and 2,337 Pa at 20 °C within the Magnus formula's 0.1 %."""
    assert vapour_pa(0.0) == pytest.approx(611.2) and vapour_pa(20.0) == pytest.approx(2337, rel=1e-2)


@pytest.fixture
def read(tmp_path):
    """A file of three rooms side by side that reads right, and what was read of it."""
    for number in range(400):
        made = composed(SEED, number)
        path = tmp_path / made.name
        if len(made.probes) > 1 and layouts.tried(SEED, number, tmp_path)[1].word == layouts.RIGHT:
            path.write_bytes(made.content)
            return made, logs.read(path, logs.Answers(zone="UTC"), now=NOW)
    raise AssertionError("no file of several rooms reads right")


@pytest.mark.parametrize(
    ("kind", "change"),
    [
        ("values", lambda p: p._replace(temp_c=p.temp_c + 0.1)),
        ("values", lambda p: p._replace(rh_percent=np.append(p.rh_percent[:-1], p.rh_percent[-1] + 1))),
        ("times", lambda p: p._replace(time=p.time + pd.Timedelta(hours=1))),
        ("rows", lambda p: type(p)(*(field[1:] for field in p))),
    ],
)
def test_a_difference_is_seen(read, kind, change):
    made, log = read
    assert layouts.difference(made, log) == ("", "")
    first, *rest = made.probes
    made = replace(made, probes=[change(first), *rest], lost=made.lost[1:] if kind == "rows" else made.lost)
    assert layouts.difference(made, log)[0] in (kind, "rows")


def test_a_lost_room_another_room_and_a_swapped_name_are_seen(read):
    made, log = read
    assert layouts.difference(made, replace(log, channels=log.channels[1:]))[0]
    assert layouts.difference(replace(made, probes=made.probes[1:], labels=made.labels[1:]), log)[0] == "columns"
    first, second, *rest = log.channels
    swapped = (replace(first, label=second.label), replace(second, label=first.label), *rest)
    assert "were called" in layouts.difference(made, replace(log, channels=swapped))[1]
