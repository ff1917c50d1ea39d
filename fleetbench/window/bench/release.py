"""Valves by breath and loop by eye: four questions with a key each, a watch for the loop, and Enter to record.

A part that works or does not: one question, and Enter to record.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from PySide6.QtCore import Qt, QTimer, Signal, Slot
from PySide6.QtGui import QHideEvent, QKeyEvent, QShowEvent
from PySide6.QtWidgets import QHBoxLayout, QLineEdit, QVBoxLayout, QWidget

from fleetbench.calc.bench.leak import LoopLimit
from fleetbench.calc.core.languages import say, worded
from fleetbench.calc.core.plausible import WATCHED
from fleetbench.records.core.errors import Refused
from fleetbench.window.bench.readings import clock_words, offer_words
from fleetbench.window.cells.grid import RowEnd, RowWords
from fleetbench.window.forms.fields import AnswerKey, DecimalField, QuestionField, StepCard, with_unit
from fleetbench.window.forms.figure import ENTER
from fleetbench.window.look.buttons import for_bench, lead_button, put_hint, quiet_button, text_label
from fleetbench.window.look.marks import mark_for
from fleetbench.window.look.theme import APART, CLOSE, GRID, Theme
from fleetbench.workshop.bench.offers import BenchPlan, TestOffer
from fleetbench.workshop.bench.tests import RecordedTest, WatchedLoop
from fleetbench.workshop.core.workplace import Workplace

VALVE_ANSWERS = (AnswerKey("1", "Held", "held"), AnswerKey("2", "Leaked", "fell"), AnswerKey("/", "Not done", "none"))
HELD, FELL, SHORT, NOT_DONE = "held", "fell", "short", "none"


@dataclass(frozen=True, slots=True)
class ReleaseForm:
    """What was seen; None is not done."""

    inhale: bool | None
    exhale: bool | None
    negative: WatchedLoop
    positive: WatchedLoop


class LoopRow(QWidget):
    """One loop test: a key for 'held for the type's time', one for 'fell', one for another time, and a watch.

    Signals:
        settled: the row has its answer, and its minutes where it asked for them.
        begun: its watch was started.
    """

    settled = Signal()
    begun = Signal()

    def __init__(
        self, theme: Theme, workplace: Workplace, words: str, limit: LoopLimit | None, parent: QWidget | None
    ) -> None:
        super().__init__(parent)
        self._workplace, self._limit = workplace, limit
        self._begun: datetime | None = None
        self._watched: float | None = None
        answers: tuple[AnswerKey, ...] = (AnswerKey("2", "Fell", FELL), AnswerKey("3", "Other time", SHORT),
                   AnswerKey("/", "Not done", NOT_DONE))  # fmt: skip
        if limit is not None:
            answers = (AnswerKey("1", say("Held {minutes:g} min", minutes=limit.minutes), HELD), *answers)
        self.question = QuestionField(theme, words, answers, self)
        self.minutes = DecimalField(say("minutes watched, {words}", words=words.lower()), self, quantity=WATCHED)
        self.minutes.expect(last=limit.minutes if limit is not None else None, known_as=say("asked for"))
        self._asked = QWidget(self)
        line = QHBoxLayout(self._asked)
        line.setContentsMargins(0, 0, 0, 0)
        line.addLayout(with_unit(self.minutes, "Watched", "min", self._asked))
        self._asked.hide()
        self.watch = text_label("", "strong", self)
        self._ticker = QTimer(self)
        self._ticker.setInterval(1000)
        self._ticker.timeout.connect(self._show_watch)
        self.watch.hide()
        more = QHBoxLayout()
        more.setContentsMargins(CLOSE, 0, 0, 0)
        more.setSpacing(APART)
        more.addWidget(self._asked)
        more.addWidget(self.watch, 1)
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 0, 0, 0)
        whole.setSpacing(0)
        whole.addWidget(self.question)
        whole.addLayout(more)
        self.question.answered.connect(self._on_answered)

    def seen(self) -> WatchedLoop:
        """What was seen; Refused where the minutes are no figure or missing."""
        given = self.question.given
        if given in (None, NOT_DONE):
            return WatchedLoop(None)
        if given == HELD:
            measured = self._watched if self._watched is not None else self._limit.minutes if self._limit else None
            return WatchedLoop(held=True, minutes=measured)
        minutes = self.minutes.settle() if given == SHORT else self._watched
        if given == SHORT and minutes is None:
            raise Refused(say("{name}: is missing; enter how long it was watched", name=self.minutes.name))
        return WatchedLoop(held=given == SHORT, minutes=minutes)

    def kept(self) -> dict[str, Any]:
        """What was entered, the watch as far as it went; one that runs is kept with its beginning."""
        begun = self._begun.isoformat() if self._begun is not None else None
        given, minutes = self.question.given, self.minutes.text()
        return {"given": given, "minutes": minutes, "watched": self._watched, "begun": begun}

    def bring_back(self, kept: Mapping[str, Any]) -> None:
        """Show what was entered before, and let a watch run on that ran."""
        begun = datetime.fromisoformat(kept["begun"]) if kept["begun"] else None
        self.question.show_given(kept["given"])
        self._asked.setVisible(kept["given"] == SHORT)
        self.minutes.setText(kept["minutes"])
        self._watched = kept["watched"]
        if begun is not None:
            self._run_watch(begun)

    @property
    def running(self) -> tuple[datetime, float | None] | None:
        """When the watch that runs was begun, and the minutes it asks for; None where none runs."""
        if self._begun is None:
            return None
        return self._begun, self._limit.minutes if self._limit is not None else None

    def begin_watch(self) -> None:
        """Start the watch, or start it again."""
        self._run_watch(self._workplace.clock())
        self.begun.emit()

    def _run_watch(self, begun: datetime) -> None:
        self._begun, self._watched = begun, None
        self.watch.show()
        self._show_watch()
        if self.isVisible():
            self._ticker.start()

    def stop_watch(self) -> None:
        """Stop the watch where it runs."""
        if self._begun is not None:
            self._watched = round((self._workplace.clock() - self._begun).total_seconds() / 60.0, 2)
        self._ticker.stop()
        self._begun = None

    def _show_watch(self) -> None:
        if self._begun is None:
            return
        gone = (self._workplace.clock() - self._begun).total_seconds()
        asked = say(" of {what}", what=clock_words(60 * self._limit.minutes)) if self._limit is not None else ""
        self.watch.setText(worded(say("Watched {gone}{asked}", gone=clock_words(gone), asked=asked)))

    @Slot(str)
    def _on_answered(self, value: str) -> None:
        self.stop_watch()
        self._asked.setVisible(value == SHORT)
        if value == SHORT:
            self.minutes.show_value(self._watched)
            self.minutes.setFocus()
            self.minutes.selectAll()
        else:
            self.settled.emit()

    # Qt overrides

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Space and self.question.hasFocus():
            self.begin_watch()
            return
        if event.key() in ENTER and self.minutes.hasFocus():
            self.settled.emit()
            return
        super().keyPressEvent(event)

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        if self._begun is not None:
            self._show_watch()
            self._ticker.start()

    def hideEvent(self, event: QHideEvent) -> None:
        super().hideEvent(event)
        self._ticker.stop()  # the clock on the wall runs on, and so does the watch


class ReleaseCard(StepCard):
    """The four release tests in the order in which a bench makes them.

    Signals:
        record_requested: a ReleaseForm.
        correct_requested: correct what was just recorded.
        refused: one line that names the field and the remedy.
        changed: an answer was given or a watch was started.
    """

    changed = Signal()
    record_requested = Signal(object)
    correct_requested = Signal()
    refused = Signal(str)

    def __init__(self, theme: Theme, workplace: Workplace, plan: BenchPlan, parent: QWidget | None = None) -> None:
        super().__init__(theme, say("One-way valves and loop"), parent)
        offer = plan.offers[0]
        set_up = text_label(offer.set_up, "body", self)
        set_up.setWordWrap(True)
        limit = text_label(offer.limit, "small", self)
        limit.setWordWrap(True)
        self.inhale = QuestionField(theme, "Inhale one-way valve, by breath", VALVE_ANSWERS, self)
        self.exhale = QuestionField(theme, "Exhale one-way valve, by breath", VALVE_ANSWERS, self)
        self.negative = LoopRow(theme, workplace, say("Loop negative, by eye"), plan.negative, self)
        self.positive = LoopRow(theme, workplace, say("Loop positive, by eye"), plan.positive, self)
        self.ends = {name: RowWords(theme, self) for name in ("inhale", "exhale", "negative", "positive")}
        self.record_button = for_bench(lead_button(theme, "Record   Enter", "", self))
        self.correct_button = quiet_button(theme, "Correct   F4", "", self)
        self.correct_button.hide()
        self.body.addWidget(set_up)
        self.body.addWidget(limit)
        for name, row in self._rows():
            self.ends[name].hide()
            self.body.addWidget(row)
            self.body.addWidget(self.ends[name])
        hint = text_label(
            say("Space starts the watch on a loop row. What is not done is not recorded, and never passes."),
            "small",
            self,
        )
        hint.setWordWrap(True)
        self.body.addWidget(hint)
        feet = QHBoxLayout()
        feet.addWidget(self.record_button)
        feet.addWidget(self.correct_button)
        feet.addStretch(1)
        self.body.addLayout(feet)
        self.body.addStretch(1)
        self.setMinimumWidth(130 * GRID)
        self._connect()

    def _rows(self) -> tuple[tuple[str, QWidget], ...]:
        return (("inhale", self.inhale), ("exhale", self.exhale), ("negative", self.negative),
                ("positive", self.positive))  # fmt: skip

    def _connect(self) -> None:
        self.inhale.answered.connect(self._on_inhale)
        self.exhale.answered.connect(self._on_exhale)
        self.negative.settled.connect(self.positive.question.setFocus)
        self.positive.settled.connect(self.record_button.setFocus)
        for row in (self.negative, self.positive):
            row.minutes.asked.connect(self.refused)
            row.begun.connect(self.changed)
        for question in self._questions():
            question.answered.connect(self._on_any_answer)
        self.record_button.clicked.connect(self.submit)
        self.correct_button.clicked.connect(self.correct_requested)

    def focus_first(self) -> None:
        """Put the keyboard on the row whose watch runs, else on the first question without an answer."""
        watched = next((row.question for row in (self.negative, self.positive) if row.running is not None), None)
        open_one = next((each for each in self._questions() if each.given is None), self.inhale)
        (watched or open_one).setFocus()

    @property
    def is_begun(self) -> bool:
        """Whether an answer stands here that is not recorded."""
        answered = any(each.given is not None for each in self._questions())
        return (answered or self.watch is not None) and self.record_button.isEnabled()

    def _questions(self) -> tuple[QuestionField, ...]:
        return self.inhale, self.exhale, self.negative.question, self.positive.question

    @property
    def watch(self) -> tuple[datetime, float | None] | None:
        """When the watch that runs was begun, and the minutes it asks for; None where none runs."""
        return self.negative.running or self.positive.running

    def kept(self) -> dict[str, Any]:
        """What was entered, as plain values, so that tests left half-way come back as they were."""
        return {
            "inhale": self.inhale.given,
            "exhale": self.exhale.given,
            "negative": self.negative.kept(),
            "positive": self.positive.kept(),
        }

    def bring_back(self, kept: Mapping[str, Any]) -> None:
        """Show what was entered before."""
        self.inhale.show_given(kept["inhale"])
        self.exhale.show_given(kept["exhale"])
        self.negative.bring_back(kept["negative"])
        self.positive.bring_back(kept["positive"])

    @Slot()
    def submit(self) -> None:
        """Hand on what was seen, or say what is wrong with it."""
        held = {HELD: True, FELL: False}
        try:
            form = ReleaseForm(
                held.get(self.inhale.given or ""), held.get(self.exhale.given or ""), self.negative.seen(),
                self.positive.seen(),
            )  # fmt: skip
        except Refused as refusal:
            self.refused.emit(str(refusal))
            return
        self.record_requested.emit(form)

    def show_recorded(self, form: ReleaseForm, tests: tuple[RecordedTest, ...]) -> None:
        """Show each answer at its row, and offer to put it right."""
        done = [name for name, seen in (("inhale", form.inhale), ("exhale", form.exhale),
                                        ("negative", form.negative.held), ("positive", form.positive.held))
                if seen is not None]  # fmt: skip
        for end in self.ends.values():
            end.show_end(RowEnd(None, ""))
            end.hide()
        for name, test in zip(done, tests, strict=True):
            self.ends[name].show_end(RowEnd(mark_for(test.answer.verdict), test.answer.sentence))
            self.ends[name].show()
        self.record_button.setEnabled(False)
        self.correct_button.show()
        self.correct_button.setFocus()

    def open_again(self) -> None:
        """Let what was recorded be entered anew."""
        self.record_button.setEnabled(True)
        self.correct_button.hide()
        self.focus_first()

    @Slot(str)
    def _on_any_answer(self, _value: str) -> None:
        self.changed.emit()

    @Slot(str)
    def _on_inhale(self, _value: str) -> None:
        self.exhale.setFocus()

    @Slot(str)
    def _on_exhale(self, _value: str) -> None:
        self.negative.question.setFocus()

    # Qt overrides

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in ENTER and self.record_button.isEnabled():
            self.submit()
        elif event.key() == Qt.Key.Key_F4 and self.correct_button.isVisible():
            self.correct_requested.emit()
        else:
            super().keyPressEvent(event)


ANSWERS = (AnswerKey("1", "Works", "works"), AnswerKey("2", "Does not", "fails"))


class WorksCard(StepCard):
    """One question on one part or on the whole unit.

    Signals:
        record_requested: whether it works, and a note.
        correct_requested: correct what was just recorded.
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
        self.question = QuestionField(theme, "Does it work?", ANSWERS, self)
        self.note_field = QLineEdit(self)
        put_hint(self.note_field, worded("Note of what was found"))
        self.note_field.setAccessibleName(worded("note"))
        self.note_field.setMaximumWidth(120 * GRID)
        self.end = RowWords(theme, self)
        self.record_button = for_bench(lead_button(theme, "Record   Enter", "", self))
        self.correct_button = quiet_button(theme, "Correct   F4", "", self)
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

    def kept(self) -> dict[str, Any]:
        """What was entered, as plain values, so that a test left half-way comes back as it was."""
        return {"given": self.question.given, "note": self.note_field.text()}

    def bring_back(self, kept: Mapping[str, Any]) -> None:
        """Show what was entered before."""
        self.question.show_given(kept["given"])
        self.note_field.setText(kept["note"])

    @property
    def watch(self) -> None:
        """No watch runs here."""
        return

    @Slot()
    def submit(self) -> None:
        """Hand on the answer, or say that there is none."""
        if self.question.given is None:
            self.refused.emit(worded("answer: is missing; try it and press 1 or 2"))
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
