"""Parts, lives, stock and orders."""
