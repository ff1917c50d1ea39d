"""One cell of a sheet: from its text to a value and back, and to what is recorded under the words that people use."""

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from fleetbench.calc.core.languages import in_row, say
from fleetbench.calc.core.wall_time import MarkedDate, Precision
from fleetbench.calc.parts.kinds import PART_KINDS
from fleetbench.records.core.errors import Refused
from fleetbench.records.core.journal import clean_text
from fleetbench.records.core.transaction import Transaction
from fleetbench.records.gas.tables import Cylinder
from fleetbench.records.hires.tables import Booking
from fleetbench.records.parts.tables import Fitting, Part, PartTest, PartType
from fleetbench.records.people.tables import Person, PersonPrivate
from fleetbench.records.places.tables import Owner, Place
from fleetbench.records.units.tables import Slot, Unit, UnitType
from fleetbench.records.upkeep.tables import Connection, rows_of
from fleetbench.workshop.import_export.columns import Kind, SheetColumn, SheetSpec

WHOLE = re.compile(r"[+-]?[0-9]{1,15}(\.0+)?", re.ASCII)
NUMBER = re.compile(r"[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][+-]?[0-9]{1,3})?", re.ASCII)
DAY = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)
MOMENT = re.compile(r"\d{4}-\d{2}-\d{2}[ T]\d{2}:\d{2}(:\d{2}(\.\d{1,6})?)?([+-]\d{2}:\d{2}(:\d{2})?)?", re.ASCII)
FORMULA = re.compile(r"'*\s*[=+\-@＝＋－＠]|'*\t")
"""Text that a spreadsheet would take for a formula, with the signs before it that already keep it from that."""

GUARDED = re.compile(r"'+\s*[=+\-@＝＋－＠]|'+\t")
LARGEST_WHOLE = 2_000_000_000
FIRST_YEAR, LAST_YEAR = 1980, 2199
_TYPE_IT = {
    Kind.TEXT: say("type the text"), Kind.WORD: say("type one of its words"), Kind.WHOLE: say("type a whole number"),
    Kind.FIGURE: say("type a number"), Kind.PERCENT: say("type the percentage"), Kind.YES_NO: say("type yes or no"),
    Kind.DAY: say("type the date, as 2025-03-14"), Kind.MARKED: say("type the date as it is marked"),
    Kind.MOMENT: say("type date and time, as 2025-03-14 16:30"),
    Kind.LINK: say("type what it belongs to, as its own file names it"),
}  # fmt: skip


MAY_CHANGE: "MayChange" = {
    "units": frozenset(("former_tag", "serial", "owner", "place", "in_service_on", "retired_on", "harness")),
    "parts": frozenset((
        "part_type", "serial", "lot", "made_on", "opened_on", "received_on", "fixed_on", "owner", "place", "firmware",
        "supplier", "price",
    )),
    "cylinders": frozenset(("size_l", "working_bar", "material", "marking")),
    "fittings": frozenset(("fitted_at",)),
    "people": frozenset(("name", "contact")),
}  # fmt: skip
"""What a file may change of a row that is recorded, as a change that is accepted; all else has acts of its own."""


@dataclass(frozen=True, slots=True)
class Change:
    """A column of a recorded row that a file states otherwise: row in the file, and both values in words.

    values: the table's columns as they would be. label: what the row is called, a part by its serial.
    """

    sheet: str
    key: int
    row: int
    column: str
    before: str
    after: str
    values: Mapping[str, Any]
    label: str = ""


MayChange = Mapping[str, frozenset[str]]
"""Columns of recorded rows that a file may state otherwise, by sheet."""

Watches = Callable[[Transaction], Callable[[], tuple[str, ...]]]
"""Looks at an act as it begins, and gives what says in sentences what it moved until then."""

Corrects = Callable[[Transaction, Sequence[Change]], tuple[str, ...]]
"""Writes changes that were accepted, within the act of the import, and says what they moved."""


@dataclass(frozen=True, slots=True)
class Site:
    """What a date in a sheet hangs on: the site's time zone, and by how many days the whole folder is shifted."""

    zone: ZoneInfo
    shift: timedelta = timedelta()


