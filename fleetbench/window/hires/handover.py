"""Handing over a booking in one act: what goes along, every check shown, kinds chosen, advices accepted."""

from collections.abc import Callable
from datetime import date

from PySide6.QtCore import Signal, Slot
from PySide6.QtWidgets import QComboBox, QHBoxLayout, QLineEdit, QWidget

from fleetbench.calc.readiness.judge import USUAL_WAY
from fleetbench.records.core.errors import Refused
from fleetbench.window.detail.detail import ACROSS, Detail, Line, Table
from fleetbench.window.detail.view import DetailView
from fleetbench.window.forms.calibrate_question import AnswerKey, Question
from fleetbench.window.forms.fields import labelled
from fleetbench.window.forms.form import ActDialog
from fleetbench.window.hires.handover_grid import LeavingModel
from fleetbench.window.lists.entry_model import TOLD
from fleetbench.window.lists.entry_table import EntryTable
from fleetbench.window.look.buttons import text_label
from fleetbench.window.look.marks import UNKNOWN, mark_for
from fleetbench.window.look.theme import BLOCK, GRID, Theme
from fleetbench.window.look.words import counted
from fleetbench.window.shell.background import Background, Refresher
from fleetbench.window.units.check_ways import remedy_of
from fleetbench.workshop.core.workplace import Shop
from fleetbench.workshop.hires.acceptances import Accepting
from fleetbench.workshop.hires.handover import HandoverLook, LeavingUnit, hand_over, leaving_units, look_before
from fleetbench.workshop.people.list import PersonRow, list_people

KINDS = (
    AnswerKey("1", "assembled", "assembled"),
    AnswerKey("2", "kit", "kit"),
    AnswerKey("3", "not for diving", "not for diving"),
)


ALONG = (
    "A row a unit, Enter moves on. Leaves as: a assembled, k kit, n not for diving. Accessories: how many, or by the "
    "unit type's list: all, all but torch, all but 2 weights."
)


