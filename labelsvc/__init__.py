"""Labels and traceability for a small curing workshop, on a ledger in grams."""
