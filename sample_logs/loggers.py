"""The loggers of the story: where each hangs, how well it reads, what befell it, when it was read out.

All times here are UTC. A logger keeps its own random numbers, so one logger can be made without the others.
"""

import zlib
from collections.abc import Callable
from dataclasses import dataclass, field

import layouts
import numpy as np
import places
from rooms import Air, moved
from weather import Weather, days_since


@dataclass(frozen=True)
class Logger:
    """One logger: its sensors (bias, noise, resolution), its clock, its mishaps and its downloads."""

    points: tuple[Callable[[Weather], Air], ...]  # one for each probe
    layout: Callable[..., bytes]
    start: str
    read_out: tuple[str, ...]  # when each file was downloaded
    name: str  # of the files: {n} counts them, {to} is the day of the download
    overlap_d: float = 2.0  # how far each file reaches back behind the one before
    step_min: int = 15
    phase_s: int = 0
    bias_c: float = 0.0
    bias_rh: float = 0.0
    noise_c: float = 0.04
    noise_rh: float = 0.25
    decimals: tuple[int, int] = (1, 1)
    ends: str = ""  # flat battery
    stuck_from: str = ""
    gaps: tuple[tuple[str, str], ...] = ()
    in_the_sun: tuple[str, ...] = ()  # days on which it stood in the sun
    unplugged: dict[int, tuple[str, str]] = field(default_factory=dict)  # probe: from, to


def monthly(first: str, last: str, every_d: int, clock: str) -> tuple[str, ...]:
    """Days of downloading at a steady rhythm, at one time of day."""
    days = np.arange(np.datetime64(first, "D"), np.datetime64(last, "D") + 1, every_d)
    return tuple(f"{day}T{clock}" for day in days)


LOGGERS: dict[str, Logger] = {
    "studio": Logger(
        (places.studio,), layouts.studio, "2025-09-01T06:00",
        (*monthly("2025-10-06", "2026-09-07", 28, "06:52"), "2026-10-05T06:47", "2026-10-19T06:55", "2026-11-02T07:38"),
        "Atelier bis {to}.csv", overlap_d=3, bias_c=0.1, bias_rh=-0.4,
        gaps=(("2026-02-09T13:00", "2026-02-12T15:00"),),
        in_the_sun=("2026-06-17", "2026-06-18", "2026-06-19"),
    ),
    "store_rack": Logger(
        (places.store_rack,), layouts.store_rack, "2025-09-01T07:00",
        (*monthly("2025-10-13", "2026-09-14", 42, "07:20"), "2026-10-05T07:12", "2026-11-02T08:05"),
        "331887_{n}.csv", overlap_d=2, bias_c=-0.1, bias_rh=0.3, decimals=(2, 2), noise_rh=0.15,
        gaps=(("2026-05-19T04:15", "2026-05-25T07:45"),),
    ),
    "store_wall": Logger(
        (places.store_wall,), layouts.store_wall, "2025-11-01T00:00",
        ("2026-01-12T08:10", "2026-03-30T07:25", "2026-06-08T07:40", "2026-08-24T07:35", "2026-10-05T07:20",
         "2026-11-02T08:12"),
        "Nordwand {to}.txt", overlap_d=5, phase_s=240, bias_c=0.1, bias_rh=0.2,
    ),
    "loft": Logger(
        (places.loft,), layouts.loft, "2025-11-01T00:00",
        ("2026-01-09T14:00", "2026-03-06T13:30", "2026-05-08T12:10", "2026-07-03T12:45", "2026-08-28T13:00",
         "2026-10-24T09:40", "2026-10-30T14:07"),
        "Trockenboden_{to}.csv", overlap_d=1, phase_s=420, bias_c=0.2, bias_rh=-0.3, noise_c=0.08,
        gaps=(("2026-04-03T08:00", "2026-04-12T09:30"),),
    ),
    "crate": Logger(
        (places.crate,), layouts.crate, "2025-11-01T00:00",
        ("2026-01-21T09:00", "2026-04-16T08:00", "2026-07-13T08:20", "2026-09-14T08:30", "2026-11-02T08:20"),
        "CT-0092 {to}.csv", overlap_d=4, bias_c=-0.2, bias_rh=0.5, ends="2026-10-13T14:30",
    ),
    "house_probes": Logger(
        (places.house_radiator, places.house_outer), layouts.house_probes, "2025-11-01T00:00",
        ("2025-12-14T14:00", "2026-02-22T14:30", "2026-05-10T13:40", "2026-07-26T14:10", "2026-09-12T11:00",
         "2026-10-10T13:20", "2026-11-01T15:32"),
        "HM-7741_export_{n}.csv", overlap_d=2, phase_s=0, bias_c=0.1, bias_rh=0.4, decimals=(2, 1),
        unplugged={1: ("2026-03-17T09:10", "2026-03-17T16:40")},
    ),
    "house_inner": Logger(
        (places.house_inner,), layouts.house_inner, "2025-11-01T00:00",
        ("2025-12-14T14:05", "2026-02-22T14:35", "2026-05-10T13:45", "2026-07-26T14:20", "2026-09-12T11:10",
         "2026-10-10T13:25", "2026-11-01T15:40"),
        "Innenwand Wohnzimmer ({n}).csv", overlap_d=1.5, phase_s=660, bias_c=-0.1, bias_rh=-0.5,
        gaps=(("2026-08-02T10:30", "2026-08-06T18:15"),),
    ),
    "outdoors": Logger(
        (places.outdoors,), layouts.outdoors, "2025-11-01T00:00",
        ("2026-01-04T15:00", "2026-03-29T15:10", "2026-06-14T17:00", "2026-08-16T16:20", "2026-10-25T16:10"),
        "garden_shed_{to}.csv", overlap_d=7, bias_c=0.0, bias_rh=0.8, noise_c=0.06, noise_rh=0.6, decimals=(2, 1),
        gaps=(("2026-02-12T03:00", "2026-02-12T11:15"),),
    ),
    "office": Logger(
        (places.office,), layouts.office, "2026-09-01T10:00", ("2026-10-05T07:30", "2026-11-02T08:30"),
        "Kontor {to}.csv", overlap_d=2, phase_s=300, bias_c=0.2, bias_rh=1.1, stuck_from="2026-10-20T11:20",
    ),
    "chamber": Logger(
        (places.chamber,), layouts.chamber, "2026-10-12T06:00", ("2026-10-14T09:30",),
        "KB-7 Klimakammer.txt", overlap_d=0, step_min=5, bias_c=0.1, bias_rh=0.2,
    ),
}  # fmt: skip


