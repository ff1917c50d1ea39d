"""Handing over a booking in one act: what goes along, every check shown, kinds chosen, advices accepted."""

from collections.abc import Callable
from datetime import date

from PySide6.QtCore import Signal, Slot
from PySide6.QtWidgets import QWidget

from fleetbench.records.core.errors import Refused
from fleetbench.window.forms.calibrate_question import AnswerKey, Question
from fleetbench.window.forms.form import ActDialog
from fleetbench.window.hires.handover_grid import LeavingModel
from fleetbench.window.lists.entry_model import TOLD
from fleetbench.window.lists.entry_table import EntryTable
from fleetbench.window.look.buttons import text_label
from fleetbench.window.look.theme import GRID, Theme
from fleetbench.window.shell.background import Background, Refresher
from fleetbench.window.units.leaving_checks import LeavingChecks
from fleetbench.workshop.core.workplace import Shop
from fleetbench.workshop.hires.handover import LeavingUnit, hand_over, leaving_units, look_before
from fleetbench.workshop.readiness.leaving import LeavingLook

KINDS = (
    AnswerKey("1", "assembled", "assembled"),
    AnswerKey("2", "kit", "kit"),
    AnswerKey("3", "not for diving", "not for diving"),
)


ALONG = (
    "A row a unit, Enter moves on. Leaves as: a assembled, k kit, n not for diving. Accessories: how many, or by the "
    "unit type's list: all, all but torch, all but 2 weights. Fill: type d where the fill in the "
    "canister was discarded."
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
        self.setMinimumWidth(240 * GRID)
        self.resize(240 * GRID, 184 * GRID)
        self.kind = Question(theme, "The units leave", KINDS, self)
        self.kind.show_given("assembled")
        self.model = LeavingModel(self)
        self.table = EntryTable("what goes along", TOLD, self)
        self.table.setModel(self.model)
        self.table.setMinimumHeight(28 * GRID)
        self.checks = LeavingChecks(theme, background, shop, self._last, self)
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
        self.body.addWidget(along)
        self.body.addWidget(self.checks, 2)

    def _connect(self) -> None:
        shop, code, background = self._shop, self.code, self._background
        self._looks, self._leaving = (Refresher(background, self) for _ in range(2))
        self._looks.loaded.connect(self.show_looks)
        self._leaving.loaded.connect(self.show_units)
        for loader in (self._looks, self._leaving):
            loader.refused.connect(self.banner.say_refused)
        self.kind.answered.connect(self._on_kind)
        self.model.dataChanged.connect(self._on_typed)
        self.checks.place_requested.connect(self._on_place)
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
    def show_looks(self, looks: tuple[LeavingLook, ...]) -> None:
        """Show what was found of each unit: what stops it first."""
        self.act_button.setEnabled(True)
        found = self.checks.show_looks(self.code, f"Now and through {self._last}", looks)
        self.note.setText(f"{found}. A stop cannot be accepted: correct it, or hand over as not for diving.")

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
        handings = self.model.handings()
        accepted, manager, pin = self.checks.accepted()
        shop, code = self._shop, self.code
        return lambda: hand_over(shop, code, handings, accepting=accepted, manager_id=manager, pin=pin)
