"""How a painting was looked at, and by whom."""

from alembic import op

revision = "0005"
down_revision = "0004"


def upgrade() -> None:
    """Add the columns; of a look that is there already neither is known."""
    for name in ("look", '"by"'):
        op.execute(f"ALTER TABLE observations ADD COLUMN {name} TEXT DEFAULT '' NOT NULL")
    op.execute("UPDATE observations SET look = 'unknown'")
