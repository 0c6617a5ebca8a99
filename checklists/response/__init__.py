"""Response tables: the engine's answers to values as built, asked beforehand for use without a network."""
