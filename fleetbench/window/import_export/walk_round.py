"""The walk-round: what is not known of the fleet, in the order of the shelf, printed and typed back in one list.

Each answer is written at once, and the line says what it settled.
"""

from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import Any

from PySide6.QtCore import QModelIndex, Qt, Slot
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QHBoxLayout, QLineEdit, QWidget

from fleetbench.calc.core.languages import say, worded
from fleetbench.window.detail.export_row import ExportRow
from fleetbench.window.import_export.columns_table import TypingTable, fit_columns, set_up_typing
from fleetbench.window.lists.rows import Column, Index, RowModel
from fleetbench.window.look.buttons import choice_button, put_hint, text_label
from fleetbench.window.look.state_delegate import StateDelegate
from fleetbench.window.look.theme import CLOSE
from fleetbench.window.look.words import counted
from fleetbench.window.shell.background import Refresher
from fleetbench.window.shell.pages import Page, PageContext
from fleetbench.workshop.import_export.walk_round import WAITS, WalkLine, WalkRound, walk_round
from fleetbench.workshop.places.accept import answer

ANSWER = 3
HOW = say("Type what you read and press Enter; it is saved at once. Days as 2025-03-14, 2025-03 or 2025.")


def list_page(context: PageContext) -> "WalkRoundPage":
    """The list to walk with."""
    return WalkRoundPage(context)


class _Model(RowModel[WalkLine]):
    """The lines, what was typed for each, and what that settled."""

    def __init__(self, parent: QWidget) -> None:
        self.typed: dict[tuple[str, str, str], str] = {}
        self.settled: dict[tuple[str, str, str], str] = {}
        columns = (
            Column("place", "Place", _place),
            Column("unit", "Unit", _unit),
            Column("look", "Look for", _look_for, gives_way=True),
            Column("answer", "Answer", self._answer),
            Column("now", "Known now", self._now),
        )
        super().__init__(columns, key=_key, parent=parent)
        self.keep_given_order()

    def _answer(self, line: WalkLine) -> str:
        return self.typed.get(line.key, "")

    def _now(self, line: WalkLine) -> str:
        return self.settled.get(line.key, say("not known"))

    # Qt overrides

    def flags(self, index: Index) -> Qt.ItemFlag:
        flags = super().flags(index)
        return flags | Qt.ItemFlag.ItemIsEditable if index.column() == ANSWER else flags

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        if role == Qt.ItemDataRole.EditRole and index.isValid():
            return self._answer(self.row_at(index.row()))
        return super().data(index, role)

    def setData(self, index: Index, value: Any, role: int = Qt.ItemDataRole.EditRole) -> bool:
        if role != Qt.ItemDataRole.EditRole or not str(value).strip():
            return False
        line = self.row_at(index.row())
        self.typed[line.key] = str(value).strip()
        self.dataChanged.emit(index, index)
        return True


