"""Files in: read, assigned to a logger, merged, kept."""
