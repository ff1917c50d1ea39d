"""The changes of a plan as a table to tick: what is ticked is accepted, what is not stays as it is."""

from collections.abc import Sequence
from enum import IntEnum
from typing import Any

from PySide6.QtCore import QAbstractTableModel, QModelIndex, QPersistentModelIndex, Qt, Signal
from PySide6.QtGui import QKeyEvent, QPainter, QPaintEvent
from PySide6.QtWidgets import QTableView, QWidget

from fleetbench.calc.core.languages import say, shown, worded
from fleetbench.window.lists.lines_view import HiddenColumns, set_up_table
from fleetbench.window.lists.rows import as_plain_tip
from fleetbench.workshop.hires.plan import PlanChange

Index = QModelIndex | QPersistentModelIndex
NO_INDEX = QModelIndex()


class PlanColumn(IntEnum):
    """The columns."""

    BOOKING = 0
    GETS = 1
    INSTEAD = 2
    DAYS = 3
    FOR = 4


TITLES = {
    PlanColumn.BOOKING: say("Booking"), PlanColumn.GETS: say("Gets"), PlanColumn.INSTEAD: say("Instead of"),
        PlanColumn.DAYS: say("Days"),
    PlanColumn.FOR: say("For"),
}  # fmt: skip


class ChangesModel(QAbstractTableModel):
    """Changes with a tick each; one that waits for something else cannot be ticked.

    Signals:
        ticked: how many are ticked now.
    """

    ticked = Signal(int)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._changes: tuple[PlanChange, ...] = ()
        self._on: list[bool] = []

    def show_changes(self, changes: Sequence[PlanChange]) -> None:
        """Show these, each ticked that can be accepted."""
        self.beginResetModel()
        self._changes = tuple(changes)
        self._on = [not each.waits_for for each in changes]
        self.endResetModel()
        self.ticked.emit(sum(self._on))

    def chosen(self) -> tuple[PlanChange, ...]:
        """The changes that are ticked."""
        return tuple(each for each, on in zip(self._changes, self._on, strict=True) if on)

    def change_at(self, row: int) -> PlanChange:
        """The change of a row."""
        return self._changes[row]

    def tick(self, row: int, on: bool) -> None:
        """Tick a change or leave it out."""
        if not self._changes[row].waits_for:
            self._on[row] = on
            self.dataChanged.emit(self.index(row, 0), self.index(row, 0))
            self.ticked.emit(sum(self._on))

    def tick_all(self, on: bool) -> None:
        """Tick every change that can be accepted, or none."""
        for row in range(len(self._changes)):
            self.tick(row, on)

    # Qt overrides

    def rowCount(self, parent: Index = NO_INDEX) -> int:
        return 0 if parent.isValid() else len(self._changes)

    def columnCount(self, parent: Index = NO_INDEX) -> int:
        return 0 if parent.isValid() else len(PlanColumn)

    def headerData(self, section: int, orientation: Qt.Orientation, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        if orientation is not Qt.Orientation.Horizontal:
            return None
        if role == Qt.ItemDataRole.TextAlignmentRole:
            return Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
        return worded(TITLES[PlanColumn(section)]) if role == Qt.ItemDataRole.DisplayRole else None

    def flags(self, index: Index) -> Qt.ItemFlag:
        flags = super().flags(index)
        if index.isValid() and index.column() == PlanColumn.BOOKING and not self._changes[index.row()].waits_for:
            flags |= Qt.ItemFlag.ItemIsUserCheckable
        return flags

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        if not index.isValid():
            return None
        change = self._changes[index.row()]
        if role == Qt.ItemDataRole.CheckStateRole and index.column() == PlanColumn.BOOKING and not change.waits_for:
            return Qt.CheckState.Checked if self._on[index.row()] else Qt.CheckState.Unchecked
        if role == Qt.ItemDataRole.ToolTipRole and change.waits_for:
            return as_plain_tip(shown(say("It can be accepted once {waits_for}.", waits_for=change.waits_for)))
        if role == Qt.ItemDataRole.DisplayRole:
            return shown(text_of(change, PlanColumn(index.column())))
        return None

    def setData(self, index: Index, value: Any, role: int = Qt.ItemDataRole.EditRole) -> bool:
        if role != Qt.ItemDataRole.CheckStateRole or not index.isValid():
            return False
        self.tick(index.row(), Qt.CheckState(value) is Qt.CheckState.Checked)
        return True


def text_of(change: PlanChange, heading: PlanColumn) -> str:
    """The words of one cell."""
    return {
        PlanColumn.BOOKING: change.code,
        PlanColumn.GETS: say("{tag}, waits", tag=change.to_tag) if change.waits_for else change.to_tag,
        PlanColumn.INSTEAD: change.from_tag or say("none was chosen"),
        PlanColumn.DAYS: say("{first} to {last}", first=change.first, last=change.last),
        PlanColumn.FOR: change.who,
    }[heading]


class ChangesTable(QTableView):
    """The table; Space ticks the row, A ticks all and N none."""

    def __init__(self, model: ChangesModel, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._model = model
        self.setModel(model)
        set_up_table(self, say("Changes of the plan"))
        HiddenColumns(self)
        self.hint = say("Make the plan: what it would change stands here, to accept or to leave.")
        model.modelReset.connect(self.resizeColumnsToContents)

    # Qt overrides

    def paintEvent(self, event: QPaintEvent) -> None:
        super().paintEvent(event)
        if not self._model.rowCount():
            painter = QPainter(self.viewport())
            box = self.viewport().rect().adjusted(24, 24, -24, -24)
            painter.drawText(box, int(Qt.AlignmentFlag.AlignTop | Qt.TextFlag.TextWordWrap), shown(self.hint))
            painter.end()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        row = self.currentIndex().row()
        if event.key() == Qt.Key.Key_Space and row >= 0:
            on = self._model.change_at(row) in self._model.chosen()
            self._model.tick(row, not on)
        elif event.key() in (Qt.Key.Key_A, Qt.Key.Key_N):
            self._model.tick_all(event.key() == Qt.Key.Key_A)
        elif event.key() == Qt.Key.Key_Escape:
            event.ignore()
        else:
            super().keyPressEvent(event)
