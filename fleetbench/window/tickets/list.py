"""The list of tickets, with what is finished waiting for signatures.

Tickets: the list of service jobs, and the page of one with findings, tasks, parts moved and sign-off.
"""

from collections.abc import Sequence
from functools import partial
from zoneinfo import ZoneInfo

from PySide6.QtCore import Slot
from PySide6.QtWidgets import QWidget

from fleetbench.calc.core.languages import say, strung
from fleetbench.window.bench.valves import tests_table
from fleetbench.window.detail.detail import Detail, Fact, Line, Onward, Section, Table
from fleetbench.window.detail.export_row import ExportRow
from fleetbench.window.detail.record_page import RecordPage
from fleetbench.window.forms.form_dialog import FormDialog
from fleetbench.window.lists.list_page import ListPage, ListSpec, QuickFilter
from fleetbench.window.lists.rows import Column
from fleetbench.window.look.buttons import lead_button, nothing_recorded, plain_button
from fleetbench.window.look.marks import Mark, mark_for
from fleetbench.window.look.words import NONE, counted, figure, moment, plus_minus, said, spaced
from fleetbench.window.shell.background import Refresher
from fleetbench.window.shell.pages import PageContext
from fleetbench.window.shell.place import PageKey, new_ticket_key
from fleetbench.window.shell.signed_in import grey
from fleetbench.window.tickets.sign import many_form
from fleetbench.window.tickets.work import ticket_writer
from fleetbench.workshop.cells.list import OutcomeLine
from fleetbench.workshop.tickets import list as tickets
from fleetbench.workshop.tickets.list import MoveLine, TaskLine, TicketPage, TicketRow
from fleetbench.workshop.tickets.page import Signer, finished_tickets, may_sign

Ready = tuple[tuple[TicketPage, ...], tuple[Signer, ...]]


class TicketList(ListPage[TicketRow]):
    """The list page with two buttons: a new ticket, and the signature of all that is finished."""

    def __init__(self, context: PageContext, spec: ListSpec[TicketRow], parent: QWidget | None = None) -> None:
        super().__init__(context.theme, context.background, spec, parent)
        self._background, self._workplace = context.background, context.workplace
        self.new_button = plain_button(self.theme, "New ticket", "tickets", self)
        self.sign_button = lead_button(self.theme, "Sign what is finished…", "", self)
        self.heading.addWidget(self.new_button)
        self.heading.addWidget(self.sign_button)
        context.signed_in.changed.connect(self._grey)
        self._grey()
        self._finished = Refresher(context.background, self)
        self._finished.loaded.connect(self._on_finished)
        self._finished.refused.connect(self.banner.say_refused)
        self.new_button.clicked.connect(self._on_new)
        self.sign_button.clicked.connect(self._on_sign)

    @Slot()
    def _grey(self) -> None:
        grey({"sign": self.sign_button}, {"sign": say("sign ticket")}, self._background.signed_in.role)

    @Slot()
    def _on_new(self) -> None:
        self.action_requested.emit("new_ticket")

    @Slot()
    def _on_sign(self) -> None:
        workplace = self._workplace

        def load() -> Ready:
            finished = finished_tickets(workplace)
            return finished, may_sign(workplace, tuple({each.row.ticket.unit for each in finished}))

        self._finished.ask(load)

    @Slot(object)
    def _on_finished(self, ready: Ready) -> None:
        finished, signers = ready
        if not finished:
            self.banner.say_note(
                say("No open ticket is finished: each has a task to do, a test to pass or a clock running.")
            )
            return
        form = many_form(self._workplace, finished, signers)
        dialog = FormDialog(self.theme, self._background, form, self)
        dialog["tickets"].any_ticked.connect(dialog.act_button.setEnabled)
        dialog.done_with.connect(self._on_signed)
        dialog.open()

    @Slot(object)
    def _on_signed(self, digest: object) -> None:
        dialog = self.sender()
        count = len(dialog["tickets"].ticked) if isinstance(dialog, FormDialog) else 0
        self.banner.say_note(
            say("{count} signed; journal hash {digest}.", count=counted(count, "ticket"), digest=str(digest)[:16])
        )
        self.refresh()


EMPTY = nothing_recorded(
    "No tickets are recorded yet", "tickets", "Work on units stands here.", "new_ticket", "New ticket"
)


def list_page(context: PageContext) -> TicketList:
    """The list of tickets, open ones first."""
    spec = ListSpec(
        "Tickets",
        columns(context.zone),
        key=lambda row: row.number,
        load=partial(tickets.list_tickets, context.workplace),
        describe=partial(describe, zone=context.zone),
        empty=EMPTY,
        sum_up=sum_up,
        place=lambda row: PageKey("tickets", row.number),
        choices=(
            QuickFilter("open", lambda row: row.ticket.is_open, mark_for("open")),
            QuickFilter("critical", lambda row: row.ticket.is_open and row.ticket.critical, mark_for("stop")),
            QuickFilter("signed", lambda row: row.ticket.signed_at is not None, mark_for("signed")),
        ),
        sort_column="state",
        siblings=(("Tickets", PageKey("tickets")), ("Turn-rounds", PageKey("turn_rounds"))),
    )
    return TicketList(context, spec)


