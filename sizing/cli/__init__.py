"""Commands that size a design from a file."""
