"""Designs and results as JSON, and the allowed range of every field."""
