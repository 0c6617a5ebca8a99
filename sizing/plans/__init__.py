"""String plans: search, growth, ranking."""
