"""A grid of figures: a row a cell, a column a handset, the unit beside each figure, words at the row's end."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from PySide6.QtCore import QRectF, QSize, Qt, Signal, Slot
from PySide6.QtGui import QKeyEvent, QKeySequence, QPainter, QPaintEvent
from PySide6.QtWidgets import QGridLayout, QHBoxLayout, QLabel, QSizePolicy, QVBoxLayout, QWidget

from fleetbench.calc.cells.readings import CellLimits, CellPoint
from fleetbench.calc.core.languages import say, shown, worded
from fleetbench.window.forms.figure import FigureField, FigureRule, bar_rule
from fleetbench.window.forms.metered import over_its_line
from fleetbench.window.look.buttons import text_label
from fleetbench.window.look.marks import Mark
from fleetbench.window.look.state_delegate import SHAPE_SIDE, paint_shape
from fleetbench.window.look.theme import APART, BLOCK, CLOSE, GRID, SECTION, TIGHT, Theme, put_tone
from fleetbench.workshop.bench.sessions import SessionFacts
from fleetbench.workshop.cells.plan import CalibrationPlan, CellPosition, ReaderDisplay

RuleMaker = Callable[[float, CellLimits], FigureRule]
"""Makes the rule of a field from the display's last digit and the cell's limits."""

Key = tuple[int, int]
"""Cell slot and reader."""


@dataclass(frozen=True, slots=True)
class RowEnd:
    """What stands at a row's end: a mark with its word, and a line beside it."""

    mark: Mark | None
    line: str


class RowWords(QWidget):
    """Shape and word of a mark with a line under it; empty until there is something to say."""

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self.shown = RowEnd(None, "")
        self._word = text_label("", "strong", self)
        self._line = text_label("", "small", self)
        self._line.setWordWrap(True)
        self._line.setAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignTop)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(SHAPE_SIDE + CLOSE, TIGHT, 0, TIGHT)
        layout.setSpacing(0)
        layout.addWidget(self._word)
        layout.addWidget(self._line, 1)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Preferred)
        theme.changed.connect(self.update)

    @property
    def word(self) -> str:
        """The word of the mark as shown."""
        return self._word.text()

    @property
    def line(self) -> str:
        """The line under it."""
        return self._line.text()

    def show_end(self, end: RowEnd) -> None:
        """Show this mark and line."""
        self.shown = end
        self._word.setText(worded(end.mark.word) if end.mark is not None else "")
        self._word.setVisible(end.mark is not None)
        self._line.setText(shown(end.line))
        self._tint()

    @Slot()
    def _tint(self) -> None:
        tone = self.shown.mark.tone if self.shown.mark is not None else "ink"
        put_tone(self._word, tone)
        self.update()

    # Qt overrides

    def paintEvent(self, event: QPaintEvent) -> None:
        super().paintEvent(event)
        if self.shown.mark is None:
            return
        painter = QPainter(self)
        top = self._word.geometry().top()
        box = QRectF(0, top, SHAPE_SIDE, self._word.height())
        paint_shape(painter, self._theme, self.shown.mark, box)
        painter.end()

    def sizeHint(self) -> QSize:
        return QSize(75 * GRID, 13 * GRID)


