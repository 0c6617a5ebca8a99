"""Knows what may be typed at a step, an override, a deviation and a signature."""
