"""One design revision: begin, change, size, freeze; its parts, strings and office checks."""
