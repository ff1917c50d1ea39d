"""Erasing a renter leaves the history whole and nameless, unless a legal hold or an open booking stands above it."""

from collections.abc import Callable
from datetime import date
from typing import Any

import pytest
from sqlalchemy import select, text

from fleetbench.calc.people.retention import kept_through, overdue
from fleetbench.records.core.database import Database
from fleetbench.records.core.errors import Refused
from fleetbench.records.hires.tables import Booking, BookingUnit, HireNote
from fleetbench.records.people.tables import Person, PersonPrivate
from fleetbench.records.upkeep.verify import verify
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.people.acts import (
    erase_person,
    lift_legal_hold,
    place_legal_hold,
    set_retention,
)
from fleetbench.workshop.people.list import list_people, people_desk, sees_personal_data
from tests.centres.bench_centre import Keys, write_centre
from tests.centres.pins import give_pin

WORDS = "Lindqvara said the mouthpiece tastes of soap"


class Desk:
    """The small centre with a renter, their hire of last year, and a word about it."""

    def __init__(self, workplace: Workplace, clock: Any) -> None:
        self.clock = clock
        self.keys: Keys = write_centre(workplace.database, clock())
        self.system = workplace
        self.workplace = workplace.as_person(self.keys.manager)
        with workplace.transaction("write", "renter") as act:
            self.renter = act.add(Person(code="R1", role="renter")).id
            act.add(PersonPrivate(person_id=self.renter, name="Mirko Lindqvara", contact="mirko@example.org"))
            self.booking = act.add(
                Booking(kind="hire", code="H-1", unit_type_id=self.keys.unit_type, starts_on=date(2025, 5, 1),
                        ends_on=date(2025, 5, 3), units_wanted=1, renter_id=self.renter)
            ).id  # fmt: skip
            line = act.add(BookingUnit(booking_id=self.booking, unit_id=self.keys.units[0], diver_id=self.renter,
                                       out_at=act.at, received_at=act.at)).id  # fmt: skip
            act.add(HireNote(booking_unit_id=line, at=act.at, text=WORDS))


@pytest.fixture
def desk(database: Database, clock: Any) -> Desk:
    """The desk on either database."""
    return Desk(Workplace(database, clock), clock)


def everything(desk: Desk) -> str:
    with desk.workplace.database.reading() as connection:
        tables = ("person", "person_private", "hire_note", "person_pin", "journal", "booking", "booking_unit")
        return "\n".join(str(row) for table in tables for row in connection.execute(text(f"SELECT * FROM {table}")))


def test_an_erased_renter_is_nowhere_by_name_and_the_history_verifies(desk: Desk) -> None:
    give_pin(desk.workplace, desk.renter, "4711")
    assert "Lindqvara" in everything(desk) and "argon2" in everything(desk)
    erase_person(desk.workplace, desk.renter)
    left = everything(desk)
    assert "Lindqvara" not in left and "mirko" not in left and "argon2" not in left
    row = next(each for each in list_people(desk.workplace) if each.person_id == desk.renter)
    assert (row.name, row.erased, row.active) == ("R1", True, False)
    with desk.workplace.database.reading() as connection:
        assert connection.scalar(select(Booking.renter_id)) == desk.renter
    assert verify(desk.workplace.database).first_break is None
    with pytest.raises(Refused, match=r"^person: is erased already"):
        erase_person(desk.workplace, desk.renter)


def test_a_legal_hold_stands_above_erasing_until_it_is_lifted(desk: Desk) -> None:
    hold = place_legal_hold(desk.workplace, desk.renter, "claim 17")
    with pytest.raises(Refused, match=r"^legal hold: 'claim 17' stands above erasure"):
        erase_person(desk.workplace, desk.renter)
    assert "Lindqvara" in everything(desk)
    lift_legal_hold(desk.workplace, hold)
    with pytest.raises(Refused, match="is lifted already"):
        lift_legal_hold(desk.workplace, hold)
    erase_person(desk.workplace, desk.renter)


def test_nobody_is_erased_while_a_booking_is_open_or_while_they_work_here(desk: Desk) -> None:
    with desk.system.transaction("write", "booking") as act:
        act.change(act.get(Booking, desk.booking, "booking"), ends_on=date(2026, 5, 4))
    with pytest.raises(Refused, match=r"^booking H-1: is still open"):
        erase_person(desk.workplace, desk.renter)
    with pytest.raises(Refused, match=r"^person: is a technician"):
        erase_person(desk.workplace, desk.keys.technician)


ACTS: tuple[Callable[[Workplace, int], object], ...] = (
    erase_person,
    lambda workplace, person: place_legal_hold(workplace, person, "claim"),
    lambda workplace, _person: set_retention(workplace, "names and contacts", 3, "the centre"),
)


@pytest.mark.parametrize("work", ACTS)
def test_only_a_manager_erases_holds_and_sets_years(desk: Desk, work: Callable[[Workplace, int], object]) -> None:
    with pytest.raises(Refused, match="is not for the role technician; ask a manager"):
        work(desk.system.as_person(desk.keys.technician), desk.renter)
    with pytest.raises(Refused, match=r"^person: nobody is signed in"):
        work(desk.system, desk.renter)


def test_whose_names_are_kept_too_long_is_told_by_the_years_set(desk: Desk) -> None:
    assert people_desk(desk.workplace).time_has_come == ()
    set_retention(desk.workplace, "names and contacts", 2, "the centre's own rule")
    assert people_desk(desk.workplace).time_has_come == ()
    set_retention(desk.workplace, "names and contacts", 1, "the centre's own rule")
    assert people_desk(desk.workplace).time_has_come == ("R1",)
    erase_person(desk.workplace, desk.renter)
    assert people_desk(desk.workplace).time_has_come == ()
    with pytest.raises(Refused, match=r"^years: "):
        set_retention(desk.workplace, "names and contacts", 101, "x")
    with pytest.raises(Refused, match=r"^kind"):
        set_retention(desk.workplace, "tickets", 3, "x")


def test_a_record_is_kept_through_the_day_before_the_anniversary() -> None:
    assert kept_through(date(2025, 1, 15), 1) == date(2026, 1, 14)
    assert not overdue(date(2025, 1, 15), 1, date(2026, 1, 14))
    assert overdue(date(2025, 1, 15), 1, date(2026, 1, 15))
    assert not overdue(None, 1, date(2026, 1, 15)) and not overdue(date(2025, 1, 15), None, date(2030, 1, 1))


def test_contacts_are_for_technicians_and_managers(desk: Desk) -> None:
    assert sees_personal_data(desk.workplace)
    assert sees_personal_data(desk.system.as_person(desk.keys.technician))
    contacts = {row.code: row.contact for row in list_people(desk.workplace)}
    assert contacts["R1"] == "mirko@example.org"
    assert all(row.contact is None for row in list_people(desk.system))
    assert not sees_personal_data(desk.system) and not sees_personal_data(desk.system.as_person(desk.renter))
