"""The parts of a ticket's working page: tasks, findings, parts out and in, tests, and the signature."""

from collections.abc import Sequence
from functools import partial
from zoneinfo import ZoneInfo

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QCheckBox, QHBoxLayout, QLineEdit, QPushButton, QVBoxLayout, QWidget

from fleetbench.calc.core.languages import say, strung, worded
from fleetbench.calc.core.measures import in_unit, measured_in
from fleetbench.calc.core.verdict import WorkState
from fleetbench.records.core.errors import Refused
from fleetbench.records.tickets.reads import FindingRecord
from fleetbench.records.tickets.service_plan import TicketStep
from fleetbench.window.bench.valves import held_words
from fleetbench.window.forms.fields import DecimalField, StepCard
from fleetbench.window.look.buttons import for_bench, lead_button, plain_button, put_hint, quiet_button, text_label
from fleetbench.window.look.flow import FlowLayout
from fleetbench.window.look.marks import ADVISE, NOTED, OK, STOP, UNKNOWN, Mark, mark_for
from fleetbench.window.look.state_delegate import MarkLabel
from fleetbench.window.look.theme import APART, CLOSE, GRID, TIGHT, Theme, put_font, scaled
from fleetbench.window.look.words import counted, moment, said
from fleetbench.window.tickets.steps import StepLines, steps_owed
from fleetbench.workshop.bench.valves import TestLine
from fleetbench.workshop.tickets.list import MoveLine, TaskLine, TicketPage
from fleetbench.workshop.tickets.page import TicketDesk

STILL_TO_DO = say("still to do; do it, or put it off with a reason")
STATE_MARKS = {"to do": UNKNOWN.worded("to do"), "done": mark_for("done"), "put off": ADVISE.worded("put off")}


class LinesCard(StepCard):
    """A card whose lines are shown anew after every act."""

    def __init__(self, theme: Theme, title: str, parent: QWidget | None = None) -> None:
        super().__init__(theme, title, parent)
        self._lines = QVBoxLayout()
        self._lines.setSpacing(CLOSE)
        self.body.addLayout(self._lines)

    def clear_lines(self) -> None:
        """Take every line away."""
        while (item := self._lines.takeAt(0)) is not None:
            if (widget := item.widget()) is not None:
                widget.hide()
                widget.deleteLater()

    def add_line(self, widget: QWidget) -> None:
        """Add one line at the end."""
        self._lines.addWidget(widget)

    def say(self, text: str, role: str = "body") -> None:
        """Add a line of text."""
        label = text_label(worded(text), role, self)
        label.setWordWrap(True)
        self.add_line(label)


