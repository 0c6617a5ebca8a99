"""Customers, vehicles, VINs, intake, and the only writer of a job's state."""
