"""Keys as a person presses them: real key events to whatever holds the keyboard, counted."""

from typing import Any

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeySequence
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QWidget

NAMED = {
    "Enter": Qt.Key.Key_Return, "Escape": Qt.Key.Key_Escape, "Tab": Qt.Key.Key_Tab, "Down": Qt.Key.Key_Down,
    "F4": Qt.Key.Key_F4, "F8": Qt.Key.Key_F8, "Delete": Qt.Key.Key_Delete,
}  # fmt: skip


class CountedKeys:
    """Presses keys one after the other and counts them."""

    def __init__(self) -> None:
        self.pressed = 0

    def press(self, *keys: str) -> None:
        """Press these, each a sign or a named key."""
        for key in keys:
            holder = self._holder(key)
            if key in NAMED:
                QTest.keyClick(holder, NAMED[key])
            elif "+" in key[1:]:
                QTest.keySequence(holder, QKeySequence(key))
            else:
                QTest.keyClicks(holder, key)
            QApplication.processEvents()
            self.pressed += 1

    def _holder(self, key: str) -> QWidget:
        # A window that a dialog has left becomes active only when its events were seen.
        for _ in range(100):
            holder = QApplication.focusWidget()
            if holder is not None:
                return holder
            QTest.qWait(10)
        raise AssertionError(f"nothing holds the keyboard for {key}")


def shown(qtbot: Any, widget: QWidget) -> None:
    """Show the widget as the active window, as shortcuts ask for."""
    qtbot.addWidget(widget)
    with qtbot.waitActive(widget):
        widget.show()
        widget.activateWindow()
