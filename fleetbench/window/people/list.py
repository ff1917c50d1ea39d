"""People: everybody by code with what was seen of them, and the page of one."""

from collections import Counter
from collections.abc import Callable, Sequence
from functools import partial
from zoneinfo import ZoneInfo

from PySide6.QtCore import Slot
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QWidget

from fleetbench.window.detail.detail import Detail, Fact, Line, Section, Table
from fleetbench.window.detail.record_page import RecordPage
from fleetbench.window.forms.form import ActDialog
from fleetbench.window.lists.list_page import Choice, ListPage, ListSpec
from fleetbench.window.lists.rows import Column
from fleetbench.window.look.buttons import nothing_recorded, plain_button, quiet_button
from fleetbench.window.look.marks import NOTED, Mark, mark_for
from fleetbench.window.look.theme import CLOSE
from fleetbench.window.look.words import NONE, counted, day, moment, said
from fleetbench.window.people.acts import (
    ChangePinDialog,
    ContactDialog,
    EnterDialog,
    EraseDialog,
    LeaveDialog,
    LegalHoldDialog,
    LiftLegalDialog,
    PaperDialog,
    ResetPinDialog,
    SetPinDialog,
    YearsDialog,
)
from fleetbench.window.shell.background import Refresher
from fleetbench.window.shell.pages import PageContext
from fleetbench.window.shell.person import grey
from fleetbench.window.shell.place import Place
from fleetbench.workshop.people.list import PeopleDesk, PersonPage, PersonRow, people_desk, person_page

EMPTY = nothing_recorded("Nobody is recorded yet", "hires")
STANDING = ("manager", "technician", "instructor")

LIST_BUTTONS = {"enter": ("Enter somebody…", "enter renter"), "years": ("Years kept…", "set retention")}
PAGE_BUTTONS = {
    "paper": ("See a paper…", "see papers"), "contact": ("Name, contact…", "change contact"),
    "pin": ("Set a PIN…", "change PIN"), "change": ("Change PIN…", "change PIN"),
    "reset": ("Reset a lost PIN…", "reset PIN"),
    "legal": ("Legal hold…", "place legal hold"), "lift": ("Lift legal hold…", "lift legal hold"),
    "leave": ("No longer here…", "end service"), "erase": ("Erase…", "erase person"),
}  # fmt: skip
"""Words of each button, and the act that it needs."""


