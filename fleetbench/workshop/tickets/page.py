"""What stands on the page where a ticket is worked on, in one load.

Time worked under a ticket: a clock per person that stops and goes on, or minutes given by hand.

Two people may work on one ticket, each under a clock of their own; one person's clock runs under one ticket at a time.

Entries under a ticket, corrected within ten minutes by the person who made them: a record that takes the other's place.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from fleetbench.calc.core.languages import in_row, say, strung
from fleetbench.calc.core.verdict import WorkState
from fleetbench.calc.tickets.signing import TYPING, why_not_correctable
from fleetbench.records.bench.lookups import signers
from fleetbench.records.core.errors import Refused
from fleetbench.records.core.transaction import Transaction
from fleetbench.records.people.reads import PersonRecord
from fleetbench.records.tickets.reads import read_findings, read_tasks, read_ticket_numbers, read_times
from fleetbench.records.tickets.service_plan import read_steps
from fleetbench.records.tickets.tables import Finding, Task, Ticket, TicketTime
from fleetbench.records.upkeep.lookups import name_of, running_times, unit_by_tag
from fleetbench.workshop.core.workplace import Workplace, require_person, required
from fleetbench.workshop.parts.fit import SlotLine, slot_lines
from fleetbench.workshop.people.list import list_people
from fleetbench.workshop.tickets.list import TicketPage, list_tickets, ticket_page
from fleetbench.workshop.tickets.work import SIGNERS, open_one, reasons_against_signing, signer_fact

LONGEST_CLOCK = 8 * 60.0
"""Minutes after which a clock was more likely forgotten than worked through: common practice, no published source."""


def start_work(workplace: Workplace, ticket_id: int) -> None:
    """Let the clock of whoever is at the bench run under a ticket; under any other ticket it stops."""
    person = require_person(workplace)
    with workplace.transaction("start work", f"ticket {ticket_id}") as act:
        open_one(act, ticket_id)
        for row in running_times(act.session, person_id=person):
            if row.ticket_id == ticket_id:
                raise Refused(say("clock: runs already; stop it when you leave the ticket"))
            _stop(act, row, None)
        act.add(TicketTime(ticket_id=ticket_id, person_id=person, began_at=act.at, ended_at=None, minutes=None))


def stop_work(workplace: Workplace, ticket_id: int, *, minutes: float | None = None) -> float:
    """The minutes that the clock ran, added to the ticket; a forgotten one needs the minutes really worked."""
    person = require_person(workplace)
    with workplace.transaction("stop work", f"ticket {ticket_id}") as act:
        open_one(act, ticket_id)
        running = running_times(act.session, ticket_id=ticket_id, person_id=person)
        if not running:
            raise Refused(say("clock: does not run; start it first"))
        return _stop(act, running[0], minutes)


def add_minutes(workplace: Workplace, ticket_id: int, minutes: float) -> None:
    """Add time worked to an open ticket, beside the clock and the minutes of its tasks."""
    checked(minutes)
    with workplace.transaction("add minutes", f"ticket {ticket_id}") as act:
        ticket = open_one(act, ticket_id)
        act.add(
            TicketTime(
                ticket_id=ticket.id, person_id=workplace.person_id, began_at=act.at, ended_at=act.at, minutes=minutes
            )
        )
        act.change(ticket, minutes=ticket.minutes + minutes)


def checked(minutes: float) -> float:
    """The minutes where they are in reason; Refused otherwise."""
    if not 0 < minutes <= 24 * 60:
        raise Refused(say("minutes: give a figure over 0 and up to 1440"))
    return minutes


def _stop(act: Transaction, row: TicketTime, minutes: float | None) -> float:
    ran = max(0.0, (act.at - row.began_at).total_seconds() / 60)
    if minutes is None and ran > LONGEST_CLOCK:
        ticket = act.get(Ticket, row.ticket_id, "ticket")
        named = say("ticket {year}-{number:03d}", year=ticket.year, number=ticket.number)
        raise Refused(
            say(
                "minutes: the clock under {named} ran {ran:.0f} h; give the minutes worked, then stop it",
                named=named,
                ran=ran / 60,
            )
        )
    worked = round(ran, 1) if minutes is None else checked(minutes)
    ticket = act.get(Ticket, row.ticket_id, "ticket")
    act.change(row, ended_at=act.at, minutes=worked)
    act.change(ticket, minutes=ticket.minutes + worked)
    return worked


@dataclass(frozen=True, slots=True)
class Correctable:
    """What was entered last under a ticket and may still be corrected: kind, key, moment and what it says."""

    kind: str
    key: int
    at: datetime
    said: str


def last_entry_to_correct(workplace: Workplace, ticket_id: int) -> Correctable | None:
    """The last finding, settled task or step, or minutes that the user may still correct; None for none."""
    now = workplace.clock()
    with workplace.database.reading() as connection:
        entered = [
            *((Correctable("finding", each.finding_id, each.at, each.text), each.person_id)
              for each in read_findings(connection, ticket_id)),
            *((Correctable("task", each.task_id, each.settled_at, each.text), each.person_id)
              for each in read_tasks(connection, ticket_id)
              if each.settled_at is not None and each.state != WorkState.TO_DO),
            *((Correctable("step", each.step_result_id, each.settled_at, each.plan.text), each.person_id)
              for each in read_steps(connection, (ticket_id,)) if each.settled_at is not None),
            *((Correctable("minutes", each.time_id, each.ended_at, f"{each.minutes:g}"), each.person_id)
              for each in read_times(connection, ticket_id)
              if each.ended_at is not None and each.minutes is not None),
        ]  # fmt: skip
    mine = [each for each, by in entered if why_not_correctable(each.at, by, now, workplace.person_id) is None]
    # a task's minutes are entered in the same moment; the task stands for both
    return max(mine, key=lambda each: (each.at, each.kind == "task"), default=None)


def correct_finding(workplace: Workplace, finding_id: int, text: str) -> int:
    """The key of a finding that takes the place of one with an error in it."""
    said = required("finding", text)
    person = require_person(workplace)
    with workplace.transaction("correct finding", f"finding {finding_id}") as act:
        old = act.get(Finding, finding_id, "finding")
        open_one(act, old.ticket_id)
        _refuse_late(act, "finding", old.at, old.person_id)
        if old.text == said:
            raise Refused(say("finding: says the same; change it, or leave it"))
        row = Finding(
            ticket_id=old.ticket_id,
            at=act.at,
            person_id=person,
            text=said,
            supersedes_id=old.id,
            supersedes_reason=TYPING,
        )
        return act.add(row).id


def correct_task(workplace: Workplace, task_id: int) -> None:
    """Let a task that was settled by mistake be to do again; a finding says so, and its minutes are taken back."""
    person = require_person(workplace)
    with workplace.transaction("correct task", f"task {task_id}") as act:
        task = act.get(Task, task_id, "task")
        ticket = open_one(act, task.ticket_id)
        if task.state == WorkState.TO_DO or task.settled_at is None:
            raise Refused(say("task: is still to do; there is nothing to correct"))
        _refuse_late(act, "task", task.settled_at, task.person_id)
        was = task.state
        for each in read_times(act.session.connection(), ticket.id):
            if each.began_at == each.ended_at == task.settled_at and each.minutes == task.minutes:
                _supersede_time(act, each.time_id, 0.0)
        times = task.times_put_off - (1 if was == WorkState.PUT_OFF else 0)
        act.change(
            task, state="to do", settled_at=None, person_id=None, minutes=None, put_off_reason=None, times_put_off=times
        )
        text = in_row(f"Task {task.ordinal} was marked {was} by mistake ({TYPING}); it is to do again")
        act.add(Finding(ticket_id=ticket.id, at=act.at, person_id=person, text=text))


def correct_minutes(workplace: Workplace, time_id: int, minutes: float) -> None:
    """Put other minutes in the place of those that were entered by mistake."""
    require_person(workplace)
    checked(minutes)
    with workplace.transaction("correct minutes", f"minutes {time_id}") as act:
        old = act.get(TicketTime, time_id, "minutes")
        open_one(act, old.ticket_id)
        if old.ended_at is None or old.minutes is None:
            raise Refused(say("clock: still runs; stop it first"))
        _refuse_late(act, "minutes", old.ended_at, old.person_id)
        _supersede_time(act, time_id, minutes)


def _supersede_time(act: Transaction, time_id: int, minutes: float) -> None:
    old = act.get(TicketTime, time_id, "minutes")
    ticket = open_one(act, old.ticket_id)
    act.add(
        TicketTime(
            ticket_id=old.ticket_id,
            person_id=old.person_id,
            began_at=old.began_at,
            ended_at=act.at,
            minutes=minutes,
            supersedes_id=old.id,
            supersedes_reason=TYPING,
        )
    )
    act.change(ticket, minutes=max(0.0, ticket.minutes - (old.minutes or 0.0) + minutes))


def _refuse_late(act: Transaction, what: str, at: datetime, by: int | None) -> None:
    said = why_not_correctable(at, by, act.at, act.person_id)
    if said is not None:
        raise Refused(strung(": ", (say(what), said)))


@dataclass(frozen=True, slots=True)
class Signer:
    """Somebody who may sign a unit off; without a PIN one is set first."""

    person_id: int
    name: str
    has_pin: bool
    qualified: bool = True


@dataclass(frozen=True, slots=True)
class TicketDesk:
    """A ticket with the unit's slots, who may sign, and why it cannot be signed yet (empty where it can).

    role: of whoever is at the bench, None where nobody is. correctable: what was
    entered last and may still be corrected. now: when it was read, for the clocks that run.
    """

    page: TicketPage
    slots: tuple[SlotLine, ...]
    against: tuple[str, ...]
    signers: tuple[Signer, ...]
    people: tuple[PersonRecord, ...]
    now: datetime
    role: str | None = None
    person: str | None = None
    correctable: Correctable | None = None

    @property
    def is_open(self) -> bool:
        """True until it is signed or withdrawn."""
        return self.page.row.ticket.is_open


def ticket_desk(workplace: Workplace, number: str) -> TicketDesk:
    """Everything for working on a ticket, by its number as printed; NotFound for another text."""
    page = ticket_page(workplace, number)
    is_open = page.row.ticket.is_open
    people = list_people(workplace)
    mine = next((each for each in people if each.person_id == workplace.person_id), None)
    return TicketDesk(
        page=page,
        slots=slot_lines(workplace, page.row.ticket.unit),
        against=reasons_against_signing(workplace, page.row.ticket.ticket_id) if is_open else (),
        signers=may_sign(workplace, (page.row.ticket.unit,)) if is_open else (),
        people=people,
        now=workplace.clock(),
        role=mine.role if mine is not None else None,
        person=mine.name if mine is not None else None,
        correctable=last_entry_to_correct(workplace, page.row.ticket.ticket_id)
        if is_open and mine is not None
        else None,
    )


def may_sign(workplace: Workplace, tags: Sequence[str]) -> tuple[Signer, ...]:
    """Who may sign by role, and whether each is qualified today for the type of every one of these units."""
    today = workplace.today()
    with workplace.database.read_session() as session:
        act = Transaction(session, workplace.clock(), workplace.person_id, "look", "")
        types = {unit_by_tag(session, tag).unit_type_id for tag in tags}
        return tuple(
            Signer(
                row.id,
                name_of(session, row.id),
                bool(row.pin_digest),
                all(signer_fact(act, row, kind, today).qualified for kind in types),
            )
            for row in signers(session, SIGNERS)
        )


def finished_tickets(workplace: Workplace) -> tuple[TicketPage, ...]:
    """The page of every open ticket that can be signed now, newest first.

    Only tickets without a task to do are looked at one by one: those wait for nothing but a signature.
    """
    waiting = [row for row in list_tickets(workplace, open_only=True) if not row.tasks_open]
    ready = [row for row in waiting if not reasons_against_signing(workplace, row.ticket.ticket_id)]
    return tuple(ticket_page(workplace, row.number) for row in ready)


def number_of(workplace: Workplace, ticket_id: int) -> str:
    """The number of a ticket as printed."""
    with workplace.database.reading() as connection:
        return read_ticket_numbers(connection)[ticket_id]
