"""The dialog of an act: a banner, one act at a time off the GUI thread, Enter; and forms made from a description.

Its body stands in a scroll area that takes the room it asks for, as far as the screen has it.
"""

from abc import abstractmethod
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from PySide6.QtCore import QEvent, QObject, QSize, Qt, Signal, Slot
from PySide6.QtGui import QKeyEvent, QShowEvent
from PySide6.QtWidgets import (
    QCheckBox,
    QComboBox,
    QDialog,
    QFrame,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPlainTextEdit,
    QPushButton,
    QScrollArea,
    QSizePolicy,
    QStyle,
    QVBoxLayout,
    QWidget,
)

from fleetbench.calc.core.languages import say, say_small, shown, strung, worded
from fleetbench.calc.core.measures import Measure, span_in
from fleetbench.calc.core.plausible import Quantity
from fleetbench.calc.core.wall_time import MarkedDate
from fleetbench.records.core.errors import Clash, Refused
from fleetbench.window.forms.fields import DecimalField, settle_all
from fleetbench.window.look.buttons import Banner, ElidedLabel, lead_button, plain_button, quiet_button, text_label
from fleetbench.window.look.theme import APART, BLOCK, CLOSE, GRID, Theme
from fleetbench.window.look.words import as_plain_tip
from fleetbench.window.shell.background import Background, Job

ENTER = (Qt.Key.Key_Return, Qt.Key.Key_Enter)
Choices = Sequence[tuple[Any, ...]]
"""Words and the value that each stands for; of ticks a third may say that it is ticked at first."""
Shown = Choices | str | bool | Mapping[str, Any]
"""What is offered by a field, told by it or written into it, whether it is asked, or what its figure expects."""
YES_NO_WORDS, YES_NO_KEYS = (("yes", True), ("no", False), (say("not known"), None)), "yn/"
PRESS_YES_NO = say("press y, n, or / for not known")
REFUSED, ACT_WORDS, NOTE = "refused", "act words", "form_note"
"""Beside the fields' names in what a form loads."""

LEAST = 24 * GRID
"""Height below which a body is not pressed, in px: two rows of fields."""

MARGINS = 2 * BLOCK + 2 * GRID
"""What a dialog and its frame have beside a body, in px."""


class ScrolledBody(QScrollArea):
    """Shows its body whole where there is room, and scrolls where there is not."""

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setWidgetResizable(True)
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Expanding)
        inner = QWidget()
        inner.setObjectName("scrolled")
        self.body = QVBoxLayout(inner)
        self.body.setContentsMargins(0, 0, 0, 0)
        self.body.setSpacing(APART)
        self.setWidget(inner)

    # Qt overrides

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        handled = super().eventFilter(watched, event)
        if event.type() == QEvent.Type.LayoutRequest and watched is self.widget():
            self.updateGeometry()  # what was shown or hidden in the body changes what is asked for
        return handled

    def sizeHint(self) -> QSize:
        wanted, margins = self.body.totalSizeHint(), self.contentsMargins()
        sides, ends = margins.left() + margins.right(), margins.top() + margins.bottom()
        if self.isVisible() and self.body.hasHeightForWidth():
            wide = max(self.width() - sides, self.body.totalMinimumSize().width())
            wanted.setHeight(self.body.totalHeightForWidth(wide))
        return wanted + QSize(sides, ends)

    def minimumSizeHint(self) -> QSize:
        bar = self.style().pixelMetric(QStyle.PixelMetric.PM_ScrollBarExtent)
        room = self.screen().availableGeometry().width() - MARGINS
        return QSize(min(self.body.totalMinimumSize().width() + bar, room), min(LEAST, self.sizeHint().height()))


