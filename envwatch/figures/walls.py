"""Figures of an outer wall with a picture on it: surface resistances, wall transmittances, layers, air."""

from envwatch.core.quantities import Confidence, Figure

PUBLISHED, MEMORY, JUDGED = Confidence.PUBLISHED, Confidence.FROM_MEMORY, Confidence.OUR_JUDGEMENT

SURFACE_INSIDE = Figure(
    0.13, "m²K/W", "iso-6946", PUBLISHED, "inner surface, horizontal heat flow; table of surface resistances, as quoted"
)
CONVECTION_STILL = Figure(1.25, "W/(m²K)", "iso-6946", MEMORY, "closed vertical gap: the least convection")
CONDUCTION_AIR = Figure(0.025, "W/(m K)", "iso-6946", MEMORY, "closed gap: conduction through still air")
EMISSIVITY = Figure(0.9, "1", "iso-6946", MEMORY, "ordinary building and picture surfaces")
STEFAN_BOLTZMANN = Figure(5.670374e-8, "W/(m²K⁴)", "codata-2018", PUBLISHED)

WALL_U_SOLID_BRICK = Figure(
    2.1, "W/(m²K)", "scot-u-values", PUBLISHED,
    "solid brick before 1950, uninsulated: the table's default; measured walls of this kind average 1.3 to 1.4",
)  # fmt: skip
WALL_U_SOLID_MEASURED = Figure(
    1.3, "W/(m²K)", "li-2015", PUBLISHED, "abstract: mean of 40 solid brick walls, 1.3 ± 0.4"
)
OUTDOOR_MEAN_H = Figure(
    24, "h", "our-judgement", JUDGED, "masonry follows the day's mean, not its hours; thick stone 48 to 72 h"
)

LINED_CANVAS = Figure(0.02, "m²K/W", "our-judgement", JUDGED, "two fabrics and paint, 2 to 3 mm at 0.12 W/(m K)")
BACKING_BOARD = Figure(0.025, "m²K/W", "our-judgement", JUDGED, "3 mm hardboard; a foam board of 5 mm has 0.14")
BOARD_CAVITY_MM = Figure(20, "mm", "our-judgement", JUDGED, "canvas to backing board: the depth of a stretcher bar")
CANVAS_TO_WALL_MM = Figure(
    20,
    "mm",
    "our-judgement",
    JUDGED,
    "a picture hung without spacers: the depth of frame or stretcher behind the canvas",
)

WALL_FACE_U_K = Figure(
    1.5,
    "K",
    "our-judgement",
    JUDGED,
    "a reckoned wall face: the U-value and the air behind the picture are not known better",
)
CANVAS_BACK_U_K = Figure(0.7, "K", "our-judgement", JUDGED, "a reckoned canvas back: half of that or less")

OPEN_GAP_CONVECTION = Figure(
    2.5, "W/(m²K)", "iso-13789", PUBLISHED, "each face of an open gap, vertical; table 8, as quoted"
)
OPEN_GAP_RADIATION = Figure(4.4, "W/(m²K)", "our-judgement", JUDGED, "between two faces of emissivity 0.9 near 15 °C")
OPEN_GAP_LOSSES = Figure(1.5, "velocity heads", "our-judgement", JUDGED, "entry and exit of an open gap")
OPEN_GAP_DROP_K = Figure(20, "K", "our-judgement", JUDGED, "room less outdoors at which the open gap is worked out")
OPEN_GAP_HEIGHT_M = Figure(0.8, "m", "our-judgement", JUDGED, "height of a picture where it is not known")
AIR_DENSITY = Figure(1.2, "kg/m³", "ashrae-fundamentals-2017", MEMORY, "at 20 °C")
AIR_HEAT = Figure(1006, "J/(kg K)", "ashrae-fundamentals-2017", MEMORY)
AIR_VISCOSITY = Figure(1.8e-5, "Pa s", "ashrae-fundamentals-2017", MEMORY, "near 15 °C")
GRAVITY = Figure(9.81, "m/s²", "codata-2018", PUBLISHED)
