"""What must hold after every step: nothing unfit is called fit, nothing stands that nobody did, all lists agree."""

import functools
import inspect
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from datetime import timedelta
from types import FunctionType, ModuleType
from typing import Any, ClassVar

from sqlalchemy import select

from fleetbench.calc.parts.condition import Condition
from fleetbench.records.bench.tables import BenchTest
from fleetbench.records.canisters.tables import Fill, Run
from fleetbench.records.cells.tables import Calibration
from fleetbench.records.tickets.tables import Disinfection, Ticket
from fleetbench.records.turn_rounds.tables import TurnRound
from fleetbench.records.units.tables import Hold
from fleetbench.records.upkeep.verify import verify
from fleetbench.workshop.canisters.list import list_canisters
from fleetbench.workshop.cells.list import list_cells
from fleetbench.workshop.due.list import list_due
from fleetbench.workshop.hires.availability import read_availability
from fleetbench.workshop.hires.booking import look_ahead
from fleetbench.workshop.hires.list import handover_facts, hire_lines, list_bookings
from fleetbench.workshop.hires.pages import course_board
from fleetbench.workshop.parts.list import part_page
from fleetbench.workshop.parts.lives import rebuild_lives
from fleetbench.workshop.parts.stock import list_shelf
from fleetbench.workshop.tickets.list import list_tickets, ticket_page
from fleetbench.workshop.tickets.page import number_of
from fleetbench.workshop.turn_rounds.page import turn_round_desk
from fleetbench.workshop.units.list import Fit, Where, list_units, unit_page
from fleetbench.workshop.units.today import today_page
from tests.machine.hire_acts import lasting
from tests.machine.scene import ReachedError, Scene

NOT_DIVED = "not for diving"
REJECTED = Condition.REJECTED.gravity


def _readers() -> Iterator[tuple[ModuleType, str, Callable[..., Any]]]:
    """Where each function of records that reads is known, and under which name."""
    for module in [each for name, each in list(sys.modules.items()) if name.startswith("fleetbench.")]:
        for name, function in list(vars(module).items()):
            if isinstance(function, FunctionType) and name.startswith("read_") and _of_records(function):
                yield module, name, function


def _of_records(function: FunctionType) -> bool:
    return function.__module__.startswith("fleetbench.records.") and next(
        iter(inspect.signature(function).parameters), "") in ("connection", "session")  # fmt: skip


class _Once:
    """A reading function that is asked once for the same thing, as long as nothing is written."""

    known: ClassVar[dict[Any, Any]] = {}

    def __init__(self, function: Callable[..., Any]) -> None:
        self.function = function

    def __call__(self, connection: Any, *args: Any, **named: Any) -> Any:
        try:
            key = (self.function, args, tuple(named.items()))
            hash(key)
        except TypeError:
            return self.function(connection, *args, **named)
        if key not in self.known:
            self.known[key] = self.function(connection, *args, **named)
        return self.known[key]


@functools.cache
def _instead(_modules: int) -> list[tuple[dict[str, Any], str, Any, Any]]:
    return [(vars(module), name, function, _Once(function)) for module, name, function in _readers()]


@contextmanager
def read_once() -> Iterator[None]:
    """While nothing is written, each table is read once: all that is shown is asked of the same rows."""
    placed = _instead(sum(name.startswith("fleetbench.") for name in sys.modules))
    _Once.known.clear()
    for space, name, _, once in placed:
        space[name] = once
    try:
        yield
    finally:
        for space, name, function, _ in placed:
            space[name] = function


def same(what: str, one: object, other: object) -> None:
    """Nothing where both are the same."""
    if one != other:
        raise ReachedError(f"{what}: {one!r}, but {other!r} is true")


def keys(s: Scene, column: object, *where: object) -> set[int]:
    """Keys of rows."""
    with s.workplace.database.reading() as connection:
        return set(connection.scalars(select(column).where(*where)))


def units(s: Scene) -> None:
    """Units: who is out, and that nothing unfit is called ready."""
    rows = {row.tag: row for row in list_units(s.desk)}
    for tag, row in rows.items():
        out, why = s.truth.out(tag), s.truth.unfit(tag)
        same(f"{tag} is out", row.where is Where.OUT, out is not None)
        if not why or (row.way == NOT_DIVED and out is None):
            continue
        if row.fit is not Fit.HOLD:
            raise ReachedError(f"Units calls {tag} {row.fit} as {row.way} although {why}")


def today(s: Scene) -> None:
    """Today: nothing unfit goes on being dived in silence, or is called ready; Units says the same of it."""
    rows, page = {row.tag: row for row in list_units(s.desk)}, today_page(s.desk)
    rung = {line.unit for line in page.ring_the_renter}
    for tag in rows:
        out, why = s.truth.out(tag), s.truth.unfit(tag)
        if why and out is not None and out[1].way != NOT_DIVED and tag not in rung:
            raise ReachedError(f"{tag} is out and unfit ({why}), but Today does not say to ring")
    for line in (*page.out_today, *page.out_this_week):
        if line.fit is not Fit.HOLD and s.truth.unfit(line.unit) and line.way != NOT_DIVED:
            raise ReachedError(f"Today calls {line.unit} {line.fit} although {s.truth.unfit(line.unit)}")
        same(f"Today and Units on {line.unit}", line.fit, rows[line.unit].fit)


