"""How each logger writes its file. Ten layouts, each of them invented, each awkward in its own way."""

from dataclasses import dataclass

import numpy as np
from moist import dew_point_c
from weather import local_offset_h

BOM = "\ufeff"


@dataclass(frozen=True)
class Record:
    """Readings of one logger: (n,) UTC seconds, and for each probe (n,) °C and % RH, NaN where missing."""

    time: np.ndarray
    temp_c: list[np.ndarray]
    rh_percent: list[np.ndarray]

    def between(self, first, until) -> "Record":
        """The readings in [first, until)."""
        keep = (self.time >= first) & (self.time < until)
        return Record(self.time[keep], [t[keep] for t in self.temp_c], [rh[keep] for rh in self.rh_percent])


def on_the_wall(time) -> np.ndarray:
    """The wall clock of the town: one hour twice in autumn, one hour never in spring."""
    return time + local_offset_h(time) * np.timedelta64(3600, "s")


def winter_time(time) -> np.ndarray:
    """A clock that stays on winter time all the year."""
    return time + np.timedelta64(3600, "s")


def iso(time) -> list[str]:
    """2026-10-26T06:15:00"""
    return np.datetime_as_string(time, unit="s").tolist()


def figure(values, decimals: int, missing: str = "", comma: bool = False) -> list[str]:
    """Numbers as a logger prints them."""
    out = [missing if v != v else f"{v:.{decimals}f}" for v in values.tolist()]
    return [text.replace(".", ",") for text in out] if comma else out


def dew_point(part: Record, decimals: int, comma: bool = False) -> list[str]:
    """The dew point as the logger works it out from its own readings."""
    return figure(dew_point_c(part.temp_c[0], part.rh_percent[0]), decimals, comma=comma)


def air_in_commas(part: Record) -> tuple[list[str], list[str]]:
    """Temperature and humidity of the one probe, one decimal, decimal commas."""
    return figure(part.temp_c[0], 1, comma=True), figure(part.rh_percent[0], 1, comma=True)


def dotted(stamp: str) -> str:
    """26.10.2026"""
    return f"{stamp[8:10]}.{stamp[5:7]}.{stamp[:4]}"


def american(stamp: str) -> str:
    """10/26/2026 06:15:00 AM"""
    hour = int(stamp[11:13])
    return f"{stamp[5:7]}/{stamp[8:10]}/{stamp[:4]} {hour % 12 or 12:02d}{stamp[13:]} {'AM' if hour < 12 else 'PM'}"


def studio(part: Record, until, ended: bool) -> bytes:
    """UTF-8 with a mark, semicolons, decimal commas, a preamble, a row number, a dew point; wall clock."""
    stamp = iso(on_the_wall(part.time))
    read_out = iso(on_the_wall(np.array([until])))[0]
    head = [
        "Klimalogger TH-20417;;;;", "Bezeichnung;Atelier, Staffelei;;;", "Seriennummer;TH-20417;;;",
        f"Ausgelesen;{dotted(read_out)} {read_out[11:16]};;;", "Intervall;15 min;;;", ";;;;",
        "Nr.;Datum/Uhrzeit;Temperatur [°C];rel. Feuchte [%];Taupunkt [°C]",
    ]  # fmt: skip
    columns = (
        figure(part.temp_c[0], 1, comma=True),
        figure(part.rh_percent[0], 1, comma=True),
        dew_point(part, 1, True),
    )
    rows = [
        f"{n};{dotted(s)} {s[11:]};{t};{rh};{dp}"
        for n, (s, t, rh, dp) in enumerate(zip(stamp, *columns, strict=True), 1)
    ]
    return (BOM + "\r\n".join([*head, *rows, ""])).encode("utf-8")


def store_rack(part: Record, until, ended: bool) -> bytes:
    """Commas, ISO stamps on winter time (the header says so), two decimals; the header again after a restart."""
    head = "clock UTC+1,air °C [S/N: 331887],air % RH [S/N: 331887],cell V"
    gap = np.append(False, np.diff(part.time) > np.timedelta64(1, "D"))
    volt = 3.61 - 0.4 * ((part.time - np.datetime64("2025-09-01")) / np.timedelta64(500, "D"))
    columns = (figure(part.temp_c[0], 2), figure(part.rh_percent[0], 2), figure(volt, 2))
    rows = ["Regal im Depot", head]
    for restarted, s, t, rh, v in zip(gap.tolist(), iso(winter_time(part.time)), *columns, strict=True):
        if restarted:
            rows.append(head)
        rows.append(f"{s[:10]} {s[11:]},{t},{rh},{v}")
    return "\n".join([*rows, ""]).encode("utf-8")


def store_wall(part: Record, until, ended: bool) -> bytes:
    """UTF-16, tabs, decimal commas; wall clock."""
    head = ["Gerät:\tDL7-00934", "Ort:\tDepot, Nordwand", "", "Zeit\tTemperatur (°C)\tLuftfeuchte (%)"]
    columns = air_in_commas(part)
    rows = [
        f"{dotted(s)} {s[11:16]}\t{t}\t{rh}" for s, t, rh in zip(iso(on_the_wall(part.time)), *columns, strict=True)
    ]
    return (BOM + "\r\n".join([*head, *rows, ""])).encode("utf-16-le")


