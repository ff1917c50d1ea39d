"""What each column of a foreign table was taken to mean, with three examples, to be chosen otherwise from a list.

The cells that could not be read, each with what it most likely means, to be answered one by one or many at once.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any

from PySide6.QtCore import QEvent, QModelIndex, Qt, Signal, Slot
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import (
    QAbstractItemDelegate,
    QAbstractItemView,
    QCheckBox,
    QComboBox,
    QHBoxLayout,
    QLineEdit,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QTableView,
    QVBoxLayout,
    QWidget,
)

from fleetbench.calc.core.languages import say, strung, worded
from fleetbench.calc.import_export.cells import DateOrder
from fleetbench.calc.import_export.columns import LIKELY, SURE, Says, field_of, label_of
from fleetbench.window.lists.lines_view import set_up_table
from fleetbench.window.lists.rows import Column, Index, RowModel
from fleetbench.window.look.buttons import ChoiceBox, put_hint, text_label
from fleetbench.window.look.state_delegate import StateDelegate
from fleetbench.window.look.theme import APART, Theme, row_height
from fleetbench.workshop.import_export.bring import Examined, RowState
from fleetbench.workshop.import_export.spreadsheet import Ask, Layout, SheetTable, choices
from fleetbench.workshop.import_export.values import Change

MEANS, READ_AS = 2, 3
ANSWER = 5


@dataclass(frozen=True, slots=True)
class ColumnRow:
    """One column: its place, its name, what stands in it, what it means, and how its dates are read."""

    place: int
    name: str
    examples: str
    means: str
    read_as: str
    sure: str


def column_rows(table: SheetTable, layout: Layout) -> tuple[ColumnRow, ...]:
    """The columns of a table as they are shown."""
    return tuple(
        ColumnRow(
            place, name=name, examples="  ·  ".join(table.examples(place)),
            means=label_of(layout.subject, layout.meanings[place]),
            read_as=_read_as(layout, place), sure=_sure(layout, place),
        )
        for place, name in enumerate(table.found.names)
    )  # fmt: skip


def _read_as(layout: Layout, place: int) -> str:
    meaning = layout.meanings[place]
    if not meaning.field or field_of(layout.subject, meaning.field).says is not Says.DATE:
        return layout.units[place] if meaning.field else ""
    order = layout.orders[place]
    return str(order) if order is not None else "asked"


def _sure(layout: Layout, place: int) -> str:
    sure = layout.sure[place] if place < len(layout.sure) else 0.0
    if layout.remembered:
        return say("as last time")
    return "sure" if sure >= SURE else "likely" if sure >= LIKELY and layout.meanings[place].field else ""


_COLUMNS: tuple[Column[ColumnRow], ...] = (
    Column("name", "Column", lambda row: row.name),
    Column("examples", "Examples", lambda row: row.examples, gives_way=True),
    Column("means", "Means (Enter: other)", lambda row: row.means),
    Column("read", "Read as", lambda row: row.read_as),
    Column("sure", "Guess", lambda row: row.sure),
)


class _ListDelegate(StateDelegate):
    """Edits a cell with a list to choose from."""

    def __init__(self, offered: Callable[[], Sequence[str]], theme: Theme, parent: QWidget) -> None:
        super().__init__(theme, parent)
        self._offered = offered

    # Qt overrides

    def createEditor(self, parent: QWidget, _option: QStyleOptionViewItem, index: Index) -> QWidget:
        box = ChoiceBox(parent)
        box.addItems(list(self._offered()))
        box.setCurrentText(index.data())
        box.setMaxVisibleItems(16)
        box.setAccessibleName(worded("Choose what it means"))
        box.activated.connect(self._take)
        return box

    def setModelData(self, editor: QWidget, model: Any, index: Index) -> None:
        if isinstance(editor, QComboBox):
            model.setData(index, editor.currentText())

    def _take(self, _number: int) -> None:
        box = self.sender()
        if isinstance(box, QComboBox):
            self.commitData.emit(box)
            self.closeEditor.emit(box, QStyledItemDelegate.EndEditHint.NoHint)


class _ColumnModel(RowModel[ColumnRow]):
    """Signals: chosen: the column's place, which of its cells, and what was chosen."""

    chosen = Signal(int, int, str)

    # Qt overrides

    def flags(self, index: Index) -> Qt.ItemFlag:
        flags = super().flags(index)
        dated = index.isValid() and self.row_at(index.row()).read_as in (*DateOrder, "asked")
        editable = index.column() == MEANS or (index.column() == READ_AS and dated)
        return flags | Qt.ItemFlag.ItemIsEditable if editable else flags

    def setData(self, index: Index, value: Any, role: int = Qt.ItemDataRole.EditRole) -> bool:
        row = self.row_at(index.row())
        before = row.means if index.column() == MEANS else row.read_as
        if role == Qt.ItemDataRole.EditRole and value and value != before:
            self.chosen.emit(row.place, index.column(), str(value))
            return True
        return False


