"""The details of returns, keyboard only: many units on one grid, or the log of one unit line by line as on paper."""

from collections.abc import Callable, Sequence
from datetime import date, time
from pathlib import Path
from typing import Any

from PySide6.QtCore import Qt, Slot
from PySide6.QtWidgets import QFileDialog, QHBoxLayout, QLineEdit, QWidget

from fleetbench.calc.core.languages import say, shown, strung, worded
from fleetbench.calc.core.measures import CELSIUS, METRE
from fleetbench.calc.core.plausible import (
    DEPTH,
    LOOP_MINUTES,
    SEEN_AT_6M,
    WATER,
    Quantity,
    depth_usual,
    minutes_usual,
)
from fleetbench.calc.hires.log import LINES, ReadLine, RunBack, overlaps, read_line
from fleetbench.records.core.errors import Refused
from fleetbench.records.core.plain_file import plain_name, written
from fleetbench.window.forms.fields import DecimalField, labelled
from fleetbench.window.forms.form import ActDialog
from fleetbench.window.lists.entry_table import TOLD, EntryModel, EntryTable, Index
from fleetbench.window.look.buttons import ChoiceBox, plain_button
from fleetbench.window.look.theme import CLOSE, GRID, Theme
from fleetbench.window.look.words import counted, day_and_start
from fleetbench.window.shell.background import Background, Refresher
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.hires.handback import (
    HandBackEntry,
    OpenLog,
    OpenReturn,
    hand_back,
    log_entry,
    log_template,
    open_log,
    open_returns,
    read_log_file,
)

HEADINGS = (
    "Unit", "Diver", say("Loop minutes"), "Dives", say("Deepest, {length}"), say("Coldest, {warmth}"),
        say("Oxygen at {stop}, bar"),
    "Faults", "Missing", say("Damaged y/n"), say("Deposit back"), "Remarks", say("Day and start"),
)  # fmt: skip
STARTS = 12
NOTE = say(
    "A row a unit, Enter moves on. Several runs of one fill with a + between: minutes 70+40, "
    "deepest 22+18. An empty figure is not known, which counts as the worst row of the "
    "table. Day and start as far as they are known, 2026-05-04 or 2026-05-04 09:30, a + "
    "between for several; empty is not known. Rows left empty wait for another time."
)


class ReturnsModel(EntryModel[OpenReturn]):
    """Returns to note, and what was typed of each."""

    def __init__(self, parent: QWidget | None = None) -> None:
        units = {"length": METRE, "warmth": CELSIUS, "stop": METRE.words(6, 0)}
        super().__init__(tuple(say(str(each), **units) for each in HEADINGS), parent)

    def show_returns(self, returns: Sequence[OpenReturn]) -> None:
        """Show these rows, empty."""
        self.beginResetModel()
        self.rows, self.typed = tuple(returns), {}
        self.endResetModel()

    def measures(self, row: int, column: int) -> tuple[Quantity | None, tuple[float, float] | None]:
        """Minutes, depth, water and oxygen at 6 m; a depth by the hire's planned one."""
        planned = depth_usual(self.rows[row].planned_depth_m)
        return {2: (LOOP_MINUTES, None), 4: (DEPTH, planned), 5: (WATER, None), 6: (SEEN_AT_6M, None)}.get(
            column, (None, None)
        )

    def last(self, row: int, column: int) -> float | None:
        """The same figure of the last run in this unit."""
        return self.rows[row].before.get({2: "minutes", 4: "deepest_m", 5: "coldest_c", 6: "seen_at_6m_bar"}[column])

    def entries(self) -> list[HandBackEntry]:
        """What was typed, row by row; Refused names unit and column."""
        filled = sorted({row for (row, _), text in self.typed.items() if text.strip()})
        return [self._entry(row) for row in filled]

    def _entry(self, row: int) -> HandBackEntry:
        planned = depth_usual(self.rows[row].planned_depth_m)
        dives = self.figures(row, 3)
        minutes = self.figures(row, 2, LOOP_MINUTES, minutes_usual(max(dives, default=1.0)))
        deepest, coldest = self.figures(row, 4, DEPTH, planned), self.figures(row, 5, WATER)
        seen = self.figures(row, 6, SEEN_AT_6M)
        damaged = self.text_at(row, 9).casefold()
        if damaged not in ("", "y", "n"):
            raise self.wrong(row, 9, say("enter y or n"))
        deposit = self.figures(row, 10)
        if dives and len(dives) not in (1, len(minutes)):
            raise self.wrong(row, 3, say("give one figure, or one for each run"))
        starts = self._starts(row, len(minutes))
        runs = tuple(
            RunBack(
                minutes=each,
                dives=int(dives[at]) if len(dives) == len(minutes) else 1,
                deepest_m=self._of_run(row, 4, deepest, at, len(minutes)),
                coldest_c=self._of_run(row, 5, coldest, at, len(minutes)),
                seen_at_6m_bar=self._of_run(row, 6, seen, at, len(minutes)),
                on=starts[at][0],
                start=starts[at][1],
            )
            for at, each in enumerate(minutes)
        )
        return HandBackEntry(
            line_id=self.rows[row].line_id,
            loop_minutes=sum(minutes) if minutes else None,
            dives=int(sum(dives)) if dives else None,
            runs=runs,
            faults=self.text_at(row, 7),
            missing=self.text_at(row, 8),
            damaged={"y": True, "n": False}.get(damaged),
            deposit_back=deposit[0] if deposit else None,
            remarks=self.text_at(row, 11),
        )

    def _of_run(self, row: int, column: int, figures: list[float], at: int, runs: int) -> float | None:
        if len(figures) not in (0, 1, runs):
            raise self.wrong(row, column, say("give one figure, or one for each run"))
        return None if not figures else figures[at if len(figures) > 1 else 0]

    def _starts(self, row: int, runs: int) -> list[tuple[date | None, time | None]]:
        """Day and start of each run: what is typed once is the day of all of them, but a start is of one run alone."""
        text = self.text_at(row, STARTS)
        try:
            said = [day_and_start(each) for each in text.split("+")]
        except ValueError:
            raise self.wrong(row, STARTS, say("enter 2026-05-04, or 2026-05-04 09:30, or leave it empty")) from None
        if len(said) == 1 and said[0][1] is None:
            return said * runs
        if len(said) != runs:
            raise self.wrong(row, STARTS, say("give the day of all runs, or day and start of each"))
        return said


