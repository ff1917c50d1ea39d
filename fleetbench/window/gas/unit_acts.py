"""What the acts on a unit's gas side ask: volts of every device at once, which parts were cleaned, serviced, opened.

What is written down of a part that keeps an oxygen-clean status, wherever it lies: cleaned, or no longer clean.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from itertools import pairwise
from typing import TYPE_CHECKING

import shiboken6
from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QComboBox, QGridLayout, QHBoxLayout, QLineEdit, QPushButton, QVBoxLayout, QWidget

from fleetbench.calc.core.plausible import BATTERY, battery_usual
from fleetbench.records.core.errors import Refused
from fleetbench.window.forms.fields import DecimalField, Question, labelled
from fleetbench.window.forms.form import ENTER, ActDialog
from fleetbench.window.gas.acts import PASSED, CleanDialog, LostDialog
from fleetbench.window.look.buttons import choice_button, plain_button, text_label
from fleetbench.window.look.theme import CLOSE, GRID, TIGHT, Theme
from fleetbench.window.look.words import figure
from fleetbench.window.parts.part_dialogs import MARK_HINT, line_field, marked_of
from fleetbench.window.shell.background import Background
from fleetbench.workshop.core.workplace import Shop
from fleetbench.workshop.gas.clean import OxygenSidePart
from fleetbench.workshop.gas.entry import record_test
from fleetbench.workshop.gas.unit import ServiceLine, UnitGas
from fleetbench.workshop.turn_rounds.handsets import record_batteries

if TYPE_CHECKING:
    from fleetbench.calc.parts.life import MarkedDate

OWN_DISPLAY = "each device's own display"


class PartTicks(QWidget):
    """Parts to be ticked, by mouse, by space, or each by its number; Enter moves on.

    Signals:
        finished: Enter was pressed; whoever holds it moves on.
    """

    finished = Signal()

    def __init__(self, theme: Theme, parts: Sequence[tuple[int, str]], parent: QWidget) -> None:
        super().__init__(parent)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(TIGHT)
        column.addWidget(text_label("Which parts; a number ticks one, 0 all", "label", self))
        self.boxes: dict[int, QPushButton] = {}
        self._words: dict[int, str] = {}
        for number, (key, words) in enumerate(parts, 1):
            box = choice_button(theme, "", self)
            box.setAccessibleName(words)
            self.boxes[key], self._words[key] = box, f"{number}   {words}"
            box.toggled.connect(partial(self._say, key))
            self._say(key, False)
            column.addWidget(box, 0, Qt.AlignmentFlag.AlignLeft)
        if len(parts) == 1:
            next(iter(self.boxes.values())).setChecked(True)

    def _say(self, key: int, ticked: bool) -> None:
        # A word beside the colour, since colour alone is seen by not everybody.
        self.boxes[key].setText(self._words[key] + ("   chosen" if ticked else ""))

    def press(self, digit: str) -> None:
        """Tick the part with this number, or all."""
        boxes = list(self.boxes.values())
        if digit == "0":
            for box in boxes:
                box.setChecked(True)
        elif int(digit) <= len(boxes):
            boxes[int(digit) - 1].toggle()

    def chosen(self) -> tuple[int, ...]:
        """The keys of what is ticked; Refused where nothing is."""
        keys = tuple(key for key, box in self.boxes.items() if box.isChecked())
        if not keys:
            raise Refused("parts: none is ticked; press the number of each")
        return keys

    # Qt overrides

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.text().isascii() and event.text().isdigit():
            self.press(event.text())
            return
        if event.key() in ENTER:
            self.finished.emit()
            return
        super().keyPressEvent(event)

    def focus_first(self) -> None:
        """Put the keyboard on the first part."""
        next(iter(self.boxes.values())).setFocus()


def _named(parts: Sequence[OxygenSidePart]) -> list[tuple[int, str]]:
    return [(each.part_id, f"{each.slot}, {each.part}: {each.status.words}") for each in parts]


class BatteryDialog(ActDialog):
    """Volts of every device of a unit, in one act.

    Signals:
        done_with: the answers, one a device.
    """

    def __init__(
        self, theme: Theme, background: Background, shop: Shop, side: UnitGas, parent: QWidget | None = None
    ) -> None:
        super().__init__(theme, background, f"Batteries of {side.tag}", "Record", parent)
        self._shop, self._tag = shop, side.tag
        self.note.setText("Enter moves on. A device left empty was not read, and stays without a reading.")
        self.meter = QComboBox(self)
        self.meter.setAccessibleName("read on")
        self.meter.addItem(OWN_DISPLAY, None)
        for key, name in side.meters:
            self.meter.addItem(name, key)
        self.body.addLayout(labelled(self.meter, "Read on", self))
        grid = QGridLayout()
        grid.setHorizontalSpacing(CLOSE * 2)
        grid.setVerticalSpacing(CLOSE)
        self.fields: dict[str, DecimalField] = {}
        for number, line in enumerate(each for each in side.batteries if each.part_id is not None):
            field = DecimalField(f"{line.device} battery", self, quantity=BATTERY)
            field.expect(last=line.volts, usual=battery_usual(line.replace_volts))
            self.fields[line.slot] = field
            told = f"replace under {figure(line.replace_volts, 'V', 2, 'not recorded')}, "
            told += f"last {figure(line.volts, 'V', 2, 'not read')}"
            cells = (text_label(line.device, "strong", self), field, text_label("V", "small", self),
                     text_label(told, "small", self))  # fmt: skip
            for column, widget in enumerate(cells):
                grid.addWidget(widget, number, column)
        grid.setColumnStretch(4, 1)
        self.body.addLayout(grid)
        widgets: list[QWidget] = [*self.fields.values(), self.act_button]
        for before, after in pairwise(widgets):
            if isinstance(before, QLineEdit):
                before.returnPressed.connect(after.setFocus)
        widgets[0].setFocus()

    def work(self) -> Callable[[], object]:
        """Recording what was read."""
        volts = {slot: value for slot, field in self.fields.items() if (value := field.value()) is not None}
        if not volts:
            raise Refused("volts: none is typed; read at least one battery")
        shop, tag, meter = self._shop, self._tag, self.meter.currentData()
        return lambda: record_batteries(shop, tag, volts, equipment_id=meter)


class ServiceDialog(ActDialog):
    """A service done: which parts, passed or not, when, by whom and how.

    Signals:
        done_with: the keys of the services.
    """

    def __init__(
        self, theme: Theme, background: Background, shop: Shop, tag: str, lines: Sequence[ServiceLine],
        parent: QWidget | None = None,
    ) -> None:  # fmt: skip
        super().__init__(theme, background, f"Service on {tag}", "Record", parent)
        self._shop = shop
        self.setMinimumWidth(150 * GRID)
        self.note.setText(
            "Only by whom the maker and local law allow. Lots of lubricant and seal kits are kept on the ticket."
        )
        self.ticks = PartTicks(theme, [(each.part_id, f"{each.slot}, {each.serial}") for each in lines], self)
        self.passed = Question(theme, "Result", PASSED, self)
        self.done_on = line_field("done on", self, f"today where empty, or {MARK_HINT}")
        self.done_by, self.how = line_field("done by", self, "workshop or technician"), line_field("how", self)
        self.body.addWidget(self.ticks)
        self.body.addWidget(self.passed)
        for words, field in (("Done on", self.done_on), ("Done by", self.done_by), ("What was done", self.how)):
            self.body.addLayout(labelled(field, words, self))
        self.ticks.finished.connect(self.passed.setFocus)
        self.passed.answered.connect(self.done_on.setFocus)
        for before, after in pairwise((self.done_on, self.done_by, self.how)):
            before.returnPressed.connect(after.setFocus)
        self.how.returnPressed.connect(self.act)
        (self.passed if len(lines) == 1 else self.ticks.boxes[lines[0].part_id]).setFocus()

    def work(self) -> Callable[[], object]:
        """Recording the service."""
        keys = self.ticks.chosen()
        if self.passed.given is None:
            raise Refused("result: say whether it was passed")
        done: MarkedDate | None = marked_of(self.done_on)
        shop, passed, by, how = self._shop, self.passed.given == "yes", self.done_by.text(), self.how.text()
        return lambda: record_test(shop, keys, "service", done=done, passed=passed, done_by=by, how=how)


class PartsCleanDialog(CleanDialog):
    """Parts on the oxygen side of a unit, cleaned for oxygen on the clean bench."""

    def __init__(
        self, theme: Theme, background: Background, shop: Shop, tag: str, parts: Sequence[OxygenSidePart],
        parent: QWidget | None = None,
    ) -> None:  # fmt: skip
        super().__init__(theme, background, shop, (), parent)
        _retitle(self, f"{tag}: cleaned for oxygen")
        self.ticks = PartTicks(theme, _named(parts), self)
        self.body.insertWidget(0, self.ticks)
        self.ticks.finished.connect(self.how.setFocus)
        self.ticks.focus_first()

    def work(self) -> Callable[[], object]:
        """Recording the cleaning of what is ticked."""
        self._keys = self.ticks.chosen()
        return super().work()


class PartsLostDialog(LostDialog):
    """What ended the oxygen-clean status of parts of a unit."""

    def __init__(
        self, theme: Theme, background: Background, shop: Shop, tag: str, parts: Sequence[OxygenSidePart],
        parent: QWidget | None = None,
    ) -> None:  # fmt: skip
        super().__init__(theme, background, shop, (), parent)
        _retitle(self, f"{tag}: oxygen-clean lost")
        self.ticks = PartTicks(theme, _named(parts), self)
        self.body.insertWidget(0, self.ticks)
        self.ticks.finished.connect(self.why.setFocus)
        self.ticks.focus_first()

    def work(self) -> Callable[[], object]:
        """Recording the loss of what is ticked."""
        self._keys = self.ticks.chosen()
        return super().work()


def _retitle(dialog: ActDialog, title: str) -> None:
    dialog.setWindowTitle(title)
    dialog.heading.setText(title)


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
