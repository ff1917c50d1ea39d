"""A centre's own spreadsheet in the window: its columns, what its rows would do, and what cannot be read.

Everything is looked at again after each answer; nothing is written before the button is pressed.
"""

from collections.abc import Mapping
from functools import partial
from pathlib import Path
from typing import Any

from PySide6.QtCore import Signal, Slot
from PySide6.QtWidgets import (
    QAbstractItemView,
    QComboBox,
    QHBoxLayout,
    QProgressBar,
    QSizePolicy,
    QStackedWidget,
    QTableView,
    QVBoxLayout,
    QWidget,
)

from fleetbench.calc.core.languages import say, shown, strung, worded
from fleetbench.calc.import_export.cells import DateOrder
from fleetbench.calc.import_export.columns import KEY_FIELDS, Subject
from fleetbench.calc.import_export.tables import ENCODINGS
from fleetbench.calc.parts.kinds import PART_KINDS
from fleetbench.settings import data_folder
from fleetbench.window.detail.export_row import ExportRow
from fleetbench.window.import_export.columns_table import (
    CHANGES,
    AcceptChanges,
    AsksTable,
    ColumnsTable,
    RowLine,
    fit_columns,
    pin_line,
    row_columns,
    summed,
)
from fleetbench.window.lists.lines_view import set_up_table
from fleetbench.window.lists.rows import RowModel, as_plain_tip
from fleetbench.window.look.buttons import ChoiceBox, ElidedLabel, choice_button, lead_button, plain_button, text_label
from fleetbench.window.look.state_delegate import StateDelegate
from fleetbench.window.look.theme import APART, CLOSE, GRID, Theme
from fleetbench.window.look.words import counted
from fleetbench.window.shell.background import Background, Job, Progress
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.import_export.bring import Brought, Examined, RowState, Unfinished, bring, examine, finish_list
from fleetbench.workshop.import_export.spreadsheet import (
    Ask,
    Layout,
    Layouts,
    OpenedFile,
    SheetTable,
    choices,
    guessed,
    open_spreadsheet,
)
from fleetbench.workshop.places.accept import bring_accepted, would_move

WHICH = (say("To finish"), "Changes", "Rows")


def layouts_of(workplace: Workplace) -> Layouts:
    """What was said of files, kept beside the records or the settings."""
    return Layouts(beside(workplace) / "layouts")


def beside(workplace: Workplace) -> Path:
    """The folder of the records, or that of the settings where the records lie on a server."""
    return workplace.database.path.parent if workplace.database.path is not None else data_folder()


