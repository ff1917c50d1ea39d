"""An invented centre small enough to read: two units of one type, a spare head, and a few parts in stock."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from fleetbench.records.bench.tables import TestEquipment
from fleetbench.records.cells.tables import BenchSession
from fleetbench.records.core.database import Database
from fleetbench.records.core.transaction import Transaction, transaction
from fleetbench.records.parts.tables import Fitting, Part, PartType, PartTypeLife
from fleetbench.records.people.tables import Person, PersonPrivate, Qualification
from fleetbench.records.places.tables import Centre, Limit, Owner
from fleetbench.records.units.tables import Reader, ReaderCell, Slot, Unit, UnitType
from tests.centres.kept_centres import kept

MANUAL = "invented manual"


@dataclass(slots=True)
class Keys:
    """Keys of what was written."""

    technician: int = 0
    manager: int = 0
    owner: int = 0
    unit_type: int = 0
    cell_slots: tuple[int, ...] = ()
    readers: tuple[int, ...] = ()
    units: tuple[int, ...] = ()
    analyser: int = 0
    barometer: int = 0
    hygrometer: int = 0


@kept
def write_centre(database: Database, now: datetime) -> Keys:
    """Write the centre as it stands on a morning; returns the keys of what tests speak of."""
    keys = Keys()
    with transaction(database, lambda: now, None, "begin", "centre") as act:
        act.add(
            Centre(
                id=1,
                name="Invented Lake Centre",
                code="LK",
                timezone="Europe/Berlin",
                altitude_m=120.0,
                usual_water_c=12.0,
                usual_depth_m=30.0,
                telephone=None,
            )
        )
        keys.owner = act.add(Owner(name="the centre", kind="centre")).id
        keys.technician = _person(act, "T1", "technician", "Tamsin Orrel")
        keys.manager = _person(act, "M1", "manager", "Jarek Vinthe")
        for person in (keys.technician, keys.manager):
            act.add(Qualification(person_id=person, kind="technician", seen_on=now.date(), seen_by_id=keys.manager))
        later = now.date() + timedelta(days=90)
        for role, serial, u, unit in (("analyser", "AN-1", 0.25, "%"), ("barometer", "BR-1", 0.5, "mbar"),
                                      ("hygrometer", "HY-1", 2.0, "%")):  # fmt: skip
            row = TestEquipment(kind=role, name=f"Bench {role}", serial=serial, uncertainty=u, unit=unit,
                                last_good_day=later)  # fmt: skip
            setattr(keys, role, act.add(row).id)
        _write_types(act, keys)
        keys.units = tuple(_unit(act, keys, tag, now) for tag in ("LK-01", "LK-02"))
        _stock(act, keys, now)
    return keys


def _person(act: Transaction, code: str, role: str, name: str) -> int:
    person = act.add(Person(code=code, role=role, erased_at=None))
    act.add(PersonPrivate(person_id=person.id, name=name, contact=None, note=None))
    return person.id


def _type(
    act: Transaction, code: str, kind: str, *lives: tuple[str, float, str, str], assembly: bool = False
) -> PartType:
    row = act.add(PartType(code=code, name=f"{kind.capitalize()} {code}", kind=kind, assembly=assembly, source=MANUAL))
    for basis, amount, unit, test in lives:
        act.add(PartTypeLife(part_type_id=row.id, basis=basis, amount=amount, unit=unit, test=test or None,
                             source=MANUAL))  # fmt: skip
    return row


def _write_types(act: Transaction, keys: Keys) -> None:
    kind = act.add(UnitType(code="TYPE-L", name="Back-mounted unit, type L", build="back-mounted", loop_volume_l=9.0,
                            head_volume_l=0.6, flush_l_min=2.0, first_stage_blocked=False, set_point_low_bar=0.7,
                            set_point_high_bar=1.3, manual=MANUAL))  # fmt: skip
    keys.unit_type = kind.id
    head = _type(act, "HEAD-L", "head", assembly=True)
    loop = _type(act, "LOOP-L", "loop set", assembly=True)
    cell = _type(act, "CELL-L", "cell", ("opened", 12, "months", ""), ("made", 18, "months", ""))
    _type(act, "OWV-L", "one-way valve", ("fitted", 24, "months", ""), ("storage", 60, "months", ""))
    _type(act, "MPV-L", "mouthpiece valve")
    _type(act, "CAN-L", "canister")
    _type(act, "BATT-L", "handset battery", ("made", 48, "months", ""))
    for place, (name, of_kind, flow) in enumerate((("head", "head", 5), ("loop set", "loop set", 1),
                                                   ("canister", "canister", 4),
                                                   ("handset 1 battery", "handset battery", None)), 1):  # fmt: skip
        act.add(Slot(unit_type_id=kind.id, name=name, kind=of_kind, critical=True, ordinal=place, flow_place=flow))
    keys.cell_slots = tuple(
        act.add(Slot(assembly_type_id=head.id, name=f"cell {n}", kind="cell", ordinal=n, oxygen_side=True)).id
        for n in (1, 2, 3)
    )
    for place, (name, of_kind) in enumerate((("inhale one-way valve", "one-way valve"),
                                             ("exhale one-way valve", "one-way valve"),
                                             ("mouthpiece valve", "mouthpiece valve")), 1):  # fmt: skip
        act.add(Slot(assembly_type_id=loop.id, name=name, kind=of_kind, critical=True, ordinal=place, flow_place=place))
    keys.readers = tuple(
        act.add(Reader(unit_type_id=kind.id, name=f"handset {n}", kind="handset", ordinal=n)).id for n in (1, 2)
    )
    for reader in keys.readers:
        for slot in keys.cell_slots:
            act.add(ReaderCell(reader_id=reader, cell_slot_id=slot, shows="mV", resolution=0.1))
    for name, amount, unit in (("cell air low", 8.5, "mV"), ("cell air high", 14.0, "mV"),
                               ("cell oxygen floor", 40.0, "mV"), ("temperature residual", 0.1, "%/K")):  # fmt: skip
        act.add(Limit(part_type_id=cell.id, name=name, amount=amount, unit=unit, source=MANUAL, maker=True))
    for name in ("loop negative minutes", "loop positive minutes"):
        act.add(Limit(unit_type_id=kind.id, name=name, amount=3, unit="min", source=MANUAL, maker=True))
    for name, amount in (("intermediate pressure low", 8.5), ("intermediate pressure high", 10.0)):
        act.add(Limit(unit_type_id=kind.id, name=name, amount=amount, unit="bar", source=MANUAL, maker=True))
    act.add(Limit(unit_type_id=kind.id, name="battery voltage low", amount=3.6, unit="V", source=MANUAL, maker=True))


def part(act: Transaction, code: str, serial: str, owner: int, **more: Any) -> Part:
    """A new part of a type by its code."""
    from sqlalchemy import select

    kind = act.session.scalars(select(PartType).where(PartType.code == code)).one()
    return act.add(Part(part_type_id=kind.id, serial=serial, owner_id=owner, **more))


def fit(
    act: Transaction, row: Part, slot: str, *, unit_id: int | None = None, host: Part | None = None, at: datetime
) -> None:
    """Put a part into a slot by the slot's name."""
    from sqlalchemy import select

    slots = act.session.scalars(select(Slot).where(Slot.name == slot)).all()
    found = next(each for each in slots if (each.unit_type_id is not None) == (unit_id is not None))
    act.add(Fitting(part_id=row.id, slot_id=found.id, unit_id=unit_id, host_part_id=host.id if host else None,
                    fitted_at=at))  # fmt: skip
    act.change(row, state="fitted")


