"""Small drawings of our own beside the questions of a position: a wall, and what is asked about it."""

from __future__ import annotations

from urllib.parse import quote

from dash import html

from envwatch.present.palette import LIGHT

FRAME = '<rect x="38" y="16" width="24" height="18" fill="none" stroke-width="1.8"/>'
FLOOR = '<path d="M4 56H96"/>'
SHAPES = {
    # a window at the left, its light falling on the picture
    "sun": '<rect x="8" y="10" width="16" height="26"/><path d="M16 10V36M8 23H24M26 12L44 20M26 22L42 30" '
           'stroke-dasharray="3 2"/>',
    # a radiator under the picture, warm air rising
    "heat": '<path d="M36 44H64V55H36ZM41 44V55M46 44V55M51 44V55M56 44V55M60 44V55"/>'
            '<path d="M42 41C40 39 44 38 42 36M50 41C48 39 52 38 50 36M58 41C56 39 60 38 58 36"/>',
    # a chair and a table: somebody lives there
    "use": '<path d="M8 56V34M8 46H20V56M30 56V42H70V56" transform="translate(10 0)"/>',
    # the wall from the side: bricks, and the cold beyond
    "wall": '<path d="M72 6V56M84 6V56M72 16H84M72 26H84M72 36H84M72 46H84M78 6V16M78 26V36M78 46V56"/>'
            '<path d="M90 14L95 14M90 28L95 28M90 42L95 42"/>',
    # a tide line, and drops
    "damp": '<path d="M4 48C16 42 24 50 36 45S60 50 72 44S88 48 96 45"/>'
            '<path d="M14 50v3M30 51v3M48 50v3M66 50v3M84 50v3"/>',
    # a house with its chimney
    "heating": '<path d="M14 56V34L32 20L50 34V56ZM42 22V16H46V29"/>'
               '<path d="M58 56V44H88V56M64 44V56M70 44V56M76 44V56M82 44V56"/>',
}  # fmt: skip
BARE = ("heating",)


def sketch(kind: str) -> html.Img:
    """The drawing to a question; the question's own words say all that it shows."""
    frame = "" if kind in BARE else FRAME
    svg = (
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 100 60" width="100" height="60" fill="none" '
        f'stroke="{LIGHT["ink"]}" stroke-width="1.2" stroke-linecap="round" stroke-linejoin="round">{FLOOR}{frame}'
        f"{SHAPES[kind]}</svg>"
    )
    return html.Img(src=f"data:image/svg+xml,{quote(svg)}", alt="", className="sketch")
