"""What each handset showed of each cell, and the room in which it was read, for the pages that print it."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from fleetbench.records.cells.reads import ConditionsRecord, ShownRecord


@dataclass(frozen=True, slots=True)
class ReaderShown:
    """What one reader showed of one cell in air and in oxygen: mV, or bar where `in_bar`; None is not taken."""

    reader: str
    ordinal: int
    air: float | None
    oxygen: float | None
    in_bar: bool = False


@dataclass(frozen=True, slots=True)
class Conditions:
    """Room and gas of one calibration: mbar, degrees C, percent humidity, percent oxygen as the analyser showed it."""

    pressure_mbar: float
    temperature_c: float
    humidity_percent: float | None
    oxygen_percent: float | None


Shown = Mapping[tuple[int, int], tuple[ReaderShown, ...]]
"""Readings by calibration and cell, in the order of the readers."""


def shown_by_cell(records: Iterable[ShownRecord]) -> Shown:
    """Readings of each cell at each calibration; of one point read twice the last stands."""
    points: dict[tuple[int, int], dict[tuple[int, str], dict[str, ShownRecord]]] = defaultdict(dict)
    for each in records:
        of_cell = points[each.calibration_id, each.part_id]
        of_cell.setdefault((each.ordinal, each.reader), {})[each.point] = each
    return {key: tuple(_reader(*who, taken) for who, taken in of_cell.items()) for key, of_cell in points.items()}


def conditions_by_calibration(records: Iterable[ConditionsRecord]) -> dict[int, Conditions]:
    """Room and gas by calibration."""
    return {
        each.calibration_id: Conditions(
            each.pressure_mbar,
            each.temperature_c,
            None if each.humidity is None else 100 * each.humidity,
            each.oxygen_shown_percent,
        )
        for each in records
    }


def _reader(ordinal: int, reader: str, taken: Mapping[str, ShownRecord]) -> ReaderShown:
    in_bar = all(each.mv is None for each in taken.values()) and any(
        each.po2_shown_bar is not None for each in taken.values()
    )

    def figure(point: str) -> float | None:
        row = taken.get(point)
        return None if row is None else row.po2_shown_bar if in_bar else row.mv

    return ReaderShown(reader, ordinal, figure("air"), figure("oxygen"), in_bar)