def read_cell(column: SheetColumn, text: str, site: Site) -> Any:
    """The value of a cell, None where it is empty and may be; raises ValueError that says what and the remedy.

    A link stays text; a marked date becomes a MarkedDate; a percent becomes a fraction; a moment is UTC.
    """
    said = _plain(text)
    if not said:
        if column.required:
            raise ValueError(say("is empty; {remedy}", remedy=_TYPE_IT[column.kind]))
        return column.default
    value = _READ[column.kind](column, said, site)
    if column.low is not None and column.high is not None and not column.low <= value <= column.high:
        raise ValueError(
            say(
                "{said} is out of range; it must lie from {low:g} to {high:g}",
                said=said,
                low=column.low,
                high=column.high,
            )
        )
    return value / 100 if column.kind is Kind.PERCENT else value


def write_cell(column: SheetColumn, value: Any, site: Site) -> str:
    """The text that `read_cell` reads back as the value."""
    if value is None:
        return ""
    write = _WRITE.get(column.kind)
    return guarded(str(value)) if write is None else write(value, site)


def guarded(text: str) -> str:
    """The text as a spreadsheet shows it and never calculates it: a quote stands before what looks like a formula."""
    line = text.replace("\r", " ")  # which no act records, and which ends a row of a CSV file
    return f"'{line}" if FORMULA.match(line) else line


def _plain(text: str) -> str:
    try:
        cleaned = clean_text(text).strip()
    except Refused as fault:
        raise ValueError(str(fault).removeprefix("text: ")) from fault
    return cleaned[1:] if GUARDED.match(cleaned) else cleaned


def _read_text(column: SheetColumn, said: str, _site: Site) -> str:
    if column.longest is not None and len(said) > column.longest:
        raise ValueError(say("has {count} characters; keep it to {longest}", count=len(said), longest=column.longest))
    return said


def _read_word(column: SheetColumn, said: str, _site: Site) -> str:
    for word in column.words:
        if word.casefold() == said.casefold():
            return word
    raise ValueError(
        say("{short} is not known; use one of: {words}", short=_short(said), words=", ".join(column.words))
    )


def _read_whole(_column: SheetColumn, said: str, _site: Site) -> int:
    if not WHOLE.fullmatch(said):
        raise ValueError(say("{short} is not a whole number; write digits only", short=_short(said)))
    value = int(said.split(".", maxsplit=1)[0])
    if abs(value) > LARGEST_WHOLE:
        raise ValueError(say("{said} is out of range; check it", said=said))
    return value


def _read_figure(_column: SheetColumn, said: str, _site: Site) -> float:
    if NUMBER.fullmatch(said):
        return float(said) + 0.0
    if NUMBER.fullmatch(said.replace(",", ".", 1)):
        raise ValueError(
            say(
                "{said} has a comma; write the number with a decimal point, as {right}",
                said=said,
                right=said.replace(",", ".", 1),
            )
        )
    raise ValueError(
        say("{short} is not a number; write it with a decimal point and without its unit, as 10.4", short=_short(said))
    )


def _read_yes_no(_column: SheetColumn, said: str, _site: Site) -> bool:
    word = said.casefold()
    if word not in ("yes", "no"):
        raise ValueError(
            say("{short} is neither yes nor no; write one of them, or leave it empty for not known", short=_short(said))
        )
    return word == "yes"


def _read_day(_column: SheetColumn, said: str, site: Site) -> date:
    try:
        if not DAY.fullmatch(said):
            raise ValueError
        day = date.fromisoformat(said)
    except ValueError:
        raise ValueError(say("{short} is not a date; write it as 2025-03-14", short=_short(said))) from None
    return _in_reason(day, said) + site.shift


def _read_marked(_column: SheetColumn, said: str, site: Site) -> MarkedDate:
    try:
        mark = MarkedDate.parse(said)
    except ValueError:
        raise ValueError(
            say("{short} is not a date; write it as 2025-03-14, 2025-03, 1Q2025 or 2025", short=_short(said))
        ) from None
    return MarkedDate(_in_reason(mark.first_day, said) + site.shift, mark.precision)


