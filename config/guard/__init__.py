"""What the database itself refuses: a changed log, rows of two shops that name one another."""
