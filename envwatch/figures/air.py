"""Figures of moist air that are ours: the range we accept, and the gas constant of water vapour."""

from envwatch.core.quantities import Confidence, Figure

RH_NOISE_CEILING = Figure(
    105, "% RH", "our-judgement", Confidence.OUR_JUDGEMENT,
    "a wetted capacitive sensor reads a little over 100; up to here it is taken as 100, beyond it is a fault",
)  # fmt: skip
GAS_CONSTANT_VAPOUR = Figure(
    461.524, "J/(kg K)", "ashrae-fundamentals-2017", Confidence.PUBLISHED, "R / molar mass of water"
)
VAPOUR_TO_AIR_MASS = Figure(
    0.621945, "kg/kg", "ashrae-fundamentals-2017", Confidence.PUBLISHED, "ratio of molar masses, water to dry air"
)
