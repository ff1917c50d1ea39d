"""The dialog that is made from the description of a form: its fields, what they are offered, and what leads on.

Names are offered while they are typed: by any part of code or name, whatever its case and accents.
"""

from collections.abc import Callable, Mapping, Sequence
from functools import partial
from pathlib import Path
from typing import Any

from PySide6.QtCore import (
    QEvent,
    QObject,
    QSignalBlocker,
    QStringListModel,
    Qt,
    Slot,
)
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import (
    QCheckBox,
    QComboBox,
    QCompleter,
    QFileDialog,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPlainTextEdit,
    QVBoxLayout,
    QWidget,
)

from fleetbench.calc.core.languages import folded_name, say, shown, strung, worded
from fleetbench.calc.core.measures import Measure
from fleetbench.records.core.errors import Refused
from fleetbench.records.people.reads import PersonRecord
from fleetbench.window.forms.fields import AnswerKey, DecimalField, QuestionField, Ticks, labelled, with_unit
from fleetbench.window.forms.figure import NOT_KNOWN_TEXT
from fleetbench.window.forms.form import (
    ACT_WORDS,
    ENTER,
    NOTE,
    READ,
    REFUSED,
    ActDialog,
    Choices,
    Field,
    Form,
    Shown,
    named_of,
    whole_of,
    words_field,
)
from fleetbench.window.look.buttons import ChoiceBox, NameCompleter, put_hint, quiet_button, text_label, typed_choice
from fleetbench.window.look.theme import BLOCK, GRID, Theme
from fleetbench.window.shell.background import Background, Refresher
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.people.list import list_people

OFFERED = 12
"""So many names stand in the open list; more letters make it shorter."""


class Names(QObject):
    """Offers active people in lines of text; a line of several names has commas between, and the last is offered."""

    def __init__(
        self, background: Background, workplace: Workplace, lines: Sequence[QLineEdit], parent: QObject
    ) -> None:
        super().__init__(parent)
        self._people: tuple[tuple[str, str], ...] = ()
        self._whole: frozenset[str] = frozenset()
        self._loader = Refresher(background, self)
        self._loader.loaded.connect(self.show_people)
        self._loader.ask(lambda: list_people(workplace))
        for line in lines:
            _Offer(self, line)

    @Slot(object)
    def show_people(self, people: tuple[PersonRecord, ...]) -> None:
        """Offer these."""
        active = [each for each in people if each.active]
        self._people = tuple((each.name, folded_name(f"{each.code} {each.name}")) for each in active)
        self._whole = frozenset(folded_name(text) for each in active for text in (each.code, each.name))

    def found(self, text: str) -> list[str]:
        """Names with every word that was typed, by name; none where a code or name is typed whole."""
        words = [] if folded_name(text) in self._whole else folded_name(text).split()
        found = (name for name, known in self._people if words and all(word in known for word in words))
        return sorted(found, key=folded_name)[:OFFERED]


class _Offer(QObject):
    """The list under one line."""

    def __init__(self, names: Names, line: QLineEdit) -> None:
        super().__init__(line)
        self._names, self._line = names, line
        self._model = QStringListModel(self)
        self.completer = QCompleter(self._model, self)
        self.completer.setCompletionMode(QCompleter.CompletionMode.UnfilteredPopupCompletion)
        self.completer.setWidget(line)
        self.completer.activated.connect(self.choose)
        line.textEdited.connect(self._on_edited)

    @Slot(str)
    def _on_edited(self, text: str) -> None:
        found = self._names.found(text.rpartition(",")[2])
        self._model.setStringList(found)
        if found:
            self.completer.complete()
        else:
            popup = self.completer.popup()
            if popup is not None:
                popup.hide()

    @Slot(str)
    def choose(self, name: str) -> None:
        """Write a name in place of what was typed of it."""
        before = self._line.text().rpartition(",")[0]
        self._line.setText(f"{before}, {name}" if before else name)
        self._line.setFocus(Qt.FocusReason.OtherFocusReason)


SHORTEST_CHOICE = 12
"""Letters of a choice that are always in sight."""


