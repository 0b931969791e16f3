"""Part (b) of `tests.bench.mondays`: dangers in five strengths, each raised in the week that passes the written limit?

What each must come to stands in `mondays_dangers.csv`, written before this file. A danger's five strengths are five
places of one studio, each with its own logger and painting; when each begins is drawn by the seed. The week in which
the limit is first passed is recomputed on the readings by `mondays_limits`, the level and the kind of action are the
table's. The weakest passes no limit: a review that asks for somebody there is a false alarm.
"""

from __future__ import annotations

import csv
import zlib
from collections import Counter
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pandas as pd

from tests.bench import mondays_limits as limits
from tests.bench import mondays_studio as studio
from tests.bench.mondays_studio import Air, Life, Row, reached

TABLE = Path(__file__).parent / "mondays_dangers.csv"
ZONE = "Europe/Berlin"
STEP = pd.Timedelta(minutes=30)
HOUR, DAY = pd.Timedelta(hours=1), pd.Timedelta(days=1)
HISTORY = 70 * DAY  # read before the first Monday
YEAR = 364 * DAY
BUILDS = {  # layers beyond the face, and facts
    "unlined": ((), {}),
    "paste": (("film:glue_paste:1955-06-01", "lining canvas:linen"), {}),
    "paste_new": (("film:glue_paste:{lined}", "lining canvas:linen"), {}),
    "film": (("film:eva_film:2001-05-04", "lining canvas:linen"), {}),
    "acrylic": (("film:acr_disp:1994-10-03", "lining canvas:polyester_cloth"), {}),
    "wax": (("impregnation:wax_resin:1971-06-01", "lining canvas:linen"), {}),
    "fish": (("consolidant:fish_glue:2009-03-02",), {}),
    "film_board": (("film:eva_film:2001-05-04", "lining canvas:linen"), {"backed": "yes"}),
    "glazed_board": (("film:eva_film:2001-05-04", "lining canvas:linen"), {"glazed": "yes", "backed": "yes"}),
}
DRYING, SLOWING = (
    ("dry", "drie", "under 65", "under 60", "air down", "damp air"),
    ("slow", "swing", "steadier", "even it out"),
)
DAMPING = ("raise", "towards 45", "air up", "damp the air")
ACTIONS = {  # words one of which what is to be done must hold
    "heat": ("heat", "cool", "sun", "warm"), "dry": DRYING, "moisten": DAMPING, "warm slowly": ("warm", "cold"),
    "slow or dry": SLOWING + DRYING, "slow or moisten": SLOWING + DAMPING, "fetch": ("fetch", "logger"),
}  # fmt: skip
KIN = (  # mechanisms that tell of the same air
    {"heat", "heat, 30 days"}, {"dry", "dry air"}, {"cold"}, {"water on the painting"},
    {"damp", "damp air", "damp hours", "growth index", "30-day mean"}, {"swing", "swing in a day or a week"},
)  # fmt: skip


@dataclass(frozen=True)
class Danger:
    """One row of the table, and when it begins."""

    danger: str
    strength: int
    build: str
    position: str
    kind: str  # room, trip, chamber, stuck, stopped, new lining, second winter 33
    month: int
    base_c: float
    base_rh_percent: float
    ramp_h: float
    lasts_h: float
    daily_h: float
    peak_c: float
    peak_rh_percent: float
    test: str
    figure: str
    limit: float
    level: str
    hazard: str
    mechanism: str
    passed_after_h: float
    action: str
    begin: pd.Timestamp = pd.Timestamp(0, tz="UTC")

    @property
    def id(self) -> str:
        return f"s{self.strength}"

    @property
    def end(self) -> pd.Timestamp:
        return self.begin + self.lasts_h * HOUR