class HandBackDialog(ActDialog):
    """Notes the details of every return that is filled in, in one act.

    Signals:
        done_with: the HandedBack of each.
    """

    def __init__(
        self, theme: Theme, background: Background, workplace: Workplace, parent: QWidget | None = None
    ) -> None:
        super().__init__(theme, background, say("Details of returns"), say("Save returns"), parent)
        self._workplace = workplace
        self.setMinimumSize(245 * GRID, 110 * GRID)
        self.note.setText(shown(NOTE))
        self.model = ReturnsModel(self)
        self.table = EntryTable("returns", TOLD, self)
        self.table.setModel(self.model)
        self.body.addWidget(self.table, 1)
        self.body.addWidget(self.table.beside)
        self._loader = Refresher(background, self)
        self._loader.loaded.connect(self.show_returns)
        self._loader.refused.connect(self.banner.say_refused)
        self._loader.ask(lambda: open_returns(workplace))

    @Slot(object)
    def show_returns(self, returns: tuple[OpenReturn, ...]) -> None:
        """Show what is to note, the cursor on the first figure."""
        self.model.show_returns(returns)
        self.table.resizeColumnsToContents()
        if returns:
            self.table.setCurrentIndex(self.model.index(0, TOLD))
            self.table.setFocus()
        else:
            self.banner.say_note(say("Every return has its details. Receive a unit first, key R."))

    def work(self) -> Callable[[], object]:
        """Noting what was typed."""
        try:
            entries, workplace = self.model.entries(), self._workplace
        except Refused:
            if self.model.wrong_at is not None:
                self.table.setCurrentIndex(self.model.index(*self.model.wrong_at))
                self.table.setFocus()
            raise
        if not entries:
            raise Refused(say("rows: none is filled in; enter the loop minutes of a unit first"))
        return lambda: hand_back(workplace, entries)


LOG_NOTE = say(
    "A line a dive and fill, as on the printed log. Enter moves on; arrow down and Home "
    "begin the next line. Day: its number in the month, or 2026-05-04. Start: 930, or ? "
    "where it is not known. Figures left empty are not known. What is wrong stands beside "
    "its line, and nothing is saved before all lines are right."
)
NOT_LOOKED_AT, NOT_DAMAGED, DAMAGED = say("not recorded"), "no", "yes"


