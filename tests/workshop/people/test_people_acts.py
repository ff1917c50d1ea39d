"""People enter, their papers are seen and never kept, and they leave; the journal holds no name."""

from datetime import timedelta
from typing import Any

import pytest
from sqlalchemy import select

from fleetbench.records.core.database import Database
from fleetbench.records.core.errors import Clash, Refused
from fleetbench.records.core.journal import Journal
from fleetbench.records.people.tables import Qualification
from fleetbench.records.upkeep.verify import verify
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.people.acts import (
    change_contact,
    end_service,
    enter_person,
    erase_person,
    place_legal_hold,
    see_paper,
    set_retention,
)
from fleetbench.workshop.people.list import people_desk, person_page
from fleetbench.workshop.tickets.work import open_ticket
from tests.centres.bench_centre import Keys, write_centre
from tests.centres.pins import give_pin


@pytest.fixture
def keys(sqlite_database: Database, clock: Any) -> Keys:
    """The small centre, written."""
    return write_centre(sqlite_database, clock())


@pytest.fixture
def manager(sqlite_database: Database, clock: Any, keys: Keys) -> Workplace:
    """The manager at the desk."""
    return Workplace(sqlite_database, clock, keys.manager)


def test_a_renter_is_entered_at_the_desk_and_staff_by_a_manager_only(
    manager: Workplace, keys: Keys, clock: Any
) -> None:
    technician = manager.as_person(keys.technician)
    renter = enter_person(technician, "R-7", "renter", "Zoë Ångström", "zoe@mail.invalid")
    with pytest.raises(Refused, match="'enter staff' is not for the role technician; ask a manager"):
        enter_person(technician, "T2", "technician", "Somebody New")
    enter_person(manager, "T2", "technician", "Somebody New")
    for code, said in (("r-7", "it is or was in use"), ("", "1 to 20 letters"), ("R 7", "1 to 20 letters")):
        with pytest.raises(Refused, match=said):
            enter_person(manager, code, "renter", "Another")
    with pytest.raises(Refused, match=r"^name: is empty"):
        enter_person(manager, "R-8", "renter", " ")
    with pytest.raises(Refused, match=r"^role"):
        enter_person(manager, "R-8", "captain", "Another")
    clock.advance(minutes=1)
    change_contact(technician, renter, "Zoë Ångström-Ek", "")
    page = person_page(technician, "R-7")
    assert (page.row.name, page.row.contact) == ("Zoë Ångström-Ek", None)
    with manager.database.read_session() as session:
        assert not any("ngstr" in entry.content for entry in session.scalars(select(Journal)))
    assert verify(manager.database).whole


def test_papers_are_seen_on_a_day_by_somebody_and_staff_papers_by_a_manager(manager: Workplace, keys: Keys) -> None:
    technician, today = manager.as_person(keys.technician), manager.today()
    renter = enter_person(technician, "R-7", "renter", "Zoë Ångström")
    see_paper(technician, renter, "medical", unit_type=None, seen_on=today, valid_until=today + timedelta(days=365))
    see_paper(technician, renter, "diver", unit_type="TYPE-L", seen_on=today, valid_until=None)
    with pytest.raises(Refused, match="'see staff papers' is not for the role technician"):
        see_paper(technician, keys.technician, "technician", unit_type="TYPE-L", seen_on=today, valid_until=None)
    for kind, unit_type, seen_on, until, said in (
        ("medical", "TYPE-L", today, None, "for no unit type"),
        ("diver", "TYPE-L", today + timedelta(days=1), None, "still to come"),
        ("diver", "TYPE-L", today, today - timedelta(days=1), "before the day it was seen"),
        ("diver", "TYPE-X", today, None, "unit type TYPE-X: not recorded"),
        ("technician", None, today, None, "recorded of the staff"),
        ("poem", None, today, None, "kind"),
    ):
        with pytest.raises(Refused, match=said):
            see_paper(manager, renter, kind, unit_type=unit_type, seen_on=seen_on, valid_until=until)
    papers = person_page(technician, "R-7").papers
    assert [(each.kind, each.unit_type, each.seen_by) for each in papers] == [
        ("medical", None, "Tamsin Orrel"), ("diver", "Back-mounted unit, type L", "Tamsin Orrel"),
    ]  # fmt: skip
    kept = {column.name for column in Qualification.__table__.columns}
    assert kept == {"id", "ref", "person_id", "unit_type_id", "kind", "seen_on", "seen_by_id", "valid_until"}


