"""Lets an operator see how the installation is: probes, counters, logs with the request they belong to."""
