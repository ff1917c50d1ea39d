"""Reads of service plans, of the steps on tickets, and of when tasks were last done under a signature."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from sqlalchemy import ColumnElement, Connection, func, select

from fleetbench.calc.core.languages import say, say_ref
from fleetbench.calc.core.verdict import PASSES, WorkState
from fleetbench.calc.parts.kinds import ShelfEvent
from fleetbench.calc.tickets.signing import ONE_WAY_DIRECTIONS, TicketTest, left_out_tests, needs_of, state_now, tried
from fleetbench.calc.tickets.steps import PlanStep, StepGiven, step_lacks, step_state, steps_left_out
from fleetbench.records.bench.tables import BenchTest, Opening
from fleetbench.records.core.schema import Query, built_once, read_if_changed, reads, select_of
from fleetbench.records.hires.tables import BookingUnit
from fleetbench.records.parts.tables import Part, PartEvent, PartType
from fleetbench.records.people.tables import named
from fleetbench.records.tickets.reads import ticket_number
from fleetbench.records.tickets.tables import (
    ServiceNeed,
    ServiceStep,
    ServiceTask,
    ServiceWork,
    StepResult,
    Task,
    Ticket,
    need_in_force,
    still_open,
)
from fleetbench.records.turn_rounds.tables import TurnRound, TurnRoundLine


@dataclass(frozen=True, slots=True)
class ServiceTaskRecord:
    """One task of a unit type's plan; roles with commas between."""

    service_task_id: int
    ref: str | None
    unit_type_id: int
    ordinal: int
    text: str
    basis: str
    amount: float | None
    minutes: float | None
    roles: str | None
    qualification: str | None
    second_person: bool
    critical: bool
    source: str


@dataclass(frozen=True, slots=True)
class ServiceNeedRecord:
    """What a task needs: a kind of test, or so many parts of a type."""

    service_task_id: int
    test: str | None
    part_type_id: int | None
    part_type: str | None
    quantity: float
    began_at: datetime | None = None
    ended_at: datetime | None = None

    def in_force(self, at: datetime) -> bool:
        """Whether the plan asked for it at a moment."""
        return (self.began_at is None or self.began_at <= at) and (self.ended_at is None or at < self.ended_at)


@dataclass(frozen=True, slots=True, kw_only=True)
class TicketStep:
    """A step of a ticket's task, as it was in force when the ticket was opened, with what was recorded of it.

    number: as printed, task and step. lots: of the parts taken from stock for it. last, last_at: the figure of the same
    step when it was done on the unit before, where that was asked for.
    """

    step_result_id: int
    service_task_id: int
    ticket_id: int
    task_id: int
    number: str
    plan: PlanStep
    given: StepGiven
    settled_at: datetime | None = None
    person_id: int | None = None
    person: str | None = None
    second: str | None = None
    photograph: str | None = None
    part_type: str | None = None
    lots: tuple[str, ...] = ()
    last: float | None = None
    last_at: datetime | None = None

    @property
    def state(self) -> str:
        """The state as it stands: what was said to be done is to do where its evidence is lacking."""
        return step_state(self.plan, self.given)

    @property
    def lacks(self) -> tuple[str, ...]:
        """Why what was recorded does not settle it, each with its remedy."""
        return step_lacks(self.plan, self.given)

    @property
    def judged(self) -> tuple[str, PlanStep, StepGiven]:
        """As the decisions over a task's steps take it."""
        return self.number, self.plan, self.given


