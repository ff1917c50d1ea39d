"""The condition of parts as every page and act reads it: records in, fleetbench.calc.parts.condition asked.

read_condition_book(connection, day)   for many parts, in a fixed number of statements
facts_of_part(connection, day, key)    for one part, in or out of an act
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime

from fleetbench.calc.bench.measured import supply_word
from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.verdict import Verdict
from fleetbench.calc.notices.scope import Marks, Weight, covers_part, doubt
from fleetbench.calc.parts.condition import (
    AFTER_OPENING,
    CALIBRATION,
    FAULTS,
    IN_LIMITS,
    LOOP_TESTS,
    OPENS_THE_LOOP,
    TEST_OF,
    Aside,
    PartCondition,
    PartFacts,
    condition,
    rejects_of,
)
from fleetbench.calc.parts.kinds import ShelfEvent
from fleetbench.calc.parts.life import Governing, governing
from fleetbench.records.bench.reads import (
    BenchTestRecord,
    OpeningRecord,
    read_last_tests,
    read_last_workshop_openings,
)
from fleetbench.records.cells.reads import OutcomeRecord, read_last_outcomes
from fleetbench.records.notices.reads import NoticeScopeRecord, read_notice_scopes
from fleetbench.records.parts.lives import AsideRecord, LifeRecords, read_asides, read_life_records
from fleetbench.records.parts.reads import (
    FittedRecord,
    FittingRecord,
    PartRecord,
    PartTypeRecord,
    SlotRecord,
    read_fitted,
    read_fittings_of,
    read_once_fitted,
    read_part_types,
    read_parts,
    read_slots,
)
from fleetbench.records.units.reads import HoldRecord, read_holds
from fleetbench.records.upkeep.tables import Connection
from fleetbench.workshop.cells.judging import standing, telling
from fleetbench.workshop.core.known import KnownOnce
from fleetbench.workshop.core.workplace import Day
from fleetbench.workshop.parts.lives import LifeBook, book_of

ALSO_TESTED = {
    "addition valve": ("opening pressure",),
    "manual addition valve": ("opening pressure",),
    "bailout valve": ("opening pressure",),
    "solenoid": ("solenoid flow",),
}
"""Tests that may be made besides; where they were made they count too."""

BOTH_SUPPLIES = ("full", "low")
"""An intermediate pressure is taken at a full and a low supply: common practice, no published source."""


@dataclass(frozen=True, slots=True)
class ConditionBook:
    """What the condition of any part hangs on, read once; outcomes: the last ones of cells, by cell.

    Where fitted parts are asked for: their slots, what sits where, the last bench tests and last opening of each unit.
    """

    book: LifeBook
    types: Mapping[int, PartTypeRecord]
    outcomes: Mapping[int, list[OutcomeRecord]]
    holds: Mapping[int, list[str]]
    stops: tuple[NoticeScopeRecord, ...]
    asides: Mapping[int, AsideRecord]
    slots: Mapping[int, SlotRecord] = field(default_factory=dict)
    sits: Mapping[int, FittingRecord] = field(default_factory=dict)
    tests: Mapping[int, list[BenchTestRecord]] = field(default_factory=dict)
    opened: Mapping[int, datetime] = field(default_factory=dict)

    def facts(self, part: PartRecord, fitting: FittingRecord | None, life: Governing) -> PartFacts:
        """What is recorded of one part; fitting: where it sits, None on a shelf. life: as it is shown beside it."""
        kind, judgements = self.types[part.part_type_id], self.book.judgements.get(part.part_id, ())
        cell = kind.kind == "cell"
        told = telling(standing(self.outcomes.get(part.part_id, ()), fitting.fitted_at if fitting else None))
        return PartFacts(
            part.state,
            today=self.book.day.today,
            life=life,
            judgements=judgements,
            measured_by=CALIBRATION if cell else TEST_OF.get(kind.kind),
            calibrated=told is not None if cell and fitting is not None else None,
            last=Verdict(told.verdict) if told is not None else None,
            aside=self._aside(part.part_id),
            against=(*self.holds.get(part.part_id, ()), *self._notices(part, kind)),
            untested=self._untested(part, fitting) if fitting is not None else "",
        )

    def of(self, part: PartRecord, fitting: FittingRecord | None, life: Governing) -> PartCondition:
        """The condition of one part."""
        return condition(self.facts(part, fitting, life))

    def _untested(self, part: PartRecord, fitting: FittingRecord) -> str:
        """'one-way valve not passed since the loop was opened, 2026-11-20'; empty where every test was."""
        slot, unit_id = self.slots.get(fitting.slot_id), root_unit(fitting, self.sits)
        needs = tests_needed(slot) if slot is not None else ()
        if slot is None or unit_id is None or not needs:
            return ""
        opened = self.opened.get(unit_id) if slot.kind in AFTER_OPENING else None
        since = max(fitting.fitted_at, opened or fitting.fitted_at)
        passed = {
            (test.kind, supply_word(test.supply_bar) if test.kind == "intermediate pressure" else "")
            for test in tests_of_slot(slot, part.part_id, self.tests.get(unit_id, ()))
            if test.at >= since and test.result in IN_LIMITS
        }
        lacking = [
            say("{kind}, {supply} supply", kind=say(kind), supply=say(supply)) if supply else say(kind)
            for kind, supply in needs
            if (kind, supply) not in passed
        ]
        did = say("it was fitted") if since == fitting.fitted_at else say("the loop was opened")
        return (
            say(
                "{lacking} not passed since {did}, {since}",
                lacking=strung(" and ", lacking),
                did=did,
                since=self.book.day.of(since),
            )
            if lacking
            else ""
        )

    def _notices(self, part: PartRecord, kind: PartTypeRecord) -> tuple[str, ...]:
        marks = Marks(part.serial, lot=part.lot, firmware=part.firmware, types=(kind.code, kind.name), kind=kind.kind)
        named = ((each.notice, doubt(each.scope, marks)) for each in self.stops if covers_part(each.scope, marks))
        told = ((each, strung("; ", (unsure, each.action)) if unsure else each.action) for each, unsure in named)
        return tuple(
            dict.fromkeys(say("notice {number} stops it: {said}", number=each.number, said=said) for each, said in told)
        )

    def _aside(self, part_id: int) -> Aside | None:
        found = self.asides.get(part_id)
        if found is None:
            return None
        day = self.book.day.of(found.at)
        if found.kind != "removed":
            said = say("came back") if found.kind == ShelfEvent.CAME_BACK else say("set aside")
            return Aside(found.at, strung("", (said, f" {day}", *((": ", found.words) if found.words else ()))))
        why = found.words or say("why is not recorded")
        seen = [each.by.at for each in rejects_of(self.book.judgements.get(part_id, ()))]
        since = [at for at in seen if at <= found.at and (found.fitted_at is None or at >= found.fitted_at)]
        return Aside(
            found.at,
            say("set aside {day}: removed for {why}", day=day, why=why),
            why in FAULTS,
            max(since, default=None),
        )


def condition_book(
    book: LifeBook,
    types: Mapping[int, PartTypeRecord],
    outcomes: Iterable[OutcomeRecord],
    holds: Iterable[HoldRecord],
    scopes: Iterable[NoticeScopeRecord],
    asides: Mapping[int, AsideRecord],
) -> ConditionBook:
    """The book from records that are at hand."""
    of_cell: dict[int, list[OutcomeRecord]] = defaultdict(list)
    for outcome in outcomes:
        of_cell[outcome.part_id].append(outcome)
    of_part: dict[int, list[str]] = defaultdict(list)
    for hold in holds:
        if hold.part_id is not None:
            of_part[hold.part_id].append(say("on hold: {reason}", reason=hold.reason))
    stops = tuple(each for each in scopes if each.notice.weight == Weight.STOP)
    return ConditionBook(book, types=types, outcomes=of_cell, holds=of_part, stops=stops, asides=asides)


def with_tests(
    conditions: ConditionBook,
    fitted: Iterable[FittedRecord],
    slots: Mapping[int, SlotRecord],
    tests: Iterable[BenchTestRecord],
    openings: Iterable[OpeningRecord],
) -> ConditionBook:
    """The book with what tells of fitted parts whether they were tested since they were fitted or the loop was opened.

    tests, openings: the last ones of each unit. A part that was fitted into the loop opened it too.
    """
    sits = {each.part_id: each for each, _ in fitted}
    of_unit: dict[int, list[BenchTestRecord]] = defaultdict(list)
    for test in tests:
        of_unit[test.unit_id].append(test)
    opened = {each.unit_id: each.at for each in openings}
    for fitting in sits.values():
        unit_id = root_unit(fitting, sits) if slots[fitting.slot_id].kind in OPENS_THE_LOOP else None
        if unit_id is not None:
            opened[unit_id] = max(fitting.fitted_at, opened.get(unit_id, fitting.fitted_at))
    return replace(conditions, slots=slots, sits=sits, tests=of_unit, opened=opened)


def tests_needed(slot: SlotRecord) -> tuple[tuple[str, str], ...]:
    """What must have passed of what sits in a slot: kind of bench test, and at which supply; none for most slots."""
    if slot.kind == "loop set":
        return tuple((kind, "") for kind in LOOP_TESTS)
    kind = TEST_OF.get(slot.kind)
    if kind is None:
        return ()
    return tuple((kind, supply) for supply in BOTH_SUPPLIES) if kind == "intermediate pressure" else ((kind, ""),)


def tests_of_slot(slot: SlotRecord, part_id: int | None, tests: Iterable[BenchTestRecord]) -> Iterator[BenchTestRecord]:
    """The tests that speak of a slot: those of the part in it, or of the unit where no part was named.

    A one-way valve test without a part speaks of the valve whose direction it names; loop tests speak of the loop set.
    """
    if slot.kind == "loop set":
        yield from (test for test in tests if test.kind in LOOP_TESTS)
        return
    kinds = (TEST_OF[slot.kind], *ALSO_TESTED.get(slot.kind, ()))
    for test in tests:
        if test.kind not in kinds:
            continue
        if test.part_id is not None:
            if test.part_id == part_id:
                yield test
        elif test.kind != kinds[0]:
            continue
        elif test.kind != "one-way valve" or test.direction == "both" or (test.direction or "?") in slot.name:
            yield test


def read_condition_book(
    connection: Connection,
    book: LifeBook,
    types: Mapping[int, PartTypeRecord],
    parts: tuple[int, ...] | None = None,
    fitted: Iterable[FittedRecord] | None = None,
) -> ConditionBook:
    """The book of all parts, or of given ones; five statements, and three more where what is fitted is given."""
    found = condition_book(
        book, types, read_last_outcomes(connection, parts), read_holds(connection), read_notice_scopes(connection),
        read_asides(connection),
    )  # fmt: skip
    if fitted is None:
        return found
    tests, openings = read_last_tests(connection), read_last_workshop_openings(connection)
    return with_tests(found, fitted, read_slots(connection), tests, openings)


LIVES = "lives"
"""What is known last under this name: the records that lives were calculated from, and their book."""


def known_lives(known: KnownOnce, records: LifeRecords, day: Day) -> LifeBook:
    """The book of all parts on a day; what of the one before was calculated from the same records is taken over."""
    before = known.last.get(LIVES)
    same_day = before is not None and (before[1].day.today, before[1].day.zone) == (day.today, day.zone)
    book = book_of(records, day, before=before if same_day else None)
    known.last[LIVES] = records, book
    return book


def conditions_of(connection: Connection, day: Day, part_ids: tuple[int, ...]) -> dict[int, PartCondition]:
    """The condition of each of these parts, wherever it is; none for no part."""
    if not part_ids:
        return {}
    parts, types = read_parts(connection, part_ids=part_ids), read_part_types(connection)
    own = read_fittings_of(connection, part_ids)
    fitted = read_fitted(connection)
    sits = {each.part_id: each for each, _ in fitted}
    once = read_once_fitted(connection, part_ids)
    book = book_of(read_life_records(connection, part_ids), day, own)
    conditions = read_condition_book(connection, book, types, part_ids, fitted)
    found = {}
    for part in parts:
        now = sits.get(part.part_id)
        at, unit_id = now.fitted_at if now is not None else None, root_unit(now, sits)
        life = governing(book.last_good_days(part, at, unit_id, ever_fitted=part.part_id in once))
        found[part.part_id] = conditions.of(part, now, life)
    return found


def root_unit(fitting: FittingRecord | None, sits: Mapping[int, FittingRecord]) -> int | None:
    """The unit in which a fitting is, followed up through assemblies; None on a shelf or in a circle."""
    seen: set[int] = set()
    while fitting is not None and fitting.unit_id is None:
        host = fitting.host_part_id
        if host is None or host in seen:
            return None
        seen.add(host)
        fitting = sits.get(host)
    return fitting.unit_id if fitting is not None else None


def facts_of_part(connection: Connection, day: Day, part_id: int) -> PartFacts:
    """What is recorded of one part that bears on whether it may be used, also inside an act."""
    part, types = read_parts(connection, part_id=part_id)[0], read_part_types(connection)
    own = read_fittings_of(connection, (part_id,))
    now = next((each for each in own if each.removed_at is None), None)
    book = book_of(read_life_records(connection, (part_id,)), day, own)
    unit_id, once = now.unit_id if now is not None else None, read_once_fitted(connection, (part_id,))
    life = governing(book.last_good_days(part, now.fitted_at if now else None, unit_id, ever_fitted=part_id in once))
    return read_condition_book(connection, book, types, (part_id,)).facts(part, now, life)
