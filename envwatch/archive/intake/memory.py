"""What was answered of a logger's files, for its next ones: its clock for all, what is of a layout for that layout."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from sqlalchemy import select

from envwatch.archive.store.originals import unjson
from envwatch.archive.store.tables import FILES, LEARNED
from envwatch.logs.times.day_order import WORDS

if TYPE_CHECKING:
    from envwatch.archive.store.folder import StudioFolder

ZONE = "zone"  # an answer that holds for all files of a logger
OF_FORM = ("dates", "decimal", "temp_unit", "columns")  # those that hold for its files of the same layout
Form = tuple[str, ...]


@dataclass
class Memory:
    """Answers by logger. It learns as files are taken in."""

    studio: StudioFolder
    answered: dict[str, dict[str, str]] = field(default_factory=dict)
    forms: dict[str, dict[Form, dict[str, str]]] = field(default_factory=dict)
    _orders: dict[str, dict[Form, str]] = field(default_factory=dict)

    @classmethod
    def of(cls, studio: StudioFolder) -> Memory:
        """As the register has it."""
        memory = cls(studio)
        query = select(LEARNED, FILES.c.layout).join(FILES).where(LEARNED.c.kind.in_((ZONE, *OF_FORM)))
        with studio.reading() as connection:
            for row in connection.execute(query.order_by(LEARNED.c.id)):
                memory._answer(row.logger, form(unjson(row.layout)), {row.kind: row.value})
        return memory

    def learn(self, logger: str, layout: Mapping[str, Any], said: Mapping[str, str]) -> None:
        """What was answered of a file of this layout, and in which order it wrote its dates."""
        if said:
            self._answer(logger, form(layout), said)
        if order := _order(layout):
            self.orders(logger)[form(layout)] = order

    def _answer(self, logger: str, layout: Form, said: Mapping[str, str]) -> None:
        if ZONE in said:
            self.answered.setdefault(logger, {})[ZONE] = said[ZONE]
        if of_form := {name: value for name, value in said.items() if name in OF_FORM}:
            self.forms.setdefault(logger, {}).setdefault(layout, {}).update(of_form)

    def orders(self, logger: str | None) -> dict[Form, str]:
        """In which order the logger's last file of each layout wrote its dates, as far as that one could tell."""
        if logger is None:
            return {}
        if logger not in self._orders:
            query = select(FILES.c.layout).where(FILES.c.logger == logger).order_by(FILES.c.id)
            with self.studio.reading() as connection:
                layouts = [unjson(text) for text in connection.execute(query).scalars()]
            self._orders[logger] = {form(layout): order for layout in layouts if (order := _order(layout))}
        return self._orders[logger]

    def notes(
        self, logger: str, layout: Mapping[str, Any], used: Mapping[str, Any], said: Mapping[str, str]
    ) -> list[str]:
        """What of the answers that a file was read with was not given with it, each with where it is from."""
        known = {**self.answered.get(logger, {}), **self.forms.get(logger, {}).get(form(layout), {})}
        notes = [f"{name} {value}, as answered for an earlier file of {logger}"
                 for name, value in known.items() if name not in said]  # fmt: skip
        if used.get("dates") and "dates" not in {**known, **said}:
            notes.append(f"dates {WORDS[str(used['dates'])]}, as in the earlier files of {logger}")
        return notes


def form(layout: Mapping[str, Any]) -> Form:
    """A file's layout as far as answers about it hold for the next one: its delimiter and columns."""
    return (layout.get("delimiter", ""), *layout.get("columns", ()))


def _order(layout: Mapping[str, Any]) -> str | None:
    """dmy, mdy or ymd, where a layout says that the dates could have been read otherwise."""
    written = layout.get("date_format", "")
    return next((order for order, words in WORDS.items() if written.endswith(words)), None)
