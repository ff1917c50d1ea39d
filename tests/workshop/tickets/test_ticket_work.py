"""A service ticket from opening to signature: what closes it, what keeps it open, and that it cannot change after."""

import re
from typing import Any

import pytest
from sqlalchemy import select

from fleetbench.records.core.database import Database
from fleetbench.records.core.errors import Clash, NotFound, Refused
from fleetbench.records.core.journal import Journal
from fleetbench.records.people.tables import Person, PersonPin
from fleetbench.records.tickets.tables import Task, Ticket
from fleetbench.workshop.bench.tests import record_test
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.parts.fit import fit_part
from fleetbench.workshop.people.acts import set_pin
from fleetbench.workshop.tickets.page import add_minutes, number_of, ticket_desk
from fleetbench.workshop.tickets.work import (
    add_finding,
    add_task,
    open_ticket,
    put_off_task,
    reasons_against_signing,
    sign_ticket,
    sign_tickets,
    task_done,
)
from tests.centres.bench_centre import Keys, write_centre
from tests.centres.pins import give_pin
from tests.centres.time_passes import let_pass


@pytest.fixture
def workplace(sqlite_database: Database, clock: Any) -> Workplace:
    """An empty workplace on a SQLite file: the rules here are the same on either database."""
    return Workplace(sqlite_database, clock)


@pytest.fixture
def keys(workplace: Workplace, clock: Any) -> Keys:
    """The small centre, written."""
    return write_centre(workplace.database, clock())


@pytest.fixture
def bench(workplace: Workplace, keys: Keys) -> Workplace:
    """The workplace with the technician at the bench."""
    return workplace.as_person(keys.technician)


def opened(bench: Workplace, *tasks: str) -> int:
    return open_ticket(bench, "LK-01", cause="failed test", reason="Cell 2 rejected", tasks=tasks)


def tasks_of(bench: Workplace) -> list[Task]:
    with bench.database.read_session() as session:
        found = list(session.scalars(select(Task).order_by(Task.ordinal)))
        session.expunge_all()
        return found


def test_tickets_are_numbered_on_within_the_sites_year_without_gaps(bench: Workplace, clock: Any) -> None:
    first, second = opened(bench), opened(bench)
    with pytest.raises(Refused, match=r"^reason: "):
        open_ticket(bench, "LK-01", cause="by hand", reason="  ")
    let_pass(bench, clock, 300)
    third = opened(bench)
    assert [number_of(bench, key) for key in (first, second, third)] == ["2026-001", "2026-002", "2027-001"]


def test_nobody_at_the_bench_and_no_such_unit_open_no_ticket(workplace: Workplace, bench: Workplace) -> None:
    with pytest.raises(Refused, match=r"^person: "):
        opened(workplace)
    with pytest.raises(NotFound, match=r"^unit LK-99: "):
        open_ticket(bench, "LK-99", cause="by hand", reason="look")


def test_a_task_to_do_keeps_the_ticket_open_and_one_put_off_with_a_reason_does_not(
    bench: Workplace, keys: Keys
) -> None:
    key = opened(bench, "Look at cell 2", "Polish the case")
    assert len(reasons_against_signing(bench, key)) == 2
    first, second = tasks_of(bench)
    task_done(bench, first.id, minutes=15)
    with pytest.raises(Refused, match=r"^reason: "):
        put_off_task(bench, second.id, " ")
    put_off_task(bench, second.id, "no time before Friday")
    put_off_task(bench, second.id, "still no time")
    assert reasons_against_signing(bench, key) == ()
    assert tasks_of(bench)[1].times_put_off == 2


def test_a_ticket_without_task_and_finding_says_nothing_and_is_not_signed(bench: Workplace) -> None:
    key = opened(bench)
    assert "no task and no finding" in reasons_against_signing(bench, key)[0]
    add_finding(bench, key, "Nothing found")
    assert reasons_against_signing(bench, key) == ()


def test_after_a_workshop_opening_every_release_test_must_have_passed_anew(
    bench: Workplace, keys: Keys, clock: Any
) -> None:
    key = opened(bench)
    add_finding(bench, key, "Inhale valve leaks")
    record_test(bench, "LK-01", "loop negative", held=True, watched_minutes=3)
    clock.advance(minutes=5)
    fit_part(bench, "V-NEW", "LK-01", "inhale one-way valve", why_old="fault", ticket_id=key)
    clock.advance(minutes=5)
    against = reasons_against_signing(bench, key)
    # One-way valves in each direction and the loop both ways after every opening: common practice, no published
    # source.
    assert [line.split(":")[0] for line in against] == ["one-way valve", "loop negative", "loop positive"]
    for direction in ("inhale", "exhale"):
        record_test(bench, "LK-01", "one-way valve", held=True, direction=direction)
    record_test(bench, "LK-01", "loop positive", held=True, watched_minutes=3)
    assert [line.split(":")[0] for line in reasons_against_signing(bench, key)] == ["loop negative"]
    record_test(bench, "LK-01", "loop negative", held=False, watched_minutes=1)
    assert reasons_against_signing(bench, key)
    clock.advance(minutes=1)
    record_test(bench, "LK-01", "loop negative", held=True, watched_minutes=3)
    assert reasons_against_signing(bench, key) == ()