def keep_on_screen(dialog: QDialog, *, shrink: bool = False) -> None:
    """Give a dialog the height that it asks for, never more than its screen has, and bring it back onto the screen.

    shrink: a higher one is made as low as what it asks for; else it stays as high as it is.
    """
    screen = dialog.screen().availableGeometry()
    frame = dialog.frameGeometry().size() - dialog.geometry().size()
    title = max(frame.height(), dialog.style().pixelMetric(QStyle.PixelMetric.PM_TitleBarHeight))
    room = QSize(screen.width() - frame.width(), screen.height() - title)
    layout = dialog.layout()
    assert layout is not None
    asked = layout.totalHeightForWidth(dialog.width()) if layout.hasHeightForWidth() else layout.sizeHint().height()
    dialog.setMinimumSize(dialog.minimumSize().boundedTo(room))
    high = asked if shrink else max(dialog.height(), asked)
    dialog.resize(QSize(dialog.width(), high).boundedTo(room))
    placed = dialog.frameGeometry()
    left = min(placed.left(), screen.right() - placed.width() + 1)
    top = min(placed.top(), screen.bottom() - placed.height() + 1)
    dialog.move(max(screen.left(), left), max(screen.top(), top))


KEEP = say("Correct them, or record once more to keep them as they stand.")


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
        self.setWindowTitle(worded(title))
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.setMinimumWidth(140 * GRID)
        self.theme = theme
        self._background = background
        self._job: Job | None = None
        self._kept: object = None
        self._fields_changed = False
        self.heading: QLabel = text_label(worded(title), "title", self)
        self.heading.setWordWrap(True)
        self.note: QLabel = text_label("", "small", self)
        self.note.setWordWrap(True)
        self.banner = Banner(theme, self)
        self._room = ScrolledBody(self)
        self.body: QVBoxLayout = self._room.body
        self.act_button = lead_button(theme, act_words, "", self)
        self.leave_button = quiet_button(theme, "Cancel", "", self)
        self._feet = feet = QHBoxLayout()
        feet.setSpacing(CLOSE)
        feet.addWidget(self.act_button)
        feet.addWidget(self.leave_button)
        feet.addStretch(1)
        self.recorded_as = ElidedLabel("small", self)
        self.recorded_as.setProperty("role", "small")
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

    def add_act(self, words: str, act: Callable[[], object]) -> QPushButton:
        """A second act of the dialog, beside its own."""
        button = plain_button(self.theme, words, "", self)
        button.clicked.connect(act)
        self._feet.insertWidget(1, button)
        return button

    @abstractmethod
    def work(self) -> Callable[[], object]:
        """The act with what stands in the fields, to be run off the GUI thread; Refused names a field."""

    def ask_once(self, doubt: str, about: object) -> None:
        """Refuse for once what looks wrong; done again with the same in its fields, it is kept as it stands."""
        if doubt and self._kept != about:
            self._kept = about
            raise Refused(strung(" ", (doubt, KEEP)))

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
        self.recorded_as.setText(shown(say("Recorded as {name}", name=name)) if name else "")
        self.recorded_as.setToolTip(as_plain_tip(self.recorded_as.text()))

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
            keep_on_screen(self, shrink=self._fields_changed)
            self._fields_changed = False
        return handled

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        keep_on_screen(self, shrink=self._fields_changed)
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
        if isinstance(watched, QDialog) and pressed == Qt.Key.Key_F1:
            watched.accept()
            return True
        return super().eventFilter(watched, event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in ENTER:
            self.act()
        elif event.key() == Qt.Key.Key_F1:
            open_help(self)
        else:
            super().keyPressEvent(event)


def open_help(dialog: ActDialog) -> QDialog:
    """Help on one dialog, over it: what it does, what each field asks for, and within which range.

    F1, Escape and Enter close it, and the keyboard is where it was.
    """
    told = QDialog(dialog)
    told.setWindowTitle(shown(say("Help: {title}", title=dialog.windowTitle())))
    told.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
    told.setMinimumWidth(100 * GRID)
    room = ScrolledBody(told)
    for line, size in help_lines(dialog):
        words: QLabel = text_label(line, size, told)
        words.setWordWrap(True)
        words.setTextFormat(Qt.TextFormat.PlainText)
        room.body.addWidget(words)
    close = quiet_button(dialog.theme, "Close", "", told)
    close.clicked.connect(told.accept)
    told.installEventFilter(dialog)
    layout = QVBoxLayout(told)
    layout.setContentsMargins(BLOCK, BLOCK, BLOCK, BLOCK)
    layout.addWidget(room, 1)
    layout.addWidget(close, 0, Qt.AlignmentFlag.AlignLeft)
    close.setFocus()
    told.open()
    keep_on_screen(told)
    return told


def help_lines(dialog: ActDialog) -> Iterator[tuple[str, str]]:
    """What a dialog is for and what each of its fields asks for, with the size each line is written in."""
    yield dialog.heading.text(), "title"
    if dialog.note.text():
        yield dialog.note.text(), "body"
    for field in dialog.findChildren(QWidget):
        asked = isinstance(field, QLineEdit | QComboBox | QPlainTextEdit | QCheckBox) and field.isVisibleTo(dialog)
        name = field.accessibleName() or (field.text() if isinstance(field, QCheckBox) else "")
        if not asked or not name or isinstance(field.parent(), QComboBox):
            continue
        told = [field.accessibleDescription()] if field.accessibleDescription() else []
        if isinstance(field, DecimalField) and field.quantity is not None:
            told.append(span_in(field.quantity.low, field.quantity.high, field.quantity.unit))
        if isinstance(field, DecimalField) and field.quantity is not None and field.quantity.usual is not None:
            told.append(say("{usual} is usual", usual=span_in(*field.quantity.usual, field.quantity.unit)))
        yield f"{name[:1].upper()}{name[1:]}{': ' if told else ''}{'; '.join(told)}", "body"
    yield (
        say(
            "“{text}” records it under the signed-in user. “Cancel” or Escape records nothing.",
            text=dialog.act_button.text(),
        ),
        "body",
    )
    yield (
        say("Enter leads on from field to field. F1 closes this help; Ctrl+F1 in the window searches all of it."),
        "small",
    )


NEW: Mapping[str, Any] = {"known_as": ""}
"""What a figure of a new thing expects: there can be none before it."""


@dataclass(frozen=True, slots=True)
class Field:
    """One argument of an act as it is asked for.

    kind: what is typed or chosen. "text" gives the line, "words" several lines, "day" a date or None, "marked" a
    MarkedDate or None, "figure" a float, "whole" an int, "pin" a line that shows no digit, "choice" the value of the
    chosen words, "named" that of the name typed or chosen, "tick" whether it is ticked, "question" the value of the
    answer given on its key, "ticks" the values of all that are ticked, "file" the Path of a PDF to be written and
    "folder" that of a new folder, "told" nothing: it shows a text that was loaded. "own" gives what `read` takes of the
    widget that `made` made for it; its signals, as far as it has them, lead on (`entered`), look again (`changed`) and
    say why not (`refused`), and `offer` is given what was loaded.
    spoken: its name in refusals and for readers of the screen; the label in small letters where empty. wants: what to
    do where it stays empty, said after its name; empty where it may. beside: stands in the row of the field before it.
    hint: stands under it. keys: one for each answer of a question, from 1 on where empty. nothing: said where no choice
    was found. hidden: not asked before `look` shows it; a field that is not asked is None. expects: what a figure
    is told of the very thing that it is read from, as `DecimalField.expect` takes it; it may be loaded too. aside:
    Enter passes over it, always or where this says so of what stands in the fields. share: of the width of its row.
    unknown: a figure may be said to be not known, and NOT_KNOWN is its default then. within: stands in an empty line.
    """

    name: str
    label: str = ""
    kind: str = "text"
    hint: str = ""
    default: object = None
    choices: Choices = ()
    unit: str | Measure = ""
    quantity: Quantity | None = None
    spoken: str = ""
    wants: str = ""
    beside: bool = False
    nothing: str = ""
    longest: int = 200
    keys: str = ""
    hidden: bool = False
    expects: Mapping[str, Any] | None = None
    aside: bool | Callable[[Mapping[str, Any]], bool] = False
    share: int = 1
    unknown: bool = False
    within: str = ""
    made: Callable[..., QWidget] | None = None
    read: Callable[[Any], object] | None = None

    @property
    def title(self) -> str:
        """Its name in refusals."""
        return say(self.spoken) if self.spoken else say_small(self.label)


@dataclass(frozen=True, slots=True)
class Form:
    """An act as a form: its title, the words of its button, a note, its fields, and the function that does it.

    act is called with the fields' values by keyword, off the GUI thread. load is called off the GUI thread and gives
    choices (or the text of a "told" field) by the field's name, under REFUSED why the act cannot be done, and under
    ACT_WORDS and NOTE the button's words and the note with what was found. look is called so with what stands in the
    fields, once the form is loaded and whenever that changed, and gives the same, or whether a field is asked at all;
    what cannot be read yet is None to it, and a PIN never goes to it. doubt says what looks wrong in the fields'
    values, which is asked about once. first names the field that has the keyboard at first, so that what is typed or
    scanned replaces its default. shown_first names the fields on which hangs what look tells: what it tells of them as
    they stand is shown before the act is done, and forgotten while another is typed. to_button: Enter leads from the
    last field to the act's button.
    """

    title: str
    act_words: str
    note: str
    fields: tuple[Field, ...]
    act: Callable[..., object]
    load: Callable[[], Mapping[str, Shown]] | None = None
    look: Callable[[Mapping[str, Any]], Mapping[str, Shown]] | None = None
    doubt: Callable[[Mapping[str, Any]], str] | None = None
    first: str = ""
    wide: int = 140
    shown_first: tuple[str, ...] = ()
    to_button: bool = False


def replacing(seen: dict[str, Any], act: Callable[..., Any]) -> Callable[..., Any]:
    """The act, given what was seen of what it replaces; the next try after a Clash is given what stands there now."""

    def do(**given: Any) -> Any:
        try:
            return act(seen=seen, **given)
        except Clash as clash:  # it is told, beside what stands in the fields
            seen.update(clash.now or {})
            raise

    return do


def day_of(text: str, name: str) -> date | None:
    """The day that was typed, None for nothing; Refused naming the field otherwise."""
    try:
        return date.fromisoformat(text.strip()) if text.strip() else None
    except ValueError:
        raise Refused(
            say("{name}: {text!r} is not a date; enter one such as 2028-01-31", name=name, text=text.strip())
        ) from None


def mark_of(text: str, name: str) -> MarkedDate | None:
    """The date as it is marked, None for nothing; Refused naming the field otherwise."""
    try:
        return MarkedDate.parse(text.strip()) if text.strip() else None
    except ValueError as fault:
        raise Refused(strung(": ", (name, str(fault).partition(": ")[2]))) from fault


def named_of(box: QComboBox) -> object:
    """The value of the name that was typed or chosen, None for nothing; Refused where nobody has it."""
    text = box.currentText().strip()
    at = box.findText(text, Qt.MatchFlag.MatchFixedString)
    if text and at < 0:
        raise Refused(say("diver: nobody is called {text!r}; choose one from the list", text=text))
    return box.itemData(at) if text else None


def whole_of(value: float | None, name: str) -> int | None:
    """The figure as a whole number; Refused where it is none."""
    if value is not None and value != int(value):
        raise Refused(say("{field}: {value:g} is not a whole number", field=name, value=value))
    return None if value is None else int(value)


def path_of(text: str, _name: str) -> Path | None:
    """The place that was typed, None for nothing."""
    return Path(text.strip()) if text.strip() else None


READ: Mapping[str, Callable[[str, str], object]] = {
    "day": day_of, "marked": mark_of, "file": path_of, "folder": path_of,
}  # fmt: skip


def words_field(parent: QWidget) -> QPlainTextEdit:
    """A field for a few sentences; Tab leads on."""
    made = QPlainTextEdit(parent)
    made.setTabChangesFocus(True)
    made.setMinimumHeight(24 * GRID)
    return made
