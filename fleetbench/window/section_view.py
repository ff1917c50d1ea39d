"""One part of a Detail as a card: facts with labels to the left, or a small table."""

from collections.abc import Callable

from PySide6.QtCore import QModelIndex, Qt, Signal, Slot
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QFrame,
    QGridLayout,
    QHeaderView,
    QLabel,
    QSizePolicy,
    QTableView,
    QVBoxLayout,
    QWidget,
)

from fleetbench.window.buttons import PlaceButton, text_label
from fleetbench.window.detail import Fact, Line, Section, Table
from fleetbench.window.mark_label import MarkLabel
from fleetbench.window.marks import Mark
from fleetbench.window.rows import Column, RowModel
from fleetbench.window.state_delegate import StateDelegate
from fleetbench.window.theme import APART, BLOCK, CLOSE, GRID, ROW_HEIGHT, Theme

_MOST_LINES_IN_VIEW = 12
HEAD_HEIGHT = 8 * GRID


class PartView(QFrame):
    """A card of a page.

    Signals:
        place_requested: the Place that a pressed fact or line leads to.
    """

    place_requested = Signal(object)

    def __init__(self, theme: Theme, title: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.theme = theme
        self.title = title
        self.setProperty("role", "card")

    def say_empty(self, line: str) -> QLabel:
        """The line shown where the part holds nothing."""
        said = text_label(line or "Nothing is recorded.", "small", self)
        said.setWordWrap(True)
        return said


class SectionView(PartView):
    """Facts, labels to the left and values to the right."""

    def __init__(self, theme: Theme, section: Section, parent: QWidget | None = None) -> None:
        super().__init__(theme, section.title, parent)
        grid = QGridLayout(self)
        grid.setContentsMargins(APART, APART, APART, APART)
        grid.setHorizontalSpacing(BLOCK)
        grid.setVerticalSpacing(CLOSE)
        grid.setColumnStretch(1, 1)
        grid.addWidget(text_label(section.title, "strong", self), 0, 0, 1, 2)
        if not section.facts:
            grid.addWidget(self.say_empty(section.empty), 1, 0, 1, 2)
        for number, fact in enumerate(section.facts, start=1):
            self._add_fact(grid, number, fact)

    def _add_fact(self, grid: QGridLayout, number: int, fact: Fact) -> None:
        label = text_label(fact.label, "small", self)
        label.setWordWrap(True)
        label.setFixedWidth(27 * GRID)
        label.setMinimumHeight(18)
        grid.addWidget(label, number, 0, Qt.AlignmentFlag.AlignTop)
        lines = QVBoxLayout()
        lines.setSpacing(2)
        if fact.mark is not None:
            lines.addWidget(MarkLabel(self.theme, fact.mark, "strong", self))
        if fact.leads_to is not None:
            button = PlaceButton(fact.value, fact.leads_to, self)
            button.place_requested.connect(self.place_requested)
            lines.addWidget(button, 0, Qt.AlignmentFlag.AlignLeft)
        elif fact.value:
            lines.addWidget(_selectable(text_label(fact.value, "body", self)))
        if fact.note:
            lines.addWidget(_selectable(text_label(fact.note, "small", self)))
        grid.addLayout(lines, number, 1)


class LinesView(QTableView):
    """A small table, as high as its lines up to a dozen; Enter or a double click goes where the line leads.

    Signals:
        place_requested: the Place that the line leads to.
    """

    place_requested = Signal(object)

    def __init__(self, theme: Theme, table: Table, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._model: RowModel[Line] = RowModel(_columns(table), id, self)
        self._model.keep_given_order()
        self._model.set_rows(table.lines)
        self.setModel(self._model)
        self.setItemDelegate(StateDelegate(theme, self))
        set_up_table(self)
        for number in range(len(table.headings)):
            self.setColumnWidth(number, self._model.width_of(number))
        visible = min(len(table.lines), _MOST_LINES_IN_VIEW)
        self.setFixedHeight(visible * ROW_HEIGHT + HEAD_HEIGHT)
        self.setProperty("role", "lines")
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.activated.connect(self._on_activated)

    @Slot(QModelIndex)
    def _on_activated(self, index: QModelIndex) -> None:
        place = self._model.row_at(index.row()).leads_to
        if place is not None:
            self.place_requested.emit(place)

    # Qt overrides

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and self.currentIndex().isValid():
            self._on_activated(self.currentIndex())
            return
        super().keyPressEvent(event)


class TableView(PartView):
    """A small table under its title."""

    def __init__(self, theme: Theme, table: Table, parent: QWidget | None = None) -> None:
        super().__init__(theme, table.title, parent)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(APART, APART, APART, APART)
        layout.setSpacing(CLOSE)
        layout.addWidget(text_label(table.title, "strong", self))
        if not table.lines:
            layout.addWidget(self.say_empty(table.empty))
            return
        lines = LinesView(theme, table, self)
        lines.place_requested.connect(self.place_requested)
        layout.addWidget(lines)


def part_view(theme: Theme, part: Section | Table, parent: QWidget | None = None) -> PartView:
    """The card for a part of a Detail."""
    return SectionView(theme, part, parent) if isinstance(part, Section) else TableView(theme, part, parent)


def set_up_table(view: QTableView) -> None:
    """Give a table the habits that every table of the window has."""
    view.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
    view.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
    view.setShowGrid(False)
    view.setTabKeyNavigation(False)
    view.setWordWrap(False)
    view.setHorizontalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
    rows, heads = view.verticalHeader(), view.horizontalHeader()
    rows.hide()
    rows.setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
    rows.setDefaultSectionSize(ROW_HEIGHT)
    heads.setHighlightSections(False)
    heads.setStretchLastSection(True)
    heads.setFixedHeight(HEAD_HEIGHT)


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


def _selectable(label: QLabel) -> QLabel:
    label.setWordWrap(True)
    label.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
    label.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Preferred)
    return label
