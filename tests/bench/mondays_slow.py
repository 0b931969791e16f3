"""Part (c) of `tests.bench.mondays`: slow histories, none of which may stand as met before, and one that may.

What must hold on which Mondays stands in `mondays_slow.csv`, written before this file. Each history is a house of its
own with its own logger. Its first winter stands at 33 % RH from December to February, its second at 36.5 %: damper by
more than the logger's ± 2 % and a margin take off what was met, so that it is the history alone that decides.
"""

from __future__ import annotations

import csv
import zlib
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

from envwatch.core.painting import NOTHING_NEW
from tests.bench import mondays_studio as studio
from tests.bench.mondays_studio import Air, Life, Row

TABLE = Path(__file__).parent / "mondays_slow.csv"
ZONE = "Europe/Berlin"
STEP, DAY = pd.Timedelta(hours=1), pd.Timedelta(days=1)
SECOND = 2025  # the year in which the second winter begins
SUMMER_RH, WINTER_RH, DAMPER_RH = 48.0, 33.0, 3.5
BOTH_WINTERS = ("2024-10-07", "2025-01-14", "2025-04-10", "2025-07-08", "2025-10-06")
FILM = ("film:eva_film:2001-05-04", "lining canvas:linen")
Entry = tuple[str, Callable[[Life], object]]


@dataclass(frozen=True)
class History:
    """A row of the table."""

    name: str
    must: str  # stand, not stand
    first: str
    last: str
    because: str

    @property
    def id(self) -> str:
        return "".join(word[0] for word in self.name.split()) + f"{zlib.crc32(self.name.encode()) % 1000:03d}"


def table() -> list[History]:
    """The table's rows."""
    with TABLE.open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    return [History(r["history"], r["must"], r["first_monday"], r["last_monday"], r["because"]) for r in rows]


def air_of(history: History, seed: int) -> Air:
    """Its own air: a winter's dryness that comes and goes within a month, small daily swings, noise by the seed."""
    years = 5 if history.name.startswith("tenting") else 2
    begin = pd.Timestamp(SECOND + 1 - years, 8, 1, tz=ZONE)
    time = pd.date_range(begin.tz_convert("UTC"), pd.Timestamp(SECOND + 1, 3, 20, tz="UTC"), freq=STEP)
    draw = np.random.default_rng([seed, zlib.crc32(history.name.encode())])
    days = np.asarray((time - time[0]) / DAY, float)
    rh = SUMMER_RH + 0.7 * np.sin(2 * np.pi * days) + 0.5 * np.sin(2 * np.pi * days / 9)
    for year in range(begin.year, SECOND + 1):
        since = np.asarray((time - pd.Timestamp(year, 11, 15, tz="UTC")) / DAY, float)
        way = np.clip(np.minimum(since / 30, (132 - since) / 30), 0, 1)
        rh += way * (WINTER_RH + DAMPER_RH * (year == SECOND) - rh)
    if history.name.startswith("damp"):
        wet = np.asarray((time >= "2025-09-08") & (time < "2025-09-13"))
        rh = np.where(wet, 80.0, rh)
    temp = 20.5 + 0.3 * np.sin(2 * np.pi * days)
    return Air(time, np.round(temp + draw.normal(0, 0.05, len(time)), 2),
               np.round(rh + draw.normal(0, 0.15, len(time)), 2))  # fmt: skip


def entries(history: History) -> list[Entry]:
    """What a person enters, each on its day."""
    key, name = history.id, history.name
    looks = [_look(key, day) for day in BOTH_WINTERS]
    more: dict[str, list[Entry]] = {
        "tenting": [_look(key, f"{year}-{day}") for year in range(2021, 2024) for day in ("04-10", "10-06")]
        + [_look(key, "2024-04-10", "tenting along the cracks, paint standing up"), _look(key, "2024-10-06"),
           _look(key, "2025-04-10", "tents higher, paint loose at the top edge"), _look(key, "2025-10-06")],
        "telephone": [_look(key, day, look="telephone", by="the owner") for day in BOTH_WINTERS],
        "new owner": [*looks[:4], ("2025-09-15", lambda life: life.studio.move(key, f"{key}-new", "2025-09-15",
                                                                              position="inner wall")),
                      _look(key, "2025-10-06", look="photo", by="the owner")],
        "new sign": [*looks[:4], _look(key, "2025-10-06", "small blister, lower left")],
        "twelve": looks[:2],
        "keyed": [("2025-08-12", lambda life: life.studio.treat(key, "keying out", "2025-08-12"))],
        "logger": [("2025-09-15", lambda life: life.studio.set_hanging(
            f"{key}-2", key, "2025-09-15", position="inner wall"))],
        "backing": [("2025-09-15", lambda life: life.studio.treat(key, "backing board removed", "2025-09-15")),
                    ("2025-09-15", lambda life: life.studio.enter("painting", {"id": key, "backed": "no"}))],
        "hung": [("2025-09-15", lambda life: life.studio.move(key, key, "2025-09-15", position="window"))],
        "carried": [("2025-09-15", lambda life: life.studio.move(key, f"{key}-van", "2025-09-15 09:00")),
                    ("2025-09-15", lambda life: life.studio.move(
                        key, key, "2025-09-15 15:00", position="inner wall"))],
        "new heating": [("2025-10-01", lambda life: life.studio.treat(key, "new heating", "2025-10-01"))],
    }  # fmt: skip
    own = next((what for word, what in more.items() if name.startswith(word)), [])
    without = ("tenting", "telephone", "new owner", "new sign", "twelve")
    return sorted(own if name.startswith(without) else looks + own, key=lambda entry: entry[0])


