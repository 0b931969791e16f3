"""Writes the corpus's shapes: files of a layout seen in the open, with invented air.

A shape of `open_data/corpus/*.toml` gives `head`, a `row` pattern, `n`, `start` and `step` in minutes; `{T}` and `{H}`
are the first probe's air, `{T2}` the second's, `{t:%d.%m.%Y}` the instant. Besides: `comma` (decimal commas), `air`,
`places`, `probes`, `foot`, `encoding`, `eol`, `bom`, `file`, `lines` (row number: what stands there instead), `months`
(steps are months), `words` (names for `{month}` and `{day}`), `halves` (`{half}`), `who` (probes in no order: `{who}`,
`{TW}`, `{HW}`), `more` (further tables below), `sheets` (a workbook: cells parted by tabs, `@` before a date or time,
`'` before text), `mac` (its days count from 1904). Air is a wave and a fixed noise of integers: the same on every
machine.
"""

from __future__ import annotations

import io
import math
import tomllib
import zlib
from datetime import datetime, time, timedelta
from pathlib import Path

import openpyxl
from openpyxl.utils.datetime import CALENDAR_MAC_1904

HERE = Path(__file__).parent / "open_data" / "corpus"
# mean °C, half the day's swing, mean % RH, half the day's swing
AIR = {"room": (20.6, 1.1, 46.0, 4.0), "store": (16.2, 0.5, 55.0, 2.0), "winter": (-1.5, 4.0, 84.0, 9.0),
       "summer": (21.0, 6.0, 62.0, 19.0), "glass": (25.0, 6.5, 68.0, 16.0), "warm": (29.5, 1.6, 66.0, 6.0)}  # fmt: skip
MONTHS, DAYS = "Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec", "Mon Tue Wed Thu Fri Sat Sun"


class Figure(float):
    """A number that is written with a decimal comma."""

    def __format__(self, spec: str) -> str:
        return float.__format__(self, spec).replace(".", ",")


def noise(name: str, n: int) -> list[float]:
    """(n,) within ±1, the same for the same name."""
    state, drawn = zlib.crc32(name.encode()), []
    for _ in range(n):
        state = (1103515245 * state + 12345) % 2**31
        drawn.append(state / 2**30 - 1)
    return drawn


def wave(moment: datetime, late: float) -> float:
    """The day's course, warmest in the afternoon, with a slow drift of days."""
    hour = moment.hour + moment.minute / 60 + moment.second / 3600
    day = moment.toordinal() + hour / 24
    return math.sin((hour - 9 - late) / 24 * 2 * math.pi) + 0.6 * math.sin(day / 5.3)


def air(name: str, kind: str, moments: list[datetime], probe: int) -> tuple[list[float], list[float]]:
    """Temperature [°C] and humidity [% RH] of a probe; each probe stands a little off the first."""
    t0, ts, h0, hs = AIR[kind]
    a, b = noise(f"{name}{probe}t", len(moments)), noise(f"{name}{probe}h", len(moments))
    swing = [wave(m, probe * 0.4) for m in moments]
    temp = [t0 - 1.3 * (probe - 1) + ts * w + 0.12 * x for w, x in zip(swing, a, strict=True)]
    damp = [h0 + 3.1 * (probe - 1) - hs * w + 0.5 * x for w, x in zip(swing, b, strict=True)]
    return temp, [min(max(h, 5.0), 99.5) for h in damp]


def dew_point(temp_c: float, rh_percent: float) -> float:
    """Magnus, WMO No. 8 (2014) coefficients over water. [°C]"""
    x = math.log(rh_percent / 100) + 17.62 * temp_c / (243.12 + temp_c)
    return 243.12 * x / (17.62 - x)