@dataclass(frozen=True)
class Score:
    """What a strength must come to, and what the reviews said.

    due : midnight of the Monday whose review must tell; None: it never must. first : the Monday that first told of it
    at the level or above, by the danger's own mechanism, "" none. other : by any. leads : it was what led there.
    after : Mondays that still asked more than a week after the air was over.
    """

    case: Danger
    seed: int
    due: pd.Timestamp | None
    first: str
    asked: tuple[Row, ...]
    action: bool
    words: str = ""
    other: str = ""
    leads: bool = False
    after: int = 0

    @property
    def verdict(self) -> str:
        """In time, by another, late, never, quiet, false alarm, or nothing due."""
        if self.case.level in ("", "standing"):
            return "false alarm" if self.asked else "quiet"
        if self.due is None:
            return "nothing due"
        due = f"{self.due:%Y-%m-%d}"
        if self.first and self.first <= due:
            return "in time"
        if self.other and self.other <= due:
            return "by another"
        return "late" if self.first or self.other else "never"


def table() -> list[Danger]:
    """The table's rows. Numbers are numbers; an empty one is NaN."""
    with TABLE.open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    words = {"danger", "build", "position", "kind", "test", "figure", "level", "hazard", "mechanism", "action"}
    return [
        Danger(**{k: v if k in words else int(v) if k in ("strength", "month") else float(v or "nan")
                  for k, v in row.items()})
        for row in rows
    ]  # fmt: skip


def drawn(rows: Sequence[Danger], seed: int) -> tuple[pd.Timestamp, list[Danger]]:
    """The first Monday, and the strengths of one danger, each with a begin of its own within two weeks after it."""
    draw = np.random.default_rng([seed, zlib.crc32(rows[0].danger.encode())])
    first = pd.Timestamp(2026, rows[0].month, int(draw.integers(1, 15)), tz=ZONE)
    first += pd.DateOffset(days=(7 - first.weekday()) % 7)
    steps = draw.integers(2, 14 * 48, len(rows))
    return first, [
        replace(r, begin=(first.tz_convert("UTC") + int(n) * STEP)) for r, n in zip(rows, steps, strict=True)
    ]


def share_of_way(case: Danger, time: pd.DatetimeIndex, begin: pd.Timestamp, lasts_h: float | None = None) -> np.ndarray:
    """From the base, 0, to the peak, 1."""
    lasts_h = case.lasts_h if lasts_h is None else lasts_h
    since = np.asarray((time - begin) / HOUR, float)
    ramp = max(case.ramp_h, 1e-9)
    if case.daily_h > 0:
        of_day = since % 24
        way = np.clip(np.minimum(of_day / ramp, (case.daily_h - of_day) / ramp), 0, 1)
        return np.where((since >= 0) & (since < lasts_h), way, 0.0)
    return np.clip(np.minimum(since / ramp, (lasts_h - since) / ramp), 0, 1)


def air_of(case: Danger, first: pd.Timestamp, last: pd.Timestamp, seed: int) -> Air:
    """What the danger's logger reads: a calm room with small daily and nine-day swings, and the danger in it."""
    history = YEAR + HISTORY if case.kind.startswith("second winter") else HISTORY
    time = pd.date_range((first - history).tz_convert("UTC"), (last + DAY).tz_convert("UTC"), freq=STEP)
    draw = np.random.default_rng([seed, case.strength, zlib.crc32(case.danger.encode())])
    day, week = (2 * np.pi * (np.asarray((time - time[0]) / DAY, float) + draw.uniform()) / n for n in (1, 9))
    temp = case.base_c + 0.3 * np.sin(day)
    rh = case.base_rh_percent + 0.7 * np.sin(day + 3) + 0.5 * np.sin(week)
    if case.kind.startswith("second winter"):
        met = share_of_way(case, time, case.begin - YEAR)
        rh = rh + met * (float(case.kind.split()[-1]) - rh)
    if case.kind not in ("stuck", "stopped"):
        begin, lasts = (case.begin - DAY, case.lasts_h + 24) if case.kind == "chamber" else (case.begin, case.lasts_h)
        way = share_of_way(case, time, begin, lasts)
        temp, rh = temp + way * (case.peak_c - temp), rh + way * (case.peak_rh_percent - rh)
    temp = temp + draw.normal(0, 0.05, len(time))
    rh = np.clip(rh + draw.normal(0, 0.15, len(time)), 0, 100)
    in_it = np.asarray((time >= case.begin) & (time < case.end))
    if case.kind == "stuck" and in_it.any():
        at = int(np.flatnonzero(in_it)[0])
        temp, rh = np.where(in_it, temp[at], temp), np.where(in_it, rh[at], rh)
    if case.kind == "stopped":
        temp, rh = np.where(in_it, np.nan, temp), np.where(in_it, np.nan, rh)
    return Air(time, np.round(temp, 2), np.round(rh, 2))


