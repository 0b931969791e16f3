"""Limits for reading logger files: what is too big, what no sensor in a room can mean, what counts as evidence."""

from envwatch.core.quantities import Confidence, Figure

_OURS = ("our-judgement", Confidence.OUR_JUDGEMENT)

MAX_FILE_BYTES = Figure(2_000_000_000, "byte", *_OURS, "a larger export is split first")
MAX_LINE_BYTES = Figure(1_000_000, "byte", *_OURS, "a logger's line is hundreds of bytes at most")
MAX_COLUMNS = Figure(500, "columns", *_OURS, "a building system with 200 probes still fits")
MAX_UNPACKED_BYTES = Figure(300_000_000, "byte", *_OURS, "a spreadsheet unpacked")
MAX_UNPACK_RATIO = Figure(100, "times", *_OURS, "a real spreadsheet packs about tenfold; a zip bomb a thousandfold")
MAX_ENTRIES = Figure(2_000, "parts", *_OURS, "a spreadsheet's parts")
MAX_CELLS = Figure(20_000_000, "cells", *_OURS, "a full sheet of a million rows by 20 columns")

TEMP_LEAST_C = Figure(-60, "°C", *_OURS, "below this no room, crate or attic: an error code such as -200")
TEMP_MOST_C = Figure(100, "°C", *_OURS, "above this no air a canvas hangs in: an error code such as 850")
RH_LEAST = Figure(-5, "% RH", *_OURS, "a wet or dry sensor overshoots by a few percent, not more")
RH_MOST = Figure(120, "% RH", *_OURS, "a wet capacitive sensor reads up to about 110; beyond is an error code")

FRACTION_MOST = Figure(1.05, "1", *_OURS, "humidity that never passes this is a fraction: wet, and a little over")
FRACTION_LEAST = Figure(0.05, "1", *_OURS, "a record that never reaches this is of a dead sensor, in either unit")
HEADED_FRACTION_MOST = Figure(1.5, "1", *_OURS, "a median above this is percent, whatever the header says")
FRACTIONS_TELL = Figure(
    20, "values", *_OURS, "so many different ones below 1.05 are no percent of a dry or dead sensor shown to 0.1 %"
)

ROOM_WARMEST_C = Figure(45, "°C", *_OURS, "a median above this cannot be a room in Celsius")
ROOM_WARM_C = Figure(
    35, "°C", *_OURS, "a median above this, without a unit, may be Celsius or a cold store's Fahrenheit"
)
ROOM_WARM_UNNAMED_C = Figure(
    24, "°C", *_OURS, "the same where no header names the column either: an unheated place in frost, in Fahrenheit"
)
FAHRENHEIT_COLDEST = Figure(34, "°F", *_OURS, "a room whose whole record in Fahrenheit is below this is doubted")
DEW_POINT_AGREES_C = Figure(
    0.5, "K", *_OURS, "rounding of temperature and humidity to 0.1 and 1 % moves the dew point by about 0.4 K"
)
UNREADABLE_SHARE = Figure(
    0.05, "share of rows", *_OURS, "more unreadable times than this: the layout was not understood"
)
UNREADABLE_ROWS = Figure(10, "rows", *_OURS, "so few unreadable rows are set aside and counted, whatever their share")
LOST_LEAST = Figure(5, "rows", *_OURS, "fewer lost readings are chance")
LOST_END = Figure(0.2, "share of readings", *_OURS, "the dampest, driest, coldest or warmest of a record")
LOST_BY_CHANCE = Figure(
    0.002, "1", *_OURS, "losses so far to one end are told; of four ends, one file in 125 by chance"
)
ORDER_MARGIN = Figure(
    11,
    "1",
    *_OURS,
    "logarithm of how much likelier one order of day and month must be; measured: none wrong in 30,000 a schedule",
)
FIRST_YEAR = Figure(1980, "year", *_OURS, "an earlier stamp is a clock that was reset: no logger of a room is older")
CLOCK_LOST_DAYS = Figure(
    1000,
    "day",
    *_OURS,
    "a file that goes back so far, to a 1 January, is of a clock that was reset, not of two downloads",
)
DEW_POINT_WRONG_C = Figure(
    2, "K", *_OURS, "no rounding moves a dew point so far: columns, or their units, are not what they are taken for"
)
COLUMNS_MARGIN = Figure(
    3, "log likelihood", *_OURS, "a pair of columns 20 times likelier than any other is read unasked"
)
COLUMNS_WORST = Figure(-6, "log likelihood", *_OURS, "a pair that fits a room's air worse than this is asked about")
DEW_POINT_MOST_C = Figure(
    35, "°C", *_OURS, "air holds no more water on any coast: a temperature in °C that gives a higher one may be in °F"
)
