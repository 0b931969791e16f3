"""Whether a spreadsheet's day numbers in a text count from 1900 or from 1904: four years and a day apart.

Spreadsheets of one make long counted from 1904, and a text that was saved from one does not say so. What only one of
the two counts makes possible decides, or a date above the table that is the day of the first or the last reading in
one of them alone. Without either they are read from 1900, as nearly all are, and the other reading is told.
"""

from __future__ import annotations

import numpy as np

from envwatch.figures.logs import FIRST_YEAR
from envwatch.logs.text.stamps import DAY_US
from envwatch.logs.times import day_order
from envwatch.logs.times.columns import NONE, Stamps
from envwatch.logs.times.preamble import written

FROM_1900, FROM_1904 = COUNTS = ("1900", "1904")  # answers to `dates`
APART_US = 1462 * DAY_US
KINDS = ("serial", "serials")


def settled(stamps: Stamps, preamble: list[str], told: str | None, now_us: int, flag: str | None = None) -> Stamps:
    """Times read from 1900, as they are or from 1904, with a note on what decided or that nothing did.

    Parameters
    ----------
    preamble : the lines above the table. told : what was answered to `dates`. flag : a workbook's own year.
    """
    good = stamps.wall[stamps.wall != NONE]
    if told == FROM_1904:
        return _from_1904(stamps, "Day numbers were counted from 1904, as answered.")
    if told is None and flag == FROM_1904:
        return _from_1904(stamps, "Day numbers were counted from 1904, as the workbook says.")
    if FROM_1900 in (told, flag) or not len(good):
        return stamps
    ends = np.array([good.min(), good.max()])
    since = np.datetime64(f"{int(FIRST_YEAR)}-01-01", "us").astype(np.int64)
    if ends[1] + APART_US > now_us + 2 * DAY_US or ends[1] + APART_US < since:
        return stamps
    if ends[1] < since:
        return _from_1904(
            stamps, f"Day numbers were counted from 1904: from 1900 all would lie before {FIRST_YEAR:.0f}."
        )
    above = _days(preamble)
    fits = [bool(above & set(((ends + late) // DAY_US).tolist())) for late in (0, APART_US)]
    if fits == [False, True]:
        return _from_1904(
            stamps, "Day numbers were counted from 1904: so the date above the table is that of a reading."
        )
    if fits == [True, False]:
        return stamps
    first = [str(np.datetime64(int(ends[0]) + late, "us"))[:10] for late in (0, APART_US)]
    note = (
        f"Day numbers in a text may count from 1900 or from 1904; they were read from 1900, first reading {first[0]}. "
        f"If it was {first[1]}, read the file with ⟦dates⟧ 1904."
    )
    return stamps._replace(notes=(*stamps.notes, note))


def _from_1904(stamps: Stamps, note: str) -> Stamps:
    wall = np.where(stamps.wall == NONE, NONE, stamps.wall + APART_US)
    return stamps._replace(wall=wall, shown=f"{stamps.shown} from 1904", notes=(*stamps.notes, note))


def _days(preamble: list[str]) -> set[int]:
    """Days since 1970 that the dates in some lines can mean."""
    found = [date for date in (w.date for w in written(preamble)) if date is not None]
    return {int(day) for order in (day_order.orders(list(found)) if found else ())
            for day, valid in zip(order.days, order.valid, strict=True) if valid}  # fmt: skip