def test_nobody_sees_their_own_papers_where_another_manager_could(manager: Workplace, keys: Keys) -> None:
    today = manager.today()
    see_paper(manager, keys.manager, "technician", unit_type=None, seen_on=today, valid_until=None)
    enter_person(manager, "M2", "manager", "Another Manager")
    with pytest.raises(Refused, match="nobody sees their own papers"):
        see_paper(manager, keys.manager, "technician", unit_type=None, seen_on=today, valid_until=None)


def test_the_last_manager_stays_and_whoever_left_acts_no_more(manager: Workplace, keys: Keys) -> None:
    with pytest.raises(Refused, match="is the last manager"):
        end_service(manager, keys.manager)
    end_service(manager, keys.technician)
    with pytest.raises(Refused, match="no longer active already"):
        end_service(manager, keys.technician)
    with pytest.raises(Refused, match=r"^person T1: is no longer active"):
        open_ticket(manager.as_person(keys.technician), "LK-01", cause="by hand", reason="look")


def test_the_desk_tells_years_legal_holds_and_what_is_erased(manager: Workplace) -> None:
    renter = enter_person(manager, "R-7", "renter", "Zoë Ångström", "zoe@mail.invalid")
    set_retention(manager, "names and contacts", 5, "our privacy notice")
    hold = place_legal_hold(manager, renter, "claim 12")
    desk = people_desk(manager)
    assert desk.years[0] == ("names and contacts", 5, "our privacy notice") and desk.role == "manager"
    assert [each.hold_id for each in person_page(manager, "R-7").legal_holds] == [hold]
    with pytest.raises(Refused, match="stands above erasure"):
        erase_person(manager, renter)
    other = enter_person(manager, "R-8", "renter", "Gone Soon")
    erase_person(manager, other)
    gone = person_page(manager, "R-8").row
    assert (gone.name, gone.erased, gone.active) == ("R-8", True, False)
    for change in (
        lambda: change_contact(manager, other, "Back Again", ""),
        lambda: see_paper(manager, other, "medical", unit_type=None, seen_on=manager.today(), valid_until=None),
    ):
        with pytest.raises(Refused, match="is erased; nothing is written"):
            change()


def test_at_a_window_somebody_must_be_chosen_once_anybody_is_recorded(sqlite_database: Database, clock: Any) -> None:
    workplace = Workplace(sqlite_database, clock, attended=True)
    first = enter_person(workplace, "M1", "manager", "First Manager")
    with pytest.raises(Refused, match=r"^person: nobody is signed in; choose your name at the top of the window"):
        enter_person(workplace, "M2", "manager", "Second Manager")
    enter_person(workplace.as_person(first), "M2", "manager", "Second Manager")
    give_pin(workplace, first, "4711")


def test_a_contact_that_another_desk_saved_meanwhile_is_shown_and_not_lost(manager: Workplace) -> None:
    renter = enter_person(manager, "R-7", "renter", "Zoë Ångström", "zoe@mail.invalid")
    seen = {"name": "Zoë Ångström", "contact": "zoe@mail.invalid"}
    change_contact(manager, renter, "Zoë Ångström", "0555 emergency", seen)
    with pytest.raises(Clash, match="person R-7: contact: 0555 emergency by another desk, 0555 other here") as clash:
        change_contact(manager, renter, "Zoë Ångström-Ek", "0555 other", seen)
    assert person_page(manager, "R-7").row.contact == "0555 emergency"
    change_contact(manager, renter, "Zoë Ångström-Ek", "zoe@mail.invalid", seen)
    row = person_page(manager, "R-7").row
    assert (row.name, row.contact) == ("Zoë Ångström-Ek", "0555 emergency"), "the contact was left as it was seen"
    change_contact(manager, renter, "Zoë Ångström-Ek", "0555 other", seen | clash.value.now)
    assert person_page(manager, "R-7").row.contact == "0555 other"
