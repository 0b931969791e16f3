"""Machines: rating points, litres and pints, the published curve, data sheets."""

import pytest

from envwatch.cases.dehumidifier.machine import (
    Capacity,
    Litres,
    RatingPoint,
    SheetPoint,
    USPints,
    condensing,
    cycling_minutes,
    desiccant,
    from_points,
    needed_litres_day,
)
from envwatch.core.errors import BadInput
from envwatch.figures import dehumidifier as fig
from envwatch.physics.room import curve_share

WARM, US, EUROPE = RatingPoint(80 / 1.8 - 32 / 1.8, 60), RatingPoint(65 / 1.8 - 32 / 1.8, 60), RatingPoint(30, 80)
PER_MILLE = 1e-3


def test_the_published_curve_is_not_one_at_its_nominal_point():
    # value of the coefficients at 80 °F and 60 %, worked apart: 0.9860 and 0.9848
    assert float(curve_share(fig.CAPACITY_CURVE, 26.667, 60)) == pytest.approx(0.9860, rel=PER_MILLE)
    assert float(curve_share(fig.EFFICIENCY_CURVE, 26.667, 60)) == pytest.approx(0.9848, rel=PER_MILLE)


def test_a_machine_does_what_its_label_says_at_its_own_rating_point():
    for point in (WARM, US, EUROPE):
        machine = condensing(Capacity(Litres(12), point))
        assert float(machine.grams_h(point.temp_c, point.rh_percent)) == pytest.approx(500)


def test_one_machine_has_different_labels():
    # Old and new US test of the same machines: 30, 50, 70 pints became 20, 30, 50 when the test moved to 65 °F (trade)
    machine = condensing(Capacity(USPints(50), WARM))
    assert machine.rated_elsewhere(US) / machine.capacity.litres_day == pytest.approx(
        0.6589 / 0.9860 * 0.9860, rel=0.02
    )
    pints = [
        condensing(Capacity(USPints(old), WARM)).rated_elsewhere(US) / float(fig.US_PINT_L) for old in (30, 50, 70)
    ]
    assert pints == pytest.approx([20, 30, 50], abs=5)  # the trade rounds to its sizes


def test_a_bare_number_is_no_capacity():
    with pytest.raises(TypeError, match="neither Litres nor USPints"):
        Capacity(12.0, WARM)


def test_a_capacity_without_its_rating_point_is_refused():
    with pytest.raises(BadInput, match="rating point"):
        Capacity(Litres(12), None)


def test_pints_are_not_litres():
    # NIST Handbook 44: one US liquid pint is 0.473 176 L
    assert Capacity(USPints(25), US).litres_day == pytest.approx(11.829, rel=PER_MILLE)


@pytest.mark.parametrize(
    ("text", "temp_c", "rh"), [("27C/60%", 27, 60), ("65F/60%", 18.333, 60), ("30 °C and 80 % RH", 30, 80)]
)
def test_labels_are_read_in_both_scales(text, temp_c, rh):
    point = RatingPoint.parse(text)
    assert (point.temp_c, point.rh_percent) == (pytest.approx(temp_c, abs=1e-3), rh)


@pytest.mark.parametrize("text", ["", "27/60", "27C", "60%", "27C/0.6%", "270C/60%"])
def test_what_is_no_rating_point_is_refused_in_one_line(text):
    with pytest.raises(BadInput, match="rating point"):
        RatingPoint.parse(text)


def test_worked_sizing_of_a_studio_on_two_labels():
    # 370.1 g/h at 20 °C and 55 %, duty 0.8: 17.8 L/day on a 27/60 label, 11.7 (24.8 pints) on an 18.3/60 label
    assert needed_litres_day(370.1, 20, 55, WARM) == pytest.approx(17.8, abs=0.05)
    assert needed_litres_day(370.1, 20, 55, US) == pytest.approx(11.7, abs=0.05)


def test_a_condensing_machine_cannot_be_large_enough_for_frost():
    assert needed_litres_day(50, 3.0, 60, WARM) == float("inf")
    assert needed_litres_day(50, 3.0, 60, RatingPoint(20, 60), "desiccant") == pytest.approx(1.5)


def test_a_condensing_machine_loses_most_of_its_label_in_a_cold_store():
    machine = condensing(Capacity(Litres(10), EUROPE))
    assert float(machine.grams_h(10, 70)) / machine.capacity.amount.grams_h == pytest.approx(0.291, abs=0.002)
    assert float(machine.grams_h(4.9, 70)) == 0


def test_one_point_of_a_data_sheet_scales_the_curve_and_two_tilt_it():
    machine = condensing(Capacity(Litres(10), EUROPE))
    scaled = from_points(machine, (SheetPoint(20, 60, 5.0),))
    assert float(scaled.grams_h(20, 60)) * 0.024 == pytest.approx(5.0, rel=1e-9)
    tilted = from_points(machine, (SheetPoint(30, 80, 10.0), SheetPoint(10, 60, 2.5)))
    assert [float(tilted.grams_h(t, rh)) * 0.024 for t, rh in ((30, 80), (10, 60))] == pytest.approx(
        [10, 2.5], rel=1e-6
    )


def test_a_desiccant_machine_cannot_beat_the_heat_of_desorption():
    with pytest.raises(BadInput, match="litres per kWh"):
        desiccant(Capacity(Litres(8), RatingPoint(20, 60)), 1.5)


def test_an_assumed_efficiency_is_said():
    machine = condensing(Capacity(Litres(10), WARM))
    assert "assumed" in machine.notes[0]
    # 1.30 L/kWh at 65 °F; the curve falls from 80 to 65 °F to 0.790
    assert machine.litres_per_kwh == pytest.approx(1.30 / 0.790, rel=0.01)
    assert condensing(Capacity(Litres(10), WARM), 1.8).notes == ()


def test_how_often_a_machine_switches_follows_from_what_the_room_holds():
    # C 6.395 g/%, band 4 %, load 80.4, able 250: 6.395 x 4 / 80.4 h = 19.1 min; 6.395 x 4 / 169.6 h = 9.05 min
    assert cycling_minutes(6.395, 4, 80.4, 250) == pytest.approx((19.1, 9.05), rel=2e-3)
