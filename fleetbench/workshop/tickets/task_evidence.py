"""What was made on a unit since a ticket or card was opened, gathered to decide whether a task is settled."""

from collections.abc import Sequence
from datetime import datetime

from fleetbench.calc.cells.readings import MadeBy
from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.verdict import WorkState
from fleetbench.calc.tickets.signing import (
    CellVerdict,
    Evidence,
    Needs,
    PartNeed,
    TaskFact,
    TicketTest,
    lacking,
    left_out_tests,
    needs_of,
    state_now,
)
from fleetbench.calc.tickets.steps import steps_lacking, steps_left_out
from fleetbench.records.bench.lookups import RecordSession, SlotContent, last_outcomes, seats_of
from fleetbench.records.bench.tables import BenchTest
from fleetbench.records.cells.tables import Calibration, CalibrationOutcome
from fleetbench.records.gas.reads import read_materials
from fleetbench.records.parts.tables import PartType
from fleetbench.records.tickets.reads import read_photographs
from fleetbench.records.tickets.service_plan import read_steps
from fleetbench.records.tickets.tables import ServiceTask, Ticket
from fleetbench.records.turn_rounds.lookups import needs_of as plan_needs_of
from fleetbench.records.turn_rounds.lookups import services_of_ticket, sound_calibrations
from fleetbench.records.units.tables import Unit
from fleetbench.records.upkeep.lookups import last_workshop_opening, tasks_of, tests_since

PASSED = ("pass", "watch")


class UnitEvidence:
    """The evidence on one unit since a moment, and what it lacks for a task.

    until: of a ticket that was signed then; what is fitted today says nothing of it, so its fittings stand as signed.
    """

    def __init__(
        self, session: RecordSession, unit: Unit, since: datetime, *, ticket_id: int | None = None,
        until: datetime | None = None,
    ) -> None:  # fmt: skip
        self._session, self._since, self._until = session, since, until
        self._seats = seats_of(session, unit) if until is None else ()
        opened = last_workshop_opening(session, unit.id, until=until)
        self.made = Evidence(
            since=since,
            opened=max(since, opened) if opened is not None else since,
            tests=self._tests(unit, since),
            cells=self._cells(unit, since),
            fitted=tuple(
                (seat.slot.name, seat.part.part_type_id)
                for seat in self._seats
                if seat.part is not None and seat.fitting is not None and seat.fitting.fitted_at >= since
            ),
            used=tuple(each.name for each in read_materials(session.connection(), ticket_id))
            if ticket_id is not None else (),
            photographs=len(read_photographs(session.connection(), ticket_ids=(ticket_id,)))
            if ticket_id is not None else 0,
        )  # fmt: skip

    def _tests(self, unit: Unit, since: datetime) -> tuple[TicketTest, ...]:
        seated = {seat.part.id for seat in self._seats if seat.part is not None}
        return tuple(
            test_fact(row)
            for row in tests_since(self._session, unit.id, since)
            if (row.at <= self._until if self._until is not None else row.part_id is None or row.part_id in seated)
        )

    def _cells(self, unit: Unit, since: datetime) -> tuple[CellVerdict, ...]:
        if self._until is not None:
            sound = [each for each in sound_calibrations(self._session, unit, since) if each.at <= self._until]
            return (CellVerdict(say("the cells"), "pass"),) if sound else ()
        seats = [seat for seat in self._seats if seat.slot.kind == "cell"]
        last = last_outcomes(self._session, [seat.part.id for seat in seats if seat.part is not None])
        return tuple(self._cell(seat, since, last) for seat in seats)

    def _cell(
        self, seat: SlotContent, since: datetime, last: dict[int, tuple[CalibrationOutcome, Calibration]]
    ) -> CellVerdict:
        if seat.part is None or seat.fitting is None:
            return CellVerdict(seat.slot.name, None, fitted=False)
        if seat.part.id not in last:
            return CellVerdict(seat.slot.name, None)
        outcome, calibration = last[seat.part.id]
        counts = calibration.made == MadeBy.WORKSHOP and calibration.at >= max(since, seat.fitting.fitted_at)
        return CellVerdict(seat.slot.name, outcome.verdict if counts else None)

    def needs(self, text: str, service: ServiceTask | None = None) -> Needs:
        """What a task of these words needs, and the parts that the plan names for it."""
        return needs_of(
            text,
            slots=tuple(seat.slot.name for seat in self._seats) if service is None else (),
            parts=self._parts(service) if service is not None else (),
        )

    def missing(self, text: str, service: ServiceTask | None = None) -> tuple[str, ...]:
        """Why a task is not settled by what was made, each reason with its remedy; empty where it is."""
        return lacking(self.needs(text, service), self.made)

    def _parts(self, service: ServiceTask) -> tuple[PartNeed, ...]:
        if self._until is not None:
            return ()
        kinds = {seat.slot.kind for seat in self._seats}
        needs = plan_needs_of(self._session, [service.id], self._since)
        wanted = [need for need, _name in needs if need.part_type_id is not None]
        types = [(need, self._session.get_one(PartType, need.part_type_id)) for need in wanted]
        return tuple(PartNeed(kind.id, kind.name, need.quantity, kind.kind in kinds) for need, kind in types)


