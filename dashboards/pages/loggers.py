"""What is entered about loggers, on the page of their files: where one hangs, and how it was checked."""

from __future__ import annotations

from dash import Dash, dcc, html

from dashboards import components
from dashboards.forms import unchanged, wire
from dashboards.session import StudioSession
from envwatch.archive import Studio
from envwatch.archive.store.records import require_id
from envwatch.core.errors import BadInput
from envwatch.core.place import POSITIONS
from envwatch.core.text import date

HANG = ("logger", "place", "position", "on")
CHECK = ("logger", "on", "rh_true", "rh_read", "rh_true_2", "rh_read_2", "temp_true", "temp_read", "accuracy",
         "due", "basis")  # fmt: skip


def forms(studio: Studio, home: StudioSession) -> html.Section | None:
    """Where a logger hangs, and how it was checked; nothing before there is a logger."""
    if not studio.loggers():
        return None
    today = str(home.now().tz_convert(studio.zone).date())
    known = [(logger.id, logger.name) for logger in studio.loggers().values()]
    shown = {id: hangs(studio, id) for id, _name in known}
    return components.section("Enter", _hang_form(studio, known, today), _check_form(known, today),
                              dcc.Store(id="hang-shown", data=shown))  # fmt: skip


def hangs(studio: Studio, id: str) -> str:
    """Where a logger was said last to hang, and from when; "" where nobody said."""
    said = studio.loggers()[id].hangings
    return f"{studio.places()[said[-1].place_id].name} from {date(said[-1].start, studio.zone)}" if said else ""


def _hang_form(studio: Studio, known: list[tuple[str, str]], today: str) -> html.Details:
    return components.form("hang", "Where a logger hangs", "it hangs there", [
        components.choice("hang-logger", "logger", known),
        components.choice("hang-place", "place", [(place.id, place.name) for place in studio.places().values()]),
        components.choice("hang-position", "where in it", [(p, p) for p in POSITIONS], "unknown"),
        components.field("hang-on", "from", value=today),
    ])  # fmt: skip


def _check_form(known: list[tuple[str, str]], today: str) -> html.Details:
    return components.form(
        "check",
        "A logger was checked against a reference",
        "record the check",
        [
            components.choice("check-logger", "logger", known),
            components.field("check-on", "on", value=today),
            components.field("check-rh_true", "humidity was truly, % RH"),
            components.field("check-rh_read", "and it read, % RH"),
            components.field("check-rh_true_2", "a second point: truly, % RH"),
            components.field("check-rh_read_2", "and it read, % RH"),
            components.field("check-temp_true", "temperature was truly, °C"),
            components.field("check-temp_read", "and it read, °C"),
            components.field("check-accuracy", "how far it can be off since then, ± % RH", "empty: as before"),
            components.field("check-due", "the next check is due", placeholder="2027-11-02"),
            components.field("check-basis", "against what", placeholder="salt, a checked logger beside it"),
        ],
        "Readings from that day on are corrected; as written in the files they stay as they are.",
    )


def callbacks(app: Dash) -> None:
    """What happens on a click."""
    wire(app, "hang", HANG, hang, whose="hang-shown")
    wire(app, "check", CHECK, check)


def hang(studio: Studio, shown: dict[str, str], given: dict[str, str]) -> str:
    """Say where a logger hangs, if nobody said otherwise since the page was shown."""
    logger = require_id("logger", given["logger"], studio.loggers())
    with studio.writing("hanging a logger"):
        here = f"{given['place']} from {given['on']}"
        unchanged("where it hangs", (shown or {}).get(logger, ""), hangs(studio, logger), here, "place")
        hung = studio.set_hanging(logger, given["place"], given["on"], position=given["position"] or "unknown")
    name, where = studio.loggers()[given["logger"]].name, studio.places()[given["place"]].name
    return f"{name} hangs in {where} from {date(hung.start, studio.zone)}"


def check(studio: Studio, _whose: str, given: dict[str, str]) -> str:
    """Record a check of a logger against a reference."""
    pairs = (_pair(given, "rh_true", "rh_read"), _pair(given, "rh_true_2", "rh_read_2"))
    points, temp = tuple(pair for pair in pairs if pair), _pair(given, "temp_true", "temp_read")
    if not points and temp is None:
        raise BadInput("empty; give what was true and what it read, in humidity or in temperature", field="rh_true")
    accuracy = _number(given, "accuracy") if given["accuracy"] else None
    studio.calibrate(given["logger"], given["on"], rh_points=points, temp_point=temp, rh_accuracy_percent=accuracy,
                     due=given["due"] or None, basis=given["basis"])  # fmt: skip
    return f"The check of {studio.loggers()[given['logger']].name} is recorded"


def _pair(given: dict[str, str], true: str, read: str) -> tuple[float, float] | None:
    if not given[true] and not given[read]:
        return None
    return _number(given, true), _number(given, read)


def _number(given: dict[str, str], name: str) -> float:
    try:
        return float(given[name].replace(",", ".").replace("−", "-"))
    except ValueError:
        raise BadInput(f"{given[name]!r} is not a number", field=name) from None