class PeopleList(ListPage[PersonRow]):
    """The list of people, with entering somebody and the years that names are kept."""

    def __init__(self, context: PageContext, parent: QWidget | None = None) -> None:
        self._shop = context.shop
        self.desk: PeopleDesk | None = None
        spec = ListSpec(
            "People",
            columns(self._papers, self._state),
            key=lambda row: row.code,
            load=self._load,
            describe=describe,
            empty=EMPTY,
            sum_up=sum_up,
            place=lambda row: Place("people", row.code),
            choices=(
                Choice("staff", lambda row: row.role in STANDING and row.active),
                Choice("renters and students", lambda row: row.role not in STANDING and row.active),
                Choice("time to erase", lambda row: self._state(row).word == "time to erase", mark_for("due soon")),
            ),
            sort_column="code",
        )
        super().__init__(context.theme, context.background, spec, parent)
        self._background = context.background
        self.buttons = {word: plain_button(self.theme, text, "", self) for word, (text, _act) in LIST_BUTTONS.items()}
        for word, button in self.buttons.items():
            button.clicked.connect(partial(self._on_clicked, word))
            self.heading.addWidget(button)
        self.rows_shown.connect(self._on_rows_shown)
        context.signed_in.changed.connect(self.refresh)  # contacts are shown to those who may see them

    def _load(self) -> Sequence[PersonRow]:
        # Called off the GUI thread; the desk is only ever replaced whole.
        self.desk = people_desk(self._shop)
        return self.desk.people

    def _papers(self, row: PersonRow) -> str:
        papers = [each for each in self.desk.papers if each.person_id == row.person_id] if self.desk else []
        lapsed = sum(
            each.valid_until is not None and self.desk is not None and each.valid_until < self.desk.today
            for each in papers
        )
        return NONE if not papers else f"{len(papers)} seen" + (f", {lapsed} lapsed" if lapsed else "")

    def _state(self, row: PersonRow) -> Mark:
        if row.erased:
            return mark_for("signed").worded("erased")
        if self.desk is not None and row.code in self.desk.time_has_come:
            return mark_for("due soon").worded("time to erase")
        return mark_for("active") if row.active else NOTED.worded("no longer here")

    @Slot(int)
    def _on_rows_shown(self, _count: int) -> None:
        if self.desk is not None:
            grey(self.buttons, {word: act for word, (_text, act) in LIST_BUTTONS.items()}, self.desk.role)

    def _on_clicked(self, word: str, _checked: bool = False) -> None:
        self.ask(word)

    def ask(self, word: str) -> ActDialog:
        """Open the dialog of a button."""
        years = self.desk.years if self.desk is not None else ()
        dialog: ActDialog = (
            EnterDialog(self.theme, self._background, self._shop, self)
            if word == "enter"
            else YearsDialog(self.theme, self._background, self._shop, years, self)
        )
        dialog.done_with.connect(self._on_done)
        dialog.open()
        return dialog

    @Slot(object)
    def _on_done(self, value: object) -> None:
        self.banner.say_note(str(value))
        self.action_requested.emit("people_changed")
        self.refresh()


def list_page(context: PageContext) -> PeopleList:
    """The list of people."""
    return PeopleList(context)


def columns(papers: Callable[[PersonRow], str], state: Callable[[PersonRow], Mark]) -> tuple[Column[PersonRow], ...]:
    """The columns of the list."""
    return (
        Column("code", "Code", lambda row: row.code),
        Column("name", "Name", lambda row: row.name if row.name != row.code else "erased or not entered",
               gives_way=True),
        Column("role", "Role", lambda row: row.role),
        Column("state", "State", lambda row: state(row).word, state=state),
        Column("papers", "Papers", papers),
        Column("pin", "PIN", lambda row: "set" if row.has_pin else NONE),
        Column("contact", "Contact", lambda row: said(row.contact, NONE)),
    )  # fmt: skip


def sum_up(rows: Sequence[PersonRow]) -> str:
    """'171 people: 8 staff, 163 renters and students'."""
    active = Counter(row.role in STANDING for row in rows if row.active)
    return f"{counted(len(rows), 'person', 'people')}: {active[True]} staff, {active[False]} renters and students"


def describe(row: PersonRow) -> Detail:
    """What the list's own row says of somebody."""
    return Detail(
        row.code,
        row.role,
        (),
        (
            Section(
                "Person",
                (
                    Fact("Name", row.name if row.name != row.code else "erased or not entered"),
                    Fact("Contact", said(row.contact, "not recorded, or not shown to whoever is at the desk")),
                    Fact("PIN", "set" if row.has_pin else "none yet"),
                    Fact("Active", "yes" if row.active else "no"),
                ),
            ),
        ),
    )


