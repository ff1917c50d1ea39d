"""Roles and PINs below the window: every act tried by every role, wrong PINs counted, a lost one reset."""

import subprocess
import sys
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from sqlalchemy import func, select, text

from fleetbench.calc.people.permits import ACTS, Role, desk_wait, may
from fleetbench.records.core.database import Database
from fleetbench.records.core.errors import Refused
from fleetbench.records.core.journal import Journal
from fleetbench.records.core.transaction import transaction
from fleetbench.records.people.tables import Person, PersonPin, keep_pin
from fleetbench.records.tickets.tables import Task
from fleetbench.records.units.tables import Hold
from fleetbench.records.upkeep.verify import verify
from fleetbench.workshop.bench.tests import record_test
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.parts.fit import fit_part, remove_part
from fleetbench.workshop.people.acts import HASHER, change_pin, reset_pin, set_pin
from fleetbench.workshop.tickets.work import NewTask, SecondPerson, add_finding, open_ticket, sign_ticket, task_done
from tests.centres.bench_centre import Keys, write_centre
from tests.centres.pins import give_pin
from tests.centres.quick_pins import SHIPPED


@pytest.fixture
def workplace(database: Database, clock: Any) -> Workplace:
    """An empty workplace on either database."""
    return Workplace(database, clock)


@pytest.fixture
def keys(workplace: Workplace, clock: Any) -> Keys:
    """The small centre, written."""
    return write_centre(workplace.database, clock())


def somebody_of(workplace: Workplace, role: str) -> int:
    with workplace.as_person(None).transaction("add", "person") as act:
        return act.add(Person(code=f"P-{role}", role=role)).id


def entries(workplace: Workplace) -> int:
    with workplace.database.reading() as connection:
        return int(connection.scalar(select(func.count()).select_from(Journal)) or 0)


def note_something(workplace: Workplace, name: str, unit: int, person: int) -> None:
    with workplace.transaction(name, "trial") as act:
        act.add(Hold(unit_id=unit, kind="manual", reason="trial", placed_at=act.at, placed_by_id=person))


def test_every_act_is_tried_by_every_role(workplace: Workplace, keys: Keys) -> None:
    people = {role: somebody_of(workplace, role) for role in tuple(Role)}
    for role, person in people.items():
        for name in ACTS:
            before = entries(workplace)
            try:
                note_something(workplace.as_person(person), name, keys.units[0], person)
            except Refused as refusal:
                assert not may(role, name)
                assert str(refusal).startswith(f"person P-{role}: '{name}' is not for the role {role}; ask a ")
                assert "\n" not in str(refusal)
            else:
                assert may(role, name)
            assert entries(workplace) - before == may(role, name)


def test_an_act_without_a_person_is_the_programs_own(workplace: Workplace, keys: Keys) -> None:
    note_something(workplace, "import", keys.units[0], keys.manager)
    note_something(workplace, "an act nobody named", keys.units[0], keys.manager)
    with workplace.database.read_session() as session:
        entries = session.scalars(select(Journal).order_by(Journal.id.desc()).limit(2)).all()
    assert [(entry.act, entry.person_id) for entry in entries] == [("an act nobody named", None), ("import", None)]


def test_an_act_in_no_table_and_a_person_who_left_are_refused(workplace: Workplace, keys: Keys) -> None:
    with pytest.raises(Refused, match=r"^an act nobody named: stands in no list"):
        note_something(workplace.as_person(keys.manager), "an act nobody named", keys.units[0], keys.manager)
    with workplace.transaction("change", "person") as act:
        act.change(act.get(Person, keys.manager, "person"), active=False)
    with pytest.raises(Refused, match=r"^person M1: is no longer active"):
        note_something(workplace.as_person(keys.manager), "finding", keys.units[0], keys.manager)


