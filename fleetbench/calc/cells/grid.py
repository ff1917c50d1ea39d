"""Readings of one head laid out as arrays, a row a cell and a column a reader, as the arithmetic wants them."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from fleetbench.calc.cells.atmosphere import Array, saturation_pressure_mbar
from fleetbench.calc.cells.decision import Bounds, Circumstances, Decision, Mask
from fleetbench.calc.cells.line import PotFinding, hold_against_line
from fleetbench.calc.cells.readings import (
    DRYING_HOURS,
    UNVENTED_MBAR,
    VENTED_HALF_WIDTH_MBAR,
    Answer,
    CalibrationInput,
    CellReadings,
    HeadState,
)
from fleetbench.calc.cells.uncertainty import Ambient, Figures, Shown, measured_zero_u, rectangular_u

UNRECORDED_TEMPERATURE_HALF_WIDTH_K = 2.0
"""How far the oxygen point's temperature may lie from the air point's where it was not recorded: common practice, no
published source."""

_LEAST_LINEARITY = 50.0
"""Under this percentage the ordinary points are no line to hold a pot point against; the cell is out anyhow."""

THERMOMETER_STEP_U_K = 0.2
"""Standard uncertainty of a difference of two readings of one thermometer: common practice, no published source."""


@dataclass(frozen=True, slots=True)
class Grid:
    """A head's readings as arrays shaped (cells, readers), with the names of rows and columns."""

    given: CalibrationInput
    cells: tuple[str, ...]
    readers: tuple[str, ...]
    rows: dict[tuple[int, int], CellReadings]
    read: Mask
    ambient: Ambient
    shown: Shown
    bounds: Bounds

    def spread(self, value: Callable[[CellReadings], float], absent: float) -> Array:
        """A value a reading as an array (cells, readers), ``absent`` where a reader does not show a cell."""
        return _spread(self.rows, self.read.shape, value, absent)

    def pots(self, values: Figures) -> dict[tuple[int, int], PotFinding]:
        """Pot finding of each reading that has points from a pressure pot and both ordinary points."""
        return {
            at: self._pot(row, values)
            for at, row in self.rows.items()
            if row.pot and values.linearity[at] >= _LEAST_LINEARITY
        }

    def _pot(self, row: CellReadings, values: Figures) -> PotFinding:
        limits = self.given.limits_of(row.cell)
        air_po2, oxygen_po2 = float(values.air_po2), float(values.oxygen_po2)
        digit = float(np.hypot(row.resolution_mv / 12.0**0.5, row.repeatability_mv))
        shared = float(values.shared_u)
        return hold_against_line(
            [air_po2, oxygen_po2, *(po2 for po2, _ in row.pot)],
            [row.air_mv or 0.0, row.oxygen_mv or 0.0, *(mv for _, mv in row.pot)],
            [digit] * (2 + len(row.pot)),
            [0.0, oxygen_po2 * shared, *(row.pot_u_bar for _ in row.pot)],
            low=limits.linearity_low,
            high=limits.linearity_high,
            ordinary=2,
        )

    def circumstances(self, pots: dict[tuple[int, int], PotFinding]) -> Circumstances:
        """Everything else that bears on the verdict, as arrays."""
        given = self.given
        pot_standing = np.zeros(self.read.shape, dtype=np.int8)
        pot_highest, pot_held = np.full(self.read.shape, np.nan), np.full(self.read.shape, np.nan)
        for at, finding in pots.items():
            pot_standing[at] = finding.standing
            if finding.points:
                pot_highest[at] = max(point.po2_bar for point in finding.points)
            if finding.verified_up_to_bar is not None:
                pot_held[at] = finding.verified_up_to_bar
        recorded = given.over_pressure_mbar is not None
        histories = [given.history_of(cell) for cell in self.cells]
        return Circumstances(
            read=self.read,
            missing_air=self.spread(lambda row: row.air_mv is None, 0.0) > 0,
            missing_oxygen=self.spread(lambda row: row.oxygen_mv is None, 0.0) > 0,
            settled=self.spread(lambda row: row.settled is Answer.YES, 1.0) > 0,
            resolution=self.spread(lambda row: row.resolution_mv, 0.0),
            pot_standing=pot_standing,
            pot_highest=pot_highest,
            pot_held=pot_held,
            accepted_linearity=self.accepted_linearity(),
            accepted_shared_u=self.spread(self._accepted_shared_u, np.nan),
            undecided_before=np.array([history.undecided_before for history in histories]),
            above_before=np.array([history.above_before for history in histories]),
            limited_before=np.array([np.nan if (each := h.limited_before) is None else each for h in histories]),
            limited_proven=np.array([history.limited_proven for history in histories], dtype=bool),
            rejected_before=np.array([history.rejected_before for history in histories], dtype=bool),
            damp=np.asarray(given.head is HeadState.DAMP),
            vented=np.asarray(given.vented is Answer.YES or recorded),
            analysed=np.asarray(given.gas.oxygen_fraction is not None),
            equipment_in_date=np.asarray(given.equipment_in_date),
            common_before=np.asarray(given.common_before),
            comparison_passed=np.asarray(given.comparison_passed is True),
            new_zero=self.spread(self._new_zero, 0.0) > 0,
            pressure_recorded=np.asarray(recorded),
            dried=np.asarray(given.head is HeadState.DRY and (given.hours_since_last or 0.0) >= DRYING_HOURS),
            pressure_share=np.asarray(UNVENTED_MBAR / given.conditions.pressure_mbar),
            moist_share=np.asarray(self._moist_share()),
        )

    def accepted_linearity(self) -> Array:
        """The linearity that was last accepted of each cell on each reader, NaN where none was."""
        return self.spread(self._accepted, np.nan)

    def _new_zero(self, row: CellReadings) -> bool:
        """Whether a reader's zero was read, or it took none of the cell's undecided visits before."""
        return row.zero_mv is not None or row.reader not in self.given.history_of(row.cell).undecided_readers

    def _moist_share(self) -> float:
        """How much too high linearity is, relative, if air at the cells was saturated; 0 where that is allowed for."""
        room = self.given.conditions
        if self.given.head is not HeadState.DRY or room.humidity is None:
            return 0.0
        vapour = float(saturation_pressure_mbar(room.temperature_c))
        return (1.0 - room.humidity) * vapour / (room.pressure_mbar - room.humidity * vapour)

    def _accepted(self, row: CellReadings) -> float:
        accepted = self.given.history_of(row.cell).accepted
        return next((past.linearity for past in accepted if past.reader == row.reader), float("nan"))

    def _accepted_shared_u(self, row: CellReadings) -> float:
        accepted = self.given.history_of(row.cell).accepted
        known = (past.shared_u for past in accepted if past.reader == row.reader and past.shared_u is not None)
        return next(known, float("nan"))


