"""The probes of a logger, by the labels in its files, and those that nobody said hang anywhere."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import TYPE_CHECKING

from sqlalchemy import Connection, select

from envwatch.archive.register.rules import fault
from envwatch.archive.register.sheets import CsvRow
from envwatch.archive.store.tables import FILE_CHANNELS, FILES
from envwatch.core.errors import BadInput
from envwatch.core.place import Logger

if TYPE_CHECKING:
    from envwatch.archive.store.folder import StudioFolder


def read(connection: Connection) -> dict[str, tuple[str, ...]]:
    """By logger, the labels of the probes that its files hold, in their order; a logger without files is left out."""
    held = select(FILES.c.logger, FILE_CHANNELS.c.channel).join(FILES, FILES.c.id == FILE_CHANNELS.c.file).distinct()
    found: dict[str, tuple[str, ...]] = {}
    for logger, channel in sorted(connection.execute(held).all()):
        found[logger] = (*found.get(logger, ()), channel)
    return found


def strange(rows: Iterable[CsvRow], probes: Mapping[str, tuple[str, ...]]) -> Iterator[BadInput]:
    """Hangings of a probe that none of its logger's files has; of a logger without files nothing can be said."""
    for row in rows:
        known = probes.get(row["logger"], ())
        probe = str(row.values.get("channel", ""))  # a file may lack the column
        if probe and known and not _is(probe, known):
            named = "one probe, which needs no name" if len(known) == 1 else f"the probes {', '.join(known)}"
            yield fault(row, f"no probe {probe!r}; the files of {row['logger']} have {named}", "channel")


def hung_nowhere(studio: StudioFolder) -> dict[str, tuple[str, ...]]:
    """By logger, the probes with readings that belong to no place, because nobody ever said where they hang."""
    with studio.reading() as connection:
        probes = read(connection)
    loggers = studio.loggers()
    nowhere = {id: tuple(p for p in known if not _hung(loggers[id], p)) for id, known in probes.items()}
    return {id: left for id, left in nowhere.items() if left}


def _hung(logger: Logger, probe: str) -> bool:
    return any(_is(probe, (hanging.channel,)) or not hanging.channel for hanging in logger.hangings)


def _is(probe: object, known: Iterable[str]) -> bool:
    return str(probe).casefold() in map(str.casefold, known)
