"""Dialogs and the fields in them."""
