"""Logger files: bring them in, see how they were understood, answer what is asked, take back what was wrong."""

from __future__ import annotations

import re
import tempfile
from pathlib import Path
from typing import Any
from urllib.parse import quote

from dash import ALL, Dash, Input, Output, State, dcc, html, no_update

from dashboards import components, uploads
from dashboards.forms import on_press, pressed
from dashboards.pages import corrections, loggers, marks
from dashboards.session import StudioSession, house
from envwatch.archive import Studio
from envwatch.archive.intake import preview
from envwatch.archive.intake.outcomes import AddReport, FileOutcome, TrayItem
from envwatch.cases.review.revised import at_once
from envwatch.core.errors import BadInput, EnvwatchError, answered
from envwatch.core.text import number, several
from envwatch.logs.model import Answers
from envwatch.present import records

PATH, NAME, UNDER = "/files", "Logger files", ()
HOW = (
    "Drop the files as they come from the loggers, of any make, all at once. Each is kept byte for byte, and nothing "
    "is guessed: what can be read in two ways is asked."
)
FEW = 8
MOST_FILES, MOST_BYTES = 300, 60 * 2**20
LITTER = re.compile(r"(^|[/\\])(\.(?!\.)|~\$|Thumbs\.db$|desktop\.ini$)", re.IGNORECASE)
ANSWERS = ("zone", "dates", "encoding", "decimal", "temp_unit", "start", "columns")
MEANING = {"dmy": "day, month, year", "mdy": "month, day, year", "ymd": "year, month, day", ",": "comma", ".": "point",
           "C": "°C", "F": "°F", "K": "kelvin", "new": "a new logger's"}  # fmt: skip


def layout(home: StudioSession, _rest: str, asked: dict[str, str]) -> html.Div:
    """The page; `file` in the address opens how that file was understood, `row` what is to be corrected."""
    with home.reading() as studio:
        kept = preview.kept_files(studio, 60)
        opened = asked.get("file", "")
        return html.Div([
            html.H1("Logger files"),
            html.P(HOW if not kept else ""),
            _drop(),
            dcc.Loading(html.Div(id="files-said"), delay_show=300),
            components.section("The tray", *(_question(studio, item) for item in studio.tray()),
                          note="These files wait for an answer; they hold up no other."),
            _understood(studio, home, opened) if opened.isdigit() else None,
            loggers.nowhere(studio),
            components.section("Loggers", _loggers(studio, home), loggers.record_of(studio)),
            corrections.form(studio, asked.get("row", ""), studio.loggers()),
            marks.section(studio, home, asked),
            loggers.forms(studio, home),
            components.section("Kept last", _kept(kept), _undo(kept, studio)) if kept else None,
        ])  # fmt: skip


def _drop() -> html.Div:
    limits: dict[str, Any] = {"multiple": True, "max_size": MOST_BYTES, "style": {}, "style_active": {}}
    return html.Div([
        dcc.Upload(html.Div([html.Strong("Drop logger files or a folder here"),
                             html.Span(", or press to choose files")]), id="files-drop",
                   className="drop", className_active="drop over", **limits),
        dcc.Upload(html.Div("choose a whole folder"), id="files-folder", enable_folder_selection=True,
                   className="drop slim", className_active="drop slim over", **limits),
    ])  # fmt: skip


def _question(studio: Studio, item: TrayItem) -> html.Article:
    lines = preview.first_lines(studio, item.number)
    choices = item.choices or ()
    loggers = {id: one.name for id, one in studio.loggers().items() if item.option == "logger"}
    meanings = MEANING | loggers | (_columns(item) if item.option == "columns" else {})
    answers = [
        components.button({"tray": item.number, "answer": choice}, meanings.get(choice, choice)) for choice in choices
    ]
    discard = components.button({"tray": item.number, "answer": "discard"}, "leave this file out", quiet=True)
    own = [components.field({"tray": item.number, "field": "answer"}, "another answer"),
           components.button({"tray": item.number, "answer": ""}, "answer", quiet=bool(choices))]  # fmt: skip
    return html.Article([
        html.H3(item.name), html.P(_asked(item)),
        _drawn(studio, item.number),
        html.Pre("\n".join(lines), tabIndex=0) if lines else None,
        dcc.Store(id={"tray": item.number, "option": item.option}),
        html.Div([*answers, *own, discard], className="form row"),
    ], className="question")  # fmt: skip


