"""Bench tests: what was tested, whether it held, and the answer that follows.

The release tests of a loop as a bench makes them: valves by breath, loop by eye, in one act.

What a routine opening leaves for the diver to do; a workshop opening holds the unit instead.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from fleetbench.calc.bench.leak import LoopLimit, judge_loop_by_eye
from fleetbench.calc.cells.uncertainty import COVERAGE, Standing, standing
from fleetbench.calc.core.doors import at as door
from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.measures import Measure, in_unit, measured_in, span_in
from fleetbench.calc.core.plausible import OF_TEST, SUPPLY, WATCHED, typed_twice
from fleetbench.calc.core.verdict import Verdict
from fleetbench.calc.parts.kinds import OpeningKind
from fleetbench.calc.tickets.signing import CORRECTED_WITHIN
from fleetbench.records.bench.lookups import limit_rows, open_tickets_of, seats_of, test_superseded, type_facts
from fleetbench.records.bench.reads import read_last_tests, read_openings
from fleetbench.records.bench.tables import TESTS, BenchTest, TestEquipment
from fleetbench.records.core.errors import NotFound, Refused
from fleetbench.records.core.transaction import Transaction
from fleetbench.records.places.tables import Limit
from fleetbench.records.tickets.tables import Ticket
from fleetbench.records.units.reads import read_units
from fleetbench.records.units.tables import Unit
from fleetbench.records.upkeep.lookups import unit_by_tag
from fleetbench.workshop.bench.offers import LOOP_KINDS, loop_limit
from fleetbench.workshop.core.workplace import (
    Workplace,
    day_of,
    figure_or_none,
    measured_or_none,
    one_word,
    require_person,
)
from fleetbench.workshop.tickets.photographs import keep_beside
from fleetbench.workshop.tickets.service_plan import service_lines
from fleetbench.workshop.tickets.work import open_one
from fleetbench.workshop.turn_rounds.ticks import tick_tasks, tick_test

LOOP_TESTS = ("loop negative", "loop positive")
MEASURED = {
    "intermediate pressure": "bar",
    "injector flow": "L/min",
    "opening pressure": "mbar",
    "battery voltage": "V",
}
"""Tests that are a figure, with its unit; all others are held or works, yes or no."""

FINDING_ROOM = 600
"""How long the ground of an answer may be in the records."""

DIRECTIONS = ("inhale", "exhale", "both")

WATCH_MINUTES = 5.0
"""How long an intermediate pressure is watched after lock-up: common practice, no published source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredLimits:
    """Limits of a measured test; None where the unit type states none."""

    low: float | None = None
    high: float | None = None
    source: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class TestAnswer:
    """Answer of a bench test with its ground in a sentence."""

    __test__ = False
    verdict: Verdict
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedTest:
    """A recorded bench test: its answer, and the tasks of open tickets that it ticked."""

    test_id: int
    answer: TestAnswer
    ticked: tuple[str, ...]


