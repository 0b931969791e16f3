"""The same air through a studio's archive: files cut anywhere, overlapping, added in any order and in several goes."""

from __future__ import annotations

import tempfile
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd

from envwatch.archive import Studio
from envwatch.climate.exposure import ROOM, Exposure
from envwatch.climate.series import Climate
from envwatch.core.painting import Stay
from envwatch.core.place import Sensor
from envwatch.figures import quality as q
from envwatch.logs import Answers
from envwatch.logs.quality import marks as quality
from tests.exposures import HOUR, Numbers, Whole
from tests.sound import Fault, differs, found

REACHES = 40  # readings into the next file
REGISTER = {
    "places": "id,name,kind,zone",
    "loggers": "id,name,labels,temp_accuracy_c,rh_accuracy_percent",
    "hangings": "logger,channel,place,position,from,to",
}


def archive(wholes: Sequence[Whole], dice: Numbers) -> list[tuple[Whole, list[Fault]]]:
    """Each of several whole exposures judged from one studio and directly; the ways in which they differ."""
    wholes = [replace(whole, points=(ROOM,)) for whole in wholes]
    with tempfile.TemporaryDirectory() as folder, Studio.create(Path(folder) / "s", name="S", zone="UTC") as studio:
        studio.import_register(_register(Path(folder), wholes))
        files = [file for n, whole in enumerate(wholes) for file in _files(Path(folder), n, whole, dice)]
        files = [files[at] for at in dice.dice.permutation(len(files))]
        goes = sorted({0, *(dice.whole(0, len(files)) for _ in range(2)), len(files)})
        for first, last in zip(goes, goes[1:], strict=False):
            report = studio.add(files[first:last], Answers(temp_unit="C"))  # hot spells are asked about
            assert report.ok, [(o.name, o.status, o.question, o.reason) for o in report.outcomes if o.status != "kept"]
        return [(whole, list(_differs(studio, n, whole))) for n, whole in enumerate(wholes)]


def _differs(studio: Studio, n: int, whole: Whole):
    painting = replace(whole.painting, stays=_stays(n, whole))
    (kept,) = studio.exposures(painting, whole.begin, whole.end)
    direct = _direct(whole)
    if n % 4 and _one_air(direct.room, kept.room):
        return []  # the verdicts of one and the same air are compared for one in four
    return differs(found(direct, whole.painting, whole.start()), found(kept, painting, whole.start()), set())


def _one_air(a: Climate, b: Climate) -> bool:
    """Whether every reading, what it stands for, its mark and its logger are the same, to the last digit."""
    rows = [(each.time.asi8, each.temp_c, each.rh_percent, each.hours, each.suspect) for each in (a, b)]
    same = (len(x) == len(y) and np.array_equal(x, y, equal_nan=x.dtype == float) for x, y in zip(*rows, strict=True))
    span = (a.start, a.end, a.temp_coverage, a.sensor.rh_u_percent, a.sensor.temp_u_c)
    return all(same) and span == (b.start, b.end, b.temp_coverage, b.sensor.rh_u_percent, b.sensor.temp_u_c)


def _direct(whole: Whole) -> Exposure:
    """The exposure without an archive, with the marks of doubt that the whole record bears."""
    parts = []
    for stint in whole.stints():
        time, temp, rh = whole.record(int(stint.place_id[1:]))
        marks = quality.mark(time.as_unit("us").asi8, temp, rh)
        temp, rh = np.where(marks & quality.BAD_TEMP, np.nan, temp), np.where(marks & quality.BAD_RH, np.nan, rh)
        suspect = (marks & quality.SUSPECT) != 0
        sensor = Sensor(temp_bias_c=whole.temp_u_c, rh_bias_percent=whole.rh_u_percent, logger=stint.place_id)
        there = Climate.of(time, temp, rh, start=whole.begin, end=whole.end, suspect=suspect, sensor=sensor)
        parts.append(there.between(stint.start, stint.end))
    return Exposure({ROOM: Climate.joined(parts, whole.begin, whole.end)}, whole.begin, whole.end, whole.stints())


def _stays(n: int, whole: Whole) -> tuple[Stay, ...]:
    return tuple(
        Stay(f"{n}-{s.place_id}", s.start, s.end, s.position, s.intended, start_is_date=False, end_is_date=False)
        for s in whole.stints()
    )


def _register(folder: Path, wholes: Sequence[Whole]) -> Path:
    """The register's sheets: a place and a logger for each room."""
    rows: dict[str, list[str]] = {name: [head] for name, head in REGISTER.items()}
    for n, whole in enumerate(wholes):
        for room in range(len(whole.rooms)):
            place = f"{n}-r{room}"
            rows["places"].append(f"{place},Room {place},store,{whole.zone}")
            rows["loggers"].append(
                f"L{place},Logger {place},TH{n + 101}-{room + 1},{whole.temp_u_c},{whole.rh_u_percent}"
            )
            rows["hangings"].append(f"L{place},,{place},rack,2020-01-01,")
    (folder / "register").mkdir()
    for name, lines in rows.items():
        (folder / "register" / f"{name}.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    return folder / "register"


def _files(folder: Path, n: int, whole: Whole, dice: Numbers) -> list[Path]:
    """A room's record in one to four files, some reaching into the next; cut anywhere but soon after a leap.

    Where a file ends tells when a logger was taken out to be read: what leaps in both quantities in the hours before,
    and is undone in the next file, is its own way and no air of the room. So no file ends there.
    """
    made = []
    for room in range(len(whole.rooms)):
        time, temp, rh = whole.record(room)
        leaps = 1 + np.flatnonzero((np.abs(np.diff(temp)) >= q.HANDLING_C) & (np.abs(np.diff(rh)) >= q.HANDLING_RH))
        # no file of a few readings: its dates may be asked about
        inner = {dice.whole(0, len(time)) // 50 * 50 for _ in range(dice.whole(0, 3))}
        inner = {cut for cut in inner if cut + 50 < len(time) and not _soon_after(time, leaps, cut)}
        cuts = sorted({0, len(time), *inner})
        for part, (first, last) in enumerate(zip(cuts, cuts[1:], strict=False)):
            last = min(last + dice.pick((0, dice.whole(0, REACHES))), len(time))
            path = folder / f"{n}-{room}-{part}.csv"
            path.write_text(
                _text(f"TH{n + 101}-{room + 1}", time[first:last], temp[first:last], rh[first:last]), "utf-8"
            )
            made.append(path)
    return made


def _soon_after(time: pd.DatetimeIndex, leaps: np.ndarray, cut: int) -> bool:
    """Whether a file that ends at a cut, or some readings after it, may end while its logger is away to be read."""
    early = time.searchsorted(time[cut] - float(q.AWAY_MAX_H) * HOUR)
    return bool(((leaps >= early) & (leaps <= cut + REACHES)).any())


def _text(label: str, time: pd.DatetimeIndex, temp: np.ndarray, rh: np.ndarray) -> str:
    rows = [f"{at},{a:.1f},{b:.1f}" for at, a, b in zip(time.strftime("%Y-%m-%dT%H:%M:%SZ"), temp, rh, strict=True)]
    return "\n".join([f"Logger: {label}", "Time,Temperature (°C),Humidity (%)", *rows]) + "\n"
