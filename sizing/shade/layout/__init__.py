"""Automatic layout: candidates, packing, search."""
