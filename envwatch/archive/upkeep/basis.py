"""What a paper about a painting rests on, as one checksum: rows of the register, originals, kept reviews."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from sqlalchemy import ColumnElement, Connection, Table

from envwatch.archive.store.records import found, in_order
from envwatch.archive.store.tables import (
    CALIBRATIONS,
    CAUSES,
    FILES,
    HANGINGS,
    LAYERS,
    LIMITS,
    LOGGERS,
    MARK_ANSWERS,
    OBSERVATIONS,
    PAINTINGS,
    PLACES,
    REVIEWS,
    STAND_INS,
    STAYS,
    TREATMENTS,
)

if TYPE_CHECKING:
    from envwatch.archive.store.folder import StudioFolder


@dataclass(frozen=True)
class PaperBasis:
    """How many rows, originals and kept reviews, and the SHA-256 of them all: the same from the same, wherever the
    folder lies, and another when any of them differs in a letter."""

    rows: int
    originals: int
    reviews: int
    sha256: str


def basis(studio: StudioFolder, painting_id: str, originals: Iterable[str], reviews: Iterable[int]) -> PaperBasis:
    """What a paper about a painting rests on.

    Parameters
    ----------
    originals : SHA-256 of the logger files behind it. reviews : numbers of the kept reviews that it tells of.
    """
    files, numbers = sorted(set(originals)), sorted(set(reviews))
    with studio.reading() as connection:
        rows = _rows(connection, painting_id, _loggers(studio, files))
        kept = _of(connection, REVIEWS, REVIEWS.c.id.in_(numbers))
        kept += _of(connection, LIMITS, LIMITS.c.id.in_({row["limits"] for _, row in kept}))
    lines = [json.dumps([table, row], sort_keys=True, default=str) for table, row in [*rows, *kept]]
    whole = "\n".join(sorted(lines) + [f"original {sha256}" for sha256 in files])
    return PaperBasis(len(rows), len(files), len(numbers), hashlib.sha256(whole.encode()).hexdigest())


Rows = list[tuple[str, dict[str, Any]]]


def _loggers(studio: StudioFolder, files: list[str]) -> set[str]:
    with studio.reading() as connection:
        return {row["logger"] for _, row in _of(connection, FILES, FILES.c.sha256.in_(files))}


def _rows(connection: Connection, painting_id: str, loggers: set[str]) -> Rows:
    """The painting's own rows, those of the places it stood in, and those of the loggers that read there."""
    out = _of(connection, PAINTINGS, PAINTINGS.c.id == painting_id)
    for table in (LAYERS, TREATMENTS, STAYS, OBSERVATIONS):
        out += _of(connection, table, table.c.painting == painting_id)
    places = {row["place"] for table, row in out if table == STAYS.name}
    out += _of(connection, PLACES, PLACES.c.id.in_(places))
    for table in (CAUSES, STAND_INS):
        out += _of(connection, table, table.c.place.in_(places))
    out += _of(connection, LOGGERS, LOGGERS.c.id.in_(loggers))
    for table in (HANGINGS, CALIBRATIONS, MARK_ANSWERS):
        out += _of(connection, table, table.c.logger.in_(loggers))
    return out


def _of(connection: Connection, table: Table, those: ColumnElement[bool]) -> Rows:
    return [(table.name, row) for row in found(connection, in_order(table).where(those))]


__all__ = ["PaperBasis", "basis"]
