"""What stands against units that leave or stay out, beside the act: every check, and a manager who accepts advices.

Making a hire longer: the new last day, and what runs out before it on each unit that is out.

A swap in mid-course: a failed unit in, another out in its place, and what changed hands, item by item.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import partial
from typing import Any

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import QHBoxLayout, QLineEdit, QPushButton, QVBoxLayout, QWidget

from fleetbench.calc.core.languages import say, strung, worded
from fleetbench.calc.core.verdict import Result
from fleetbench.calc.people.permits import Role
from fleetbench.records.core.errors import Refused
from fleetbench.records.people.reads import PersonRecord
from fleetbench.window.detail.detail import ACROSS, Detail, Line, Table
from fleetbench.window.detail.view import DetailView
from fleetbench.window.forms.fields import labelled
from fleetbench.window.forms.form import NOTE, ActDialog, Field, Form
from fleetbench.window.hires.dialogs import only_one, out_words, text_field
from fleetbench.window.lists.entry_table import TOLD, EntryModel, EntryTable, Index
from fleetbench.window.look.buttons import ChoiceBox, put_hint, quiet_button, text_label
from fleetbench.window.look.flow import FlowLayout
from fleetbench.window.look.marks import UNKNOWN, mark_for
from fleetbench.window.look.theme import APART, BLOCK, GRID, Theme
from fleetbench.window.look.words import counted
from fleetbench.window.shell.background import Background, Refresher
from fleetbench.window.units.page import remedy_of
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.hires.edit import extend_hire, look_before_extending
from fleetbench.workshop.hires.handover import Accepting
from fleetbench.workshop.hires.receive import (
    SwapItem,
    Swapping,
    fit_instead,
    look_before_swap,
    swap_items,
    swap_unit,
)
from fleetbench.workshop.people.list import list_people
from fleetbench.workshop.readiness.leaving import LeavingLook

MADE = say("The checks are being made.")
NO_LAST_DAY = say("Type the new last day: then everything is checked through it.")
NO_FAILED = say("Name the unit that failed and the one that goes out in its place: then it is checked.")
NO_INSTEAD = say("Name the unit that goes out in its place: then it is checked.")


class LeavingChecks(QWidget):
    """The checks of units, worst first, and the fields with which a manager accepts what they advise.

    Signals:
        place_requested: the Place of the act that puts a check right.
    """

    place_requested = Signal(object)

    def __init__(
        self, theme: Theme, background: Background, workplace: Workplace, last: date, waits: str = "",
        parent: QWidget | None = None,
    ) -> None:  # fmt: skip
        """waits: for what the checks wait; they have the height of a form then, and else that of a part of one."""
        super().__init__(parent)
        self.looks: tuple[LeavingLook, ...] = ()
        self.checks = DetailView(theme, waits or MADE, self)
        self.checks.setMinimumHeight((75 if waits else 50) * GRID)
        self.checks.place_requested.connect(self.place_requested)
        self.reason, self.until, self.pin = (QLineEdit(self) for _ in range(3))
        for field, name in ((self.reason, say("reason")), (self.until, say("accepted until")), (self.pin, "PIN")):
            field.setAccessibleName(worded(name))
        self.pin.setEchoMode(QLineEdit.EchoMode.Password)
        self.until.setText(last.isoformat())
        self.manager = ChoiceBox(self)
        self.manager.setAccessibleName(worded("manager"))
        self._build()
        self._people = Refresher(background, self)
        self._people.loaded.connect(self.show_people)
        self._people.ask(lambda: list_people(workplace))

    def _build(self) -> None:
        accept = QHBoxLayout()
        accept.setSpacing(BLOCK)
        for field, words in (
            (self.manager, say("Recommendations accepted by")),
            (self.pin, "PIN"),
            (self.reason, "Reason"),
            (self.until, say("Until, inclusive")),
        ):
            accept.addLayout(labelled(field, words, self), 2 if field is self.reason else 1)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(APART)
        layout.addWidget(self.checks, 1)
        layout.addLayout(accept)

    def wait(self, line: str) -> None:
        """Show no checks, and say what they wait for; nothing is left to accept."""
        self.looks = ()
        self.checks.show_nothing(line)

    def show_looks(self, title: str, about: str, looks: tuple[LeavingLook, ...]) -> str:
        """Show what was found of each unit, what stops it first; returns how much that is, in words."""
        self.looks = looks
        self.checks.show_detail(Detail(title, about, (), tuple(map(_table, sorted(looks, key=_worst_first)))))
        return summed(looks)

    def offer(self, found: tuple[str, tuple[LeavingLook, ...]]) -> None:
        """Show what was found of each unit of a booking through the last day that was looked at."""
        code, looks = found
        last = max(each.assessment.span[1] for each in looks)
        self.show_looks(code, say("Now and through {last}", last=last), looks)
        self.until.setText(last.isoformat())

    @Slot(object)
    def show_people(self, people: tuple[PersonRecord, ...]) -> None:
        """Offer the managers who may accept an advice."""
        self.manager.addItem(worded("nobody"), None)
        for each in people:
            if each.active and each.role == Role.MANAGER:
                self.manager.addItem(each.name, each.person_id)

    def accepted(self) -> tuple[tuple[Accepting, ...], int | None, str]:
        """What is accepted, by which manager and with which PIN; nothing where no manager is named."""
        manager, pin = self.manager.currentData(), self.pin.text()
        if manager is None:
            return (), None, pin
        try:
            until = date.fromisoformat(self.until.text().strip())
        except ValueError:
            raise Refused(
                say("accepted until: {text!r} is not a date; enter 2026-05-04", text=self.until.text())
            ) from None
        reason = self.reason.text()
        listed = tuple(Accepting(each.unit, check, until, reason) for each in self.looks for check in each.to_accept)
        return listed, manager, pin


def summed(looks: Sequence[LeavingLook]) -> str:
    """How much stands against units that leave, in words."""
    stops, asked = sum(len(each.stops) for each in looks), sum(len(each.to_accept) for each in looks)
    return say(
        "{count}: {stops}, {asked} to accept",
        count=counted(len(looks), "unit"), stops=counted(stops, "stop"), asked=counted(asked, "recommendation"),
    )  # fmt: skip


def _worst_first(look: LeavingLook) -> tuple[int, int]:
    return -len(look.stops), -len(look.against)


def _table(look: LeavingLook) -> Table:
    answer = look.assessment
    lines = [
        Line(
            (
                say("advise, accepted") if check.accepted else check.words,
                say(check.check),
                check.evidence,
                check.accepted or check.remedy,
            ),
            mark_for(check.result),
            remedy_of(check, look.unit),
        )
        for check in look.shown
    ]
    if answer.left_out:
        lines.append(
            Line(
                (say("not known"), say("no records yet"), strung(", ", answer.left_out), say("look for yourself")),
                UNKNOWN,
            )
        )
    return Table(
        say(
            "Unit {unit}: {what}, {sum} without a finding",
            unit=look.unit,
            what=say("hold") if look.stops else say("ready"),
            sum=counted(sum(each.result is Result.OK for each in answer.checks), "check"),
        ),
        ("Result", "Check", "What was recorded", "What to do: Enter starts it"),
        tuple(lines),
        "Nothing recorded stops it or advises against it.",
        mark_column=0,
        column=ACROSS,
    )


def extend_form(theme: Theme, background: Background, workplace: Workplace, code: str, last: date) -> Form:
    """Lets the units of one booking stay out longer, every check made through the new last day and shown first."""

    def look(found: Mapping[str, Any]) -> Mapping[str, Any]:
        if found["last"] is None:
            return {}
        looks = look_before_extending(workplace, code, found["last"])
        note = say("{found}. A stop cannot be accepted: correct it, or exchange the unit.", found=summed(looks))
        return {"checks": (code, looks), NOTE: note}

    def extend(last: date, checks: tuple[tuple[Accepting, ...], int | None, str]) -> object:
        accepted, manager, pin = checks
        return extend_hire(workplace, code, last, accepting=accepted, manager_id=manager, pin=pin)

    return Form(
        say("Extend {code}", code=code),
        act_words="Extend hire",
        note=say("It ends on {last}. Type the new last day; what ends before it is shown here.", last=last),
        fields=(
            Field("last", "New last day", "day", spoken="last day", within="2026-05-04",
                  wants="is missing; enter the new last day"),
            Field("checks", kind="own", read=LeavingChecks.accepted, aside=True,
                  made=partial(LeavingChecks, theme, background, workplace, last, NO_LAST_DAY)),
        ),
        act=extend,
        look=look,
        wide=220,
        shown_first=("last",),
        to_button=True,
    )  # fmt: skip


MOST_OFFERED = 6
HEADINGS = ("Item", say("Failed unit ↔ the other unit"), say("Exchanged y/n"))
ASKED = say("What changed hands: type y where it did. Everything else stays with its own unit, its analyses too.")


@dataclass(frozen=True, slots=True)
class _Row:
    """One item, in the columns that stand there already."""

    unit: str
    diver: str | None
    key: str


class SwapItemsModel(EntryModel[_Row]):
    """A line an item that may change hands; not exchanged unless y is typed."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(HEADINGS, parent)

    def show_items(self, items: Sequence[SwapItem]) -> None:
        """Show these items, none of them exchanged."""
        self.beginResetModel()
        none = say("nothing")
        self.rows = tuple(
            _Row(each.name, strung(" ↔ ", (each.with_failed or none, each.with_other or none)), each.key)
            for each in items
        )
        self.typed = {}
        self.endResetModel()

    def exchanged(self) -> tuple[str, ...]:
        """Keys of the items that changed hands; Refused for another answer than y or n."""
        for row, each in enumerate(self.rows):
            if self.text_at(row, TOLD).casefold() not in ("", "y", "n"):
                raise Refused(
                    say(
                        "{unit}: {row!r}; type y for exchanged, n for not exchanged",
                        unit=each.unit,
                        row=self.text_at(row, TOLD),
                    )
                )
        return tuple(each.key for row, each in enumerate(self.rows) if self.text_at(row, TOLD).casefold() == "y")

    # Qt overrides

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        shown = super().data(index, role)
        if role == Qt.ItemDataRole.DisplayRole and index.isValid() and index.column() == TOLD:
            said = str(shown).strip().casefold()
            return "exchanged" if said == "y" else say("not exchanged") if said in ("", "n") else shown
        return shown


