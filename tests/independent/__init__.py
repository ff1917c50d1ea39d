"""The same questions answered a second time from the sheets alone; nothing in here imports fleetbench."""
