"""What must hold of every verdict, over whole exposures: properties in `sound`, the long run in `long.sound`."""

from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from envwatch.climate.exposure import ROOM
from envwatch.core.findings import Certainty
from tests import sound
from tests.exposures import Numbers, Whole, whole, wholes
from tests.sound_archive import archive
from tests.sound_mended import MENDED

EXPOSURES = 100
MOST_DAYS = 90  # the long run goes to 500
thorough = settings(max_examples=EXPOSURES, suppress_health_check=list(HealthCheck))


@thorough
@given(wholes(MOST_DAYS), st.integers(0, 9999))
def test_it_holds_of_whole_exposures(drawn, seed):
    """Every property of each: what is found of the exposure itself is worked out once."""
    for name in sound.PROPERTIES:
        faults = sound.PROPERTIES[name](drawn, Numbers(seed))
        assert not faults, name


def test_of_the_certain_findings_of_steady_air_19_of_20_stay_certain_without_2_percent_of_its_hours():
    drawn = [replace(whole(Numbers(1, n)), days=60, step_min=60, points=(ROOM,)) for n in range(EXPOSURES)]
    counts = [sound.stays_certain(each, Numbers(2, n)) for n, each in enumerate(drawn)]
    sure, kept = (sum(column) for column in zip(*counts, strict=True))
    assert sure > 5 * EXPOSURES  # a verdict has a dozen findings
    assert kept >= 0.95 * sure


def test_files_cut_anywhere_and_added_in_any_order_give_the_verdicts_of_the_air_itself():
    drawn = [whole(Numbers(3, n)) for n in range(EXPOSURES)]
    drawn = [replace(each, days=60, step_min=60 * each.block_h) for each in drawn]  # short files
    faults = [(each, found) for each, found in archive(drawn, Numbers(4)) if found]
    assert not faults


@pytest.mark.parametrize("was", MENDED)
def test_what_was_mended_holds_and_is_open_where_hours_are_missing(was):
    key, drawn, blocks = MENDED[was]
    before, after = sound.without_blocks(drawn, blocks)
    assert after[key].level < before[key].level <= after[key].level_high
    assert after[key].certainty is Certainty.CANNOT_TELL
    assert after[key].level_high.word in after[key].sentence


def test_a_whole_exposure_prints_as_what_makes_it_again():
    from tests import exposures

    drawn = whole(Numbers(0, 1))
    assert eval(repr(drawn), vars(exposures)) == drawn
    assert isinstance(drawn, Whole)
