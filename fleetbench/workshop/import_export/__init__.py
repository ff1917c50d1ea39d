"""A centre's files, read and written."""
