"""Work on a service ticket: open it, find, do or put off, and sign it off."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from zoneinfo import ZoneInfo

from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.tickets.signing import ProposedSigner, SeenFact, qualified, why_not_by, why_not_signable
from fleetbench.calc.tickets.steps import steps_lacking
from fleetbench.records.core.errors import Clash, Refused
from fleetbench.records.core.transaction import Transaction
from fleetbench.records.people.tables import Person
from fleetbench.records.tickets.reads import read_added
from fleetbench.records.tickets.service_plan import read_steps
from fleetbench.records.tickets.tables import Finding, ServiceTask, Task, Ticket, TicketTime
from fleetbench.records.turn_rounds.lookups import service_of_task
from fleetbench.records.units.tables import Unit
from fleetbench.records.upkeep.lookups import (
    last_workshop_opening,
    name_of,
    next_ticket_number,
    running_times,
    tasks_of,
    technician_papers,
    tests_since,
    ticket_findings,
    unit_by_tag,
)
from fleetbench.workshop.core.workplace import Workplace, require_person, required
from fleetbench.workshop.people.acts import check_pair
from fleetbench.workshop.tickets.service_plan import due_tasks, may_settle, write_plan_tasks
from fleetbench.workshop.tickets.task_evidence import task_facts, test_fact, ticket_evidence

SIGNERS = ("technician", "manager")
"""Who may sign a unit off; common practice, no published source."""


@dataclass(frozen=True, slots=True)
class NewTask:
    """A task as it is listed when a ticket is opened; second_person: somebody else must look at it and sign too."""

    text: str
    critical: bool = True
    second_person: bool = False


def open_ticket(
    workplace: Workplace,
    tag: str,
    *,
    cause: str,
    reason: str,
    critical: bool = True,
    tasks: Iterable[str | NewTask] = (),
    refers_to: int | None = None,
    plan_due: bool = False,
) -> int:
    """The key of a new ticket on a unit, numbered on within the site's year.

    cause: one of the table's words; reason: why, in a sentence; tasks: what is to do, in order; refers_to: the key of
    the ticket that this one puts right. plan_due: with what is due of the unit's service plan too. Raises Refused where
    the reason is empty or nobody is at the bench.
    """
    text = required("reason", reason)
    require_person(workplace)
    year = workplace.today().year
    due = due_tasks(workplace, tag) if plan_due else ()
    with workplace.transaction("open ticket", f"unit {tag}") as act:
        unit = unit_by_tag(act.session, tag)
        if refers_to is not None and act.get(Ticket, refers_to, "ticket referred to").unit_id != unit.id:
            raise Refused(
                say("unit {tag}: the ticket referred to is another unit's; open it on that unit", tag=unit.tag)
            )
        ticket = open_within(
            act, unit.id, year, tuple(tasks), cause=cause, reason=text, critical=critical, refers_to_id=refers_to
        )
        rows = [act.get(ServiceTask, key, "service task") for key in due]
        write_plan_tasks(act, ticket, rows, after=len(tasks_of(act.session, ticket.id)))
        return ticket.id


def open_within(
    act: Transaction,
    unit_id: int,
    year: int,
    tasks: Iterable[str | NewTask] = (),
    *,
    cause: str,
    reason: str,
    critical: bool = True,
    refers_to_id: int | None = None,
) -> Ticket:
    """The new ticket on a unit with its tasks, within an act under way."""
    ticket = act.add(
        Ticket(
            year=year,
            number=next_ticket_number(act.session, year),
            unit_id=unit_id,
            cause=cause,
            reason=required("reason", reason),
            critical=critical,
            opened_at=act.at,
            opened_by_id=act.person_id,
            refers_to_id=refers_to_id,
            minutes=0.0,
        )
    )
    for place, each in enumerate(tasks, start=1):
        task = each if isinstance(each, NewTask) else NewTask(each, critical)
        act.add(
            Task(
                ticket_id=ticket.id,
                ordinal=place,
                text=required("task", task.text),
                state="to do",
                critical=task.critical,
                times_put_off=0,
                second_person=task.second_person or None,
            )
        )
    return ticket


def add_finding(workplace: Workplace, ticket_id: int, text: str) -> None:
    """Write down something seen under an open ticket."""
    said = required("finding", text)
    with workplace.transaction("finding", f"ticket {ticket_id}") as act:
        open_one(act, ticket_id)
        act.add(Finding(ticket_id=ticket_id, at=act.at, person_id=workplace.person_id, text=said))


def add_task(
    workplace: Workplace, ticket_id: int, text: str, *, critical: bool = True, second_person: bool = False
) -> None:
    """Add something to do to an open ticket; second_person: somebody else must look at it and sign too."""
    said = required("task", text)
    with workplace.transaction("add task", f"ticket {ticket_id}") as act:
        open_one(act, ticket_id)
        last = max((task.ordinal for task in tasks_of(act.session, ticket_id)), default=0)
        act.add(
            Task(
                ticket_id=ticket_id,
                ordinal=last + 1,
                text=said,
                critical=critical,
                state="to do",
                times_put_off=0,
                second_person=second_person or None,
            )
        )


def task_done(workplace: Workplace, task_id: int, *, minutes: float | None = None) -> None:
    """Mark a task as done, with the minutes it took where known; a clock that runs counts them already.

    Refused where the record that settles it was not made since the ticket was opened.
    """
    if minutes is not None and not 0 <= minutes <= 24 * 60:
        raise Refused(say("minutes: give a figure from 0 to 1440"))
    with workplace.transaction("task done", f"task {task_id}") as act:
        task = act.get(Task, task_id, "task")
        ticket = open_one(act, task.ticket_id)
        may_settle(act, task.id, act.get(Unit, ticket.unit_id, "unit").unit_type_id)
        missing = (
            *steps_lacking(step.judged for step in read_steps(act.session.connection(), (ticket.id,))
                           if step.task_id == task.id),
            *ticket_evidence(act.session, ticket).missing(task.text, service_of_task(act.session, task.id)),
        )  # fmt: skip
        if missing:
            raise Refused(
                say(
                    "task '{task}': {missing}; or put it off with a reason",
                    task=task.text,
                    missing=strung("; ", missing),
                )
            )
        act.change(
            task, state="done", settled_at=act.at, person_id=workplace.person_id, minutes=minutes, put_off_reason=None
        )
        if minutes and not running_times(act.session, ticket_id=ticket.id, person_id=workplace.person_id):
            act.add(
                TicketTime(
                    ticket_id=ticket.id,
                    person_id=workplace.person_id,
                    began_at=act.at,
                    ended_at=act.at,
                    minutes=minutes,
                )
            )
            act.change(ticket, minutes=ticket.minutes + minutes)


def put_off_task(workplace: Workplace, task_id: int, reason: str) -> None:
    """Put a task off, with a reason; how often is counted."""
    said = required("reason", reason)
    with workplace.transaction("put off task", f"task {task_id}") as act:
        task = act.get(Task, task_id, "task")
        open_one(act, task.ticket_id)
        act.change(
            task,
            state="put off",
            settled_at=act.at,
            person_id=workplace.person_id,
            put_off_reason=said,
            times_put_off=task.times_put_off + 1,
        )


def reasons_against_signing(workplace: Workplace, ticket_id: int) -> tuple[str, ...]:
    """Why the ticket cannot be signed yet, each with its remedy; empty where it can."""
    with workplace.database.read_session() as session:
        return _reasons(Transaction(session, workplace.clock(), workplace.person_id, "look", ""), ticket_id)


@dataclass(frozen=True, slots=True)
class SecondPerson:
    """Who else looked at the work, and their own PIN."""

    person_id: int
    pin: str


def sign_ticket(
    workplace: Workplace,
    ticket_id: int,
    *,
    signer_id: int,
    pin: str,
    second: SecondPerson | None = None,
    as_of: int | None = None,
) -> str:
    """Close the ticket under the signer's PIN; returns the journal hash to print. It cannot change afterwards."""
    return sign_tickets(workplace, (ticket_id,), signer_id=signer_id, pin=pin, second=second, as_of=as_of)


