"""Acts on a fill that ask only one thing: why it is thrown away, for whom it is, whether it was really flooded.

The label of a fill: its picture, and printing or saving it.

Everything that is done to a canister, each on a button and a letter; both its list and its page offer it.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from io import BytesIO
from pathlib import Path
from zoneinfo import ZoneInfo

import shiboken6
from PySide6.QtCore import QSize, QSizeF, Qt, Signal, Slot
from PySide6.QtGui import QKeySequence, QPageSize, QPainter, QPixmap, QShortcut
from PySide6.QtWidgets import (
    QComboBox,
    QDialog,
    QFileDialog,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from fleetbench.records.core.errors import Refused
from fleetbench.window.canisters.pack import PackDialog
from fleetbench.window.canisters.run import RunDialog
from fleetbench.window.forms.fields import AnswerKey, Question
from fleetbench.window.forms.form import ActDialog
from fleetbench.window.look.buttons import Banner, lead_button, plain_button, quiet_button, text_label
from fleetbench.window.look.theme import APART, BLOCK, CLOSE, GRID, Theme
from fleetbench.window.look.words import day
from fleetbench.window.shell.background import Background, Job, Refresher
from fleetbench.window.shell.pictures import picture_of
from fleetbench.workshop.canisters.history import fill_label
from fleetbench.workshop.canisters.packing import (
    WHY_DISCARDED,
    PackChoices,
    Packed,
    close_up,
    discard_fill,
    give_fill,
    mark_flooded,
    pack_choices,
)
from fleetbench.workshop.core.workplace import Shop, read_centre

_WIDE = 270 * GRID


class DiscardDialog(ActDialog):
    """Throws a fill away with its reason on one key, or written out.

    Signals:
        done_with: the fill's key.
    """

    def __init__(
        self, theme: Theme, background: Background, shop: Shop, part_id: int, name: str, parent: QWidget | None = None
    ) -> None:
        super().__init__(theme, background, f"Discard the fill of {name}", "Throw it away", parent)
        self._shop, self._part_id = shop, part_id
        self.note.setText("Used absorbent is never poured back, packed again or passed on.")
        answers = tuple(AnswerKey(str(number), word, word) for number, word in enumerate(WHY_DISCARDED, start=1))
        self.why = Question(theme, "Why", answers, self)
        self.setMinimumWidth(_WIDE)
        self.other = QLineEdit(self)
        self.other.setPlaceholderText("or in your own words")
        self.other.setAccessibleName("reason in your own words")
        self.other.setMaxLength(200)
        self.body.addWidget(self.why)
        self.body.addWidget(self.other)
        self.other.returnPressed.connect(self.act)
        self.why.setFocus()

    @property
    def reason(self) -> str:
        """The reason as it stands."""
        return self.other.text().strip() or self.why.given or ""

    def work(self) -> Callable[[], object]:
        """Throwing it away for the reason given."""
        shop, part_id, why = self._shop, self._part_id, self.reason
        if not why:
            raise Refused(f"reason: is missing; press 1 to {len(WHY_DISCARDED)}, or write it")
        return lambda: discard_fill(shop, part_id, why)


class GiveDialog(ActDialog):
    """Says for which hire of its unit a fill is.

    Signals:
        done_with: the fill's key.
    """

    def __init__(
        self, theme: Theme, background: Background, shop: Shop, part_id: int, name: str, parent: QWidget | None = None
    ) -> None:
        super().__init__(theme, background, f"For whom is {name}?", "Give it", parent)
        self._shop, self._part_id = shop, part_id
        self.note.setText("A fill serves one diver and one hire. A used one stays with its diver.")
        self.hire = QComboBox(self)
        self.hire.setAccessibleName("hire")
        self.body.addWidget(self.hire)
        self._loader = Refresher(background, self)
        self._loader.loaded.connect(self.show_choices)
        self._loader.refused.connect(self.banner.say_refused)
        self._loader.ask(lambda: pack_choices(shop, part_id))
        self.hire.setFocus()

    @Slot(object)
    def show_choices(self, choices: PackChoices) -> None:
        """Offer the hires of the unit in which it sits, the next one first."""
        for each in choices.hires:
            self.hire.addItem(
                f"{each.diver}, {each.booking}, {day(each.starts_on)} to {day(each.ends_on)}", each.line_id
            )
        if not choices.hires:
            where = f"unit {choices.unit} has no hire to come" if choices.unit else "it sits in no unit"
            self.banner.say_refused(f"hire: {where}; the first run says whose the fill is")

    def work(self) -> Callable[[], object]:
        """Giving it to the hire that is chosen."""
        line = self.hire.currentData()
        if line is None:
            raise Refused("hire: is missing; the first run says whose the fill is")
        shop, part_id = self._shop, self._part_id
        return lambda: give_fill(shop, part_id, line_id=int(line))


class FloodedDialog(ActDialog):
    """Asks before a fill is recorded as flooded, which spends it.

    Signals:
        done_with: the fill's key.
    """

    def __init__(
        self, theme: Theme, background: Background, shop: Shop, part_id: int, name: str, parent: QWidget | None = None
    ) -> None:
        super().__init__(theme, background, f"{name} was flooded", "It was flooded", parent)
        self._shop, self._part_id = shop, part_id
        self.note.setText(
            "Flooded, or wetted beyond breath: the fill is spent at once. Wet absorbent is caustic: gloves, glasses "
            "and the maker's data sheet."
        )
        self.remark = QLineEdit(self)
        self.remark.setPlaceholderText("remark, for instance how much water")
        self.remark.setAccessibleName("remark")
        self.remark.setMaxLength(200)
        self.body.addWidget(self.remark)
        self.remark.returnPressed.connect(self.act)
        self.act_button.setFocus()

    def work(self) -> Callable[[], object]:
        """Recording the flood."""
        shop, part_id, note = self._shop, self._part_id, self.remark.text()
        return lambda: mark_flooded(shop, part_id, note=note)


_SHOWN = QSize(496, 232)
LABEL_MM = QSizeF(62, 29)


def label_pdf(shop: Shop, part_id: int, fill_id: int | None) -> bytes:
    """The label as PDF."""
    # reportlab and its typefaces take longer to load than the window
    from fleetbench.paper.canisters.labels import write_fill_labels

    stream = BytesIO()
    write_fill_labels([fill_label(shop, part_id, fill_id)], stream, centre=read_centre(shop).name)
    return stream.getvalue()


class LabelDialog(QDialog):
    """Shows the label of a fill, of the newest where none is named."""

    def __init__(
        self,
        theme: Theme,
        background: Background,
        shop: Shop,
        part_id: int,
        fill_id: int | None = None,
        parent: QWidget | None = None,
        *,
        make: Callable[[], bytes] | None = None,
        title: str = "Label of the fill",
    ) -> None:
        """make: what gives another label's PDF, called off the GUI thread."""
        super().__init__(parent)
        self.setWindowTitle(title)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.pdf = b""
        self.banner = Banner(theme, self)
        self.picture = QLabel(self)
        self.picture.setFixedSize(_SHOWN)
        self.picture.setAccessibleName("the label as it prints")
        self.print_button = lead_button(theme, "Print", "print", self)
        self.save_button = plain_button(theme, "Save as PDF…", "", self)
        self.leave_button = quiet_button(theme, "Close", "close", self)
        feet = QHBoxLayout()
        feet.setSpacing(CLOSE)
        for button in (self.print_button, self.save_button, self.leave_button):
            feet.addWidget(button)
        feet.addStretch(1)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(BLOCK, BLOCK, BLOCK, BLOCK)
        layout.setSpacing(APART)
        layout.addWidget(text_label(f"{title}, 62 × 29 mm", "heading", self))
        layout.addWidget(self.banner)
        layout.addWidget(self.picture)
        layout.addLayout(feet)
        for button in (self.print_button, self.save_button):
            button.setEnabled(False)
        self.print_button.clicked.connect(self.print_label)
        self.save_button.clicked.connect(self._on_save)
        self.leave_button.clicked.connect(self.reject)
        self._loader = Refresher(background, self)
        self._loader.loaded.connect(self.show_pdf)
        self._loader.refused.connect(self.banner.say_refused)
        self._loader.ask(make or (lambda: label_pdf(shop, part_id, fill_id)))

    @Slot(object)
    def show_pdf(self, pdf: bytes) -> None:
        """Show this label and let it be printed."""
        self.pdf = pdf
        self.picture.setPixmap(QPixmap.fromImage(picture_of(pdf, _SHOWN)))
        for button in (self.print_button, self.save_button):
            button.setEnabled(True)
        self.print_button.setFocus()

    @Slot()
    def print_label(self) -> None:
        """Print on a printer that is chosen."""
        # the print system is loaded by whoever prints
        from PySide6.QtPrintSupport import QPrintDialog, QPrinter

        printer = QPrinter(QPrinter.PrinterMode.HighResolution)
        printer.setPageSize(QPageSize(LABEL_MM, QPageSize.Unit.Millimeter, "label"))
        printer.setFullPage(True)
        chooser = QPrintDialog(printer, self)
        if chooser.exec() == QDialog.DialogCode.Accepted:
            painter = QPainter(printer)
            target = painter.viewport()
            painter.drawImage(target, picture_of(self.pdf, target.size()))
            painter.end()
            self.accept()

    def save_to(self, path: str) -> None:
        """Write the label to a file; says so where it cannot be written."""
        try:
            Path(path).write_bytes(self.pdf)
        except OSError as fault:
            self.banner.say_refused(f"file: {path} cannot be written ({fault.strerror}); choose another place")
            return
        self.banner.say_note(f"Saved as {path}.")

    @Slot()
    def _on_save(self) -> None:
        path, _ = QFileDialog.getSaveFileName(self, "Save the label", "label.pdf", "PDF (*.pdf)")
        if path:
            self.save_to(path)


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
