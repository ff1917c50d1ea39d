"""Work on a service ticket: open it, find, do or put off, and sign it off."""

from collections.abc import Iterable, Sequence

from fleetbench.calc.signing import TaskFact, TestFact, why_not_signable
from fleetbench.records.act import Act
from fleetbench.records.act_reads import (
    last_workshop_opening,
    next_ticket_number,
    tasks_of,
    tests_since,
    ticket_findings,
    unit_by_tag,
)
from fleetbench.records.errors import Refused
from fleetbench.records.people import Person
from fleetbench.records.tickets import Finding, Task, Ticket
from fleetbench.records.valves import BenchTest
from fleetbench.workshop.pins import check_pin
from fleetbench.workshop.shop import Shop

SIGNERS = ("technician", "manager")
"""Who may sign a unit off; common practice, no published source."""


def open_ticket(
    shop: Shop,
    tag: str,
    *,
    cause: str,
    reason: str,
    critical: bool = True,
    tasks: Iterable[str] = (),
    refers_to: int | None = None,
) -> int:
    """The key of a new ticket on a unit, numbered on within the site's year.

    cause: one of the table's words; reason: why, in a sentence; tasks: what is to do, in order.
    Raises Refused where the reason is empty or nobody is at the bench.
    """
    text = required("reason", reason)
    person = somebody(shop)
    year = shop.today().year
    with shop.acting("open ticket", f"unit {tag}") as act:
        unit = unit_by_tag(act.session, tag)
        ticket = act.add(
            Ticket(
                year=year,
                number=next_ticket_number(act.session, year),
                unit_id=unit.id,
                cause=cause,
                reason=text,
                critical=critical,
                opened_at=act.at,
                opened_by_id=person,
                refers_to_id=refers_to,
                minutes=0.0,
            )
        )
        for place, task in enumerate(tasks, start=1):
            act.add(
                Task(
                    ticket_id=ticket.id,
                    ordinal=place,
                    text=required("task", task),
                    state="to do",
                    critical=critical,
                    times_put_off=0,
                )
            )
        return ticket.id


def add_finding(shop: Shop, ticket_id: int, text: str) -> None:
    """Write down something seen under an open ticket."""
    said = required("finding", text)
    with shop.acting("finding", f"ticket {ticket_id}") as act:
        open_one(act, ticket_id)
        act.add(Finding(ticket_id=ticket_id, at=act.at, person_id=shop.person_id, text=said))


def add_task(shop: Shop, ticket_id: int, text: str, *, critical: bool = True) -> None:
    """Add something to do to an open ticket."""
    said = required("task", text)
    with shop.acting("add task", f"ticket {ticket_id}") as act:
        open_one(act, ticket_id)
        last = max((task.ordinal for task in tasks_of(act.session, ticket_id)), default=0)
        act.add(
            Task(ticket_id=ticket_id, ordinal=last + 1, text=said, critical=critical, state="to do", times_put_off=0)
        )


def task_done(shop: Shop, task_id: int, *, minutes: float | None = None) -> None:
    """Mark a task as done, with the minutes it took where known."""
    if minutes is not None and not 0 <= minutes <= 24 * 60:
        raise Refused("minutes: give a figure from 0 to 1440")
    with shop.acting("task done", f"task {task_id}") as act:
        task = act.get(Task, task_id, "task")
        ticket = open_one(act, task.ticket_id)
        act.change(
            task, state="done", settled_at=act.at, person_id=shop.person_id, minutes=minutes, put_off_reason=None
        )
        if minutes:
            act.change(ticket, minutes=ticket.minutes + minutes)


def put_off_task(shop: Shop, task_id: int, reason: str) -> None:
    """Put a task off, with a reason; how often is counted."""
    said = required("reason", reason)
    with shop.acting("put off task", f"task {task_id}") as act:
        task = act.get(Task, task_id, "task")
        open_one(act, task.ticket_id)
        act.change(
            task,
            state="put off",
            settled_at=act.at,
            person_id=shop.person_id,
            put_off_reason=said,
            times_put_off=task.times_put_off + 1,
        )


def reasons_against_signing(shop: Shop, ticket_id: int) -> tuple[str, ...]:
    """Why the ticket cannot be signed yet, each with its remedy; empty where it can."""
    with shop.database.looking() as session:
        return _reasons(Act(session, shop.clock(), shop.person_id, "look", ""), ticket_id)


def sign_ticket(shop: Shop, ticket_id: int, *, signer_id: int, pin: str) -> str:
    """Close the ticket under the signer's PIN; returns the journal hash to print. It cannot change afterwards."""
    return sign_tickets(shop, (ticket_id,), signer_id=signer_id, pin=pin)


def sign_tickets(shop: Shop, ticket_ids: Sequence[int], *, signer_id: int, pin: str) -> str:
    """Close finished tickets, all that were shown or none, under one PIN; returns the journal hash to print on each."""
    wanted = tuple(dict.fromkeys(ticket_ids))
    if not wanted:
        raise Refused("tickets: none is chosen; choose what to sign")
    about = f"ticket {wanted[0]}" if len(wanted) == 1 else f"{len(wanted)} tickets"
    with shop.as_person(signer_id).acting("sign ticket", about) as act:
        signer = act.get(Person, signer_id, "signer")
        if signer.role not in SIGNERS or not signer.active:
            raise Refused("signer: only an active technician or manager may sign a unit off")
        check_pin(signer, pin)
        against: list[str] = []
        for key in wanted:
            ticket = act.get(Ticket, key, f"ticket {key}")
            named = f"ticket {ticket.year}-{ticket.number:03d}: " if len(wanted) > 1 else ""
            against += [f"{named}{reason}" for reason in _reasons(act, key)]
        if against:
            raise Refused("; ".join(against))
        for key in wanted:
            act.change(act.get(Ticket, key, "ticket"), signed_at=act.at, signed_by_id=signer_id)
        return act.close_entry()


def open_one(act: Act, ticket_id: int) -> Ticket:
    """The ticket where it is still open; a signed one cannot change."""
    ticket = act.get(Ticket, ticket_id, f"ticket {ticket_id}")
    if ticket.signed_at is not None:
        raise Refused(f"ticket {ticket.year}-{ticket.number}: signed and closed; open a new ticket that refers to it")
    return ticket


def required(field: str, text: str) -> str:
    """The text without outer blanks; Refused where nothing is left."""
    said = text.strip()
    if not said:
        raise Refused(f"{field}: is empty; write it down")
    return said


def somebody(shop: Shop) -> int:
    """The person at the bench; Refused where nobody is chosen."""
    if shop.person_id is None:
        raise Refused("person: choose who is at the bench first")
    return shop.person_id


def _reasons(act: Act, ticket_id: int) -> tuple[str, ...]:
    ticket = act.get(Ticket, ticket_id, f"ticket {ticket_id}")
    opened = last_workshop_opening(act.session, ticket.unit_id)
    tests = tests_since(act.session, ticket.unit_id, opened or ticket.opened_at)
    return why_not_signable(
        signed=ticket.signed_at is not None,
        tasks=tuple(TaskFact(task.text, task.state, task.put_off_reason) for task in tasks_of(act.session, ticket_id)),
        findings=ticket_findings(act.session, ticket_id),
        opened=opened,
        tests=tuple(_fact(test) for test in tests),
    )


def _fact(test: BenchTest) -> TestFact:
    return TestFact(test.kind, test.direction, test.at, test.result in ("pass", "watch"))
