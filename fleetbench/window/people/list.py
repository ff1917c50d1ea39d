"""People: everybody by code with what was seen of them, and the page of one."""

from collections import Counter
from collections.abc import Callable, Sequence
from datetime import date
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

from PySide6.QtCore import Slot
from PySide6.QtWidgets import QWidget

from fleetbench.calc.core.languages import say, strung
from fleetbench.records.people.reads import PersonRecord
from fleetbench.window.detail.detail import Detail, Fact, Line, Section, Table
from fleetbench.window.detail.record_page import RecordPage
from fleetbench.window.lists.act_bar import ActBar, ActSpec, at_any_time
from fleetbench.window.lists.list_page import ListPage, ListSpec, QuickFilter
from fleetbench.window.lists.rows import Column
from fleetbench.window.look.buttons import nothing_recorded
from fleetbench.window.look.marks import NOTED, Mark, mark_for
from fleetbench.window.look.words import NONE, counted, day, moment, said
from fleetbench.window.people.acts import (
    change_pin_form,
    clock_form,
    contact_form,
    enter_form,
    erase_form,
    leave_form,
    legal_hold_form,
    lift_legal_form,
    paper_form,
    reset_pin_form,
    set_pin_form,
    years_form,
)
from fleetbench.window.places.forms import ask_correction
from fleetbench.window.shell.background import Refresher
from fleetbench.window.shell.pages import PageContext
from fleetbench.window.shell.place import PageKey
from fleetbench.workshop.people.list import PeopleDesk, PersonPage, people_desk, person_page

EMPTY = nothing_recorded(
    "Nobody is recorded yet", "hires", "Staff, renters and students stand here.", "enter", "Enter a person"
)
STANDING = ("manager", "technician", "instructor")


class ShownPerson(NamedTuple):
    """The person on the page, with who else is recorded and today's date."""

    page: PersonPage
    people: tuple[PersonRecord, ...]
    today: date

    @property
    def row(self) -> PersonRecord:
        """The person."""
        return self.page.row


def _kept(shown: ShownPerson | None) -> bool:
    return shown is not None and not shown.row.erased


def _without_pin(shown: ShownPerson | None) -> bool:
    return shown is not None and not shown.row.has_pin and shown.row.active


def _with_pin(shown: ShownPerson | None) -> bool:
    return shown is not None and shown.row.has_pin


def _may_change(shown: ShownPerson | None) -> bool:
    return shown is not None and shown.row.has_pin and shown.row.active


def _held(shown: ShownPerson | None) -> bool:
    return shown is not None and bool(shown.page.legal_holds)


def _active(shown: ShownPerson | None) -> bool:
    return shown is not None and shown.row.active


def _erasable(shown: ShownPerson | None) -> bool:
    return shown is not None and shown.row.role not in STANDING and not shown.row.erased


def _told(_row: object, value: object) -> str:
    return str(value)


ACTS = (
    ActSpec("enter", "Enter a person…", "N", "add", "enter renter", at_any_time,
            lambda bar, _row: enter_form(bar.workplace), _told),
    ActSpec("years", "Retention…", act="set retention", needs=lambda desk: desk is not None,
            form=lambda bar, desk: years_form(bar.workplace, desk.years), said=_told),
    ActSpec("clock", "Clock…", act="correct clock", needs=at_any_time, quiet=True,
            form=lambda bar, _desk: clock_form(bar.workplace), said=_told),
)  # fmt: skip
PAGE_ACTS = (
    ActSpec("role", "Correct the role…", act="correct master data", needs=_active, quiet=True, said=_told,
            form=lambda bar, shown: ask_correction(bar, "people", shown.row.person_id)),
    ActSpec("paper", "Check a certificate…", act="see papers", needs=_kept, quiet=True, said=_told,
            form=lambda bar, shown: paper_form(bar.workplace, shown.row, shown.today)),
    ActSpec("contact", "Name, contact…", act="change contact", needs=_kept, quiet=True, said=_told,
            form=lambda bar, shown: contact_form(bar.workplace, shown.row)),
    ActSpec("pin", "Set a PIN…", act="change PIN", needs=_without_pin, quiet=True, said=_told,
            form=lambda bar, shown: set_pin_form(bar.workplace, shown.row, shown.people)),
    ActSpec("change", "Change PIN…", act="change PIN", needs=_may_change, quiet=True, said=_told,
            form=lambda bar, shown: change_pin_form(bar.workplace, shown.row)),
    ActSpec("reset", "Reset a lost PIN…", act="reset PIN", needs=_with_pin, quiet=True, said=_told,
            form=lambda bar, shown: reset_pin_form(bar.workplace, shown.row)),
    ActSpec("legal", "Legal hold…", act="place legal hold", needs=_kept, quiet=True, said=_told,
            form=lambda bar, shown: legal_hold_form(bar.workplace, shown.row)),
    ActSpec("lift", "Lift legal hold…", act="lift legal hold", needs=_held, quiet=True, said=_told,
            form=lambda bar, shown: lift_legal_form(bar.workplace, shown.row, shown.page.legal_holds)),
    ActSpec("leave", "No longer here…", act="end service", needs=_active, quiet=True, said=_told, destroys=True,
            form=lambda bar, shown: leave_form(bar.workplace, shown.row)),
    ActSpec("erase", "Erase…", act="erase person", needs=_erasable, quiet=True, said=_told, destroys=True,
            form=lambda bar, shown: erase_form(bar.workplace, shown.row)),
)  # fmt: skip
"""What is done about the person on the page."""


