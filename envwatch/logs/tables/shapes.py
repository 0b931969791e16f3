"""What a table's columns are: roles and contents, probes, how the readings lie."""

from __future__ import annotations

from typing import NamedTuple

from envwatch.logs.text.roles import ColumnRole


class Column(NamedTuple):
    """One column that is not the time: its place, header, role and how many of its filled cells are numbers."""

    at: int
    name: str
    role: ColumnRole
    numeric: float
    filled: float

    def known_as(self, **more) -> Column:
        """The same column with something else in its role."""
        return self._replace(role=self.role._replace(**more))

    @property
    def called(self) -> str:
        """Its name, or its place, for a sentence."""
        return repr(self.name) if self.name else f"column {self.at + 1}"


class Probe(NamedTuple):
    """The columns of one probe; `rh` None where it measures no humidity."""

    label: str
    temp: Column
    rh: Column | None
    others: tuple[Column, ...] = ()


class Shape(NamedTuple):
    """How readings lie in the table.

    probes : for readings side by side. by : the column naming the probe, where rows are.
    quantity, value, unit : columns of a table with one quantity a row.
    flags : columns of events and remarks.
    """

    probes: tuple[Probe, ...]
    by: int | None = None
    quantity: int | None = None
    value: int | None = None
    unit: int | None = None
    flags: tuple[int, ...] = ()
    notes: tuple[str, ...] = ()