class SwapDialog(ActDialog):
    """Takes a failed unit in and gives another out in its place.

    Signals:
        done_with: the ReceivedUnit.
        place_requested: the Place of the act that puts a check right.
    """

    place_requested = Signal(object)

    def __init__(
        self, theme: Theme, background: Background, workplace: Workplace, out: Sequence[str] = (),
        parent: QWidget | None = None,
    ) -> None:  # fmt: skip
        """out: units of the chosen booking that are out; one alone is the one that failed."""
        super().__init__(theme, background, say("Swap a unit"), say("Swap units"), parent)
        self._workplace = workplace
        self.setMinimumWidth(220 * GRID)
        self.resize(220 * GRID, 176 * GRID)
        self.note.setText(worded("The diver keeps booking and deposit; the failed unit gets a ticket."))
        self.failed, self.instead, self.reason = (
            text_field(name, self) for name in (say("failed unit"), say("in its place"), "reason")
        )
        self.model = SwapItemsModel(self)
        self.table = EntryTable(say("what changed hands"), TOLD, self)
        self.table.setModel(self.model)
        self.table.resizeColumnsToContents()
        self.table.setMinimumHeight(28 * GRID)
        self.checks = LeavingChecks(theme, background, workplace, workplace.today(), parent=self)
        self.failed.setText(only_one(out) or "")
        put_hint(self.failed, worded(out_words(out)))
        self.fit = QWidget(self)
        self._fit_words = text_label("", "small", self.fit)
        self._build()
        self._items, self._looks, self._fits = (Refresher(background, self) for _ in range(3))
        self._connect()
        self.failed.setFocus()
        self.failed.selectAll()
        self.ask_fit()
        self.ask_items()

    def _build(self) -> None:
        FlowLayout(self.fit).addWidget(self._fit_words)
        row = QHBoxLayout()
        row.setSpacing(BLOCK)
        for field, words, stretch in (
            (self.failed, say("Unit that failed"), 1),
            (self.instead, say("Unit that goes out in its place"), 1),
            (self.reason, say("What failed, in a sentence"), 2),
        ):
            row.addLayout(labelled(field, words, self), stretch)
        self.body.addLayout(row)
        self.body.addWidget(self.fit)
        asked = text_label(ASKED, "small", self)
        asked.setWordWrap(True)
        self.body.addWidget(asked)
        self.body.addWidget(self.table, 1)
        self.body.addWidget(self.checks, 2)

    def _connect(self) -> None:
        self.failed.returnPressed.connect(self.instead.setFocus)
        self.instead.returnPressed.connect(self.reason.setFocus)
        self.reason.returnPressed.connect(self._to_items)
        for field in (self.failed, self.instead):
            field.editingFinished.connect(self.ask_items)
        self.failed.editingFinished.connect(self.ask_fit)
        self.model.dataChanged.connect(self.look)
        self._items.loaded.connect(self.show_items)
        self._looks.loaded.connect(self.show_look)
        self._fits.loaded.connect(self.show_fit)
        for loader in (self._items, self._looks, self._fits):
            loader.refused.connect(self.banner.say_refused)
        self.checks.place_requested.connect(self._on_place)

    @Slot()
    def ask_fit(self) -> None:
        """Ask which units are fit to go out in its place, once the failed one is named."""
        workplace, failed = self._workplace, self.failed.text().strip()
        if failed:
            self._fits.ask(lambda: fit_instead(workplace, failed))

    @Slot(object)
    def show_fit(self, tags: tuple[str, ...]) -> None:
        """Offer each fit unit on a button that names it as the one that goes out."""
        line = self.fit.layout()
        assert line is not None
        for button in self.fit.findChildren(QPushButton):
            line.removeWidget(button)
            button.deleteLater()
        self._fit_words.setText(
            worded("Fit to go out in its place:" if tags else "No unit of its type is here and fit to go out.")
        )
        for tag in tags[:MOST_OFFERED]:
            button = quiet_button(self.theme, tag, "", self.fit)
            button.clicked.connect(partial(self._choose, tag))
            line.addWidget(button)

    def _choose(self, tag: str, _checked: bool = False) -> None:
        self.instead.setText(tag)
        self.reason.setFocus()
        self.ask_items()

    @Slot()
    def ask_items(self) -> None:
        """Ask what may change hands, once both units are named."""
        workplace, failed, instead = self._workplace, self.failed.text().strip(), self.instead.text().strip()
        self.checks.wait(MADE if failed and instead else NO_INSTEAD if failed else NO_FAILED)
        if failed and instead:
            self._items.ask(lambda: swap_items(workplace, failed, instead))

    @Slot(object)
    def show_items(self, items: tuple[SwapItem, ...]) -> None:
        """Show a line an item, and make every check of the unit that would go out."""
        if {each.key for each in items} != {each.key for each in self.model.rows} or not self.model.typed:
            self.model.show_items(items)
            self.table.resizeColumnsToContents()
        self.look()

    @Slot()
    def look(self) -> None:
        """Make every check again for what is said to have changed hands."""
        workplace = self._workplace
        try:
            swapping = self._swapping()
        except Refused as refusal:
            self.banner.say_refused(str(refusal))
            return
        self.banner.clear()
        self._looks.ask(lambda: look_before_swap(workplace, swapping))

    @Slot(object)
    def show_look(self, look: LeavingLook) -> None:
        """Show what was found of the unit that would go out."""
        found = self.checks.show_looks(look.unit, say("Now and through {span}", span=look.assessment.span[1]), (look,))
        self.checks.until.setText(look.assessment.span[1].isoformat())
        self.note.setText(
            worded(say("{found}. A stop cannot be accepted: correct it, or choose another unit.", found=found))
        )

    @Slot()
    def _to_items(self) -> None:
        if self.model.rows:
            self.table.setCurrentIndex(self.model.index(0, TOLD))
            self.table.setFocus()
        else:
            self.act_button.setFocus()

    @Slot(object)
    def _on_place(self, place: object) -> None:
        self.place_requested.emit(place)
        self.reject()

    def _swapping(self) -> Swapping:
        failed, instead = self.failed.text().strip(), self.instead.text().strip()
        if not failed or not instead:
            raise Refused(say("unit: scan or type both tags"))
        return Swapping(failed=failed, instead=instead, reason=self.reason.text(), exchanged=self.model.exchanged())

    def work(self) -> Callable[[], object]:
        """Swapping the two."""
        workplace, swapping = self._workplace, self._swapping()
        accepted, manager, pin = self.checks.accepted()
        return lambda: swap_unit(workplace, swapping, accepting=accepted, manager_id=manager, pin=pin)
