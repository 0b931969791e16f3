"""Results -> figures for a page, as plain dicts in plotly's form. No arithmetic beyond formatting.

A curve bears its name at its end and a dash of its own, so that it is not told by colour alone. Each curve's `uid`
is its name: the page's style sheet colours it by that in a dark scheme.
"""

from __future__ import annotations

from html import escape

import numpy as np
import pandas as pd

from envwatch.cases.timeline import ClimateChart, DayRow, Marked
from envwatch.climate.decimation import Line
from envwatch.core.text import number, span
from envwatch.figures.dehumidifier import DAMP_LINE
from envwatch.present.palette import CURVES, LIGHT, sheer

HOW_TO_READ = {
    "place": "Each line is the air as it was read; where there is no line, nothing was read. Above: temperature, and "
    "dotted the dew point; a surface colder than the dew point gets wet. Below: humidity, with the level of the season "
    "(thin) and the band in which it mostly moved about that level (grey); a small cross is a reading that is doubted.",
    "painting": "From left to right: the places where the painting stood (the blocks), and under them the air it had "
    "there. A broken line is a limit of one of its layers; an upright line is something that was done to it. Where "
    "there is no line, nothing was read.",
}
OVER = {
    "outdoors": "The thin grey line is the air outdoors.",
    "beside": "The broken line is the other place.",
    "other period": "The dash-dotted line is another period of the same place, from its first day on.",
}
HOW_TO_READ["logger"] = (
    "Each line is what the logger read, uncorrected; above temperature, below humidity. A cross is a reading that is "
    "doubted, a ring one that a person found good, an open square one that was taken out: it is no part of the line "
    "and counts as missing."
)
NOTHING = sheer(LIGHT["paper"], 0)  # the page's own ground shows through
FONT = 'Georgia, "Iowan Old Style", "Palatino Linotype", serif'
WIDTH = {"temperature": 1.4, "humidity": 1.4, "dew point": 1.0, "outdoors": 0.9, "beside": 1.0, "other period": 1.0}
DAY_MS = 86_400_000
DAYS = [  # day before month; what stands on the second line is written where it changes
    {"dtickrange": [None, DAY_MS - 1], "value": "%H:%M\n%-d %b %Y"},
    {"dtickrange": [DAY_MS, 28 * DAY_MS - 1], "value": "%-d %b\n%Y"},
    {"dtickrange": [28 * DAY_MS, "M6"], "value": "%b\n%Y"},
    {"dtickrange": ["M12", None], "value": "%Y"},
]
DASH = {"temperature": "solid", "humidity": "solid", "dew point": "dot", "outdoors": "solid", "beside": "dash",
        "other period": "dashdot"}  # fmt: skip


def course(shown: ClimateChart, others: tuple[tuple[str, ClimateChart], ...] = ()) -> dict:
    """The figure of one course; further ones, each with a kind out of `palette.CURVES`, over it."""
    top = 0.86 if shown.stretches else 1.0
    traces = [*(t for kind, other in others for t in _other(kind, other)), *_season(shown), *_curves(shown)]
    layout = _layout(shown, top)
    if shown.stretches:
        traces += [_stay(s, shown.zone) for s in shown.stretches]
        layout["yaxis3"] = {"domain": [0.91, 1.0], "visible": False, "fixedrange": True, "range": [-0.5, 0.5]}
    layout["shapes"] = [_limit_line(limit) for limit in shown.limits] + [_mark_line(m.time, shown) for m in shown.marks]
    layout["annotations"] += [_limit_word(limit, side, shown) for side, limit in enumerate(shown.limits)]
    layout["annotations"] += [_mark_word(mark, shown) for mark in shown.marks]
    layout["annotations"] += _names(shown, others)
    return {"data": traces, "layout": layout}


def _curves(shown: ClimateChart) -> list[dict]:
    own = [("temperature", shown.temp_c, "y"), ("humidity", shown.rh_percent, "y2")]
    if not shown.stretches:  # along a painting's way the dew point would only crowd its limits
        own.insert(0, ("dew point", shown.dew_point_c, "y"))
    return [*(_curve(kind, line, shown.zone, axis) for kind, line, axis in own), *_doubtful(shown)]


