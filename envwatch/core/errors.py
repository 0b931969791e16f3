"""The few kinds of error: what is wrong as data, said in one plain line: where, what was seen, what to do.

The command line prints that line alone and leaves with `exit_code`; nothing else in the project may let a traceback
reach the studio. An input is named in a sentence as ⟦its_name⟧; whoever shows the sentence says what the reader calls
it: the command line by its option, a page by the words over its input.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence

REFERENCE = re.compile(r"⟦([a-z][a-z0-9_]*)⟧")
Naming = Callable[[str], str]


def named(text: str, naming: Naming = str) -> str:
    """A sentence with its inputs called as the reader calls them.

    >>> named("give ⟦air_change⟧ too", lambda name: name.replace("_", " "))
    'give air change too'
    """
    return REFERENCE.sub(lambda found: naming(found[1]), text)


class EnvwatchError(Exception):
    """Anything envwatch refuses to do, said in one line that a practitioner can act on.

    Parameters
    ----------
    todo : what is wrong with it, and what to do.
    field : name of the input at fault, or of the one that would mend it; "" if it is none.
    place : where: a file, its line or row, a position, a painting.
    seen : what was given for `field`; None: not to be said.

    Attributes
    ----------
    statement : what is wrong, in one line; its inputs as ⟦their_name⟧.
    beside : the same where neither the input nor the place has to be named.
    """

    exit_code = 1
    naming: Naming = staticmethod(str)  # how the line names inputs; the command line sets its own

    def __init__(self, todo: str, *, field: str = "", place: object = "", seen: object = None) -> None:
        super().__init__(todo)
        self.field = field
        self.todo, self.place = _one_line(todo), _one_line(place)
        self.seen = None if seen is None else _one_line(seen)
        self.beside = ": ".join(part for part in (self.seen, self.todo.removeprefix(f"⟦{field}⟧ ")) if part)
        self.statement = self._composed()

    def _composed(self) -> str:
        subject = f"⟦{self.field}⟧ {self.seen}" if self.field and self.seen is not None else self.seen
        return ": ".join(part for part in (self.place, subject, self.todo) if part)

    @property
    def sentence(self) -> str:
        """The statement, and behind a question how it is answered."""
        return self.statement

    @property
    def faults(self) -> tuple[EnvwatchError, ...]:
        """Each thing that is wrong, as an error of its own."""
        return (self,)

    def __str__(self) -> str:
        return named(self.sentence, self.naming)


def _one_line(text: object) -> str:
    """What a file holds may be quoted in it: no control characters."""
    return "".join(c if c.isprintable() else "?" for c in " ".join(str(text).split()))


class BadInput(EnvwatchError):
    """A file, a row or an argument that cannot be used as it is."""

    exit_code = 2


class BadCell(BadInput):
    """A cell, or a key of a file, by its column: it is called as it stands there, whoever reads it."""

    def _composed(self) -> str:
        return f"{self.place}: {self.field} {self.todo}"


class Faults(BadInput):
    """All that is wrong with what was given at once, a line each; its field and place are the first one's."""

    def __init__(self, faults: Sequence[EnvwatchError]) -> None:
        super().__init__(faults[0].todo, field=faults[0].field, place=faults[0].place, seen=faults[0].seen)
        self._faults = tuple(faults)
        self.statement = "\n".join(fault.statement for fault in faults)

    @property
    def faults(self) -> tuple[EnvwatchError, ...]:
        return self._faults


def refuse(faults: Sequence[EnvwatchError]) -> None:
    """Raise what is wrong, if anything is: one error as it is, several as `Faults`."""
    if faults:
        raise faults[0] if len(faults) == 1 else Faults(faults)


class Question(EnvwatchError):
    """Input that can be read in more than one way, and only a person can say which.

    Parameters
    ----------
    todo : the question, with what was seen.
    field : the input that answers it.
    choices : the answers that it takes here.
    answer : how it is answered, where that is not by `field` alone.
    """

    exit_code = 3

    def __init__(
        self, todo: str, field: str = "", choices: tuple[str, ...] = (), *, answer: str = "", place: object = ""
    ) -> None:
        super().__init__(todo, field=field, place=place)
        self.choices = choices
        self.answer = answered(answer or f"⟦{field}⟧", choices)

    @property
    def sentence(self) -> str:
        return f"{self.statement} {self.answer}"


def answered(answer: str, choices: tuple[str, ...] = ()) -> str:
    """How a question is answered, as it stands behind it."""
    return f"Answer with {answer} {'|'.join(choices)}" if choices else f"Answer with {answer}"


class NotThere(EnvwatchError):
    """A painting, place, logger or period that the studio folder does not hold."""

    exit_code = 4


class StudioError(EnvwatchError):
    """A studio folder that cannot be opened, written or trusted as it stands."""

    exit_code = 5