class TypingTable(QTableView):
    """A table whose cells open for typing at Enter, which then goes on to the next row; Tab leaves it."""

    # Qt overrides

    def keyPressEvent(self, event: QKeyEvent) -> None:
        here = self.currentIndex()
        opens = event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and here.isValid()
        if opens and self.state() is not self.State.EditingState:
            self.edit(here, QAbstractItemView.EditTrigger.EditKeyPressed, QEvent(QEvent.Type.None_))
            return
        super().keyPressEvent(event)

    def closeEditor(self, editor: QWidget, hint: QAbstractItemDelegate.EndEditHint) -> None:
        ended = hint is QAbstractItemDelegate.EndEditHint.SubmitModelCache
        super().closeEditor(editor, QAbstractItemDelegate.EndEditHint.NoHint if ended else hint)
        here = self.currentIndex()
        if ended and here.row() + 1 < self.model().rowCount():
            self.setCurrentIndex(here.siblingAtRow(here.row() + 1))


def set_up_typing(view: QTableView, name: str) -> None:
    """The habits of a table in which some cells are typed."""
    set_up_table(view, name)
    view.setTabKeyNavigation(False)
    view.setEditTriggers(
        QAbstractItemView.EditTrigger.DoubleClicked
        | QAbstractItemView.EditTrigger.EditKeyPressed
        | QAbstractItemView.EditTrigger.AnyKeyPressed
        | QAbstractItemView.EditTrigger.SelectedClicked
    )


class ColumnsTable(TypingTable):
    """The columns with what they mean; a press on a meaning opens the list of all.

    Signals:
        meaning_chosen: a column's place, and the number of the meaning among `choices`.
        order_chosen: a column's place and the order of its dates.
    """

    meaning_chosen = Signal(int, int)
    order_chosen = Signal(int, str)

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setItemDelegate(StateDelegate(theme, self))
        self.rows = _ColumnModel(_COLUMNS, key=lambda row: row.place, parent=self)
        self.rows.keep_given_order()
        self._labels: tuple[str, ...] = ()
        self.setModel(self.rows)
        set_up_typing(self, say("Columns of the file"))
        self.setItemDelegateForColumn(MEANS, _ListDelegate(self._meanings, theme, self))
        self.setItemDelegateForColumn(READ_AS, _ListDelegate(self._orders, theme, self))
        self.rows.chosen.connect(self._on_chosen)
        self.clicked.connect(self._on_clicked)

    def show_layout(self, table: SheetTable, layout: Layout) -> None:
        """Show the columns of that table as the layout reads them."""
        here = self.currentIndex()
        self._labels = tuple(label_of(layout.subject, each) for each in choices(layout))
        self.rows.set_rows(column_rows(table, layout))
        self.fit()
        self.setCurrentIndex(self.rows.index(max(0, min(here.row(), self.rows.rowCount() - 1)), MEANS))

    def fit(self) -> None:
        """Share the width out, the examples giving way."""
        fit_columns(self, self.rows, 1)

    def _meanings(self) -> Sequence[str]:
        return self._labels

    def _orders(self) -> Sequence[str]:
        return [str(order) for order in DateOrder]

    def _on_chosen(self, place: int, column: int, text: str) -> None:
        if column == READ_AS:
            self.order_chosen.emit(place, text)
        elif text in self._labels:
            self.meaning_chosen.emit(place, self._labels.index(text))

    def _on_clicked(self, index: QModelIndex) -> None:
        if index.column() in (MEANS, READ_AS):
            self.edit(index)

    # Qt overrides

    def resizeEvent(self, event: Any) -> None:
        super().resizeEvent(event)
        self.fit()


