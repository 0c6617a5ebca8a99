"""The order in which a whole system is sized, one part alone, the next size up, bay days."""
