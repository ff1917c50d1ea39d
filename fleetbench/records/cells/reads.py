"""Reads of calibrations and of what they said of cells."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import ColumnElement, Connection, and_, func, select

from fleetbench.records.cells.tables import Calibration, CalibrationOutcome, CalibrationReading, HandsetSetting
from fleetbench.records.core.record_rows import Query, records_of
from fleetbench.records.parts.tables import Fitting
from fleetbench.records.units.tables import Reader, Slot, Unit


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
    pressure_mbar: float | None = None
    temperature_c: float | None = None
    humidity: float | None = None


OUTCOME_COLUMNS = (
    Calibration.id, CalibrationOutcome.part_id, Calibration.at, Calibration.made, Calibration.unit_id, Unit.tag,
    Slot.name, Calibration.person_id, Calibration.ticket_id, CalibrationOutcome.verdict, CalibrationOutcome.air_mv,
    CalibrationOutcome.oxygen_mv, CalibrationOutcome.linearity, CalibrationOutcome.expanded_u,
    CalibrationOutcome.margin, CalibrationOutcome.reader_gap_bar, CalibrationOutcome.verified_up_to_bar,
    CalibrationOutcome.blame, CalibrationOutcome.finding, CalibrationOutcome.next_step,
)  # fmt: skip


def in_force() -> ColumnElement[bool]:
    """That no later record supersedes the calibration."""
    superseded = select(Calibration.supersedes_id).where(Calibration.supersedes_id.is_not(None))
    return Calibration.id.not_in(superseded)


def _outcomes() -> Query:
    return (
        select(*OUTCOME_COLUMNS)
        .join(Calibration, Calibration.id == CalibrationOutcome.calibration_id)
        .join(Unit, Unit.id == Calibration.unit_id)
        .join(Slot, Slot.id == CalibrationOutcome.slot_id)
        .where(in_force())
    )


def read_outcomes_of(connection: Connection, part_id: int) -> tuple[OutcomeRecord, ...]:
    """Every outcome of one cell, oldest first; one statement."""
    query = _outcomes().where(CalibrationOutcome.part_id == part_id).order_by(Calibration.at, Calibration.id)
    return records_of(connection, query, OutcomeRecord)


def read_outcomes_under(connection: Connection, ticket_id: int) -> tuple[OutcomeRecord, ...]:
    """Every outcome of the calibrations made under one ticket, oldest first; one statement."""
    query = _outcomes().where(Calibration.ticket_id == ticket_id).order_by(Calibration.at, Slot.ordinal)
    return records_of(connection, query, OutcomeRecord)


def read_last_outcomes(
    connection: Connection, parts: Query | tuple[int, ...] | None = None
) -> tuple[OutcomeRecord, ...]:
    """The last workshop outcome and the last diver's outcome of each cell, of all or of given parts; one statement."""
    newest = (
        select(CalibrationOutcome.part_id, Calibration.made, func.max(Calibration.at).label("at"))
        .join(Calibration, Calibration.id == CalibrationOutcome.calibration_id)
        .where(in_force())
        .group_by(CalibrationOutcome.part_id, Calibration.made)
    )
    if parts is not None:
        newest = newest.where(CalibrationOutcome.part_id.in_(parts))
    last = newest.subquery()
    same = and_(
        last.c.part_id == CalibrationOutcome.part_id, last.c.made == Calibration.made, last.c.at == Calibration.at
    )
    query = _outcomes().join(last, same).order_by(Calibration.at, Calibration.id)
    return records_of(connection, query, OutcomeRecord)


def read_last_workshop_calibrations(
    connection: Connection, unit_id: int | None = None
) -> tuple[CalibrationRecord, ...]:
    """The last workshop calibration of each unit; one statement."""
    rank = func.row_number().over(
        partition_by=Calibration.unit_id, order_by=(Calibration.at.desc(), Calibration.id.desc())
    )
    ranked = select(
        Calibration.id, Calibration.unit_id, Calibration.at, Calibration.pressure_mbar, Calibration.person_id,
        Calibration.ref, rank.label("rank"),
    ).where(Calibration.made == "workshop", in_force())  # fmt: skip
    if unit_id is not None:
        ranked = ranked.where(Calibration.unit_id == unit_id)
    last = ranked.subquery()
    columns = (last.c.id, last.c.unit_id, last.c.at, last.c.pressure_mbar, last.c.person_id, last.c.ref)
    return records_of(connection, select(*columns).where(last.c.rank == 1), CalibrationRecord)