class PersonRecordPage(RecordPage):
    """One person, with what is done about them."""

    def __init__(self, context: PageContext, parent: QWidget | None = None) -> None:
        super().__init__(context.theme, context.background, self._load, parent)
        self._background, self._shop, self._zone = context.background, context.shop, context.zone
        self.page: PersonPage | None = None
        self._desk: PeopleDesk | None = None
        self.buttons: dict[str, QPushButton] = {}
        row = QHBoxLayout()
        row.setSpacing(CLOSE)
        for word, (text, _act) in PAGE_BUTTONS.items():
            button = quiet_button(self.theme, text, "", self)
            button.hide()
            button.clicked.connect(partial(self._on_clicked, word))
            self.buttons[word] = button
            row.addWidget(button)
        row.addStretch(1)
        self.content.insertLayout(3, row)
        context.signed_in.changed.connect(self.refresh)
        self._desks = Refresher(context.background, self)
        self._desks.loaded.connect(self._on_desk)

    def _load(self, code: str) -> Detail:
        # Called off the GUI thread; the page is only ever replaced whole.
        self.page = person_page(self._shop, code)
        return person_detail(self.page, self._zone)

    def show_detail(self, detail: Detail) -> None:
        """Show this person, and grey what may not be done."""
        super().show_detail(detail)
        shop = self._shop
        self._desks.ask(lambda: people_desk(shop))

    @Slot(object)
    def _on_desk(self, desk: PeopleDesk) -> None:
        self._desk = desk
        grey(self.buttons, {word: act for word, (_text, act) in PAGE_BUTTONS.items()}, desk.role)
        if self.page is not None:
            row = self.page.row
            self.buttons["lift"].setVisible(bool(self.page.legal_holds))
            self.buttons["reset"].setVisible(row.has_pin)
            self.buttons["change"].setVisible(row.has_pin and row.active)
            self.buttons["pin"].setVisible(not row.has_pin and row.active)
            self.buttons["erase"].setVisible(row.role not in STANDING and not row.erased)
            self.buttons["leave"].setVisible(row.active)
            for word in ("paper", "contact", "legal"):
                self.buttons[word].setVisible(not row.erased)

    def _on_clicked(self, word: str, _checked: bool = False) -> None:
        self.ask(word)

    def ask(self, word: str) -> ActDialog | None:
        """Open the dialog of a button; None before anybody is shown."""
        if self.page is None:
            return None
        row, about = self.page.row, (self.theme, self._background, self._shop)
        types = self._desk.unit_types if self._desk is not None else ()
        today = self._shop.clock().astimezone(self._zone).date()
        ways: dict[str, Callable[[], ActDialog]] = {
            "paper": lambda: PaperDialog(*about, row, types, today, self),
            "contact": lambda: ContactDialog(*about, row, self),
            "pin": lambda: SetPinDialog(*about, row, self._desk.people if self._desk is not None else (), self),
            "change": lambda: ChangePinDialog(*about, row, self),
            "reset": lambda: ResetPinDialog(*about, row, self),
            "legal": lambda: LegalHoldDialog(*about, row, self),
            "lift": lambda: LiftLegalDialog(*about, row, self.page.legal_holds if self.page else (), self),
            "leave": lambda: LeaveDialog(*about, row, self),
            "erase": lambda: EraseDialog(*about, row, self),
        }
        dialog = ways[word]()
        dialog.done_with.connect(self._on_done)
        dialog.open()
        return dialog

    @Slot(object)
    def _on_done(self, value: object) -> None:
        self.banner.say_note(str(value))
        self.action_requested.emit("people_changed")
        self.refresh()


def record_page(context: PageContext) -> PersonRecordPage:
    """The page of one person."""
    return PersonRecordPage(context)


def person_detail(page: PersonPage, zone: ZoneInfo) -> Detail:
    """Everything on one person's page."""
    row = page.row
    kept = day(page.keep_through, "no years are set" if page.last_booked else "never booked")
    return Detail(
        row.code,
        f"{row.role}, {row.name}" if row.name != row.code else row.role,
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
                "Papers seen; no paper is kept",
                ("Paper", "Unit type", "Seen on", "By", "Valid until"),
                tuple(
                    Line(
                        (
                            each.kind,
                            said(each.unit_type, "every type" if each.kind != "medical" else NONE),
                            day(each.seen_on),
                            said(each.seen_by),
                            day(each.valid_until, "no end stated"),
                        )
                    )
                    for each in reversed(page.papers)
                ),
                "Nothing was seen yet.",
            ),
        ),
    )
