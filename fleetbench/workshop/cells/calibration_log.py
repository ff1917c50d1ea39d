"""Readings that were not typed one by one: a table pasted from elsewhere, or a logger's file."""

import csv
import io
import math
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime

from fleetbench.calc.core.languages import say
from fleetbench.records.core.errors import Refused
from fleetbench.workshop.cells.entry import ReadingEntry
from fleetbench.workshop.cells.plan import CalibrationPlan, CellPosition, ReaderFacts

LOG_COLUMNS = ("time", "handset", "cell", "mv")
NOT_KNOWN = ("", "-", "–", "?", "/", "not known")
RISE = 1.5
"""A reading this many times the first of its series shows that oxygen flows: air to oxygen is a factor of 4.8."""

_LONGEST_LOG = 200_000


@dataclass(frozen=True, slots=True)
class LogReadings:
    """What a log holds: the air point before the flush, the stamps during it, the oxygen point at its end."""

    air: tuple[ReadingEntry, ...]
    settling: tuple[ReadingEntry, ...]
    oxygen: tuple[ReadingEntry, ...]


def read_table(held: CalibrationPlan, point: str, text: str) -> tuple[ReadingEntry, ...]:
    """Figures of one point from a pasted table: a row a cell, a column a handset, with or without their names.

    Columns are parted by tab, semicolon or comma (with a tab or semicolon a comma may be the decimal sign). An empty
    field or a dash is not known. Refused naming row and column where the table cannot be placed.
    """
    rows = _rows(text)
    readers, rows = _columns(held, rows)
    figures: list[ReadingEntry] = []
    for number, row in enumerate(rows):
        position, cells = _row_position(held, number, row, len(readers))
        if len(cells) != len(readers):
            found = say("{count} figures for {handsets} handsets", count=len(cells), handsets=len(readers))
            raise Refused(say("table: row {number} has {found}; copy it again", number=number + 1, found=found))
        for reader, cell in zip(readers, cells, strict=True):
            if held.shown(reader.reader_id, position.slot_id).what == "mV" and position.part_id is not None:
                mv = _number(cell, say("table: {position} on {reader}", position=position.name, reader=reader.name))
                figures.append(ReadingEntry(slot_id=position.slot_id, reader_id=reader.reader_id, point=point, mv=mv))
    if len({(each.slot_id, each.reader_id) for each in figures}) != len(figures):
        raise Refused(say("table: a cell stands twice on one handset; copy it again"))
    return tuple(figures)


def read_log(held: CalibrationPlan, text: str) -> LogReadings:
    """Air point, stamps and oxygen point from a log with the columns time, handset, cell, mV.

    time: ISO date and time, hh:mm:ss, or seconds. handset and cell: by name or by number. The flush begins with the
    last reading before a series rises by half; a log that starts in oxygen has no air point. Refused naming the line.
    """
    series: dict[tuple[int, int], list[tuple[float, float]]] = {}
    for seconds, reader, position, mv in _log_lines(held, text):
        listed = series.setdefault((position.slot_id, reader.reader_id), [])
        if listed and seconds <= listed[-1][0]:
            raise Refused(
                say(
                    "log: times of {position} on {reader} do not rise; sort the file by time",
                    position=position.name,
                    reader=reader.name,
                )
            )
        listed.append((seconds, mv))
    start = _flush_start(held, series)
    air: list[ReadingEntry] = []
    settling: list[ReadingEntry] = []
    oxygen: list[ReadingEntry] = []
    for (slot_id, reader_id), readings in series.items():
        before = [mv for seconds, mv in readings if start is None or seconds <= start]
        after = [(seconds - start, mv) for seconds, mv in readings if start is not None and seconds > start]
        if before:
            air.append(ReadingEntry(slot_id=slot_id, reader_id=reader_id, point="air", mv=before[-1]))
        settling += [
            ReadingEntry(slot_id=slot_id, reader_id=reader_id, point="settling", mv=mv, seconds=round(seconds, 3))
            for seconds, mv in after
        ]
        if after:
            oxygen.append(ReadingEntry(slot_id=slot_id, reader_id=reader_id, point="oxygen", mv=after[-1][1]))
    return LogReadings(tuple(air), tuple(settling), tuple(oxygen))


def _flush_start(held: CalibrationPlan, series: dict[tuple[int, int], list[tuple[float, float]]]) -> float | None:
    """When oxygen began to flow: just before the first rise, or before all of a log that starts in oxygen."""
    starts: list[float] = []
    for (slot_id, _reader_id), readings in series.items():
        if readings[0][1] > 2 * held.position(slot_id).limits.air_high_mv:
            starts.append(readings[0][0] - 1e-6)
            continue
        risen = [place for place, (_, mv) in enumerate(readings) if mv > RISE * max(readings[0][1], 1.0)]
        if risen:
            starts.append(readings[risen[0] - 1][0])
    return min(starts) if starts else None


