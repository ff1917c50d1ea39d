"""What the bench needs to know of a unit before its cells are calibrated.

Whether the cells of a head have settled in the flush, from what was stamped on any of its readers.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from fleetbench.calc.cells.readings import Answer, CellLimits
from fleetbench.calc.cells.settling import Settling, SettlingState, assess, flush_time_s
from fleetbench.calc.cells.uncertainty import OXYGEN_IN_DRY_AIR
from fleetbench.calc.core.doors import at as door
from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.verdict import Verdict, worst
from fleetbench.records.bench.lookups import (
    RecordSession,
    SlotContent,
    last_outcomes,
    last_over_pressure,
    limit_rows,
    matrix_of,
    newest_calibration,
    readers_of_type,
    seats_of,
)
from fleetbench.records.cells.reads import (
    ReadingFacts,
    SettingRecord,
    read_last_shown,
    read_session_mates,
    read_settings,
)
from fleetbench.records.cells.tables import CalibrationOutcome
from fleetbench.records.core.errors import Refused
from fleetbench.records.units.tables import Reader, ReaderCell, Unit, UnitType
from fleetbench.records.upkeep.lookups import unit_by_tag
from fleetbench.workshop.bench.sessions import SessionFacts, current_session
from fleetbench.workshop.cells.entry import CalibrationEntry
from fleetbench.workshop.cells.judging import cell_limits
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.parts.fit import label

AIR_LEFT = 0.003
"""Air that a good flush may leave in the head, as a part of the gas: common practice, no published source."""


@dataclass(frozen=True, slots=True)
class LastOutcome:
    """What the last calibration said of a cell; mV normalised, linearity in percent."""

    verdict: str
    air_mv: float | None
    oxygen_mv: float | None
    linearity: float | None


@dataclass(frozen=True, slots=True)
class CellPosition:
    """One cell position of the unit's head with the cell that sits there now; None where it is empty."""

    slot_id: int
    name: str
    part_id: int | None
    cell: str | None
    lot: str | None
    part_type_id: int | None
    part_type: str | None
    fitted_at: datetime | None
    limits: CellLimits
    last: LastOutcome | None


@dataclass(frozen=True, slots=True)
class ReaderDisplay:
    """What a reader shows of a cell: `mV`, `pO2` or `nothing`, and its last digit in that unit."""

    what: str
    resolution: float


@dataclass(frozen=True, slots=True)
class ReaderFacts:
    """Electronics that read cells; zero_offset_mv is the half width of its zero where none was measured."""

    reader_id: int
    name: str
    kind: str
    zero_offset_mv: float


@dataclass(frozen=True, slots=True)
class FlushFacts:
    """The flush to expect: time constant (head volume over flow) and time until 0.3 % of air is left, in seconds."""

    volume_l: float
    flow_l_min: float
    tau_s: float
    expected_s: float


@dataclass(frozen=True, slots=True)
class CalibrationPlan:
    """Facts for calibrating one unit; session None where none holds for the person at the bench.

    on_this_gas: tag and worst verdict of the other heads calibrated in the session, by which this one is compared.
    last_shown: by cell, reader and point; last_settings: fraction in percent and pressure set, and what was shown in
    oxygen and in air, by reader; last_over_mbar: the over-pressure in the head as it was measured last.
    """

    unit_id: int
    tag: str
    unit_type: str
    head: str | None
    positions: tuple[CellPosition, ...]
    readers: tuple[ReaderFacts, ...]
    matrix: Mapping[tuple[int, int], ReaderDisplay]
    flush: FlushFacts | None
    session: SessionFacts | None
    last_id: int | None
    last_at: datetime | None
    warnings: tuple[str, ...]
    on_this_gas: tuple[tuple[str, str], ...] = ()
    last_shown: Mapping[tuple[int, int, str], ReadingFacts] = field(default_factory=dict)
    last_settings: Mapping[int, tuple[float | None, ...]] = field(default_factory=dict)
    last_over_mbar: float | None = None

    def shown(self, reader_id: int, slot_id: int) -> ReaderDisplay:
        """What a reader shows of a cell slot; nothing where the unit type does not say."""
        return self.matrix.get((reader_id, slot_id), NOTHING)

    def position(self, slot_id: int) -> CellPosition:
        """The cell position with this slot; Refused where the unit has none."""
        for each in self.positions:
            if each.slot_id == slot_id:
                return each
        raise Refused(say("cell: unit {tag} has no such position; open the page again", tag=self.tag))

    def reader(self, reader_id: int) -> ReaderFacts:
        """The reader with this key; Refused where the unit has none."""
        for each in self.readers:
            if each.reader_id == reader_id:
                return each
        raise Refused(say("handset: unit {tag} has no such reader; open the page again", tag=self.tag))

    def in_mv(self) -> tuple[tuple[CellPosition, ReaderFacts, ReaderDisplay], ...]:
        """Every fitted cell with each reader that shows it in mV, cell by cell."""
        return tuple(
            (position, reader, shown)
            for position in self.positions
            for reader in self.readers
            if position.part_id is not None and (shown := self.shown(reader.reader_id, position.slot_id)).what == "mV"
        )


