"""The details of returns on one grid: a row a unit, columns in the order of the printed daily log, keyboard only."""

from collections.abc import Callable, Sequence
from datetime import date, time

from PySide6.QtCore import Slot
from PySide6.QtWidgets import QWidget

from fleetbench.calc.core.plausible import DEPTH, LOOP_MINUTES, SEEN_AT_6M, WATER, depth_usual, minutes_usual
from fleetbench.records.core.errors import Refused
from fleetbench.window.forms.form import ActDialog
from fleetbench.window.lists.entry_table import TOLD, EntryModel, EntryTable
from fleetbench.window.look.theme import GRID, Theme
from fleetbench.window.look.words import day_and_start
from fleetbench.window.shell.background import Background, Refresher
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.hires.handback import HandBackEntry, OpenReturn, RunBack, hand_back, open_returns

HEADINGS = (
    "Unit", "Diver", "Loop minutes", "Dives", "Deepest, m", "Coldest, °C", "Oxygen at 6 m, bar", "Faults", "Missing",
    "Damaged y/n", "Deposit back", "Remarks", "Day and start",
)  # fmt: skip
STARTS = 12
NOTE = (
    "A row a unit, Enter moves on. Several runs of one fill with a + between: minutes 70+40, deepest 22+18. An empty "
    "figure is not known, which counts as the worst row of the table. Day and start as far as they are known, "
    "2026-05-04 or 2026-05-04 09:30, a + between for several; empty is not known. Rows left empty wait for another "
    "time."
)


class ReturnsModel(EntryModel[OpenReturn]):
    """Returns to note, and what was typed of each."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(HEADINGS, parent)

    def show_returns(self, returns: Sequence[OpenReturn]) -> None:
        """Show these rows, empty."""
        self.beginResetModel()
        self.rows, self.typed = tuple(returns), {}
        self.endResetModel()

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
            raise self.wrong(row, 9, "enter y or n")
        deposit = self.figures(row, 10)
        if dives and len(dives) not in (1, len(minutes)):
            raise self.wrong(row, 3, "give one figure, or one for each run")
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
            raise self.wrong(row, column, "give one figure, or one for each run")
        return None if not figures else figures[at if len(figures) > 1 else 0]

    def _starts(self, row: int, runs: int) -> list[tuple[date | None, time | None]]:
        """Day and start of each run: what is typed once is the day of all of them, but a start is of one run alone."""
        text = self.text_at(row, STARTS)
        try:
            said = [day_and_start(each) for each in text.split("+")]
        except ValueError:
            raise self.wrong(row, STARTS, "enter 2026-05-04, or 2026-05-04 09:30, or leave it empty") from None
        if len(said) == 1 and said[0][1] is None:
            return said * runs
        if len(said) != runs:
            raise self.wrong(row, STARTS, "give the day of all runs, or day and start of each")
        return said


class HandBackDialog(ActDialog):
    """Notes the details of every return that is filled in, in one act.

    Signals:
        done_with: the HandedBack of each.
    """

    def __init__(
        self, theme: Theme, background: Background, workplace: Workplace, parent: QWidget | None = None
    ) -> None:
        super().__init__(theme, background, "Details of returns", "Save returns", parent)
        self._workplace = workplace
        self.setMinimumSize(280 * GRID, 110 * GRID)
        self.note.setText(NOTE)
        self.model = ReturnsModel(self)
        self.table = EntryTable("returns", TOLD, self)
        self.table.setModel(self.model)
        self.body.addWidget(self.table, 1)
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
            self.banner.say_note("Every return has its details. Receive a unit first, key R.")

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
            raise Refused("rows: none is filled in; enter the loop minutes of a unit first")
        return lambda: hand_back(workplace, entries)
