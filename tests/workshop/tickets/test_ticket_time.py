"""Time under a ticket by person, entries corrected within ten minutes, and who must sign besides the signer."""

from typing import Any

import pytest
from sqlalchemy import select

from fleetbench.records.core.database import Database
from fleetbench.records.core.errors import Refused
from fleetbench.records.people.tables import Person, Qualification
from fleetbench.records.tickets.tables import Task, Ticket
from fleetbench.records.upkeep.verify import verify
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.tickets.list import ticket_page
from fleetbench.workshop.tickets.page import (
    add_minutes,
    correct_finding,
    correct_minutes,
    correct_task,
    finished_tickets,
    last_entry_to_correct,
    may_sign,
    start_work,
    stop_work,
    ticket_desk,
)
from fleetbench.workshop.tickets.work import (
    NewTask,
    SecondPerson,
    add_finding,
    open_ticket,
    put_off_task,
    reasons_against_signing,
    sign_ticket,
    sign_tickets,
    task_done,
)
from tests.centres.bench_centre import Keys, write_centre
from tests.centres.pins import give_pin


@pytest.fixture
def keys(sqlite_database: Database, clock: Any) -> Keys:
    """The small centre, written."""
    return write_centre(sqlite_database, clock())


@pytest.fixture
def bench(sqlite_database: Database, clock: Any, keys: Keys) -> Workplace:
    """The technician at the bench."""
    return Workplace(sqlite_database, clock, keys.technician)


def opened(bench: Workplace, *tasks: str | NewTask, tag: str = "LK-01") -> int:
    return open_ticket(bench, tag, cause="by hand", reason="Look", tasks=tasks)


def minutes_of(bench: Workplace, ticket: int) -> float:
    with bench.database.read_session() as session:
        return session.get_one(Ticket, ticket).minutes


def tasks_of(bench: Workplace) -> list[Task]:
    with bench.database.read_session() as session:
        found = list(session.scalars(select(Task).order_by(Task.ordinal)))
        session.expunge_all()
        return found


def test_work_stops_and_goes_on_and_two_people_work_on_one_ticket(bench: Workplace, keys: Keys, clock: Any) -> None:
    ticket, other = opened(bench, tag="LK-01"), bench.as_person(keys.manager)
    start_work(bench, ticket)
    with pytest.raises(Refused, match=r"^clock: runs already"):
        start_work(bench, ticket)
    clock.advance(minutes=20)
    start_work(other, ticket)
    assert [line for line in reasons_against_signing(bench, ticket) if line.startswith("clock")] == [
        "clock: Tamsin Orrel is still at work on it; stop the clock first",
        "clock: Jarek Vinthe is still at work on it; stop the clock first",
    ]
    assert stop_work(bench, ticket) == 20
    clock.advance(minutes=10)
    start_work(bench, ticket)
    clock.advance(minutes=5)
    assert (stop_work(bench, ticket), stop_work(other, ticket)) == (5, 15)
    with pytest.raises(Refused, match=r"^clock: does not run"):
        stop_work(bench, ticket)
    assert minutes_of(bench, ticket) == 40
    page = ticket_page(bench, "2026-001")
    assert [(each.person, each.minutes) for each in page.times] == [
        ("Tamsin Orrel", 20), ("Jarek Vinthe", 15), ("Tamsin Orrel", 5)
    ]  # fmt: skip


def test_a_clock_runs_under_one_ticket_at_a_time_and_counts_a_tasks_minutes_once(bench: Workplace, clock: Any) -> None:
    first, second = opened(bench, "Replace it"), opened(bench, tag="LK-02")
    start_work(bench, first)
    clock.advance(minutes=12)
    task_done(bench, tasks_of(bench)[0].id, minutes=12)
    start_work(bench, second)
    assert (minutes_of(bench, first), minutes_of(bench, second)) == (12, 0)


