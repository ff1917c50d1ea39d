"""Service tickets as lists and pages show them."""

import re
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from zoneinfo import ZoneInfo

from fleetbench.calc.core.languages import reworded, say, strung
from fleetbench.calc.core.verdict import WorkState
from fleetbench.calc.tickets.signing import TaskFact, state_now
from fleetbench.calc.tickets.steps import StepKind, asks, unit_of, within
from fleetbench.records.bench.reads import (
    BenchTestRecord,
    GivenRecord,
    LeakRecord,
    OpeningRecord,
    read_given,
    read_leaks,
    read_openings,
    read_tests,
)
from fleetbench.records.cells.reads import read_conditions, read_outcomes_under, read_shown
from fleetbench.records.core.errors import NotFound
from fleetbench.records.core.journal import EntryRecord, read_entry_at, read_last_entry_on
from fleetbench.records.core.transaction import last_entry
from fleetbench.records.gas.reads import MaterialRecord, read_in_house, read_materials
from fleetbench.records.parts.reads import read_parts
from fleetbench.records.people.reads import read_names
from fleetbench.records.tickets.reads import (
    CleaningRecord,
    FindingRecord,
    MoveRecord,
    PhotographRecord,
    TaskRecord,
    TicketRecord,
    TimeRecord,
    read_cleanings,
    read_findings,
    read_moves_under,
    read_photographs,
    read_referring,
    read_task_counts,
    read_tasks,
    read_ticket,
    read_ticket_numbers,
    read_tickets,
    read_times,
    ticket_number,
)
from fleetbench.records.tickets.service_plan import TicketStep, read_steps, read_steps_before
from fleetbench.records.tickets.tables import Ticket
from fleetbench.records.upkeep.tables import Connection
from fleetbench.workshop.bench.valves import TestLine, bench_test_line
from fleetbench.workshop.cells.list import OutcomeLine, outcome_line
from fleetbench.workshop.cells.outlook import conditions_by_calibration, shown_by_cell
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.tickets.task_evidence import not_counted, task_facts, ticket_evidence

NO_TESTS = ("none",)
NUMBER = re.compile(r"\s*(?P<year>\d{4})\s*[-/]\s*(?P<number>\d{1,6})\s*")


@dataclass(frozen=True, slots=True)
class TicketRow:
    """One ticket with its number as printed and how its tasks stand; refers_to: the number of another."""

    ticket: TicketRecord
    number: str
    tasks_open: int
    tasks_done: int
    put_off: int
    refers_to: str | None


@dataclass(frozen=True, slots=True)
class TaskLine:
    """One thing to do under a ticket, as it stands: one that was ticked is to do again where its evidence is lacking.

    way: where what it still lacks is made: `test`, `calibrate`, `fit`, `photograph`, or nothing.
    """

    task: TaskRecord
    fact: TaskFact
    state: str
    way: str = ""


@dataclass(frozen=True, slots=True)
class MoveLine:
    """A part that came out or went in under a ticket; `way` is out or in. host: the assembly that it sat in."""

    move: MoveRecord
    way: str
    at: datetime
    host: str | None
    why: str | None
    person: str | None


@dataclass(frozen=True, slots=True)
class TicketPage:
    """Everything done under one ticket.

    entry: the journal entry that holds it last, or its signature. signed_in: the entry that holds the signature. Both
    are None where the record came from a sheet. as_of: the journal's last entry when it was read.
    """

    row: TicketRow
    findings: tuple[FindingRecord, ...]
    tasks: tuple[TaskLine, ...]
    moves: tuple[MoveLine, ...]
    tests: tuple[TestLine, ...]
    calibrations: tuple[OutcomeLine, ...]
    openings: tuple[str, ...]
    disinfections: tuple[str, ...]
    signed_in: EntryRecord | None
    entry: EntryRecord | None
    materials: tuple[str, ...] = ()
    times: tuple[TimeRecord, ...] = ()
    photographs: tuple[PhotographRecord, ...] = ()
    corrected_by: tuple[str, ...] = ()
    not_counted: tuple[str, ...] = ()
    as_of: int | None = None
    leaks: tuple[str, ...] = ()
    steps: tuple[TicketStep, ...] = ()
    given: tuple[str, ...] = ()

    def steps_of(self, task_id: int) -> tuple[TicketStep, ...]:
        """The steps of one of its tasks, in order."""
        return tuple(each for each in self.steps if each.task_id == task_id)

    @property
    def needs_second(self) -> bool:
        """Whether a task that was done asks for a second person."""
        return any(each.task.second_person and each.state == WorkState.DONE for each in self.tasks)


