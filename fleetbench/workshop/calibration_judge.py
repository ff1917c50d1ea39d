"""From what was entered at the bench to what calc judges: conditions, readings, settling, and the past of each cell."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from fleetbench.calc.cell_readings import (
    Answer,
    CalibrationInput,
    CellHistory,
    CellReadings,
    Conditions,
    Gas,
    HeadState,
    PressureSource,
    conditions_from_altitude,
)
from fleetbench.calc.cells import BlameKind, CalibrationOutcome, CellOutcome, judge
from fleetbench.calc.settling import Settling, SettlingState, assess
from fleetbench.records.errors import Refused
from fleetbench.workshop.bench_sessions import Equipment, SessionFacts
from fleetbench.workshop.calibration_entry import CalibrationEntry, Figure
from fleetbench.workshop.calibration_plan import CalibrationPlan, CellPosition, ReaderFacts, Shown

USUAL_TAU_S = 30.0
"""Time constant of a flush where the unit type states neither volume nor flow, longer than any head's in use: common
practice, no published source."""


@dataclass(frozen=True, slots=True)
class CellSettling:
    """State of one cell on one reader in the flush, from its stamped readings."""

    slot_id: int
    reader_id: int
    times_s: tuple[float, ...]
    mv: tuple[float, ...]
    state: Settling


@dataclass(frozen=True, slots=True, kw_only=True)
class Past:
    """What earlier visits and other heads of the session say; history keyed by the position's name."""

    history: Mapping[str, CellHistory] = field(default_factory=dict)
    common_before: int = 0
    comparison_passed: bool | None = None
    comparison_id: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """Conditions and gas in calc's form, the equipment used, and whether all of it was in date."""

    conditions: Conditions
    gas: Gas
    equipment_in_date: bool


def room_of_session(bench: SessionFacts, oxygen_temperature_c: float | None) -> Room:
    """Conditions and gas of a bench session."""
    return _room(
        pressure_mbar=bench.pressure_mbar,
        pressure_source=PressureSource(bench.pressure_source),
        temperature_c=bench.temperature_c,
        oxygen_temperature_c=oxygen_temperature_c,
        humidity_percent=bench.humidity_percent,
        oxygen_shown_percent=bench.oxygen_shown_percent,
        equipment={"analyser": bench.analyser, "barometer": bench.barometer, "hygrometer": bench.hygrometer},
    )


def settling_of(plan: CalibrationPlan, entry: CalibrationEntry) -> tuple[CellSettling, ...]:
    """State of every cell on every reader that was stamped during the flush, cell by cell.

    Refused where stamps of one cell on one reader are out of order or not numbers.
    """
    tau = plan.flush.tau_s if plan.flush is not None else USUAL_TAU_S
    found: list[CellSettling] = []
    for position, reader, shown in plan.in_mv():
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
            raise Refused(f"settling of {position.name} on {reader.name}: {fault}") from fault
        found.append(CellSettling(position.slot_id, reader.reader_id, times, values, state))
    return tuple(found)


def settled_answer(plan: CalibrationPlan, entry: CalibrationEntry) -> Answer:
    """Whether every cell was shown to have settled: by its stamps, and on paper without stamps as it says there.

    One reader is enough for a cell; a cell still seen to move or jump on any reader has not settled.
    """
    stamped = settling_of(plan, entry)
    if not stamped:
        return Answer(entry.settled) if entry.paper is not None else Answer.NO
    settled = {each.slot_id for each in stamped if each.state.state is SettlingState.SETTLED}
    moving = {
        each.slot_id
        for each in stamped
        if each.state.state in (SettlingState.RISING, SettlingState.FALLING, SettlingState.NOISY)
    }
    wanted = {position.slot_id for position, _, _ in plan.in_mv()}
    return Answer.YES if wanted <= settled - moving else Answer.NO


def judge_entry(plan: CalibrationPlan, entry: CalibrationEntry, room: Room, past: Past) -> CalibrationOutcome:
    """The outcome of what was entered; Refused naming the field where a figure cannot be."""
    try:
        return judge(calibration_input(plan, entry, room, past))
    except ValueError as fault:
        raise Refused(str(fault)) from fault


def calibration_input(plan: CalibrationPlan, entry: CalibrationEntry, room: Room, past: Past) -> CalibrationInput:
    """What calc judges: one row for every fitted cell on every reader that shows it in mV, missing readings as such.

    Raises ValueError as calc does.
    """
    settled = settled_answer(plan, entry)
    rows = tuple(_row(entry, position, reader, shown, settled) for position, reader, shown in plan.in_mv())
    if not rows:
        raise Refused(f"unit {plan.tag}: no cell is fitted; fit the cells first")
    return CalibrationInput(
        conditions=room.conditions,
        gas=room.gas,
        readings=rows,
        equipment_in_date=room.equipment_in_date,
        limits={position.name: position.limits for position in plan.positions},
        history=past.history,
        vented=Answer(entry.vented),
        over_pressure_mbar=entry.over_pressure_mbar,
        head=HeadState(entry.head),
        comparison_passed=past.comparison_passed,
        common_before=past.common_before,
    )


