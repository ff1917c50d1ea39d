"""Every act of the program is tried by every role: what one may not do is refused in plain words, nothing is kept."""

from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import func, select

from fleetbench.calc.people.permits import ACTS, Role, may
from fleetbench.records.core.database import Database
from fleetbench.records.core.errors import Refused
from fleetbench.records.core.journal import Journal
from fleetbench.records.people.tables import Person
from fleetbench.records.places.tables import Owner
from fleetbench.records.tickets.tables import Task, Ticket
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.import_export.import_folder import import_folder
from fleetbench.workshop.parts.fit import fit_part
from fleetbench.workshop.tickets.work import open_ticket
from fleetbench.workshop.units.holds import freeze_unit, lift_hold, note_near_miss, place_hold
from tests.centres.bench_centre import Keys, write_centre
from tests.centres.writing_acts import WRITING_ACTS


@pytest.fixture
def keys(sqlite_database: Database, clock: Any) -> Keys:
    """The small centre, written."""
    return write_centre(sqlite_database, clock())


@pytest.fixture
def people(sqlite_database: Database, clock: Any, keys: Keys) -> dict[str, Workplace]:
    """Somebody of every role at the bench, and somebody who left."""
    workplace = Workplace(sqlite_database, clock)
    with workplace.transaction("write", "people") as act:
        found = {role: act.add(Person(code=f"X-{role}", role=role, active=True, erased_at=None)).id for role in Role}
        found["left"] = act.add(Person(code="X-left", role="manager", active=False, erased_at=None)).id
    return {role: workplace.as_person(key) for role, key in found.items()}


def kept(workplace: Workplace) -> tuple[int, int]:
    with workplace.database.reading() as connection:
        count = select(func.count())
        return (connection.scalar(count.select_from(Journal)) or 0, connection.scalar(count.select_from(Owner)) or 0)


def test_at_a_window_nobody_does_any_act(people: dict[str, Workplace]) -> None:
    manager = people["manager"]
    nobody = Workplace(manager.database, manager.clock, attended=True)
    before = kept(nobody)
    for name in sorted(set(ACTS) - WRITING_ACTS):
        with pytest.raises(Refused, match=r"^person: nobody is signed in"), nobody.transaction(name, "trial") as act:
            act.add(Owner(name=name, kind="centre"))
    assert kept(nobody) == before


def test_files_are_imported_by_a_manager_alone(people: dict[str, Workplace], tmp_path: Path) -> None:
    (tmp_path / "owners.csv").write_text("record,name,kind\nOWN-9,Another,loan\n")
    before = kept(people["manager"])
    for role in ("renter", "student", "instructor", "technician", "left", "nobody"):
        workplace = people.get(role, people["manager"].as_person(None))
        with pytest.raises(Refused, match=r"^person"):
            import_folder(workplace, tmp_path)
        assert kept(workplace) == before


def test_every_act_is_tried_by_every_role_and_by_somebody_who_left(people: dict[str, Workplace]) -> None:
    acts = sorted(set(ACTS) - WRITING_ACTS)
    assert len(acts) > 80
    for role, workplace in people.items():
        before = kept(workplace)
        for name in acts:
            allowed = role != "left" and may(role, name)
            try:
                with workplace.transaction(name, "trial") as act:
                    assert allowed, f"{role} got into {name}"
                    act.add(Owner(name=f"{role} {name}", kind="centre"))
                    raise InterruptedError  # tried, and rolled back
            except InterruptedError:
                assert allowed
            except Refused as refusal:
                assert not allowed, f"{role}, {name}: {refusal}"
                said = "is no longer active" if role == "left" else f"'{name}' is not for the role {role}; ask a "
                assert said in str(refusal)
        assert kept(workplace) == before


# Who may do what: common practice, no published source.
def test_an_instructor_fits_a_loaner_cell_and_nothing_else_and_lifts_no_hold(people: dict[str, Workplace]) -> None:
    instructor = people["instructor"]
    fit_part(instructor, "C-NEW", "LK-01", "cell 1", why_old="age")
    for refused in (
        lambda: fit_part(instructor, "V-NEW", "LK-01", "inhale one-way valve", why_old="fault"),
        lambda: lift_hold(instructor, place_hold(instructor, "LK-01", "Strap torn"), "mended"),
    ):
        with pytest.raises(Refused, match="is not for the role instructor; ask a manager or technician"):
            refused()


def test_an_incident_is_lifted_by_a_manager_only_and_a_near_miss_freezes_nothing(people: dict[str, Workplace]) -> None:
    frozen = freeze_unit(people["instructor"], "LK-01", "Diver felt unwell")
    with pytest.raises(Refused, match="'lift incident hold' is not for the role technician; ask a manager"):
        lift_hold(people["technician"], frozen.hold_id, "looked at")
    lift_hold(people["manager"], frozen.hold_id, "the authority gave it back")
    ticket = note_near_miss(people["instructor"], "LK-02", "Oxygen valve found shut on the surface")
    open_ticket(people["technician"], "LK-02", cause="by hand", reason="work goes on")
    with people["manager"].database.read_session() as session:
        row = session.get_one(Ticket, ticket)
        assert (row.cause, row.critical) == ("near miss", True)
        assert session.scalars(select(Task.second_person).where(Task.ticket_id == ticket)).all() == [True]
    with pytest.raises(Refused, match=r"^what happened: is empty"):
        note_near_miss(people["technician"], "LK-02", " ")
