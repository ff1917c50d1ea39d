"""What people do: one act, one transaction; plain dataclasses go out."""