class SpreadsheetView(QWidget):
    """One opened file: tables, columns, rows, and the button that imports.

    Signals:
        imported: what was done, in a sentence.
        refused: why not, in one line.
        busy_changed: whether something is on its way.
    """

    imported = Signal(str)
    refused = Signal(str)
    busy_changed = Signal(bool)

    def __init__(self, theme: Theme, background: Background, workplace: Workplace, over: QWidget | None = None) -> None:
        super().__init__(over)
        self._theme, self._background, self._workplace = theme, background, workplace
        self._job: Job | None = None
        self._importing = False
        self._path = Path()
        self.table: SheetTable | None = None
        self.layout_of: Layout | None = None
        self.examined: Examined | None = None
        self.answers: dict[tuple[int, int], str] = {}
        self._opened: OpenedFile | None = None
        self._build()
        self._connect()
        for widget in (self.kinds, self.encodings, self._coding_label):
            widget.hide()
        self._show_counts()

    def _build(self) -> None:
        self.tables, self.subjects, self.kinds, self.encodings = (ChoiceBox(self) for _ in range(4))
        names = (
            say("Table in the file"),
            say("What its rows are"),
            say("Kind where none is stated"),
            say("Text coding"),
        )
        for box, name in zip((self.tables, self.subjects, self.kinds, self.encodings), names, strict=True):
            box.setAccessibleName(worded(name))
            box.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToContents)
            box.setMinimumContentsLength(8)
            box.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)
            box.setMinimumWidth(16 * GRID)
        self.subjects.addItems([worded(each) for each in Subject])
        self.kinds.addItems([worded("not stated"), *map(worded, PART_KINDS)])
        self.encodings.addItems([worded("as told"), *ENCODINGS])
        self.columns = ColumnsTable(self._theme, self)
        self.columns.setMinimumHeight(30 * GRID)
        self.asks = AsksTable(self._theme, self)
        self.changes_model: RowModel[Any] = RowModel(
            CHANGES, key=lambda each: (each.sheet, each.key, each.column), parent=self
        )
        self.rows_model: RowModel[RowLine] = RowModel(row_columns(()), key=lambda each: each[0], parent=self)
        self.stack = QStackedWidget(self)
        self._views = [self.asks, self._view(self.changes_model, "Changes"), self._view(self.rows_model, "Rows")]
        for view in self._views:
            self.stack.addWidget(view)
        self._pick = [choice_button(self._theme, word, self) for word in WHICH]
        self.summary = ElidedLabel("body", self)
        self.of_row = ElidedLabel("body", self)
        self.of_row.setProperty("role", "small")
        self.yes_button = plain_button(self._theme, "Yes, it is this", "", self)
        self.unknown_button = plain_button(self._theme, "Not known", "", self)
        self.accepting = AcceptChanges(say("Correct what is recorded as the file states it"), self)
        self.pin_field = pin_line(self)
        self.import_button = lead_button(self._theme, "Import", "bring_in", self)
        self.saving = ExportRow(
            self._theme, self._background, "to-finish", (".pdf", ".csv", ".xlsx"), self._writer, self
        )
        self._bar = QProgressBar(self)
        self._bar.setTextVisible(False)
        self.cancel_button = plain_button(self._theme, "Cancel", "close", self)
        self._lay_out()

    def _lay_out(self) -> None:
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(CLOSE)
        self._coding_label = text_label(say("Coding"), "label", self)
        top = _line(
            text_label(say("Table"), "label", self), self.tables, text_label(say("Its rows are"), "label", self),
                self.subjects,
            self.kinds, self._coding_label, self.encodings,
        )  # fmt: skip
        top.addStretch(1)
        column.addLayout(top)
        column.addWidget(self.columns, 4)
        picks = _line(*self._pick)
        picks.addWidget(self.summary, 1)
        picks.addWidget(self._bar, 1)
        picks.addWidget(self.cancel_button)
        column.addLayout(picks)
        column.addWidget(self.stack, 5)
        column.addWidget(self.of_row)
        column.addWidget(self.accepting)
        foot = _line(self.yes_button, self.unknown_button, self.saving)
        foot.addStretch(1)
        foot.addWidget(self.pin_field)
        foot.addWidget(self.import_button)
        column.addLayout(foot)

    def _view(self, model: RowModel[Any], name: str) -> QTableView:
        view = QTableView(self)
        view.setModel(model)
        view.setItemDelegate(StateDelegate(self._theme, view))
        model.keep_given_order()
        set_up_table(view, name)
        view.setTabKeyNavigation(False)
        view.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        return view

    def _connect(self) -> None:
        self.tables.activated.connect(self._on_table)
        self.subjects.activated.connect(self._on_subject)
        self.kinds.activated.connect(self._on_kind)
        self.encodings.activated.connect(self._on_encoding)
        self.columns.meaning_chosen.connect(self._on_meaning)
        self.columns.order_chosen.connect(self._on_order)
        self.asks.answered.connect(self._on_answered)
        self.asks.chosen.connect(self._on_ask)
        for number, button in enumerate(self._pick):
            button.clicked.connect(partial(self._on_pick, number))
        self.yes_button.clicked.connect(self.say_yes)
        self.unknown_button.clicked.connect(self.say_unknown)
        self.accepting.toggled.connect(self._look_what_moves)
        self.accepting.entered.connect(self.take)
        self.import_button.clicked.connect(self.take)
        self.pin_field.returnPressed.connect(self.take)
        self.cancel_button.clicked.connect(self._on_cancel)
        self.saving.written.connect(self.imported)
        self.saving.refused.connect(self.refused)

    def open_path(self, path: Path) -> None:
        """Open a file and show its first table."""
        self._path, self.table, self.examined = path, None, None
        self.accepting.begin_again()
        encoding = self.encodings.currentText() if self.encodings.currentIndex() > 0 else ""
        self._run(partial(_opened, path, encoding), self._on_opened)

    def open_unfinished(self, kept: Unfinished) -> None:
        """Show the rows that were left to finish."""
        self._path = kept.path
        self._on_opened(OpenedFile(kept.path, (kept.table,)), kept.layout)

    @Slot(object)
    def _on_opened(self, opened: OpenedFile, layout: Layout | None = None) -> None:
        self._opened = opened
        self.tables.clear()
        self.tables.addItems([table.label for table in opened.tables])
        coded = bool(opened.encoding)
        self.encodings.setVisible(coded)
        self._coding_label.setVisible(coded)
        self._show_table(opened.tables[0], layout)

    def _show_table(self, table: SheetTable, layout: Layout | None = None) -> None:
        self.table, self.answers = table, {}
        self._read_as(layout or guessed(table, layouts=layouts_of(self._workplace)))

    def _read_as(self, layout: Layout) -> None:
        """Read the columns so, and look at the rows again."""
        assert self.table is not None
        self.layout_of = layout
        self.subjects.setCurrentText(worded(layout.subject))
        self.kinds.setVisible(layout.subject is Subject.PARTS)
        self.kinds.setCurrentText(worded(layout.kind or "not stated"))
        self.columns.show_layout(self.table, layout)
        self.look()

    def look(self) -> None:
        """See what the rows would do."""
        if self.table is None or self.layout_of is None or self._importing:
            return  # an import is never interrupted by a look; the next one follows it
        workplace, table, layout, answers = self._workplace, self.table, self.layout_of, dict(self.answers)
        self._run(lambda progress: examine(workplace, table, layout, answers, _by_part(progress)), self._on_examined)

    @Slot(object)
    def _on_examined(self, examined: Examined) -> None:
        first = self.examined is None
        self.examined = examined
        assert self.table is not None
        self.asks.show_asks(examined.asks, self._known_by)
        self.changes_model.set_rows(examined.changes)
        fit_columns(self._views[1], self.changes_model, 4)
        self._show_rows(examined.states)
        if first or not self._count(self.stack.currentIndex()):
            self._on_pick(next((n for n in range(3) if self._count(n)), 2))
        self._show_counts()
        self._look_what_moves()

    @Slot()
    def _look_what_moves(self) -> None:
        """See what the changes would move, before anything is written."""
        self.accepting.tell(())
        self._show_counts()
        if self.table is None or self.layout_of is None or self.accepting.why is None:
            return
        workplace, table, layout, answers = self._workplace, self.table, self.layout_of, dict(self.answers)
        name = self._path.name
        look = partial(would_move, workplace, table, layout, answers, name=name)
        self._run(lambda progress: look(told=_by_part(progress)), self._on_moves)

    def _show_rows(self, states: Mapping[int, RowState]) -> None:
        assert self.table is not None
        table, columns = self.table, self.table.found.columns
        model: RowModel[RowLine] = RowModel(row_columns(table.found.names), key=lambda each: each[0], parent=self)
        model.keep_given_order()
        model.set_rows([(row, state, tuple(table.cell(row, at) for at in columns)) for row, state in states.items()])
        self._views[2].setModel(model)
        for number in range(model.columnCount()):
            self._views[2].setColumnWidth(number, model.width_of(number, 220))
        self.rows_model.deleteLater()
        self.rows_model = model

    def _count(self, which: int) -> int:
        found = self.examined
        return 0 if found is None else (len(found.asks), len(found.changes), len(found.states))[which]

    @Slot()
    def _show_counts(self) -> None:
        found, busy = self.examined, self._job is not None
        for number, button in enumerate(self._pick):
            button.setText(f"{WHICH[number]} {self._count(number)}")
            button.setChecked(number == self.stack.currentIndex())
        asking = self.stack.currentIndex() == 0 and bool(self._count(0))
        self.yes_button.setVisible(asking)
        self.unknown_button.setVisible(asking)
        self.of_row.setVisible(asking)
        self.saving.setVisible(bool(self._count(0)))
        self.accepting.offer(bool(self._count(1)))
        self.summary.setVisible(not busy)
        for widget in (self._bar, self.cancel_button):
            widget.setVisible(busy)
        if found is not None:
            self.summary.setText(shown(summed(found)))
            self.summary.setToolTip(as_plain_tip(strung("; ", found.made)))
        will = self._will_take()
        self.import_button.setText(
            worded(say("Import {will}", will=counted(will, "row"))) if will else worded("Nothing to import")
        )
        self.import_button.setEnabled(bool(will) and not busy)

    def _will_take(self) -> int:
        found = self.examined
        if found is None:
            return 0
        only_changes = {each.row for each in found.changes} if self.accepting.why is None else set()
        changed = [row for row, state in found.states.items() if state is RowState.CHANGED]
        return found.count(RowState.NEW) + sum(row not in only_changes for row in changed)

    def _known_by(self, ask: Ask) -> str:
        assert self.table is not None and self.layout_of is not None
        keys = KEY_FIELDS[self.layout_of.subject]
        for place, meaning in enumerate(self.layout_of.meanings):
            text = self.table.cell(ask.row, self.table.found.columns[place])
            if meaning.field in keys and not meaning.slot and text:
                return text
        return ""

    @Slot(int)
    def _on_table(self, number: int) -> None:
        if self._opened is not None:
            self.examined = None
            self._show_table(self._opened.tables[number])

    @Slot(int)
    def _on_subject(self, number: int) -> None:
        if self.table is not None:
            self.answers = {}
            self._read_as(guessed(self.table, tuple(Subject)[number]))

    @Slot(int)
    def _on_kind(self, number: int) -> None:
        if self.layout_of is not None:
            self._read_as(self.layout_of.with_kind(self.kinds.itemText(number) if number else ""))

    @Slot(int)
    def _on_encoding(self, _number: int) -> None:
        self.open_path(self._path)

    @Slot(int, int)
    def _on_meaning(self, place: int, number: int) -> None:
        if self.layout_of is not None:
            self._read_as(self.layout_of.with_meaning(place, choices(self.layout_of)[number]))

    @Slot(int, str)
    def _on_order(self, place: int, order: str) -> None:
        if self.layout_of is not None:
            self._read_as(self.layout_of.with_order(place, DateOrder(order)))

    @Slot(object, str)
    def _on_answered(self, ask: Ask, text: str) -> None:
        self.answers[ask.row, ask.column] = text.strip()
        self.look()

    @Slot(object)
    def _on_ask(self, ask: Ask) -> None:
        if self.table is not None:
            table = self.table
            said = zip(table.found.names, table.found.columns, strict=True)
            texts = (f"{name} {text}" for name, at in said if (text := table.cell(ask.row, at)))
            self.of_row.setText(worded(say("Row {row}:  {texts}", row=ask.row + 1, texts=strung("  ·  ", texts))))

    def _on_pick(self, number: int, _checked: bool = False) -> None:
        self.stack.setCurrentIndex(number)
        self._show_counts()

    @Slot()
    def say_yes(self) -> None:
        """Take what is likely for each chosen cell."""
        chosen = [ask for ask in self.asks.chosen_asks() if ask.likely]
        self.answers |= {(ask.row, ask.column): ask.likely for ask in chosen}
        if chosen:
            self.look()

    @Slot()
    def say_unknown(self) -> None:
        """Say of each chosen cell that it is not known."""
        chosen = self.asks.chosen_asks()
        self.answers |= {(ask.row, ask.column): "" for ask in chosen}
        if chosen:
            self.look()

    @Slot()
    def take(self) -> None:
        """Import what can be read and keep the rest to finish."""
        if self.table is None or self.layout_of is None or self.examined is None:
            return
        workplace, table, layout, path = self._workplace, self.table, self.layout_of, self._path
        answers, pin = dict(self.answers), self.pin_field.text()
        why = self.accepting.why
        self.pin_field.clear()

        def work(progress: Progress) -> Brought:
            take_in = bring if why is None else partial(bring_accepted, why=why)
            done = take_in(workplace, table, layout, answers, name=path.name, pin=pin, told=_by_part(progress))
            layouts_of(workplace).keep(table, layout, path, workplace.clock())
            Unfinished.keep(beside(workplace), table, layout, path, done.examined.asks, answers, workplace.clock())
            return done

        self._run(work, self._on_taken)
        self._importing = True

    @Slot(object)
    def _on_taken(self, done: Brought) -> None:
        self._importing = False
        found = done.examined
        taken = counted(found.count(RowState.NEW), "new row")
        taken += f", {counted(done.corrected, 'correction')}" if done.corrected else ""
        left = found.count(RowState.TO_ASK)
        rest = say(" {left} kept to finish.", left=counted(left, "row")) if left else ""
        if done.corrected:
            self.accepting.begin_again()
        self.imported.emit(
            strung(
                " ", (say("{name}: {taken} imported.{rest}", name=self._path.name, taken=taken, rest=rest), *done.said)
            )
        )
        self.look()

    def _writer(self) -> Any:
        assert self.table is not None and self.layout_of is not None and self.examined is not None
        name, workplace = self._path.name, self._workplace
        lines = finish_list(self.table, self.layout_of, self.examined)

        def write(path: Path) -> None:
            # reportlab and openpyxl are slow to import; only a list that is saved waits for them
            from fleetbench.printing import print_finish_list

            print_finish_list(workplace, name, lines, path)

        return write

    def _run(self, work: Any, then: Any) -> None:
        if self._importing:
            return
        if self._job is not None:
            self._job.cancel()
            self._job.succeeded.disconnect()
            self._job.ended.disconnect()
        self._job = self._background.run_long(work, self)
        self._job.succeeded.connect(then)
        self._job.refused.connect(self.refused)
        self._job.called_off.connect(self._on_called_off)
        self._job.progressed.connect(self._on_progressed)
        self._job.ended.connect(self._on_ended)
        self.busy_changed.emit(True)
        self._show_counts()

    @Slot(object)
    def _on_moves(self, lines: tuple[str, ...]) -> None:
        self.accepting.tell(lines or (say("No last valid day moves."),))

    @Slot(int, int, str)
    def _on_progressed(self, done: int, total: int, what: str) -> None:
        self._bar.setMaximum(total)
        self._bar.setValue(done)
        self._bar.setAccessibleDescription(shown(what))

    @Slot()
    def _on_called_off(self) -> None:
        if self._importing:
            self.imported.emit(worded("Cancelled: nothing was imported."))

    @Slot()
    def _on_cancel(self) -> None:
        if self._job is not None:
            self._job.cancel()

    @Slot()
    def _on_ended(self) -> None:
        if self.sender() is not None and self.sender() is not self._job:
            return
        self._job, self._importing = None, False
        self._show_counts()
        self.busy_changed.emit(False)

    @property
    def is_busy(self) -> bool:
        """Whether something is on its way."""
        return self._job is not None


def _opened(path: Path, encoding: str, _progress: Progress) -> OpenedFile:
    return open_spreadsheet(path, encoding=encoding)


def _by_part(progress: Progress) -> Any:
    return lambda what, part: progress.share(part, what)


def _line(*widgets: QWidget) -> QHBoxLayout:
    line = QHBoxLayout()
    line.setSpacing(APART)
    for widget in widgets:
        line.addWidget(widget)
    return line