@dataclass(frozen=True, slots=True)
class ServicePlanRecords:
    """Plans of all types, and when each task was last done on each unit.

    done: by unit and task, under a signed ticket or a finished card. waiting: tasks of open tickets and open cards, by
    unit and task. hand_backs, assemblies: the last of each unit. tested: since when a kind of test has passed, in each
    direction where it has two, by unit and kind. not_counted: by unit and task the last signed ticket that holds it
    done and leaves out a test that it needs, in words.
    """

    tasks: tuple[ServiceTaskRecord, ...]
    needs: tuple[ServiceNeedRecord, ...]
    done: dict[tuple[int, int], datetime]
    waiting: frozenset[tuple[int, int]]
    hand_backs: dict[int, datetime]
    assemblies: dict[int, datetime]
    tested: dict[tuple[int, str], datetime]
    not_counted: dict[tuple[int, int], str] = field(default_factory=dict)

    def tested_at(self, unit_id: int, service_task_id: int) -> datetime | None:
        """Since when every test that a task needs, and that needs nothing else, has passed; None where one has not."""
        mine = [need for need in self.needs if need.service_task_id == service_task_id]
        if not mine or any(need.test is None for need in mine):
            return None
        found = [self.tested.get((unit_id, need.test)) for need in mine if need.test is not None]
        return min((each for each in found if each is not None), default=None) if None not in found else None


@reads(ServiceTaskRecord)
def read_service_tasks(unit_type_id: int | None = None) -> Query:
    """Tasks in their order, of every plan or of one unit type's; one statement."""
    query = select_of(ServiceTaskRecord, ServiceTask).order_by(
        ServiceTask.unit_type_id, ServiceTask.ordinal, ServiceTask.id
    )
    if unit_type_id is not None:
        query = query.where(ServiceTask.unit_type_id == unit_type_id)
    return query


@reads(ServiceNeedRecord)
def read_service_needs(*, ended: bool = False) -> Query:
    """What every task needs; ended: with what a correction has ended since; one statement."""
    query = (
        select_of(ServiceNeedRecord, ServiceNeed, part_type=PartType.name)
        .outerjoin(PartType, PartType.id == ServiceNeed.part_type_id)
        .order_by(ServiceNeed.service_task_id, ServiceNeed.id)
    )
    return query if ended else query.where(need_in_force())


def read_steps(connection: Connection, ticket_ids: Iterable[int]) -> tuple[TicketStep, ...]:
    """The steps of tickets, in the order of tasks and steps; three statements."""
    return _steps(connection, _of_tickets(tuple(sorted(ticket_ids))))


def read_steps_before(connection: Connection, unit_id: int, service_task_ids: Iterable[int]) -> tuple[TicketStep, ...]:
    """Steps of these tasks that were done on a unit under any ticket, oldest first; three statements."""
    on_unit = select(Ticket.id).where(Ticket.unit_id == unit_id)
    of_tasks = select(ServiceStep.id).where(ServiceStep.service_task_id.in_(list(service_task_ids)))
    done = (
        (StepResult.ticket_id.in_(on_unit))
        & (StepResult.service_step_id.in_(of_tasks))
        & (StepResult.state == WorkState.DONE)
    )
    return tuple(sorted(_steps(connection, _of_steps(done)), key=lambda each: str(each.settled_at)))


def plan_step(row: Any) -> PlanStep:
    """A recorded step as the rules know it."""
    return PlanStep(**{name: getattr(row, name) for name in PlanStep.__dataclass_fields__})


@built_once
def _of_tickets(ticket_ids: tuple[int, ...]) -> tuple[Query, Query]:
    return _of_steps(StepResult.ticket_id.in_(ticket_ids))


def _of_steps(wanted: ColumnElement[bool]) -> tuple[Query, Query]:
    """What finds steps, and the parts that were taken from stock for them and not put back."""
    steps = (
        select(
            StepResult, Task.ordinal.label("task_ordinal"), ServiceStep.ordinal, ServiceStep.service_task_id,
            PartType.name.label("part_type"),
            named(StepResult.person_id).label("person"), named(StepResult.second_id).label("second"),
        )
        .join(Task, Task.id == StepResult.task_id)
        .join(ServiceStep, ServiceStep.id == StepResult.service_step_id)
        .outerjoin(PartType, PartType.id == ServiceStep.part_type_id)
        .where(wanted)
        .order_by(StepResult.ticket_id, Task.ordinal, ServiceStep.ordinal, StepResult.id)
    )  # fmt: skip
    undone = select(PartEvent.undoes_id).where(PartEvent.undoes_id.is_not(None))
    taken = (
        select(PartEvent.step_result_id, Part.lot, Part.serial)
        .join(Part, Part.id == PartEvent.part_id)
        .join(StepResult, StepResult.id == PartEvent.step_result_id)
        .where(wanted, PartEvent.kind == ShelfEvent.USED_UP, PartEvent.id.not_in(undone))
        .order_by(PartEvent.id)
    )
    return steps, taken


