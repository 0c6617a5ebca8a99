"""Loads on the roof and the vehicle: wind, feet, weight, axles, sealant cure."""
