"""What stands against units that leave or stay out, beside the act: every check, and a manager who accepts advices."""

from datetime import date

from PySide6.QtCore import Signal, Slot
from PySide6.QtWidgets import QComboBox, QHBoxLayout, QLineEdit, QVBoxLayout, QWidget

from fleetbench.calc.core.verdict import Result
from fleetbench.records.core.errors import Refused
from fleetbench.window.detail.detail import ACROSS, Detail, Line, Table
from fleetbench.window.detail.view import DetailView
from fleetbench.window.forms.fields import labelled
from fleetbench.window.look.marks import UNKNOWN, mark_for
from fleetbench.window.look.theme import APART, BLOCK, GRID, Theme
from fleetbench.window.look.words import counted
from fleetbench.window.shell.background import Background, Refresher
from fleetbench.window.units.page import remedy_of
from fleetbench.workshop.core.workplace import Shop
from fleetbench.workshop.hires.handover import Accepting
from fleetbench.workshop.people.list import PersonRow, list_people
from fleetbench.workshop.readiness.leaving import LeavingLook


class LeavingChecks(QWidget):
    """The checks of units, worst first, and the fields with which a manager accepts what they advise.

    Signals:
        place_requested: the Place of the act that puts a check right.
    """

    place_requested = Signal(object)

    def __init__(
        self, theme: Theme, background: Background, shop: Shop, last: date, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self.looks: tuple[LeavingLook, ...] = ()
        self.checks = DetailView(theme, "The checks are being made.", self)
        self.checks.setMinimumHeight(50 * GRID)
        self.checks.place_requested.connect(self.place_requested)
        self.reason, self.until, self.pin = (QLineEdit(self) for _ in range(3))
        for field, name in ((self.reason, "reason"), (self.until, "accepted until"), (self.pin, "PIN")):
            field.setAccessibleName(name)
        self.pin.setEchoMode(QLineEdit.EchoMode.Password)
        self.until.setText(last.isoformat())
        self.manager = QComboBox(self)
        self.manager.setAccessibleName("manager")
        self._build()
        self._people = Refresher(background, self)
        self._people.loaded.connect(self.show_people)
        self._people.ask(lambda: list_people(shop))

    def _build(self) -> None:
        accept = QHBoxLayout()
        accept.setSpacing(BLOCK)
        for field, words in (
            (self.manager, "Advices accepted by"),
            (self.pin, "PIN"),
            (self.reason, "Reason"),
            (self.until, "Until, inclusive"),
        ):
            accept.addLayout(labelled(field, words, self), 2 if field is self.reason else 1)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(APART)
        layout.addWidget(self.checks, 1)
        layout.addLayout(accept)

    def show_looks(self, title: str, about: str, looks: tuple[LeavingLook, ...]) -> str:
        """Show what was found of each unit, what stops it first; returns how much that is, in words."""
        self.looks = looks
        stops, asked = sum(len(each.stops) for each in looks), sum(len(each.to_accept) for each in looks)
        self.checks.show_detail(Detail(title, about, (), tuple(map(_table, sorted(looks, key=_worst_first)))))
        return f"{counted(len(looks), 'unit')}: {counted(stops, 'stop')}, {counted(asked, 'advice')} to accept"

    @Slot(object)
    def show_people(self, people: tuple[PersonRow, ...]) -> None:
        """Offer the managers who may accept an advice."""
        self.manager.addItem("nobody", None)
        for each in people:
            if each.active and each.role == "manager":
                self.manager.addItem(each.name, each.person_id)

    def accepted(self) -> tuple[tuple[Accepting, ...], int | None, str]:
        """What is accepted, by which manager and with which PIN; nothing where no manager is named."""
        manager, pin = self.manager.currentData(), self.pin.text()
        if manager is None:
            return (), None, pin
        try:
            until = date.fromisoformat(self.until.text().strip())
        except ValueError:
            raise Refused(f"accepted until: {self.until.text()!r} is no date; enter it as 2026-05-04") from None
        reason = self.reason.text()
        listed = tuple(Accepting(each.unit, check, until, reason) for each in self.looks for check in each.to_accept)
        return listed, manager, pin


def _worst_first(look: LeavingLook) -> tuple[int, int]:
    return -len(look.stops), -len(look.against)


def _table(look: LeavingLook) -> Table:
    answer = look.assessment
    lines = [
        Line(
            (
                "advise, accepted" if check.accepted else check.words,
                check.check,
                check.evidence,
                check.accepted or check.remedy,
            ),
            mark_for(check.result),
            remedy_of(check, look.unit),
        )
        for check in look.shown
    ]
    if answer.left_out:
        lines.append(Line(("not known", "no records yet", ", ".join(answer.left_out), "look for yourself"), UNKNOWN))
    return Table(
        f"Unit {look.unit}: {'hold' if look.stops else 'ready'}, "
        f"{counted(sum(each.result is Result.OK for each in answer.checks), 'check')} without a finding",
        ("Result", "Check", "What was recorded", "What to do: Enter starts it"),
        tuple(lines),
        "Nothing recorded stops it or advises against it.",
        mark_column=0,
        column=ACROSS,
    )
