"""Where a unit's loop leaked: noted under the loop test that did not hold, and gathered by place over time."""

from dataclasses import dataclass

from fleetbench.calc.bench.leak_places import LEAK_METHODS, LeakPlace, leaks_by_place
from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.verdict import PASSES
from fleetbench.calc.parts.kinds import LOOP_KINDS as ON_THE_LOOP
from fleetbench.calc.tickets.signing import CORRECTED_WITHIN
from fleetbench.records.bench.lookups import seats_of
from fleetbench.records.bench.reads import read_leaks, read_tests
from fleetbench.records.bench.tables import BenchTest, LoopLeak
from fleetbench.records.core.errors import Refused
from fleetbench.records.core.transaction import Transaction
from fleetbench.records.units.tables import Unit
from fleetbench.records.upkeep.lookups import unit_by_tag
from fleetbench.records.upkeep.tables import Connection
from fleetbench.workshop.bench.offers import LOOP_KINDS
from fleetbench.workshop.core.workplace import Workplace, one_word, require_person

HELD = say("the last loop test held: a leak is noted under a test that did not hold, so test the loop again first")
LONGEST_PLACE = 120


@dataclass(frozen=True, slots=True)
class LeakDesk:
    """What a leak of a unit can be noted with.

    places: slots on the loop's drawing, in the order of the flow; why_not: why none can be noted now, empty where one
    can; newest: key and place of a leak that was noted within ten minutes and may be corrected.
    """

    places: tuple[str, ...]
    why_not: str = ""
    newest: tuple[tuple[int, str], ...] = ()


def leak_desk(workplace: Workplace, tag: str) -> LeakDesk:
    """The places at which the loop of a unit can leak, and whether one can be noted now."""
    with workplace.database.read_session() as session:
        unit = unit_by_tag(session, tag)
        on_loop = [each for each in seats_of(session, unit) if each.slot.kind in ON_THE_LOOP or each.depth]
        connection, since = session.connection(), workplace.clock() - CORRECTED_WITHIN
        recent = tuple(
            (each.leak_id, each.fact.place) for each in read_leaks(connection, unit.id) if each.fact.at >= since
        )
        why = "" if _failed_test(connection, unit.id) is not None else HELD
        return LeakDesk(tuple(dict.fromkeys(each.slot.name for each in on_loop)), why, recent)


def note_leak(
    workplace: Workplace, tag: str, *, slot: str | None, method: str, place: str = "", instead_of: int | None = None
) -> LeakPlace:
    """Note where the loop leaks that did not hold in its last test; returns how often it leaked there by now.

    slot: of the unit's drawing, None where words alone say the place. instead_of: a leak noted within ten minutes that
    this one corrects. Refused where the last loop test held, and where neither slot nor words tell the place.
    """
    require_person(workplace)
    one_word("method", method, LEAK_METHODS)
    words = place.strip()
    if len(words) > LONGEST_PLACE:
        raise Refused(say("place: is longer than {most} characters; shorten it", most=LONGEST_PLACE))
    if slot is None and not words:
        raise Refused(say("place: is empty; choose it on the drawing, or say in words where it leaks"))
    with workplace.transaction("note leak", f"unit {tag}") as act:
        unit = unit_by_tag(act.session, tag)
        test = _failed_test(act.session.connection(), unit.id)
        if test is None:
            raise Refused(strung(": ", (say("leak"), HELD)))
        row = act.add(
            LoopLeak(
                bench_test_id=test,
                slot_id=_slot_id(act, unit, slot),
                place=words or None,
                method=method,
                at=act.at,
                person_id=workplace.person_id,
                ticket_id=act.get(BenchTest, test, "bench test").ticket_id,
                supersedes_id=_corrected(act, unit, instead_of),
            )
        )
        act.session.flush()
        found = places_of(act.session.connection(), unit.id)
        return next(each for each in found if any(leak.at == row.at for leak in each.found))


def leak_places(workplace: Workplace, tag: str) -> tuple[LeakPlace, ...]:
    """Every place at which the loop of a unit leaked, the place that leaks again most often first."""
    with workplace.database.read_session() as session:
        return places_of(session.connection(), unit_by_tag(session, tag).id)


def places_of(connection: Connection, unit_id: int) -> tuple[LeakPlace, ...]:
    """The same for a unit whose records are being read; two statements."""
    tests = read_tests(connection, unit_id=unit_id, kinds=LOOP_KINDS)
    passed = [(each.kind, each.at) for each in tests if each.result in PASSES]
    return leaks_by_place([each.fact for each in read_leaks(connection, unit_id)], passed)


def _failed_test(connection: Connection, unit_id: int) -> int | None:
    """The last loop test where it did not pass; where the last ones of both kinds passed, there is no leak to note."""
    last = {each.kind: each for each in read_tests(connection, unit_id=unit_id, kinds=LOOP_KINDS)}
    failed = [each for each in last.values() if each.result not in PASSES]
    return max(failed, key=lambda each: (each.at, each.test_id)).test_id if failed else None


def _slot_id(act: Transaction, unit: Unit, slot: str | None) -> int | None:
    if slot is None:
        return None
    found = next((each.slot.id for each in seats_of(act.session, unit) if each.slot.name == slot), None)
    if found is None:
        raise Refused(
            say(
                "slot {slot}: unit {tag} has no slot of that name; choose one from its drawing", slot=slot, tag=unit.tag
            )
        )
    return found


def _corrected(act: Transaction, unit: Unit, leak_id: int | None) -> int | None:
    if leak_id is None:
        return None
    mine = {each.leak_id: each for each in read_leaks(act.session.connection(), unit.id)}
    if leak_id not in mine:
        raise Refused(
            say("leak: the one to correct is another unit's, or was corrected already; look at the page again")
        )
    if act.at - mine[leak_id].fact.at > CORRECTED_WITHIN:
        raise Refused(say("leak: was noted more than ten minutes ago; write what is right as a finding of its ticket"))
    return leak_id