def lived(name: str, seed: int, short: bool = False) -> list[Score]:
    """One danger, all strengths, Monday by Monday."""
    first, cases = drawn([row for row in table() if row.danger == name], seed)
    longest = max(case.end for case in cases) + 8 * DAY
    due_last = max((case.passed_after_h for case in cases if case.passed_after_h > 0), default=0.0)
    if short or cases[0].lasts_h > 1000:  # what goes on for months is looked at until it is due, and for three weeks
        longest = min(longest, max(c.begin for c in cases) + pd.Timedelta(hours=due_last) + 21 * DAY)
    last = limits.monday_after(longest, ZONE)
    air = {case.id: air_of(case, first, last, seed) for case in cases}
    with Life(zone=ZONE) as life:
        read, entries = _enter(life, cases, air, first)
        looks = _looks(cases)
        begun = first - 8 * 7 * DAY if looks else first

        def before(now: pd.Timestamp) -> None:
            for what in (looks, entries):
                while what and what[0][0] <= now:
                    what.pop(0)[1](life)

        rows = studio.live(life, read, begun, last, before)
        asked = len(life.questions)
    if asked:
        print(f"  {name}: {asked} files waited in the tray and were answered by hand", flush=True)
    return [score(case, air[case.id], [row for row in rows if row.painting == case.id], seed) for case in cases]


Entry = tuple[pd.Timestamp, object]


def _enter(
    life: Life, cases: Sequence[Danger], air: dict[str, Air], first: pd.Timestamp
) -> tuple[dict[str, Air], list[Entry]]:
    """The register; what each logger reads, and what is entered on the way, in order of time."""
    away = cases[0].kind in ("trip", "chamber")
    kind = {"trip": "vehicle" if cases[0].lasts_h < 100 else "other", "chamber": "chamber"}.get(cases[0].kind, "")
    since = f"{first - YEAR - HISTORY - DAY:%Y-%m-%d}"
    read, places, loggers, hung, entries = {}, [], [], [], []
    for case in cases:
        home = f"room{case.strength}"
        places.append({"id": home, "name": f"Room {case.strength}", "kind": "store", "zone": ZONE})
        hung.append({"logger": f"L{case.strength}", "place": home, "from": since,
                     "position": "unknown" if away else case.position})  # fmt: skip
        loggers.append(studio.logger(f"L{case.strength}"))
        read[f"L{case.strength}"] = air[case.id]
        if away:
            there = f"there{case.strength}"
            places.append({"id": there, "name": f"There {case.strength}", "kind": kind, "zone": ZONE})
            loggers.append(studio.logger(f"T{case.strength}"))
            hung.append({"logger": f"T{case.strength}", "place": there, "from": since})
            read[f"T{case.strength}"] = air[case.id].between(case.begin - 2 * DAY, case.end + DAY)
            calm = replace(case, kind="room", peak_c=case.base_c, peak_rh_percent=case.base_rh_percent)
            read[f"L{case.strength}"] = replace(air[case.id], **_calm(calm, air[case.id]))
            entries += _moves(case, home, there)
    life.register(
        places=places, loggers=loggers, hangings=hung,
        paintings=[studio.painting(c.id, f"{c.danger}, {c.strength}", **BUILDS[c.build][1]) for c in cases],
        layers=[row for c in cases for row in studio.layers(c.id, *_stack(c))],
        treatments=[{"id": f"t{c.strength}", "painting": c.id, "kind": "lining", "on": _lined(c),
                     "material": "glue_paste"} for c in cases if c.kind == "new lining"],
        stays=[{"painting": c.id, "place": f"room{c.strength}", "from": since,
                "position": "unknown" if away else c.position} for c in cases],
    )  # fmt: skip
    return read, sorted(entries, key=lambda entry: entry[0])


