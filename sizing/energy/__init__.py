"""Daily energy use, harvest, and what would help most."""
