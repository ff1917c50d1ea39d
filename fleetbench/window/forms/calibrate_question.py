"""A question with two or three answers, each on one key."""

from dataclasses import dataclass

from PySide6.QtCore import QRectF, Qt, Signal, Slot
from PySide6.QtGui import QKeyEvent, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QButtonGroup, QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from fleetbench.window.look.buttons import choice_button, text_label
from fleetbench.window.look.theme import CLOSE, TIGHT, Theme, font


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