def fit_columns(view: QTableView, model: RowModel[Any], gives_way: int, least: dict[int, int] | None = None) -> None:
    """Each column as wide as it wants, or as the least for it, one taking what is left."""
    wanted = [max(model.width_of(at, 420), (least or {}).get(at, 0)) for at in range(model.columnCount())]
    bar = view.verticalScrollBar()
    taken = sum(wanted) - wanted[gives_way] + (0 if bar.isVisible() else bar.sizeHint().width())
    room = view.viewport().width() - taken
    wanted[gives_way] = max(120, room)
    for number, wide in enumerate(wanted):
        view.setColumnWidth(number, wide)
    view.verticalHeader().setDefaultSectionSize(row_height())


def _ask_columns(key: Callable[[Ask], str]) -> tuple[Column[Ask], ...]:
    return (
        Column("row", "Row", lambda ask: str(ask.row + 1), align_right=True),
        Column("known", "Known by", key),
        Column("column", "Column", lambda ask: ask.name),
        Column("text", "It says", lambda ask: ask.text or say("nothing")),
        Column("wrong", "What is wrong", lambda ask: ask.message, gives_way=True),
        Column("likely", "Is it this?", lambda ask: ask.likely or say("type it")),
    )


class _AskModel(RowModel[Ask]):
    """Signals: answered: the ask and what was typed for it."""

    answered = Signal(object, str)

    # Qt overrides

    def flags(self, index: Index) -> Qt.ItemFlag:
        flags = super().flags(index)
        return flags | Qt.ItemFlag.ItemIsEditable if index.column() == ANSWER else flags

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        if role == Qt.ItemDataRole.EditRole and index.isValid():
            ask = self.row_at(index.row())
            return ask.likely or ask.text
        return super().data(index, role)

    def setData(self, index: Index, value: Any, role: int = Qt.ItemDataRole.EditRole) -> bool:
        if role != Qt.ItemDataRole.EditRole:
            return False
        self.answered.emit(self.row_at(index.row()), str(value))
        return True


class AsksTable(TypingTable):
    """The cells to ask about; Enter opens the answer with what is likely, typing begins another one.

    Signals:
        answered: the Ask and what was typed for it.
        chosen: the cursor is on another Ask.
    """

    answered = Signal(object, str)
    chosen = Signal(object)

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setItemDelegate(StateDelegate(theme, self))
        self._known_by: Callable[[Ask], str] = lambda _ask: ""
        self.rows = _AskModel(_ask_columns(self._known), key=lambda ask: (ask.row, ask.column), parent=self)
        self.rows.keep_given_order()
        self.setModel(self.rows)
        set_up_typing(self, say("Cells to finish"))
        self.setSelectionMode(QAbstractItemView.SelectionMode.ExtendedSelection)
        self.rows.answered.connect(self.answered)
        self.selectionModel().currentChanged.connect(self._on_current)

    def show_asks(self, asks: Sequence[Ask], known_by: Callable[[Ask], str]) -> None:
        """Show these, the cursor on the first answer."""
        here = max(0, self.currentIndex().row())
        self._known_by = known_by
        self.rows.set_rows(asks)
        fit_columns(self, self.rows, 4)
        if asks:
            self.setCurrentIndex(self.rows.index(min(here, len(asks) - 1), ANSWER))

    def chosen_asks(self) -> tuple[Ask, ...]:
        """Those that are selected."""
        rows = sorted({index.row() for index in self.selectionModel().selectedIndexes()})
        return tuple(self.rows.row_at(row) for row in rows)

    def _known(self, ask: Ask) -> str:
        return self._known_by(ask)

    def _on_current(self, current: QModelIndex, _before: QModelIndex) -> None:
        if current.isValid():
            self.chosen.emit(self.rows.row_at(current.row()))

    # Qt overrides

    def resizeEvent(self, event: Any) -> None:
        super().resizeEvent(event)
        fit_columns(self, self.rows, 4)


