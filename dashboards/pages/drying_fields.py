"""The fields of *Drying the room*: their words, what was typed in them, and which one a refusal speaks of."""

from __future__ import annotations

from collections.abc import Sequence

from dash import dcc, html

from dashboards import components
from envwatch.cases.dehumidifier.typed import KINDS
from envwatch.core.errors import BadInput
from envwatch.core.place import Place

ROOM = (
    ("volume", "volume, m³", "length × width × height, less what stands in it; empty: the register's"),
    ("also", "what else stands there", "panels, furniture, instruments, …; or nothing"),
)
MACHINE = (
    ("capacity", "litres or pints a day, by its label", "empty: common sizes are tried"),
    ("rated_at", "rated at", "the air the label tells it for, such as 27C/60%"),
    ("litres_per_kwh", "litres per kWh", "by the label, if it says so"),
    ("price", "price", ""),
)
MACHINE_2 = tuple((f"{name}2", label, hint) for name, label, hint in MACHINE)
RUNNING = (
    ("set", "set point, % RH", "empty: 50"),
    ("tank", "tank, litres", "empty: drained through a hose"),
    ("visits", "emptied on", "Mon, Thu"),
    ("hours_away", "or the longest time nobody comes, hours", ""),
)
KNOWN = (
    ("air_change", "air changes an hour", "a figure, or lowest-highest: 0.1-0.3"),
    ("source", "moisture given off in it, g/h", "a figure, or lowest-highest"),
    ("buffer", "water that its things hold for each % RH, g", ""),
    ("weighed", "litres a machine drew", "2026-03-02..2026-03-09=6.3"),
    ("evaporated", "litres a tray gave off", "2026-03-02..2026-03-09=6.3"),
    ("cold_wall", "coldest surface, K under the room", ""),
    ("heat_loss", "heat lost through the walls, W/K", ""),
    ("tighten_to", "share of the air change left after draught-proofing", "0 to 1"),
    ("log_from", "use the log from", "2026-03-01"),
    ("log_to", "to, included", "2026-10-31"),
    ("treated_on", "judge the paintings as treated on", "empty: the begin of the span"),
)
MONEY = (
    ("tariff", "price of a kWh", ""),
    ("currency", "currency", "EUR"),
    ("service", "service a year", ""),
    ("life", "years it is to last", ""),
    ("retreatment_hours", "your own hours for one re-treatment", ""),
)
SPELL = (
    ("tomorrow_max", "tomorrow's highest outdoors, °C", ""),
    ("tomorrow_min", "and its lowest, °C", ""),
    ("for_days", "for so many days", "empty: 3"),
)
AFTER = (("bought", "switched on, on the day", "2026-10-01"),)
CHOICES = ("place", "outdoors", "machine_in_log", "sink", "kind", "kind2")
TYPED = tuple(
    name for group in (ROOM, MACHINE, MACHINE_2, RUNNING, KNOWN, MONEY, SPELL, AFTER) for name, _, _ in group
) + ("outdoors_zone", "machine_in_log", "outdoors", "sink")
CHOSEN = {"outdoors": "air outdoors", "machine_in_log": "did a machine run while the log was read?",
          "sink": "a room that loses water of itself", "outdoors_zone": "clock of a station's file"}  # fmt: skip
LABELS = CHOSEN | {
    name: label
    for group in (ROOM, MACHINE, MACHINE_2, RUNNING, KNOWN, MONEY, SPELL, AFTER) for name, label, _ in group
}  # fmt: skip
NAMES = (*dict.fromkeys((*CHOICES, *TYPED)),)
CALLED = {"machine_litres": "capacity", "machine_pints": "capacity", "desiccant_litres": "capacity"}


