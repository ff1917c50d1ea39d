"""What stands where a list would be: what is missing and what to do next."""

from dataclasses import dataclass

from PySide6.QtCore import QSize, Qt, Signal, Slot
from PySide6.QtWidgets import QLabel, QVBoxLayout, QWidget

from fleetbench.window.look.buttons import lead_button, text_label
from fleetbench.window.look.theme import APART, BLOCK, GRID, Theme


@dataclass(frozen=True, slots=True)
class Emptiness:
    """Why a page is empty: a headline, what to do next, and the id of the action that does it, if there is one."""

    headline: str
    next_step: str
    icon: str = "note"
    action: str = ""
    action_text: str = ""


def nothing_recorded(headline: str, icon: str) -> Emptiness:
    """What a list says while nothing of its kind is recorded: bring in the centre's sheets."""
    return Emptiness(
        headline,
        "Bring in the folder that holds the centre's sheets; it is checked first, and nothing is half taken.",
        icon,
        "bring_in",
        "Bring in sheets",
    )


class EmptyState(QWidget):
    """Says why there is nothing and offers the next step.

    Signals:
        action_requested: the id of the action to run.
    """

    action_requested = Signal(str)

    def __init__(self, theme: Theme, emptiness: Emptiness, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._emptiness = emptiness
        self._picture = QLabel(self)
        self._headline = _centred(emptiness.headline, "heading", self)
        self._next = _centred(emptiness.next_step, "body", self)
        self.button = lead_button(theme, emptiness.action_text, "", self)
        self.offer(bool(emptiness.action))
        self._lay_out()
        self.button.clicked.connect(self._on_pressed)
        theme.changed.connect(self._tint)
        self._tint()

    def _lay_out(self) -> None:
        layout = QVBoxLayout(self)
        layout.setSpacing(APART)
        layout.addStretch(2)
        layout.addWidget(self._picture, 0, Qt.AlignmentFlag.AlignHCenter)
        layout.addWidget(self._headline, 0, Qt.AlignmentFlag.AlignHCenter)
        layout.addWidget(self._next, 0, Qt.AlignmentFlag.AlignHCenter)
        layout.addSpacing(BLOCK)
        layout.addWidget(self.button, 0, Qt.AlignmentFlag.AlignHCenter)
        layout.addStretch(3)

    @property
    def words(self) -> tuple[str, str]:
        """Headline and next step as shown."""
        return self._headline.text(), self._next.text()

    def say(self, headline: str, next_step: str) -> None:
        """Say something else; the action is no longer offered."""
        self._headline.setText(headline)
        self._next.setText(next_step)
        self.offer(False)

    def offer(self, offered: bool) -> None:
        """Show or hide the button."""
        self.button.setVisible(offered)

    @Slot()
    def _tint(self) -> None:
        self._picture.setPixmap(self._theme.icon(self._emptiness.icon, "muted").pixmap(QSize(32, 32)))

    @Slot()
    def _on_pressed(self) -> None:
        self.action_requested.emit(self._emptiness.action)


def _centred(text: str, role: str, parent: QWidget) -> QLabel:
    label = text_label(text, role, parent)
    label.setAlignment(Qt.AlignmentFlag.AlignHCenter)
    label.setWordWrap(True)
    label.setFixedWidth(120 * GRID)
    return label