class TaskRow(QWidget):
    """One task: its state, and while it is not done two buttons, minutes, and the reason asked when it is put off.

    Signals:
        done: key and minutes (None where not known).
        put_off: key and reason.
        step_wanted, step_left_out: as of its StepLines.
        refused: one line that names the field and the remedy.
    """

    done = Signal(int, object)
    put_off = Signal(int, str)
    step_wanted = Signal(object)
    step_left_out = Signal(object)
    refused = Signal(str)

    def __init__(
        self, theme: Theme, task: TaskLine, is_open: bool, steps: Sequence[TicketStep] = (),
        parent: QWidget | None = None,
    ) -> None:  # fmt: skip
        super().__init__(parent)
        self.task = task
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, TIGHT, 0, TIGHT)
        layout.setSpacing(TIGHT)
        line = QHBoxLayout()
        line.setSpacing(APART)
        state = MarkLabel(theme, STATE_MARKS.get(task.state, UNKNOWN), "strong", self)
        state.setFixedWidth(scaled(22 * GRID))
        words = text_label(strung("", (str(task.task.ordinal), "  ", task.task.text, _beside(task))), "body", self)
        words.setWordWrap(True)
        line.addWidget(state, 0, Qt.AlignmentFlag.AlignTop)
        line.addWidget(words, 1)
        self.minutes = DecimalField("minutes", self)
        self.done_button = plain_button(theme, "Done", "", self)
        self.put_off_button = quiet_button(theme, "Put off", "", self)
        for widget in (self.minutes, text_label(say("min"), "small", self), self.done_button, self.put_off_button):
            line.addWidget(widget)
            widget.setVisible(is_open and task.state != WorkState.DONE)
        self.minutes.setMaximumWidth(16 * GRID)
        self.minutes.setAccessibleName(worded(say("minutes of task {ordinal}", ordinal=task.task.ordinal)))
        layout.addLayout(line)
        self.reason = QLineEdit(self)
        put_hint(self.reason, worded("Why is it put off? Enter saves it"))
        self.reason.setAccessibleName(worded(say("why task {ordinal} is put off", ordinal=task.task.ordinal)))
        self.reason.hide()
        layout.addWidget(self.reason)
        if steps:
            lines = StepLines(theme, steps, is_open and task.state == WorkState.TO_DO, self)
            lines.wanted.connect(self.step_wanted)
            lines.left_out.connect(self.step_left_out)
            layout.addWidget(lines)
        missing = [each for each in task.fact.missing if not each.startswith("step ")]
        if missing and is_open:
            needs = text_label(say("It needs its record: {missing}", missing=strung("; ", missing)), "small", self)
            needs.setWordWrap(True)
            needs.setIndent(scaled(22 * GRID) + APART)
            layout.addWidget(needs)
        if task.task.put_off_reason:
            times = (
                say(", {times_put_off} times", times_put_off=task.task.times_put_off)
                if task.task.times_put_off > 1
                else ""
            )
            layout.addWidget(
                text_label(
                    say("Put off{times}: {put_off_reason}", times=times, put_off_reason=task.task.put_off_reason),
                    "small",
                    self,
                )
            )
        self.done_button.clicked.connect(self._on_done)
        self.minutes.returnPressed.connect(self._on_done)
        self.put_off_button.clicked.connect(self._on_put_off)
        self.reason.returnPressed.connect(self._on_reason)

    @Slot()
    def _on_done(self) -> None:
        try:
            self.done.emit(self.task.task.task_id, self.minutes.value())
        except Refused as refusal:
            self.refused.emit(str(refusal))

    @Slot()
    def _on_put_off(self) -> None:
        self.reason.show()
        self.reason.setFocus()

    @Slot()
    def _on_reason(self) -> None:
        self.put_off.emit(self.task.task.task_id, self.reason.text())

    # Qt overrides

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape and self.reason.isVisible():
            self.reason.clear()
            self.reason.hide()
            self.put_off_button.setFocus()
            return
        super().keyPressEvent(event)


def _beside(task: TaskLine) -> str:
    """What stands behind a task's words."""
    said = [
        *(() if task.task.critical else (say("not critical"),)),
        *((say("second person"),) if task.task.second_person else ()),
    ]
    return strung("", ("  (", strung(", ", said), ")")) if said else ""


class TasksCard(LinesCard):
    """What is to do.

    Signals:
        done, put_off, step_wanted, step_left_out: as of a TaskRow.
        added: the text of a new task, and whether a second person must look at it.
        refused: one line that names the field and the remedy.
    """

    done = Signal(int, object)
    put_off = Signal(int, str)
    step_wanted = Signal(object)
    step_left_out = Signal(object)
    added = Signal(str, bool)
    refused = Signal(str)

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(theme, "Tasks", parent)
        self.rows: list[TaskRow] = []
        self.new = QLineEdit(self)
        put_hint(self.new, worded("Another task: what is to do; Enter adds it"))
        self.new.setAccessibleName(worded("new task"))
        self.second = QCheckBox(worded("a second person looks at it and signs too"), self)
        put_font(self.second, "small")
        self.body.addWidget(self.new)
        self.body.addWidget(self.second)
        self.new.returnPressed.connect(self._on_new)

    def holds_keyboard(self) -> bool:
        """Whether the keyboard is on one of the tasks, which are shown again after every act."""
        focused = self.focusWidget()
        return focused is not None and focused.hasFocus() and any(row.isAncestorOf(focused) for row in self.rows)

    def show_tasks(self, page: TicketPage, is_open: bool) -> None:
        """Show the tasks of a ticket with their steps."""
        self.clear_lines()
        self.rows = []
        for task in page.tasks:
            row = TaskRow(self.theme, task, is_open, page.steps_of(task.task.task_id), self)
            row.done.connect(self.done)
            row.put_off.connect(self.put_off)
            row.step_wanted.connect(self.step_wanted)
            row.step_left_out.connect(self.step_left_out)
            row.refused.connect(self.refused)
            self.rows.append(row)
            self.add_line(row)
        if not page.tasks:
            self.say("No task is listed yet." if is_open else "No task was listed.", "small")
        self.new.clear()
        self.new.setVisible(is_open)
        self.second.setChecked(False)
        self.second.setVisible(is_open)

    @Slot()
    def _on_new(self) -> None:
        self.added.emit(self.new.text(), self.second.isChecked())


