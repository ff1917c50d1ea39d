"""A grid to type in, keyboard only: Enter moves on by itself, past the last column to the next row; Tab leaves it.

What is typed on a grid with a row a unit: its first columns stand there already, the others are typed.
"""

from typing import Any, Generic, Protocol, TypeVar

from PySide6.QtCore import QAbstractItemModel, QAbstractTableModel, QModelIndex, QPersistentModelIndex, Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import (
    QAbstractItemDelegate,
    QAbstractItemView,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QTableView,
    QWidget,
)

from fleetbench.calc.bench.meter import Metered
from fleetbench.calc.core.languages import say, shown, strung, worded
from fleetbench.calc.core.measures import in_unit
from fleetbench.calc.core.plausible import Likely, Quantity, band_words, plausible, written_figure
from fleetbench.records.core.errors import Refused
from fleetbench.window.forms.metered import METER_CHORD, METER_KEY, METER_WORDS, READ_AGAIN, FieldMeter, MeteredField
from fleetbench.window.lists.lines_view import HiddenColumns, set_up_table
from fleetbench.window.look.buttons import text_label
from fleetbench.window.look.words import as_plain_tip

Index = QModelIndex | QPersistentModelIndex


class CellField(MeteredField):
    """The field over one cell of a grid whose figure a meter reads; what stands in it goes to the cell with Enter.

    pending: a reading that was asked about and not read again, which is none.
    """

    def __init__(
        self, name: str, quantity: Quantity, usual: tuple[float, float] | None, parent: QWidget | None = None
    ) -> None:
        super().__init__(quantity, parent)
        self.name, self.usual, self._quantity = name, usual, quantity
        self._reading: Metered | None = None
        self.pending = False
        self.setFrame(False)
        self.setAccessibleName(shown(name))
        self.textEdited.connect(self._on_edited)
        self.meter = FieldMeter(self, quantity)

    @property
    def metered(self) -> Metered | None:
        return None if self.pending else self._reading

    def give(self, value: float) -> None:
        self.setText(cell_text(self._quantity, value))
        self._reading = value if isinstance(value, Metered) else None

    def take_reading(self, value: Metered) -> bool:
        found = self.judged(value)
        if found.likely is Likely.REFUSE:
            raise Refused(strung(": ", (self.name, found.words)))
        self.pending = found.likely is Likely.ASK and not self.pending
        self.give(value)
        if self.pending:
            self.meter.say(strung("", (self.name, ": ", found.words, ". ", READ_AGAIN)))
        return not self.pending

    def _on_edited(self, _text: str) -> None:
        self._reading, self.pending = None, False


def cell_text(quantity: Quantity, value: float) -> str:
    """A reading as it stands in a cell, in the unit in use and to the meter's resolution."""
    places = value.places if isinstance(value, Metered) else None
    return quantity.measure.number(value, places) if quantity.measure is not None else in_unit(value, "", places)


class MeteredCells(QStyledItemDelegate):
    """Gives a cell whose figure a meter reads a field that asks the meter."""

    def createEditor(self, parent: QWidget, option: QStyleOptionViewItem, index: Index) -> QWidget:
        """The field of the cell."""
        model = index.model()
        quantity, usual = model.measures(index.row(), index.column()) if isinstance(model, EntryModel) else (None, None)
        if quantity is None or not quantity.read_with or not isinstance(model, EntryModel):
            return super().createEditor(parent, option, index)
        return CellField(model.cell_name(index.row(), index.column()), quantity, usual, parent)

    def setEditorData(self, editor: QWidget, index: Index) -> None:
        """Show what stands in the cell, with its source where a meter gave it."""
        reading = index.data(METER_ROLE)
        if isinstance(editor, CellField) and isinstance(reading, Metered):
            editor.give(reading)
        else:
            super().setEditorData(editor, index)

    def setModelData(self, editor: QWidget, model: QAbstractItemModel, index: Index) -> None:
        """Hand on what stands in the field; a reading that was asked about and not read again is none."""
        if not isinstance(editor, CellField):
            super().setModelData(editor, model, index)
        elif not editor.pending:
            model.setData(index, editor.text() if editor.metered is None else editor.metered)