def _calm(case: Danger, air: Air) -> dict[str, np.ndarray]:
    day = 2 * np.pi * np.asarray((air.time - air.time[0]) / DAY, float)
    return {"temp_c": np.round(case.base_c + 0.3 * np.sin(day), 2),
            "rh_percent": np.round(case.base_rh_percent + 0.7 * np.sin(day + 3), 2)}  # fmt: skip


def _moves(case: Danger, home: str, there: str) -> list[Entry]:
    """Out and back, as they are entered; into a chamber for a day by intent, and left in it."""
    clock = "%Y-%m-%d %H:%M"
    out, back = (f"{at.tz_convert(ZONE):{clock}}" for at in (case.begin, case.end))
    begins = out
    moves: list[Entry] = []
    if case.kind == "chamber":
        into = f"{(case.begin - DAY).tz_convert(ZONE):{clock}}"
        meant = {"position": "chamber", "intended": True, "until": out, "purpose": "humidity chamber"}
        moves.append((case.begin - DAY, lambda life: life.studio.move(case.id, there, into, **meant)))
        begins = f"{(case.begin + STEP).tz_convert(ZONE):{clock}}"  # a stay cannot begin where the intended one ends
    position = case.position if case.position in ("crate", "chamber") else "inner wall"
    moves.append((case.begin, lambda life: life.studio.move(case.id, there, begins, position=position)))
    moves.append((case.end, lambda life: life.studio.move(case.id, home, back, position="rack")))
    return moves


def _looks(cases: Sequence[Danger]) -> list[Entry]:
    """Where the danger is told from what was met before: own looks about the winter before, and each quarter."""
    if not cases[0].kind.startswith("second winter"):
        return []
    start = min(case.begin for case in cases) - YEAR
    days = [start + n * DAY for n in (-20, 62, 150, 240, 325)]
    return [(day, lambda life, day=day, key=case.id: life.look(key, day)) for day in days for case in cases]


def _lined(case: Danger) -> str:
    return f"{(case.begin - 10 * DAY).tz_convert(ZONE):%Y-%m-%d}"


def _stack(case: Danger) -> list[str]:
    return [word.format(lined=_lined(case)) for word in BUILDS[case.build][0]]


def score(case: Danger, air: Air, rows: Sequence[Row], seed: int) -> Score:
    """One strength against what the table and the recomputed week say."""
    since = f"{case.begin.tz_convert(ZONE):%Y-%m-%d}"
    over = f"{(case.end + 8 * DAY).tz_convert(ZONE):%Y-%m-%d}"
    later = [row for row in rows if row.monday >= since]
    weakest = not case.level
    asked = tuple(row for row in (rows if weakest else later) if row.asks)
    due, after = _due(case, air), sum(row.monday > over for row in asked)
    if case.level == "not known":
        hits = [row for row in later if row.list == "not seen" or row.level == "not known"]
        first = hits[0].monday if hits else ""
        action = bool(hits) and any(word in hits[0].fetch.lower() for word in ACTIONS["fetch"])
        return Score(case, seed, due, first, asked, action, hits[0].fetch if hits else "", first, True, after)
    if case.level in ("", "standing"):
        worst = max(asked, key=lambda row: reached(row.level), default=None)
        return Score(case, seed, due, "", asked, False, worst.words if worst else "nothing", after=after)
    least, kin = reached(case.level), next(kin for kin in KIN if case.mechanism in kin)
    by = [(row, t) for row in asked for t in row.told if reached(t.level) >= least and not t.standing]
    own = [(row, t) for row, t in by if t.mechanism in kin]
    other = by[0][0].monday if by else ""
    if not own:
        return Score(case, seed, due, "", asked, False, asked[0].words if asked else "nothing", other, after=after)
    row = own[0][0]
    there = [t for at, t in own if at is row]
    words = " ".join(t.do for t in there).lower()
    look = any(t.ended for t in there) and "look" in words  # of what is over nothing else is left to do
    action = look or any(word in words for word in ACTIONS[case.action])
    leads = row.leads is not None and row.leads.mechanism in kin
    return Score(case, seed, due, row.monday, asked, action, row.words, other, leads, after)