NOTHING = ReaderDisplay("nothing", 0.1)


def plan(workplace: Workplace, tag: str) -> CalibrationPlan:
    """Facts for the calibration of a unit: cells fitted now, readers, limits, last outcomes, flush and session.

    NotFound where no unit has the tag; Refused where its type does not say which handset reads which cell.
    """
    session_facts = current_session(workplace)
    with workplace.database.read_session() as session:
        return plan_in(session, unit_by_tag(session, tag), session_facts)


def plan_in(session: RecordSession, unit: Unit, bench: SessionFacts | None) -> CalibrationPlan:
    """The plan inside a transaction, so that an act judges by what it locks."""
    kind = session.get_one(UnitType, unit.unit_type_id)
    seats = seats_of(session, unit)
    cells = [seat for seat in seats if seat.slot.kind == "cell"]
    if not cells:
        raise Refused(say("unit {tag}: no cell position known; fit a head first", tag=unit.tag))
    readers = readers_of_type(session, unit.unit_type_id)
    matrix = matrix_of(session, [reader.id for reader in readers])
    if not any(row.shows == "mV" for row in matrix.values()):
        remedy = say("enter what each one reads {door}", door=door("reading of a handset"))
        raise Refused(
            say(
                "unit type {code}: no handset is recorded to show mV of a cell; {remedy}", code=kind.code, remedy=remedy
            )
        )
    positions = _positions(session, cells)
    newest = newest_calibration(session, unit.id)
    return CalibrationPlan(
        unit_id=unit.id,
        tag=unit.tag,
        unit_type=kind.name,
        head=next((label(seat.part) for seat in seats if seat.slot.kind == "head" and seat.part), None),
        positions=positions,
        readers=tuple(_reader(row) for row in readers),
        matrix={key: _shown(row) for key, row in matrix.items()},
        flush=flush_facts(kind, bench.oxygen_shown_percent if bench is not None else None),
        session=bench,
        last_id=newest.id if newest is not None else None,
        last_at=newest.at if newest is not None else None,
        warnings=_warnings(positions),
        on_this_gas=_on_this_gas(session, unit, bench),
        last_shown=read_last_shown(session.connection(), [each.part_id for each in positions if each.part_id]),
        last_settings={each.reader_id: _set(each) for each in read_settings(session.connection(), unit.id)},
        last_over_mbar=last_over_pressure(session, unit.id),
    )


def _set(each: SettingRecord) -> tuple[float | None, ...]:
    share = None if each.fraction_set is None else 100.0 * each.fraction_set
    return share, each.pressure_set_mbar, each.shown_oxygen_bar, each.shown_air_bar


def _on_this_gas(session: RecordSession, unit: Unit, bench: SessionFacts | None) -> tuple[tuple[str, str], ...]:
    if bench is None:
        return ()
    mates = read_session_mates(session.connection(), bench.session_id, None, bench.holds_until)
    newest = {mate.tag: worst([Verdict(each) for each in mate.verdicts]) for mate in mates if mate.unit_id != unit.id}
    return tuple((tag, str(verdict)) for tag, verdict in newest.items())


def flush_facts(kind: UnitType, oxygen_shown_percent: float | None) -> FlushFacts | None:
    """Expected flush of a unit type's head on the gas analysed (pure oxygen where it was not); None if not stated."""
    if not kind.head_volume_l or not kind.flush_l_min:
        return None
    supplied = min((oxygen_shown_percent or 100.0) / 100.0, 1.0)
    expected = flush_time_s(
        kind.head_volume_l,
        kind.flush_l_min,
        supplied=supplied,
        at_start=OXYGEN_IN_DRY_AIR,
        wanted=supplied * (1.0 - AIR_LEFT),
    )
    return FlushFacts(kind.head_volume_l, kind.flush_l_min, 60.0 * kind.head_volume_l / kind.flush_l_min, expected)