def sign_tickets(
    workplace: Workplace,
    ticket_ids: Sequence[int],
    *,
    signer_id: int,
    pin: str,
    second: SecondPerson | None = None,
    as_of: int | None = None,
) -> str:
    """Close finished tickets, all that were shown or none, under one PIN; returns the journal hash to print on each.

    The signer must be qualified for each unit's type. A second person, who signs with a PIN of their own, is asked for
    where a task says so, and must be another one. as_of: the journal's last entry when the tickets were read that the
    signer saw. Clash, with what was added, where one of them holds more; its now is the last entry by then.
    """
    wanted = tuple(dict.fromkeys(ticket_ids))
    if not wanted:
        raise Refused(say("tickets: none is chosen; choose what to sign"))
    about = f"ticket {wanted[0]}" if len(wanted) == 1 else f"{len(wanted)} tickets"
    today = workplace.today()
    with workplace.as_person(signer_id).transaction("sign ticket", about) as act:
        signer = act.get(Person, signer_id, "signer")
        if signer.role not in SIGNERS or not signer.active:
            raise Refused(say("signer: only an active technician or manager may sign a unit off"))
        other = act.get(Person, second.person_id, "second person") if second is not None else None
        check_pair(signer, pin, other, second.pin if second is not None else "")
        if as_of is not None:
            _refuse_unseen(act, wanted, as_of, workplace.zone())
        against: list[str] = []
        for key in wanted:
            ticket = act.get(Ticket, key, say("ticket {key}", key=key))
            named = (
                [say("ticket {year}-{number:03d}", year=ticket.year, number=ticket.number)] if len(wanted) > 1 else []
            )
            reasons = (*_reasons(act, key), *_not_by(act, ticket, signer, other, today))
            against += [strung(": ", (*named, reason)) for reason in reasons]
        if against:
            raise Refused(strung("; ", against))
        for key in wanted:
            act.change(
                act.get(Ticket, key, "ticket"),
                signed_at=act.at,
                signed_by_id=signer_id,
                second_id=other.id if other is not None else None,
            )
        return act.close_entry()