@dataclass(frozen=True, slots=True)
class Judged:
    """A grid with its figures, its pot findings by (row, column), and the decision on it."""

    grid: Grid
    values: Figures
    pots: dict[tuple[int, int], PotFinding]
    decision: Decision


def lay_out(given: CalibrationInput) -> Grid:
    """The grid of a calibration, cells and readers in the order in which they first appear in its readings."""
    cells = tuple(dict.fromkeys(row.cell for row in given.readings))
    readers = tuple(dict.fromkeys(row.reader for row in given.readings))
    rows = {(cells.index(row.cell), readers.index(row.reader)): row for row in given.readings}
    read = np.zeros((len(cells), len(readers)), dtype=bool)
    for at in rows:
        read[at] = True

    def spread(value: Callable[[CellReadings], float], absent: float) -> Array:
        return _spread(rows, read.shape, value, absent)

    def column(value: Callable[[str], float]) -> Array:
        return np.array([[float(value(cell))] for cell in cells])

    limits = given.limits_of
    shown = Shown(
        air=spread(lambda row: np.nan if row.air_mv is None else row.air_mv, np.nan),
        oxygen=spread(lambda row: np.nan if row.oxygen_mv is None else row.oxygen_mv, np.nan),
        zero=spread(lambda row: row.zero_mv or 0.0, 0.0),
        zero_u=spread(_zero_u, 0.0),
        resolution=spread(lambda row: row.resolution_mv, 0.0),
        repeatability=spread(lambda row: row.repeatability_mv, 0.0),
        gain_u=spread(lambda row: row.gain_u, 0.0),
        compensation_u_per_k=column(lambda cell: limits(cell).compensation_u_per_k),
    )
    bounds = Bounds(
        air_low=column(lambda cell: limits(cell).air_low_mv),
        air_high=column(lambda cell: limits(cell).air_high_mv),
        oxygen_floor=column(lambda cell: limits(cell).oxygen_floor_mv),
        makers_floor=column(lambda cell: limits(cell).makers_floor) > 0,
        linearity_low=column(lambda cell: limits(cell).linearity_low),
        linearity_high=column(lambda cell: limits(cell).linearity_high),
    )
    return Grid(
        given, cells=cells, readers=readers, rows=rows, read=read, ambient=ambient_of(given), shown=shown, bounds=bounds
    )