def test_an_instructor_fits_a_loaner_cell_and_nothing_else(workplace: Workplace, keys: Keys) -> None:
    # Instructors may fit a loaner cell, record a daily calibration, discard a fill: common practice, no published
    # source.
    instructor = workplace.as_person(somebody_of(workplace, "instructor"))
    fit_part(instructor, "C-NEW", "LK-01", "cell 1", why_old="age")
    for refused in (
        lambda: fit_part(instructor, "V-NEW", "LK-01", "inhale one-way valve", why_old="fault"),
        lambda: remove_part(instructor, "LK-01", "inhale one-way valve", why="fault"),
        lambda: record_test(instructor, "LK-01", "loop negative", held=True, watched_minutes=3),
    ):
        with pytest.raises(Refused, match="is not for the role instructor; ask a manager or technician"):
            refused()


def ready_ticket(bench: Workplace) -> int:
    key = open_ticket(bench, "LK-01", cause="by hand", reason="look")
    add_finding(bench, key, "Nothing found")
    return key


def kept(workplace: Workplace) -> PersonPin:
    with workplace.database.read_session() as session:
        row = session.scalars(select(PersonPin)).one()
        session.expunge_all()
        return row


def test_wrong_pins_are_counted_though_the_act_is_rolled_back_and_make_one_wait(
    workplace: Workplace, keys: Keys, clock: Any
) -> None:
    bench = workplace.as_person(keys.technician)
    key = ready_ticket(bench)
    give_pin(bench, keys.technician, "4711")
    for count in (1, 2, 3):
        with pytest.raises(Refused, match=r"^PIN: does not match"):
            sign_ticket(bench, key, signer_id=keys.technician, pin="0000")
        assert kept(workplace).tries == count
    with pytest.raises(Refused, match=r"^PIN: entered wrongly 3 times; try again in 30 s"):
        sign_ticket(bench, key, signer_id=keys.technician, pin="4711")
    assert kept(workplace).tries == 3
    clock.advance(seconds=30)
    with pytest.raises(Refused, match=r"^PIN: does not match"):
        sign_ticket(bench, key, signer_id=keys.technician, pin="0000")
    clock.advance(seconds=59)
    with pytest.raises(Refused, match=r"try again in 1 s"):
        sign_ticket(bench, key, signer_id=keys.technician, pin="4711")
    clock.advance(seconds=1)
    sign_ticket(bench, key, signer_id=keys.technician, pin="4711")
    assert (kept(workplace).tries, kept(workplace).last_wrong) == (0, None)
    assert verify(workplace.database).first_break is None


def test_a_hundred_wrong_pins_close_it_until_a_manager_resets_it(workplace: Workplace, keys: Keys, clock: Any) -> None:
    bench = workplace.as_person(keys.technician)
    key = ready_ticket(bench)
    give_pin(bench, keys.technician, "4711")
    give_pin(bench, keys.manager, "1234")
    with workplace.database.engine.begin() as connection:
        connection.execute(text("UPDATE person_pin SET tries = 100 WHERE person_id = :key"), {"key": keys.technician})
    clock.advance(days=30)
    with pytest.raises(Refused, match=r"^PIN: entered wrongly too often; let a manager reset it"):
        sign_ticket(bench, key, signer_id=keys.technician, pin="4711")
    reset_pin(workplace.as_person(keys.manager), keys.technician, pin="1234")
    with pytest.raises(Refused, match=r"^PIN: this person has none yet"):
        sign_ticket(bench, key, signer_id=keys.technician, pin="4711")
    give_pin(bench, keys.technician, "0815")
    sign_ticket(bench, key, signer_id=keys.technician, pin="0815")
    with workplace.database.read_session() as session:
        reset = session.scalars(select(Journal).where(Journal.act == "reset PIN")).one()
        assert (reset.person_id, reset.subject) == (keys.manager, f"person {keys.technician}")
    assert verify(workplace.database).first_break is None


