"""Logger files composed of every property that a file may have, with what they truly hold."""
