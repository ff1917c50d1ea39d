"""The acts of the hire desk, each on a button and a letter, and who is at the desk.

The advices that a manager accepted and that stand today: how many, on which unit, until when and why.
"""

from functools import partial

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtGui import QKeySequence, QShortcut
from PySide6.QtWidgets import QDialog, QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from fleetbench.window.detail.detail import ACROSS, Detail, Line, Table
from fleetbench.window.detail.view import DetailView
from fleetbench.window.hires.dialogs import BookingDialog, ReceivedDialog
from fleetbench.window.hires.extend_dialog import ExtendDialog
from fleetbench.window.hires.handback import HandBackDialog
from fleetbench.window.hires.handover import HandoverDialog
from fleetbench.window.hires.sheets import SheetsDialog
from fleetbench.window.hires.swap_dialog import SwapDialog
from fleetbench.window.look.buttons import Banner, plain_button, quiet_button, text_label
from fleetbench.window.look.theme import APART, BLOCK, CLOSE, GRID, Theme
from fleetbench.window.look.words import counted
from fleetbench.window.shell.background import Background, Refresher
from fleetbench.window.units.acts import Incident, IncidentDialog
from fleetbench.workshop.core.workplace import Shop
from fleetbench.workshop.hires.booking import Booked, Freed, cancel_booking, take_off_waiting
from fleetbench.workshop.hires.extend import Extended
from fleetbench.workshop.hires.handback import HandedBack
from fleetbench.workshop.hires.handover import StandingAcceptance, standing_acceptances
from fleetbench.workshop.hires.list import BookingRow
from fleetbench.workshop.hires.receive import ReceivedUnit


