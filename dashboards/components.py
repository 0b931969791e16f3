"""Pieces that several pages are made of."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from typing import Any
from urllib.parse import quote

import dash_mantine_components as dmc
import pandas as pd
from dash import dcc, html
from flask import Response

from envwatch.cases.timeline import ClimateChart
from envwatch.core import errors
from envwatch.core.errors import EnvwatchError
from envwatch.core.findings import Finding, Level, judgement
from envwatch.core.text import date, stamp
from envwatch.present import charts

SHAPES = {
    Level.CLEAR: "clear",
    Level.UNKNOWN: "unknown",
    Level.WATCH: "watch",
    Level.ACT: "act",
    Level.URGENT: "urgent",
}


def shape(level: Level) -> html.Span:
    """The level's shape; its word stands beside it wherever it is used."""
    return html.Span(className=f"shape {SHAPES[level]}", **{"aria-hidden": "true"})


def level(value: Level) -> html.Span:
    """The level as word and shape."""
    return html.Span([shape(value), html.Span(value.word, className="word")], className="level")


def bare(text: str, unit: str) -> html.Span:
    """Figures whose unit stands elsewhere, so that they can be shown in another one."""
    return html.Span(text, **{"data-unit": unit})


def section(title: str, *children: Any, id: str | None = None, note: str = "") -> html.Section | None:
    """A heading with what stands under it; nothing where nothing does."""
    kept = [child for child in children if child is not None and child != []]
    if not kept:
        return None
    said = [html.P(note, className="quiet")] if note else []
    return html.Section([html.H2(title), *said, *kept], **({"id": id} if id else {}))


def facts(rows: Iterable[tuple[str, Any]]) -> html.Dl:
    """Labels and what they say; empty ones are left out."""
    shown = [(label, value) for label, value in rows if value not in ("", None, [], ())]
    return html.Dl([html.Div([html.Dt(label), html.Dd(value)]) for label, value in shown], className="facts")


def items(lines: Iterable[Any]) -> html.Ul | None:
    """A list, or nothing."""
    shown = [html.Li(line) for line in lines]
    return html.Ul(shown) if shown else None


def more(summary: str, *children: Any, opened: bool = False) -> html.Details | None:
    """Something to be opened; nothing where there is nothing in it."""
    kept = [child for child in children if child is not None]
    return html.Details([html.Summary(summary), *kept], open=opened) if kept else None


def _is_figure(cell: Any) -> bool:
    cell = cell.children if isinstance(cell, html.Span) else cell
    return isinstance(cell, str) and bool(re.fullmatch(r"[-−+]?[\d,.]+", cell))


def table(
    heads: Sequence[Any], rows: Iterable[Sequence[Any]], caption: str = "", numbers: bool = True, csv: bool = True
) -> html.Div:
    """A table that scrolls by itself where the page is too narrow for it, and can be saved as CSV."""
    kept = [tuple(row) for row in rows]
    side = ["n" if all(_is_figure(row[at]) for row in kept) else None for at in range(len(heads))]
    head = html.Thead(html.Tr([html.Th(h, scope="col", className=own) for h, own in zip(heads, side, strict=True)]))
    body = html.Tbody([
        html.Tr([html.Th(first, scope="row"), *(html.Td(c, className=n) for c, n in zip(rest, side[1:], strict=True))])
        for first, *rest in kept
    ])  # fmt: skip
    said = [html.Caption(caption, className="unseen")] if caption else []
    name = "figures" if numbers else "words"
    scrolls = html.Div(html.Table([*said, head, body], className=name), className="scroll", tabIndex=0, role="region",
                       **{"aria-label": caption or "table"})  # fmt: skip
    saved = [html.Div(_act("save as CSV", "csv"), className="actions noprint")] if csv else []
    return html.Div([scrolls, *saved], className="tabled")


def _act(words: str, what: str) -> html.Button:
    """A button that the page's own script serves: see assets/envwatch.js."""
    return html.Button(words, className="plain", type="button", **{"data-save": what})


def print_button() -> html.Button:
    """Opens the browser's print window; the style sheet leaves out what is of no use on paper."""
    return _act("print, or save as PDF", "print")


def painting_link(id: str, title: str) -> dcc.Link:
    """To a painting's page."""
    return dcc.Link(title or "(no title)", href=f"/painting/{quote(id)}")


def why_link(finding: Finding, week: str) -> dcc.Link | str:
    """To the chain behind a finding of a week."""
    if finding.number is None:
        return ""
    return dcc.Link(f"why {finding.number}", href=f"/why/{finding.number}?week={week}", className="why")


def sentence(finding: Finding, week: str) -> html.P:
    """A finding in its sentence, with the way to what is behind it."""
    return html.P([finding.sentence + judgement(finding), " ", why_link(finding, week)], className="sentence")


def drying(line) -> html.P | None:
    """The course by which a painting is dried back, and how it keeps to it; nothing where there is none."""
    return html.P([html.Strong("Drying back: "), line.drying.sentence], className="do") if line.drying else None


