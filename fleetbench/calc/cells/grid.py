"""Readings of heads laid out as arrays, a row a cell and a column a reader, as the arithmetic wants them.

Heads of one shape stand beside each other in a stack: numpy takes as long for one as for a hundred.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from fleetbench.calc.cells.decision import Bounds, Circumstances, Decision, Mask
from fleetbench.calc.cells.drift import PotFinding, hold_against_line
from fleetbench.calc.cells.readings import (
    DRYING_HOURS,
    UNVENTED_MBAR,
    VENTED_HALF_WIDTH_MBAR,
    AcceptedFigures,
    Answer,
    CalibrationInput,
    CellLimits,
    CellReadings,
    HeadState,
)
from fleetbench.calc.cells.uncertainty import (
    Ambient,
    Array,
    Codes,
    Figures,
    Shown,
    measured_zero_u,
    rectangular_u,
    saturation_pressure_mbar,
)

UNRECORDED_TEMPERATURE_HALF_WIDTH_K = 2.0
"""How far the oxygen point's temperature may lie from the air point's where it was not recorded: common practice, no
published source."""

_LEAST_LINEARITY = 50.0
"""Under this percentage the ordinary points are no line to hold a pot point against; the cell is out anyhow."""

THERMOMETER_STEP_U_K = 0.2
"""Standard uncertainty of a difference of two readings of one thermometer: common practice, no published source."""

Pots = dict[tuple[int, int], PotFinding]
"""What the pot points of a head say, by row and column."""


@dataclass(frozen=True, slots=True)
class Grid:
    """A head's readings by row and column, cells and readers in the order in which they first appear."""

    given: CalibrationInput
    cells: tuple[str, ...]
    readers: tuple[str, ...]
    rows: dict[tuple[int, int], CellReadings]

    @property
    def shape(self) -> tuple[int, int]:
        """How many cells and readers."""
        return len(self.cells), len(self.readers)

    def columns_of(self, place: int) -> list[int]:
        """Columns of the readers that show a cell."""
        return [column for column in range(len(self.readers)) if (place, column) in self.rows]

    def accepted(self, row: CellReadings) -> AcceptedFigures | None:
        """What was last accepted of a cell on a reader."""
        accepted = self.given.history_of(row.cell).accepted
        return next((past for past in accepted if past.reader == row.reader), None)

    def pots(self, values: Figures) -> Pots:
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

    def new_zero(self, row: CellReadings) -> bool:
        """Whether a reader's zero was read, or it took none of the cell's undecided visits before."""
        return row.zero_mv is not None or row.reader not in self.given.history_of(row.cell).undecided_readers

    def moist_share(self) -> float:
        """How much too high linearity is, relative, if air at the cells was saturated; 0 where that is allowed for."""
        room = self.given.conditions
        if self.given.head is not HeadState.DRY or room.humidity is None:
            return 0.0
        vapour = float(saturation_pressure_mbar(room.temperature_c))
        return (1.0 - room.humidity) * vapour / (room.pressure_mbar - room.humidity * vapour)


def grid_of(given: CalibrationInput) -> Grid:
    """The grid of a calibration."""
    cells = {name: row for row, name in enumerate(dict.fromkeys(row.cell for row in given.readings))}
    readers = {name: column for column, name in enumerate(dict.fromkeys(row.reader for row in given.readings))}
    rows = {(cells[row.cell], readers[row.reader]): row for row in given.readings}
    return Grid(given, cells=tuple(cells), readers=tuple(readers), rows=rows)


@dataclass(frozen=True, slots=True)
class Judged:
    """A head with its figures, what its pot points say, and the decision on it."""

    grid: Grid
    values: Figures
    pots: Pots
    decision: Decision


