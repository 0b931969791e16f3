"""What the assembling of climates asks: a studio folder gives it, and so does a snapshot beside its parts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Protocol

from envwatch.archive.store.cache import Scoped
from envwatch.archive.store.parts import Part, PartReader
from envwatch.archive.store.records import Register
from envwatch.core.place import Logger, Place


class Parts(Protocol):
    """The parts that hold, by logger, and what was worked out of them."""

    air: Scoped

    @property
    def parts(self) -> Mapping[str, Sequence[Part]]: ...


class ReadingSource(Protocol):
    """Readings, and the nouns that say where they were taken."""

    zone: str

    @property
    def reader(self) -> PartReader: ...

    def state(self) -> Parts: ...
    def register(self) -> Register: ...
    def places(self) -> dict[str, Place]: ...
    def loggers(self) -> dict[str, Logger]: ...
