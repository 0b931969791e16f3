"""The safety page that goes with every printed case. Local codes and licensed trades come before all of it."""

from envwatch.climate.drying_back import RULE

FIRST = (
    "Local codes, the maker's instructions and licensed trades come before anything on this page. Ask the "
    "landlord, the insurer and, for unattended running, the fire authority, before a machine is switched on."
)

SAFETY: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("Electricity", (
        "A fixed socket of its own, on a circuit with residual-current protection, seen by a licensed electrician.",
        "No extension lead, no multiway block, no timer plug; never a wet plug or a socket that water can reach.",
    )),
    ("Fire", (
        "Dehumidifiers have overheated and burnt: look for recalls of the very model, new or second-hand, before first "
        "use and once a year.",
        "The maker's distances on all sides, nothing on it or against it, the filter clean; a smoke alarm in the room.",
    )),
    ("Solvent vapour", (
        "Never in a room with solvent vapour, fresh varnish, or stored solvents: compressor, relay and heater can set "
        "it alight, a desiccant machine's heater most of all.",
    )),
    ("Water", (
        "A hose with fall all the way, or a tested pump; float cut-off, drip tray and a leak alarm on the floor.",
        "Never above paintings or stored works; no hose or cable across a way that people or paintings take.",
        "Empty a tank the same day and rinse it: standing water breeds germs.",
    )),
    ("Drying too much, or too fast", (
        "An alarm at 40 % from the room's own logger: a machine's humidistat is poor, and one that fails runs on.",
        f"Paintings that stood damp come down {RULE}: lower the set point by steps, and follow the canvas, not the "
        "room; no painting in the stream of its air.",
        "Panels, veneered furniture, instruments and parchment: ask whoever looks after them before it runs.",
        "After a power cut see that it has started again: the room goes back within the time named in the appendix.",
    )),
    ("Mould, leaks, rising damp", (
        "Visible mould, a leak or rising damp is dealt with first, with professional advice; drying hides the cause.",
        "Mouldy paintings and filters are handled with gloves and a fitting mask, apart from the others.",
    )),
    ("At the end", (
        "Some machines hold a flammable refrigerant: carried and stored upright, disposed of by a licensed trade.",
    )),
)  # fmt: skip