@built_once
def _planned(step_ids: tuple[int, ...]) -> Query:
    return select(ServiceStep).where(ServiceStep.id.in_(step_ids))


def _steps(connection: Connection, asked_for: tuple[Query, Query]) -> tuple[TicketStep, ...]:
    rows = connection.execute(asked_for[0]).all()
    planned = _planned(tuple(sorted({row.service_step_id for row in rows})))
    asked = {row.id: row for row in connection.execute(planned)}
    taken = _taken(connection, asked_for[1])
    found = []
    for row in rows:
        plan = plan_step(asked[row.service_step_id])
        lots = tuple(taken.get(row.id, ()))
        given = StepGiven(
            state=row.state, before=row.before, after=row.after, seal=row.seal, lubricant=row.lubricant, lot=row.lot,
            oxygen_compatible=row.oxygen_compatible, pieces=len(lots), photographed=row.photograph is not None,
            seconded=row.second_id is not None and row.second_id != row.person_id, reason=row.reason,
        )  # fmt: skip
        found.append(
            TicketStep(
                step_result_id=row.id, service_task_id=row.service_task_id, ticket_id=row.ticket_id,
                task_id=row.task_id, number=f"{row.task_ordinal}.{row.ordinal}", plan=plan, given=given,
                settled_at=row.settled_at, person_id=row.person_id, person=row.person, second=row.second,
                photograph=row.photograph, part_type=row.part_type, lots=lots,
            )
        )  # fmt: skip
    return tuple(found)


def _taken(connection: Connection, query: Query) -> dict[int | None, list[str]]:
    """The parts taken from stock for steps and not put back, each by its lot or serial, by the key of the result."""
    found: dict[int | None, list[str]] = defaultdict(list)
    for key, lot, serial in connection.execute(query):
        found[key].append(say_ref("lot {ref}", lot) if lot else serial or say("no lot marked"))
    return found


@built_once
def _around_plans(unit_id: int | None) -> tuple[Query, ...]:
    """What was done by a card, what is open on tickets and on cards, hand-backs, and openings, each by unit."""
    by_card = (
        select(TurnRound.unit_id, TurnRoundLine.service_task_id, func.max(TurnRoundLine.settled_at))
        .join(TurnRound, TurnRound.id == TurnRoundLine.turn_round_id)
        .where(
            TurnRoundLine.service_task_id.is_not(None),
            TurnRoundLine.state == WorkState.DONE,
            TurnRound.finished_at.is_not(None),
        )
        .group_by(TurnRound.unit_id, TurnRoundLine.service_task_id)
    )
    open_tickets = (
        select(Ticket.unit_id, ServiceWork.service_task_id)
        .join(Task, Task.id == ServiceWork.task_id)
        .join(Ticket, Ticket.id == Task.ticket_id)
        .where(still_open())
    )
    open_cards = (
        select(TurnRound.unit_id, TurnRoundLine.service_task_id)
        .join(TurnRound, TurnRound.id == TurnRoundLine.turn_round_id)
        .where(TurnRoundLine.service_task_id.is_not(None), TurnRound.finished_at.is_(None))
    )
    back = select(BookingUnit.unit_id, func.max(BookingUnit.received_at)).where(BookingUnit.received_at.is_not(None))
    opened = select(Opening.unit_id, func.max(Opening.at))
    if unit_id is not None:
        open_tickets = open_tickets.where(Ticket.unit_id == unit_id)
        by_card, open_cards = (
            by_card.where(TurnRound.unit_id == unit_id),
            open_cards.where(TurnRound.unit_id == unit_id),
        )
        back, opened = back.where(BookingUnit.unit_id == unit_id), opened.where(Opening.unit_id == unit_id)
    return (
        by_card, open_tickets, open_cards,
        back.group_by(BookingUnit.unit_id), opened.group_by(Opening.unit_id),
    )  # fmt: skip


