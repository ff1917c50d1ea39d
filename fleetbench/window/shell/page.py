"""What every page of the window can do."""

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent, QShowEvent
from PySide6.QtWidgets import QHBoxLayout, QVBoxLayout, QWidget

from fleetbench.window.lists.rows import as_plain_tip
from fleetbench.window.look.banner import Banner
from fleetbench.window.look.buttons import ElidedLabel, text_label
from fleetbench.window.look.theme import APART, CLOSE, SECTION, Theme


class Page(QWidget):
    """A page with a title, a line that sums it up, a banner, and room for its content.

    is_loaded is true once the page shows what it is for, or says why it cannot.

    Signals:
        place_requested: the Place to go to.
        action_requested: the id of an action to run.
        back_requested: Escape was pressed and the page has nothing of its own to leave.
    """

    place_requested = Signal(object)
    action_requested = Signal(str)
    back_requested = Signal()

    def __init__(self, theme: Theme, title: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("page")
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        self.theme = theme
        self.is_loaded = False
        self._title = text_label(title, "title", self)
        self._summary = ElidedLabel("body", self)
        self._summary.setProperty("role", "small")
        self.banner = Banner(theme, self)
        self.heading = QHBoxLayout()
        self.heading.setSpacing(APART)
        self.heading.addWidget(self._title, 0, Qt.AlignmentFlag.AlignBaseline)
        self.heading.addWidget(self._summary, 1, Qt.AlignmentFlag.AlignBaseline)
        self.content = QVBoxLayout(self)
        self.content.setContentsMargins(SECTION, CLOSE, SECTION, APART)
        self.content.setSpacing(APART)
        self.content.addLayout(self.heading)
        self.content.addWidget(self.banner)

    @property
    def title(self) -> str:
        """The title as shown."""
        return self._title.text()

    @property
    def summary(self) -> str:
        """The line beside the title."""
        return self._summary.text()

    def set_title(self, title: str) -> None:
        """Show another title."""
        self._title.setText(title)

    def set_summary(self, line: str) -> None:
        """Sum the page up in one line."""
        self._summary.setText(line)
        self._summary.setToolTip(as_plain_tip(line))

    def _move_banner(self) -> None:
        """Let the banner take its room from what can give way, so that it moves nothing under the pointer."""
        yielding = [at for at in range(2, self.content.count()) if self._yields(at)]
        self.content.removeWidget(self.banner)
        self.content.insertWidget(yielding[-1] if yielding else self.content.count(), self.banner)

    def _yields(self, at: int) -> bool:
        item = self.content.itemAt(at)
        return self.content.stretch(at) > 0 or Qt.Orientation.Vertical in item.expandingDirections()

    def refresh(self) -> None:
        """Load again what the page shows."""

    def show_key(self, key: str) -> None:
        """Show the thing with that key; a page of one thing says how."""

    def focus_first(self) -> None:
        """Put the keyboard where work on this page starts."""
        self.setFocus()

    # Qt overrides

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        if self.content.itemAt(1).widget() is self.banner:
            self._move_banner()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape:
            self.back_requested.emit()
            return
        super().keyPressEvent(event)
