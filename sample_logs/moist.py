"""Moist air as the invented world has it, apart from the program that will read its logs.

The Magnus form of the saturation pressure (WMO Guide to Instruments, over water 17.62 and 243.12 °C, over ice 22.46
and 272.62 °C below nought), as most loggers have it built in.
"""

import numpy as np

AT_NOUGHT_PA, WATER_J_KG_K = 611.2, 461.5


def saturation_pa(temp_c) -> np.ndarray:
    """Saturation vapour pressure, over ice below 0 °C. [°C] -> [Pa]"""
    a, b = np.where(temp_c < 0, 22.46, 17.62), np.where(temp_c < 0, 272.62, 243.12)
    return AT_NOUGHT_PA * np.exp(a * temp_c / (b + temp_c))


def dew_point_c(temp_c, rh_percent) -> np.ndarray:
    """Dew point, below 0 °C the frost point. [°C], [% RH] -> [°C]"""
    ln = np.log(rh_percent / 100 * saturation_pa(temp_c) / AT_NOUGHT_PA)
    a, b = np.where(ln < 0, 22.46, 17.62), np.where(ln < 0, 272.62, 243.12)
    return b * ln / (a - ln)


def content_g_m3(temp_c, vapour_pa) -> np.ndarray:
    """Mass of vapour in a cubic metre. [°C], [Pa] -> [g/m³]"""
    return 1000 * vapour_pa / (WATER_J_KG_K * (temp_c + 273.15))