def moments(shape: dict) -> list[datetime]:
    first = datetime.fromisoformat(shape["start"])
    if shape.get("months"):
        return [first.replace(year=first.year + (first.month - 1 + i) // 12, month=(first.month - 1 + i) % 12 + 1)
                for i in range(shape["n"])]  # fmt: skip
    return [first + timedelta(minutes=shape["step"] * i) for i in range(shape["n"])]


def of_time(t: datetime, words: list[str]) -> dict:
    """Ways in which files write an instant."""
    months, days = words or (MONTHS, DAYS)
    last = t - timedelta(hours=1)
    return {
        "t": t, "month": months.split()[t.month - 1], "day": days.split()[t.weekday()], "doy": t.timetuple().tm_yday,
        "h12": (t.hour + 11) % 12 + 1, "pm": "ap"[t.hour > 11], "h24": last.hour + 1, "of24": last,
        "epoch": int((t - datetime(1970, 1, 1)).total_seconds()), "frac": (t.hour * 60 + t.minute) / 1440,
        "serial": (t - datetime(1899, 12, 30)) / timedelta(days=1),
    }  # fmt: skip


def written_otherwise(temp_c: float, rh_percent: float, number: type) -> dict:
    """Tenths, a minus behind the number, humidity as a fraction, absolute humidity [g/m³] by the gas law."""
    vapour_hpa = rh_percent / 100 * 6.112 * math.exp(17.62 * temp_c / (243.12 + temp_c))
    behind = f"{number(abs(temp_c)):.1f}" + "-" * (temp_c < 0)
    return {"X": round(temp_c * 10), "M": behind, "R": number(rh_percent / 100),
            "A": number(216.7 * vapour_hpa / (temp_c + 273.15))}  # fmt: skip


def turn(fields: dict, who: list[str], drawn: float) -> dict:
    """Whose turn it is where probes come in no order, with that probe's air."""
    at = int((drawn + 1) / 2 * len(who)) % len(who)
    tag = str(at + 1) if at else ""
    return {"who": who[at], "TW": fields[f"T{tag}"], "HW": fields[f"H{tag}"]}


def rows(name: str, shape: dict) -> list[str]:
    kind, when = shape.get("air", "room"), moments(shape)
    number = Figure if shape.get("comma") else float
    fields: list[dict] = [{} for _ in when]
    for probe in range(1, shape.get("probes", 1) + 1):
        for f, temp, damp in zip(fields, *air(name, kind, when, probe), strict=True):
            temp, damp = round(temp, shape.get("places", 1)), round(damp, shape.get("places", 1))
            dew = dew_point(temp, damp)
            given = {"T": temp, "H": damp, "F": temp * 1.8 + 32, "K": temp + 273.15,
                     "D": dew, "DF": dew * 1.8 + 32, "DK": dew + 273.15}  # fmt: skip
            given = {k: number(v) for k, v in given.items()} | written_otherwise(temp, damp, number)
            f |= {f"{k}{probe if probe > 1 else ''}": v for k, v in given.items()}
    beside = zip(noise(name + "co2", len(when)), noise(name + "p", len(when)), strict=True)
    for i, (f, t, (c, p)) in enumerate(zip(fields, when, beside, strict=True)):
        f |= {
            "back": when[-1 - i],
            "local": t + timedelta(hours=2),
            "utc": t + timedelta(hours=8),
            "half": shape.get("halves", ["AM", "PM"])[t.hour > 11],
        }
        f |= {"C": round(620 + 150 * c), "P": number(1009 + 4 * math.sin(i / 40) + 0.2 * p), "W": number(1.6 + c * 1.5)}
        f |= {
            "L": max(0, round(300 * wave(t, 0))),
            "V": number(3.05 - 0.0004 * i),
            "i": i,
            "n": i + 1,
            "J": number(abs(c)),
            "j": int(abs(c) * 99),
        }
        f |= turn(f, shape.get("who", [""]), c)
    texts = [shape["row"].format(**f, **of_time(t, shape.get("words", []))) for f, t in zip(fields, when, strict=True)]
    for at, text in shape.get("lines", {}).items():
        texts[int(at)] = text.format(**fields[int(at)], **of_time(when[int(at)], shape.get("words", [])))
    return texts


def day_rows(name: str, shape: dict) -> list[str]:
    """One line a day and quantity, with 24 hours side by side."""
    hours = rows(name, shape | {"row": "{T:.1f}|{H:.0f}|{t:%Y/%m/%d}"})
    parted = [h.split("|") for h in hours]
    lines = []
    for at in range(0, len(parted), 24):
        day = parted[at : at + 24]
        lines.append(shape["day"].format(date=day[0][2], T=",".join(d[0] for d in day), H=",".join(d[1] for d in day)))
    return lines


def table(name: str, shape: dict) -> list[str]:
    body = day_rows(name, shape) if "day" in shape else rows(name, shape) if shape.get("n") else []
    head, foot = shape.get("head", ""), shape.get("foot", "")
    texts = (head.split("\n") if head else []) + "\n".join(body).split("\n") * bool(body)
    return texts + (foot.split("\n") if foot else [])


def cell(text: str):
    """A workbook's cell: a date or time after @, text after ', else a number where it is one."""
    if text[:1] == "@":
        return datetime.fromisoformat(text[1:]) if "-" in text else time.fromisoformat(text[1:])
    try:
        return float(text)
    except ValueError:
        return text.removeprefix("'") or None


def workbook(name: str, shape: dict) -> bytes:
    book = openpyxl.Workbook()
    book.remove(book.active)
    if shape.get("mac"):
        book.epoch = CALENDAR_MAC_1904
    for sheet in shape["sheets"]:
        page = book.create_sheet(sheet["title"])
        for line in table(name + sheet["title"], sheet):
            page.append([cell(c) for c in line.split("\t")])
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def content(name: str, shape: dict) -> bytes:
    """A shape's bytes."""
    if "sheets" in shape:
        return workbook(name, shape)
    lines = [line for part in [shape, *shape.get("more", [])] for line in table(name, part)]
    eol = {"crlf": "\r\n", "cr": "\r"}.get(shape.get("eol", ""), "\n")
    text = eol.join(lines) + eol * (not shape.get("open", False))
    return (b"\xef\xbb\xbf" if shape.get("bom") else b"") + text.encode(shape.get("encoding", "utf-8"))


def shapes() -> dict[str, dict]:
    """Every shape by its name, in the files' order."""
    found: dict[str, dict] = {}
    for path in sorted(HERE.glob("*.toml")):
        found |= tomllib.loads(path.read_text("utf-8"))
    return found


def write_all(folder: Path) -> dict[str, Path]:
    """Every file of the corpus, excerpts and shapes, by its name."""
    paths = {p.stem: p for p in sorted((HERE / "excerpts").iterdir())}
    for name, shape in shapes().items():
        paths[name] = folder / (name + ".xlsx" if "sheets" in shape else shape.get("file", name + ".csv"))
        paths[name].write_bytes(content(name, shape))
    return paths
