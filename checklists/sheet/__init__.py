"""Knows what the job sheet says, section by section, as plain data; what is printed is what is signed."""