def _columns(item: TrayItem) -> dict[str, str]:
    """What each choice of columns takes for temperature and humidity, with their first values, out of the question."""
    first = dict(re.findall(r"(?:[?:;] )(\d+(?:,\d+)*) = (.+?\))(?=; |\. |\.$)", item.question))
    told = {choice: f"columns {choice.replace(',', ', ')}, temperature first" for choice in item.choices}
    for choice, pair in first.items():
        temp, _, rh = pair.partition(") and ")
        told[choice] = f"temperature {temp}), humidity {rh}" if rh else pair
    return told


def _drawn(studio: Studio, number_: int) -> html.Figure | None:
    """The records between which a question asks to choose."""
    courses = studio.courses(number_, 200)
    drawn = records.lines(courses)
    if not drawn:
        return None
    words = records.told(courses, studio.zone)
    picture = html.Img(src=f"data:image/svg+xml,{quote(drawn)}", alt=words)
    return html.Figure([picture, html.Figcaption(words, **{"aria-hidden": "true"})], className="records")


def _asked(item: TrayItem) -> str:
    """The question alone: the file's name stands above it, and its answers are the buttons below."""
    answer = answered(f"⟦{item.option}⟧", item.choices)
    return components.sentence_of(item.question.removeprefix(f"{item.name}: ").removesuffix(f" {answer}"))


def _understood(studio: Studio, home: StudioSession, number_: str) -> html.Section | html.P:
    try:
        seen = preview.glance(studio, int(number_), home.now())
    except EnvwatchError as error:
        return components.refusal(error)
    rows = [(str(b.line), html.Code(b.written), components.moment(b.time, seen.zone), _figure(b.temp_c),
             _figure(b.rh_percent), b.channel) for b in seen.lines]  # fmt: skip
    return components.section(
        f"How {seen.name} was understood",
        components.table(("line", "as written", "read as", "°C", "% RH", "probe"), rows,
                    f"First rows of {seen.name}, and what was read of them", numbers=False, csv=False),
        html.Div(components.facts(seen.layout), className="as-kept"),
        components.more("assumed and noticed", components.items(seen.notes), opened=True),
        _parting(studio, int(number_), seen.logger_id),
        id="understood",
    )  # fmt: skip


def _parting(studio: Studio, number_: int, logger_id: str) -> html.Div:
    """The file is another logger's: whose, and a button."""
    loggers = studio.loggers()
    others = [("new", MEANING["new"]), *((id, one.name) for id, one in loggers.items() if id != logger_id)]
    name = loggers[logger_id].name if logger_id in loggers else logger_id
    whose = components.choice({"part": number_, "field": "logger"}, f"it is not {name}’s; it is", others, "new")
    return html.Div([whose, components.button({"part": number_}, "part it from there", quiet=True)],
                    className="form row noprint")  # fmt: skip


def _figure(value: float | None) -> str:
    return "" if value is None else number(value)


def _loggers(studio: Studio, home: StudioSession) -> Any:
    places = studio.places()
    rows = []
    for id, seen in studio.seen(home.now()).items():
        logger = studio.loggers()[id]
        hangs = [places[h.place_id].name for h in logger.hangings if h.end is None]
        states = ((seen.stopped_inside_file, "stopped inside its file"), (seen.stuck_since is not None, "stands still"),
                  (seen.late, "to be fetched"))  # fmt: skip
        state = next((words for holds, words in states if holds), "")
        until = components.moment(seen.last, studio.zone) or "never"
        name = logger.name
        rows.append(
            (
                dcc.Link(name, href=f"/files?logger={quote(id)}#marks") if seen.last is not None else name,
                ", ".join(dict.fromkeys(hangs)) or ("taken down" if logger.hangings else "nowhere yet"),
                until,
                state,
            )
        )
    return components.table(("logger", "hangs in", "read until", ""), rows, "Loggers", numbers=False) if rows else None


def _kept(kept: tuple[preview.KeptFile, ...]) -> Any:
    rows = [
        (dcc.Link(file.name, href=f"/files?file={file.number}"), file.logger_id, f"{file.readings:,}",
         f"{file.added_at:%Y-%m-%d}", str(file.batch))
        for file in kept
    ]  # fmt: skip
    heads = ("file", "logger", "readings", "added", "add no.")
    return html.Div([
        components.table(heads, rows[:FEW], "Files kept last, the newest first", numbers=False, csv=False),
        components.more("files before these", components.table(heads, rows[FEW:], "Files kept before", numbers=False))
        if len(rows) > FEW else None,
    ])  # fmt: skip


