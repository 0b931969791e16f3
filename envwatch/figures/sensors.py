"""How long a logger's check holds, and what it loses afterwards."""

from envwatch.core.quantities import Confidence, Figure

CHECK_HOLDS_DAYS = Figure(365, "days", "common-practice", Confidence.COMMON_PRACTICE, "a logger is checked once a year")
RH_DRIFT_PER_YEAR = Figure(
    1.0, "% RH a year", "our-judgement", Confidence.FROM_MEMORY,
    "capacitive sensors are commonly stated to drift by less; solvent vapour in a studio makes it more",
)  # fmt: skip
