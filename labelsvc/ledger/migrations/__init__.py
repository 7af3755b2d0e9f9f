"""The database's changes of shape, in order; configured in code, so that no ini file is needed."""