class ReadingGrid(QWidget):
    """Figures of one point, entered handset by handset down the cells.

    Signals:
        entered: slot and reader of a figure that was just given.
        emptied: slot and reader of a figure that stands there no more.
        completed: Enter in the last field, with every figure given.
        asked: a line that asks about a figure; empty once settled.
        paste_wanted: the table on the clipboard is for this grid.
        left_back: Backspace in the first field.
    """

    entered = Signal(int, int)
    emptied = Signal(int, int)
    completed = Signal()
    asked = Signal(str)
    paste_wanted = Signal()
    left_back = Signal()

    def __init__(
        self,
        theme: Theme,
        held: CalibrationPlan,
        point: str,
        rule: RuleMaker,
        *,
        readers: Iterable[int] | None = None,
        end_title: str = "",
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self._theme, self._held, self.point = theme, held, point
        wanted = set(readers) if readers is not None else {each.reader_id for each in held.readers}
        self.readers = tuple(each for each in held.readers if each.reader_id in wanted)
        self.fields: dict[Key, FigureField] = {}
        self.ends: dict[int, RowWords] = {}
        self._build(rule, end_title)

    def _build(self, rule: RuleMaker, end_title: str) -> None:
        grid = QGridLayout(self)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setHorizontalSpacing(APART)
        grid.setVerticalSpacing(CLOSE)
        for column, reader in enumerate(self.readers, start=1):
            grid.addWidget(text_label(reader.name, "label", self), 0, column, Qt.AlignmentFlag.AlignLeft)
        end = len(self.readers) + 1
        grid.addWidget(text_label(worded(end_title), "label", self), 0, end)
        for row, position in enumerate(self._held.positions, start=1):
            grid.addWidget(self._row_name(position.name, position.cell), row, 0)
            for column, reader in enumerate(self.readers, start=1):
                shown = self._held.shown(reader.reader_id, position.slot_id)
                if position.part_id is None or shown.what == "nothing":
                    grid.addWidget(text_label(say("not read here"), "small", self), row, column)
                    continue
                field = self._field(shown, rule, position.name, reader.name, position.limits)
                field.expect(last=_expected(self.point, position, reader.reader_id, shown.what, self._held))
                if reader.kind == "bench meter":  # what a handset shows is read by nobody but a person
                    field.meter.serve(say("bench meter"), field.rule.unit)
                self.fields[position.slot_id, reader.reader_id] = field
                grid.addLayout(_beside(field, field.rule.unit, self), row, column)
            self.ends[position.slot_id] = RowWords(self._theme, self)
            grid.addWidget(self.ends[position.slot_id], row, end)
        grid.setColumnMinimumWidth(0, 32 * GRID)
        grid.setColumnStretch(end, 1)
        self._order = [
            (position.slot_id, reader.reader_id)
            for reader in self.readers
            for position in self._held.positions
            if (position.slot_id, reader.reader_id) in self.fields
        ]

    def _row_name(self, name: str, cell: str | None) -> QWidget:
        held = QWidget(self)
        layout = QVBoxLayout(held)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(0)
        layout.addWidget(text_label(name, "strong", held))
        layout.addWidget(text_label(cell or say("no cell recorded"), "small", held))
        return held

    def _field(self, shown: ReaderDisplay, rule: RuleMaker, cell: str, reader: str, limits: CellLimits) -> FigureField:
        in_bar = bar_rule(*PO2_RANGES.get(self.point, (0.0, 2.0)))
        made = rule(shown.resolution, limits) if shown.what == "mV" else in_bar
        field = FigureField(made, say("{cell} on {reader}", cell=cell, reader=reader), self)
        field.entered.connect(self._on_entered)
        field.passed.connect(self._on_passed)
        field.emptied.connect(self._on_emptied)
        field.stepped.connect(self._on_stepped)
        field.backed.connect(self._on_backed)
        field.asked.connect(self.asked)
        return field

    def figures(self) -> dict[Key, float | None]:
        """What was given, None for not known; fields that are empty are left out."""
        return {key: field.value for key, field in self.fields.items() if field.is_filled and not field.is_open}

    def show_figures(self, figures: dict[Key, float | None]) -> None:
        """Show these in place of what was there."""
        for key, field in self.fields.items():
            if key not in figures:
                field.empty()
            elif figures[key] is None:
                field.say_not_known()
            else:
                field.give(figures[key] or 0.0)

    def shows_bar(self, key: Key) -> bool:
        """True where the reader shows a partial pressure, not millivolts."""
        return self.fields[key].rule.unit == "bar"

    @property
    def is_complete(self) -> bool:
        """True once every field has a figure or is said to be not known."""
        return all(field.is_filled and not field.is_open for field in self.fields.values())

    def show_end(self, slot_id: int, end: RowEnd) -> None:
        """Show words at a row's end."""
        self.ends[slot_id].show_end(end)

    def clear_ends(self) -> None:
        """Show nothing at any row's end."""
        for end in self.ends.values():
            end.show_end(RowEnd(None, ""))

    def focus_next_empty(self) -> bool:
        """Put the keyboard on the first field without a figure; False when there is none."""
        for key in self._order:
            if not self.fields[key].is_filled:
                self.fields[key].setFocus()
                self.fields[key].selectAll()
                return True
        return False

    def focus_first(self) -> None:
        """Put the keyboard on the first field."""
        if self._order:
            self.fields[self._order[0]].setFocus()

    def first_field(self) -> FigureField | None:
        """The field that entry starts in."""
        return self.fields[self._order[0]] if self._order else None

    def _key_of(self, field: object) -> Key:
        return next(key for key, each in self.fields.items() if each is field)

    @Slot()
    def _on_entered(self) -> None:
        """Lead on by itself into an empty field only: what stands in one is written over by nobody unseen."""
        key = self._key_of(self.sender())
        self.entered.emit(*key)
        following = self._following(key)
        if following is not None and not following.is_filled and self.fields[key].hasFocus():
            following.setFocus()

    @Slot()
    def _on_passed(self) -> None:
        following = self._following(self._key_of(self.sender()))
        if following is not None:
            following.setFocus()
            following.selectAll()
        elif self.is_complete:
            self.completed.emit()
        elif self.focus_next_empty():
            self.asked.emit(worded("Not every field has a figure yet: here is the first without."))

    @Slot()
    def _on_emptied(self) -> None:
        self.emptied.emit(*self._key_of(self.sender()))

    def _following(self, key: Key) -> FigureField | None:
        place = self._order.index(key) + 1
        return self.fields[self._order[place]] if place < len(self._order) else None

    @property
    def is_open(self) -> bool:
        """True while a figure is half typed, asked about or refused."""
        return any(field.is_open for field in self.fields.values())

    @Slot(int, int)
    def _on_stepped(self, rows: int, columns: int) -> None:
        slot_id, reader_id = self._key_of(self.sender())
        slots = [position.slot_id for position in self._held.positions]
        readers = [reader.reader_id for reader in self.readers]
        row, column = slots.index(slot_id) + rows, readers.index(reader_id) + columns
        while 0 <= row < len(slots) and 0 <= column < len(readers):
            target = self.fields.get((slots[row], readers[column]))
            if target is not None:
                target.setFocus()
                target.selectAll()
                return
            row, column = row + rows, column + columns

    @Slot()
    def _on_backed(self) -> None:
        place = self._order.index(self._key_of(self.sender()))
        if place:
            self.fields[self._order[place - 1]].setFocus()
        else:
            self.left_back.emit()

    # Qt overrides

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.matches(QKeySequence.StandardKey.Paste):
            self.paste_wanted.emit()
            return
        super().keyPressEvent(event)


PO2_RANGES = {"air": (0.15, 0.30), "oxygen": (0.60, 1.20), "zero": (0.0, 0.1), "pot": (0.6, 3.0)}
"""Partial pressures in bar outside which a reader that shows pO2 is asked about, by point."""


def _expected(point: str, position: CellPosition, reader_id: int, what: str, held: CalibrationPlan) -> float | None:
    """What the reader showed last of the cell at this point: in air and oxygen at the pressure of the session."""
    if what == "mV" and point in (CellPoint.AIR, CellPoint.OXYGEN):
        return _expected_mv(point, position, held.session)
    seen = held.last_shown.get((position.part_id or 0, reader_id, point))
    return None if seen is None else seen.mv if what == "mV" else seen.po2_shown_bar


def _expected_mv(point: str, position: CellPosition, bench: SessionFacts | None) -> float | None:
    """What a cell showed last at this point, taken from 1013 mbar to the pressure of the session; None not known."""
    if position.last is None or bench is None:
        return None
    at_normal = {"air": position.last.air_mv, "oxygen": position.last.oxygen_mv}.get(point)
    return None if at_normal is None else at_normal * bench.pressure_mbar / 1013.25


def _beside(field: FigureField, unit: str, parent: QWidget) -> QVBoxLayout:
    line = QHBoxLayout()
    line.setContentsMargins(0, 0, SECTION - BLOCK, 0)
    line.setSpacing(TIGHT)
    line.addWidget(field)
    label: QLabel = text_label(unit, "small", parent)
    line.addWidget(label)
    line.addStretch(1)
    return over_its_line(field, parent, line)
