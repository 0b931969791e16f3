"""Cells to readings: rows, units, wide and long forms."""
