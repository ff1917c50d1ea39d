"""Measured tests and test equipment."""