def form(
    rooms: Sequence[Place], place: Place, asked: dict[str, str], held: list[tuple[str, str]], faults: dict[str, str]
) -> html.Section:
    """All fields, those that decide most first; what was asked stands in them, and what is wrong with it beside it."""

    def fields(group: Sequence[tuple[str, str, str]]) -> list:
        return [
            components.field(f"dry-{name}", label, hint, value=asked.get(name, ""), error=faults.get(name) or None)
            for name, label, hint in group
        ]

    def kind(name: str):
        return components.choice(f"dry-{name}", "machine", [(key, key) for key in KINDS],
                            asked.get(name) or next(iter(KINDS)), allowDeselect=False)  # fmt: skip

    def opened(group: Sequence[tuple[str, str, str]]) -> bool:
        return any(asked.get(name) or faults.get(name) for name, _, _ in group)

    def fold(title: str, group: Sequence[tuple[str, str, str]], first=None, last=None) -> html.Details:
        return html.Details([html.Summary(title), html.Div([first, *fields(group), last], className="fields")],
                            className="form", open=opened(group))  # fmt: skip

    def select(name: str, options: list[tuple[str, str]], value: str | None, **rest):
        return components.choice(f"dry-{name}", CHOSEN[name], options, value, error=faults.get(name) or None, **rest)

    return html.Section(
        [
            html.H2("What is asked"),
            html.Div(
                [
                    components.choice(
                        "dry-place", "room", [(room.id, room.name) for room in rooms], place.id, allowDeselect=False
                    ),
                    *fields(ROOM[:1]),
                    select("outdoors", outdoors_choices(held), asked.get("outdoors") or "studio", allowDeselect=False),
                    select(
                        "machine_in_log", [("no", "no"), ("yes", "yes")], asked.get("machine_in_log"), clearable=True
                    ),
                    *fields(ROOM[1:]),
                ],
                className="fields",
            ),
            html.Details(
                [
                    html.Summary("Air outdoors from a file"),
                    html.P(
                        "A weather station's or logger's file, a typical year (EPW, TMY), or twelve monthly values "
                        "(month, temp_c, rh_percent).",
                        className="quiet",
                    ),
                    dcc.Upload(
                        html.Div([html.Strong("Drop the file here"), html.Span(", or press to choose it")]),
                        id="dry-file",
                        className="drop",
                        className_active="drop over",
                        style={},
                        style_active={},
                    ),
                    html.Div(id="dry-file-said"),
                    html.Div(
                        components.field(
                            "dry-outdoors_zone",
                            "clock of a station's file",
                            "Europe/Berlin",
                            value=asked.get("outdoors_zone", ""),
                        ),
                        className="fields",
                    ),
                ],
                className="form",
            ),
            fold("A machine of your own choice", MACHINE, kind("kind")),
            fold("A second machine, to compare", MACHINE_2, kind("kind2")),
            fold("How it would run", RUNNING),
            fold(
                "What is known of the room",
                KNOWN,
                select("sink", [("keep", "take it as it is")], asked.get("sink"), clearable=True),
            ),
            fold("Money, your own figures", MONEY),
            html.Div([components.button("dry-case", "reckon the case")], className="actions"),
            fold(
                "A hot or cold spell tomorrow: which painting crosses first?",
                SPELL,
                last=html.Div(components.button("dry-spell", "look ahead"), className="beneath"),
            ),
            fold(
                "After buying: forecast against log",
                AFTER,
                last=html.Div(components.button("dry-after", "compare"), className="beneath"),
            ),
            html.Div(id="dry-said"),
        ],
        className="form noprint asks",
    )


def outdoors_choices(held: list[tuple[str, str]]) -> list[tuple[str, str]]:
    """What the air outdoors may be taken from."""
    return [("studio", "the studio's own logger outdoors"), ("none", "not known: bounds only"), *held]


def given(values: Sequence[str | None], ask: str) -> dict[str, str]:
    """What was typed, by name, as it stands in an address: empty fields and untouched machines left out."""
    told = {name: (value or "").strip() for name, value in zip(NAMES, values, strict=True)}
    for which in ("", "2"):
        if not told.get(f"capacity{which}"):
            told.pop(f"kind{which}", None)
    return {"ask": ask} | {name: value for name, value in told.items() if value}


def known(asked: dict[str, str]) -> dict[str, str]:
    """What of an address is asked of this page."""
    return {name: text for name, text in asked.items() if name in (*NAMES, "ask") and text}


def spell_of(asked: dict[str, str]) -> tuple[float, float, int]:
    """Tomorrow's highest and lowest, and for how many days.

    Raises
    ------
    BadInput : one is missing or no number.
    """
    highest, lowest = (_number(asked, name) for name in ("tomorrow_max", "tomorrow_min"))
    return highest, lowest, int(_number({"for_days": "3"} | asked, "for_days"))


def _number(asked: dict[str, str], name: str) -> float:
    if not asked.get(name):
        raise BadInput(f"⟦{name}⟧ is empty; give tomorrow's highest and lowest outdoors", field=name)
    try:
        return float(asked[name].replace(",", ".").replace("−", "-"))
    except ValueError:
        raise BadInput("not a number", field=name, seen=asked[name]) from None
