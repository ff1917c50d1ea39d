"""The daily log: a line a dive and fill, with the same columns on paper, on the screen, in a form and in a table.

Its pressures and mV are the renter's own readings: they are kept as figures, and calibrate nothing. What a cell may say
is decided here alone, whichever way it came in. An empty figure is not known; day and start are never empty, but marked
as not known.
"""

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta, tzinfo
from itertools import pairwise
from typing import NamedTuple, TypeVar

from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.measures import BAR
from fleetbench.calc.core.plausible import (
    AIR_MV,
    CYLINDER_PRESSURE,
    DEPTH,
    LOOP_MINUTES,
    OXYGEN_MV,
    WATER,
    Likely,
    Quantity,
    depth_usual,
    plausible,
    written_figure,
)

T = TypeVar("T")
UNKNOWN = ("?", "not known")
"""How a line says that its day or its start is not known."""

LOG_OF, COLUMNS = "log of", "columns"
"""Fields of a form that say whose log it is, and its columns' titles as a JSON list."""

CELLS, HANDSETS = ("cell 1", "cell 2", "cell 3"), ("handset 1",)
"""What a log has room for where a unit's own cells or handsets are not recorded."""

LINES = 12
"""Lines of one log; common practice, no published source: four dives a day over a long weekend."""


@dataclass(frozen=True, slots=True)
class LogColumn:
    """One column: how it is called, and what it measures, if it does. group: what stands over it on paper.

    kept_as: the word under which its figure is recorded as a reading of the renter's, where it is one.
    """

    key: str
    words: str
    quantity: Quantity | None = None
    group: str = ""
    short: str = ""
    kept_as: str = ""

    @property
    def title(self) -> str:
        """What stands over it, with the unit in use."""
        return say(self.words, unit=self.quantity.unit) if self.quantity is not None else self.words


_FIRST = (
    LogColumn("day", "day"),
    LogColumn("start", "start"),
    LogColumn("minutes", say("loop minutes"), LOOP_MINUTES),
    LogColumn("deepest_m", say("deepest {unit}"), DEPTH),
    LogColumn("coldest_c", say("coldest {unit}"), WATER),
    LogColumn("fault", "fault"),
    LogColumn("fill", say("fill number")),
    LogColumn("valves", say("valves tested")),
    LogColumn("loop", say("loop tested")),
    LogColumn("oxygen_in", say("oxygen {unit} before"), CYLINDER_PRESSURE, kept_as="oxygen bar before"),
    LogColumn("oxygen_out", say("oxygen {unit} after"), CYLINDER_PRESSURE, kept_as="oxygen bar after"),
    LogColumn("diluent_in", say("diluent {unit} before"), CYLINDER_PRESSURE, kept_as="diluent bar before"),
    LogColumn("diluent_out", say("diluent {unit} after"), CYLINDER_PRESSURE, kept_as="diluent bar after"),
)
READINGS = {
    "oxygen bar before": CYLINDER_PRESSURE, "oxygen bar after": CYLINDER_PRESSURE,
    "diluent bar before": CYLINDER_PRESSURE, "diluent bar after": CYLINDER_PRESSURE, "air mV": AIR_MV,
    "oxygen mV": OXYGEN_MV,
}  # fmt: skip
"""What a renter reads, by the word under which it is recorded, with the unit in which it is stored."""


def columns_of(cells: Sequence[str], handsets: Sequence[str]) -> tuple[LogColumn, ...]:
    """The columns of one unit's log: those of every log, then air and oxygen of each cell on each handset, in mV."""
    readings = (
        LogColumn(
            f"{handset}|{cell}|{gas}",
            words=say("{handset} {cell} {gas} mV", handset=handset, cell=cell, gas=gas),
            quantity=quantity,
            group=handset,
            short=cell,
            kept_as=say("{gas} mV", gas=gas),
        )
        for handset in handsets
        for gas, quantity in (("air", AIR_MV), ("oxygen", OXYGEN_MV))
        for cell in cells
    )
    return (*_FIRST, *readings)


def log_of(booking: str, unit: str) -> str:
    """What names one log, on paper and in every file: the hire and the unit."""
    return f"{booking} {unit}"


def field_name(line: int, column: int) -> str:
    """The name of a cell's field in a form; lines count from 1, columns from 0."""
    return f"line {line} column {column}"


@dataclass(frozen=True, slots=True, kw_only=True)
class LogSpan:
    """What a log is held against: the days of the hire, its planned depth in metres, and its fills by their names.

    last_mv: what each column's cell gave at its last calibration, by the column's key.
    """

    first: date
    last: date
    planned_depth_m: float | None = None
    fills: Mapping[str, int]
    last_mv: Mapping[str, float] = field(default_factory=dict)