def loft(part: Record, until, ended: bool) -> bytes:
    """Western single-byte letters, date and time apart, two-digit years, a semicolon too many, a summary below."""
    head = [
        "Messstelle: Trockenboden, Gerät Nr. 5518-B", "Zeitbasis: MEZ (UTC+1), keine Sommerzeit", "",
        "Datum;Uhrzeit;Temp. [°C];rF [%];Taupunkt [°C];",
    ]  # fmt: skip
    columns = (
        figure(part.temp_c[0], 1, comma=True),
        figure(part.rh_percent[0], 1, comma=True),
        dew_point(part, 1, True),
    )
    rows = [
        f"{s[8:10]}.{s[5:7]}.{s[2:4]};{s[11:16]};{t};{rh};{dp};"
        for s, t, rh, dp in zip(iso(winter_time(part.time)), *columns, strict=True)
    ]
    means = (figure(np.array([v.mean()]), 1, comma=True)[0] for v in (part.temp_c[0], part.rh_percent[0]))
    below = ["", "Ende der Messreihe;;;;;", "Mittelwert;;" + ";".join(means) + ";;"]
    return "\r\n".join([*head, *rows, *below, ""]).encode("cp1252")


def crate(part: Record, until, ended: bool) -> bytes:
    """°F, month first, AM and PM, an event column; UTC, which the preamble says."""
    head = [
        "Device,CT-0092,,", "Site,Travelling crate,,", f"Read out,{american(iso(np.array([until]))[0])},,",
        "Clock,UTC,,", ",,,", "Date/Time,Temp (F),RH (%),Event",
    ]  # fmt: skip
    stamp = [american(s) for s in iso(part.time)]
    columns = (figure(part.temp_c[0] * 1.8 + 32, 1), figure(part.rh_percent[0], 1))
    event = [""] * len(stamp)
    event[-3:-1] = ["battery low"] * 2 if ended else ["", ""]
    rows = [f"{s},{t},{rh},{e}" for s, t, rh, e in zip(stamp, *columns, event, strict=True)]
    below = [f"{american(iso(part.time[-1:] + np.timedelta64(60, 's'))[0])},,,stopped: battery"] if ended else []
    return "\r\n".join([*head, *rows, *below, ""]).encode("ascii")


def house_probes(part: Record, until, ended: bool) -> bytes:
    """Two probes side by side, ISO stamps with their offset, comma and space, dashes where a probe was unplugged."""
    head = [
        "House monitor HM-7741 (two probes)",
        "timestamp, radiator temp (°C), radiator humidity (%), outer wall temp (°C), outer wall humidity (%)",
    ]
    offset = [f"+{h:02d}:00" for h in local_offset_h(part.time).tolist()]
    columns = [
        figure(values, decimals, "---")
        for temp_c, rh in zip(part.temp_c, part.rh_percent, strict=True)
        for values, decimals in ((temp_c, 2), (rh, 1))
    ]
    rows = [
        ", ".join([s + o, *cells]) for s, o, *cells in zip(iso(on_the_wall(part.time)), offset, *columns, strict=True)
    ]
    return "\n".join([*head, *rows, ""]).encode("utf-8")


def house_inner(part: Record, until, ended: bool) -> bytes:
    """Units in every cell, day first with slashes, no word of which logger it is; wall clock."""
    columns = (figure(part.temp_c[0], 1), figure(part.rh_percent[0], 1))
    rows = [
        f"{s[8:10]}/{s[5:7]}/{s[:4]} {s[11:16]};{t} °C;{rh} %"
        for s, t, rh in zip(iso(on_the_wall(part.time)), *columns, strict=True)
    ]
    return "\r\n".join(["Zeitpunkt;Temperatur;Feuchte", *rows, ""]).encode("utf-8")


def outdoors(part: Record, until, ended: bool) -> bytes:
    """Milliseconds since 1970, newest first, no name inside, no end of line after the last row."""
    milliseconds = (part.time.astype("int64") * 1000).tolist()
    columns = (figure(part.temp_c[0], 2), figure(part.rh_percent[0], 1), dew_point(part, 2))
    rows = [f"{ms},{t},{rh},{dp}" for ms, t, rh, dp in zip(milliseconds, *columns, strict=True)]
    return "\n".join(["epoch_ms,temp_c,rh_pct,dewpoint_c", *reversed(rows)]).encode("ascii")


def office(part: Record, until, ended: bool) -> bytes:
    """Everything in quotes, commas between and within, year first with slashes; wall clock."""
    head = ['"Serial no.","BK-3306",""', '"Location","Kontor",""', '"Date","Temperature °C","Humidity %"']
    columns = air_in_commas(part)
    rows = [
        f'"{s[:10].replace("-", "/")} {s[11:16]}","{t}","{rh}"'
        for s, t, rh in zip(iso(on_the_wall(part.time)), *columns, strict=True)
    ]
    return "\r\n".join([*head, *rows, ""]).encode("utf-8")


def chamber(part: Record, until, ended: bool) -> bytes:
    """Tabs, humidity before temperature, a row of units, and lines that end in a bare carriage return; wall clock."""
    head = ["KB-7 Klimakammer", "no.\ttime\thumidity\ttemperature", "\t\t%RH\t°C"]
    columns = (figure(part.rh_percent[0], 1), figure(part.temp_c[0], 1))
    stamp = iso(on_the_wall(part.time))
    rows = [
        f"{n}\t{s.replace('T', ' ')}\t{rh}\t{t}" for n, (s, rh, t) in enumerate(zip(stamp, *columns, strict=True), 1)
    ]
    return "\r".join([*head, *rows, ""]).encode("utf-8")
