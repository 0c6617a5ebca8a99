"""Knows the commands of the checklists app."""
