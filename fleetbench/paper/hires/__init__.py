"""Bookings, hand-over and hand-back."""
