"""Service plans: the tasks of a unit type, which of them are due on a unit, and the ticket that takes them up.

Who may do a task of the service plan, held wherever one is marked as done.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from fleetbench.calc.core.languages import in_row, say, strung
from fleetbench.calc.parts.life import Governing, LimitUnit, governing
from fleetbench.calc.tickets.service_plan import (
    EVENTS,
    INTERVALS,
    PlanTask,
    ServiceBasis,
    TaskDue,
    TaskHistory,
    last_good_day,
    task_due,
    why_not_by,
)
from fleetbench.calc.tickets.steps import PlanStep
from fleetbench.records.bench.tables import TESTS
from fleetbench.records.core.errors import Refused
from fleetbench.records.core.transaction import Transaction
from fleetbench.records.hires.lookups import unit_type_by_code
from fleetbench.records.hires.reads import read_promises
from fleetbench.records.parts.lookups import part_type_by_code
from fleetbench.records.people.tables import Person
from fleetbench.records.places.tables import centre_timezone
from fleetbench.records.tickets.service_plan import (
    ServicePlanRecords,
    ServiceTaskRecord,
    plan_step,
    read_service_needs,
    read_service_tasks,
)
from fleetbench.records.tickets.tables import ServiceNeed, ServiceTask, ServiceWork, StepResult, Task, Ticket
from fleetbench.records.turn_rounds.lookups import needs_of, qualifications_of, service_of_task, steps_in_force
from fleetbench.records.turn_rounds.reads import read_turn_round_facts
from fleetbench.records.units.reads import moment_key, read_line_use, read_run_use
from fleetbench.records.upkeep.lookups import next_ticket_number, unit_by_tag
from fleetbench.workshop.core.workplace import (
    Day,
    Workplace,
    day_of,
    figure_or_none,
    one_word,
    require,
    require_person,
    required,
)
from fleetbench.workshop.units.fleet import unit_of_tag
from fleetbench.workshop.units.use import UseBook


def may_settle(act: Transaction, task_id: int, unit_type_id: int) -> None:
    """Nothing where the person of the act may do this task of a ticket, as the plan says; Refused otherwise."""
    task = service_of_task(act.session, task_id)
    if task is not None:
        may_do(act, task, unit_type_id)


def may_do(act: Transaction, task: ServiceTask, unit_type_id: int) -> None:
    """Nothing where the person of the act may do the task of the plan; Refused with who may otherwise."""
    if act.person_id is None:
        return
    person = act.get(Person, act.person_id, "person")
    day = act.at.astimezone(ZoneInfo(centre_timezone(act.session.connection()) or "UTC")).date()
    papers = qualifications_of(act.session, person.id, unit_type_id)
    held = {row.kind for row in papers if row.seen_on <= day and (row.valid_until is None or row.valid_until >= day)}
    against = why_not_by(plan_task(task), person.role, held)
    if against is not None:
        raise Refused(say("person {code}: {against}", code=person.code, against=against))
    if not task.roles:
        require(act, "task done")


def plan_task(task: ServiceTask) -> PlanTask:
    """A recorded task as the rules know it."""
    return PlanTask(
        task.text, basis=task.basis, amount=task.amount, source=task.source, critical=task.critical,
        roles=split_roles(task.roles), qualification=task.qualification,
        second_person=task.second_person,
    )  # fmt: skip


def split_roles(roles: str | None) -> tuple[str, ...]:
    """The words of a list of roles with commas between."""
    return tuple(word.strip() for word in (roles or "").split(",") if word.strip())


_UNITS: dict[str, LimitUnit] = {
    ServiceBasis.HOURS: LimitUnit.HOURS, ServiceBasis.DIVES: LimitUnit.DIVES, ServiceBasis.HIRES: LimitUnit.HIRES,
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class ServiceLine:
    """One task of the plan as it stands on a unit; tests and parts are what it needs, in words.

    last_good_day None is not known where `due`. waiting: an open ticket or card holds it already.
    """

    service_task_id: int
    text: str
    interval: str
    minutes: float | None
    critical: bool
    who: str
    tests: tuple[str, ...]
    parts: tuple[str, ...]
    source: str
    done_on: date | None
    last_good_day: date | None
    due: bool
    projected: bool
    why: str
    waiting: bool
    at_assembly: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class NewServiceTask:
    """A task to put into a plan; part_types by code. amount None: every such event asks for it."""

    text: str
    basis: str
    amount: float | None = None
    minutes: float | None = None
    roles: tuple[str, ...] = ()
    qualification: str | None = None
    second_person: bool = False
    critical: bool = True
    source: str
    tests: tuple[str, ...] = ()
    part_types: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class PlanLine:
    """One task of a unit type's plan, with what it needs in words and its steps in force, in order."""

    service_task_id: int
    task: PlanTask
    minutes: float | None
    tests: tuple[str, ...]
    parts: tuple[str, ...]
    steps: tuple[PlanStep, ...]


