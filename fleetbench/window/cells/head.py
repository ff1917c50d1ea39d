"""The second step: is the head dry, and is it vented to the room."""

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QHBoxLayout, QVBoxLayout, QWidget

from fleetbench.calc.core.plausible import OVER_PRESSURE
from fleetbench.window.forms.calibrate_question import AnswerKey, Question
from fleetbench.window.forms.fields import DecimalField, StepCard, with_unit
from fleetbench.window.forms.figure import ENTER
from fleetbench.window.look.buttons import text_label
from fleetbench.window.look.theme import CLOSE, SECTION, Theme

HEAD_ANSWERS = (AnswerKey("1", "Dry", "dry"), AnswerKey("2", "Damp", "damp"), AnswerKey("/", "Not known", "unknown"))
VENTED_ANSWERS = (
    AnswerKey("1", "Vented", "yes"),
    AnswerKey("2", "Not vented", "no"),
    AnswerKey("/", "Not known", "unknown"),
)

HEAD_WORDS = {
    "damp": "A damp head cannot be judged: dry it, leave it at room temperature for 30 minutes, begin again.",
    "unknown": "Up to 100 % humidity will be allowed for at both points.",
}
VENTED_WORDS = {
    "no": "30 mbar over the room make a weak cell look sound: vent the head, or enter its over-pressure.",
    "unknown": "Without this the cells can at best be told to repeat.",
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

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(theme, "2  Head", parent)
        self.head = Question(theme, "Dry, and at room temperature for 30 minutes?", HEAD_ANSWERS, self)
        self.vented = Question(theme, "Vented to the room at the oxygen point?", VENTED_ANSWERS, self)
        self.over_pressure = DecimalField("over-pressure", self, quantity=OVER_PRESSURE)
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
        said = " ".join(line for line in lines if line)
        self._said.setText(said)
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
