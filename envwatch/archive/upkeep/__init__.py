"""Backup, bundle, check, the way to a server."""