class LogModel(EntryModel[OpenReturn]):
    """The lines of one log: number, what is to correct, then what was typed or read from a file."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__((), parent)
        self.log: OpenLog | None = None
        self.read: list[ReadLine] = []

    def show_log(self, log: OpenLog, texts: Sequence[dict[str, str]] = ()) -> None:
        """Show this log, empty or with these lines."""
        self.beginResetModel()
        self.log = log
        self.headings = ("Line", say("To correct"), *(each.title[0].upper() + each.title[1:] for each in log.columns))
        self.rows = (log.about,) * max(LINES, len(texts))
        places = {each.key: place for place, each in enumerate(log.columns, start=TOLD)}
        self.typed = {(row, places[key]): text for row, line in enumerate(texts) for key, text in line.items()}
        self._doubted, self._kept = {}, set()
        self._look()
        self.endResetModel()

    def measures(self, row: int, column: int) -> tuple[Quantity | None, tuple[float, float] | None]:
        """What the log's column measures; a depth by the hire's planned one."""
        if self.log is None or column < TOLD:
            return None, None
        of = self.log.columns[column - TOLD]
        return of.quantity, depth_usual(self.log.span.planned_depth_m) if of.quantity is DEPTH else None

    def last(self, row: int, column: int) -> float | None:
        """What the cell gave at its last calibration, else the line above, else the last run in this unit."""
        assert self.log is not None
        of = self.log.columns[column - TOLD]
        if of.key in self.log.span.last_mv:
            return self.log.span.last_mv[of.key]
        above = self.figure_above(row, column, of.quantity) if of.quantity is not None else None
        return self.log.about.before.get(of.key) if above is None else above

    def _look(self) -> None:
        """Read every line again; a figure that is unusual counts once it was typed again."""
        log = self.log
        assert log is not None
        texts: list[dict[str, str]] = [{} for _ in self.rows]
        for (row, column), text in self.typed.items():
            texts[row][log.columns[column - TOLD].key] = text
        self.read = [read_line(log.columns, each, log.span) for each in texts]
        for row, each in enumerate(self.read):
            for place, of in enumerate(log.columns, start=TOLD):
                if of.key in each.doubted and (row, place) not in self._kept:
                    self._doubted[row, place] = self.text_at(row, place)

    def faults(self) -> list[tuple[int, str, str]]:
        """Row, column's key and words of everything that is to correct, from the top down."""
        log = self.log
        if log is None:
            return []
        runs = [(number, each.run) for number, each in enumerate(self.read, start=1) if each.run is not None]
        late = overlaps(runs)
        found = []
        for row, each in enumerate(self.read):
            doubts = {
                column.key: say("{doubted}; type it again to keep it", doubted=each.doubted[column.key])
                for place, column in enumerate(log.columns, start=TOLD)
                if column.key in each.doubted and (row, place) in self._doubted
            }
            found += [(row, key, words) for key, words in (each.wrong | doubts).items()]
            found += [(row, "start", late[row + 1])] if row + 1 in late else []
        return found

    def lines(self) -> list[ReadLine]:
        """The dives of the log; Refused names line and cell, and `wrong_at` says where."""
        log = self.log
        for row, key, words in self.faults():
            assert log is not None
            self.wrong_at = row, next(at for at, each in enumerate(log.columns, start=TOLD) if each.key == key)
            raise Refused(say("line {row}: {words}", row=row + 1, words=words))
        return [each for each in self.read if each.run is not None]

    # Qt overrides

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        if index.isValid() and index.column() < TOLD:
            if role not in (Qt.ItemDataRole.DisplayRole, Qt.ItemDataRole.ToolTipRole):
                return None
            words = strung("; ", (words for row, _, words in self.faults() if row == index.row()))
            return (str(index.row() + 1), words)[index.column()]
        return super().data(index, role)

    def setData(self, index: Index, value: Any, role: int = Qt.ItemDataRole.EditRole) -> bool:
        if not super().setData(index, value, role):
            return False
        self._look()
        self.dataChanged.emit(self.index(0, 1), self.index(len(self.rows) - 1, 1), [Qt.ItemDataRole.DisplayRole])
        return True


