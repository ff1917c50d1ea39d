"""What a turn-round must look up inside its act: the open card, its lines, the last bath, calibrations since."""

from collections.abc import Iterable, Sequence
from datetime import datetime

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from fleetbench.calc.cells.readings import MadeBy
from fleetbench.records.bench.lookups import SlotContent, seats_of
from fleetbench.records.bench.tables import BenchTest
from fleetbench.records.cells.tables import Calibration, CalibrationOutcome
from fleetbench.records.gas.reads import read_kept_clean
from fleetbench.records.gas.tables import CylinderReading
from fleetbench.records.parts.tables import Part, PartTest, PartType
from fleetbench.records.people.tables import Qualification
from fleetbench.records.tickets.tables import (
    Disinfection,
    ServiceNeed,
    ServiceStep,
    ServiceTask,
    ServiceWork,
    Task,
    need_in_force,
)
from fleetbench.records.turn_rounds.tables import Disinfectant, Drying, TurnRound, TurnRoundLine
from fleetbench.records.units.tables import Unit


def open_card_of(session: Session, unit_id: int) -> TurnRound | None:
    """The card of a unit that is not finished, None where there is none."""
    query = select(TurnRound).where(TurnRound.unit_id == unit_id, TurnRound.finished_at.is_(None))
    return session.scalar(query.order_by(TurnRound.id.desc()).limit(1))


def lines_of_card(session: Session, card_id: int) -> Sequence[TurnRoundLine]:
    """The lines of a card in bench order."""
    query = select(TurnRoundLine).where(TurnRoundLine.turn_round_id == card_id)
    return session.scalars(query.order_by(TurnRoundLine.ordinal)).all()


def plan_tasks(session: Session, unit_type_id: int, bases: Iterable[str]) -> Sequence[ServiceTask]:
    """Tasks of a unit type's plan with one of these bases, in order."""
    query = select(ServiceTask).where(ServiceTask.unit_type_id == unit_type_id, ServiceTask.basis.in_(list(bases)))
    return session.scalars(query.order_by(ServiceTask.ordinal, ServiceTask.id)).all()


def needs_of(
    session: Session, service_task_ids: Iterable[int], at: datetime | None = None
) -> Sequence[tuple[ServiceNeed, str | None]]:
    """What these tasks need, each with the name of its part type; at: as the plan stood then, None for now."""
    query = (
        select(ServiceNeed, PartType.name)
        .outerjoin(PartType, PartType.id == ServiceNeed.part_type_id)
        .where(ServiceNeed.service_task_id.in_(list(service_task_ids)), need_in_force(at))
        .order_by(ServiceNeed.service_task_id, ServiceNeed.id)
    )
    return [(need, name) for need, name in session.execute(query)]


def steps_in_force(session: Session, service_task_id: int) -> Sequence[ServiceStep]:
    """The steps of a task of the plan that no correction has ended, in order."""
    query = select(ServiceStep).where(ServiceStep.service_task_id == service_task_id, ServiceStep.ended_at.is_(None))
    return session.scalars(query.order_by(ServiceStep.ordinal, ServiceStep.id)).all()


def service_of_task(session: Session, task_id: int) -> ServiceTask | None:
    """The task of the plan that a ticket's task is, None for one that somebody wrote."""
    query = select(ServiceTask).join(ServiceWork, ServiceWork.service_task_id == ServiceTask.id)
    return session.scalar(query.where(ServiceWork.task_id == task_id))


def services_of_ticket(session: Session, ticket_id: int) -> dict[int, ServiceTask]:
    """The tasks of the plan that tasks of a ticket are, by the key of the ticket's task."""
    query = (
        select(ServiceWork.task_id, ServiceTask)
        .join(ServiceTask, ServiceTask.id == ServiceWork.service_task_id)
        .join(Task, Task.id == ServiceWork.task_id)
        .where(Task.ticket_id == ticket_id)
    )
    return {task: row for task, row in session.execute(query)}


def qualifications_of(session: Session, person_id: int, unit_type_id: int) -> Sequence[Qualification]:
    """What was seen of a person's qualifications for a unit type, or for every type."""
    query = select(Qualification).where(
        Qualification.person_id == person_id,
        (Qualification.unit_type_id == unit_type_id) | Qualification.unit_type_id.is_(None),
    )
    return session.scalars(query.order_by(Qualification.id)).all()


def last_disinfection(session: Session, unit_id: int) -> Disinfection | None:
    """The last disinfection of a unit's loop."""
    query = select(Disinfection).where(Disinfection.unit_id == unit_id)
    return session.scalar(query.order_by(Disinfection.at.desc(), Disinfection.id.desc()).limit(1))


