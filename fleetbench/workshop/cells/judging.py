"""Judging a calibration from what is recorded: the window's act and an import come through here.

judge_calibration(connection, facts) -> JudgedVisit         one new calibration, with the cells' history read for it
judge_in_turn(facts, book) -> Iterator[tuple[...]]          many, oldest first, each the history of the next
bench_book(connection, parts) / bench_book_of(rows, zone)   limits, readers, equipment: what the figures hang on

A cell's history is derived each time from its earlier visits, back to its last pass: figures from their readings, and
what was found then from what was recorded then, so that a changed limit or rule judges no past visit anew.

What is kept of a judged cell beside its figures: how far its readers stand apart, and what is to blame.

Limits of a cell's readings, as its part type states them.

What stands of a cell: which of its outcomes count today.
"""

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from fleetbench.calc.cells.judge import (
    DEFAULT_LIMITS,
    AcceptedFigures,
    Answer,
    BlameKind,
    CalibrationInput,
    CellHistory,
    CellLimits,
    CellOutcome,
    CellReadings,
    Conditions,
    Gas,
    HeadOutcome,
    HeadState,
    PressureSource,
    ReaderFigures,
    Reason,
    judge_many,
)
from fleetbench.calc.cells.readings import CellPoint, MadeBy
from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.plausible import Tool
from fleetbench.calc.core.verdict import Verdict
from fleetbench.calc.readiness.limits import in_force
from fleetbench.records.bench.tables import TestEquipment
from fleetbench.records.cells.reads import (
    CalibrationFacts,
    OutcomeRecord,
    ReadingFacts,
    Said,
    read_past,
    read_session_mates,
    sessions_of,
)
from fleetbench.records.cells.tables import BenchSession
from fleetbench.records.core.schema import Base
from fleetbench.records.parts.tables import Part
from fleetbench.records.places.reads import LimitRecord, read_limits
from fleetbench.records.places.tables import Limit, centre_timezone
from fleetbench.records.units.tables import Reader, ReaderCell, Slot
from fleetbench.records.upkeep.tables import Connection, rows_of
from fleetbench.workshop.bench.equipment import factor_between


def reader_gap_bar(cell: CellOutcome, oxygen_po2_bar: float | None) -> float | None:
    """Largest difference in bar between two readers of a cell in oxygen, each by its own air point; None if alone."""
    shown = [row.linearity / 100 * oxygen_po2_bar for row in cell.readers if row.linearity and oxygen_po2_bar]
    return max(shown) - min(shown) if len(shown) > 1 else None


def blame_word(cell: CellOutcome, outcome: HeadOutcome) -> str | None:
    """What is to blame for a cell's deviation in one word, None where nothing is."""
    blame = outcome.blame
    if blame.kind is BlameKind.NONE:
        return None
    shared = blame.kind in (BlameKind.COMMON, BlameKind.HANDSET)
    return blame.kind.value if shared or cell.cell in blame.where else None


LIMIT_NAMES = (
    "cell air low", "cell air high", "cell oxygen floor", "linearity low", "linearity high", "temperature residual",
)  # fmt: skip


def cell_limits(rows: Sequence[Limit | LimitRecord]) -> CellLimits:
    """Limits of one cell part type from its limit rows; what is not stated keeps the common-practice default."""
    named = {row.name: row for row in in_force(rows)}

    def amount(name: str, default: float, factor: float = 1.0) -> float:
        return named[name].amount * factor if name in named else default

    known = [named[name] for name in LIMIT_NAMES if name in named]
    sources = dict.fromkeys(row.source for row in known)
    if len(known) < len(LIMIT_NAMES) - 1:
        sources[DEFAULT_LIMITS.source] = None
    return CellLimits(
        air_low_mv=amount("cell air low", DEFAULT_LIMITS.air_low_mv),
        air_high_mv=amount("cell air high", DEFAULT_LIMITS.air_high_mv),
        oxygen_floor_mv=amount("cell oxygen floor", DEFAULT_LIMITS.oxygen_floor_mv),
        linearity_low=amount("linearity low", DEFAULT_LIMITS.linearity_low),
        linearity_high=amount("linearity high", DEFAULT_LIMITS.linearity_high),
        makers_floor="cell oxygen floor" in named and named["cell oxygen floor"].maker,
        compensation_u_per_k=amount("temperature residual", DEFAULT_LIMITS.compensation_u_per_k, 0.01),
        source=strung("; ", sources),
    )


