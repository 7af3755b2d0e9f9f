"""What the law or good practice says: dated, cited figures as data, and the findings that come of checking against them."""
