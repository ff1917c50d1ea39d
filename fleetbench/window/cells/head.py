"""The second step: is the head dry, and is it vented to the room.

The last step: what the readings say of each cell, why, what to do next, and under which limits.
"""

from time import monotonic

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QFrame, QGridLayout, QHBoxLayout, QVBoxLayout, QWidget

from fleetbench.calc.cells.judge import BlameKind, CellOutcome, HeadOutcome
from fleetbench.calc.core.languages import reworded, say, shown, strung
from fleetbench.calc.core.plausible import OVER_PRESSURE
from fleetbench.window.cells.words import (
    ground_words,
    limits_words,
    linearity_words,
    millivolt_words,
    outcome_mark,
    verified_words,
)
from fleetbench.window.forms.fields import AnswerKey, DecimalField, QuestionField, StepCard, with_unit
from fleetbench.window.forms.figure import ENTER
from fleetbench.window.look.buttons import for_bench, lead_button, plain_button, text_label
from fleetbench.window.look.state_delegate import MarkLabel
from fleetbench.window.look.theme import APART, BLOCK, CLOSE, GRID, SECTION, TIGHT, Theme

HEAD_ANSWERS = (AnswerKey("1", "Dry", "dry"), AnswerKey("2", "Damp", "damp"), AnswerKey("/", "Not known", "unknown"))
VENTED_ANSWERS = (
    AnswerKey("1", "Vented", "yes"),
    AnswerKey("2", "Not vented", "no"),
    AnswerKey("/", "Not known", "unknown"),
)

HEAD_WORDS = {
    "damp": say("A damp head cannot be judged: dry it, leave it at room temperature for 30 minutes, begin again."),
    "unknown": say("Up to 100 % humidity will be allowed for at both points."),
}
VENTED_WORDS = {
    "no": say("30 mbar over the room make a weak cell look sound: vent the head, or enter its over-pressure."),
    "unknown": say("Without this the cells can at best be told to repeat."),
}


class HeadCard(StepCard):
    """Two questions with a key for each answer, and the over-pressure of a head that is not vented.

    Signals:
        changed: an answer or figure was given.
        finished: both questions are answered; the next step may begin.
        refused: one line that names the field and the remedy.
    """

    changed = Signal()
    finished = Signal()
    refused = Signal(str)

    def __init__(self, theme: Theme, last_over_mbar: float | None = None, parent: QWidget | None = None) -> None:
        super().__init__(theme, "2  Head", parent)
        self.head = QuestionField(theme, "Dry, and at room temperature for 30 minutes?", HEAD_ANSWERS, self)
        self.vented = QuestionField(theme, "Vented to the room at the oxygen point?", VENTED_ANSWERS, self)
        self.over_pressure = DecimalField("over-pressure", self, quantity=OVER_PRESSURE)
        self.over_pressure.expect(last=last_over_mbar)
        self._over = QWidget(self)
        over = QHBoxLayout(self._over)
        over.setContentsMargins(0, 0, 0, 0)
        over.addLayout(with_unit(self.over_pressure, "Over-pressure in the head", "mbar", self._over))
        self._over.hide()
        self._said = text_label("", "small", self)
        self._said.setWordWrap(True)
        self._said.hide()
        line = QHBoxLayout()
        line.setSpacing(SECTION)
        line.addWidget(self.head)
        line.addWidget(self.vented)
        line.addWidget(self._over, 0, Qt.AlignmentFlag.AlignBottom)
        line.addStretch(1)
        inner = QVBoxLayout()
        inner.setSpacing(CLOSE)
        inner.addLayout(line)
        inner.addWidget(self._said)
        self.body.addLayout(inner)
        self.head.answered.connect(self._on_head)
        self.vented.answered.connect(self._on_vented)
        self.over_pressure.editingFinished.connect(self.changed)
        self.over_pressure.asked.connect(self.refused)

    @property
    def is_answered(self) -> bool:
        """True once both questions have an answer."""
        return self.head.given is not None and self.vented.given is not None

    def show_answers(self, head: str | None, vented: str | None, over_pressure: float | None) -> None:
        """Show these answers."""
        self.head.show_given(head)
        self.vented.show_given(vented)
        self.over_pressure.show_value(over_pressure)
        self._say()

    def over_pressure_mbar(self) -> float | None:
        """The over-pressure given; None where the head is vented or none was measured."""
        return self.over_pressure.value() if self._over.isVisibleTo(self) else None

    def focus_first(self) -> None:
        """Put the keyboard on the first open question."""
        (self.head if self.head.given is None or self.vented.given is not None else self.vented).setFocus()

    def _say(self) -> None:
        self._over.setVisible(self.vented.given == "no")
        lines = (HEAD_WORDS.get(self.head.given or ""), VENTED_WORDS.get(self.vented.given or ""))
        said = strung(" ", (line for line in lines if line))
        self._said.setText(shown(said))
        self._said.setVisible(bool(said))

    @Slot(str)
    def _on_head(self, _value: str) -> None:
        self._say()
        self.changed.emit()
        if self.vented.given is None:
            self.vented.setFocus()
        else:
            self.finished.emit()

    @Slot(str)
    def _on_vented(self, value: str) -> None:
        self._say()
        self.changed.emit()
        if value == "no":
            self.over_pressure.setFocus()
        elif self.head.given is not None:
            self.finished.emit()
        else:
            self.head.setFocus()

    # Qt overrides

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in ENTER and self.over_pressure.hasFocus():
            self.finished.emit()
            return
        super().keyPressEvent(event)


