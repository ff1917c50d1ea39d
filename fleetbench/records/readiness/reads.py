"""All that is recorded of units and bears on whether they may go out, in a fixed number of reads.

Reads that readiness alone asks for: stored calibrations, pot points, who released a unit, and who may dive it.
"""

from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import ColumnElement, Connection, and_, func, null, or_, select, union_all

from fleetbench.calc.cells.readings import CellPoint
from fleetbench.records.bench.reads import (
    BenchTestRecord,
    OpeningRecord,
    UsedRecord,
    read_last_tests,
    read_last_workshop_openings,
    read_used,
)
from fleetbench.records.canisters.reads import (
    FillRecord,
    RatingRecord,
    RunRecord,
    read_last_fills,
    read_ratings,
    read_runs_of_last_fills,
)
from fleetbench.records.cells.reads import (
    CalibrationRecord,
    OutcomeRecord,
    SettingRecord,
    in_force,
    read_last_outcomes,
    read_last_workshop_calibrations,
    read_settings,
)
from fleetbench.records.cells.tables import Calibration, CalibrationReading
from fleetbench.records.core.schema import Query, built_once, read_if_changed, reads, select_of
from fleetbench.records.gas.reads import GasRecords, read_gas
from fleetbench.records.hires.lookups import AcceptanceRecord, read_acceptances
from fleetbench.records.hires.reads import BookedUnit
from fleetbench.records.hires.tables import Accessory, Booking, BookingDiver, BookingTerms, BookingUnit
from fleetbench.records.notices.reads import NoticeScopeRecord, read_notice_scopes, read_notices_done
from fleetbench.records.parts.lives import LifeRecords, read_life_records
from fleetbench.records.parts.reads import (
    FittedRecord,
    PartTypeRecord,
    SlotRecord,
    in_unit,
    read_fitted,
    read_part_types,
    read_slots,
)
from fleetbench.records.people.reads import QualificationRecord, read_names, read_qualifications
from fleetbench.records.places.reads import CentreRecord, LimitRecord, read_centre, read_limits
from fleetbench.records.tickets.reads import TicketRecord, read_open_tickets
from fleetbench.records.tickets.tables import Ticket
from fleetbench.records.turn_rounds.reads import TurnRoundRecords, read_turn_round_facts
from fleetbench.records.turn_rounds.tables import TurnRound
from fleetbench.records.units.reads import (
    AbsenceRecord,
    DisinfectionRecord,
    HoldRecord,
    PutOffRecord,
    ReaderRecord,
    ReturnRecord,
    UnitRecord,
    read_absences,
    read_holds,
    read_last_disinfections,
    read_last_returns,
    read_put_off,
    read_readers,
    read_units,
)
from fleetbench.records.units.tables import ReaderCell, Unit


@dataclass(frozen=True, slots=True)
class ReaderCellRecord:
    """What one reader shows of one cell slot: `mV`, `pO2` or `nothing`."""

    reader_id: int
    cell_slot_id: int
    shows: str


@dataclass(frozen=True, slots=True)
class PotRecord:
    """The last point of a cell above 1 bar in the pressure pot."""

    part_id: int
    at: datetime
    calibration_id: int


@dataclass(frozen=True, slots=True)
class ReleaseRecord:
    """The ticket or turn-round card of a unit that was signed last, and by whom; a card has no year and number."""

    unit_id: int
    card_id: int | None
    year: int | None
    number: int | None
    signed_at: datetime
    signed_by_id: int | None


@dataclass(frozen=True, slots=True)
class LastDiveRecord:
    """When somebody last came back from diving a unit type."""

    person_id: int
    unit_type_id: int
    at: datetime


@dataclass(frozen=True, slots=True)
class StatedRecord:
    """What a diver on a booking states: harness size and last dive on the type; None is not asked."""

    booking_id: int
    person_id: int
    harness: str | None
    last_dive_on: date | None


@dataclass(frozen=True, slots=True)
class AccessoryRecord:
    """One thing that goes along with every unit of a type, and how many of it."""

    accessory_id: int
    unit_type_id: int
    name: str
    count: int