def limits_of_cells(connection: Connection) -> dict[int, CellLimits]:
    """Limits of readings by part type; what states none has the common-practice defaults. One statement."""
    found: dict[int, list[LimitRecord]] = defaultdict(list)
    for limit in read_limits(connection):
        if limit.part_type_id is not None:
            found[limit.part_type_id].append(limit)
    return {key: cell_limits(rows) for key, rows in found.items()}


USABLE = (Verdict.PASS, Verdict.WATCH)
BY_ITS_READINGS = (Reason.BELOW_LIMIT, Reason.MV_OUT_OF_LIMITS, Reason.ABOVE_LIMIT, Reason.COMMON_LOW)
"""Grounds on which a rejected cell takes two visits in limits; where it could not be shown to meet the limit, one."""
Rows = Callable[[type[Base]], Iterable[Mapping[str, Any]]]


@dataclass(frozen=True, slots=True)
class RatedTool:
    """What a piece of test equipment can vouch for: standard uncertainty in its own unit, and until when."""

    kind: str
    uncertainty: float | None
    unit: str | None
    last_good_day: date | None


@dataclass(frozen=True, slots=True)
class BenchBook:
    """What judging hangs on: positions, readers, limits by part type, types by part, equipment, and the site's zone.

    hygrometers: key of the one used, by bench session.
    """

    slots: Mapping[int, str]
    readers: Mapping[int, tuple[str, float]]
    shown: Mapping[tuple[int, int], tuple[str, float | None]]
    limits: Mapping[int, CellLimits]
    part_types: Mapping[int, int]
    tools: Mapping[int, RatedTool]
    hygrometers: Mapping[int, int]
    zone: ZoneInfo

    def limits_of(self, part_id: int) -> CellLimits:
        """Limits in force for a cell; the program's own where its part type states none."""
        return self.limits.get(self.part_types.get(part_id, 0), DEFAULT_LIMITS)

    def uncertainty(self, equipment_id: int | None, unit: str) -> float | None:
        """Standard uncertainty of a piece in a unit; None where no piece is named or its own is not recorded."""
        tool = self.tools.get(equipment_id or 0)
        factor = factor_between(tool.unit, unit) if tool is not None else None
        return None if tool is None or tool.uncertainty is None or factor is None else tool.uncertainty * factor

    def worst(self, kind: str, unit: str) -> float | None:
        """Largest standard uncertainty recorded of a kind, for where nobody wrote down which one was used."""
        known = (self.uncertainty(key, unit) for key, tool in self.tools.items() if tool.kind == kind)
        return max((each for each in known if each is not None), default=None)


@dataclass(frozen=True, slots=True)
class JudgedVisit:
    """What came out: the rows for calibration_outcome, and the whole outcome for the screen."""

    rows: tuple[dict[str, Any], ...]
    outcome: HeadOutcome


@dataclass(slots=True)
class _Memory:
    """What earlier visits say: by cell, and of whole heads."""

    cells: dict[int, CellHistory] = field(default_factory=dict)
    common: dict[int, int] = field(default_factory=dict)
    passed: dict[int, bool] = field(default_factory=dict)
    sessions: dict[int, list[tuple[int, bool]]] = field(default_factory=dict)
    last_at: dict[int, datetime] = field(default_factory=dict)

    def hours_since(self, facts: CalibrationFacts) -> float | None:
        """Hours since the last calibration of one of these cells; None where none is known."""
        last = max((self.last_at[row.part_id] for row in facts.readings if row.part_id in self.last_at), default=None)
        return None if last is None else max(0.0, (facts.at - last).total_seconds() / 3600)

    def comparison(self, facts: CalibrationFacts) -> bool | None:
        """Whether another head on the same gas was in limits; None where there is nothing to compare."""
        if facts.comparison_id is not None:
            return self.passed.get(facts.comparison_id)
        mates = self.sessions.get(facts.session_id or 0, [])
        others = [passed for unit_id, passed in mates if unit_id != facts.unit_id]
        return any(others) if others else None


