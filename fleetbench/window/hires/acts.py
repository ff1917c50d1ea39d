"""The acts of the hire desk, each on a button and a letter, and who is at the desk.

The advices that a manager accepted and that stand today: how many, on which unit, until when and why.
"""

from collections.abc import Callable, Mapping, Sequence
from datetime import date
from functools import partial
from typing import Any

from PySide6.QtCore import Qt, Slot
from PySide6.QtWidgets import QDialog, QVBoxLayout, QWidget

from fleetbench.calc.core.languages import say, strung, worded
from fleetbench.calc.hires.promises import BOOKING_ENDS, HireState
from fleetbench.records.core.errors import Refused
from fleetbench.records.hires.lookups import AcceptanceRecord
from fleetbench.window.detail.detail import ACROSS, Detail, Line, Table
from fleetbench.window.detail.view import DetailView
from fleetbench.window.forms.form import Field, Form, Shown, replacing
from fleetbench.window.forms.form_dialog import FormDialog
from fleetbench.window.hires.dialogs import BookingDialog, EditBookingDialog, return_form
from fleetbench.window.hires.handback import HandBackDialog, LogDialog
from fleetbench.window.hires.handover import HandoverDialog
from fleetbench.window.hires.leaving import SwapDialog, extend_form
from fleetbench.window.hires.sell import (
    decided,
    decision_fields,
    managers,
    sell_form,
    sold_words,
    undo_form,
    undone_words,
)
from fleetbench.window.hires.sheets import SheetsDialog, page_terms_form
from fleetbench.window.lists.act_bar import ActBar, ActSpec, at_any_time
from fleetbench.window.look.buttons import Banner, quiet_button, text_label
from fleetbench.window.look.theme import APART, BLOCK, GRID, Theme
from fleetbench.window.look.words import counted
from fleetbench.window.shell.background import Background, Refresher
from fleetbench.window.turn_rounds.acts import unit_types
from fleetbench.window.units.acts import incident_form
from fleetbench.window.units.today import call_form
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.hires.booking import Booked, Freed, look_ahead, move_booking, put_unit_on, take_off_waiting
from fleetbench.workshop.hires.edit import (
    EditedBooking,
    Extended,
    cancel_booking,
    entry_of,
    restore_booking,
    take_unit_off,
)
from fleetbench.workshop.hires.handback import HandedBack
from fleetbench.workshop.hires.handover import (
    listed_accessories,
    set_accessories,
    standing_acceptances,
)
from fleetbench.workshop.hires.list import BookingRow
from fleetbench.workshop.hires.receive import ReceivedUnit
from fleetbench.workshop.hires.sold import Sold


