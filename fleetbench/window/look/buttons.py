"""Standard buttons and labels, made in one place."""

from PySide6.QtCore import QSize, Qt, Signal, Slot
from PySide6.QtGui import QPainter, QPaintEvent
from PySide6.QtWidgets import QFrame, QLabel, QPushButton, QWidget

from fleetbench.window.look.theme import Theme, font
from fleetbench.window.shell.place import Place


class PlaceButton(QPushButton):
    """A recorded name that can be pressed to go to its page.

    Signals:
        place_requested: the Place it leads to.
    """

    place_requested = Signal(object)

    def __init__(self, text: str, place: Place, parent: QWidget | None = None) -> None:
        super().__init__(as_button_text(text), parent)
        self._place = place
        self.setProperty("role", "goto")
        self.setAutoDefault(False)
        self.setCursor(Qt.CursorShape.PointingHandCursor)
        self.clicked.connect(self._on_clicked)

    @Slot()
    def _on_clicked(self) -> None:
        self.place_requested.emit(self._place)


def lead_button(theme: Theme, text: str, icon: str = "", parent: QWidget | None = None) -> QPushButton:
    """The one button of a page that does its main act."""
    return _button(theme, text, icon, "lead", parent)


def plain_button(theme: Theme, text: str, icon: str = "", parent: QWidget | None = None) -> QPushButton:
    """A button for any other act."""
    return _button(theme, text, icon, "plain", parent)


def quiet_button(theme: Theme, text: str, icon: str = "", parent: QWidget | None = None) -> QPushButton:
    """A button without a frame, for what is always at hand and seldom pressed."""
    return _button(theme, text, icon, "quiet", parent)


def choice_button(theme: Theme, text: str, parent: QWidget | None = None) -> QPushButton:
    """One of several choices of which one holds."""
    button = _button(theme, text, "", "choice", parent)
    button.setCheckable(True)
    return button


def for_bench(button: QPushButton) -> QPushButton:
    """The same button, large enough for wet hands."""
    button.setProperty("bench", True)
    button.setFont(font("heading"))
    return button


class ElidedLabel(QLabel):
    """One line of plain text that gives way where there is little room; the tool tip tells the whole."""

    def __init__(self, role: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setTextFormat(Qt.TextFormat.PlainText)
        self.setFont(font(role))
        self.setMinimumWidth(1)

    # Qt overrides

    def minimumSizeHint(self) -> QSize:
        return QSize(1, super().minimumSizeHint().height())

    def paintEvent(self, _event: QPaintEvent) -> None:
        painter = QPainter(self)
        text = self.fontMetrics().elidedText(self.text(), Qt.TextElideMode.ElideRight, self.width())
        painter.setPen(self.palette().windowText().color())
        painter.drawText(self.rect(), Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter, text)
        painter.end()


def text_label(text: str, role: str = "body", parent: QWidget | None = None) -> QLabel:
    """A label that shows its text as it is, never as markup, in a role of the type scale."""
    label = QLabel(parent)
    label.setTextFormat(Qt.TextFormat.PlainText)
    label.setText(text)
    label.setFont(font(role))
    label.setProperty("role", role)
    return label


def rule(parent: QWidget | None = None) -> QFrame:
    """A thin line between two parts of a page."""
    line = QFrame(parent)
    line.setProperty("role", "rule")
    return line


def as_button_text(text: str) -> str:
    """The text as a button shows it unchanged: a single & would become a mnemonic."""
    return text.replace("&", "&&")


def _button(theme: Theme, text: str, icon: str, role: str, parent: QWidget | None) -> QPushButton:
    button = QPushButton(as_button_text(text), parent)
    button.setProperty("role", role)
    button.setFont(font("strong"))
    button.setAutoDefault(False)
    if icon:
        theme.dress(button, icon, "on_accent" if role == "lead" else "ink")
    return button
