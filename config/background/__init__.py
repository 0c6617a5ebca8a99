"""Runs background work: lanes that work, and a keeper that takes up what stopped and knows the clock."""
