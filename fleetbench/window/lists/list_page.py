"""A list as every list of the window is: filter, quick choices, sort, column choice, copy, save, and a detail pane."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any, Generic, TypeVar

from PySide6.QtCore import QItemSelectionModel, QModelIndex, QSize, Qt, Signal, Slot
from PySide6.QtGui import QAction, QGuiApplication, QKeyEvent
from PySide6.QtWidgets import (
    QButtonGroup,
    QLineEdit,
    QMenu,
    QPushButton,
    QSizePolicy,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from fleetbench.calc.core.languages import say, say_count, shown, worded
from fleetbench.window.detail.detail import Detail
from fleetbench.window.detail.export_row import ExportRow
from fleetbench.window.detail.view import BesideList, DetailView
from fleetbench.window.lists.lines_view import RowsTable, set_up_table
from fleetbench.window.lists.rows import Column, Prepared, RowModel, prepared
from fleetbench.window.look.buttons import Emptiness, EmptyState, choice_button, quiet_button, search_field, text_label
from fleetbench.window.look.flow import FlowLayout
from fleetbench.window.look.marks import Mark
from fleetbench.window.look.state_delegate import StateDelegate
from fleetbench.window.look.theme import GRID, Theme
from fleetbench.window.look.words import counted, tab_separated
from fleetbench.window.shell.background import Background, Refresher
from fleetbench.window.shell.pages import Page, offer_siblings
from fleetbench.window.shell.place import PageKey

R = TypeVar("R")

GO_TO = "go to "
"""Before the name of a page, as the action of an empty list that is begun there."""

_NARROWEST = 24 * GRID


@dataclass(frozen=True)
class QuickFilter(Generic[R]):
    """A quick choice over a list: its word, which rows it keeps, and the mark it shows."""

    word: str
    keep: Callable[[R], bool]
    mark: Mark | None = None


@dataclass(frozen=True)
class ListSpec(Generic[R]):
    """What a list shows: how rows are loaded (off the GUI thread), keyed, summed up, described and opened.

    load_at_once, where load takes long, gives rows to show before it; load follows where one lacks what it gives.
    load_detail, when given, is called off the GUI thread for the chosen row and replaces what describe gave.
    sort_column names the column that the list is sorted by when it first shows. siblings: lists that share an entry
    of the rail, this one among them, offered beside the title. saved_as: the kinds of files into which the list is
    saved as it is shown; fewer where its page writes a fuller table of its own.
    """

    title: str
    columns: tuple[Column[R], ...]
    key: Callable[[R], str]
    load: Callable[[], Sequence[R]]
    describe: Callable[[R], Detail]
    empty: Emptiness
    sum_up: Callable[[Sequence[R]], str] = lambda rows: say("{count} in all", count=len(rows))
    place: Callable[[R], PageKey | None] = lambda _row: None
    load_detail: Callable[[R], Detail] | None = None
    load_at_once: Callable[[], Sequence[R]] | None = None
    lacks: Callable[[R], bool] = lambda _row: False
    choices: tuple[QuickFilter[R], ...] = ()
    sort_column: str = ""
    siblings: tuple[tuple[str, PageKey], ...] = ()
    saved_as: tuple[str, ...] = (".xlsx", ".csv")


class ListPage(Page, Generic[R]):
    """One list with its detail pane.

    Signals:
        rows_shown: how many rows are shown after a load.
    """

    rows_shown = Signal(int)

    def __init__(self, theme: Theme, background: Background, spec: ListSpec[R], parent: QWidget | None = None) -> None:
        super().__init__(theme, spec.title, parent)
        self._spec = spec
        self._fitted = False
        self._widths: dict[int, int] = {}
        self.model: RowModel[R] = RowModel(spec.columns, spec.key, self)
        name = spec.title.casefold().replace(" ", "-")
        self.saving = ExportRow(theme, background, name, spec.saved_as, self._table_writer, self)
        self._rows = Refresher(background, self)
        self._held: tuple[tuple[Any, ...], tuple[Any, ...]] | None = None
        self._chooses = True
        self._detail_loader = Refresher(background, self)
        self._build()
        self._offer_siblings()
        self._connect()
        self._show_columns()

    def _build(self) -> None:
        self.filter_field = search_field(say("Filter of {list}", list=say(self._spec.title)), "Filter: any words", self)
        self.filter_field.setMaximumWidth(64 * GRID)
        self.filter_field.setMinimumWidth(32 * GRID)
        self._filter_icon = self.filter_field.addAction(
            self.theme.icon("filter", "muted"), QLineEdit.ActionPosition.LeadingPosition
        )
        self._filter_icon.setText(worded("Filter"))
        self.told = text_label("", "small", self)
        self.told.setSizePolicy(QSizePolicy.Policy.Minimum, QSizePolicy.Policy.Preferred)
        self.columns_button = quiet_button(self.theme, "Columns", "columns", self)
        self.copy_button = quiet_button(self.theme, "Copy as table", "copy_table", self)
        self._columns_menu = self._make_columns_menu()
        self.columns_button.setMenu(self._columns_menu)
        # Each is made where it will stand: what is moved with all that is in it is dressed a second time.
        self._body = QStackedWidget(self)
        self.table = RowsTable(self)
        self.table.setModel(self.model)
        self.table.setItemDelegate(StateDelegate(self.theme, self.table))
        set_up_table(self.table, self._spec.title)
        self.table.setSortingEnabled(True)
        keys = [column.key for column in self._spec.columns]
        first = keys.index(self._spec.sort_column) if self._spec.sort_column else 0
        self.table.sortByColumn(first, Qt.SortOrder.AscendingOrder)
        self.nothing_left = text_label("", "body", self.table.viewport())
        self.nothing_left.hide()
        QVBoxLayout(self.table.viewport()).addWidget(self.nothing_left, 0, Qt.AlignmentFlag.AlignCenter)
        self.detail = DetailView(self.theme, "Choose a row to see what is recorded of it.", self)
        self._splitter = BesideList(self.theme, self.table, self.detail, self._body)
        self.empty_state = EmptyState(self.theme, self._spec.empty, self._body)
        self._body.addWidget(self._splitter)
        self._body.addWidget(self.empty_state)
        self.content.addLayout(self._make_tools())
        self.content.addWidget(self._body, 1)

    def _offer_siblings(self) -> None:
        offer_siblings(self, self._spec.title, self._spec.siblings)

    def _make_tools(self) -> FlowLayout:
        tools = FlowLayout()
        tools.addWidget(self.filter_field)
        self._choices = QButtonGroup(self)
        self.choice_buttons: list[QPushButton] = []
        if self._spec.choices:
            self._add_choice(tools, "all", None)
        for choice in self._spec.choices:
            self._add_choice(tools, choice.word, choice.mark)
        tools.addWidget(self.told)
        tools.add_break()
        tools.addWidget(self.columns_button)
        tools.addWidget(self.copy_button)
        tools.addWidget(self.saving)
        return tools

    def _add_choice(self, tools: FlowLayout, word: str, mark: Mark | None) -> None:
        button = choice_button(self.theme, word, self)
        if mark is not None:
            self.theme.dress_with_mark(button, mark)
        self._choices.addButton(button, len(self.choice_buttons))
        self.choice_buttons.append(button)
        button.setChecked(len(self.choice_buttons) == 1)
        tools.addWidget(button)

    def _make_columns_menu(self) -> QMenu:
        menu = QMenu(self)
        for column in self._spec.columns:
            action = QAction(column.heading, menu)
            action.setCheckable(True)
            action.setChecked(column.shown)
            action.toggled.connect(self._show_columns)
            menu.addAction(action)
        return menu

    def _connect(self) -> None:
        self.filter_field.textChanged.connect(self.model.set_filter)
        self.filter_field.returnPressed.connect(self.focus_table)
        self._choices.idClicked.connect(self._on_choice)
        self.copy_button.clicked.connect(self.copy_as_table)
        self.saving.written.connect(self.banner.say_note)
        self.saving.refused.connect(self.banner.say_refused)
        self.table.open_requested.connect(self._on_open)
        self.table.doubleClicked.connect(self._on_double_clicked)
        self.table.filter_requested.connect(self.focus_filter)
        self.table.sort_requested.connect(self._on_sort)
        self.table.resized.connect(self._share_room)
        self.table.horizontalScrollBar().rangeChanged.connect(self._tell_out_of_view)
        self.table.horizontalScrollBar().valueChanged.connect(self._tell_out_of_view)
        self.table.selectionModel().currentRowChanged.connect(self._on_current_changed)
        self.model.shown_changed.connect(self._on_shown_changed)
        self.detail.place_requested.connect(self.place_requested)
        self.empty_state.action_requested.connect(self._on_empty_action)
        self._rows.at_once.connect(self._show_at_once)
        self._rows.loaded.connect(self.show_prepared)
        self._rows.refused.connect(self._on_refused)
        self._detail_loader.loaded.connect(self.detail.show_detail)
        self._detail_loader.refused.connect(self.banner.say_refused)
        self.theme.changed.connect(self._on_theme_changed)
        self.theme.text_size_changed.connect(self._fit_first_time)

    def refresh(self) -> None:
        """Load the rows again; what is chosen stays chosen."""
        at_once = self._spec.load_at_once
        self._rows.ask(self._preparing(self._spec.load), None if at_once is None else self._preparing(at_once))

    def _preparing(self, load: Callable[[], Sequence[R]]) -> Callable[[], Prepared[R]]:
        def work() -> Prepared[R]:
            found = prepared(load(), self._spec.columns)
            return replace(found, summary=self._spec.sum_up(found.rows)) if found.rows else found

        return work

    def focus_first(self) -> None:
        """Put the keyboard on the table, on the first row if none is chosen."""
        self.focus_table()

    @Slot(object)
    def _show_at_once(self, rows: Prepared[R]) -> None:
        self.banner.take_back_refusal()
        lacking = any(map(self._spec.lacks, rows.rows))
        self.show_prepared(rows, lacking=lacking)
        if lacking:
            self._rows.go_on(rows)

    @Slot(object)
    def show_prepared(self, rows: Prepared[R], *, lacking: bool = False) -> None:
        """Show these rows, keeping the chosen one and the place scrolled to.

        lacking: others follow; where nobody moves meanwhile, they are shown as the list was before these.
        """
        if self._held is None:
            self.banner.take_back_refusal()
        place = self._place()
        chosen, at, marked, scrolled = before = self._held[1] if self._held and self._held[0] == place else place
        self._chooses = False  # the row is chosen below, and its detail made once
        self.model.set_prepared(rows)
        self._chooses = True
        if not self._fitted:
            self._fit_first_time()
        elif self._held is not None:
            self._widen()
        self._body.setCurrentIndex(0 if rows.rows else 1)
        self.set_summary(rows.summary)
        self._choose(chosen, at)
        self._mark(marked)
        self.table.verticalScrollBar().setValue(scrolled)
        self.is_loaded = True
        self._held = (self._place(), before) if lacking else None
        self.rows_shown.emit(len(rows.rows))

    def _place(self) -> tuple[Any, ...]:
        """The chosen row by key and number, the marked ones, and how far it is scrolled."""
        at, scrolled = self.table.currentIndex().row(), self.table.verticalScrollBar().value()
        return self.chosen_key(), at, self._marked_keys(), scrolled

    def chosen_key(self) -> object | None:
        """The key of the chosen row, or None."""
        current = self.table.currentIndex()
        return self.model.key_at(current.row()) if current.isValid() else None

    def choose(self, key: str) -> bool:
        """Put the cursor on the row with that key; False when it is not shown."""
        place = self.model.place_of(key)
        if place is not None:
            self.table.setCurrentIndex(self.model.index(place, self._first_shown_column()))
        return place is not None

    @Slot()
    def focus_filter(self) -> None:
        """Put the keyboard on the filter field."""
        self.filter_field.setFocus()
        self.filter_field.selectAll()

    @Slot()
    def focus_table(self) -> None:
        """Put the keyboard on the table."""
        self.table.setFocus()
        if not self.table.currentIndex().isValid() and self.model.rows:
            self.table.setCurrentIndex(self.model.index(0, self._first_shown_column()))

    @Slot()
    def copy_as_table(self) -> None:
        """Put the shown columns on the clipboard: the marked rows if several are marked, else all that are shown."""
        marked = sorted({index.row() for index in self.table.selectionModel().selectedRows()})
        rows = [self.model.row_at(number) for number in marked] if len(marked) > 1 else list(self.model.rows)
        columns = self._columns_as_shown()
        text = tab_separated([spec.heading for spec in columns], ([spec.cell(row) for spec in columns] for row in rows))
        QGuiApplication.clipboard().setText(text)
        self.banner.say_note(say_count("{count} row copied as a table.", "{count} rows copied as a table.", len(rows)))

    def _columns_as_shown(self) -> list[Column[R]]:
        return [spec for number, spec in enumerate(self._spec.columns) if not self.table.isColumnHidden(number)]

    def _table_writer(self) -> Callable[[Path], object]:
        """Writes the rows and columns that are shown now, in their order; the texts are made where it is called."""
        return partial(write_table, self._spec.title, tuple(self._columns_as_shown()), self.model.rows)

    @Slot()
    def choose_columns(self) -> None:
        """Open the choice of columns."""
        self.columns_button.showMenu()

    @Slot()
    def _fit_first_time(self) -> None:
        self._fitted = self.model.total > 0
        self._widths = {}
        self._show_columns()

    def _widen(self) -> None:
        """Give what came with the rest its room and no more, where nobody gave a column another width."""
        least = self._widths if len(self.model.rows) < self.model.total else {}
        wanted = {number: max(self.model.width_of(number), least.get(number, 0)) for number in self._widths}
        for number, wide in wanted.items():
            if wide != self._widths[number] == self.table.columnWidth(number):
                self.table.setColumnWidth(number, wide)
        self._widths = wanted
        self._share_room()

    @Slot()
    def _share_room(self) -> None:
        giving = [number for number, each in enumerate(self._spec.columns) if each.gives_way and number in self._widths]
        wanted = [self._widths[number] for number in giving]
        others = set(range(len(self._spec.columns))) - set(giving)
        room = self.table.viewport().width() - sum(self.table.columnWidth(number) for number in others)
        hidden = [self.table.isColumnHidden(number) for number in giving]
        cap = widest_for([wide for wide, away in zip(wanted, hidden, strict=True) if not away], room)
        for number, wide in zip(giving, wanted, strict=True):
            self.table.setColumnWidth(number, min(wide, cap))

    @Slot()
    def _tell_out_of_view(self) -> None:
        """Say on the choice of columns how many cannot be seen whole without scrolling sideways."""
        room, head = self.table.viewport().width(), self.table.horizontalHeader()
        numbers = [number for number in range(len(self._spec.columns)) if not self.table.isColumnHidden(number)]
        ends = [(head.sectionViewportPosition(number), head.sectionSize(number)) for number in numbers]
        hidden = sum(left < 0 or left + wide > room for left, wide in ends)
        self.columns_button.setText(
            shown(say("Columns, {hidden} out of view", hidden=hidden) if hidden else say("Columns"))
        )

    def _marked_keys(self) -> frozenset[object]:
        """The keys of the marked rows where several are."""
        rows = {index.row() for index in self.table.selectionModel().selectedRows()}
        return frozenset(self.model.key_at(row) for row in rows) if len(rows) > 1 else frozenset()

    def _mark(self, keys: frozenset[object]) -> None:
        for number, row in enumerate(self.model.rows if keys else ()):
            if self._spec.key(row) in keys:
                index = self.model.index(number, self._first_shown_column())
                self.table.selectionModel().select(
                    index, QItemSelectionModel.SelectionFlag.Select | QItemSelectionModel.SelectionFlag.Rows
                )

    def _choose(self, key: object | None, instead: int = 0) -> None:
        """Put the cursor on the row with that key; where it is gone, on the one that took its place."""
        place = None if key is None else self.model.place_of(key)
        if place is None and self.model.rows:
            place = min(max(instead, 0), len(self.model.rows) - 1)
        if place is None:
            self.detail.show_nothing()
            return
        index = self.model.index(place, self._first_shown_column())
        self.table.selectionModel().setCurrentIndex(
            index, QItemSelectionModel.SelectionFlag.ClearAndSelect | QItemSelectionModel.SelectionFlag.Rows
        )

    def _first_shown_column(self) -> int:
        return next((n for n in range(len(self._spec.columns)) if not self.table.isColumnHidden(n)), 0)

    @Slot()
    def _show_columns(self) -> None:
        actions = self._columns_menu.actions()
        for number, action in enumerate(actions):
            self.table.setColumnHidden(number, not action.isChecked())
            if action.isChecked() and self._fitted and number not in self._widths:
                self._widths[number] = self.model.width_of(number)
                self.table.setColumnWidth(number, self._widths[number])
        self._share_room()
        checked = [action for action in actions if action.isChecked()]
        for action in actions:
            action.setEnabled(len(checked) > 1 or not action.isChecked())

    @Slot(int)
    def _on_choice(self, number: int) -> None:
        self.model.set_keep(self._spec.choices[number - 1].keep if number else None)

    @Slot(int)
    def _on_open(self, row: int) -> None:
        place = self._spec.place(self.model.row_at(row))
        if place is not None:
            self.place_requested.emit(place)

    @Slot(QModelIndex)
    def _on_double_clicked(self, index: QModelIndex) -> None:
        self._on_open(index.row())

    @Slot(int, bool)
    def _on_sort(self, column: int, descending: bool) -> None:
        self.table.sortByColumn(column, Qt.SortOrder.DescendingOrder if descending else Qt.SortOrder.AscendingOrder)

    @Slot(QModelIndex, QModelIndex)
    def _on_current_changed(self, current: QModelIndex, _before: QModelIndex) -> None:
        if not current.isValid():
            self.detail.show_nothing()
            return
        row = self.model.row_at(current.row())
        load, described, beside = self._spec.load_detail, self._spec.describe(row), self.detail.detail
        follows = self._held is not None and beside is not None and beside.title == described.title
        if load is None or not follows:  # the same thing as before the rest was loaded stays until its detail is there
            self.detail.show_detail(described)
        if load is not None:
            self._detail_loader.ask(lambda: load(row))

    @Slot(int, int)
    def _on_shown_changed(self, rows: int, total: int) -> None:
        self.told.setText("" if rows in (0, total) else shown(say("{shown} of {total}", shown=rows, total=total)))
        self.nothing_left.setVisible(not rows and total > 0)
        if not rows:
            self.nothing_left.setText(shown(say("None of {total} matches. Escape clears the filter.", total=total)))
            self.detail.show_nothing()
        elif self._chooses and self.detail.detail is not None and not self.table.currentIndex().isValid():
            self._choose(None)

    @Slot(str)
    def _on_empty_action(self, name: str) -> None:
        """Begin the list where it leads, by its own act where a bar has one, else by the window's action."""
        if name.startswith(GO_TO):
            self.place_requested.emit(PageKey(name.removeprefix(GO_TO)))
            return
        bars = (each for each in self.findChildren(QWidget) if name in getattr(each, "specs", ()))
        bar: Any = next(bars, None)
        if bar is not None:
            bar.start(name)
        else:
            self.action_requested.emit(name)

    @Slot(str)
    def _on_refused(self, line: str) -> None:
        self.is_loaded = True
        self.banner.say_refused(line)
        if not self.model.total:
            self.empty_state.say("The list could not be loaded", line)
            self._body.setCurrentIndex(1)

    @Slot()
    def _on_theme_changed(self) -> None:
        self._filter_icon.setIcon(self.theme.icon("filter", "muted"))
        self.table.viewport().update()

    # Qt overrides

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape and (self.filter_field.text() or not self.choice_buttons_at_rest()):
            self.filter_field.clear()
            if self.choice_buttons:
                self.choice_buttons[0].click()
            self.focus_table()
            return
        if event.key() == Qt.Key.Key_Down and self.filter_field.hasFocus():
            self.focus_table()
            return
        super().keyPressEvent(event)

    def choice_buttons_at_rest(self) -> bool:
        """True while no quick choice narrows the list."""
        return not self.choice_buttons or self.choice_buttons[0].isChecked()

    def sizeHint(self) -> QSize:
        return QSize(240 * GRID, 150 * GRID)


def widest_for(wanted: Sequence[int], room: int) -> int:
    """How wide columns that give way may be, in pixels, so that all of them have room: the widest give first."""
    cap = max(wanted, default=0)
    while cap > _NARROWEST and sum(min(each, cap) for each in wanted) > room:
        cap -= 1
    return cap


def write_table(title: str, columns: Sequence[Column[R]], rows: Sequence[R], target: Path) -> None:
    """Write rows in columns as a list shows them."""
    # openpyxl is slow to import; only a list that is saved waits for it
    from fleetbench.paper.core.spreadsheet import write_shown

    texts = [[column.cell(row) for column in columns] for row in rows]
    titles, figures = [column.heading for column in columns], [column.align_right for column in columns]
    write_shown(worded(title), titles, texts, target, figures=figures)


def count_words(rows: Sequence[Any], noun: str, nouns: str = "") -> str:
    """'1 unit' or '14 units'."""
    return counted(len(rows), noun, nouns)