def _refuse_unseen(act: Transaction, ticket_ids: Sequence[int], as_of: int, zone: ZoneInfo) -> None:
    """Nothing where the tickets hold what they held at an entry of the journal; Clash otherwise."""
    said = []
    for key in ticket_ids:
        ticket = act.get(Ticket, key, say("ticket {key}", key=key))
        for row in read_added(act.session.connection(), key, ticket.unit_id, as_of):
            what = next((row.values[name] for name in WHAT_IT_SAYS if row.values.get(name)), "")
            told = strung(" ", (say(row.act), *([f"({what})"] if what else [])))
            at = row.at.astimezone(zone)
            said.append(say("{told} by {who} at {at:%H:%M}", told=told, who=name_of(act.session, row.person_id), at=at)
                        if row.person_id is not None else say("{told} at {at:%H:%M}", told=told, at=at))  # fmt: skip
    if said:
        raise Clash(
            say(
                "ticket: changed after it was shown here: {said}. Look at it, then sign again",
                said=strung("; ", dict.fromkeys(said)),
            ),
            act.head.number,
        )


WHAT_IT_SAYS = ("text", "put_off_reason", "note", "result", "state", "reason")
"""Columns that say in words what a row of a ticket is about, the telling ones first."""


def open_one(act: Transaction, ticket_id: int) -> Ticket:
    """The ticket where it is still open; a signed one cannot change."""
    ticket = act.get(Ticket, ticket_id, say("ticket {key}", key=ticket_id))
    if ticket.signed_at is not None:
        raise Refused(
            say(
                "ticket {year}-{number}: signed and closed; open a new ticket that refers to it",
                year=ticket.year,
                number=ticket.number,
            )
        )
    if ticket.withdrawn_at is not None:
        raise Refused(
            say("ticket {year}-{number}: was withdrawn; open a new ticket", year=ticket.year, number=ticket.number)
        )
    return ticket


def signer_fact(act: Transaction, person: Person, unit_type_id: int, today: date) -> ProposedSigner:
    """What decides whether a person may sign for a unit type today."""
    seen = (
        SeenFact(row.unit_type_id, row.seen_on, row.valid_until) for row in technician_papers(act.session, person.id)
    )
    return ProposedSigner(
        person.id,
        code=person.code,
        role_may=person.role in SIGNERS,
        active=person.active,
        qualified=qualified(seen, unit_type_id, today),
    )


def _not_by(act: Transaction, ticket: Ticket, signer: Person, other: Person | None, today: date) -> tuple[str, ...]:
    unit_type = act.get(Unit, ticket.unit_id, "unit").unit_type_id
    return why_not_by(
        signer_fact(act, signer, unit_type, today),
        signer_fact(act, other, unit_type, today) if other is not None else None,
        task_facts(act.session, ticket),
    )


def _reasons(act: Transaction, ticket_id: int) -> tuple[str, ...]:
    ticket = act.get(Ticket, ticket_id, say("ticket {key}", key=ticket_id))
    made = ticket_evidence(act.session, ticket)
    opened = last_workshop_opening(act.session, ticket.unit_id)
    tests = tests_since(act.session, ticket.unit_id, opened or ticket.opened_at)
    return why_not_signable(
        signed=ticket.signed_at is not None,
        tasks=task_facts(act.session, ticket, made),
        findings=ticket_findings(act.session, ticket_id),
        opened=opened,
        tests=tuple(test_fact(test) for test in tests),
        clocks=tuple(name_of(act.session, row.person_id) for row in running_times(act.session, ticket_id=ticket_id)),
        minutes=ticket.minutes,
    )
