"""The page *Drying the room*: one page for whoever pays, an appendix for whoever asks, and the safety page."""

from __future__ import annotations

import math
import re

import numpy as np

from envwatch.cases.dehumidifier import DehumidifierCase, Outcome
from envwatch.cases.dehumidifier.model import Picture
from envwatch.cases.dehumidifier.recommend import DAMP
from envwatch.cases.dehumidifier.safety import FIRST, SAFETY
from envwatch.figures import SOURCES
from envwatch.figures import dehumidifier as fig
from envwatch.present.palette import LIGHT
from envwatch.present.paper import page as setting
from envwatch.present.paper.wording import date, number, ours, stamp

INK = LIGHT["ink"]
WIDTH, HEIGHT = 520.0, 150.0
OPTION = re.compile(r" \(--[^)]*\)")  # whoever pays types no commands
CITED = ("winkler-2011", "doe-2016", "drying-trade", "gel-1992", "michalski-2002", "ashrae-fundamentals-2017")

LAYOUT = setting.layout("dehumidifier")


def page(case: DehumidifierCase, paper: str = "a4") -> bytes:
    """The printed case as a PDF; the same case gives the same bytes.

    Raises
    ------
    BadInput : another paper than "a4" or "letter".
    """
    return setting.printed(content(case), LAYOUT, paper, case.made_at)


def content(case: DehumidifierCase) -> dict:
    """All that stands on the page, as plain strings."""
    chosen = recommended(case)
    return {
        "title": "Drying the room", "place": case.place.name,
        "span": f"{date(case.start, case.zone)} to {date(case.end, case.zone)}",
        "sentence": case.advice.sentence, "picture": picture(case.picture, case.zone),
        "how_to_read": (
            "How to read it: mean humidity of each day. Thin: what the logger read. Broken: the same room as "
            f"reckoned. Heavy: with "
            f"{chosen.name if chosen is not case.nothing else 'nothing done'}, in the middle one of "
            f"{case.draws} plausible rooms. Dotted: {DAMP}."
        ),
        "facts": _facts(case, chosen), "table_note": _table_note(case), "heads": HEADS,
        "rows": [_row(number_, one, case) for number_, one in enumerate(case.outcomes, 1)],
        "parts": _parts(case), "safety_first": FIRST,
        "safety": [{"title": title, "items": list(items)} for title, items in SAFETY],
        "adoption": case.adoption,
        "foot": (
            f"{case.studio}, {case.place.name}. Printed {stamp(case.made_at, case.zone)} "
            f"{case.made_at.tz_convert(case.zone).year}. An assessment from readings, not a warranty."
        ),
    }  # fmt: skip


def recommended(case: DehumidifierCase) -> Outcome:
    """The alternative that the sentence names."""
    return next((one for one in case.outcomes if one.name == case.advice.name), case.nothing)


# ----------------------------------------------------------------------------------------------------- first page


def _facts(case: DehumidifierCase, chosen: Outcome) -> list[dict]:
    facts = [("Before and after", _before_after(case, chosen))]
    if chosen.litres[1] > 0:
        facts.append(("Size, by its label", [chosen.name[0].upper() + chosen.name[1:] + ". " + _other_labels(case)]))
    if chosen.kwh[1] > 0:
        facts.append(("Running it", [_running(case, chosen)]))
        facts.append(("Who empties it", [_emptying(chosen)]))
    if chosen is not case.nothing and chosen.new:
        facts.append(("What it brings", [_brought(chosen)]))
    facts.append(("What it will not fix", list(case.advice.will_not_fix)))
    facts.append(("What to measure first", list(case.advice.measure_first)))
    if case.questions:
        facts.append(("Still asked", list(case.questions)))
    return [{"label": label, "items": [OPTION.sub("", item) for item in items]} for label, items in facts]


def _before_after(case: DehumidifierCase, chosen: Outcome) -> list[str]:
    before = case.nothing
    if chosen is before:
        return [f"{before.damp_h[1]:,.0f} h over {DAMP} as it is"]
    left = f"{chosen.damp_h[1]:,.0f} h"
    left += "" if chosen.measured else f" (no more than {chosen.damp_h[2]:,.0f} h in nine plausible rooms of ten)"
    cleared = sum(change.state == "cleared" for change in chosen.changes)
    stays = sum(change.state in ("stays", "eased") for change in chosen.changes)
    return [
        f"Over {DAMP}: {before.damp_h[1]:,.0f} h as it is, {left} after. Dampest 30 days: "
        f"{number(before.month_percent[1])} % as it is, {number(chosen.month_percent[1])} % after.",
        f"Of what the paintings are flagged for, {cleared} would be cleared and {stays} would stay, some of it milder.",
    ]


def _other_labels(case: DehumidifierCase) -> str:
    return (
        "The same litres mean less where a label is rated in warmer or damper air: compare labels at one rating point "
        f"only (appendix). It must draw about {case.load.litres_day[1]:.1f} L/day in the dampest "
        f"{case.load.window_days} days."
    )


