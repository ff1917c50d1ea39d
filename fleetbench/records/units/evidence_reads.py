"""Every reading and act of one unit within a span of moments, as plain rows with their columns' names."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, select

from fleetbench.records.bench.tables import BenchReading, BenchTest
from fleetbench.records.cells.tables import Calibration, CalibrationOutcome, CalibrationReading
from fleetbench.records.core.journal import Journal, moment_text
from fleetbench.records.core.record_rows import Query
from fleetbench.records.parts.tables import Part
from fleetbench.records.units.tables import Reader, Slot


@dataclass(frozen=True, slots=True)
class Sheet:
    """A table of the evidence: its name, its columns, and its rows as text, figures and None."""

    name: str
    columns: tuple[str, ...]
    rows: tuple[tuple[Any, ...], ...]


def read_evidence(
    connection: Connection, unit_id: int, tag: str, tickets: Sequence[int], first: datetime, end: datetime
) -> tuple[Sheet, ...]:
    """Readings of cells, outcomes, bench tests, their raw readings, and the journal's own entries; five statements.

    Corrected records are there too, with what took their place. first is inclusive, end is not.
    """
    calibrated = (Calibration.unit_id == unit_id, Calibration.at >= first, Calibration.at < end)
    tested = (BenchTest.unit_id == unit_id, BenchTest.at >= first, BenchTest.at < end)
    subjects = (f"unit {tag}", *(f"ticket {key}" for key in tickets))
    return (
        _sheet(connection, "cell_readings", select(
            Calibration.id.label("calibration"), Calibration.at, Slot.name.label("position"),
            Part.serial.label("cell"), Reader.name.label("reader"), CalibrationReading.point,
            CalibrationReading.mv.label("mV"), CalibrationReading.po2_shown_bar, CalibrationReading.pot_bar,
            CalibrationReading.seconds, Calibration.pressure_mbar, Calibration.temperature_c, Calibration.humidity,
            Calibration.oxygen_shown_percent, Calibration.supersedes_id.label("takes_the_place_of"),
        ).join(Calibration, Calibration.id == CalibrationReading.calibration_id)
        .join(Slot, Slot.id == CalibrationReading.slot_id).join(Part, Part.id == CalibrationReading.part_id)
        .join(Reader, Reader.id == CalibrationReading.reader_id)
        .where(*calibrated).order_by(Calibration.at, CalibrationReading.id)),
        _sheet(connection, "cell_outcomes", select(
            Calibration.id.label("calibration"), Calibration.at, Slot.name.label("position"),
            Part.serial.label("cell"), CalibrationOutcome.verdict, CalibrationOutcome.linearity,
            CalibrationOutcome.expanded_u, CalibrationOutcome.air_mv, CalibrationOutcome.oxygen_mv,
            CalibrationOutcome.verified_up_to_bar, CalibrationOutcome.finding,
        ).join(Calibration, Calibration.id == CalibrationOutcome.calibration_id)
        .join(Slot, Slot.id == CalibrationOutcome.slot_id).join(Part, Part.id == CalibrationOutcome.part_id)
        .where(*calibrated).order_by(Calibration.at, CalibrationOutcome.id)),
        _sheet(connection, "bench_tests", select(
            BenchTest.id.label("test"), BenchTest.at, BenchTest.kind, BenchTest.direction, BenchTest.held,
            BenchTest.watched_minutes, BenchTest.value, BenchTest.unit, BenchTest.supply_bar, BenchTest.result,
            BenchTest.note, BenchTest.supersedes_id.label("takes_the_place_of"),
        ).where(*tested).order_by(BenchTest.at, BenchTest.id)),
        _sheet(connection, "bench_readings", select(
            BenchReading.bench_test_id.label("test"), BenchReading.ordinal, BenchReading.at, BenchReading.quantity,
            BenchReading.value, BenchReading.unit,
        ).join(BenchTest, BenchTest.id == BenchReading.bench_test_id)
        .where(*tested).order_by(BenchTest.at, BenchReading.bench_test_id, BenchReading.ordinal)),
        _sheet(connection, "journal", select(
            Journal.id.label("entry"), Journal.at, Journal.person_id.label("person"), Journal.act, Journal.subject,
            Journal.content, Journal.previous, Journal.hash,
        ).where(Journal.subject.in_(subjects), Journal.at >= first, Journal.at < end).order_by(Journal.id)),
    )  # fmt: skip


def _sheet(connection: Connection, name: str, query: Query) -> Sheet:
    result = connection.execute(query)
    columns = tuple(result.keys())
    return Sheet(name, columns, tuple(tuple(map(_plain, row)) for row in result.all()))


def _plain(value: Any) -> Any:
    return moment_text(value) if isinstance(value, datetime) else value
