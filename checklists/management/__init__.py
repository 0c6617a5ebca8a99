"""Commands of the checklists app."""
