"""Handing over a booking in one act: what goes along, every check shown, kinds chosen, advices accepted.

What goes along with each unit of a hand-over, on one grid: a row a unit, keyboard only.
"""

import re
from collections.abc import Callable, Sequence
from datetime import date
from typing import Any

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import QWidget

from fleetbench.calc.core.languages import say, shown, strung, worded
from fleetbench.calc.core.measures import KILOGRAM
from fleetbench.calc.core.plausible import ABSORBENT_SENT, Quantity
from fleetbench.calc.readiness.judge import USUAL_WAY
from fleetbench.records.core.errors import Refused
from fleetbench.window.forms.fields import QuestionField
from fleetbench.window.forms.form import ActDialog
from fleetbench.window.hires.dialogs import WAYS
from fleetbench.window.hires.leaving import LeavingChecks
from fleetbench.window.lists.entry_table import TOLD, EntryModel, EntryTable, Index
from fleetbench.window.lists.rows import as_plain_tip
from fleetbench.window.look.buttons import text_label
from fleetbench.window.look.theme import GRID, Theme
from fleetbench.window.shell.background import Background, Refresher
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.hires.handover import Handing, LeavingUnit, hand_over, leaving_units, look_before
from fleetbench.workshop.readiness.leaving import LeavingLook

HEADINGS = ("Unit", "Diver", say("Leaves as"), "Harness", "Accessories", say("Absorbent, {mass}"), "Deposit",
    say("Fill in canister"),
            say("Stays here, why"))  # fmt: skip
ABSORBENT, FILL, STAYS = 5, 7, 8
"""The columns that ask what became of a fill that stands in the canister, and why a unit stays here for now."""

KIND_KEYS = {"a": "assembled", "k": "kit", "n": say("not for diving")}