@dataclass(frozen=True, slots=True)
class CheckRecords:
    """What these reads found; altitudes: of the water where a booking is dived, by booking."""

    readers: tuple[ReaderRecord, ...]
    reader_cells: tuple[ReaderCellRecord, ...]
    settings: tuple[SettingRecord, ...]
    pots: tuple[PotRecord, ...]
    releases: tuple[ReleaseRecord, ...]
    papers: tuple[QualificationRecord, ...]
    last_dives: tuple[LastDiveRecord, ...]
    stated: tuple[StatedRecord, ...]
    altitudes: dict[int, float]
    accessories: tuple[AccessoryRecord, ...]


def read_checks(
    connection: Connection, unit_id: int | None = None, parts: Query | tuple[int, ...] | None = None
) -> CheckRecords:
    """What the checks ask of all units, or of one and its parts; ten statements."""
    return CheckRecords(
        read_readers(connection),
        reader_cells=read_reader_cells(connection),
        settings=read_settings(connection, unit_id),
        pots=read_pots(connection, parts),
        releases=read_releases(connection, unit_id),
        papers=read_qualifications(connection),
        last_dives=read_last_dives(connection),
        stated=read_stated(connection),
        altitudes=read_altitudes(connection),
        accessories=read_accessories(connection),
    )


@reads(ReaderCellRecord)
def read_reader_cells() -> Query:
    """What each reader shows of each cell slot; one statement."""
    return select_of(ReaderCellRecord, ReaderCell)


@reads(PotRecord)
def read_pots(parts: Query | tuple[int, ...] | None = None) -> Query:
    """The last point above 1 bar of each cell, by a calibration that stands; one statement."""
    reading = CalibrationReading
    query = (
        select_of(PotRecord, reading, at=func.max(Calibration.at), calibration_id=func.max(Calibration.id))
        .join(Calibration, Calibration.id == reading.calibration_id)
        .where(reading.point == CellPoint.POT, _read(), reading.pot_bar > 1.0, in_force())
        .group_by(reading.part_id)
    )
    if parts is not None:
        query = query.where(reading.part_id.in_(parts))
    return query


@built_once
def _read() -> ColumnElement[bool]:
    return or_(CalibrationReading.mv.is_not(None), CalibrationReading.po2_shown_bar.is_not(None))


@reads(ReleaseRecord)
def read_releases(unit_id: int | None = None) -> Query:
    """The ticket or turn-round card of each unit that was signed last; one statement."""
    tickets = select_of(ReleaseRecord, Ticket, card_id=null()).where(Ticket.signed_at.is_not(None))
    cards = select_of(
        ReleaseRecord,
        TurnRound,
        card_id=TurnRound.id,
        year=null(),
        number=null(),
        signed_at=TurnRound.finished_at,
        signed_by_id=TurnRound.finished_by_id,
    ).where(TurnRound.finished_at.is_not(None))
    if unit_id is not None:
        tickets, cards = tickets.where(Ticket.unit_id == unit_id), cards.where(TurnRound.unit_id == unit_id)
    signed = union_all(tickets, cards).subquery().c
    latest = (signed.signed_at.desc(), signed.card_id, signed.year, signed.number)
    rank = func.row_number().over(partition_by=signed.unit_id, order_by=latest)
    ranked = select(*signed, rank.label("rank")).subquery()
    return select_of(ReleaseRecord, ranked).where(ranked.c.rank == 1)


@reads(LastDiveRecord)
def read_last_dives() -> Query:
    """Since when each diver of a coming or running booking has not dived each unit type; one statement.

    A line counts where somebody came back from it with dives or loop minutes.
    """
    asked = (
        select(BookingUnit.diver_id)
        .join(Booking, Booking.id == BookingUnit.booking_id)
        .where(BookingUnit.received_at.is_(None), Booking.cancelled_at.is_(None), BookingUnit.diver_id.is_not(None))
    )
    return (
        select_of(LastDiveRecord, Unit, person_id=BookingUnit.diver_id, at=func.max(BookingUnit.received_at))
        .join(Unit, Unit.id == BookingUnit.unit_id)
        .where(
            BookingUnit.diver_id.in_(asked),
            and_(BookingUnit.received_at.is_not(None), or_(BookingUnit.dives > 0, BookingUnit.loop_minutes > 0)),
        )
        .group_by(BookingUnit.diver_id, Unit.unit_type_id)
    )


@reads(StatedRecord)
def read_stated() -> Query:
    """What the divers of bookings state, where they state anything; one statement."""
    return select_of(StatedRecord, BookingDiver).where(
        BookingDiver.left_at.is_(None),
        or_(BookingDiver.harness.is_not(None), BookingDiver.last_dive_on.is_not(None)),
    )


