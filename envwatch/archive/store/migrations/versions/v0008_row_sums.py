"""A checksum of each row, and what was taken as it stood although one of them was not right."""

from alembic import op

revision = "0008"
down_revision = "0007"


def upgrade() -> None:
    """Make the tables; `sums.fill` gives the rows of a file their checksums once all migrations have run."""
    op.execute("""CREATE TABLE row_sums (
        table_name TEXT NOT NULL, row_key TEXT NOT NULL, sum TEXT DEFAULT '' NOT NULL,
        PRIMARY KEY (table_name, row_key)
    )""")
    op.execute("""CREATE TABLE accepted (
        id INTEGER NOT NULL, "on" TEXT DEFAULT '' NOT NULL, "by" TEXT DEFAULT '' NOT NULL,
        because TEXT DEFAULT '' NOT NULL, rows TEXT DEFAULT '' NOT NULL, PRIMARY KEY (id)
    )""")
