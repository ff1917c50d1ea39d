"""The steps of a service task on the ticket's page: a line each under the task, and a form for what each asks for."""

from collections.abc import Sequence
from functools import partial
from typing import Any

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QHBoxLayout, QVBoxLayout, QWidget

from fleetbench.calc.core.languages import say, strung, worded
from fleetbench.calc.core.verdict import WorkState
from fleetbench.calc.tickets.steps import SEALS_DONE, StepKind, band, quantity_of, unit_of
from fleetbench.records.tickets.service_plan import TicketStep
from fleetbench.window.forms.form import PRESS_YES_NO, YES_NO_KEYS, YES_NO_WORDS, Field, Form
from fleetbench.window.look.buttons import plain_button, quiet_button, text_label
from fleetbench.window.look.marks import ADVISE, UNKNOWN, mark_for
from fleetbench.window.look.state_delegate import MarkLabel
from fleetbench.window.look.theme import APART, GRID, TIGHT, Theme, scaled
from fleetbench.window.look.words import counted, said
from fleetbench.workshop.bench.steps import leave_out_step, settle_step
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.tickets.list import TicketPage, asked_words, recorded_words
from fleetbench.workshop.tickets.page import TicketDesk
from fleetbench.workshop.tickets.work import SecondPerson

STATE_MARKS = {"to do": UNKNOWN.worded("to do"), "done": mark_for("done"), "left out": ADVISE.worded("left out")}
AT_ONCE = (StepKind.WORK, StepKind.PARTS, StepKind.PHOTOGRAPH)
"""Kinds that are settled by one key: nothing is typed for them."""