def _undo(kept: tuple[preview.KeptFile, ...], studio: Studio) -> Any:
    last = max(file.batch for file in kept)
    count = sum(file.batch == last for file in kept)
    least = " or more" if count == len(kept) else ""
    return html.Div([components.button({"undo": last}, f"take back add {last}", quiet=True),
                     html.Span(f"{several(count, 'file')}{least}; nothing is deleted", className="quiet"),
                     components.button({"anew": "show"}, "read the originals anew", quiet=True),
                     html.Span("shows what today’s reader reads otherwise; changes nothing", className="quiet")],
                    className="actions noprint")  # fmt: skip


# ------------------------------------------------------------------------------------------------------ answers


def callbacks(app: Dash) -> None:
    """What happens on a drop or a click."""
    said = Output("files-said", "children", allow_duplicate=True)
    again = Output("again", "data", allow_duplicate=True)
    app.callback(again, Output("said", "children", allow_duplicate=True), said, Input("files-drop", "contents"),
                 State("files-drop", "filename"), State("again", "data"), prevent_initial_call=True)(take)  # fmt: skip
    app.callback(again, Output("said", "children", allow_duplicate=True), said,
                 Input({"tray": ALL, "answer": ALL}, "n_clicks"), State({"tray": ALL, "field": "answer"}, "value"),
                 State({"tray": ALL, "field": "answer"}, "id"), State("again", "data"),
                 prevent_initial_call=True)(answer)  # fmt: skip
    app.callback(again, Output("said", "children", allow_duplicate=True), said, Input({"undo": ALL}, "n_clicks"),
                 State("again", "data"), prevent_initial_call=True)(undo)  # fmt: skip
    app.callback(again, Output("said", "children", allow_duplicate=True), said, Input("files-folder", "contents"),
                 State("files-folder", "filename"), State("again", "data"),
                 prevent_initial_call=True)(take)  # fmt: skip
    app.callback(again, Output("said", "children", allow_duplicate=True), said, Input({"part": ALL}, "n_clicks"),
                 State({"part": ALL, "field": "logger"}, "value"), State("again", "data"),
                 prevent_initial_call=True)(part)  # fmt: skip
    app.callback(again, Output("said", "children", allow_duplicate=True), said, Input({"anew": ALL}, "n_clicks"),
                 State("again", "data"), prevent_initial_call=True)(anew)  # fmt: skip
    loggers.callbacks(app)
    marks.callbacks(app)


@on_press(3)
def take(contents: list[str], names: list[str], again: int | None):
    """Keep the files dropped."""
    return (again or 0) + 1, _taken(contents, names), ""


def _taken(contents: list[str], names: list[str]) -> html.Div:
    with tempfile.TemporaryDirectory() as folder, house().writing() as studio:
        return _reported(studio.add(put_down(*without_litter(contents, names), Path(folder))), studio)


def without_litter(contents: list[str], names: list[str]) -> tuple[list[str], list[str]]:
    """What a folder holds without the hidden files that systems and spreadsheets leave in it.

    >>> without_litter(["a", "b", "c"], ["logs/a.csv", "logs/.DS_Store", "logs/~$a.xlsx"])
    (['a'], ['logs/a.csv'])
    """
    kept = [(content, name) for content, name in zip(contents, names, strict=True) if not LITTER.search(name)]
    return [content for content, _ in kept], [name for _, name in kept]


def put_down(contents: list[str], names: list[str], folder: Path) -> list[Path]:
    """Dropped files as files of a folder, under names that cannot lead out of it.

    Raises
    ------
    BadInput : too many, too big together, or a content that is none.
    """
    if len(contents) > MOST_FILES:
        raise BadInput(f"{len(contents)} files at once: drop {MOST_FILES} at most, or use envwatch add FOLDER")
    if sum(map(len, contents)) * 3 // 4 > MOST_BYTES:
        raise BadInput("more than 60 MB at once: drop fewer files, or use envwatch add FOLDER")
    out = []
    for place, (content, name) in enumerate(zip(contents, names, strict=True)):
        own = folder / str(place)
        own.mkdir()
        path = own / uploads.safe(name)
        path.write_bytes(uploads.whole(content, name))
        out.append(path)
    return out


