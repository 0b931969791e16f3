"""Environmental monitoring and risk for stored and relined canvas paintings.

For scripts and notebooks, each fetched when it is first asked for (arrays or single numbers; NaN where not known):

- `dew_point(temp_c, rh_percent)`: dew point, below 0 °C the frost point. [°C]
- `mould_index(temp_c, rh_percent, sensitivity)`: the published growth index, hour by hour, 0 to 6.
- `read(path)`: what one logger file says: readings in UTC, marks and notes; a plain question where it is open.
- `Studio`: a studio folder: `Studio.open(folder)`, its paintings, and the air that each has stood in.
- `iso_week(text, zone)`: a week such as "2026-W44"; `judge(exposure, painting, start)`: the verdict on that air from
  `start` on.
- `Climate`, `Exposure`, `Painting`, `Layer`, `Level`: the nouns that these take and give.

>>> import envwatch
>>> round(float(envwatch.dew_point(20.0, 50.0)), 1)
9.3
"""

from importlib import import_module

__version__ = "0.1.0"

_LIES_IN = {
    "dew_point": "air", "mould_index": "hazards.mould", "read": "logs", "Studio": "archive", "judge": "verdict",
    "iso_week": "core.period",
    **dict.fromkeys(("Climate", "Exposure", "Painting", "Layer", "Level"), "records"),
}  # fmt: skip
__all__ = [
    "Climate", "Exposure", "Layer", "Level", "Painting", "Studio", "dew_point", "iso_week", "judge", "mould_index",
    "read",
]  # fmt: skip


def __getattr__(name: str):
    if name not in _LIES_IN:
        raise AttributeError(f"module 'envwatch' has no attribute {name!r}")
    return getattr(import_module(f"envwatch.{_LIES_IN[name]}"), name)


def __dir__() -> list[str]:
    return sorted([*globals(), *__all__])
