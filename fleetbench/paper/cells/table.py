"""Cells on paper: a row a cell, a pair of columns a handset, the unit beside each figure, the verdict in words last."""

from dataclasses import dataclass

from fleetbench.paper.core.flow import Column
from fleetbench.paper.core.pen import Align
from fleetbench.paper.core.shapes import CalibrationBlock, CellLine, CellReading
from fleetbench.paper.core.words import NOT_RECORDED, by_whom, day, figure, plus_minus, said


@dataclass(frozen=True, slots=True)
class CellTable:
    """The columns of the cell table, and a row of text a cell."""

    columns: tuple[Column, ...]
    rows: tuple[tuple[str, ...], ...]


def cell_table(calibration: CalibrationBlock, most: int, *, ages: bool) -> CellTable:
    """At most so many cells as a table; ages: with the last good day of each, where it speaks of today."""
    serials = any(cell.serial != "" for cell in calibration.cells)
    pairs = tuple(
        Column(point, 11, Align.RIGHT, over=handset) for handset in calibration.handsets for point in ("air", "oxygen")
    )
    columns = (
        Column("position", 9, bold=True),
        *((Column("serial", 15),) if serials else ()),
        *((Column("last good day", 12),) if ages else ()),
        *pairs,
        Column("linearity ± U (k = 2)", 16, Align.RIGHT),
        Column("verified up to", 12, Align.RIGHT),
        Column("verdict", 11, mark=True),
    )
    count = len(calibration.handsets)
    return CellTable(columns, tuple(_row(cell, count, serials, ages) for cell in calibration.cells[:most]))


def _row(cell: CellLine, handsets: int, serials: bool, ages: bool) -> tuple[str, ...]:
    readings = cell.readings + (CellReading(None, None),) * (handsets - len(cell.readings))
    return (
        cell.position,
        *((said(cell.serial),) if serials else ()),
        *((day(cell.last_good_day),) if ages else ()),
        *(text for reading in readings[:handsets] for text in _shown(reading)),
        plus_minus(cell.linearity_percent, cell.expanded_u_percent, "%"),
        figure(cell.verified_up_to_bar, "bar", 2),
        "not calibrated" if cell.verdict is None else cell.verdict,
    )


def _shown(reading: CellReading) -> tuple[str, str]:
    if reading.shows == "nothing":
        return ("not read", "not read")
    unit, decimals = ("bar", 2) if reading.shows == "pO2" else ("mV", 1)
    return (figure(reading.air, unit, decimals), figure(reading.oxygen, unit, decimals))


def conditions(calibration: CalibrationBlock) -> str:
    """When, by whom and in which conditions, on one line; what is missing is named."""
    words = [f"{calibration.made} calibration {by_whom(calibration.at, calibration.by)}"]
    for name, value, unit, decimals in (
        ("pressure", calibration.pressure_mbar, "mbar", 0),
        ("temperature", calibration.temperature_c, "°C", 1),
        ("humidity", calibration.humidity_percent, "%", 0),
        ("oxygen analysed", calibration.oxygen_percent, "%", 1),
    ):
        words.append(f"{name} {NOT_RECORDED}" if value is None else f"{name} {figure(value, unit, decimals)}")
    return ", ".join(words)