class Stack:
    """Heads beside each other, as arrays (heads, cells, readers) that hold the largest.

    What a smaller one lacks is not read, and every sum over a head is taken from its first value on, so that what
    stands beside a head changes no bit of it.
    """

    def __init__(self, grids: Sequence[Grid]) -> None:
        """Of at least one head."""
        self.grids = grids
        self.given = [grid.given for grid in grids]
        most_cells, most_readers = (max(sizes) for sizes in zip(*(grid.shape for grid in grids), strict=True))
        self.shape = (len(grids), most_cells, most_readers)
        places = [(row, column) for row in range(self.shape[1]) for column in range(self.shape[2])]
        self.rows = [(grid, grid.rows.get(at)) for grid in grids for at in places]
        self.read: Mask = np.array([row is not None for _, row in self.rows]).reshape(self.shape)
        self._accepted = [None if row is None else grid.accepted(row) for grid, row in self.rows]
        self._cells_of = [(grid.given, cell) for grid in grids for cell in _filled(grid.cells, most_cells)]
        self._limits = [given.limits_of(cell) for given, cell in self._cells_of]

    def shown(self) -> Shown:
        """What the readers showed."""
        spread = self._spread
        return Shown(
            air=spread(lambda row: np.nan if row.air_mv is None else row.air_mv, np.nan),
            oxygen=spread(lambda row: np.nan if row.oxygen_mv is None else row.oxygen_mv, np.nan),
            zero=spread(lambda row: row.zero_mv or 0.0, 0.0),
            zero_u=spread(_zero_u, 0.0),
            resolution=spread(lambda row: row.resolution_mv, 0.0),
            repeatability=spread(lambda row: row.repeatability_mv, 0.0),
            gain_u=spread(lambda row: row.gain_u, 0.0),
            compensation_u_per_k=self._column(lambda limits: limits.compensation_u_per_k),
        )

    def bounds(self) -> Bounds:
        """The limits of the cells."""
        column = self._column
        return Bounds(
            air_low=column(lambda limits: limits.air_low_mv),
            air_high=column(lambda limits: limits.air_high_mv),
            oxygen_floor=column(lambda limits: limits.oxygen_floor_mv),
            makers_floor=column(lambda limits: limits.makers_floor) > 0,
            linearity_low=column(lambda limits: limits.linearity_low),
            linearity_high=column(lambda limits: limits.linearity_high),
        )

    def circumstances(self, pots: Sequence[Pots]) -> Circumstances:
        """Everything else that bears on the verdict; pots: of each head."""
        given, heads, spread = self.given, self._heads, self._spread
        standing, highest, held = self._of_pots(pots)
        histories = [each.history_of(cell) for each, cell in self._cells_of]
        recorded = heads([each.over_pressure_mbar is not None for each in given])
        return Circumstances(
            read=self.read,
            missing_air=spread(lambda row: row.air_mv is None, 0.0) > 0,
            missing_oxygen=spread(lambda row: row.oxygen_mv is None, 0.0) > 0,
            settled=spread(lambda row: row.settled is Answer.YES, 1.0) > 0,
            resolution=spread(lambda row: row.resolution_mv, 0.0),
            pot_standing=standing,
            pot_highest=highest,
            pot_held=held,
            accepted_linearity=self.accepted_linearity(),
            accepted_shared_u=self._array(
                [np.nan if past is None or past.shared_u is None else past.shared_u for past in self._accepted]
            ),
            undecided_before=self._cells([history.undecided_before for history in histories]),
            above_before=self._cells([history.above_before for history in histories]),
            limited_before=self._cells([np.nan if (bar := each.limited_before) is None else bar for each in histories]),
            limited_proven=self._cells([history.limited_proven for history in histories]),
            rejected_before=self._cells([history.rejected_before for history in histories]),
            damp=heads([each.head is HeadState.DAMP for each in given]),
            vented=heads([each.vented is Answer.YES for each in given]) | recorded,
            analysed=heads([each.gas.oxygen_fraction is not None for each in given]),
            equipment_in_date=heads([each.equipment_in_date for each in given]),
            common_before=heads([each.common_before for each in given]),
            comparison_passed=heads([each.comparison_passed is True for each in given]),
            new_zero=self._array([row is not None and grid.new_zero(row) for grid, row in self.rows]) > 0,
            pressure_recorded=recorded,
            dried=heads(
                [each.head is HeadState.DRY and (each.hours_since_last or 0.0) >= DRYING_HOURS for each in given]
            ),
            pressure_share=heads([UNVENTED_MBAR / each.conditions.pressure_mbar for each in given]),
            moist_share=heads([grid.moist_share() for grid in self.grids]),
        )

    def accepted_linearity(self) -> Array:
        """The linearity that was last accepted of each cell on each reader, NaN where none was."""
        return self._array([np.nan if past is None else past.linearity for past in self._accepted])

    def _of_pots(self, pots: Sequence[Pots]) -> tuple[Codes, Array, Array]:
        """Standing, the highest pressure taken and that up to which the line is held, NaN where there is none."""
        standing = np.zeros(self.shape, dtype=np.int8)
        highest, held = np.full(self.shape, np.nan), np.full(self.shape, np.nan)
        for head, found in enumerate(pots):
            for at, finding in found.items():
                standing[head, *at] = finding.standing
                if finding.points:
                    highest[head, *at] = max(point.po2_bar for point in finding.points)
                if finding.verified_up_to_bar is not None:
                    held[head, *at] = finding.verified_up_to_bar
        return standing, highest, held

    def _array(self, values: Sequence[float]) -> Array:
        return np.array(values, dtype=float).reshape(self.shape)

    def _spread(self, value: Callable[[CellReadings], float], absent: float) -> Array:
        """A value a reading, ``absent`` where a reader does not show a cell."""
        return self._array([absent if row is None else value(row) for _, row in self.rows])

    def _column(self, value: Callable[[CellLimits], float]) -> Array:
        return np.array([value(limits) for limits in self._limits], dtype=float).reshape(*self.shape[:2], 1)

    def _cells(self, values: Sequence[float]) -> Any:
        return np.array(values).reshape(self.shape[:2])

    def _heads(self, values: Sequence[float]) -> Any:
        return np.array(values)


