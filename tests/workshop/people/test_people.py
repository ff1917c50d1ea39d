"""People by code and name, and what is left of one whose name was erased."""

from typing import Any

import pytest
from sqlalchemy import delete

from fleetbench.records.core.errors import Refused
from fleetbench.records.people.tables import Person, PersonPrivate, Qualification
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.hires.list import list_bookings
from fleetbench.workshop.people.list import list_people, list_qualifications, person_id
from tests.centres.ready_centre import Centre


@pytest.fixture
def centre(workplace: Workplace, clock: Any) -> Centre:
    """The small centre, its units fit to leave."""
    return Centre(workplace, clock)


def test_an_erased_name_leaves_the_code_everywhere(centre: Centre) -> None:
    with centre.act() as act:
        act.session.execute(delete(PersonPrivate).where(PersonPrivate.person_id == centre.keys.renter))
        act.change(act.get(Person, centre.keys.renter, "person"), erased_at=centre.clock())
    erased = next(row for row in list_people(centre.workplace) if row.person_id == centre.keys.renter)
    assert (erased.name, erased.erased, erased.contact) == ("R1", True, None)
    assert next(row for row in list_bookings(centre.workplace) if row.booking.code == "H-7").renter == "R1"


def test_a_person_is_chosen_by_code_or_by_a_name_that_is_theirs_alone(centre: Centre) -> None:
    assert (
        person_id(centre.workplace, "t1")
        == person_id(centre.workplace, " tamsin orrel ")
        == centre.keys.centre.technician
    )
    twin = centre.person("T9", "technician", "Tamsin Orrel")
    with pytest.raises(Refused, match="several people have this name"):
        person_id(centre.workplace, "Tamsin Orrel")
    centre.change(Person, twin, active=False)
    assert person_id(centre.workplace, "Tamsin Orrel") == centre.keys.centre.technician
    with pytest.raises(Refused, match="nobody active"):
        person_id(centre.workplace, "T9")


def test_qualifications_are_told_with_their_unit_type(centre: Centre) -> None:
    keys = centre.keys.centre
    centre.add(
        Qualification(person_id=keys.manager, kind="technician", unit_type_id=keys.unit_type, seen_on=centre.today)
    )
    found = list_qualifications(centre.workplace)[-1]
    assert (found.person, found.unit_type, found.valid_until) == ("Jarek Vinthe", "Back-mounted unit, type L", None)
