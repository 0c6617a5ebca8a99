"""The year of shade of a design: the queued run, its page and the polar chart."""
