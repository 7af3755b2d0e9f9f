"""Where a lot came from, where it went, what it met, and where every gram is. Pure: rows in, answers out."""