def test_a_pin_is_reset_by_a_manager_under_their_own_pin_only(workplace: Workplace, keys: Keys) -> None:
    give_pin(workplace, keys.technician, "4711")
    give_pin(workplace, keys.manager, "1234")
    with pytest.raises(Refused, match=r"^person T1: 'reset PIN' is not for the role technician; ask a manager"):
        reset_pin(workplace.as_person(keys.technician), keys.technician, pin="4711")
    with pytest.raises(Refused, match=r"^PIN: does not match"):
        reset_pin(workplace.as_person(keys.manager), keys.technician, pin="4711")
    with pytest.raises(Refused, match=r"^person: choose the manager"):
        reset_pin(workplace, keys.technician, pin="1234")


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE person_pin SET pin_hash = '$argon2id$v=19$other'",
        "DELETE FROM person_pin",
        "UPDATE person SET pin_digest = NULL",
    ],
)
def test_a_pin_exchanged_behind_the_journals_back_is_found_and_signs_nothing(
    workplace: Workplace, keys: Keys, statement: str
) -> None:
    bench = workplace.as_person(keys.technician)
    key = ready_ticket(bench)
    give_pin(bench, keys.technician, "4711")
    assert verify(workplace.database).whole
    with workplace.database.engine.begin() as connection:
        connection.execute(text(statement))
    assert "person" in str(verify(workplace.database).first_break)
    with pytest.raises(Refused, match=r"^PIN: "):
        sign_ticket(bench, key, signer_id=keys.technician, pin="4711")


def last_entry(workplace: Workplace) -> tuple[str, int | None, str]:
    with workplace.database.read_session() as session:
        entry = session.scalars(select(Journal).order_by(Journal.id.desc())).first()
        assert entry is not None
        return entry.act, entry.person_id, entry.subject


def test_the_first_manager_sets_their_own_pin_alone_and_nobody_elses(workplace: Workplace, keys: Keys) -> None:
    with pytest.raises(Refused, match=r"^manager: a first PIN is set with a manager present"):
        set_pin(workplace.as_person(keys.technician), keys.manager, "2468")
    with pytest.raises(Refused, match=r"^person T1: 'set first manager's PIN' is not for the role technician"):
        set_pin(workplace.as_person(keys.technician), keys.technician, "1357")
    set_pin(workplace.as_person(keys.manager), keys.manager, "2468")
    assert last_entry(workplace) == ("set first manager's PIN", keys.manager, f"person {keys.manager}")
    other = somebody_of(workplace, "manager")
    with pytest.raises(Refused, match=r"^manager: a first PIN is set with a manager present; another manager has one"):
        set_pin(workplace.as_person(other), other, "8642")


def test_a_first_pin_is_set_with_a_manager_beside_and_the_journal_names_the_manager(
    workplace: Workplace, keys: Keys
) -> None:
    set_pin(workplace.as_person(keys.manager), keys.manager, "2468")
    own, theirs = workplace.as_person(keys.technician), keys.technician
    for manager, given, said in (
        (keys.manager, "0000", r"^manager's PIN: does not match"),
        (keys.technician, "2468", r"^person T1: 'set first PIN' is not for the role technician"),
        (None, "", r"^person T1: 'set first manager's PIN' is not"),
    ):
        with pytest.raises(Refused, match=said):
            set_pin(own, theirs, "1357", manager_id=manager, manager_pin=given)
    assert kept(workplace).tries == 1, "a guess at the manager's PIN is counted"
    set_pin(own, theirs, "1357", manager_id=keys.manager, manager_pin="2468")
    assert last_entry(workplace) == ("set first PIN", keys.manager, f"person {theirs}")
    with pytest.raises(Refused, match=r"^PIN: this person has one already"):
        set_pin(own, theirs, "9999", manager_id=keys.manager, manager_pin="2468")


def test_changing_a_pin_asks_for_the_old_one(workplace: Workplace, keys: Keys) -> None:
    give_pin(workplace, keys.technician, "1357")
    with pytest.raises(Refused, match=r"^old PIN: does not match"):
        change_pin(workplace.as_person(keys.manager), keys.technician, "0000", "8642")
    change_pin(workplace.as_person(keys.technician), keys.technician, "1357", "8642")
    assert last_entry(workplace) == ("change PIN", keys.technician, f"person {keys.technician}")
    with pytest.raises(Refused, match=r"^old PIN: does not match"):
        change_pin(workplace, keys.technician, "1357", "2222")