def test_fact(row: BenchTest) -> TicketTest:
    """A recorded bench test as the rules know it."""
    return TicketTest(row.kind, direction=row.direction, at=row.at, passed=row.result in PASSED, part_id=row.part_id)


def ticket_evidence(session: RecordSession, ticket: Ticket) -> UnitEvidence:
    """What was made since a ticket was opened, until it was signed."""
    unit = session.get_one(Unit, ticket.unit_id)
    return UnitEvidence(session, unit, ticket.opened_at, ticket_id=ticket.id, until=ticket.signed_at)


def task_facts(session: RecordSession, ticket: Ticket, made: UnitEvidence | None = None) -> tuple[TaskFact, ...]:
    """The tasks of a ticket in order, each with the evidence that it lacks and the tests that the plan asks for."""
    made = made or ticket_evidence(session, ticket)
    services = services_of_ticket(session, ticket.id)
    tests = service_tests(session, [each.id for each in services.values()], ticket.opened_at)
    steps = read_steps(session.connection(), (ticket.id,))
    by_task = {each.task_id: [step.judged for step in steps if step.task_id == each.task_id] for each in steps}
    return tuple(
        TaskFact(
            task.text, state=task.state, put_off_reason=task.put_off_reason, second_person=bool(task.second_person),
            missing=(*steps_lacking(by_task.get(task.id, ())), *made.missing(task.text, services.get(task.id))),
            service_tests=tests.get(services[task.id].id, ()) if task.id in services else None,
            planned_minutes=services[task.id].minutes if task.id in services else None,
            steps_left_out=steps_left_out(by_task.get(task.id, ()), signed=ticket.signed_at is not None),
        )
        for task in tasks_of(session, ticket.id)
    )  # fmt: skip


def service_tests(
    session: RecordSession, service_task_ids: Sequence[int], at: datetime | None = None
) -> dict[int, tuple[str, ...]]:
    """The kinds of test that tasks of the plan need, by their keys; at: as the plan stood then, None for now."""
    found: dict[int, tuple[str, ...]] = {}
    for need, _name in plan_needs_of(session, service_task_ids, at):
        if need.test is not None:
            found[need.service_task_id] = (*found.get(need.service_task_id, ()), need.test)
    return found


def not_counted(tasks: Sequence[TaskFact], *, signed: bool) -> tuple[str, ...]:
    """What stays due though it is signed: a task of the plan that is left out, or whose test or step is.

    signed: what is still to do under an open ticket is not left out yet.
    """
    lines = [(task.text, _standing(task, signed=signed)) for task in tasks]
    said = []
    for task in tasks:
        if task.service_tests is None:
            continue
        if task.state == WorkState.PUT_OFF:
            said.append(say("'{task}' is left out and stays due", task=task.text))
        elif left := left_out_tests(task.service_tests, lines):
            said.append(
                say(
                    "'{task}' does not count as done and stays due: '{step}' is left out or has no record",
                    task=task.text,
                    step=left[0],
                )
            )
        elif task.steps_left_out:
            skipped = strung("; ", task.steps_left_out)
            said.append(
                say("'{task}' does not count as done and stays due: left out {steps}", task=task.text, steps=skipped)
            )
    return tuple(said)


def _standing(task: TaskFact, *, signed: bool) -> str:
    state = state_now(task.state, task.missing)
    return "done" if state == WorkState.TO_DO and not signed else state