def since(finding: Finding, zone: str) -> str:
    """Since when, and when it was worst."""
    begun = f"since {stamp(finding.since, zone)}" if finding.since is not None else ""
    worst = f"worst {stamp(finding.worst_at, zone)}" if finding.worst_at is not None else ""
    return "; ".join(part for part in (begun, worst) if part)


def moment(time: pd.Timestamp | None, zone: str) -> str:
    """A time with its year: "Mon 26 Oct 2026 14:30"; empty where there is none."""
    return "" if time is None else f"{date(time, zone)} {time.tz_convert(zone):%H:%M}"


def chart(id: str, shown: ClimateChart, reading: str, others: tuple = (), height: int = 420) -> html.Figure:
    """A course as a chart: how to read it, the chart, what can be saved of it, and the table behind it."""
    drawn = charts.course(shown, others)
    behind = html.Div([course_table(shown), *(named(other) for _kind, other in others)])
    over = f" Over it: {', '.join(other.title for _kind, other in others)}." if others else ""
    how = " ".join((charts.HOW_TO_READ[reading], *(charts.OVER[kind] for kind, _other in others)))
    return figure(id, drawn, how, charts.told(shown) + over, behind, height)


def named(shown: ClimateChart) -> html.Div:
    """The table of a course that is drawn with another one, under its own name."""
    return html.Div([html.H3(shown.title), course_table(shown)])


def figure(id: str, drawn: dict, how: str, told: str, behind: html.Div, height: int) -> html.Figure:
    """A chart with one sentence on how to read it; `told`: the same for who cannot see it; `behind`: its table."""
    return html.Figure(
        [
            html.Figcaption(how, className="how"),
            html.Div(
                dcc.Graph(id=id, figure=drawn, responsive=True, style={"height": f"{height}px"},
                          config={"displaylogo": False, "displayModeBar": False, "doubleClick": "reset"}),
                role="img", **{"aria-label": told},
            ),
            html.Div([_act("save as SVG", "svg"), _act("save as PNG", "png")], className="actions noprint"),
            more("The figures as a table", behind),
        ],
        className="chart",
    )  # fmt: skip


def course_table(shown: ClimateChart) -> html.Div:
    """The table behind a chart."""
    heads, rows = charts.table(shown.rows)
    return table(heads, rows, f"{shown.title}: lowest to highest reading, and how much of the time was read")


def notice(message: str, kind: str = "said") -> html.P:
    """A line that is read out when it appears."""
    return html.P(message, className=f"notice {kind}", role="status")


def refusal(error: EnvwatchError | str) -> html.P:
    """A refusal in its one line."""
    said = plainly(error.statement) if isinstance(error, EnvwatchError) else error
    return html.P(said, className="notice refused", role="alert")


def plainly(text: str) -> str:
    """A sentence whose inputs are called by their names, where no page has words of its own for them."""
    return errors.named(text, lambda field: f"“{field.replace('_', ' ')}”")


def sentence_of(text: str) -> str:
    """With a capital at its beginning."""
    return text[:1].upper() + text[1:]


def field(id: Any, label: str, hint: str = "", **rest: Any) -> dmc.TextInput:
    """A field for one line; what is wrong with it is said under it."""
    return dmc.TextInput(id=id, label=label, description=hint or None, debounce=False, **rest)


def choice(
    id: Any, label: str, options: Sequence[tuple[str, str]], value: str | None = None, **rest: Any
) -> dmc.Select:
    """A field with choices; typing narrows them. Choosing what is chosen keeps it: only its cross empties a field."""
    data = [{"value": key, "label": words} for key, words in options]
    return dmc.Select(id=id, label=label, data=data, value=value, searchable=True, checkIconPosition="right",
                      allowDeselect=False, **rest)  # fmt: skip


def button(id: Any, words: str, quiet: bool = False) -> html.Button:
    """A button."""
    return html.Button(words, id=id, n_clicks=0, className="plain" if quiet else "press", type="button")


def first_of_all(name: str, lacks: str, link: str, href: str, rest: str = ".") -> html.Div:
    """A page of an empty studio: what is not there yet, and where to begin."""
    return html.Div([html.H1(name), html.P(lacks), html.P(["First: ", dcc.Link(link, href=href), rest])],
                    className="empty")  # fmt: skip


def sent(content: bytes, name: str, kind: str = "application/pdf", how: str = "inline") -> Response:
    """A file as an answer; `how`: "inline", or "attachment" to be saved."""
    return Response(content, mimetype=kind, headers={"Content-Disposition": f"{how}; filename*=UTF-8''{quote(name)}"})


def form(id: str, title: str, press: str, fields: list, note: str = "", opened: bool = False) -> html.Details:
    """A form to be opened: its fields, its button `<id>-press`, and under it what was refused, `<id>-said`."""
    return html.Details([
        html.Summary(title), html.P(note, className="quiet") if note else None, html.Div(fields, className="fields"),
        html.Div(button(f"{id}-press", press)), html.Div(id=f"{id}-said"),
    ], className="form", id=id, open=opened, **{"data-enter": ""})  # fmt: skip