class LogDialog(ActDialog):
    """Notes the log of one return line by line, typed or read from a filled form or table, in one act.

    Signals:
        done_with: the HandedBack of the one return.
    """

    def __init__(
        self, theme: Theme, background: Background, workplace: Workplace, parent: QWidget | None = None
    ) -> None:
        super().__init__(theme, background, say("Log of a return"), say("Save log"), parent)
        self._workplace = workplace
        self.setMinimumSize(240 * GRID, 120 * GRID)
        self.note.setText(shown(LOG_NOTE))
        self.returns: tuple[OpenReturn, ...] = ()
        self.of = ChoiceBox(self)
        self.of.setAccessibleName(worded("Log of"))
        self.model = LogModel(self)
        self.table = EntryTable("log", TOLD, self)
        self.table.setModel(self.model)
        self.missing, self.remarks = QLineEdit(self), QLineEdit(self)
        self.damaged = ChoiceBox(self)
        self.damaged.addItems([worded(each) for each in (NOT_LOOKED_AT, NOT_DAMAGED, DAMAGED)])
        self.deposit = DecimalField("Deposit back", parent=self)
        self._build(theme)
        self._log = Refresher(background, self)
        self._log.loaded.connect(self.show_log)
        self._log.refused.connect(self.banner.say_refused)
        self._loader = Refresher(background, self)
        self._loader.loaded.connect(self.show_returns)
        self._loader.refused.connect(self.banner.say_refused)
        self._loader.ask(lambda: open_returns(workplace))

    def _build(self, theme: Theme) -> None:
        above = QHBoxLayout()
        above.setSpacing(CLOSE)
        self.read_button = plain_button(theme, "Read a filled form or table…", "", self)
        self.save_button = plain_button(theme, "Save a table to fill in…", "", self)
        above.addWidget(self.of, 1)
        above.addWidget(self.read_button)
        above.addWidget(self.save_button)
        self.body.addLayout(above)
        self.body.addWidget(self.table, 1)
        self.body.addWidget(self.table.beside)
        below = QHBoxLayout()
        below.setSpacing(CLOSE)
        for label, field in (
            ("Missing", self.missing),
            ("Damaged", self.damaged),
            (say("Deposit back"), self.deposit),
            ("Remarks", self.remarks),
        ):
            field.setAccessibleName(worded(label))
            below.addLayout(labelled(field, label, self))
        self.body.addLayout(below)
        self.of.currentIndexChanged.connect(self._on_chosen)
        self.read_button.clicked.connect(self._on_read)
        self.save_button.clicked.connect(self._on_save)

    @Slot(object)
    def show_returns(self, returns: tuple[OpenReturn, ...]) -> None:
        """Offer the returns whose details nobody has noted."""
        self.returns = returns
        self.of.blockSignals(True)
        self.of.clear()
        self.of.addItems([f"{each.unit}   {each.booking}   {each.diver}" for each in returns])
        self.of.blockSignals(False)
        if returns:
            self._on_chosen(0)
        else:
            self.banner.say_note(say("Every return has its details. Receive a unit first, key R."))
        for each in (self.of, self.table, self.read_button, self.save_button, self.act_button):
            each.setEnabled(bool(returns))

    @Slot(int)
    def _on_chosen(self, place: int) -> None:
        workplace, about = self._workplace, self.returns[place]
        self._log.ask(lambda: open_log(workplace, about))

    @Slot(object)
    def show_log(self, log: OpenLog) -> None:
        """Show its empty lines, the cursor on the first day."""
        self.model.show_log(log)
        self._to(0, TOLD)
        for column, wide in enumerate((16, 70)):
            self.table.setColumnWidth(column, wide * GRID)

    def _to(self, row: int, column: int) -> None:
        self.table.setCurrentIndex(self.model.index(row, column))
        self.table.setFocus()

    def read_file(self, path: Path) -> None:
        """Put the lines of a file on the grid, where each bad cell is told beside its line; nothing is saved by it."""
        log = self.model.log
        if log is None:
            return
        try:
            self.model.show_log(log, read_log_file(log, path))
        except Refused as refusal:
            self.banner.say_refused(str(refusal))
            return
        wrong = len(self.model.faults())
        said = (
            say("To correct: {wrong}.", wrong=counted(wrong, "cell"))
            if wrong
            else say("Look at the lines, then save them.")
        )
        self.banner.say_note(say("{path} is read, not saved yet. {said}", path=path.name, said=said))
        self._to(0, TOLD)

    @Slot()
    def _on_read(self) -> None:
        chosen, _ = QFileDialog.getOpenFileName(
            self, worded("Read a filled log"), "", "Logs (*.pdf *.csv);;All files (*)"
        )
        if chosen:
            self.read_file(Path(chosen))

    @Slot()
    def _on_save(self) -> None:
        log = self.model.log
        if log is None:
            return
        chosen, _ = QFileDialog.getSaveFileName(
            self, worded("Save a table"), plain_name(f"log-{log.name}", ".csv"), "CSV (*.csv)"
        )
        if chosen:
            self.save_table(Path(chosen))

    def save_table(self, path: Path) -> None:
        """Write the log as a table to fill in."""
        log = self.model.log
        assert log is not None
        try:
            with written(path) as stream:
                stream.write(log_template(log))
        except (OSError, Refused) as fault:
            self.banner.say_refused(
                say("{path}: cannot be written ({fault}); choose another place", path=path.name, fault=fault)
            )
            return
        self.banner.say_note(say("Saved as {path}.", path=path))

    def work(self) -> Callable[[], object]:
        """Noting what stands on the lines."""
        log, workplace = self.model.log, self._workplace
        if log is None:
            raise Refused(say("log: no return waits for its details; receive a unit first"))
        try:
            lines = self.model.lines()
        except Refused:
            if self.model.wrong_at is not None:
                self._to(*self.model.wrong_at)
            raise
        if not lines:
            raise Refused(say("lines: none is filled in; enter the first dive, or note the return under Details"))
        entry = log_entry(
            log,
            lines,
            missing=self.missing.text(),
            damaged={NOT_DAMAGED: False, DAMAGED: True}.get(self.damaged.currentText()),
            deposit_back=self.deposit.value(),
            remarks=self.remarks.text(),
        )
        return lambda: hand_back(workplace, [entry])
