"""Reads across everything for the board, the search and the job hub."""
