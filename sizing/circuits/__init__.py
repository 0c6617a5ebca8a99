"""The circuit schedule: currents, conductor choice, routing, voltage drop, checks, rewiring."""