class ServiceBook:
    """What the plans ask for on each unit, calculated for one day."""

    def __init__(self, records: ServicePlanRecords, use: UseBook, day: Day) -> None:
        self.records, self._use, self._day = records, use, day
        self.tasks: dict[int, list[ServiceTaskRecord]] = defaultdict(list)
        for each in records.tasks:
            self.tasks[each.unit_type_id].append(each)

    def done_at(self, unit_id: int, task: ServiceTaskRecord) -> datetime | None:
        """When a task was last done on a unit under a signature."""
        return self.records.done.get((unit_id, task.service_task_id))

    def history(self, unit_id: int, task: ServiceTaskRecord, flooded_at: datetime | None = None) -> TaskHistory:
        """What is known of one task on one unit."""
        done = self.done_at(unit_id, task)
        unit = _UNITS.get(task.basis)
        if task.basis in EVENTS:
            happened = {
                "hand-back": self.records.hand_backs.get(unit_id),
                "assembly": self.records.assemblies.get(unit_id),
                "flood": flooded_at,
            }[task.basis]
            tested = self.records.tested_at(unit_id, task.service_task_id)
            known = [each for each in (done, tested) if each is not None]
            settled = happened is not None and bool(known) and max(known) >= happened
            return TaskHistory(event=self._day.of(happened) if happened is not None else None, settled=settled)
        day = self._day.of(done) if done is not None else None
        if unit is None or done is None:
            return TaskHistory(done=day)
        use = self._use.of_unit(unit_id, done)
        used = {"hours": use.hours, "dives": float(use.dives), "hires": float(use.hires)}[task.basis]
        return TaskHistory(done=day, used=used, pace=self._use.pace(unit_id).get(unit))

    def due(self, unit_id: int, unit_type_id: int, flooded_at: datetime | None = None) -> Iterator[
        tuple[ServiceTaskRecord, TaskDue]
    ]:  # fmt: skip
        """Every task of a unit's plan as it stands today."""
        for task in self.tasks.get(unit_type_id, ()):
            history = self.history(unit_id, task, flooded_at)
            yield task, task_due(plan_of(task), history, self._day.today)

    def not_counted(self, unit_id: int, unit_type_id: int) -> str:
        """The signed tickets whose critical task does not count for a test that they leave out; empty for none."""
        return strung(
            "; ",
            dict.fromkeys(
                said
                for task in self.tasks.get(unit_type_id, ())
                if task.critical and (said := self.records.not_counted.get((unit_id, task.service_task_id)))
            ),
        )

    def service_life(self, unit_id: int, unit_type_id: int) -> Governing:
        """The periodic service: the critical task of the plan that ends first, and those that cannot be dated."""
        days = (
            last_good_day(plan_of(task), self.history(unit_id, task), self._day.today)
            for task in self.tasks.get(unit_type_id, ())
            if task.critical and task.basis in INTERVALS
        )
        return governing(each for each in days if each is not None)


def plan_of(task: ServiceTaskRecord) -> PlanTask:
    """A recorded task as the rules know it."""
    return PlanTask(
        task.text, basis=task.basis, amount=task.amount, source=task.source, critical=task.critical,
        roles=split_roles(task.roles), qualification=task.qualification,
        second_person=task.second_person,
    )  # fmt: skip


