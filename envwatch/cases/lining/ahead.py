"""The days ahead of a lining: a forecast of its room against the working range and the first weeks of the adhesive."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import astuple, dataclass

from envwatch.cases.lining.checks import NO, NOT_KNOWN, WITH_CARE, YES, Check
from envwatch.cases.lining.working import WorkingRange, beyond_no, beyond_yes, humidity, temperature
from envwatch.core.errors import BadInput
from envwatch.figures.materials import Profile

FIELDS = ("warmest", "coldest", "dampest", "driest")
INPUTS = ("forecast_max", "forecast_min", "forecast_rh_max", "forecast_rh_min")
NO_FORECAST = "no forecast was given, and the days ahead are not judged"


@dataclass(frozen=True)
class Forecast:
    """What the days ahead will bring in the room in which it dries; None: not given. [°C], [% RH]"""

    highest_c: float | None = None
    lowest_c: float | None = None
    dampest_percent: float | None = None
    driest_percent: float | None = None

    @property
    def missing(self) -> tuple[str, ...]:
        """What of it was not given, in words."""
        return tuple(word for word, value in zip(FIELDS, astuple(self), strict=True) if value is None)

    def __post_init__(self) -> None:
        """BadInput: a figure that cannot be, or a lowest over its highest."""
        for name, field, value in zip(FIELDS, INPUTS, astuple(self), strict=True):
            unit, low, high = ("°C", -60, 60) if name in FIELDS[:2] else ("% RH", 0, 100)
            if value is not None and not low <= value <= high:
                what = f"{value:g} {unit} cannot be; give a figure from {low} to {high}"
                raise BadInput(what, field=field, place=f"forecast, {name}")
        for field, high, low in (("forecast_min", self.highest_c, self.lowest_c),
                                 ("forecast_rh_min", self.dampest_percent, self.driest_percent)):  # fmt: skip
            if high is not None and low is not None and low > high:
                raise BadInput(f"the lowest, {low:g}, is over the highest, {high:g}", field=field, place="forecast")


def days_ahead(p: Profile, forecast: Forecast, film_forming_c: float | None) -> Check:
    """The days ahead for one adhesive; what is not given is never yes where the air must stay as it is for a while."""
    what, w = "days ahead", p.working
    passed = list(_first_weeks(p, forecast))
    if w is None:
        return Check(what, NO if passed else NOT_KNOWN, "; ".join(passed) or "No working range for it is known.")
    bands = (temperature(p, film_forming_c), forecast.lowest_c, forecast.highest_c), (
        humidity(p), forecast.driest_percent, forecast.dampest_percent)  # fmt: skip
    drying = bands if w.hold_h else ()
    passed += [told for band, low, high in drying if band for told in beyond_no(band, low, high)]
    need = _need(p)
    if passed:
        return Check(what, NO, f"{need}; {'; '.join(passed)}.")
    open_ = [told for band, low, high in drying if band for told in _open(band, low, high, p)]
    if w.hold_h and forecast.missing:
        open_.append(f"not known, no forecast given: {', '.join(forecast.missing)}; hold the room there and read it")
    if open_:
        return Check(what, WITH_CARE, f"{need}; {'; '.join(open_)}.")
    given = "within the limits of its first weeks, as far as given"
    told = "within its range" if w.hold_h else NO_FORECAST if len(forecast.missing) == len(FIELDS) else given
    return Check(what, YES, f"{need}; {told}.")


def _open(band: WorkingRange, low: float | None, high: float | None, p: Profile) -> Iterator[str]:
    return (f"{band.words}: {told}" for told in beyond_yes(band, low, high, str(p.first_weeks.watched)))


def _need(p: Profile) -> str:
    """For how long the air must stay so, in words."""
    assert p.working is not None
    hours, first, moved = p.working.hold_h, p.first_weeks, p.first_weeks.after_move_days
    if not hours:
        tail = f"; look for {first.watched} for {moved:g} days after a move" if moved else ""
        how = f" ({hours.note})" if hours.note else ""
        return f"Nothing to dry{how}; its first weeks are {first.days:g} days{tail}"
    long = f"{hours:g} h" if hours < 72 else f"{hours / 24:g} days"
    why = f"{hours.note}; " if hours.note else ""
    return (
        f"The room under {first.damp_watch_percent:g} % RH and within its range for {long} "
        f"({why}{hours.confidence.value})"
    )


def _first_weeks(p: Profile, forecast: Forecast) -> Iterator[str]:
    """Which limits of the first weeks a forecast passes, in words."""
    first = p.first_weeks
    heat = float(p.heat_hour_c.watch) - float(first.cooler_c)
    for value, limit, sign, what, unit in (
        (forecast.highest_c, heat, 1, "watched from", "°C"),
        (forecast.lowest_c, float(p.cold_c.watch), -1, "watched below", "°C"),
        (forecast.dampest_percent, float(first.damp_watch_percent), 1, "watched from", "% RH"),
        (forecast.driest_percent, float(p.dry_percent.watch), -1, "watched below", "% RH"),
    ):
        if value is not None and sign * value >= sign * limit:
            yield f"{value:g} {unit}, {what} {limit:g} {unit} in its first weeks"


__all__ = ["Forecast", "days_ahead"]