@read_if_changed
def read_service_plan(connection: Connection, unit_id: int | None = None) -> ServicePlanRecords:
    """Everything about plans, of all units or of one; thirteen statements, ten where no ticket has steps."""
    by_card, open_tickets, open_cards, back, opened = _around_plans(unit_id)
    needs = read_service_needs(connection, ended=True)
    under, not_counted = _under_tickets(connection, unit_id, needs)
    done = dict(under)  # what is kept is never changed
    for unit, task, at in connection.execute(by_card):
        if at is not None and task is not None and ((unit, task) not in done or at > done[unit, task]):
            done[unit, task] = at
    waiting = {
        (unit, task)
        for query in (open_tickets, open_cards)
        for unit, task in connection.execute(query)
        if task is not None
    }
    return ServicePlanRecords(
        read_service_tasks(connection),
        needs=tuple(each for each in needs if each.ended_at is None),
        done=done,
        waiting=frozenset(waiting),
        hand_backs={key: at for key, at in connection.execute(back) if at is not None},
        assemblies={key: at for key, at in connection.execute(opened) if at is not None},
        tested=_tested(connection, unit_id),
        not_counted=not_counted,
    )


@built_once
def _work_done(unit_id: int | None) -> Query:
    work = (
        select(
            Ticket.id, Ticket.unit_id, Ticket.year, Ticket.number, Ticket.opened_at, ServiceWork.service_task_id,
            ServiceWork.task_id, Task.settled_at.label("settled_at"),
        )
        .join(Task, Task.id == ServiceWork.task_id)
        .join(Ticket, Ticket.id == Task.ticket_id)
        .where(Task.state == WorkState.DONE, Ticket.signed_at.is_not(None), Task.settled_at.is_not(None))
        .order_by(Task.settled_at)
    )  # fmt: skip
    return work if unit_id is None else work.where(Ticket.unit_id == unit_id)


@read_if_changed
def _under_tickets(
    connection: Connection, unit_id: int | None, needs: tuple[ServiceNeedRecord, ...]
) -> tuple[dict[tuple[int, int], datetime], dict[tuple[int, int], str]]:
    """When each task was last done under a signed ticket, and where one does not count for what is left out.

    What it needs is what was in force when the ticket was opened. A test's line counts as done where a test of its kind
    passed while the ticket was open. A ticket without lines for its tests, as paper has it, is taken by its signature.
    """
    rows = connection.execute(_work_done(unit_id)).all()
    tickets = {row.id for row in rows}
    lines, passed = _lines_under(connection, tickets), _passed_under(connection, tickets)
    steps: dict[int, list[tuple[str, PlanStep, StepGiven]]] = defaultdict(list)
    for each in read_steps(connection, tickets):
        steps[each.task_id].append(each.judged)
    done: dict[tuple[int, int], datetime] = {}
    not_counted: dict[tuple[int, int], str] = {}
    for row in rows:
        key = (row.unit_id, row.service_task_id)
        tests = [
            need.test
            for need in needs
            if need.service_task_id == row.service_task_id and need.test is not None and need.in_force(row.opened_at)
        ]
        stood = [(text, _line_state(text, state, passed[row.id])) for text, state in lines[row.id]]
        left = left_out_tests(tests, stood)
        skipped = steps_left_out(steps[row.task_id])
        if left or skipped:
            number = ticket_number(row.year, row.number)
            what = (
                say("'{test}' left out or without its test", test=left[0])
                if left
                else say("{step}, left out", step=skipped[0])
            )
            not_counted[key] = say("ticket {number} does not count: {what}", number=number, what=what)
        else:
            not_counted.pop(key, None)
            done[key] = row.settled_at
    return done, not_counted


def _line_state(text: str, state: str, passed: set[str]) -> str:
    return state_now(state, tuple(kind for kind in needs_of(text).tests if kind not in passed))


@built_once
def _lines_of(tickets: tuple[int, ...]) -> Query:
    return (
        select(Task.ticket_id, Task.text, Task.state)
        .outerjoin(ServiceWork, ServiceWork.task_id == Task.id)
        .where(Task.ticket_id.in_(tickets), ServiceWork.id.is_(None))
    )