CAUTION = say(
    "This says what was measured and under which limits, never that a unit may be dived. The "
    "maker's manual, the training standard and local rules stand above it."
)


READ_FIRST_S = 0.4
"""How long an outcome stands on the page before Enter records it, so that a key pressed twice records nothing."""


class OutcomeCard(StepCard):
    """Verdicts in words, shape and colour, with figures, findings and the next step; and the button that records.

    Signals:
        record_requested, correct_requested, ticket_requested, step_requested, next_requested: what was pressed.
    """

    record_requested = Signal()
    correct_requested = Signal()
    ticket_requested = Signal()
    step_requested = Signal()
    next_requested = Signal()

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(theme, "6  Outcome", parent)
        self.record_button = for_bench(lead_button(theme, "Record", "", self))
        self.correct_button = for_bench(plain_button(theme, "Correct   F4", "", self))
        self.ticket_button = for_bench(plain_button(theme, "Open a ticket", "tickets", self))
        self.step_button = for_bench(plain_button(theme, "Next step   Ctrl+J", "", self))
        self.next_button = for_bench(plain_button(theme, "Next unit", "", self))
        self._held = QWidget(self)
        self._held_layout = QVBoxLayout(self._held)
        self._held_layout.setContentsMargins(0, 0, 0, 0)
        self.waiting = text_label("", "body", self)
        self.waiting.setWordWrap(True)
        buttons = QHBoxLayout()
        buttons.setSpacing(APART)
        for button in (
            self.record_button, self.correct_button, self.ticket_button, self.step_button, self.next_button
        ):  # fmt: skip
            buttons.addWidget(button)
        buttons.addStretch(1)
        caution = text_label(CAUTION, "small", self)
        caution.setWordWrap(True)
        self.body.addWidget(self.waiting)
        self.body.addWidget(self._held)
        self.body.addSpacing(APART)
        self.body.addLayout(buttons)
        self.body.addWidget(caution)
        self.record_button.clicked.connect(self.record_requested)
        self.correct_button.clicked.connect(self.correct_requested)
        self.ticket_button.clicked.connect(self.ticket_requested)
        self.step_button.clicked.connect(self.step_requested)
        self.next_button.clicked.connect(self.next_requested)
        self._wants_focus = False
        self._since: float | None = None
        self.show_recorded(False, False)

    @property
    def is_fresh(self) -> bool:
        """True while an outcome has only just come to the page, or the keyboard to its button."""
        return self._since is not None and monotonic() - self._since < READ_FIRST_S

    def lead_to_record(self) -> None:
        """Put the keyboard on the button that records, as soon as there is an outcome to record."""
        self._wants_focus = self._since is None
        if not self._wants_focus:
            self._since = monotonic()
            self.record_button.setFocus()

    def say_waiting(self, line: str) -> None:
        """Show no outcome, and what it waits for."""
        self._since = None
        self.waiting.setText(shown(line))
        self.waiting.setVisible(bool(line))
        self._held.hide()

    def show_outcome(self, outcome: HeadOutcome) -> None:
        """Show the outcome in place of what was there."""
        self._since = monotonic()
        self.waiting.hide()
        if self._wants_focus:
            self._wants_focus = False
            self.record_button.setFocus()
        while (item := self._held_layout.takeAt(0)) is not None:
            if (widget := item.widget()) is not None:
                widget.deleteLater()
        self._held_layout.setSpacing(APART)
        if outcome.blame.kind is not BlameKind.NONE:
            self._held_layout.addWidget(self._wrapped(outcome.blame.sentence, "strong"))
        for cell in outcome.cells:
            self._held_layout.addWidget(self._cell(cell))
        for line in outcome.warnings:
            self._held_layout.addWidget(self._wrapped(line, "small"))
        for limits in dict.fromkeys(cell.limits for cell in outcome.cells):
            cells = [cell.cell for cell in outcome.cells if cell.limits == limits]
            of = "" if len(cells) == len(outcome.cells) else say(" of {cells}", cells=strung(", ", cells))
            self._held_layout.addWidget(
                self._wrapped(say("Limits in force{of}: {limits}", of=of, limits=limits_words(limits)), "small")
            )
        self._held.show()

    def show_recorded(self, recorded: bool, ticket_offered: bool) -> None:
        """Offer what can be done before, or after, recording; the keyboard then stands on the next act."""
        self.record_button.setVisible(not recorded)
        self.correct_button.setVisible(recorded)
        self.ticket_button.setVisible(recorded and ticket_offered)
        self.step_button.setVisible(recorded and ticket_offered)
        self.next_button.setVisible(recorded)
        if recorded:
            (self.step_button if ticket_offered else self.next_button).setFocus()

    def _cell(self, cell: CellOutcome) -> QWidget:
        row = QFrame(self._held)
        grid = QGridLayout(row)
        grid.setContentsMargins(0, TIGHT, 0, TIGHT)
        grid.setHorizontalSpacing(BLOCK)
        grid.setVerticalSpacing(TIGHT)
        grid.setColumnMinimumWidth(0, 24 * GRID)
        grid.setColumnMinimumWidth(1, 30 * GRID)
        grid.setColumnStretch(2, 1)
        grid.addWidget(text_label(cell.cell, "strong", row), 0, 0)
        grid.addWidget(MarkLabel(self.theme, outcome_mark(cell), "heading", row), 0, 1)
        ground, linear = (
            ground_words(cell),
            say("Linearity {cell} on {reader}", cell=linearity_words(cell), reader=cell.reader),
        )
        grid.addWidget(self._wrapped(ground, "strong"), 0, 2)
        beside = (linear if ground != linear else "", millivolt_words(cell), verified_words(cell))
        figures = strung("; ", (line for line in beside if line))
        told = strung(" ", (each.sentence for each in cell.findings if each.sentence != ground))
        step = say(
            "Next: {next_step}",
            next_step=reworded(f"{cell.next_step[:1].lower()}{cell.next_step[1:]}", cell.next_step),
        )
        for number, (text, role) in enumerate(((figures, "small"), (told, "body"), (step, "body")), start=1):
            if text:
                grid.addWidget(self._wrapped(text, role), number, 2)
        return row

    def _wrapped(self, text: str, role: str) -> QWidget:
        label = text_label(text, role, self._held)
        label.setWordWrap(True)
        return label