class HandoverDialog(ActDialog):
    """Hands the units of one booking over: a row a unit, the checks of all of them below, worst first.

    Signals:
        done_with: the keys of the lines on which units left.
        place_requested: the Place of the act that puts a check right.
    """

    place_requested = Signal(object)

    def __init__(
        self,
        theme: Theme,
        background: Background,
        shop: Shop,
        code: str,
        last: date,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(theme, background, f"Hand over {code}", "Hand over", parent)
        self._shop, self.code, self._last = shop, code, max(last, shop.today())
        self.looks: tuple[HandoverLook, ...] = ()
        self.setMinimumWidth(240 * GRID)
        self.resize(240 * GRID, 184 * GRID)
        self.kind = Question(theme, "The units leave", KINDS, self)
        self.kind.show_given(USUAL_WAY.value)
        self.model = LeavingModel(self)
        self.table = EntryTable("what goes along", TOLD, self)
        self.table.setModel(self.model)
        self.table.setMinimumHeight(28 * GRID)
        self.checks = DetailView(theme, "The checks are being made.", self)
        self.checks.setMinimumHeight(50 * GRID)
        self.reason, self.until, self.pin = (QLineEdit(self) for _ in range(3))
        for field, name in ((self.reason, "reason"), (self.until, "accepted until"), (self.pin, "PIN")):
            field.setAccessibleName(name)
        self.pin.setEchoMode(QLineEdit.EchoMode.Password)
        self.until.setText(self._last.isoformat())
        self.manager = QComboBox(self)
        self.manager.setAccessibleName("manager")
        self._build()
        self._connect()
        self.kind.setFocus()

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
        along = text_label(ALONG, "small", self)
        along.setWordWrap(True)
        self.body.addWidget(self.kind)
        self.body.addWidget(self.table, 1)
        self.body.addWidget(along)
        self.body.addWidget(self.checks, 2)
        self.body.addLayout(accept)

    def _connect(self) -> None:
        shop, code, background = self._shop, self.code, self._background
        self._looks, self._people, self._leaving = (Refresher(background, self) for _ in range(3))
        self._looks.loaded.connect(self.show_looks)
        self._people.loaded.connect(self.show_people)
        self._leaving.loaded.connect(self.show_units)
        for loader in (self._looks, self._leaving):
            loader.refused.connect(self.banner.say_refused)
        self.kind.answered.connect(self._on_kind)
        self.model.dataChanged.connect(self._on_typed)
        self.checks.place_requested.connect(self._on_place)
        self._people.ask(lambda: list_people(shop))
        self._leaving.ask(lambda: leaving_units(shop, code))

    @Slot(object)
    def show_units(self, units: tuple[LeavingUnit, ...]) -> None:
        """Show the units that are to leave, and make every check."""
        self.model.show_units(units)
        self.table.resizeColumnsToContents()
        if units:
            self.table.setCurrentIndex(self.model.index(0, TOLD))
            self.look()
        else:
            self.act_button.setEnabled(False)
            self.banner.say_note("No unit of this booking is here to leave. Put one on it, or receive what is out.")

    @Slot()
    def look(self) -> None:
        """Make every check again for what stands in the grid."""
        shop, code = self._shop, self.code
        try:
            handings = self.model.handings()
        except Refused as refusal:
            self.banner.say_refused(str(refusal))
            return
        self.banner.hide()
        self.act_button.setEnabled(False)
        self._looks.ask(lambda: tuple(look_before(shop, each.unit, code, each.kind, each.along) for each in handings))

    @Slot(object)
    def show_looks(self, looks: tuple[HandoverLook, ...]) -> None:
        """Show what was found of each unit: what stops it first."""
        self.looks = looks
        self.act_button.setEnabled(True)
        stops = sum(len(each.assessment.stops) for each in looks)
        asked = sum(len(each.to_accept) for each in looks)
        self.note.setText(
            f"{counted(len(looks), 'unit')}: {counted(stops, 'stop')}, {counted(asked, 'advice')} to accept. A stop "
            "cannot be accepted: put it right, or hand over as not for diving."
        )
        self.checks.show_detail(Detail(self.code, f"Now and through {self._last}", (), tuple(map(_table, looks))))

    @Slot(object)
    def show_people(self, people: tuple[PersonRow, ...]) -> None:
        """Offer the managers who may accept an advice."""
        self.manager.addItem("nobody", None)
        for each in people:
            if each.active and each.role == "manager":
                self.manager.addItem(each.name, each.person_id)

    @Slot(str)
    def _on_kind(self, kind: str) -> None:
        self.model.set_kind(kind)

    @Slot()
    def _on_typed(self) -> None:
        self.look()

    @Slot(object)
    def _on_place(self, place: object) -> None:
        self.place_requested.emit(place)
        self.reject()

    def work(self) -> Callable[[], object]:
        """Handing them over, with the advices accepted where a manager is named."""
        handings = self.model.handings()
        manager, pin = self.manager.currentData(), self.pin.text()
        accepted = self._accepted() if manager is not None else ()
        shop, code = self._shop, self.code
        return lambda: hand_over(shop, code, handings, accepting=accepted, manager_id=manager, pin=pin)

    def _accepted(self) -> tuple[Accepting, ...]:
        try:
            until = date.fromisoformat(self.until.text().strip())
        except ValueError:
            raise Refused(f"accepted until: {self.until.text()!r} is no date; enter it as 2026-05-04") from None
        reason = self.reason.text()
        return tuple(Accepting(each.unit, check, until, reason) for each in self.looks for check in each.to_accept)


def _table(look: HandoverLook) -> Table:
    answer = look.assessment
    shown = [*answer.stops, *answer.advises]
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
        for check in shown
    ]
    if answer.left_out:
        lines.append(Line(("not known", "no records yet", ", ".join(answer.left_out), "look for yourself"), UNKNOWN))
    return Table(
        f"Unit {look.unit}: {answer.verdict}, {counted(len(answer.checks) - len(shown), 'check')} without a finding",
        ("Result", "Check", "What was recorded", "What to do: Enter starts it"),
        tuple(lines),
        "Nothing recorded stops it or advises against it.",
        mark_column=0,
        column=ACROSS,
    )