def _lines_under(connection: Connection, tickets: Iterable[int]) -> dict[int, list[tuple[str, str]]]:
    """The words and states of the tasks of these tickets that are no task of the plan themselves."""
    found: dict[int, list[tuple[str, str]]] = defaultdict(list)
    for ticket, text, state in connection.execute(_lines_of(tuple(sorted(tickets)))):
        found[ticket].append((text, state))
    return found


@built_once
def _tests_of(tickets: tuple[int, ...]) -> Query:
    superseded = select(BenchTest.supersedes_id).where(BenchTest.supersedes_id.is_not(None))
    return (
        select(Ticket.id, Ticket.opened_at, BenchTest.kind, BenchTest.direction, BenchTest.at, BenchTest.result,
               BenchTest.part_id)
        .join(BenchTest, BenchTest.unit_id == Ticket.unit_id)
        .where(
            Ticket.id.in_(tickets),
            BenchTest.at.between(Ticket.opened_at, Ticket.signed_at),
            BenchTest.id.not_in(superseded),
        )
        .order_by(BenchTest.at, BenchTest.id)
    )  # fmt: skip


def _passed_under(connection: Connection, tickets: Iterable[int]) -> dict[int, set[str]]:
    """The kinds of test whose last ones passed while each of these tickets was open."""
    facts: dict[int, list[TicketTest]] = defaultdict(list)
    opened: dict[int, datetime] = {}
    for ticket, since, kind, direction, at, result, part in connection.execute(_tests_of(tuple(sorted(tickets)))):
        opened[ticket] = since
        facts[ticket].append(TicketTest(kind, direction=direction, at=at, passed=result in PASSES, part_id=part))
    found: dict[int, set[str]] = defaultdict(set)
    for ticket, tests in facts.items():
        found[ticket] = {kind for kind in {each.kind for each in tests} if tried(kind, opened[ticket], tests)}
    return found


@built_once
def _tests_named(unit_id: int | None) -> Query:
    named = select(ServiceNeed.test).where(ServiceNeed.test.is_not(None))
    superseded = select(BenchTest.supersedes_id).where(BenchTest.supersedes_id.is_not(None))
    query = (
        select(BenchTest.unit_id, BenchTest.kind, BenchTest.direction, BenchTest.result, func.max(BenchTest.at))
        .where(BenchTest.kind.in_(named), BenchTest.id.not_in(superseded))
        .group_by(BenchTest.unit_id, BenchTest.kind, BenchTest.direction, BenchTest.result)
    )
    return query if unit_id is None else query.where(BenchTest.unit_id == unit_id)


@read_if_changed
def _tested(connection: Connection, unit_id: int | None) -> dict[tuple[int, str], datetime]:
    """When each kind of test that a plan names last passed on each unit; a later failure takes it back."""
    passed: dict[tuple[int, str, str], datetime] = {}
    failed: dict[tuple[int, str, str], datetime] = {}
    for unit, kind, direction, result, at in connection.execute(_tests_named(unit_id)):
        both = kind == "one-way valve" and direction == "both"
        ways: tuple[str, ...] = ONE_WAY_DIRECTIONS if both else (direction or "",)
        side = passed if result in PASSES else failed
        for way in ways:
            side[unit, kind, way] = max(at, side.get((unit, kind, way), at))
    found: dict[tuple[int, str], datetime] = {}
    tried: dict[tuple[int, str], list[str]] = defaultdict(list)
    for unit, kind, way in passed:
        tried[unit, kind].append(way)
    for (unit, kind), seen in tried.items():
        ways = ONE_WAY_DIRECTIONS if kind == "one-way valve" else tuple(seen)
        times = [passed.get((unit, kind, way)) for way in ways]
        sound = [at for way, at in zip(ways, times, strict=True)
                 if at is not None and failed.get((unit, kind, way), at) <= at]  # fmt: skip
        if len(sound) == len(ways):
            found[unit, kind] = min(sound)
    return found
