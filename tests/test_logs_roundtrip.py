"""A random climate in a random layout is read back as the same climate, or one question is asked and answered."""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from logs_layouts import Truth, assert_adds_up, climate, read, write

from envwatch.core.errors import Question

LANGUAGES = {
    "en": ("Date/Time", "Date", "Time", "Temperature", "Relative humidity", "Sensor", "Quantity", "Value", "Average"),
    "de": ("Datum/Uhrzeit", "Datum", "Uhrzeit", "Temperatur", "Relative Feuchte", "Messstelle", "Messgröße",
        "Messwert", "Mittelwert"),
    "fr": ("Date et heure", "Date", "Heure", "Température", "Humidité relative", "Capteur", "Grandeur", "Valeur",
        "Moyenne"),
    "es": ("Fecha y hora", "Fecha", "Hora", "Temperatura", "Humedad relativa", "Sensor", "Magnitud", "Valor",
        "Promedio"),
    "pt": ("Data e hora", "Data", "Hora", "Temperatura", "Umidade relativa", "Sensor", "Grandeza", "Valor", "Média"),
    "it": ("Data e ora", "Data", "Ora", "Temperatura", "Umidità relativa", "Sensore", "Grandezza", "Valore", "Media"),
    "nl": ("Datum/tijd", "Datum", "Tijd", "Temperatuur", "Relatieve vochtigheid", "Ruimte", "Grootheid", "Waarde",
        "Gemiddelde"),
    "ja": ("日時", "日付", "時刻", "温度", "湿度", "場所", "項目", "値", "平均"),
    "zh": ("日期时间", "日期", "时间", "温度", "湿度", "位置", "项目", "数值", "平均"),
}  # fmt: skip
ENCODINGS = {
    "ja": ("utf-8", "utf-8-sig", "utf-16", "cp932"), "zh": ("utf-8", "utf-8-sig", "utf-16-le", "gb18030"),
    "other": ("utf-8", "utf-8-sig", "utf-16", "utf-16-be", "cp1252", "mac_roman"),
}  # fmt: skip
DATES = (
    "%Y-%m-%d",
    "%d.%m.%Y",
    "%d/%m/%Y",
    "%m/%d/%Y",
    "%Y/%m/%d",
    "%d.%m.%y",
    "%m/%d/%y",
    "%y-%m-%d",
    "%d-%b-%Y",
    "%Y%m%d",
    "%d %B %Y",
)
TIMES = ("%H:%M:%S", "%H:%M", "%I:%M:%S %p", "%I:%M %p", "%H.%M.%S")
ZONES = ("UTC", "Europe/Berlin", "America/New_York", "Asia/Tokyo", "Australia/Sydney", "+05:30")


@dataclass(frozen=True)
class Style:
    """One random layout."""

    language: str
    encoding: str
    end: str
    delimiter: str
    decimal: str
    date: str
    time: str
    zone: str
    stated: str  # "", "header", "rows"
    shape: str
    probes: int
    split: bool
    quoted: bool
    numbered: bool
    flags: int
    trailing: bool
    preamble: int
    units: str  # "header", "row", "cells"
    temp_unit: str
    fraction: bool
    newest_first: bool
    footer: bool
    repeated: bool
    missing: int
    humidity_first: bool


@st.composite
def styles(draw) -> Style:
    language = draw(st.sampled_from(sorted(LANGUAGES)))
    delimiter = draw(st.sampled_from([";", "\t", ",", "|"]))
    quoted = draw(st.booleans())
    decimal = draw(st.sampled_from([".", ","])) if delimiter != "," or quoted else "."
    shape = draw(st.sampled_from(["wide", "wide", "tidy", "long"]))
    return Style(
        language, draw(st.sampled_from(ENCODINGS.get(language, ENCODINGS["other"]))), draw(st.sampled_from(["\n",
            "\r\n", "\r"])),
        delimiter, decimal, draw(st.sampled_from(DATES)), draw(st.sampled_from(TIMES)), draw(st.sampled_from(ZONES)),
        draw(st.sampled_from(["", "", "header", "rows"])), shape, draw(st.integers(1, 3)), draw(st.booleans()), quoted,
        draw(st.booleans()), draw(st.integers(0, 2)), draw(st.booleans()), draw(st.integers(0, 30)),
        draw(st.sampled_from(["header", "row", "cells"])), draw(st.sampled_from(["C", "C", "F", "K"])),
        draw(st.booleans()),
        draw(st.booleans()), draw(st.booleans()), draw(st.booleans()), draw(st.integers(0, 4)), draw(st.booleans()),
    )  # fmt: skip


def shown(value: float, style: Style, unit: str) -> str:
    text = f"{value:.3f}" if style.fraction and unit in ("", "%") and style.units != "cells" else f"{value:.2f}"
    text = text.replace(".", style.decimal)
    return f"{text} {unit}".strip() if style.units == "cells" else text


def as_written(truth: Truth, style: Style) -> list[tuple[str, str]]:
    """Temperature and humidity as this layout shows them."""
    convert = {"C": lambda t: t, "F": lambda t: t * 1.8 + 32, "K": lambda t: t + 273.15}[style.temp_unit]
    unit = {"C": "°C", "F": "°F", "K": "K"}[style.temp_unit]
    part = style.fraction and style.units != "cells"
    return [(shown(convert(t), style, unit), shown(h / 100 if part else h, style, "%"))
            for t, h in zip(truth.temp_c, truth.rh_percent, strict=True)]  # fmt: skip


