"""Pure calculation: numbers, dataclasses and enums in, dataclasses out; knows no other floor."""