def _look(key: str, day: str, sign: str = NOTHING_NEW, look: str = "own", by: str = "me") -> Entry:
    return day, lambda life: life.look(key, day, sign, look, by)


def read_by(history: History, air: Air) -> dict[str, Air]:
    """What each logger of a history reads."""
    key, cut = history.id, pd.Timestamp("2025-09-15", tz=ZONE).tz_convert("UTC")
    if history.name.startswith("logger"):
        return {key: air.between(air.time[0], cut), f"{key}-2": air.between(cut, air.time[-1])}
    if history.name.startswith("new owner"):
        return {key: air, f"{key}-2": air.between(cut, air.time[-1])}
    if history.name.startswith("carried"):
        return {key: air, f"{key}-2": air.between(cut, cut + DAY)}
    return {key: air}


def enter(life: Life, history: History) -> None:
    """The register of one history. A second logger is entered where one will hang."""
    key, name = history.id, history.name
    since = "2020-01-01"
    places = [{"id": key, "name": f"House of {name}", "kind": "house", "zone": ZONE}]
    loggers, hung = [studio.logger(key)], [{"logger": key, "place": key, "position": "inner wall", "from": since}]
    other = {"new owner": ("new", "house"), "carried": ("van", "vehicle")}
    for word, (suffix, kind) in other.items():
        if name.startswith(word):
            places.append({"id": f"{key}-{suffix}", "name": f"The {suffix}", "kind": kind, "zone": ZONE})
            hung.append({"logger": f"{key}-2", "place": f"{key}-{suffix}", "position": "inner wall", "from": since})
    if len(hung) > 1 or name.startswith("logger"):
        loggers.append(studio.logger(f"{key}-2"))
    backed = {"backed": "yes"} if name.startswith("backing") else {}
    life.register(
        places=places, loggers=loggers, hangings=hung,
        paintings=[studio.painting(key, name, **backed)],
        layers=studio.layers(key, *FILM),
        stays=[{"painting": key, "place": key, "position": "inner wall", "from": since}],
    )  # fmt: skip


def lived(names: Sequence[str], seed: int) -> list[tuple[History, list[Row]]]:
    """Some histories in one studio: each second month a review until October, then each Monday."""
    some = [history for history in table() if history.name in names]
    with Life(zone=ZONE) as life:
        read: dict[str, Air] = {}
        todo: list[Entry] = []
        for history in some:
            enter(life, history)
            read |= read_by(history, air_of(history, seed))
            todo += entries(history)
        todo.sort(key=lambda entry: entry[0])

        def before(now: pd.Timestamp) -> None:
            while todo and todo[0][0] < f"{now:%Y-%m-%d}":
                todo.pop(0)[1](life)

        fetched = min(air.time[0] for air in read.values())
        seldom = pd.date_range("2024-10-14", "2025-10-13", freq="56D", tz=ZONE)
        weekly = pd.date_range("2025-11-10", f"{SECOND + 1}-03-02", freq="7D", tz=ZONE)
        for monday in seldom.append(weekly):
            now = (monday + studio.FETCH_H).tz_convert("UTC")
            before(now)
            life.fetch(read, fetched, now)
            fetched = now
            life.monday(now)
        return [(history, [row for row in life.rows if row.painting == history.id]) for history in some]


def wrong(history: History, rows: Sequence[Row]) -> list[Row]:
    """The reviews that the table forbids: any finding that is met before, or one that asks where all should be."""
    held = [row for row in rows if history.first <= row.monday <= history.last]
    if history.must == "stand":
        return [row for row in held if row.list not in ("standing", "quiet")]
    return [row for row in held if row.list == "standing" or any(told.met for told in row.told)]


def report(done: Sequence[tuple[History, list[Row]]]) -> Iterator[str]:
    """A line a history; of those that are wrong the first Monday and its words."""
    kept = sum(not wrong(*each) and _was_judged(*each) for each in done)
    yield f"{kept} of {len(done)} histories as they must be"
    for history, rows in done:
        held = [row for row in rows if history.first <= row.monday <= history.last]
        against = wrong(history, rows)
        said = ", ".join(f"{word} {sum(row.list == word for row in held)}" for word in dict.fromkeys(
            row.list for row in held))  # fmt: skip
        word = "wrong" if against else "right"
        yield f"  {word:<6} {history.name:<34} must {history.must:<10} {len(held)} Mondays: {said}"
        if against:
            row = against[0]
            yield f"         {row.monday}: {row.list}, {row.words} ({history.because})"
        if not _was_judged(history, rows):
            yield "         nothing was raised or standing on these Mondays: the rule was not tried"


def _was_judged(history: History, rows: Sequence[Row]) -> bool:
    held = [row for row in rows if history.first <= row.monday <= history.last]
    return any(row.told for row in held)


def main(seed: int, quick: bool, processes: int, again: str) -> None:
    """Run and print; `quick`: five histories and the one that may stand."""
    names = [history.name for history in table() if again in history.name]
    if quick and not again:
        names = [name for name in names if name.startswith(("damp", "telephone", "logger", "new sign", "nothing"))]
    halves = [half for half in (names[::2], names[1::2]) if half]
    with ProcessPoolExecutor(processes) as pool:
        done = [each for half in pool.map(lived, halves, [seed] * len(halves)) for each in half]
    done.sort(key=lambda each: names.index(each[0].name))
    print("\n".join(report(done)))
    if again:
        print("\n".join(f"{row.monday} {row.list} {row.level} {row.words}" for _, rows in done
                        for row in rows))  # fmt: skip
