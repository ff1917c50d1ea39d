"""Measurements of the program against a floor or against hidden truth; each runs with ``python -m``."""