class WalkRoundPage(Page):
    """What is not known, with an answer to type in each line."""

    def __init__(self, context: PageContext, parent: QWidget | None = None) -> None:
        super().__init__(context.theme, say("Walk-round"), parent)
        self._context = context
        self.round = WalkRound((), 0, 0)
        self._loading = Refresher(context.background, self)
        self.model = _Model(self)
        self.table = TypingTable(self)
        self.table.setModel(self.model)
        set_up_typing(self.table, say("What is not known"))
        self.table.setItemDelegate(StateDelegate(context.theme, self.table))
        self.words = QLineEdit(self)
        put_hint(self.words, worded("Filter: unit, place or what to look for"))
        self.words.setAccessibleName(worded("Filter"))
        self.useful_button = choice_button(context.theme, "The ten most useful", self)
        self.useful_button.setCheckable(True)
        self.saving = ExportRow(
            context.theme, context.background, "walk-round", (".pdf", ".xlsx", ".csv"), self._writer, self
        )
        self._lay_out()
        self.words.textChanged.connect(self.model.set_filter)
        self.useful_button.toggled.connect(self._on_useful)
        self.model.dataChanged.connect(self._on_typed)
        self._loading.loaded.connect(self._on_loaded)
        self._loading.refused.connect(self.banner.say_refused)
        self.saving.written.connect(self.banner.say_note)
        self.saving.refused.connect(self.banner.say_refused)
        self.refresh()

    def _lay_out(self) -> None:
        top = QHBoxLayout()
        top.setSpacing(CLOSE)
        top.addWidget(self.words, 1)
        top.addWidget(self.useful_button)
        top.addWidget(self.saving)
        self.content.addWidget(text_label(HOW, "body", self))
        self.content.addLayout(top)
        self.content.addWidget(self.table, 1)

    def refresh(self) -> None:
        """Load what is not known; answers of this sitting stay in view until then."""
        self._loading.ask(partial(walk_round, self._context.workplace))

    def focus_first(self) -> None:
        """Put the keyboard on the first answer."""
        self.table.setFocus()

    @Slot(object)
    def _on_loaded(self, found: WalkRound) -> None:
        first = not self.is_loaded
        self.round, self.is_loaded = found, True
        answered = [line for line in self.model.rows if line.key in self.model.settled]
        still = {line.key for line in found.lines}
        kept = [line for line in answered if line.key not in still]
        if not kept:
            self.model.set_rows(found.lines)
            self._fit()
        if first and found.lines:
            self.table.setCurrentIndex(self.model.index(0, ANSWER))
        left = (
            say("; {count} to look for", count=counted(len(found.lines), "thing"))
            if found.lines
            else say("; nothing is left to look for")
        )
        self.set_summary(f"{found.words}{left}")
        if self.useful_button.isChecked():
            self._on_useful(True)

    @Slot(bool)
    def _on_useful(self, on: bool) -> None:
        useful = {line.key for line in self.round.most_useful} | set(self.model.settled)
        self.model.set_keep((lambda line: line.key in useful) if on else None)

    @Slot(QModelIndex, QModelIndex)
    def _on_typed(self, index: QModelIndex, _last: QModelIndex) -> None:
        line = self.model.row_at(index.row())
        waiting = [key for key, said in self.model.settled.items() if said == WAITS and key[:2] == line.key[:2]]
        workplace, given = self._context.workplace, {key: self.model.typed[key] for key in (line.key, *waiting)}
        job = self._context.background.run(partial(answer, workplace, given), self)
        job.succeeded.connect(partial(self._on_answered, line))
        job.refused.connect(partial(self._on_refused, line))

    def _on_answered(self, line: WalkLine, said: Sequence[str]) -> None:
        self.banner.clear()
        for key in [key for key, before in self.model.settled.items() if before == WAITS and key[:2] == line.key[:2]]:
            self.model.settled[key] = said[0].partition(": ")[2]
        self.model.settled[line.key] = said[0].partition(": ")[2]
        self._repaint()
        self.refresh()

    def _on_refused(self, line: WalkLine, why: str) -> None:
        self.model.settled.pop(line.key, None)
        self.banner.say_refused(why)
        self._repaint()

    def _repaint(self) -> None:
        self.model.layoutChanged.emit()
        self._fit()

    def _fit(self) -> None:
        fit_columns(self.table, self.model, 2, {ANSWER: 180, ANSWER + 1: 250})

    def _writer(self) -> Any:
        lines, words, workplace = self.model.rows, self.round.words, self._context.workplace

        def write(path: Path) -> None:
            # reportlab and openpyxl are slow to import; only a list that is saved waits for them
            from fleetbench.printing import print_walk_round

            print_walk_round(workplace, words, lines, path)

        return write

    # Qt overrides

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._fit()


def _place(line: WalkLine) -> str:
    return line.place


def _unit(line: WalkLine) -> str:
    return line.unit


def _look_for(line: WalkLine) -> str:
    return line.look_for


def _key(line: WalkLine) -> tuple[str, str, str]:
    return line.key