def record_page(context: PageContext) -> RecordPage:
    """The page of one ticket."""

    def load(number: str) -> Detail:
        return ticket_detail(tickets.ticket_page(context.workplace, number), context.zone)

    page = RecordPage(context.theme, context.background, load)
    exports = ExportRow(
        context.theme,
        context.background,
        "ticket",
        (".pdf",),
        lambda: ticket_writer(context.workplace, page.key or ""),
        page,
    )
    exports.written.connect(page.banner.say_note)
    exports.refused.connect(page.banner.say_refused)
    page.heading.addWidget(exports)
    return page


def sum_up(rows: Sequence[TicketRow]) -> str:
    """'230 tickets: 4 open, 1 of them critical'."""
    still_open = [row for row in rows if row.ticket.is_open]
    critical = sum(row.ticket.critical for row in still_open)
    return say(
        "{count}: {count_2} open, {critical} of them critical",
        count=counted(len(rows), "ticket"),
        count_2=len(still_open),
        critical=critical,
    )


def state_of(row: TicketRow) -> Mark:
    """Signed, open, or open and critical."""
    if row.ticket.signed_at is not None:
        return mark_for("signed")
    if row.ticket.withdrawn_at is not None:
        return mark_for("withdrawn")
    return mark_for("open, critical" if row.ticket.critical else "open")


def columns(zone: ZoneInfo) -> tuple[Column[TicketRow], ...]:
    """The columns of the list."""
    return (
        Column("number", "Ticket", lambda row: row.number),
        Column("state", "State", lambda row: state_of(row).word, _order, state=state_of),
        Column("unit", "Unit", lambda row: row.ticket.unit),
        Column("reason", "Reason", lambda row: row.ticket.reason, gives_way=True),
        Column("cause", "Cause", lambda row: spaced(row.ticket.cause), gives_way=True),
        Column("opened", "Opened", lambda row: moment(row.ticket.opened_at, zone), lambda row: row.ticket.opened_at),
        Column("tasks", "Tasks to do", lambda row: str(row.tasks_open), lambda row: row.tasks_open, align_right=True),
        Column(
            "minutes",
            "Minutes",
            lambda row: f"{row.ticket.minutes:.0f}",
            lambda row: row.ticket.minutes,
            align_right=True,
            shown=False,
        ),
        Column(
            "signed",
            "Signed",
            lambda row: moment(row.ticket.signed_at, zone, NONE),
            lambda row: row.ticket.signed_at,
            shown=False,
        ),
        Column("signer", "Signed by", lambda row: said(row.ticket.signed_by, NONE), shown=False),
        Column("by", "Opened by", lambda row: row.ticket.opened_by, shown=False),
        Column("off", "Put off", lambda row: str(row.put_off), lambda row: row.put_off, align_right=True, shown=False),
        Column("refers", "Refers to", lambda row: said(row.refers_to, NONE), shown=False),
    )


def _order(row: TicketRow) -> tuple[int, float]:
    return (-state_of(row).rank, -row.ticket.opened_at.timestamp())


def describe(row: TicketRow, zone: ZoneInfo) -> Detail:
    """What the list's own row says of a ticket."""
    return Detail(
        row.number,
        row.ticket.reason,
        (state_of(row),),
        (
            Section(
                "Job",
                (
                    Fact("Unit", row.ticket.unit, leads_to=PageKey("units", row.ticket.unit)),
                    Fact("Cause", spaced(row.ticket.cause)),
                    Fact(
                        "Opened",
                        moment(row.ticket.opened_at, zone),
                        note=say("by {opened_by}", opened_by=row.ticket.opened_by),
                    ),
                    Fact(
                        "Tasks",
                        say(
                            "{tasks_done} done, {tasks_open} to do, {put_off} put off",
                            tasks_done=row.tasks_done,
                            tasks_open=row.tasks_open,
                            put_off=row.put_off,
                        ),
                    ),
                    Fact("Time", figure(row.ticket.minutes, "min", 0)),
                    Fact(
                        "Refers to",
                        said(row.refers_to, NONE),
                        leads_to=PageKey("tickets", row.refers_to) if row.refers_to else None,
                    ),
                ),
            ),
            Section(
                "Sign-off",
                (
                    Fact(
                        "Signed",
                        moment(row.ticket.signed_at, zone),
                        note=say("by {signed_by}", signed_by=said(row.ticket.signed_by)),
                    ),
                    *((Fact("Second person", row.ticket.second),) if row.ticket.second else ()),
                )
                if row.ticket.signed_at
                else (),
                "Not signed: the unit is held while a critical ticket is open.",
            ),
        ),
    )


