"""Reads of turn-rounds, disinfections, floods and what was last used.

Reads of firmware and of how handsets were left for the next diver.

What readiness and the due list ask of turn-rounds, handsets and the service plan, in a fixed number of reads.
"""

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import Connection, and_, case, func, or_, select

from fleetbench.calc.core.verdict import WorkState
from fleetbench.calc.turn_rounds.card import Step
from fleetbench.records.canisters.reads import still_counts
from fleetbench.records.canisters.tables import Run
from fleetbench.records.core.schema import Query, built_once, read_if_changed, reads, records_of, select_of
from fleetbench.records.hires.tables import Booking, BookingUnit
from fleetbench.records.parts.tables import Fitting, Part, PartType
from fleetbench.records.people.tables import named
from fleetbench.records.tickets.service_plan import ServicePlanRecords, read_service_plan
from fleetbench.records.tickets.tables import Disinfection
from fleetbench.records.turn_rounds.tables import (
    ApprovedFirmware,
    Bath,
    BathLoop,
    Disinfectant,
    Drying,
    FirmwareChange,
    HandsetLook,
    TurnRound,
    TurnRoundLine,
)
from fleetbench.records.units.tables import Unit


@dataclass(frozen=True, slots=True)
class CardRecord:
    """One turn-round card with how many of its lines are settled; finished_at None while it is open."""

    card_id: int
    ref: str | None
    unit_id: int
    unit: str
    unit_type_id: int
    booking: str | None
    opened_at: datetime
    opened_by: str | None
    flooded_at: datetime | None
    finished_at: datetime | None
    finished_by: str | None
    ticket_id: int | None
    settled: int
    lines: int

    @property
    def number(self) -> str:
        """Its number as printed."""
        return self.ref or f"TR-{self.card_id}"


@dataclass(frozen=True, slots=True)
class CardLineRecord:
    """One line of a card."""

    line_id: int
    card_id: int
    ordinal: int
    step: str
    service_task_id: int | None
    state: str
    settled_at: datetime | None
    person: str | None
    how: str | None


@dataclass(frozen=True, slots=True)
class LoopCleaning:
    """The last rinsed disinfection of a unit's loop, or of a loop set, and the last look at it since.

    unrinsed_at: the last bath that was not rinsed off, whenever it was. sooner: what the card says of a loop that was
    found dry before its hours.
    """

    disinfection_id: int
    unit_id: int
    part_id: int | None
    at: datetime
    dry_at: datetime | None
    looked_at: datetime | None
    found_dry: bool | None
    unrinsed_at: datetime | None
    sooner: str | None = None


@dataclass(frozen=True, slots=True)
class AgentRecord:
    """One agent with its maker's figures; unit_type_id None serves every type."""

    disinfectant_id: int
    unit_type_id: int | None
    name: str
    strength: str
    contact_minutes: float
    use_within_hours: float | None
    source: str


@dataclass(frozen=True, slots=True)
class BathRecord:
    """One bath with its agent."""

    bath_id: int
    at: datetime
    agent: str
    strength: str
    mixed_at: datetime
    use_by: datetime
    contact_minutes: float
    rinsed: bool
    disinfection_id: int


@built_once
def _cards() -> Query:
    lines = select(func.count()).where(TurnRoundLine.turn_round_id == TurnRound.id)
    settled = lines.where(TurnRoundLine.state != WorkState.TO_DO).correlate(TurnRound).scalar_subquery()
    return (
        select_of(
            CardRecord,
            TurnRound,
            Unit,
            card_id=TurnRound.id,
            unit=Unit.tag,
            booking=Booking.code,
            settled=settled,
            opened_by=named(TurnRound.opened_by_id),
            finished_by=named(TurnRound.finished_by_id),
            lines=lines.correlate(TurnRound).scalar_subquery(),
        )
        .join(Unit, Unit.id == TurnRound.unit_id)
        .outerjoin(BookingUnit, BookingUnit.id == TurnRound.booking_unit_id)
        .outerjoin(Booking, Booking.id == BookingUnit.booking_id)
        .order_by(TurnRound.opened_at, TurnRound.id)
    )


@reads(CardRecord)
def read_cards(unit_id: int | None = None, *, card_id: int | None = None, open_only: bool = False) -> Query:
    """Cards, oldest first, of all or of one unit; one statement."""
    query = _cards()
    if unit_id is not None:
        query = query.where(TurnRound.unit_id == unit_id)
    if card_id is not None:
        query = query.where(TurnRound.id == card_id)
    if open_only:
        query = query.where(TurnRound.finished_at.is_(None))
    return query


