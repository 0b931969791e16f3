"""Pages that ask: what is asked stands in the address, its answer is reckoned, a refusal stands beside its input."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from dash import Dash, Input, Output, State, no_update
from flask import Response, request

from dashboards import components, jobs
from dashboards.jobs import Job, Work
from dashboards.session import StudioSession, house
from dashboards.units import CALL
from envwatch.archive import Studio
from envwatch.cases import fields
from envwatch.cases.fields.dehumidifier import INPUTS
from envwatch.core.errors import EnvwatchError, NotThere, named
from envwatch.core.painting import Painting
from envwatch.core.place import POSITIONS

Asked = dict[str, str]
NAMED = re.compile(r"(?:⟦|\\u27e6)([a-z][a-z0-9_]*)(?:⟧|\\u27e7)")  # in an answer on its way out, escaped or not


@dataclass(frozen=True)
class Asking:
    """What such pages have in common.

    Attributes
    ----------
    path : the page's address.
    long : what is said while it is reckoned.
    begin : the work that an address asks for, begun or found.
    prepare : the work alone; it refuses what cannot be used as it is.
    label : the words over an input of the page, "" where the page has no such input.
    input_of : the input of the page for an error's field, by what is asked; by default it is called the same.
    """

    path: str
    long: str
    begin: Callable[[StudioSession, Asked], Job]
    prepare: Callable[[StudioSession, Studio, Asked], Work]
    label: Callable[[str], str]
    input_of: Callable[[str, Mapping[str, str]], str] = lambda field, _asked: field

    def answer(
        self, home: StudioSession, asked: Asked, show: Callable[[Any, Asked], Any]
    ) -> tuple[Any, dict[str, str], Any]:
        """What is shown, what is wrong by input, and the result; None before there is one."""
        try:
            job = self.begin(home, asked)
            if not job.over.is_set():
                return jobs.waiting(job, self.long, self.path, asked), {}, None
            result = job.finished()
        except EnvwatchError as error:
            faults = self.faults(error, asked)
            below = "".join(f". It is answered below, under “{self.label(at)}”" for at in faults if at)
            return components.refusal(self.words(error, asked).rstrip(".") + below), faults, None
        return show(result, asked), {}, result

    def go(self, asked: Asked, inputs: Sequence[str]) -> tuple[Any, Any, list[str]]:
        """To the address of what is asked; or a refusal: what no input answers, and what is beside each input."""
        try:
            with house().reading() as studio:
                self.prepare(house(), studio, asked)
        except EnvwatchError as error:
            faults = self.faults(error, asked)
            whole = components.refusal(faults[""]) if "" in faults else ""
            return no_update, whole, [faults.get(name, "") for name in inputs]
        return f"{self.path}?{urlencode(asked)}", "", [""] * len(inputs)

    def faults(self, error: EnvwatchError, asked: Mapping[str, str]) -> dict[str, str]:
        """A refusal by the input that answers it; under "" where none does."""
        at = self.input_of(error.field, asked)
        if not self.label(at):
            return {"": self.words(error, asked)}
        return {at: components.sentence_of(named(error.beside, self._naming(asked)))}

    def words(self, error: EnvwatchError, asked: Mapping[str, str]) -> str:
        """A refusal whole."""
        told = named(error.statement, self._naming(asked))
        return told if error.place else components.sentence_of(told)

    def _naming(self, asked: Mapping[str, str]) -> Callable[[str], str]:
        return lambda field: f"“{self.label(self.input_of(field, asked)) or field.replace('_', ' ')}”"


class Fields:
    """The fields of a page, made of a table of inputs, with what was asked in each and what is wrong with it.

    `id_of` gives a field's id by its name; a name may tell what it is of before a dot, as "2.sun" does.
    """

    def __init__(self, inputs: Mapping[str, fields.Input], id_of: Callable[[str], Any], asked: Mapping[str, str],
                 faults: Mapping[str, str], studio: Studio | None = None, **rest: Any) -> None:  # fmt: skip
        self.inputs, self.id_of, self.asked, self.faults = inputs, id_of, asked, faults
        self.kept, self.rest = _of(studio) if studio else {}, rest

    def __call__(self, name: str) -> Any:
        one = self._input(name)
        choices = one.choices or self.kept.get(one.kind)
        if choices is not None:
            return self.choose(name, choices, clearable=True)
        return components.field(self.id_of(name), one.words, one.hint, value=self.asked.get(name, ""),
                                error=self.faults.get(name) or None)  # fmt: skip

    def choose(self, name: str, choices: Sequence[tuple[str, str]], usual: str | None = None, **rest: Any) -> Any:
        """A field with these choices; `usual` where nothing was asked."""
        return components.choice(self.id_of(name), self._input(name).words, choices, self.asked.get(name) or usual,
                                 error=self.faults.get(name) or None, **self.rest | rest)  # fmt: skip

    def _input(self, name: str) -> fields.Input:
        return self.inputs[name.rpartition(".")[2]]


def _of(studio: Studio) -> dict[str, fields.Choices]:
    """What one may choose of a studio, by kind of input."""
    return {
        fields.PAINTING: tuple((p.id, f"{p.title} [{p.id}]") for p in studio.paintings().values()),
        fields.ADHESIVE: tuple((key, one.label) for key, one in studio.materials().items() if one.adhesive),
        fields.PLACE: tuple((place.id, place.name) for place in studio.places().values()),
        fields.LOGGER: tuple((logger.id, logger.name) for logger in studio.loggers().values()),
        fields.PLACEMENT: fields.same(POSITIONS),
    }


def painting_of(studio: Studio, asked: Mapping[str, str]) -> Painting:
    """The painting whose number was asked for. NotThere: none has it; words, an owner's name too, find none here."""
    id = asked["painting"]
    if id not in studio.paintings():
        raise NotThere(f"no painting has the number {id}", field="painting")
    return studio.paintings()[id]


def watch(app: Dash, pages: Iterable[Asking]) -> None:
    """While a page's work goes on: how far it has come, and the page again when it is done."""
    of_page = {page.path: page for page in pages}

    def look(_n: int, waiting: tuple[str, Asked], again: int | None) -> tuple[Any, Any]:
        path, asked = waiting
        job = of_page[path].begin(house(), asked)
        return (no_update, (again or 0) + 1) if job.over.is_set() else (jobs.bar(job), no_update)

    app.callback(Output("reckoned", "children"), Output("again", "data", allow_duplicate=True),
                 Input("reckon-tick", "n_intervals"), State("reckon-asked", "data"), State("again", "data"),
                 prevent_initial_call=True)(look)  # fmt: skip


def called_as_here(answer: Response) -> Response:
    """An answer whose results speak of inputs, as ⟦their_name⟧, in the words over them where there are some."""
    if request.path == CALL and NAMED.search(told := answer.get_data(as_text=True)):
        answer.set_data(NAMED.sub(lambda found: f"“{_words(found[1])}”", told))
    return answer


def _words(name: str) -> str:
    return INPUTS[name].words if name in INPUTS and INPUTS[name].words else name.replace("_", " ")
