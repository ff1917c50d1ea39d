"""Oxygen cells and their calibration."""
