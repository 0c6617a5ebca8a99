"""Printed rules for conductors and overcurrent devices: size, resistance, ampacity, rule sets."""
