"""A grid to type in, keyboard only: Enter moves on by itself, past the last column to the next row."""

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QAbstractItemDelegate, QAbstractItemView, QTableView, QWidget

from fleetbench.window.lists.lines_view import set_up_table


class EntryTable(QTableView):
    """A table whose first columns stand there already; told: how many."""

    def __init__(self, name: str, told: int, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._told = told
        set_up_table(self)
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectItems)
        self.setEditTriggers(QAbstractItemView.EditTrigger.AnyKeyPressed | QAbstractItemView.EditTrigger.DoubleClicked)
        self.setShowGrid(True)
        self.setTabKeyNavigation(True)
        self.setAccessibleName(name)

    # Qt overrides

    def closeEditor(self, editor: QWidget, hint: QAbstractItemDelegate.EndEditHint) -> None:
        if hint is QAbstractItemDelegate.EndEditHint.SubmitModelCache:
            super().closeEditor(editor, QAbstractItemDelegate.EndEditHint.NoHint)
            self.move_on()
            return
        super().closeEditor(editor, hint)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        # Enter passes over a cell that has nothing to say, as it ends one that was typed.
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and self.state() is not self.State.EditingState:
            self.move_on()
            return
        super().keyPressEvent(event)

    def move_on(self) -> None:
        """Put the cursor on the next cell that is to fill in."""
        here, model = self.currentIndex(), self.model()
        if here.column() + 1 < model.columnCount():
            self.setCurrentIndex(model.index(here.row(), here.column() + 1))
        elif here.row() + 1 < model.rowCount():
            self.setCurrentIndex(model.index(here.row() + 1, self._told))