def read_trends(connection: Connection, parts: Iterable[int] | None = None) -> tuple[TrendRecord, ...]:
    """Linearity of every cell that sits somewhere now, or of given ones, oldest first; one statement."""
    seated = select(Fitting.part_id).where(Fitting.removed_at.is_(None))
    if parts is not None:
        seated = seated.where(Fitting.part_id.in_(sorted(set(parts))))
    query = (
        select(
            CalibrationOutcome.part_id,
            Calibration.at,
            CalibrationOutcome.linearity,
            CalibrationOutcome.air_mv,
            Calibration.made,
            CalibrationOutcome.reason,
        )
        .join(Calibration, Calibration.id == CalibrationOutcome.calibration_id)
        .where(in_force(), CalibrationOutcome.linearity.is_not(None), CalibrationOutcome.part_id.in_(seated))
        .order_by(Calibration.at, Calibration.id)
    )
    return records_of(connection, query, TrendRecord)


def read_forecasts(connection: Connection) -> dict[int, tuple[date, str]]:
    """Foretold last good day and of what, by cell, as kept on the fittings of today; one statement."""
    kept = select(Fitting.part_id, Fitting.forecast_day, Fitting.forecast_of)
    query = kept.where(Fitting.removed_at.is_(None), Fitting.forecast_day.is_not(None))
    return {part_id: (day, of) for part_id, day, of in connection.execute(query) if day is not None and of is not None}


def read_stamps(connection: Connection, part_id: int) -> tuple[StampRecord, ...]:
    """Every stamped reading of the flushes of one cell, newest calibration first, in time; one statement."""
    reading = CalibrationReading
    query = (
        select(Calibration.id, Calibration.at, Reader.name, reading.seconds, reading.mv)
        .join(reading, reading.calibration_id == Calibration.id)
        .join(Reader, Reader.id == reading.reader_id)
        .where(reading.part_id == part_id, reading.point == "settling", in_force())
        .where(reading.seconds.is_not(None), reading.mv.is_not(None))
        .order_by(Calibration.at.desc(), Calibration.id.desc(), Reader.ordinal, reading.seconds)
    )
    return records_of(connection, query, StampRecord)


def read_shown(connection: Connection, calibrations: Iterable[int]) -> tuple[ShownRecord, ...]:
    """What each reader showed at both points of these calibrations, in its readers' order; one statement."""
    reading = CalibrationReading
    query = (
        select(
            reading.calibration_id, reading.part_id, Reader.name, Reader.ordinal, reading.point, reading.mv,
            reading.po2_shown_bar,
        )
        .join(Reader, Reader.id == reading.reader_id)
        .where(reading.calibration_id.in_(sorted(set(calibrations))), reading.point.in_(("air", "oxygen")))
        .order_by(reading.calibration_id, Reader.ordinal, Reader.id, reading.id)
    )  # fmt: skip
    return records_of(connection, query, ShownRecord)


def read_conditions(connection: Connection, calibrations: Iterable[int]) -> tuple[ConditionsRecord, ...]:
    """Room and gas of these calibrations; one statement."""
    query = select(
        Calibration.id, Calibration.pressure_mbar, Calibration.temperature_c, Calibration.humidity,
        Calibration.oxygen_shown_percent,
    ).where(Calibration.id.in_(sorted(set(calibrations))))  # fmt: skip
    return records_of(connection, query, ConditionsRecord)


def read_last_settings(connection: Connection, unit_id: int) -> tuple[SettingRecord, ...]:
    """The last stored calibration of each handset of one unit; one statement."""
    rank = func.row_number().over(
        partition_by=HandsetSetting.reader_id, order_by=(HandsetSetting.at.desc(), HandsetSetting.id.desc())
    )
    last = (
        select(
            HandsetSetting.unit_id, HandsetSetting.reader_id, HandsetSetting.at, HandsetSetting.fraction_set,
            HandsetSetting.pressure_set_mbar, HandsetSetting.shown_oxygen_bar, HandsetSetting.shown_air_bar,
            rank.label("rank"),
        )
        .where(HandsetSetting.unit_id == unit_id)
        .subquery()
    )  # fmt: skip
    columns = (
        last.c.unit_id, last.c.reader_id, last.c.at, last.c.fraction_set, last.c.pressure_set_mbar,
        last.c.shown_oxygen_bar, last.c.shown_air_bar,
    )  # fmt: skip
    return records_of(connection, select(*columns).where(last.c.rank == 1), SettingRecord)