class FormDialog(ActDialog):
    """An act that asks for what its form describes; Enter leads from field to field and, from the last, does it."""

    def __init__(self, theme: Theme, background: Background, form: Form, parent: QWidget | None = None) -> None:
        super().__init__(theme, background, form.title, form.act_words, parent)
        self.form = form
        self._fields_changed = True
        self.setMinimumWidth(form.wide * GRID)
        self.note.setText(worded(form.note))
        self.note.setVisible(bool(form.note))
        self.fields: dict[str, QWidget] = {field.name: self._made(field) for field in form.fields}
        self.cells: dict[str, QWidget] = {}
        self._offered: dict[str, Shown] = {}
        self._looked_at: Mapping[str, Any] | None = None
        self._act_then, self._stands = False, form.load is None
        self._lay_out()
        self._join()
        self._loader, self._looker = Refresher(background, self), Refresher(background, self)
        for loader in (self._loader, self._looker):
            loader.loaded.connect(self.show_loaded)
            loader.refused.connect(self._on_refused)
        self._looker.loaded.connect(self._on_looked)
        if form.load is not None:
            self._loader.ask(form.load)
        elif form.look is not None:
            self.look()
        first = self._first()
        first.setFocus()
        if form.first and isinstance(first, QLineEdit):
            first.selectAll()

    def __getitem__(self, name: str) -> Any:
        """The widget of a field."""
        return self.fields[name]

    def _made(self, field: Field) -> QWidget:
        made = self._widget(field)
        made.setAccessibleName(worded(field.title))
        made.setAccessibleDescription(worded(field.hint))
        return made

    def _widget(self, field: Field) -> QWidget:
        made: QWidget
        match field.kind:
            case "choice" | "named":
                made = self._choice(field)
            case "figure" | "whole":
                made = self._figure(field)
            case "tick":
                made = QCheckBox(worded(field.label), self)
                made.setChecked(bool(field.default))
            case "question":
                asked = zip(field.keys or "123456789", field.choices, strict=False)
                answers = tuple(AnswerKey(key, text, str(value)) for key, (text, value) in asked)
                made = QuestionField(self.theme, field.label, answers, self)
                made.show_given(None if field.default is None else str(field.default))
            case "ticks":
                made = Ticks(self.theme, field.label, field.choices, self)
            case "told":
                made = self._told(str(field.default or ""))
            case "own":
                assert field.made is not None, "who asks with its own widget makes it"
                made = field.made(parent=self)
            case "words":
                made = words_field(self)
            case _:
                made = self._line(field)
        return made

    def _choice(self, field: Field) -> QComboBox:
        made = typed_choice(field.title, self) if field.kind == "named" else ChoiceBox(self)
        # A long line is shortened in the field and whole in the open list: the form fits a small screen.
        made.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        made.setMinimumContentsLength(SHORTEST_CHOICE)
        self._offer(field, made, field.choices)
        if field.kind == "named":
            made.setCurrentIndex(made.findData(field.default) if field.default is not None else -1)
            made.setCompleter(NameCompleter([text for text, _value in field.choices], made))
        return made

    def _figure(self, field: Field) -> DecimalField:
        made = DecimalField(field.title, self, quantity=field.quantity)
        made.measure = field.unit if isinstance(field.unit, Measure) else made.measure
        if field.default == NOT_KNOWN_TEXT:
            made.say_not_known()
        elif field.default is not None and made.measure is not None:
            made.show_value(float(str(field.default)), None)
        elif field.default is not None:
            made.setText(f"{float(str(field.default)):.12g}")
        made.expect(**(field.expects or {}))
        return made

    def _told(self, text: str) -> QLabel:
        told: QLabel = text_label(text, "body", self)
        told.setWordWrap(True)
        told.setTextFormat(Qt.TextFormat.PlainText)
        return told

    def _line(self, field: Field) -> QLineEdit:
        line = QLineEdit("" if field.default is None else str(field.default), self)
        put_hint(line, worded(field.within))
        line.setMaxLength({"pin": 12, "file": 4096, "folder": 4096}.get(field.kind, field.longest))
        if field.kind == "pin":
            line.setEchoMode(QLineEdit.EchoMode.Password)
            line.setMaximumWidth(48 * GRID)
        return line

    @staticmethod
    def _offer(field: Field, box: ChoiceBox, choices: Choices) -> None:
        with QSignalBlocker(box):
            FormDialog._fill(field, box, choices)
        box.tell_whole()

    @staticmethod
    def _fill(field: Field, box: QComboBox, choices: Choices) -> None:
        box.clear()
        for text, value in choices:
            box.addItem((worded if choices is field.choices else shown)(text), value)
        if field.default is not None:
            box.setCurrentIndex(max(0, box.findData(field.default)))

    def _lay_out(self) -> None:
        row: QHBoxLayout | None = None
        for field, widget in zip(self.form.fields, self.fields.values(), strict=True):
            if row is None or not field.beside:
                row = QHBoxLayout()
                row.setSpacing(BLOCK)
                self.body.addLayout(row)
            cell = self.cells[field.name] = QWidget(self)
            column = self._column(field, widget, cell)
            column.setContentsMargins(0, 0, 0, 0)
            if field.hint:
                hint = text_label(worded(field.hint), "small", cell)
                hint.setWordWrap(True)
                column.addWidget(hint)
            cell.setLayout(column)
            cell.setVisible(not field.hidden and not (field.kind == "told" and not field.default))
            row.addWidget(cell, field.share, Qt.AlignmentFlag.AlignTop)

    def _column(self, field: Field, widget: QWidget, cell: QWidget) -> QVBoxLayout:
        if not field.label or isinstance(widget, QCheckBox | QuestionField | Ticks):
            column = QVBoxLayout()
            column.setSpacing(2)
            column.addWidget(widget)
            return column
        if isinstance(widget, DecimalField):
            return with_unit(widget, field.label, field.unit, cell)
        column = labelled(widget, field.label, cell)
        if field.kind in ("file", "folder"):
            choose = quiet_button(self.theme, "Choose where…", "", cell)
            choose.clicked.connect(partial(self._choose_path, field))
            column.addWidget(choose, 0, Qt.AlignmentFlag.AlignLeft)
        return column

    def _choose_path(self, field: Field, _checked: bool = False) -> None:
        line = self.fields[field.name]
        assert isinstance(line, QLineEdit)
        if field.kind == "file":
            path, _kind = QFileDialog.getSaveFileName(self, worded(field.label), line.text(), "PDF (*.pdf)")
            chosen = path if not path or path.lower().endswith(".pdf") else f"{path}.pdf"
        else:
            within = QFileDialog.getExistingDirectory(self, worded(field.label), str(Path.home()))
            chosen = str(Path(within) / Path(line.text()).name) if within else ""
        if chosen:
            line.setText(chosen)

    def _join(self) -> None:
        for field, widget in zip(self.form.fields, self.fields.values(), strict=True):
            onward = partial(self._go_on, field.name)
            if field.kind == "own":
                told = (("entered", onward), ("changed", self.look), ("refused", self.banner.say_refused))
                for signal, slot in (each for each in told if hasattr(widget, each[0])):
                    getattr(widget, signal).connect(slot)
            elif isinstance(widget, QLineEdit):
                if field.name in self.form.shown_first:
                    widget.textEdited.connect(self._forget)
                widget.returnPressed.connect(onward)
                widget.editingFinished.connect(self.look)
            elif isinstance(widget, QuestionField):
                widget.answered.connect(self.look)
                widget.answered.connect(onward)
            elif isinstance(widget, Ticks):
                widget.finished.connect(onward)
            elif isinstance(widget, QComboBox):
                widget.currentIndexChanged.connect(self.look)
                widget.installEventFilter(self)
            elif isinstance(widget, QCheckBox):
                widget.toggled.connect(self.look)
                widget.installEventFilter(self)

    def _go_on(self, name: str, _value: str = "") -> None:
        """Lead on to the field that is asked next; from the last do it, or to its button where no Enter was pressed."""
        asked = [each for each in self.form.fields if self._is_asked(each) and each.kind != "told"]
        at = next((number for number, each in enumerate(asked, 1) if each.name == name), len(asked))
        standing = self._standing()
        onward = any(each.name == name and each.aside is True for each in asked)
        following = [
            each.name
            for each in asked[at:]
            if onward or not (each.aside(standing) if callable(each.aside) else each.aside)
        ]
        if following:
            self.fields[following[0]].setFocus()
        elif self.form.to_button or asked[at - 1].kind in ("question", "ticks", "own"):
            self.act_button.setFocus()
        else:
            self.act()

    def _is_asked(self, field: Field) -> bool:
        return not self.cells[field.name].isHidden()

    def _first(self) -> QWidget:
        if self.form.first:
            return self.fields[self.form.first]
        asked = (self.fields[each.name] for each in self.form.fields if each.kind != "told" and self._is_asked(each))
        return next(asked, self.act_button)

    @Slot(object)
    def show_loaded(self, loaded: Mapping[str, Shown]) -> None:
        """Offer the choices, show the texts, and ask for the fields, that were loaded."""
        for field in self.form.fields:
            if field.name in loaded and self._offered.get(field.name) != loaded[field.name]:
                self._offered[field.name] = loaded[field.name]
                self._show(field, loaded[field.name])
        if words := loaded.get(ACT_WORDS):
            self.act_button.setText(shown(str(words)))
        if note := loaded.get(NOTE):
            self.note.setText(shown(str(note)))
            self.note.show()
        if refused := loaded.get(REFUSED):
            for each in (self.act_button, *self.fields.values()):
                each.setEnabled(False)
            self.banner.say_refused(str(refused))
        self._stands = True
        self.look()
        self._fields_changed = True  # what is hidden makes the form lower, once its layout knows of it

    @Slot(str)
    def _forget(self, _typed: str = "") -> None:
        """What was told is no longer of what stands in the fields."""
        self._looked_at = None
        for field in (each for each in self.form.fields if each.kind == "told"):
            self._offered[field.name] = ""
            self._show(field, "")
        self.act_button.setText(worded(self.form.act_words))

    def _show(self, field: Field, found: Shown) -> None:
        widget = self.fields[field.name]
        if isinstance(found, Mapping):
            assert isinstance(widget, DecimalField), "a figure expects something"
            widget.expect(**found)
            return
        if isinstance(found, bool):
            self.cells[field.name].setVisible(found)
        elif not field.hidden:
            self.cells[field.name].setVisible(field.kind != "told" or bool(found))
        if isinstance(found, str):
            assert isinstance(widget, QLabel | QLineEdit | QPlainTextEdit)
            (widget.setPlainText if isinstance(widget, QPlainTextEdit) else widget.setText)(shown(found))
        elif not isinstance(found, bool):
            if isinstance(widget, ChoiceBox):
                self._offer(field, widget, found)
            else:
                self[field.name].offer(found)
            if not found and field.nothing:
                self.banner.say_refused(worded(field.nothing))
            elif field.nothing:
                self.banner.take_back_refusal()

    @Slot()
    def look(self) -> None:
        """Look again where what stands in the fields has changed since."""
        if self.form.look is None or not self._stands:
            return
        standing = self._standing(self.form.shown_first)
        if standing != self._looked_at:
            self._looked_at = standing
            self._looker.ask(partial(self.form.look, standing))

    def _standing(self, only: tuple[str, ...] = ()) -> dict[str, Any]:
        found: dict[str, Any] = {}
        for field in self.form.fields:
            if field.kind not in ("told", "pin") and (not only or field.name in only):
                try:
                    found[field.name] = _value_of(field, self.fields[field.name])
                except Refused:
                    found[field.name] = None
        return found

    @Slot(object)
    def _on_looked(self, found: Mapping[str, Shown]) -> None:
        read_first = False
        if self.form.shown_first:
            self.banner.take_back_refusal()
            read_first = any(found.get(each.name) for each in self.form.fields if each.kind in ("told", "own"))
        if self._act_then and self._looked_at == self._standing(self.form.shown_first):
            self._act_then = False
            if not read_first:
                super().act()

    @Slot(str)
    def _on_refused(self, line: str) -> None:
        self._act_then = False
        if self.form.shown_first:
            self._forget()
        self.banner.say_refused(line)

    @Slot()
    def act(self) -> None:
        """Do it, once; what was typed last is looked at first."""
        self.look()
        if self._looker.is_loading:
            self._act_then = True
        else:
            super().act()

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        pressed = event.key() if isinstance(event, QKeyEvent) and event.type() == QEvent.Type.KeyPress else None
        if pressed in ENTER and isinstance(watched, QComboBox | QCheckBox):
            self._go_on(next(name for name, each in self.fields.items() if each is watched))
            return True
        return super().eventFilter(watched, event)

    def values(self) -> dict[str, Any]:
        """What stands in the fields by their names; Refused where one is empty that may not be, or cannot be read."""
        found: dict[str, Any] = {}
        for field in self.form.fields:
            widget = self.fields[field.name]
            if field.kind == "told" or not self._is_asked(field):
                found |= {field.name: None} if field.kind != "told" else {}
                continue
            value = found[field.name] = _value_of(field, widget)
            missing = widget.given is None if isinstance(widget, QuestionField) else value in (None, False, "")
            missing = not self[field.name].is_said if field.unknown else missing
            if field.wants and missing:
                widget.setFocus()
                raise Refused(strung(": ", (field.title, say(field.wants))))
        return found

    def work(self) -> Callable[[], object]:
        """The form's act with what stands in the fields."""
        values = self.values()
        if self.form.doubt is not None:
            self.ask_once(self.form.doubt(values), values)
        return partial(self.form.act, **values)


def _value_of(field: Field, widget: QWidget) -> object:
    if field.read is not None:
        return field.read(widget)
    found: object = None
    match widget:
        case QComboBox():
            found = named_of(widget) if field.kind == "named" else widget.currentData()
        case QCheckBox():
            found = widget.isChecked()
        case QuestionField():
            found = next((value for _text, value in field.choices if str(value) == widget.given), None)
        case Ticks():
            found = widget.chosen()
        case DecimalField():
            found = whole_of(widget.value(), field.title) if field.kind == "whole" else widget.value()
        case QPlainTextEdit():
            found = widget.toPlainText()
        case QLineEdit():
            found = READ[field.kind](widget.text(), field.title) if field.kind in READ else widget.text()
    return found
