"""Changes of the register's layout, oldest first; Alembic runs those a studio folder has not had."""
