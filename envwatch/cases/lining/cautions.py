"""The usual cautions where heat, solvent or water is used. Common practice; local codes come before all of it."""

FIRST = (
    "Usual cautions. The maker's instructions and safety data sheets, local codes and licensed trades come before them."
)
CAUTIONS = {
    "heat": "Heat: hot tables, irons and molten wax burn the hand and set fire to cloth, wax and vapour. Never left "
            "alone; a socket on a residual-current circuit seen by a licensed electrician; an extinguisher at hand.",
    "solvent": "Solvent: extraction at the table, no flame, spark, iron or hot table near it, gloves and mask as the "
               "safety data sheet says; rags and rest in a closed metal bin, disposed of as local codes ask.",
    "water": "Water: none near the wiring of table, pump or iron, and dry hands on switches. Wet paste and size spoil "
             "within days: no food vessels, and gloves and a mask where mould shows.",
    "resin": "Resin and hardener: gloves, no skin contact, fresh air: they can make the skin allergic for good.",
}  # fmt: skip


def cautions(form: str = "") -> tuple[str, ...]:
    """What to print: heat, solvent and water are tried on every painting; of a two-part adhesive its resin too."""
    return (FIRST, *(text for name, text in CAUTIONS.items() if name != "resin" or form == "two-part"))
