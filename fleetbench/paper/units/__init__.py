"""Units and their history."""
