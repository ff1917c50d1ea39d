"""Every view, dialog and page of the window as a picture, to be looked at: `python -m tests.gallery OUT`."""
