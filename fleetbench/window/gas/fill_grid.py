"""The rows of the fill log: a cylinder a row, its pressures typed without leaving the keyboard's number block.

A pressure at the end moves on by itself after three digits; = repeats the one above, as on one whip or bank; / says
that the start was not read. Gas stands ready by role and is changed where it differs.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QFocusEvent, QKeyEvent
from PySide6.QtWidgets import QGridLayout, QLineEdit, QWidget

from fleetbench.calc.bench.meter import Metered
from fleetbench.calc.core.languages import say, shown, strung, worded
from fleetbench.calc.core.measures import BAR
from fleetbench.calc.core.plausible import CYLINDER_PRESSURE, Likely, written_figure
from fleetbench.records.core.errors import Refused
from fleetbench.window.forms.figure import ENTER, NOT_KNOWN_KEY, NOT_KNOWN_TEXT
from fleetbench.window.forms.metered import FieldMeter, MeteredField, held, over_its_line, put_back
from fleetbench.window.look.buttons import text_label
from fleetbench.window.look.marks import ADVISE, STOP
from fleetbench.window.look.state_delegate import MarkLabel
from fleetbench.window.look.theme import CLOSE, GRID, Theme, text_width
from fleetbench.window.look.words import NONE
from fleetbench.workshop.gas.fills import EntryFindings, FillEntry
from fleetbench.workshop.gas.list import CylinderLine

REPEAT_KEY = "="
DIGITS, DIGITS_OF_PSI = 3, 4
_ASKED = {"oxygen": (100.0, 0.0)}
_AIR = (21.0, 0.0)


class BarField(MeteredField):
    """One gauge pressure in whole bar or psi, empty, given, or not read. The last digit of the unit's widest moves on.

    What a gauge gives by itself stands to its resolution, and the keyboard stays: Enter leads on.

    Signals:
        entered: a pressure was given, or the field was passed on empty; whoever holds it moves on.
        repeat_wanted: the key that repeats the one above.
        stepped: rows to go from here.
        backed: Backspace in an empty field.
        reached: the keyboard came to it.
    """

    entered = Signal()
    reached = Signal()
    repeat_wanted = Signal()
    stepped = Signal(int)
    backed = Signal()

    def __init__(self, name: str, *, moves_on: bool, parent: QWidget | None = None) -> None:
        super().__init__(CYLINDER_PRESSURE, parent)
        self.name = name
        self._moves_on = moves_on
        self._fresh = False
        self._given: tuple[str, float] | None = None
        # A dialog that keeps Enter from its act gives it back as this signal.
        self.returnPressed.connect(self.entered)
        self.setAccessibleName(shown(strung(", ", (name, str(BAR)))))
        self.setAlignment(Qt.AlignmentFlag.AlignRight)
        self.setMaximumWidth(text_width("not known", "body") + 24)
        self.setMinimumWidth(text_width("not known", "body") + 16)
        self.meter = FieldMeter(self, CYLINDER_PRESSURE)

    @property
    def value(self) -> float | None:
        """The pressure; None where it is empty or was not read."""
        text = self.text()
        if self._given is not None:
            return self._given[1]
        return BAR.typed(float(text)) if text.isdigit() else None

    @property
    def metered(self) -> Metered | None:
        given = self._given[1] if self._given is not None else None
        return given if isinstance(given, Metered) else None

    def give(self, value: float | None) -> None:
        """Show this pressure, which stays what it is to its last digit until something is typed; or nothing."""
        places = value.places if isinstance(value, Metered) else 0
        self.setText("" if value is None else BAR.number(value, places))
        self._given = None if value is None else (self.text(), value)

    def take_reading(self, value: Metered) -> bool:
        found = self.judged(value)
        if found.likely is Likely.REFUSE:
            raise Refused(strung(": ", (self.name, found.words)))
        self.give(value)
        self._fresh = True
        return True

    # Qt overrides

    def setText(self, text: str | None) -> None:
        """Show this text, as if it was typed."""
        self._given = None
        super().setText(text)

    def focusInEvent(self, event: QFocusEvent) -> None:
        super().focusInEvent(event)
        self.reached.emit()
        # What stands there is written over by the first digit, as a scale's display is.
        self._fresh = True

    def keyPressEvent(self, event: QKeyEvent) -> None:
        text, key = event.text(), event.key()
        if text.isascii() and text.isdigit():
            typed = text if self._fresh or not self.text().isdigit() else self.text() + text
            self._fresh = False
            most = DIGITS if BAR.is_stored else DIGITS_OF_PSI
            if len(typed) <= most:
                self.setText(typed)
            if self._moves_on and len(typed) == most:
                self.entered.emit()
        elif text == REPEAT_KEY:
            self.repeat_wanted.emit()
        elif text == NOT_KNOWN_KEY:
            self.setText(NOT_KNOWN_TEXT)
            self.entered.emit()
        elif key in ENTER:
            self.returnPressed.emit()
        elif key in (Qt.Key.Key_Up, Qt.Key.Key_Down):
            self.stepped.emit(1 if key == Qt.Key.Key_Down else -1)
        elif key in (Qt.Key.Key_Backspace, Qt.Key.Key_Delete):
            self._rub_out()
        else:
            event.ignore()

    def _rub_out(self) -> None:
        self._fresh = False
        if not self.text():
            self.backed.emit()
            return
        self.setText(self.text()[:-1] if self.text().isdigit() else "")


@dataclass(slots=True)
class FillRow:
    """The widgets of one cylinder's row."""

    line: CylinderLine
    oxygen: QLineEdit
    helium: QLineEdit
    start: BarField
    end: BarField
    said: QWidget