def _read_moment(_column: SheetColumn, said: str, site: Site) -> datetime:
    try:
        if not MOMENT.fullmatch(said):
            raise ValueError
        moment = datetime.fromisoformat(said)
    except ValueError:
        raise ValueError(
            say("{short} is not a date and time; write it as 2025-03-14 16:30", short=_short(said))
        ) from None
    _in_reason(moment.date(), said)
    if moment.tzinfo is not None:
        return moment.astimezone(UTC) + site.shift
    local = (moment + site.shift).replace(tzinfo=site.zone)
    moment = local.astimezone(UTC)
    if not site.shift and moment.astimezone(site.zone).replace(tzinfo=None) != local.replace(tzinfo=None):
        raise ValueError(say("{said} was skipped when the clocks went forward; write the true time", said=said))
    return moment


def _in_reason(day: date, said: str) -> date:
    if not FIRST_YEAR <= day.year <= LAST_YEAR:
        raise ValueError(
            say(
                "{said} is out of range; its year must lie from {low} to {high}",
                said=said,
                low=FIRST_YEAR,
                high=LAST_YEAR,
            )
        )
    return day


def _short(said: str) -> str:
    shown = said if len(said) <= 40 else f"{said[:40]}…"
    return f"'{shown}'"


_READ: dict[Kind, Callable[[SheetColumn, str, Site], Any]] = {
    Kind.TEXT: _read_text,
    Kind.LINK: _read_text,
    Kind.WORD: _read_word,
    Kind.WHOLE: _read_whole,
    Kind.FIGURE: _read_figure,
    Kind.PERCENT: _read_figure,
    Kind.YES_NO: _read_yes_no,
    Kind.DAY: _read_day,
    Kind.MARKED: _read_marked,
    Kind.MOMENT: _read_moment,
}


def _write_moment(value: datetime, site: Site) -> str:
    local = value.astimezone(site.zone)
    text = local.replace(tzinfo=None).isoformat(" ", "auto" if local.second or local.microsecond else "minutes")
    again = datetime.fromisoformat(text).replace(tzinfo=site.zone).astimezone(UTC)
    # In the hour that the clocks repeat, the wall time alone would be read as the first of the two.
    return text if again == value else text + local.isoformat()[-6:]


def _write_marked(value: MarkedDate, _site: Site) -> str:
    if value.precision is Precision.QUARTER:
        return f"{(value.date.month + 2) // 3}Q{value.date.year}"
    return str(value)


def _write_percent(fraction: float, _site: Site) -> str:
    for digits in range(4, 18):
        text = f"{fraction * 100:.{digits}g}"
        if float(text) / 100 == fraction:
            return f"{float(text):.17g}" if "e" in text else text
    return repr(fraction * 100)


_WRITE: dict[Kind, Callable[[Any, Site], str]] = {
    Kind.YES_NO: lambda value, _site: "yes" if value else "no",
    Kind.FIGURE: lambda value, _site: repr(float(value)).removesuffix(".0"),
    Kind.PERCENT: _write_percent,
    Kind.MARKED: _write_marked,
    Kind.MOMENT: _write_moment,
}


def names_of(spec: SheetSpec, row: Mapping[str, Any]) -> list[str]:
    """By what other sheets may name a row: its record number and its natural keys."""
    if spec.identity:
        return [" ".join(str(row[name]) for name in spec.identity)]
    found = [row.get("ref") or f"#{row['id']}"]
    fields = (spec.column(name).field or "" for name in spec.keys if name != "record")
    return [*found, *(row[each] for each in fields if row.get(each))]


Row = dict[str, Any]