def _filled(cells: tuple[str, ...], most: int) -> tuple[str, ...]:
    """The cells of a head, and empty names up to so many: of those no limits, no history and no readings are known."""
    return (*cells, *("",) * (most - len(cells)))


def _zero_u(row: CellReadings) -> float:
    if row.zero_mv is None:
        return rectangular_u(row.zero_half_width_mv)
    return measured_zero_u(row.resolution_mv, row.repeatability_mv)


def ambient_of(given: Sequence[CalibrationInput]) -> Ambient:
    """Room and gas of calibrations as arrays (heads, 1, 1), what is unknown widened rather than guessed away.

    Room humidity unknown: anything from dry to saturated. Head state unknown: humidity at the cell anything from the
    room's to saturated in air and from dry to saturated in oxygen (each rectangular, JCGM 100:2008, 4.3.7). Gas not
    analysed: NaN, so that no oxygen figure comes out.
    """
    rooms = [_room(each) for each in given]
    return Ambient(**{name: np.array([[[room[name]]] for room in rooms], dtype=float) for name in rooms[0]})


def _room(given: CalibrationInput) -> dict[str, float]:
    room, gas = given.conditions, given.gas
    unknown_head = given.head is not HeadState.DRY
    low = 0.0 if room.humidity is None else room.humidity
    air_humidity, air_humidity_u = low, room.used_humidity_u
    if room.humidity is None or unknown_head:
        air_humidity, air_humidity_u = (low + 1.0) / 2.0, rectangular_u((1.0 - low) / 2.0)
        if room.humidity is not None:
            air_humidity_u = float(np.hypot(air_humidity_u, room.used_humidity_u))
    recorded = room.oxygen_temperature_c
    fraction, over_pressure = gas.used_fraction, given.over_pressure_mbar
    return {
        "pressure": room.pressure_mbar,
        "pressure_u": room.used_pressure_u,
        "temperature": room.temperature_c,
        "temperature_u": room.used_temperature_u,
        "oxygen_temperature": room.temperature_c if recorded is None else recorded,
        "temperature_step_u": rectangular_u(UNRECORDED_TEMPERATURE_HALF_WIDTH_K)
        if recorded is None
        else THERMOMETER_STEP_U_K,
        "air_humidity": air_humidity,
        "air_humidity_u": air_humidity_u,
        "oxygen_humidity": 0.5 if unknown_head else 0.0,
        "oxygen_humidity_u": rectangular_u(0.5) if unknown_head else 0.0,
        "fraction": np.nan if fraction is None else fraction,
        "fraction_u": gas.used_fraction_u,
        "over_pressure": over_pressure or 0.0,
        "over_pressure_u": rectangular_u(VENTED_HALF_WIDTH_MBAR)
        if over_pressure is None
        else given.over_pressure_u_mbar,
    }
