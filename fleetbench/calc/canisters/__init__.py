"""Absorbent canisters, fills and runs."""
