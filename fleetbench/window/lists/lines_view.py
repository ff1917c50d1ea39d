"""A small table inside a page: as high as its lines, long texts wrapped so that nothing is hidden."""

from collections.abc import Callable, Iterable, Sequence
from math import sqrt

from PySide6.QtCore import QModelIndex, QPoint, QRect, QSize, Qt, Signal, Slot
from PySide6.QtGui import QGuiApplication, QKeyEvent, QResizeEvent
from PySide6.QtWidgets import QAbstractItemView, QHeaderView, QLabel, QTableView, QWidget

from fleetbench.calc.core.languages import say, shown, worded
from fleetbench.window.detail.detail import Line, Table
from fleetbench.window.lists.rows import Column, Index, RowModel
from fleetbench.window.look.marks import Mark
from fleetbench.window.look.state_delegate import StateDelegate
from fleetbench.window.look.theme import (
    APART,
    CLOSE,
    GRID,
    Theme,
    bring_into_view,
    head_height,
    measure_of,
    put_font,
    row_height,
)

_MANY_LINES = 40
_ROWS_OF_MANY = 20
_LONGEST_TEXT = 1200
_LEAST_WRAPPED_WIDTH = 32 * GRID


class _Headings(QHeaderView):
    """Headings that ask for the height that they were given, instead of measuring each of them at every layout."""

    def __init__(self, table: QTableView) -> None:
        super().__init__(Qt.Orientation.Horizontal, table)
        self.setSectionsClickable(True)

    # Qt overrides

    def sizeHint(self) -> QSize:
        return QSize(self.minimumWidth(), self.minimumHeight())


class RowsTable(QTableView):
    """The table of a list page.

    Signals:
        open_requested: Enter or a double click on a row.
        filter_requested: the reader went up from the first row.
        sort_requested: sort by the cursor's column, True for descending.
        resized: there is more or less room for the columns.
    """

    open_requested = Signal(int)
    filter_requested = Signal()
    sort_requested = Signal(int, bool)
    resized = Signal()

    # Qt overrides

    def keyPressEvent(self, event: QKeyEvent) -> None:
        current = self.currentIndex()
        sort_keys = {Qt.Key.Key_Up: False, Qt.Key.Key_Down: True}
        if event.modifiers() & Qt.KeyboardModifier.AltModifier and event.key() in sort_keys:
            self.sort_requested.emit(max(0, current.column()), sort_keys[Qt.Key(event.key())])
        elif event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and current.isValid():
            self.open_requested.emit(current.row())
        elif event.key() == Qt.Key.Key_Up and current.row() <= 0:
            self.filter_requested.emit()
        elif event.key() == Qt.Key.Key_Escape:
            event.ignore()
        else:
            super().keyPressEvent(event)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self.resized.emit()

    def keyboardSearch(self, search: str) -> None:
        """Nothing: the filter field searches, and a jump to a row that merely starts alike misleads."""


