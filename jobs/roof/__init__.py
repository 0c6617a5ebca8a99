"""Geometry and drawing of a roof in millimeters: layout, feet, wires, walkways, checks, plan."""