def test_a_clock_that_was_forgotten_needs_the_minutes_really_worked(bench: Workplace, clock: Any) -> None:
    ticket = opened(bench)
    start_work(bench, ticket)
    clock.advance(hours=15)
    with pytest.raises(Refused, match="under ticket 2026-001 ran 15 h; give the minutes worked"):
        stop_work(bench, ticket)
    assert stop_work(bench, ticket, minutes=40) == 40
    assert minutes_of(bench, ticket) == 40


def test_a_finding_with_a_slip_is_superseded_within_ten_minutes_by_whoever_wrote_it(
    bench: Workplace, keys: Keys, clock: Any
) -> None:
    ticket = opened(bench)
    add_finding(bench, ticket, "Inhale valve lekas")
    entered = last_entry_to_correct(bench, ticket)
    assert entered is not None and (entered.kind, entered.said) == ("finding", "Inhale valve lekas")
    assert last_entry_to_correct(bench.as_person(keys.manager), ticket) is None
    with pytest.raises(Refused, match="says the same"):
        correct_finding(bench, entered.key, "Inhale valve lekas")
    correct_finding(bench, entered.key, "Inhale valve leaks")
    with pytest.raises(Refused, match="entered by another user"):
        correct_finding(bench.as_person(keys.manager), entered.key, "no")
    assert [each.text for each in ticket_page(bench, "2026-001").findings] == ["Inhale valve leaks"]
    clock.advance(minutes=10, seconds=1)
    assert last_entry_to_correct(bench, ticket) is None
    with pytest.raises(Refused, match="more than ten minutes ago"):
        correct_finding(bench, entered.key, "later")
    assert verify(bench.database).whole


def test_a_task_settled_by_a_slip_is_to_do_again_and_its_minutes_go(bench: Workplace) -> None:
    ticket = opened(bench, "Replace it", "Polish it")
    first, second = tasks_of(bench)
    task_done(bench, first.id, minutes=120)
    entered = last_entry_to_correct(bench, ticket)
    assert entered is not None and (entered.kind, entered.key) == ("task", first.id)
    correct_task(bench, first.id)
    put_off_task(bench, second.id, "no time")
    correct_task(bench, second.id)
    with pytest.raises(Refused, match="still to do; there is nothing to correct"):
        correct_task(bench, second.id)
    assert [(task.state, task.times_put_off) for task in tasks_of(bench)] == [("to do", 0), ("to do", 0)]
    assert minutes_of(bench, ticket) == 0
    said = [each.text for each in ticket_page(bench, "2026-001").findings]
    assert said[0] == "Task 1 was marked done by mistake (typing); it is to do again"


def test_minutes_with_a_slip_are_superseded(bench: Workplace, clock: Any) -> None:
    ticket = opened(bench)
    add_minutes(bench, ticket, 250)
    entered = last_entry_to_correct(bench, ticket)
    assert entered is not None and (entered.kind, entered.said) == ("minutes", "250")
    correct_minutes(bench, entered.key, 25)
    assert minutes_of(bench, ticket) == 25
    assert [each.minutes for each in ticket_page(bench, "2026-001").times] == [25]


def test_a_ticket_that_puts_another_right_refers_to_it_on_both_pages(bench: Workplace) -> None:
    first = opened(bench)
    open_ticket(bench, "LK-01", cause="by hand", reason="Wrong lot written down", refers_to=first)
    with pytest.raises(Refused, match="is another unit's"):
        open_ticket(bench, "LK-02", cause="by hand", reason="Wrong unit", refers_to=first)
    assert ticket_page(bench, "2026-002").row.refers_to == "2026-001"
    assert ticket_page(bench, "2026-001").corrected_by == ("2026-002",)


@pytest.fixture
def signing(bench: Workplace, keys: Keys) -> int:
    """A finished ticket one task of which asks for a second person; both may sign."""
    ticket = opened(bench, NewTask("Rebuild the mouthpiece valve", second_person=True))
    task_done(bench, tasks_of(bench)[0].id)
    for person in (keys.technician, keys.manager):
        give_pin(bench, person, f"47{person:02d}")
    return ticket


