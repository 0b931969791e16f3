"""Long runs outside the gate, each `python -m tests.long.NAME`; a small sample of each runs in the gate."""
