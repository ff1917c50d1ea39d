"""Where a figure comes from and what is expected of it: the last one beside its field, and a button for a meter.

A reading is asked for off the GUI thread and goes into the field it was asked for, as if it was typed there: asked
about once where it is unusual, and refused where it cannot be. Where anything was typed meanwhile it is thrown away.
"""

from abc import abstractmethod
from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING

from PySide6.QtCore import QEvent, QKeyCombination, QMetaMethod, QObject, Qt, QTimer, Signal, Slot
from PySide6.QtGui import QAction, QKeyEvent
from PySide6.QtWidgets import QComboBox, QHBoxLayout, QLabel, QLineEdit, QMenu, QToolButton, QVBoxLayout, QWidget

from fleetbench.calc.bench.meter import Metered, stored_as
from fleetbench.calc.core.languages import say, shown, strung, worded
from fleetbench.calc.core.measures import Measure
from fleetbench.calc.core.plausible import Likely, Plausible, Quantity, band_words, plausible
from fleetbench.records.core.errors import Refused
from fleetbench.window.look.buttons import Banner, text_label
from fleetbench.window.look.theme import GRID
from fleetbench.window.shell.background import Job, MeterDesk, meter_desk

if TYPE_CHECKING:
    from fleetbench.records.bench.reads import EquipmentRecord


