"""Labels: a layout file and a content become marks in whole printer dots, a PDF, and a proof that it can be read."""