def _doubtful(shown: ClimateChart) -> list[dict]:
    """A cross on each reading that bears a quality mark, as far as the screen can part them."""
    by_state = [trace for marked in shown.marked for trace in _states(marked, shown.zone)]
    if shown.doubtful is None:
        return by_state
    mark = {"symbol": "x-thin", "size": 6, "line": {"width": 1, "color": LIGHT["ochre"]}}
    words = "%{y} % RH<extra>marked as doubtful</extra>"
    return [
        {"type": "scatter", "mode": "markers", "name": "doubtful", "uid": "doubtful", "xaxis": "x", "yaxis": "y2",
         "showlegend": False, "marker": mark, "hovertemplate": words, **_points(shown.doubtful, shown.zone)}
    ]  # fmt: skip


CROWD = 200  # so many marks are drawn smaller: the line under them must stay seen
SYMBOL = {
    "doubted": ("x-thin", "ochre"),
    "found good": ("circle-open", "verdigris"),
    "taken out": ("square-open", "ink"),
}


def _states(marked: Marked, zone: str) -> list[dict]:
    symbol, colour = SYMBOL[marked.words]
    size = 8 if len(marked.temp_c.time) < CROWD else 4
    mark = {"symbol": symbol, "size": size, "color": LIGHT[colour], "line": {"width": 1.5, "color": LIGHT[colour]}}
    return [
        {"type": "scatter", "mode": "markers", "name": marked.words, "uid": marked.words.replace(" ", "") + axis,
         "xaxis": "x", "yaxis": axis, "showlegend": False, "marker": mark,
         "hovertemplate": f"%{{y}} {unit}<extra>{marked.words}</extra>", **_points(line, zone)}
        for line, axis, unit in ((marked.temp_c, "y", "°C"), (marked.rh_percent, "y2", "% RH")) if len(line.time)
    ]  # fmt: skip


def _other(kind: str, other: ClimateChart) -> list[dict]:
    both = (("temperature", other.temp_c, "y"), ("humidity", other.rh_percent, "y2"))
    return [
        _curve(kind, line, other.zone, axis)
        | {
            "name": f"{what}, {other.title}",
            "uid": f"{kind.replace(' ', '')}{axis}",
            "hovertemplate": f"%{{y}} {'% RH' if axis == 'y2' else '°C'}<extra>{escape(other.title)}</extra>",
        }
        for what, line, axis in both
    ]


def _curve(kind: str, line: Line, zone: str, axis: str) -> dict:
    unit = "% RH" if axis == "y2" else "°C"
    return {
        "type": "scatter", "mode": "lines", "name": kind, "uid": kind.replace(" ", ""), "yaxis": axis, "xaxis": "x",
        **_points(line, zone), "connectgaps": False, "showlegend": False,
        "line": {"color": LIGHT[CURVES[kind]], "width": WIDTH[kind], "dash": DASH[kind]},
        "hovertemplate": f"%{{y}} {unit}<extra>{kind}</extra>",
    }  # fmt: skip


def _points(line: Line, zone: str) -> dict:
    """Times by the clock of a zone and values; where that clock is put back, the line is parted."""
    local = line.time.tz_convert(zone).tz_localize(None).to_numpy().astype("M8[us]")
    values = np.round(line.values, 2)
    back = np.flatnonzero(np.diff(local) <= np.timedelta64(0, "us")) + 1
    local, values = np.insert(local, back, local[back]), np.insert(values, back, np.nan)
    return {
        "x": np.datetime_as_string(local.astype("M8[s]")).tolist(),
        "y": [None if np.isnan(v) else v for v in values.tolist()],
    }


