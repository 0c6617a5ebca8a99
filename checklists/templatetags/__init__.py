"""Template tags for what the install rules say."""
