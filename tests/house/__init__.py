"""How the house stands: counts of its source, and the rules that a machine holds."""
