"""Every place's hazards as independent pieces of work: one pure function over Parquet parts.

`orders` cuts the work, `work` does one piece, `together` joins what came back. What lies between is anybody's: a plain
`map`, or an engine on many machines (`dask.distributed`; archive/MACHINES.md). No piece needs the register,
the clock or another piece, and none writes anything, so any number of them give the same table, bit for bit.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from itertools import groupby
from typing import TYPE_CHECKING, Any

import pandas as pd

from envwatch import climate, verdict
from envwatch.archive import Studio
from envwatch.archive.climates.exposure import first_reading
from envwatch.archive.register.redaction import Names
from envwatch.archive.remote import Afar, Snapshot, snapshot
from envwatch.cases import leaving
from envwatch.cases.judging import build_up
from envwatch.climate.exposure import Exposure
from envwatch.core.findings import Finding
from envwatch.core.painting import CareStatus, Painting
from envwatch.core.period import Period

if TYPE_CHECKING:
    import pyarrow as pa

PLACE = ("temp_mean_c", "temp_min_c", "temp_max_c", "rh_mean_percent", "rh_min_percent", "rh_max_percent")
TEXTS = ("hazard", "mechanism", "layer", "point", "unit", "certainty", "sentence")
FLOATS = ("value", "uncertainty", "limit", "hours")
TIMES = ("since", "worst_at")


@dataclass(frozen=True)
class PlaceJob:
    """One place to be worked out, with all that it takes but the readings.

    Attributes
    ----------
    root : address of the studio folder or of a copy of it, as fsspec has it (a path, `s3://…`).
    told : the place as the table names it: its id, or a number where that bears an owner's name.
    alike : the build-ups that stood there in the span, without names and owners, each with its paintings' ids.
    history_from : from when on the air is looked at, so that layers carry their history into [start, end).
    options : for fsspec.
    """

    root: str
    place: str
    told: str
    alike: tuple[tuple[Painting, tuple[str, ...]], ...]
    history_from: pd.Timestamp
    start: pd.Timestamp
    end: pd.Timestamp
    snapshot: Snapshot
    options: Mapping[str, Any] = field(default_factory=dict)


def orders(
    studio: Studio, span: Period, root: str | None = None, options: Mapping[str, Any] | None = None
) -> tuple[PlaceJob, ...]:
    """The work of a span, a piece for each place, in the register's order.

    Parameters
    ----------
    root : where the workers find `readings/`; by default the folder itself.
    """
    names = studio.names()
    history_from = min(first_reading(studio) or span.start, span.start)
    return tuple(
        PlaceJob(
            str(studio.folder.resolve()) if root is None else root, place, names.ident(place),
            _alike(studio, names, place, span), history_from, span.start, span.end, snapshot(studio, place, names),
            options or {},
        )
        for place in studio.places()
    )  # fmt: skip


def _alike(studio: Studio, names: Names, place: str, span: Period) -> tuple[tuple[Painting, tuple[str, ...]], ...]:
    """The build-ups of the paintings in care that stood in a place at any time of a span."""
    found: dict[Painting, list[str]] = {}
    for painting in studio.paintings().values():
        stood = any(
            stay.place_id == place and stay.start < span.end and (stay.end is None or stay.end > span.start)
            for stay in painting.stays
        )
        left = leaving.departure(studio, painting, span, span.end) if painting.care is CareStatus.CLOSED else None
        if stood and (left is None or leaving.until_left(painting, left, span) is not None):
            found.setdefault(names.within(build_up(painting)), []).append(names.ident(painting.id))
    return tuple((alike, tuple(ids)) for alike, ids in found.items())


def work(order: PlaceJob) -> pa.Table:
    """The hazards of one place, for the bare room and for each build-up that stood there.

    Pure: the same order and parts give the same table, bit for bit where envwatch, its libraries and the kind of
    processor are the same; between kinds of processor the last digit of a sum may differ.

    Returns
    -------
    A row a finding: `place`; `paintings`, the ids of those of the build-up, empty for the bare room; `coverage` (0 to
    1) and the columns of `PLACE` over the span [°C], [% RH]; then the finding, its `level` by number: 0 clear, 1 not
    known, 2 watch, 3 act, 4 urgent. NaN and null are not known.

    Raises
    ------
    StudioError : a part is gone, or not as it was written.
    """
    afar = Afar(order.snapshot, order.root, order.options)
    return figures(afar.place_exposure(order.place, order.history_from, order.end), order)


def figures(exposure: Exposure, order: PlaceJob) -> pa.Table:
    """The table of `work`, of a place's exposure however it was assembled, by the materials of the order."""
    import pyarrow as pa

    zone = order.snapshot.register.places[order.place].zone
    told = climate.describe_place(exposure.room, zone, order.start)
    place = {"place": order.told} | {name: getattr(told, name) for name in ("coverage", *PLACE)}
    rows = [
        place | {"paintings": list(ids)} | _row(finding)
        for painting, ids in ((None, ()), *order.alike)
        for finding in verdict.judge(exposure, painting, order.start, order.snapshot.materials).findings
    ]
    return pa.Table.from_pylist(rows, _schema())


def _row(finding: Finding) -> dict[str, Any]:
    own = {name: getattr(finding, name) for name in (*TEXTS, *FLOATS, *TIMES)}
    return own | {"level": int(finding.level), "certainty": finding.certainty.value}


def _schema() -> pa.Schema:
    import pyarrow as pa

    kinds = {"place": pa.string(), "paintings": pa.list_(pa.string())}
    kinds |= {name: pa.float64() for name in ("coverage", *PLACE)}
    kinds |= {name: pa.string() for name in TEXTS} | {"level": pa.int8()}
    kinds |= {name: pa.float64() for name in FLOATS} | {name: pa.timestamp("us", tz="UTC") for name in TIMES}
    return pa.schema(list(kinds.items()))


def together(tables: Iterable[pa.Table]) -> pa.Table:
    """What the pieces gave, as one table, in the order given."""
    import pyarrow as pa

    return pa.concat_tables([_schema().empty_table(), *tables]).combine_chunks()


def worst(table: pa.Table) -> dict[str, int]:
    """The worst level of each place, by its number, the places as they stand in the table."""
    found = zip(table["place"].to_pylist(), table["level"].to_pylist(), strict=True)
    return {place: max(level for _, level in of) for place, of in groupby(found, lambda row: row[0])}