def _spread(
    rows: dict[tuple[int, int], CellReadings],
    shape: tuple[int, ...],
    value: Callable[[CellReadings], float],
    absent: float,
) -> Array:
    array = np.full(shape, absent)
    for at, row in rows.items():
        array[at] = value(row)
    return array


def _zero_u(row: CellReadings) -> float:
    if row.zero_mv is None:
        return rectangular_u(row.zero_half_width_mv)
    return measured_zero_u(row.resolution_mv, row.repeatability_mv)


def ambient_of(given: CalibrationInput) -> Ambient:
    """Room and gas of a calibration as 0-d arrays, what is unknown widened rather than guessed away.

    Room humidity unknown: anything from dry to saturated. Head state unknown: humidity at the cell anything from the
    room's to saturated in air and from dry to saturated in oxygen (each rectangular, JCGM 100:2008, 4.3.7). Gas not
    analysed: NaN, so that no oxygen figure comes out.
    """
    room, gas = given.conditions, given.gas
    unknown_head = given.head is not HeadState.DRY
    low = 0.0 if room.humidity is None else room.humidity
    air_humidity, air_humidity_u = low, room.used_humidity_u
    if room.humidity is None or unknown_head:
        air_humidity, air_humidity_u = (low + 1.0) / 2.0, rectangular_u((1.0 - low) / 2.0)
        if room.humidity is not None:
            air_humidity_u = float(np.hypot(air_humidity_u, room.used_humidity_u))
    oxygen_humidity = 0.5 if unknown_head else 0.0
    recorded = room.oxygen_temperature_c is not None
    fraction = gas.used_fraction
    return Ambient(
        pressure=np.asarray(room.pressure_mbar),
        pressure_u=np.asarray(room.used_pressure_u),
        temperature=np.asarray(room.temperature_c),
        temperature_u=np.asarray(room.used_temperature_u),
        oxygen_temperature=np.asarray(room.oxygen_temperature_c if recorded else room.temperature_c),
        temperature_step_u=np.asarray(
            THERMOMETER_STEP_U_K if recorded else rectangular_u(UNRECORDED_TEMPERATURE_HALF_WIDTH_K)
        ),
        air_humidity=np.asarray(air_humidity),
        air_humidity_u=np.asarray(air_humidity_u),
        oxygen_humidity=np.asarray(oxygen_humidity),
        oxygen_humidity_u=np.asarray(rectangular_u(0.5) if unknown_head else 0.0),
        fraction=np.asarray(np.nan if fraction is None else fraction),
        fraction_u=np.asarray(gas.used_fraction_u),
        over_pressure=np.asarray(given.over_pressure_mbar or 0.0),
        over_pressure_u=np.asarray(
            rectangular_u(VENTED_HALF_WIDTH_MBAR) if given.over_pressure_mbar is None else given.over_pressure_u_mbar
        ),
    )
