"""Compiled loops, and how they are compiled."""
