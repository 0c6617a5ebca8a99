"""The job sheet section by section, as plain data; what is printed is what is signed."""