def judge_calibration(connection: Connection, facts: CalibrationFacts) -> JudgedVisit:
    """The outcome of a new calibration, its cells' history read from the records.

    Raises ValueError naming field and remedy for readings that no bench can give.
    """
    book = bench_book(connection, {row.part_id for row in facts.readings}, facts.session_id)
    memory = _Memory()
    for _ in _in_turn(read_past(connection, {row.part_id for row in facts.readings}, facts.at), book, memory):
        pass
    memory.sessions.clear()
    for mate in read_session_mates(connection, facts.session_id, facts.comparison_id, facts.at):
        in_limits = all(Verdict(verdict) in USABLE for verdict in mate.verdicts)
        memory.passed[mate.calibration_id] = in_limits
        if facts.session_id is not None and mate.calibration_id != facts.comparison_id:
            memory.sessions.setdefault(facts.session_id, []).append((mate.unit_id, in_limits))
    (judged,) = _judge([facts], book, memory)
    if isinstance(judged, ValueError):
        raise judged
    return judged


def judge_in_turn(
    facts: Iterable[CalibrationFacts], book: BenchBook, refuse: Callable[[CalibrationFacts, ValueError], None]
) -> Iterator[tuple[CalibrationFacts, JudgedVisit]]:
    """Each calibration with its outcome, given oldest first; what cannot be judged goes to `refuse`."""
    return _in_turn(facts, book, _Memory(), refuse)


def _in_turn(
    facts: Iterable[CalibrationFacts],
    book: BenchBook,
    memory: _Memory,
    refuse: Callable[[CalibrationFacts, ValueError], None] | None = None,
) -> Iterator[tuple[CalibrationFacts, JudgedVisit]]:
    given, known = tuple(facts), dict[int, JudgedVisit | ValueError]()
    next_told = 0
    for wave in _waves(given):
        known.update(zip(wave, _judge([given[place] for place in wave], book, memory), strict=True))
        for place in wave:
            judged = known[place]
            if isinstance(judged, JudgedVisit) and not given[place].superseded:
                _remember(given[place], judged, memory)
        while next_told in known:
            each, judged = given[next_told], known.pop(next_told)
            next_told += 1
            if isinstance(judged, JudgedVisit):
                yield each, judged
            elif refuse is not None:  # without an outcome it is no visit that the ladder could count
                refuse(each, judged)


def _waves(facts: Sequence[CalibrationFacts]) -> Iterable[list[int]]:
    """Places of calibrations in waves: what ``_Memory`` says to those of one is not changed by another of them.

    Each comes after all earlier ones that it shares a cell, a unit, a bench session or a comparison with.
    """
    waves: dict[int, list[int]] = {}
    last: dict[tuple[str, int | None], int] = {}
    for place, each in enumerate(facts):
        shared = {("cell", row.part_id) for row in each.readings} | {
            ("unit", each.unit_id), ("session", each.session_id), ("visit", each.calibration_id),
            ("visit", each.comparison_id),
        }  # fmt: skip
        shared -= {("session", None), ("visit", None)}
        wave = 1 + max(last.get(key, 0) for key in shared)
        last.update(dict.fromkeys(shared, wave))
        waves.setdefault(wave, []).append(place)
    return waves.values()


def _judge(facts: Sequence[CalibrationFacts], book: BenchBook, memory: _Memory) -> list[JudgedVisit | ValueError]:
    """The outcome of each of a wave, or why it cannot be judged."""
    ready: dict[int, tuple[dict[str, tuple[int, int]], CalibrationInput]] = {}
    found: dict[int, JudgedVisit | ValueError] = {}
    for place, each in enumerate(facts):
        try:
            cells = _cells(each, book)
            ready[place] = cells, _input(each, book, cells, memory)
        except ValueError as fault:
            found[place] = fault
    outcomes = judge_many([given for _, given in ready.values()])
    for (place, (cells, _)), outcome in zip(ready.items(), outcomes, strict=True):
        found[place] = outcome if isinstance(outcome, ValueError) else _visit_of(facts[place], outcome, cells)
    return [found[place] for place in range(len(facts))]


def _visit_of(facts: CalibrationFacts, outcome: HeadOutcome, cells: Mapping[str, tuple[int, int]]) -> JudgedVisit:
    return JudgedVisit(tuple(_outcome_row(facts, cell, outcome, cells[cell.cell]) for cell in outcome.cells), outcome)


