"""What an accepted design asks of the install: step templates become planned steps."""