def _running(case: DehumidifierCase, chosen: Outcome) -> str:
    days = (case.end - case.start).days
    told = (
        f"About {chosen.kwh[1]:,.0f} kWh in these {days} days ({chosen.kwh[0]:,.0f} to "
        f"{chosen.kwh[2]:,.0f}), running for "
        f"{chosen.running_h[1]:,.0f} h; it warms the room by {chosen.warmer_k:.1f} °C on the mean."
    )
    money = case.money
    if chosen.cost_year is not None:
        what = "current alone" if money.service_year is None else "current and service"
        told += f" {what[0].upper()}{what[1:]} come to {chosen.cost_year:,.0f} {money.currency}".rstrip()
        told += f" a year at {money.tariff_kwh:g} a kWh."
    if chosen.cost_life is not None:
        told += f" With the price of {chosen.price:,.0f}, {chosen.cost_life:,.0f} {money.currency}".rstrip()
        told += f" over {money.life_years:g} years."
    if money.retreatment_hours is not None:
        told += f" One re-treatment is {money.retreatment_hours:g} h of work, by your own figure."
    return told


def _emptying(chosen: Outcome) -> str:
    if chosen.visits[1]:
        return (
            f"{chosen.visits[1]:.0f} emptyings; between them the tank stood full for "
            f"{chosen.full_h[1]:.0f} damp hours, in "
            "which nothing is dried."
        )
    if chosen.litres[1] <= 0:
        return "There is no tank."
    return (
        f"About {chosen.litres[1]:,.0f} L in all, taken to run off through a hose. With a tank "
        f"of 2 L somebody must come "
        f"about {chosen.litres[1] / 2:,.0f} times; name its size and the days (⟦tank⟧, ⟦visits⟧)."
    )


def _brought(chosen: Outcome) -> str:
    told = {f"{change.mechanism} ({change.layer})" for change in chosen.new}
    where = "there, by its own log" if chosen.measured else "with it, in some of the plausible rooms"
    return f"To be watched {where}: {'; '.join(sorted(told))}."


def picture(drawn: Picture, zone: str) -> dict:
    """Before and after by days, told by stroke; made from numbers alone."""
    series = (drawn.log_percent, drawn.before_percent, drawn.after_percent)
    known = np.concatenate([s[np.isfinite(s)] for s in series])
    low = float(np.floor(min(known.min(), fig.DAMP_LINE) / 5) * 5) if len(known) else 30.0
    high = float(np.ceil(max(known.max(), fig.DAMP_LINE) / 5) * 5) if len(known) else 80.0
    strokes = ('stroke-width="0.9"', 'stroke-width="1.3" stroke-dasharray="6 3"', 'stroke-width="2.6"')
    lines = [_path(s, low, high, style) for s, style in zip(series, strokes, strict=True)]
    y = _level(float(fig.DAMP_LINE), low, high)
    lines.append(f'<path d="M0 {y:.1f}H{WIDTH:g}" stroke="{INK}" stroke-width="0.9" stroke-dasharray="1 3"/>')
    local = drawn.day.tz_convert(zone)
    firsts = [i for i in range(len(local)) if i == 0 or local[i].month != local[i - 1].month]
    firsts = firsts if len(firsts) <= 13 else firsts[:: len(firsts) // 12 + 1]
    return {
        "svg": f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH:g} {HEIGHT:g}" fill="none" '
               f'stroke-linejoin="round">{"".join(lines)}</svg>',
        "low": f"{low:.0f}", "high": f"{high:.0f}", "months": [f"{local[i]:%b}" for i in firsts],
        "alt": "daily mean humidity as read, as reckoned, and after what is recommended",
    }  # fmt: skip


def _level(value: float, low: float, high: float) -> float:
    return (high - value) / (high - low) * HEIGHT


def _path(values: np.ndarray, low: float, high: float, style: str) -> str:
    x = np.linspace(0, WIDTH, len(values))
    pen, out = "M", []
    for px, value in zip(x.tolist(), values.tolist(), strict=True):
        if math.isfinite(value):
            out.append(f"{pen}{px:.1f} {_level(value, low, high):.1f}")
        pen = "L" if math.isfinite(value) else "M"
    return f'<path d="{"".join(out)}" stroke="{INK}" {style}/>'


# ------------------------------------------------------------------------------------------------------- appendix

HEADS = [
    "", f"h over {DAMP}", f"h over {fig.VERY_DAMP_LINE:g} %{ours(fig.VERY_DAMP_LINE)}", "30 days, %",
    f"h under {fig.DRY_LINE:g} %{ours(fig.DRY_LINE)}", "litres", "kWh", "flags",
]  # fmt: skip


