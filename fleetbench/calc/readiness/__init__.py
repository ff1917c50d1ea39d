"""Whether a unit may go out."""