class AcceptedDialog(QDialog):
    """Lists what stands; every acceptance ends by itself on its day."""

    def __init__(
        self, theme: Theme, background: Background, workplace: Workplace, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle(worded("Accepted recommendations"))
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.resize(200 * GRID, 110 * GRID)
        self.banner = Banner(theme, self)
        self.view = DetailView(theme, "Looking.", self)
        self.leave_button = quiet_button(theme, "Close", "close", self)
        self.leave_button.clicked.connect(self.reject)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(BLOCK, BLOCK, BLOCK, BLOCK)
        layout.setSpacing(APART)
        layout.addWidget(text_label(say("Accepted recommendations"), "title", self))
        layout.addWidget(self.banner)
        layout.addWidget(self.view, 1)
        layout.addWidget(self.leave_button, 0, Qt.AlignmentFlag.AlignLeft)
        self._loader = Refresher(background, self)
        self._loader.loaded.connect(self.show_accepted)
        self._loader.refused.connect(self.banner.say_refused)
        self._loader.ask(lambda: standing_acceptances(workplace))

    @Slot(object)
    def show_accepted(self, found: tuple[tuple[AcceptanceRecord, str], ...]) -> None:
        """Show what stands today, newest first."""
        lines = tuple(Line((each.unit, each.check_name, each.until.isoformat(), by, each.reason)) for each, by in found)
        table = Table(
            counted(len(found), "accepted recommendation"), ("Unit", "Check", "Until, inclusive", "By", "Reason"),
            lines, "No recommendation is accepted today: each one is shown at the next hand-over.", column=ACROSS,
        )  # fmt: skip
        self.view.show_detail(Detail(say("They stand today"), "", (), (table,)))


def booked_words(booked: Booked | Sold) -> str:
    """What was booked, why it waits, and what a manager booked although it is not fit."""
    if isinstance(booked, Sold):
        return sold_words(None, booked)
    waits = (
        say(" It stands on the waiting list: {why_waiting}", why_waiting=booked.why_waiting) if booked.waiting else ""
    )
    unfit = say(" A manager booked it although not fit: {unfit}", unfit=booked.unfit) if booked.unfit else ""
    return say("{code} is booked.{waits}{unfit}", code=booked.code, waits=waits, unfit=unfit)


def handed_over_words(row: BookingRow, lines: tuple[int, ...]) -> str:
    """How many units were handed over, and what is to print."""
    return say(
        "{code}: {count} handed over. Pages: key Ctrl+P.", code=row.booking.code, count=counted(len(lines), "unit")
    )


def received_words(_row: object, back: ReceivedUnit) -> str:
    """Which unit is back, how late, and what is to do to it."""
    late = say(", {days_late} late", days_late=counted(back.days_late, "day")) if back.days_late else ""
    ticket = say(" A ticket is open.") if back.ticket_id is not None else ""
    return say(
        "{unit} is back from {booking}{late}: its turn-round is to do.{ticket}",
        unit=back.unit,
        booking=back.booking,
        late=late,
        ticket=ticket,
    )


def extended_words(_row: object, longer: Extended) -> str:
    """Until when, and what must be signed again."""
    again = say("Print the pages of {units} again and have them signed: key Ctrl+P.", units=strung(", ", longer.units))
    return say("{code} ends on {last} now. {again}", code=longer.code, last=longer.last, again=again)


def details_words(_row: object, done: tuple[HandedBack, ...]) -> str:
    """How many returns were noted, and for which units no fill accounts."""
    loose = [each.unit for each in done if each.unlogged_minutes]
    about = say(" No fill is recorded for minutes of {loose}.", loose=strung(", ", loose)) if loose else ""
    return say("{count} noted.{about}", count=counted(len(done), "return"), about=about)


def moved_up_words(row: BookingRow, passed_over: object) -> str:
    """That its units are promised, and who was passed over."""
    about = say(" Passed over: {passed_over}.", passed_over=passed_over) if passed_over else ""
    return say("{code} is off the waiting list: its units are promised.{about}", code=row.booking.code, about=about)


def cancelled_words(row: BookingRow, freed: Freed) -> str:
    """What has ended, and who on the waiting list may have its units."""
    return say("{code} is cancelled.{freed}", code=row.booking.code, freed=freed_words(freed))


def taken_off_words(row: BookingRow, freed: Freed) -> str:
    """What a unit was taken off, and who on the waiting list may have it."""
    return strung(" ", filter(None, (say("The unit is off {code}.", code=row.booking.code), freed_words(freed))))


def freed_words(freed: Freed) -> str:
    """Who on the waiting list has fit units now, and who has not."""
    about = say("Free now for {codes} on the waiting list.", codes=strung(", ", freed.codes)) if freed.codes else ""
    passed = (
        say("Not yet for {passed_over}.", passed_over=strung(" | ", freed.passed_over)) if freed.passed_over else ""
    )
    return strung(" ", filter(None, (about, passed)))


def edited_words(_row: object, edited: EditedBooking) -> str:
    """What was changed, and whose pages must be signed again."""
    units = strung(", ", edited.sign_again)
    again = say(" Print the pages of {units} again and have them signed.", units=units) if units else ""
    return say("{code}: {changed} changed.{again}", code=edited.code, changed=strung(", ", edited.changed), again=again)


def cancel_form(bar: ActBar, row: BookingRow) -> Form:
    """Asks why a booking ends before anything leaves."""
    note = say("Its units are free again for those who wait. Restore brings it back while its units are free and fit.")
    why = Field("reason", "Reason", wants="is empty; say why, in a few words")
    how = Field("ended_as", "What happened", "choice", default=HireState.CANCELLED.value,
                choices=tuple((each.value, each.value) for each in BOOKING_ENDS))  # fmt: skip
    code = row.booking.code
    return Form(say("Cancel {code}", code=code), act_words="Cancel booking", note=note, fields=(how, why),
        act=partial(cancel_booking,
        bar.workplace, code),
                first="reason")  # fmt: skip


def take_off_form(bar: ActBar, row: BookingRow) -> Form:
    """Takes a unit off that has not left."""
    note = say("The unit is free again. The booking then wants one more unit: put another on, or edit the booking.")
    unit = Field("tag", "Unit", "choice", choices=tuple((each, each) for each in row.units), wants="choose one")
    why = Field("reason", "Reason", wants="is empty; say why, in a few words")
    return Form(say("Take a unit off {code}", code=row.booking.code), act_words="Take unit off", note=note,
        fields=(unit, why),
                act=partial(take_unit_off, bar.workplace, row.booking.code))  # fmt: skip


def _edit(bar: ActBar, row: BookingRow) -> None:
    def opened(found: object) -> None:
        assert isinstance(found, tuple)
        bar.open(bar.made(EditBookingDialog, *found, row.booking.code), partial(edited_words, row))

    bar.run(partial(entry_of, bar.workplace, row.booking.code), opened)


def restore_form(bar: ActBar, row: BookingRow) -> Form:
    """Brings a cancelled booking back; what is not fit by a manager's decision alone."""

    def restore(**decision: Any) -> str:
        return restore_booking(bar.workplace, row.booking.code, unfit=decided(**decision))

    return Form(
        say("Restore {code}", code=row.booking.code),
        act_words="Restore booking",
        note="With the units it had, where they are still free and fit on its days.",
        fields=decision_fields(),
        act=restore,
        load=partial(managers, bar.workplace),
        wide=200,
    )


def put_on_form(bar: ActBar, row: BookingRow) -> Form:
    """Puts one more unit on a booking; one that is not fit by a manager's decision."""

    def look(found: Mapping[str, Any]) -> Mapping[str, Shown]:
        first, tag = max(row.booking.starts_on, min(bar.workplace.today(), row.booking.ends_on)), found["tag"].strip()
        return _in_the_way(bar.workplace, row, first, row.booking.ends_on, (tag,)) if tag else {"found": ""}

    def put_on(tag: str, **decision: Any) -> object:
        return put_unit_on(bar.workplace, row.booking.code, tag, unfit=decided(**decision))

    return Form(
        say("Another unit for {code}", code=row.booking.code),
        act_words="Put unit on booking",
        note=NOT_FIT,
        fields=(
            Field("tag", "Unit", hint="scan or type its tag", spoken="unit", wants="is empty; scan or type its tag"),
            Field("found", kind="told"),
            *decision_fields(hidden=True),
        ),
        act=put_on,
        load=partial(managers, bar.workplace),
        look=look,
        wide=200,
    )


def days_form(bar: ActBar, row: BookingRow) -> Form:
    """Gives a booking other days, its units with it; days on which they are not fit by a manager's decision."""

    def look(found: Mapping[str, Any]) -> Mapping[str, Shown]:
        first, last = found["first"], found["last"]
        if first is None or last is None or (first, last) == (row.booking.starts_on, row.booking.ends_on):
            return {"found": ""}
        return _in_the_way(bar.workplace, row, first, last, row.units)

    def move(first: date, last: date, seen: Mapping[str, date], **decision: Any) -> None:
        move_booking(bar.workplace, row.booking.code, first, last, unfit=decided(**decision), seen=seen)

    return Form(
        say("Other days for {code}", code=row.booking.code),
        act_words="Move booking",
        note=say("Its units go with it. {not_fit}", not_fit=NOT_FIT),
        fields=(
            Field("first", "First day", "day", default=row.booking.starts_on, wants="is missing; enter 2026-05-04"),
            Field("last", "Last day, inclusive", "day", default=row.booking.ends_on, spoken="last day", beside=True,
                  wants="is missing; enter 2026-05-04"),
            Field("found", kind="told"),
            *decision_fields(hidden=True),
        ),
        act=replacing({"first": row.booking.starts_on, "last": row.booking.ends_on}, move),
        load=partial(managers, bar.workplace),
        look=look,
        wide=200,
    )  # fmt: skip


NOT_FIT = say("A unit that is not fit on these days is booked by a manager's decision alone.")


def _in_the_way(
    workplace: Workplace, row: BookingRow, first: date, last: date, units: Sequence[str]
) -> Mapping[str, Shown]:
    """What stands in the way of a booking's units on these days, and whether a manager is asked."""
    look = look_ahead(workplace, "", first, last, units=units, code=row.booking.code)
    asks = bool(look.unfit) and not look.refused
    found = strung("; ", (*look.refused, *([look.unfit] if look.unfit else [])))
    return {"found": f"{found}." if found else "", **dict.fromkeys(("manager", "pin", "reason"), asks)}


def accessories_form(bar: ActBar) -> Form:
    """Says what goes along with every unit of a type, and how many of it."""

    seen: dict[str, Sequence[tuple[str, int]]] = {}

    def keep(unit_type: str, listed: str, seen: Mapping[str, Sequence[tuple[str, int]]]) -> int:
        said = [_counted(each) for each in listed.split(",") if each.strip()]
        return set_accessories(bar.workplace, unit_type, said, seen)

    def current(found: Mapping[str, Any]) -> Mapping[str, Shown]:
        code = found["unit_type"]
        on_list = strung(", ", (f"{count} {name}" for name, count in _seen(code)))
        return {"current": say("On the list now: {value}.", value=on_list or "nothing"), "listed": on_list}

    def _seen(code: str) -> Sequence[tuple[str, int]]:
        if code not in seen:
            seen[code] = listed_accessories(bar.workplace, code)
        return seen[code]

    return Form(
        "Accessories of a unit type",
        act_words="Save accessories",
        note="The whole list, which is counted at every hand-over and return. What is left out is counted no more.",
        fields=(
            Field("unit_type", "Unit type", "choice", wants="choose one"),
            Field("current", kind="told"),
            Field("listed", "How many of what, one after the other", "words", hint="such as: 2 weight pockets, 1 torch",
                  spoken="accessories", wants="is empty; enter the list, such as 2 weights, 1 torch"),
        ),
        act=replacing(seen, keep),
        load=partial(unit_types, bar.workplace),
        look=current,
        first="listed",
    )  # fmt: skip


def _counted(text: str) -> tuple[str, int]:
    count, _blank, name = text.strip().partition(" ")
    if not count.isdecimal() or not name.strip():
        raise Refused(
            say(
                "accessories: {text!r} has no number before its name; enter it such as 2 weight pockets",
                text=text.strip(),
            )
        )
    return name.strip(), int(count)


def _leading_on(kind: Callable[..., QDialog], bar: ActBar, *about: object) -> QDialog:
    dialog = bar.made(kind, *about)
    assert isinstance(dialog, HandoverDialog | SwapDialog)
    dialog.place_requested.connect(bar.place_requested)
    return dialog


def _extend(bar: ActBar, row: BookingRow) -> QDialog:
    theme, background, booking = bar.context.theme, bar.context.background, row.booking
    form = extend_form(theme, background, bar.workplace, booking.code, booking.ends_on)
    dialog = FormDialog(theme, background, form, bar.window())
    for answer in (bar.place_requested, dialog.reject):
        dialog["checks"].place_requested.connect(answer)
    return dialog


def _move_up(bar: ActBar, row: BookingRow) -> None:
    bar.run(partial(take_off_waiting, bar.workplace, row.booking.code), partial(bar.say, partial(moved_up_words, row)))


OVER = (HireState.BACK, *BOOKING_ENDS)
"""States in which a booking holds no unit any more; one that was not collected is still to be ended or handed over."""


def _is_open(row: BookingRow | None) -> bool:
    return row is not None and row.state not in OVER


def _has_units(row: BookingRow | None) -> bool:
    return row is not None and bool(row.units) and _is_open(row)


def _has_sheets(row: BookingRow | None) -> bool:
    return row is not None and bool(row.units) and not _is_ended(row)


def _is_out(row: BookingRow | None) -> bool:
    return row is not None and bool(row.out)


def _is_ended(row: BookingRow | None) -> bool:
    return row is not None and row.state in BOOKING_ENDS


def _waits(row: BookingRow | None) -> bool:
    return row is not None and row.state is HireState.WAITING


ACTS = (
    ActSpec("book", "Book", "B", act="book", needs=at_any_time, form=lambda bar, _row: bar.made(BookingDialog),
            said=lambda _row, booked: booked_words(booked)),
    ActSpec("sell", "Sell", "Shift+K", "ask what can be sold", "sell", at_any_time,
            lambda bar, _row: sell_form(bar.workplace, bar.workplace.today()), sold_words),
    ActSpec("hand_over", "Hand over", "H", act="hand over", needs=_has_units,
            form=lambda bar, row: _leading_on(HandoverDialog, bar, row.booking.code, row.booking.ends_on),
            said=handed_over_words),
    ActSpec("receive", "Receive", "R", "receive back", "receive", at_any_time,
            lambda bar, row: return_form(bar.workplace, row.out if row is not None else ()), received_words),
    ActSpec("details", "Details", "D", "details of returns", "hand back", at_any_time,
            lambda bar, _row: bar.made(HandBackDialog), details_words),
    ActSpec("log", "Log", "Shift+G", "enter a log line by line", "hand back", at_any_time,
            lambda bar, _row: bar.made(LogDialog), details_words),
    ActSpec("swap", "Swap", "Y", act="swap unit", needs=at_any_time,
            form=lambda bar, row: _leading_on(SwapDialog, bar, row.out if row is not None else ()),
            said=received_words),
    ActSpec("extend", "Extend", "E", act="move booking", needs=_has_units,
            form=_extend,
            said=extended_words),
    ActSpec("sheets", "Print…", "Ctrl+P", "print", needs=_has_sheets,
            form=lambda bar, row: bar.made(SheetsDialog, row.booking.code)),
    ActSpec("move_up", "Move up", "Shift+M", "move up the waiting list", "take off waiting list", _waits, _move_up),
    ActSpec("cancel", "Cancel booking", "X", "end for good", "cancel booking", _is_open, cancel_form,
            cancelled_words, destroys=True),
    ActSpec("undo_sale", "Undo sale", act="undo sale", needs=_has_units, rare=True,
            form=lambda bar, row: undo_form(bar.workplace, row), said=undone_words),
    ActSpec("edit", "Edit", "Shift+E", "edit", "edit booking", _is_open, _edit),
    ActSpec("take_unit_off", "Take a unit off", "Shift+O", act="take unit off booking", needs=_has_units,
            form=take_off_form, said=taken_off_words, rare=True),
    ActSpec("restore", "Restore", "Shift+X", act="restore booking", needs=_is_ended, rare=True,
            form=restore_form, said=lambda row, _code: say("{code} is back.", code=row.booking.code)),
    ActSpec("accepted", "Accepted", "Shift+A", "show what was accepted", needs=at_any_time,
            form=lambda bar, _row: bar.made(AcceptedDialog)),
    ActSpec("incident", "Incident", "I", act="place hold", needs=_has_units,
            form=lambda bar, row: incident_form(bar.workplace, row.units),
            said=lambda _row, incident: say("{unit} is frozen. {sheet}", unit=incident.frozen.unit,
                sheet=incident.sheet)),
    ActSpec("put_on", "Put a unit on the booking", "Shift+B", act="put unit on booking", needs=_is_open,
            form=put_on_form, said=lambda row, _line: say("The unit is on {code}.", code=row.booking.code), rare=True),
    ActSpec("move", "Move to other days", "M", "move", "move booking", _is_open, days_form,
            lambda row, _nothing: say("{code} is moved.", code=row.booking.code), rare=True),
    ActSpec("page_terms", "Language and return hour", act="set page terms", needs=_is_open, rare=True,
            form=lambda bar, row: page_terms_form(bar.workplace, row.booking), said=lambda _row, said: str(said)),
    ActSpec("call", "Note a call", act="note call", needs=_is_out, rare=True,
            form=lambda bar, row: call_form(bar.workplace, bar.context.zone, say("Call about {code}",
                code=row.booking.code),
                                            booking=row.booking.code),
            said=lambda _row, said: str(said)),
    ActSpec("accessories", "Accessories of a type", act="set accessories", needs=at_any_time,
            form=lambda bar, _row: accessories_form(bar), said="The list is saved.", rare=True),
)  # fmt: skip