class ExpectingField(QLineEdit):
    """A field that knows what is usual of the thing that is read into it, and says so in its own small line.

    A field without a quantity takes what nobody measures, and has no such line.
    """

    def __init__(self, quantity: Quantity | None, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.quantity = quantity
        self.last: float | None = None
        self.hours: float | None = None
        self.usual: tuple[float, float] | None = None
        self.known_as = "last"
        self.beside: QLabel | None = None

    def expect(
        self,
        *,
        last: float | None = None,
        hours: float | None = None,
        usual: tuple[float, float] | None = None,
        known_as: str = "last",
    ) -> None:
        """Say what is known of this very thing: its last figure with its age in hours, and what is usual of it."""
        self.last, self.hours, self.known_as = last, hours, known_as
        self.usual = usual or self.usual
        self._tell()

    def judged(self, value: float) -> Plausible:
        """Whether a figure of the field's quantity is taken, asked about or refused."""
        if self.quantity is None:
            return Plausible(Likely.FINE)
        return plausible(self.quantity, value, last=self.last, hours=self.hours, usual=self.usual)

    def beside_words(self) -> str:
        """The last figure and the band, without the unit that stands beside the field; empty where none is measured."""
        if self.quantity is None:
            return ""
        return band_words(self.quantity, last=self.last, hours=self.hours, usual=self.usual, known_as=self.known_as)

    def line_beside(self, parent: QWidget) -> QLabel:
        """The small line that a layout puts under the field; it follows what the field expects."""
        if self.beside is None:
            self.beside = text_label("", "small", parent)
        self._tell()
        return self.beside

    def _tell(self) -> None:
        words = self.beside_words()
        if self.beside is not None:
            self.beside.setText(shown(words))
        if self.quantity is not None:
            self.setAccessibleDescription(shown(strung(" ", filter(None, (words, str(self.quantity.unit))))))


def over_its_line(field: ExpectingField, parent: QWidget, line: QHBoxLayout | None = None) -> QVBoxLayout:
    """A field, or the line that holds it, over what stands beside it."""
    column = QVBoxLayout()
    column.setContentsMargins(0, 0, 0, 0)
    column.setSpacing(0)
    if line is None:
        column.addWidget(field)
    else:
        column.addLayout(line)
    if field.quantity is not None:
        column.addWidget(field.line_beside(parent))
    return column


METER_KEY = "Ctrl+R"
FOLLOW_MS = 200
"""Between two readings that follow one another, so that other work has its turn."""
METER_WORDS = say("Read the meter")
READ_AGAIN = say("Read the meter again to keep what it shows then, or Backspace to clear it.")
METER_CHORD = QKeyCombination(Qt.KeyboardModifier.ControlModifier, Qt.Key.Key_R)
_BUTTON_WIDTH = 7 * GRID


class MeteredField(ExpectingField):
    """A field that a meter can fill."""

    name: str

    @abstractmethod
    def take_reading(self, value: Metered) -> bool:
        """Whether what a meter gave is taken as if it was typed; False while it is asked about, since it is unusual.

        Read again it is kept. Refused, with the field as it was, where it cannot be.
        """

    @property
    @abstractmethod
    def metered(self) -> Metered | None:
        """The figure that stands here as a meter gave it; None where it was typed."""

    @abstractmethod
    def give(self, value: float) -> None:
        """Show this figure as it was given."""


def held(field: QLineEdit) -> str | Metered:
    """What stands in a field, with its source where a meter gave it, so that half-done work comes back as it was."""
    metered = field.metered if isinstance(field, MeteredField) else None
    return field.text() if metered is None else metered


def put_back(field: QLineEdit, value: str | Metered) -> None:
    """Show again what was held."""
    if isinstance(field, MeteredField) and isinstance(value, Metered):
        field.give(value)
    else:
        field.setText(str(value))


class FieldMeter(QObject):
    """The way from a meter into one field: its key, and its small button, which is there while a meter fits.

    kind, unit: what may be read into the field; an empty kind is no meter's.

    Signals:
        taken: the figure, with its source, that now stands in the field.
        offered: whether a meter fits.
        following: whether reading after reading is taken.
    """

    taken = Signal(object)
    offered = Signal(bool)
    following = Signal(bool)

    def __init__(self, field: MeteredField, quantity: Quantity | None) -> None:
        super().__init__(field)
        self._field = field
        self.kind, self.unit = "", ""
        self._box: QComboBox | None = None
        self._must: int | None = None
        self._desk: MeterDesk | None = None
        self._button: QAction | None = None
        self._job: Job | None = None
        self._standing, self._has_said = "", False
        self._each: Callable[[Metered], None] | None = None
        self._tool: EquipmentRecord | None = None
        if quantity is not None:
            self.serve(quantity.read_with, quantity.unit)
        field.installEventFilter(self)

    def serve(self, kind: str, unit: str | Measure, box: QComboBox | None = None) -> None:
        """Take readings of this kind of equipment in this unit; box: as `chosen_in`."""
        self.kind, self.unit, self._box = kind, stored_unit(unit), box
        self._offer()

    def chosen_in(self, box: QComboBox) -> None:
        """Read from the piece that is chosen there, and choose there what was read from."""
        self._box = box

    def keep_to(self, key: int | None) -> None:
        """Read from this piece alone, since others like it were read from it; None lets any fit."""
        self._must = key
        self._offer()

    def tools(self) -> "tuple[EquipmentRecord, ...]":
        """The meters that can be read into the field now."""
        found = self._desk.fitting(self.kind, self.unit) if self._desk is not None else ()
        if self._must is not None:
            return tuple(each for each in found if each.equipment_id == self._must)
        return found

    @property
    def is_following(self) -> bool:
        """True while reading after reading is taken."""
        return self._each is not None

    @Slot()
    def read(self) -> None:
        """Ask the meter for a reading; where several fit, the one chosen for the field, read last, or chosen now."""
        field = self._field
        if self._job is not None or self._each is not None or not field.isEnabled() or field.isReadOnly():
            return
        tools = self.tools()
        if not tools:
            what = (
                say("another piece was read before")
                if self._must is not None
                else say("the register holds no meter for it")
            )
            self.say(say("{name}: {what}; type the figure", name=self._name, what=what))
            return
        chosen = self._box.currentData() if self._box is not None else None
        last = self._desk.last_read(self.kind, self.unit) if self._desk is not None else None
        sure = [each for key in (chosen, last) for each in tools if each.equipment_id == key]
        if len(tools) == 1 or sure:
            self.ask((*sure, *tools)[0])
            return
        menu = QMenu(field)
        menu.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        for each in tools:
            menu.addAction(f"{each.name} {each.serial}", partial(self.ask, each))
        menu.popup(field.mapToGlobal(field.rect().bottomLeft()))

    def ask(self, tool: "EquipmentRecord") -> None:
        """Ask this meter."""
        if self._job is None and self._desk is not None:
            self._tool = tool
            self._standing = self._field.text()
            self._job = self._desk.read(tool, self.unit, self)
            self._job.succeeded.connect(self._on_read)
            self._job.refused.connect(self._on_refused)
            self._job.ended.connect(self._on_ended)
            self._show_busy()

    def follow(self, each: Callable[[Metered], None]) -> None:
        """Hand on reading after reading, as fast as the meter gives them; the first that is refused ends it."""
        self.read()
        if self._job is not None:
            self._each = each
            self.following.emit(True)

    def unfollow(self) -> None:
        """Hand on no more: what is on its way is thrown away."""
        if self._each is not None:
            self._each = None
            if self._job is not None:
                self._job.succeeded.disconnect(self._on_read)
            self.following.emit(False)

    @Slot()
    def _again(self) -> None:
        if self._each is not None and self._tool is not None:
            if self._field.isEnabled() and self._field.isVisible():
                self.ask(self._tool)
            else:
                self.unfollow()

    @Slot(str)
    def _on_refused(self, line: str) -> None:
        self.unfollow()
        self.say(line)

    @property
    def _name(self) -> str:
        return self._field.name

    @Slot(object)
    def _on_read(self, value: Metered) -> None:
        field = self._field
        if self._each is not None:
            self._each(value)
            return
        if field.text() != self._standing or not field.isEnabled() or not field.isVisible():
            self.say(say("{name}: was changed meanwhile, so what the meter gave was not taken", name=self._name))
            return
        try:
            if not field.take_reading(value):
                return
        except Refused as refusal:
            self.say(str(refusal))
            return
        if self._has_said:
            self.say("")
        box = self._box
        if box is not None and (place := box.findData(value.source.equipment_id)) not in (-1, box.currentIndex()):
            box.setCurrentIndex(place)
            box.activated.emit(place)
        self.taken.emit(value)

    @Slot()
    def _on_ended(self) -> None:
        self._job = None
        self._show_busy()
        if self._each is not None:
            QTimer.singleShot(FOLLOW_MS, self, self._again)

    def _show_busy(self) -> None:
        if self._button is not None:
            self._button.setEnabled(self._job is None)

    @Slot(str)
    def say(self, line: str) -> None:
        """Say one line where the field's own questions are said, else in the banner of its page or dialog.

        An empty one takes back what was said before.
        """
        self._has_said = bool(line)
        asked = getattr(self._field, "asked", None)
        if asked is not None and self._field.isSignalConnected(QMetaMethod.fromSignal(asked)):
            asked.emit(line)
            return
        above: QWidget | None = self._field
        while above is not None:
            banner = getattr(above, "banner", None)
            if isinstance(banner, Banner):
                banner.say_refused(line)
                return
            above = above.parentWidget()

    @Slot()
    def _offer(self) -> None:
        """Show the button while a meter fits."""
        offered = bool(self.tools())
        if offered and self._button is None and self._desk is not None:
            self._button = QAction(self._desk.theme.icon("meter", "muted"), worded(METER_WORDS), self)
            self._button.setToolTip(f"{worded(METER_WORDS)}   {METER_KEY}")
            self._button.triggered.connect(self.read)
            self._field.addAction(self._button, QLineEdit.ActionPosition.TrailingPosition)
            for button in self._field.findChildren(QToolButton):
                button.setAccessibleName(f"{worded(METER_WORDS)}: {worded(self._name)}")
            self._field.setMaximumWidth(min(self._field.maximumWidth() + _BUTTON_WIDTH, 16_000_000))
            self._desk.theme.changed.connect(self._tint)
        if self._button is not None:
            self._button.setVisible(offered)
        self.offered.emit(offered)

    @Slot()
    def _tint(self) -> None:
        if self._button is not None and self._desk is not None:
            self._button.setIcon(self._desk.theme.icon("meter", "muted"))

    # Qt overrides

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if event.type() == QEvent.Type.Show and self._desk is None:
            self._desk = meter_desk(self._field)
            if self._desk is not None:
                self._desk.changed.connect(self._offer)
                self._offer()
        elif self.kind and isinstance(event, QKeyEvent) and event.keyCombination() == METER_CHORD:
            if event.type() == QEvent.Type.ShortcutOverride:
                event.accept()
                return True
            if event.type() == QEvent.Type.KeyPress:
                if not event.isAutoRepeat():
                    self.read()
                return True
        return super().eventFilter(watched, event)


def stored_unit(unit: str | Measure) -> str:
    """The unit in which such a figure is stored, as the register of equipment writes it."""
    return stored_as(unit if isinstance(unit, str) else unit.units[0].sign)
