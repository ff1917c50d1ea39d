"""What readiness and the due list ask of turn-rounds, handsets and the service plan, in a fixed number of reads."""

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import Connection

from fleetbench.records.tickets.read_service_plan import ServicePlanRecords, read_service_plan
from fleetbench.records.turn_rounds.read_handsets import (
    ApprovedRecord,
    LookRecord,
    read_approved_firmware,
    read_firmware_changes,
    read_last_looks,
)
from fleetbench.records.turn_rounds.reads import (
    CardRecord,
    LoopCleaning,
    read_cards,
    read_full_tests,
    read_last_finished,
    read_last_floods,
    read_last_runs,
    read_loop_cleanings,
    read_returns_of_loop_sets,
)


@dataclass(frozen=True, slots=True)
class TurnRoundRecords:
    """What is recorded of the units asked for; dictionaries by unit, but by part for loop sets and firmware."""

    open_cards: tuple[CardRecord, ...]
    finished: dict[int, datetime]
    cleanings: tuple[LoopCleaning, ...]
    cleanings_of_sets: tuple[LoopCleaning, ...]
    returns_of_sets: dict[int, datetime]
    floods: dict[int, datetime]
    full_tests: dict[int, datetime]
    last_runs: dict[int, datetime]
    approved: tuple[ApprovedRecord, ...]
    firmware_changes: dict[int, datetime]
    looks: tuple[LookRecord, ...]
    service: ServicePlanRecords


def read_turn_round_facts(connection: Connection, unit_id: int | None = None) -> TurnRoundRecords:
    """Everything of all units, or of one; as many statements for one as for all."""
    of_units, of_sets = read_loop_cleanings(connection, unit_id)
    return TurnRoundRecords(
        read_cards(connection, unit_id, open_only=True),
        read_last_finished(connection, unit_id),
        of_units,
        of_sets,
        read_returns_of_loop_sets(connection),
        read_last_floods(connection, unit_id),
        read_full_tests(connection, unit_id),
        read_last_runs(connection, unit_id),
        read_approved_firmware(connection),
        read_firmware_changes(connection),
        read_last_looks(connection, unit_id),
        read_service_plan(connection, unit_id),
    )