def pin_line(parent: QWidget) -> QLineEdit:
    """Where the signed-in manager types their PIN for an import."""
    field = QLineEdit(parent)
    field.setEchoMode(QLineEdit.EchoMode.Password)
    field.setMaxLength(12)
    put_hint(field, worded("PIN of the signed-in manager"))
    field.setAccessibleName(worded("PIN of the signed-in manager"))
    return field


class AcceptChanges(QWidget):
    """Whether what is recorded is corrected as a file states it, with one reason for all, and what that would move.

    Signals:
        toggled: it was accepted, or not any more.
        entered: Enter in the reason.
    """

    toggled = Signal()
    entered = Signal()

    def __init__(self, words: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.box = QCheckBox(words, self)
        self.reason = QLineEdit(self)
        self.reason.setMaxLength(1000)
        put_hint(self.reason, worded("Reason for all of them, kept in the journal with the old values"))
        self.reason.setAccessibleName(worded("Reason for the corrections"))
        self.moves = text_label("", "body", self)
        self.moves.setWordWrap(True)
        line = QHBoxLayout()
        line.setSpacing(APART)
        line.addWidget(self.box)
        line.addWidget(self.reason, 1)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.moves)
        column.addLayout(line)
        self.box.toggled.connect(self._on_toggled)
        self.reason.returnPressed.connect(self.entered)
        self.offer(False)

    @property
    def why(self) -> str | None:
        """The reason, empty while none is typed; None where nothing is accepted."""
        return self.reason.text() if self.box.isChecked() and not self.isHidden() else None

    def offer(self, there_are: bool) -> None:
        """Ask only where there are changes."""
        self.setVisible(there_are)
        self.reason.setVisible(self.box.isChecked())
        self.moves.setVisible(self.box.isChecked() and bool(self.moves.text()))

    def tell(self, lines: Sequence[str]) -> None:
        """What the changes would move."""
        self.moves.setText(worded(say("If accepted: {lines}", lines=strung(" ", lines))) if lines else "")
        self.moves.setVisible(bool(lines))

    def begin_again(self) -> None:
        """Nothing is accepted, and no reason given."""
        self.box.setChecked(False)
        self.reason.clear()

    @Slot(bool)
    def _on_toggled(self, on: bool) -> None:
        self.offer(not self.isHidden())
        if on:
            self.reason.setFocus()
        self.toggled.emit()


CHANGES: tuple[Column[Change], ...] = (
    Column("row", "Row", lambda each: str(each.row + 1), align_right=True),
    Column("what", "What", lambda each: f"{each.sheet.replace('_', ' ')} {each.label}".rstrip()),
    Column("column", "Column", lambda each: each.column.replace("_", " ").removesuffix(" on")),
    Column("before", "Recorded", lambda each: each.before),
    Column("after", "The file says", lambda each: each.after, gives_way=True),
)
RowLine = tuple[int, RowState, tuple[str, ...]]
"""A row of the file: its place, what becomes of it, and its cells."""


def row_columns(names: tuple[str, ...]) -> tuple[Column[RowLine], ...]:
    """The columns of the file with what becomes of each row."""
    return (
        Column("row", "Row", lambda each: str(each[0] + 1), align_right=True),
        Column("state", "State", lambda each: str(each[1])),
        *(Column(f"c{at}", name, partial(_cell_of, at)) for at, name in enumerate(names)),
    )


def _cell_of(at: int, line: RowLine) -> str:
    return line[2][at]


def summed(found: Examined) -> str:
    """How many rows are what."""
    said = [f"{found.count(state)} {state}" for state in RowState if found.count(state)]
    made = [say("{count} named for the first time", count=len(found.made))] if found.made else []
    return ",  ".join([*said, *made])