def evidence(s: Scene) -> None:
    """Nothing stands that nobody did: holds lifted, tickets signed, cards finished, tests, baths, fills and runs."""
    truth = s.truth
    same("open holds", keys(s, Hold.id, Hold.lifted_at.is_(None)), set(truth.holds))
    same("open tickets", keys(s, Ticket.id, Ticket.signed_at.is_(None)),
         {key for key, one in truth.tickets.items() if not one.signed})  # fmt: skip
    same("open cards", keys(s, TurnRound.id, TurnRound.finished_at.is_(None)),
         {key for key, one in truth.cards.items() if not one.finished})  # fmt: skip
    tests = keys(s, BenchTest.id, BenchTest.id > s.before["tests"], BenchTest.kind != "battery voltage")
    same("bench tests", tests, {one.key for mine in truth.tests.values() for one in mine if one.key})
    made = {one[1] for mine in truth.calibrated.values() for one in mine}
    replaced = keys(s, Calibration.supersedes_id, Calibration.supersedes_id.is_not(None))
    same("calibrations", keys(s, Calibration.id, Calibration.id > s.before["calibrations"]) - replaced, made - {0})
    same("baths", len(keys(s, Disinfection.id, Disinfection.id > s.before["baths"])),
         sum(len(each) for each in truth.baths.values()))  # fmt: skip
    kept = {key for key, fill in truth.fills.items() if not fill.gone}
    same("fills", keys(s, Fill.id, Fill.discarded_at.is_(None)), kept)
    same("wet fills", keys(s, Fill.id, Fill.wetted_at.is_not(None)), {k for k, fill in truth.fills.items() if fill.wet})
    same("runs", len(keys(s, Run.id)), sum(len(fill.starts) for fill in truth.fills.values()))


def settled(s: Scene) -> None:
    """Lines of open cards and tasks of open tickets that are shown as done were done."""
    for tag in s.truth.units:
        found = s.truth.open_card(tag)
        card = turn_round_desk(s.desk, tag).card if found else None
        for line in card.lines if card else ():
            stands = line.step == "service" or s.truth.line_stands(str(line.step), found[1], line.line.line_id)
            if line.state == "done" and not stands:
                raise ReachedError(f"card of {tag}: {line.text} stands as done, which nobody did")
    for key, one in s.truth.tickets.items():
        if one.signed or not one.tasks:
            continue
        for task in ticket_page(s.desk, number_of(s.desk, key)).tasks:
            if task.state == "done" and not s.truth.task_stands(one, task.task.task_id):
                raise ReachedError(f"ticket {key} of {one.unit}: {task.task.text!r} stands as done, which nobody did")


def in_turn(s: Scene, all_of: Sequence[str], count: int) -> Sequence[str]:
    """Some of them, so that all have their turn: pages of one unit or part are asked for anew each time."""
    if s.every:
        return all_of
    return [all_of[(s.looked * count + at) % len(all_of)] for at in range(count)]


def parts(s: Scene) -> None:
    """A part is in one condition, and in one place, on every list and page."""
    cells = {row.part.part_id: row for row in list_cells(s.desk)}
    shelf = {row.part.part_id: row for row in list_shelf(s.desk)}
    fitted = {}
    seen = in_turn(s, s.truth.units, 1)
    for tag in seen:
        for one in unit_page(s.desk, tag).fitted:
            if one.part_id is not None:
                fitted[one.part_id] = (tag, one)
    asked = in_turn(s, list(s.truth.parts), 5)
    for serial, part in s.truth.parts.items():
        key, tag = s.part_ids[serial], s.truth.unit_of(part)
        if tag is None or tag in seen:
            same(f"{serial} sits in", fitted.get(key, (None,))[0], tag)
        if part.host is None:
            same(f"{serial} is", s.state_of(serial), part.state)
        page = part_page(s.desk, key) if serial in asked or part.rejected() else None
        said = [] if page is None else [("its page", page.condition.state)]
        said += [("its unit", fitted[key][1].condition.state)] if key in fitted else []
        said += [("Cells", cells[key].condition.state)] if key in cells else []
        said += [("Shelf", shelf[key].condition)] if key in shelf else []
        if len({state for _, state in said}) > 1:
            raise ReachedError(f"{serial} is in several conditions: {said}")
        if part.rejected() and any(state.gravity < REJECTED for _, state in said):
            raise ReachedError(f"{serial} is rejected {part.rejected()}, but called {said}")