def test_a_second_person_signs_with_a_pin_of_their_own_and_is_another_one(
    bench: Workplace, keys: Keys, signing: int
) -> None:
    mine, theirs = f"47{keys.technician:02d}", f"47{keys.manager:02d}"
    for second, said in (
        (None, "second person: 'Rebuild the mouthpiece valve' asks for one"),
        (SecondPerson(keys.technician, mine), "second person: is the signer; it must be another one"),
        (SecondPerson(keys.manager, mine), "PIN: does not match"),
    ):
        with pytest.raises(Refused, match=said):
            sign_ticket(bench, signing, signer_id=keys.technician, pin=mine, second=second)
    sign_ticket(bench, signing, signer_id=keys.technician, pin=mine, second=SecondPerson(keys.manager, theirs))
    row = ticket_page(bench, "2026-001").row
    assert (row.ticket.signed_by, row.ticket.second) == ("Tamsin Orrel", "Jarek Vinthe")
    with bench.transaction("write", "test") as act:
        act.change(act.get(Ticket, signing, "ticket"), second_id=keys.technician)
    assert verify(bench.database).first_break == f"ticket row {signing}: its second person is its signer"


@pytest.mark.parametrize("whose", ["signer", "second person"])
def test_neither_may_sign_without_a_qualification_for_the_type_that_holds_today(
    bench: Workplace, keys: Keys, signing: int, clock: Any, whose: str
) -> None:
    person = keys.technician if whose == "signer" else keys.manager
    with bench.transaction("write", "test") as act:
        row = act.session.scalars(select(Qualification).where(Qualification.person_id == person)).one()
        act.change(row, valid_until=bench.today())
    second = SecondPerson(keys.manager, f"47{keys.manager:02d}")
    clock.advance(days=1)
    with pytest.raises(Refused, match=f"^{whose}: no technician's qualification of .1 for this unit type"):
        sign_ticket(bench, signing, signer_id=keys.technician, pin=f"47{keys.technician:02d}", second=second)
    assert [each.person_id for each in may_sign(bench, ("LK-01",)) if not each.qualified] == [person]


def test_a_second_person_who_may_not_sign_is_refused(bench: Workplace, keys: Keys, signing: int) -> None:
    with bench.transaction("write", "test") as act:
        instructor = act.add(Person(code="I1", role="instructor", active=True, erased_at=None)).id
        act.add(Qualification(person_id=instructor, kind="technician", seen_on=bench.today()))
    give_pin(bench, instructor, "4700")
    with pytest.raises(Refused, match=r"^second person: I1 may not sign"):
        sign_ticket(bench, signing, signer_id=keys.technician, pin=f"47{keys.technician:02d}",
                    second=SecondPerson(instructor, "4700"))  # fmt: skip


def test_finished_tickets_are_listed_with_what_the_signature_stands_for_and_share_a_hash(
    bench: Workplace, keys: Keys, signing: int
) -> None:
    waiting, plain = opened(bench, "Still to do", tag="LK-02"), opened(bench, tag="LK-02")
    add_finding(bench, plain, "Nothing found")
    ready = finished_tickets(bench)
    assert [(each.row.number, each.needs_second) for each in ready] == [("2026-003", False), ("2026-001", True)]
    assert [(each.task.text, each.state) for each in ready[1].tasks] == [("Rebuild the mouthpiece valve", "done")]
    assert [each.text for each in ready[0].findings] == ["Nothing found"]
    second = SecondPerson(keys.manager, f"47{keys.manager:02d}")
    digest = sign_tickets(
        bench, (signing, plain), signer_id=keys.technician, pin=f"47{keys.technician:02d}", second=second
    )
    for number in ("2026-001", "2026-003"):
        signed_in = ticket_page(bench, number).signed_in
        assert signed_in is not None and signed_in.hash == digest
    assert finished_tickets(bench) == () and ticket_desk(bench, "2026-002").is_open and waiting
