"""Reads of calibrations and of what they said of cells.

Calibrations with their readings as plain facts, and the earlier ones that the judgement of a new one hangs on.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any, final

from sqlalchemy import ColumnElement, Connection, func, select

from fleetbench.calc.cells.readings import CellPoint, MadeBy
from fleetbench.calc.core.verdict import Verdict
from fleetbench.records.cells.tables import (
    BenchSession,
    Calibration,
    CalibrationOutcome,
    CalibrationReading,
    HandsetSetting,
)
from fleetbench.records.core.schema import Query, built_once, columns_of, read_if_changed, reads, records_of, select_of
from fleetbench.records.parts.tables import Fitting
from fleetbench.records.units.tables import Reader, Slot, Unit
from fleetbench.records.upkeep.tables import rows_of


@final
@dataclass(frozen=True, slots=True)
class OutcomeRecord:
    """What one calibration said of one cell, with the calibration's own facts."""

    calibration_id: int
    part_id: int
    at: datetime
    made: str
    unit_id: int
    unit: str
    position: str
    person_id: int | None
    ticket_id: int | None
    verdict: str
    air_mv: float | None
    oxygen_mv: float | None
    linearity: float | None
    expanded_u: float | None
    margin: float | None
    reader_gap_bar: float | None
    verified_up_to_bar: float | None
    blame: str | None
    finding: str
    next_step: str


@dataclass(frozen=True, slots=True)
class CalibrationRecord:
    """The last workshop calibration of a unit."""

    calibration_id: int
    unit_id: int
    at: datetime
    pressure_mbar: float
    person_id: int | None
    ref: str | None


@dataclass(frozen=True, slots=True)
class TrendRecord:
    """Linearity in percent and normalised mV in air of one cell at one time; reason: None where it was not kept yet."""

    part_id: int
    at: datetime
    linearity: float
    air_mv: float | None
    made: str
    reason: str | None = None


@dataclass(frozen=True, slots=True)
class StampRecord:
    """One stamped reading of a flush: seconds since it began, and mV on one reader."""

    calibration_id: int
    at: datetime
    reader: str
    seconds: float
    mv: float


@dataclass(frozen=True, slots=True)
class ShownRecord:
    """What one reader showed of one cell at the air or the oxygen point: mV, or bar where it shows no mV."""

    calibration_id: int
    part_id: int
    reader: str
    ordinal: int
    point: str
    mv: float | None
    po2_shown_bar: float | None


@dataclass(frozen=True, slots=True)
class ConditionsRecord:
    """Room and gas of one calibration; humidity a fraction, oxygen in percent as shown."""

    calibration_id: int
    pressure_mbar: float
    temperature_c: float
    humidity: float | None
    oxygen_shown_percent: float | None


@dataclass(frozen=True, slots=True)
class SettingRecord:
    """The last calibration stored in one handset of one unit.

    pressure_mbar, temperature_c, humidity (a fraction): of the room, as the calibration it belongs to states them.
    """

    unit_id: int
    reader_id: int
    at: datetime
    fraction_set: float | None
    pressure_set_mbar: float | None
    shown_oxygen_bar: float | None
    shown_air_bar: float | None
    pressure_mbar: float | None
    temperature_c: float | None
    humidity: float | None


@built_once
def in_force() -> ColumnElement[bool]:
    """That no later record supersedes the calibration."""
    superseded = select(Calibration.supersedes_id).where(Calibration.supersedes_id.is_not(None))
    return Calibration.id.not_in(superseded)


@built_once
def _outcomes() -> Query:
    return (
        select_of(
            OutcomeRecord,
            CalibrationOutcome,
            Calibration,
            calibration_id=Calibration.id,
            unit=Unit.tag,
            position=Slot.name,
        )
        .join(Calibration, Calibration.id == CalibrationOutcome.calibration_id)
        .join(Unit, Unit.id == Calibration.unit_id)
        .join(Slot, Slot.id == CalibrationOutcome.slot_id)
        .where(in_force())
    )


@reads(OutcomeRecord)
def read_outcomes_of(part_id: int) -> Query:
    """Every outcome of one cell, oldest first; one statement."""
    return _outcomes().where(CalibrationOutcome.part_id == part_id).order_by(Calibration.at, Calibration.id)


@reads(OutcomeRecord)
def read_outcomes_under(ticket_id: int) -> Query:
    """Every outcome of the calibrations made under one ticket, oldest first; one statement."""
    return _outcomes().where(Calibration.ticket_id == ticket_id).order_by(Calibration.at, Slot.ordinal)


@reads(OutcomeRecord)
def read_last_outcomes(parts: Query | tuple[int, ...] | None = None) -> Query:
    """The last workshop outcome and the last diver's outcome of each cell, of all or of given parts; one statement."""
    rank = func.row_number().over(
        partition_by=(CalibrationOutcome.part_id, Calibration.made),
        order_by=(Calibration.at.desc(), Calibration.id.desc()),
    )
    ranked = (
        select(CalibrationOutcome.id.label("id"), rank.label("rank"))
        .join(Calibration, Calibration.id == CalibrationOutcome.calibration_id)
        .where(in_force())
    )
    if parts is not None:
        ranked = ranked.where(CalibrationOutcome.part_id.in_(parts))
    last = ranked.subquery()
    return (
        _outcomes()
        .join(last, last.c.id == CalibrationOutcome.id)
        .where(last.c.rank == 1)
        .order_by(Calibration.at, Calibration.id)
    )


