"""The limits in force in a few lines, and what looking showed of those about which somebody has."""

from __future__ import annotations

from collections import Counter
from typing import Any

from envwatch.core.quantities import STUDIO
from envwatch.present.terminal.layout import wrap


def limits(held: dict[str, Any], width: int) -> str:
    """How many limits are published, common practice, from memory, or envwatch's own; and what the studio says."""
    count = Counter("set by the studio" if one["source"] == STUDIO else one["confidence"]
                    for one in held["limits"].values())  # fmt: skip
    lines = [f"{number:4} {whose}" for whose, number in count.most_common()]
    said = f"Adopted {held['adoption']}." if held["adoption"] else (
        "Those of our judgement are envwatch's working limits; nobody has published them. The studio has not said "
        "whether it adopts them: envwatch limits ⟦adopt⟧ WHY. One by one, with sources: ⟦json⟧."
    )  # fmt: skip
    looked = (f"Looked at: {one.sentence}." for one in held["looked"])
    return "\n".join([*lines, *wrap(said, width), *(line for one in looked for line in wrap(one, width))]) + "\n"
