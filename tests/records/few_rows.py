"""A handful of invented rows, written by acts, for tests that need a small journal with something in it."""

from datetime import UTC, date, datetime

from fleetbench.records.core.database import Database
from fleetbench.records.core.transaction import transaction
from fleetbench.records.parts.tables import Fitting, Part, PartType
from fleetbench.records.people.tables import Person, PersonPrivate
from fleetbench.records.places.tables import Centre, Owner
from fleetbench.records.units.tables import Slot, Unit, UnitType

AT = datetime(2026, 5, 4, 7, 30, 1, 250_000, tzinfo=UTC)


def write_few_rows(database: Database, at: datetime = AT) -> None:
    """Write a centre, a person, a unit type, a unit and ten parts, one of them fitted: 15 acts."""
    with transaction(database, lambda: at, None, "begin", "centre") as act:
        act.add(
            Centre(
                id=1,
                name="Blåhaj & Söhne “Tauchbasis”",
                code="BS",
                timezone="Europe/Berlin",
                altitude_m=12.5,
                usual_water_c=14.0,
                usual_depth_m=30.0,
                telephone=None,
            )
        )
        owner = act.add(Owner(name="the centre", kind="centre"))
        person = act.add(Person(code="T1", role="technician", erased_at=None))
        act.add(PersonPrivate(person_id=person.id, name="Zoë Ångström", contact=None, note=None))
    with transaction(database, lambda: at, person.id, "enter", "catalogue") as act:
        kind = act.add(
            UnitType(
                code="B1",
                name="Back one",
                build="back-mounted",
                loop_volume_l=6.0,
                head_volume_l=0.5,
                flush_l_min=6.0,
                first_stage_blocked=False,
                set_point_low_bar=0.7,
                set_point_high_bar=1.3,
                manual="maker's manual",
            )
        )
        valve = act.add(PartType(code="OWV", name="one-way valve", kind="one-way valve", source="maker's manual"))
        slot = act.add(Slot(unit_type_id=kind.id, name="inhale one-way valve", kind="one-way valve", ordinal=1))
        unit = act.add(
            Unit(
                tag="U01",
                unit_type_id=kind.id,
                serial="1001",
                owner_id=owner.id,
                place_id=None,
                in_service_on=date(2024, 3, 1),
                former_tag=None,
                retired_on=None,
                harness=None,
            )
        )
    for number in range(10):
        with transaction(database, lambda: at, person.id, "take in", f"V-{number}") as act:
            part = act.add(
                Part(
                    part_type_id=valve.id,
                    serial=f"V-{number}",
                    made_on=date(2025, 1, 1),
                    made_precision="month",
                    owner_id=owner.id,
                    price=12.25 + number,
                )
            )
            if number == 0:
                act.add(
                    Fitting(
                        part_id=part.id,
                        slot_id=slot.id,
                        unit_id=unit.id,
                        fitted_at=at,
                        fitted_by_id=person.id,
                        last_good_day=date(2026, 12, 31),
                        last_good_basis="made",
                    )
                )
                act.change(part, state="fitted")
    with transaction(database, lambda: at, person.id, "rename", "U01") as act:
        act.change(act.get(Unit, unit.id, "unit"), tag="U-01", former_tag="U01")
    with transaction(database, lambda: at, person.id, "retire", "U-01") as act:
        act.change(act.get(Unit, unit.id, "unit"), retired_on=date(2026, 5, 4))
    with transaction(database, lambda: at, person.id, "reprice", "V-1") as act:
        act.change(act.get(Part, 2, "part"), price=-0.0)