def service_lines(workplace: Workplace, tag: str) -> tuple[ServiceLine, ...]:
    """Every task of a unit's plan, what is due first; NotFound for an unknown tag."""
    day = day_of(workplace)
    with workplace.database.reading() as connection:
        unit = unit_of_tag(connection, tag)
        turn, only = read_turn_round_facts(connection, unit.unit_id), (unit.unit_id,)
        runs, sent = read_run_use(connection, only), read_line_use(connection, only)
        use = UseBook(day, runs, sent, read_promises(connection, only), key=moment_key(connection))
    records, book = turn.service, ServiceBook(turn.service, use, day)
    lines = []
    for task, due in book.due(unit.unit_id, unit.unit_type_id, turn.floods.get(unit.unit_id)):
        tests, parts = _needs(records, task.service_task_id)
        done = book.done_at(unit.unit_id, task)
        waiting = (unit.unit_id, task.service_task_id) in records.waiting
        lines.append(
            ServiceLine(
                task.service_task_id, text=task.text, interval=due.task.describe(), minutes=task.minutes,
                critical=task.critical, who=who_words(due.task),
                tests=tests, parts=parts, source=task.source, done_on=day.of(done) if done is not None else None,
                last_good_day=due.day, due=due.due,
                projected=due.projected, why=due.why, waiting=waiting, at_assembly=task.basis == ServiceBasis.ASSEMBLY,
            )
        )  # fmt: skip
    return tuple(sorted(lines, key=lambda each: (not each.due, each.last_good_day or date.min, each.text)))


def who_words(task: PlanTask) -> str:
    """Who may do a task, in words."""
    who = strung(" or ", map(say, task.roles)) or say("technician or manager")
    if task.qualification:
        who = say("{who} with the qualification {qualification}", who=who, qualification=task.qualification)
    return say("{who}, and a second person", who=who) if task.second_person else who


def _needs(records: ServicePlanRecords, service_task_id: int) -> tuple[tuple[str, ...], tuple[str, ...]]:
    mine = [need for need in records.needs if need.service_task_id == service_task_id]
    tests = tuple(need.test for need in mine if need.test is not None)
    parts = tuple(f"{need.quantity:g} {need.part_type}" for need in mine if need.part_type is not None)
    return tests, parts


def service_plan(workplace: Workplace, unit_type: str) -> tuple[PlanLine, ...]:
    """The plan of a unit type by its code, in order; NotFound for an unknown code."""
    with workplace.database.read_session() as session:
        kind = unit_type_by_code(session, unit_type)
        connection = session.connection()
        tasks, needs = read_service_tasks(connection, kind.id), read_service_needs(connection)
        steps = {task.service_task_id: steps_in_force(session, task.service_task_id) for task in tasks}
        asked = {key: tuple(plan_step(row) for row in rows) for key, rows in steps.items()}
    records = ServicePlanRecords(
        tasks, needs=needs, done={}, waiting=frozenset(), hand_backs={}, assemblies={}, tested={}
    )
    return tuple(
        PlanLine(task.service_task_id, plan_of(task), task.minutes, *_needs(records, task.service_task_id),
                 asked[task.service_task_id])
        for task in tasks
    )  # fmt: skip


