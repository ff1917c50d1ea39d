"""All that is recorded of units and bears on whether they may go out, in a fixed number of reads."""

from dataclasses import dataclass

from sqlalchemy import Connection

from fleetbench.records.bench.equipment_reads import UsedRecord, read_used
from fleetbench.records.bench.reads import (
    BenchTestRecord,
    OpeningRecord,
    read_last_tests,
    read_last_workshop_openings,
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
    read_last_outcomes,
    read_last_workshop_calibrations,
)
from fleetbench.records.gas.reads import GasRecords, read_gas
from fleetbench.records.hires.lookups import AcceptanceRecord, read_acceptances
from fleetbench.records.notices.reads import NoticeScopeRecord, read_notice_scopes, read_notices_done
from fleetbench.records.parts.lives import LifeRecords, read_life_records
from fleetbench.records.parts.reads import (
    FittingRecord,
    PartRecord,
    PartTypeRecord,
    SlotRecord,
    in_unit,
    read_fitted,
    read_part_types,
    read_slots,
)
from fleetbench.records.people.reads import read_names
from fleetbench.records.places.reads import CentreRecord, LimitRecord, read_centre, read_limits
from fleetbench.records.readiness.readiness_reads import CheckRecords, read_checks
from fleetbench.records.turn_rounds.turn_round_facts import TurnRoundRecords, read_turn_round_facts
from fleetbench.records.units.read_use import PromiseRecord
from fleetbench.records.units.reads import (
    AbsenceRecord,
    DisinfectionRecord,
    HoldRecord,
    OpenTicketRecord,
    PutOffRecord,
    ReturnRecord,
    UnitRecord,
    read_absences,
    read_holds,
    read_last_disinfections,
    read_last_returns,
    read_open_tickets,
    read_put_off,
    read_units,
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
    fitted: tuple[tuple[FittingRecord, PartRecord], ...]
    lives: LifeRecords
    promises: tuple[PromiseRecord, ...]
    absences: tuple[AbsenceRecord, ...]
    returns: tuple[ReturnRecord, ...]
    disinfections: tuple[DisinfectionRecord, ...]
    holds: tuple[HoldRecord, ...]
    tickets: tuple[OpenTicketRecord, ...]
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
        read_part_types(connection),
        read_slots(connection),
        read_limits(connection),
        read_ratings(connection),
        read_notice_scopes(connection),
        read_notices_done(connection),
        read_names(connection),
    )


def read_fleet(connection: Connection, unit: UnitRecord | None = None) -> FleetRecords:
    """What is recorded of every unit, or of the one given; as many statements for one as for ten thousand."""
    unit_id = unit.unit_id if unit is not None else None
    parts = in_unit(unit_id) if unit_id is not None else None
    fitted = read_fitted(connection, unit_id)
    part_ids = tuple(part.part_id for _, part in fitted) if unit_id is not None else ()
    return FleetRecords(
        read_catalogue(connection),
        (unit,) if unit is not None else read_units(connection),
        fitted,
        lives := read_life_records(connection, parts),
        lives.promises,
        read_absences(connection, unit_id),
        read_last_returns(connection, unit_id),
        read_last_disinfections(connection, unit_id),
        read_holds(connection, unit_id, part_ids),
        read_open_tickets(connection, unit_id),
        read_put_off(connection, unit_id),
        read_last_outcomes(connection, parts),
        read_last_workshop_calibrations(connection, unit_id),
        read_last_workshop_openings(connection, unit_id),
        read_last_tests(connection, unit_id),
        read_last_fills(connection, parts),
        read_runs_of_last_fills(connection, parts),
        read_gas(connection, parts),
        read_checks(connection, unit_id, parts),
        read_turn_round_facts(connection, unit_id),
        read_acceptances(connection),
        read_used(connection, unit_id),
    )