def _cells(facts: CalibrationFacts, book: BenchBook) -> dict[str, tuple[int, int]]:
    """Part and slot of each cell by the name of its position."""
    cells: dict[str, tuple[int, int]] = {}
    for row in facts.readings:
        name = book.slots[row.slot_id]
        if cells.setdefault(name, (row.part_id, row.slot_id)) != (row.part_id, row.slot_id):
            raise ValueError(say("readings: two cells stand in {name}; enter one cell a position", name=name))
    if len({part_id for part_id, _ in cells.values()}) != len(cells):
        raise ValueError(say("readings: one cell stands in two positions; enter it where it sat"))
    return cells


def _input(
    facts: CalibrationFacts, book: BenchBook, cells: Mapping[str, tuple[int, int]], memory: _Memory
) -> CalibrationInput:
    return CalibrationInput(
        conditions=_conditions(facts, book),
        gas=_gas(facts, book),
        readings=tuple(_grid(facts, book, cells)),
        equipment_in_date=_in_date(facts, book),
        limits={name: book.limits_of(part_id) for name, (part_id, _) in cells.items()},
        history={name: memory.cells.get(part_id, CellHistory()) for name, (part_id, _) in cells.items()},
        vented=Answer(facts.vented),
        over_pressure_mbar=facts.over_pressure_mbar,
        head=HeadState(facts.head),
        comparison_passed=memory.comparison(facts),
        common_before=memory.common.get(facts.unit_id, 0),
        hours_since_last=memory.hours_since(facts),
    )


def _gas(facts: CalibrationFacts, book: BenchBook) -> Gas:
    shown = facts.oxygen_shown_percent
    own = book.uncertainty(facts.analyser_id, "%")
    return Gas(
        oxygen_fraction=None if shown is None else shown / 100, oxygen_fraction_u=None if own is None else own / 100
    )


def _conditions(facts: CalibrationFacts, book: BenchBook) -> Conditions:
    # A pressure that nobody can trace to an instrument is no better known than one taken from the altitude.
    measured = facts.pressure_source == "measured"
    humidity_u = _hygrometer_u(facts, book)
    return Conditions(
        pressure_mbar=facts.pressure_mbar,
        pressure_u_mbar=book.uncertainty(facts.barometer_id, "mbar") if measured else None,
        pressure_source=PressureSource(facts.pressure_source),
        temperature_c=facts.temperature_c,
        temperature_u_c=book.worst(Tool.THERMOMETER, "C") if facts.made == MadeBy.WORKSHOP else None,
        humidity=facts.humidity,
        humidity_u=None if humidity_u is None else humidity_u / 100,
        oxygen_temperature_c=facts.oxygen_temperature_c,
    )


def _hygrometer_u(facts: CalibrationFacts, book: BenchBook) -> float | None:
    """Of the one that the bench session names; typed from paper, which names none, of the workshop's worst."""
    if facts.session_id is not None:
        return book.uncertainty(book.hygrometers.get(facts.session_id), "%")
    return book.worst(Tool.HYGROMETER, "%") if facts.made == MadeBy.WORKSHOP else None


def _in_date(facts: CalibrationFacts, book: BenchBook) -> bool:
    """Whether what was measured with could vouch for it on that day; an analyser that nobody named cannot."""
    day = facts.at.astimezone(book.zone).date()
    used = [facts.barometer_id] if facts.barometer_id is not None else []
    if facts.oxygen_shown_percent is not None:
        used.append(facts.analyser_id or 0)
    tools = [book.tools.get(each) for each in used]
    return all(tool is not None and tool.last_good_day is not None and tool.last_good_day >= day for tool in tools)


def _grid(facts: CalibrationFacts, book: BenchBook, cells: Mapping[str, tuple[int, int]]) -> Iterator[CellReadings]:
    """A row for each cell on each reader that was read at all and shows it in mV; what was not read is missing."""
    used = sorted({row.reader_id for row in facts.readings if row.point != CellPoint.SETTLING})
    for name, (part_id, slot_id) in cells.items():
        for reader_id in used:
            shows, resolution = book.shown.get((reader_id, slot_id), ("nothing", None))
            if shows == "mV":
                rows = [row for row in facts.readings if (row.part_id, row.reader_id) == (part_id, reader_id)]
                yield _cell_readings(facts, name, book.readers[reader_id], resolution, rows)