def promises(s: Scene) -> None:
    """Availability, look ahead and boards: who has which unit, and no unit counted on that will not be fit."""
    today = s.workplace.today()
    shown = read_availability(s.desk)
    for unit in shown.units:
        here = {(each.text, each.state in ("out", "late")) for each in unit.promises if each.state != "back"}
        true = {(each.code, line.out_at is not None) for each in s.truth.bookings.values() if not each.cancelled
                for tag, line in each.lines.items() if tag == unit.tag and line.back_at is None
                and (line.out_at or each.last >= shown.first)}  # fmt: skip
        same(f"promises of {unit.tag}", here, true)
        if lasting(s, unit.tag) and unit.way != NOT_DIVED:
            free = [each for each in unit.bands if each.stops and each.first <= today <= each.last]
            if not free:
                raise ReachedError(f"Availability shows no stop on {unit.tag} although {lasting(s, unit.tag)}")
    look = look_ahead(s.desk, "TYPE-L", today, today + timedelta(days=1), wanted=1)
    fit = set(look.count.free) - set(look.count.unfit) if look.count else set()
    wrong = {tag: lasting(s, tag) for tag in fit if lasting(s, tag)}
    if wrong:
        raise ReachedError(f"a booking counts on {wrong}")


def desk(s: Scene) -> None:
    """Bookings, boards and hand-over sheets: holders, and that the sheet of an unfit unit says so."""
    rows = {row.booking.code: row for row in list_bookings(s.desk, past=True)}
    going = [code for code, one in s.truth.bookings.items() if any(line.back_at is None for line in one.lines.values())]
    for code in going[-4:]:
        booking = s.truth.bookings[code]
        same(f"{code} is cancelled", rows[code].state in ("cancelled", "no-show"), booking.cancelled)
        lines = {each.line.unit: each for each in hire_lines(s.desk, code) if each.line.received_at is None}
        out = {tag for tag, each in lines.items() if each.line.out_at is not None}
        mine = {tag: line.diver for tag, line in booking.lines.items() if line.back_at is None}
        same(f"divers of {code}", {tag: each.line.diver_id for tag, each in lines.items()}, mine)
        days = rows[code].booking.starts_on, rows[code].booking.ends_on
        same(f"days of {code}", days, (booking.first, booking.last))
        same(f"out on {code}", out, {tag for tag in booking.lines if s.truth.out(tag) == (booking, booking.lines[tag])})
        if not booking.cancelled:
            for each in course_board(s.desk, code).rows:
                unfit = s.truth.unfit(each.unit)
                if unfit and each.state != "back" and NOT_DIVED not in each.leaves and "stop" not in each.why:
                    raise ReachedError(f"board of {code}: {each.unit} {each.why} although {unfit}")
    for tag in in_turn(s, s.truth.units, 1):
        facts, unfit = handover_facts(s.desk, tag), s.truth.unfit(tag)
        if unfit and facts.hand_over != NOT_DIVED and not facts.assessment.stops:
            raise ReachedError(f"hand-over sheet of {tag} prints no stop although {unfit}")


def stores(s: Scene) -> None:
    """Canisters, tickets, what is due, and kept calculations."""
    for row in list_canisters(s.desk):
        standing = s.truth.standing_fill(row.part.label)
        same(f"fill in {row.part.label}", row.fill and row.fill.fill_id, standing[0] if standing else None)
        unit = s.truth.unit_of(s.truth.parts[row.part.label])
        if standing and standing[1].spent(s.clock()) and row.state in ("fresh", "in use"):
            raise ReachedError(
                f"{row.part.label} in {unit} is called {row.state}, it is {standing[1].spent(s.clock())}"
            )
    listed = list_tickets(s.desk, open_only=True)
    same("tickets listed", len(listed), sum(not each.signed for each in s.truth.tickets.values()))
    list_due(s.desk, 30)
    same("kept calculations", rebuild_lives(s.workplace), [])


LOOKS: tuple[Callable[[Scene], None], ...] = (today, parts, promises, settled, desk, stores)
"""Asked in turn, one a step; or all after each."""

AT_ONCE = frozenset(("book", "move booking", "extend hire", "cancel booking", "hand over", "receive", "swap unit",
                     "place hold", "freeze unit", "record notice", "notice done", "lift hold", "sign ticket",
                     "finish turn-round"))  # fmt: skip
"""Acts after which Today, Availability, boards and hand-over sheets are asked at once, whatever list has its turn."""

A_WHILE = timedelta(hours=1)
"""Nothing was written for so long: what is true may have changed by the clock alone, and everything is asked again."""


def look(s: Scene, step: int, *, every: bool) -> None:
    """Ask what must hold; every: all of it.

    Units and what stands as evidence are asked after every step that wrote something or let time go by. A step
    that was refused whole left the database as it was, which `Scene.attempt` has seen.
    """
    s.truth.now, s.step, s.every = s.clock(), step, every
    if not every and s.asked == s.written and s.clock() - s.asked_at < A_WHILE:
        return
    done = {name for name in AT_ONCE if s.done[name] > s.counted[name]}
    s.asked, s.asked_at, s.counted, s.looked = s.written, s.clock(), s.done.copy(), s.looked + 1
    chosen = {*LOOKS} if every else {LOOKS[s.looked % len(LOOKS)], *((today, promises, desk) if done else ())}
    with read_once():
        units(s)
        evidence(s)
        for each in LOOKS:
            if each in chosen:
                each(s)


def last_look(s: Scene) -> None:
    """The journal is whole, and derives the database again."""
    same("the journal", verify(s.workplace.database).first_break, None)
