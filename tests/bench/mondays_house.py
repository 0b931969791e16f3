"""Part (a) of `tests.bench.mondays`: how often ordinary life in a real house asks for somebody.

Ten settled paintings of different build-ups hang in one room. Its first real stretch is lived through with weekly
reviews, then the real year after it, which is counted; the same air is never used twice. An own look each quarter, or
none. The year that is counted also as a logger that drifts would have read it, and as another logger would.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pandas as pd

from envwatch import logs
from tests.bench import mondays_studio as studio
from tests.bench.mondays_studio import Air, Life, Row

HOUSE = Path(__file__).parent.parent / "open_data"
RECORDS = (HOUSE / "house_study_before.csv", HOUSE / "house_study.csv")
HOUSE_ZONE = "Etc/GMT-2"
YEAR = pd.Timedelta(days=364)
QUARTER = pd.Timedelta(days=91)
ACCURACY_PERCENT = 3.0  # of the house's logger: none is stated, our assumption

BUILDS = {  # id: (title, facts, layers)
    "p01": ("film-lined, open", {}, ("film:eva_film:1998-05-04", "lining canvas:linen")),
    "p02": ("film-lined, backed", {"backed": "yes"}, ("film:eva_film:1996-03-11", "lining canvas:polyester_cloth")),
    "p03": ("film-lined, glazed and backed", {"glazed": "yes", "backed": "yes"},
            ("film:eva_film:2001-09-17", "lining canvas:linen")),
    "p04": ("paste-lined, open", {}, ("film:glue_paste:1962-06-01", "lining canvas:linen")),
    "p05": ("paste-lined, backed", {"backed": "yes"}, ("film:glue_paste:1925-06-01", "lining canvas:linen")),
    "p06": ("wax-lined, open", {}, ("impregnation:wax_resin:1971-06-01", "lining canvas:linen")),
    "p07": ("wax-lined, glazed and backed", {"glazed": "yes", "backed": "yes"},
            ("impregnation:wax_resin:1968-06-01", "lining canvas:linen")),
    "p08": ("unlined, open", {}, ()),
    "p09": ("unlined, glazed and backed", {"glazed": "yes", "backed": "yes"}, ()),
    "p10": ("lined with acrylic dispersion, open", {},
            ("film:acr_disp:1994-10-03", "lining canvas:polyester_cloth")),
}  # fmt: skip


@dataclass(frozen=True)
class Trial:
    """One life: how the counted year was read, and whether anybody looked. Enough to do it again."""

    name: str  # as read, drifted, another logger, another logger not compared
    looks: bool
    paths: tuple[str, ...]
    zones: tuple[str, ...]
    seed: int
    paintings: int = len(BUILDS)
    weeks: int = 52  # counted, from the begin of the second year


VARIANTS = ("as read", "drifted", "another logger", "another logger, not compared")


def record(paths: Sequence[str], zones: Sequence[str]) -> Air:
    """A room's readings from files as envwatch reads them; the first probe of each, files one after the other."""
    times, temps, humid = [], [], []
    for path, zone in zip(paths, zones, strict=True):
        channel = logs.read(Path(path), logs.Answers(zone=zone)).channels[0]
        times.append(channel.time)
        temps.append(channel.temp_c)
        humid.append(channel.rh_percent)
    time = pd.DatetimeIndex(np.concatenate(times).astype("M8[us]"), tz="UTC")
    keep = ~time.duplicated() & np.isfinite(np.concatenate(humid))
    order = np.argsort(time[keep].asi8, kind="stable")
    return Air(time[keep][order], np.concatenate(temps)[keep][order], np.concatenate(humid)[keep][order])


def mondays_of(air: Air, zone: str) -> tuple[pd.Timestamp, pd.Timestamp, pd.Timestamp]:
    """The first Monday with a whole week behind it, the Monday at which the counted year begins, the last Monday."""
    first = air.time[0].tz_convert(zone).normalize()
    first += pd.Timedelta(days=(7 - first.weekday()) % 7 + 7)
    last = air.time[-1].tz_convert(zone).normalize()
    last -= pd.Timedelta(days=last.weekday())
    return first, last - YEAR, last


