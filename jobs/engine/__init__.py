"""The one door to the sizing engine: records become a question, its answer becomes stored JSON."""