def _due(case: Danger, air: Air) -> pd.Timestamp | None:
    if case.level in ("", "standing"):
        return None
    if case.level == "not known":
        return limits.silent_monday(case.begin, case.lasts_h, case.limit, ZONE)
    if case.kind == "chamber":  # an intended day proves nothing: a whole day of what was not intended
        return limits.monday_after(case.begin + 12 * HOUR, ZONE)
    found = limits.first_monday(case.test, case.limit, case.build, air, case.begin, ZONE)
    return None if found is None else found[1]


def tried(name: str, seed: int, short: bool) -> list[Score]:
    """The same; a danger that could not be lived through is told and has no score."""
    try:
        return lived(name, seed, short)
    except Exception as error:
        print(f"  {name}: ended by {type(error).__name__}: {error}", flush=True)
        return []


def report(scores: Sequence[Score]) -> Iterator[str]:
    """A line a danger, then each miss with what is needed to do it again."""
    count = Counter(score.verdict for score in scores)
    words = ("in time", "by another", "late", "never", "nothing due", "quiet", "false alarm")
    yield f"{len({s.case.danger for s in scores})} dangers, {len(scores)} strengths: " + ", ".join(
        f"{word} {count[word]}" for word in words
    )
    must = [s for s in scores if s.verdict in words[:4]]
    own = [s for s in must if s.first]
    told = count["in time"] + count["by another"]
    yield f"raised in the week in which the limit is first passed: {told} of {len(must)}"
    yield (
        f"of {len(own)} told by their own mechanism, with the kind of action expected {sum(s.action for s in own)}, "
        + (
            f"leading {sum(s.leads for s in own)}; Mondays that asked a week and more after it was over: "
            f"{sum(s.after for s in scores)}"
        )
    )
    for name in dict.fromkeys(s.case.danger for s in scores):
        yield f"  {name:<42}" + "".join(f"{s.verdict:>13}" for s in scores if s.case.danger == name)
    notes = {limits.differs(s.case.figure, s.case.limit) for s in scores if s.case.hazard}
    yield from (f"  {note}" for note in sorted(notes) if note)
    for s in scores:
        if s.verdict in ("by another", "late", "never", "false alarm") or (s.first and not (s.action and s.leads)):
            yield from _again(s)


def _again(s: Score) -> Iterator[str]:
    case, due = s.case, f"{s.due:%Y-%m-%d}" if s.due is not None else "none"
    what = s.verdict if s.verdict != "in time" else "does not lead" if s.action else "another action"
    yield f'  {what}: {case.danger}, strength {case.strength} (--part b --seed {s.seed} --again "{case.danger}")'
    began = f"{case.begin.tz_convert(ZONE):%a %Y-%m-%d %H:%M}"
    air = f"{case.peak_c:g} °C, {case.peak_rh_percent:g} % RH"
    yield f"    begins {began}, {case.build}, {air}; {case.figure} {case.limit:g}"
    yield f"    due {case.level or 'nothing'} on {due}; first told {s.first or 'never'}; {s.words}"


def main(seed: int, quick: bool, processes: int, again: str) -> list[Score]:
    """Run and print."""
    names = list(dict.fromkeys(row.danger for row in table()))
    if again:
        names = [name for name in names if again in name]
    elif quick:
        short = [name for name in names if next(r for r in table() if r.danger == name).lasts_h <= 400]
        names = sorted(np.random.default_rng(seed).choice(short, 8, replace=False).tolist(), key=names.index)
    with ProcessPoolExecutor(processes) as pool:
        done = list(pool.map(tried, names, [seed] * len(names), [quick] * len(names)))
    scores = [score for strengths in done for score in strengths]
    print("\n".join(report(scores)))
    if again:
        for s in scores:
            print("\n".join(f"{s.case.id} {row.monday} {row.words}" for row in s.asked))
    return scores
