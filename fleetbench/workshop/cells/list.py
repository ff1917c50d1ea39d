"""Cells with their ages, last outcomes, trends and outlook."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from itertools import groupby
from typing import Any

from fleetbench.calc.cells.drift import HORIZON_DAYS, STRAIGHT, too_little
from fleetbench.calc.cells.judge import DEFAULT_LIMITS, CellLimits
from fleetbench.calc.cells.readings import MadeBy
from fleetbench.calc.core.languages import say
from fleetbench.calc.core.verdict import Listed
from fleetbench.calc.parts.condition import Judgement, PartCondition, PartFacts, condition, reject_words
from fleetbench.calc.parts.kinds import GONE
from fleetbench.calc.parts.life import Governing, LastGoodDay, LifeState, LimitBasis, governing
from fleetbench.records.cells.reads import (
    OutcomeRecord,
    StampRecord,
    TrendRecord,
    read_outcomes_of,
    read_stamps,
    read_trends,
)
from fleetbench.records.core.errors import NotFound
from fleetbench.records.core.schema import read_if_changed
from fleetbench.records.hires.reads import LogReadingRecord, read_log_readings
from fleetbench.records.parts.lives import read_life_records
from fleetbench.records.parts.reads import (
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
from fleetbench.records.people.reads import read_names
from fleetbench.records.tickets.reads import read_ticket_numbers
from fleetbench.records.units.reads import read_unit_tags
from fleetbench.records.upkeep.tables import Connection
from fleetbench.workshop.cells.cell_lives import LifeLine, read_life_lines
from fleetbench.workshop.cells.judging import limits_of_cells, standing, telling
from fleetbench.workshop.cells.outlook import (
    CalibrationConditions,
    HeadCell,
    Outlook,
    ReaderShown,
    outlook_of,
    seen_at_the_bench,
    shared_in_head,
    sudden_change,
)
from fleetbench.workshop.core.known import known_of, known_once
from fleetbench.workshop.core.workplace import Day, Workplace, day_of
from fleetbench.workshop.parts.conditions import ConditionBook, known_lives, read_condition_book, root_unit
from fleetbench.workshop.parts.list import (
    FittingLine,
    LifeWord,
    fitting_line,
    life_word,
    marked_words,
)
from fleetbench.workshop.parts.lives import DUE_SOON_DAYS, LifeBook, book_of, marked

REJECT = str(LimitBasis.REJECT)
NO_CROSSING = say(
    "No crossing of a limit within {years} years of the last calibration, {straight}.",
    years=HORIZON_DAYS // 365,
    straight=STRAIGHT,
)


@dataclass(frozen=True, slots=True)
class AgeLine:
    """Age of a cell against one limit: whole days since the anchor, and days left."""

    basis: str
    limit: str
    age_days: int | None
    days_left: int | None


@dataclass(frozen=True, slots=True)
class CellRow:
    """One cell; mV are normalised to dry air and pure oxygen at 1013.25 mbar.

    trend: (site's date, linearity in percent) oldest first. verdict: `not calibrated` is None, never a pass.
    basis: what governs the last good day: a limit of age, `forecast` or `reject`. projected: it is the forecast.
    """

    part: PartRecord
    part_type: str
    unit: str | None
    head: str | None
    position: str | None
    made: str | None
    opened: str | None
    ages: tuple[AgeLine, ...]
    last_good_day: date | None
    basis: str | None
    life_state: str
    outcome: OutcomeRecord | None
    verdict: str | None
    finding: str | None
    trend: tuple[tuple[date, float], ...]
    condition: PartCondition
    made_day: date | None = None
    forecast_day: date | None = None
    forecast: str = ""
    projected: bool = False
    sudden: str | None = None
    shared: str | None = None


@dataclass(frozen=True, slots=True)
class SettlingRun:
    """The stamped readings of one flush: (reader, seconds, mV), a row a reader."""

    calibration_id: int
    at: datetime
    readers: tuple[tuple[str, tuple[float, ...], tuple[float, ...]], ...]


@dataclass(frozen=True, slots=True)
class OutcomeLine:
    """What one calibration said of a cell; part, shown and conditions where a page asked for them."""

    outcome: OutcomeRecord
    person: str | None
    part: PartRecord | None = None
    shown: tuple[ReaderShown, ...] = ()
    conditions: CalibrationConditions | None = None


@dataclass(frozen=True, slots=True)
class LotMate:
    """Another cell of the same lot."""

    part: PartRecord
    unit: str | None
    position: str | None
    verdict: str | None


@dataclass(frozen=True, slots=True)
class CellPage:
    """One cell's whole record; calibrations and flushes newest first, drift oldest first.

    lives: the curve of its part type and, where it has one, of its lot. bounds: limits in force with their source.
    renters: what renters read of it on their dives, oldest first; it calibrates nothing.
    """

    row: CellRow
    limits: tuple[LastGoodDay, ...]
    calibrations: tuple[OutcomeLine, ...]
    fittings: tuple[FittingLine, ...]
    lot_mates: tuple[LotMate, ...]
    drift: tuple[OutcomeRecord, ...]
    bounds: CellLimits
    outlook: Outlook
    flushes: tuple[SettlingRun, ...]
    lives: tuple[LifeLine, ...]
    renters: tuple[LogReadingRecord, ...] = ()


@dataclass(frozen=True, slots=True)
class _Bench:
    """What cells are looked at against: the day, lives, where each sits, outcomes and trends by cell."""

    day: Day
    book: LifeBook
    kinds: dict[int, str]
    sits: dict[int, FittingRecord]
    parts: dict[int, PartRecord]
    slots: dict[int, SlotRecord]
    tags: dict[int, str]
    conditions: ConditionBook
    trends: dict[int, list[TrendRecord]]
    bounds: Mapping[int, CellLimits]
    shared: dict[int, str]
    rows: dict[int, tuple[Any, CellRow]]
    """Rows that were made, by cell, each with all that it hangs on."""

    def limits_of(self, cell: PartRecord) -> CellLimits:
        """Limits of a cell's readings in force."""
        return self.bounds.get(cell.part_type_id, DEFAULT_LIMITS)


@known_once
def list_cells(workplace: Workplace, *, include_worn: bool = False) -> tuple[CellRow, ...]:
    """Cells fitted, in stock and in quarantine, by unit and position; worn ones too where asked."""
    day = day_of(workplace)
    with workplace.database.reading() as connection, known_of(workplace.database, connection) as known:
        cells, types = read_parts(connection, kind="cell"), read_part_types(connection)
        book, once = known_lives(known, read_life_records(connection), day), read_once_fitted(connection)
        conditions, trends = read_condition_book(connection, book, types), _trends_by_cell(connection)
        bench = _bench(
            day, types, read_fitted(connection), read_slots(connection), read_unit_tags(connection), conditions,
            trends, limits_of_cells(connection), known.last.setdefault("cell_rows", {}),
        )  # fmt: skip
    listed = (cell for cell in cells if include_worn or cell.state not in GONE)
    rows = (_row(bench, cell, ever_fitted=cell.part_id in once) for cell in listed)
    return tuple(sorted(rows, key=lambda row: (row.unit is None, row.unit or "", row.position or "", row.part.label)))


def cells_listed(workplace: Workplace) -> tuple[Listed, ...]:
    """The same cells before they are judged, with their serials and lots."""
    with workplace.database.reading() as connection:
        cells = [each for each in read_parts(connection, kind="cell") if each.state not in GONE]
    lots = {each.part_id: {"lot": each.lot} for each in cells if each.lot}
    return tuple(Listed(str(each.part_id), {"serial": each.label, **lots.get(each.part_id, {})}) for each in cells)


@read_if_changed
def _trends_by_cell(connection: Connection) -> dict[int, list[TrendRecord]]:
    return _by_cell(read_trends(connection))


def _by_cell(points: Iterable[TrendRecord]) -> dict[int, list[TrendRecord]]:
    lines: dict[int, list[TrendRecord]] = defaultdict(list)
    for point in points:
        lines[point.part_id].append(point)
    return lines


def cell_page(workplace: Workplace, part_id: int) -> CellPage:
    """One cell's whole record; NotFound for a key that is no cell."""
    day = day_of(workplace)
    with workplace.database.reading() as connection:
        found = read_parts(connection, kind="cell", part_id=part_id)
        if not found:
            raise NotFound(say("cell {part_id}: no cell has this key; look it up with find", part_id=part_id))
        cell = found[0]
        alike = read_parts(connection, kind="cell", lot=cell.lot) if cell.lot else ()
        mates = tuple(each for each in alike if each.part_id != part_id)
        own, story = read_fittings_of(connection, (part_id,)), read_outcomes_of(connection, part_id)
        numbers, names = read_ticket_numbers(connection), read_names(connection)
        keys = tuple(each.part_id for each in (cell, *mates))
        book = book_of(read_life_records(connection, keys), day)
        slots, tags = read_slots(connection), read_unit_tags(connection)
        types, fitted = read_part_types(connection), read_fitted(connection)
        conditions = read_condition_book(connection, book, types, keys)
        stamps, lives = read_stamps(connection, part_id), read_life_lines(connection, day)
        once = read_once_fitted(connection, (part_id,))
        bounds, renters = limits_of_cells(connection), read_log_readings(connection, part_id=part_id)
    bench = _bench(day, types, fitted, slots, tags, conditions, _by_cell(_points(story)), bounds)
    kind = types[cell.part_type_id].name
    outlook = outlook_of(seen_at_the_bench(_points(story), day.zone), bench.limits_of(cell))
    labels = {each.part_id: each.label for each in bench.parts.values()}
    return CellPage(
        row=_row(bench, cell, ever_fitted=part_id in once),
        limits=_days(bench, cell, ever_fitted=bool(own)),
        calibrations=tuple(outcome_line(each, names) for each in reversed(story)),
        fittings=tuple(fitting_line(each, slots, tags, labels, numbers) for each in reversed(own)),
        lot_mates=tuple(_mate(bench, each) for each in mates),
        drift=story,
        bounds=bench.limits_of(cell),
        outlook=outlook,
        flushes=_flushes(stamps),
        lives=tuple(
            each for each in lives if each.part_type == kind and each.lot in ((None, cell.lot) if cell.lot else (None,))
        ),
        renters=renters,
    )


def vacant_positions(workplace: Workplace) -> tuple[tuple[str, str, str], ...]:
    """Unit, head and position of every place for a cell that holds none, in heads that sit in a unit."""
    with workplace.database.reading() as connection:
        fitted, slots, tags = read_fitted(connection), read_slots(connection), read_unit_tags(connection)
    sits = {fitting.part_id: fitting for fitting, _ in fitted}
    taken = {(fitting.host_part_id, fitting.slot_id) for fitting, _ in fitted}
    found = []
    for fitting, part in fitted:
        inside = (slot for slot in slots.values() if slot.assembly_type_id == part.part_type_id and slot.kind == "cell")
        unit_id = root_unit(fitting, sits)
        if unit_id is None:
            continue
        found += [
            (tags[unit_id], part.label, slot.name) for slot in inside if (part.part_id, slot.slot_id) not in taken
        ]
    return tuple(sorted(found))


def _points(story: Iterable[OutcomeRecord]) -> tuple[TrendRecord, ...]:
    """The calibrations of one cell that gave a linearity, in their order."""
    return tuple(
        TrendRecord(each.part_id, at=each.at, linearity=each.linearity, air_mv=each.air_mv, made=each.made)
        for each in story
        if each.linearity is not None
    )


def _flushes(stamps: Iterable[StampRecord]) -> tuple[SettlingRun, ...]:
    runs = []
    for (key, at), of_one in groupby(stamps, key=lambda each: (each.calibration_id, each.at)):
        readers = []
        for reader, rows in groupby(of_one, key=lambda each: each.reader):
            listed = list(rows)
            readers.append((reader, tuple(row.seconds for row in listed), tuple(row.mv for row in listed)))
        runs.append(SettlingRun(key, at, tuple(readers)))
    return tuple(runs)


def outcome_line(outcome: OutcomeRecord, names: dict[int, str]) -> OutcomeLine:
    """One outcome with the name of who calibrated."""
    return OutcomeLine(outcome, names.get(outcome.person_id) if outcome.person_id is not None else None)


def _bench(
    day: Day,
    types: dict[int, PartTypeRecord],
    fitted: Sequence[tuple[FittingRecord, PartRecord]],
    slots: dict[int, SlotRecord],
    tags: dict[int, str],
    conditions: ConditionBook,
    trends: dict[int, list[TrendRecord]],
    bounds: Mapping[int, CellLimits],
    rows: dict[int, tuple[Any, CellRow]] | None = None,
) -> _Bench:
    sits = {fitting.part_id: fitting for fitting, _ in fitted}
    parts = {part.part_id: part for _, part in fitted}
    kinds = {key: each.name for key, each in types.items()}
    return _Bench(
        day, book=conditions.book, kinds=kinds, sits=sits, parts=parts, slots=slots, tags=tags, conditions=conditions,
        trends=trends, bounds=bounds, shared=_shared(fitted, slots), rows={} if rows is None else rows,
    )  # fmt: skip


def _shared(fitted: Iterable[tuple[FittingRecord, PartRecord]], slots: Mapping[int, SlotRecord]) -> dict[int, str]:
    """What each cell shares with the others of its head, by cell; one pass over the fleet."""
    heads: dict[int, list[HeadCell]] = defaultdict(list)
    for sits, part in fitted:
        if sits.host_part_id is not None and slots[sits.slot_id].kind == "cell":
            made = marked(part.made_on, part.made_precision)
            cell = HeadCell(sits.part_id, slots[sits.slot_id].name, part.lot, made.first_day if made else None)
            heads[sits.host_part_id].append(cell)
    return {part_id: words for cells in heads.values() for part_id, words in shared_in_head(cells).items()}


def _days(bench: _Bench, cell: PartRecord, *, ever_fitted: bool) -> tuple[LastGoodDay, ...]:
    sits = bench.sits.get(cell.part_id)
    unit_id = root_unit(sits, bench.sits)
    fitted_at = sits.fitted_at if sits is not None else None
    return bench.book.last_good_days(cell, fitted_at, unit_id, ever_fitted=ever_fitted)


@dataclass(frozen=True, slots=True)
class _Ahead:
    """What a list says of a cell's days to come: the foretold day, the words, and a sudden change."""

    day: date | None
    words: str
    sudden: str | None


def _ahead(bench: _Bench, cell: PartRecord) -> _Ahead:
    """From the day kept on the fitting; calculated again where the last calibration is older than the keeping of it."""
    points = bench.trends.get(cell.part_id, ())
    seen = seen_at_the_bench(points, bench.day.zone)
    sudden = sudden_change(seen)
    if cell.part_id not in bench.sits:
        return _Ahead(None, say("No forecast while it sits in no head."), sudden)
    if cell.part_id in bench.book.rejects:
        return _Ahead(None, say("No forecast: it is rejected."), sudden)
    day, measure = bench.book.forecasts.get(cell.part_id, (None, None))
    if day is not None:
        return _Ahead(
            day,
            say(
                "{measure}: lower bound meets its limit until {day}, {straight}.",
                measure=say(measure or ""),
                day=day,
                straight=STRAIGHT,
            ),
            sudden,
        )
    if any(point.reason is not None for point in points if point.made == MadeBy.WORKSHOP):
        return _Ahead(None, too_little([each.on for each in seen]) or NO_CROSSING, sudden)
    outlook = outlook_of(seen, bench.limits_of(cell))
    return _Ahead(outlook.day, outlook.words, sudden)


def _row(bench: _Bench, cell: PartRecord, *, ever_fitted: bool) -> CellRow:
    """The row as it was made before, where all that it hangs on is the same."""
    key, book, place = cell.part_id, bench.book, _place(bench, cell)
    days = _days(bench, cell, ever_fitted=ever_fitted)
    facts = bench.conditions.facts(cell, bench.sits.get(key), governing(days))
    hangs_on = (
        (cell, bench.sits.get(key), bench.kinds[cell.part_type_id], place, bench.shared.get(key), bench.day.today),
        (days, facts, bench.conditions.outcomes.get(key, []), bench.trends.get(key, ()), bench.day.zone),
        (book.rejects.get(key), book.forecasts.get(key), cell.part_type_id in book.limits, bench.limits_of(cell)),
    )
    kept = bench.rows.get(key)
    if kept is None or kept[0] != hangs_on:
        kept = bench.rows[key] = hangs_on, _made_row(bench, cell, days, facts)
    return kept[1]


def _place(bench: _Bench, cell: PartRecord) -> tuple[str | None, str | None, str | None]:
    """Unit, head and position."""
    sits = bench.sits.get(cell.part_id)
    if sits is None:
        return None, None, None
    unit_id = root_unit(sits, bench.sits)
    host = bench.parts.get(sits.host_part_id) if sits.host_part_id is not None else None
    unit = bench.tags.get(unit_id) if unit_id is not None else None
    return unit, host.label if host is not None else None, bench.slots[sits.slot_id].name


def _made_row(bench: _Bench, cell: PartRecord, days: tuple[LastGoodDay, ...], facts: PartFacts) -> CellRow:
    """The row; whatever it is made of stands in `hangs_on` of `_row`."""
    sits, (unit, head, position) = bench.sits.get(cell.part_id), _place(bench, cell)
    seen = bench.conditions.outcomes.get(cell.part_id, [])
    # A cell on the shelf keeps its story: what was last said of it still stands.
    told = telling(standing(seen, sits.fitted_at if sits is not None else None))
    life = governing(days)
    last, basis = life.day, str(life.first.basis) if life.first is not None else None
    reject = bench.book.rejects.get(cell.part_id)
    ahead = _ahead(bench, cell)
    if ahead.day is not None and (last is None or ahead.day < last):
        last, basis = ahead.day, str(LimitBasis.FORECAST)
    made = marked(cell.made_on, cell.made_precision)
    return CellRow(
        part=cell,
        part_type=bench.kinds[cell.part_type_id],
        unit=unit,
        head=head,
        position=position,
        made=marked_words(cell.made_on, cell.made_precision),
        opened=marked_words(cell.opened_on, cell.opened_precision),
        ages=tuple(
            _age(bench.day.today, cell, sits, bench.day, each)
            for each in days
            if each.basis not in (LimitBasis.FORECAST, LimitBasis.REJECT)
        ),
        last_good_day=last,
        basis=basis,
        life_state=_life_state(bench, cell, life, last),
        outcome=told,
        verdict=REJECT if reject is not None else told.verdict if told else None,
        finding=_finding(told, reject),
        trend=tuple((bench.day.of(each.at), each.linearity) for each in bench.trends.get(cell.part_id, ())),
        made_day=made.first_day if made else None,
        forecast_day=ahead.day,
        forecast=ahead.words,
        projected=basis == LimitBasis.FORECAST,
        sudden=ahead.sudden,
        shared=bench.shared.get(cell.part_id),
        condition=condition(facts),
    )


def _finding(told: OutcomeRecord | None, reject: Judgement | None) -> str | None:
    """The finding of the reject that stands, wherever it was made, else that of the last calibration."""
    if reject is not None and (told is None or told.verdict != REJECT):
        return reject_words(reject)
    return told.finding if told is not None else None


def _life_state(bench: _Bench, cell: PartRecord, life: Governing, last: date | None) -> LifeWord:
    """How a cell's life stands: a reject has ended it, whatever its age; a forecast may shorten it, never lengthen."""
    by_age = life_word(life, bench.day.today, limited=cell.part_type_id in bench.book.limits)
    if last is None or by_age not in (LifeWord.GOOD, LifeWord.NO_LIMIT, LifeWord.DUE_SOON):
        return by_age
    left = (last - bench.day.today).days
    return LifeWord.PAST if left < 0 else LifeWord.DUE_SOON if left <= DUE_SOON_DAYS else by_age


def _age(today: date, cell: PartRecord, sits: FittingRecord | None, day: Day, calculated: LastGoodDay) -> AgeLine:
    made, opened = marked(cell.made_on, cell.made_precision), marked(cell.opened_on, cell.opened_precision)
    anchors = {
        LimitBasis.MADE: made.first_day if made else None,
        LimitBasis.STORAGE: made.quarter_end if made else None,
        LimitBasis.OPENED: opened.first_day if opened else None,
        LimitBasis.FITTED: day.of(sits.fitted_at) if sits is not None else None,
        LimitBasis.RECEIVED: cell.received_on,
    }
    anchor = anchors.get(calculated.basis)
    left = (calculated.day - today).days if calculated.day is not None and calculated.state is LifeState.DATED else None
    return AgeLine(
        str(calculated.basis), calculated.limit.describe(), (today - anchor).days if anchor is not None else None, left
    )


def _mate(bench: _Bench, mate: PartRecord) -> LotMate:
    sits, (unit, _, position) = bench.sits.get(mate.part_id), _place(bench, mate)
    seen = bench.conditions.outcomes.get(mate.part_id, ())
    told = telling(standing(seen, sits.fitted_at if sits is not None else None))
    return LotMate(
        mate,
        unit,
        position,
        REJECT if mate.part_id in bench.book.rejects else told.verdict if told is not None else None,
    )
