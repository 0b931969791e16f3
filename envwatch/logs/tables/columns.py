"""Columns on their way from text to numbers: which rows of them, with which decimal mark."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pyarrow as pa

from envwatch.core.errors import BadInput
from envwatch.logs.tables.body import Body
from envwatch.logs.tables.find import Start
from envwatch.logs.tables.shapes import Column
from envwatch.logs.text.cells import DAMAGE, Numbers, decimal_marks, looks_numeric, numbers, tidy
from envwatch.logs.times.columns import picked


class Take:
    """The open rows of a column; all of it, uncopied, where every row is open."""

    def __init__(self, body: Body, open_: np.ndarray) -> None:
        self.body, self.rows = body, None if len(open_) == len(body.line) else pa.array(open_)

    def __call__(self, at: int) -> pa.ChunkedArray:
        column = self.body.columns[at]
        return column if self.rows is None else column.take(self.rows)


class Marks:
    """The decimal mark of each column: as told, by its own cells, else as in the other columns."""

    def __init__(self, body: Body, used: list[int], told: str | None, start: Start) -> None:
        self.body, self.told, self.said = body, told, ""
        self._counts: dict[int, tuple[int, int]] = {}
        points, commas = (sum(n) for n in zip(*(self._count(at) for at in used), strict=True))
        if not told and start.paired:
            self.told = ","
        if points and commas:
            self.said = "Some values have a decimal point and others a decimal comma; each column was read by its own."
        self.main = self.told or ("," if commas > points or (not points and self._only_commas(used)) else ".")

    def _sample(self, at: int) -> list[str]:
        column = self.body.columns[at]
        return [cell or "" for cell in picked(column, range(0, len(column), max(1, len(column) // 150)))]

    def _count(self, at: int) -> tuple[int, int]:
        if at not in self._counts:
            self._counts[at] = decimal_marks(self._sample(at))
        return self._counts[at]

    def _only_commas(self, used: list[int]) -> bool:
        text = "".join(c for at in used for c in self._sample(at) if looks_numeric(tidy(c)))
        return "," in text and "." not in text

    def __call__(self, at: int) -> str:
        if self.told:
            return self.told
        points, commas = self._count(at)
        return self.main if points == commas else "," if commas > points else "."


class Reader(NamedTuple):
    """What is needed to read a column: its texts by position, the lines, the decimal mark, the user's unit."""

    column: Take
    line: np.ndarray
    decimal: Marks
    temp_unit: str | None
    name: str

    def numbers(self, c: Column) -> Numbers:
        """One column's numbers.

        Raises
        ------
        BadInput : a spreadsheet turned readings of it into dates.
        """
        got = numbers(self.column(c.at), self.decimal(c.at))
        hurt = np.flatnonzero(got.code == DAMAGE)
        if len(hurt):
            raise BadInput(
                f"{self.name}, line {int(self.line[hurt[0]])}: a spreadsheet has turned readings of "
                f"{c.name or 'a column'!r} into "
                f"dates ({len(hurt)} rows). Export the file again from the logger and do not open it in between."
            )
        return got