def _cell_readings(
    facts: CalibrationFacts, cell: str, reader: tuple[str, float], resolution: float | None, rows: list[ReadingFacts]
) -> CellReadings:
    read = [row for row in sorted(rows, key=lambda row: row.seconds or 0.0) if row.mv is not None]
    last = {row.point: row.mv for row in read}
    return CellReadings(
        cell=cell,
        reader=reader[0],
        air_mv=last.get("air"),
        oxygen_mv=last.get("oxygen"),
        zero_mv=last.get("zero"),
        zero_half_width_mv=reader[1],
        resolution_mv=0.1 if resolution is None else resolution,
        settled=Answer(facts.settled),
        pot=tuple(
            (row.pot_bar, row.mv) for row in read if row.point == CellPoint.POT and row.pot_bar and row.mv is not None
        ),
    )


def _outcome_row(
    facts: CalibrationFacts, cell: CellOutcome, outcome: HeadOutcome, place: tuple[int, int]
) -> dict[str, Any]:
    return {
        "calibration_id": facts.calibration_id,
        "part_id": place[0],
        "slot_id": place[1],
        "verdict": cell.verdict.value,
        "linearity": cell.linearity,
        "expanded_u": cell.expanded_u,
        "margin": cell.margin,
        "air_mv": cell.air_mv_normal,
        "oxygen_mv": cell.oxygen_mv_normal,
        "reader_gap_bar": reader_gap_bar(cell, outcome.oxygen_po2_bar),
        "verified_up_to_bar": cell.verified_up_to_bar,
        "blame": blame_word(cell, outcome),
        "reason": cell.reason.value,
        "limited_from_bar": cell.limited_from_bar,
        "limited_proven": cell.limited_proven,
        "finding": cell.finding,
        "next_step": cell.next_step,
    }


def _remember(facts: CalibrationFacts, judged: JudgedVisit, memory: _Memory) -> None:
    """Take one judged visit into the memory; what was said at the time stands before what is calculated now."""
    verdicts: list[Verdict] = []
    blames: list[str | None] = []
    for row, cell in zip(judged.rows, judged.outcome.cells, strict=True):
        part_id = row["part_id"]
        visit = _visit(cell, row, facts.said.get(part_id), at_the_bench=facts.made == MadeBy.WORKSHOP)
        memory.cells[part_id] = _after(memory.cells.get(part_id, CellHistory()), visit)
        memory.last_at[part_id] = facts.at
        verdicts.append(visit.verdict)
        blames.append(visit.blame)
    in_limits = all(verdict in USABLE for verdict in verdicts)
    common = all(blame == BlameKind.COMMON.value for blame in blames)
    memory.common[facts.unit_id] = memory.common.get(facts.unit_id, 0) + 1 if common else 0
    memory.passed[facts.calibration_id] = in_limits
    if facts.session_id is not None:
        memory.sessions.setdefault(facts.session_id, []).append((facts.unit_id, in_limits))


@dataclass(frozen=True, slots=True)
class _Visit:
    """One visit of one cell: its readers' figures, what was said of it then, and whether the workshop took it."""

    readers: tuple[ReaderFigures, ...]
    verdict: Verdict
    reason: Reason
    blame: str | None
    limited_from_bar: float | None
    limited_proven: bool
    at_the_bench: bool
    new_evidence: bool


def _visit(cell: CellOutcome, row: Mapping[str, Any], said: Said | None, *, at_the_bench: bool) -> _Visit:
    """A visit as it was judged then; what was not kept then is as its readings say now."""
    told = dict(row) if said is None else {**row, "verdict": said.verdict, "blame": said.blame}
    if said is not None and said.reason is not None:
        told |= {name: getattr(said, name) for name in ("reason", "limited_from_bar", "limited_proven")}
    return _Visit(
        readers=cell.readers,
        verdict=Verdict(told["verdict"]),
        reason=Reason(told["reason"]),
        blame=told["blame"],
        limited_from_bar=told["limited_from_bar"],
        limited_proven=bool(told["limited_proven"]),
        at_the_bench=at_the_bench,
        new_evidence=cell.new_evidence,
    )


