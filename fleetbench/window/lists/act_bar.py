"""A list with acts above its rows: a button and a key for each, and one dialog at a time."""

from abc import abstractmethod
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any, TypeVar

import shiboken6
from PySide6.QtCore import QModelIndex, Qt, Slot
from PySide6.QtGui import QKeySequence, QShortcut
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QWidget

from fleetbench.window.forms.form import ActDialog
from fleetbench.window.lists.list_page import ListPage, ListSpec
from fleetbench.window.look.buttons import plain_button
from fleetbench.window.look.theme import CLOSE
from fleetbench.window.shell.pages import PageContext

R = TypeVar("R")


@dataclass(frozen=True, slots=True)
class ListAct:
    """One act over a list: its word, its key in the table, its name."""

    word: str
    key: str
    name: str


class ActList(ListPage[R]):
    """The list page with its acts; a list says which act is allowed on a row, and which dialog does it."""

    def __init__(
        self, context: PageContext, spec: ListSpec[R], acts: Sequence[ListAct], parent: QWidget | None = None
    ) -> None:
        super().__init__(context.theme, context.background, spec, parent)
        self.context, self.shop = context, context.shop
        self._dialog: ActDialog | None = None
        self.buttons: dict[str, QPushButton] = {}
        self.content.insertWidget(2, self._make_row(acts))
        self.rows_shown.connect(self._on_rows_shown)
        self.table.selectionModel().currentRowChanged.connect(self._on_row)
        self._allow()

    def _make_row(self, acts: Sequence[ListAct]) -> QWidget:
        row = QWidget(self)
        self.acts = line = QHBoxLayout(row)
        line.setContentsMargins(0, 0, 0, 0)
        line.setSpacing(CLOSE)
        for act in acts:
            button = plain_button(self.theme, f"{act.word}   {act.key}", "", row)
            button.clicked.connect(partial(self.start, act.name))
            shortcut = QShortcut(QKeySequence(act.key), self.table)
            shortcut.setContext(Qt.ShortcutContext.WidgetShortcut)
            shortcut.activated.connect(button.click)
            self.buttons[act.name] = button
            line.addWidget(button)
        line.addStretch(1)
        return row

    @abstractmethod
    def allowed(self, row: R | None) -> Collection[str]:
        """Names of the acts that the chosen row allows; None where no row is chosen."""

    @abstractmethod
    def dialog_for(self, name: str, row: R | None) -> tuple[ActDialog, Callable[[Any], str]]:
        """The dialog of an act, and what to say of what it did."""

    @property
    def dialog(self) -> ActDialog | None:
        """The dialog that is open, if any."""
        return self._dialog if self._dialog is not None and shiboken6.isValid(self._dialog) else None

    @property
    def chosen(self) -> R | None:
        """The row that is chosen."""
        current = self.table.currentIndex()
        return self.model.row_at(current.row()) if current.isValid() else None

    def start(self, name: str, _checked: bool = False) -> None:
        """Open the dialog of an act."""
        dialog, words = self.dialog_for(name, self.chosen)
        self._dialog = dialog
        dialog.done_with.connect(partial(self._on_done, words))
        dialog.finished.connect(self._on_left)
        dialog.open()

    def _on_done(self, words: Callable[[Any], str], value: object) -> None:
        self.banner.say_note(words(value))
        self.refresh()

    @Slot(int)
    def _on_left(self, _result: int) -> None:
        self.window().activateWindow()
        self.table.setFocus()

    @Slot(int)
    def _on_rows_shown(self, _count: int) -> None:
        self._allow()

    @Slot(QModelIndex, QModelIndex)
    def _on_row(self, _now: QModelIndex, _before: QModelIndex) -> None:
        self._allow()

    def _allow(self) -> None:
        can = self.allowed(self.chosen)
        for name, button in self.buttons.items():
            button.setEnabled(name in can)
