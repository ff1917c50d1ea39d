"""Calibrations with their readings as plain facts, and the earlier ones that the judgement of a new one hangs on."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from sqlalchemy import ColumnElement, Connection, func, select

from fleetbench.records.cells.reads import in_force
from fleetbench.records.cells.tables import BenchSession, Calibration, CalibrationOutcome, CalibrationReading
from fleetbench.records.core.record_rows import Query
from fleetbench.records.units.tables import Unit
from fleetbench.records.upkeep.table_facts import rows_of


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingFacts:
    """One figure that a reader showed of a cell at a point; None where it was not read."""

    part_id: int
    slot_id: int
    reader_id: int
    point: str
    mv: float | None = None
    po2_shown_bar: float | None = None
    pot_bar: float | None = None
    seconds: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """What was said of a cell at the time; reason None where it was judged before that was kept.

    limited_from_bar, limited_proven: the lowest pot pressure at which it was held to have left its line, and whether
    that was proven.
    """

    verdict: str
    blame: str | None
    reason: str | None = None
    limited_from_bar: float | None = None
    limited_proven: bool | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CalibrationFacts:
    """One calibration as it is recorded; humidity a fraction, oxygen in percent as shown, words as in its table.

    said: by cell what was said where it was judged before; empty for a new one. superseded: a later record took its
    place, so that it is no visit.
    """

    calibration_id: int
    unit_id: int
    at: datetime
    pressure_mbar: float
    pressure_source: str
    temperature_c: float
    head: str
    vented: str
    settled: str
    readings: tuple[ReadingFacts, ...]
    made: str = "workshop"
    oxygen_temperature_c: float | None = None
    humidity: float | None = None
    oxygen_shown_percent: float | None = None
    analyser_id: int | None = None
    barometer_id: int | None = None
    over_pressure_mbar: float | None = None
    session_id: int | None = None
    comparison_id: int | None = None
    said: Mapping[int, Said] = field(default_factory=dict)
    superseded: bool = False


@dataclass(frozen=True, slots=True)
class SessionMate:
    """Another calibration on the same gas: its unit, and the verdicts of its cells."""

    calibration_id: int
    unit_id: int
    tag: str
    verdicts: tuple[str, ...]


def read_past(connection: Connection, parts: Iterable[int], before: datetime) -> tuple[CalibrationFacts, ...]:
    """Earlier calibrations in force of these cells, oldest first, back to the last that each of them passed.

    Farther where a pressure pot did not pass a cell, since only a pot lifts that.
    """
    wanted = sorted(set(parts))
    since = _since(connection, wanted, before)
    if since is not None and (pot := _pot_not_passed(connection, wanted, before)) is not None:
        since = min(since, pot)
    outcomes = CalibrationOutcome
    chosen = (
        select(Calibration.id)
        .join(outcomes, outcomes.calibration_id == Calibration.id)
        .where(outcomes.part_id.in_(wanted), Calibration.at < before, in_force())
    )
    if since is not None:
        chosen = chosen.where(Calibration.at >= since)
    return read_facts(connection, chosen)


def _since(connection: Connection, parts: list[int], before: datetime) -> datetime | None:
    """The earliest of the cells' last passes; None where one of them never passed, so that all of it counts."""
    passes = connection.execute(
        select(CalibrationOutcome.part_id, func.max(Calibration.at))
        .join(Calibration, Calibration.id == CalibrationOutcome.calibration_id)
        .where(CalibrationOutcome.part_id.in_(parts), CalibrationOutcome.verdict == "pass")
        .where(Calibration.at < before, in_force())
        .group_by(CalibrationOutcome.part_id)
    ).all()
    return min(at for _, at in passes) if len(passes) == len(parts) else None


def _pot_not_passed(connection: Connection, parts: list[int], before: datetime) -> datetime | None:
    """When the first calibration with pot points was that did not pass one of the cells; None where none was."""
    outcomes, readings = CalibrationOutcome, CalibrationReading
    query = (
        select(func.min(Calibration.at))
        .join(outcomes, outcomes.calibration_id == Calibration.id)
        .join(readings, (readings.calibration_id == Calibration.id) & (readings.part_id == outcomes.part_id))
        .where(outcomes.part_id.in_(parts), outcomes.verdict.in_(("repeat", "reject")))
        .where(readings.point == "pot", Calibration.at < before, in_force())
    )
    return connection.scalar(query)


