"""Whether the cells of a head have settled in the flush, from what was stamped on any of its readers."""

from dataclasses import dataclass

from fleetbench.calc.cells.readings import Answer
from fleetbench.calc.cells.settling import Settling, SettlingState, assess
from fleetbench.records.core.errors import Refused
from fleetbench.workshop.cells.entry import CalibrationEntry
from fleetbench.workshop.cells.plan import CalibrationPlan

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
            raise Refused(f"settling of {position.name} on {reader.name}: {fault}") from fault
        found.append(CellSettling(position.slot_id, reader.reader_id, times, values, state))
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