def sunlit(air_there: Air, weather: Weather, days: tuple[str, ...]) -> Air:
    """The air as a logger feels it that the afternoon sun reaches: hot, with its vapour unchanged."""
    rise = np.zeros(len(weather.time))
    for day in days:
        through = np.clip((24 * days_since(weather.time, day) - 12.4) / 3.5, 0, 1)
        rise += 13.0 * np.sqrt(np.abs(np.sin(np.pi * through)).clip(1e-12) - 1e-12)
    return moved(air_there, rise) if days else air_there


def within(time, spans) -> np.ndarray:
    """True where a time falls into one of the spans."""
    inside = np.zeros(len(time), bool)
    for first, last in spans:
        inside |= (time >= np.datetime64(first)) & (time < np.datetime64(last))
    return inside


def stamps(logger: Logger) -> np.ndarray:
    """When the logger wrote a reading, UTC seconds."""
    first = np.datetime64(logger.start, "s") + np.timedelta64(logger.phase_s, "s")
    time = np.arange(
        first, np.datetime64(logger.ends or logger.read_out[-1], "s"), np.timedelta64(logger.step_min, "m")
    )
    return time[~within(time, logger.gaps)]


def felt(logger: Logger, weather: Weather, probe: int, time, random) -> tuple[np.ndarray, np.ndarray]:
    """What one probe wrote: the air there, with the sensor's bias, noise, resolution and mishaps."""
    there = sunlit(logger.points[probe](weather), weather, logger.in_the_sun)
    grid = weather.time.astype("datetime64[s]").astype("int64")
    at = time.astype("int64")
    temp_c = np.interp(at, grid, there.temp_c) + logger.bias_c
    rh = np.interp(at, grid, there.rh_percent) + logger.bias_rh
    hand = handled(logger, time)
    temp_c += 1.1 * hand + logger.noise_c * random.standard_normal(len(at))
    rh += 2.5 * hand + logger.noise_rh * random.standard_normal(len(at))
    temp_c = np.round(temp_c, logger.decimals[0])
    rh = np.clip(np.round(rh, logger.decimals[1]), 0, 100)
    if logger.stuck_from:
        late = time >= np.datetime64(logger.stuck_from)
        temp_c[late], rh[late] = temp_c[~late][-1], rh[~late][-1]
    if probe in logger.unplugged:
        out = within(time, [logger.unplugged[probe]])
        temp_c[out] = rh[out] = np.nan
    return temp_c + 0.0, rh + 0.0  # no minus nought


def handled(logger: Logger, time) -> np.ndarray:
    """1 at a reading just before a download: a warm hand."""
    out = np.zeros(len(time))
    for when in logger.read_out:
        before = np.datetime64(when, "s") - time
        out[(before >= np.timedelta64(0, "s")) & (before < np.timedelta64(logger.step_min, "m"))] = 1
    return out


def record(name: str, logger: Logger, weather: Weather) -> layouts.Record:
    """Everything a logger ever wrote."""
    random = np.random.RandomState(zlib.crc32(name.encode()))
    time = stamps(logger)
    probes = [felt(logger, weather, probe, time, random) for probe in range(len(logger.points))]
    return layouts.Record(time, [temp_c for temp_c, _ in probes], [rh for _, rh in probes])


def parts(name: str, logger: Logger, weather: Weather) -> list[tuple[str, layouts.Record]]:
    """What stands in each download of one logger: (file name, readings)."""
    whole, out = record(name, logger, weather), []
    reaches_back = np.timedelta64(round(logger.overlap_d * 86_400), "s")
    first = np.datetime64(logger.start, "s")
    for n, when in enumerate(logger.read_out, 1):
        until = np.datetime64(when, "s")
        out.append((logger.name.format(n=n, to=when[:10]), whole.between(first, until)))
        first = until - reaches_back
    return out


def downloads(name: str, logger: Logger, weather: Weather) -> dict[str, bytes]:
    """The files of one logger, as they were downloaded: file name -> bytes."""
    files = {}
    for (file, part), when in zip(parts(name, logger, weather), logger.read_out, strict=True):
        ended = bool(logger.ends) and when == logger.read_out[-1]
        files[file] = logger.layout(part, np.datetime64(when, "s"), ended=ended)
    return files
