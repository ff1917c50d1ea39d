"""One clear line inside a page: what was refused and what to do, or a plain note."""

from PySide6.QtCore import Qt, Slot
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QFrame, QHBoxLayout, QSizePolicy, QWidget

from fleetbench.window.look.buttons import quiet_button, text_label
from fleetbench.window.look.theme import BLOCK, CLOSE, TIGHT, Theme


class Banner(QFrame):
    """Hidden until it has something to say; stays until it is closed or what it says no longer holds."""

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._text = text_label("", "body", self)
        self._text.setWordWrap(True)
        self._text.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self._text.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Preferred)
        self._close = quiet_button(theme, "Close", "close", self)
        layout = QHBoxLayout(self)
        layout.setContentsMargins(BLOCK, TIGHT, CLOSE, TIGHT)
        layout.addWidget(self._text, 1)
        layout.addWidget(self._close)
        self._close.clicked.connect(self.clear)
        self.hide()

    @property
    def text(self) -> str:
        """What is said now; empty when the banner is hidden."""
        return "" if self.isHidden() else self._text.text()

    @Slot(str)
    def say_refused(self, line: str) -> None:
        """Say what was refused and the remedy."""
        self._say("refused", line)

    @Slot(str)
    def say_note(self, line: str) -> None:
        """Say something that needs no act."""
        self._say("note", line)

    def say_recorded(self, line: str, *, rejected: bool) -> None:
        """Say what was recorded; a reject among it looks like one, and stays when a refusal is taken back."""
        self._say("rejected" if rejected else "note", line)

    @Slot()
    def clear(self) -> None:
        """Say nothing more."""
        self.hide()

    @Slot()
    def take_back_refusal(self) -> None:
        """Stop saying what was refused, because it works now; a note stays."""
        if self.property("role") == "refused":
            self.clear()

    def _say(self, role: str, line: str) -> None:
        self.setProperty("role", role)
        self.style().unpolish(self)
        self.style().polish(self)
        self._text.setText(line)
        self.show()

    # Qt overrides

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape:
            self.clear()
            return
        super().keyPressEvent(event)