class EntryTable(QTableView):
    """A table whose first columns stand there already; told: how many."""

    def __init__(self, name: str, told: int, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._told = told
        set_up_table(self, name)
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectItems)
        self.setEditTriggers(QAbstractItemView.EditTrigger.AnyKeyPressed | QAbstractItemView.EditTrigger.DoubleClicked)
        self.setShowGrid(True)
        self.setItemDelegate(MeteredCells(self))
        HiddenColumns(self)
        self.beside = text_label("", "small", parent)

    # Qt overrides

    def currentChanged(self, current: Index, previous: Index) -> None:
        super().currentChanged(current, previous)
        model = self.model()
        if isinstance(model, EntryModel):
            self.beside.setText(shown(model.beside_words(current.row(), current.column())))

    def closeEditor(self, editor: QWidget, hint: QAbstractItemDelegate.EndEditHint) -> None:
        if hint is QAbstractItemDelegate.EndEditHint.SubmitModelCache:
            super().closeEditor(editor, QAbstractItemDelegate.EndEditHint.NoHint)
            self.move_on()
            return
        super().closeEditor(editor, hint)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.keyCombination() == METER_CHORD:
            if not event.isAutoRepeat():
                self.read_cell()
            return
        # Enter passes over a cell that has nothing to say, as it ends one that was typed.
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and self.state() is not self.State.EditingState:
            self.move_on()
            return
        # The first column that is typed is where a line begins, not the ones that stand there already.
        if event.key() == Qt.Key.Key_Home and event.modifiers() == Qt.KeyboardModifier.NoModifier:
            self.setCurrentIndex(self.model().index(self.currentIndex().row(), self._told))
            return
        super().keyPressEvent(event)

    def read_cell(self) -> None:
        """Ask the meter for the figure of the cell that has the cursor; nothing where no meter reads it."""
        model, here = self.model(), self.currentIndex()
        quantity = model.measures(here.row(), here.column())[0] if isinstance(model, EntryModel) else None
        if quantity is None or not quantity.read_with:
            return
        self.edit(here)
        for field in self.findChildren(CellField):
            if field.isVisible():
                field.meter.read()

    def move_on(self) -> None:
        """Put the cursor on the next cell that is to fill in."""
        here, model = self.currentIndex(), self.model()
        if here.column() + 1 < model.columnCount():
            self.setCurrentIndex(model.index(here.row(), here.column() + 1))
        elif here.row() + 1 < model.rowCount():
            self.setCurrentIndex(model.index(here.row() + 1, self._told))


METER_ROLE = Qt.ItemDataRole.UserRole + 1
"""The reading that stands in a cell as a meter gave it."""
TOLD = 2
"""Columns that stand there already: the unit and its diver."""


class OfUnit(Protocol):
    """A row: which unit, and who dives it."""

    @property
    def unit(self) -> str: ...

    @property
    def diver(self) -> str | None: ...


R = TypeVar("R", bound=OfUnit)


