"""Knows how install records are read: for a page, for the holds, for the job sheet."""