@reads(CalibrationRecord)
def read_last_workshop_calibrations(unit_id: int | None = None) -> Query:
    """The last workshop calibration of each unit; one statement."""
    rank = func.row_number().over(
        partition_by=Calibration.unit_id, order_by=(Calibration.at.desc(), Calibration.id.desc())
    )
    ranked = select(*columns_of(CalibrationRecord, Calibration), rank.label("rank")).where(
        Calibration.made == MadeBy.WORKSHOP, in_force()
    )
    if unit_id is not None:
        ranked = ranked.where(Calibration.unit_id == unit_id)
    last = ranked.subquery()
    return select_of(CalibrationRecord, last).where(last.c.rank == 1)


@read_if_changed
def read_trends(connection: Connection, parts: tuple[int, ...] | None = None) -> tuple[TrendRecord, ...]:
    """Linearity of every cell that sits somewhere now, or of given ones, oldest first; one statement."""
    seated = select(Fitting.part_id).where(Fitting.removed_at.is_(None))
    if parts is not None:
        seated = seated.where(Fitting.part_id.in_(parts))
    query = (
        select_of(TrendRecord, CalibrationOutcome, Calibration)
        .join(Calibration, Calibration.id == CalibrationOutcome.calibration_id)
        .where(in_force(), CalibrationOutcome.linearity.is_not(None), CalibrationOutcome.part_id.in_(seated))
        .order_by(Calibration.at, Calibration.id)
    )
    return records_of(connection, query, TrendRecord)


@read_if_changed
def read_forecasts(connection: Connection, parts: Query | tuple[int, ...] | None = None) -> dict[int, tuple[date, str]]:
    """Foretold last good day and of what, by cell, as kept on the fittings of today; one statement."""
    kept = select(Fitting.part_id, Fitting.forecast_day, Fitting.forecast_of)
    query = kept.where(Fitting.removed_at.is_(None), Fitting.forecast_day.is_not(None))
    if parts is not None:
        query = query.where(Fitting.part_id.in_(parts))
    return {part_id: (day, of) for part_id, day, of in connection.execute(query) if day is not None and of is not None}


@reads(StampRecord)
def read_stamps(part_id: int) -> Query:
    """Every stamped reading of the flushes of one cell, newest calibration first, in time; one statement."""
    reading = CalibrationReading
    return (
        select_of(StampRecord, Calibration, reader=Reader.name, seconds=reading.seconds, mv=reading.mv)
        .join(reading, reading.calibration_id == Calibration.id)
        .join(Reader, Reader.id == reading.reader_id)
        .where(reading.part_id == part_id, reading.point == CellPoint.SETTLING, in_force())
        .where(reading.seconds.is_not(None), reading.mv.is_not(None))
        .order_by(Calibration.at.desc(), Calibration.id.desc(), Reader.ordinal, reading.seconds)
    )


def read_shown(connection: Connection, calibrations: Iterable[int]) -> tuple[ShownRecord, ...]:
    """What each reader showed at both points of these calibrations, in its readers' order; one statement."""
    reading = CalibrationReading
    query = (
        select_of(
            ShownRecord,
            Reader,
            calibration_id=reading.calibration_id,
            part_id=reading.part_id,
            reader=Reader.name,
            point=reading.point,
            mv=reading.mv,
            po2_shown_bar=reading.po2_shown_bar,
        )
        .join(Reader, Reader.id == reading.reader_id)
        .where(reading.calibration_id.in_(sorted(set(calibrations))), reading.point.in_(("air", "oxygen")))
        .order_by(reading.calibration_id, Reader.ordinal, Reader.id, reading.id)
    )
    return records_of(connection, query, ShownRecord)


def read_conditions(connection: Connection, calibrations: Iterable[int]) -> tuple[ConditionsRecord, ...]:
    """Room and gas of these calibrations; one statement."""
    query = select_of(ConditionsRecord, Calibration).where(Calibration.id.in_(sorted(set(calibrations))))
    return records_of(connection, query, ConditionsRecord)


@reads(SettingRecord)
def read_settings(unit_id: int | None = None) -> Query:
    """The last calibration stored in each handset, of all units or of one, with the room; one statement."""
    rank = func.row_number().over(
        partition_by=(HandsetSetting.unit_id, HandsetSetting.reader_id),
        order_by=(HandsetSetting.at.desc(), HandsetSetting.id.desc()),
    )
    ranked = select(HandsetSetting, rank.label("rank"))
    if unit_id is not None:
        ranked = ranked.where(HandsetSetting.unit_id == unit_id)
    last = ranked.subquery()
    return (
        select_of(SettingRecord, last, Calibration)
        .outerjoin_from(last, Calibration, Calibration.id == last.c.calibration_id)
        .where(last.c.rank == 1)
    )


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


def read_last_shown(connection: Connection, cells: Iterable[int]) -> dict[tuple[int, int, str], ReadingFacts]:
    """What each reader showed last of these cells at each point, by cell, reader and point; one statement."""
    superseded = select(Calibration.supersedes_id).where(Calibration.supersedes_id.is_not(None))
    query = (
        select_of(ReadingFacts, CalibrationReading)
        .join_from(CalibrationReading, Calibration, Calibration.id == CalibrationReading.calibration_id)
        .where(CalibrationReading.part_id.in_(sorted(cells)), Calibration.id.not_in(superseded))
        .order_by(Calibration.at, Calibration.id, CalibrationReading.id)
    )
    found = [reading_facts(dict(row)) for row in connection.execute(query).mappings()]
    return {(each.part_id, each.reader_id, each.point): each for each in found}


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
        .where(CalibrationOutcome.part_id.in_(parts), CalibrationOutcome.verdict == Verdict.PASS)
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
        .where(readings.point == CellPoint.POT, Calibration.at < before, in_force())
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