def last_damp_look(session: Session, disinfection_id: int) -> datetime | None:
    """When a loop was last found damp after this disinfection."""
    query = select(func.max(Drying.at)).where(Drying.disinfection_id == disinfection_id, Drying.dry.is_(False))
    return session.scalar(query)


def agents_for(session: Session, unit_type_id: int) -> Sequence[Disinfectant]:
    """The agents that a unit type's maker names; the centre's own where it names none."""
    rows = session.scalars(select(Disinfectant).order_by(Disinfectant.id)).all()
    own = [row for row in rows if row.unit_type_id == unit_type_id]
    return own or [row for row in rows if row.unit_type_id is None]


def sound_calibrations(session: Session, unit: Unit, since: datetime) -> Sequence[Calibration]:
    """Workshop calibrations after a moment that judged a cell at every position, left none in doubt, and still hold.

    A calibration of a head in which a position was empty says nothing of the unit's cells as a whole.
    """
    positions = max(1, sum(seat.slot.kind == "cell" for seat in seats_of(session, unit)))
    whole = (
        select(CalibrationOutcome.calibration_id)
        .group_by(CalibrationOutcome.calibration_id)
        .having(func.count() >= positions)
    )
    superseded = select(Calibration.supersedes_id).where(Calibration.supersedes_id.is_not(None))
    doubted = select(CalibrationOutcome.calibration_id).where(CalibrationOutcome.verdict.in_(("repeat", "reject")))
    query = select(Calibration).where(
        Calibration.unit_id == unit.id,
        Calibration.made == MadeBy.WORKSHOP,
        Calibration.at > since,
        Calibration.id.in_(whole),
        Calibration.id.not_in(superseded),
        Calibration.id.not_in(doubted),
    )
    return session.scalars(query.order_by(Calibration.at, Calibration.id)).all()


def loop_set_of(seats: Iterable[SlotContent]) -> Part | None:
    """The loop set that is fitted among a unit's seats."""
    return next((seat.part for seat in seats if seat.slot.kind == "loop set" and seat.part is not None), None)


def batteries_unread(session: Session, unit: Unit, since: datetime) -> tuple[str, ...]:
    """The slots of batteries that were not read to pass since a moment."""
    read = set(
        session.scalars(
            select(BenchTest.part_id).where(
                BenchTest.unit_id == unit.id,
                BenchTest.kind == "battery voltage",
                BenchTest.at >= since,
                BenchTest.result.in_(("pass", "watch")),
            )
        )
    )
    slots = [seat for seat in seats_of(session, unit) if "battery" in seat.slot.kind]
    alone = len(slots) == 1
    return tuple(
        seat.slot.name
        for seat in slots
        if seat.part is None or (seat.part.id not in read and not (alone and None in read))
    )


def gauges_read(session: Session, part_ids: Iterable[int], since: datetime) -> frozenset[int]:
    """Which cylinders had their gauge read since a moment."""
    query = select(CylinderReading.part_id).where(
        CylinderReading.part_id.in_(list(part_ids)), CylinderReading.at >= since
    )
    return frozenset(session.scalars(query))


def units_with(session: Session, part_ids: Iterable[int], unit_ids: Iterable[int]) -> Sequence[Unit]:
    """Of these units those in which one of the parts sits."""
    wanted = set(part_ids)
    units = session.scalars(select(Unit).where(Unit.id.in_(list(unit_ids))).order_by(Unit.id))
    return [
        unit
        for unit in units
        if any(seat.part is not None and seat.part.id in wanted for seat in seats_of(session, unit))
    ]


def units_with_open_cards(session: Session) -> Sequence[int]:
    """Units whose card is not finished."""
    return list(session.scalars(select(TurnRound.unit_id).where(TurnRound.finished_at.is_(None))))


def kept_clean_in(session: Session, unit: Unit) -> frozenset[int]:
    """Parts in a unit that must be oxygen-clean."""
    inside = tuple(seat.part.id for seat in seats_of(session, unit) if seat.part is not None)
    return read_kept_clean(session.connection(), inside) if inside else frozenset()


def cleaned_since(session: Session, part_ids: Iterable[int], since: datetime) -> frozenset[int]:
    """Which parts were cleaned for oxygen and passed since a moment; a day without an hour must lie after its day."""
    query = select(PartTest.part_id).where(
        PartTest.part_id.in_(list(part_ids)),
        PartTest.kind == "oxygen clean",
        PartTest.passed.is_(True),
        (PartTest.at >= since) | (PartTest.at.is_(None) & (PartTest.done_on > since.date())),
    )
    return frozenset(session.scalars(query))
