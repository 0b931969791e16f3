"""What is said in °C and by the 24-hour clock, said in °F or by the 12-hour clock: the one place where that is done.

Everything is reckoned, kept and printed in °C and with 24 hours. A page that is to show it otherwise retells its
finished words, tables and charts here, and takes what was typed back here, so that nothing that is stored changes.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass

N = r"[−-]?\d+(?:\.\d+)?"
JOIN = r"(?: to (?:under )?|–| or | and (?:outdoors )?| against )"
UNIT = r"\s?°C(?![\w²/·])"
# Two readings apart, not a reading: said with one of these before or after. Each shape stands in a table of the tests.
BEFORE = r"(?:± ?|\+|[+−]\d+ % RH, |\bcorrection of |\bby (?:up to |about |at least )?)"
AFTER = (
    r"(?=\s(?:below|above|under|warmer|colder|cooler|hotter|more\b|less\b|higher|lower|apart|up\b|off\b|a day\b|"
    r"within |over (?:one|\d+) days?|over the (?:dew|onset|soft|limit|room)|"
    r"(?:and|to) [^.;,\d°]*" + N + r" °C (?:warmer|colder|cooler|hotter)))"
)
# Figures behind a quantity that leave out its unit.
BESIDE = (
    rf"(?:(?:, | \()limit {N}(?!\.?\d| ?[°K%])|, expected at most {N}|(?<=°C) over its last \d+ h \({N} to {N}\)|"
    rf" cannot be; give a figure from {N} to {N}| between {N} indoors and {N} outdoors)"
)
QUANTITY = re.compile(
    rf"(?P<before>{BEFORE})?(?<![\w:.,])(?P<figures>{N}(?:{JOIN}{N})*)(?P<u> ± {N})?(?P<unit>{UNIT})(?P<after>{AFTER})?"
    rf"(?P<beside>{BESIDE})?"
)
OPEN = re.compile(
    rf"(?P<limit>\blimit {N} (?:°C|(?P<apart>K))[^;]*;(?: \d+ h;)? )(?P<figures>{N} to {N})(?= by what was not read)"
)
FIRST = re.compile(rf"(?:(?<=; °C )|(?<=°C from )|(?<=°C, from )){N} to {N}(?![\d.]| ?°C)")
KELVIN = re.compile(rf"(?<![\w.])(?P<figures>{N}(?: to {N})?)(?P<u> ± {N})? K(?![\w²/·)])")
CLOCK = re.compile(r"(?<![\d:.T+])([01]?\d|2[0-3]):([0-5]\d)(?!:?\d)")
TWELVE = re.compile(r"(?<![\d:])(1[0-2]|0?[1-9]):([0-5]\d)\s?([ap])\.?m\.?", re.IGNORECASE)
BARE = re.compile(rf"{N}(?:{JOIN}{N})*(?: ± {N})?")


def fahrenheit(temp_c: float) -> float:
    """A temperature in °F.

    >>> fahrenheit(100.0), fahrenheit(-40.0)
    (212.0, -40.0)
    """
    return temp_c * 9 / 5 + 32


def celsius(temp_f: float) -> float:
    """A temperature in °C, to the ten-thousandth, so that what came from a figure of °C is that figure again.

    >>> celsius(212.0), celsius(fahrenheit(21.37))
    (100.0, 21.37)
    """
    return round((temp_f - 32) * 5 / 9, 4)


@dataclass(frozen=True)
class DisplayUnits:
    """How a person wants figures shown: `unit` "C" or "F", `hours` 24 or 12."""

    unit: str = "C"
    hours: int = 24

    @classmethod
    def of(cls, text: str) -> DisplayUnits:
        """Out of a short text such as "F-12"; whatever is not understood is as kept: °C, 24 hours."""
        unit, _, hours = text.partition("-")
        return cls("F" if unit == "F" else "C", 12 if hours == "12" else 24)

    def __str__(self) -> str:
        return f"{self.unit}-{self.hours}"

    @property
    def as_kept(self) -> bool:
        """Whether nothing has to be retold."""
        return self == DisplayUnits()

    def words(self, text: str) -> str:
        """A sentence, label or cell retold.

        A difference is told apart from a temperature by the words about it.

        >>> DisplayUnits("F", 12).words("It was 30.0 ± 0.5 °C at 14:30, 15 °C below softening.")
        'It was 86.0 ± 0.9 °F at 2:30 pm, 27 °F below softening.'
        >>> DisplayUnits("F").words("18 to 21.5 °C; at least 2 K over the dew point")
        '64 to 70.7 °F; at least 3.6 °F over the dew point'
        """
        if self.unit == "F":
            text = OPEN.sub(lambda m: m["limit"] + _each(m["figures"], _wider if m["apart"] else _same), text)
            text = FIRST.sub(lambda m: _each(m[0], _same), text)
            text = KELVIN.sub(lambda m: f"{_each(m['figures'], _wider)}{_each(m['u'] or '', _wider)} °F", text)
            text = QUANTITY.sub(_quantity, text)
            text = text.replace("°C", "°F")
        return CLOCK.sub(_twelve, text) if self.hours == 12 else text

    def bare(self, text: str, difference: bool = False) -> str:
        """Figures whose unit stands elsewhere, as in a table's column; other words stay.

        >>> DisplayUnits("F").bare("18 to 21"), DisplayUnits("F").bare("not known")
        ('64 to 70', 'not known')
        """
        if self.unit == "C" or not BARE.fullmatch(text.strip()):
            return text
        return _each(text, _wider) if difference else _with_spread(text)

    def figure(self, temp_c: float | None) -> float | None:
        """A point of a chart; None stays None."""
        return temp_c if temp_c is None or self.unit == "C" else round(fahrenheit(temp_c), 2)

    def filled(self, text: str, is_temp: bool) -> str:
        """What stands in a field, as this person would type it: `kept` gives it back exactly.

        >>> shown = DisplayUnits("F", 12)
        >>> shown.filled("21.37", True), shown.kept(shown.filled("21.37", True), True)
        ('70.466', '21.37')
        """
        if is_temp and self.unit == "F":
            text = (
                re.sub(N, lambda m: f"{round(fahrenheit(_float(m[0])), 6):.10g}", text) if _only_figures(text) else text
            )
        return CLOCK.sub(_twelve, text) if self.hours == 12 else text

    def kept(self, text: str, is_temp: bool) -> str:
        """What was typed, as it is kept: figures of a field for a temperature in °C, times with 24 hours.

        A figure with its own unit, such as "60 F", is left for who reads it.

        >>> DisplayUnits("F", 12).kept("149", True), DisplayUnits("C", 12).kept("2026-11-02 2:30 pm", False)
        ('65', '2026-11-02 14:30')
        """
        if is_temp and self.unit == "F" and _only_figures(text):
            text = re.sub(N, lambda m: f"{celsius(_float(m[0])):.10g}", text.replace(",", "."))
        return TWELVE.sub(_twenty_four, text) if self.hours == 12 else text


def _float(text: str) -> float:
    return float(text.replace("−", "-").replace(",", "."))


def _only_figures(text: str) -> bool:
    return bool(re.fullmatch(r"\s*[−-]?\d+(?:[.,]\d+)?(?:\s*;\s*[−-]?\d+(?:[.,]\d+)?)*\s*", text))


def _filled(m: re.Match) -> str:
    return f"{round(fahrenheit(_float(m[0])), 6):.10g}"


def _quantity(m: re.Match) -> str:
    retell = _same if m["before"] is None and m["after"] is None else _wider
    beside = re.sub(rf"(?<!\d){N}(?![\d.]| h)", lambda f: _each(f[0], retell), m["beside"] or "")
    unit, off = m["unit"].replace("°C", "°F"), _each(m["u"] or "", _wider)
    return f"{m['before'] or ''}{_each(m['figures'], retell)}{off}{unit}{beside}"


def _with_spread(text: str) -> str:
    figures, sign, spread = text.partition(" ± ")
    return _each(figures, _same) + sign + _each(spread, _wider)


def _each(text: str, retell: Callable[[float, int], str]) -> str:
    return re.sub(N, lambda m: retell(_float(m[0]), len(m[0].partition(".")[2])).replace("-", "−"), text)


def _same(temp_c: float, digits: int) -> str:
    """A temperature, to as many places as it had."""
    told = f"{fahrenheit(temp_c):.{digits}f}"
    return told.removeprefix("-") if float(told) == 0 else told


def _wider(apart: float, digits: int) -> str:
    """How far two temperatures lie apart; a whole figure that would not stay whole gets a place."""
    wide = apart * 9 / 5
    return f"{wide:.{digits}f}" if digits else f"{round(wide, 1):g}"


def _twelve(m: re.Match) -> str:
    hour = int(m[1])
    return f"{(hour + 11) % 12 + 1}:{m[2]} {'am' if hour < 12 else 'pm'}"


def _twenty_four(m: re.Match) -> str:
    return f"{int(m[1]) % 12 + (12 if m[3].lower() == 'p' else 0):02d}:{m[2]}"


__all__ = ["DisplayUnits", "celsius", "fahrenheit"]