def record_test(
    workplace: Workplace,
    tag: str,
    kind: str,
    *,
    held: bool | None = None,
    direction: str | None = None,
    watched_minutes: float | None = None,
    value: float | None = None,
    supply_bar: float | None = None,
    slot: str | None = None,
    equipment_id: int | None = None,
    ticket_id: int | None = None,
    note: str | None = None,
    supersedes: int | None = None,
    photographs: Sequence[str] = (),
) -> RecordedTest:
    """A bench test of a unit, judged and recorded; it ticks the open ticket's line that names it.

    held: held (or works) True, fell (or fails) False, None for not done or not known, which never passes.
    direction: one-way valves by breath, inhale, exhale or both. value: in the test's unit (``MEASURED``).
    slot: which valve where several share the kind. ticket_id None: the unit's open ticket where there is just one.
    supersedes: the test of the same kind that this one puts right, within ten minutes. photographs: held ones of it.
    Raises Refused naming the field.
    """
    one_word("test", kind, TESTS)
    if kind == "one-way valve":
        one_word("direction", direction or "", DIRECTIONS)
    elif direction is not None:
        raise Refused(say("direction: only one-way valves have one; leave it empty for {kind}", kind=say(kind)))
    measured_or_none(WATCHED, watched_minutes, "watched")
    if kind in OF_TEST:
        measured_or_none(OF_TEST[kind], value, "value")
    figure_or_none("value", value, 0, 100_000, _in_its_unit(kind))
    measured_or_none(SUPPLY, supply_bar, "supply")
    unusual = typed_twice(OF_TEST[kind], value) if kind in OF_TEST and value is not None else None
    require_person(workplace)
    with workplace.transaction(f"bench test: {kind}", f"unit {tag}") as act:
        unit = unit_by_tag(act.session, tag)
        ticket = ticket_at_hand(act, unit, ticket_id)
        tool = act.get(TestEquipment, equipment_id, "test equipment") if equipment_id is not None else None
        answer = answer_of(
            kind,
            held=held,
            watched_minutes=watched_minutes,
            value=value,
            expanded_u=_expanded_u(kind, tool),
            bounds=_bounds(limit_rows(act.session, unit_type_id=unit.unit_type_id), kind),
            loop_limit=loop_limit_of(limit_rows(act.session, unit_type_id=unit.unit_type_id), kind),
        )
        if kind in MEASURED:
            answer = _weakened(answer, tool, workplace.today())
        row = BenchTest(
            unit_id=unit.id,
            part_id=part_tested(act, unit, kind, direction, slot),
            kind=kind,
            direction=direction,
            at=act.at,
            person_id=workplace.person_id,
            ticket_id=ticket.id if ticket is not None else None,
            equipment_id=equipment_id,
            held=held,
            watched_minutes=watched_minutes,
            value=value,
            unit=MEASURED.get(kind) if value is not None else None,
            supply_bar=supply_bar,
            result=answer.verdict.value,
            supersedes_id=standing_test(act, unit, kind, supersedes),
            note="; ".join(each for each in ((note or "").strip(), unusual) if each) or None,
            finding=answer.sentence[:FINDING_ROOM],
        )
        test_id = act.add(row).id
        keep_beside(act, workplace, "bench test", row, photographs)
        return RecordedTest(test_id=test_id, answer=answer, ticked=tick_lines(act, unit, row))


def answer_of(
    kind: str,
    *,
    held: bool | None,
    watched_minutes: float | None,
    value: float | None,
    expanded_u: float | None,
    bounds: MeasuredLimits,
    loop_limit: LoopLimit | None,
) -> TestAnswer:
    """Pass, repeat or reject of a bench test with its ground; nothing seen or measured never passes.

    A figure is guard-banded with the gauge's expanded uncertainty (JCGM 106:2012, 8.3.2); None, not known, never
    passes. Watching an intermediate pressure for five minutes after lock-up, and tests by eye and breath as full
    evidence: common practice, no published source.
    """
    if kind in LOOP_TESTS:
        return _by_eye(held, watched_minutes, loop_limit)
    if kind in MEASURED:
        return _measured(kind, held, watched_minutes, value, expanded_u, bounds)
    if held is None:
        return TestAnswer(verdict=Verdict.REPEAT, sentence=say("Not seen whether it holds: test it."))
    words = say("Held.") if held else say("Did not hold: find out why before anything else.")
    return TestAnswer(verdict=Verdict.PASS if held else Verdict.REJECT, sentence=words)


def _by_eye(held: bool | None, watched: float | None, limit: LoopLimit | None) -> TestAnswer:
    verdict = judge_loop_by_eye(held, watched_minutes=watched or 0.0, limit=limit)
    if held is False:
        words = say("The loop fell: find the leak and test again.")
    elif held is None:
        words = say("Not watched: test it.")
    elif limit is None:
        words = say("No time is recorded for this unit type: enter how long the manual says to watch.")
    elif verdict is Verdict.PASS:
        words = say(
            "Held for {watched:g} min, {minutes:g} min are asked for ({source}).",
            watched=watched,
            minutes=limit.minutes,
            source=limit.source,
        )
    else:
        seen = say("an unknown time") if watched is None else say("{watched:g} min", watched=watched)
        words = say(
            "Held, but watched for {seen} only: {minutes:g} min are asked for ({source}).",
            seen=seen,
            minutes=limit.minutes,
            source=limit.source,
        )
    return TestAnswer(verdict=verdict, sentence=words)


