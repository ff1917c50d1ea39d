"""A part that works or does not: one question, and Enter to record."""

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QHBoxLayout, QLineEdit, QWidget

from fleetbench.window.bench.words import offer_words
from fleetbench.window.cells.grid import RowEnd, RowWords
from fleetbench.window.forms.calibrate_question import AnswerKey, Question
from fleetbench.window.forms.fields import StepCard
from fleetbench.window.forms.figure import ENTER
from fleetbench.window.look.buttons import for_bench, lead_button, quiet_button, text_label
from fleetbench.window.look.marks import mark_for
from fleetbench.window.look.theme import GRID, Theme
from fleetbench.workshop.bench.offers import TestOffer
from fleetbench.workshop.bench.tests import RecordedTest

ANSWERS = (AnswerKey("1", "Works", "works"), AnswerKey("2", "Does not", "fails"))


class WorksCard(StepCard):
    """One question on one part or on the whole unit.

    Signals:
        record_requested: whether it works, and a note.
        correct_requested: put right what was just recorded.
        refused: one line that names the field and the remedy.
    """

    record_requested = Signal(bool, str)
    correct_requested = Signal()
    refused = Signal(str)

    def __init__(self, theme: Theme, offer: TestOffer, parent: QWidget | None = None) -> None:
        super().__init__(theme, offer_words(offer), parent)
        self.offer = offer
        set_up = text_label(offer.set_up, "body", self)
        set_up.setWordWrap(True)
        self.question = Question(theme, "Does it work?", ANSWERS, self)
        self.note_field = QLineEdit(self)
        self.note_field.setPlaceholderText("Note, for what was seen")
        self.note_field.setAccessibleName("note")
        self.note_field.setMaximumWidth(120 * GRID)
        self.end = RowWords(theme, self)
        self.record_button = for_bench(lead_button(theme, "Record   Enter", "", self))
        self.correct_button = quiet_button(theme, "Put right   F4", "", self)
        self.correct_button.hide()
        self.body.addWidget(set_up)
        self.body.addWidget(text_label(offer.limit, "small", self))
        for widget in (self.question, self.note_field, self.end):
            self.body.addWidget(widget)
        feet = QHBoxLayout()
        feet.addWidget(self.record_button)
        feet.addWidget(self.correct_button)
        feet.addStretch(1)
        self.body.addLayout(feet)
        self.body.addStretch(1)
        self.question.answered.connect(self.record_button.setFocus)
        self.record_button.clicked.connect(self.submit)
        self.correct_button.clicked.connect(self.correct_requested)

    def focus_first(self) -> None:
        """Put the keyboard on the question."""
        self.question.setFocus()

    @property
    def is_begun(self) -> bool:
        """Whether an answer stands here that is not recorded."""
        return self.question.given is not None and self.record_button.isEnabled()

    def kept(self) -> tuple[str | None, str]:
        """What was entered, so that a test left half-way comes back as it was."""
        return self.question.given, self.note_field.text()

    def bring_back(self, kept: tuple[str | None, str]) -> None:
        """Show what was entered before."""
        self.question.show_given(kept[0])
        self.note_field.setText(kept[1])

    @Slot()
    def submit(self) -> None:
        """Hand on the answer, or say that there is none."""
        if self.question.given is None:
            self.refused.emit("answer: is missing; try it and press 1 or 2")
            return
        self.record_requested.emit(self.question.given == "works", self.note_field.text())

    def show_recorded(self, test: RecordedTest) -> None:
        """Show the answer, and offer to put it right."""
        self.end.show_end(RowEnd(mark_for(test.answer.verdict), test.answer.sentence))
        self.record_button.setEnabled(False)
        self.correct_button.show()

    def open_again(self) -> None:
        """Let what was recorded be entered anew."""
        self.record_button.setEnabled(True)
        self.correct_button.hide()
        self.focus_first()

    # Qt overrides

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in ENTER and self.record_button.isEnabled():
            self.submit()
        elif event.key() == Qt.Key.Key_F4 and self.correct_button.isVisible():
            self.correct_requested.emit()
        else:
            super().keyPressEvent(event)