def _after(before: CellHistory, visit: _Visit) -> CellHistory:
    """A cell's history once this visit belongs to it.

    Only the workshop's own accepted figures are kept for comparison: a diver's, taken in a room that nobody measured,
    would make sound heads look as if they had shifted.
    """
    usable = visit.verdict in USABLE
    accepted = tuple(
        AcceptedFigures(
            reader=row.reader,
            linearity=row.linearity,
            sensitivity_air=row.sensitivity_air,
            sensitivity_oxygen=row.sensitivity_oxygen,
            shared_u=row.shared_u,
        )
        for row in visit.readers
        if row.linearity and row.sensitivity_air is not None and row.sensitivity_oxygen is not None
    )
    undecided = visit.reason is Reason.ACROSS_LIMIT
    seen = dict.fromkeys((*before.undecided_readers, *(row.reader for row in visit.readers)))
    return CellHistory(
        # A visit that brought nothing new is no further rung; the first one always counts.
        undecided_before=max(1, before.undecided_before + visit.new_evidence) if undecided else 0,
        undecided_readers=tuple(seen) if undecided else (),
        above_before=before.above_before + 1 if visit.reason is Reason.ABOVE_LIMIT else 0,
        accepted=accepted if usable and visit.at_the_bench and accepted else before.accepted,
        limited_before=visit.limited_from_bar,
        limited_proven=visit.limited_proven,
        rejected_before=_rejected(before, visit),
    )


def _rejected(before: CellHistory, visit: _Visit) -> bool:
    """Whether the cell needs a second visit in limits: rejected by its readings, with the fault not in a reader.

    Practice is silent; the rule is the program's own. A typing slip is superseded and never comes here.
    """
    if visit.verdict is Verdict.REJECT and visit.reason in BY_ITS_READINGS:
        return visit.blame not in (BlameKind.HANDSET.value, BlameKind.CONTACT.value)
    confirmed = visit.verdict in USABLE or visit.reason is Reason.REJECTED_BEFORE
    return before.rejected_before and not confirmed


def bench_book(connection: Connection, parts: Iterable[int], session_id: int | None = None) -> BenchBook:
    """What judging these cells hangs on, as it is recorded now; eight statements.

    session_id: the bench session of a calibration that is not recorded yet.
    """
    wanted = sorted(set(parts))
    chosen = {Part: Part.id.in_(wanted), BenchSession: sessions_of(wanted, session_id)}

    def rows(kind: type[Base]) -> Iterable[Mapping[str, Any]]:
        return rows_of(connection, kind, chosen.get(kind))

    return bench_book_of(rows, ZoneInfo(centre_timezone(connection) or "UTC"))


def bench_book_of(rows: Rows, zone: ZoneInfo) -> BenchBook:
    """The same from rows wherever they stand, so that an import can judge before it writes."""
    return BenchBook(
        slots={row["id"]: row["name"] for row in rows(Slot)},
        readers={row["id"]: (row["name"], row["zero_offset_mv"]) for row in rows(Reader)},
        shown={(row["reader_id"], row["cell_slot_id"]): (row["shows"], row["resolution"]) for row in rows(ReaderCell)},
        limits=_cell_limits(rows(Limit)),
        part_types={row["id"]: row["part_type_id"] for row in rows(Part)},
        tools={
            row["id"]: RatedTool(row["kind"], row["uncertainty"], row["unit"], row["last_good_day"])
            for row in rows(TestEquipment)
        },
        hygrometers={row["id"]: row["hygrometer_id"] for row in rows(BenchSession) if row["hygrometer_id"]},
        zone=zone,
    )


def _cell_limits(rows: Iterable[Mapping[str, Any]]) -> dict[int, CellLimits]:
    """Limits by part type, the program's default where none is recorded."""
    found: dict[int, list[Limit]] = {}
    for row in rows:
        if row["part_type_id"] is not None:
            found.setdefault(row["part_type_id"], []).append(Limit(**row))
    return {part_type_id: cell_limits(limits) for part_type_id, limits in found.items()}


def standing(outcomes: Iterable[OutcomeRecord], fitted_at: datetime | None) -> tuple[OutcomeRecord, ...]:
    """What stands of a cell since it was fitted: its last workshop outcome, and the last diver's after it, in time."""
    since = sorted((each for each in outcomes if fitted_at is None or each.at >= fitted_at), key=lambda each: each.at)
    bench = [each for each in since if each.made == MadeBy.WORKSHOP][-1:]
    later = [each for each in since if each.made != MadeBy.WORKSHOP and (not bench or each.at > bench[0].at)][-1:]
    return (*bench, *later)


def telling(stands: Iterable[OutcomeRecord]) -> OutcomeRecord | None:
    """The worst of what stands; of two alike the later."""
    return max(stands, key=lambda each: (Verdict(each.verdict).severity, each.at), default=None)