def _measured(  # noqa: PLR0911 - one line a ground reads best
    kind: str,
    held: bool | None,
    watched: float | None,
    value: float | None,
    expanded_u: float | None,
    bounds: MeasuredLimits,
) -> TestAnswer:
    unit = MEASURED[kind]
    if held is False:
        return TestAnswer(verdict=Verdict.REJECT, sentence=say("It does not stay: creeps or falls."))
    if value is None:
        return TestAnswer(verdict=Verdict.REPEAT, sentence=say("No figure in {unit}: measure it.", unit=unit))
    if bounds.low is None and bounds.high is None:
        return TestAnswer(
            verdict=Verdict.REPEAT,
            sentence=say(
                "No limit is recorded for {kind} of this unit type: enter the manual's {door}.",
                kind=say(kind),
                door=door("limit"),
            ),
        )
    if expanded_u is None:
        return TestAnswer(
            verdict=Verdict.REPEAT, sentence=say("Not known how well it was read: choose what it was measured with.")
        )
    low = bounds.low if bounds.low is not None else 0.0
    high = bounds.high if bounds.high is not None else float("inf")
    where = Standing(int(standing(value, expanded_u, low, high)))
    read = measured_in(unit)
    asked = span_in(low, high, read) if bounds.high is not None else say("at least {low}", low=in_unit(low, read))
    shown = say("{value}, {asked} asked for ({source})", value=in_unit(value, read), asked=asked, source=bounds.source)
    if where in (Standing.BELOW, Standing.ABOVE):
        return TestAnswer(verdict=Verdict.REJECT, sentence=say("Out of limits: {shown}.", shown=shown))
    if where is Standing.ACROSS:
        within = read.spread(expanded_u, "g") if isinstance(read, Measure) else f"{expanded_u:g}"
        return TestAnswer(
            verdict=Verdict.REPEAT,
            sentence=say("Too near a limit to decide: {shown} ± {within}.", shown=shown, within=within),
        )
    if kind == "intermediate pressure" and (held is None or (watched or 0.0) < WATCH_MINUTES):
        return TestAnswer(
            verdict=Verdict.REPEAT,
            sentence=say(
                "In limits: {shown}; but not seen to stay for {minutes:g} min after lock-up.",
                shown=shown,
                minutes=WATCH_MINUTES,
            ),
        )
    return TestAnswer(verdict=Verdict.PASS, sentence=say("In limits: {shown}.", shown=shown))


def _expanded_u(kind: str, tool: TestEquipment | None) -> float | None:
    """Expanded uncertainty of one reading; a battery is read on its own device where no meter is named.

    A device's own voltage display is taken at its word: common practice, no published source.
    """
    if tool is None:
        return 0.0 if kind == "battery voltage" else None
    return None if tool.uncertainty is None else COVERAGE * tool.uncertainty


def _weakened(answer: TestAnswer, tool: TestEquipment | None, today: date) -> TestAnswer:
    """The same answer, a pass weakened to watch where its instrument is not known to be in date."""
    if tool is None or (tool.last_good_day is not None and tool.last_good_day >= today):
        return answer
    verdict = Verdict.WATCH if answer.verdict is Verdict.PASS else answer.verdict
    words = strung(
        " ",
        (answer.sentence, say("{tool} is not known to be in date: measure again with one that is.", tool=tool.name)),
    )
    return TestAnswer(verdict=verdict, sentence=words)