class AcceptedDialog(QDialog):
    """Lists what stands; every acceptance ends by itself on its day."""

    def __init__(self, theme: Theme, background: Background, shop: Shop, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle("Accepted advices")
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.resize(200 * GRID, 110 * GRID)
        self.banner = Banner(theme, self)
        self.view = DetailView(theme, "Looking.", self)
        self.leave_button = quiet_button(theme, "Close", "close", self)
        self.leave_button.clicked.connect(self.reject)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(BLOCK, BLOCK, BLOCK, BLOCK)
        layout.setSpacing(APART)
        layout.addWidget(text_label("Accepted advices", "title", self))
        layout.addWidget(self.banner)
        layout.addWidget(self.view, 1)
        layout.addWidget(self.leave_button, 0, Qt.AlignmentFlag.AlignLeft)
        self._loader = Refresher(background, self)
        self._loader.loaded.connect(self.show_accepted)
        self._loader.refused.connect(self.banner.say_refused)
        self._loader.ask(lambda: standing_acceptances(shop))

    @Slot(object)
    def show_accepted(self, found: tuple[StandingAcceptance, ...]) -> None:
        """Show what stands today, newest first."""
        lines = tuple(Line((each.unit, each.check, each.until.isoformat(), each.by, each.reason)) for each in found)
        table = Table(
            counted(len(found), "accepted advice"), ("Unit", "Check", "Until, inclusive", "By", "Reason"), lines,
            "No advice is accepted today: each one is told at the next hand-over.", column=ACROSS,
        )  # fmt: skip
        self.view.show_detail(Detail("They stand today", "", (), (table,)))


ACTS = (
    ("Book", "B", "book"),
    ("Hand over", "H", "hand_over"),
    ("Received", "R", "receive"),
    ("Details", "D", "details"),
    ("Swap", "W", "swap"),
    ("Extend", "E", "extend"),
    ("Sheets", "P", "sheets"),
    ("Move up", "M", "move_up"),
    ("Cancel", "X", "cancel"),
    ("Accepted", "A", "accepted"),
    ("Incident", "I", "incident"),
)
IN_A_ROW = 7
"""So many buttons stand beside each other on a small screen."""

ON_A_BOOKING = ("hand_over", "extend", "sheets", "cancel", "incident")


class HireBench(QWidget):
    """The row of acts for the booking that is chosen.

    Signals:
        changed: one line that says what was done.
        refused: one line that names what was refused and the remedy.
        place_requested: the Place of the act that puts a check right.
    """

    place_requested = Signal(object)
    changed = Signal(str)
    refused = Signal(str)

    def __init__(
        self, theme: Theme, background: Background, shop: Shop, keys_on: QWidget, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self._theme, self._background, self._shop, self._keys_on = theme, background, shop, keys_on
        self._booking: BookingRow | None = None
        self.dialog: QDialog | None = None
        self.buttons: dict[str, QPushButton] = {}
        rows = QVBoxLayout(self)
        rows.setContentsMargins(0, 0, 0, 0)
        rows.setSpacing(CLOSE)
        lines = [QHBoxLayout(), QHBoxLayout()]
        for line in lines:
            line.setSpacing(CLOSE)
            rows.addLayout(line)
        for number, (word, key, name) in enumerate(ACTS):
            button = plain_button(theme, f"{word}   {key}", "", self)
            button.clicked.connect(getattr(self, name))
            shortcut = QShortcut(QKeySequence(key), keys_on)
            shortcut.setContext(Qt.ShortcutContext.WidgetShortcut)
            shortcut.activated.connect(button.click)
            self.buttons[name] = button
            lines[number >= IN_A_ROW].addWidget(button)
        for line in lines:
            line.addStretch(1)
        self.choose(None)

    def choose(self, booking: BookingRow | None) -> None:
        """Act on this booking."""
        self._booking = booking
        for name in ON_A_BOOKING:
            able = booking is not None and booking.state not in ("cancelled", "back")
            self.buttons[name].setEnabled(able and (name == "cancel" or bool(booking and booking.units)))
        self.buttons["sheets"].setEnabled(bool(booking and booking.units and booking.state != "cancelled"))
        self.buttons["move_up"].setEnabled(booking is not None and booking.state == "waiting")

    @Slot()
    def book(self) -> None:
        """Book a hire, a course or a try day."""
        dialog = BookingDialog(self._theme, self._background, self._shop, self.window())
        dialog.done_with.connect(self._on_booked)
        self._open(dialog)

    @Slot()
    def hand_over(self) -> None:
        """Hand over the units of the chosen booking."""
        row = self._booking
        if row is not None:
            dialog = HandoverDialog(self._theme, self._background, self._shop, row.code, row.ends_on, self.window())
            dialog.done_with.connect(partial(self._on_handed_over, row.code))
            dialog.place_requested.connect(self.place_requested)
            self._open(dialog)

    @Slot()
    def receive(self) -> None:
        """Take a unit back."""
        dialog = ReceivedDialog(self._theme, self._background, self._shop, "", self.window())
        dialog.done_with.connect(self._on_received)
        self._open(dialog)

    @Slot()
    def details(self) -> None:
        """Note the details of returns."""
        dialog = HandBackDialog(self._theme, self._background, self._shop, self.window())
        dialog.done_with.connect(self._on_details)
        self._open(dialog)

    @Slot()
    def swap(self) -> None:
        """Swap a unit in mid-course."""
        dialog = SwapDialog(self._theme, self._background, self._shop, self.window())
        dialog.done_with.connect(self._on_received)
        dialog.place_requested.connect(self.place_requested)
        self._open(dialog)

    @Slot()
    def extend(self) -> None:
        """Let the units of the chosen booking stay out longer."""
        row = self._booking
        if row is not None:
            dialog = ExtendDialog(self._theme, self._background, self._shop, row.code, row.ends_on, self.window())
            dialog.done_with.connect(self._on_extended)
            dialog.place_requested.connect(self.place_requested)
            self._open(dialog)

    @Slot()
    def sheets(self) -> None:
        """Look at the pages of the chosen booking, print, save and sign them."""
        row = self._booking
        if row is not None:
            self._open(SheetsDialog(self._theme, self._background, self._shop, row.code, self.window()))

    @Slot()
    def move_up(self) -> None:
        """Promise the units of the chosen booking, which stands on the waiting list."""
        row, shop = self._booking, self._shop
        if row is not None:
            job = self._background.run(lambda: take_off_waiting(shop, row.code), self)
            job.succeeded.connect(partial(self._on_moved_up, row.code))
            job.refused.connect(self.refused)

    @Slot()
    def accepted(self) -> None:
        """Show the advices that a manager accepted and that stand today."""
        self._open(AcceptedDialog(self._theme, self._background, self._shop, self.window()))

    @Slot()
    def incident(self) -> None:
        """Freeze a unit of the chosen booking after an incident, and write what to preserve."""
        row = self._booking
        if row is not None and row.units:
            dialog = IncidentDialog(self._theme, self._background, self._shop, row.units, self.window())
            dialog.done_with.connect(self._on_incident)
            self._open(dialog)

    @Slot()
    def cancel(self) -> None:
        """Cancel the chosen booking."""
        row, shop = self._booking, self._shop
        if row is not None:
            job = self._background.run(lambda: cancel_booking(shop, row.code), self)
            job.succeeded.connect(partial(self._on_cancelled, row.code))
            job.refused.connect(self.refused)

    def _open(self, dialog: QDialog) -> None:
        self.dialog = dialog
        dialog.finished.connect(self._on_dialog_left)
        dialog.open()

    @Slot()
    def _on_dialog_left(self) -> None:
        self.window().activateWindow()
        self._keys_on.setFocus()

    @Slot(object)
    def _on_booked(self, booked: Booked) -> None:
        self.changed.emit(booked_words(booked))

    def _on_handed_over(self, code: str, lines: object) -> None:
        assert isinstance(lines, tuple)
        self.changed.emit(f"{code}: {counted(len(lines), 'unit')} handed over. Sheets: key P.")

    @Slot(object)
    def _on_received(self, back: ReceivedUnit) -> None:
        late = f", {counted(back.days_late, 'day')} late" if back.days_late else ""
        ticket = " A ticket is open." if back.ticket_id is not None else ""
        self.changed.emit(f"{back.unit} is back from {back.booking}{late}: its turn-round is to do.{ticket}")

    @Slot(object)
    def _on_extended(self, longer: Extended) -> None:
        again = f"Print the sheets of {', '.join(longer.units)} again and have them signed: key P."
        self.changed.emit(f"{longer.code} ends on {longer.last} now. {again}")

    @Slot(object)
    def _on_incident(self, incident: Incident) -> None:
        self.changed.emit(f"{incident.frozen.unit} is frozen. {incident.sheet}")

    @Slot(object)
    def _on_details(self, done: tuple[HandedBack, ...]) -> None:
        loose = [each.unit for each in done if each.unlogged_minutes]
        about = f" No fill is recorded for minutes of {', '.join(loose)}." if loose else ""
        self.changed.emit(f"{counted(len(done), 'return')} noted.{about}")

    def _on_moved_up(self, code: str, passed_over: object) -> None:
        about = f" Passed over: {passed_over}." if passed_over else ""
        self.changed.emit(f"{code} is off the waiting list: its units are promised.{about}")

    def _on_cancelled(self, code: str, freed: object) -> None:
        assert isinstance(freed, Freed)
        about = f" Free now for {', '.join(freed.codes)} on the waiting list." if freed.codes else ""
        passed = f" Not yet for {' | '.join(freed.passed_over)}." if freed.passed_over else ""
        self.changed.emit(f"{code} is cancelled.{about}{passed}")


def booked_words(booked: Booked) -> str:
    """What was booked, why it waits, and what a manager booked although it is not fit."""
    waits = f" It stands on the waiting list: {booked.why_waiting}" if booked.waiting else ""
    unfit = f" A manager booked it although not fit: {booked.unfit}" if booked.unfit else ""
    return f"{booked.code} is booked.{waits}{unfit}"
