"""Faults made on purpose, from kills to broken files, and what comes of them: `python -m tests.faults`."""