def test_a_signed_ticket_cannot_change_and_its_hash_is_that_of_the_journal(bench: Workplace, keys: Keys) -> None:
    key = opened(bench)
    add_finding(bench, key, "Nothing found")
    give_pin(bench, keys.technician, "4711")
    digest = sign_ticket(bench, key, signer_id=keys.technician, pin="4711")
    with bench.database.read_session() as session:
        last = session.scalars(select(Journal).order_by(Journal.id.desc())).first()
        assert last is not None and (last.hash, last.act) == (digest, "sign ticket")
        assert session.get_one(Ticket, key).signed_by_id == keys.technician
    for change in (
        lambda: add_finding(bench, key, "more"),
        lambda: add_task(bench, key, "more"),
        lambda: add_minutes(bench, key, 5),
        lambda: fit_part(bench, "C-NEW", "LK-01", "cell 1", why_old="age", ticket_id=key),
        lambda: record_test(bench, "LK-01", "loop negative", held=True, ticket_id=key),
    ):
        with pytest.raises(Refused, match="signed and closed; open a new ticket that refers to it"):
            change()


@pytest.mark.parametrize("pin", ["0000", "", "47111", "٤٧١١"])
def test_a_wrong_pin_signs_nothing(bench: Workplace, keys: Keys, pin: str) -> None:
    key = opened(bench)
    add_finding(bench, key, "Nothing found")
    give_pin(bench, keys.technician, "4711")
    with pytest.raises(Refused, match=r"^PIN: does not match"):
        sign_ticket(bench, key, signer_id=keys.technician, pin=pin)
    with bench.database.read_session() as session:
        assert session.get_one(Ticket, key).signed_at is None


@pytest.mark.parametrize("pin", ["", "123", "1234567890123", "12a4", "١٢٣٤", " 1234"])
def test_a_pin_of_another_form_is_refused(bench: Workplace, keys: Keys, pin: str) -> None:
    with pytest.raises(Refused, match=r"^PIN: give 4 to 12 digits"):
        set_pin(bench, keys.technician, pin)


def test_a_pin_is_kept_unreadable_and_not_replaced(bench: Workplace, keys: Keys) -> None:
    give_pin(bench, keys.technician, "4711")
    with bench.database.read_session() as session:
        kept = session.scalars(select(PersonPin)).one().pin_hash
        assert all(kept not in entry.content for entry in session.scalars(select(Journal)))
    assert "4711" not in kept and kept.startswith("$argon2id$")
    with pytest.raises(Refused, match="has one already"):
        set_pin(bench.as_person(keys.manager), keys.technician, "0815", manager_id=keys.manager)


def test_only_an_active_technician_or_manager_signs(bench: Workplace, keys: Keys) -> None:
    key = opened(bench)
    add_finding(bench, key, "Nothing found")
    with bench.transaction("add", "person") as act:
        renter = act.add(Person(code="R1", role="renter", erased_at=None)).id
    give_pin(bench, renter, "4711")
    with pytest.raises(Refused, match=r"^person R1: 'sign ticket' is not for the role renter"):
        sign_ticket(bench, key, signer_id=renter, pin="4711")
    with pytest.raises(Refused, match="has none yet; set one"):
        sign_ticket(bench, key, signer_id=keys.manager, pin="4711")


def test_the_desk_shows_what_stands_against_a_signature_and_who_may_sign(bench: Workplace, keys: Keys) -> None:
    opened(bench, "Replace cell 2")
    give_pin(bench, keys.manager, "4711")
    desk = ticket_desk(bench, "2026-1")
    assert desk.is_open and len(desk.against) == 1
    assert [(each.name, each.has_pin) for each in desk.signers] == [("Jarek Vinthe", True), ("Tamsin Orrel", False)]
    assert [line.slot for line in desk.slots][:2] == ["head", "cell 1"]
    with pytest.raises(NotFound):
        ticket_desk(bench, "2026-99")


@pytest.mark.parametrize("minutes", [0.0, -1.0, 1441.0, float("nan")])
def test_minutes_out_of_reason_are_refused(bench: Workplace, minutes: float) -> None:
    key = opened(bench)
    with pytest.raises(Refused, match=r"^minutes: "):
        add_minutes(bench, key, minutes)


