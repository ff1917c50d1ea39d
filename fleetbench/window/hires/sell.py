"""Sell: one question, its answer while the fields are filled, and the way that is chosen, booked in one act.

A manager may book units that are not fit: who, by PIN, and why.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date, timedelta
from functools import partial
from typing import Any

from PySide6.QtCore import Slot
from PySide6.QtWidgets import QHBoxLayout, QLineEdit, QWidget

from fleetbench.calc.core.languages import reworded, say, strung, worded
from fleetbench.calc.hires.promises import BookingKind
from fleetbench.calc.hires.sell import Sale
from fleetbench.calc.people.permits import Role
from fleetbench.records.core.errors import Refused
from fleetbench.records.people.reads import PersonRecord
from fleetbench.window.forms.fields import labelled
from fleetbench.window.forms.form import Choices, Field, Form, Shown
from fleetbench.window.look.buttons import ChoiceBox
from fleetbench.window.look.theme import BLOCK
from fleetbench.window.look.words import counted
from fleetbench.window.shell.background import Background, Refresher
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.hires.availability import Move, move_promise
from fleetbench.workshop.hires.booking import BookingEntry, booking_choices
from fleetbench.workshop.hires.fitness import BookUnfit, left_unmet
from fleetbench.workshop.hires.list import BookingRow
from fleetbench.workshop.hires.plan import BenchVisit, PlanChange
from fleetbench.workshop.hires.sell import SalePage, sale_page
from fleetbench.workshop.hires.sold import AcceptedPlan, Sold, Undone, accept_plan, sell, undo_plan, undo_sale
from fleetbench.workshop.people.list import list_people, person_id


class ManagerFields(QWidget):
    """Manager, PIN and reason in a row; nobody chosen is no decision."""

    def __init__(self, background: Background, workplace: Workplace, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.manager = ChoiceBox(self)
        self.manager.setAccessibleName(worded("manager"))
        self.pin, self.reason = QLineEdit(self), QLineEdit(self)
        for field, name in ((self.pin, "PIN"), (self.reason, say("reason"))):
            field.setAccessibleName(worded(name))
            field.setMaxLength(300)
        self.pin.setEchoMode(QLineEdit.EchoMode.Password)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(BLOCK)
        fields: tuple[tuple[QWidget, str, int], ...] = (
            (self.manager, say("Booked although not fit, by manager"), 2),
            (self.pin, "PIN", 1),
            (self.reason, "Reason", 3),
        )
        for widget, words, share in fields:
            row.addLayout(labelled(widget, words, self), share)
        self._people = Refresher(background, self)
        self._people.loaded.connect(self.show_people)
        self._people.ask(lambda: list_people(workplace))

    @Slot(object)
    def show_people(self, people: tuple[PersonRecord, ...]) -> None:
        """Offer the managers."""
        self.manager.clear()
        self.manager.addItem(worded("nobody"), None)
        for each in people:
            if each.active and each.role == Role.MANAGER:
                self.manager.addItem(each.name, each.person_id)

    def decision(self) -> BookUnfit | None:
        """What a manager decided, None where none is named."""
        manager = self.manager.currentData()
        return BookUnfit(self.reason.text(), manager, self.pin.text()) if manager is not None else None


def decision_fields(*, hidden: bool = False) -> tuple[Field, ...]:
    """Manager, PIN and reason of a form; hidden: asked only once what is booked is not fit."""
    return (
        Field("manager", "Booked although not fit, by manager", "choice", spoken="manager", hidden=hidden),
        Field("pin", "PIN", "pin", spoken="PIN", hidden=hidden, beside=True),
        Field("reason", "Reason", longest=300, hidden=hidden, beside=True),
    )


def managers(workplace: Workplace) -> Mapping[str, Choices]:
    """Who may decide, for those fields."""
    may = [(each.name, each.person_id) for each in list_people(workplace) if each.active and each.role == Role.MANAGER]
    return {"manager": [("nobody", None), *may]}


def decided(manager: int | None, pin: str | None, reason: str | None) -> BookUnfit | None:
    """What a manager decided, None where none is named."""
    return BookUnfit(reason or "", manager, pin or "") if manager is not None else None


def move_form(workplace: Workplace, move: Move, why: str) -> Form:
    """Moves a booking onto a unit or days that are not fit, by a manager's decision alone."""

    def act(**decision: Any) -> None:
        move_promise(workplace, move, unfit=decided(**decision))

    title = say("Move {code} although not fit", code=move.code)
    return Form(
        title,
        act_words="Move booking",
        note=why,
        fields=decision_fields(),
        act=act,
        load=partial(managers, workplace),
        wide=200,
    )


def accepted(
    workplace: Workplace,
    changes: Sequence[PlanChange],
    visits: Sequence[BenchVisit],
    days: int,
    unfit: BookUnfit | None = None,
) -> tuple[AcceptedPlan, tuple[str, ...]]:
    """Accept changes and bench work of a plan: what was done, and what is unmet after it within so many days."""
    return accept_plan(workplace, changes, visits, unfit=unfit), left_unmet(workplace, days)


