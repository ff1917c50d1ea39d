"""A manager's decision to book units that are not fit: who, by PIN, and why; and the forms that ask for it alone."""

from collections.abc import Mapping, Sequence
from functools import partial
from typing import Any

from PySide6.QtCore import Slot
from PySide6.QtWidgets import QHBoxLayout, QLineEdit, QWidget

from fleetbench.calc.core.languages import say, strung, worded
from fleetbench.calc.people.permits import Role
from fleetbench.records.people.reads import PersonRecord
from fleetbench.window.forms.fields import labelled
from fleetbench.window.forms.form import Choices, Field, Form
from fleetbench.window.look.buttons import ChoiceBox
from fleetbench.window.look.theme import BLOCK
from fleetbench.window.shell.background import Background, Refresher
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.hires.availability import Move, move_promise
from fleetbench.workshop.hires.fitness import BookUnfit, left_unmet
from fleetbench.workshop.hires.plan import BenchVisit, PlanChange
from fleetbench.workshop.hires.sold import AcceptedPlan, accept_plan
from fleetbench.workshop.people.list import list_people


class ManagerFields(QWidget):
    """Manager, PIN and reason in a row; nobody chosen is no decision."""

    def __init__(self, background: Background, workplace: Workplace, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.manager = ChoiceBox(self)
        self.manager.setAccessibleName(worded("manager"))
        self.pin, self.reason = QLineEdit(self), QLineEdit(self)
        for field, name in ((self.pin, "PIN"), (self.reason, say("reason"))):
            field.setAccessibleName(worded(name))
            field.setMaxLength(300)
        self.pin.setEchoMode(QLineEdit.EchoMode.Password)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(BLOCK)
        fields: tuple[tuple[QWidget, str, int], ...] = (
            (self.manager, say("Booked although not fit, by manager"), 2),
            (self.pin, "PIN", 1),
            (self.reason, "Reason", 3),
        )
        for widget, words, share in fields:
            row.addLayout(labelled(widget, words, self), share)
        self._people = Refresher(background, self)
        self._people.loaded.connect(self.show_people)
        self._people.ask(lambda: list_people(workplace))

    @Slot(object)
    def show_people(self, people: tuple[PersonRecord, ...]) -> None:
        """Offer the managers."""
        self.manager.clear()
        self.manager.addItem(worded("nobody"), None)
        for each in people:
            if each.active and each.role == Role.MANAGER:
                self.manager.addItem(each.name, each.person_id)

    def decision(self) -> BookUnfit | None:
        """What a manager decided, None where none is named."""
        manager = self.manager.currentData()
        return BookUnfit(self.reason.text(), manager, self.pin.text()) if manager is not None else None


def decision_fields(*, hidden: bool = False) -> tuple[Field, ...]:
    """Manager, PIN and reason of a form; hidden: asked only once what is booked is not fit."""
    return (
        Field("manager", "Booked although not fit, by manager", "choice", spoken="manager", hidden=hidden),
        Field("pin", "PIN", "pin", spoken="PIN", hidden=hidden, beside=True),
        Field("reason", "Reason", longest=300, hidden=hidden, beside=True),
    )


def managers(workplace: Workplace) -> Mapping[str, Choices]:
    """Who may decide, for those fields."""
    may = [(each.name, each.person_id) for each in list_people(workplace) if each.active and each.role == Role.MANAGER]
    return {"manager": [("nobody", None), *may]}


def decided(manager: int | None, pin: str | None, reason: str | None) -> BookUnfit | None:
    """What a manager decided, None where none is named."""
    return BookUnfit(reason or "", manager, pin or "") if manager is not None else None


def move_form(workplace: Workplace, move: Move, why: str) -> Form:
    """Moves a booking onto a unit or days that are not fit, by a manager's decision alone."""

    def act(**decision: Any) -> None:
        move_promise(workplace, move, unfit=decided(**decision))

    title = say("Move {code} although not fit", code=move.code)
    return Form(
        title,
        act_words="Move booking",
        note=why,
        fields=decision_fields(),
        act=act,
        load=partial(managers, workplace),
        wide=200,
    )


def accepted(
    workplace: Workplace,
    changes: Sequence[PlanChange],
    visits: Sequence[BenchVisit],
    days: int,
    unfit: BookUnfit | None = None,
) -> tuple[AcceptedPlan, tuple[str, ...]]:
    """Accept changes and bench work of a plan: what was done, and what is unmet after it within so many days."""
    return accept_plan(workplace, changes, visits, unfit=unfit), left_unmet(workplace, days)


def accept_form(
    workplace: Workplace, changes: Sequence[PlanChange], visits: Sequence[BenchVisit], days: int, look: Sequence[str]
) -> Form:
    """Accepts changes of a plan that promise units which are not fit, by a manager's decision alone."""

    def act(**decision: Any) -> object:
        return accepted(workplace, changes, visits, days, decided(**decision))

    return Form(
        "Accept units that are not fit",
        act_words="Accept changes",
        note="A manager may book these all the same. Cancel, and untick them, to accept the others alone.",
        fields=(Field("look", kind="told", default=strung("\n", look)), *decision_fields()),
        act=act,
        load=partial(managers, workplace),
        wide=200,
    )
