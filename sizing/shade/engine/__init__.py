"""The gridded year: grid, geometry, light, shadow cover, place, wiring."""