def drifted(air: Air, start: pd.Timestamp) -> Air:
    """The humidity of the second year drifts: 2 % lower from its 90th day on, linearly until then."""
    days = np.asarray((air.time - start) / pd.Timedelta(days=1), float)
    return replace(air, rh_percent=np.clip(air.rh_percent - np.clip(days / 90, 0, 1) * 2.0, 0, 100))


def as_another_reads(air: Air, seed: int) -> tuple[Air, float]:
    """The same air as another logger of ± 2 % and ± 0.3 °C reads it, and its bias in humidity."""
    draw = np.random.default_rng([seed, 21])
    bias, bias_c = draw.uniform(-2, 2), draw.uniform(-0.3, 0.3)
    noise, noise_c = draw.normal(0, 0.4, len(air.time)), draw.normal(0, 0.1, len(air.time))
    return Air(air.time, air.temp_c + bias_c + noise_c, np.clip(air.rh_percent + bias + noise, 0, 100)), bias


def run(trial: Trial) -> list[Row]:
    """The rows of the second year's reviews."""
    zone = trial.zones[0]
    air = record(trial.paths, trial.zones)
    first, second, last = mondays_of(air, zone)
    if second < first:
        raise SystemExit(f"the record reaches over {(last - first).days} days; at least a year behind its first week")
    last = min(last, second + pd.Timedelta(days=7 * trial.weeks))
    with Life(zone=zone) as life:
        read = _enter(life, trial, air, second)
        looks = list(pd.date_range(first - pd.Timedelta(days=3), last, freq=QUARTER)) if trial.looks else []

        def before(now: pd.Timestamp) -> None:
            while looks and looks[0] < now:
                for key in list(BUILDS)[: trial.paintings]:
                    life.look(key, looks[0])
                looks.pop(0)

        rows = studio.live(life, read, first, last, before)
    since = f"{second:%Y-%m-%d}"
    return [row for row in rows if row.monday > since]


def _enter(life: Life, trial: Trial, air: Air, second: pd.Timestamp) -> Mapping[str, Air]:
    """The register, and what each logger reads."""
    some = dict(list(BUILDS.items())[: trial.paintings])
    other = trial.name.startswith("another logger")
    compared = trial.name == "another logger"
    since = f"{air.time[0].tz_convert(life.zone):%Y-%m-%d}"
    change = f"{second:%Y-%m-%d}"
    hung = [{"logger": "L1", "place": "study", "position": "inner wall", "from": since}]
    if other:
        hung[0]["to"] = f"{second + pd.Timedelta(days=14):%Y-%m-%d}" if compared else change
        hung.append({"logger": "L2", "place": "study", "position": "inner wall", "from": change})
    life.register(
        places=[{"id": "study", "name": "Study", "kind": "house", "zone": life.zone, "volume_m3": 40}],
        loggers=[studio.logger("L1", ACCURACY_PERCENT), studio.logger("L2", 2.0)][: 1 + other],
        hangings=hung,
        paintings=[studio.painting(key, title, **facts) for key, (title, facts, _) in some.items()],
        layers=[row for key, (*_, more) in some.items() for row in studio.layers(key, *more)],
        stays=[{"painting": key, "place": "study", "position": "inner wall", "from": "2003-01-01"} for key in some],
    )
    start = second.tz_convert("UTC")
    if trial.name == "drifted":
        return {"L1": drifted(air, start)}
    if not other:
        return {"L1": air}
    theirs, bias = as_another_reads(air.between(start, air.time[-1]), trial.seed)
    if compared:  # beside a checked one and over a saturated salt: what is left is half a percent
        true = (33.0, 75.0)
        points = tuple((rh, round(rh + bias + 0.3, 1)) for rh in true)
        life.studio.calibrate("L2", change, rh_points=points, rh_accuracy_percent=1.0, basis="two saturated salts")
    until = start + pd.Timedelta(days=14) if compared else start
    return {"L1": air.between(air.time[0], until), "L2": theirs}


