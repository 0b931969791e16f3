"""A file that waits drawn beside the loggers it may be of: rows of bars for a terminal, lines for a page.

The file is told by a heavy line, the loggers by thin and broken ones; the same scale for all.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from envwatch.archive.intake.tray import RecordCurve
from envwatch.core.arrays import Array
from envwatch.core.text import date, span
from envwatch.present.palette import LIGHT

BARS = "▁▂▃▄▅▆▇█"
QUANTITIES = (("temp_c", "°C", 1.0), ("rh_percent", "% RH", 4.0))  # and the least span that is drawn
NAME, WIDTH, HEIGHT, GAP = 18, 400.0, 56.0, 12.0  # columns; px
STROKES = ('stroke-width="2.4"', 'stroke-width="1"', 'stroke-width="1" stroke-dasharray="5 3"',
           'stroke-width="1" stroke-dasharray="1.5 2.5"')  # fmt: skip


def bars(courses: Sequence[RecordCurve], zone: str) -> Iterator[str]:
    """Each record as a row of bars, temperature and then humidity, with its lowest and highest mean."""
    for name, unit, least in QUANTITIES:
        low, high = _bounds(courses, name, least)
        for one in courses if np.isfinite(low) else ():
            values = getattr(one, name)
            known = values[np.isfinite(values)]
            told = span(known.min(), known.max()) if len(known) else "nothing read"
            title = one.name if len(one.name) <= NAME else f"{one.name[: NAME - 1]}…"
            yield f"{title:{NAME}} {unit:4} {''.join(_bar(v, low, high) for v in values)} {told}"
    if courses:
        yield f"{'':{NAME}}      {_days(courses, zone)}"


def _bar(value: float, low: float, high: float) -> str:
    return " " if np.isnan(value) else BARS[min(int((value - low) / (high - low) * len(BARS)), len(BARS) - 1)]


def _bounds(courses: Sequence[RecordCurve], name: str, least: float) -> tuple[float, float]:
    whole = np.concatenate([getattr(one, name) for one in courses] or [np.empty(0)])
    known = whole[np.isfinite(whole)]
    if not len(known):
        return np.nan, np.nan
    more = max(least - float(np.ptp(known)), 0.0) / 2
    return float(known.min()) - more, float(known.max()) + more


def _days(courses: Sequence[RecordCurve], zone: str) -> str:
    return f"{date(courses[0].start, zone)} to {date(courses[0].end, zone)}"


def lines(courses: Sequence[RecordCurve]) -> str:
    """The records as an SVG, temperature above humidity; empty where there is nothing to draw."""
    drawn = [(top, name, *_bounds(courses, name, least)) for top, (name, _, least) in
             zip((0.0, HEIGHT + GAP), QUANTITIES, strict=True)]  # fmt: skip
    paths = "".join(
        f'<path d="{_path(getattr(one, name), low, high, top)}" {STROKES[min(n, len(STROKES) - 1)]}/>'
        for top, name, low, high in drawn if np.isfinite(low) for n, one in reversed(list(enumerate(courses)))
    )  # fmt: skip
    size = f'viewBox="0 0 {WIDTH:g} {2 * HEIGHT + GAP:g}"'
    return (f'<svg xmlns="http://www.w3.org/2000/svg" {size} fill="none" stroke="{LIGHT["ink"]}" '
            f'stroke-linejoin="round">{paths}</svg>') if paths else ""  # fmt: skip


def _path(values: Array, low: float, high: float, top: float) -> str:
    x = (np.arange(len(values)) + 0.5) * WIDTH / len(values)
    y = top + 2 + (HEIGHT - 4) * (high - values) / (high - low)
    pen, out = "M", []
    for px, py in zip(x.tolist(), y.tolist(), strict=True):
        out += [f"{pen}{px:.1f} {py:.1f}"] if py == py else []
        pen = "L" if py == py else "M"
    return "".join(out)


def told(courses: Sequence[RecordCurve], zone: str) -> str:
    """What the drawing shows, in words: for its legend, and for who cannot see it."""
    ways = ("heavy", "thin", "broken", "dotted")
    names = "; ".join(f"{way}: {one.name}" for way, one in zip(ways, courses, strict=False))
    ranges = "; ".join(
        f"{unit} {span(*bounds)}" for name, unit, _ in QUANTITIES
        if np.isfinite((bounds := _bounds(courses, name, 0.0))[0])
    )  # fmt: skip
    return f"{names}. {_days(courses, zone)}; {ranges}, temperature above humidity."
