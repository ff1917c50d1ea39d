"""The Qt window: views, dialogs and models. Knows no SQL; asks the workshop off the GUI thread."""

import sys

import PySide6.QtCore  # noqa: F401  # what is looked for below comes with it

READS = "_mod_uses_pyside"
"""The function that reads a module's source."""


def read_no_sources() -> None:
    """Let PySide6 not read the source of every module that is imported, to see whether it says PySide6 there.

    It does so to tell modules that switch to other names of Qt's functions, which none here does. Python keeps every
    line read so: 37 MB once all pages are imported. Where a version has no such function, it reads as before.
    """
    features = sys.modules.get("shibokensupport.feature")
    if hasattr(features, READS):
        setattr(features, READS, lambda _module: False)


read_no_sources()