def read_facts(connection: Connection, chosen: Query) -> tuple[CalibrationFacts, ...]:
    """The chosen calibrations with their readings and what was said of them, oldest first; three statements."""
    readings: dict[int, list[ReadingFacts]] = {}
    taken = CalibrationReading.calibration_id.in_(chosen)
    for row in rows_of(connection, CalibrationReading, taken, CalibrationReading.id):
        readings.setdefault(row["calibration_id"], []).append(reading_facts(row))
    said: dict[int, dict[int, Said]] = {}
    for row in rows_of(connection, CalibrationOutcome, CalibrationOutcome.calibration_id.in_(chosen)):
        said.setdefault(row["calibration_id"], {})[row["part_id"]] = _said(row)
    rows = rows_of(connection, Calibration, Calibration.id.in_(chosen), Calibration.at, Calibration.id)
    return tuple(calibration_facts(row, tuple(readings.get(row["id"], ())), said.get(row["id"], {})) for row in rows)


def sessions_of(parts: Sequence[int], session_id: int | None) -> ColumnElement[bool]:
    """Which bench sessions these cells were calibrated in, and the one of a calibration not recorded yet."""
    used = (
        select(Calibration.session_id)
        .join(CalibrationReading, CalibrationReading.calibration_id == Calibration.id)
        .where(CalibrationReading.part_id.in_(parts))
    )
    return BenchSession.id.in_(used) | (BenchSession.id == session_id)


def read_calibrations_of(connection: Connection, parts: Iterable[int]) -> tuple[CalibrationFacts, ...]:
    """Every calibration in force of these cells, oldest first; three statements, none for no cell."""
    wanted = sorted(set(parts))
    if not wanted:
        return ()
    chosen = (
        select(Calibration.id)
        .join(CalibrationReading, CalibrationReading.calibration_id == Calibration.id)
        .where(CalibrationReading.part_id.in_(wanted), in_force())
    )
    return read_facts(connection, chosen)


def _said(row: Mapping[str, Any]) -> Said:
    return Said(**{name: row[name] for name in Said.__dataclass_fields__})


def calibration_facts(
    row: Mapping[str, Any], readings: tuple[ReadingFacts, ...], said: Mapping[int, Said] | None = None
) -> CalibrationFacts:
    """A row of the calibration table with its readings as facts."""
    kept = CalibrationFacts.__dataclass_fields__.keys() - {"calibration_id", "readings", "said", "superseded"}
    stated: dict[str, Any] = {name: row.get(name) for name in kept}
    return CalibrationFacts(calibration_id=row["id"], readings=readings, said=said or {}, **stated)


def reading_facts(row: Mapping[str, Any]) -> ReadingFacts:
    """A row of the reading table as facts."""
    stated: dict[str, Any] = {name: row.get(name) for name in ReadingFacts.__dataclass_fields__}
    return ReadingFacts(**stated)


def read_session_mates(
    connection: Connection, session_id: int | None, comparison_id: int | None, before: datetime
) -> tuple[SessionMate, ...]:
    """Earlier calibrations of the session, and the one named for comparison; one statement."""
    found: dict[tuple[int, int, str], list[str]] = {}
    rows = connection.execute(
        select(Calibration.id, Calibration.unit_id, Unit.tag, CalibrationOutcome.verdict)
        .join(Unit, Unit.id == Calibration.unit_id)
        .join(CalibrationOutcome, CalibrationOutcome.calibration_id == Calibration.id)
        .where((Calibration.session_id == session_id) | (Calibration.id == comparison_id))
        .where(Calibration.at < before, in_force())
        .order_by(Calibration.at, Calibration.id)
    )
    for calibration_id, unit_id, tag, verdict in rows:
        found.setdefault((calibration_id, unit_id, tag), []).append(verdict)
    return tuple(SessionMate(*key, tuple(verdicts)) for key, verdicts in found.items())
