"""What stands in the window before the records are open, and when they cannot be opened."""

from PySide6.QtCore import Signal, Slot
from PySide6.QtWidgets import QWidget

from fleetbench.window.look.empty_state import Emptiness, EmptyState
from fleetbench.window.look.theme import Theme
from fleetbench.window.shell.page import Page

_OPENING = Emptiness("Opening the records", "This takes a moment.", "units", "try_again", "Try again")


class StartPage(Page):
    """Says that the records are being opened, or why they cannot be, with a way to try again.

    Signals:
        try_again_requested: the reader has mended what was wrong.
    """

    try_again_requested = Signal()

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(theme, "", parent)
        self.state = EmptyState(theme, _OPENING, self)
        self.state.offer(False)
        self.content.addWidget(self.state, 1)
        self.state.action_requested.connect(self._on_action)

    @Slot(str)
    def say_refused(self, line: str) -> None:
        """Say why the records cannot be opened."""
        self.state.say("The records cannot be opened", line)
        self.state.offer(True)

    @Slot()
    def say_opening(self) -> None:
        """Say that they are being opened."""
        self.state.say(_OPENING.headline, _OPENING.next_step)
        self.state.offer(False)

    @Slot(str)
    def _on_action(self, _name: str) -> None:
        self.say_opening()
        self.try_again_requested.emit()