class Known:
    """What is recorded, found by the words that people use."""

    def __init__(self, connection: Connection) -> None:
        self.units = {same_words(row["tag"]): row for row in rows_of(connection, Unit)}
        self.unit_of = {row["id"]: row for row in self.units.values()}
        self.former = {same_words(row["former_tag"]): row for row in self.units.values() if row["former_tag"]}
        self.unit_types = _by_words(rows_of(connection, UnitType), "code", "name")
        self.slots: dict[tuple[str, int], list[Row]] = {}
        for row in sorted(rows_of(connection, Slot), key=lambda each: (each["ordinal"], each["id"])):
            owner = ("unit", row["unit_type_id"]) if row["unit_type_id"] else ("part", row["assembly_type_id"])
            self.slots.setdefault(owner, []).append(row)
        self.part_types = _by_words(rows_of(connection, PartType), "code", "name")
        self.type_of = {row["id"]: row for row in self.part_types.values()}
        self.parts = {row["id"]: row for row in rows_of(connection, Part)}
        self.by_serial: dict[str, list[Row]] = {}
        self.by_lot: dict[str, list[Row]] = {}
        for row in self.parts.values():
            if row["serial"]:
                self.by_serial.setdefault(same_words(row["serial"]), []).append(row)
            elif row["lot"]:
                self.by_lot.setdefault(same_words(row["lot"]), []).append(row)
        self.seats: dict[tuple[str, int, int], Row] = {}
        self.seat_of: dict[int, Row] = {}
        for row in rows_of(connection, Fitting, Fitting.removed_at.is_(None)):
            owner = ("unit", row["unit_id"]) if row["unit_id"] else ("part", row["host_part_id"])
            self.seats[(*owner, row["slot_id"])] = row
            self.seat_of[row["part_id"]] = row
        self.cylinders = {row["part_id"] for row in rows_of(connection, Cylinder)}
        self.tests = {(row["part_id"], row["kind"], row["done_on"]) for row in rows_of(connection, PartTest)}
        self.owners = _by_words(rows_of(connection, Owner), "name")
        self.places = _by_words(rows_of(connection, Place), "name")
        self.people = _by_words(rows_of(connection, Person), "code")
        people = {row["id"]: row for row in self.people.values()}
        self.named = {same_words(row["name"]): people[row["person_id"]] for row in rows_of(connection, PersonPrivate)}
        self.bookings = rows_of(connection, Booking)

    def first_owner(self) -> str:
        """The centre as an owner, by the name that is recorded."""
        own = (row["name"] for row in self.owners.values() if row["kind"] == "centre")
        return next(own, in_row("The centre"))


def _by_words(rows: list[Row], *names: str) -> dict[str, Row]:
    found: dict[str, Row] = {}
    for name in reversed(names):
        found |= {same_words(row[name]): row for row in rows if row[name]}
    return found


def same_words(text: str) -> str:
    """Words that mean the same: without case, double blanks and blanks around."""
    return " ".join(text.casefold().split())


def called(row: Row) -> str:
    """The name by which other rows point at this one."""
    return str(row.get("ref") or f"#{row['id']}")


def slot_name(slot: str | None, kind: str | None) -> str:
    """The slot that a position means: '2' of a cell is cell 2."""
    said = same_words(slot or "")
    if re.fullmatch(r"\d", said):
        return f"{kind_named(kind or '') or 'cell'} {said}"
    match = re.fullmatch(r"(?:c|cell|sensor|pos|position)\.?\s*#?(\d)", said)
    return f"cell {match[1]}" if match else said


def kind_named(said: str) -> str:
    """The kind of part that a word means; empty where none is meant."""
    plain = same_words(said)
    also = {"sensor": "cell", "o2 cell": "cell", "oxygen cell": "cell", "o2 sensor": "cell", "oxygen sensor": "cell",
            "scrubber": "canister", "computer": "handset", "controller": "handset", "display": "handset"}  # fmt: skip
    for each in (plain, plain.rstrip("s")):
        if each in PART_KINDS:
            return each
        if each in also:
            return also[each]
    return ""


def gas_named(said: str | None) -> str:
    """The role of a cylinder that a word for its gas means; empty where none is meant."""
    words = (("oxygen", ("o2", "ox", "sauerstoff")), ("bailout", ("bail", "bo", "oc")),
             ("diluent", ("dil", "air", "trimix", "tmx", "luft", "heliox")), ("drive gas", ("drive",)))  # fmt: skip
    return next((role for role, begins in words if said and same_words(said).startswith(begins)), "")


def matching_slot(slots: list[Row], kind: str, slot: str) -> Row | None:
    """The slot of that name, or the one of that kind in that place of the order."""
    for row in slots:
        if same_words(row["name"]) == same_words(slot):
            return row
    alike = [row for row in slots if row["kind"] == kind]
    if any(re.fullmatch(rf"{kind} \d+", same_words(row["name"])) for row in alike):
        return None  # they are numbered as here, so this one is not among them
    number = re.search(r"\d+", slot)
    place = int(number[0]) - 1 if number else 0
    return alike[place] if place < len(alike) and (number or len(alike) == 1) else None
