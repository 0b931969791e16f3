"""One row of what was entered about a painting or a logger, corrected or taken out: the address names it as `row`."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any
from urllib.parse import quote

from dash import Dash, dcc, html

from dashboards import components
from dashboards.forms import touched, wire
from dashboards.pages import painting_forms
from dashboards.session import house
from envwatch.archive import Studio
from envwatch.archive.register import correct as record
from envwatch.archive.register.correct import RegisterRow
from envwatch.archive.register.sheets import BY_NAME
from envwatch.core.dates import instant
from envwatch.core.errors import BadInput, NotThere
from envwatch.core.fields import Field, cell_of

OF_PAINTING = ("treatment", "stay", "observation")
NOT_HERE = ("id", "painting", "logger")
CALLED = {name: words for group in painting_forms.GROUPS for name, words, _hint in group} | {
    "temp_interface_c": "heat at the adhesive, °C", "to": "until", "end": "until", "cloth": "onto which cloth",
}  # fmt: skip
BECAUSE = ("because", "by")
MAIN = {
    "treatment": ("kind", "on", "material", "end", "layer", "cloth", "note")
}  # what is shown also where it is empty


def fields_of(noun: str) -> tuple[Field, ...]:
    """What may be corrected in a row of a noun."""
    return tuple(field for field in BY_NAME[f"{noun}s"].fields if field.name not in NOT_HERE)


def shown_of(entry: RegisterRow) -> dict[str, str]:
    """What a form shows of a row, by field."""
    return {field.name: cell_of(entry.row[field.name]) for field in fields_of(entry.noun)}


def links(studio: Studio, owner: str, page: str, nouns: Iterable[str] = OF_PAINTING) -> Callable[..., list]:
    """What leads to the form that corrects a row, on the page that the row is told on.

    The answer takes a noun and what tells its rows apart (a treatment's id; else a place or sign and when), and gives
    the link behind the row's line; rows that are alike have theirs in turn.
    """
    left: dict[tuple, list[RegisterRow]] = {}
    for noun in nouns:
        for entry in record.entries(studio, noun, owner):
            left.setdefault((noun, *_apart(studio, entry)), []).append(entry)

    def made(*key: object) -> list:
        if not left.get(key):
            return []
        entry = left[key].pop(0)
        href = f"{page}?row={quote(entry.name.replace(' ', '-', 1))}#row"
        told = f"correct {entry.name}, or take it out"
        return [" ", dcc.Link("correct", href=href, className="why noprint", title=told)]

    return made


def _apart(studio: Studio, entry: RegisterRow) -> tuple:
    row = entry.row
    if entry.noun == "treatment":
        return (row["id"],)
    if entry.noun in record.SPANS:
        return row["place"], instant(str(row["from"]), studio.places()[str(row["place"])].zone)
    return row.get("sign", ""), instant(str(row["on"]), studio.zone)


def form(studio: Studio, wanted: str, owners: Iterable[str]) -> html.Div | None:
    """The row that an address names, to be corrected or taken out; nothing where it is not theirs, or gone."""
    noun, _, name = wanted.partition("-")
    if noun not in record.DATED or name.rpartition(":")[0] not in owners:
        return None
    try:
        entry = record.find(studio, noun, name)
    except NotThere:
        return None
    shown = shown_of(entry)
    asked = {name for name, cell in shown.items() if cell} | set(MAIN.get(noun, shown))
    inputs = {name: _input(studio, f"re{noun}-{name}", name, cell) for name, cell in shown.items()}
    empty = [made for name, made in inputs.items() if name not in asked]
    return html.Div([
        dcc.Store(id="row-of", data={"noun": noun, "name": name, "shown": shown}),
        components.form(f"re{noun}", f"Correct {entry.name}", "correct it", [
            *(made for name, made in inputs.items() if name in asked),
            components.more("what was not entered", html.Div(empty, className="fields") if empty else None),
            *_why(f"re{noun}"),
        ], "What followed from it follows. What stood there is kept, with the day and the reason.", opened=True),
        components.form(f"un{noun}", f"Take {entry.name} out of the record", "take it out", _why(f"un{noun}"),
                        "What it was is kept, with the day and the reason."),
    ], id="row")  # fmt: skip


def _input(studio: Studio, id: str, name: str, cell: str):
    called = CALLED.get(name, name.replace("_", " "))
    known = {"place": [(place.id, place.name) for place in studio.places().values()]} | {
        name: [(key, profile.label) for key, profile in studio.materials().items()] for name in ("material", "cloth")
    }
    if name in known and (not cell or cell in dict(known[name])):
        return components.choice(id, called, known[name], cell or None, clearable=name != "place")
    return components.field(id, called, value=cell)


def _why(form: str) -> list:
    return [components.field(f"{form}-because", "because", placeholder="month mistyped; entered twice"),
            components.field(f"{form}-by", "who says so", persistence=True, persistence_type="local")]  # fmt: skip


def callbacks(app: Dash) -> None:
    """What happens on a press."""
    for noun in record.DATED:
        wire(app, f"re{noun}", (*(field.name for field in fields_of(noun)), *BECAUSE), correct, whose="row-of")
        wire(app, f"un{noun}", BECAUSE, take_out, whose="row-of")


def correct(studio: Studio, whose: dict[str, Any], given: dict[str, str]) -> str:
    """Correct what was changed in the form, unless another changed it since."""
    noun, name = whose["noun"], whose["name"]
    because, by = given.pop("because"), given.pop("by")
    with studio.writing(f"correcting a {noun}"):
        entry = record.find(studio, noun, name)
        cells = touched(whose["shown"], given, shown_of(entry), entry.name)
        if not cells:
            raise BadInput("nothing differs from what this page showed", place=entry.name)
        lines = record.correct(studio, noun, name, cells, because=because, by=by, on=_today(studio))
    return f"Corrected: {'; '.join(lines)}"


def take_out(studio: Studio, whose: dict[str, Any], given: dict[str, str]) -> str:
    """Take the row out of the record, if it is still what the form showed."""
    noun, name = whose["noun"], whose["name"]
    with studio.writing(f"removing a {noun}"):
        entry = record.find(studio, noun, name)
        if shown_of(entry) != whose["shown"]:
            raise BadInput("is not what this page showed any more; nothing was taken out. Show the page again",
                           place=entry.name)  # fmt: skip
        was, *followed = record.remove(studio, noun, name, **given, on=_today(studio))
    return f"Taken out: {'; '.join([was, *followed])}"


def _today(studio: Studio) -> str:
    return str(house().now().tz_convert(studio.zone).date())
