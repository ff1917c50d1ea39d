"""Service tickets and plans."""
