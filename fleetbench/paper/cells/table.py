"""Cells on paper: a row a cell, a pair of columns a handset, the unit beside each figure, the verdict in words last."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.measures import CELSIUS
from fleetbench.paper.core.flow import TableColumn
from fleetbench.paper.core.marks import NOT_RECORDED, by_whom, day, figure, plus_minus, said
from fleetbench.paper.core.pen import Align
from fleetbench.workshop.cells.list import OutcomeLine
from fleetbench.workshop.cells.outlook import CalibrationConditions, ReaderShown
from fleetbench.workshop.units.list import CellLine

NORMALISED = say("governing handset, normalised")
"""Over the figures of cells of which no handset's reading is recorded."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CalibrationBlock:
    """The cells of one calibration with what they share. record: how it is named; when: for instance 'before'."""

    cells: Sequence[CellLine]
    at: datetime | None
    by: str | None
    conditions: CalibrationConditions | None
    made: str = "workshop"
    record: str | None = None
    when: str | None = None

    @property
    def handsets(self) -> tuple[str, ...]:
        """The handsets' names in their order; where no reading is recorded, the column of normalised figures."""
        found = sorted({(each.ordinal, each.reader) for cell in self.cells for each in cell.shown})
        return tuple(dict.fromkeys(name for _, name in found)) or (NORMALISED,)


def calibration_blocks(outcomes: Iterable[OutcomeLine], moved: Sequence[datetime]) -> tuple[CalibrationBlock, ...]:
    """One block a calibration, in order of time, each said to lie before or after the parts were changed."""
    by_calibration: dict[int, list[OutcomeLine]] = {}
    for each in sorted(
        outcomes, key=lambda line: (line.outcome.at, line.outcome.calibration_id, line.outcome.position)
    ):
        by_calibration.setdefault(each.outcome.calibration_id, []).append(each)
    return tuple(
        CalibrationBlock(
            cells=[_line(each) for each in lines],
            at=lines[0].outcome.at,
            by=lines[0].person,
            conditions=lines[0].conditions,
            made=lines[0].outcome.made,
            record=say("calibration {key}", key=key),
            when=_when(lines[0].outcome.at, moved),
        )
        for key, lines in by_calibration.items()
    )


def _line(told: OutcomeLine) -> CellLine:
    """The cell as that calibration left it, whatever its life."""
    outcome = told.outcome
    return CellLine(
        position=outcome.position,
        part=told.part,
        last_good_day=None,
        basis=None,
        outcome=outcome,
        verdict=outcome.verdict,
        finding=outcome.finding,
        shown=told.shown,
    )


def _when(at: datetime, moved: Sequence[datetime]) -> str | None:
    if moved and at < min(moved):
        return say("before parts were changed")
    return say("after parts were changed") if moved and at >= max(moved) else None


def cell_table(
    calibration: CalibrationBlock, *, ages: bool
) -> tuple[tuple[TableColumn, ...], tuple[tuple[str, ...], ...]]:
    """Columns, and a row of text a cell; ages: with the last good day of each, where it speaks of today."""
    handsets = calibration.handsets
    columns = (
        TableColumn("position", 9, bold=True),
        TableColumn("serial", 15),
        *((TableColumn(say("last valid day"), 12),) if ages else ()),
        *(
            TableColumn(point, 12, Align.RIGHT, over=handset)
            for handset in handsets
            for point in (say("air"), say("oxygen"))
        ),
        TableColumn("linearity ± U (k = 2)", 16, Align.RIGHT),
        TableColumn(say("verified up to"), 12, Align.RIGHT),
        TableColumn("verdict", 11, mark=True),
    )
    return columns, tuple(_row(cell, handsets, ages) for cell in calibration.cells)


def _row(cell: CellLine, handsets: tuple[str, ...], ages: bool) -> tuple[str, ...]:
    last = cell.outcome
    return (
        cell.position,
        said(cell.part and cell.part.label),
        *((day(cell.last_good_day),) if ages else ()),
        *(text for handset in handsets for text in _shown(cell, handset)),
        plus_minus(last and last.linearity, last and last.expanded_u, "%"),
        figure(last and last.verified_up_to_bar, "bar", 2),
        say("not calibrated") if cell.verdict is None else cell.verdict,
    )


def _shown(cell: CellLine, handset: str) -> tuple[str, str]:
    """What one handset showed of a cell in air and in oxygen; of a cell that it does not read, 'not read'."""
    if handset == NORMALISED:
        last = cell.outcome
        return figure(last and last.air_mv, "mV"), figure(last and last.oxygen_mv, "mV")
    reading: ReaderShown | None = next((each for each in cell.shown if each.reader == handset), None)
    if reading is None:
        return (say("not read"), say("not read")) if cell.shown else (NOT_RECORDED, NOT_RECORDED)
    unit, decimals = ("bar", 2) if reading.in_bar else ("mV", 1)
    return figure(reading.air, unit, decimals), figure(reading.oxygen, unit, decimals)


def conditions(calibration: CalibrationBlock) -> str:
    """When, by whom and in which conditions, on one line; what is missing is named."""
    room = calibration.conditions
    words = [say("{made} calibration {at}", made=say(calibration.made), at=by_whom(calibration.at, calibration.by))]
    for name, value, unit, decimals in (
        (say("pressure"), None if room is None else room.pressure_mbar, "mbar", 0),
        (say("temperature"), None if room is None else room.temperature_c, CELSIUS, 1),
        (say("humidity"), None if room is None else room.humidity_percent, "%", 0),
        (say("oxygen analysed"), None if room is None else room.oxygen_percent, "%", 1),
    ):
        words.append(strung(" ", (name, figure(value, unit, decimals))))
    return strung(", ", words)
