"""What a foreign table says: where it stands, what its columns mean, and what each cell holds."""