def _reported(report: AddReport, studio: Studio) -> html.Div:
    totals = report.totals
    told = [f"{several(totals.files, 'file')} kept, {totals.readings:,} new readings" if totals.files else "",
            f"{totals.already} kept before" if totals.already else "",
            f"{several(totals.in_tray, 'file')} in the tray" if totals.in_tray else "",
            f"{totals.refused} refused" if totals.refused else ""]  # fmt: skip
    numbers = {file.name: file.number for file in preview.kept_files(studio, 500) if file.batch == report.batch}
    revised = at_once(studio) if report.batch is not None else ()
    return html.Div([
        components.notice("; ".join(part for part in told if part) + "."),
        *(html.P(line, className="opening") for line in revised),
        html.Ul([_outcome(outcome, numbers.get(outcome.name)) for outcome in report.outcomes], className="outcomes"),
    ])  # fmt: skip


def _outcome(outcome: FileOutcome, number_: int | None) -> html.Li:
    if outcome.status == "refused":
        return html.Li([html.Strong("refused: "), outcome.reason], className="refused")
    if outcome.status == "in the tray":
        return html.Li([html.Strong(outcome.name), ": waits in the tray. ", outcome.question])
    counts = [f"{outcome.new:,} new readings of {outcome.logger_id}"] if outcome.status == "kept" else ["kept before"]
    counts += [f"{outcome.duplicate:,} read before"] if outcome.duplicate else []
    counts += [f"{outcome.conflict:,} in conflict"] if outcome.conflict else []
    counts += [f"set aside: {count} {why}" for why, count in outcome.set_aside.items()]
    counts += [f"marked: {count} {mark}" for mark, count in outcome.marked.items()]
    link = [" ", dcc.Link("how it was understood", href=f"/files?file={number_}")] if number_ else []
    return html.Li([html.Strong(outcome.name), f": {', '.join(counts)}.", *link, components.items(outcome.notes)])


@on_press(3)
def answer(_clicks: list, values: list, ids: list, again: int | None):
    """Answer a file's question, or leave the file out."""
    which = pressed()
    return ((again or 0) + 1, _settled(which, values, ids), "") if which else (no_update,) * 3


def _settled(which: dict, values: list, ids: list) -> html.Div | html.P:
    typed = next((value for value, id in zip(values, ids, strict=True) if id["tray"] == which["tray"]), "")
    with house().writing() as studio:
        return _answered(studio, which["tray"], which["answer"] or (typed or "").strip())


def _answered(studio: Studio, number_: int, given: str) -> html.Div | html.P:
    if given == "discard":
        return components.notice(f"{studio.discard(number_).name} is left out; it is set apart in originals/undone.")
    item = next(item for item in studio.tray() if item.number == number_)
    if not given:
        raise BadInput(f"{item.name}: give an answer")
    if item.option in ANSWERS:
        return _reported(studio.add([number_], Answers(**{item.option: given})), studio)
    return _reported(studio.add([number_], logger=given), studio)


@on_press(3)
def part(_clicks: list, whose: list, again: int | None):
    """Part the file that is open from its logger."""
    which = pressed()
    return ((again or 0) + 1, _parted(which["part"], whose[0]), "") if which else (no_update,) * 3


def _parted(number_: int, logger: str | None) -> html.Div:
    with house().writing() as studio:
        done = studio.part(str(number_), logger or "new")
        told = (*done.asks, *at_once(studio), f"Add {done.batch}, taken back below or with envwatch undo {done.batch}.")
        return html.Div([components.notice(done.sentence), *(html.P(line) for line in told)])


@on_press(3)
def undo(_clicks: list, again: int | None):
    """Take back the add that the button names, and no other that came since."""
    which = pressed()
    return ((again or 0) + 1, _undone(which["undo"]), "") if which else (no_update,) * 3


def _undone(batch: int) -> html.P:
    with house().writing() as studio:
        return components.notice(studio.undo(batch).sentence)


@on_press(3)
def anew(_clicks: list, again: int | None):
    """Show how the originals read by today's reader, or take what differs as one add."""
    which = pressed()
    return ((again or 0) + 1, _anew(which["anew"] == "take"), "") if which else (no_update,) * 3


def _anew(take: bool) -> html.Div:
    with house().writing() as studio:
        done = studio.reread(take)
        revised = at_once(studio) if done.batch is not None else ()
    lines = [one.sentence for one in done.files]
    if done.batch is not None:
        told = f"Taken as add {done.batch}: taken back below or with envwatch undo {done.batch}."
        return html.Div([components.notice(told), components.items(lines), *(html.P(line) for line in revised)])
    differ = sum(one.differs for one in done.files)
    read = f"{several(done.read, 'original')} read anew: "
    what = f"{several(differ, 'file')} would give other readings." if differ else "all give the readings that are kept."
    button = components.button({"anew": "take"}, "keep them as they read now, as one add") if differ else None
    return html.Div([components.notice(read + what), components.items(lines), button])
