"""A logger's humidity that drifts away from a neighbour's in the same room.

Two loggers in one room breathe one air: whatever their temperatures, the vapour pressure is nearly the same. So one's
humidity is compared with what the other's vapour gives at its own temperature; a warm or cold spot is no drift. Only
a change counts: by how much the two differ now, against the first days they read together.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from envwatch import climate
from envwatch.archive.climates.deployments import FOREVER, Deployment, channels_of, hung_in
from envwatch.climate.series import Climate
from envwatch.core.dates import instant
from envwatch.core.place import PlaceKind
from envwatch.figures import quality as q
from envwatch.logs.quality.marks import harsher, without_bad
from envwatch.logs.quality.sensors import apart, corrected, moved

if TYPE_CHECKING:
    from envwatch.archive.store.source import ReadingSource

DAY_US = 86_400_000_000
Probe = tuple[str, str]  # logger, channel


def drifted(studio: ReadingSource, logger: str, channel: str, time_us: np.ndarray) -> np.ndarray:
    """Which readings of a probe are doubted because it and a neighbour have drifted apart. (n,) [µs] -> (n,) bool

    Both of the two are, for none of them says which it is; one that was checked since then is not.
    """
    mask = np.zeros(len(time_us), bool)
    for place in {hanging.place_id for hanging in studio.loggers()[logger].hangings}:
        spans = studio.state().air.get(("drift", place), lambda at=place: _in_place(studio, at), lambda _made: 1)
        for first_us, last_us in spans.get((logger, channel), ()):
            mask |= (time_us >= first_us) & (time_us < last_us)
    return mask


def _in_place(studio: ReadingSource, place: str) -> dict[Probe, list[tuple[int, int]]]:
    """Spans [µs) of drift in one room, by probe."""
    here = hung_in(studio, place)
    if studio.places()[place].kind == PlaceKind.OUTDOORS or len({hung.logger.id for hung in here}) < 2:
        return {}  # nothing to hold it against, and no need to read its whole record
    hourly: dict[Probe, pd.DataFrame] = {}
    for hung in here:
        for channel, frame in _hourly(studio, hung).items():
            held = hourly.get((hung.logger.id, channel))
            hourly[hung.logger.id, channel] = frame if held is None else pd.concat([held, frame]).sort_index()
    spans: dict[Probe, list[tuple[int, int]]] = {}
    probes = list(hourly)
    for n, one in enumerate(probes):
        for other in probes[n + 1 :]:
            if one[0] != other[0]:
                _compare(studio, one, other, hourly, spans)
    return spans


def _hourly(studio: ReadingSource, hung: Deployment) -> dict[str, pd.DataFrame]:
    logger, hanging = hung.logger, hung.hanging
    checks = studio.register().calibrations.get(logger.id, ())
    out = {}
    for channel, rows in channels_of(studio, logger.id, hanging.start, hanging.end or FOREVER, hanging.channel).items():
        temp_c, rh = corrected(rows.time, *without_bad(rows), checks, channel, studio.zone)
        first, temp_c, rh = harsher(rows.time, temp_c, rh)
        hours = climate.hourly(Climate.of(pd.DatetimeIndex(rows.time[first].view("M8[us]"), tz="UTC"), temp_c, rh))
        frame = pd.DataFrame({"temp_c": hours.temp_c, "rh_percent": hours.rh_percent}, hours.time)
        out[channel] = frame.dropna()
    return {channel: frame for channel, frame in out.items() if len(frame)}


def _compare(studio: ReadingSource, one: Probe, other: Probe, hourly: dict, spans: dict) -> None:
    """Add the spans in which two probes have drifted apart; counted afresh from when both had been checked."""
    checked = {}
    for logger, channel in (one, other):
        checks = studio.register().calibrations.get(logger, ())
        on = [instant(check["on"], studio.zone) for check in checks if check["channel"] in ("", channel)]
        checked[logger, channel] = max(on, default=pd.Timestamp(0, tz="UTC"))
    both = min(checked.values())
    frames = [hourly[probe][hourly[probe].index >= both] for probe in (one, other)]
    far = moved(apart(*frames)).abs() >= float(q.DRIFT_RH)
    days = far.index[far.to_numpy(bool)]
    if not len(days):
        return
    at = days.as_unit("us").asi8
    cuts = np.flatnonzero(np.diff(at) > DAY_US) + 1
    for piece in np.split(at, cuts):
        for probe in (one, other):
            since = int(piece[0])
            until = min(int(piece[-1]) + DAY_US, checked[probe].value // 1000 if checked[probe] > both else 1 << 62)
            if since < until:
                spans.setdefault(probe, []).append((since, until))
