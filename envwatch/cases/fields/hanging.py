"""The inputs of the case of where to hang, but for its positions, in the order of the command's help."""

from __future__ import annotations

from envwatch.cases.fields import ADHESIVE, FILE, PAINTING, Input

INPUTS = {one.name: one for one in (
    Input("painting", words="painting", kind=PAINTING),
    Input("on", "Day of hanging, such as 2026-12-01.", "day of hanging", "empty: today"),
    Input("adhesive", "What holds its lining, where the record does not say.",
          "what holds its lining, where the record does not say", kind=ADHESIVE),
)}  # fmt: skip
AFTER = {one.name: one for one in (
    Input("log", "After hanging: the owner's logger file.", kind=FILE),
    Input("at", "With ⟦log⟧: the position it hangs at, by its first words.", "it hangs at", default=""),
    Input("zone", "With ⟦log⟧: time zone of the logger's clock.", "clock of the logger", "Europe/Berlin"),
    Input("start", "With ⟦log⟧: when its record begins, where its rows say not.", "its record begins",
          "2026-03-01 10:00"),
)}  # fmt: skip