def test_a_pin_that_anybody_could_set_proves_no_second_person(workplace: Workplace, keys: Keys) -> None:
    """As an earlier program kept it: an entry 'set PIN' in the name of its owner, whoever typed it."""
    bench = workplace.as_person(keys.technician)
    key = open_ticket(
        bench, "LK-01", cause="by hand", reason="look", tasks=(NewTask("Rebuild the valve", second_person=True),)
    )
    with workplace.database.read_session() as session:
        task = session.scalars(select(Task.id)).one()
    task_done(bench, task)
    give_pin(workplace, keys.technician, "1357")
    with transaction(workplace.database, workplace.clock, keys.manager, "set PIN", f"person {keys.manager}") as act:
        keep_pin(act, act.get(Person, keys.manager, "person"), HASHER.hash("2468"))
    second = SecondPerson(keys.manager, "2468")
    with pytest.raises(Refused, match=r"^second person: the PIN of M1 was set with no manager present"):
        sign_ticket(bench, key, signer_id=keys.technician, pin="1357", second=second)
    reset_pin(workplace.as_person(keys.manager), keys.manager, pin="2468")
    set_pin(workplace.as_person(keys.manager), keys.manager, "8642")
    sign_ticket(bench, key, signer_id=keys.technician, pin="1357", second=SecondPerson(keys.manager, "8642"))


TRIER = """
import sys
from datetime import UTC, datetime
from fleetbench.records.core.database import Database
from fleetbench.records.core.errors import Refused
from fleetbench.records.upkeep.tables import metadata
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.people.acts import change_pin
workplace = Workplace(Database(sys.argv[1]), lambda: datetime(2026, 5, 4, 7, 30, 1, tzinfo=UTC))
for number in range(24):
    try:
        change_pin(workplace, int(sys.argv[2]), f"{number:04d}", "9999")
    except Refused as refusal:
        print(refusal)
"""


def test_two_desks_that_try_pins_at_once_get_the_free_tries_once(workplace: Workplace, keys: Keys) -> None:
    give_pin(workplace, keys.technician, "4711")
    workplace.database.engine.dispose()
    url = workplace.database.engine.url.render_as_string(hide_password=False)
    command = [sys.executable, "-c", TRIER, url, str(keys.technician)]
    desks = [subprocess.Popen(command, stdout=subprocess.PIPE, text=True) for _ in range(2)]
    said = [line for desk in desks for line in desk.communicate(timeout=60)[0].splitlines()]
    assert len(said) == 48
    assert sum("does not match" in line for line in said) == 3
    assert kept(workplace).tries == 3


def test_pins_cannot_be_tried_through_person_by_person(workplace: Workplace, keys: Keys, clock: Any) -> None:
    give_pin(workplace, keys.technician, "4711")
    with workplace.transaction("write", "wrong entries") as act:
        for role, tries in (("manager", 3), ("instructor", 3), ("renter", 90), ("student", 1)):
            person = act.add(Person(code=f"P-{role}", role=role))
            act.add(PersonPin(person_id=person.id, pin_hash="none", tries=tries, last_wrong=clock()))
    for moved in (0, -20):
        clock.advance(seconds=moved)
        with pytest.raises(Refused, match=r"^old PIN: too many wrong PINs were entered here; try again in 30 s"):
            change_pin(workplace, keys.technician, "4711", "0815")
    clock.advance(seconds=50)
    change_pin(workplace, keys.technician, "4711", "0815")


def test_everybody_waits_longer_with_each_wrong_entry_for_another_person_and_one_closed_pin_is_no_reason() -> None:
    now = datetime(2026, 5, 4, 7, tzinfo=UTC)
    assert desk_wait([(99, now)], now) == timedelta(0) == desk_wait([], now)
    seconds = [desk_wait([(3, now)] * 3 + [(1, now)] * more, now).total_seconds() for more in (0, 1, 2, 3, 40)]
    assert seconds == [0, 30, 60, 120, 3600]
    assert desk_wait([(3, now - timedelta(days=1))] * 9, now) == timedelta(0)


def test_a_pin_is_kept_as_argon2id_with_what_the_standard_recommends(
    workplace: Workplace, keys: Keys, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("tests.centres.pins.HASHER", SHIPPED)
    give_pin(workplace, keys.technician, "4711")
    assert kept(workplace).pin_hash.startswith("$argon2id$v=19$m=65536,t=3,p=4$")  # RFC 9106 section 4
