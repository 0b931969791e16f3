"""What each place did, and which loggers want a hand."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
import pandas as pd

from envwatch import climate
from envwatch.archive import Studio
from envwatch.archive.climates.deployments import has_logger, hung_in
from envwatch.archive.intake.preview import waiting
from envwatch.archive.intake.summary import mark_notes
from envwatch.archive.register.probes import hung_nowhere
from envwatch.cases.review.model import Extreme, LoggerLine, PaintingLine, PlaceLine
from envwatch.cases.review.spots import Parting, partings, widest
from envwatch.climate.series import Climate
from envwatch.core.period import Period
from envwatch.core.text import date
from envwatch.figures.review import PLACE_HISTORY_DAYS


def place_lines(studio: Studio, span: Period, lines: Sequence[PaintingLine]) -> tuple[PlaceLine, ...]:
    """What each place did, with a month of history for its fluctuation."""
    out = []
    for place in studio.places().values():
        if not has_logger(studio, place.id, span.start, span.end):
            continue
        air = history(studio, place.id, span)
        week = air.between(span.start, span.end)
        read = air.time[np.isfinite(air.temp_c)]
        here = sum(line.where.startswith(place.name) for line in lines if line.left is None or line.left.stands)
        summary = climate.describe_place(air, place.zone, span.start) if len(week.time) else None
        extremes: tuple[Extreme, ...] = ()
        if summary is not None:
            summary, extremes = widest(summary, studio.spots(place.id, span.start, span.end), place.zone, span.start)
        out.append(PlaceLine(place, summary, read[-1] if len(read) else None, here, extremes))
    return tuple(out)


def read_once(studio: Studio, span: Period, now: pd.Timestamp) -> None:
    """Work out all that is told of loggers and rooms, place by place: many years of many loggers do not fit in memory,
    and gone through once for each question they would be read from disk as often."""
    for place in studio.places():
        studio.seen(now, place)
        mark_notes(studio, span.start, span.end, place)
        if has_logger(studio, place, span.start, span.end):
            history(studio, place, span)


def history(studio: Studio, place: str, span: Period, position: str | None = None) -> Climate:
    """The air of a place, or of a position in it, up to the end of a period, with what lies before it."""
    return studio.climate(place, span.start - pd.Timedelta(days=float(PLACE_HISTORY_DAYS)), span.end, position)


def logger_lines(studio: Studio, span: Period, now: pd.Timestamp) -> tuple[LoggerLine, ...]:
    """Loggers that want a hand: those not fetched apart from those that stopped and those that are flat."""
    out = []
    places = studio.places()
    loggers, in_tray, nowhere = studio.loggers(), waiting(studio), hung_nowhere(studio)
    for id, seen in studio.seen(now=now).items():
        logger = loggers[id]
        hanging = next((h for h in reversed(logger.hangings) if h.end is None or h.end > span.start), None)
        if hanging is None and logger.hangings and id not in nowhere:
            continue  # taken down before this period
        place = places[hanging.place_id].name if hanging else ""
        until = f"seen until {_local(seen.last, studio.zone)}" if seen.last is not None else "never read"

        def line(state: str, sentence: str, logger=logger, place=place, seen=seen) -> LoggerLine:
            return LoggerLine(logger.id, logger.name, place, state, sentence, seen.last)

        if hanging is None and not logger.hangings:
            out.append(line("no place", "has readings but hangs nowhere: say where with envwatch hung"))
        elif id in nowhere:
            one, names = len(nowhere[id]) == 1, ", ".join(nowhere[id])
            told = f"its probe {names} reads but hangs nowhere" if one else f"its probes {names} read but hang nowhere"
            out.append(line("no place", f"{told}: say where with envwatch hung"))
        if hanging is None and logger.hangings:
            continue
        if seen.stopped_inside_file:
            out.append(line("stopped", f"stopped inside its file, {until}: battery or memory, go and look"))
        elif seen.stuck_since is not None:
            stuck = _local(seen.stuck_since, studio.zone)
            out.append(line("flat", f"has not moved since {stuck}: sensor or logger failed, go and look"))
        elif seen.last is None or seen.last < span.end - pd.Timedelta(days=1):
            waits = in_tray.get(id)
            if waits:
                asked = f"a file waits in the tray as {waits[0].number}, perhaps its own"
                out.append(line("in the tray", f"{asked}: {until}"))
            else:
                out.append(line("not fetched", f"not fetched for this period: {until}"))
        if logger.calibrated_on is not None and logger.calibrated_on + pd.DateOffset(years=1) < span.end:
            checked = date(logger.calibrated_on, studio.zone)
            out.append(line("calibration due", f"last checked on {checked}: check it against salt"))
    return (*out, *_apart(studio, span))


def _apart(studio: Studio, span: Period) -> Iterator[LoggerLine]:
    """Loggers of one room that part by more than they can: hung wrongly, or a wet corner? Each is asked about once."""
    for place in studio.places().values():
        if len(hung_in(studio, place.id)) > 1:
            told: dict[str, Parting] = {}
            for found in partings(studio.spots(place.id, span.start, span.end), place.kind):
                told.setdefault(found.first.logger, found)
            for id, found in told.items():
                one = found.first
                yield LoggerLine(id, one.name, place.name, "apart", found.sentence(place.zone), one.air.time[-1])


def _local(stamp: pd.Timestamp, zone: str) -> str:
    return f"{date(stamp, zone)} {stamp.tz_convert(zone):%H:%M}"