def _bounds(rows: Sequence[Limit], kind: str) -> MeasuredLimits:
    named = {row.name: row for row in rows}
    low, high = named.get(f"{kind} low"), named.get(f"{kind} high")
    sources = dict.fromkeys(row.source for row in (low, high) if row is not None)
    return MeasuredLimits(
        low=low.amount if low is not None else None,
        high=high.amount if high is not None else None,
        source=strung("; ", sources),
    )


def loop_limit_of(rows: Sequence[Limit], kind: str) -> LoopLimit | None:
    """How long a loop must hold as the unit type states it, None where it states nothing."""
    row = next((row for row in rows if row.name == f"{kind} minutes"), None)
    return LoopLimit(row.amount, row.source) if row is not None else None


def ticket_at_hand(act: Transaction, unit: Unit, ticket_id: int | None) -> Ticket | None:
    """The ticket given, which must be open and of this unit, or the unit's one open ticket."""
    if ticket_id is not None:
        ticket = open_one(act, ticket_id)
        if ticket.unit_id != unit.id:
            raise Refused(
                say(
                    "ticket {year}-{number}: is of another unit; choose one of unit {tag}",
                    year=ticket.year,
                    number=ticket.number,
                    tag=unit.tag,
                )
            )
        return ticket
    found = open_tickets_of(act.session, unit.id)
    return found[0] if len(found) == 1 else None


def part_tested(act: Transaction, unit: Unit, kind: str, direction: str | None, slot: str | None) -> int | None:
    """The part that the test speaks of, where the slot, or the only slot of that kind, tells."""
    seats = [seat for seat in seats_of(act.session, unit) if seat.part is not None]
    if slot is not None:
        named = [seat for seat in seats if seat.slot.name == slot]
        if len(named) != 1 or named[0].part is None:
            raise Refused(
                say(
                    "slot {slot}: unit {tag} has no part in a slot of that name; check the name",
                    slot=slot,
                    tag=unit.tag,
                )
            )
        return named[0].part.id
    of_kind = [seat for seat in seats if seat.slot.kind == kind]
    if direction in ("inhale", "exhale"):
        of_kind = [seat for seat in of_kind if direction in seat.slot.name]
    return of_kind[0].part.id if len(of_kind) == 1 and of_kind[0].part is not None else None


def standing_test(act: Transaction, unit: Unit, kind: str, test_id: int | None) -> int | None:
    """The test put right, where it is of this unit and kind, stands, and is not older than ten minutes."""
    if test_id is None:
        return None
    earlier = act.get(BenchTest, test_id, "bench test")
    if earlier.unit_id != unit.id or earlier.kind != kind:
        raise Refused(say("bench test: the one to correct is of another unit or kind; record a new test"))
    if test_superseded(act.session, test_id):
        raise Refused(say("bench test: was corrected already; look again, then record a new test"))
    if act.at - earlier.at > CORRECTED_WITHIN:
        raise Refused(say("bench test: is older than ten minutes; record a new test and say why in its note"))
    return test_id


def tick_lines(act: Transaction, unit: Unit, test: BenchTest) -> tuple[str, ...]:
    """Mark lines of the unit's open tickets and card that name this test as done, once it has passed in full."""
    tick_test(act, unit, test)
    return tick_tasks(act, unit) if test.result in (Verdict.PASS, Verdict.WATCH) else ()


@dataclass(frozen=True, slots=True)
class WatchedLoop:
    """What was seen of a loop by eye: whether it held, and for how many minutes it was watched."""

    held: bool | None
    minutes: float | None = None