def stamps(truth: Truth, style: Style) -> list[list[str]]:
    zone = style.zone if ":" not in style.zone else "Asia/Kolkata"
    local = truth.time.tz_convert(zone)
    dates, times = local.strftime(style.date), local.strftime(style.time)
    if style.stated == "rows":
        offsets = [f"{o[:3]}:{o[3:]}" for o in local.strftime("%z")]
        times = [f"{t}{o}" for t, o in zip(times, offsets, strict=True)]
    return [[d, t] if style.split else [f"{d} {t}"] for d, t in zip(dates, times, strict=True)]


def offset(truth: Truth, style: Style) -> str:
    """What the header states: only where one offset holds throughout."""
    if style.stated != "header":
        return ""
    zone = style.zone if ":" not in style.zone else "Asia/Kolkata"
    found = set(truth.time.tz_convert(zone).strftime("%z"))
    return f" GMT{(o := found.pop())[:3]}:{o[3:]}" if len(found) == 1 else ""


def file_of(truths: list[Truth], labels: list[str], style: Style) -> str:
    stamp_word, date, clock, temp, rh, probe, quantity, value, average = LANGUAGES[style.language]
    unit = {"C": "°C", "F": "°F", "K": "K"}[style.temp_unit]
    said = style.units == "header"
    t_unit, h_unit = (f" ({unit})", " (%)" if not style.fraction else "") if said else ("", "")
    state = offset(truths[0], style)
    head = [date + state, clock] if style.split else [stamp_word + state]
    n = len(head)
    written = [as_written(truth, style) for truth in truths]
    when = stamps(truths[0], style)
    order = (1, 0) if style.humidity_first else (0, 1)
    rows: list[list[str]] = []
    if style.shape == "wide":
        names = [
            [f"{temp} {label}".strip() + t_unit, f"{rh} {label}".strip() + h_unit]
            for label in (labels if len(labels) > 1 else [""])
        ]
        head += [pair[i] for pair in names for i in order]
        units = [u for _ in labels for u in ([unit, "%"][i] for i in order)]
        rows = [s + [w[k][i] for w in written for i in order] for k, s in enumerate(when)]
    elif style.shape == "tidy":
        head += [probe] + [[temp + t_unit, rh + h_unit][i] for i in order]
        units = [""] + [[unit, "%"][i] for i in order]
        rows = [
            [*s, label] + [w[k][i] for i in order]
            for k, s in enumerate(when)
            for label, w in zip(labels, written, strict=True)
        ]
    else:
        head += [probe, quantity, value]
        units = ["", "", ""]
        rows = [[*s, label, name, w[k][i]] for k, s in enumerate(when) for label, w in zip(labels, written, strict=True)
                for i, name in ((0, temp + f" ({unit})"), (1, rh))]  # fmt: skip
    empty = ["" for _ in range(len(head) - n)]
    for k in range(style.missing):
        at = (k * 37) % len(rows)
        rows.insert(at, [*rows[at][:n],
            *[rows[at][n + i] if style.shape != "wide" and i < len(empty) - (1 if style.shape == "long" else 2) else ""
                                          for i in range(len(empty))]])  # fmt: skip
    if style.newest_first:
        rows.reverse()
    flags = [f"Event {i}" for i in range(style.flags)]
    table = [
        head + flags,
        *([[""] * n + units + ["" for _ in flags]] if style.units == "row" and style.shape != "long" else []),
    ]
    body = [row + ["" for _ in flags] for row in rows]
    if style.repeated:
        body.insert(len(body) // 2, head + flags)
    if style.numbered:
        table = [["#", *table[0]], *([["", *row] for row in table[1:]])]
        body = [[str(i), *row] if row[:1] != head[:1] else ["#", *row] for i, row in enumerate(body, 1)]
    end = style.delimiter if style.trailing else ""
    text = [style.delimiter.join(f'"{c}"' if style.quoted else c for c in row) + end for row in table + body]
    lines = [f"Line {i} about the logger" for i in range(style.preamble)] + text
    if style.footer:
        lines += ["", f"{average}: 19.0"]
    return style.end.join(lines) + style.end


def told(style: Style) -> str:
    return style.zone


@settings(max_examples=120, deadline=None, suppress_health_check=list(HealthCheck))
@given(
    style=styles(), seed=st.integers(0, 1000), n=st.integers(30, 200), step=st.sampled_from(["1min", "10min", "15min",
        "1h"]),
    start=st.datetimes(pd.Timestamp("2012-01-01").to_pydatetime(), pd.Timestamp("2025-12-01").to_pydatetime()),
)  # fmt: skip
def test_a_random_climate_in_a_random_layout_is_read_back(tmp_path_factory, style, seed, n, step, start):
    begin = pd.Timestamp(start).floor("min").tz_localize("UTC")
    labels = ["Attic", "Cellar", "Studio"][: style.probes]
    truths = [climate(begin, n, step, seed + i) for i in range(len(labels))]
    path = write(tmp_path_factory.getbasetemp() / "round.csv", file_of(truths, labels, style), style.encoding)
    answers: dict[str, str] = {}
    for _ in range(3):
        try:
            log = read(path, answers.get("zone", told(style)), **{k: v for k, v in answers.items() if k != "zone"})
            break
        except Question as asked:
            assert asked.field == "dates", str(asked)
            answers["dates"] = {"%d": "dmy", "%m": "mdy", "%y": "ymd"}[style.date[:2]]
    expected = ["1"] if len(labels) == 1 and style.shape == "wide" else labels
    assert sorted(c.label for c in log.channels) == expected
    for channel, truth in zip(sorted(log.channels, key=lambda c: c.label), truths, strict=True):
        np.testing.assert_array_equal(channel.time, truth.time.as_unit("us").asi8)
        np.testing.assert_allclose(channel.temp_c, truth.temp_c, atol=0.006)
        np.testing.assert_allclose(channel.rh_percent, truth.rh_percent, atol=0.006)
    assert_adds_up(log)
    assert log.counts.duplicate == 0