def enter_service_task(workplace: Workplace, unit_type: str, new: NewServiceTask) -> int:
    """The key of a task put at the end of a unit type's plan; Refused naming the field that is wrong."""
    try:
        PlanTask(
            new.text,
            basis=new.basis,
            amount=new.amount,
            source=new.source,
            critical=new.critical,
            roles=new.roles,
            qualification=new.qualification,
        )
    except ValueError as fault:
        raise Refused(str(fault)) from fault
    figure_or_none("minutes", new.minutes, 0, 1440, "enter the minutes it takes, or leave it empty")
    for test in new.tests:
        one_word("test", test, TESTS)
    with workplace.transaction("enter service task", f"unit type {unit_type}") as act:
        kind = unit_type_by_code(act.session, unit_type)
        last = max((each.ordinal for each in read_service_tasks(act.session.connection(), kind.id)), default=0)
        row = act.add(
            ServiceTask(
                unit_type_id=kind.id, ordinal=last + 1, text=new.text.strip()[:200], basis=new.basis, amount=new.amount,
                minutes=new.minutes, roles=",".join(new.roles) or None, qualification=new.qualification,
                second_person=new.second_person, critical=new.critical, source=required("source", new.source)[:300],
            )
        )  # fmt: skip
        for test in new.tests:
            act.add(ServiceNeed(service_task_id=row.id, test=test, part_type_id=None, quantity=1.0))
        for code in new.part_types:
            part_type = part_type_by_code(act.session, code)
            act.add(ServiceNeed(service_task_id=row.id, test=None, part_type_id=part_type.id, quantity=1.0))
        return row.id


def open_service_ticket(workplace: Workplace, tag: str, service_task_ids: Sequence[int]) -> int:
    """The key of a new ticket with tasks of the unit's plan on it, each with the tests and parts that it needs."""
    person = require_person(workplace)
    wanted = tuple(dict.fromkeys(service_task_ids))
    if not wanted:
        raise Refused(say("tasks: none is chosen; choose what is to be done"))
    year = workplace.today().year
    with workplace.transaction("open ticket", f"unit {tag}") as act:
        unit = unit_by_tag(act.session, tag)
        rows = [act.get(ServiceTask, key, "service task") for key in wanted]
        for row in rows:
            if row.unit_type_id != unit.unit_type_id:
                raise Refused(
                    say(
                        "task '{text}': is of another unit type's plan; choose one of unit {tag}",
                        text=row.text,
                        tag=unit.tag,
                    )
                )
        reason = in_row(f"Service: {'; '.join(row.text for row in rows)}")
        ticket = act.add(
            Ticket(
                year=year, number=next_ticket_number(act.session, year), unit_id=unit.id, cause="due item",
                reason=reason[:300], critical=any(row.critical for row in rows), opened_at=act.at,
                opened_by_id=person, minutes=0.0,
            )
        )  # fmt: skip
        write_plan_tasks(act, ticket, rows)
        return ticket.id


def due_tasks(workplace: Workplace, tag: str) -> tuple[int, ...]:
    """The tasks of a unit's plan that are due and wait on no ticket or card yet, but those of an assembly."""
    return tuple(
        line.service_task_id
        for line in service_lines(workplace, tag)
        if line.due and not line.waiting and not line.at_assembly
    )


def write_plan_tasks(act: Transaction, ticket: Ticket, rows: Iterable[ServiceTask], after: int = 0) -> None:
    """The plan's tasks in order with the steps in force, each followed by its tests, which a record ticks by itself.

    after: how many tasks stand on the ticket already.
    """
    listed = list(rows)
    needs = needs_of(act.session, [row.id for row in listed])
    place, tested = after, set()
    for row in listed:
        mine = [(need, name) for need, name in needs if need.service_task_id == row.id]
        parts = strung(", ", (f"{need.quantity:g} {name}" for need, name in mine if name is not None))
        place += 1
        task = act.add(
            Task(
                ticket_id=ticket.id, ordinal=place, text=f"{row.text}{f' (with {parts})' if parts else ''}"[:300],
                critical=row.critical, state="to do", times_put_off=0, second_person=row.second_person,
            )
        )  # fmt: skip
        act.add(ServiceWork(task_id=task.id, service_task_id=row.id))
        for step in steps_in_force(act.session, row.id):
            act.add(StepResult(ticket_id=ticket.id, task_id=task.id, service_step_id=step.id, state="to do"))
        for need, _name in mine:
            if need.test is not None and need.test not in tested:
                tested.add(need.test)
                place += 1
                act.add(
                    Task(ticket_id=ticket.id, ordinal=place, text=in_row(f"Test {need.test}"), critical=row.critical,
                         state="to do", times_put_off=0)
                )  # fmt: skip
