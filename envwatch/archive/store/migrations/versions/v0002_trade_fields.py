"""Treatments in the trade's own fields, more of what a painting is, and photographs of what was seen."""

from alembic import op

revision = "0002"
down_revision = "0001"

TEXT, FLOAT = "TEXT DEFAULT '' NOT NULL", "FLOAT"
ADDED = {
    "paintings": {"ground": TEXT, "varnish": TEXT, "value_band": TEXT},
    "observations": {"photo": TEXT},
    "treatments": {
        "layer": TEXT, "family": TEXT, "form": TEXT, "batch": TEXT, "carrier": TEXT, "solids_percent": FLOAT,
        "bloom": FLOAT, "thickness_um": FLOAT, "coats": "INTEGER", "amount_g_m2": FLOAT, "side": TEXT, "cloth": TEXT,
        "temps_interface_c": TEXT, "heating_min": FLOAT, "hold_min": FLOAT, "cooling_min": FLOAT,
        "pressure_mbar": FLOAT, "weight_g_cm2": FLOAT, "drying_h": FLOAT, "peel_trial": TEXT, "strip_kept": "BOOLEAN",
        "studio_temp_c": FLOAT, "studio_rh_percent": FLOAT, "weight_after_kg": FLOAT, "inspection_days": TEXT,
        "limits_told": TEXT, "removal": TEXT,
    },
}  # fmt: skip


def upgrade() -> None:
    """Add the columns; what is kept stays as it is."""
    for table, columns in ADDED.items():
        for name, kind in columns.items():
            op.execute(f"ALTER TABLE {table} ADD COLUMN {name} {kind}")
