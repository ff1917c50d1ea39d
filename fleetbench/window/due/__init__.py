"""What must be replaced or done."""
