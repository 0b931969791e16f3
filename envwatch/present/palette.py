"""The colours of paper and page: paper, ink, and a few old pigments. Never the only carrier of a meaning.

Told apart by lightness too, so that a grey printer and a colour-blind eye keep them apart.
"""

LIGHT = {
    "paper": "#faf7f0",
    "leaf": "#f3eee2",  # a shade behind forms and notes
    "ink": "#24211d",
    "soft": "#5d574e",
    "rule": "#b9b2a6",
    "edge": "#857d71",  # outlines of fields
    "ochre": "#a8731a",
    "madder": "#8f2d35",
    "indigo": "#2b3d63",
    "verdigris": "#3c6e62",
}
DARK = {
    "paper": "#1c1a17",
    "leaf": "#272420",
    "ink": "#ece6da",
    "soft": "#bbb3a5",
    "rule": "#4f493f",
    "edge": "#8d8577",
    "ochre": "#d9a24a",
    "madder": "#e8959a",
    "indigo": "#a5b8e2",
    "verdigris": "#86bfae",
}
# What drawings of walls and pictures are filled with, on paper.
FILLS = {
    "white": "#ffffff", "plaster": "#f6f3ec", "canvas": "#ece5d6", "brick": "#d9cfbf", "card": "#c9bfae",
    "glass": "#e5ecef",
}  # fmt: skip
CURVES = {
    "temperature": "madder", "humidity": "indigo", "dew point": "verdigris", "outdoors": "edge", "beside": "ink",
    "other period": "ochre",
}  # fmt: skip


def sheer(colour: str, part: float) -> str:
    """A colour that lets through what lies behind it; `part` 0 to 1 of it stays.

    >>> sheer("#857d71", 0.18)
    'rgba(133,125,113,0.18)'
    """
    red, green, blue = (int(colour[i : i + 2], 16) for i in (1, 3, 5))
    return f"rgba({red},{green},{blue},{part:g})"


def contrast(one: str, other: str) -> float:
    """Contrast of two colours, 1 to 21.

    Source: WCAG 2.2, W3C Recommendation 2023, definitions of relative luminance and contrast ratio.

    >>> contrast("#ffffff", "#000000")
    21.0
    """
    high, low = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def _luminance(colour: str) -> float:
    parts = (int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5))
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


__all__ = ["CURVES", "DARK", "FILLS", "LIGHT", "contrast", "sheer"]
