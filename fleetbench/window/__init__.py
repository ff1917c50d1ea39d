"""The Qt window: views, dialogs and models. Knows no SQL; asks the workshop off the GUI thread."""
