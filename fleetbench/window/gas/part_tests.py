"""What is written down of a part that keeps an oxygen-clean status, wherever it lies: cleaned, or no longer clean."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import shiboken6
from PySide6.QtCore import Signal, Slot
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QWidget

from fleetbench.window.forms.form import ActDialog
from fleetbench.window.look.buttons import plain_button
from fleetbench.window.look.theme import CLOSE, Theme
from fleetbench.window.shell.background import Background
from fleetbench.workshop.core.workplace import Shop

ACTS = (("Cleaned for oxygen…", "cleaned"), ("Not clean any more…", "lost"))
SAID = {
    "cleaned": "{}: cleaning recorded.",
    "lost": "{}: recorded; it stops every hand-over until it is cleaned for oxygen again.",
}


@dataclass(frozen=True, slots=True)
class OnePart:
    """The part that the acts are for."""

    part_id: int
    serial: str


class PartTests(QWidget):
    """Buttons for what is written down of one part.

    Signals:
        changed: what was done, in a sentence.
        left: a dialog was closed.
    """

    changed = Signal(str)
    left = Signal()

    def __init__(self, theme: Theme, background: Background, shop: Shop, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme, self._background, self._shop = theme, background, shop
        self._part: OnePart | None = None
        self._dialog: ActDialog | None = None
        self.buttons: dict[str, QPushButton] = {}
        line = QHBoxLayout(self)
        line.setContentsMargins(0, 0, 0, 0)
        line.setSpacing(CLOSE)
        for word, name in ACTS:
            button = plain_button(theme, word, "", self)
            button.clicked.connect(partial(self.start, name))
            self.buttons[name] = button
            line.addWidget(button)
        line.addStretch(1)
        self.hide()

    @property
    def dialog(self) -> ActDialog | None:
        """The dialog that is open, if any."""
        return self._dialog if self._dialog is not None and shiboken6.isValid(self._dialog) else None

    def choose(self, part_id: int, name: str, state: str) -> None:
        """Act on this part where it keeps a status; of one scrapped or sent back nothing more is written down."""
        self._part = OnePart(part_id, name)
        # It reckons with what the start of the window does without.
        from fleetbench.workshop.gas.unit import keeps_clean

        shop, gone = self._shop, state in ("scrapped", "sent back")
        job = self._background.run(lambda: not gone and keeps_clean(shop, part_id), self)
        job.succeeded.connect(self.setVisible)

    def start(self, name: str, _checked: bool = False) -> None:
        """Open the dialog of an act."""
        if self._part is None:
            return
        # They reckon with what the start of the window does without.
        from fleetbench.window.gas.acts import CleanDialog, LostDialog

        part, common = self._part, (self._theme, self._background, self._shop)
        makers: dict[str, Callable[[], ActDialog]] = {
            "cleaned": lambda: CleanDialog(*common, (part,), self.window()),
            "lost": lambda: LostDialog(*common, (part,), self.window()),
        }
        self._dialog = makers[name]()
        self._dialog.done_with.connect(partial(self._say, SAID[name].format(part.serial)))
        self._dialog.finished.connect(self._on_left)
        self._dialog.open()

    def _say(self, words: str, _value: object = None) -> None:
        self.changed.emit(words)

    @Slot()
    def _on_left(self) -> None:
        self.window().activateWindow()
        self.left.emit()
