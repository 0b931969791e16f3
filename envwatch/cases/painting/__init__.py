"""One painting: its record, the chain behind a finding, handover, a client's call."""
