"""A person's dated answers to quality marks."""

from alembic import op

revision = "0004"
down_revision = "0003"


def upgrade() -> None:
    """Make the table of answers to marks."""
    op.execute(
        "CREATE TABLE mark_answers (id INTEGER NOT NULL, logger TEXT NOT NULL, "
        "channel TEXT DEFAULT '' NOT NULL, mark TEXT DEFAULT '' NOT NULL, "
        "\"from\" TEXT DEFAULT '' NOT NULL, \"to\" TEXT DEFAULT '' NOT NULL, answer TEXT DEFAULT '' NOT NULL, "
        "\"by\" TEXT DEFAULT '' NOT NULL, \"on\" TEXT DEFAULT '' NOT NULL, because TEXT DEFAULT '' NOT NULL, "
        "PRIMARY KEY (id), FOREIGN KEY(logger) REFERENCES loggers (id))"
    )
    op.execute("CREATE INDEX mark_answers_by_logger ON mark_answers (logger)")
