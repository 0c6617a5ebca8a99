"""The shade and string engine: a year of light on a roof, cell by cell."""
