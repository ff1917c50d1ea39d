"""What is done between two divers."""
