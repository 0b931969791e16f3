"""What made the air of a place harm paintings, as a person named it."""

from alembic import op

revision = "0006"
down_revision = "0005"


def upgrade() -> None:
    """Make the table of causes."""
    op.execute(
        "CREATE TABLE causes (id INTEGER NOT NULL, place TEXT NOT NULL, kind TEXT DEFAULT '' NOT NULL, "
        "\"from\" TEXT DEFAULT '' NOT NULL, \"to\" TEXT DEFAULT '' NOT NULL, cause TEXT DEFAULT '' NOT NULL, "
        "\"by\" TEXT DEFAULT '' NOT NULL, \"on\" TEXT DEFAULT '' NOT NULL, "
        "PRIMARY KEY (id), FOREIGN KEY(place) REFERENCES places (id))"
    )
    op.execute("CREATE INDEX causes_by_place ON causes (place)")
