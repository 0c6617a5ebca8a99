"""Finds what people read in templates and code, writes the catalogs, and says it in their language."""