class FillGrid(QWidget):
    """All rows of a fill log.

    Signals:
        finished: the last row was passed; whoever holds the grid goes on to the act.
        changed: something was typed.
        reached: the field that the keyboard came to, to be brought into view.
    """

    finished = Signal()
    reached = Signal(QWidget)
    changed = Signal()

    def __init__(self, theme: Theme, lines: Sequence[CylinderLine], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._grid = QGridLayout(self)
        self._grid.setContentsMargins(0, 0, 0, 0)
        self._grid.setHorizontalSpacing(CLOSE * 2)
        self._grid.setVerticalSpacing(CLOSE)
        for column, title in enumerate(
            ("Cylinder", "Role", "In", "O2 %", "He %", say("Start, {bar}", bar=BAR), say("End, {bar}", bar=BAR), "")
        ):
            self._grid.addWidget(text_label(worded(title), "label", self), 0, column)
        self._grid.setColumnStretch(7, 1)
        self.rows = [self._row(number, line) for number, line in enumerate(lines)]

    def _row(self, number: int, line: CylinderLine) -> FillRow:
        oxygen, helium = _gas(line)
        name = strung(", ", (line.part.label, say(line.state.facts.role)))
        row = FillRow(
            line,
            oxygen=self._percent(oxygen, say("{name}, oxygen asked for, percent", name=name)),
            helium=self._percent(helium, say("{name}, helium asked for, percent", name=name)),
            start=BarField(say("{name}, start", name=name), moves_on=False, parent=self),
            end=BarField(say("{name}, end", name=name), moves_on=True, parent=self),
            said=text_label("", "small", self),
        )
        row.start.give(line.state.now_bar)
        where = line.unit or line.state.facts.place or NONE
        cells: list[QWidget] = [
            text_label(line.part.label, "strong", self), text_label(say(line.state.facts.role), "body", self),
            text_label(where, "body", self), row.oxygen, row.helium, row.start, row.end, row.said,
        ]  # fmt: skip
        for column, widget in enumerate(cells):
            if isinstance(widget, BarField):
                widget.expect(last=line.state.bar)
                self._grid.addLayout(over_its_line(widget, self), number + 1, column)
            else:
                self._grid.addWidget(widget, number + 1, column)
        for field in (row.start, row.end):
            field.stepped.connect(partial(self._step, number, field is row.end))
            field.textChanged.connect(self.changed)
            field.reached.connect(partial(self.reached.emit, field))
        row.oxygen.returnPressed.connect(row.start.setFocus)
        row.helium.returnPressed.connect(row.start.setFocus)
        row.start.entered.connect(row.end.setFocus)
        row.start.repeat_wanted.connect(row.end.setFocus)
        row.end.entered.connect(partial(self._on_row_done, number))
        row.end.repeat_wanted.connect(partial(self._repeat, number))
        row.end.backed.connect(row.start.setFocus)
        return row

    def _percent(self, value: float, name: str) -> QLineEdit:
        field = QLineEdit(f"{value:g}", self)
        field.setAccessibleName(shown(name))
        # Tab and Shift+Tab lead to it; Enter goes on over the pressures, since gas is rarely changed.
        field.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        field.setAlignment(Qt.AlignmentFlag.AlignRight)
        field.setMaximumWidth(text_width("100.0", "body") + 6 * GRID)
        return field

    def focus_first(self) -> None:
        """Put the keyboard on the first row."""
        if self.rows:
            self.rows[0].start.setFocus()

    def focus_on(self, part_id: int) -> None:
        """Put the keyboard on a cylinder's end pressure."""
        for row in self.rows:
            if row.line.part.part_id == part_id:
                row.end.setFocus()

    def entries(
        self, batch: str, machine: str, compatible: bool | None, temperature_c: float | None = None
    ) -> tuple[FillEntry, ...]:
        """What was typed, a row a fill; rows without a pressure at the end are passed over.

        temperature_c: of the cylinders when the gauges were read, None not taken.
        """
        return tuple(
            FillEntry(
                part_id=row.line.part.part_id,
                oxygen_percent=_figure(row.oxygen),
                helium_percent=_figure(row.helium),
                start_bar=row.start.value,
                end_bar=row.end.value,
                batch=batch or None,
                machine=machine or None,
                oxygen_compatible=compatible,
                temperature_c=temperature_c,
            )
            for row in self.rows
            if row.end.value is not None
        )

    def kept(self) -> dict[int, tuple[str | Metered, ...]]:
        """What stands in the fields by cylinder, so that a log left half-way comes back as it was."""
        written = (row for row in self.rows if row.end.text())
        return {row.line.part.part_id: tuple(held(each) for each in _fields(row)) for row in written}

    def bring_back(self, kept: dict[int, tuple[str | Metered, ...]]) -> None:
        """Show what stood in the fields before."""
        for row in self.rows:
            for field, text in zip(_fields(row), kept.get(row.line.part.part_id, ()), strict=False):
                put_back(field, text)

    def say(self, findings: Sequence[EntryFindings]) -> None:
        """Show at each row's end what is against it, or nothing."""
        told = {each.part_id: each for each in findings if each.findings}
        for number, row in enumerate(self.rows):
            self._grid.removeWidget(row.said)
            row.said.deleteLater()
            row.said = self._said(told.get(row.line.part.part_id))
            self._grid.addWidget(row.said, number + 1, 7)

    def _said(self, found: EntryFindings | None) -> QWidget:
        if found is None:
            return text_label("", "small", self)
        words = strung("; ", (strung("", (each.field, ": ", each.words, "; ", each.remedy)) for each in found.findings))
        return MarkLabel(self._theme, (STOP if found.stops else ADVISE).worded(words), "small", self)

    def _step(self, at: int, end: bool, rows: int) -> None:
        if 0 <= at + rows < len(self.rows):
            row = self.rows[at + rows]
            (row.end if end else row.start).setFocus()

    def _on_row_done(self, at: int) -> None:
        # An end passed on empty is the end of the row of cylinders; arrows step over one that is not filled.
        if self.rows[at].end.text() and at + 1 < len(self.rows):
            self.rows[at + 1].start.setFocus()
        else:
            self.finished.emit()

    def _repeat(self, at: int) -> None:
        above = next((row.end.value for row in reversed(self.rows[:at]) if row.end.value is not None), None)
        if above is not None:
            self.rows[at].end.setText(BAR.number(above, 0))  # read once, whatever it was read with
            self._on_row_done(at)


def _fields(row: FillRow) -> tuple[QLineEdit, ...]:
    return row.oxygen, row.helium, row.start, row.end


def _gas(line: CylinderLine) -> tuple[float, float]:
    """What is asked for: by role for oxygen, else by the next booking, else as it was asked for last, else air."""
    if line.state.facts.role in _ASKED:
        return _ASKED[line.state.facts.role]
    wanted = line.wished or line.state.asked
    return _AIR if wanted is None else (round(100.0 * wanted.oxygen, 1), round(100.0 * wanted.helium, 1))


def _figure(field: QLineEdit) -> float:
    """The percentage as typed; what is no figure becomes one that the act refuses by name."""
    try:
        return written_figure(field.text().strip() or "0")
    except ValueError:
        return float("nan")
