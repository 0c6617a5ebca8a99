"""The record of an install: events written and read, deviations, overrides, progress."""
