"""The row of acts on parts, as it stands over the shelf's list and on a part's page: buttons, keys and who acts."""

from collections.abc import Callable, Sequence
from functools import partial
from typing import Any

import shiboken6
from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtGui import QKeySequence, QShortcut
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QWidget

from fleetbench.window.forms.form import ActDialog
from fleetbench.window.look.buttons import plain_button, quiet_button
from fleetbench.window.look.theme import CLOSE, Theme
from fleetbench.window.parts.part_dialogs import (
    MoveDialog,
    OpenDialog,
    ReasonDialog,
    ReceiveDialog,
    ReleaseDialog,
    SendBackDialog,
    ServiceDialog,
    received_words,
)
from fleetbench.window.shell.background import Background
from fleetbench.workshop.core.workplace import Shop
from fleetbench.workshop.parts import acts as part_acts
from fleetbench.workshop.parts.receive import Received

ACTS: tuple[tuple[str, str, str], ...] = (
    ("Open", "O", "open_part"),
    ("Move", "M", "move_parts"),
    ("Tested", "V", "record_test"),
    ("Set aside", "Q", "quarantine_part"),
    ("Release", "L", "release_part"),
    ("Send back", "B", "send_back"),
    ("Take back", "T", "take_back"),
    ("Scrap", "X", "scrap_part"),
    ("Undo", "U", "undo_last"),
)
"""Word, key and act; the act's name is the function's and what `PartStory.can` holds."""

NOTES = {
    "quarantine_part": "It cannot be fitted until somebody releases it with a reason.",
    "take_back": "It waits set aside until somebody releases it.",
    "scrap_part": "It leaves stock for good. Its record stays.",
    "undo_last": "The last act on it is taken back by an act that says so; both stay on record.",
}
TITLES = {
    "quarantine_part": ("Set {} aside", "Set aside", "was set aside"),
    "take_back": ("Take {} back", "Take back", "was taken back and waits set aside"),
    "scrap_part": ("Scrap {}", "Scrap", "was scrapped"),
    "undo_last": ("Undo the last act on {}", "Take it back", "stands as it did before"),
}


class PartDesk(QWidget):
    """Buttons for the acts on the chosen parts.

    Signals:
        changed: what was done, in a sentence.
        refused: why something was not done.
        left: a dialog was closed.
    """

    changed = Signal(str)
    refused = Signal(str)
    left = Signal()

    def __init__(
        self, theme: Theme, background: Background, shop: Shop, *, receives: bool, keys_on: QWidget | None = None,
        parent: QWidget | None = None,
    ) -> None:  # fmt: skip
        super().__init__(parent)
        self._theme, self._background, self._shop = theme, background, shop
        self._keys_on = keys_on
        self._chosen: tuple[tuple[int, str], ...] = ()
        self._type_code = ""
        self._asked = False
        self._dialog: ActDialog | None = None
        self.buttons: dict[str, QPushButton] = {}
        self._line = line = QHBoxLayout(self)
        line.setContentsMargins(0, 0, 0, 0)
        line.setSpacing(CLOSE)
        if receives:
            self._add(line, "Receive", "N", "receive", plain_button)
        for word, key, name in ACTS:
            self._add(line, word, key, name, quiet_button if name == "undo_last" else plain_button)
        line.addStretch(1)
        self.choose((), ())

    def _add(self, line: QHBoxLayout, word: str, key: str, name: str, make: Callable[..., QPushButton]) -> None:
        button = make(self._theme, f"{word}   {key}" if self._keys_on is not None else word, "", self)
        button.clicked.connect(partial(self.start, name))
        if self._keys_on is not None:
            shortcut = QShortcut(QKeySequence(key), self._keys_on)
            shortcut.setContext(Qt.ShortcutContext.WidgetShortcut)
            shortcut.activated.connect(button.click)
        self.buttons[name] = button
        line.addWidget(button)

    def put_first(self, widget: QWidget) -> None:
        """Let other acts stand before these in the same row."""
        self._line.insertWidget(0, widget)

    @property
    def dialog(self) -> ActDialog | None:
        """The dialog that is open, if any."""
        return self._dialog if self._dialog is not None and shiboken6.isValid(self._dialog) else None

    def choose(self, parts: Sequence[tuple[int, str]], can: Sequence[str], type_code: str = "") -> None:
        """Say which parts (key and name) the acts are for, and which acts their state allows."""
        self._chosen, self._type_code = tuple(parts), type_code
        for name, button in self.buttons.items():
            alone = len(self._chosen) == 1 or name == "move_parts"
            wanted = name == "receive" or (name in can and bool(self._chosen) and alone)
            button.setEnabled(wanted)
            if self._keys_on is None:
                button.setVisible(wanted)
                continue
            if name in ("release_part", "take_back", "quarantine_part"):
                button.setVisible(wanted or (name == "quarantine_part" and not self._chosen))

    def start(self, name: str, _checked: bool = False) -> None:
        """Open the dialog of an act."""
        if name == "receive":
            dialog: ActDialog = ReceiveDialog(self._theme, self._background, self._shop, self.window())
            self._open(dialog, self._say_received)
            return
        if not self._chosen:
            return
        key, part = self._chosen[0]
        common = (self._theme, self._background, self._shop)
        if name == "open_part":
            self._open(OpenDialog(*common, key, part, self.window()), partial(self._say, f"{part} was opened."))
        elif name == "move_parts":
            keys = [each for each, _ in self._chosen]
            what = part if len(keys) == 1 else f"{len(keys)} parts"
            self._open(MoveDialog(*common, keys, what, self.window()), partial(self._say, f"{what} moved."))
        elif name == "record_test":
            self._open(ServiceDialog(*common, key, part, self.window()), partial(self._say, f"{part}: recorded."))
        elif name == "release_part":
            dialog = ReleaseDialog(*common, key, part, self.window())
            self._open(dialog, partial(self._say, f"{part} was released."))
        elif name == "send_back":
            dialog = SendBackDialog(*common, key, part, self.window())
            self._open(dialog, partial(self._say, f"{part} was sent back with its readings."))
        else:
            self._start_with_reason(name, key, part)

    def _start_with_reason(self, name: str, key: int, part: str) -> None:
        title, words, done = TITLES[name]
        act, shop = getattr(part_acts, name), self._shop
        dialog = ReasonDialog(
            self._theme, self._background, title.format(part), words, NOTES[name],
            lambda reason: act(shop, key, reason), self.window(),
        )  # fmt: skip
        self._open(dialog, partial(self._say, f"{part} {done}."))

    def _open(self, dialog: ActDialog, then: Callable[[Any], None]) -> None:
        self._dialog = dialog
        dialog.done_with.connect(then)
        dialog.finished.connect(self._on_left)
        dialog.open()

    def _say(self, words: str, _value: object = None) -> None:
        self.changed.emit(words)

    def _say_received(self, received: Received) -> None:
        self.changed.emit(received_words(received))

    @Slot(int)
    def _on_left(self, _result: int) -> None:
        self.window().activateWindow()
        self.left.emit()
