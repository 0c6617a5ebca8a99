"""The roof being edited: read what the page sent, try it in memory, save it, answer live."""