def record_release(
    workplace: Workplace,
    tag: str,
    *,
    inhale: bool | None,
    exhale: bool | None,
    negative: WatchedLoop,
    positive: WatchedLoop,
    ticket_id: int | None = None,
    instead_of: Sequence[int] = (),
    photographs: Sequence[str] = (),
) -> tuple[RecordedTest, ...]:
    """Valves by breath and loop by eye in one act, each a test of its own; what was not done (None) is not recorded.

    True is held, False leaked or fell. Full evidence at release, common practice, no published source.
    instead_of: tests of the same kinds, not older than ten minutes, that these put right. photographs: held ones, which
    are kept beside the last.
    """
    require_person(workplace)
    for seen in (negative, positive):
        measured_or_none(WATCHED, seen.minutes, "watched")
    done: list[tuple[str, str | None, WatchedLoop]] = [
        ("one-way valve", "inhale", WatchedLoop(inhale)),
        ("one-way valve", "exhale", WatchedLoop(exhale)),
    ]
    done += [(kind, None, seen) for kind, seen in zip(LOOP_KINDS, (negative, positive), strict=True)]
    given = [each for each in done if each[2].held is not None]
    if not given:
        raise Refused(say("tests: nothing was tried; try a valve or watch the loop first"))
    with workplace.transaction("valves by breath, loop by eye", f"unit {tag}") as act:
        unit = unit_by_tag(act.session, tag)
        named = type_facts(act.session, unit).of_type
        ticket = ticket_at_hand(act, unit, ticket_id)
        earlier = [act.get(BenchTest, key, "bench test") for key in instead_of]
        recorded = []
        for kind, direction, seen in given:
            limit = loop_limit(named, kind) if kind in LOOP_KINDS else None
            answer = answer_of(
                kind,
                held=seen.held,
                watched_minutes=seen.minutes,
                value=None,
                expanded_u=None,
                bounds=MeasuredLimits(),
                loop_limit=limit,
            )
            wrong = next((row.id for row in earlier if (row.kind, row.direction) == (kind, direction)), None)
            row = BenchTest(
                unit_id=unit.id,
                part_id=part_tested(act, unit, kind, direction, None),
                kind=kind,
                direction=direction,
                at=act.at,
                person_id=workplace.person_id,
                ticket_id=ticket.id if ticket is not None else None,
                held=seen.held,
                watched_minutes=seen.minutes,
                result=answer.verdict.value,
                supersedes_id=standing_test(act, unit, kind, wrong),
                finding=answer.sentence[:FINDING_ROOM],
            )
            recorded.append((act.add(row), answer))
            keep_beside(act, workplace, "bench test", row, photographs if len(recorded) == len(given) else ())
        return tuple(RecordedTest(test_id=row.id, answer=answer, ticked=tick_lines(act, unit, row))
                     for row, answer in recorded)  # fmt: skip


RELEASE_KINDS = ("one-way valve", "loop negative", "loop positive")
TO_DO = say("test the one-way valves and the loop again before the dive")


def after_routine_openings(workplace: Workplace, tag: str) -> tuple[str, ...]:
    """A sentence for the diver where a unit had a routine opening after its valves and loop were last tested.

    With it what the service plan asks for at every assembly and was not done since the last one.
    One sentence for the last such opening: one test by the diver serves for all of them. NotFound for an unknown tag.
    One-way valves are tested at every assembly, and routine openings are the diver's own: common practice, no
    published source.
    """
    day = day_of(workplace)
    with workplace.database.reading() as connection:
        found = read_units(connection, tag)
        if not found:
            raise NotFound(say("unit {tag}: no unit has this tag; check the tag or look it up with find", tag=tag))
        openings = read_openings(connection, unit_id=found[0].unit_id)
        tests = read_last_tests(connection, found[0].unit_id, kinds=RELEASE_KINDS)
    tested = max((test.at for test in tests), default=None)
    since = [each for each in openings if each.kind == OpeningKind.ROUTINE and (tested is None or each.at > tested)]
    assembled = tuple(
        f"{line.text} ({line.source})" for line in service_lines(workplace, tag) if line.at_assembly and line.due
    )
    if not since:
        return assembled
    return (say("{what} on {at}: {to_do}", what=since[-1].what, at=day.of(since[-1].at), to_do=TO_DO), *assembled)


def _in_its_unit(kind: str) -> str:
    if kind not in MEASURED:
        return say("enter it in the unit of the test")
    return say("enter it in {unit}", unit=str(measured_in(MEASURED[kind])))
