"""The condition of parts as every page and act reads it: records in, fleetbench.calc.parts.condition asked.

read_condition_book(connection, day)   for many parts, in a fixed number of statements
facts_of_part(connection, day, key)    for one part, in or out of an act
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from fleetbench.calc.core.verdict import Verdict
from fleetbench.calc.notices.scope import Marks, Weight, covers_part, doubt
from fleetbench.calc.parts.condition import (
    CALIBRATION,
    FAULTS,
    TEST_OF,
    Aside,
    PartCondition,
    PartFacts,
    condition,
    rejects_of,
)
from fleetbench.calc.parts.life import Governing, governing
from fleetbench.records.cells.reads import OutcomeRecord, read_last_outcomes
from fleetbench.records.notices.reads import NoticeScopeRecord, read_notice_scopes
from fleetbench.records.parts.lives import AsideRecord, read_asides, read_life_records
from fleetbench.records.parts.reads import (
    FittingRecord,
    PartRecord,
    PartTypeRecord,
    read_fitted,
    read_fittings_of,
    read_once_fitted,
    read_part_types,
    read_parts,
)
from fleetbench.records.units.reads import HoldRecord, read_holds
from fleetbench.records.upkeep.tables import Connection
from fleetbench.workshop.cells.judging import standing, telling
from fleetbench.workshop.core.workplace import Day
from fleetbench.workshop.parts.lives import LifeBook, book_of


@dataclass(frozen=True, slots=True)
class ConditionBook:
    """What the condition of any part hangs on, read once; outcomes: the last ones of cells, by cell."""

    book: LifeBook
    types: Mapping[int, PartTypeRecord]
    outcomes: Mapping[int, list[OutcomeRecord]]
    holds: Mapping[int, list[str]]
    stops: tuple[NoticeScopeRecord, ...]
    asides: Mapping[int, AsideRecord]

    def facts(self, part: PartRecord, fitting: FittingRecord | None, life: Governing) -> PartFacts:
        """What is recorded of one part; fitting: where it sits, None on a shelf. life: as it is shown beside it."""
        kind, judgements = self.types[part.part_type_id], self.book.judgements.get(part.part_id, ())
        cell = kind.kind == "cell"
        told = telling(standing(self.outcomes.get(part.part_id, ()), fitting.fitted_at if fitting else None))
        return PartFacts(
            part.state,
            self.book.day.today,
            life,
            judgements,
            CALIBRATION if cell else TEST_OF.get(kind.kind),
            told is not None if cell and fitting is not None else None,
            Verdict(told.verdict) if told is not None else None,
            self._aside(part.part_id),
            (*self.holds.get(part.part_id, ()), *self._notices(part, kind)),
        )

    def of(self, part: PartRecord, fitting: FittingRecord | None, life: Governing) -> PartCondition:
        """The condition of one part."""
        return condition(self.facts(part, fitting, life))

    def _notices(self, part: PartRecord, kind: PartTypeRecord) -> tuple[str, ...]:
        marks = Marks(part.serial, part.lot, part.firmware, (kind.code, kind.name), kind.kind)
        named = ((each.notice, doubt(each.scope, marks)) for each in self.stops if covers_part(each.scope, marks))
        told = ((each, f"{unsure}; {each.action}" if unsure else each.action) for each, unsure in named)
        return tuple(dict.fromkeys(f"notice {each.number} stops it: {said}" for each, said in told))

    def _aside(self, part_id: int) -> Aside | None:
        found = self.asides.get(part_id)
        if found is None:
            return None
        day = self.book.day.of(found.at)
        if found.kind != "removed":
            said = "came back" if found.kind == "came back" else "set aside"
            return Aside(found.at, f"{said} {day}{f': {found.words}' if found.words else ''}")
        why = found.words or "why is not recorded"
        seen = [each.by.at for each in rejects_of(self.book.judgements.get(part_id, ()))]
        since = [at for at in seen if at <= found.at and (found.fitted_at is None or at >= found.fitted_at)]
        return Aside(found.at, f"set aside {day}: came out for {why}", why in FAULTS, max(since, default=None))


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
            of_part[hold.part_id].append(f"on hold: {hold.reason}")
    stops = tuple(each for each in scopes if each.notice.weight == Weight.STOP)
    return ConditionBook(book, types, of_cell, of_part, stops, asides)


def read_condition_book(
    connection: Connection,
    book: LifeBook,
    types: Mapping[int, PartTypeRecord],
    parts: tuple[int, ...] | None = None,
) -> ConditionBook:
    """The book of all parts, or of given ones; five statements."""
    return condition_book(
        book, types, read_last_outcomes(connection, parts), read_holds(connection), read_notice_scopes(connection),
        read_asides(connection),
    )  # fmt: skip


def conditions_of(connection: Connection, day: Day, part_ids: tuple[int, ...]) -> dict[int, PartCondition]:
    """The condition of each of these parts, wherever it is; none for no part."""
    if not part_ids:
        return {}
    parts, types = read_parts(connection, part_ids=part_ids), read_part_types(connection)
    own = read_fittings_of(connection, part_ids)
    sits = {each.part_id: each for each, _ in read_fitted(connection)}
    once = read_once_fitted(connection, part_ids)
    book = book_of(read_life_records(connection, part_ids), day, own)
    conditions = read_condition_book(connection, book, types, part_ids)
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