def room_on_paper(
    *,
    pressure_mbar: float | None,
    altitude_m: float,
    temperature_c: float,
    oxygen_temperature_c: float | None,
    humidity_percent: float | None,
    oxygen_shown_percent: float | None,
    equipment: Mapping[str, Equipment | None],
) -> Room:
    """Conditions and gas as they stand on paper; no pressure there means that of the centre's altitude."""
    source = PressureSource.MEASURED if pressure_mbar is not None else PressureSource.ALTITUDE
    by_height = conditions_from_altitude(altitude_m, temperature_c)
    return _room(
        pressure_mbar=pressure_mbar if pressure_mbar is not None else by_height.pressure_mbar,
        pressure_source=source,
        temperature_c=temperature_c,
        oxygen_temperature_c=oxygen_temperature_c,
        humidity_percent=humidity_percent,
        oxygen_shown_percent=oxygen_shown_percent,
        equipment=equipment,
    )


def _room(
    *,
    pressure_mbar: float,
    pressure_source: PressureSource,
    temperature_c: float,
    oxygen_temperature_c: float | None,
    humidity_percent: float | None,
    oxygen_shown_percent: float | None,
    equipment: Mapping[str, Equipment | None],
) -> Room:
    analyser, barometer, hygrometer = (equipment.get(role) for role in ("analyser", "barometer", "hygrometer"))
    by_height = conditions_from_altitude(0.0, temperature_c)
    usual = Conditions(pressure_mbar=pressure_mbar, temperature_c=temperature_c)
    measured_u = _uncertainty(barometer, usual.pressure_u_mbar)
    conditions = Conditions(
        pressure_mbar=pressure_mbar,
        pressure_source=pressure_source,
        pressure_u_mbar=measured_u if pressure_source is PressureSource.MEASURED else by_height.pressure_u_mbar,
        temperature_c=temperature_c,
        oxygen_temperature_c=oxygen_temperature_c,
        humidity=None if humidity_percent is None else humidity_percent / 100,
        humidity_u=_uncertainty(hygrometer, usual.humidity_u * 100) / 100,
    )
    fraction = None if oxygen_shown_percent is None else oxygen_shown_percent / 100
    plain = Gas(oxygen_fraction=fraction)
    gas = replace(plain, oxygen_fraction_u=_uncertainty(analyser, plain.oxygen_fraction_u * 100) / 100)
    return Room(
        conditions=conditions,
        gas=gas,
        equipment_in_date=all(tool.in_date is not False for tool in (analyser, barometer, hygrometer) if tool),
    )


def _uncertainty(tool: Equipment | None, usual: float) -> float:
    return tool.uncertainty if tool is not None and tool.uncertainty is not None else usual


def _row(
    entry: CalibrationEntry, position: CellPosition, reader: ReaderFacts, shown: Shown, settled: Answer
) -> CellReadings:
    def at(point: str) -> list[Figure]:
        return [
            each
            for each in entry.at_point(point)
            if (each.slot_id, each.reader_id) == (position.slot_id, reader.reader_id)
        ]

    def mv(point: str) -> float | None:
        return next((each.mv for each in at(point)), None)

    pot = tuple((each.pot_bar, each.mv) for each in at("pot") if each.pot_bar is not None and each.mv is not None)
    return CellReadings(
        cell=position.name,
        reader=reader.name,
        air_mv=mv("air"),
        oxygen_mv=mv("oxygen"),
        zero_mv=mv("zero"),
        zero_half_width_mv=reader.zero_offset_mv,
        resolution_mv=shown.resolution,
        settled=settled,
        pot=pot,
    )



def reader_gap_bar(cell: CellOutcome, oxygen_po2_bar: float | None) -> float | None:
    """Largest difference in bar between two readers of a cell in oxygen, each by its own air point; None if alone."""
    shown = [row.linearity / 100 * oxygen_po2_bar for row in cell.readers if row.linearity and oxygen_po2_bar]
    return max(shown) - min(shown) if len(shown) > 1 else None


def blame_word(cell: CellOutcome, outcome: CalibrationOutcome) -> str | None:
    """What is to blame for a cell's deviation in one word, None where nothing is."""
    blame = outcome.blame
    if blame.kind is BlameKind.NONE:
        return None
    shared = blame.kind in (BlameKind.COMMON, BlameKind.HANDSET)
    return blame.kind.value if shared or cell.cell in blame.where else None