class StepLines(QWidget):
    """The steps of one task, each with its state, what it asks for, and what was recorded.

    Signals:
        wanted: the step that is to be recorded.
        left_out: the step that is to be left out.
    """

    wanted = Signal(object)
    left_out = Signal(object)

    def __init__(self, theme: Theme, steps: Sequence[TicketStep], is_open: bool, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(6 * GRID, 0, 0, TIGHT)
        layout.setSpacing(TIGHT)
        for step in steps:
            layout.addLayout(self._line(theme, step, is_open and step.state == WorkState.TO_DO))

    def _line(self, theme: Theme, step: TicketStep, to_do: bool) -> QHBoxLayout:
        line = QHBoxLayout()
        line.setSpacing(APART)
        state = MarkLabel(theme, STATE_MARKS[step.state], "small", self)
        state.setFixedWidth(scaled(20 * GRID))
        words = text_label(step_words(step), "small", self)
        words.setWordWrap(True)
        line.addWidget(state, 0, Qt.AlignmentFlag.AlignTop)
        line.addWidget(words, 1)
        if to_do:
            for button, signal in (
                (plain_button(theme, "Record", "", self), self.wanted),
                (quiet_button(theme, "Leave out", "", self), self.left_out),
            ):
                button.setAccessibleName(
                    worded(say("{text} step {number}", text=button.text().lower(), number=step.number))
                )
                button.clicked.connect(partial(signal.emit, step))
                line.addWidget(button, 0, Qt.AlignmentFlag.AlignTop)
        return line


def step_words(step: TicketStep) -> str:
    """'1.2  First stage adjusted: intermediate pressure before and after, 9 to 10 bar', and what was recorded."""
    asked = asked_words(step)
    lacks = strung("; ", step.lacks) if step.given.state == WorkState.DONE and step.lacks else ""
    told = lacks or recorded_words(step)
    whole = strung("", (step.number, "  ", strung(": ", filter(None, (step.plan.text, asked)))))
    return strung("\n", (whole, told)) if told else whole


def next_step(page: TicketPage) -> TicketStep | None:
    """The first step to do of the first task that is to do; None where that task has none."""
    task = next((each for each in page.tasks if each.state == WorkState.TO_DO), None)
    steps = page.steps_of(task.task.task_id) if task is not None else ()
    return next((each for each in steps if each.state == WorkState.TO_DO), None)


def steps_owed(page: TicketPage) -> str:
    """'3 steps still to do: 1.2, 1.5, 1.6', of tasks that are to do; empty for none."""
    waiting = [task.task.task_id for task in page.tasks if task.state == WorkState.TO_DO]
    owed = [step.number for step in page.steps if step.task_id in waiting and step.state == WorkState.TO_DO]
    return say("{count} still to do: {owed}", count=counted(len(owed), "step"), owed=strung(", ", owed)) if owed else ""


def held_against(step: TicketStep) -> str:
    """'9 to 10 bar; measured last on 2025-11-02', what a figure is held against beside its last one."""
    since = (
        say("no figure from before")
        if step.last_at is None
        else say("measured last on {last_at:%Y-%m-%d}", last_at=step.last_at)
    )
    return strung("; ", (band(step.plan), since))


def step_form(workplace: Workplace, step: TicketStep, desk: TicketDesk) -> Form:
    """Asks for what settles a step."""

    def act(person: int | None = None, pin: str = "", **given: Any) -> tuple[str, ...]:
        second = SecondPerson(person, pin) if person is not None else None
        return settle_step(workplace, step.step_result_id, second=second, **given)

    return Form(
        say("Record step {number}", number=step.number),
        act_words=say("Save step {number}", number=step.number),
        note=say(
            "{text}: {step}. Source: {source}.", text=step.plan.text, step=asked_words(step), source=step.plan.source
        ),
        fields=_fields(step, desk, workplace.person_id),
        act=act,
    )


def _fields(step: TicketStep, desk: TicketDesk, person_id: int | None) -> tuple[Field, ...]:
    plan, unit = step.plan, unit_of(step.plan)
    match plan.kind:
        case StepKind.FIGURE | StepKind.TORQUE:
            named = (
                say("Torque") if plan.kind == StepKind.TORQUE else f"{said(plan.what)[:1].upper()}{said(plan.what)[1:]}"
            )
            expects = {"last": step.last}
            after = Field("after", say("{named}, after the work", named=named) if plan.before else named, "figure",
                held_against(step),
                          unit=unit, quantity=quantity_of(plan), expects=expects,
                          spoken="after" if plan.before else named.lower())  # fmt: skip
            first = Field("before", say("{named}, before the work", named=named), "figure", unit=unit, expects=expects,
                          quantity=quantity_of(plan, before=True), spoken="before")  # fmt: skip
            return (first, after) if plan.before else (after,)
        case StepKind.SEAL:
            words = [(each, each) for each in SEALS_DONE]
            return (Field("seal", say("Seal at {what}", what=plan.what), "question", choices=words, spoken="seal",
                          wants="press 1 for inspected, 2 for replaced"),)  # fmt: skip
        case StepKind.LUBRICANT:
            return (
                Field("lubricant", "Lubricant used", default=plan.what or "", longest=80),
                Field("lot", "Lot", hint="as on the tube", longest=60, beside=True),
                Field("oxygen_compatible", "Does its label allow it for oxygen?", "question", choices=YES_NO_WORDS,
                      keys=YES_NO_KEYS, spoken="oxygen-compatible", wants=PRESS_YES_NO),
            )  # fmt: skip
        case StepKind.SECOND:
            others = [(each.name, each.person_id) for each in desk.signers if each.person_id != person_id]
            return (
                Field("person", "Who looked at it", "choice", choices=others, nothing="Nobody else may sign here."),
                Field("pin", "Their own PIN", "pin", beside=True),
            )
    return ()


def leave_out_form(workplace: Workplace, step: TicketStep) -> Form:
    """Asks why a step is left out."""
    return Form(
        say("Leave out step {number}", number=step.number),
        act_words="Leave step out",
        note=say(
            "{text}. The reason stands beside the signature and on paper. The task then stays due.", text=step.plan.text
        ),
        fields=(Field("reason", "Why it is left out", "words", spoken="reason", wants="is empty; say why"),),
        act=partial(leave_out_step, workplace, step.step_result_id),
    )