@reads(CardLineRecord)
def read_card_lines(*, card_id: int | None = None, open_cards: bool = False) -> Query:
    """Lines of one card, or of every open card, in bench order; one statement."""
    query = select_of(
        CardLineRecord,
        TurnRoundLine,
        line_id=TurnRoundLine.id,
        card_id=TurnRoundLine.turn_round_id,
        person=named(TurnRoundLine.person_id),
    ).order_by(TurnRoundLine.turn_round_id, TurnRoundLine.ordinal)
    if card_id is not None:
        query = query.where(TurnRoundLine.turn_round_id == card_id)
    if open_cards:
        query = query.join(TurnRound, TurnRound.id == TurnRoundLine.turn_round_id).where(
            TurnRound.finished_at.is_(None)
        )
    return query


@built_once
def _cleanings(by_part: bool) -> Query:
    """The last rinsed disinfection by unit or by loop set; of a bath not rinsed off, only when it was."""
    key = BathLoop.part_id if by_part else Disinfection.unit_id
    in_turn = (Disinfection.rinsed.desc(), Disinfection.at.desc(), Disinfection.id.desc())
    unrinsed = case((Disinfection.rinsed.is_(False), Disinfection.at))
    ranked = select(
        Disinfection.id.label("id"),
        BathLoop.part_id.label("part_id"),
        func.row_number().over(partition_by=key, order_by=in_turn).label("rank"),
        func.max(unrinsed).over(partition_by=key).label("unrinsed_at"),
    ).outerjoin(BathLoop, BathLoop.disinfection_id == Disinfection.id)
    if by_part:
        ranked = ranked.where(BathLoop.part_id.is_not(None))
    last = ranked.subquery()
    newest = func.row_number().over(partition_by=Drying.disinfection_id, order_by=(Drying.at.desc(), Drying.id.desc()))
    looks = select(
        Drying.disinfection_id.label("of"), Drying.at.label("at"), Drying.dry.label("dry"), newest.label("rank")
    ).subquery()
    sooner = (
        select(TurnRoundLine.how)
        .join(TurnRound, TurnRound.id == TurnRoundLine.turn_round_id)
        .where(
            TurnRound.unit_id == Disinfection.unit_id,
            TurnRoundLine.step == Step.DRY,
            TurnRoundLine.state == WorkState.LEFT_OUT,
            TurnRoundLine.settled_at == Disinfection.dry_at,
        )
        .order_by(TurnRoundLine.id.desc())
        .limit(1)
        .scalar_subquery()
    )
    return (
        select_of(LoopCleaning, Disinfection, last, looked_at=looks.c.at, found_dry=looks.c.dry, sooner=sooner)
        .join(last, last.c.id == Disinfection.id)
        .outerjoin(looks, and_(looks.c.of == Disinfection.id, looks.c.rank == 1))
        .where(last.c.rank == 1, Disinfection.rinsed.is_(True))
    )


@read_if_changed
def read_loop_cleanings(
    connection: Connection, unit_id: int | None = None
) -> tuple[tuple[LoopCleaning, ...], tuple[LoopCleaning, ...]]:
    """The last disinfection of each unit's loop, and of each loop set that lay in a recorded bath; two statements."""
    of_units = _cleanings(by_part=False)
    if unit_id is not None:
        of_units = of_units.where(Disinfection.unit_id == unit_id)
    return (
        records_of(connection, of_units, LoopCleaning),
        records_of(connection, _cleanings(by_part=True), LoopCleaning),
    )


@built_once
def _returns_of_loop_sets() -> Query:
    return (
        select(Fitting.part_id, func.max(BookingUnit.received_at))
        .join(Part, Part.id == Fitting.part_id)
        .join(PartType, and_(PartType.id == Part.part_type_id, PartType.kind == "loop set"))
        .join(BookingUnit, BookingUnit.unit_id == Fitting.unit_id)
        .where(
            BookingUnit.received_at.is_not(None),
            Fitting.fitted_at <= BookingUnit.received_at,
            or_(Fitting.removed_at.is_(None), Fitting.removed_at > BookingUnit.out_at),
        )
        .group_by(Fitting.part_id)
    )


