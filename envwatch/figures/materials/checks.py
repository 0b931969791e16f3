"""What a profile may hold, and which profiles are impossible."""

from __future__ import annotations

from collections.abc import Iterator

from envwatch.figures.materials.profile import Limits, Profile, Working
from envwatch.figures.mould import Sensitivity

FAMILIES = (
    "heat-seal (ethylene-vinyl-acetate)", "wax", "paste", "starch", "glue", "acrylic", "polyvinyl acetate", "polyamide",
    "epoxy", "cellulose ether", "cloth", "paint", "ground", "wood", "varnish", "paper", "unknown",
)  # fmt: skip
KINDS = ("adhesive", "support", "paint", "ground", "varnish", "unknown")
DESCRIPTIONS = ("label", "short", "family", "kind", "form", "roles")
CHOICES = {
    "mould_class": tuple(Sensitivity),
    "insect_food": ("yes", "no"),
    "adheres_to_wax": ("yes", "no", "test"),
    "water_borne": ("yes", "no"),
    "stiff": ("yes", "no"),
    "water_softening": ("none", "gelatine", "starch"),
}
WORDS = {
    "mould_class": "class", "insect_food": "yes/no", "adheres_to_wax": "yes/no/test", "water_borne": "yes/no",
    "stiff": "yes/no", "water_softening": "words", "strength": "words", "removal": "words", "ageing": "words",
}  # fmt: skip
NUMBERS = {
    "softening_c": "°C", "activation_low_c": "°C", "activation_high_c": "°C", "transition_c": "°C",
    "peel_low_n_per_m": "N/m", "handling_h": "h", "settled_h": "h",
}  # fmt: skip
LIMITS = {
    "heat_hour_c": "°C", "heat_day_c": "°C", "heat_month_c": "°C", "damp_percent": "% RH", "dry_percent": "% RH",
    "cold_c": "°C", "swing_percent": "% RH",
}  # fmt: skip
STEPS = ("watch", "act", "urgent")
FIRST_WEEKS = {
    "days": "d", "cooler_c": "°C", "damp_watch_percent": "% RH", "swing_watch_percent": "% RH", "watched": "words",
    "after_move_days": "d", "lingers_days": "d",
}  # fmt: skip
MECHANISMS = ("heat", "damp", "dry", "cold", "swing")
WORKING = {
    "yes_low_c": "°C", "yes_high_c": "°C", "yes_low_percent": "% RH", "yes_high_percent": "% RH", "no_under_c": "°C",
    "no_over_c": "°C", "no_under_percent": "% RH", "no_over_percent": "% RH", "canvas_no_under_percent": "% RH",
    "canvas_no_over_percent": "% RH", "film_forming_margin_c": "°C", "hold_h": "h", "attended_h": "h",
}  # fmt: skip
GROUPS = {
    **{name: dict.fromkeys(STEPS, unit) for name, unit in LIMITS.items()},
    "first_weeks": FIRST_WEEKS,
    "working": WORKING,
    "signs": dict.fromkeys(MECHANISMS, "words"),
}
NEEDED_OF_ALL = ("label", "short", "family", "kind", "form", "roles", "mould_class", "insect_food")
NEEDED_OF_ADHESIVES = ("water_softening", "adheres_to_wax", "water_borne", "stiff", "removal",
                       *(group for group in GROUPS if group != "working"))  # fmt: skip


def impossible(profile: Profile) -> str | None:
    """The first thing in a profile that cannot be, in one sentence; None for a possible one."""
    return next(_faults(profile), None)


def _faults(p: Profile) -> Iterator[str]:
    if p.family not in FAMILIES:
        yield f"unknown family ‘{p.family}’; known are {', '.join(FAMILIES)}"
    if p.kind not in KINDS:
        yield f"unknown kind ‘{p.kind}’; known are {', '.join(KINDS)}"
    for name, low, high in (
        ("softening_c is above activation_low_c", p.softening_c, p.activation_low_c),
        ("activation_low_c is above activation_high_c", p.activation_low_c, p.activation_high_c),
        ("handling_h is above settled_h", p.handling_h, p.settled_h),
    ):
        if low is not None and high is not None and low > high:
            yield f"{name} ({low:g} over {high:g} {high.unit})"
    for name, hours in (("handling_h", p.handling_h), ("settled_h", p.settled_h)):
        if hours is not None and hours < 0:
            yield f"{name} is below zero ({hours:g} h)"
    if p.adhesive:
        yield from _limit_faults(p)
    if p.working is not None:
        yield from _working_faults(p.working)