def accept_form(
    workplace: Workplace, changes: Sequence[PlanChange], visits: Sequence[BenchVisit], days: int, look: Sequence[str]
) -> Form:
    """Accepts changes of a plan that promise units which are not fit, by a manager's decision alone."""

    def act(**decision: Any) -> object:
        return accepted(workplace, changes, visits, days, decided(**decision))

    return Form(
        "Accept units that are not fit",
        act_words="Accept changes",
        note="A manager may book these all the same. Cancel, and untick them, to accept the others alone.",
        fields=(Field("look", kind="told", default=strung("\n", look)), *decision_fields()),
        act=act,
        load=partial(managers, workplace),
        wide=200,
    )


KINDS = (("hire", "hire"), ("course", "course"), (say("try day"), say("try day")))
WAYS = (("assembled", "assembled"), ("kit", "kit"))
NONE_YET: Choices = ((say("enter the question first"), None),)


class _Asking:
    """The last question that was asked, and its answer, so that other fields do not ask it again."""

    def __init__(self, workplace: Workplace) -> None:
        self._workplace = workplace
        self._known: tuple[BookingEntry, SalePage] | None = None

    def page(self, question: BookingEntry) -> SalePage:
        """The answer."""
        if self._known is None or self._known[0] != question:
            self._known = question, sale_page(self._workplace, question)
        return self._known[1]


def sell_form(
    workplace: Workplace, today: date, begun: BookingEntry | None = None, names: Mapping[str, str] | None = None
) -> Form:
    """Asks how many units of which type on which days, tells what can go, and books the way that is chosen.

    begun: a booking that was begun elsewhere, and is booked with all that it says; names: its people as typed there.
    """
    given: dict[str, object] = dict(names or {})
    if begun is not None:
        given |= {
            "unit_type": begun.unit_type, "way": begun.way, "first": begun.first.isoformat(), "kind": begun.kind,
            "last": begun.last.isoformat(), "wanted": begun.wanted, "price_terms": begun.price_terms,
        }  # fmt: skip
    asking = _Asking(workplace)

    def look(found: Mapping[str, Any]) -> Mapping[str, Shown]:
        asked = [found[name] for name in ("unit_type", "first", "last", "wanted")]
        if any(each is None for each in asked):
            return {"told": say("Enter the unit type, the days and how many."), "sale": NONE_YET}
        course = found["kind"] == BookingKind.COURSE
        of_kind: dict[str, Shown] = {
            "renter": not course,
            "instructor": found["kind"] != BookingKind.HIRE,
            "students": course,
        }
        try:
            page = asking.page(
                BookingEntry(
                    kind="hire",
                    unit_type=found["unit_type"],
                    first=found["first"],
                    last=found["last"],
                    wanted=int(found["wanted"]),
                    way=found["way"] or "",
                )
            )
        except Refused as refusal:
            return {"told": str(refusal), "sale": NONE_YET, **of_kind}
        offers = tuple((each.words, each.sale) for each in page.offers if each.sale.units)
        return {
            "told": answer_words(page),
            "sale": offers or ((say("nothing can be booked on these days"), None),),
            **of_kind,
        }

    form = Form(
        "Sell",
        act_words="Book this way",
        note="Units that are fit on every day, their turn-round kept. What can be made true is booked with its "
        "tickets, parts and moves in one act, and undone in one.",
        fields=(
            Field("unit_type", "Unit type", "choice", wants="choose one"),
            Field("way", "Leaves as", "choice", default="assembled", choices=WAYS, beside=True),
            Field("first", "First day", "day", default=(today + timedelta(days=1)).isoformat(),
                  wants="is missing; enter 2026-05-04"),
            Field("last", "Last day, inclusive", "day", default=(today + timedelta(days=1)).isoformat(), beside=True,
                  spoken="last day", wants="is missing; enter 2026-05-04"),
            Field("wanted", "Units wanted", "whole", default=1, beside=True, wants="enter how many"),
            Field("told", kind="told", default=say("Looking …")),
            Field("sale", "Way", "choice", choices=NONE_YET, wants="nothing can be booked on these days"),
            Field("kind", "For a", "choice", default="hire", choices=KINDS),
            Field("renter", "Renter, by code or name", spoken="renter", beside=True),
            Field("instructor", "Instructor", hidden=True, beside=True),
            Field("students", "Students, with commas between", spoken="students", hidden=True, beside=True),
            Field("price_terms", "Price terms", longest=400, hint="price, deposit, late return; no names"),
        ),
        act=partial(_sold, workplace, begun),
        load=partial(_types, workplace),
        look=look,
        first="wanted" if begun is None else "sale",
        wide=220,
    )  # fmt: skip
    fields = tuple(replace(each, default=given.get(each.name, each.default)) for each in form.fields)
    return replace(form, fields=fields)


def _types(workplace: Workplace) -> Mapping[str, Choices]:
    return {"unit_type": [(each.name, each.code) for each in booking_choices(workplace) if each.units]}


