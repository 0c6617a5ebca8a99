"""Sun and climate of a place."""
