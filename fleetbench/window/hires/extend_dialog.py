"""Making a hire longer: the new last day, and what runs out before it on each unit that is out."""

from collections.abc import Callable
from datetime import date

from PySide6.QtCore import Signal, Slot
from PySide6.QtWidgets import QWidget

from fleetbench.records.core.errors import Refused
from fleetbench.window.forms.fields import labelled
from fleetbench.window.forms.form import ActDialog
from fleetbench.window.hires.dialogs import text_field
from fleetbench.window.hires.leaving_checks import LeavingChecks
from fleetbench.window.look.theme import GRID, Theme
from fleetbench.window.shell.background import Background, Refresher
from fleetbench.workshop.core.workplace import Shop
from fleetbench.workshop.hires.extend import extend_hire, look_before_extending
from fleetbench.workshop.readiness.leaving import LeavingLook


class ExtendDialog(ActDialog):
    """Lets the units of one booking stay out longer, every check made through the new last day.

    Signals:
        done_with: the Extended.
        place_requested: the Place of the act that puts a check right.
    """

    place_requested = Signal(object)

    def __init__(
        self, theme: Theme, background: Background, shop: Shop, code: str, last: date, parent: QWidget | None = None
    ) -> None:
        super().__init__(theme, background, f"Extend {code}", "Extend hire", parent)
        self._shop, self.code = shop, code
        self.setMinimumWidth(220 * GRID)
        self.resize(220 * GRID, 140 * GRID)
        self.note.setText(f"It ends on {last}. Type the new last day; what runs out before it is shown here.")
        self.last = text_field("last day", self)
        self.last.setPlaceholderText("2026-05-04")
        self.checks = LeavingChecks(theme, background, shop, last, self)
        self.body.addLayout(labelled(self.last, "New last day", self))
        self.body.addWidget(self.checks, 1)
        self._looks = Refresher(background, self)
        self._looks.loaded.connect(self.show_looks)
        self._looks.refused.connect(self.banner.say_refused)
        self.last.editingFinished.connect(self.look)
        self.last.returnPressed.connect(self.act_button.setFocus)
        self.checks.place_requested.connect(self._on_place)
        self.last.setFocus()

    @Slot()
    def look(self) -> None:
        """Make every check of what is out, through the day as it stands in the field."""
        shop, code = self._shop, self.code
        try:
            last = self._day()
        except Refused as refusal:
            self.banner.say_refused(str(refusal))
            return
        self.banner.clear()
        self._looks.ask(lambda: look_before_extending(shop, code, last))

    @Slot(object)
    def show_looks(self, looks: tuple[LeavingLook, ...]) -> None:
        """Show what runs out before the new last day, and whatever else stands against it."""
        last = max(each.assessment.span[1] for each in looks)
        found = self.checks.show_looks(self.code, f"Now and through {last}", looks)
        self.checks.until.setText(last.isoformat())
        self.note.setText(f"{found}. A stop cannot be accepted: correct it, or exchange the unit.")

    @Slot(object)
    def _on_place(self, place: object) -> None:
        self.place_requested.emit(place)
        self.reject()

    def _day(self) -> date:
        try:
            return date.fromisoformat(self.last.text().strip())
        except ValueError:
            raise Refused(f"last day: {self.last.text()!r} is no date; enter it as 2026-05-04") from None

    def work(self) -> Callable[[], object]:
        """Making the hire longer, with the advices accepted where a manager is named."""
        shop, code, last = self._shop, self.code, self._day()
        accepted, manager, pin = self.checks.accepted()
        return lambda: extend_hire(shop, code, last, accepting=accepted, manager_id=manager, pin=pin)