class PeopleList(ListPage[PersonRecord]):
    """The list of people, with entering somebody and the years that names are kept."""

    def __init__(self, context: PageContext, parent: QWidget | None = None) -> None:
        self._workplace = context.workplace
        self.desk: PeopleDesk | None = None
        spec = ListSpec(
            "People",
            columns(self._papers, self._state),
            key=lambda row: row.code,
            load=self._load,
            describe=describe,
            empty=EMPTY,
            sum_up=sum_up,
            place=lambda row: PageKey("people", row.code),
            choices=(
                QuickFilter("staff", lambda row: row.role in STANDING and row.active),
                QuickFilter("renters and students", lambda row: row.role not in STANDING and row.active),
                QuickFilter(
                    "due for erasure", lambda row: self._state(row).word == "due for erasure", mark_for("due soon")
                ),
            ),
            sort_column="code",
        )
        super().__init__(context.theme, context.background, spec, parent)
        self.bar = ActBar(context, ACTS, self.table, self)
        self.buttons = self.bar.buttons
        self.heading.addWidget(self.bar)
        self.bar.changed.connect(self._on_done)
        self.bar.refused.connect(self.banner.say_refused)
        self.rows_shown.connect(self._on_rows_shown)
        context.signed_in.changed.connect(self.refresh)  # contacts are shown to those who may see them

    def _load(self) -> Sequence[PersonRecord]:
        # Called off the GUI thread; the desk is only ever replaced whole.
        self.desk = people_desk(self._workplace)
        return self.desk.people

    def _papers(self, row: PersonRecord) -> str:
        papers = [each for each in self.desk.papers if each.person_id == row.person_id] if self.desk else []
        lapsed = sum(
            each.valid_until is not None and self.desk is not None and each.valid_until < self.desk.today
            for each in papers
        )
        if not papers:
            return NONE
        seen = say("{count} seen", count=len(papers))
        return strung(", ", (seen, say("{lapsed} lapsed", lapsed=lapsed))) if lapsed else seen

    def _state(self, row: PersonRecord) -> Mark:
        if row.erased:
            return mark_for("signed").worded("erased")
        if self.desk is not None and row.code in self.desk.time_has_come:
            return mark_for("due soon").worded("due for erasure")
        return mark_for("active") if row.active else NOTED.worded("no longer here")

    @Slot(int)
    def _on_rows_shown(self, _count: int) -> None:
        self.bar.choose(self.desk)

    def ask(self, word: str) -> Any:
        """Open the form of a button."""
        self.bar.start(word)
        return self.bar.dialog

    @Slot(str)
    def _on_done(self, words: str) -> None:
        self.banner.say_note(words)
        self.action_requested.emit("people_changed")
        self.refresh()


def list_page(context: PageContext) -> PeopleList:
    """The list of people."""
    return PeopleList(context)


def columns(
    papers: Callable[[PersonRecord], str], state: Callable[[PersonRecord], Mark]
) -> tuple[Column[PersonRecord], ...]:
    """The columns of the list."""
    return (
        Column("code", "Code", lambda row: row.code),
        Column("name", "Name", lambda row: row.name if row.name != row.code else say("erased or not entered"),
               gives_way=True),
        Column("role", "Role", lambda row: say(row.role)),
        Column("state", "State", lambda row: state(row).word, state=state),
        Column("papers", "Certificates", papers),
        Column("pin", "PIN", lambda row: "set" if row.has_pin else NONE),
        Column("contact", "Contact", lambda row: said(row.contact, NONE), gives_way=True),
    )  # fmt: skip