def _sold(
    workplace: Workplace, begun: BookingEntry | None, *, unit_type: str, first: date, last: date, wanted: int,
    way: str, sale: Sale, kind: str, renter: str | None, instructor: str | None, students: str | None, price_terms: str,
) -> Sold:  # fmt: skip
    if wanted < len(sale.units):
        raise Refused(say("way: was for more units than are wanted now; choose it again"))
    divers = tuple(person_id(workplace, each) for each in (students or "").split(",") if each.strip())
    asked = begun or BookingEntry(kind=kind, unit_type=unit_type, first=first, last=last)
    spare = len(sale.units) - max(1, len(divers)) - (kind == BookingKind.COURSE)
    entry = replace(
        asked, kind=kind, unit_type=unit_type, first=first, last=last, way=way, price_terms=price_terms, wanted=None,
        spares=max(0, min(spare, asked.spares or 0)),
        renter_id=person_id(workplace, renter) if renter and renter.strip() else None,
        instructor_id=person_id(workplace, instructor) if instructor and instructor.strip() else None,
        divers=divers,
    )  # fmt: skip
    return sell(workplace, entry, sale)


def answer_words(page: SalePage) -> str:
    """The answer, line by line: how many, the best way's steps, why each other unit cannot go, other days."""
    lines = [strung("", (page.words, "."))]
    if page.ready:
        lines.append(say("Ready: {ready}.", ready=strung(", ", page.ready)))
    lines += [strung("", ("   ", step)) for step in page.offers[0].steps]
    told = [each for each in page.units if not each.ways or each.tag not in page.offers[0].sale.work]
    lines += [strung(" — ", (strung(": ", (each.tag, each.why)), *each.ways[:1])) for each in told[:MOST_LINES]]
    if len(told) > MOST_LINES:
        lines.append(say("and {count}", count=counted(len(told) - MOST_LINES, "more unit")))
    if page.other_days:
        lines.append(say("All as they are: {each}.", each=strung(", ", (_span(*each) for each in page.other_days))))
    if page.supply:
        short = [say("{fills} too few", fills=page.short_fills)] if page.short_fills else []
        supply = reworded(strung("", (page.supply[:1].upper(), page.supply[1:])), page.supply)
        lines.append(strung("", (strung(": ", (supply, *short)), ".")))
    return strung("\n", lines)


MOST_LINES = 8
"""So many units that cannot go are told; the window is small and the cheapest stand first."""


def _span(first: date, last: date) -> str:
    return (
        first.isoformat() if first == last else say("{first} to {last}", first=first.isoformat(), last=last.isoformat())
    )


def sold_words(_row: object, sold: Sold) -> str:
    """What was booked, and what was opened and moved with it."""
    tickets = say(" Tickets {tickets} are open.", tickets=strung(", ", sold.tickets)) if sold.tickets else ""
    tickets += say(" On order: {ordered}.", ordered=strung("; ", sold.ordered)) if sold.ordered else ""
    moved = "".join(say(" {code} goes from {before} to {now}: ring, and print its page again.", code=code,
        before=before, now=now)
                    for code, before, now in sold.moved)  # fmt: skip
    return say(
        "{code} is booked with {units}.{tickets}{moved}",
        code=sold.booked.code,
        units=strung(", ", sold.booked.units),
        tickets=tickets,
        moved=moved,
    )


def undo_form(workplace: Workplace, row: BookingRow) -> Form:
    """Asks why a sale is taken back."""
    note = say("Cancels the booking, withdraws the tickets that nobody began, and moves the other bookings back.")
    why = Field("reason", "Reason", wants="is empty; say why, in a few words")
    return Form(
        say("Undo the sale {code}", code=row.booking.code),
        act_words="Undo sale",
        note=note,
        fields=(why,),
        act=partial(undo_sale, workplace, row.booking.code),
    )


def undo_plan_form(workplace: Workplace, code: str) -> Form:
    """Asks why a plan is taken back."""
    note = say(
        "Withdraws its tickets that nobody began, cancels its orders of which nothing came, and "
        "puts the bookings where they were. What was worked on since stays, and is told."
    )
    why = Field("reason", "Reason", wants="is empty; say why, in a few words")
    return Form(
        say("Undo plan {code}", code=code),
        act_words="Undo plan",
        note=note,
        fields=(why,),
        act=partial(undo_plan, workplace, code),
    )


def undone_words(row: object, done: Undone) -> str:
    """What was taken back, and what stays. row: the booking of a sale, None for a plan."""
    parts = [
        say("Tickets withdrawn: {withdrawn}.", withdrawn=strung(", ", done.withdrawn)) if done.withdrawn else "",
        say("Work was begun on {left}: it stays open.", left=strung(", ", done.left)) if done.left else "",
        say("Orders cancelled: {cancelled}.", cancelled=strung("; ", done.cancelled)) if done.cancelled else "",
        say("Came already, and stays in store: {arrived}.", arrived=strung("; ", done.arrived)) if done.arrived else "",
        *(say("{each}: ring.", each=each) for each in (*done.moved_back, *done.not_moved_back)),
    ]
    return strung(
        " ",
        (
            say("{code} is {what}.", code=done.code, what=say("cancelled") if row is not None else say("undone")),
            *filter(None, parts),
        ),
    )
