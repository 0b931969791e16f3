"""Own drawings as SVG: a picture on its wall from the front and cut through, with numbers for a legend beside it."""

from __future__ import annotations

from envwatch.present.palette import FILLS, LIGHT

INK, SOFT, WARM, COLD = (LIGHT[name] for name in ("ink", "edge", "ochre", "indigo"))
PAPER, PLASTER, CANVAS, BRICK, CARD, GLASS = (
    FILLS[name] for name in ("white", "plaster", "canvas", "brick", "card", "glass")
)


def _line(x1, y1, x2, y2, stroke=INK, width=0.6, dash="") -> str:
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    return f'<line x1="{x1}" y1="{y1}" x2="{x2}" y2="{y2}" stroke="{stroke}" stroke-width="{width}"{dashed}/>'


def _rect(x, y, w, h, fill="none", stroke=INK, width=0.6) -> str:
    return f'<rect x="{x}" y="{y}" width="{w}" height="{h}" fill="{fill}" stroke="{stroke}" stroke-width="{width}"/>'


def _number(x, y, n) -> str:
    """A number in a ring, drawn with strokes: no font is needed."""
    strokes = {
        1: "M-0.8,-1 L0.2,-1.9 L0.2,1.9", 2: "M-1.1,-1 C-1,-2.3 1.2,-2.2 1.1,-0.7 C1,0.4 -1,1 -1.2,1.9 L1.2,1.9",
        3: "M-1.1,-1.8 L1,-1.8 L-0.1,-0.3 C1.5,-0.4 1.4,2 -0.1,1.9 C-0.7,1.9 -1.1,1.6 -1.2,1.2",
        4: "M0.5,1.9 L0.5,-1.9 L-1.3,0.8 L1.3,0.8",
    }  # fmt: skip
    return (
        f'<g transform="translate({x},{y})"><circle r="3.1" fill="{PAPER}" stroke="{INK}" stroke-width="0.5"/>'
        f'<path d="{strokes[n]}" fill="none" stroke="{INK}" stroke-width="0.6" stroke-linecap="round"/></g>'
    )


def _arrow(x, y1, y2, colour=COLD) -> str:
    """An arrow that runs downwards, or upwards where y2 is less."""
    tip = 1.6 if y2 > y1 else -1.6
    head = f"M{x - 1},{y2 - tip} L{x},{y2} L{x + 1},{y2 - tip}"
    return _line(x, y1, x, y2, colour, 0.7) + f'<path d="{head}" fill="none" stroke="{colour}" stroke-width="0.7"/>'


def hung_picture(open_gap: bool, board: bool) -> str:
    """The picture from the front (two hooks, pads) and cut through (wall, air, pads, board). 120 by 62 units of a mm.

    Numbers: 1 hooks in the wall, 2 pads, 3 air behind, 4 the room's side.
    """
    front = [
        _rect(2, 4, 56, 54, PLASTER, SOFT, 0.4), _line(2, 52, 58, 52, SOFT, 0.4),
        _rect(14, 17, 32, 25, PAPER, INK, 1.6), _rect(17, 20, 26, 19, CANVAS, SOFT, 0.4),
        f'<path d="M17,36 C22,30 26,33 30,29 C34,26 38,31 43,28" fill="none" stroke="{SOFT}" stroke-width="0.6"/>',
        _line(22, 17, 22, 10), _line(38, 17, 38, 10), f'<circle cx="22" cy="9.6" r="1" fill="{INK}"/>',
        f'<circle cx="38" cy="9.6" r="1" fill="{INK}"/>', _rect(15, 40, 3, 3, WARM, WARM),
        _rect(42, 40, 3, 3, WARM, WARM), _number(30, 9, 1), _number(9.5, 41.5, 2),
    ]  # fmt: skip
    gap = 9 if open_gap else 2.5
    x = 70 + 14 + gap
    side = [
        _rect(70, 4, 14, 54, BRICK, INK, 0.5),
        *(_line(70, y, 84, y, SOFT, 0.35) for y in range(10, 58, 6)),
        _rect(84, 4, 1.2, 54, PAPER, INK, 0.4), _rect(x + 1.2, 15, 3.2, 3.6, PAPER),
        _rect(x + 1.2, 40, 3.2, 3.6, PAPER),
        _line(x + 3.6, 15, x + 3.6, 43.6, INK, 1.0), _rect(x + 4.4, 13.5, 3.2, 32, CANVAS),
        _rect(85.2, 41, gap + 1, 2.4, WARM, WARM), _line(85.2, 11, x + 2, 16, INK, 0.8),
    ]  # fmt: skip
    side += [_line(x + 1.2, 15, x + 1.2, 43.6, COLD, 1.0)] if board else []
    side += [_arrow(85.2 + gap / 2, 20, 38)] if open_gap else []
    side += [_number(85.2 + gap / 2, 53, 3), _number(x + 14, 29, 4)]
    return _svg(120, 62, [*front, *side])


def section(temps_c: list[float], names: list[str], out_c: float, widths: list[float]) -> str:
    """The wall cut through with the course of temperature: layers from outdoors to the room. 120 by 46 units.

    Parameters
    ----------
    temps_c : (n + 1,) temperatures at the faces of n layers, outdoors first. [°C]
    names, widths : (n,) what each layer is, and how wide it is drawn.
    """
    low, high = min(temps_c), max(temps_c)
    span = (high - low) or 1.0
    total, left = sum(widths), 6.0
    parts, points = [], []
    fills = {"wall": BRICK, "painting": CANVAS, "board": CARD, "glass and air behind it": GLASS}
    for name, width in zip(names, widths, strict=True):
        w = 108 * width / total
        parts.append(_rect(round(left, 2), 4, round(w, 2), 38, fills.get(name, PAPER), SOFT, 0.35))
        points.append(left)
        left += w
    points.append(left)
    course = " ".join(
        f"{round(x, 2)},{round(39 - 32 * (t - low) / span, 2)}" for x, t in zip(points, temps_c, strict=True)
    )
    parts.append(f'<polyline points="{course}" fill="none" stroke="{COLD}" stroke-width="1"/>')
    for x, t in zip(points, temps_c, strict=True):
        parts.append(f'<circle cx="{round(x, 2)}" cy="{round(39 - 32 * (t - low) / span, 2)}" r="1" fill="{COLD}"/>')
    return _svg(120, 46, parts)


def _svg(width: int, height: int, parts: list[str]) -> str:
    body = "".join(parts)
    return f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}">{body}</svg>'
