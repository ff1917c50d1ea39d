"""Handing over a booking in one act: every check shown, the kind chosen, advices accepted, sheets printed."""

from collections.abc import Callable
from datetime import date
from pathlib import Path

from PySide6.QtCore import Slot
from PySide6.QtWidgets import QComboBox, QHBoxLayout, QLineEdit, QWidget

from fleetbench.records.errors import Refused
from fleetbench.window.background import Background, Progress, Refresher
from fleetbench.window.calibrate_card import DecimalField, labelled, with_unit
from fleetbench.window.calibrate_question import AnswerKey, Question
from fleetbench.window.canister_dialog import ActDialog
from fleetbench.window.detail import ACROSS, Detail, Line, Table
from fleetbench.window.detail_view import DetailView
from fleetbench.window.marks import UNKNOWN, mark_for
from fleetbench.window.theme import BLOCK, GRID, Theme
from fleetbench.window.words import counted
from fleetbench.workshop.acceptances import Accepting
from fleetbench.workshop.handover_acts import Handing, HandoverLook, hand_over, look_before
from fleetbench.workshop.hires import handover_facts
from fleetbench.workshop.people import PersonRow, list_people
from fleetbench.workshop.shop import Shop

KINDS = (
    AnswerKey("1", "assembled", "assembled"),
    AnswerKey("2", "kit", "kit"),
    AnswerKey("3", "not for diving", "not for diving"),
)


class HandoverDialog(ActDialog):
    """Hands the units of one booking over.

    Signals:
        done_with: the keys of the lines on which units left.
    """

    def __init__(
        self,
        theme: Theme,
        background: Background,
        shop: Shop,
        code: str,
        units: tuple[str, ...],
        last: date,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(theme, background, f"Hand over {code}", "Hand over", parent)
        self._shop, self.code, self.units, self._last = shop, code, units, max(last, shop.today())
        self.looks: tuple[HandoverLook, ...] = ()
        self.setMinimumWidth(240 * GRID)
        self.resize(240 * GRID, 172 * GRID)
        self.kind = Question(theme, "The units leave", KINDS, self)
        self.kind.show_given("assembled")
        self.checks = DetailView(theme, "The checks are being made.", self)
        self.checks.setMinimumHeight(60 * GRID)
        self.harness, self.reason, self.until, self.pin = (QLineEdit(self) for _ in range(4))
        for field, name in ((self.harness, "harness size"), (self.reason, "reason"), (self.until, "accepted until"),
                            (self.pin, "PIN")):  # fmt: skip
            field.setAccessibleName(name)
        self.pin.setEchoMode(QLineEdit.EchoMode.Password)
        self.until.setText(self._last.isoformat())
        self.manager = QComboBox(self)
        self.manager.setAccessibleName("manager")
        self.accessories, self.deposit = (DecimalField(name, self) for name in ("accessories", "deposit"))
        self._build()
        self._looks = Refresher(background, self)
        self._looks.loaded.connect(self.show_looks)
        self._looks.refused.connect(self.banner.say_refused)
        self._people = Refresher(background, self)
        self._people.loaded.connect(self.show_people)
        self.kind.answered.connect(self.look)
        self._people.ask(lambda: list_people(shop))
        self.look()
        self.kind.setFocus()

    def _build(self) -> None:
        along = QHBoxLayout()
        along.setSpacing(BLOCK)
        along.addLayout(labelled(self.harness, "Harness size", self))
        along.addLayout(with_unit(self.accessories, "Accessories, counted", "", self))
        along.addLayout(with_unit(self.deposit, "Deposit a unit", "", self))
        along.addStretch(1)
        accept = QHBoxLayout()
        accept.setSpacing(BLOCK)
        for field, words in (
            (self.manager, "Advices accepted by"),
            (self.pin, "PIN"),
            (self.reason, "Reason"),
            (self.until, "Until, inclusive"),
        ):
            accept.addLayout(labelled(field, words, self), 2 if field is self.reason else 1)
        self.body.addWidget(self.kind)
        self.body.addWidget(self.checks, 1)
        self.body.addLayout(along)
        self.body.addLayout(accept)

    @Slot()
    def look(self) -> None:
        """Make every check again for the kind that is chosen."""
        shop, code, units, kind = self._shop, self.code, self.units, self.kind.given or "assembled"
        self.act_button.setEnabled(False)
        self._looks.ask(lambda: tuple(look_before(shop, tag, code, kind) for tag in units))

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

    def work(self) -> Callable[[], object]:
        """Handing them over, with the advices accepted where a manager is named."""
        kind, count, deposit = self.kind.given or "assembled", self.accessories.value(), self.deposit.value()
        handings = [
            Handing(unit=tag, kind=kind, harness=self.harness.text(), deposit=deposit,
                    accessories=int(count) if count is not None else None)
            for tag in self.units
        ]  # fmt: skip
        manager, pin, accepted = self.manager.currentData(), self.pin.text(), ()
        if manager is not None:
            accepted = self._accepted()
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
                "advise, accepted" if check.check in look.standing else check.result.value,
                check.check,
                check.evidence,
                check.remedy,
            ),
            mark_for(check.result),
        )
        for check in shown
    ]
    if answer.left_out:
        lines.append(Line(("not known", "no records yet", ", ".join(answer.left_out), "look for yourself"), UNKNOWN))
    return Table(
        f"Unit {look.unit}: {answer.verdict}, {counted(len(answer.checks) - len(shown), 'check')} without a finding",
        ("Result", "Check", "What was recorded", "What to do"),
        tuple(lines),
        "Nothing recorded stops it or advises against it.",
        mark_column=0,
        column=ACROSS,
    )


def write_sheets(shop: Shop, code: str, units: tuple[str, ...], folder: Path, progress: Progress) -> tuple[Path, ...]:
    """The hand-over sheets of a booking's units, one PDF a unit in a folder; it can be called off between two."""
    # reportlab and its typefaces take longer to load than the window
    from fleetbench.printing import print_handover

    written = []
    for number, tag in enumerate(units):
        progress(number, len(units), tag)
        target = folder / f"handover-{code}-{tag}.pdf"
        try:
            print_handover(shop, handover_facts(shop, tag, code), target)
        except OSError as fault:
            raise Refused(f"folder: {target} cannot be written ({fault.strerror}); choose another place") from fault
        written.append(target)
    progress(len(units), len(units), "")
    return tuple(written)
