"""Lines to columns: header, body, labels, probes."""
