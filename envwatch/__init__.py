"""Environmental monitoring and risk for stored and relined canvas paintings."""

__version__ = "0.1.0"
