"""People, roles and PINs."""