@read_if_changed
def read_returns_of_loop_sets(connection: Connection) -> dict[int, datetime]:
    """When each loop set last came back from a diver, in whichever unit it sat then; one statement."""
    return {part_id: at for part_id, at in connection.execute(_returns_of_loop_sets()) if at is not None}


@built_once
def _last_floods(unit_id: int | None) -> tuple[Query, ...]:
    returned = select(BookingUnit.unit_id, func.max(BookingUnit.received_at)).where(BookingUnit.flooded.is_(True))
    carded = select(TurnRound.unit_id, func.max(TurnRound.flooded_at)).where(TurnRound.flooded_at.is_not(None))
    asked = ((returned, BookingUnit.unit_id), (carded, TurnRound.unit_id))
    return tuple(
        (query if unit_id is None else query.where(column == unit_id)).group_by(column) for query, column in asked
    )


@read_if_changed
def read_last_floods(connection: Connection, unit_id: int | None = None) -> dict[int, datetime]:
    """When each unit was last found flooded, at its return or at the bench; two statements."""
    found: dict[int, datetime] = {}
    for query in _last_floods(unit_id):
        for key, at in connection.execute(query):
            if at is not None and (key not in found or at > found[key]):
                found[key] = at
    return found


@built_once
def _full_tests(unit_id: int | None) -> Query:
    query = select(TurnRound.unit_id, func.max(TurnRound.finished_at)).where(
        TurnRound.flooded_at.is_not(None), TurnRound.finished_at.is_not(None)
    )
    if unit_id is not None:
        query = query.where(TurnRound.unit_id == unit_id)
    return query.group_by(TurnRound.unit_id)


@read_if_changed
def read_full_tests(connection: Connection, unit_id: int | None = None) -> dict[int, datetime]:
    """When each unit's last card of a flood was finished, which is its full test; one statement."""
    return {key: at for key, at in connection.execute(_full_tests(unit_id)) if at is not None}


@built_once
def _last_finished(unit_id: int | None) -> Query:
    query = select(TurnRound.unit_id, func.max(TurnRound.finished_at)).where(TurnRound.finished_at.is_not(None))
    if unit_id is not None:
        query = query.where(TurnRound.unit_id == unit_id)
    return query.group_by(TurnRound.unit_id)


@read_if_changed
def read_last_finished(connection: Connection, unit_id: int | None = None) -> dict[int, datetime]:
    """When each unit's last card was finished; one statement."""
    return {key: at for key, at in connection.execute(_last_finished(unit_id)) if at is not None}


@built_once
def _last_runs(unit_id: int | None) -> Query:
    query = select(Run.unit_id, func.max(Run.started_at)).where(Run.unit_id.is_not(None))
    if unit_id is not None:
        query = query.where(Run.unit_id == unit_id)
    return query.group_by(Run.unit_id)


@read_if_changed
def read_last_runs(connection: Connection, unit_id: int | None = None) -> dict[int, datetime]:
    """When each unit's last run began; one statement."""
    return {key: at for key, at in connection.execute(_last_runs(unit_id)) if key is not None}


@built_once
def _last_dives(unit_id: int | None) -> Query:
    latest = func.max(func.coalesce(Run.ended_by, Run.started_at))
    query = select(Run.unit_id, latest).where(Run.booking_unit_id.is_(None), still_counts())
    if unit_id is not None:
        query = query.where(Run.unit_id == unit_id)
    return query.group_by(Run.unit_id)


@read_if_changed
def read_last_dives(connection: Connection, unit_id: int | None = None) -> dict[int, datetime]:
    """When each unit was last dived outside any booking, at the latest it can have been; one statement."""
    return {key: at for key, at in connection.execute(_last_dives(unit_id)) if key is not None}


@built_once
def _last_dives_of_loop_sets() -> Query:
    latest = func.coalesce(Run.ended_by, Run.started_at)
    return (
        select(Fitting.part_id, func.max(latest))
        .join(Part, Part.id == Fitting.part_id)
        .join(PartType, and_(PartType.id == Part.part_type_id, PartType.kind == "loop set"))
        .join(Run, Run.unit_id == Fitting.unit_id)
        .where(
            Run.booking_unit_id.is_(None),
            still_counts(),
            Fitting.fitted_at <= latest,
            or_(Fitting.removed_at.is_(None), Fitting.removed_at > Run.started_at),
        )
        .group_by(Fitting.part_id)
    )


