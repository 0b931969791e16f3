"""Fixed points of saturated salts against print, and the corrections that come from them."""

import numpy as np
import pytest

from envwatch.core.errors import BadInput
from envwatch.figures.quality import SALT_U, SALTS
from envwatch.logs.quality import calibration

TABLE_DIGIT = 0.011  # printed to 0.01; one digit more for the rounding of the coefficients
CRC_STATED = 2.0  # "generally accurate to ±2 %", taken as % RH

# Greenspan 1977, table 2, at 20 and 25 °C. From memory; the values at 25 °C are reprinted in every handbook.
GREENSPAN = [
    ("lithium chloride", 20, 11.31), ("lithium chloride", 25, 11.30),
    ("magnesium chloride", 20, 33.07), ("magnesium chloride", 25, 32.78),
    ("potassium carbonate", 20, 43.16), ("potassium carbonate", 25, 43.16),
    ("magnesium nitrate", 20, 54.38), ("magnesium nitrate", 25, 52.89),
    ("sodium chloride", 20, 75.47), ("sodium chloride", 25, 75.29),
    ("potassium chloride", 20, 85.11), ("potassium chloride", 25, 84.34),
    ("potassium sulphate", 20, 97.59), ("potassium sulphate", 25, 97.30),
]  # fmt: skip

# Wexler, Constant humidity solutions, CRC Handbook of Chemistry and Physics, section 15: RH = A exp(B / T).
CRC = {
    "lithium chloride": (14.53, -75, 20, 50),
    "magnesium chloride": (29.26, 34, 5, 45),
    "magnesium nitrate": (25.28, 220, 5, 35),
    "sodium chloride": (69.20, 25, 10, 40),
    "potassium chloride": (49.38, 159, 5, 25),
    "potassium sulphate": (86.75, 34, 10, 50),
}


@pytest.mark.parametrize(("salt", "temp_c", "printed"), GREENSPAN)
def test_the_fixed_points_are_those_of_greenspans_table(salt, temp_c, printed):
    assert float(calibration.salt_rh(salt, temp_c)) == pytest.approx(printed, abs=TABLE_DIGIT)


def crc(salt, temp_c):
    a, b, low, high = CRC[salt]
    return np.where((temp_c >= low) & (temp_c <= high), a * np.exp(b / (temp_c + 273.15)), np.nan)


@pytest.mark.parametrize("salt", CRC)
def test_at_room_temperatures_the_fixed_points_agree_with_the_handbooks_own_fit_within_what_it_states(salt):
    temp_c = np.arange(15.0, 31.0)
    stated = crc(salt, temp_c)
    seen = np.isfinite(stated)
    np.testing.assert_allclose(calibration.salt_rh(salt, temp_c)[seen], stated[seen], rtol=0, atol=CRC_STATED)


def test_magnesium_nitrate_in_the_cold_is_where_the_two_publications_part():
    """Greenspan's straight line gives 58.9 at 5 °C, the handbook's fit 55.8: a check there is worth little."""
    apart = calibration.salt_rh("magnesium nitrate", 5.0) - crc("magnesium nitrate", np.array(5.0))
    assert float(apart) == pytest.approx(3.1, abs=0.05)


def test_table_salt_stays_within_what_wexler_and_hasegawa_measured():
    """Wexler & Hasegawa 1954, abstract: 74.9 at 0 °C, largest 75.6 at 30 °C, 74.7 at 50 °C (their own ± about 0.5)."""
    np.testing.assert_allclose(calibration.salt_rh("sodium chloride", [0, 30, 50]), [74.9, 75.6, 74.7], atol=2 * SALT_U)


def test_no_fixed_point_is_given_outside_the_temperatures_of_its_fit():
    for salt, ((low, high), _) in SALTS.items():
        rh = calibration.salt_rh(salt, [low - 0.1, low, high, high + 0.1, np.nan])
        np.testing.assert_array_equal(np.isfinite(rh), [False, True, True, False, False], err_msg=salt)


def test_a_salt_without_a_fixed_point_is_refused_with_those_there_are():
    with pytest.raises(BadInput, match="sodium chloride"):
        calibration.salt_rh("washing soda", 20)


def test_a_two_point_correction_takes_both_readings_to_their_references_and_is_straight_between():
    point1, point2 = (33.1, 30.1), (75.5, 74.0)
    out = calibration.two_point([30.1, 74.0, (30.1 + 74.0) / 2, np.nan], point1, point2)
    np.testing.assert_allclose(out, [33.1, 75.5, (33.1 + 75.5) / 2, np.nan])


def test_the_order_of_the_points_does_not_matter():
    point1, point2 = (33.1, 30.1), (75.5, 74.0)
    rh = np.linspace(20, 90, 8)
    np.testing.assert_allclose(calibration.two_point(rh, point1, point2), calibration.two_point(rh, point2, point1))


def test_a_correction_never_clips():
    assert calibration.two_point([100.0], (33.1, 31.0), (75.5, 72.0))[0] > 100


@pytest.mark.parametrize(
    ("point1", "point2"),
    [
        ((33.1, 35.9), (75.5, 73.9)),  # slope 1.12
        ((33.1, 30.8), (75.5, 78.1)),  # slope 0.90 less a little
        ((33.1, 38.3), (75.5, 79.9)),  # 5.2 % off at one point
        ((33.1, np.nan), (75.5, 76.0)),
        ((50.0, 51.0), (60.0, 61.0)),  # too close together
        ((33.1, 50.0), (75.5, 50.0)),  # a sensor that does not move
    ],
)
def test_a_correction_too_strong_or_without_ground_is_refused(point1, point2):
    with pytest.raises(BadInput, match="two-point"):
        calibration.two_point([50.0], point1, point2)


def test_a_one_point_correction_is_an_offset_of_at_most_five_percent():
    assert calibration.one_point([40.0], (75.5, 80.5))[0] == pytest.approx(35.0)
    with pytest.raises(BadInput, match="one-point"):
        calibration.one_point([40.0], (75.5, 80.6))
    with pytest.raises(BadInput, match="one-point"):
        calibration.one_point([40.0], (75.5, np.nan))