def _season(shown: ClimateChart) -> list[dict]:
    if shown.seasonal is None:
        return []
    level = {
        "type": "scatter", "mode": "lines", "xaxis": "x", "yaxis": "y2", "showlegend": False,
        "line": {"color": LIGHT["soft"], "width": 1}, "name": "level of the season", "uid": "season",
        "hovertemplate": "%{y:.1f} % RH<extra>level of the season</extra>",
    }  # fmt: skip
    if shown.band is None:
        return [level | _points(shown.seasonal, shown.zone)]
    low, high = (
        _points(Line(shown.seasonal.time, shown.seasonal.values + offset), shown.zone) for offset in shown.band
    )
    outline = level | {"line": {"width": 0}, "hoverinfo": "skip", "hovertemplate": None, "connectgaps": False}
    return [
        outline | _outlined(low, high) | {"name": "band", "uid": "band", "fill": "toself",
                                          "fillcolor": sheer(LIGHT["edge"], 0.18)},
        level | _points(shown.seasonal, shown.zone),
    ]  # fmt: skip


def _outlined(low: dict, high: dict) -> dict:
    """The closed outline of each unbroken stretch between two lines of the same times, parted by nothing."""
    read = np.array([y is not None for y in low["y"]])
    edges = np.flatnonzero(np.diff(np.concatenate([[False], read, [False]]).astype(int)))
    x: list = []
    y: list = []
    for start, stop in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        there, back = slice(start, stop), slice(stop - 1, start - 1 if start else None, -1)
        x += [*low["x"][there], *high["x"][back], low["x"][start], None]
        y += [*low["y"][there], *high["y"][back], low["y"][start], None]
    return {"x": x[:-1], "y": y[:-1]}


def _stay(stretch, zone: str) -> dict:
    start, end = (_clock(t, zone) for t in (stretch.start, stretch.end))
    words = f"{stretch.words}{' (intended)' if stretch.intended else ''}"
    return {
        "type": "bar", "orientation": "h", "y": [0], "base": [start], "xaxis": "x", "yaxis": "y3",
        "x": [(stretch.end - stretch.start) / pd.Timedelta(milliseconds=1)], "showlegend": False, "uid": "stay",
        "text": [words], "textposition": "inside", "insidetextanchor": "start", "textangle": 0, "constraintext": "none",
        "textfont": {"color": LIGHT["ink"], "size": 12}, "cliponaxis": True,
        "marker": {"color": LIGHT["leaf"], "line": {"color": LIGHT["edge"], "width": 1},
                   "pattern": {"shape": "/" if stretch.intended else "", "fgcolor": LIGHT["edge"], "size": 5}},
        "hovertemplate": f"{words}<br>{start} to {end}<extra></extra>",
    }  # fmt: skip


def _clock(time: pd.Timestamp, zone: str) -> str:
    return f"{time.tz_convert(zone):%Y-%m-%d %H:%M}"


def _limit_line(limit) -> dict:
    return {"type": "line", "xref": "paper", "x0": 0, "x1": 1, "yref": "y" if limit.unit == "°C" else "y2",
            "y0": limit.value, "y1": limit.value,
            "line": {"color": LIGHT["ink"], "width": 1, "dash": "dash"}}  # fmt: skip


def _limit_word(limit, side: int, shown: ClimateChart) -> dict:
    """Beside its line, by turns left and right, the lowest of several under its line, so that near ones can be read."""
    ends = ({"x": 0, "xanchor": "left"}, {"x": 1, "xanchor": "right"})
    axis = "y" if limit.unit == "°C" else "y2"
    others = [other.value for other in shown.limits if other.unit == limit.unit and other is not limit]
    under = bool(others) and limit.value < min(others)
    at = {"xref": "paper", "yref": axis, "y": limit.value, "yanchor": "top" if under else "bottom"}
    return _word(limit.words) | ends[side % 2] | at | {"bgcolor": sheer(LIGHT["paper"], 0.8), "borderpad": 1}


def _mark_line(time: pd.Timestamp, shown: ClimateChart) -> dict:
    at = _clock(time, shown.zone)
    return {"type": "line", "xref": "x", "x0": at, "x1": at, "yref": "paper", "y0": 0, "y1": 0.9,
            "line": {"color": LIGHT["ink"], "width": 1}}  # fmt: skip


