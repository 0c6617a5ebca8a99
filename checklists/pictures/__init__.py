"""Knows how a picture that nobody trusts becomes one of ours."""
