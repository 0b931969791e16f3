"""What a file that waits is about; and how files were kept before a batch parted them or read them anew."""

from alembic import op

revision = "0007"
down_revision = "0006"


def upgrade() -> None:
    """Add the columns; of what is there already neither is known."""
    for table, name in (("tray", "about"), ("batches", "kind"), ("batches", "before")):
        op.execute(f"ALTER TABLE {table} ADD COLUMN {name} TEXT DEFAULT '' NOT NULL")
