"""What a unit of the small centres needs beside its calibration and loop tests, so that nothing stops it."""

from datetime import date, datetime, timedelta

from sqlalchemy import select

from fleetbench.records.bench.tables import BenchTest
from fleetbench.records.cells.tables import CalibrationReading, HandsetSetting
from fleetbench.records.core.transaction import Transaction
from fleetbench.records.parts.tables import Part
from fleetbench.records.people.tables import Qualification
from fleetbench.records.tickets.tables import Disinfection, ServiceTask
from fleetbench.records.turn_rounds.tables import TurnRound, TurnRoundLine
from fleetbench.records.units.tables import Reader, Slot


def write_beside_calibration(act: Transaction, calibration_id: int, unit_id: int, tag: str, at: datetime) -> None:
    """Each handset calibrated, and each cell seen at 1.6 bar in the pot, within one calibration."""
    readers = list(act.session.scalars(select(Reader.id).order_by(Reader.ordinal)))
    for reader in readers:
        act.add(HandsetSetting(calibration_id=calibration_id, unit_id=unit_id, reader_id=reader, at=at,
                               fraction_set=0.996, pressure_set_mbar=1008.0, shown_oxygen_bar=1.0,
                               shown_air_bar=0.21))  # fmt: skip
    slots = dict(act.session.execute(select(Slot.name, Slot.id).where(Slot.kind == "cell")).all())
    for number in (1, 2, 3):
        cell = act.session.scalar(select(Part.id).where(Part.serial == f"C-{tag}-{number}"))
        if cell is not None:
            act.add(CalibrationReading(calibration_id=calibration_id, part_id=cell, slot_id=slots[f"cell {number}"],
                                       reader_id=readers[0], point="pot", mv=76.0, pot_bar=1.6))  # fmt: skip


def write_mouthpiece_test(act: Transaction, unit_id: int, at: datetime, person_id: int) -> None:
    """The mouthpiece valve works."""
    act.add(BenchTest(unit_id=unit_id, kind="mouthpiece valve", at=at, held=True, result="pass", person_id=person_id))


def write_turned_round(act: Transaction, unit_type_id: int, unit_id: int, at: datetime, person_id: int) -> None:
    """The loop disinfected and dry, the periodic service of the type's plan done, and the turn-round finished."""
    task = act.session.scalar(select(ServiceTask).where(ServiceTask.unit_type_id == unit_type_id))
    if task is None:
        task = act.add(ServiceTask(unit_type_id=unit_type_id, ordinal=1, text="Yearly service", basis="months",
                                   amount=12, source="invented manual"))  # fmt: skip
    card = act.add(TurnRound(unit_id=unit_id, opened_at=at, finished_at=at, finished_by_id=person_id))
    act.add(TurnRoundLine(turn_round_id=card.id, ordinal=1, step="service", service_task_id=task.id, state="done",
                          settled_at=at))  # fmt: skip
    act.add(Disinfection(unit_id=unit_id, at=at - timedelta(hours=14), agent="Agent A", strength="1 %",
                         contact_minutes=10, rinsed=True, dry_at=at))  # fmt: skip


def write_papers(act: Transaction, unit_type_id: int, seen_on: date, **kinds: tuple[int, ...]) -> None:
    """Qualifications for a unit type: kind of qualification with the people who hold it."""
    for kind, people in kinds.items():
        for person in people:
            act.add(Qualification(person_id=person, unit_type_id=unit_type_id, kind=kind, seen_on=seen_on))
