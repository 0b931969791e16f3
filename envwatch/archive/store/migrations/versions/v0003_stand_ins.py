"""A neighbour's air while a place's own loggers are dead."""

from alembic import op

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    """Make the table of stand-ins."""
    op.execute(
        "CREATE TABLE stand_ins (id INTEGER NOT NULL, place TEXT NOT NULL, neighbour TEXT NOT NULL, "
        "\"from\" TEXT DEFAULT '' NOT NULL, \"to\" TEXT DEFAULT '' NOT NULL, temp_u_c FLOAT, rh_u_percent FLOAT, "
        "note TEXT DEFAULT '' NOT NULL, PRIMARY KEY (id), FOREIGN KEY(place) REFERENCES places (id), "
        "FOREIGN KEY(neighbour) REFERENCES places (id))"
    )
    op.execute("CREATE INDEX stand_ins_by_place ON stand_ins (place)")
