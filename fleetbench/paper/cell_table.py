"""Cells on paper: a row a cell, a pair of columns a handset, the unit beside each figure, the verdict in words last."""

from fleetbench.paper.flow import Column
from fleetbench.paper.page_facts import CalibrationBlock, CellLine, CellReading
from fleetbench.paper.pen import Align
from fleetbench.paper.words import NOT_RECORDED, by_whom, day, figure, plus_minus, said


def cell_columns(calibration: CalibrationBlock) -> tuple[Column, ...]:
    """The columns of the cell table: position, serial, last good day, air and oxygen a handset, linearity, verdict."""
    pairs = tuple(
        Column(point, 11, Align.RIGHT, over=handset) for handset in calibration.handsets for point in ("air", "oxygen")
    )
    return (
        Column("position", 9, bold=True),
        Column("serial", 15),
        Column("last good day", 12),
        *pairs,
        Column("linearity ± U (k = 2)", 16, Align.RIGHT),
        Column("verified up to", 12, Align.RIGHT),
        Column("verdict", 11, mark=True),
    )


def cell_row(cell: CellLine, handsets: int) -> tuple[str, ...]:
    """The cell as text for `cell_columns`; a handset that has no reading of it says so."""
    readings = cell.readings + (CellReading(None, None),) * (handsets - len(cell.readings))
    figures = tuple(text for reading in readings[:handsets] for text in _shown(reading))
    return (
        cell.position,
        said(cell.serial),
        day(cell.last_good_day),
        *figures,
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