def list_tickets(workplace: Workplace, *, open_only: bool = False) -> tuple[TicketRow, ...]:
    """Tickets, newest first."""
    with workplace.database.reading() as connection:
        found = read_tickets(connection, open_only=open_only)
        counts: dict[int, dict[str, int]] = defaultdict(dict)
        for each in read_task_counts(connection):
            counts[each.ticket_id][each.state] = each.tasks
        numbers = read_ticket_numbers(connection)
    return tuple(_row(each, counts.get(each.ticket_id, {}), numbers) for each in found)


def ticket_page(workplace: Workplace, number: str) -> TicketPage:
    """Everything done under one ticket, by its number as printed (2026-014); NotFound for another text."""
    said = NUMBER.fullmatch(number)
    with workplace.database.read_session() as session:
        as_of, connection = last_entry(session).number, session.connection()
        ticket = read_ticket(connection, int(said["year"]), int(said["number"])) if said else None
        if ticket is None:
            raise NotFound(
                say("ticket {number}: not recorded; give the number as printed, for instance 2026-014", number=number)
            )
        key = ticket.ticket_id
        findings, tasks = read_findings(connection, key), read_tasks(connection, key)
        moves, tests = read_moves_under(connection, key), read_tests(connection, ticket_id=key)
        outcomes, openings = read_outcomes_under(connection, key), read_openings(connection, ticket_id=key)
        cleanings = read_cleanings(connection, ticket_id=key)
        names, numbers = read_names(connection), read_ticket_numbers(connection)
        signed = read_last_entry_on(connection, f"ticket {key}", "sign ticket")
        if signed is None and ticket.signed_at is not None:
            signed = read_entry_at(connection, ticket.signed_at, "sign ticket")  # one signature closed several tickets
        entry = signed or read_last_entry_on(connection, f"ticket {key}")
        calibrations = {each.calibration_id for each in outcomes}
        shown = shown_by_cell(read_shown(connection, calibrations))
        rooms = conditions_by_calibration(read_conditions(connection, calibrations))
        cells = {each.part_id: each for each in read_parts(connection, kind="cell")}
        hosts = {each.part_id: each.label for each in read_parts(connection, assemblies=True)}
        materials = read_materials(connection, key)
        times = read_times(connection, key)
        photographs = read_photographs(connection, ticket_ids=(key,))
        made_here = {("calibration_id", each.calibration_id) for each in outcomes} | {
            ("bench_test_id", each.test_id) for each in tests
        }
        photographs += tuple(
            each
            for each in read_photographs(connection, unit_id=session.get_one(Ticket, key).unit_id)
            if {("calibration_id", each.calibration_id), ("bench_test_id", each.bench_test_id)} & made_here
        )
        later = read_referring(connection, key)
        row = session.get_one(Ticket, key)
        leaks = [each for each in read_leaks(connection, row.unit_id) if each.ticket_id == key]
        given = read_given(connection, row.unit_id)
        made = ticket_evidence(session, row)
        facts = task_facts(session, row, made)
        settling = tuple(dict.fromkeys(kind for task in tasks for kind in made.needs(task.text).tests))
        beside = read_tests(connection, unit_id=row.unit_id, kinds=settling or NO_TESTS)
        ends = ticket.signed_at or workplace.clock()
        tests = tuple(
            sorted(
                {*tests, *(each for each in beside if ticket.opened_at <= each.at <= ends)},
                key=lambda each: (each.at, each.test_id),
            )
        )
        lines = tuple(
            _task(task, fact, made.needs(task.text).way, ticket.is_open)
            for task, fact in zip(tasks, facts, strict=True)
        )
        steps = _with_last(connection, row, read_steps(connection, (key,)))
        used_on = read_in_house(connection, tuple(each.part_id for each in materials if each.part_id is not None))
    states: dict[str, int] = defaultdict(int)
    zone = workplace.zone()
    for line in lines:
        states[line.state] += 1
    return TicketPage(
        row=_row(ticket, states, numbers),
        findings=findings,
        tasks=lines,
        moves=tuple(line for each in moves for line in _moved(each, key, hosts, names)),
        tests=tuple(bench_test_line(each, names) for each in tests),
        calibrations=tuple(
            replace(
                outcome_line(each, names),
                part=cells.get(each.part_id),
                shown=shown.get((each.calibration_id, each.part_id), ()),
                conditions=rooms.get(each.calibration_id),
            )
            for each in outcomes
        ),
        openings=tuple(_opening(each) for each in openings),
        leaks=tuple(_leak(each, names, zone) for each in leaks),
        disinfections=tuple(_cleaning(each) for each in cleanings),
        signed_in=signed if ticket.signed_at is not None else None,
        entry=entry,
        materials=tuple(_material(each, {part.part_id: part.label for part in used_on}) for each in materials),
        times=times,
        photographs=photographs,
        corrected_by=tuple(numbers[each] for each in later),
        not_counted=not_counted(facts, signed=ticket.signed_at is not None),
        as_of=as_of,
        steps=steps,
        given=tuple(_given(given, {each.calibration_id: each.at for each in outcomes}, tests, steps, zone)),
    )


