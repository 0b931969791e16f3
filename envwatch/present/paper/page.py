"""Setting content in type. What people wrote reaches the page as data and is never read as markup."""

from __future__ import annotations

import json
from pathlib import Path

import pandas as pd

from envwatch.core.errors import BadInput
from envwatch.present.palette import LIGHT
from envwatch.present.paper.limit_marks import marked
from envwatch.present.paper.wording import clean_all

PAPERS = {"a4": "a4", "letter": "us-letter", "us-letter": "us-letter"}

PIGMENTS = ("ink", "soft", "rule", "ochre", "madder", "indigo")

# Typst. `content` is the sheet as data; strings in it are set as they are.
SETTING = r"""
#let content = json(bytes(sys.inputs.content))
COLOURS

#set document(title: content.title)
#set page(
  paper: sys.inputs.paper,
  margin: (left: 20mm, right: 18mm, top: 17mm, bottom: 19mm),
  footer: context {
    set text(7.5pt, fill: soft)
    block(width: 100%, stroke: (top: 0.4pt + rule), inset: (top: 1.6mm), grid(columns: (1fr, auto), column-gutter: 6mm,
      [#content.foot],
      [page #counter(page).display("1 of 1", both: true)]))
  })
#set text(font: ("Libertinus Serif", "DejaVu Sans"), size: 9.6pt, fill: ink, lang: "en", hyphenate: false)
#set par(leading: 0.5em, spacing: 0.65em, justify: false)
#show heading.where(level: 1): it => block(below: 3mm, text(19pt, weight: "regular", it.body))
#show heading.where(level: 2): it => block(above: 6.5mm, below: 2.6mm, sticky: true, width: 100%, {
  block(width: 100%, stroke: (bottom: 0.6pt + ink), inset: (bottom: 1.2mm), text(11.5pt, weight: "bold", it.body))
})

#let edge = 0.45pt
#let half-disc(size) = {
  place(box(width: size / 2, height: size, clip: true, circle(radius: size / 2, fill: ochre)))
  place(dx: edge, dy: edge, circle(radius: size / 2 - edge, stroke: 2 * edge + ochre))
}
#let shapes = (
  "nothing against it": size => place(dx: edge, dy: edge, circle(radius: size / 2 - edge, stroke: 2 * edge + ink)),
  "not known": size => {
    place(dx: edge, dy: edge, rect(width: size - 2 * edge, height: size - 2 * edge, stroke: 2 * edge + ink))
    place(center + horizon, text(size * 0.8, weight: "bold", fill: ink, "?"))
  },
  "watch": half-disc,
  "act": size => place(circle(radius: size / 2, fill: indigo)),
  "urgent": size => {
    place(dx: edge, dy: edge, rect(width: size - 2 * edge, height: size - 2 * edge, stroke: 2 * edge + madder))
    place(center + horizon, circle(radius: size * 0.3, fill: madder))
  },
)
#let shape(word, size: 4.6mm) = box(width: size, height: size, (shapes.at(word))(size))
#let inline-shape(word) = box(baseline: 0.3mm, shape(word, size: 2.5mm))

#let tick = box(width: 3.4mm, height: 3.4mm, stroke: 0.7pt + ink, baseline: 0.5mm)
#let blank(length) = box(width: length, height: 3.6mm, stroke: (bottom: 0.5pt + soft))
#let note-line = block(above: 3.4mm, below: 0mm, grid(
  columns: (auto, auto, 28mm, auto, 1fr), column-gutter: 2mm, align: bottom,
  tick, text(8pt, fill: soft)[done, on], blank(100%), text(8pt, fill: soft)[note], blank(100%)))
#let labelled(label, body) = if body != "" {
  grid(columns: (17mm, 1fr), column-gutter: 2mm, text(8.4pt, fill: soft, label), body)
}
#let bullets(items) = for item in items {
  grid(columns: (3mm, 1fr), column-gutter: 1mm, text(fill: soft)[–], item)
}

#let trace(t) = block(width: 100%, above: 2.6mm, below: 3.4mm, {
  set text(7.2pt, fill: soft)
  grid(columns: (9mm, 1fr, 17mm), column-gutter: 1.2mm, row-gutter: 0.8mm,
    box(height: 13mm, width: 100%, {
      place(top + right, text(t.high))
      place(bottom + right, text(t.low))
    }),
    box(stroke: 0.4pt + rule, height: 13mm, width: 100%,
      image(bytes(t.svg), format: "svg", width: 100%, height: 13mm, fit: "stretch",
        alt: t.quantity + " of the air at the painting over the period")),
    align(left + horizon)[#t.unit#if t.limit != none [ \ limit #t.limit]],
    [],
    if t.days.len() > 2 { grid(columns: (1fr,) * t.days.len(), ..t.days.map(d => text(d))) }
    else { grid(columns: (1fr,) * t.days.len(), align: (left, right), ..t.days.map(d => text(d))) },
    [])
})
""".replace("COLOURS", "\n".join(f'#let {name} = rgb("{LIGHT[name]}")' for name in PIGMENTS), 1)

# What the marks beside limits mean, once, at the end.
LEGEND = """
#if content.legend != "" [
  #block(above: 6mm, width: 100%, breakable: false, text(8pt, fill: soft, content.legend))
]
"""


def _fonts():
    """The faces that come with typst, and DejaVu's for scripts that those have no letters for."""
    import typst

    return typst.Fonts(include_system_fonts=False, font_paths=[str(Path(__file__).parent / "fonts")])


def printed(content: dict, layout: str, paper: str, at: pd.Timestamp) -> bytes:
    """Content and a layout for it as a PDF.

    Parameters
    ----------
    content : strings, numbers, lists and dicts; with `title` and `foot`, and `adoption`: what the studio says of
        envwatch's working limits, empty where nothing.
    layout : typst that sets `content`; it follows `SETTING`.
    paper : "a4", or "letter" (also "us-letter").
    at : when it was printed; the same content printed at the same time gives the same bytes.

    Raises
    ------
    BadInput : another paper.
    """
    import typst

    if paper not in PAPERS:
        raise BadInput(f'paper "{paper}": expected a4 or letter')
    return typst.compile(
        (SETTING + layout + LEGEND).encode(),
        sys_inputs={"content": json.dumps(clean_all(marked(content))), "paper": PAPERS[paper]},
        ignore_system_fonts=True,
        font_paths=_fonts(),
        timestamp=int(at.timestamp()),
    )