class FindingsCard(LinesCard):
    """What was seen.

    Signals:
        added: the text of a new finding.
        corrected: the key of a finding with an error in it, and the text that takes its place.
    """

    added = Signal(str)
    corrected = Signal(int, str)

    def __init__(self, theme: Theme, zone: ZoneInfo, parent: QWidget | None = None) -> None:
        super().__init__(theme, "Findings", parent)
        self._zone = zone
        self.new = QLineEdit(self)
        put_hint(self.new, worded("What was found; Enter saves it"))
        self.new.setAccessibleName(worded("new finding"))
        self.body.addWidget(self.new)
        self._instead_of: int | None = None
        self.new.returnPressed.connect(self._on_new)

    def begin_correcting(self, finding_id: int, text: str) -> None:
        """Let the words of a finding be written anew; Enter puts them in its place, an empty field leaves it."""
        self._instead_of = finding_id
        self.new.setText(text)
        self.note.setText(worded("Enter puts these words in the place of the last ones."))
        self.new.setFocus()
        self.new.selectAll()

    def show_findings(self, findings: Sequence[FindingRecord], is_open: bool) -> None:
        """Show these findings."""
        self.clear_lines()
        for line in findings:
            self.say(line.text)
            self.say(strung(", ", (moment(line.at, self._zone), said(line.person))), "small")
        if not findings:
            self.say("No finding is recorded yet.", "small")
        self._instead_of = None
        self.note.setText("")
        self.new.clear()
        self.new.setVisible(is_open)

    @Slot()
    def _on_new(self) -> None:
        if self._instead_of is not None:
            self.corrected.emit(self._instead_of, self.new.text())
        else:
            self.added.emit(self.new.text())


class PartsCard(LinesCard):
    """Parts out and in under the ticket.

    Signals:
        fit_wanted, take_out_wanted: a part is to be fitted, or taken out.
    """

    fit_wanted = Signal()
    take_out_wanted = Signal()

    def __init__(self, theme: Theme, zone: ZoneInfo, parent: QWidget | None = None) -> None:
        super().__init__(theme, say("Parts out and in"), parent)
        self._zone = zone
        self.fit_button = plain_button(theme, "Fit a part…", "", self)
        self.out_button = quiet_button(theme, "Remove a part…", "", self)
        self.tools.addWidget(self.fit_button)
        self.tools.addWidget(self.out_button)
        self.fit_button.clicked.connect(self.fit_wanted)
        self.out_button.clicked.connect(self.take_out_wanted)

    def show_moves(self, moves: Sequence[MoveLine], is_open: bool) -> None:
        """Show these moves."""
        self.clear_lines()
        for move in moves:
            why = strung("", ("; ", move.why)) if move.why else ""
            lot = say("lot {lot}", lot=move.move.lot) if move.move.lot else ""
            part = strung(", ", filter(None, (move.move.part_type, move.move.label, lot)))
            self.say(strung("", (say(move.way), "  ", move.move.slot, ": ", part, why)))
        if not moves:
            self.say("No part was moved.", "small")
        self.fit_button.setVisible(is_open)
        self.out_button.setVisible(is_open)


