"""Safety notices and recalls."""