def _mark_word(mark, shown: ClimateChart) -> dict:
    """Upright beside its line, so that near ones do not cover one another."""
    at = {"xref": "x", "x": _clock(mark.time, shown.zone), "yref": "paper", "y": 0.86}
    return _word(mark.words) | at | {"textangle": -90, "xanchor": "right", "xshift": 1, "yanchor": "top"}


def _names(shown: ClimateChart, others: tuple[tuple[str, ClimateChart], ...]) -> list[dict]:
    """The name of each curve in its colour: its own where they end, of those over it where they begin."""
    found = [("temperature", shown.temp_c, "y", "temperature"), ("humidity", shown.rh_percent, "y2", "humidity")]
    if not shown.stretches:
        found.append(("dew point", shown.dew_point_c, "y", "dew point"))
    found += [(kind, line, axis, other.title) for kind, other in others
             for line, axis in ((other.temp_c, "y"), (other.rh_percent, "y2"))]  # fmt: skip
    own = {"temperature", "humidity", "dew point"}
    return [
        _name(kind, line, axis, name, shown.zone, -1 if kind in own else 0)
        for kind, line, axis, name in found if np.isfinite(line.values).any()
    ]  # fmt: skip


def _name(kind: str, line: Line, axis: str, name: str, zone: str, end: int) -> dict:
    last = int(np.flatnonzero(np.isfinite(line.values))[end])
    at = {"xref": "x", "x": _clock(line.time[last], zone), "yref": axis, "y": float(line.values[last])}
    ink = {
        "font": {"size": 12, "color": LIGHT["soft" if kind == "outdoors" else CURVES[kind]]},
        "bgcolor": sheer(LIGHT["paper"], 0.75),
        "name": kind,
    }
    side = {"xanchor": "right" if end else "left", "yanchor": "bottom", "yshift": 3}
    return _word(escape(name)) | at | ink | side


def _word(text: str) -> dict:
    return {"text": text, "showarrow": False, "font": {"size": 12, "color": LIGHT["ink"]}}


def _layout(shown: ClimateChart, top: float) -> dict:
    middle = top * 0.48
    axis = {"gridcolor": LIGHT["rule"], "gridwidth": 0.5, "zeroline": False, "linecolor": LIGHT["edge"],
            "ticks": "outside", "tickcolor": LIGHT["edge"], "fixedrange": True, "automargin": True}  # fmt: skip
    title = [
        _word(unit) | {"xref": "paper", "x": 0, "xanchor": "right", "xshift": -4, "yref": "paper", "y": y,
                       "yanchor": "bottom"}
        for unit, y in (("°C", top + 0.005), ("% RH", middle + 0.005))
    ]  # fmt: skip
    return {
        "font": {"family": FONT, "size": 13, "color": LIGHT["soft"]},
        "paper_bgcolor": NOTHING, "plot_bgcolor": NOTHING,
        "margin": {"l": 48, "r": 8, "t": 24, "b": 34}, "showlegend": False, "hovermode": "x unified",
        "dragmode": "zoom", "barmode": "overlay", "bargap": 0,
        "hoverlabel": {"bgcolor": LIGHT["paper"], "font": {"color": LIGHT["ink"], "family": FONT}},
        "xaxis": axis | {"type": "date", "range": [_clock(shown.start, shown.zone), _clock(shown.end, shown.zone)],
                         "showgrid": False, "fixedrange": False, "anchor": "y2", "tickformatstops": DAYS},
        "yaxis": axis | {"domain": [middle + 0.08, top]},
        "yaxis2": axis | {"domain": [0, middle]},
        "annotations": title,
    }  # fmt: skip


# ------------------------------------------------------------------------------------------------ drying a room

STROKES = (
    ("as read", "log_percent", {"color": LIGHT["soft"], "width": 1}),
    ("as reckoned", "before_percent", {"color": LIGHT["indigo"], "width": 1.4, "dash": "dash"}),
    ("after", "after_percent", {"color": LIGHT["indigo"], "width": 2.8}),
)


