"""A step of the calibration page: a card with its number and name, and room for what is done in it.

A question with two or three answers, each on one key.
"""

from dataclasses import dataclass

from PySide6.QtCore import QRectF, Qt, Signal, Slot
from PySide6.QtGui import QKeyEvent, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QButtonGroup, QFrame, QHBoxLayout, QLabel, QLineEdit, QPushButton, QVBoxLayout, QWidget

from fleetbench.records.core.errors import Refused
from fleetbench.window.forms.figure import NOT_KNOWN_KEY, NOT_KNOWN_TEXT
from fleetbench.window.look.buttons import choice_button, text_label
from fleetbench.window.look.theme import APART, CLOSE, TIGHT, Theme, font, text_width


class StepCard(QFrame):
    """One step; its title row has room for a note and for quiet buttons at its right."""

    def __init__(self, theme: Theme, title: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.theme = theme
        self.setProperty("role", "card")
        self.note: QLabel = text_label("", "small", self)
        self.note.setWordWrap(True)
        self.tools = QHBoxLayout()
        self.tools.setSpacing(CLOSE)
        head = QHBoxLayout()
        head.setSpacing(APART)
        head.addWidget(text_label(title, "heading", self))
        head.addWidget(self.note, 1)
        head.addLayout(self.tools)
        self.body = QVBoxLayout(self)
        self.body.setContentsMargins(APART, CLOSE, APART, APART)
        self.body.setSpacing(CLOSE)
        self.body.addLayout(head)


class DecimalField(QLineEdit):
    """A field for a plain decimal figure, or nothing, or 'not known' on its key; its name stands in every refusal."""

    def __init__(self, name: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.name = name
        self.setAccessibleName(name)
        self.setMaximumWidth(text_width("0000.00 not", "body") + 24)
        self.textEdited.connect(self._on_edited)

    def _on_edited(self, text: str) -> None:
        if text.endswith(NOT_KNOWN_KEY):
            self.say_not_known()
        elif NOT_KNOWN_TEXT in text and text != NOT_KNOWN_TEXT:
            self.setText(text.replace(NOT_KNOWN_TEXT, ""))

    def say_not_known(self) -> None:
        """Say that there is no figure."""
        self.setText(NOT_KNOWN_TEXT)
        self.selectAll()

    def show_value(self, value: float | None, decimals: int = 1) -> None:
        """Show a figure, or nothing."""
        self.setText("" if value is None else f"{value:.{decimals}f}")

    def value(self) -> float | None:
        """The figure; None where it is empty or not known. Refused where it is none."""
        text = self.text().strip()
        if not text or text == NOT_KNOWN_TEXT:
            return None
        try:
            return float(text.replace(",", "."))
        except ValueError:
            raise Refused(f"{self.name}: {text!r} is not a figure; enter it as 1008.4") from None

    @property
    def is_said(self) -> bool:
        """True once a figure or 'not known' stands in it."""
        return bool(self.text().strip())


def with_unit(field: QLineEdit, label: str, unit: str, parent: QWidget) -> QVBoxLayout:
    """A field under its label with its unit beside it."""
    line = QHBoxLayout()
    line.setSpacing(CLOSE)
    line.addWidget(field)
    line.addWidget(text_label(unit, "small", parent))
    line.addStretch(1)
    column = QVBoxLayout()
    column.setSpacing(2)
    column.addWidget(text_label(label, "label", parent))
    column.addLayout(line)
    return column


def labelled(field: QWidget, label: str, parent: QWidget) -> QVBoxLayout:
    """A field as wide as there is room, under its label."""
    column = QVBoxLayout()
    column.setSpacing(2)
    column.addWidget(text_label(label, "label", parent))
    column.addWidget(field)
    return column


@dataclass(frozen=True, slots=True)
class AnswerKey:
    """One answer: the key that gives it, its word, and the value it stands for."""

    key: str
    word: str
    value: str


class Question(QWidget):
    """A question; its answer stays open until a key or a press gives one. bench: large enough for wet hands.

    Signals:
        answered: the value of the answer given.
    """

    answered = Signal(str)

    def __init__(
        self,
        theme: Theme,
        text: str,
        answers: tuple[AnswerKey, ...],
        parent: QWidget | None = None,
        *,
        bench: bool = True,
    ) -> None:
        super().__init__(parent)
        self.answers = answers
        self._given: str | None = None
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setAccessibleName(text)
        self._group = QButtonGroup(self)
        self._group.setExclusive(False)
        line = QHBoxLayout()
        line.setSpacing(CLOSE)
        self.buttons: dict[str, QPushButton] = {}
        for number, answer in enumerate(answers):
            button = choice_button(theme, f"{answer.word}   {answer.key}", self)
            button.setProperty("bench", bench)
            button.setFont(font("strong"))
            button.setFocusPolicy(Qt.FocusPolicy.NoFocus)
            self._group.addButton(button, number)
            self.buttons[answer.value] = button
            line.addWidget(button)
        line.addStretch(1)
        self._text = text_label(text, "strong", self)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(CLOSE, CLOSE, CLOSE, CLOSE)
        layout.setSpacing(TIGHT)
        layout.addWidget(self._text)
        layout.addLayout(line)
        self._theme = theme
        self._group.idClicked.connect(self._on_clicked)

    @property
    def given(self) -> str | None:
        """The value of the answer given; None while the question is open."""
        return self._given

    def show_given(self, value: str | None) -> None:
        """Show this answer, without a word to anybody."""
        self._given = value
        for each, button in self.buttons.items():
            button.setChecked(each == value)

    @Slot(int)
    def _on_clicked(self, number: int) -> None:
        self._give(self.answers[number].value)

    def _give(self, value: str) -> None:
        self.show_given(value)
        self.answered.emit(value)

    # Qt overrides

    def paintEvent(self, event: QPaintEvent) -> None:
        super().paintEvent(event)
        if self.hasFocus():
            painter = QPainter(self)
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            painter.setPen(QPen(self._theme.colour("accent"), 2))
            painter.drawRoundedRect(QRectF(self.rect()).adjusted(1, 1, -1, -1), 4, 4)
            painter.end()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        for answer in self.answers:
            if event.text() == answer.key:
                self._give(answer.value)
                return
        super().keyPressEvent(event)