def _positions(session: RecordSession, cells: Sequence[SlotContent]) -> tuple[CellPosition, ...]:
    types = {seat.part_type.id for seat in cells if seat.part_type is not None}
    rows = limit_rows(session, part_type_ids=types)
    last = last_outcomes(session, [seat.part.id for seat in cells if seat.part is not None])
    return tuple(
        CellPosition(
            slot_id=seat.slot.id,
            name=seat.slot.name,
            part_id=seat.part.id if seat.part is not None else None,
            cell=label(seat.part) if seat.part is not None else None,
            lot=seat.part.lot if seat.part is not None else None,
            part_type_id=seat.part_type.id if seat.part_type is not None else None,
            part_type=seat.part_type.name if seat.part_type is not None else None,
            fitted_at=seat.fitting.fitted_at if seat.fitting is not None else None,
            limits=cell_limits([row for row in rows if seat.part_type and row.part_type_id == seat.part_type.id]),
            last=_last(last[seat.part.id][0]) if seat.part is not None and seat.part.id in last else None,
        )
        for seat in cells
    )


def _last(outcome: CalibrationOutcome) -> LastOutcome:
    return LastOutcome(outcome.verdict, outcome.air_mv, outcome.oxygen_mv, outcome.linearity)


def _reader(row: Reader) -> ReaderFacts:
    return ReaderFacts(row.id, row.name, row.kind, row.zero_offset_mv)


def _shown(row: ReaderCell) -> ReaderDisplay:
    usual = {"mV": 0.1, "pO2": 0.01}.get(row.shows, 0.1)
    return ReaderDisplay(row.shows, row.resolution or usual)


def _warnings(positions: Sequence[CellPosition]) -> tuple[str, ...]:
    empty = [each.name for each in positions if each.part_id is None]
    lots = {each.lot for each in positions}
    said = (
        [say("No cell is recorded in {empty}: fit it first, or leave it out.", empty=strung(", ", empty))]
        if empty
        else []
    )
    if len(positions) > 1 and len(lots) == 1 and None not in lots:
        said.append(say("All cells are of lot {lot}: one cause can take them all.", lot=lots.pop()))
    return tuple(said)


USUAL_TAU_S = 30.0
"""Time constant of a flush where the unit type states neither volume nor flow, longer than any head's in use: common
practice, no published source."""

MOVING = (SettlingState.RISING, SettlingState.FALLING, SettlingState.NOISY)


@dataclass(frozen=True, slots=True)
class CellSettling:
    """State of one cell on one reader in the flush, from its stamped readings."""

    slot_id: int
    reader_id: int
    times_s: tuple[float, ...]
    mv: tuple[float, ...]
    state: Settling


def settling_of(held: CalibrationPlan, entry: CalibrationEntry) -> tuple[CellSettling, ...]:
    """State of every cell on every reader that was stamped during the flush, cell by cell.

    Refused where stamps of one cell on one reader fall together or are not numbers.
    """
    tau = held.flush.tau_s if held.flush is not None else USUAL_TAU_S
    found: list[CellSettling] = []
    for position, reader, shown in held.in_mv():
        stamps = sorted(
            (each.seconds, each.mv)
            for each in entry.at_point("settling")
            if (each.slot_id, each.reader_id) == (position.slot_id, reader.reader_id)
            and each.seconds is not None
            and each.mv is not None
        )
        if not stamps:
            continue
        times, values = tuple(second for second, _ in stamps), tuple(mv for _, mv in stamps)
        try:
            state = assess(times, values, shown.resolution, tau_s=tau)
        except ValueError as fault:
            raise Refused(
                say(
                    "settling of {position} on {reader}: {fault}",
                    position=position.name,
                    reader=reader.name,
                    fault=fault,
                )
            ) from fault
        found.append(CellSettling(position.slot_id, reader_id=reader.reader_id, times_s=times, mv=values, state=state))
    return tuple(found)


def settled_answer(held: CalibrationPlan, entry: CalibrationEntry) -> Answer:
    """Whether every cell was shown to have settled: by its stamps, or on paper without stamps as it says there.

    One reader is enough for a cell; a cell still seen to move or jump on any reader has not settled.
    """
    stamped = settling_of(held, entry)
    if not stamped:
        return Answer(entry.settled) if entry.paper is not None else Answer.NO
    settled = {each.slot_id for each in stamped if each.state.state is SettlingState.SETTLED}
    moving = {each.slot_id for each in stamped if each.state.state in MOVING}
    wanted = {position.slot_id for position, _, _ in held.in_mv()}
    return Answer.YES if wanted <= settled - moving else Answer.NO