def _table_note(case: DehumidifierCase) -> str:
    return (
        f"All through the same weather and the same {case.draws} plausible rooms. The middle "
        f"room; in brackets what nine "
        f"rooms of ten stay at or under. Flags against doing nothing, judged as treated on "
        f"{date(case.treated_on, case.zone)}, on the whole room at the middle of the damp hours."
    )


def _row(number_: int, one: Outcome, case: DehumidifierCase) -> list[str]:
    def two(three) -> str:
        return f"{three[1]:,.0f}" if one.measured else f"{three[1]:,.0f} ({three[2]:,.0f})"

    counts = {s: sum(c.state == s for c in one.changes) for s in ("cleared", "eased", "stays", "worse", "new")}
    flags = ", ".join(f"{count} {state}" for state, count in counts.items() if count)
    month = number(one.month_percent[1])
    return [
        f"{number_}. {one.name}" + (" (its own log)" if one.measured else ""), two(one.damp_h), two(one.very_damp_h),
        month if one.measured else f"{month} ({number(one.month_percent[2])})", two(one.dry_h),
        two(one.litres) if one.litres[1] else "–", two(one.kwh) if one.kwh[1] else "–",
        "" if number_ == 1 else flags or "none",
    ]  # fmt: skip


def _parts(case: DehumidifierCase) -> list[dict]:
    labels = [
        f"{label.kind}, rated at {label.at}: {_litres(label.litres_day)} in the middle room, "
        f"{_litres(label.litres_day_nine_in_ten)} in nine of ten"
        for label in case.load.labels
    ]
    parts = [
        ("The room, and how well it is known", _known(case), list(case.fitted.open)),
        (
            f"Labels that would hold {case.set_percent:g} % in the dampest {case.load.window_days} days",
            [f"To be drawn off: {case.load.litres_day[1]:.1f} L/day; "
             f"{case.load.from_the_room:.0%} of it is given off in "
             "the room itself, the rest comes in with the air."], labels,
        ),
        ("What matters most", [], _causes(case)),
        ("The paintings", [], [f"{title} [{id}], {position}" for id, title, position in case.paintings]),
        ("Flags that would be new, or worse", [], _new(case)),
        ("Assumed", [], list(case.assumptions)),
        ("Not tried", [], list(case.not_tried)),
        ("Sources", ["Limits on the paintings and their sources stand in the review's findings."],
         [SOURCES[key] for key in CITED]),
    ]  # fmt: skip
    return [
        {"title": title, "lines": lines, "items": [OPTION.sub("", item) for item in items]}
        for title, lines, items in parts if lines or items
    ]  # fmt: skip


def _litres(value: float) -> str:
    if not math.isfinite(value):
        return "none is large enough"
    return f"{value:.0f} L/day" if value >= 1 else "under 1 L/day"


def _known(case: DehumidifierCase) -> list[str]:
    fitted = case.fitted
    lines = [f"{fitted.how[0].upper()}{fitted.how[1:]}; {fitted.sized}. Outdoors: {case.outdoors}."]
    if fitted.rate_h is not None:
        low, best, high = fitted.rate_h
        lines.append(
            f"Air change over buffering {best:.4g} /h (80 % between {low:.4g} and {high:.4g}): "
            f"half of a change outdoors is "
            f"followed in {math.log(2) / best / 24:.1f} days."
        )
    low, best, high = fitted.excess_g_m3
    lines.append(f"Source over air change {best:.2f} g/m³ (80 % between {low:.2f} "
                 f"and {high:.2f}, the loggers' own errors "
                 "within it).")  # fmt: skip
    if not math.isnan(fitted.held_out_rms):
        lines.append(
            f"Tried on {fitted.held_out_days:.0f} days that the fit had not seen: off by "
            f"{fitted.held_out_rms:.1f} % RH "
            f"(root mean square), {fitted.held_out_bias:+.1f} % on the whole."
        )
    lines.append(
        f"The log itself has {case.log_damp_h:,} h over {DAMP}; the room as reckoned "
        f"{case.nothing.damp_h[0]:,.0f} to {case.nothing.damp_h[2]:,.0f} h (10th to 90th percentile). Hours not known "
        f"and not counted: {case.not_known_h}."
    )
    return lines


def _causes(case: DehumidifierCase) -> list[str]:
    return [
        f"{cause.name}: {cause.of} {cause.at_low:,.0f} in the fifth of the rooms where it is lowest, "
        f"{cause.at_high:,.0f} where it is highest"
        for cause in case.causes[:5]
    ]


def _new(case: DehumidifierCase) -> list[str]:
    out = []
    for one in case.outcomes[1:]:
        told: dict[str, list[str]] = {}
        for change in one.new:
            told.setdefault(f"{change.mechanism} ({change.after.word})", []).append(change.painting_id)
        if told:
            out.append(f"{one.name}: " + "; ".join(f"{what}: {', '.join(ids)}" for what, ids in told.items()))
    return out
