"""The form that opens a ticket: unit, cause, reason, and what is to do."""

import json
from dataclasses import dataclass

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import QHBoxLayout, QLineEdit, QPlainTextEdit, QWidget

from fleetbench.records.core.errors import Refused
from fleetbench.window.forms.calibrate_question import AnswerKey, Question
from fleetbench.window.forms.fields import StepCard, labelled, with_unit
from fleetbench.window.look.buttons import for_bench, lead_button
from fleetbench.window.look.theme import APART, BLOCK, GRID, Theme

CAUSE_WORDS = ("failed test", "due item", "hold", "hand-back", "turn-round", "course", "by hand")
CAUSES = tuple(AnswerKey(str(number), word, word) for number, word in enumerate(CAUSE_WORDS, 1))
CRITICAL = (AnswerKey("1", "Holds the unit", "yes"), AnswerKey("2", "Does not", "no"))


@dataclass(frozen=True, slots=True)
class NewTicket:
    """What the form says."""

    tag: str
    cause: str
    reason: str
    critical: bool
    tasks: tuple[str, ...]
    refers_to: int | None = None


def new_ticket_key(tag: str, reason: str, cause: str, refers_to: tuple[int, str] | None = None) -> str:
    """The key of a place at which a new ticket begins with what is known; refers_to: key and number of another."""
    return json.dumps([tag, reason, cause, refers_to])


def known_of(key: str) -> tuple[str, str, str, tuple[int, str] | None] | None:
    """What a key of new_ticket_key says; None for the number of a ticket."""
    if not key.startswith("["):
        return None
    tag, reason, cause, refers_to = json.loads(key)
    return tag, reason, cause, (refers_to[0], refers_to[1]) if refers_to else None


class NewTicketCard(StepCard):
    """Asks for what a ticket needs.

    Signals:
        given: a NewTicket.
        refused: one line that names the field and the remedy.
    """

    given = Signal(object)
    refused = Signal(str)

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(theme, "New ticket", parent)
        self._refers_to: tuple[int, str] | None = None
        self.tag = QLineEdit(self)
        self.tag.setAccessibleName("unit")
        self.tag.setPlaceholderText("tag or scan")
        self.tag.setMaximumWidth(48 * GRID)
        self.reason = QLineEdit(self)
        self.reason.setAccessibleName("reason")
        self.cause = Question(theme, "Cause", CAUSES, self, bench=False)
        self.critical = Question(theme, "While it is open", CRITICAL, self, bench=False)
        self.tasks = QPlainTextEdit(self)
        self.tasks.setAccessibleName("tasks")
        self.tasks.setTabChangesFocus(True)
        self.tasks.setMaximumHeight(40 * GRID)
        self.open_button = for_bench(lead_button(theme, "Open the ticket", "", self))
        first = QHBoxLayout()
        first.setSpacing(BLOCK)
        first.addLayout(with_unit(self.tag, "Unit", "", self))
        first.addLayout(labelled(self.reason, "Reason, in a sentence", self), 1)
        self.body.addLayout(first)
        self.body.addWidget(self.cause)
        self.body.addWidget(self.critical)
        self.body.addLayout(labelled(self.tasks, "What is to do, a line each", self))
        self.body.addSpacing(APART)
        self.body.addWidget(self.open_button, 0, Qt.AlignmentFlag.AlignLeft)
        self.tag.returnPressed.connect(self.reason.setFocus)
        self.reason.returnPressed.connect(self.cause.setFocus)
        self.cause.answered.connect(self._on_cause)
        self.critical.answered.connect(self._on_critical)
        self.open_button.clicked.connect(self.submit)

    def begin(
        self, tag: str = "", reason: str = "", cause: str | None = None, refers_to: tuple[int, str] | None = None
    ) -> None:
        """Begin a new one with what is known already; refers_to: key and number of a ticket that it puts right."""
        self._refers_to = refers_to
        self.note.setText(f"It refers to {refers_to[1]}, which stays as it was signed." if refers_to else "")
        self.tag.setText(tag)
        self.reason.setText(reason)
        self.cause.show_given(cause)
        self.critical.show_given("yes")
        self.tasks.clear()
        missing = self.tag if not tag else self.reason if not reason else self.cause if cause is None else self.tasks
        missing.setFocus()

    @Slot()
    def submit(self) -> None:
        """Hand on what stands in the form, or say what is missing."""
        try:
            self.given.emit(self._form())
        except Refused as refusal:
            self.refused.emit(str(refusal))

    def _form(self) -> NewTicket:
        if not self.tag.text().strip():
            raise Refused("unit: scan or type its tag")
        if self.cause.given is None:
            raise Refused("cause: choose one, by its key or by pressing it")
        tasks = tuple(line.strip() for line in self.tasks.toPlainText().splitlines() if line.strip())
        critical = self.critical.given != "no"
        refers_to = self._refers_to[0] if self._refers_to else None
        return NewTicket(self.tag.text().strip(), self.cause.given, self.reason.text(), critical, tasks, refers_to)

    @Slot(str)
    def _on_cause(self, _value: str) -> None:
        self.critical.setFocus()

    @Slot(str)
    def _on_critical(self, _value: str) -> None:
        self.tasks.setFocus()