class LeavingModel(EntryModel[LeavingUnit]):
    """Units to hand over, and what was typed of each; kinds begin as the one chosen for all."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(tuple(say(str(each), mass=str(KILOGRAM)) for each in HEADINGS), parent)
        self.kind = USUAL_WAY.value

    def show_units(self, units: Sequence[LeavingUnit]) -> None:
        """Show these rows, with the harness that each unit has and the way in which it leaves."""
        self.beginResetModel()
        self.rows = tuple(units)
        self.typed = {(row, 3): each.harness for row, each in enumerate(units) if each.harness}
        self.metered = {}
        self.typed |= {(row, 2): each.leaves for row, each in enumerate(units) if each.leaves}
        self.endResetModel()

    def set_kind(self, kind: str) -> None:
        """Let every unit leave as this."""
        self.kind = kind
        self.typed = {place: text for place, text in self.typed.items() if place[1] != 2}
        if self.rows:
            self.dataChanged.emit(self.index(0, 2), self.index(len(self.rows) - 1, 2))

    def kind_of(self, row: int) -> str:
        """How a unit leaves: a, k and n stand for the three kinds; Refused for another word."""
        text = self.text_at(row, 2).casefold()
        kind = KIND_KEYS.get(text, text) or self.kind
        if kind not in KIND_KEYS.values():
            raise self.wrong(row, 2, say("type a for assembled, k for kit, n for not for diving"))
        return kind

    def handing(self, row: int) -> Handing:
        """What was typed of one unit; Refused names unit and column."""
        counts, total = self._accessories(row)
        absorbent = self._figure(row, ABSORBENT)
        return Handing(
            unit=self.rows[row].unit,
            kind=self.kind_of(row),
            harness=self.text_at(row, 3),
            accessories=total,
            deposit=self._figure(row, 6),
            counts=counts,
            absorbent_kg=absorbent,
            fill_discarded=self._discarded(row),
        )

    def handings(self) -> list[Handing]:
        """The same of every unit that leaves now."""
        return [self.handing(row) for row in range(len(self.rows)) if not self.text_at(row, STAYS)]

    def staying(self) -> tuple[tuple[str, str], ...]:
        """The units that stay here for now, each with its reason."""
        return tuple((each.unit, why) for row, each in enumerate(self.rows) if (why := self.text_at(row, STAYS)))

    def _accessories(self, row: int) -> tuple[tuple[tuple[int, int], ...], int | None]:
        """Counts by key where the type has a list, and the total: `all`, `all but torch`, `all but 2 torch`, or 5."""
        text, listed = self.text_at(row, 4).casefold(), self.rows[row].accessories
        if not text:
            return (), None
        if text.isdecimal():
            belongs = sum(each.count for each in listed)
            counts = tuple((each.accessory_id, each.count) for each in listed) if int(text) == belongs else ()
            return counts, int(text)
        said = re.fullmatch(r"all(?:\s+but\s+(.+))?", text)
        if said is None or not listed:
            raise self.wrong(
                row, 4, say("type how many, or where the unit type has a list: all, or all but what lacks")
            )
        found = re.findall(r"(\d+)?\s*([^,\d][^,]*)", said[1] or "")
        lacking = {name.strip(): int(count or 1) for count, name in found}
        known = {each.name.casefold() for each in listed}
        if set(lacking) - known:
            raise self.wrong(row, 4, say("on the list stand: {known}", known=strung(", ", sorted(known))))
        counts = tuple(
            (each.accessory_id, max(0, each.count - lacking.get(each.name.casefold(), 0))) for each in listed
        )
        return counts, sum(count for _, count in counts)

    def _discarded(self, row: int) -> bool:
        text = self.text_at(row, FILL).casefold()
        if text and (text not in ("d", "discarded") or not self.rows[row].fill):
            raise self.wrong(row, FILL, say("type d where the fill in the canister was discarded, or leave it empty"))
        return bool(text)

    def measures(self, _row: int, column: int) -> tuple[Quantity | None, tuple[float, float] | None]:
        """The absorbent that goes along is weighed."""
        return (ABSORBENT_SENT if column == ABSORBENT else None), None

    def _figure(self, row: int, column: int) -> float | None:
        if "+" in self.text_at(row, column).lstrip("+"):
            raise self.wrong(row, column, say("enter a figure, or leave it empty"))
        found = self.figures(row, column, *self.measures(row, column))
        return found[0] if found else None

    # Qt overrides

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        if not index.isValid():
            return None
        unit, column = self.rows[index.row()], index.column()
        if role == Qt.ItemDataRole.ToolTipRole and column == 4 and unit.accessories:
            return as_plain_tip(strung("\n", (f"{each.count} × {each.name}" for each in unit.accessories)))
        given = super().data(index, role)
        if role == Qt.ItemDataRole.DisplayRole and column == 2:
            return worded(KIND_KEYS.get(str(given).strip().casefold(), given) or self.kind)
        if role == Qt.ItemDataRole.DisplayRole and column == FILL:
            return (
                shown(say("{fill} discarded", fill=unit.fill))
                if given and unit.fill
                else given or unit.fill or worded("none")
            )
        return given


ALONG = say(
    "A row a unit, Enter moves on. Leaves as: a assembled, k kit, n not for diving. "
    "Accessories: how many, or by the unit type's list: all, all but torch, all but 2 "
    "weights. Fill: type d where the fill in the canister was discarded. Stays here, why: a "
    "reason there leaves the unit here, and the rest goes."
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
        workplace: Workplace,
        code: str,
        last: date,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(theme, background, say("Hand over {code}", code=code), say("Hand over"), parent)
        self._workplace, self.code, self._last = workplace, code, max(last, workplace.today())
        self.setMinimumWidth(240 * GRID)
        self.resize(240 * GRID, 184 * GRID)
        self.kind = QuestionField(theme, "Hand over as", WAYS, self)
        self.kind.show_given(USUAL_WAY.value)
        self.model = LeavingModel(self)
        self.table = EntryTable(say("what goes along"), TOLD, self)
        self.table.setModel(self.model)
        self.table.setMinimumHeight(28 * GRID)
        self.checks = LeavingChecks(theme, background, workplace, self._last, parent=self)
        self.manager, self.pin = self.checks.manager, self.checks.pin
        self.reason, self.until = self.checks.reason, self.checks.until
        self._build()
        self._connect()
        self.kind.setFocus()

    def _build(self) -> None:
        along = text_label(ALONG, "small", self)
        along.setWordWrap(True)
        self.body.addWidget(self.kind)
        self.body.addWidget(self.table, 1)
        self.body.addWidget(self.table.beside)
        self.body.addWidget(along)
        self.body.addWidget(self.checks, 2)

    def _connect(self) -> None:
        workplace, code, background = self._workplace, self.code, self._background
        self._looks, self._leaving = (Refresher(background, self) for _ in range(2))
        self._looks.loaded.connect(self.show_looks)
        self._leaving.loaded.connect(self.show_units)
        for loader in (self._looks, self._leaving):
            loader.refused.connect(self.banner.say_refused)
        self.kind.answered.connect(self._on_kind)
        self.model.dataChanged.connect(self._on_typed)
        self.checks.place_requested.connect(self._on_place)
        self._leaving.ask(lambda: leaving_units(workplace, code))

    @Slot(object)
    def show_units(self, units: tuple[LeavingUnit, ...]) -> None:
        """Show the units that are to leave, and make every check."""
        self.model.show_units(units)
        ways = {each.leaves for each in units}
        if len(ways) == 1:
            self.kind.show_given(ways.pop())
        self.table.resizeColumnsToContents()
        if units:
            self.table.setCurrentIndex(self.model.index(0, TOLD))
            self.look()
        else:
            self.act_button.setEnabled(False)
            self.banner.say_note(
                say("No unit of this booking is here to leave. Put one on it, or receive what is out.")
            )

    @Slot()
    def look(self) -> None:
        """Make every check again for what stands in the grid."""
        workplace, code = self._workplace, self.code
        try:
            handings = self.model.handings()
        except Refused as refusal:
            self.banner.say_refused(str(refusal))
            return
        self.banner.hide()
        self.act_button.setEnabled(False)
        self._looks.ask(
            lambda: tuple(look_before(workplace, each.unit, code, each.kind, each.along) for each in handings)
        )

    @Slot(object)
    def show_looks(self, looks: tuple[LeavingLook, ...]) -> None:
        """Show what was found of each unit: what stops it first."""
        self.act_button.setEnabled(True)
        found = self.checks.show_looks(self.code, say("Now and through {last}", last=self._last), looks)
        self.note.setText(
            worded(say("{found}. A stop cannot be accepted: correct it, or hand over as not for diving.", found=found))
        )

    @property
    def looks(self) -> tuple[LeavingLook, ...]:
        """What was found of each unit."""
        return self.checks.looks

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
        handings, staying = self.model.handings(), self.model.staying()
        accepted, manager, pin = self.checks.accepted()
        workplace, code = self._workplace, self.code
        return lambda: hand_over(
            workplace, code, handings, accepting=accepted, manager_id=manager, pin=pin, waiting=staying
        )
