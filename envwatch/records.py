"""The nouns under one name. Frozen dataclasses, read-only arrays, no input and no output.

Times are UTC `pandas.Timestamp`s; a span includes its start and not its end.
"""

from envwatch.climate.exposure import (
    CANVAS_BACK,
    NEVER_HERE,
    PAINT_FACE,
    POINTS,
    ROOM,
    WALL_FACE,
    Exposure,
    Position,
    Stint,
)
from envwatch.climate.series import Climate, readers, stand_for_hours
from envwatch.core.findings import Certainty, Finding, Level, Verdict
from envwatch.core.painting import (
    AREAS,
    CORRECTION,
    ROLES,
    CareStatus,
    Layer,
    Look,
    Observation,
    Painting,
    Stay,
    Treatment,
)
from envwatch.core.place import PLACE_KINDS, POSITIONS, Hanging, Logger, Place, Sensor, poorest
from envwatch.figures import Confidence, Figure

__all__ = [
    "AREAS", "CANVAS_BACK", "CORRECTION", "NEVER_HERE", "PAINT_FACE", "PLACE_KINDS", "POINTS", "POSITIONS", "ROLES",
    "ROOM", "WALL_FACE", "CareStatus", "Certainty", "Climate", "Confidence", "Exposure", "Figure", "Finding", "Hanging",
    "Layer", "Level", "Logger", "Look", "Observation", "Painting", "Place", "Position", "Sensor", "Stay", "Stint",
    "Treatment", "Verdict", "poorest", "readers", "stand_for_hours",
]  # fmt: skip
