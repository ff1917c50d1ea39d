"""Reads of test equipment, of what it was used for last, and of the raw readings of a bench test."""

from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import Connection, func, select
from sqlalchemy.orm import Session

from fleetbench.records.cells import Calibration
from fleetbench.records.equipment import TestEquipment
from fleetbench.records.record_rows import records_of
from fleetbench.records.valves import BenchReading, BenchTest


@dataclass(frozen=True, slots=True)
class EquipmentRecord:
    """One piece of test equipment; uncertainty (standard) and digit in its unit, None where not recorded."""

    equipment_id: int
    kind: str
    name: str
    serial: str
    uncertainty: float | None
    unit: str | None
    digit: float | None
    last_good_day: date | None


@dataclass(frozen=True, slots=True)
class ReadingRecord:
    """One raw figure of a bench test."""

    ordinal: int
    at: datetime
    quantity: str
    value: float
    unit: str
    equipment: str | None


def read_equipment(connection: Connection) -> tuple[EquipmentRecord, ...]:
    """All test equipment by kind and name; one statement."""
    query = select(
        TestEquipment.id, TestEquipment.kind, TestEquipment.name, TestEquipment.serial, TestEquipment.uncertainty,
        TestEquipment.unit, TestEquipment.digit, TestEquipment.last_good_day,
    ).order_by(TestEquipment.kind, TestEquipment.name, TestEquipment.serial)  # fmt: skip
    return records_of(connection, query, EquipmentRecord)


def read_last_uses(connection: Connection) -> dict[int, datetime]:
    """When each piece of equipment was last used, by key; four statements."""
    last: dict[int, datetime] = {}
    for column, at in (
        (BenchTest.equipment_id, BenchTest.at),
        (BenchReading.equipment_id, BenchReading.at),
        (Calibration.analyser_id, Calibration.at),
        (Calibration.barometer_id, Calibration.at),
    ):
        query = select(column, func.max(at)).where(column.is_not(None)).group_by(column)
        for key, moment in connection.execute(query):
            if key is not None:
                last[key] = max(last.get(key, moment), moment)
    return last


def read_bench_readings(connection: Connection, test_id: int) -> tuple[ReadingRecord, ...]:
    """The raw figures of one bench test in the order in which they were read; one statement."""
    query = (
        select(
            BenchReading.ordinal, BenchReading.at, BenchReading.quantity, BenchReading.value, BenchReading.unit,
            TestEquipment.name,
        )
        .outerjoin(TestEquipment, TestEquipment.id == BenchReading.equipment_id)
        .where(BenchReading.bench_test_id == test_id)
        .order_by(BenchReading.ordinal)
    )  # fmt: skip
    return records_of(connection, query, ReadingRecord)


def read_in_use(connection: Connection, person_id: int, since: datetime) -> dict[str, int]:
    """Which piece of each kind a person measured with last since a moment, by kind; one statement."""
    query = (
        select(TestEquipment.kind, TestEquipment.id)
        .join(BenchReading, BenchReading.equipment_id == TestEquipment.id)
        .join(BenchTest, BenchTest.id == BenchReading.bench_test_id)
        .where(BenchTest.person_id == person_id, BenchReading.at >= since)
        .order_by(BenchReading.at, BenchReading.id)
    )
    return {kind: key for kind, key in connection.execute(query)}


def equipment_with_serial(session: Session, serial: str) -> TestEquipment | None:
    """The piece with this serial, if there is one."""
    return session.scalar(select(TestEquipment).where(TestEquipment.serial == serial))