def _given(
    found: Iterable[GivenRecord], calibrated: Mapping[int, datetime], tests: Iterable[BenchTestRecord],
    steps: Iterable[TicketStep], zone: ZoneInfo,
) -> Iterator[str]:  # fmt: skip
    """What meters gave of the calibrations, tests and service steps of a ticket, a sentence each."""
    when = {("calibration", key): (say("Calibration"), at) for key, at in calibrated.items()}
    when |= {("bench test", each.test_id): (reworded(each.kind.capitalize(), each.kind), each.at) for each in tests}
    when |= {
        ("step", each.step_result_id): (say("Step {number}", number=each.number), each.settled_at)
        for each in steps
        if each.settled_at
    }
    for each in found:
        if (each.made, each.key) in when:
            kind, at = when[each.made, each.key]
            yield say("{kind} of {at:%Y-%m-%d %H:%M}: {words}.", kind=kind, at=at.astimezone(zone), words=each.words)


def _with_last(connection: Connection, ticket: Ticket, steps: tuple[TicketStep, ...]) -> tuple[TicketStep, ...]:
    """The steps of a ticket, each figure with the last one of the same step on the unit before."""
    if not any(unit_of(each.plan) for each in steps):
        return steps
    before = read_steps_before(connection, ticket.unit_id, {each.service_task_id for each in steps})
    last = {_same(each): each for each in before
            if each.settled_at is not None and each.settled_at < ticket.opened_at}  # fmt: skip
    return tuple(
        replace(each, last=last[_same(each)].given.after, last_at=last[_same(each)].settled_at)
        if _same(each) in last else each
        for each in steps
    )  # fmt: skip


def _same(step: TicketStep) -> tuple[object, ...]:
    """By what a figure of a step is told to be the same thing under another ticket, also after a new edition."""
    return (step.service_task_id, step.plan.kind, step.plan.what, unit_of(step.plan), step.plan.text)


def asked_words(step: TicketStep) -> str:
    """What settles a step, with the part that it uses: '2 from stock: O-ring 12 x 2'."""
    return (
        strung(": ", (asks(step.plan), step.part_type or "")) if step.plan.kind == StepKind.PARTS else asks(step.plan)
    )


