"""Stamps to UTC: columns of time, order of day and month, clocks and offsets."""
