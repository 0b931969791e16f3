"""Array functions of a building: walls, heat, light, a room's moisture. No nouns."""
