"""Reading the air outdoors from a file: a station's or logger's file, a typical year (EPW, TMY), twelve months."""

from __future__ import annotations

import csv
from pathlib import Path

from envwatch.core.errors import BadInput, Question

MISSING_DEGREES = 99  # EPW writes 99.9 where a temperature is missing


def read(path: Path, zone: str | None, now, start: str | None = None):
    """Whatever the file holds, as `Outdoors`."""
    if not path.is_file():
        raise BadInput("no such file. Give a file, or none for bounds only", field="outdoors", seen=path)
    suffix = path.suffix.lower()
    if suffix == ".epw":
        return _typical(path, "read_epw", "temp_air", "temp_dew")
    if suffix == ".tm2":
        return _typical(path, "read_tmy2", "DryBulb", "DewPoint", 0.1)  # tenths of a degree
    head = path.read_bytes()[:4000].decode("utf-8", errors="replace")
    if "Dry-bulb" in head:
        return _typical(path, "read_tmy3", "temp_air", "temp_dew", map_variables=True)
    if head.lstrip("\ufeff").lower().startswith("month"):
        return _monthly(path)
    return _station(path, zone, now, start)


def _typical(path: Path, kind: str, temp: str, dew: str, scale: float = 1.0, **more):
    """A typical year in one of pvlib's kinds of file. temp, dew : its columns. scale : °C for one of their units."""
    import numpy as np
    import pandas as pd

    from envwatch.climate.outdoors import typical_year

    try:
        from pvlib import iotools
    except ModuleNotFoundError:
        raise BadInput("reading typical years (EPW, TMY) needs pvlib: pip install 'envwatch[weather]'") from None
    try:
        frame, _ = getattr(iotools, kind)(str(path), **more)
        temp_c, dew_c = (frame[name].to_numpy(float) * scale for name in (temp, dew))
        missing = (np.abs(temp_c) >= MISSING_DEGREES) | (np.abs(dew_c) >= MISSING_DEGREES)
        index = pd.DatetimeIndex(frame.index)
        time = index.tz_convert("UTC") if index.tz is not None else index.tz_localize("UTC")
        temp_c, dew_c = (np.where(missing, np.nan, values) for values in (temp_c, dew_c))
        note = f", {int(missing.sum())} hours missing in it" if missing.any() else ""
        return typical_year(time, temp_c, dew_c, f"{path.name}{note}")
    except (KeyError, ValueError, IndexError) as error:
        raise BadInput(
            f"cannot be read as a typical year ({type(error).__name__}). Give the file as it came", place=path.name
        ) from None


def _monthly(path: Path):
    """Columns month, temp_c, rh_percent; twelve rows."""
    from envwatch.climate.outdoors import monthly

    rows = cell_rows(path)
    try:
        ordered = sorted(rows, key=lambda row: int(row["month"]))
        if [int(row["month"]) for row in ordered] != list(range(1, 13)):
            raise BadInput("give the months 1 to 12, one row each", place=path.name)
        return monthly(
            [float(row["temp_c"]) for row in ordered], [float(row["rh_percent"]) for row in ordered], path.name
        )
    except (KeyError, TypeError, ValueError):
        raise BadInput(
            "expected the columns month, temp_c, rh_percent with a number in each", place=path.name
        ) from None


def cell_rows(path: Path) -> list[dict[str, str]]:
    """The rows of a CSV file under its header."""
    try:
        with path.open(encoding="utf-8-sig", newline="") as file:
            return list(csv.DictReader(file))
    except (UnicodeDecodeError, csv.Error):
        raise BadInput("is not a CSV file in UTF-8. Save it again as CSV UTF-8", place=path.name) from None


def _station(path: Path, zone: str | None, now, start: str | None):
    """A dated file of any logger layout."""
    import numpy as np
    import pandas as pd

    from envwatch import logs
    from envwatch.climate.outdoors import from_climate
    from envwatch.climate.series import Climate

    try:
        found = logs.read(path, logs.Answers(zone=zone, start=start), now=now, need_rh=True)
    except Question as question:
        own = f"outdoors_{question.field}" if question.field in ("zone", "start") else question.field
        raise Question(question.todo, own, question.choices, place=question.place) from None
    probe = next((probe for probe in found.channels if np.isfinite(probe.rh_percent).any()), None)
    if probe is None:
        raise BadInput("holds no humidity; give a record with temperature and humidity", place=path.name)
    time, first = np.unique(probe.time, return_index=True)
    air = Climate.of(pd.DatetimeIndex(time.view("M8[us]"), tz="UTC"), probe.temp_c[first], probe.rh_percent[first])
    return from_climate(air, f"the file {path.name}")