def share(rows: Sequence[Row]) -> dict[str, float]:
    """Shares of painting-weeks, by what the review says of each. [1]"""
    count = Counter(_said(row) for row in rows)
    words = ("urgent", "act", "watch", "put off", "told", "standing", "not known", "waiting", "quiet")
    return {word: count[word] / max(len(rows), 1) for word in words}


def _said(row: Row) -> str:
    if row.asks:
        return row.level
    return {"not seen": "not known", "left out": "not known"}.get(row.list, row.list)


def trials(paths: Sequence[str], zones: Sequence[str], seed: int, quick: bool) -> list[Trial]:
    """What is lived through; `quick`: four paintings, half a year, as read alone."""
    if quick:
        return [Trial("as read", looks, tuple(paths), tuple(zones), seed, 4, 26) for looks in (True, False)]
    return [Trial(name, looks, tuple(paths), tuple(zones), seed) for looks in (True, False) for name in VARIANTS]


def report(done: Sequence[tuple[Trial, list[Row]]]) -> Iterator[str]:
    """The table of shares, then for each life what accounts for what was raised."""
    yield f"{'':<44}{'weeks':>7}" + "".join(f"{word:>11}" for word in share([]))
    for trial, rows in done:
        title = f"{trial.name}, {'a look each quarter' if trial.looks else 'no look'}"
        yield f"{title:<44}{len(rows):>7}" + "".join(f"{value:>11.1%}" for value in share(rows).values())
    for trial, rows in done:
        yield ""
        yield from breakdown(trial, rows)


def breakdown(trial: Trial, rows: Sequence[Row]) -> Iterator[str]:
    """What leads, what is found at all (each once a painting-week), by painting, and by month."""
    asks, every = [row for row in rows if row.asks], len(rows)
    title = f"{trial.name}, {'a look each quarter' if trial.looks else 'no look'}"
    yield f"{title}: {len(asks)} of {every} painting-weeks ask"
    leads = Counter((t.level, t.hazard, t.mechanism, t.layer, t.state, t.ended) for r in asks if (t := r.leads))
    for (level, hazard, mechanism, layer, state, ended), count in leads.most_common(12):
        when = ", ".join(filter(None, (state, "over" if ended and state != "over" else "")))
        yield f"  leads {count:>4}  {level:<7} {hazard}, {mechanism}: {layer}{f' ({when})' if when else ''}"
    found = Counter(
        key for r in asks for key in {(t.level, t.hazard, t.mechanism, t.state) for t in r.told if not t.standing}
    )
    for (level, hazard, mechanism, state), count in found.most_common(12):
        yield f"  asks  {count:>4}  {level:<7} {hazard}, {mechanism}{f' ({state})' if state else ''}"
    stands = Counter(f"{t.hazard}, {t.mechanism}" for r in rows for t in r.told if t.standing)
    yield "  does not ask: " + (", ".join(f"{what} {count}" for what, count in stands.most_common(8)) or "nothing")
    for key in sorted({row.painting for row in rows}):
        own = [row for row in rows if row.painting == key]
        said = ", ".join(f"{word} {value:.0%}" for word, value in share(own).items() if value)
        yield f"  {key} {BUILDS.get(key, (key,))[0]}: {said}"
    months = Counter(row.monday[:7] for row in asks)
    yield "  by month: " + ", ".join(f"{month} {count}" for month, count in sorted(months.items()))


def main(paths: Sequence[str], zones: Sequence[str], seed: int, quick: bool, processes: int, again: str) -> None:
    """Run and print."""
    every = [trial for trial in trials(paths, zones, seed, quick) if not again or again in name_of(trial)]
    with ProcessPoolExecutor(processes) as pool:
        done = list(zip(every, pool.map(run, every), strict=True))
    print("\n".join(report(done)))
    for trial, rows in done if again else ():
        print(f"\n{name_of(trial)}")
        print("\n".join(f"{row.monday} {row.painting} {row.words}" for row in rows if row.asks))


def name_of(trial: Trial) -> str:
    """By which `--again` calls it."""
    return f"{trial.name}/{'looks' if trial.looks else 'no looks'}"