def ticket_detail(page: TicketPage, zone: ZoneInfo) -> Detail:
    """Everything on one ticket's page."""
    summary = describe(page.row, zone)
    return Detail(
        say("Ticket {number}", number=page.row.number),
        say(
            "{reason}; {unit_type}, serial {unit_serial}",
            reason=page.row.ticket.reason,
            unit_type=page.row.ticket.unit_type,
            unit_serial=said(page.row.ticket.unit_serial, NONE),
        ),
        summary.marks,
        (
            *summary.parts,
            _findings(page, zone),
            _sealed(page),
            *_more(page, zone),
            _tasks(page.tasks, zone),
            _moves(page.moves, zone),
            tests_table(page.tests, zone),
            _calibrations(page.calibrations, zone),
        ),
        onward=(_onward(page),),
    )


def _onward(page: TicketPage) -> Onward:
    """An open ticket is worked on; a signed one is corrected by another."""
    row = page.row
    if row.ticket.is_open:
        return Onward("Work on it", "tickets", PageKey("ticket_work", row.number))
    key = new_ticket_key(
        row.ticket.unit,
        say("Corrects {number}: ", number=row.number),
        say("by hand"),
        (row.ticket.ticket_id, row.number),
    )
    return Onward("Correct in a new ticket", "tickets", PageKey("ticket_work", key))


def _more(page: TicketPage, zone: ZoneInfo) -> tuple[Section, ...]:
    """Time by person, photographs, and tickets that put this one right, as far as there are any."""
    times = tuple(
        Fact(said(each.person), figure(each.minutes, "min", 0, say("the clock runs")), note=moment(each.began_at, zone))
        for each in page.times
    )
    pictures = tuple(
        Fact(
            moment(each.at, zone),
            each.caption or say("no caption"),
            note=say("by {person}, SHA-256 {sha256}", person=said(each.person), sha256=each.sha256[:16]),
            leads_to=PageKey("ticket_work", page.row.number),
        )
        for each in page.photographs
    )
    later = tuple(Fact("Corrected by", each, leads_to=PageKey("tickets", each)) for each in page.corrected_by)
    found = ((say("Time by person"), times), ("Photographs", pictures), ("Afterwards", later))
    return tuple(Section(title, facts) for title, facts in found if facts)


def _findings(page: TicketPage, zone: ZoneInfo) -> Section:
    lines = [
        Fact(moment(line.at, zone), line.text, note=say("by {person}", person=said(line.person)))
        for line in page.findings
    ]
    lines += [Fact("Opened", line) for line in page.openings]
    lines += [Fact("Leaks", line) for line in page.leaks]
    lines += [Fact("Read by itself", line) for line in page.given]
    lines += [Fact("Disinfected", line) for line in page.disinfections]
    lines += [Fact("Used", line) for line in page.materials]
    return Section("Findings", tuple(lines), "No finding is recorded yet.")


def _sealed(page: TicketPage) -> Section:
    if page.entry is None:
        return Section("In the journal", (), "It was imported; the journal holds the import.")
    return Section(
        "In the journal",
        (Fact("Entry", str(page.entry.entry)), Fact("Hash", page.entry.hash)),
    )


def _tasks(tasks: Sequence[TaskLine], zone: ZoneInfo) -> Table:
    return Table(
        "Tasks",
        ("", "Task", "State", "Critical", "Settled", "By"),
        tuple(
            Line(
                (
                    str(task.task.ordinal),
                    task.task.text,
                    spaced(task.state)
                    + (strung("", (": ", task.task.put_off_reason)) if task.task.put_off_reason else ""),
                    say("critical") if task.task.critical else NONE,
                    moment(task.task.settled_at, zone, NONE),
                    said(task.task.person, NONE),
                )
            )
            for task in tasks
        ),
        "No task is listed.",
    )


def _moves(moves: Sequence[MoveLine], zone: ZoneInfo) -> Table:
    return Table(
        "Parts out and in",
        ("Way", "Slot", "Part", "Part type", "Serial", "Lot", "Why", "When"),
        tuple(
            Line(
                (
                    move.way,
                    move.move.slot,
                    move.move.label,
                    move.move.part_type,
                    said(move.move.serial, NONE),
                    said(move.move.lot, NONE),
                    said(move.why, NONE),
                    moment(move.at, zone),
                ),
                leads_to=PageKey("parts", str(move.move.part_id)),
            )
            for move in moves
        ),
        "No part was moved.",
    )


def _calibrations(lines: Sequence[OutcomeLine], zone: ZoneInfo) -> Table:
    return Table(
        "Calibrations",
        ("Position", "Verdict", "Air", "Oxygen", "Linearity", "When", "Finding"),
        tuple(
            Line(
                (
                    line.outcome.position,
                    line.outcome.verdict,
                    figure(line.outcome.air_mv, "mV"),
                    figure(line.outcome.oxygen_mv, "mV"),
                    plus_minus(line.outcome.linearity, line.outcome.expanded_u, "%"),
                    moment(line.outcome.at, zone),
                    line.outcome.finding,
                ),
                mark_for(line.outcome.verdict),
            )
            for line in lines
        ),
        "No calibration belongs to it.",
        mark_column=1,
    )