def _unit(act: Transaction, keys: Keys, tag: str, now: datetime) -> int:
    unit = act.add(Unit(tag=tag, unit_type_id=keys.unit_type, serial=f"S-{tag}", owner_id=keys.owner, place_id=None,
                        in_service_on=date(2024, 3, 1), former_tag=None, retired_on=None, harness=None))  # fmt: skip
    at = now - timedelta(days=60)
    for code, slot in (("HEAD-L", "head"), ("LOOP-L", "loop set"), ("CAN-L", "canister"),
                       ("BATT-L", "handset 1 battery")):  # fmt: skip
        top = part(act, code, f"{code}-{tag}", keys.owner, made_on=at.date())
        fit(act, top, slot, unit_id=unit.id, at=at)
        if slot == "head":
            for n in (1, 2, 3):
                cell = part(act, "CELL-L", f"C-{tag}-{n}", keys.owner, lot=f"L{n}", made_on=at.date(),
                            opened_on=at.date())  # fmt: skip
                fit(act, cell, f"cell {n}", host=top, at=at)
        if slot == "loop set":
            for name, inner in (("inhale one-way valve", "OWV-L"), ("exhale one-way valve", "OWV-L"),
                                ("mouthpiece valve", "MPV-L")):  # fmt: skip
                fit(act, part(act, inner, f"{name[:3]}-{tag}", keys.owner), name, host=top, at=at)
    return unit.id


def _stock(act: Transaction, keys: Keys, now: datetime) -> None:
    today = now.date()
    part(act, "CELL-L", "C-NEW", keys.owner, lot="L9", made_on=today - timedelta(days=40), state="stock")
    part(act, "CELL-L", "C-OLD", keys.owner, lot="L0", made_on=today - timedelta(days=900), state="stock")
    part(act, "CELL-L", "C-UNDATED", keys.owner, lot="L0", state="stock")
    part(act, "OWV-L", "V-NEW", keys.owner, made_on=today - timedelta(days=100), state="stock")
    part(act, "HEAD-L", "H-SPARE", keys.owner, made_on=today - timedelta(days=100), state="stock")
    part(act, "CAN-L", "CAN-SPARE", keys.owner, state="stock")


def open_bench(database: Database, keys: Keys, now: datetime, **changed: Any) -> int:
    """The key of a bench session that holds, at a well-measured room."""
    facts: dict[str, Any] = {
        "started_at": now, "person_id": keys.technician, "pressure_mbar": 1008.4, "pressure_source": "measured",
        "temperature_c": 21.0, "humidity": 0.45, "oxygen_shown_percent": 99.6, "analyser_id": keys.analyser,
        "barometer_id": keys.barometer, "hygrometer_id": keys.hygrometer,
    }  # fmt: skip
    with transaction(database, lambda: now, keys.technician, "open bench session", "test") as act:
        return act.add(BenchSession(**{**facts, **changed})).id