def test_several_finished_tickets_are_signed_under_one_pin_or_none_of_them(bench: Workplace, keys: Keys) -> None:
    first, second, third = opened(bench), opened(bench), opened(bench, "Replace cell 2")
    for key in (first, second):
        add_finding(bench, key, "Nothing found")
    give_pin(bench, keys.technician, "4711")
    with pytest.raises(Refused, match=r"^ticket 2026-003: task 'Replace cell 2': still to do"):
        sign_tickets(bench, (first, second, third), signer_id=keys.technician, pin="4711")
    with pytest.raises(Refused, match=r"^tickets: none is chosen"):
        sign_tickets(bench, (), signer_id=keys.technician, pin="4711")
    with bench.database.read_session() as session:
        assert all(ticket.signed_at is None for ticket in session.scalars(select(Ticket)))
    digest = sign_tickets(bench, (first, second, first), signer_id=keys.technician, pin="4711")
    with bench.database.read_session() as session:
        signed = session.scalars(select(Ticket.id).where(Ticket.signed_by_id == keys.technician)).all()
        assert set(signed) == {first, second}
        assert session.scalars(select(Journal.hash).where(Journal.act == "sign ticket")).all() == [digest]


@pytest.mark.parametrize(
    ("task", "said"),
    [
        ("Test injector flow", "injector flow: no passed test since this was opened"),
        ("Check the bailout valve", "bailout valve: no passed test"),
        ("Test one-way valve", "one-way valve: no passed test"),
        ("Test the loop", "loop negative: no passed test.*loop positive: no passed test"),
        ("Calibrate the cells", "cell 1: no calibration since this was opened"),
        ("Replace cell 2", "cell 2: nothing was fitted there"),
        ("Photograph the gland", "no photograph was added"),
    ],
)
def test_a_task_that_a_record_settles_is_not_ticked_by_hand_without_it(bench: Workplace, task: str, said: str) -> None:
    key = opened(bench, task)
    with pytest.raises(Refused, match=said):
        task_done(bench, tasks_of(bench)[0].id)
    assert "still to do" in reasons_against_signing(bench, key)[0]


def test_what_was_made_before_the_ticket_was_opened_settles_nothing(bench: Workplace, clock: Any) -> None:
    record_test(bench, "LK-01", "bailout valve", held=True)
    clock.advance(minutes=5)
    opened(bench, "Test bailout valve")
    with pytest.raises(Refused, match="bailout valve: no passed test"):
        task_done(bench, tasks_of(bench)[0].id)
    record_test(bench, "LK-01", "bailout valve", held=True)
    assert tasks_of(bench)[0].state == "done"


def test_a_test_that_failed_after_the_tick_stands_against_the_signature(bench: Workplace, clock: Any) -> None:
    key = opened(bench, "Test bailout valve")
    record_test(bench, "LK-01", "bailout valve", held=True)
    assert reasons_against_signing(bench, key) == ()
    clock.advance(minutes=5)
    record_test(bench, "LK-01", "bailout valve", held=False)
    assert "a test did not pass" in reasons_against_signing(bench, key)[0]
    assert ticket_desk(bench, "2026-1").page.tasks[0].state == "to do"
    clock.advance(minutes=5)
    record_test(bench, "LK-01", "bailout valve", held=True)
    assert reasons_against_signing(bench, key) == ()


def test_a_loop_opened_after_its_test_is_to_test_again_under_the_ticket(bench: Workplace, clock: Any) -> None:
    key = opened(bench, "Test loop negative")
    record_test(bench, "LK-01", "loop negative", held=True, watched_minutes=3)
    assert ticket_desk(bench, "2026-1").page.tasks[0].state == "done"
    clock.advance(minutes=5)
    fit_part(bench, "V-NEW", "LK-01", "inhale one-way valve", why_old="fault", ticket_id=key)
    (task,) = ticket_desk(bench, "2026-1").page.tasks
    assert task.state == "to do" and "since the loop was opened" in task.fact.missing[0]
    clock.advance(minutes=5)
    record_test(bench, "LK-01", "loop negative", held=True, watched_minutes=3)
    (task,) = ticket_desk(bench, "2026-1").page.tasks
    assert (task.state, task.task.settled_at) == ("done", clock())


def test_a_signature_stands_for_what_was_on_the_screen_and_is_refused_with_what_was_added(
    bench: Workplace, keys: Keys
) -> None:
    key, pin = opened(bench), "4711"
    add_finding(bench, key, "Nothing found")
    give_pin(bench, keys.technician, pin)
    page = ticket_desk(bench, number_of(bench, key)).page

    def refused(as_of: int | None) -> Clash:
        with pytest.raises(Clash) as added:
            sign_ticket(bench, key, signer_id=keys.technician, pin=pin, as_of=as_of)
        return added.value

    other = open_ticket(bench, "LK-01", cause="by hand", reason="look at the strap")
    add_finding(bench, other, "strap worn")  # under another ticket
    add_finding(bench, key, "CRACK in the counterlung weld")  # at another desk
    first = refused(page.as_of)
    assert re.search(r"finding \(CRACK in the counterlung weld\) by .+ at \d\d:\d\d", str(first))
    assert "strap" not in str(first)
    add_task(bench, key, "Look at the weld")
    second = refused(first.now)
    assert "Look at the weld" in str(second) and "CRACK" not in str(second)
    put_off_task(bench, tasks_of(bench)[-1].id, "to the maker")  # a change keeps the changed columns alone
    third = refused(second.now)
    assert "to the maker" in str(third)
    assert sign_ticket(bench, key, signer_id=keys.technician, pin=pin, as_of=third.now)
