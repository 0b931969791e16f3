"""The air of a place and of a painting, from what is kept."""