class LogFigure(NamedTuple):
    """One reading of the renter's, in the unit of its word in `READINGS`; note: that it was doubted and kept."""

    quantity: str
    handset: str
    position: str
    value: float
    note: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RunBack:
    """One run of a canister as the daily log states it; figures None are not known, which counts as the worst row.

    on, start: the day and the time by the site's clock, as far as they are stated; started_at: the same as a moment.
    readings: pressures and mV that the renter read; told: what else the log says, in words.
    """

    minutes: float
    dives: int = 1
    coldest_c: float | None = None
    deepest_m: float | None = None
    seen_at_6m_bar: float | None = None
    on: date | None = None
    start: time | None = None
    started_at: datetime | None = None
    fill_id: int | None = None
    readings: tuple[LogFigure, ...] = ()
    told: str = ""


@dataclass(frozen=True, slots=True)
class ReadLine:
    """A line as it was read: its dive, None where it states none or is wrong, and what failed on it.

    wrong: what cannot be, by column; doubted: what is unusual, and may be confirmed.
    """

    run: RunBack | None
    wrong: dict[str, str]
    doubted: dict[str, str]
    fault: str = ""


def read_line(columns: Sequence[LogColumn], texts: Mapping[str, str], span: LogSpan) -> ReadLine:
    """One line of the log with everything that is wrong with it; an empty one is no dive."""
    said = {key: text.strip() for key, text in texts.items() if text.strip()}
    if not said:
        return ReadLine(None, {}, {})
    reader = _Reader(said, span)
    day = reader.of("day", lambda text: read_day(text, span))
    start = reader.of("start", read_start)
    fill = reader.of("fill", lambda text: _fill(text, span))
    tested = {name: reader.of(name, _yes_or_no) for name in ("valves", "loop")}
    figures = {each.key: reader.figure(each) for each in columns if each.quantity is not None}
    for name, remedy in (
        ("minutes", say("is missing; enter the minutes on the loop")),
        ("day", say("is missing; enter it, or ? where it is not known")),
        ("start", say("is missing; enter it, or ? where it is not known")),
    ):
        if name not in said:
            reader.wrong[name] = f"{name}: {remedy}"
    reader.doubted |= _rising(columns, figures) | _swapped(columns, figures)
    minutes = figures["minutes"]
    if reader.wrong or minutes is None:
        return ReadLine(None, reader.wrong, reader.doubted)
    readings = tuple(
        LogFigure(each.kept_as, each.group, each.short, value, _typed_twice(each, value, reader.doubted))
        for each in columns
        if each.kept_as and (value := figures[each.key]) is not None
    )
    run = RunBack(minutes=minutes, on=day, start=start, deepest_m=figures["deepest_m"], fill_id=fill,
                  readings=readings, told=_tested(tested), coldest_c=figures["coldest_c"])  # fmt: skip
    return ReadLine(run, {}, reader.doubted, said.get("fault", ""))


class _Reader:
    """Reads one line, and keeps what is wrong with it by column."""

    def __init__(self, said: Mapping[str, str], span: LogSpan) -> None:
        self._said, self._span = said, span
        self.wrong: dict[str, str] = {}
        self.doubted: dict[str, str] = {}

    def of(self, name: str, read: Callable[[str], T | None]) -> T | None:
        """What stands in a column, None where it is empty, not known, or wrong."""
        text = self._said.get(name)
        if text is None:
            return None
        try:
            return read(text)
        except ValueError as fault:
            self.wrong[name] = f"{name}: {text!r} {fault}"
            return None

    def figure(self, column: LogColumn) -> float | None:
        """The figure in a column; None where it is not known."""
        text, quantity = self._said.get(column.key), column.quantity
        if text is None or quantity is None or text.casefold() in UNKNOWN:
            return None
        try:
            value = quantity.stored(written_figure(text))
        except ValueError:
            self.wrong[column.key] = say(
                "{column}: {text!r} is no figure; {wanted}", column=column.title, text=text, wanted=quantity.wanted
            )
            return None
        usual = depth_usual(self._span.planned_depth_m) if quantity is DEPTH else None
        told = plausible(quantity, value, usual=usual, last=self._span.last_mv.get(column.key))
        if told.likely is Likely.REFUSE:
            self.wrong[column.key] = f"{column.title}: {told.words}"
        elif told.likely is Likely.ASK:
            self.doubted[column.key] = f"{column.title}: {told.words}"
        return value


def read_day(text: str, span: LogSpan) -> date | None:
    """A day as 2026-05-08, or its number in the month where one day of the hire has it; ValueError says what to do."""
    if text.casefold() in UNKNOWN:
        return None
    days = [span.first + timedelta(days=number) for number in range((span.last - span.first).days + 1)]
    if text.isascii() and text.isdigit() and len(text) <= 2:
        found = [day for day in days if day.day == int(text)]
        if len(found) != 1:
            raise ValueError(
                say(
                    "is {what} day of the hire; write it as {first}",
                    what=say("no") if not found else say("more than one"),
                    first=span.first,
                )
            )
        return found[0]
    try:
        day = date.fromisoformat(text)
    except ValueError:
        raise ValueError(say("is no day; write it as {first}, or ? where it is not known", first=span.first)) from None
    if day not in days:
        raise ValueError(say("is not from {first} to {last}, the days of the hire", first=span.first, last=span.last))
    return day


_CLOCK = re.compile(r"(\d{1,2})[:.h]?(\d{2})", re.ASCII)


