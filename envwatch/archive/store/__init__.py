"""Files, lock, cache, tables and parts on disk."""
