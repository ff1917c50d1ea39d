"""Cylinders, fills and analyses."""
