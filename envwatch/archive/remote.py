"""The air of one place from Parquet parts alone, wherever they lie: without a register, for another process or machine.

A `Snapshot` holds, as plain values, the little of the register on which one place's air depends; `Afar` puts it beside
the parts in a folder or an object store, and climates are then assembled by the very functions that serve a studio.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pandas as pd

from envwatch.archive.climates import exposure
from envwatch.archive.register.redaction import ADDRESSES, Names, names_of
from envwatch.archive.store.cache import LruCache, Scoped
from envwatch.archive.store.parts import Part, PartReader
from envwatch.archive.store.records import Register, require_id
from envwatch.climate.exposure import Exposure
from envwatch.core.errors import StudioError
from envwatch.core.place import Logger, Place
from envwatch.figures.materials import Profile

if TYPE_CHECKING:
    from envwatch.archive.store.folder import StudioFolder


@dataclass(frozen=True)
class Snapshot:
    """What the air of one place depends on, at one state of the register. No paintings, no owners.

    Ids, channels and paths stay as they are: by them the readings are found.

    Attributes
    ----------
    register : the place, those that stand in for it, and those where its loggers ever hung; and their loggers.
    parts : the parts that hold, by logger, in the order of their years.
    materials : the profiles in force.
    """

    zone: str
    register: Register
    parts: Mapping[str, tuple[Part, ...]]
    materials: Mapping[str, Profile]


def snapshot(studio: StudioFolder, place_id: str, names: Names | None = None) -> Snapshot:
    """What the air of a place depends on, in words without `names`, by default all owners. NotThere: no such place."""
    names = names_of(studio) if names is None else names
    state = studio.state()
    whole = state.register
    stand_ins = whole.stand_ins.get(require_id("place", place_id, whole.places), ())
    speaking = {place_id, *(one.neighbour for one in stand_ins)}
    # a logger is doubted when it drifts from another one, in any room where the two hung
    rooms = speaking | {hung.place_id for one in _hung(whole, speaking).values() for hung in one.hangings}
    loggers = _hung(whole, rooms)
    named = rooms | {hung.place_id for one in loggers.values() for hung in one.hangings}

    def of_loggers(table: Mapping[str, Any]) -> dict[str, Any]:
        return {id: rows for id, rows in table.items() if id in loggers}

    register = replace(
        whole, places={id: place for id, place in whole.places.items() if id in named}, loggers=loggers, paintings={},
        calibrations=of_loggers(whole.calibrations), stand_ins={place_id: stand_ins} if stand_ins else {},
        mark_answers=of_loggers(whole.mark_answers), causes={},
    )  # fmt: skip
    parts = {id: tuple(held) for id, held in of_loggers(state.parts).items()}
    return Snapshot(studio.zone, names.within(register, ADDRESSES), parts, dict(studio.materials()))


def _hung(whole: Register, places: set[str]) -> dict[str, Logger]:
    """Loggers that ever hung in any of the places."""
    return {id: one for id, one in whole.loggers.items() if one.ever_in(places)}


class RemoteReader(PartReader):
    """Reads parts through fsspec. A part that is not as it was written is refused here too."""

    def __init__(self, root: str, options: Mapping[str, Any]) -> None:
        super().__init__(Path())
        try:
            from fsspec.core import url_to_fs
        except ImportError as error:
            raise StudioError(
                'reading from afar wants the extra packages: python -m pip install "envwatch[cluster]"'
            ) from error
        self.files, self.root = url_to_fs(root, **options)

    def _content(self, path: str) -> bytes:
        try:
            return self.files.cat_file(f"{self.root.rstrip('/')}/{path}")
        except OSError:
            raise
        except Exception as error:  # each kind of store has errors of its own
            raise OSError(f"{type(error).__name__}: {error}") from error


@dataclass
class _State:
    parts: Mapping[str, tuple[Part, ...]]
    air: Scoped = field(default_factory=lambda: Scoped(LruCache(8_000_000), ()))


class Afar:
    """A snapshot beside its parts. Answers what the assembling of climates asks of a `Studio`.

    Parameters
    ----------
    root : address of the studio folder or of a copy of it, as fsspec has it: a path, `s3://…`, `memory://…`.
    options : for fsspec, such as where the object store is.
    """

    def __init__(self, snapshot: Snapshot, root: str, options: Mapping[str, Any] | None = None) -> None:
        self.zone, self._register = snapshot.zone, snapshot.register
        self._state = _State(snapshot.parts)
        self.reader = RemoteReader(root, options or {})

    def state(self) -> _State:
        """The parts, and what was worked out of them."""
        return self._state

    def register(self) -> Register:
        """The nouns of the snapshot."""
        return self._register

    def places(self) -> dict[str, Place]:
        """Its places by id."""
        return self._register.places

    def loggers(self) -> dict[str, Logger]:
        """Its loggers by id."""
        return self._register.loggers

    def place_exposure(self, place_id: str, start: pd.Timestamp, end: pd.Timestamp) -> Exposure:
        """The exposure of whatever stands in a place. StudioError: a part is gone or damaged."""
        return exposure.place_exposure(self, place_id, start, end)


__all__ = ["Afar", "RemoteReader", "Snapshot", "snapshot"]
