"""The dialog of an act: a banner, one act at a time off the GUI thread, Enter; and forms made from a description."""

from abc import abstractmethod
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import partial
from typing import Any

from PySide6.QtCore import QEvent, QObject, Qt, Signal, Slot
from PySide6.QtGui import QKeyEvent, QShowEvent
from PySide6.QtWidgets import (
    QCheckBox,
    QComboBox,
    QDialog,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPlainTextEdit,
    QVBoxLayout,
    QWidget,
)

from fleetbench.calc.core.plausible import Quantity
from fleetbench.calc.parts.life import MarkedDate
from fleetbench.records.core.errors import Refused
from fleetbench.window.forms.fields import AnswerKey, DecimalField, Question, Ticks, labelled, settle_all, with_unit
from fleetbench.window.forms.scrolled import ScrolledBody, keep_on_screen
from fleetbench.window.look.buttons import Banner, lead_button, quiet_button, text_label
from fleetbench.window.look.theme import APART, BLOCK, CLOSE, GRID, Theme
from fleetbench.window.shell.background import Background, Job, Refresher

ENTER = (Qt.Key.Key_Return, Qt.Key.Key_Enter)
Choices = Sequence[tuple[str, object]]
"""Words and the value that each stands for."""
REFUSED, ACT_WORDS = "refused", "act words"
"""Beside the fields' names in what a form loads."""