@read_if_changed
def read_last_dives_of_loop_sets(connection: Connection) -> dict[int, datetime]:
    """When each loop set was last dived outside any booking, in whichever unit it sat then; one statement."""
    return {part_id: at for part_id, at in connection.execute(_last_dives_of_loop_sets()) if at is not None}


@reads(AgentRecord)
def read_agents() -> Query:
    """Every agent by name; one statement."""
    return select_of(AgentRecord, Disinfectant).order_by(
        Disinfectant.unit_type_id.is_(None), Disinfectant.name, Disinfectant.id
    )


@reads(BathRecord)
def read_baths(unit_id: int) -> Query:
    """The baths in which a unit's loop lay, oldest first; one statement."""
    return (
        select_of(BathRecord, Bath, Disinfectant, BathLoop, agent=Disinfectant.name)
        .join(Disinfectant, Disinfectant.id == Bath.disinfectant_id)
        .join(BathLoop, BathLoop.bath_id == Bath.id)
        .join(Disinfection, Disinfection.id == BathLoop.disinfection_id)
        .where(Disinfection.unit_id == unit_id)
        .order_by(Bath.at, Bath.id)
    )


@dataclass(frozen=True, slots=True)
class ApprovedRecord:
    """One firmware version that a unit type allows."""

    unit_type_id: int
    version: str
    source: str


@dataclass(frozen=True, slots=True)
class LookRecord:
    """One look at a unit's handsets; None is not looked at."""

    unit_id: int
    at: datetime
    settings_reset: bool | None
    previous_data: str | None


@reads(ApprovedRecord)
def read_approved_firmware() -> Query:
    """Every version that a unit type allows; one statement."""
    return select_of(ApprovedRecord, ApprovedFirmware).order_by(ApprovedFirmware.unit_type_id, ApprovedFirmware.version)


@built_once
def _firmware_changes() -> Query:
    return select(FirmwareChange.part_id, func.max(FirmwareChange.at)).group_by(FirmwareChange.part_id)


@read_if_changed
def read_firmware_changes(connection: Connection) -> dict[int, datetime]:
    """When each handset last got another firmware; one statement."""
    return {part_id: at for part_id, at in connection.execute(_firmware_changes())}


@reads(LookRecord)
def read_last_looks(unit_id: int | None = None) -> Query:
    """The last look at each unit's handsets of each sort (settings, previous data, both), oldest first."""
    rank = func.row_number().over(
        partition_by=(
            HandsetLook.unit_id, HandsetLook.settings_reset.is_(None), HandsetLook.previous_data.is_(None)
        ),
        order_by=(HandsetLook.at.desc(), HandsetLook.id.desc()),
    )  # fmt: skip
    ranked = select(HandsetLook.id.label("id"), rank.label("rank"))
    if unit_id is not None:
        ranked = ranked.where(HandsetLook.unit_id == unit_id)
    last = ranked.subquery()
    return (
        select_of(LookRecord, HandsetLook)
        .join(last, last.c.id == HandsetLook.id)
        .where(last.c.rank == 1)
        .order_by(HandsetLook.at, HandsetLook.id)
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
    last_dives: dict[int, datetime]
    last_dives_of_sets: dict[int, datetime]
    approved: tuple[ApprovedRecord, ...]
    firmware_changes: dict[int, datetime]
    looks: tuple[LookRecord, ...]
    service: ServicePlanRecords


def read_turn_round_facts(connection: Connection, unit_id: int | None = None) -> TurnRoundRecords:
    """Everything of all units, or of one; as many statements for one as for all."""
    of_units, of_sets = read_loop_cleanings(connection, unit_id)
    return TurnRoundRecords(
        read_cards(connection, unit_id, open_only=True),
        finished=read_last_finished(connection, unit_id),
        cleanings=of_units,
        cleanings_of_sets=of_sets,
        returns_of_sets=read_returns_of_loop_sets(connection),
        floods=read_last_floods(connection, unit_id),
        full_tests=read_full_tests(connection, unit_id),
        last_runs=read_last_runs(connection, unit_id),
        last_dives=read_last_dives(connection, unit_id),
        last_dives_of_sets=read_last_dives_of_loop_sets(connection),
        approved=read_approved_firmware(connection),
        firmware_changes=read_firmware_changes(connection),
        looks=read_last_looks(connection, unit_id),
        service=read_service_plan(connection, unit_id),
    )
