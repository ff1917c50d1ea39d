"""Every act of a room told once, and the bar of buttons, keys and greying that is made from that table.

A key means the same on every list and page; what an act's button does, whom it is for and what is said of it stand in
its own row.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any, TypeVar

import shiboken6
from PySide6.QtCore import QModelIndex, Qt, Signal, Slot
from PySide6.QtGui import QAction, QKeyEvent, QKeySequence, QShortcut
from PySide6.QtWidgets import QDialog, QMenu, QPushButton, QWidget

from fleetbench.calc.core.languages import say, say_small, shown, strung, worded
from fleetbench.calc.people.permits import may, who_may
from fleetbench.window.forms.form import ActDialog, Form
from fleetbench.window.forms.form_dialog import FormDialog
from fleetbench.window.lists.list_page import ListPage, ListSpec
from fleetbench.window.look.buttons import plain_button, quiet_button
from fleetbench.window.look.flow import FlowLayout
from fleetbench.window.shell.pages import PageContext

R = TypeVar("R")


def at_any_time(_row: object) -> bool:
    """An act that needs nothing chosen."""
    return True


def on_a_row(row: object) -> bool:
    """An act that needs what is chosen."""
    return row is not None


@dataclass(frozen=True, slots=True)
class ActSpec:
    """One act: its name in its room, the words and the key of its button, and all that the bar needs to do it.

    means: what its key does on every list and page, in a word or two; the words in small letters where empty.
    act: its name among the permits, empty where nothing is recorded; needs: whether the chosen row allows it.
    form: gives the Form or dialog for the bar and the chosen row; None from it where the act was done without asking.
    said: what is said once it was done, as a line or from the row and what the act returned.
    destroys: it cannot be taken back, and asks first. rare: it stands behind one button, so that the bar fits a small
    window; its key works all the same.
    """

    name: str
    words: str
    key: str = ""
    means: str = ""
    act: str = ""
    needs: Callable[[Any], bool] = on_a_row
    form: Callable[[Any, Any], "Form | QDialog | None"] | None = None
    said: str | Callable[[Any, Any], str] = ""
    destroys: bool = False
    rare: bool = False
    quiet: bool = False

    @property
    def text(self) -> str:
        """The words of its button with the key."""
        return f"{worded(self.words)}   {self.key}".rstrip()

    @property
    def meaning(self) -> str:
        """What its key does wherever it does something."""
        return self.means or say_small(self.words)


def only_for(act: str) -> str:
    """'Only a technician or manager may do this.'."""
    return say("Only a {roles} may do this.", roles=strung(" or ", map(say, reversed(who_may(act)))))


def withhold(button: QPushButton, act: str, role: str | None) -> None:
    """Grey a button whose act the signed-in user may not do, and say who may; before anybody is signed in, none is."""
    if act and role is not None and not may(role, act):
        button.setEnabled(False)
        button.setToolTip(shown(only_for(act)))


def key_of(event: QKeyEvent) -> str:
    """The key that was pressed as the tables of acts name it: 'Shift+Q', 'F4'."""
    return QKeySequence(event.keyCombination()).toString(QKeySequence.SequenceFormat.PortableText)


class ActBar(QWidget):
    """Buttons for the acts of a room on the row that is chosen, greyed by its state and by who is signed in.

    Signals:
        changed: what was done, in a sentence; whoever shows the row loads it again.
        refused: one line that names what was refused and the remedy.
        left: a dialog was closed.
        place_requested: the Place of the act that remedies what a dialog refused.
        acted_on: tag of the unit on which an act was done that says so.
    """

    changed = Signal(str)
    refused = Signal(str)
    left = Signal()
    acted_on = Signal(str)
    place_requested = Signal(object)

    def __init__(
        self,
        context: PageContext,
        acts: Sequence[ActSpec],
        keys_on: QWidget | None = None,
        parent: QWidget | None = None,
        *,
        hides: bool = False,
    ) -> None:
        """keys_on: the widget that has the keyboard where the keys work; hides: only what the row allows is shown."""
        super().__init__(parent)
        self.context, self.workplace = context, context.workplace
        self.row: Any = None
        self.specs = {spec.name: spec for spec in acts}
        self.buttons: dict[str, QPushButton] = {}
        self.choices: dict[str, QAction] = {}
        self._keys_on, self._hides = keys_on, hides
        self._dialog: QDialog | None = None
        self.more = plain_button(context.theme, "More", "", self)
        self._menu = QMenu(self.more)
        self._menu.setToolTipsVisible(True)
        self.more.setMenu(self._menu)
        self._lay_out([self._made(spec) for spec in acts if not spec.rare])
        for spec in acts:
            if spec.rare:
                self._offer(spec)
        self.more.setVisible(bool(self.choices))
        context.signed_in.changed.connect(self._on_signed_in)
        self.allow()

    def _lay_out(self, buttons: Sequence[QPushButton]) -> None:
        self.line = FlowLayout(self)
        for button in (*buttons, self.more):
            self.line.addWidget(button)

    def _made(self, spec: ActSpec) -> QPushButton:
        text = spec.text if self._keys_on is not None else spec.words
        button = (quiet_button if spec.quiet else plain_button)(self.context.theme, text, "", self)
        button.clicked.connect(partial(self.start, spec.name))
        self._bind(spec, button.click)
        self.buttons[spec.name] = button
        return button

    def _offer(self, spec: ActSpec) -> None:
        choice = self._menu.addAction(spec.text)
        choice.triggered.connect(partial(self.start, spec.name))
        self._bind(spec, choice.trigger)
        self.choices[spec.name] = choice

    def _bind(self, spec: ActSpec, press: Callable[[], None]) -> None:
        if spec.key and self._keys_on is not None:
            shortcut = QShortcut(QKeySequence(spec.key), self._keys_on)
            shortcut.setContext(Qt.ShortcutContext.WidgetShortcut)
            shortcut.activated.connect(press)

    @property
    def dialog(self) -> Any:
        """The dialog that is open, if any."""
        return self._dialog if self._dialog is not None and shiboken6.isValid(self._dialog) else None

    def made(self, kind: Callable[..., QDialog], *about: Any, **more: Any) -> QDialog:
        """A dialog of these acts over the window."""
        return kind(self.context.theme, self.context.background, self.workplace, *about, self.window(), **more)

    def choose(self, row: Any) -> None:
        """Act on this row; None where none is chosen."""
        self.row = row
        self.allow()

    def can(self, spec: ActSpec) -> bool:
        """Whether the chosen row allows the act."""
        return spec.needs(self.row)

    def grants(self, spec: ActSpec) -> bool:
        """Whether the signed-in user may do the act; before anybody is signed in, the act itself asks."""
        return _granted(spec, self.context.signed_in.role)

    def allow(self) -> None:
        """Grey what the row does not allow, and what the signed-in user may not do, who is told who may."""
        role = self.context.signed_in.role
        for name, spec in self.specs.items():
            granted = _granted(spec, role)
            offered: QPushButton | QAction = self.choices[name] if spec.rare else self.buttons[name]
            offered.setEnabled(granted and self.can(spec))
            if self._hides:
                offered.setVisible(self.can(spec))
            offered.setToolTip("" if granted else shown(only_for(spec.act)))

    @Slot(object)
    def _on_signed_in(self, _person_id: object) -> None:
        self.allow()

    def start(self, name: str, _checked: bool = False) -> None:
        """Open the form or dialog of an act for the chosen row, or do it where it asks nothing."""
        spec = self.specs[name]
        if spec.form is None or not self.can(spec):
            return
        if not self.grants(spec):
            self.refused.emit(shown(only_for(spec.act)))
            return
        row = self.row
        asked = spec.form(self, row)
        if isinstance(asked, Form):
            asked = FormDialog(self.context.theme, self.context.background, asked, self.window())
        if asked is not None:
            self.open(asked, partial(_words, spec, row))

    def open(self, dialog: QDialog, words: Callable[[Any], str]) -> None:
        """Open a dialog of these acts; words: what is said of what it did."""
        self._dialog = dialog
        if isinstance(dialog, ActDialog):
            dialog.done_with.connect(partial(self.say, words))
        dialog.finished.connect(self._on_left)
        dialog.open()

    def say(self, words: Callable[[Any], str], value: Any) -> None:
        """Tell what was done, and to which unit."""
        if tag := getattr(value, "unit", ""):
            self.acted_on.emit(tag)
        line = words(value)
        if line:
            self.changed.emit(line)

    def run(self, work: Callable[[], object], then: Callable[..., Any]) -> None:
        """Do work off the GUI thread, and then this with what it gave."""
        job = self.context.background.run(work, self)
        job.succeeded.connect(then)
        job.refused.connect(self.refused)

    @Slot(int)
    def _on_left(self, _result: int) -> None:
        self.window().activateWindow()
        if self._keys_on is not None:
            self._keys_on.setFocus()
        self.left.emit()


def _granted(spec: ActSpec, role: str | None) -> bool:
    return not spec.act or role is None or may(role, spec.act)


def _words(spec: ActSpec, row: Any, value: Any) -> str:
    return worded(spec.said) if isinstance(spec.said, str) else shown(spec.said(row, value))


class ActList(ListPage[R]):
    """The list page with its acts on a bar above the rows; they act on the chosen row."""

    def __init__(
        self, context: PageContext, spec: ListSpec[R], acts: Sequence[ActSpec], parent: QWidget | None = None
    ) -> None:
        super().__init__(context.theme, context.background, spec, parent)
        self.context, self.workplace = context, context.workplace
        self.bar = ActBar(context, acts, self.table, self)
        self.buttons, self.start = self.bar.buttons, self.bar.start
        self.content.insertWidget(2, self.bar)
        self.bar.changed.connect(self._on_changed)
        self.bar.refused.connect(self.banner.say_refused)
        self.bar.place_requested.connect(self.place_requested)
        self.bar.acted_on.connect(self.acted_on)
        self.rows_shown.connect(self._on_rows_shown)
        self.table.selectionModel().currentRowChanged.connect(self._on_row)
        self._act_on_chosen()

    @property
    def dialog(self) -> Any:
        """The dialog that is open, if any."""
        return self.bar.dialog

    @property
    def chosen(self) -> R | None:
        """The row that is chosen."""
        current = self.table.currentIndex()
        return self.model.row_at(current.row()) if current.isValid() else None

    @Slot(str)
    def _on_changed(self, words: str) -> None:
        self.banner.say_note(words)
        self.refresh()

    @Slot(int)
    def _on_rows_shown(self, _count: int) -> None:
        self._act_on_chosen()

    @Slot(QModelIndex, QModelIndex)
    def _on_row(self, _now: QModelIndex, _before: QModelIndex) -> None:
        self._act_on_chosen()

    def _act_on_chosen(self) -> None:
        self.bar.choose(self.chosen)