def before_after(picture, zone: str) -> dict:
    """Daily mean humidity of a room: as read, as reckoned, and with what is recommended."""
    days = [f"{day:%Y-%m-%d}" for day in picture.day.tz_convert(zone)]
    traces = [
        {"type": "scatter", "mode": "lines", "name": name, "uid": f"dry{n}", "x": days, "line": line,
         "y": [None if np.isnan(v) else round(v, 2) for v in getattr(picture, field).tolist()], "showlegend": True,
         "connectgaps": False, "hovertemplate": f"%{{y:.0f}} % RH<extra>{name}</extra>"}
        for n, (name, field, line) in enumerate(STROKES)
    ]  # fmt: skip
    axis = {"gridcolor": LIGHT["rule"], "gridwidth": 0.5, "zeroline": False, "linecolor": LIGHT["edge"],
            "ticks": "outside", "tickcolor": LIGHT["edge"], "fixedrange": True, "automargin": True}  # fmt: skip
    limit = {"type": "line", "xref": "paper", "x0": 0, "x1": 1, "yref": "y", "y0": float(DAMP_LINE),
             "y1": float(DAMP_LINE), "line": {"color": LIGHT["ink"], "width": 1, "dash": "dot"}}  # fmt: skip
    return {"data": traces, "layout": {
        "font": {"family": FONT, "size": 13, "color": LIGHT["soft"]}, "margin": {"l": 48, "r": 8, "t": 30, "b": 34},
        "paper_bgcolor": NOTHING, "plot_bgcolor": NOTHING, "hovermode": "x unified",
        "legend": {"orientation": "h", "x": 0, "y": 1.02, "yanchor": "bottom"}, "shapes": [limit],
        "hoverlabel": {"bgcolor": LIGHT["paper"], "font": {"color": LIGHT["ink"], "family": FONT}},
        "xaxis": axis | {"type": "date", "showgrid": False, "tickformatstops": DAYS},
        "yaxis": axis | {"title": {"text": "% RH"}},
    }}  # fmt: skip


def before_after_told(picture) -> str:
    """The picture in one sentence."""
    means = (f"{name} {number(float(np.nanmean(getattr(picture, field))))} %" for name, field, _ in STROKES)
    return (
        f"Line chart of a room's daily mean humidity; in the mean {', '.join(means)}. The table below has it by month."
    )


def before_after_table(picture, zone: str) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """Heads and rows of the table behind it: means by month."""
    months = picture.day.tz_convert(zone).strftime("%Y-%m")
    rows = []
    for month in dict.fromkeys(months):
        here = months == month
        means = (getattr(picture, field)[here] for _, field, _ in STROKES)
        rows.append((month, *(number(float(v[np.isfinite(v)].mean())) if np.isfinite(v).any() else "" for v in means)))
    return ("", *(f"{name}, % RH" for name, _, _ in STROKES)), rows


def table(rows: tuple[DayRow, ...]) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """Heads and rows of the table behind a chart, in words and figures."""
    heads = ("", "°C", "% RH", "dew point °C", "read")
    return heads, [
        (row.label, span(*row.temp), span(*row.rh, 0), span(*row.dew_point), f"{number(100 * row.coverage, 0)} %")
        for row in rows
    ]


def told(shown: ClimateChart) -> str:
    """The chart in one sentence, for who cannot see it."""
    low_c, high_c = _over(shown.temp_c.values)
    low_rh, high_rh = _over(shown.rh_percent.values)
    return (
        f"Line chart of {shown.title}, {_clock(shown.start, shown.zone)[:10]} to {_clock(shown.end, shown.zone)[:10]}: "
        f"temperature {span(low_c, high_c)} °C, humidity {span(low_rh, high_rh, 0)} % RH, read for "
        f"{number(100 * shown.coverage, 0)} % of the time. The figures stand in the table below it."
    )


def _over(values: np.ndarray) -> tuple[float, float]:
    read = values[np.isfinite(values)]
    return (float(read.min()), float(read.max())) if len(read) else (float("nan"), float("nan"))


__all__ = ["HOW_TO_READ", "before_after", "before_after_table", "before_after_told", "course", "table", "told"]
