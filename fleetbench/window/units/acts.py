"""The page of one unit with what is done to it as a whole: hold, lift, near miss, incident, evidence."""

from collections.abc import Callable
from datetime import date
from functools import partial
from pathlib import Path

from PySide6.QtCore import Slot
from PySide6.QtWidgets import QFileDialog, QHBoxLayout, QPushButton, QWidget

from fleetbench.window.detail.detail import Detail, Section
from fleetbench.window.detail.record_page import RecordPage
from fleetbench.window.forms.form import ActDialog
from fleetbench.window.look.buttons import quiet_button
from fleetbench.window.look.theme import CLOSE
from fleetbench.window.shell.background import Refresher
from fleetbench.window.shell.pages import PageContext
from fleetbench.window.shell.person import grey
from fleetbench.window.units.evidence import EvidenceDialog
from fleetbench.window.units.holds import Incident, IncidentDialog, LiftDialog, hold_dialog, near_miss_dialog
from fleetbench.workshop.tickets.page import number_of
from fleetbench.workshop.units.list import HoldLine, unit_page

BUTTONS = {
    "hold": ("Hold…", "place hold"), "lift": ("Lift a hold…", "lift hold"), "near_miss": ("Near miss…", "near miss"),
    "incident": ("Incident…", "place hold"), "sheet": ("Incident sheet…", ""), "evidence": ("Evidence…", ""),
}  # fmt: skip
"""Words of each button, and the act that it needs; nothing for what only reads."""


class UnitRecordPage(RecordPage):
    """A unit's page with a row of acts under its states."""

    def __init__(self, context: PageContext, load: Callable[[str], Detail], parent: QWidget | None = None) -> None:
        super().__init__(context.theme, context.background, load, parent)
        self._background, self._shop, self._zone = context.background, context.shop, context.zone
        self.buttons: dict[str, QPushButton] = {}
        row = QHBoxLayout()
        row.setSpacing(CLOSE)
        for word, (text, _act) in BUTTONS.items():
            button = quiet_button(self.theme, text, "", self)
            button.clicked.connect(partial(self._on_clicked, word))
            self.buttons[word] = button
            button.setVisible(word not in ("lift", "sheet"))
            row.addWidget(button)
        row.addStretch(1)
        self.content.insertLayout(3, row)
        self._holds = Refresher(context.background, self)
        self._holds.loaded.connect(self._on_holds)
        self._holds.refused.connect(self.banner.say_refused)
        context.signed_in.changed.connect(self._grey)
        self._grey()

    @Slot()
    def _grey(self) -> None:
        needs = {word: act for word, (_text, act) in BUTTONS.items() if act}
        grey(self.buttons, needs, self._background.signed_in.role)

    def show_detail(self, detail: Detail) -> None:
        """Show this unit, and offer only what there is to lift or to print."""
        super().show_detail(detail)
        kinds = [
            fact.mark.word
            for part in detail.parts
            if isinstance(part, Section) and part.title == "Holds placed"
            for fact in part.facts
            if fact.mark is not None
        ]
        self.buttons["lift"].setVisible(bool(kinds))
        self.buttons["sheet"].setVisible("incident" in kinds)

    @property
    def tag(self) -> str:
        """The tag of the unit on the page."""
        return self.detail.title if self.detail is not None else (self.key or "")

    def _on_clicked(self, word: str, _checked: bool = False) -> None:
        if self.detail is None:
            return
        if word == "lift":
            shop, tag = self._shop, self.tag
            self._holds.ask(lambda: unit_page(shop, tag).holds)
        elif word == "sheet":
            self._save_sheet()
        else:
            self.ask(word)

    def ask(self, word: str) -> ActDialog:
        """Open the dialog of a button."""
        ways: dict[str, Callable[[], ActDialog]] = {
            "hold": lambda: hold_dialog(self.theme, self._background, self._shop, self.tag, self),
            "near_miss": lambda: near_miss_dialog(self.theme, self._background, self._shop, self.tag, self),
            "incident": lambda: IncidentDialog(self.theme, self._background, self._shop, (self.tag,), self),
            "evidence": lambda: EvidenceDialog(self.theme, self._background, self._shop, self.tag, self._today(), self),
        }
        dialog = ways[word]()
        dialog.done_with.connect(partial(self._on_done, word))
        dialog.open()
        return dialog

    def _today(self) -> date:
        return self._shop.clock().astimezone(self._zone).date()

    @Slot(object)
    def _on_holds(self, holds: tuple[HoldLine, ...]) -> None:
        standing = [hold for hold in holds if hold.lifted_at is None]
        dialog = LiftDialog(self.theme, self._background, self._shop, self.tag, standing, self)
        dialog.done_with.connect(partial(self._on_done, "lift"))
        dialog.open()

    def _on_done(self, word: str, value: object) -> None:
        self.refresh()
        if word == "near_miss" and isinstance(value, int):
            shop = self._shop
            job = self._background.run(lambda: number_of(shop, value), self)
            job.succeeded.connect(self._on_near_miss)
            return
        said = {"hold": "The unit is held.", "lift": "The hold is lifted."}
        if isinstance(value, Incident):
            self.banner.say_note(f"{value.frozen.unit} is frozen. {value.sheet}")
        else:
            self.banner.say_note(said.get(word, str(value)))

    @Slot(object)
    def _on_near_miss(self, number: str) -> None:
        self.banner.say_note(f"Ticket {number} holds the unit until what is learned is written under it.")

    def _save_sheet(self) -> None:
        path, _kind = QFileDialog.getSaveFileName(self, "Incident sheet", f"incident-{self.tag}.pdf", "PDF (*.pdf)")
        if path:
            self.write_sheet(Path(path))

    def write_sheet(self, path: Path) -> None:
        """Write the incident sheet of a frozen unit."""
        shop, tag = self._shop, self.tag

        def write() -> str:
            # reportlab is slow to import; only whoever prints waits for it
            from fleetbench.paper.units.incidents import print_incident

            print_incident(shop, tag, path)
            return f"Written to {path}."

        job = self._background.run(write, self)
        job.succeeded.connect(self.banner.say_note)
        job.refused.connect(self.banner.say_refused)
