"""What a person does: one function, one transaction. The command line and the web call the same functions."""