def sum_up(rows: Sequence[PersonRecord]) -> str:
    """'171 people: 8 staff, 163 renters and students'."""
    active = Counter(row.role in STANDING for row in rows if row.active)
    return say(
        "{count}: {active} staff, {active_2} renters and students",
        count=counted(len(rows), "person", "people"),
        active=active[True],
        active_2=active[False],
    )


def describe(row: PersonRecord) -> Detail:
    """What the list's own row says of somebody."""
    return Detail(
        row.code,
        say(row.role),
        (),
        (
            Section(
                "Person",
                (
                    Fact("Name", row.name if row.name != row.code else say("erased or not entered")),
                    Fact("Contact", said(row.contact, say("not recorded, or not shown to the signed-in user"))),
                    Fact("PIN", say("set") if row.has_pin else say("none yet")),
                    Fact("Active", say("yes") if row.active else say("no")),
                ),
            ),
        ),
    )


class PersonRecordPage(RecordPage):
    """One person, with what is done about them."""

    def __init__(self, context: PageContext, parent: QWidget | None = None) -> None:
        super().__init__(context.theme, context.background, self._load, parent)
        self._workplace, self._zone = context.workplace, context.zone
        self.page: PersonPage | None = None
        self.bar = ActBar(context, PAGE_ACTS, None, self, hides=True)
        self.buttons = self.bar.buttons
        self.content.insertWidget(3, self.bar)
        self.bar.changed.connect(self._on_done)
        self.bar.refused.connect(self.banner.say_refused)
        context.signed_in.changed.connect(self.refresh)
        self._desks = Refresher(context.background, self)
        self._desks.loaded.connect(self._on_desk)

    def _load(self, code: str) -> Detail:
        # Called off the GUI thread; the page is only ever replaced whole.
        self.page = person_page(self._workplace, code)
        return person_detail(self.page, self._zone)

    def show_detail(self, detail: Detail) -> None:
        """Show this person, and grey what may not be done."""
        super().show_detail(detail)
        workplace = self._workplace
        self._desks.ask(lambda: people_desk(workplace))

    @Slot(object)
    def _on_desk(self, desk: PeopleDesk) -> None:
        if self.page is not None:
            today = self._workplace.clock().astimezone(self._zone).date()
            self.bar.choose(ShownPerson(self.page, desk.people, today))

    def ask(self, word: str) -> Any:
        """Open the form of a button; None before a person is shown."""
        self.bar.start(word)
        return self.bar.dialog

    @Slot(str)
    def _on_done(self, words: str) -> None:
        self.banner.say_note(words)
        self.action_requested.emit("people_changed")
        self.refresh()


def record_page(context: PageContext) -> PersonRecordPage:
    """The page of one person."""
    return PersonRecordPage(context)


def person_detail(page: PersonPage, zone: ZoneInfo) -> Detail:
    """Everything on one person's page."""
    row = page.row
    kept = day(page.keep_through, say("no years are set") if page.last_booked else say("never booked"))
    return Detail(
        row.code,
        strung(", ", (say(row.role), row.name)) if row.name != row.code else say(row.role),
        (),
        (
            *describe(row).parts,
            Section(
                "Kept",
                (
                    Fact("Last booked day", day(page.last_booked, NONE)),
                    Fact("Name kept through", kept),
                    *(
                        Fact(
                            "Legal hold",
                            hold.reason,
                            mark_for("hold").worded("stands above erasing"),
                            note=f"{moment(hold.placed_at, zone)}, {hold.placed_by}",
                        )
                        for hold in page.legal_holds
                    ),
                ),
            ),
            Table(
                "Certificates checked; no copy is kept",
                ("Certificate", "Unit type", "Seen on", "By", "Last valid day"),
                tuple(
                    Line(
                        (
                            each.kind,
                            said(each.unit_type, say("every type") if each.kind != "medical" else NONE),
                            day(each.seen_on),
                            said(each.seen_by),
                            day(each.valid_until, say("no end stated")),
                        )
                    )
                    for each in reversed(page.papers)
                ),
                "No certificate was checked yet.",
            ),
        ),
    )