def _log_lines(held: CalibrationPlan, text: str) -> Iterable[tuple[float, ReaderFacts, CellPosition, float]]:
    try:
        read = list(csv.reader(io.StringIO(text), delimiter=_delimiter(text)))
    except csv.Error as fault:
        raise Refused(say("log: is no table of text ({fault}); choose another file", fault=fault)) from fault
    rows = [row for row in read if any(cell.strip() for cell in row)]
    if not rows or tuple(cell.strip().casefold() for cell in rows[0]) != LOG_COLUMNS:
        raise Refused(say("log: the first line must be time, handset, cell, mV; choose another file"))
    if len(rows) > _LONGEST_LOG:
        raise Refused(say("log: has over {most} lines; cut it to this head's flush", most=_LONGEST_LOG))
    for number, row in enumerate(rows[1:], start=2):
        where = say("log: line {number}", number=number)
        if len(row) != len(LOG_COLUMNS):
            raise Refused(say("{where} has {count} fields, not four; correct the file", where=where, count=len(row)))
        reader = _reader_named(held, row[1], where)
        position = _position_named(held, row[2], where)
        mv = _number(row[3], where)
        if mv is not None and held.shown(reader.reader_id, position.slot_id).what == "mV":
            yield _seconds(row[0].strip(), where), reader, position, mv


def _delimiter(text: str) -> str:
    first = text.lstrip().splitlines()[0] if text.strip() else ""
    return next((mark for mark in ("\t", ";") if mark in first), ",")


def _rows(text: str) -> list[list[str]]:
    mark = _delimiter(text)
    rows = [[cell.strip() for cell in line.split(mark)] for line in text.splitlines() if line.strip()]
    if not rows:
        raise Refused(say("table: is empty; copy the figures and paste again"))
    return rows


def _columns(held: CalibrationPlan, rows: list[list[str]]) -> tuple[list[ReaderFacts], list[list[str]]]:
    """Which reader each column of figures is, and the rows below a heading; without one, all readers in order."""
    in_mv = {reader.reader_id for _, reader, _ in held.in_mv()}
    readers = [reader for reader in held.readers if reader.reader_id in in_mv]
    named = [each for cell in rows[0] for each in readers if each.name.casefold() == cell.casefold()]
    if not named:
        return readers, rows
    if len(set(named)) != len(named) or len(named) < len([cell for cell in rows[0] if cell]) - 1:
        raise Refused(say("table: the heading names a handset that this unit has not; paste the figures alone"))
    return named, rows[1:]


def _row_position(held: CalibrationPlan, number: int, row: list[str], width: int) -> tuple[CellPosition, list[str]]:
    if len(row) > width:
        return _position_named(held, row[0], say("table: row {number}", number=number + 1)), row[1:]
    if number >= len(held.positions):
        raise Refused(
            say("table: has more rows than the {count} cells of the head; copy it again", count=len(held.positions))
        )
    return held.positions[number], row


def _position_named(held: CalibrationPlan, text: str, where: str) -> CellPosition:
    said = text.strip().casefold()
    for place, position in enumerate(held.positions, start=1):
        if said in (position.name.casefold(), str(place), (position.cell or "").casefold() or "\n"):
            return position
    raise Refused(
        say(
            "{where}: {text!r} is no cell of this head; name it as {name}",
            where=where,
            text=text.strip(),
            name=held.positions[0].name,
        )
    )


def _reader_named(held: CalibrationPlan, text: str, where: str) -> ReaderFacts:
    said = text.strip().casefold()
    for place, reader in enumerate(held.readers, start=1):
        if said in (reader.name.casefold(), str(place)):
            return reader
    raise Refused(
        say(
            "{where}: {text!r} is no handset of this unit; name it as {name}",
            where=where,
            text=text.strip(),
            name=held.readers[0].name,
        )
    )


def _number(text: str, where: str) -> float | None:
    said = text.strip().casefold().removesuffix("mv").strip()
    if said in NOT_KNOWN:
        return None
    try:
        value = float(said.replace(",", "."))
    except ValueError:
        raise Refused(
            say("{where}: {text!r} is not a figure; enter mV as 10.4", where=where, text=text.strip())
        ) from None
    if not -2 <= value <= 600:
        raise Refused(say("{where}: {text} mV is out of range; mind the decimal point", where=where, text=text.strip()))
    return value


def _seconds(text: str, where: str) -> float:
    try:
        seconds = float(text.replace(",", "."))
    except ValueError:
        seconds = math.nan
    if math.isfinite(seconds):
        return seconds
    for reading in (text, f"2000-01-01T{text}"):
        try:
            moment = datetime.fromisoformat(reading)
        except ValueError:
            continue
        return (moment if moment.tzinfo else moment.replace(tzinfo=UTC)).timestamp()
    raise Refused(
        say("{where}: {text!r} is no time; write 2026-05-04T09:31:20, 09:31:20 or seconds", where=where, text=text)
    )
