"""Everything that is done to a canister, each on a button and a letter; both its list and its page offer it."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from zoneinfo import ZoneInfo

import shiboken6
from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtGui import QKeySequence, QShortcut
from PySide6.QtWidgets import QDialog, QHBoxLayout, QPushButton, QWidget

from fleetbench.window.canisters.acts import DiscardDialog, FloodedDialog, GiveDialog
from fleetbench.window.canisters.label_dialog import LabelDialog
from fleetbench.window.canisters.pack import PackDialog
from fleetbench.window.canisters.run import RunDialog
from fleetbench.window.look.buttons import plain_button
from fleetbench.window.look.theme import CLOSE, Theme
from fleetbench.window.shell.background import Background, Job
from fleetbench.workshop.canisters.packing import Packed, close_up
from fleetbench.workshop.core.workplace import Shop


@dataclass(frozen=True, slots=True)
class BenchAct:
    """One act: its word, its letter, and its name in `CanisterBench`."""

    word: str
    key: str
    name: str


ACTS = (
    BenchAct("Pack", "P", "pack"),
    BenchAct("Log a run", "R", "log_run"),
    BenchAct("Put right", "U", "put_right"),
    BenchAct("For whom", "G", "give"),
    BenchAct("Close up", "C", "close_up"),
    BenchAct("Flooded", "W", "flooded"),
    BenchAct("Discard", "D", "discard"),
    BenchAct("Label", "L", "label"),
)


class CanisterBench(QWidget):
    """The row of acts, for the canister that is chosen.

    Signals:
        changed: one line that says what was done; whoever shows the canister loads it again.
        refused: one line that names what was refused and the remedy.
    """

    changed = Signal(str)
    refused = Signal(str)

    def __init__(
        self,
        theme: Theme,
        background: Background,
        shop: Shop,
        zone: ZoneInfo,
        keys_on: QWidget,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self._theme, self._background, self._shop, self._zone = theme, background, shop, zone
        self._keys_on = keys_on
        self._part_id: int | None = None
        self._name = ""
        self._has_fill = False
        self._dialog: QDialog | None = None
        self.buttons: dict[str, QPushButton] = {}
        line = QHBoxLayout(self)
        line.setContentsMargins(0, 0, 0, 0)
        line.setSpacing(CLOSE)
        for act in ACTS:
            button = plain_button(theme, f"{act.word}   {act.key}", "", self)
            button.clicked.connect(getattr(self, act.name))
            shortcut = QShortcut(QKeySequence(act.key), keys_on)
            shortcut.setContext(Qt.ShortcutContext.WidgetShortcut)
            shortcut.activated.connect(partial(self._press, act.name))
            self.buttons[act.name] = button
            line.addWidget(button)
        line.addStretch(1)
        self.choose(None, "", False)

    @property
    def dialog(self) -> QDialog | None:
        """The dialog that is open, if any."""
        return self._dialog if self._dialog is not None and shiboken6.isValid(self._dialog) else None

    def choose(self, part_id: int | None, name: str, has_fill: bool) -> None:
        """Act on this canister."""
        self._part_id, self._name, self._has_fill = part_id, name, has_fill
        for act in ACTS:
            self.buttons[act.name].setEnabled(part_id is not None and (has_fill or act.name == "pack"))

    @Slot()
    def pack(self) -> None:
        """Pack the chosen canister."""
        if self._part_id is not None:
            dialog = PackDialog(self._theme, self._background, self._shop, self._part_id, self.window())
            dialog.done_with.connect(self._on_packed)
            self._open(dialog)

    @Slot()
    def log_run(self) -> None:
        """Log a run of the fill in it."""
        if self._part_id is not None:
            dialog = RunDialog(self._theme, self._background, self._shop, self._part_id, self._zone, self.window())
            dialog.done_with.connect(partial(self._say, f"A run of {self._name} was logged."))
            self._open(dialog)

    @Slot()
    def put_right(self) -> None:
        """Put its last run right."""
        if self._part_id is not None:
            dialog = RunDialog(
                self._theme,
                self._background,
                self._shop,
                self._part_id,
                self._zone,
                self.window(),
                putting_right=True,
            )
            dialog.done_with.connect(partial(self._say, f"The last run of {self._name} was put right."))
            self._open(dialog)

    @Slot()
    def give(self) -> None:
        """Say for whom the fill is."""
        if self._part_id is not None:
            dialog = GiveDialog(self._theme, self._background, self._shop, self._part_id, self._name, self.window())
            dialog.done_with.connect(partial(self._say, f"Whose fill {self._name} holds was recorded."))
            self._open(dialog)

    @Slot()
    def close_up(self) -> None:
        """Record that it was closed up partly used."""
        part_id, shop = self._part_id, self._shop
        if part_id is not None:
            self._run(lambda: close_up(shop, part_id), partial(self._say, f"{self._name} was closed up."))

    @Slot()
    def flooded(self) -> None:
        """Record that the fill was flooded, after asking."""
        if self._part_id is not None:
            dialog = FloodedDialog(self._theme, self._background, self._shop, self._part_id, self._name, self.window())
            dialog.done_with.connect(partial(self._say, f"{self._name} was flooded: its fill is spent."))
            self._open(dialog)

    @Slot()
    def discard(self) -> None:
        """Throw the fill away, with a reason."""
        if self._part_id is not None:
            dialog = DiscardDialog(self._theme, self._background, self._shop, self._part_id, self._name, self.window())
            dialog.done_with.connect(partial(self._say, f"The fill of {self._name} was thrown away."))
            self._open(dialog)

    @Slot()
    def label(self) -> None:
        """Show the label of its fill."""
        if self._part_id is not None:
            self._open_label(self._part_id, None)

    def _press(self, name: str) -> None:
        self.buttons[name].click()

    def _open_label(self, part_id: int, fill_id: int | None) -> None:
        self._open(LabelDialog(self._theme, self._background, self._shop, part_id, fill_id, self.window()))

    def _open(self, dialog: QDialog) -> None:
        self._dialog = dialog
        dialog.finished.connect(self._on_dialog_left)
        dialog.open()

    @Slot()
    def _on_dialog_left(self) -> None:
        self.window().activateWindow()
        self._keys_on.setFocus()

    @Slot(object)
    def _on_packed(self, packed: Packed) -> None:
        mass = f"{packed.mass_g:g} g" if packed.mass_g is not None else "not weighed"
        words = f"{packed.canister} packed: {mass} of lot {packed.lot}, {packed.left_kg:.2f} kg left in the container."
        self.changed.emit(" ".join((words, *packed.warnings)))
        if self._part_id is not None:
            self._open_label(self._part_id, packed.fill_id)

    def _say(self, words: str, _value: object = None) -> None:
        self.changed.emit(words)

    def _run(self, work: Callable[[], object], then: Callable[[object], None]) -> None:
        job: Job = self._background.run(work, self)
        job.succeeded.connect(then)
        job.refused.connect(self.refused)