class LinesView(QTableView):
    """Lines in columns that fit the width; Enter or a double click goes where the line leads.

    Signals:
        place_requested: the Place that the line leads to.
    """

    place_requested = Signal(object)

    def __init__(self, theme: Theme, table: Table, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._model: RowModel[Line] = RowModel(_columns(table), id, self)
        self._model.keep_given_order()
        self._model.wraps_headings = True
        self._model.set_rows(table.lines)
        self.setModel(self._model)
        self.setItemDelegate(StateDelegate(theme, self))
        set_up_table(self, table.title)
        self.setProperty("role", "lines")
        self._measure()
        self._fit(sum(self._wanted))
        HiddenColumns(self)
        self.activated.connect(self._on_activated)
        theme.text_size_changed.connect(self._fit_again)

    @Slot(QModelIndex)
    def _on_activated(self, index: QModelIndex) -> None:
        place = self._model.row_at(index.row()).leads_to
        if place is not None:
            self.place_requested.emit(place)

    def _measure(self) -> None:
        self._heads, self._body = _Heights("label"), _Heights("body")
        columns = range(len(self._model.columns))
        self._wanted = [self._model.width_of(number, _LONGEST_TEXT) for number in columns]
        self._least = [self._model.width_of(number, _LONGEST_TEXT, words=True) for number in columns]

    @Slot()
    def _fit_again(self) -> None:
        self._measure()
        self._fit(self.viewport().width())

    def _fit(self, width: int) -> None:
        widths = fitted(self._wanted, width, self._least)
        for number, wide in enumerate(widths):
            self.setColumnWidth(number, wide)
        headings = [column.heading for column in self._model.columns]
        head = max(head_height(), 2 * CLOSE + self._heads.highest(headings, widths))
        self.horizontalHeader().setFixedHeight(head)
        lines = [map(shown, self._model.row_at(row).cells) for row in range(self._model.rowCount())]
        heights = [max(row_height(), 2 * CLOSE + self._body.highest(texts, widths)) for texts in lines]
        for row, height in enumerate(heights):
            self.setRowHeight(row, height)
        sideways = 3 * GRID if sum(widths) > width else 0
        whole = sum(heights)
        high = whole if len(heights) <= _MANY_LINES else min(whole, _ROWS_OF_MANY * row_height())
        self.setFixedHeight(head + high + sideways)

    # Qt overrides

    def currentChanged(self, current: Index, previous: Index) -> None:
        """Keep the row that the keys move to on screen: the page scrolls, not the table."""
        super().currentChanged(current, previous)
        if self.hasFocus() and QGuiApplication.mouseButtons() == Qt.MouseButton.NoButton:
            bring_into_view(self)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        if event.size().width() != event.oldSize().width():
            self._fit(self.viewport().width())

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and self.currentIndex().isValid():
            self._on_activated(self.currentIndex())
        elif event.key() == Qt.Key.Key_Escape:
            event.ignore()
        else:
            super().keyPressEvent(event)


class HiddenColumns(QLabel):
    """Stands over the right end of a table's headings while columns are out of view, and says how many."""

    def __init__(self, table: QTableView) -> None:
        super().__init__(table)
        self._table = table
        self.setTextFormat(Qt.TextFormat.PlainText)
        self.setProperty("role", "hidden_columns")
        put_font(self, "label")
        bar = table.horizontalScrollBar()
        bar.rangeChanged.connect(self.tell)
        bar.valueChanged.connect(self.tell)
        self.hide()

    @Slot()
    def tell(self) -> None:
        """Count again; a column that is seen in part counts too."""
        head, room = self._table.horizontalHeader(), self._table.viewport().width()
        columns = [each for each in range(head.count()) if not head.isSectionHidden(each)]
        ends = [(head.sectionViewportPosition(each), head.sectionSize(each)) for each in columns]
        hidden = sum(left < 0 or left + wide > room for left, wide in ends)
        self.setVisible(hidden > 0 and self._table.horizontalScrollBar().maximum() > 0)
        self.setText(shown(say("{hidden} out of view", hidden=hidden)))
        place = head.geometry()
        size = QSize(self.sizeHint().width(), place.height())
        self.setGeometry(QRect(QPoint(place.right() - size.width() + 1, place.top()), size))
        self.raise_()


class _Heights:
    """How high texts of a role are; how long each is and how high in a width is measured once."""

    def __init__(self, role: str) -> None:
        self._measure = measure_of(role)
        self._long: dict[str, int] = {}
        self._high: dict[tuple[str, int], int] = {}

    def highest(self, texts: Iterable[str], widths: Sequence[int]) -> int:
        """Pixels that the highest of these texts takes, each wrapped in its width; 0 where none has to be wrapped."""
        return max((self._of(text, wide - 2 * APART) for text, wide in zip(texts, widths, strict=True)), default=0)

    def _of(self, text: str, room: int) -> int:
        if text not in self._long:
            self._long[text] = self._measure.horizontalAdvance(text)
        if self._long[text] <= room:
            return 0
        if (text, room) not in self._high:
            box = self._measure.boundingRect(QRect(0, 0, room, 10_000), Qt.TextFlag.TextWordWrap, text)
            self._high[text, room] = box.height()
        return self._high[text, room]


def fitted(wanted: Sequence[int], room: int, least: Sequence[int] = ()) -> list[int]:
    """Widths that fill the room: long texts are wrapped, and those that are far longer get more of what is left.

    No column gets more than it wants, none less than a wrapped text needs, or than `least`, its longest word, where the
    room is too small for that; where even words are too much, the table is wider than the room.
    """
    widths = [min(wide, _LEAST_WRAPPED_WIDTH) for wide in wanted]
    if least and sum(widths) > room:
        widths = [min(wide, word) for wide, word in zip(wanted, least, strict=True)]
    while (left := room - sum(widths)) > 0:
        short = [number for number, wide in enumerate(wanted) if widths[number] < wide]
        if not short:
            break
        shares = sum(sqrt(wanted[number]) for number in short)
        for number in short:
            more = max(1, int(left * sqrt(wanted[number]) / shares))
            widths[number] = min(wanted[number], widths[number] + min(more, room - sum(widths)))
    return widths


def set_up_table(view: QTableView, name: str) -> None:
    """Give a table the habits that every table of the window has, and the name that a screen reader says.

    To be called before anything is set on its headings.
    """
    view.setHorizontalHeader(_Headings(view))
    view.setAccessibleName(worded(name))
    view.horizontalHeader().setAccessibleName(shown(say("Headings of {table}", table=say(name))))
    view.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
    view.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
    view.setShowGrid(False)
    view.setTabKeyNavigation(False)
    view.setWordWrap(False)
    view.setHorizontalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
    rows, heads = view.verticalHeader(), view.horizontalHeader()
    rows.hide()
    rows.setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
    rows.setDefaultSectionSize(row_height())
    heads.setHighlightSections(False)
    heads.setStretchLastSection(True)
    heads.setFixedHeight(head_height())


def _columns(table: Table) -> tuple[Column[Line], ...]:
    return tuple(
        Column(
            key=str(number),
            title=title,
            text=_cell(number),
            state=_mark if number == table.mark_column else None,
        )
        for number, title in enumerate(table.headings)
    )


def _cell(number: int) -> Callable[[Line], str]:
    return lambda line: line.cells[number]


def _mark(line: Line) -> Mark | None:
    return line.mark