def _working_faults(w: Working) -> Iterator[str]:
    """A "no" lies outside the "yes", each pair is in order, humidity within 0 and 100 %, hours not below zero."""
    for names in (
        ("no_under_c", "yes_low_c", "yes_high_c", "no_over_c"),
        ("no_under_percent", "yes_low_percent", "yes_high_percent", "no_over_percent"),
        ("canvas_no_under_percent", "canvas_no_over_percent"),
    ):
        held = [(name, getattr(w, name)) for name in names if getattr(w, name) is not None]
        for (low, a), (high, b) in zip(held, held[1:], strict=False):
            if a > b or (low.startswith("yes") and high.startswith("yes") and a == b):
                yield f"working.{low} is not below working.{high} ({a:g}, {b:g} {a.unit})"
        for name, value in held:
            if name.endswith("percent") and not 0 < value < 100:
                yield f"working.{name} is not between 0 and 100 % RH ({value:g})"
    for name in ("hold_h", "attended_h", "film_forming_margin_c"):
        value = getattr(w, name)
        if value is not None and value < 0:
            yield f"working.{name} is below zero ({value:g})"


def _limit_faults(p: Profile) -> Iterator[str]:
    hour, day, month, damp = p.heat_hour_c, p.heat_day_c, p.heat_month_c, p.damp_percent
    dry, cold, swing, first = p.dry_percent, p.cold_c, p.swing_percent, p.first_weeks
    for name, limits, sign in (
        ("heat_hour_c", hour, 1), ("heat_day_c", day, 1), ("heat_month_c", month, 1), ("damp_percent", damp, 1),
        ("dry_percent", dry, -1), ("cold_c", cold, -1), ("swing_percent", swing, 1),
    ):  # fmt: skip
        yield from _order_faults(name, limits, sign)
    for longer, shorter, name in (
        (day, hour, "24 hours above that of an hour"),
        (month, day, "30 days above 24 hours"),
    ):
        for step in ("watch", "act"):
            more, less = getattr(longer, step), getattr(shorter, step)
            if more is not None and less is not None and more > less:
                yield f"heat limit to {step} for {name} ({more:g} over {less:g} °C)"
    if p.softening_c is not None and hour.watch > p.softening_c:
        yield f"heat_hour_c.watch is above softening_c ({hour.watch:g} over {p.softening_c:g} °C)"
    if cold.watch >= month.watch:
        yield f"cold_c.watch is not below heat_month_c.watch ({cold.watch:g}, {month.watch:g} °C)"
    if dry.watch >= min(damp.watch, first.damp_watch_percent):
        yield f"dry_percent.watch is not below damp_percent.watch, first weeks counted ({dry.watch:g} % RH)"
    if first.damp_watch_percent > damp.watch:
        yield f"first_weeks.damp_watch_percent is milder than damp_percent.watch ({first.damp_watch_percent:g} % RH)"
    for name, value in (("days", first.days), ("cooler_c", first.cooler_c), ("after_move_days", first.after_move_days)):
        if value is not None and value < 0:
            yield f"first_weeks.{name} is below zero ({value:g})"
    for name, limits in (("damp_percent", damp), ("dry_percent", dry), ("swing_percent", swing)):
        for step in STEPS:
            value = getattr(limits, step)
            if value is not None and not 0 < value < 100:
                yield f"{name}.{step} is not between 0 and 100 % RH ({value:g})"


def _order_faults(name: str, limits: Limits, sign: int) -> Iterator[str]:
    held = [(step, getattr(limits, step)) for step in STEPS if getattr(limits, step) is not None]
    for (first, a), (then, b) in zip(held, held[1:], strict=False):
        if sign * a >= sign * b:
            side = "above" if sign > 0 else "below"
            yield f"{name}.{then} must be {side} {name}.{first} ({then} {b:g}, {first} {a:g})"
