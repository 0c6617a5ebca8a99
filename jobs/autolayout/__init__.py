"""Automatic layouts: the question, walkways, wiring, candidates, the queued run and its page."""
