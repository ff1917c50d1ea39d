"""The detail of one record."""