class ActDialog(QDialog):
    """One act: fields on top, the act's button and whose name it is recorded under below, then what was refused.

    It opens only once a user is signed in, so that nothing is typed in vain; where the act is refused nothing is lost.

    Signals:
        done_with: what the act returned; the dialog closes itself then.
    """

    done_with = Signal(object)

    def __init__(
        self, theme: Theme, background: Background, title: str, act_words: str, parent: QWidget | None
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle(title)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.setMinimumWidth(140 * GRID)
        self.theme = theme
        self._background = background
        self._job: Job | None = None
        self.heading: QLabel = text_label(title, "title", self)
        self.note: QLabel = text_label("", "small", self)
        self.note.setWordWrap(True)
        self.banner = Banner(theme, self)
        self._room = ScrolledBody(self)
        self.body: QVBoxLayout = self._room.body
        self.act_button = lead_button(theme, act_words, "", self)
        self.leave_button = quiet_button(theme, "Cancel", "", self)
        feet = QHBoxLayout()
        feet.setSpacing(CLOSE)
        feet.addWidget(self.act_button)
        feet.addWidget(self.leave_button)
        feet.addStretch(1)
        self.recorded_as = text_label("", "small", self)
        feet.addWidget(self.recorded_as)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(BLOCK, BLOCK, BLOCK, BLOCK)
        layout.setSpacing(APART)
        layout.addWidget(self.heading)
        layout.addWidget(self.note)
        layout.addWidget(self._room, 1)
        layout.addLayout(feet)
        layout.addWidget(self.banner)  # below all else, so that it moves no button
        self.act_button.clicked.connect(self.act)
        self.leave_button.clicked.connect(self.reject)
        background.signed_in.changed.connect(self._show_user)
        self._show_user()

    @abstractmethod
    def work(self) -> Callable[[], object]:
        """The act with what stands in the fields, to be run off the GUI thread; Refused names a field."""

    @property
    def is_acting(self) -> bool:
        """Whether the act is on its way."""
        return self._job is not None

    @Slot()
    def act(self) -> None:
        """Do it, once."""
        if self._job is not None:
            return
        try:
            settle_all(self)
            work = self.work()
        except Refused as refusal:
            self.banner.say_refused(str(refusal))
            return
        self.act_button.setEnabled(False)
        self._job = self._background.run(work, self)
        self._job.succeeded.connect(self._on_done)
        self._job.refused.connect(self.banner.say_refused)
        self._job.ended.connect(self._on_ended)

    def open(self) -> None:
        """Open it, after somebody was signed in; where nobody is, it is left as by its own button."""
        self._background.signed_in.first(super().open, self._leave_unopened)

    def _leave_unopened(self) -> None:
        self.reject()
        self.deleteLater()

    @Slot()
    def _show_user(self) -> None:
        name = self._background.signed_in.name
        self.recorded_as.setText(f"Recorded as {name}" if name else "")

    @Slot(object)
    def _on_done(self, value: Any) -> None:
        self.done_with.emit(value)
        self.accept()

    @Slot()
    def _on_ended(self) -> None:
        self._job = None
        self.act_button.setEnabled(True)

    # Qt overrides

    def event(self, event: QEvent) -> bool:
        handled = super().event(event)
        if event.type() == QEvent.Type.LayoutRequest and self.isVisible():
            keep_on_screen(self)
        return handled

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        keep_on_screen(self)
        for field in self.findChildren(QLineEdit):
            if not isinstance(field.parent(), QComboBox):
                field.installEventFilter(self)
            if isinstance(field, DecimalField):
                field.asked.connect(self._on_asked, Qt.ConnectionType.UniqueConnection)

    @Slot(str)
    def _on_asked(self, line: str) -> None:
        if line:
            self.banner.say_refused(line)
        else:
            self.banner.clear()

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        # A line edit passes Enter on to its dialog, which would do the act while the hand is still moving on.
        pressed = event.key() if isinstance(event, QKeyEvent) and event.type() == QEvent.Type.KeyPress else None
        if isinstance(watched, QLineEdit) and pressed in ENTER:
            if isinstance(watched, DecimalField) and watched.stays():
                return True
            watched.returnPressed.emit()
            return True
        return super().eventFilter(watched, event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in ENTER:
            self.act()
            return
        super().keyPressEvent(event)


@dataclass(frozen=True, slots=True)
class Field:
    """One argument of an act as it is asked for.

    kind: what is typed or chosen. "text" gives the line, "words" several lines, "day" a date or None, "marked" a
    MarkedDate or None, "figure" a float, "whole" an int, "pin" a line that shows no digit, "choice" the value of the
    chosen words, "tick" whether it is ticked, "question" the value of the answer given on its key, "ticks" the values
    of all that are ticked, "told" nothing: it shows a text that was loaded.
    spoken: its name in refusals and for readers of the screen; the label in small letters where empty. wants: what to
    do where it stays empty, said after its name; empty where it may. beside: stands in the row of the field before it.
    nothing: said where no choice was found.
    """

    name: str
    label: str = ""
    kind: str = "text"
    hint: str = ""
    default: object = None
    choices: Choices = ()
    unit: str = ""
    quantity: Quantity | None = None
    spoken: str = ""
    wants: str = ""
    beside: bool = False
    nothing: str = ""
    longest: int = 200

    @property
    def title(self) -> str:
        """Its name in refusals."""
        return self.spoken or self.label.lower()


@dataclass(frozen=True, slots=True)
class Form:
    """An act as a form: its title, the words of its button, a note, its fields, and the function that does it.

    act is called with the fields' values by keyword, off the GUI thread. load is called off the GUI thread and gives
    choices (or the text of a "told" field) by the field's name, under REFUSED why the act cannot be done, and under
    ACT_WORDS the button's words with what was found. first names the field that has the keyboard at first.
    """

    title: str
    act_words: str
    note: str
    fields: tuple[Field, ...]
    act: Callable[..., object]
    load: Callable[[], Mapping[str, Choices | str]] | None = None
    first: str = ""
    wide: int = 140


def day_of(text: str, name: str) -> date | None:
    """The day that was typed, None for nothing; Refused naming the field otherwise."""
    try:
        return date.fromisoformat(text.strip()) if text.strip() else None
    except ValueError:
        raise Refused(f"{name}: {text.strip()!r} is not a date; enter one such as 2028-01-31") from None


def mark_of(text: str, name: str) -> MarkedDate | None:
    """The date as it is marked, None for nothing; Refused naming the field otherwise."""
    try:
        return MarkedDate.parse(text.strip()) if text.strip() else None
    except ValueError as fault:
        raise Refused(f"{name}: {str(fault).partition(': ')[2]}") from fault


def words_field(parent: QWidget) -> QPlainTextEdit:
    """A field for a few sentences; Tab leads on."""
    made = QPlainTextEdit(parent)
    made.setTabChangesFocus(True)
    made.setMinimumHeight(24 * GRID)
    return made


class FormDialog(ActDialog):
    """An act that asks for what its form describes; Enter leads from field to field and, from the last, does it."""

    def __init__(self, theme: Theme, background: Background, form: Form, parent: QWidget | None = None) -> None:
        super().__init__(theme, background, form.title, form.act_words, parent)
        self.form = form
        self.setMinimumWidth(form.wide * GRID)
        self.note.setText(form.note)
        self.note.setVisible(bool(form.note))
        self.fields: dict[str, QWidget] = {field.name: self._made(field) for field in form.fields}
        self._lay_out()
        self._join()
        if form.load is not None:
            self._loader = Refresher(background, self)
            self._loader.loaded.connect(self.show_loaded)
            self._loader.refused.connect(self.banner.say_refused)
            self._loader.ask(form.load)
        self._first().setFocus()

    def __getitem__(self, name: str) -> Any:
        """The widget of a field."""
        return self.fields[name]

    def _made(self, field: Field) -> QWidget:
        made = self._widget(field)
        made.setAccessibleName(field.title)
        if isinstance(made, QLineEdit) and field.hint:
            made.setPlaceholderText(field.hint)
        return made

    def _widget(self, field: Field) -> QWidget:
        made: QWidget
        match field.kind:
            case "choice":
                made = QComboBox(self)
                self._offer(field, made, field.choices)
            case "figure" | "whole":
                made = DecimalField(field.title, self, quantity=field.quantity)
                made.show_value(None if field.default is None else float(str(field.default)), 0)
            case "tick":
                made = QCheckBox(field.label, self)
                made.setChecked(bool(field.default))
            case "question":
                keys = tuple(AnswerKey(str(at), text, str(value)) for at, (text, value) in enumerate(field.choices, 1))
                made = Question(self.theme, field.label, keys, self)
            case "ticks":
                made = Ticks(self.theme, field.label, field.choices, self)
            case "told":
                made = self._told(str(field.default or ""))
            case "words":
                made = words_field(self)
            case _:
                made = self._line(field)
        return made

    def _told(self, text: str) -> QLabel:
        told: QLabel = text_label(text, "body", self)
        told.setWordWrap(True)
        told.setTextFormat(Qt.TextFormat.PlainText)
        return told

    def _line(self, field: Field) -> QLineEdit:
        line = QLineEdit("" if field.default is None else str(field.default), self)
        line.setMaxLength(12 if field.kind == "pin" else field.longest)
        if field.kind == "pin":
            line.setEchoMode(QLineEdit.EchoMode.Password)
            line.setMaximumWidth(48 * GRID)
        return line

    @staticmethod
    def _offer(field: Field, box: QComboBox, choices: Choices) -> None:
        box.clear()
        for text, value in choices:
            box.addItem(text, value)
        if field.default is not None:
            box.setCurrentIndex(max(0, box.findData(field.default)))

    def _lay_out(self) -> None:
        row: QHBoxLayout | None = None
        for field, widget in zip(self.form.fields, self.fields.values(), strict=True):
            if row is None or not field.beside:
                row = QHBoxLayout()
                row.setSpacing(BLOCK)
                self.body.addLayout(row)
            if not field.label or isinstance(widget, QCheckBox | Question | Ticks):
                row.addWidget(widget, 1)
            elif isinstance(widget, DecimalField):
                row.addLayout(with_unit(widget, field.label, field.unit, self))
            else:
                row.addLayout(labelled(widget, field.label, self), 1)

    def _join(self) -> None:
        widgets = [each for each in self.fields.values() if not isinstance(each, QLabel)]
        for widget, following in zip(widgets, (*widgets[1:], None), strict=False):
            if isinstance(widget, QLineEdit):
                widget.returnPressed.connect(self.act if following is None else following.setFocus)
            elif isinstance(widget, Question):
                widget.answered.connect(partial(_to, self.act_button if following is None else following))
            elif isinstance(widget, Ticks):
                widget.finished.connect(partial(_to, self.act_button if following is None else following))

    def _first(self) -> QWidget:
        if self.form.first:
            return self.fields[self.form.first]
        return next((each for each in self.fields.values() if not isinstance(each, QLabel)), self.act_button)

    @Slot(object)
    def show_loaded(self, loaded: Mapping[str, Choices | str]) -> None:
        """Offer the choices, or show the texts, that were loaded."""
        for field in self.form.fields:
            found, widget = loaded.get(field.name), self.fields[field.name]
            if isinstance(found, str):
                assert isinstance(widget, QLabel)
                widget.setText(found)
                widget.setVisible(bool(found))
            elif found is not None:
                assert isinstance(widget, QComboBox)
                self._offer(field, widget, found)
                if not found and field.nothing:
                    self.banner.say_refused(field.nothing)
        if words := loaded.get(ACT_WORDS):
            self.act_button.setText(str(words))
        if refused := loaded.get(REFUSED):
            for each in (self.act_button, *self.fields.values()):
                each.setEnabled(False)
            self.banner.say_refused(str(refused))
        self.adjustSize()

    def values(self) -> dict[str, Any]:
        """What stands in the fields by their names; Refused where one is empty that may not be, or cannot be read."""
        found = {}
        for field in self.form.fields:
            if field.kind == "told":
                continue
            value = found[field.name] = _value_of(field, self.fields[field.name])
            if field.wants and (value is None or value is False or value == ""):
                self.fields[field.name].setFocus()
                raise Refused(f"{field.title}: {field.wants}")
        return found

    def work(self) -> Callable[[], object]:
        """The form's act with what stands in the fields."""
        return partial(self.form.act, **self.values())


def _value_of(field: Field, widget: QWidget) -> object:
    found: object = None
    match widget:
        case QComboBox():
            found = widget.currentData()
        case QCheckBox():
            found = widget.isChecked()
        case Question():
            found = widget.given
        case Ticks():
            found = widget.chosen()
        case DecimalField():
            found = _whole(field, widget.value()) if field.kind == "whole" else widget.value()
        case QPlainTextEdit():
            found = widget.toPlainText()
        case QLineEdit():
            found = READ.get(field.kind, _as_typed)(widget.text(), field.title)
    return found


def _whole(field: Field, value: float | None) -> int | None:
    if value is not None and value != int(value):
        raise Refused(f"{field.title}: {value:g} is not a whole number")
    return None if value is None else int(value)


def _as_typed(text: str, _name: str) -> str:
    return text


READ: Mapping[str, Callable[[str, str], object]] = {"day": day_of, "marked": mark_of}


def _to(widget: QWidget, _value: str = "") -> None:
    widget.setFocus()
