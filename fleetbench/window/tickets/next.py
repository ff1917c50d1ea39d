"""What comes next under a ticket, with everything one key away, and the clocks that run.

The form that opens a ticket: unit, cause, reason, and what is to do.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from PySide6.QtCore import Qt, QTimer, Signal, Slot
from PySide6.QtWidgets import QCheckBox, QHBoxLayout, QLineEdit, QPlainTextEdit, QPushButton, QWidget

from fleetbench.calc.core.languages import capital, say, shown, strung, worded
from fleetbench.calc.core.verdict import WorkState
from fleetbench.records.core.errors import Refused
from fleetbench.records.tickets.reads import TimeRecord
from fleetbench.records.tickets.service_plan import TicketStep
from fleetbench.window.forms.fields import AnswerKey, QuestionField, StepCard, labelled, with_unit
from fleetbench.window.lists.act_bar import ActSpec, withhold
from fleetbench.window.lists.rows import as_plain_tip
from fleetbench.window.look.buttons import for_bench, lead_button, plain_button, put_hint, quiet_button, text_label
from fleetbench.window.look.theme import APART, BLOCK, CLOSE, GRID, Theme, put_font
from fleetbench.window.look.words import counted, said
from fleetbench.window.shell.place import DUE_ITEM
from fleetbench.window.tickets.cards import nothing_against
from fleetbench.window.tickets.steps import next_step, step_words
from fleetbench.workshop.tickets.list import TaskLine
from fleetbench.workshop.tickets.page import TicketDesk

TICK_MS = 10_000
IN_A_ROW = 4
"""So many buttons stand beside each other in a small window."""

LARGE = 90
"""Letters up to which the next task is written large."""

WAYS = {
    "fit": say(": key F2"), "test": say(": key F3 for valves and loop, F11 for other tests"),
        "calibrate": say(": key F12"),
    "photograph": say(": key F7"),
}  # fmt: skip
"""The key that leads to what a task needs, by the way of its evidence."""

ACTS = (
    ActSpec("done", "Done", "F8", act="task done"),
    ActSpec("leave_out", "Leave out", "/", act="leave out step"),
    ActSpec("clock", "Start the clock", "F6", "start or stop the clock", "start work"),
    ActSpec("fit", "Fit a part", "F2", act="fit part"),
    ActSpec("test", "Valves and loop", "F3", act="bench test"),
    ActSpec("photograph", "Photograph", "F7", act="add photograph"),
    ActSpec("correct", "Correct", "F4", act="correct finding"),
    ActSpec("sign", "Sign off", "F9", "sign", "sign ticket"),
    ActSpec("bench", "Other tests at the bench", "F11"),
    ActSpec("calibrate", "Calibrate", "F12"),
)
"""Everything that is done under a ticket."""
KEYS = {spec.key: spec.name for spec in ACTS}
SPECS = {spec.name: spec for spec in ACTS}
MADE = {"done": lead_button, "correct": quiet_button, "leave_out": quiet_button}
"""How a button looks that is not plain."""


class NextTaskCard(StepCard):
    """The next task in plain words, and a button with its key for all that is done under a ticket.

    Signals:
        wanted: the word of a button: done, fit, test, clock, correct, photograph or sign.
    """

    wanted = Signal(str)

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(theme, "Next", parent)
        self.task = text_label("", "title", self)
        self.task.setWordWrap(True)
        self.needs = text_label("", "small", self)
        self.needs.setWordWrap(True)
        self.clocks = text_label("", "small", self)
        self.clocks.setWordWrap(True)
        self.buttons: dict[str, QPushButton] = {
            spec.name: MADE.get(spec.name, plain_button)(theme, spec.text, "", self)
            for spec in ACTS
            if spec.name not in ("bench", "calibrate")
        }
        lines = (QHBoxLayout(), QHBoxLayout())
        for place, (word, button) in enumerate(self.buttons.items()):
            button.setObjectName(word)
            button.clicked.connect(self._on_clicked)
            lines[place >= IN_A_ROW].addWidget(button)
        self.body.addWidget(self.task)
        self.body.addWidget(self.needs)
        self.body.addWidget(self.clocks)
        for line in lines:
            line.setSpacing(CLOSE)
            line.addStretch(1)
            self.body.addLayout(line)
        self._times: tuple[TimeRecord, ...] = ()
        self._since = 0
        self._timer = QTimer(self)
        self._timer.setInterval(TICK_MS)
        self._timer.timeout.connect(self._on_tick)

    def show_desk(self, desk: TicketDesk) -> None:
        """Show what comes next, whose clock runs, and what whoever is at the bench may do."""
        waiting = [task for task in desk.page.tasks if task.state == WorkState.TO_DO]
        words = next_words(desk)
        put_font(self.task, "title" if len(words) <= LARGE else "heading")
        self.task.setText(shown(words))
        step = next_step(desk.page)
        self.needs.setText(shown(_needs_words(waiting[0], step)) if waiting else "")
        self.needs.setVisible(bool(self.needs.text()))
        put_font(self.needs, "body" if step is not None else "small")
        self.buttons["done"].setText(
            worded(say("Record {number}   F8", number=step.number)) if step is not None else worded("Done   F8")
        )
        self._times = tuple(each for each in desk.page.times if each.minutes is None)
        mine = any(each.person == desk.person for each in self._times)
        self.buttons["clock"].setText(worded("Stop the clock   F6") if mine else worded("Start the clock   F6"))
        entered = desk.correctable
        self.buttons["correct"].setVisible(entered is not None)
        self.buttons["correct"].setToolTip(
            "" if entered is None else as_plain_tip(shown(strung(": ", (say(entered.kind), entered.said[:80]))))
        )
        for word, button in self.buttons.items():
            self._allow(button, SPECS[word].act, desk.role)
        self.buttons["done"].setEnabled(self.buttons["done"].isEnabled() and bool(waiting))
        self.buttons["leave_out"].setVisible(step is not None)
        self.buttons["sign"].setEnabled(self.buttons["sign"].isEnabled() and not desk.against)
        self._now, self._since = desk.now, 0
        self._say_clocks()
        if self._times:
            self._timer.start()
        else:
            self._timer.stop()
        self.setVisible(desk.is_open)

    def _allow(self, button: QPushButton, act: str, role: str | None) -> None:
        button.setEnabled(True)
        if button is not self.buttons["correct"]:
            button.setToolTip("")
        withhold(button, act, role)

    def _say_clocks(self) -> None:
        now = self._now + timedelta(milliseconds=self._since)
        self.clocks.setText(shown(clock_words(self._times, now)))
        self.clocks.setVisible(bool(self._times))

    @Slot()
    def _on_tick(self) -> None:
        self._since += TICK_MS
        self._say_clocks()

    @Slot()
    def _on_clicked(self) -> None:
        self.wanted.emit(self.sender().objectName())


def _needs_words(task: TaskLine, step: TicketStep | None) -> str:
    """What comes first of a task: its next step with how many follow, or the record that it lacks."""
    if step is not None:
        more = sum(each.startswith("step ") for each in task.fact.missing) - 1
        after = say("{steps} after it", steps=counted(more, "step"))
        return strung("\n", (step_words(step), after)) if more > 0 else step_words(step)
    lacks = strung("; ", task.fact.missing)
    return strung("", (capital(lacks), WAYS.get(task.way, ""))) if lacks else ""


def next_words(desk: TicketDesk) -> str:
    """'1  Replace cell 2', or what the ticket waits for."""
    for task in desk.page.tasks:
        if task.state == WorkState.TO_DO:
            more = sum(each.state == WorkState.TO_DO for each in desk.page.tasks) - 1
            told = strung("  ", (str(task.task.ordinal), task.task.text))
            return strung("   ", (told, say("({tasks} after it)", tasks=counted(more, "task")))) if more else told
    if desk.against:
        return say("Every task is settled; {against}", against=desk.against[0])
    words = nothing_against(desk)
    return capital(words)


def clock_words(times: Sequence[TimeRecord], now: datetime) -> str:
    """'Tamsin Orrel at work for 12 min'."""
    working = (
        say(
            "{person} at work for {what:.0f} min",
            person=said(each.person),
            what=max(0.0, (now - each.began_at).total_seconds() / 60),
        )
        for each in times
    )
    return strung("; ", working)


CAUSE_WORDS = (say("failed test"), say("due item"), "hold", "hand-back", "turn-round", "course", say("by hand"))
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
    plan: bool = False


class NewTicketCard(StepCard):
    """Asks for what a ticket needs.

    Signals:
        given: a NewTicket.
        refused: one line that names the field and the remedy.
    """

    given = Signal(object)
    refused = Signal(str)

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(theme, say("New ticket"), parent)
        self._refers_to: tuple[int, str] | None = None
        self.tag = QLineEdit(self)
        self.tag.setAccessibleName(worded("unit"))
        put_hint(self.tag, worded("tag or scan"), whole=True)
        self.tag.setMaximumWidth(80 * GRID)
        self.reason = QLineEdit(self)
        self.reason.setAccessibleName(worded("reason"))
        self.cause = QuestionField(theme, "Cause", CAUSES, self, bench=False)
        self.critical = QuestionField(theme, "While it is open", CRITICAL, self, bench=False)
        self.plan = QCheckBox(worded("With the tasks that are due of the unit's service plan, and their tests"), self)
        self.tasks = QPlainTextEdit(self)
        self.tasks.setAccessibleName(worded("tasks"))
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
        self.body.addWidget(self.plan)
        self.body.addLayout(labelled(self.tasks, "What is to do, a line each", self))
        self.body.addSpacing(APART)
        self.body.addWidget(self.open_button, 0, Qt.AlignmentFlag.AlignLeft)
        self.tag.returnPressed.connect(self.reason.setFocus)
        self.reason.returnPressed.connect(self.cause.setFocus)
        self.cause.answered.connect(self._on_cause)
        self.critical.answered.connect(self._on_critical)
        self.open_button.clicked.connect(self.submit)

    def begin(
        self, tag: str = "", reason: str = "", cause: str | None = None, refers_to: tuple[int, str] | None = None,
        plan: bool = False,
    ) -> None:  # fmt: skip
        """Begin a new one with what is known already; refers_to: key and number of a ticket that it puts right.

        plan: it carries what is due of the service plan, as one does whose cause is then said to be a due item.
        """
        self._refers_to = refers_to
        self.plan.setChecked(plan)
        self.note.setText(
            worded(say("It refers to {refers_to}, which stays as it was signed.", refers_to=refers_to[1]))
            if refers_to
            else ""
        )
        self.tag.setText(tag)
        self.reason.setText(reason)
        self.cause.show_given(cause)
        self.critical.show_given("yes")
        self.tasks.clear()
        self.focus_missing()

    def focus_missing(self) -> None:
        """Put the keyboard on what is missing; where the plan's tasks are on it nothing is, and Enter opens it."""
        known = (
            (self.tag, self.tag.text()),
            (self.reason, self.reason.text()),
            (self.cause, self.cause.given),
            (self.tasks, self.plan.isChecked()),
        )
        next((field for field, said in known if not said), self.open_button).setFocus()

    @Slot()
    def submit(self) -> None:
        """Hand on what stands in the form, or say what is missing."""
        try:
            self.given.emit(self._form())
        except Refused as refusal:
            self.refused.emit(str(refusal))

    def _form(self) -> NewTicket:
        if not self.tag.text().strip():
            raise Refused(say("unit: scan or type its tag"))
        if self.cause.given is None:
            raise Refused(say("cause: choose one, by its key or by pressing it"))
        tasks = tuple(line.strip() for line in self.tasks.toPlainText().splitlines() if line.strip())
        critical = self.critical.given != "no"
        refers_to = self._refers_to[0] if self._refers_to else None
        return NewTicket(
            self.tag.text().strip(), cause=self.cause.given, reason=self.reason.text(), critical=critical, tasks=tasks,
            refers_to=refers_to,
            plan=self.plan.isChecked(),
        )  # fmt: skip

    @Slot(str)
    def _on_cause(self, value: str) -> None:
        self.plan.setChecked(value == DUE_ITEM)
        self.critical.setFocus()

    @Slot(str)
    def _on_critical(self, _value: str) -> None:
        self.tasks.setFocus()