class EntryModel(QAbstractTableModel, Generic[R]):
    """Rows of units, and the text typed in each cell, kept by row and column as it was typed."""

    def __init__(self, headings: tuple[str, ...], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.headings = headings
        self.rows: tuple[R, ...] = ()
        self.typed: dict[tuple[int, int], str] = {}
        self.metered: dict[tuple[int, int], tuple[str, Metered]] = {}
        self._doubted: dict[tuple[int, int], str] = {}
        self._kept: set[tuple[int, int]] = set()
        self.wrong_at: tuple[int, int] | None = None

    def text_at(self, row: int, column: int) -> str:
        """What was typed there, without spaces around it."""
        return self.typed.get((row, column), "").strip()

    def cell_name(self, row: int, column: int) -> str:
        """What a cell is called in sentences."""
        return say("unit {unit}: {heading}", unit=self.rows[row].unit, heading=self.headings[column])

    def reading_at(self, row: int, column: int) -> Metered | None:
        """The reading that stands there as a meter gave it; None where it was typed."""
        text, reading = self.metered.get((row, column), ("", None))
        return reading if text == self.text_at(row, column) else None

    def wrong(self, row: int, column: int, remedy: str) -> Refused:
        """The refusal of what was typed there, which names unit and column; `wrong_at` says where."""
        self.wrong_at = row, column
        return Refused(
            say(
                "unit {unit}: {headings}: {row!r}; {remedy}",
                unit=self.rows[row].unit,
                headings=self.headings[column],
                row=self.text_at(row, column),
                remedy=remedy,
            )
        )

    def measures(self, row: int, column: int) -> tuple[Quantity | None, tuple[float, float] | None]:
        """What is measured in that cell, and what is usual of it there; nothing, unless a grid says so."""
        return None, None

    def last(self, row: int, column: int) -> float | None:
        """The figure before the one of that cell, as it is stored; None where none is recorded."""
        return None

    def figure_above(self, row: int, column: int, quantity: Quantity) -> float | None:
        """The figure that is typed in the nearest row above, as it is stored; None where there is none."""
        before = (self.typed.get((above, column), "") for above in reversed(range(row)))
        try:
            return quantity.stored(written_figure(next(text for text in before if text.strip())))
        except (StopIteration, ValueError):
            return None

    def beside_words(self, row: int, column: int) -> str:
        """The last figure and the plausible band of a cell with its unit; empty where nothing is measured."""
        quantity, usual = self.measures(row, column) if self.rows and row >= 0 else (None, None)
        if quantity is None:
            return ""
        words = band_words(quantity, last=self.last(row, column), usual=usual)
        told = f"{self.headings[column]}: {words} {quantity.unit}".strip()
        return strung("   ", (told, METER_WORDS, METER_KEY)) if quantity.read_with else told

    def figures(
        self, row: int, column: int, quantity: Quantity | None = None, usual: tuple[float, float] | None = None
    ) -> list[float]:
        """The figures typed there with + between them; Refused where one is none, cannot be, or is unusual.

        What is unusual is taken once its cell was typed again.
        """
        text, reading = self.text_at(row, column), self.reading_at(row, column)
        if reading is not None:
            return [reading]
        try:
            written = [written_figure(each.strip()) for each in text.split("+")] if text else []
        except ValueError:
            raise self.wrong(row, column, say("enter a figure, or several with + between")) from None
        found = written if quantity is None else [quantity.stored(each) for each in written]
        for value in found:
            if quantity is None or (row, column) in self._kept:
                break
            told = plausible(quantity, value, usual=usual)
            if told.likely is Likely.REFUSE:
                raise self.wrong(row, column, told.words)
            if told.likely is Likely.ASK:
                self._doubted[row, column] = text
                raise self.wrong(row, column, say("{told}; type it again to keep it", told=told.words))
        return found

    # Qt overrides

    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008 - Qt's own signature
        return 0 if parent.isValid() else len(self.rows)

    def columnCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008 - Qt's own signature
        return 0 if parent.isValid() else len(self.headings)

    def headerData(self, section: int, orientation: Qt.Orientation, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        if orientation is not Qt.Orientation.Horizontal:
            return None
        if role == Qt.ItemDataRole.ToolTipRole:  # tells whole what a narrow column cuts off
            return as_plain_tip(worded(self.headings[section]))
        return worded(self.headings[section]) if role == Qt.ItemDataRole.DisplayRole else None

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        if index.isValid() and role == METER_ROLE:
            return self.reading_at(index.row(), index.column())
        if not index.isValid() or role not in (Qt.ItemDataRole.DisplayRole, Qt.ItemDataRole.EditRole):
            return None
        row = self.rows[index.row()]
        if index.column() < TOLD:
            return (row.unit, row.diver)[index.column()]
        return self.typed.get((index.row(), index.column()), "")

    def setData(self, index: Index, value: Any, role: int = Qt.ItemDataRole.EditRole) -> bool:
        if not index.isValid() or role != Qt.ItemDataRole.EditRole or index.column() < TOLD:
            return False
        key = index.row(), index.column()
        self._kept.discard(key)
        self.metered.pop(key, None)
        quantity = self.measures(*key)[0]
        if isinstance(value, Metered) and quantity is not None:
            value, reading = cell_text(quantity, value), value
            self.metered[key] = value, reading
        if str(value).strip() == self._doubted.pop(key, None):
            self._kept.add(key)
        self.typed[key] = str(value)
        self.dataChanged.emit(index, index, [role])
        return True

    def flags(self, index: Index) -> Qt.ItemFlag:
        flags = super().flags(index)
        return flags | Qt.ItemFlag.ItemIsEditable if index.isValid() and index.column() >= TOLD else flags