@read_if_changed
def read_altitudes(connection: Connection) -> dict[int, float]:
    """Height of the water where a booking is dived, metres, where it is said; one statement."""
    query = select(BookingTerms.booking_id, BookingTerms.altitude_m).where(BookingTerms.altitude_m.is_not(None))
    return {booking: altitude for booking, altitude in connection.execute(query) if altitude is not None}


@reads(AccessoryRecord)
def read_accessories() -> Query:
    """What goes along with units of each type, in order, but for what is counted no more; one statement."""
    return (
        select_of(AccessoryRecord, Accessory)
        .where(Accessory.count > 0)
        .order_by(Accessory.unit_type_id, Accessory.ordinal, Accessory.id)
    )


@dataclass(frozen=True, slots=True)
class Catalogue:
    """What does not hang on any one unit: the centre, types, slots, limits, ratings, notices and names."""

    centre: CentreRecord | None
    part_types: dict[int, PartTypeRecord]
    slots: dict[int, SlotRecord]
    limits: tuple[LimitRecord, ...]
    ratings: tuple[RatingRecord, ...]
    notices: tuple[NoticeScopeRecord, ...]
    notices_done: frozenset[tuple[int, int]]
    names: dict[int, str]


@dataclass(frozen=True, slots=True)
class FleetRecords:
    """What is recorded of the units asked for."""

    catalogue: Catalogue
    units: tuple[UnitRecord, ...]
    fitted: tuple[FittedRecord, ...]
    lives: LifeRecords
    promises: tuple[BookedUnit, ...]
    absences: tuple[AbsenceRecord, ...]
    returns: tuple[ReturnRecord, ...]
    disinfections: tuple[DisinfectionRecord, ...]
    holds: tuple[HoldRecord, ...]
    tickets: tuple[TicketRecord, ...]
    put_off: tuple[PutOffRecord, ...]
    outcomes: tuple[OutcomeRecord, ...]
    calibrations: tuple[CalibrationRecord, ...]
    openings: tuple[OpeningRecord, ...]
    tests: tuple[BenchTestRecord, ...]
    fills: tuple[FillRecord, ...]
    runs_of_fills: tuple[RunRecord, ...]
    gas: GasRecords
    checks: CheckRecords
    turn: TurnRoundRecords
    accepted: tuple[AcceptanceRecord, ...]
    used: tuple[UsedRecord, ...]


def read_catalogue(connection: Connection) -> Catalogue:
    """The catalogue; eight statements."""
    return Catalogue(
        read_centre(connection),
        part_types=read_part_types(connection),
        slots=read_slots(connection),
        limits=read_limits(connection),
        ratings=read_ratings(connection),
        notices=read_notice_scopes(connection),
        notices_done=read_notices_done(connection),
        names=read_names(connection),
    )


def read_fleet(connection: Connection, unit: UnitRecord | None = None) -> FleetRecords:
    """What is recorded of every unit, or of the one given; as many statements for one as for ten thousand."""
    unit_id = unit.unit_id if unit is not None else None
    parts = in_unit(unit_id) if unit_id is not None else None
    fitted = read_fitted(connection, unit_id)
    part_ids = tuple(part.part_id for _, part in fitted) if unit_id is not None else ()
    return FleetRecords(
        read_catalogue(connection),
        units=(unit,) if unit is not None else read_units(connection),
        fitted=fitted,
        lives=(lives := read_life_records(connection, parts, unit_id)),
        promises=lives.promises,
        absences=read_absences(connection, unit_id),
        returns=read_last_returns(connection, unit_id),
        disinfections=read_last_disinfections(connection, unit_id),
        holds=read_holds(connection, unit_id, part_ids),
        tickets=read_open_tickets(connection, unit_id),
        put_off=read_put_off(connection, unit_id),
        outcomes=read_last_outcomes(connection, parts),
        calibrations=read_last_workshop_calibrations(connection, unit_id),
        openings=read_last_workshop_openings(connection, unit_id),
        tests=read_last_tests(connection, unit_id),
        fills=read_last_fills(connection, parts),
        runs_of_fills=read_runs_of_last_fills(connection, parts),
        gas=read_gas(connection, parts),
        checks=read_checks(connection, unit_id, parts),
        turn=read_turn_round_facts(connection, unit_id),
        accepted=read_acceptances(connection),
        used=read_used(connection, unit_id),
    )
