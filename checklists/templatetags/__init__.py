"""Knows how what the install rules say is printed."""