def read_start(text: str) -> time | None:
    """The hour and minute, as 09:30, 9.30 or 930; None where it is marked as not known."""
    if text.casefold() in UNKNOWN:
        return None
    found = _CLOCK.fullmatch(text)
    if found is None or int(found[1]) > 23 or int(found[2]) > 59:
        raise ValueError(say("is no hour; write it as 09:30, or ? where it is not known"))
    return time(int(found[1]), int(found[2]))


def _fill(text: str, span: LogSpan) -> int:
    named = {name.casefold(): key for name, key in span.fills.items()} | {str(key): key for key in span.fills.values()}
    key = named.get(text.casefold())
    if key is None:
        known = strung(", ", span.fills) or say("none is recorded for this hire; keep it empty")
        raise ValueError(say("is no fill of this hire: {known}", known=known))
    return key


def _yes_or_no(text: str) -> bool:
    word = text.casefold()
    if word not in ("y", "yes", "n", "no"):
        raise ValueError(say("is neither y nor n; keep it empty where it is not known"))
    return word in ("y", "yes")


GAUGE_BAR = 5.0
"""By so much two readings of one gauge may differ, warm cylinder and cold; common practice, no published source."""


def _rising(columns: Sequence[LogColumn], figures: Mapping[str, float | None]) -> dict[str, str]:
    """A cylinder with more in it after a dive than before: one of the two readings is an error, or of another."""
    titles, found = {each.key: each.title for each in columns}, {}
    for gas in ("oxygen", "diluent"):
        before, after = figures[f"{gas}_in"], figures[f"{gas}_out"]
        if before is not None and after is not None and after > before + GAUGE_BAR:
            key = f"{gas}_out"
            words = say(
                "{after} is over the {before} {bar} before the dive; look at both",
                after=_in_bar(after),
                before=_in_bar(before),
                bar=BAR,
            )
            found[key] = f"{titles[key]}: {words}"
    return found


def _swapped(columns: Sequence[LogColumn], figures: Mapping[str, float | None]) -> dict[str, str]:
    """A cell that shows no more in oxygen than in air: one of the two is an error, or they were swapped."""
    found = {}
    for column in columns:
        air = figures.get(f"{column.group}|{column.short}|air") if column.quantity is OXYGEN_MV else None
        oxygen = figures.get(column.key)
        if air is not None and oxygen is not None and oxygen <= air:
            found[column.key] = say(
                "{column}: {oxygen:g} is not over the {air:g} mV in air; look at both",
                column=column.title,
                oxygen=oxygen,
                air=air,
            )
    return found


def _typed_twice(column: LogColumn, value: float, doubted: Mapping[str, str]) -> str | None:
    assert column.quantity is not None
    return say("typed twice: {told}", told=column.quantity.told(value)) if column.key in doubted else None


def _in_bar(value: float | None) -> str:
    return "?" if value is None else BAR.number(value)


def _tested(tested: Mapping[str, bool | None]) -> str:
    return strung(
        ", ",
        (
            say("{name} tested" if done else "{name} not tested", name=say(name))
            for name, done in tested.items()
            if done is not None
        ),
    )


def readings_words(readings: Sequence[LogFigure]) -> str:
    """What a renter read, in words: pressures by gas, then mV by handset, each cell with its name."""
    bars = {each.quantity: each.value for each in readings if not each.handset}
    words = [
        say(
            "{gas} {get} to {get_2} {bar}",
            gas=say(gas),
            get=_in_bar(bars.get(f"{gas} bar before")),
            get_2=_in_bar(bars.get(f"{gas} bar after")),
            bar=BAR,
        )
        for gas in ("oxygen", "diluent")
        if any(each.startswith(gas) for each in bars)
    ]
    for handset in dict.fromkeys(each.handset for each in readings if each.handset):
        points = []
        for gas in ("air", "oxygen"):
            mine = [each for each in readings if each.handset == handset and each.quantity == f"{gas} mV"]
            if mine:
                points.append(
                    say(
                        "{gas} {value} mV",
                        gas=say(gas),
                        value=strung(", ", (strung(" ", (each.position, f"{each.value:g}")) for each in mine)),
                    )
                )
        words.append(f"{handset}: {'; '.join(points)}")
    return strung("; ", words)


def dive_words(on: date | None, started_at: datetime | None, zone: tzinfo) -> str:
    """When a dive of a log was, as far as the renter stated it."""
    if started_at is not None:
        return f"{started_at.astimezone(zone):%Y-%m-%d %H:%M}"
    return say("day not known") if on is None else say("{on}, start not known", on=on)


def overlaps(runs: Sequence[tuple[int, RunBack]]) -> dict[int, str]:
    """Numbers of lines that begin before the one before them has ended, with the words for it."""
    known = sorted(
        (datetime.combine(run.on, run.start), number, run)
        for number, run in runs
        if run.on is not None and run.start is not None
    )
    wrong: dict[int, str] = {}
    for (began, earlier, run), (then, number, _) in pairwise(known):
        if then < (ended := began + timedelta(minutes=run.minutes)):
            wrong[number] = say("start: line {earlier} runs until {ended:%H:%M}", earlier=earlier, ended=ended)
    return wrong