class TestsCard(LinesCard):
    """Tests made under the ticket.

    Signals:
        test_wanted: valves and loop are to be tried.
        elsewhere_wanted: the name of the page where other tests are taken: bench or calibrate.
    """

    __test__ = False
    test_wanted = Signal()
    elsewhere_wanted = Signal(str)

    def __init__(self, theme: Theme, zone: ZoneInfo, parent: QWidget | None = None) -> None:
        super().__init__(theme, "Tests", parent)
        self._zone = zone
        self.test_button = plain_button(theme, "Valves and loop…", "", self)
        self.tools.addWidget(self.test_button)
        self.test_button.clicked.connect(self.test_wanted)
        self.bench_button = quiet_button(theme, "Other tests at the bench   F11", "", self)
        self.calibrate_button = quiet_button(theme, "Calibrate   F12", "", self)
        self._elsewhere = QWidget(self)
        line = FlowLayout(self._elsewhere)
        line.addWidget(self.calibrate_button)
        line.addWidget(self.bench_button)
        self.body.addWidget(self._elsewhere)
        self.bench_button.clicked.connect(partial(self.elsewhere_wanted.emit, "bench"))
        self.calibrate_button.clicked.connect(partial(self.elsewhere_wanted.emit, "calibrate"))

    def show_tests(self, tests: Sequence[TestLine], is_open: bool) -> None:
        """Show these tests."""
        self.clear_lines()
        for test in tests:
            self.add_line(MarkLabel(self.theme, _test_mark(test), "body", self))
        if not tests:
            self.say("No test was made.", "small")
        self.test_button.setVisible(is_open)
        self._elsewhere.setVisible(is_open)


class SignCard(LinesCard):
    """Time worked, what stands against a signature, and the signature.

    Signals:
        minutes_added: minutes worked beside the tasks and the clock.
        minutes_corrected: the key of minutes with an error in them, and those that take their place.
        sign_wanted: the ticket is to be signed.
        refused: one line that names the field and the remedy.
    """

    minutes_added = Signal(float)
    minutes_corrected = Signal(int, float)
    sign_wanted = Signal()
    refused = Signal(str)

    def __init__(self, theme: Theme, zone: ZoneInfo, parent: QWidget | None = None) -> None:
        super().__init__(theme, say("Time and signature"), parent)
        self._zone = zone
        self.minutes = DecimalField("minutes", self)
        self._minutes = QWidget(self)
        line = FlowLayout(self._minutes)
        line.addWidget(text_label(say("More time worked"), "label", self._minutes))
        line.addWidget(self.minutes)
        line.addWidget(text_label(say("min, Enter adds it"), "small", self._minutes))
        self.sign_button: QPushButton = for_bench(lead_button(theme, "Sign off…", "", self))
        self.body.addWidget(self._minutes)
        self.body.addWidget(self.sign_button, 0, Qt.AlignmentFlag.AlignLeft)
        self._instead_of: int | None = None
        self.minutes.returnPressed.connect(self._on_minutes)
        self.sign_button.clicked.connect(self.sign_wanted)

    def show_desk(self, desk: TicketDesk) -> None:
        """Show what stands against the signature, or the signature."""
        self.clear_lines()
        self._instead_of = None
        self.note.setText("")
        self.say(say("{minutes:.0f} minutes so far{by}.", minutes=desk.page.row.ticket.minutes, by=_by_person(desk)))
        ticket, held = desk.page.row.ticket, desk.page.signed_in
        if ticket.signed_at is not None:
            entry = say("Journal entry {entry}, {hash}", entry=held.entry, hash=held.hash) if held is not None else ""
            self.add_line(
                MarkLabel(
                    self.theme, NOTED.worded(say("signed by {person}", person=ticket.signed_by or "")), "heading", self
                )
            )
            if ticket.second:
                self.add_line(
                    MarkLabel(
                        self.theme, NOTED.worded(say("second person {person}", person=ticket.second)), "body", self
                    )
                )
            self.say(strung(". ", (moment(ticket.signed_at, self._zone), entry)), "small")
        if desk.page.needs_second and desk.is_open:
            self.say("A task asks for a second person, who signs with a PIN of their own.", "small")
        for reason in _gathered(desk):
            self.add_line(MarkLabel(self.theme, ADVISE.worded(reason), "body", self))
        for words in left_out_words(desk):
            self.add_line(MarkLabel(self.theme, ADVISE.worded(words), "body", self))
        for words in desk.page.not_counted:
            self.add_line(MarkLabel(self.theme, STOP.worded(words), "body", self))
        if desk.is_open and not desk.against:
            self.add_line(MarkLabel(self.theme, OK.worded(nothing_against(desk)), "body", self))
        self.minutes.clear()
        self._minutes.setVisible(desk.is_open)
        self.sign_button.setVisible(desk.is_open)
        self.sign_button.setEnabled(not desk.against)

    @Slot()
    def _on_minutes(self) -> None:
        try:
            value = self.minutes.value()
        except Refused as refusal:
            self.refused.emit(str(refusal))
            return
        if value is None:
            return
        if self._instead_of is not None:
            self.minutes_corrected.emit(self._instead_of, value)
        else:
            self.minutes_added.emit(value)

    def begin_correcting(self, time_id: int, text: str) -> None:
        """Let minutes be entered anew; Enter puts them in the place of the last ones."""
        self._instead_of = time_id
        self.minutes.setText(text)
        self.note.setText(worded("Enter puts these minutes in the place of the last ones."))
        self.minutes.setFocus()
        self.minutes.selectAll()


