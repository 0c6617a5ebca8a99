"""The shop's books: invoices, payments and credit notes of its jobs, and what is still owed."""