def recorded_words(step: TicketStep) -> str:
    """What was recorded of a step, for instance 'before 10.8 bar, after 9.5 bar, in limits'; empty for nothing."""
    plan, given, unit = step.plan, step.given, unit_of(step.plan)
    if given.state == WorkState.LEFT_OUT:
        return say("left out: {reason}", reason=given.reason)
    told = [say("before {figure:g} {unit}", figure=given.before, unit=unit)] if given.before is not None else []
    if given.after is not None:
        told.append(say("after {figure:g} {unit}", figure=given.after, unit=unit) if plan.before
                    else f"{given.after:g} {unit}")  # fmt: skip
    if given.after is not None:
        told.append(within(plan, given.after))
    told += [each for each in (given.seal, given.lubricant, given.lot and say("lot {lot}", lot=given.lot)) if each]
    if plan.kind == StepKind.LUBRICANT and given.state == WorkState.DONE:
        told.append(say("oxygen-compatible") if given.oxygen_compatible else say("not known to be oxygen-compatible"))
    if step.lots:
        counts = Counter(step.lots)
        told += [strung("", (f"{count} ", step.part_type or say("parts"), f", {lot}")) for lot, count in counts.items()]
    if step.photograph:
        told.append(say("photograph {digest}", digest=step.photograph[:16]))
    return strung(", ", [*told, *([say("looked at by {second}", second=step.second)] if step.second else [])])


def _leak(leak: LeakRecord, names: dict[int, str], zone: ZoneInfo) -> str:
    who = names.get(leak.person_id) if leak.person_id is not None else None
    at = f"{leak.fact.at.astimezone(zone):%Y-%m-%d %H:%M}"
    told = strung(": ", (say(leak.fact.kind), leak.fact.words))
    return strung(", ", (told, say("{at} by {who}", at=at, who=who) if who else at))


def _material(material: MaterialRecord, labels: dict[int, str]) -> str:
    """'lubricant Grease O, lot G-7, oxygen-compatible, on O-1'."""
    known = {
        True: say("oxygen-compatible"),
        False: say("not oxygen-compatible"),
        None: say("not known to be oxygen-compatible"),
    }
    words = say(
        "{kind} {material}, lot {lot}, {known}",
        kind=say(material.kind),
        material=material.name,
        lot=material.lot,
        known=known[material.oxygen_compatible],
    )
    if material.part_id is None:
        return words
    return strung(
        ", ", (words, say("on {part}", part=labels.get(material.part_id, say("part {key}", key=material.part_id))))
    )


def _row(ticket: TicketRecord, tasks: dict[str, int], numbers: dict[int, str]) -> TicketRow:
    return TicketRow(
        ticket,
        ticket_number(ticket.year, ticket.number),
        tasks_open=tasks.get(WorkState.TO_DO, 0),
        tasks_done=tasks.get(WorkState.DONE, 0),
        put_off=tasks.get(WorkState.PUT_OFF, 0),
        refers_to=numbers.get(ticket.refers_to_id) if ticket.refers_to_id is not None else None,
    )


def _task(task: TaskRecord, fact: TaskFact, way: str, is_open: bool) -> TaskLine:
    state = state_now(task.state, fact.missing) if is_open else task.state
    return TaskLine(task, fact, state, way if fact.missing else "")


def _moved(move: MoveRecord, ticket_id: int, hosts: dict[int, str], names: dict[int, str]) -> Iterator[MoveLine]:
    ends = []
    if move.removal_ticket_id == ticket_id and move.removed_at is not None:
        ends.append(("out", move.removed_at, move.why_removed, move.removed_by_id))
    if move.ticket_id == ticket_id:
        ends.append(("in", move.fitted_at, None, move.fitted_by_id))
    for way, at, why, person_id in ends:
        yield MoveLine(
            move,
            way,
            at,
            host=hosts.get(move.host_part_id) if move.host_part_id is not None else None,
            why=why,
            person=names.get(person_id) if person_id is not None else None,
        )


def _opening(opening: OpeningRecord) -> str:
    return say("{kind} opening: {what}", kind=say(opening.kind), what=opening.what)


def _cleaning(cleaning: CleaningRecord) -> str:
    rinsed = say("rinsed") if cleaning.rinsed else say("not rinsed")
    return say(
        "{agent} {strength}, {contact_minutes:g} min, {rinsed}",
        agent=cleaning.agent,
        strength=cleaning.strength,
        contact_minutes=cleaning.contact_minutes,
        rinsed=rinsed,
    )