def left_out_words(desk: TicketDesk) -> tuple[str, ...]:
    """'left out: Polish the case, no time', a line for each task that was put off."""
    return tuple(
        say("left out: {text}, {put_off_reason}", text=task.task.text, put_off_reason=said(task.task.put_off_reason))
        for task in desk.page.tasks
        if task.state == WorkState.PUT_OFF
    )


def nothing_against(desk: TicketDesk) -> str:
    """That the ticket may be signed, with what is left out where something is."""
    left = sum(task.state == WorkState.PUT_OFF for task in desk.page.tasks)
    return (
        say("may be signed with {left} left out", left=counted(left, "task"))
        if left
        else say("nothing stands against a signature")
    )


def signature_words(desk: TicketDesk) -> tuple[str, ...]:
    """What a signature of the ticket stands for, a line each: the time worked, and what is left out."""
    done = sum(task.state == WorkState.DONE for task in desk.page.tasks)
    worked = say(
        "{done} done, {minutes:.0f} min worked{desk}",
        done=counted(done, "task"),
        minutes=desk.page.row.ticket.minutes,
        desk=_by_person(desk),
    )
    return (worked, *left_out_words(desk), *desk.page.not_counted)


def _by_person(desk: TicketDesk) -> str:
    """': Tamsin Orrel 25, Jarek Vinthe 15'; nothing where it is not known by person."""
    minutes: dict[str, float] = {}
    for each in desk.page.times:
        name = said(each.person)
        minutes[name] = minutes.get(name, 0.0) + (each.minutes or 0.0)
    worked = strung(", ", (strung(" ", (name, f"{value:.0f}")) for name, value in minutes.items() if value))
    return strung("", (": ", worked)) if worked else ""


def _gathered(desk: TicketDesk) -> tuple[str, ...]:
    """What stands against a signature, with the tasks to do in one line: they are listed beside it."""
    to_do = sum(task.state == WorkState.TO_DO for task in desk.page.tasks)
    others = tuple(reason for reason in desk.against if not reason.endswith(STILL_TO_DO))
    listed = len(desk.against) - len(others)
    if not listed:
        return others
    owed = steps_owed(desk.page)
    others = (*((owed,) if owed else ()), *others)
    return (
        say("{to_do} still to do; do each, or put it off with a reason", to_do=counted(max(to_do, listed), "task")),
        *others,
    )


def _test_mark(test: TestLine) -> Mark:
    """A test in one line with the mark of its result."""
    words = [say(test.record.kind)]
    if test.record.direction:
        words.append(say(test.record.direction))
    if test.record.held is not None:
        words.append(held_words(test.record.held, test.record.watched_minutes))
    if test.record.value is not None:
        words.append(in_unit(test.record.value, measured_in(test.record.unit_of_value)))
    mark = mark_for(test.record.result)
    return mark.worded(strung(": ", (mark.word, strung(", ", words))))
